package pattern

import (
	"benchbell/quote/geom"
)

// flattenTolerance is how far a chord of a drill's outline or of a bent edge may lie from its curve: a tenth of the
// precision of a hand-held blade (common practice, no source), so it is never the reason why an edge does not fit.
const flattenTolerance geom.MM = 0.05

// sag bounds how far a graded edge may lie from where the mapping would bend it: the flattening tolerance again.
const sag = float64(flattenTolerance)

// line maps an open path; points are added only where the mapping bends a straight edge.
func (m mapping) line(p geom.Path) geom.Path {
	out := geom.Path{m(p[0])}
	for i := 1; i < len(p); i++ {
		out = m.segment(out, p[i-1], p[i], 6)
	}
	return out
}

func (m mapping) segment(out geom.Path, a, b geom.Point, depth int) geom.Path {
	fa, fb := m(a), m(b)
	bent := false
	for _, t := range []float64{0.25, 0.5, 0.75} {
		bent = bent || m(a.Lerp(b, t)).Dist(fa.Lerp(fb, t)) > sag
	}
	if !bent || depth == 0 {
		return append(out, fb)
	}
	mid := a.Lerp(b, 0.5)
	return m.segment(m.segment(out, a, mid, depth-1), mid, b, depth-1)
}

// ring maps a closed ring and returns the new index of each drawn vertex.
func (m mapping) ring(r geom.Ring) (geom.Ring, []int) {
	at := make([]int, len(r))
	out := geom.Path{m(r[0])}
	for i := range r {
		at[i] = len(out) - 1
		out = m.segment(out, r[i], r[(i+1)%len(r)], 6)
	}
	return geom.Ring(out[:len(out)-1]), at
}

// rigid is the motion for something of fixed size centred at c: it moves with c and turns with the piece's lengthwise
// direction there, and never scales.
func (m mapping) rigid(c geom.Point) mapping {
	const step = 0.01 // mm; far below any curvature of the mapping, far above rounding
	to := m(c)
	up := m(c.Add(geom.Pt(0, step))).Sub(m(c.Sub(geom.Pt(0, step)))).Unit()
	return func(q geom.Point) geom.Point {
		d := q.Sub(c)
		return geom.Pt(to.X+d.X*up.Y+d.Y*up.X, to.Y-d.X*up.X+d.Y*up.Y)
	}
}

// all maps every point of a ring and adds none.
func (m mapping) all(r geom.Ring) geom.Ring {
	out := make(geom.Ring, len(r))
	for i, q := range r {
		out[i] = m(q)
	}
	return out
}
