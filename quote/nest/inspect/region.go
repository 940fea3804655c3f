package inspect

import (
	"cmp"
	"math"
	"math/cmplx"
	"slices"

	"benchbell/quote/geom"
)

// ring is a closed line of points as complex numbers: x and iy.
type ring []complex128

// area by the trapezoids under the edges, from the ring's first point, without sign.
func (r ring) area() float64 {
	var sum float64
	for k, b := range r {
		a := r[(k+len(r)-1)%len(r)]
		sum += (real(b) - real(a)) * (imag(a) + imag(b) - 2*imag(r[0]))
	}
	return math.Abs(sum) / 2
}

// region is what a ring encloses, less the rings after the first.
type region struct {
	rings  []ring
	lo, hi complex128 // corners of its box
}

// lay is a shape where a placement puts it: mirrored in the y axis, turned about the origin, moved.
func lay(at geom.Placement, s geom.Shape) region {
	turn := cmplx.Rect(1, at.Turn*math.Pi/180)
	move := complex(at.Move.X, at.Move.Y)
	g := region{lo: complex(math.Inf(1), math.Inf(1)), hi: complex(math.Inf(-1), math.Inf(-1))}
	for k, points := range append([]geom.Ring{s.Outer}, s.Holes...) {
		r := make(ring, len(points))
		for i, p := range points {
			z := complex(p.X, p.Y)
			if at.Mirrored {
				z = -cmplx.Conj(z)
			}
			r[i] = z*turn + move
			if k == 0 {
				g.lo = complex(min(real(g.lo), real(r[i])), min(imag(g.lo), imag(r[i])))
				g.hi = complex(max(real(g.hi), real(r[i])), max(imag(g.hi), imag(r[i])))
			}
		}
		g.rings = append(g.rings, r)
	}
	return g
}

// finite reports whether the region has points and all of them a place.
func (g region) finite() bool {
	for _, r := range g.rings {
		for _, z := range r {
			if cmplx.IsNaN(z) || cmplx.IsInf(z) {
				return false
			}
		}
	}
	return len(g.rings[0]) > 0
}

// off is by how much a shape's points are farther from the region's than they may be: the largest distance of a point to the
// one in its place. A ring that runs the other way begins at the same point.
func (g region) off(s geom.Shape) float64 {
	var d float64
	for k, points := range append([]geom.Ring{s.Outer}, s.Holes...) {
		r := g.rings[k]
		if len(points) != len(r) {
			return math.Inf(1)
		}
		var same, other float64
		for i, p := range points {
			z := complex(p.X, p.Y)
			same = max(same, cmplx.Abs(z-r[i]))
			other = max(other, cmplx.Abs(z-r[(len(r)-i)%len(r)]))
		}
		d = max(d, min(same, other))
	}
	return d
}

// near reports whether the boxes of two regions are within d of each other.
func (g region) near(o region, d float64) bool {
	d += tolerance
	return real(g.lo) <= real(o.hi)+d && real(o.lo) <= real(g.hi)+d && imag(g.lo) <= imag(o.hi)+d && imag(o.lo) <= imag(g.hi)+d
}

// stretch is a piece of a level, from one x to another.
type stretch struct{ from, to float64 }

// cuts is where a level crosses a ring, from left to right: by twos it goes in and out.
func (r ring) cuts(y float64, out []float64) []float64 {
	out = out[:0]
	for k, b := range r {
		a := r[(k+len(r)-1)%len(r)]
		if (imag(a) > y) != (imag(b) > y) {
			out = append(out, real(a)+(y-imag(a))/(imag(b)-imag(a))*(real(b)-real(a)))
		}
	}
	slices.Sort(out)
	return out
}

// level is the stretches of a level inside the region.
func (g region) level(y float64) []stretch {
	var in []stretch
	var xs []float64
	for k, r := range g.rings {
		xs = r.cuts(y, xs)
		var cut []stretch
		for i := 0; i+1 < len(xs); i += 2 {
			cut = append(cut, stretch{xs[i], xs[i+1]})
		}
		if k == 0 {
			in = cut
		} else if len(cut) > 0 {
			in = without(in, cut)
		}
	}
	return in
}

// without is what stretches have outside of others; both are in order.
func without(list, others []stretch) []stretch {
	var out []stretch
	for _, s := range list {
		for _, o := range others {
			if o.to <= s.from || o.from >= s.to {
				continue
			}
			if o.from > s.from {
				out = append(out, stretch{s.from, o.from})
			}
			s.from = o.to
		}
		if s.from < s.to {
			out = append(out, s)
		}
	}
	return out
}

// both is what stretches have in common; both are in order.
func both(list, others []stretch) []stretch {
	var out []stretch
	for _, s := range list {
		for _, o := range others {
			if from, to := max(s.from, o.from), min(s.to, o.to); from < to {
				out = append(out, stretch{from, to})
			}
		}
	}
	return out
}

// levels is one level in the middle of each band in which neither region has a corner nor do their edges cross: what the
// regions have of such a band they have at its middle.
func levels(g, o region, from, to float64) []float64 {
	ys := []float64{from, to}
	add := func(y float64) {
		if y > from && y < to {
			ys = append(ys, y)
		}
	}
	for _, x := range []region{g, o} {
		for _, r := range x.rings {
			for _, z := range r {
				add(imag(z))
			}
		}
	}
	each(g, o, 0, func(a, b, c, d complex128) {
		u, v := b-a, d-c
		if turn := cross(u, v); turn != 0 {
			if t := cross(c-a, v) / turn; t >= 0 && t <= 1 {
				add(imag(a) + t*imag(u))
			}
		}
	})
	slices.Sort(ys)
	var out []float64
	for k := 1; k < len(ys); k++ {
		if ys[k] > ys[k-1] {
			out = append(out, ys[k-1]+(ys[k]-ys[k-1])/2)
		}
	}
	return out
}

// meets finds a point well within both regions, where they overlap by more than tolerance.
func (g region) meets(o region) (complex128, bool) {
	if from, to := max(real(g.lo), real(o.lo)), min(real(g.hi), real(o.hi)); to-from <= tolerance {
		return 0, false
	}
	from, to := max(imag(g.lo), imag(o.lo)), min(imag(g.hi), imag(o.hi))
	if to-from <= tolerance {
		return 0, false
	}
	return g.deep(o, levels(g, o, from, to), both)
}

// leaves finds a point well within the region and outside of the other, where it reaches out by more than tolerance.
func (g region) leaves(o region) (complex128, bool) {
	return g.deep(o, levels(g, o, imag(g.lo), imag(g.hi)), without)
}

// deep finds a point on one of the levels, in the middle of what a rule leaves there, that is clear of both borders.
func (g region) deep(o region, ys []float64, rule func(a, b []stretch) []stretch) (complex128, bool) {
	for _, y := range ys {
		for _, s := range rule(g.level(y), o.level(y)) {
			if s.to-s.from <= tolerance {
				continue
			}
			if z := complex(s.from+(s.to-s.from)/2, y); g.border(z) > tolerance/2 && o.border(z) > tolerance/2 {
				return z, true
			}
		}
	}
	return 0, false
}

// border is how far a point is from a region's border.
func (g region) border(z complex128) float64 {
	d := math.Inf(1)
	for _, r := range g.rings {
		for k, b := range r {
			d = min(d, toEdge(z, r[(k+len(r)-1)%len(r)], b))
		}
	}
	return d
}

// distance is how far two borders that do not cross are apart, or something no less than most where it is no less: one of two
// such edges is nearest to the other with one of its ends.
func (g region) distance(o region, most float64) float64 {
	d := math.Inf(1)
	each(g, o, most, func(a, b, c, e complex128) {
		d = min(d, toEdge(a, c, e), toEdge(b, c, e), toEdge(c, a, b), toEdge(e, a, b))
	})
	return d
}

// toEdge is how far z is from the edge from a to b.
func toEdge(z, a, b complex128) float64 {
	u, v := b-a, z-a
	l := real(u)*real(u) + imag(u)*imag(u)
	t := 0.0
	if l > 0 {
		t = min(1, max(0, (real(u)*real(v)+imag(u)*imag(v))/l))
	}
	return math.Hypot(real(v)-t*real(u), imag(v)-t*imag(u))
}

func cross(u, v complex128) float64 { return real(u)*imag(v) - imag(u)*real(v) }

// each calls f with every edge of one region and every edge of the other whose boxes are within d of each other.
func each(g, o region, d float64, f func(a, b, c, e complex128)) {
	d += tolerance
	type edge struct{ a, b, lo, hi complex128 }
	edges := func(x, near region) []edge {
		var out []edge
		for _, r := range x.rings {
			for k, b := range r {
				a := r[(k+len(r)-1)%len(r)]
				e := edge{a, b, complex(min(real(a), real(b)), min(imag(a), imag(b))), complex(max(real(a), real(b)), max(imag(a), imag(b)))}
				if real(e.lo) <= real(near.hi)+d && real(near.lo) <= real(e.hi)+d && imag(e.lo) <= imag(near.hi)+d && imag(near.lo) <= imag(e.hi)+d {
					out = append(out, e)
				}
			}
		}
		slices.SortFunc(out, func(p, q edge) int { return cmp.Compare(real(p.lo), real(q.lo)) })
		return out
	}
	others := edges(o, g)
	for _, e := range edges(g, o) {
		for _, x := range others {
			if real(x.lo) > real(e.hi)+d {
				break
			}
			if real(e.lo) <= real(x.hi)+d && imag(e.lo) <= imag(x.hi)+d && imag(x.lo) <= imag(e.hi)+d {
				f(e.a, e.b, x.a, x.b)
			}
		}
	}
}
