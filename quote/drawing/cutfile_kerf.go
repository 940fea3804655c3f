package drawing

import (
	"errors"
	"fmt"
	"math"

	"benchbell/quote/geom"
)

// offset moves a closed outline out, or a closed hole in, by half the kerf.
func (l CutLine) offset(kerf geom.MM) (CutLine, error) {
	out := 0.0
	switch l.Layer {
	case Through:
		out = float64(kerf) / 2
	case Inside:
		out = -float64(kerf) / 2
	}
	if out == 0 {
		return l, nil
	}
	if l.Circle != nil {
		c := Circle{l.Circle.Centre, l.Circle.Radius + geom.MM(out)}
		if c.Radius <= 0 {
			return l, fmt.Errorf("a hole of %v is no wider than the kerf of %v; drill or punch it, or leave it out", 2*l.Circle.Radius, kerf)
		}
		l.Circle, l.Points = &c, axisEllipse(c.Centre, float64(c.Radius), float64(c.Radius), 0).flatten()
		l.Closed = true
		return l, nil
	}
	if !l.Closed {
		return l, nil
	}
	ring, err := offsetRing(geom.Ring(l.Points), out)
	if err != nil {
		return l, err
	}
	l.Points = geom.Path(ring)
	return l, nil
}

// joinFlatness is how far a corner of an offset line may be from its true place: a quarter of a curve's flatness.
const joinFlatness = float64(Flatness) / 4

// lostReach is how many offsets the drawn line may be from the moved one. At an inner corner of angle a they are 1/sin(a/2)
// offsets apart: 8 allows corners down to 14° and detects a slot too narrow for the tool.
const lostReach = 8

// offsetRing moves a simple ring out by d, or in by -d: the border of everything within d of it. Outward corners are
// rounded, so that no point is farther than d, apart from joinFlatness.
//
// The raw line of moved edges crosses itself wherever an inner corner or a narrow part swallows an edge. The offset is what
// it encloses with a positive winding number (X. Chen and S. McMains, Polygon offsetting by computing winding numbers,
// 2005); windingBorder finds that border. The result is checked before it is returned.
func offsetRing(r geom.Ring, d float64) (geom.Ring, error) {
	r = withoutDoubles(r)
	if len(r) < 3 {
		return nil, errors.New("it encloses nothing")
	}
	if _, _, at, ok := r.SelfCrossing(); !ok {
		return nil, fmt.Errorf("it crosses itself at (%.1f, %.1f)", at.X, at.Y)
	}
	turned := r.SignedArea() < 0
	r = r.CCW()
	loops, err := windingBorder(rawOffset(r, d))
	if err != nil {
		return nil, err
	}
	switch {
	case len(loops) == 0:
		return nil, fmt.Errorf("a hole no wider than the kerf of %v would vanish; leave it out", geom.MM(2*math.Abs(d)))
	case len(loops) > 1 && d < 0:
		return nil, fmt.Errorf("a hole has a neck no wider than the kerf of %v and would split into %d; widen it", geom.MM(2*math.Abs(d)), len(loops))
	case len(loops) > 1:
		return nil, fmt.Errorf("the outline has a gap no wider than the kerf of %v; widen it", geom.MM(2*math.Abs(d)))
	}
	out := withoutDoubles(loops[0])
	if i, _, at, ok := out.SelfCrossing(); !ok || out.SignedArea() <= 0 {
		return nil, fmt.Errorf("when moved by %v, its edge %d touches another at (%.1f, %.1f); simplify the line there", geom.MM(math.Abs(d)), i, at.X, at.Y)
	}
	reach := lostReach*math.Abs(d) + joinFlatness
	for _, p := range r {
		if float64(out.DistanceTo(p)) > reach {
			return nil, fmt.Errorf("at (%.1f, %.1f) it has a slot or corner too narrow for the kerf of %v; widen it", p.X, p.Y, geom.MM(2*math.Abs(d)))
		}
	}
	if turned {
		out = out.Reversed()
	}
	return out, nil
}

// withoutDoubles is the ring without repeated points.
func withoutDoubles(r geom.Ring) geom.Ring {
	var out geom.Ring
	for _, p := range r {
		if len(out) == 0 || p.Dist(out[len(out)-1]) > samePoint {
			out = append(out, p)
		}
	}
	for len(out) > 1 && out[0].Dist(out[len(out)-1]) <= samePoint {
		out = out[:len(out)-1]
	}
	return out
}

// rawOffset is the moved edges of a counter-clockwise ring, joined.
func rawOffset(r geom.Ring, d float64) geom.Ring {
	var out geom.Ring
	n := len(r)
	for i, p := range r {
		before, after := p.Sub(r[(i+n-1)%n]), r[(i+1)%n].Sub(p)
		u, v := before.Unit(), after.Unit()
		a, b := u.Perp().Mul(-d), v.Perp().Mul(-d)
		turn := math.Atan2(u.Cross(v), u.Dot(v))
		half := math.Cos(turn / 2)
		mitre := a.Add(b).Mul(1 / (2 * half * half)) // a and b have length d, their sum 2d·cos(turn/2)
		switch {
		case turn*d >= 0 && math.Abs(d)*(1/half-1) <= joinFlatness:
			out = append(out, p.Add(mitre))
		case turn*d > 0:
			step := 2 * math.Acos(1-math.Min(1, joinFlatness/math.Abs(d)))
			k := max(1, int(math.Ceil(math.Abs(turn)/step)))
			for j := range k + 1 {
				sin, cos := math.Sincos(turn * float64(j) / float64(k))
				out = append(out, p.Add(geom.Pt(a.X*cos-a.Y*sin, a.X*sin+a.Y*cos)))
			}
		case math.Abs(d*math.Tan(turn/2)) < math.Min(before.Norm(), after.Norm())/2:
			out = append(out, p.Add(mitre)) // an inner corner whose edges are long enough to be shortened
		default:
			out = append(out, p.Add(a), p, p.Add(b)) // edges that may vanish: going through p winds the lost part backwards
		}
	}
	return out
}
