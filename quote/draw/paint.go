package draw

import (
	"math"

	"benchbell/quote/geom"
)

// maxSide bounds a scene's width and height: ten metres of paper is no picture.
const maxSide geom.MM = 10000

// Size is the scene's size made paintable: at least a millimetre, at most ten metres, whatever the fields say.
func (s *Scene) Size() (w, h geom.MM) { return side(s.Width), side(s.Height) }

func side(l geom.MM) geom.MM {
	if !(l >= 1) {
		return 1
	}
	return min(l, maxSide)
}

// Paintable reports whether the figure has finite coordinates throughout and enough of them; painters skip the others.
func (f Figure) Paintable() bool {
	switch {
	case f.Text != nil:
		t := f.Text
		return t.At.Finite() && finite(float64(t.Size)) && t.Size > 0 && finite(t.Turn) && t.Value != "" && t.Color < None
	case f.Shape != nil:
		if len(f.Shape.Outer) < 3 {
			return false
		}
		for _, h := range f.Shape.Holes {
			if !allFinite(h) {
				return false
			}
		}
		return allFinite(f.Shape.Outer)
	}
	return len(f.Path) > 1 && allFinite(f.Path)
}

// Stroked reports whether the style draws a line.
func (s Style) Stroked() bool { return s.Stroke < None && s.Width > 0 && finite(float64(s.Width)) }

// Dashes are the dash lengths where they make a pattern (all finite, none negative, some positive), else none.
func (s Style) Dashes() []geom.MM {
	var sum geom.MM
	for _, d := range s.Dash {
		if !finite(float64(d)) || d < 0 {
			return nil
		}
		sum += d
	}
	if sum < minDash {
		return nil
	}
	return s.Dash
}

// minDash is the shortest dash pattern: below it a line is drawn solid, it would look solid and cost the earth.
const minDash geom.MM = 0.1

// Lines are the hatch's lines, none where the style has no hatch that shows.
func (f Figure) Lines() []Segment {
	h := f.Style.Hatch
	if f.Shape == nil || h == nil || h.Color >= None || !(h.Width > 0) || !finite(float64(h.Width)) {
		return nil
	}
	return HatchLines(*f.Shape, *h)
}

// RGB are the colour's parts.
func (c Color) RGB() (r, g, b uint8) { return uint8(c >> 16), uint8(c >> 8), uint8(c) }

func finite(f float64) bool { return !math.IsNaN(f) && !math.IsInf(f, 0) }

func allFinite(ps []geom.Point) bool {
	for _, p := range ps {
		if !p.Finite() {
			return false
		}
	}
	return true
}
