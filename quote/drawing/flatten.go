package drawing

import (
	"math"

	"benchbell/quote/geom"
)

// maxHalvings bounds the points of one curve at 4096. A curve inside maxExtent needs fewer: halving a curve quarters its
// distance from the chord, and 20 m / 4^12 is a thousandth of Flatness.
const maxHalvings = 12

// maxArcSteps bounds the points of one arc; a full circle with a radius of maxExtent needs 2222, and an arc of a larger
// circle that stays inside maxExtent needs fewer.
const maxArcSteps = 4096

// flattenCubic appends to a path that ends in p0 the polyline of a cubic Bézier curve, including its end point p3.
//
// A curve's distance from its chord is at most three quarters of the farther control point's: distance from a segment is a
// convex function, so the curve's is at most 3t(1-t)·max. The curve is halved (de Casteljau) until that is within Flatness.
func flattenCubic(to geom.Path, p0, p1, p2, p3 geom.Point) geom.Path {
	return halveCubic(to, p0, p1, p2, p3, maxHalvings)
}

func halveCubic(to geom.Path, p0, p1, p2, p3 geom.Point, halvings int) geom.Path {
	far := max(segmentDistance(p1, p0, p3), segmentDistance(p2, p0, p3))
	if halvings == 0 || far*3/4 <= float64(Flatness) {
		return append(to, p3)
	}
	a, b, c := p0.Lerp(p1, 0.5), p1.Lerp(p2, 0.5), p2.Lerp(p3, 0.5)
	ab, bc := a.Lerp(b, 0.5), b.Lerp(c, 0.5)
	mid := ab.Lerp(bc, 0.5)
	to = halveCubic(to, p0, a, ab, mid, halvings-1)
	return halveCubic(to, mid, bc, c, p3, halvings-1)
}

// flattenQuadratic is flattenCubic for a quadratic curve, by raising its degree, which is exact.
func flattenQuadratic(to geom.Path, p0, p1, p2 geom.Point) geom.Path {
	return flattenCubic(to, p0, p0.Lerp(p1, 2.0/3), p2.Lerp(p1, 2.0/3), p2)
}

func segmentDistance(p, a, b geom.Point) float64 {
	d := b.Sub(a)
	t := 0.0
	if l := d.Dot(d); l > 0 {
		t = min(max(p.Sub(a).Dot(d)/l, 0), 1)
	}
	return p.Dist(a.Add(d.Mul(t)))
}

// ellipse is centre + u·cos t + v·sin t. It has two conjugate half-diameters rather than axes and an angle, because any
// affine map of it is then the map of three vectors.
type ellipse struct{ centre, u, v geom.Point }

// axisEllipse has half-axes rx and ry, the first turned by rotation (radians, from x towards y).
func axisEllipse(centre geom.Point, rx, ry, rotation float64) ellipse {
	sin, cos := math.Sincos(rotation)
	return ellipse{centre, geom.Pt(rx*cos, rx*sin), geom.Pt(-ry*sin, ry*cos)}
}

func (e ellipse) at(t float64) geom.Point {
	sin, cos := math.Sincos(t)
	return e.centre.Add(e.u.Mul(cos)).Add(e.v.Mul(sin))
}

func (e ellipse) under(m affine) ellipse {
	return ellipse{m.apply(e.centre), m.vector(e.u), m.vector(e.v)}
}

// reach is the ellipse's larger half-axis: the larger singular value of the matrix (u v).
func (e ellipse) reach() float64 {
	return affine{a: e.u.X, b: e.u.Y, c: e.v.X, d: e.v.Y}.stretch()
}

// circle is the ellipse if it is a true circle, else nil.
func (e ellipse) circle() *Circle {
	m := affine{a: e.u.X, b: e.u.Y, c: e.v.X, d: e.v.Y}
	r, ok := m.similarity()
	if !ok || r == 0 {
		return nil
	}
	return &Circle{Centre: e.centre, Radius: geom.MM(r)}
}

// steps is how many chords keep an arc over sweep radians within Flatness. A chord of the unit circle over an angle s is
// within 1-cos(s/2) of its arc, and the linear map to the ellipse stretches that by at most reach.
func (e ellipse) steps(sweep float64) int {
	step := math.Pi / 2 // an ellipse smaller than Flatness keeps its four ends
	if r := e.reach(); !(r < float64(Flatness)) {
		step = min(step, 2*math.Acos(1-float64(Flatness)/r))
	}
	n := math.Ceil(math.Abs(sweep) / step)
	if !(n <= maxArcSteps) {
		return maxArcSteps
	}
	return max(1, int(n))
}

// flattenArc appends to a path that ends at e.at(start) the arc over sweep radians (negative runs backwards), including its
// end point. Sweeps of more than a turn count as one turn.
func (e ellipse) flattenArc(to geom.Path, start, sweep float64) geom.Path {
	sweep = min(max(sweep, -2*math.Pi), 2*math.Pi)
	n := e.steps(sweep)
	for i := 1; i <= n; i++ {
		to = append(to, e.at(start+sweep*float64(i)/float64(n)))
	}
	return to
}

// flatten is the whole ellipse as a closed line that does not repeat its first point, e.at(0).
func (e ellipse) flatten() geom.Path {
	n := e.steps(2 * math.Pi)
	n += (4 - n%4) % 4 // the four ends of the half-diameters are among its points, so that its width and height are exact
	to := make(geom.Path, 0, n)
	for i := range n {
		sin, cos := geom.SinCosDeg(360 * float64(i) / float64(n))
		to = append(to, e.centre.Add(e.u.Mul(cos)).Add(e.v.Mul(sin)))
	}
	return to
}
