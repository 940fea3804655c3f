package main

import (
	"sync"

	"benchbell/bot/chat"
	"benchbell/bot/desk"
	"benchbell/bot/ledger"
	"benchbell/jobs"
	"benchbell/quote"
	"benchbell/quote/draw"
	"benchbell/quote/figure"
	"benchbell/quote/measure"
)

// Pixels per picture millimetre: set cards are small, the how-to picture is read on a phone.
const (
	cardPixels  = 4
	howToPixels = 5
)

// newDesk fills a desk's settings with the library and its pictures.
func newDesk(led *ledger.Ledger, q jobs.Queue, transports []chat.Transport, studio quote.Studio) (desk.Config, error) {
	sets, err := desk.Library()
	if err != nil {
		return desk.Config{}, err
	}
	cards := map[string]func() chat.File{}
	var sources []quote.PatternSource
	for _, set := range sets {
		sources = append(sources, set.Source)
		cards[set.Name] = drawn(set.Name+".png", "The pieces of "+set.Title, cardPixels, func() (draw.Scene, error) { return quote.LibraryPicture(set.Source) })
	}
	return desk.Config{
		Ledger: led, Queue: q, Transports: transports, Studio: func() quote.Studio { return studio }, Library: sets,
		SetPicture: func(set string) chat.File {
			if card := cards[set]; card != nil {
				return card()
			}
			return chat.File{}
		},
		LibraryPicture: drawn("library.png", "The pattern sets of the library, each by its largest pieces", cardPixels,
			func() (draw.Scene, error) { return quote.LibraryOverview(sources) }),
		HowTo: howTo, Replan: quote.Replan, After: quote.Needs,
	}, nil
}

// drawn is a picture that is painted when it is first wanted, and kept. A picture that cannot be painted is left out:
// the words beside it say what it shows.
func drawn(name, alt string, pixels float64, scene func() (draw.Scene, error)) func() chat.File {
	return sync.OnceValue(func() chat.File {
		s, err := scene()
		if err != nil {
			return chat.File{}
		}
		png, err := s.PNG(pixels)
		if err != nil {
			return chat.File{}
		}
		return chat.File{Name: name, MIME: "image/png", Alt: alt, Data: png}
	})
}

// howTo draws how to take the measurements with these keys.
func howTo(keys []string) []chat.File {
	var es []figure.Entry
	for _, k := range keys {
		if d, ok := measure.Lookup(k); ok {
			es = append(es, figure.Entry{Key: k, Label: d.Label, How: d.How})
		}
	}
	if len(es) == 0 {
		return nil
	}
	scene := figure.HowTo(es)
	png, err := scene.PNG(howToPixels)
	if err != nil {
		return nil // the words of the form say it too
	}
	return []chat.File{{Name: "how-to-measure.png", MIME: "image/png", Alt: "Where and how to take each measurement", Data: png}}
}
