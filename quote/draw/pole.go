package draw

import (
	"math"

	"benchbell/quote/geom"
)

// inside is the point of a shape farthest from its borders, and that distance, found on a grid refined around the best
// cells. Lengths along x count by 1/aspect, so that with the aspect of a text the result is where the text is largest:
// the free region about the point is an ellipse aspect times as wide as high. The distance is zero where there is no
// such point.
func inside(s geom.Shape, aspect float64) (at geom.Point, radius float64) {
	if len(s.Outer) < 3 || !allFinite(s.Outer) || !(aspect > 0) {
		return geom.Point{}, 0
	}
	squeeze := func(r geom.Ring) geom.Ring {
		out := make(geom.Ring, len(r))
		for i, p := range r {
			out[i] = geom.Pt(p.X/aspect, p.Y)
		}
		return out
	}
	t := geom.Shape{Outer: squeeze(s.Outer)}
	for _, h := range s.Holes {
		if len(h) > 2 && allFinite(h) {
			t.Holes = append(t.Holes, squeeze(h))
		}
	}
	far := func(p geom.Point) float64 { // negative outside
		d := float64(t.Outer.DistanceTo(p))
		for _, h := range t.Holes {
			d = math.Min(d, float64(h.DistanceTo(p)))
		}
		if !t.Contains(p) {
			return -d
		}
		return d
	}
	const (
		grid   = 8 // cells a side on the first look
		depth  = 6 // halvings: 1/512 of the piece, far below a letter
		keep   = 24
		worth  = 1.02 // a cell is refined only for at least this gain
		corner = math.Sqrt2
	)
	type cell struct {
		c    geom.Point
		d, h float64
	}
	b := t.Bounds()
	half := math.Max(float64(b.Width()), float64(b.Height())) / grid / 2
	if !(half > 0) {
		return geom.Point{}, 0
	}
	best := cell{c: t.Outer.Centroid()}
	best.d = far(best.c)
	var cells []cell
	look := func(p geom.Point, h float64) {
		c := cell{p, far(p), h}
		if c.d > best.d {
			best = c
		}
		cells = append(cells, c)
	}
	for y := b.Min.Y + half; y < b.Max.Y+half; y += 2 * half {
		for x := b.Min.X + half; x < b.Max.X+half; x += 2 * half {
			look(geom.Pt(x, y), half)
		}
	}
	for range depth {
		old := cells
		cells = nil
		n := 0
		for _, c := range old {
			if c.d+c.h*corner <= math.Max(best.d*worth, 0) || n >= keep*4 {
				continue
			}
			n++
			for _, o := range [4]geom.Point{{X: -1, Y: -1}, {X: 1, Y: -1}, {X: -1, Y: 1}, {X: 1, Y: 1}} {
				look(c.c.Add(o.Mul(c.h/2)), c.h/2)
			}
		}
	}
	if best.d <= 0 {
		return geom.Point{}, 0
	}
	return geom.Pt(best.c.X*aspect, best.c.Y), best.d
}

// Roomiest is the point of a shape farthest from its borders, and that distance; zero where the shape is degenerate.
func Roomiest(s geom.Shape) (geom.Point, geom.MM) {
	p, r := inside(s, 1)
	return p, geom.MM(r)
}

// labelInside adds a text in a shape (in picture coordinates), as large as fits up to size, level or, where that makes
// it larger, turned a quarter. It reports the size used; nothing is added below least.
func (s *Scene) labelInside(sh geom.Shape, size, least geom.MM, font Font, c Color, value string) geom.MM {
	value = Printable(value)
	w := float64(TextWidth(font, 1, value))
	if w <= 0 {
		return 0
	}
	const (
		height = 0.72 // of a capital above the baseline, in ems
		air    = 1.25 // free space about the text
	)
	// A w × height rectangle touches an ellipse of its aspect whose half height is height/√2.
	aspect := w / height
	fit := func(r float64) geom.MM { return geom.MM(r * math.Sqrt2 / height / air) }
	at, r := inside(sh, aspect)
	turn := 0.0
	if fit(r) < size {
		turned := geom.Shape{Outer: quarter(sh.Outer)}
		for _, h := range sh.Holes {
			turned.Holes = append(turned.Holes, quarter(h))
		}
		if p, q := inside(turned, aspect); q > r*1.2 {
			at, r, turn = geom.Pt(-p.Y, p.X), q, 90
		}
	}
	size = min(size, fit(r))
	if size < least {
		return 0
	}
	down := geom.Pt(0, float64(size)*height/2)
	if turn != 0 {
		down = geom.Pt(float64(size)*height/2, 0)
	}
	s.Turned(at.Add(down), size, font, Middle, turn, c, value)
	return size
}

// quarter turns a ring so that its x runs along the old y.
func quarter(r geom.Ring) geom.Ring {
	out := make(geom.Ring, len(r))
	for i, p := range r {
		out[i] = geom.Pt(p.Y, -p.X)
	}
	return out
}
