package nest

import (
	"cmp"
	"math"
	"slices"

	"benchbell/quote/geom"
)

const (
	// snap is the grid outlines are put on once their box stands at the origin, so that where an item was drawn does
	// not change its layout through the last digits. A hundredth of Tolerance.
	snap = 1e-8
	// flat is the rise below which an edge counts as level when sliding along it; a tenth of Tolerance.
	flat = 1e-7
	// fitSlack lets a piece of exactly the sheet less its margins fit after a rotation's rounding.
	fitSlack = 1e-7
	// slack is taken off every forbidden stretch so that pieces may touch it; far below Tolerance.
	slack = 1e-9
	// leastGap keeps outlines apart where the problem's gap is zero; boxes may still touch. Twice Tolerance.
	leastGap = 2e-6
	// freeTurns is how many evenly spread turns are tried for an item that may turn by any angle.
	freeTurns = 24
	// turnedPoints bounds an item's points over all its free turns, and with MaxPoints the memory a problem can take.
	turnedPoints = 6000
	// coarse is by how far, in millimetres, an outline may be simplified outwards for the search: less than a blade's
	// wander in foam, and enough to bring a smooth curve down to a few dozen points.
	coarse = 0.2
	// coarseFrom is the number of points from which an outline is simplified at all.
	coarseFrom = 16
)

// edge is a piece of outline seen along an axis: u runs along it, v across. av <= bv.
type edge struct {
	au, av, bu, bv float64
	du, dv         float64
	umin, umax     float64
	nu, nv         float64 // the gap times the unit normal's parts: g*dv/L and g*du/L
	level          bool
}

// view is an outline seen along one axis, with edges sorted by their lower end. reach[i] is the highest upper end of
// edges 0..i, so that a binary search finds the first edge that can matter.
type view struct {
	edges []edge
	reach []float64
	size  [2]float64 // box along u and v
}

// outline is an item in one turn and one hand, its box at the origin.
type outline struct {
	item     int
	turn     float64
	mirrored bool
	origin   geom.Point // placement's move when the box stands at the origin
	view     [2]view    // along x, along y
}

func (o *outline) width() float64  { return o.view[0].size[0] }
func (o *outline) height() float64 { return o.view[0].size[1] }

// outlines makes every turn and hand in which an item may lie, those most likely to pack well first.
func outlines(item int, it Item, gap float64) []*outline {
	base := distinct(it.Shape.Outer).CCW()
	lo := base.Bounds().Min
	for i, p := range base {
		p = p.Sub(lo)
		base[i] = geom.Pt(math.Round(p.X/snap)*snap, math.Round(p.Y/snap)*snap)
	}
	rough := simplified(base)
	var turns []float64
	switch it.Turn {
	case TurnAny:
		flat := flattest(base)
		turns = []float64{flat, flat + 90, flat + 180, flat + 270}
		free := max(1, min(freeTurns, turnedPoints/len(rough)))
		for k := range free {
			turns = append(turns, float64(k)*360/float64(free))
		}
	case TurnQuarter:
		turns = []float64{0, 90, 180, 270}
	case TurnHalf:
		turns = []float64{0, 180}
	default:
		turns = []float64{0}
	}
	hands := []bool{false}
	if it.MayFlip {
		hands = append(hands, true)
	}
	var out []*outline
	for _, t := range turns {
		for _, m := range hands {
			t := t
			if m && it.Turn == TurnAny {
				t = -t // the mirror image of an outline laid flat lies flat at the opposite turn
			}
			t = math.Mod(t+720, 360)
			if !slices.ContainsFunc(out, func(o *outline) bool { return o.mirrored == m && math.Abs(o.turn-t) < 1e-7 }) {
				out = append(out, newOutline(item, base, rough, lo, geom.Placement{Mirrored: m, Turn: t}, gap))
			}
		}
	}
	return out
}

func newOutline(item int, base, rough geom.Ring, lo geom.Point, pl geom.Placement, gap float64) *outline {
	box := pl.Ring(base).Bounds() // the true one: a piece as large as the sheet must fit
	r := pl.Ring(rough)
	for i := range r {
		r[i] = r[i].Sub(box.Min)
	}
	o := &outline{item: item, turn: pl.Turn, mirrored: pl.Mirrored}
	o.origin = geom.Point{}.Sub(pl.Apply(lo)).Sub(box.Min)
	w, h := float64(box.Width()), float64(box.Height())
	o.view[0] = newView(r, gap, geom.Pt(w, h), false)
	o.view[1] = newView(r, gap, geom.Pt(h, w), true)
	return o
}

func newView(r geom.Ring, gap float64, size geom.Point, swap bool) view {
	v := view{edges: make([]edge, len(r)), reach: make([]float64, len(r)), size: [2]float64{size.X, size.Y}}
	for i := range r {
		a, b := r[i], r[(i+1)%len(r)]
		if swap {
			a, b = geom.Pt(a.Y, a.X), geom.Pt(b.Y, b.X)
		}
		if a.Y > b.Y {
			a, b = b, a
		}
		e := edge{au: a.X, av: a.Y, bu: b.X, bv: b.Y, du: b.X - a.X, dv: b.Y - a.Y}
		e.umin, e.umax = math.Min(a.X, b.X), math.Max(a.X, b.X)
		l := math.Hypot(e.du, e.dv)
		e.nu, e.nv = gap*e.dv/l, gap*e.du/l
		e.level = e.dv < flat
		v.edges[i] = e
	}
	slices.SortStableFunc(v.edges, func(a, b edge) int { return cmp.Compare(a.av, b.av) })
	top := math.Inf(-1)
	for i, e := range v.edges {
		top = math.Max(top, e.bv)
		v.reach[i] = top
	}
	return v
}

// flattest is the turn in degrees at which the outline's box is smallest; one side of the hull then lies level.
func flattest(r geom.Ring) float64 {
	h := hull(r)
	best, turn := math.Inf(1), 0.0
	for i := range h {
		d := h[(i+1)%len(h)].Sub(h[i]).Unit()
		n := d.Perp()
		ulo, uhi, vlo, vhi := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
		for _, p := range h {
			ulo, uhi = math.Min(ulo, p.Dot(d)), math.Max(uhi, p.Dot(d))
			vlo, vhi = math.Min(vlo, p.Dot(n)), math.Max(vhi, p.Dot(n))
		}
		if a := (uhi - ulo) * (vhi - vlo); a < best-1e-6 {
			best = a
			turn = -math.Atan2(d.Y, d.X) * 180 / math.Pi
		}
	}
	return turn
}

// hull is the convex hull, counter-clockwise (Andrew's monotone chain).
func hull(r geom.Ring) geom.Ring {
	ps := slices.Clone(r)
	slices.SortFunc(ps, func(a, b geom.Point) int { return cmp.Or(cmp.Compare(a.X, b.X), cmp.Compare(a.Y, b.Y)) })
	var h geom.Ring
	for pass := 0; pass < 2; pass++ {
		start := len(h)
		for _, p := range ps {
			for len(h) >= start+2 && h[len(h)-1].Sub(h[len(h)-2]).Cross(p.Sub(h[len(h)-2])) <= 0 {
				h = h[:len(h)-1]
			}
			h = append(h, p)
		}
		h = h[:len(h)-1]
		slices.Reverse(ps)
	}
	return h
}
