package draw

import (
	"math"

	"benchbell/quote/geom"
)

// coarseWithin is how far a simplified line may be from the original while looking for places for text: half of the
// thinnest stroke. Outlines are flattened far finer than a picture shows, and every test against them costs time.
const coarseWithin = 0.05

// coarse is the path with fewer points, within coarseWithin of it and with the same ends (Ramer, Douglas and Peucker).
func coarse(p []geom.Point) []geom.Point {
	if len(p) < 3 {
		return p
	}
	keep := make([]bool, len(p))
	keep[0], keep[len(p)-1] = true, true
	type stretch struct{ from, to int }
	for work := []stretch{{0, len(p) - 1}}; len(work) > 0; {
		s := work[len(work)-1]
		work = work[:len(work)-1]
		var chord spans
		chord.add(p[s.from], p[s.to])
		worst, at := coarseWithin, -1
		for i := s.from + 1; i < s.to; i++ {
			if d := chord.distance(p[i]); d > worst {
				worst, at = d, i
			}
		}
		if at >= 0 {
			keep[at] = true
			work = append(work, stretch{s.from, at}, stretch{at, s.to})
		}
	}
	var out []geom.Point
	for i, k := range keep {
		if k {
			out = append(out, p[i])
		}
	}
	return out
}

// coarseRing is coarse for a closed line; one that would be left without area stays as it is.
func coarseRing(r geom.Ring) geom.Ring {
	if len(r) < 4 {
		return r
	}
	far := 0
	for i := range r {
		if r[i].Dist(r[0]) > r[far].Dist(r[0]) {
			far = i
		}
	}
	out := geom.Ring(coarse(r[:far+1]))
	back := coarse(append(append([]geom.Point{}, r[far:]...), r[0]))
	out = append(append(geom.Ring{}, out...), back[1:len(back)-1]...)
	if len(out) < 3 {
		return r
	}
	return out
}

// spans are line segments prepared for many distance queries.
type spans struct{ list []span }

type span struct {
	a, d geom.Point // start, and the vector to the end
	inv  float64    // 1 over the square of its length; 0 for a point
}

func (s *spans) add(a, b geom.Point) {
	d := b.Sub(a)
	l := span{a: a, d: d}
	if q := d.Dot(d); q > 0 {
		l.inv = 1 / q
	}
	s.list = append(s.list, l)
}

func (s *spans) path(p []geom.Point) {
	for i := 1; i < len(p); i++ {
		s.add(p[i-1], p[i])
	}
}

func (s *spans) ring(r geom.Ring) {
	s.path(r)
	if len(r) > 1 {
		s.add(r[len(r)-1], r[0])
	}
}

// distance from p to the nearest segment; infinite if there is none.
func (s *spans) distance(p geom.Point) float64 {
	least := math.Inf(1)
	for i := range s.list {
		l := &s.list[i]
		x, y := p.X-l.a.X, p.Y-l.a.Y
		t := (x*l.d.X + y*l.d.Y) * l.inv
		if t > 1 {
			t = 1
		} else if t < 0 {
			t = 0
		}
		x -= t * l.d.X
		y -= t * l.d.Y
		if q := x*x + y*y; q < least {
			least = q
		}
	}
	return math.Sqrt(least)
}
