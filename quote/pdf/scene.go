package pdf

import (
	"math"

	"benchbell/quote/draw"
	"benchbell/quote/geom"
)

// fit is the scale at which a scene fits a width and a height, at most most.
func fit(s draw.Scene, width, height, most float64) float64 {
	w, h := s.Size()
	return math.Min(most, math.Min(width/float64(w), height/float64(h)))
}

// scene paints a picture as vectors with its upper left corner at x, y.
func (p *press) scene(s draw.Scene, x, y, k float64) {
	if p.pages == 0 { // the counting pass
		return
	}
	at := func(q geom.Point) (float64, float64) { return x + q.X*k, y + q.Y*k }
	trace := func(ps []geom.Point) {
		for i, q := range ps {
			if qx, qy := at(q); i == 0 {
				p.f.MoveTo(qx, qy)
			} else {
				p.f.LineTo(qx, qy)
			}
		}
	}
	pen := func(c draw.Color, width geom.MM, dash []geom.MM) {
		r, g, b := c.RGB()
		p.f.SetDrawColor(int(r), int(g), int(b))
		p.f.SetLineWidth(float64(width) * k)
		pattern := make([]float64, len(dash))
		for i, d := range dash {
			pattern[i] = float64(d) * k
		}
		p.f.SetDashPattern(pattern, 0)
	}
	for _, f := range s.Figures {
		if !f.Paintable() {
			continue
		}
		if t := f.Text; t != nil {
			tx, ty := at(t.At)
			if t.Turn != 0 {
				p.f.TransformBegin()
				p.f.TransformRotate(t.Turn, tx, ty)
			}
			p.text(tx, ty, float64(t.Size)*k, t.Font, t.Anchor, t.Color, t.Value)
			if t.Turn != 0 {
				p.f.TransformEnd()
			}
			continue
		}
		outline := func() {
			if f.Shape == nil {
				trace(f.Path)
				return
			}
			for _, r := range append([]geom.Ring{f.Shape.Outer}, f.Shape.Holes...) {
				if len(r) > 2 {
					trace(r)
					p.f.ClosePath()
				}
			}
		}
		if f.Shape != nil && f.Style.Fill < draw.None {
			r, g, b := f.Style.Fill.RGB()
			p.f.SetFillColor(int(r), int(g), int(b))
			outline()
			p.f.DrawPath("F*")
		}
		if lines := f.Lines(); len(lines) > 0 {
			pen(f.Style.Hatch.Color, f.Style.Hatch.Width, nil)
			for _, l := range lines {
				trace([]geom.Point{l.A, l.B})
			}
			p.f.DrawPath("D")
		}
		if f.Style.Stroked() {
			pen(f.Style.Stroke, f.Style.Width, f.Dashes())
			outline()
			p.f.DrawPath("D")
		}
	}
	p.f.SetDashPattern(nil, 0)
}

// blank reports whether a scene has nothing to show.
func blank(s draw.Scene) bool {
	for _, f := range s.Figures {
		if f.Paintable() {
			return false
		}
	}
	return true
}
