package draw

import (
	"math"

	"benchbell/quote/geom"
)

// maxSide bounds a scene's width and height at ten metres.
const maxSide geom.MM = 10000

// Size is the scene's size, limited to what can be painted: from a millimetre to ten metres, whatever the fields say.
func (s *Scene) Size() (w, h geom.MM) { return side(s.Width), side(s.Height) }

func side(l geom.MM) geom.MM {
	if !(l >= 1) {
		return 1
	}
	return min(l, maxSide)
}

// farthest bounds the coordinates, text sizes and stroke widths that are painted: rasterizers count in fixed point and walk
// along every line, even where nobody sees it.
const farthest = 2 * float64(maxSide)

// Paintable reports whether the figure's coordinates are sensible throughout and numerous enough; painters skip other
// figures.
func (f Figure) Paintable() bool {
	switch {
	case f.Text != nil:
		t := f.Text
		return near([]geom.Point{t.At}) && t.Size > 0 && float64(t.Size) <= farthest && finite(t.Turn) && t.Value != "" && t.Color < None
	case f.Shape != nil:
		if len(f.Shape.Outer) < 3 {
			return false
		}
		for _, h := range f.Shape.Holes {
			if !near(h) {
				return false
			}
		}
		return near(f.Shape.Outer)
	}
	return len(f.Path) > 1 && near(f.Path)
}

// Stroked reports whether the style draws a line.
func (s Style) Stroked() bool { return s.Stroke < None && s.Width > 0 && float64(s.Width) <= farthest }

// maxDashes bounds the dashes of one figure: a line with more is drawn solid, which is how it would look anyway.
const maxDashes = 10000

// Dashes are the figure's dash lengths if they make a pattern (all finite, none negative, some positive, not too fine for
// the figure's length); otherwise none.
func (f Figure) Dashes() []geom.MM {
	if len(f.Style.Dash) == 0 {
		return nil
	}
	var sum, length geom.MM
	for _, d := range f.Style.Dash {
		if !finite(float64(d)) || d < 0 {
			return nil
		}
		sum += d
	}
	if f.Shape != nil {
		length = f.Shape.CutLength()
	} else {
		length = f.Path.Length()
	}
	if !(sum*maxDashes > length*geom.MM(len(f.Style.Dash))) {
		return nil
	}
	return f.Style.Dash
}

// Lines are the hatch's lines; none if the style has no visible hatch.
func (f Figure) Lines() []Segment {
	h := f.Style.Hatch
	if f.Shape == nil || h == nil || h.Color >= None || !(h.Width > 0) || float64(h.Width) > farthest {
		return nil
	}
	return hatchLines(*f.Shape, *h)
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

func near(ps []geom.Point) bool {
	for _, p := range ps {
		if !(math.Abs(p.X) <= farthest && math.Abs(p.Y) <= farthest) {
			return false
		}
	}
	return true
}
