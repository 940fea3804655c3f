// Package library inspects pattern sets as the studio offers them: it checks a set that a maker brings, says what the
// studio lacks to quote it, and draws sets to choose from.
//
// It refuses, by piece and place, what package pattern refuses, and can draw the spot. What always holds: a set that passes
// can be graded to its own measurements with the studio's tools.
package library

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"benchbell/quote"
	"benchbell/quote/draw"
	"benchbell/quote/figure"
	"benchbell/quote/foam"
	"benchbell/quote/geom"
	"benchbell/quote/measure"
	"benchbell/quote/pattern"
	"benchbell/quote/picture"
	"benchbell/quote/price"
)

// Inspection is what a maker is told about a pattern set before it enters the library.
type Inspection struct {
	Set      *pattern.Set
	Report   string          // plain text in columns, for fixed-width type: pieces, seams with both lengths, darts, warnings
	Words    string          // the same in a few lines, for a message
	Pictures []quote.Picture // every piece with its seams, sections, holes and labels
	Lacks    []string        // what the studio would still need to quote it, one sentence each
}

// Inspect reads a set and grades it to its own base measurements with the studio's tools. The error names the piece and the
// place; FaultPicture draws it.
func Inspect(src quote.PatternSource, st quote.Studio) (Inspection, error) {
	set, err := pattern.Parse([]byte(src.Drawing), []byte(src.TOML))
	if err != nil {
		return Inspection{}, err
	}
	fit := baseFit(set, st.Bench.Tools)
	g, err := set.Grade(fit)
	if err != nil {
		return Inspection{}, err
	}
	r := set.Report(fit, g)
	p, err := picture.Paint(set.Name+"-checked.png", checked(g, r), fmt.Sprintf("The pieces of %s with their seams, sections, holes and marks", set.Title))
	if err != nil {
		return Inspection{}, err
	}
	return Inspection{Set: set, Report: r.Text(), Words: words(r), Pictures: []quote.Picture{p}, Lacks: lacks(st, set, g)}, nil
}

// toldPieces is how many pieces a message lists; the report has them all.
const toldPieces = 12

// words sums up a report in lines that may wrap.
func words(r pattern.Report) string {
	var b strings.Builder
	for i, p := range r.Pieces {
		if i == toldPieces && len(r.Pieces) > toldPieces+1 {
			fmt.Fprintf(&b, "• and %d more pieces; the report lists them all\n", len(r.Pieces)-i)
			break
		}
		fmt.Fprintf(&b, "• %s: %d × %s foam, %.0f × %.0f mm", p.Title, p.Copies, p.Thickness, float64(p.Width), float64(p.Height))
		if n := len(p.Drills); n > 0 {
			fmt.Fprintf(&b, ", %d drilled", n)
		}
		var by []string
		for _, s := range p.Sections {
			if !slices.Contains(by, s.Measure) {
				by = append(by, s.Measure)
			}
		}
		if len(by) > 0 {
			fmt.Fprintf(&b, "; follows %s", strings.Join(by, ", "))
		}
		b.WriteString("\n")
	}
	var worst geom.MM
	for _, s := range r.Seams {
		worst = max(worst, s.LengthA-s.LengthB, s.LengthB-s.LengthA)
	}
	switch {
	case len(r.Seams) == 1:
		fmt.Fprintf(&b, "One seam or dart; its edges differ by %.1f mm.\n", float64(worst))
	case len(r.Seams) > 1:
		fmt.Fprintf(&b, "%d seams and darts; their edges differ by at most %.1f mm.\n", len(r.Seams), float64(worst))
	}
	for _, d := range r.Domes {
		fmt.Fprintf(&b, "%s: %.0f° taken out, %s deep.\n", d.Name, d.Angle, d.Depth)
	}
	for _, n := range r.Notes {
		fmt.Fprintf(&b, "Please check: %s.\n", n)
	}
	return strings.TrimSpace(b.String())
}

// lacks lists what a set needs and the studio does not have.
func lacks(st quote.Studio, set *pattern.Set, g foam.Graded) []string {
	var out []string
	for _, k := range set.Measures {
		if _, ok := measure.Lookup(k); !ok {
			out = append(out, fmt.Sprintf("there is no measurement %q; use one of: %s", k, strings.Join(measureKeys(), ", ")))
		}
	}
	for _, t := range foam.Thicknesses([]foam.Graded{g}) {
		if !slices.ContainsFunc(st.Prices.Sheets, func(s price.Sheet) bool { return s.Thickness == t }) {
			out = append(out, fmt.Sprintf("the studio buys no %s foam; add a [[sheet]] of that thickness to studio.toml", t))
		}
	}
	for _, h := range g.Hardware {
		if !slices.ContainsFunc(st.Prices.Hardware, func(x price.Hardware) bool { return x.Key == h.Kind }) {
			out = append(out, fmt.Sprintf("the hardware %q has no price; add a [[hardware]] with that key to studio.toml", h.Kind))
		}
	}
	if len(set.Finishes) > 0 && !slices.ContainsFunc(st.Finishes, func(f quote.Finish) bool { return slices.Contains(set.Finishes, f.Key) }) {
		var have []string
		for _, f := range st.Finishes {
			have = append(have, f.Key)
		}
		out = append(out, fmt.Sprintf("the studio offers none of its finishes (%s); use one of: %s", strings.Join(set.Finishes, ", "), strings.Join(have, ", ")))
	}
	return out
}

func measureKeys() []string {
	var out []string
	for _, d := range measure.All() {
		out = append(out, d.Key)
	}
	return out
}

// checked describes a graded set for draw.Checked: joined edges have the same number on both pieces.
func checked(g foam.Graded, r pattern.Report) draw.Scene {
	c := draw.CheckedSet{Title: g.Title}
	at := map[string]int{}
	first := map[string]foam.Piece{}
	for _, p := range g.Pieces {
		if _, ok := first[p.ID]; !ok {
			first[p.ID] = p
		}
	}
	for _, pr := range r.Pieces {
		p := first[pr.ID]
		cp := draw.CheckedPiece{Name: pr.ID + " · " + pr.Title, Note: fmt.Sprintf("%d ×, %s", pr.Copies, pr.Thickness), Shape: p.Shape, Scores: p.Scores}
		for _, s := range pr.Sections {
			cp.Sections = append(cp.Sections, draw.SectionLine{Path: s.Line, Label: s.Measure})
		}
		for _, m := range p.Marks {
			cp.Marks = append(cp.Marks, draw.MarkLine{Path: m.Path, Label: m.Label, Notch: m.Kind == foam.Notch})
		}
		at[pr.ID] = len(c.Pieces)
		c.Pieces = append(c.Pieces, cp)
	}
	for i, s := range r.Seams {
		n := i + 1
		c.Seams = append(c.Seams, fmt.Sprintf("%s: %s to %s, %.1f and %.1f mm", s.Name, s.PieceA, s.PieceB, float64(s.LengthA), float64(s.LengthB)))
		a, b := at[s.PieceA], at[s.PieceB]
		c.Pieces[a].Seams = append(c.Pieces[a].Seams, draw.SeamLine{Number: n, Path: s.PathA})
		c.Pieces[b].Seams = append(c.Pieces[b].Seams, draw.SeamLine{Number: n, Path: s.PathB})
	}
	return draw.Checked(c)
}

func baseFit(set *pattern.Set, tools []foam.Tool) pattern.Fit {
	f := set.BaseFit(set.DrawnSide())
	f.Tools = tools
	return f
}

// FaultPicture marks the spot an error of Inspect or pattern.Draft complains about; false if it has no place.
func FaultPicture(err error) (quote.Picture, bool) {
	var f *pattern.Fault
	if !errors.As(err, &f) {
		return quote.Picture{}, false
	}
	p, err := picture.Paint("fault.png", draw.Fault("Piece "+f.Piece, f.Lines, f.At, f.What), "Where the drawing is wrong: "+f.What)
	return p, err == nil
}

// Picture draws a set at its own base measurements, to choose from: worn or carried or, if it does not say how, piece by
// piece.
func Picture(src quote.PatternSource) (draw.Scene, error) {
	set, g, err := asDrawn(src)
	if err != nil {
		return draw.Scene{}, err
	}
	worn, err := wearBoth(set, g)
	if err != nil {
		return draw.Scene{}, err
	}
	if len(worn) == 0 {
		return draw.Pieces(set.Title, []draw.PieceGroup{{Pieces: picture.Named(g)}}, picture.PageWidth), nil
	}
	return figure.Dressed(set.Base, worn, set.Title), nil
}

// Overview draws all sets on one figure, whose measurements are the mean of the bodies they are drawn for.
func Overview(srcs []quote.PatternSource) (draw.Scene, error) {
	var worn []figure.Worn
	sum, n := map[string]geom.MM{}, map[string]geom.MM{}
	for _, src := range srcs {
		set, g, err := asDrawn(src)
		if err != nil {
			return draw.Scene{}, err
		}
		both, err := wearBoth(set, g)
		if err != nil {
			return draw.Scene{}, err
		}
		worn = append(worn, both...)
		for k, v := range set.Base {
			sum[k] += v
			n[k]++
		}
	}
	for k := range sum {
		sum[k] /= n[k]
	}
	return figure.Dressed(sum, worn, "The library"), nil
}

// wearBoth is a set as drawn and, if it has sides, its left half beside it.
func wearBoth(set *pattern.Set, right foam.Graded) ([]figure.Worn, error) {
	worn := picture.Worn(right)
	if !set.Sided {
		return worn, nil
	}
	f := baseFit(set, nil)
	f.Side = foam.Left
	left, err := set.Grade(f)
	return append(worn, picture.Worn(left)...), err
}

func asDrawn(src quote.PatternSource) (*pattern.Set, foam.Graded, error) {
	set, err := pattern.Parse([]byte(src.Drawing), []byte(src.TOML))
	if err != nil {
		return nil, foam.Graded{}, err
	}
	g, err := set.Grade(baseFit(set, nil))
	return set, g, err
}
