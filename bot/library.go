package main

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"log/slog"
	"strings"
	"sync"
	"time"

	"benchbell/bot/board"
	"benchbell/bot/chat"
	"benchbell/bot/counter"
	"benchbell/bot/desk"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/jobs"
	"benchbell/quote"
	"benchbell/quote/draw"
	"benchbell/quote/engine"
	"benchbell/quote/figure"
	"benchbell/quote/floor"
	"benchbell/quote/library"
	"benchbell/quote/measure"
)

// Pixels per picture millimetre: set cards are small, the how-to picture is read on a phone. On a client's page both stand beside words.
const (
	cardPixels   = 4
	howToPixels  = 5
	besidePixels = 2
)

// office is the studio's rules and the desk that words them.
type office struct {
	shop shop.Config
	desk desk.Config
	// seats hears of the shop, where there is a desk in the browser.
	seats *seats
	// board is shown at the desk in the browser, where there is one.
	board *boarded
	// counter is what the clients' pages there are made with.
	counter counter.Options
}

// newOffice fills the settings with the library and its pictures, and the engine's planners.
func newOffice(led *ledger.Ledger, q jobs.Queue, transports []chat.Transport, studio quote.Studio) (office, error) {
	sets, err := shop.Library()
	if err != nil {
		return office{}, err
	}
	cards := map[string]func() chat.File{}
	var sources []quote.PatternSource
	for _, set := range sets {
		sources = append(sources, set.Source)
		cards[set.Name] = drawn(set.Name+".png", set.Title+", as it is worn or carried", cardPixels, func() (draw.Scene, error) { return library.Picture(set.Source) })
	}
	now := func() quote.Studio { return studio }
	beside, howBeside := map[string]func() chat.File{}, map[string]func() chat.File{}
	for _, set := range sets {
		beside[set.Name] = front(drawn(set.Name+".png", "", 1.5*besidePixels, func() (draw.Scene, error) { return library.Picture(set.Source) }))
	}
	for _, d := range measure.All() {
		howBeside[d.Key] = drawn(d.Key+".png", "", besidePixels, func() (draw.Scene, error) { return figure.HowToOne(entry(d)), nil })
	}
	from := func(files map[string]func() chat.File) func(string) []byte {
		return func(name string) []byte {
			if f := files[name]; f != nil {
				return f().Data
			}
			return nil
		}
	}
	return office{
		shop: shop.Config{Ledger: led, Studio: now, Library: sets, Fits: engine.Fits, Place: floor.Place, Plan: floor.Plan, Look: floor.Look, WhatIf: floor.WhatIf},
		desk: desk.Config{Ledger: led, Studio: now, Queue: q, Transports: transports,
			SetPicture: func(set string) chat.File {
				if card := cards[set]; card != nil {
					return card()
				}
				return chat.File{}
			},
			LibraryPicture: drawn("library.png", "The pattern sets of the library on a figure", cardPixels,
				func() (draw.Scene, error) { return library.Overview(sources) }),
			HowTo: howTo(),
		},
		counter: counter.Options{Picture: from(beside), HowTo: from(howBeside), Reckon: engine.Reckon},
	}, nil
}

// timed sets the clock.
func (o *office) timed(now func() time.Time) { o.shop.Now, o.desk.Now = now, now }

// logged sets where causes go.
func (o *office) logged(log *slog.Logger) { o.shop.Log, o.desk.Log = log, log }

// open begins the day: the shop, and the desk before it.
func (o office) open() *desk.Desk {
	o.desk.Shop = shop.New(o.shop)
	d := desk.New(o.desk)
	if o.seats != nil {
		o.seats.shop, o.seats.desk, o.seats.studio = o.desk.Shop, d, o.shop.Studio
		o.desk.Shop.Listen(o.seats)
	}
	if o.board != nil {
		o.board.board, o.board.sense = board.New(o.desk.Shop, o.shop.Studio), o.desk.Shop.Sense
		o.counter.Rules, o.counter.Studio, o.counter.Say, o.counter.Now, o.counter.Log = o.desk.Shop, o.shop.Studio, d.Say, o.shop.Now, o.shop.Log
		o.board.counter = counter.New(o.counter)
		o.desk.Shop.Listen(o.board)
	}
	return d
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

// front is the half of a set's picture in which more of it is seen, without the scale: what is left of the picture where it is small.
func front(whole func() chat.File) func() chat.File {
	return sync.OnceValue(func() chat.File {
		f := whole()
		img, err := png.Decode(bytes.NewReader(f.Data))
		part, ok := img.(interface {
			SubImage(image.Rectangle) image.Image
		})
		if err != nil || !ok {
			return f
		}
		// The figure stands under the title and over its name, from the front on the left and from behind on the right of the middle.
		size := img.Bounds().Size()
		half := func(from, to int) image.Rectangle {
			return image.Rect(size.X*from/100, size.Y*9/100, size.X*to/100, size.Y*93/100)
		}
		shown := half(4, 49)
		if behind := half(51, 87); 2*dark(img, behind) > 3*dark(img, shown) {
			shown = behind
		}
		var out bytes.Buffer
		if err := png.Encode(&out, part.SubImage(shown)); err != nil {
			return f
		}
		f.Data = out.Bytes()
		return f
	})
}

// dark is how many pixels of a picture are as dark as foam: the figure and the paper are lighter.
func dark(img image.Image, in image.Rectangle) int {
	n := 0
	for y := in.Min.Y; y < in.Max.Y; y++ {
		for x := in.Min.X; x < in.Max.X; x++ {
			if color.GrayModel.Convert(img.At(x, y)).(color.Gray).Y < 150 {
				n++
			}
		}
	}
	return n
}

// howTo draws how to take the measurements with these keys: the figure with all of them, and a close-up of each.
func howTo() func(keys []string) []chat.File {
	closeUps := map[string]func() chat.File{}
	for _, d := range measure.All() {
		closeUps[d.Key] = drawn(d.Key+".png", "How to take the "+strings.ToLower(d.Label), howToPixels,
			func() (draw.Scene, error) { return figure.HowToOne(entry(d)), nil })
	}
	return func(keys []string) []chat.File {
		var es []figure.Entry
		var files []chat.File
		for _, k := range keys {
			d, ok := measure.Lookup(k)
			if !ok {
				continue
			}
			es = append(es, entry(d))
			if f := closeUps[k](); len(f.Data) > 0 {
				files = append(files, f)
			}
		}
		if len(es) == 0 {
			return nil
		}
		all := drawn("how-to-measure.png", "Where and how to take each measurement", howToPixels,
			func() (draw.Scene, error) { return figure.HowTo(es), nil })()
		if len(all.Data) == 0 {
			return files // the words of the form say it too
		}
		return append([]chat.File{all}, files...)
	}
}

func entry(d measure.Def) figure.Entry { return figure.Entry{Key: d.Key, Label: d.Label, How: d.How} }
