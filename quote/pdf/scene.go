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
func (p *printer) scene(s draw.Scene, x, y, k float64) {
	if p.pages == 0 { // the counting pass
		return
	}
	at := func(q geom.Point) (float64, float64) { return x + q.X*k, y + q.Y*k }
	trace := func(ps []geom.Point) {
		for i, q := range ps {
			if qx, qy := at(q); i == 0 {
				p.PDF.MoveTo(qx, qy)
			} else {
				p.PDF.LineTo(qx, qy)
			}
		}
	}
	for _, f := range s.Figures {
		if !f.Paintable() {
			continue
		}
		if t := f.Text; t != nil {
			tx, ty := at(t.At)
			p.Turned(t.Turn, tx, ty, func() { p.text(tx, ty, float64(t.Size)*k, t.Font, t.Anchor, t.Color, t.Value) })
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
					p.PDF.ClosePath()
				}
			}
		}
		if f.Shape != nil && f.Style.Fill < draw.None {
			p.Fill(f.Style.Fill)
			outline()
			p.PDF.DrawPath("F*")
		}
		if lines := f.Lines(); len(lines) > 0 {
			p.Pen(f.Style.Hatch.Color, f.Style.Hatch.Width, nil, k)
			for _, l := range lines {
				trace([]geom.Point{l.A, l.B})
			}
			p.PDF.DrawPath("D")
		}
		if f.Style.Stroked() {
			p.Pen(f.Style.Stroke, f.Style.Width, f.Dashes(), k)
			outline()
			p.PDF.DrawPath("D")
		}
	}
	p.PDF.SetDashPattern(nil, 0)
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
