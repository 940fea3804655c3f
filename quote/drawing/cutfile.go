package drawing

import (
	"fmt"
	"math"
	"slices"

	"benchbell/quote/geom"
)

// Layer is a kind of line in a cut file, with names of our own; the machine's operator assigns a tool to each.
type Layer string

// Layers of a cut file.
const (
	Through Layer = "cut-through" // outlines, cut last
	Inside  Layer = "cut-inside"  // holes and slots, cut before the outline
	PartWay Layer = "cut-partway" // score lines
	Pen     Layer = "pen"         // notches, bend axes, seats, alignment lines
	Words   Layer = "words"       // piece labels, never cut
	Border  Layer = "sheet-edge"  // the sheet's outline, never cut
)

// cutOrder is the order of a sheet's layers in a file, and the best order to run them: marks while the sheet is whole,
// holes and scores while each piece is still attached, outlines last (common practice, no source).
var cutOrder = []Layer{Pen, Inside, PartWay, Through, Words, Border}

// CutSheet is one sheet for a knife, laser or router: millimetres, origin at the sheet's lower left corner, y up.
type CutSheet struct {
	Title         string // "C0007 r2 sheet 1 of 3, 10 mm"
	Width, Height geom.MM
	Edge          geom.Ring // outline of the sheet or offcut; nil is the rectangle
	Lines         []CutLine
	Words         []CutWords
	Kerf          geom.MM // width the tool removes: outlines move out and holes in by half of it
}

// CutLine is one line to follow.
type CutLine struct {
	Layer  Layer
	Points geom.Path
	Closed bool
	Circle *Circle // if set, written as a circle
	Piece  string  // label of the piece it belongs to
}

// CutWords is a label.
type CutWords struct {
	At    geom.Point // middle of the text
	Size  geom.MM
	Turn  float64 // degrees counter-clockwise
	Value string
}

// toolpath is what a cut file tells the machine to follow, in order: layer by layer in the best order to run them, within a
// layer piece by piece, the nearest piece next and its nearest line next, starting at the sheet's origin; of equally near
// lines the one given first. A closed line may start at another of its points and an open one at its other end. The kerf is
// allowed for here, once: closed outlines move out and closed holes in by half of it; all other lines stay. The error names
// the piece whose line is invalid or cannot be cut with the tool: a hole no wider than the kerf, or a gap in an outline too
// narrow for the tool.
func toolpath(s CutSheet) ([]CutLine, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	lines := make([]CutLine, len(s.Lines))
	for i, l := range s.Lines {
		var err error
		if lines[i], err = l.offset(s.Kerf); err != nil {
			return nil, fmt.Errorf("%s of piece %q: %w", l.Layer, l.Piece, err)
		}
	}
	return travelOrder(lines), nil
}

// check makes sure that a file can describe the sheet.
func (s CutSheet) check() error {
	size := func(v geom.MM) bool { return v > 0 && v <= maxExtent }
	if !size(s.Width) || !size(s.Height) {
		return fmt.Errorf("a sheet is %v by %v; each side must be above 0 and at most %v", s.Width, s.Height, maxExtent)
	}
	if !(s.Kerf >= 0) || s.Kerf > min(s.Width, s.Height) {
		return fmt.Errorf("the kerf is %v; it must be from 0 to the width of the sheet", s.Kerf)
	}
	within := func(ps ...geom.Point) bool {
		return !slices.ContainsFunc(ps, func(p geom.Point) bool {
			return !(math.Abs(p.X) <= float64(maxExtent) && math.Abs(p.Y) <= float64(maxExtent))
		})
	}
	if len(s.Edge) == 1 || len(s.Edge) == 2 || !within(s.Edge...) {
		return fmt.Errorf("the sheet's outline is not a ring of points within %v", maxExtent)
	}
	for i, l := range s.Lines {
		least := 2
		if l.Closed {
			least = 3
		}
		switch {
		case !slices.Contains(cutOrder, l.Layer) || l.Layer == Words || l.Layer == Border:
			return fmt.Errorf("line %d of piece %q is on layer %q; it must be on %q, %q, %q or %q", i+1, l.Piece, l.Layer, Through, Inside, PartWay, Pen)
		case l.Circle != nil && !(size(l.Circle.Radius) && within(l.Circle.Centre)):
			return fmt.Errorf("%s of piece %q: a circle of radius %v at %v cannot be cut", l.Layer, l.Piece, l.Circle.Radius, l.Circle.Centre)
		case l.Circle == nil && len(l.Points) < least:
			return fmt.Errorf("%s of piece %q: a line of %d points cannot be cut", l.Layer, l.Piece, len(l.Points))
		case !within(l.Points...):
			return fmt.Errorf("%s of piece %q: it reaches beyond %v", l.Layer, l.Piece, maxExtent)
		}
	}
	for _, w := range s.Words {
		if !size(w.Size) || !within(w.At) || math.IsNaN(w.Turn) || math.IsInf(w.Turn, 0) {
			return fmt.Errorf("label %q has size %v, turn %v and place %v; all must be finite and the size above 0", w.Value, w.Size, w.Turn, w.At)
		}
	}
	return nil
}

// edge is the sheet's outline.
func (s CutSheet) edge() geom.Ring {
	if s.Edge != nil {
		return s.Edge
	}
	w, h := float64(s.Width), float64(s.Height)
	return geom.Ring{geom.Pt(0, 0), geom.Pt(w, 0), geom.Pt(w, h), geom.Pt(0, h)}
}
