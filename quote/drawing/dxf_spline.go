package drawing

import (
	"errors"
	"fmt"
	"math"

	"benchbell/quote/geom"
)

// maxDegree bounds a spline's degree; editors draw with 3, surface modellers with up to 11.
const maxDegree = 11

// Flags of SPLINE.
const (
	splineClosed   = 1
	splineRational = 4
)

// weighted is a control point in homogeneous coordinates: the point times its weight, and the weight.
type weighted struct {
	geom.Point
	w float64
}

func (a weighted) lerp(b weighted, t float64) weighted {
	return weighted{a.Lerp(b.Point, t), a.w + (b.w-a.w)*t}
}

func (a weighted) project() geom.Point { return a.Mul(1 / a.w) }

func (r *dxfDrawer) spline(f *fields, at dxfPlace) error {
	control, knots, weights, fit := f.points(10), f.numbers(40), f.numbers(41), f.points(11)
	degree, closed := f.integer(71, 3), f.integer(70, 0)&splineClosed != 0
	if f.err != nil {
		return f.err
	}
	if len(control)+len(fit) > maxPoints {
		return fmt.Errorf("it has more than %d points; simplify it", maxPoints)
	}
	if len(control) == 0 {
		return r.fitSpline(f, at, fit, closed)
	}
	if err := checkSpline(degree, len(control), knots, weights); err != nil {
		return err
	}
	cs := make([]weighted, len(control))
	for i, p := range control {
		w := 1.0
		if len(weights) > 0 {
			w = weights[i]
		}
		cs[i] = weighted{at.m.apply(p).Mul(w), w}
	}
	var points geom.Path
	for k := degree; k < len(cs); k++ {
		if knots[k+1] <= knots[k] {
			continue
		}
		bezier := splineSpan(cs, knots, degree, k)
		if points == nil {
			points = geom.Path{bezier[0].project()}
		}
		if points = flattenRational(points, bezier, maxHalvings); r.points+len(points) > maxPoints {
			break // add refuses it
		}
	}
	if n := len(points); n > 3 && !closed && points[0].Dist(points[n-1]) <= float64(meetGap) {
		closed = true
	}
	if n := len(points); n > 3 && closed && points[0].Dist(points[n-1]) <= float64(meetGap) {
		points = points[:n-1]
	}
	return r.add(f, at, points, closed, nil)
}

// checkSpline checks a spline against its definition: knots that never fall, and one more of them than control points and
// degree together.
func checkSpline(degree, control int, knots, weights []float64) error {
	switch {
	case degree < 1 || degree > maxDegree:
		return fmt.Errorf("its degree is %d; it must be from 1 to %d, so draw it again as a cubic spline", degree, maxDegree)
	case control <= degree:
		return fmt.Errorf("it has %d control points; degree %d needs at least %d", control, degree, degree+1)
	case len(knots) != control+degree+1:
		return fmt.Errorf("it has %d knots; %d control points of degree %d need %d", len(knots), control, degree, control+degree+1)
	case len(weights) != 0 && len(weights) != control:
		return fmt.Errorf("it has %d weights for %d control points", len(weights), control)
	}
	for i := 1; i < len(knots); i++ {
		if knots[i] < knots[i-1] {
			return fmt.Errorf("its knots fall from %g to %g; they must not decrease", knots[i-1], knots[i])
		}
	}
	if !(knots[control] > knots[degree]) {
		return errors.New("its knots are all equal; draw the spline again")
	}
	for _, w := range weights {
		if !(w > 0) {
			return fmt.Errorf("one weight is %g; weights must be above zero", w)
		}
	}
	return nil
}

// splineSpan is the Bézier form of the span between knots k and k+1, by the spline's polar form: its j-th control point
// is the blossom of degree-j times the span's start and j times its end (L. Ramshaw, Blossoms are polar forms, 1989).
func splineSpan(cs []weighted, knots []float64, degree, k int) []weighted {
	a, b := knots[k], knots[k+1]
	bezier := make([]weighted, degree+1)
	d := make([]weighted, degree+1)
	for j := range bezier {
		copy(d, cs[k-degree:k+1])
		for step := 1; step <= degree; step++ {
			u := a
			if step > degree-j {
				u = b
			}
			for i := degree; i >= step; i-- {
				low, high := knots[k-degree+i], knots[k+i-step+1]
				d[i] = d[i-1].lerp(d[i], (u-low)/(high-low))
			}
		}
		bezier[j] = d[degree]
	}
	return bezier
}

// flattenRational appends the polyline of a rational Bézier curve, its end included. Its weights are positive, so it lies
// in the hull of its control points and is no farther from its chord than the farthest of them.
func flattenRational(to geom.Path, bezier []weighted, halvings int) geom.Path {
	n := len(bezier) - 1
	start, end := bezier[0].project(), bezier[n].project()
	far := 0.0
	for _, c := range bezier[1:n] {
		far = math.Max(far, segmentDistance(c.project(), start, end))
	}
	if halvings == 0 || far <= float64(Flatness) {
		return append(to, end)
	}
	left, right := make([]weighted, n+1), append([]weighted(nil), bezier...)
	for i := range left {
		left[i] = right[0]
		for k := range n - i {
			right[k] = right[k].lerp(right[k+1], 0.5)
		}
	}
	to = flattenRational(to, left, halvings-1)
	return flattenRational(to, right, halvings-1)
}

// fitSpline draws a spline for which the file gives only the points it passes through.
func (r *dxfDrawer) fitSpline(f *fields, at dxfPlace, fit []geom.Point, closed bool) error {
	var ps []geom.Point
	for _, p := range fit {
		if q := at.m.apply(p); len(ps) == 0 || q.Dist(ps[len(ps)-1]) > samePoint {
			ps = append(ps, q)
		}
	}
	if len(ps) < 2 {
		return errors.New("it has neither control points nor two points to pass through; draw it again")
	}
	for n := len(ps); n > 2 && ps[0].Dist(ps[n-1]) <= float64(meetGap); n = len(ps) {
		ps, closed = ps[:n-1], true
	}
	r.note("splines given only by points are drawn as natural cubic curves through them; check their shape between the points")
	points := naturalCurve(ps, closed && len(ps) > 2)
	return r.add(f, at, points, closed, nil)
}

// wrapPoints is how many points a closed curve is continued past its start and end: on a cubic spline the influence of an
// end falls by a factor of about 0.27 with each point (the root of x² + 4x + 1), to a tenth of a part in a million after
// eleven.
const wrapPoints = 11

// naturalCurve is the polyline of the cubic spline through the points by chord length, not bent at its ends; a closed one
// is continued around so that it has no end.
func naturalCurve(ps []geom.Point, closed bool) geom.Path {
	first, last := 0, len(ps)-1
	qs := ps
	if closed {
		qs = nil
		for i := -wrapPoints; i <= len(ps)+wrapPoints; i++ {
			qs = append(qs, ps[((i%len(ps))+len(ps))%len(ps)])
		}
		first, last = wrapPoints, wrapPoints+len(ps)
	}
	n := len(qs)
	h := make([]float64, n-1)
	for i := range h {
		h[i] = qs[i].Dist(qs[i+1])
	}
	// Second derivatives by elimination of the tridiagonal system (the textbook natural spline, as in Numerical Recipes).
	second := make([]geom.Point, n)
	diag, right := make([]float64, n), make([]geom.Point, n)
	for i := 1; i < n-1; i++ {
		diag[i] = 2 * (h[i-1] + h[i])
		right[i] = qs[i+1].Sub(qs[i]).Mul(6 / h[i]).Sub(qs[i].Sub(qs[i-1]).Mul(6 / h[i-1]))
		if i > 1 {
			k := h[i-1] / diag[i-1]
			diag[i] -= k * h[i-1]
			right[i] = right[i].Sub(right[i-1].Mul(k))
		}
	}
	for i := n - 2; i > 0; i-- {
		second[i] = right[i].Sub(second[i+1].Mul(h[i])).Mul(1 / diag[i])
	}
	to := geom.Path{qs[first]}
	for i := first; i < last; i++ {
		p, q, slope := qs[i], qs[i+1], qs[i+1].Sub(qs[i]).Mul(1/h[i])
		start := slope.Sub(second[i].Mul(2).Add(second[i+1]).Mul(h[i] / 6))
		end := slope.Add(second[i].Add(second[i+1].Mul(2)).Mul(h[i] / 6))
		to = flattenCubic(to, p, p.Add(start.Mul(h[i]/3)), q.Sub(end.Mul(h[i]/3)), q)
	}
	return to
}
