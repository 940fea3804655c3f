package drawing

import (
	"errors"

	"benchbell/quote/geom"
)

// sameSpot is how far apart two points of a line can be and still be one: a ten-thousandth of a millimetre is what an
// editor's rounding leaves between an outline's ends, and far less than any tool can follow.
const sameSpot = 1e-4

// pathTrace turns drawing commands in user units into subpaths in millimetres. Every point is checked before it is made, so
// that curves stay within the steps that flattening needs inside maxExtent.
type pathTrace struct {
	m        affine
	left     int // points that may still be made
	subpaths []subpath
	empty    int // subpaths drawn without length
	flat     int // closed subpaths of two points

	drawing bool // a subpath has been started
	line    geom.Path
	moved   bool // something was drawn since moveTo
}

// subpath is one line of a path.
type subpath struct {
	points geom.Path
	closed bool
	circle *Circle
}

// charge takes n points from what is left.
func (t *pathTrace) charge(n int) error {
	if t.left -= n; t.left < 0 {
		return errTooManyPoints
	}
	return nil
}

func (t *pathTrace) moveTo(p geom.Point) error {
	t.finish(false)
	at := t.m.apply(p)
	if err := withinExtent(at); err != nil {
		return err
	}
	t.drawing, t.moved = true, false
	t.line = append(make(geom.Path, 0, 4), at)
	return t.charge(1)
}

func (t *pathTrace) lineTo(p geom.Point) error {
	at := t.m.apply(p)
	if err := withinExtent(at); err != nil {
		return err
	}
	t.moved = true
	t.line = append(t.line, at)
	return t.charge(1)
}

func (t *pathTrace) cubicTo(p1, p2, p3 geom.Point) error {
	c := [3]geom.Point{t.m.apply(p1), t.m.apply(p2), t.m.apply(p3)}
	if err := withinExtent(c[:]...); err != nil {
		return err
	}
	t.moved = true
	before := len(t.line)
	t.line = flattenCubic(t.line, t.line[before-1], c[0], c[1], c[2])
	return t.charge(len(t.line) - before)
}

func (t *pathTrace) quadraticTo(p1, p2 geom.Point) error {
	c1, c2 := t.m.apply(p1), t.m.apply(p2)
	if err := withinExtent(c1, c2); err != nil {
		return err
	}
	t.moved = true
	before := len(t.line)
	t.line = flattenQuadratic(t.line, t.line[before-1], c1, c2)
	return t.charge(len(t.line) - before)
}

// arcTo follows an ellipse in user units from the current point. The ellipse may be far larger than maxExtent, as for a
// line that is hardly bent; the arc may not.
func (t *pathTrace) arcTo(e ellipse, start, sweep float64) error {
	e = e.under(t.m)
	t.moved = true
	before := len(t.line)
	t.line = e.flattenArc(t.line, start, sweep)
	if err := withinExtent(t.line[before:]...); err != nil {
		return err
	}
	return t.charge(len(t.line) - before)
}

// ellipse draws a whole ellipse as a subpath of its own; one of zero size is ignored.
func (t *pathTrace) ellipse(centre geom.Point, rx, ry float64) error {
	if rx < 0 || ry < 0 {
		return errors.New("a radius is negative; it must be zero or more")
	}
	e := axisEllipse(centre, rx, ry, 0).under(t.m)
	r := e.reach()
	if err := withinExtent(e.centre.Add(geom.Pt(r, r)), e.centre.Sub(geom.Pt(r, r))); err != nil {
		return err
	}
	if rx == 0 || ry == 0 || r <= sameSpot {
		return nil
	}
	points := e.flatten()
	t.subpaths = append(t.subpaths, subpath{points: points, closed: true, circle: e.circle()})
	return t.charge(len(points))
}

func (t *pathTrace) polygon(points ...geom.Point) error {
	if err := t.moveTo(points[0]); err != nil {
		return err
	}
	for _, p := range points[1:] {
		if err := t.lineTo(p); err != nil {
			return err
		}
	}
	t.close()
	return nil
}

// close ends the subpath where it started.
func (t *pathTrace) close() {
	t.moved = true
	t.finish(true)
}

// done ends the last subpath and counts them all.
func (t *pathTrace) done() int {
	t.finish(false)
	return len(t.subpaths)
}

// finish keeps the subpath: repeated points are dropped, it is closed if its ends meet, and ignored if it has no length. A
// lone moveTo draws nothing and is not noted.
func (t *pathTrace) finish(closed bool) {
	if !t.drawing {
		return
	}
	t.drawing = false
	if !t.moved {
		return
	}
	kept := t.line[:1]
	for _, p := range t.line[1:] {
		if p.Dist(kept[len(kept)-1]) > sameSpot {
			kept = append(kept, p)
		}
	}
	for len(kept) > 2 && kept[0].Dist(kept[len(kept)-1]) <= sameSpot {
		kept, closed = kept[:len(kept)-1], true
	}
	switch {
	case len(kept) < 2:
		t.empty++
		return
	case len(kept) == 2 && closed:
		closed = false
		t.flat++
	}
	t.subpaths = append(t.subpaths, subpath{points: kept, closed: closed})
}

// endAt puts the computed end of an arc where the file says it is.
func (t *pathTrace) endAt(p geom.Point) error {
	at := t.m.apply(p)
	t.line[len(t.line)-1] = at
	return withinExtent(at)
}
