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
	"benchbell/quote/pattern"
	"benchbell/templates"
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
	var sets []desk.Set
	cards := map[string]chat.File{}
	for _, name := range templates.Sets() {
		svg, toml, err := templates.Source(name)
		if err != nil {
			return nil, nil, err
		}
		p, err := pattern.Parse(svg, toml)
		if err != nil {
			return nil, nil, fmt.Errorf("pattern set %s: %w", name, err)
		}
		src := quote.PatternSource{SVG: string(svg), TOML: string(toml)}
		sets = append(sets, desk.Set{
			Name: name, Title: p.Title, Kind: p.Kind, Summary: p.Summary, Sided: p.Sided,
			Measures: p.Measures, Finishes: p.Finishes, Cautions: p.Cautions, Source: src,
		})
		scene, err := quote.LibraryPicture(src)
		if err != nil {
			return nil, nil, fmt.Errorf("pattern set %s cannot be drawn: %w", name, err)
		}
		png, err := scene.PNG(cardPixels)
		if err != nil {
			return nil, nil, fmt.Errorf("pattern set %s cannot be drawn: %w", name, err)
		}
		cards[name] = chat.File{Name: name + ".png", MIME: "image/png", Alt: "The pieces of " + p.Title, Data: png}
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
