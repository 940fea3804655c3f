// Package geom is the plane geometry that the rest of Benchbell measures with.
//
// It has types for lengths and areas, points, closed rings, open paths, shapes with holes and rigid placements, and answers
// the few questions a shop asks of them: how long, how large, where, inside or outside, do these two overlap, how far apart
// are they. Coordinates are millimetres with x to the right and y up; a file format whose y runs down is flipped where it
// is read or written, nowhere else.
//
// It refuses nothing and allocates little: callers validate. What always holds: no function depends on map order, the clock
// or the machine, so the same input gives the same floats on one architecture.
package geom

import (
	"fmt"
	"math"
)

// MM is a length in millimetres.
type MM float64

// MM2 is an area in square millimetres.
type MM2 float64

// Inch and Foot in millimetres; exact by the international yard and pound agreement of 1959 (NIST SP 811, app. B).
const (
	Inch MM = 25.4
	Foot MM = 304.8
)

// M2 is the area in square metres.
func (a MM2) M2() float64 { return float64(a) / 1e6 }

// M is the length in metres.
func (l MM) M() float64 { return float64(l) / 1e3 }

// String prints a length the way a cut list does: one decimal, trailing zero dropped.
func (l MM) String() string {
	s := fmt.Sprintf("%.1f", float64(l))
	if len(s) > 2 && s[len(s)-2:] == ".0" {
		s = s[:len(s)-2]
	}
	return s + " mm"
}

// Point is a position or a vector, both coordinates in millimetres.
type Point struct {
	X float64 `json:"x"`
	Y float64 `json:"y"`
}

// Pt makes a Point.
func Pt(x, y float64) Point { return Point{x, y} }

func (p Point) Add(q Point) Point             { return Point{p.X + q.X, p.Y + q.Y} }
func (p Point) Sub(q Point) Point             { return Point{p.X - q.X, p.Y - q.Y} }
func (p Point) Mul(k float64) Point           { return Point{p.X * k, p.Y * k} }
func (p Point) Dot(q Point) float64           { return p.X*q.X + p.Y*q.Y }
func (p Point) Cross(q Point) float64         { return p.X*q.Y - p.Y*q.X }
func (p Point) Norm() float64                 { return math.Hypot(p.X, p.Y) }
func (p Point) Dist(q Point) float64          { return math.Hypot(p.X-q.X, p.Y-q.Y) }
func (p Point) Lerp(q Point, t float64) Point { return Point{p.X + (q.X-p.X)*t, p.Y + (q.Y-p.Y)*t} }

// Perp turns the vector a quarter turn counter-clockwise.
func (p Point) Perp() Point { return Point{-p.Y, p.X} }

// Unit is the vector scaled to length one; the zero vector stays zero.
func (p Point) Unit() Point {
	n := p.Norm()
	if n == 0 {
		return Point{}
	}
	return Point{p.X / n, p.Y / n}
}

// Finite reports whether neither coordinate is NaN or infinite.
func (p Point) Finite() bool {
	return !math.IsNaN(p.X) && !math.IsInf(p.X, 0) && !math.IsNaN(p.Y) && !math.IsInf(p.Y, 0)
}

// Box is an axis-parallel rectangle; the empty box has Min above Max.
type Box struct {
	Min Point `json:"min"`
	Max Point `json:"max"`
}

// EmptyBox is the box that holds no point; Extend grows it.
func EmptyBox() Box {
	return Box{Point{math.Inf(1), math.Inf(1)}, Point{math.Inf(-1), math.Inf(-1)}}
}

func (b Box) Empty() bool   { return b.Min.X > b.Max.X || b.Min.Y > b.Max.Y }
func (b Box) Width() MM     { return MM(b.Max.X - b.Min.X) }
func (b Box) Height() MM    { return MM(b.Max.Y - b.Min.Y) }
func (b Box) Centre() Point { return b.Min.Lerp(b.Max, 0.5) }
func (b Box) Grow(d MM) Box {
	return Box{Point{b.Min.X - float64(d), b.Min.Y - float64(d)}, Point{b.Max.X + float64(d), b.Max.Y + float64(d)}}
}

// Extend is the smallest box that holds b and p.
func (b Box) Extend(p Point) Box {
	return Box{
		Point{math.Min(b.Min.X, p.X), math.Min(b.Min.Y, p.Y)},
		Point{math.Max(b.Max.X, p.X), math.Max(b.Max.Y, p.Y)},
	}
}

// Union is the smallest box that holds both.
func (b Box) Union(c Box) Box {
	if c.Empty() {
		return b
	}
	return b.Extend(c.Min).Extend(c.Max)
}

// Contains reports whether p lies in the box, its border included.
func (b Box) Contains(p Point) bool {
	return p.X >= b.Min.X && p.X <= b.Max.X && p.Y >= b.Min.Y && p.Y <= b.Max.Y
}

// Overlaps reports whether the two boxes share a point.
func (b Box) Overlaps(c Box) bool {
	return b.Min.X <= c.Max.X && c.Min.X <= b.Max.X && b.Min.Y <= c.Max.Y && c.Min.Y <= b.Max.Y
}

// Path is an open polyline.
type Path []Point

// Length of the path.
func (p Path) Length() MM {
	var l float64
	for i := 1; i < len(p); i++ {
		l += p[i].Dist(p[i-1])
	}
	return MM(l)
}

// Bounds of the path.
func (p Path) Bounds() Box { return bounds(p) }

// At is the point at distance d along the path, clamped to its ends, and the unit tangent there.
func (p Path) At(d MM) (Point, Point) {
	if len(p) == 0 {
		return Point{}, Point{}
	}
	if len(p) == 1 {
		return p[0], Point{}
	}
	rest := float64(d)
	for i := 1; i < len(p); i++ {
		s := p[i].Dist(p[i-1])
		if (rest <= s || i == len(p)-1) && s > 0 {
			return p[i-1].Lerp(p[i], math.Max(0, math.Min(1, rest/s))), p[i].Sub(p[i-1]).Unit()
		}
		rest -= s
	}
	return p[len(p)-1], Point{}
}

// Ring is a closed polygon; the last point joins the first and is not repeated.
type Ring []Point

// SignedArea is positive for a counter-clockwise ring.
func (r Ring) SignedArea() MM2 {
	var a float64
	n := len(r)
	if n < 3 {
		return 0
	}
	o := r[0] // differences from a nearby origin keep the cancellation small
	for i := 1; i+1 < n; i++ {
		a += r[i].Sub(o).Cross(r[i+1].Sub(o))
	}
	return MM2(a / 2)
}

// Area is the ring's area without sign.
func (r Ring) Area() MM2 { return MM2(math.Abs(float64(r.SignedArea()))) }

// Perimeter of the ring.
func (r Ring) Perimeter() MM {
	var l float64
	for i := range r {
		l += r[i].Dist(r[(i+1)%len(r)])
	}
	return MM(l)
}

// Bounds of the ring.
func (r Ring) Bounds() Box { return bounds(r) }

// Centroid of the ring's area; the mean of its points if the area is zero.
func (r Ring) Centroid() Point {
	a := float64(r.SignedArea())
	if len(r) == 0 {
		return Point{}
	}
	if math.Abs(a) < 1e-12 {
		var s Point
		for _, p := range r {
			s = s.Add(p)
		}
		return s.Mul(1 / float64(len(r)))
	}
	o := r[0]
	var c Point
	for i := 1; i+1 < len(r); i++ {
		u, v := r[i].Sub(o), r[i+1].Sub(o)
		c = c.Add(u.Add(v).Mul(u.Cross(v)))
	}
	return o.Add(c.Mul(1 / (6 * a)))
}

// Reversed is the ring in the opposite direction, starting at the same point.
func (r Ring) Reversed() Ring {
	out := make(Ring, len(r))
	for i := range r {
		out[i] = r[(len(r)-i)%len(r)]
	}
	return out
}

// CCW is the ring in counter-clockwise direction.
func (r Ring) CCW() Ring {
	if r.SignedArea() < 0 {
		return r.Reversed()
	}
	return append(Ring(nil), r...)
}

// Contains reports whether p lies inside the ring (crossing number; a point on the border may count as either).
func (r Ring) Contains(p Point) bool {
	in := false
	for i, j := 0, len(r)-1; i < len(r); j, i = i, i+1 {
		a, b := r[i], r[j]
		if (a.Y > p.Y) != (b.Y > p.Y) && p.X < (b.X-a.X)*(p.Y-a.Y)/(b.Y-a.Y)+a.X {
			in = !in
		}
	}
	return in
}

// DistanceTo is the distance from p to the ring's border.
func (r Ring) DistanceTo(p Point) MM {
	d := math.Inf(1)
	for i := range r {
		d = math.Min(d, segPoint(r[i], r[(i+1)%len(r)], p))
	}
	return MM(d)
}

// SelfCrossing returns the first two edges (by their start index) that cross or touch without being neighbours, and the
// place; ok is true if there are none. Quadratic with a box filter: rings here have hundreds of points.
func (r Ring) SelfCrossing() (i, j int, at Point, ok bool) {
	n := len(r)
	for i := 0; i < n; i++ {
		a, b := r[i], r[(i+1)%n]
		for j := i + 1; j < n; j++ {
			c, d := r[j], r[(j+1)%n]
			if math.Max(a.X, b.X) < math.Min(c.X, d.X) || math.Max(c.X, d.X) < math.Min(a.X, b.X) ||
				math.Max(a.Y, b.Y) < math.Min(c.Y, d.Y) || math.Max(c.Y, d.Y) < math.Min(a.Y, b.Y) {
				continue
			}
			if j == i+1 || (i == 0 && j == n-1) {
				// Neighbours share a point; they fold back on each other only if they are anti-parallel.
				p, q, s := a, b, d
				if j != i+1 {
					p, q, s = b, a, c
				}
				u, v := p.Sub(q), s.Sub(q)
				if u.Cross(v) == 0 && u.Dot(v) > 0 {
					return i, j, q, false
				}
				continue
			}
			if p, hit := SegmentsMeet(a, b, c, d); hit {
				return i, j, p, false
			}
		}
	}
	return 0, 0, Point{}, true
}

// Shape is a piece of sheet: an outer ring, counter-clockwise, and holes in it.
type Shape struct {
	Outer Ring   `json:"outer"`
	Holes []Ring `json:"holes,omitempty"`
}

// Area of the sheet that remains.
func (s Shape) Area() MM2 {
	a := s.Outer.Area()
	for _, h := range s.Holes {
		a -= h.Area()
	}
	return a
}

// Bounds of the outer ring.
func (s Shape) Bounds() Box { return s.Outer.Bounds() }

// CutLength is the length a blade travels: outline and holes.
func (s Shape) CutLength() MM {
	l := s.Outer.Perimeter()
	for _, h := range s.Holes {
		l += h.Perimeter()
	}
	return l
}

// Contains reports whether p lies on the sheet, in the outline and in no hole.
func (s Shape) Contains(p Point) bool {
	if !s.Outer.Contains(p) {
		return false
	}
	for _, h := range s.Holes {
		if h.Contains(p) {
			return false
		}
	}
	return true
}

// Placement moves a shape rigidly: it is mirrored first (x → −x), then turned counter-clockwise about the origin, then
// moved. The nesting layouts that Benchbell reads and writes use the same convention.
type Placement struct {
	Mirrored bool    `json:"mirrored,omitempty"`
	Turn     float64 `json:"rotation"` // degrees, counter-clockwise
	Move     Point   `json:"move"`
}

// Apply moves one point. Quarter turns are exact.
func (t Placement) Apply(p Point) Point {
	if t.Mirrored {
		p.X = -p.X
	}
	s, c := SinCosDeg(t.Turn)
	return Point{c*p.X - s*p.Y + t.Move.X, s*p.X + c*p.Y + t.Move.Y}
}

// Ring moves a ring; a mirrored ring is reversed so that its direction stays the same.
func (t Placement) Ring(r Ring) Ring {
	out := make(Ring, len(r))
	for i, p := range r {
		out[i] = t.Apply(p)
	}
	if t.Mirrored {
		return out.Reversed()
	}
	return out
}

// Path moves an open path.
func (t Placement) Path(p Path) Path {
	out := make(Path, len(p))
	for i, q := range p {
		out[i] = t.Apply(q)
	}
	return out
}

// Shape moves a shape.
func (t Placement) Shape(s Shape) Shape {
	out := Shape{Outer: t.Ring(s.Outer)}
	for _, h := range s.Holes {
		out.Holes = append(out.Holes, t.Ring(h))
	}
	return out
}

// SinCosDeg is sine and cosine of an angle in degrees, exact at multiples of 90.
func SinCosDeg(deg float64) (sin, cos float64) {
	d := math.Mod(deg, 360)
	if d < 0 {
		d += 360
	}
	switch d {
	case 0:
		return 0, 1
	case 90:
		return 1, 0
	case 180:
		return 0, -1
	case 270:
		return -1, 0
	}
	return math.Sincos(d * math.Pi / 180)
}

// SegmentsMeet reports whether segments ab and cd share a point, and one such point.
func SegmentsMeet(a, b, c, d Point) (Point, bool) {
	r, s := b.Sub(a), d.Sub(c)
	den, ac := r.Cross(s), c.Sub(a)
	if den == 0 {
		if ac.Cross(r) != 0 {
			return Point{}, false
		}
		rr := r.Dot(r)
		if rr == 0 {
			return a, segPoint(c, d, a) == 0
		}
		t0, t1 := ac.Dot(r)/rr, d.Sub(a).Dot(r)/rr
		if t0 > t1 {
			t0, t1 = t1, t0
		}
		if t1 < 0 || t0 > 1 {
			return Point{}, false
		}
		return a.Add(r.Mul(math.Max(0, t0))), true
	}
	t, u := ac.Cross(s)/den, ac.Cross(r)/den
	if t < 0 || t > 1 || u < 0 || u > 1 {
		return Point{}, false
	}
	return a.Add(r.Mul(t)), true
}

// SegmentDistance is the distance between segments ab and cd, zero if they meet.
func SegmentDistance(a, b, c, d Point) MM {
	if _, hit := SegmentsMeet(a, b, c, d); hit {
		return 0
	}
	return MM(math.Min(math.Min(segPoint(a, b, c), segPoint(a, b, d)), math.Min(segPoint(c, d, a), segPoint(c, d, b))))
}

func segPoint(a, b, p Point) float64 {
	ab := b.Sub(a)
	l := ab.Dot(ab)
	if l == 0 {
		return a.Dist(p)
	}
	t := math.Max(0, math.Min(1, p.Sub(a).Dot(ab)/l))
	return a.Add(ab.Mul(t)).Dist(p)
}

func bounds(ps []Point) Box {
	b := EmptyBox()
	for _, p := range ps {
		b = b.Extend(p)
	}
	return b
}
