package drawing

import (
	"math"

	"benchbell/quote/geom"
)

// roundness is how far the points of a closed line may be from a circle for the line to count as that circle. Four cubic
// curves, which is how many programs write a circle, are off by 0.00027 of its radius (M. Goldapp, Approximation of
// circular arcs by cubic polynomials, 1991).
const roundness = float64(Flatness)

// leastRound is the fewest points of a line that can count as a circle; Flatness draws none above 0.3 mm with fewer.
const leastRound = 8

// roundOf is the circle that a closed line follows everywhere, or nil. Many programs write circles as arcs or curves, and a
// drill is chosen by the circle. A polygon is not a circle: the middles of its edges are too far inside.
func roundOf(l *Line) *Circle {
	if !l.Closed || l.Circle != nil || len(l.Points) < leastRound {
		return nil
	}
	c, ok := fitCircle(l.Points)
	if !ok {
		return nil
	}
	r, turn := float64(c.Radius), 0.0
	for i, p := range l.Points {
		q := l.Points[(i+1)%len(l.Points)]
		middle := p.Lerp(q, 0.5)
		if math.Abs(p.Dist(c.Centre)-r) > roundness || r-middle.Dist(c.Centre) > roundness+float64(Flatness) {
			return nil
		}
		u, v := p.Sub(c.Centre), q.Sub(c.Centre)
		turn += math.Atan2(u.Cross(v), u.Dot(v))
	}
	if math.Abs(math.Abs(turn)-2*math.Pi) > 1e-6 { // once around, not twice
		return nil
	}
	return &c
}

// fitCircle is the circle nearest to the points by the sum of squares of |p-c|² - r² (I. Kåsa, A circle fitting procedure
// and its error analysis, 1976); exact if they lie on one.
func fitCircle(ps geom.Path) (Circle, bool) {
	n := float64(len(ps))
	var mean geom.Point
	for _, p := range ps {
		mean = mean.Add(p.Mul(1 / n))
	}
	var xx, xy, yy, xz, yz, z float64
	for _, p := range ps {
		d := p.Sub(mean)
		s := d.Dot(d)
		xx, xy, yy = xx+d.X*d.X, xy+d.X*d.Y, yy+d.Y*d.Y
		xz, yz, z = xz+d.X*s, yz+d.Y*s, z+s
	}
	det := xx*yy - xy*xy
	if !(det > 1e-9*(xx+yy)*(xx+yy)) { // on a straight line
		return Circle{}, false
	}
	off := geom.Pt((xz*yy-yz*xy)/(2*det), (yz*xx-xz*xy)/(2*det))
	return Circle{mean.Add(off), geom.MM(math.Sqrt(z/n + off.Dot(off)))}, true
}
