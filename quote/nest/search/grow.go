package search

import (
	"math"

	"benchbell/quote/geom"
)

// arcStep is the largest turn, in radians, made by one corner of a grown outline: the corner then sticks out by at most an
// eleventh of the distance grown.
const arcStep = math.Pi / 4

// grown is an outline whose border keeps at least d from the counter-clockwise ring everywhere. In hollows narrower than 2d
// it runs through its own inside; neither the crossing nor the winding test minds, and it saves a union.
func grown(r geom.Ring, d float64) []geom.Point {
	n := len(r)
	if d <= 0 {
		return r
	}
	var out []geom.Point
	for i, p := range r {
		in, on := p.Sub(r[(i+n-1)%n]), r[(i+1)%n].Sub(p)
		n1, n2 := in.Unit().Perp().Mul(-1), on.Unit().Perp().Mul(-1) // outwards
		turn := math.Atan2(in.Cross(on), in.Dot(on))
		if turn >= 0 {
			k := max(1, int(math.Ceil(turn/arcStep-1e-9)))
			far := d / math.Cos(turn/float64(2*k))
			for s := range k {
				// The middle of each part of the arc, pushed out until the chords touch the circle.
				a := turn * (float64(s) + 0.5) / float64(k)
				sin, cos := math.Sincos(a)
				out = append(out, p.Add(geom.Pt(n1.X*cos-n1.Y*sin, n1.X*sin+n1.Y*cos).Mul(far)))
			}
			continue
		}
		// An inward corner: where the two moved edges meet, if both are long enough.
		if back := d * math.Tan(-turn/2); back < in.Norm() && back < on.Norm() {
			out = append(out, p.Add(n1.Add(n2).Unit().Mul(d/math.Cos(turn/2))))
			continue
		}
		out = append(out, p.Add(n1.Mul(d)), p, p.Add(n2.Mul(d)))
	}
	return out
}
