package draw

import (
	"cmp"
	"math"
	"slices"

	"benchbell/quote/geom"
)

// labelPlace is a search for the best place for a label: the point of a shape farthest from its borders and from the paths
// drawn on it (the pole of inaccessibility).
type labelPlace struct {
	shape geom.Shape
	paths []geom.Path
	// Lengths along x are divided by aspect. With the aspect of a text, the result is where that text can be largest: the
	// free region around the point is an ellipse aspect times as wide as high.
	aspect float64
	// Distances beyond enough are no better, and among about equal points the one nearest to the centroid wins; zero
	// searches for the farthest point at any cost.
	enough float64
}

// find searches a grid refined around the best cells. It returns the point and its distance (half the height of its free
// ellipse), zero if there is no such point.
func (o labelPlace) find() (at geom.Point, radius float64) {
	if len(o.shape.Outer) < 3 || !near(o.shape.Outer) || !(o.aspect > 0) {
		return geom.Point{}, 0
	}
	squeeze := func(r []geom.Point) geom.Ring {
		out := make(geom.Ring, len(r))
		for i, p := range r {
			out[i] = geom.Pt(p.X/o.aspect, p.Y)
		}
		return out
	}
	var t geom.Shape
	var all spans
	t.Outer = squeeze(coarseRing(o.shape.Outer))
	all.ring(t.Outer)
	for _, h := range o.shape.Holes {
		if len(h) > 2 && near(h) {
			t.Holes = append(t.Holes, squeeze(coarseRing(h)))
			all.ring(t.Holes[len(t.Holes)-1])
		}
	}
	for _, q := range o.paths {
		if len(q) > 1 && near(q) {
			all.path(squeeze(coarse(q)))
		}
	}
	far := func(p geom.Point) float64 { // negative outside
		d := all.distance(p)
		if !t.Contains(p) {
			return -d
		}
		return d
	}
	const (
		grid   = 8    // cells per side on the first pass
		depth  = 6    // halvings: 1/512 of the piece, far less than a letter
		most   = 100  // cells refined at each depth
		worth  = 1.01 // a cell is refined only if it can gain at least this
		centre = 0.03 // of distance given up for each millimetre nearer to the centroid
		corner = math.Sqrt2
	)
	enough := o.enough
	if !(enough > 0) {
		enough = math.Inf(1)
	}
	mid := t.Outer.Centroid()
	rank := func(d float64, p geom.Point) float64 {
		if math.IsInf(enough, 1) {
			return d
		}
		return math.Min(d, enough) - centre*p.Dist(mid)
	}
	type cell struct {
		c           geom.Point
		d, h, bound float64
	}
	b := t.Bounds()
	half := math.Max(float64(b.Width()), float64(b.Height())) / grid / 2
	if !(half > 0) {
		return geom.Point{}, 0
	}
	best := cell{c: mid, d: far(mid)}
	var cells []cell
	look := func(p geom.Point, h float64) {
		c := cell{c: p, d: far(p), h: h}
		c.bound = c.d + h*corner
		if c.d > 0 && rank(c.d, p) > rank(best.d, best.c) {
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
		slices.SortStableFunc(old, func(a, b cell) int {
			if a.bound >= enough && b.bound >= enough { // either will do: the more central one first
				return cmp.Compare(a.c.Dist(mid), b.c.Dist(mid))
			}
			return cmp.Compare(b.bound, a.bound)
		})
		for i, c := range old {
			if i >= most || c.bound <= 0 || best.d < enough && c.bound <= best.d*worth {
				break
			}
			for _, q := range [4]geom.Point{{X: -1, Y: -1}, {X: 1, Y: -1}, {X: -1, Y: 1}, {X: 1, Y: 1}} {
				look(c.c.Add(q.Mul(c.h/2)), c.h/2)
			}
		}
	}
	if best.d <= 0 {
		return geom.Point{}, 0
	}
	return geom.Pt(best.c.X*o.aspect, best.c.Y), best.d
}

// Roomiest is the point of a shape farthest from its borders, and that distance; zero if the shape is degenerate.
func Roomiest(s geom.Shape) (geom.Point, geom.MM) {
	p, r := labelPlace{shape: s, aspect: 1}.find()
	return p, geom.MM(r)
}

// labelInside adds lines of text inside a shape (in picture coordinates), clear of the paths, as large as fits up to size:
// level, or turned a quarter if that makes them larger. The first line is in the font, the others in Regular. It returns
// the size used and the box covered; below least it adds nothing.
func (s *Scene) labelInside(sh geom.Shape, paths []geom.Path, size, least geom.MM, font Font, c Color, value ...string) (geom.MM, geom.Box) {
	var w float64
	fonts := make([]Font, len(value))
	for i, v := range value {
		value[i] = Printable(v)
		fonts[i] = Regular
		if i == 0 {
			fonts[i] = font
		}
		w = math.Max(w, float64(TextWidth(fonts[i], 1, value[i])))
	}
	if w <= 0 {
		return 0, geom.Box{}
	}
	const (
		leading = 1.15 // from line to line, in ems
		air     = 1.25 // free space around the text
	)
	height := capital + leading*float64(len(value)-1)
	b := sh.Bounds() // most pieces without room are smaller than their text: skip the search for them
	bw, bh := float64(b.Width())/float64(least), float64(b.Height())/float64(least)
	if !(bw >= w && bh >= height || bw >= height && bh >= w) {
		return 0, geom.Box{}
	}
	// A w × height rectangle fits in an ellipse of its aspect whose half height is height/√2.
	aspect := w / height
	fit := func(r float64) geom.MM { return geom.MM(r * math.Sqrt2 / height / air) }
	enough := float64(size) * height * air / math.Sqrt2
	turned := geom.Shape{Outer: quarter(sh.Outer)}
	for _, h := range sh.Holes {
		turned.Holes = append(turned.Holes, quarter(h))
	}
	var at geom.Point
	var r, turn float64
	at, r = labelPlace{sh, paths, aspect, enough}.find()
	if r < enough {
		across := make([]geom.Path, len(paths))
		for i, q := range paths {
			across[i] = geom.Path(quarter(geom.Ring(q)))
		}
		if p, q := (labelPlace{turned, across, aspect, enough}).find(); q > r*1.2 {
			at, r, turn = geom.Pt(-p.Y, p.X), q, 90
		}
	}
	size = min(size, fit(r))
	if size < least {
		return 0, geom.Box{}
	}
	for i, v := range value {
		down := float64(size) * (capital + leading*float64(i) - height/2)
		d := geom.Pt(0, down)
		if turn != 0 {
			d = geom.Pt(down, 0)
		}
		s.Turned(at.Add(d), size, fonts[i], Middle, turn, c, v)
	}
	bw, bh = w*float64(size), height*float64(size)
	if turn != 0 {
		bw, bh = bh, bw
	}
	return size, boxAt(at, bw, bh)
}

// quarter turns a ring so that its x runs along the old y.
func quarter(r geom.Ring) geom.Ring {
	out := make(geom.Ring, len(r))
	for i, p := range r {
		out[i] = geom.Pt(p.Y, -p.X)
	}
	return out
}
