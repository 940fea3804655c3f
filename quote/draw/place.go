package draw

import (
	"math"

	"benchbell/quote/geom"
)

// clutter is what new text must keep off: lines, and text already placed.
type clutter struct {
	lines []Segment
	boxes []geom.Box
}

func (c *clutter) path(p []geom.Point) {
	p = coarse(p)
	for i := 1; i < len(p); i++ {
		c.lines = append(c.lines, Segment{p[i-1], p[i]})
	}
}

func (c *clutter) ring(r geom.Ring) {
	r = coarseRing(r)
	for i := range r {
		c.lines = append(c.lines, Segment{r[i], r[(i+1)%len(r)]})
	}
}

func (c *clutter) shape(s geom.Shape) {
	c.ring(s.Outer)
	for _, h := range s.Holes {
		c.ring(h)
	}
}

// free reports whether the box is clear of lines and of text.
func (c *clutter) free(b geom.Box) bool {
	for _, o := range c.boxes {
		if o.Overlaps(b) {
			return false
		}
	}
	for _, l := range c.lines {
		if through(l, b) {
			return false
		}
	}
	return true
}

// crossed counts the texts that a straight line would run over.
func (c *clutter) crossed(l Segment) int {
	n := 0
	for _, o := range c.boxes {
		if through(l, o) {
			n++
		}
	}
	return n
}

// through reports whether part of the line lies in the box, its border included.
func through(l Segment, b geom.Box) bool {
	if l.A.X < b.Min.X && l.B.X < b.Min.X || l.A.X > b.Max.X && l.B.X > b.Max.X ||
		l.A.Y < b.Min.Y && l.B.Y < b.Min.Y || l.A.Y > b.Max.Y && l.B.Y > b.Max.Y {
		return false // most lines are nowhere near
	}
	_, ok := within(l, b)
	return ok
}

// within is the part of a line inside a box, its border included (Liang and Barsky's clipping).
func within(l Segment, b geom.Box) (Segment, bool) {
	lo, hi := 0.0, 1.0
	d := l.B.Sub(l.A)
	for _, ax := range [2][4]float64{{l.A.X, d.X, b.Min.X, b.Max.X}, {l.A.Y, d.Y, b.Min.Y, b.Max.Y}} {
		at, by, least, most := ax[0], ax[1], ax[2], ax[3]
		if by == 0 {
			if at < least || at > most {
				return l, false
			}
			continue
		}
		t0, t1 := (least-at)/by, (most-at)/by
		lo, hi = math.Max(lo, math.Min(t0, t1)), math.Min(hi, math.Max(t0, t1))
	}
	if lo > hi {
		return l, false
	}
	out := l // ends inside stay exactly as they are
	if lo > 0 {
		out.A = l.A.Add(d.Mul(lo))
	}
	if hi < 1 {
		out.B = l.A.Add(d.Mul(hi))
	}
	return out, true
}

// boxAt is the box of a width and height centred on c.
func boxAt(c geom.Point, w, h float64) geom.Box {
	return geom.Box{Min: geom.Pt(c.X-w/2, c.Y-h/2), Max: geom.Pt(c.X+w/2, c.Y+h/2)}
}

// beside looks for a free box of a size near a point, within bounds, the nearest first, at distances from reach to most.
func (c *clutter) beside(at geom.Point, w, h, reach, most float64, bounds geom.Box) (geom.Box, bool) {
	const (
		step  = 0.8
		turns = 24
	)
	best, found, least := geom.Box{}, false, math.Inf(1)
	for r := reach; r <= most; r += step {
		for i := range turns {
			sin, cos := geom.SinCosDeg(float64(i) * 360 / turns)
			b := boxAt(at.Add(geom.Pt(cos*(r+w/2), sin*(r+h/2))), w, h)
			if !bounds.Contains(b.Min) || !bounds.Contains(b.Max) || !c.free(b) {
				continue
			}
			// A leader that crosses text counts as further away.
			if cost := r + 6*float64(c.crossed(Segment{at, b.Centre()})); cost < least {
				best, found, least = b, true, cost
			}
		}
		if found && r > least {
			break
		}
	}
	return best, found
}

// capital is the height of the fonts' capital letters, in ems.
const capital = 0.72
