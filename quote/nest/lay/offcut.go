package lay

import (
	"cmp"
	"math"
	"slices"

	"benchbell/quote/geom"
	"benchbell/quote/nest"
	"benchbell/quote/nest/exact"
)

// blocked is what may not be covered on a sheet, in the coordinates of its field, which begins edge from its border:
// what its outline leaves of its rectangle, and its defects.
func blocked(k nest.Sheet, edge float64) []geom.Ring {
	var out []geom.Ring
	for _, r := range append(pockets(k), k.Defects...) {
		out = append(out, geom.Placement{Move: geom.Pt(-edge, -edge)}.Ring(distinct(r).CCW()))
	}
	return out
}

// onEdge is how near to the rectangle's border a point of an outline counts as on it.
const onEdge = 1e-6

// pockets is what an outline leaves of its sheet's rectangle: for each part of the outline that leaves the border, the
// area between it and the border.
func pockets(k nest.Sheet) []geom.Ring {
	if len(k.Outline) == 0 {
		return nil
	}
	r := distinct(k.Outline).CCW()
	w, h := float64(k.Width), float64(k.Height)
	// round is how far around the rectangle, counter-clockwise from the origin, a point of its border lies.
	round := func(p geom.Point) (float64, bool) {
		switch {
		case p.Y <= onEdge:
			return p.X, true
		case p.X >= w-onEdge:
			return w + p.Y, true
		case p.Y >= h-onEdge:
			return w + h + w - p.X, true
		case p.X <= onEdge:
			return 2*w + h + h - p.Y, true
		}
		return 0, false
	}
	corners := [4]geom.Point{{X: w}, {X: w, Y: h}, {Y: h}, {}}
	ends := [4]float64{w, w + h, 2*w + h, 2*w + 2*h}
	var border []int
	for i, p := range r {
		if _, ok := round(p); ok {
			border = append(border, i)
		}
	}
	var out []geom.Ring
	for n, i := range border {
		j := border[(n+1)%len(border)]
		var chain geom.Ring
		for q := i; ; q = (q + 1) % len(r) {
			chain = append(chain, r[q])
			if q == j && len(chain) > 1 {
				break
			}
		}
		from, _ := round(r[i])
		to, _ := round(r[j])
		all := 2*w + 2*h
		if to < from {
			to += all
		}
		// Back along the border, clockwise, by the corners passed; one that the chain ends at is there already.
		for c := 7; c >= 0; c-- {
			if at := ends[c%4] + float64(c/4)*all; at > from+onEdge && at < to-onEdge {
				chain = append(chain, corners[c%4])
			}
		}
		if len(chain) >= 3 && float64(chain.Area()) > minArea {
			out = append(out, chain.CCW())
		}
	}
	return out
}

// offcut is the far end of the last sheet, from a gap beyond its last piece; none where nothing of it is left.
func offcut(p nest.Problem, s nest.Solution) *nest.Offcut {
	n := len(s.Layouts) - 1
	if n < 0 || p.Strip > 0 {
		return nil
	}
	l := s.Layouts[n]
	shapes := map[string]geom.Ring{}
	for _, it := range p.Items {
		shapes[it.ID] = it.Shape.Outer
	}
	from := 0.0
	for _, q := range l.Placed {
		from = math.Max(from, q.At.Ring(shapes[q.Item]).Bounds().Max.X)
	}
	from += p.Between()
	at := slices.IndexFunc(p.Sheets, func(k nest.Sheet) bool { return k.ID == l.Sheet })
	if at < 0 {
		return nil
	}
	k := p.Sheets[at]
	outline := k.Outline
	if len(outline) == 0 {
		outline = geom.Ring{{}, {X: float64(k.Width)}, {X: float64(k.Width), Y: float64(k.Height)}, {Y: float64(k.Height)}}
	}
	parts := beyond(distinct(outline).CCW(), from)
	if len(parts) == 0 {
		return nil
	}
	o := geom.Shape{Outer: slices.MaxFunc(parts, func(a, b geom.Ring) int { return cmp.Compare(a.Area(), b.Area()) })}
	if float64(o.Outer.Area()) <= minArea {
		return nil
	}
	outer := exact.NewOutline(o)
	for _, d := range k.Defects {
		// Of a defect across the cut it is what lies beyond; one across the border is a hole as a whole.
		for _, part := range beyond(distinct(d).CCW(), from) {
			if exact.Overlap(outer, exact.NewOutline(geom.Shape{Outer: part})) {
				o.Holes = append(o.Holes, part.Reversed())
			}
		}
	}
	return &nest.Offcut{Layout: n, Shape: o}
}

// beyond is the parts of a counter-clockwise ring that lie right of x. The line cuts it in an even number of places,
// and the parts between the first and second, third and fourth of them lie inside.
func beyond(r geom.Ring, x float64) []geom.Ring {
	type chain struct {
		pts  geom.Ring
		used bool
	}
	n := len(r)
	start := slices.IndexFunc(r, func(p geom.Point) bool { return p.X <= x })
	if start < 0 {
		return []geom.Ring{r}
	}
	var chains []chain
	var open geom.Ring
	for i := range n {
		a, b := r[(start+i)%n], r[(start+i+1)%n]
		cut := geom.Pt(x, a.Y+(x-a.X)/(b.X-a.X)*(b.Y-a.Y))
		switch {
		case a.X <= x && b.X > x:
			open = geom.Ring{cut, b}
		case a.X > x && b.X <= x:
			chains = append(chains, chain{pts: append(open, cut)})
		case a.X > x:
			open = append(open, b)
		}
	}
	type end struct {
		y     float64
		chain int
		first bool
	}
	var ends []end
	for i, c := range chains {
		ends = append(ends, end{y: c.pts[0].Y, chain: i, first: true}, end{y: c.pts[len(c.pts)-1].Y, chain: i, first: false})
	}
	slices.SortStableFunc(ends, func(a, b end) int { return cmp.Compare(a.y, b.y) })
	mate := map[int]int{} // from the end of a chain to the one that goes on
	for i := 0; i+1 < len(ends); i += 2 {
		a, b := ends[i], ends[i+1]
		if a.first {
			a, b = b, a
		}
		mate[a.chain] = b.chain
	}
	var out []geom.Ring
	for i := range chains {
		var ring geom.Ring
		for c := i; !chains[c].used; c = mate[c] {
			chains[c].used = true
			ring = append(ring, chains[c].pts...)
		}
		if ring = distinct(ring); len(ring) >= 3 {
			out = append(out, ring)
		}
	}
	return out
}
