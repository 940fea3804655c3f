package nest

import (
	"cmp"
	"math"
	"slices"
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
	all   []span
	one   []span
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
	s.all = s.all[:0]
	looked := 0
	for i := range spots {
		b := &spots[i]
		f := &b.o.view[axis]
		bu, bv := b.at[axis], b.at[1-axis]
		if v >= bv+f.size[1]+s.box-slack || v+m.size[1] <= bv-s.box+slack {
			continue
		}
		reach := span{bu - m.size[0] - s.box, bu + f.size[0] + s.box}
		if reach.hi-slack <= tmin || reach.lo+slack >= tmax {
			continue
		}
		looked++
		s.forbid(m, f, v-bv, bu, span{tmin, tmax}, reach)
	}
	s.evals += max(1, looked)
	slices.SortFunc(s.all, func(a, b span) int { return cmp.Compare(a.lo, b.lo) })
	t := tmin
	for _, sp := range s.all {
		if sp.lo >= t-slack {
			break
		}
		if sp.hi-slack > t {
			t = sp.hi
		}
	}
	return t, t <= tmax
}

// forbid adds the positions at which m, dv higher than f, is too near f or inside it or around it. f stands at bu;
// positions outside want need not be told, and outside reach the boxes keep the gap.
func (s *slider) forbid(m, f *view, dv, bu float64, want, reach span) {
	s.one = s.one[:0]
	g := s.gap
	reach = span{reach.lo - bu, reach.hi - bu} // from here on relative to f
	from, to := math.Max(want.lo-bu, reach.lo), math.Min(want.hi-bu, reach.hi)
	ms := sort.SearchFloat64s(m.reach, -dv-g)
	fs := sort.SearchFloat64s(f.reach, dv-g)
	ftop := dv + m.size[1] + g
	for j := fs; j < len(f.edges); j++ {
		e := &f.edges[j]
		if e.av > ftop {
			break
		}
		if e.bv < dv-g {
			continue
		}
		top, low := e.bv+g-dv, e.av-g-dv
		for i := ms; i < len(m.edges); i++ {
			w := &m.edges[i]
			if w.av > top {
				break
			}
			if w.bv < low || e.umax-w.umin+g <= from || e.umin-w.umax-g >= to {
				continue
			}
			p := meet(e, w, dv, g)
			p.lo, p.hi = math.Max(p.lo, reach.lo), math.Min(p.hi, reach.hi)
			if p.hi-p.lo > slack {
				s.one = append(s.one, p)
				s.all = append(s.all, span{p.lo + bu, p.hi + bu})
			}
		}
	}
	inside := dv >= 0 && dv+m.size[1] <= f.size[1]
	around := dv <= 0 && dv+m.size[1] >= f.size[1]
	if !inside && !around {
		return
	}
	slices.SortFunc(s.one, func(a, b span) int { return cmp.Compare(a.lo, b.lo) })
	end := from
	for _, p := range s.one {
		if p.lo > end+slack {
			s.fill(m, f, dv, bu, span{end, p.lo})
		} else if p.lo > end-2*slack {
			s.all = append(s.all, span{end + bu - 2*slack, p.lo + bu + 2*slack}) // no room to tell in from out
		}
		end = math.Max(end, p.hi)
	}
	if to > end+slack || from == to && end == to {
		s.fill(m, f, dv, bu, span{end, to})
	}
}

// fill forbids a stretch in which the borders are apart, where one outline holds the other there.
func (s *slider) fill(m, f *view, dv, bu float64, p span) {
	t := (p.lo + p.hi) / 2
	if inView(f, m.edges[0].au+t, m.edges[0].av+dv) || inView(m, f.edges[0].au-t, f.edges[0].av-dv) {
		s.all = append(s.all, span{p.lo + bu - 2*slack, p.hi + bu + 2*slack})
	}
}

// meet is where w, dv higher than e, is nearer to e than g; lo above hi where nowhere.
func meet(e, w *edge, dv, g float64) span {
	p := span{math.Inf(1), math.Inf(-1)}
	if l, h, ok := cross(e, w.av+dv, g); ok {
		p.lo, p.hi = l-w.au, h-w.au
	}
	if l, h, ok := cross(e, w.bv+dv, g); ok {
		p.lo, p.hi = math.Min(p.lo, l-w.bu), math.Max(p.hi, h-w.bu)
	}
	if l, h, ok := cross(w, e.av-dv, g); ok {
		p.lo, p.hi = math.Min(p.lo, e.au-h), math.Max(p.hi, e.au-l)
	}
	if l, h, ok := cross(w, e.bv-dv, g); ok {
		p.lo, p.hi = math.Min(p.lo, e.bu-h), math.Max(p.hi, e.bu-l)
	}
	return p
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
		h := math.Sqrt(math.Max(0, g*g-c*c))
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
func bulge(g, c float64) float64 { return math.Sqrt(math.Max(0, g*g-c*c)) }
