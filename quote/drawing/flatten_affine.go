package drawing

import (
	"math"

	"benchbell/quote/geom"
)

// similarTolerance is the relative difference between an affine map's two stretches below which a circle under it still
// counts as a circle: the rounding of an editor's six digits, far less than a drill would show.
const similarTolerance = 1e-5

// affine maps (x, y) to (ax + cy + e, bx + dy + f): the six numbers in the order of SVG's matrix().
type affine struct{ a, b, c, d, e, f float64 }

var identity = affine{a: 1, d: 1}

func translation(x, y float64) affine { return affine{a: 1, d: 1, e: x, f: y} }

func scaling(x, y float64) affine { return affine{a: x, d: y} }

// turning turns by degrees from x towards y; quarter turns are exact.
func turning(degrees float64) affine {
	sin, cos := geom.SinCosDeg(degrees)
	return affine{a: cos, b: sin, c: -sin, d: cos}
}

// mul is the map that does n first, then m.
func (m affine) mul(n affine) affine {
	return affine{
		a: m.a*n.a + m.c*n.b, b: m.b*n.a + m.d*n.b,
		c: m.a*n.c + m.c*n.d, d: m.b*n.c + m.d*n.d,
		e: m.a*n.e + m.c*n.f + m.e, f: m.b*n.e + m.d*n.f + m.f,
	}
}

func (m affine) apply(p geom.Point) geom.Point {
	return geom.Pt(m.a*p.X+m.c*p.Y+m.e, m.b*p.X+m.d*p.Y+m.f)
}

// vector maps a difference of points, which translation does not affect.
func (m affine) vector(p geom.Point) geom.Point {
	return geom.Pt(m.a*p.X+m.c*p.Y, m.b*p.X+m.d*p.Y)
}

// stretches are the map's singular values, the larger first: half the sum and difference of the lengths of its
// orientation-preserving and orientation-reversing parts.
func (m affine) stretches() (great, small float64) {
	keep := math.Hypot(m.a+m.d, m.b-m.c)
	reverse := math.Hypot(m.a-m.d, m.b+m.c)
	return (keep + reverse) / 2, math.Abs(keep-reverse) / 2
}

// stretch is the most by which the map lengthens anything.
func (m affine) stretch() float64 {
	great, _ := m.stretches()
	return great
}

// similarity is the map's scale if it scales equally in all directions; it may mirror.
func (m affine) similarity() (scale float64, ok bool) {
	great, small := m.stretches()
	return (great + small) / 2, great-small <= similarTolerance*great
}

func (m affine) finite() bool {
	return geom.Pt(m.a, m.b).Finite() && geom.Pt(m.c, m.d).Finite() && geom.Pt(m.e, m.f).Finite()
}
