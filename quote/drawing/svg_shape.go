package drawing

import (
	"errors"
	"fmt"
	"math"

	"benchbell/quote/geom"
)

// svgShapes trace the elements that are lines.
var svgShapes = map[string]func(*svgNode, svgContext, *pathTrace) error{
	"path":     tracePath,
	"rect":     traceRect,
	"circle":   traceCircle,
	"ellipse":  traceEllipse,
	"line":     traceLine,
	"polyline": func(n *svgNode, _ svgContext, t *pathTrace) error { return tracePoly(n, t, false) },
	"polygon":  func(n *svgNode, _ svgContext, t *pathTrace) error { return tracePoly(n, t, true) },
}

// lengths reads several length attributes, zero if absent, and which of them are present.
func (n *svgNode) lengths(ctx svgContext, names ...string) (v []float64, there []bool, err error) {
	v, there = make([]float64, len(names)), make([]bool, len(names))
	for i, name := range names {
		if v[i], there[i], err = n.measure(name, ctx, lengthAxis[name]); err != nil {
			return nil, nil, err
		}
	}
	return v, there, nil
}

var lengthAxis = map[string]axis{
	"x": along, "x1": along, "x2": along, "cx": along, "rx": along, "width": along,
	"y": across, "y1": across, "y2": across, "cy": across, "ry": across, "height": across, "r": either,
}

func traceLine(n *svgNode, ctx svgContext, t *pathTrace) error {
	v, _, err := n.lengths(ctx, "x1", "y1", "x2", "y2")
	if err != nil {
		return err
	}
	if err := t.moveTo(geom.Pt(v[0], v[1])); err != nil {
		return err
	}
	return t.lineTo(geom.Pt(v[2], v[3]))
}

func tracePoly(n *svgNode, t *pathTrace, closed bool) error {
	s := scanner{s: n.attr("points")}
	for s.spaces(); s.more(); s.separator() {
		p, err := s.point()
		if err != nil {
			return fmt.Errorf("points, character %d: %w", s.i+1, err)
		}
		if !t.drawing {
			err = t.moveTo(p)
		} else {
			err = t.lineTo(p)
		}
		if err != nil {
			return err
		}
	}
	if closed {
		t.close()
	}
	return nil
}

// traceRect draws a rectangle as in SVG 2, 10.2: from the upper left; if only one of rx and ry is given it counts for both,
// and neither exceeds half the side.
func traceRect(n *svgNode, ctx svgContext, t *pathTrace) error {
	v, there, err := n.lengths(ctx, "x", "y", "width", "height", "rx", "ry")
	if err != nil {
		return err
	}
	x, y, w, h, rx, ry := v[0], v[1], v[2], v[3], v[4], v[5]
	if w < 0 || h < 0 || rx < 0 || ry < 0 {
		return errors.New("a width, height or radius is negative; it must be zero or more")
	}
	if w == 0 || h == 0 {
		return nil
	}
	if !there[4] {
		rx = ry
	}
	if !there[5] {
		ry = rx
	}
	rx, ry = min(rx, w/2), min(ry, h/2)
	if rx == 0 || ry == 0 {
		return t.polygon(geom.Pt(x, y), geom.Pt(x+w, y), geom.Pt(x+w, y+h), geom.Pt(x, y+h))
	}
	if err := t.moveTo(geom.Pt(x+rx, y)); err != nil {
		return err
	}
	for i, corner := range []struct{ from, centre geom.Point }{
		{geom.Pt(x+w-rx, y), geom.Pt(x+w-rx, y+ry)},
		{geom.Pt(x+w, y+h-ry), geom.Pt(x+w-rx, y+h-ry)},
		{geom.Pt(x+rx, y+h), geom.Pt(x+rx, y+h-ry)},
		{geom.Pt(x, y+ry), geom.Pt(x+rx, y+ry)},
	} {
		if err := t.lineTo(corner.from); err != nil {
			return err
		}
		if err := t.arcTo(axisEllipse(corner.centre, rx, ry, 0), float64(i-1)*math.Pi/2, math.Pi/2); err != nil {
			return err
		}
	}
	t.close()
	return nil
}

func traceCircle(n *svgNode, ctx svgContext, t *pathTrace) error {
	v, _, err := n.lengths(ctx, "cx", "cy", "r")
	if err != nil {
		return err
	}
	return t.ellipse(geom.Pt(v[0], v[1]), v[2], v[2])
}

// traceEllipse: a radius that is missing or auto takes the value of the other (SVG 2, 10.4).
func traceEllipse(n *svgNode, ctx svgContext, t *pathTrace) error {
	v, there, err := n.lengths(ctx, "cx", "cy", "rx", "ry")
	if err != nil {
		return err
	}
	if !there[2] {
		v[2] = v[3]
	}
	if !there[3] {
		v[3] = v[2]
	}
	return t.ellipse(geom.Pt(v[0], v[1]), v[2], v[3])
}
