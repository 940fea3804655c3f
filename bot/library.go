package main

import (
	"fmt"

	"benchbell/bot/chat"
	"benchbell/bot/desk"
	"benchbell/bot/ledger"
	"benchbell/jobs"
	"benchbell/quote"
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
	sets, cards, err := library()
	if err != nil {
		return desk.Config{}, err
	}
	return desk.Config{
		Ledger: led, Queue: q, Transports: transports, Studio: func() quote.Studio { return studio }, Library: sets,
		SetPicture: func(set string) chat.File { return cards[set] },
		HowTo:      howTo, Replan: quote.Replan, After: quote.Needs,
	}, nil
}

// library reads the pattern sets that come with the program and draws a card of each.
func library() ([]desk.Set, map[string]chat.File, error) {
	sets, err := desk.Library()
	if err != nil {
		return nil, nil, err
	}
	cards := map[string]chat.File{}
	for _, set := range sets {
		scene, err := quote.LibraryPicture(set.Source)
		if err != nil {
			return nil, nil, fmt.Errorf("pattern set %s cannot be drawn: %w", set.Name, err)
		}
		png, err := scene.PNG(cardPixels)
		if err != nil {
			return nil, nil, fmt.Errorf("pattern set %s cannot be drawn: %w", set.Name, err)
		}
		cards[set.Name] = chat.File{Name: set.Name + ".png", MIME: "image/png", Alt: "The pieces of " + set.Title, Data: png}
	}
	return sets, cards, nil
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
