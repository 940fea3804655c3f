package paper

import (
	"math"

	"benchbell/quote/geom"
)

// From here on coordinates are millimetres with y down, as on paper.

// seg is a straight line of ink.
type seg struct{ a, b geom.Point }

// plate is the rectangle covered by a text or a sign: centre, reading direction, size.
type plate struct {
	c, u geom.Point
	w, h float64
}

// turnedPlate is a plate with reading direction turn, in degrees counter-clockwise.
func turnedPlate(c geom.Point, w, h, turn float64) plate {
	sin, cos := geom.SinCosDeg(turn)
	return plate{c, geom.Pt(cos, -sin), w, h}
}

func (p plate) down() geom.Point { return geom.Pt(-p.u.Y, p.u.X) }

func (p plate) grow(d float64) plate {
	p.w, p.h = p.w+2*d, p.h+2*d
	return p
}

func (p plate) moved(d geom.Point) plate {
	p.c = p.c.Add(d)
	return p
}

// point is the plate's point at shares of its half sizes: (-1, -1) is the start of the text's upper edge.
func (p plate) point(x, y float64) geom.Point {
	return p.c.Add(p.u.Mul(x * p.w / 2)).Add(p.down().Mul(y * p.h / 2))
}

func (p plate) corners() [4]geom.Point {
	return [4]geom.Point{p.point(-1, -1), p.point(1, -1), p.point(1, 1), p.point(-1, 1)}
}

func (p plate) bounds() geom.Box {
	b := geom.EmptyBox()
	for _, c := range p.corners() {
		b = b.Extend(c)
	}
	return b
}

func (p plate) contains(q geom.Point) bool {
	d := q.Sub(p.c)
	return math.Abs(d.Dot(p.u)) <= p.w/2 && math.Abs(d.Dot(p.down())) <= p.h/2
}

// near is the plate's point nearest to q.
func (p plate) near(q geom.Point) geom.Point {
	d := q.Sub(p.c)
	x, y := d.Dot(p.u), d.Dot(p.down())
	return p.c.Add(p.u.Mul(math.Max(-p.w/2, math.Min(p.w/2, x)))).Add(p.down().Mul(math.Max(-p.h/2, math.Min(p.h/2, y))))
}

// hit reports whether the line runs over the plate.
func (p plate) hit(s seg) bool {
	r := (p.w + p.h) / 2 // at least half the diagonal
	if math.Max(s.a.X, s.b.X) < p.c.X-r || math.Min(s.a.X, s.b.X) > p.c.X+r ||
		math.Max(s.a.Y, s.b.Y) < p.c.Y-r || math.Min(s.a.Y, s.b.Y) > p.c.Y+r {
		return false
	}
	v := p.down()
	a, d := s.a.Sub(p.c), s.b.Sub(s.a)
	lo, hi := 0.0, 1.0
	for _, ax := range [2][3]float64{{a.Dot(p.u), d.Dot(p.u), p.w / 2}, {a.Dot(v), d.Dot(v), p.h / 2}} {
		at, by, half := ax[0], ax[1], ax[2]
		if by == 0 {
			if math.Abs(at) > half {
				return false
			}
			continue
		}
		t0, t1 := (-half-at)/by, (half-at)/by
		lo, hi = math.Max(lo, math.Min(t0, t1)), math.Min(hi, math.Max(t0, t1))
	}
	return lo <= hi
}

// meets reports whether two plates share a point.
func (p plate) meets(q plate) bool {
	d := (p.w + p.h + q.w + q.h) / 2
	if math.Abs(p.c.X-q.c.X) > d || math.Abs(p.c.Y-q.c.Y) > d {
		return false
	}
	if p.contains(q.c) || q.contains(p.c) {
		return true
	}
	k := q.corners()
	for i := range k {
		if p.hit(seg{k[i], k[(i+1)%4]}) {
			return true
		}
	}
	return q.contains(p.corners()[0])
}

// room is where text may stand: a piece with its ink, and what is already there.
type room struct {
	shape geom.Shape
	ink   []seg
	taken []plate
}

type where int

const (
	inside  where = iota // on the piece's foam
	outside              // off the piece
	anywhere
)

// free reports whether nothing is in the way of the plate.
func (r *room) free(p plate, w where) bool {
	for _, t := range r.taken {
		if p.meets(t) {
			return false
		}
	}
	for _, s := range r.ink {
		if p.hit(s) {
			return false
		}
	}
	switch w { // no outline crosses the plate, so its centre speaks for all of it
	case inside:
		return r.shape.Contains(p.c)
	case outside:
		return !r.shape.Outer.Contains(p.c)
	}
	return true
}

func (r *room) closed(ps geom.Ring) {
	for i := range ps {
		r.ink = append(r.ink, seg{ps[i], ps[(i+1)%len(ps)]})
	}
}

func (r *room) open(ps geom.Path) {
	for i := 1; i < len(ps); i++ {
		r.ink = append(r.ink, seg{ps[i-1], ps[i]})
	}
}
