package paper

import (
	"fmt"
	"strings"

	"benchbell/quote/geom"
)

// Limits of a print job.
const (
	defaultOverlap geom.MM = 12 // room for tape and a registration mark; common practice, no source
	defaultMargin  geom.MM = 6  // office printers leave 4 to 5 mm blank; common practice, no source

	minOverlap geom.MM  = 8    // on less, a registration mark does not fit
	maxOverlap geom.MM  = 40   // with more, tiles would be mostly overlap
	maxMargin  geom.MM  = 20   // with more, the check squares no longer fit on Letter
	maxLength  geom.MM  = 5000 // of a page: 14 400 points, 5080 mm, is the most that PDF readers must accept (ISO 32000-1, annex C; from memory)
	minArea    geom.MM2 = 1    // anything smaller is a drawing mistake
	maxPages            = 400  // nobody glues more
	maxPieces           = 400  // different ones; copies do not count
	maxPoints           = 200000
)

// sizes lists every paper a pattern can be printed on, small to large. A sizes are from ISO 216; Letter and Tabloid from
// ANSI/ASME Y14.1 (8.5 × 11 in and 11 × 17 in); rolls are 24 and 36 in wide.
func sizes() []Size {
	return []Size{
		{Key: "a4", Title: "A4", Width: 210, Height: 297},
		{Key: "letter", Title: "Letter", Width: 8.5 * geom.Inch, Height: 11 * geom.Inch},
		{Key: "a3", Title: "A3", Width: 297, Height: 420},
		{Key: "tabloid", Title: "Tabloid", Width: 11 * geom.Inch, Height: 17 * geom.Inch},
		{Key: "a2", Title: "A2", Width: 420, Height: 594},
		{Key: "a1", Title: "A1", Width: 594, Height: 841},
		{Key: "a0", Title: "A0", Width: 841, Height: 1189},
		{Key: "roll-610", Title: "Roll 610 mm", Width: 24 * geom.Inch},
		{Key: "roll-914", Title: "Roll 914 mm", Width: 36 * geom.Inch},
	}
}

// Lookup finds a paper by its key. The error for an unknown key lists the known ones.
func Lookup(key string) (Size, error) {
	var keys []string
	for _, s := range sizes() {
		if s.Key == key {
			return s, nil
		}
		keys = append(keys, s.Key)
	}
	return Size{}, fmt.Errorf("there is no paper %q; use one of %s", key, strings.Join(keys, ", "))
}

// roll reports whether the paper is cut off where the pattern ends.
func (s Size) roll() bool { return s.Height == 0 }

// check refuses what cannot be printed, by name and with what would do.
func (p Pattern) check() error {
	if !(p.Margin >= 0) || p.Margin > maxMargin {
		return fmt.Errorf("the margin is %v; it must be from 0 to %v", p.Margin, maxMargin)
	}
	if !(p.Overlap >= minOverlap) || p.Overlap > maxOverlap {
		return fmt.Errorf("the overlap is %v; to be glued it must be from %v to %v", p.Overlap, minOverlap, maxOverlap)
	}
	least := geom.MM(coverWidth) + 2*p.Margin
	if !(p.Paper.Width >= least) || p.Paper.Width > maxLength {
		return fmt.Errorf("paper %q is %v wide; with this margin it must be between %v and %v", p.Paper.Key, p.Paper.Width, least, maxLength)
	}
	least = geom.MM(coverHeight) + 2*p.Margin
	if !p.Paper.roll() && (!(p.Paper.Height >= least) || p.Paper.Height > maxLength) {
		return fmt.Errorf("paper %q is %v high; with this margin it must be between %v and %v", p.Paper.Key, p.Paper.Height, least, maxLength)
	}
	if len(p.Pieces) == 0 {
		return fmt.Errorf("the pattern has no pieces to print")
	}
	if len(p.Pieces) > maxPieces {
		return fmt.Errorf("the pattern has %d different pieces; print at most %d at once", len(p.Pieces), maxPieces)
	}
	points := 0
	for i := range p.Pieces {
		q := &p.Pieces[i]
		if err := q.check(); err != nil {
			return err
		}
		points += q.points()
	}
	if points > maxPoints {
		return fmt.Errorf("the pattern has %d points; print it in parts of at most %d", points, maxPoints)
	}
	return nil
}

func (q *Piece) check() error {
	name := strings.TrimSpace(q.Label + " " + q.Title)
	for _, ps := range q.rings() {
		for _, at := range ps {
			if !at.Finite() {
				return fmt.Errorf("piece %q has a point that is not a number; draw it again", name)
			}
		}
	}
	for _, d := range q.Drills {
		if !d.At.Finite() || !(d.Diameter > 0) || d.Diameter > maxLength {
			return fmt.Errorf("piece %q has a hole of %v; its diameter must be above zero", name, d.Diameter)
		}
	}
	if len(q.Shape.Outer) < 3 || !(q.Shape.Outer.Area() >= minArea) {
		return fmt.Errorf("piece %q has no area; its outline must enclose at least %g mm²", name, float64(minArea))
	}
	b := q.Shape.Bounds()
	for _, ps := range q.rings() {
		for _, at := range ps {
			if !b.Grow(strayMark).Contains(at) {
				return fmt.Errorf("piece %q has a line at %.0f, %.0f mm, more than %v outside its outline", name, at.X, at.Y, strayMark)
			}
		}
	}
	if b.Width() > maxLength || b.Height() > maxLength {
		return fmt.Errorf("piece %q measures %v × %v; the limit for printing is %v, so divide it with a seam", name, b.Width(), b.Height(), maxLength)
	}
	return nil
}

// strayMark is how far a mark may lie outside its piece; further away is a mistake that would waste paper.
const strayMark geom.MM = 50

// rings are all runs of points of the piece.
func (q *Piece) rings() [][]geom.Point {
	out := [][]geom.Point{q.Shape.Outer}
	for _, h := range q.Shape.Holes {
		out = append(out, h)
	}
	for _, l := range q.Lines {
		out = append(out, l.Path)
	}
	return out
}

func (q *Piece) points() int {
	n := len(q.Drills)
	for _, r := range q.rings() {
		n += len(r)
	}
	return n
}
