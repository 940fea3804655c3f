package draw

import (
	"bytes"
	"fmt"
	"image/color"
	"image/png"
	"math"

	"github.com/fogleman/gg"

	"benchbell/quote/geom"
)

// maxPixels bounds a PNG, the memory for painting one (four bytes a pixel), and what a chat will show.
const maxPixels = 16_000_000

// PNG is the scene painted on white at a resolution in pixels per millimetre (4 is about 100 dpi). It fails if the
// resolution is not a positive number or the picture would have more than maxPixels.
func (s *Scene) PNG(pxPerMM float64) ([]byte, error) {
	if !(pxPerMM > 0) || math.IsInf(pxPerMM, 0) {
		return nil, fmt.Errorf("the resolution of a picture is %v pixels per mm; it must be above 0", pxPerMM)
	}
	w, h := s.Size()
	fw, fh := math.Ceil(float64(w)*pxPerMM), math.Ceil(float64(h)*pxPerMM)
	if fw*fh > maxPixels {
		return nil, fmt.Errorf("the picture %q would have %.0f × %.0f pixels, and the limit is %d in all; use at most %.2f pixels per mm",
			s.Title, fw, fh, maxPixels, math.Floor(100*math.Sqrt(maxPixels/float64(w*h)))/100)
	}
	p := painter{gg.NewContext(int(fw), int(fh)), pxPerMM}
	p.SetRGB(1, 1, 1)
	p.Clear()
	p.SetLineJoin(gg.LineJoinRound)
	p.SetLineCap(gg.LineCapButt)
	for _, f := range s.Figures {
		if f.Paintable() {
			p.figure(f)
		}
	}
	var out bytes.Buffer
	if err := png.Encode(&out, p.Image()); err != nil {
		return nil, fmt.Errorf("the picture %q could not be written as PNG: %w", s.Title, err)
	}
	return out.Bytes(), nil
}

type painter struct {
	*gg.Context
	scale float64
}

func (p *painter) color(c Color) {
	r, g, b := c.RGB()
	p.SetColor(color.RGBA{r, g, b, 255})
}

func (p *painter) figure(f Figure) {
	if f.Text != nil {
		p.text(f.Text)
		return
	}
	f = p.bounded(f)
	trace := func() {
		if f.Shape == nil {
			p.trace(f.Path)
			return
		}
		for _, r := range append([]geom.Ring{f.Shape.Outer}, f.Shape.Holes...) {
			p.NewSubPath()
			p.trace(r)
			p.ClosePath()
		}
	}
	if f.Shape != nil && f.Style.Fill < None {
		p.color(f.Style.Fill)
		p.SetFillRule(gg.FillRuleEvenOdd)
		trace()
		p.Fill()
	}
	if lines := f.Lines(); len(lines) > 0 {
		h := f.Style.Hatch
		p.color(h.Color)
		p.SetLineWidth(float64(h.Width) * p.scale)
		p.SetDash()
		for _, l := range lines {
			p.DrawLine(l.A.X*p.scale, l.A.Y*p.scale, l.B.X*p.scale, l.B.Y*p.scale)
		}
		p.Stroke()
	}
	if f.Style.Stroked() {
		p.color(f.Style.Stroke)
		p.SetLineWidth(float64(f.Style.Width) * p.scale)
		var dash []float64
		for _, d := range f.Dashes() {
			dash = append(dash, float64(d)*p.scale)
		}
		p.SetDash(dash...)
		trace()
		p.Stroke()
	}
}

// maxSweep bounds the cost of painting one figure: the rasteriser goes through all crossings in a row for each of them. A
// piece that can be cut by hand costs a hundredth of it.
const maxSweep = 30_000_000

// bounded is the figure with fewer points if it would take too long to paint: no picture can show that many crossings, and
// one drawing must not hold up all the others.
func (p *painter) bounded(f Figure) Figure {
	rings := []geom.Ring{geom.Ring(f.Path)}
	if f.Shape != nil {
		rings = append([]geom.Ring{f.Shape.Outer}, f.Shape.Holes...)
	}
	var climb float64 // of all lines, in pixel rows
	low, high := math.Inf(1), math.Inf(-1)
	for _, r := range rings {
		for i, q := range r {
			climb += math.Abs(q.Y-r[(i+1)%len(r)].Y) * p.scale
			low, high = math.Min(low, q.Y*p.scale), math.Max(high, q.Y*p.scale)
		}
	}
	rows := math.Max(1, high-low)
	cost := climb * climb / rows // rows times the square of the crossings in each
	if !(cost > maxSweep) {
		return f
	}
	every := int(math.Ceil(math.Sqrt(cost / maxSweep)))
	every += 1 - every%2 // an odd step, or a zigzag would become a line
	thin := func(r []geom.Point) []geom.Point {
		if len(r) <= 4*every {
			return r
		}
		var out []geom.Point
		for i := 0; i < len(r); i += every {
			out = append(out, r[i])
		}
		return out
	}
	if f.Shape == nil {
		f.Path = thin(f.Path)
		return f
	}
	s := geom.Shape{Outer: thin(f.Shape.Outer)}
	for _, h := range f.Shape.Holes {
		s.Holes = append(s.Holes, thin(h))
	}
	f.Shape = &s
	return f
}

func (p *painter) trace(ps []geom.Point) {
	for i, q := range ps {
		if i == 0 {
			p.MoveTo(q.X*p.scale, q.Y*p.scale)
		} else {
			p.LineTo(q.X*p.scale, q.Y*p.scale)
		}
	}
}

// text fills the glyph outlines, unhinted, so that the letter spacing is the same in every medium.
func (p *painter) text(t *Text) {
	value := Printable(t.Value)
	font := t.Font.known()
	f := faces()[font]
	k := float64(t.Size) / f.em
	x := 0.0
	switch t.Anchor {
	case Middle:
		x = -float64(TextWidth(font, 1, value)) / 2 * f.em
	case End:
		x = -float64(TextWidth(font, 1, value)) * f.em
	}
	sin, cos := geom.SinCosDeg(-t.Turn)
	at := func(q geom.Point) (float64, float64) {
		gx, gy := k*(x+q.X), k*q.Y
		return p.scale * (t.At.X + cos*gx - sin*gy), p.scale * (t.At.Y + sin*gx + cos*gy)
	}
	p.color(t.Color)
	p.SetFillRule(gg.FillRuleWinding)
	for _, r := range value {
		g := f.glyph(r)
		for _, s := range g.outline {
			x1, y1 := at(s.To)
			switch {
			case s.Start:
				p.NewSubPath()
				p.MoveTo(x1, y1)
			case s.Curved:
				x0, y0 := at(s.Via)
				p.QuadraticTo(x0, y0, x1, y1)
			default:
				p.LineTo(x1, y1)
			}
		}
		x += g.advance
	}
	p.Fill()
}
