package draw

import (
	"math"
	"slices"

	"benchbell/quote/geom"
)

// maxHatchLines bounds the lines of one hatch, so that a tiny spacing over a large figure stays cheap.
const maxHatchLines = 4000

// Segment is a straight line from A to B.
type Segment struct{ A, B geom.Point }

// hatchLines are the hatch's lines clipped to the shape, even-odd with its holes. They are computed here rather than
// clipped by each painter, so that every medium shows the same lines. Lines of one angle and spacing lie on one grid
// through the origin, so the hatches of neighbouring figures line up.
func hatchLines(s geom.Shape, h Hatch) []Segment {
	if !(h.Spacing > 0) || math.IsInf(float64(h.Spacing), 0) || math.IsNaN(h.Angle) || math.IsInf(h.Angle, 0) {
		return nil
	}
	sin, cos := geom.SinCosDeg(-h.Angle) // y runs down: a positive angle slants as on paper
	u, v := geom.Pt(cos, sin), geom.Pt(-sin, cos)
	rings := append([]geom.Ring{s.Outer}, s.Holes...)
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, p := range s.Outer {
		if !p.Finite() {
			return nil
		}
		lo, hi = math.Min(lo, p.Dot(v)), math.Max(hi, p.Dot(v))
	}
	step := float64(h.Spacing)
	if !(hi > lo) || (hi-lo)/step > maxHatchLines {
		return nil
	}
	var out []Segment
	for k := math.Ceil(lo / step); k*step < hi; k++ {
		at := k * step
		var cuts []float64
		for _, r := range rings {
			for i, a := range r {
				b := r[(i+1)%len(r)]
				da, db := a.Dot(v)-at, b.Dot(v)-at
				if (da > 0) == (db > 0) {
					continue
				}
				cuts = append(cuts, a.Lerp(b, da/(da-db)).Dot(u))
			}
		}
		slices.Sort(cuts)
		for i := 0; i+1 < len(cuts); i += 2 {
			if cuts[i+1] > cuts[i] {
				out = append(out, Segment{u.Mul(cuts[i]).Add(v.Mul(at)), u.Mul(cuts[i+1]).Add(v.Mul(at))})
			}
		}
	}
	return out
}
