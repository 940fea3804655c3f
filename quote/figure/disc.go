package figure

import (
	"math"
	"slices"

	"benchbell/quote/geom"
)

// A round thing that is carried, a shield, is cut as sectors and drawn assembled: equal sectors tile the circle about its
// middle, single pieces lie in the middle, equal narrow ones stand around it like spokes.

const (
	cornerDegrees = 20.0 // an outline that turns by more at a point has a corner there
	offCircle     = .02  // of the radius: how far points of an arc may lie off the circle
	leastArc      = .2   // of the outline: anything less is a rounded corner
	tiling        = .12  // how much equal sectors may fall short of the full turn, as a share of it
	spokeAt       = .62  // of the radius: where the middle of a spoke lies; chosen by eye
)

// arc is the circle that part of an outline follows.
type arc struct {
	centre geom.Point
	radius float64
	span   float64 // radians
	middle float64 // direction from the centre to the arc's middle
}

// arcOf finds the longest smooth run of an outline and the circle through it.
func arcOf(r geom.Ring) (arc, bool) {
	n := len(r)
	if n < 8 {
		return arc{}, false
	}
	corner := make([]bool, n)
	first := -1
	for i := range r {
		a, b := r[i].Sub(r[(i+n-1)%n]), r[(i+1)%n].Sub(r[i])
		corner[i] = math.Abs(math.Atan2(a.Cross(b), a.Dot(b)))*180/math.Pi > cornerDegrees
		if corner[i] && first < 0 {
			first = i
		}
	}
	if first < 0 {
		return arc{}, false // a full circle has no sectors
	}
	var best, run geom.Path
	for k := 0; k <= n; k++ {
		i := (first + k) % n
		run = append(run, r[i])
		if k > 0 && corner[i] {
			if bulged(run) && run.Length() > best.Length() {
				best = run
			}
			run = geom.Path{r[i]}
		}
	}
	if len(best) < 6 || float64(best.Length()) < leastArc*float64(r.Perimeter()) {
		return arc{}, false
	}
	a, b, c := best[0], best[len(best)/2], best[len(best)-1]
	o, ok := circumcentre(a, b, c)
	if !ok {
		return arc{}, false
	}
	out := arc{centre: o, radius: o.Dist(a)}
	for _, p := range best {
		if math.Abs(o.Dist(p)-out.radius) > offCircle*out.radius {
			return arc{}, false
		}
	}
	out.span = float64(best.Length()) / out.radius
	m, _ := best.At(best.Length() / 2)
	out.middle = math.Atan2(m.Y-o.Y, m.X-o.X)
	return out, out.span > .3
}

// bulged reports whether a run has points between its corners and is not straight.
func bulged(p geom.Path) bool {
	return len(p) > 5 && float64(p.Length()) > 1.005*p[0].Dist(p[len(p)-1])
}

func circumcentre(a, b, c geom.Point) (geom.Point, bool) {
	u, v := b.Sub(a), c.Sub(a)
	d := 2 * u.Cross(v)
	if math.Abs(d) < 1e-6 {
		return geom.Point{}, false
	}
	uu, vv := u.Dot(u), v.Dot(v)
	return a.Add(geom.Pt((v.Y*uu-u.Y*vv)/d, (u.X*vv-v.X*uu)/d)), true
}

// laid is a carried piece in place: turned about one of its points, which is put at an offset from the middle of the whole.
type laid struct {
	Worn
	about, at geom.Point
	turn      float64 // radians
}

func (l laid) place(p geom.Point) geom.Point {
	sin, cos := math.Sincos(l.turn)
	q := p.Sub(l.about)
	return geom.Pt(q.X*cos-q.Y*sin, q.X*sin+q.Y*cos).Add(l.at)
}

// disc lays out a round thing; it returns false if the pieces do not form one.
func disc(pieces []Worn) (out []laid, radius float64, ok bool) {
	groups := equal(pieces)
	arcs := make([]arc, len(groups))
	for i, g := range groups {
		a, found := arcOf(g[0].Shape.Outer)
		if turn := a.span * float64(len(g)) / (2 * math.Pi); found && len(g) > 1 && math.Abs(turn-1) <= tiling {
			arcs[i] = a
			radius = math.Max(radius, a.radius)
		}
	}
	if radius == 0 {
		return nil, 0, false
	}
	for i, g := range groups {
		step := 2 * math.Pi / float64(len(g))
		b := g[0].Shape.Bounds()
		size := math.Hypot(float64(b.Width()), float64(b.Height()))
		for k, w := range g {
			l := laid{Worn: w, about: w.Shape.Bounds().Centre()}
			switch a, found := arcOf(w.Shape.Outer); {
			case arcs[i].radius > 0 && found:
				l.about, l.turn = a.centre, math.Pi/2-a.middle+step*float64(k)
			case len(g) == 1 && size <= 2*radius:
			case len(g) > 2 && size < radius:
				l.turn = step * (float64(k) + .5)
				sin, cos := math.Sincos(l.turn)
				l.at = geom.Pt(-sin, cos).Mul(spokeAt * radius)
			default:
				continue // bent around the rim, or at the back
			}
			out = append(out, l)
		}
	}
	return out, radius, true
}

// equal groups the copies of one piece: same layer, area and outline length, mirror images included.
func equal(pieces []Worn) (out [][]Worn) {
	const slack = 1e-6
	same := func(a, b Worn) bool {
		p, q := float64(a.Shape.Outer.Perimeter()), float64(b.Shape.Outer.Perimeter())
		s, t := float64(a.Shape.Outer.Area()), float64(b.Shape.Outer.Area())
		return a.Layer == b.Layer && math.Abs(p-q) <= slack*p && math.Abs(s-t) <= slack*s
	}
	for _, w := range pieces {
		i := slices.IndexFunc(out, func(g []Worn) bool { return same(g[0], w) })
		if i < 0 {
			out = append(out, []Worn{w})
		} else {
			out[i] = append(out[i], w)
		}
	}
	return out
}
