package figure

import (
	"math"

	"benchbell/quote/geom"
)

// surface is what a flat piece is bent around: a stretch of a tube, treated as round. A point of the piece is turned about
// the tube by the angle that its distance across takes up, and moved along it by its distance up; above the equator of a
// dome, the distance up is bent as well.
type surface struct {
	tube  *tube
	mid   float64 // place of the piece's middle along the tube
	out   float64 // distance of the piece's face from the body, mm
	turn  float64 // radians: the direction of the piece's middle, 0 the front, positive to the picture's right
	slim  float64 // visible share of the along distance: a foot points at the viewer
	least float64 // half width below which the body under it is not narrowed: a chest plate spans the neck
	// equator of a dome with its radius; 0: none.
	equator, radius float64
}

// lean makes level edges bulge downwards on the near side, as seen from slightly above, in shares of the half width: this
// makes a ring look like one.
const lean = .09

// domeEnd keeps the pole of a dome from covering all directions at once.
const domeEnd = 1.5 // radians

// bent is a point of a piece on its surface: v up from the piece's middle, u the direction it faces.
type bent struct{ u, v float64 }

// along is the place along the tube, and the share of its width left there.
func (f *surface) along(v float64) (s, share float64) {
	s = f.mid - v*f.slim
	if f.radius == 0 || s >= f.equator {
		return s, 1
	}
	r := f.radius + f.out
	a := math.Min(domeEnd, (f.equator-s)/r)
	return f.equator - r*math.Sin(a), math.Cos(a)
}

// bend finds the place of a point of the piece, given relative to its middle.
func (f *surface) bend(p geom.Point) bent {
	s, share := f.along(p.Y)
	r := (math.Max(f.tube.girth.at(s)/(2*math.Pi), f.least*.9) + f.out) * math.Max(share, .02)
	const most = 3 * math.Pi // a piece that overlaps itself more than this is cut off
	return bent{f.turn + math.Max(-most, math.Min(most, p.X/r)), p.Y}
}

// place is the point on the picture in the front view; y stays up.
func (f *surface) place(b bent) geom.Point {
	s, share := f.along(b.v)
	inside := math.Max(0, math.Min(f.tube.length, s))
	p, n := f.tube.point(inside), f.tube.normal(inside)
	down := geom.Pt(n.Y, -n.X)
	p = p.Add(down.Mul(s - inside)) // straight on past an end
	l, r := f.tube.left.at(s), f.tube.right.at(s)
	half := math.Max((l+r)/2, f.least)
	sin, cos := math.Sincos(b.u)
	w := (half + f.out) * share
	return p.Add(n.Mul((r-l)/2 + w*sin)).Add(down.Mul(lean * w * math.Abs(cos)))
}

// ring bends a closed outline, with points close enough together for the edges to look curved.
func (f *surface) ring(r geom.Ring, middle geom.Point) []bent {
	var out []bent
	for i := range r {
		out = append(out, f.edge(r[i], r[(i+1)%len(r)], middle)...)
	}
	return out
}

// path bends an open line.
func (f *surface) path(p geom.Path, middle geom.Point) []bent {
	var out []bent
	for i := 0; i+1 < len(p); i++ {
		out = append(out, f.edge(p[i], p[i+1], middle)...)
	}
	if len(p) > 0 {
		out = append(out, f.bend(p[len(p)-1].Sub(middle)))
	}
	return out
}

func (f *surface) edge(a, b, middle geom.Point) []bent {
	const every, most = 6.0, 400 // mm; a limit for absurd pieces
	n := 1 + int(math.Min(most, a.Dist(b)/every))
	out := make([]bent, n)
	for i := range out {
		out[i] = f.bend(a.Lerp(b, float64(i)/float64(n)).Sub(middle))
	}
	return out
}

// clip keeps the part of a closed outline that faces between two angles (Sutherland and Hodgman, Comm. ACM 17, 1974).
func clip(r []bent, from, to float64) []bent {
	cut := func(r []bent, in func(bent) bool, edge float64) []bent {
		var out []bent
		for i, b := range r {
			a := r[(i+len(r)-1)%len(r)]
			if in(a) != in(b) {
				out = append(out, bent{edge, a.v + (b.v-a.v)*(edge-a.u)/(b.u-a.u)})
			}
			if in(b) {
				out = append(out, b)
			}
		}
		return out
	}
	r = cut(r, func(b bent) bool { return b.u >= from }, from)
	return cut(r, func(b bent) bool { return b.u <= to }, to)
}

// clipPath keeps the parts of an open line that face between two angles.
func clipPath(p []bent, from, to float64) [][]bent {
	var out [][]bent
	var run []bent
	in := func(b bent) bool { return b.u >= from && b.u <= to }
	for i, b := range p {
		if i > 0 && in(p[i-1]) != in(b) {
			a := p[i-1]
			edge := to
			if math.Min(a.u, b.u) < from {
				edge = from
			}
			run = append(run, bent{edge, a.v + (b.v-a.v)*(edge-a.u)/(b.u-a.u)})
		}
		switch {
		case in(b):
			run = append(run, b)
		case len(run) > 0:
			out, run = append(out, run), nil
		}
	}
	if len(run) > 1 {
		out = append(out, run)
	}
	return out
}
