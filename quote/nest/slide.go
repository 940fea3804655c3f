package nest

import (
	"math"
	"sort"
)

// span is a stretch of positions along a line.
type span struct{ lo, hi float64 }

// spot is an outline on a sheet; at is its box's lower corner, x then y.
type spot struct {
	o    *outline
	copy int // index into the solver's copies
	at   [2]float64
}

// slider finds places along a line. It holds buffers so that a search allocates nothing.
type slider struct {
	gap   float64 // between outlines, at least leastGap
	box   float64 // between boxes, the problem's gap exactly
	evals int
	bad   []span   // where some border is too near
	nests []nested // neighbours that could hold the outline or be held by it
}

// nested is a neighbour whose box lies within the outline's across the line, or the other way round.
type nested struct {
	f        *view
	dv, bu   float64
	from, to int // its stretches in bad
}

// first is the least position t in [tmin, tmax] along axis at which o, standing at v across the axis, keeps the gap
// to every spot. Each spot whose outline had to be looked at is one evaluation, and so is a line that needed none.
//
// For two edges the forbidden positions are one interval, the slice through their Minkowski difference grown by the
// gap; its ends come from an end point of one edge against the other edge, four cases in all. The union over all
// pairs is where outlines are too near, and what lies between two such stretches is either free or wholly inside.
func (s *slider) first(o *outline, axis int, v, tmin, tmax float64, spots []spot) (float64, bool) {
	if tmin > tmax {
		return 0, false
	}
	m := &o.view[axis]
	s.bad, s.nests = s.bad[:0], s.nests[:0]
	looked, t := 0, tmin
	for i := range spots {
		b := &spots[i]
		f := &b.o.view[axis]
		bu, bv := b.at[axis], b.at[1-axis]
		if v >= bv+f.size[1]+s.box-slack || v+m.size[1] <= bv-s.box+slack {
			continue
		}
		reach := span{bu - m.size[0] - s.box, bu + f.size[0] + s.box}
		if reach.hi-slack <= t || reach.lo+slack >= tmax {
			continue
		}
		looked++
		n := len(s.bad)
		s.forbid(m, f, v-bv, bu, span{t, tmax}, reach)
		if dv := v - bv; dv >= 0 && dv+m.size[1] <= f.size[1] || dv <= 0 && dv+m.size[1] >= f.size[1] {
			s.nests = append(s.nests, nested{f, dv, bu, n, len(s.bad)})
		}
		// No position below the one this neighbour allows can be the answer, so the next ones need not tell of any.
		if t = clear(s.bad[n:], t); t > tmax {
			break
		}
	}
	s.evals += max(1, looked)
	for t <= tmax {
		t = clear(s.bad, t)
		moved := false
		for i := range s.nests {
			if n := &s.nests[i]; n.holds(m, t) {
				t, moved = n.leave(s.bad, t), true
				break
			}
		}
		if !moved {
			break
		}
	}
	return t, t <= tmax
}

// clear is the least position from t on that lies in no stretch.
func clear(bad []span, t float64) float64 {
	for moved := true; moved; {
		moved = false
		for _, p := range bad {
			if p.lo < t-slack && p.hi-slack > t {
				t, moved = p.hi, true
			}
		}
	}
	return t
}

// holds reports whether one outline lies in the other at t, where their borders are apart.
func (n *nested) holds(m *view, t float64) bool {
	e, w := &n.f.edges[0], &m.edges[0]
	t -= n.bu
	return inView(n.f, w.au+t, w.av+n.dv) || inView(m, e.au-t, e.av-n.dv)
}

// leave is the end of the first stretch after t in which the two borders meet; endless where none was told of.
func (n *nested) leave(bad []span, t float64) float64 {
	p := span{math.Inf(1), math.Inf(1)}
	for _, q := range bad[n.from:n.to] {
		if q.hi > t+slack && q.lo < p.lo {
			p = q
		}
	}
	return p.hi
}

// forbid adds the positions at which m, dv higher than f, has its border too near f's. f stands at bu; positions
// outside want need not be told, and outside reach the boxes keep the gap.
func (s *slider) forbid(m, f *view, dv, bu float64, want, reach span) {
	g := s.gap
	from, to := math.Max(want.lo, reach.lo)-bu, math.Min(want.hi, reach.hi)-bu // relative to f
	ms := sort.SearchFloat64s(m.reach, -dv-g)
	fs := sort.SearchFloat64s(f.reach, dv-g)
	ftop := dv + m.reach[len(m.reach)-1] + g
	for j := fs; j < len(f.edges); j++ {
		e := &f.edges[j]
		if e.av > ftop {
			break
		}
		if e.bv < dv-g {
			continue
		}
		top, low := e.bv+g-dv, e.av-g-dv
		left, right := e.umax+g-from, e.umin-g-to
		for i := ms; i < len(m.edges); i++ {
			w := &m.edges[i]
			if w.av > top {
				break
			}
			if w.bv < low || w.umin >= left || w.umax <= right {
				continue
			}
			p := meet(e, w, dv, g)
			p.lo, p.hi = p.lo+bu, p.hi+bu
			if p.lo < reach.lo {
				p.lo = reach.lo
			}
			if p.hi > reach.hi {
				p.hi = reach.hi
			}
			if p.hi-p.lo > slack && p.hi > want.lo {
				s.bad = append(s.bad, p)
			}
		}
	}
}

// meet is where w, dv higher than e, is nearer to e than g; lo above hi where nowhere. It is the solver's innermost
// loop, hence the plain comparisons.
func meet(e, w *edge, dv, g float64) span {
	p := span{math.Inf(1), math.Inf(-1)}
	if l, h, ok := cross(e, w.av+dv, g); ok {
		p.hold(l-w.au, h-w.au)
	}
	if l, h, ok := cross(e, w.bv+dv, g); ok {
		p.hold(l-w.bu, h-w.bu)
	}
	if l, h, ok := cross(w, e.av-dv, g); ok {
		p.hold(e.au-h, e.au-l)
	}
	if l, h, ok := cross(w, e.bv-dv, g); ok {
		p.hold(e.bu-h, e.bu-l)
	}
	return p
}

// hold widens p to hold lo to hi.
func (p *span) hold(lo, hi float64) {
	if lo < p.lo {
		p.lo = lo
	}
	if hi > p.hi {
		p.hi = hi
	}
}

// inView is the crossing number test along u.
func inView(w *view, u, v float64) bool {
	in := false
	for i := range w.edges {
		e := &w.edges[i]
		if e.av > v {
			break
		}
		if e.bv > v && u < e.au+(v-e.av)*e.du/e.dv {
			in = !in
		}
	}
	return in
}

// cross is where the line at v across cuts the edge grown by g.
func cross(e *edge, v, g float64) (lo, hi float64, ok bool) {
	c := v - e.av
	if c <= -g || v-e.bv >= g {
		return 0, 0, false
	}
	if e.level {
		h := bulge(g, c)
		return e.umin - h, e.umax + h, true
	}
	// A border of the grown edge is the edge moved along its normal; beyond its ends it is a round cap.
	switch x := c - e.nv; {
	case x < 0:
		lo = e.au - bulge(g, c)
	case x > e.dv:
		lo = e.bu - bulge(g, v-e.bv)
	default:
		lo = e.au + x/e.dv*e.du - e.nu
	}
	switch x := c + e.nv; {
	case x < 0:
		hi = e.au + bulge(g, c)
	case x > e.dv:
		hi = e.bu + bulge(g, v-e.bv)
	default:
		hi = e.au + x/e.dv*e.du + e.nu
	}
	return lo, hi, true
}

// bulge is half the width of a circle of radius g at height c.
func bulge(g, c float64) float64 {
	if d := g*g - c*c; d > 0 {
		return math.Sqrt(d)
	}
	return 0
}
