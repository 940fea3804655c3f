// Package picture draws what a quote contains: pieces, sheets, the plan, things as they are worn. Everything shown to
// people, on paper or in a thread, comes from here, so that a thing looks the same everywhere.
//
// It only describes and paints; it computes nothing. The same values give the same bytes.
package picture

import (
	"fmt"

	"benchbell/quote"
	"benchbell/quote/draw"
	"benchbell/quote/figure"
	"benchbell/quote/foam"
	"benchbell/quote/nest"
)

// Pixels per millimetre of the PNGs for chat: sharp on a phone's screen, small to send.
const chatPixels = 6

// PageWidth is the width of drawings on the quote, mm: the text width of its page.
const PageWidth = 170

func Paint(name string, s draw.Scene, alt string) (quote.Picture, error) {
	data, err := s.PNG(chatPixels)
	if err != nil {
		return quote.Picture{}, fmt.Errorf("the picture %s could not be painted: %w", name, err)
	}
	return quote.Picture{Name: name, MIME: "image/png", Alt: alt, Data: data}, nil
}

// Named lists the pieces of a graded set, copies counted together.
func Named(g foam.Graded) []draw.NamedPiece {
	var out []draw.NamedPiece
	at := map[string]int{}
	for _, p := range g.Pieces {
		if i, ok := at[p.ID]; ok {
			out[i].Count++
			continue
		}
		at[p.ID] = len(out)
		out = append(out, draw.NamedPiece{Name: fmt.Sprintf("%s, %g mm", p.Title, float64(p.Thickness)), Shape: p.Shape, Scores: p.Scores, Count: 1})
	}
	return out
}

// LaidPieces are the pieces of a layout in place.
func LaidPieces(l nest.Layout, shapes map[string]foam.Piece) []draw.LaidPiece {
	var out []draw.LaidPiece
	for _, pl := range l.Placed {
		p := shapes[pl.Item]
		lp := draw.LaidPiece{Label: pl.Item, Owner: pl.Owner, Shape: pl.At.Shape(p.Shape), Mirrored: p.Mirrored != pl.At.Mirrored}
		for _, sc := range p.Scores {
			lp.Scores = append(lp.Scores, pl.At.Path(sc))
		}
		for _, m := range p.Marks {
			lp.Marks = append(lp.Marks, pl.At.Path(m.Path))
		}
		out = append(out, lp)
	}
	return out
}

// Worn describes a graded set for the figure that wears it.
func Worn(g foam.Graded) []figure.Worn {
	var out []figure.Worn
	for _, p := range g.Pieces {
		if p.Worn.Region != "" {
			out = append(out, figure.Worn{Name: g.Title, Region: string(p.Worn.Region), Side: string(g.Side), Facing: p.Worn.Facing,
				Height: p.Worn.Height, Layer: p.Layer, Shape: p.Shape, Scores: p.Scores, Thickness: p.Thickness})
		}
	}
	return out
}
