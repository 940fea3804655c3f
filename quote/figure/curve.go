package figure

import (
	"math"

	"benchbell/quote/geom"
)

// curve is a smooth function through knots that never overshoots between them: piecewise cubic with the slopes of Fritsch
// and Butland (SIAM J. Sci. Stat. Comput. 5, 1984). Outside the knots it keeps the end values.
type curve struct{ x, y, slope []float64 }

// newCurve takes the knots as x, y, x, y …, with x rising.
func newCurve(xy ...float64) curve {
	var c curve
	for i := 0; i+1 < len(xy); i += 2 {
		c.x, c.y = append(c.x, xy[i]), append(c.y, xy[i+1])
	}
	n := len(c.x)
	c.slope = make([]float64, n)
	for i := 1; i+1 < n; i++ {
		h0, h1 := c.x[i]-c.x[i-1], c.x[i+1]-c.x[i]
		d0, d1 := (c.y[i]-c.y[i-1])/h0, (c.y[i+1]-c.y[i])/h1
		if d0*d1 > 0 {
			w0, w1 := 2*h1+h0, h1+2*h0
			c.slope[i] = (w0 + w1) / (w0/d0 + w1/d1)
		}
	}
	if n > 1 { // straight at the ends
		c.slope[0] = (c.y[1] - c.y[0]) / (c.x[1] - c.x[0])
		c.slope[n-1] = (c.y[n-1] - c.y[n-2]) / (c.x[n-1] - c.x[n-2])
	}
	return c
}

func (c curve) at(x float64) float64 {
	n := len(c.x)
	switch {
	case n == 0:
		return 0
	case !(x > c.x[0]):
		return c.y[0]
	case x >= c.x[n-1]:
		return c.y[n-1]
	}
	i := 1
	for c.x[i] < x {
		i++
	}
	h := c.x[i] - c.x[i-1]
	t := (x - c.x[i-1]) / h
	u := 1 - t
	return c.y[i-1]*(1+2*t)*u*u + c.y[i]*(1+2*u)*t*t + h*t*u*(c.slope[i-1]*u-c.slope[i]*t)
}

// smoothSteps is how many straight segments approximate a curve between two points.
const smoothSteps = 8

// smooth is a curve through the points of a path: Catmull and Rom's spline (Computer Aided Geometric Design, 1974).
func smooth(p geom.Path) geom.Path {
	if len(p) < 3 {
		return p
	}
	end := func(i int) geom.Point { return p[max(0, min(len(p)-1, i))] }
	var out geom.Path
	for i := 0; i+1 < len(p); i++ {
		out = append(out, span(end(i-1), p[i], p[i+1], end(i+2))...)
	}
	return append(out, p[len(p)-1])
}

// smoothRing is smooth for a closed ring.
func smoothRing(r geom.Ring) geom.Ring {
	n := len(r)
	if n < 3 {
		return r
	}
	var out geom.Ring
	for i := range r {
		out = append(out, span(r[(i+n-1)%n], r[i], r[(i+1)%n], r[(i+2)%n])...)
	}
	return out
}

func span(a, b, c, d geom.Point) []geom.Point {
	out := make([]geom.Point, smoothSteps)
	for k := range out {
		t := float64(k) / smoothSteps
		v, w := c.Sub(a).Mul(.5), d.Sub(b).Mul(.5)
		h := b.Mul(2).Sub(c.Mul(2)).Add(v).Add(w)
		g := c.Mul(3).Sub(b.Mul(3)).Sub(v.Mul(2)).Sub(w)
		out[k] = b.Add(v.Mul(t)).Add(g.Mul(t * t)).Add(h.Mul(t * t * t))
	}
	return out
}

// halfWidth is that of an ellipse of the given circumference whose width is aspect times its depth. Perimeter by
// Ramanujan's first approximation (1914).
func halfWidth(girth, aspect float64) float64 {
	k := 1 / aspect
	return girth / (math.Pi * (3*(1+k) - math.Sqrt((3+k)*(1+3*k))))
}
