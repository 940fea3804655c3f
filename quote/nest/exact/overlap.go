package exact

import (
	"slices"

	"benchbell/quote/geom"
)

// Outline is a shape prepared for queries: its rings run with the inside to their left.
type Outline struct {
	rings []ring
	box   geom.Box
}

type ring struct {
	pts []geom.Point
	box geom.Box
}

// NewOutline prepares a shape. Repeated points are dropped.
func NewOutline(s geom.Shape) Outline {
	o := Outline{box: geom.EmptyBox()}
	for i, r := range append([]geom.Ring{s.Outer}, s.Holes...) {
		var pts []geom.Point
		for _, p := range r {
			if len(pts) == 0 || pts[len(pts)-1] != p {
				pts = append(pts, p)
			}
		}
		for len(pts) > 1 && pts[0] == pts[len(pts)-1] {
			pts = pts[:len(pts)-1]
		}
		if len(pts) < 3 {
			continue
		}
		if leftTurning(pts) != (i == 0) {
			slices.Reverse(pts)
		}
		o.rings = append(o.rings, ring{pts, geom.Ring(pts).Bounds()})
		o.box = o.box.Union(geom.Ring(pts).Bounds())
	}
	return o
}

// leftTurning reports whether a ring runs counter-clockwise, judged by the turn at its lowest leftmost corner.
func leftTurning(pts []geom.Point) bool {
	n, at := len(pts), 0
	for i, p := range pts {
		if p.X < pts[at].X || p.X == pts[at].X && p.Y < pts[at].Y {
			at = i
		}
	}
	return orient(pts[(at+n-1)%n], pts[at], pts[(at+1)%n]) >= 0
}

// Box is the box around the outline.
func (o Outline) Box() geom.Box { return o.box }

// Overlap reports whether the insides of two shapes have a point in common.
//
// Insides meet if two edges cross, if the angles overlap where a corner of one lies on the other's border, or if a ring
// that the other's border does not touch lies inside the other. All three tests use only orient, on the coordinates given.
func Overlap(a, b Outline) bool {
	if !a.box.Overlaps(b.box) {
		return false
	}
	touchA, touchB := make([]bool, len(a.rings)), make([]bool, len(b.rings))
	for i, r := range a.rings {
		for j, s := range b.rings {
			over, touch := ringsMeet(r, s)
			if over {
				return true
			}
			touchA[i] = touchA[i] || touch
			touchB[j] = touchB[j] || touch
		}
	}
	for i, r := range a.rings {
		if !touchA[i] && b.holds(r.pts[0]) {
			return true
		}
	}
	for j, s := range b.rings {
		if !touchB[j] && a.holds(s.pts[0]) {
			return true
		}
	}
	return false
}

// ringsMeet reports whether two borders cross or overlap at a corner, and whether they touch at all.
func ringsMeet(r, s ring) (over, touch bool) {
	if !closed(r.box, s.box) {
		return false, false
	}
	n, m := len(r.pts), len(s.pts)
	var near []int
	for j := range m {
		if closed(edgeBox(s.pts[j], s.pts[(j+1)%m]), r.box) {
			near = append(near, j)
		}
	}
	for i := range n {
		a, b := r.pts[i], r.pts[(i+1)%n]
		eb := edgeBox(a, b)
		if !closed(eb, s.box) {
			continue
		}
		for _, j := range near {
			c, d := s.pts[j], s.pts[(j+1)%m]
			if !closed(eb, edgeBox(c, d)) {
				continue
			}
			oc, od := orient(a, b, c), orient(a, b, d)
			if oc*od > 0 {
				continue
			}
			oa, ob := orient(c, d, a), orient(c, d, b)
			if oa*ob > 0 {
				continue
			}
			if oc*od < 0 && oa*ob < 0 {
				return true, true
			}
			// Each corner is examined as the start of its edge: the other end belongs to the next edge.
			if oa == 0 && (a == c || between(c, d, a)) {
				touch = true
				if r.at(i).overlaps(s.along(j, a)) {
					return true, true
				}
			}
			if oc == 0 && between(a, b, c) {
				touch = true
				if s.at(j).overlaps(r.along(i, c)) {
					return true, true
				}
			}
		}
	}
	return false, touch
}

// at is the ring's inside at its corner i.
func (r ring) at(i int) sector {
	n := len(r.pts)
	return sector{r.pts[i], r.pts[(i+1)%n], r.pts[(i+n-1)%n]}
}

// along is the ring's inside at a point of its edge j: that of the corner if the point is the start of the edge.
func (r ring) along(j int, p geom.Point) sector {
	if r.pts[j] == p {
		return r.at(j)
	}
	return sector{p, r.pts[(j+1)%len(r.pts)], r.pts[j]}
}

// holds reports whether p, known not to lie on the border, lies inside.
func (o Outline) holds(p geom.Point) bool {
	if !o.box.Contains(p) {
		return false
	}
	in := false
	for _, r := range o.rings {
		n := len(r.pts)
		for i := range n {
			a, b := r.pts[i], r.pts[(i+1)%n]
			if (a.Y > p.Y) == (b.Y > p.Y) {
				continue
			}
			if up := b.Y > a.Y; up == (orient(a, b, p) > 0) {
				in = !in
			}
		}
	}
	return in
}

func edgeBox(a, b geom.Point) geom.Box { return geom.EmptyBox().Extend(a).Extend(b) }

// closed reports whether two boxes share a point, borders included.
func closed(a, b geom.Box) bool {
	return a.Min.X <= b.Max.X && b.Min.X <= a.Max.X && a.Min.Y <= b.Max.Y && b.Min.Y <= a.Max.Y
}
