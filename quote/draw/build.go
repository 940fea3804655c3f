package draw

import (
	"math"

	"benchbell/quote/geom"
)

// Ink is the colour of text and outlines, Grey of background detail, Accent of the one thing that matters most.
const (
	Ink    Color = 0x1e2529
	Grey   Color = 0x6b757b
	Pale   Color = 0xc9d0d4
	Accent Color = 0x1f5563
	White  Color = 0xffffff
)

// Stroke is the style of a plain line.
func Stroke(c Color, width geom.MM, dash ...geom.MM) Style {
	return Style{Fill: None, Stroke: c, Width: width, Dash: dash}
}

// Fill is the style of a plain area.
func Fill(c Color) Style { return Style{Fill: c, Stroke: None} }

// Rect adds an axis-parallel rectangle with its upper left corner at x, y.
func (s *Scene) Rect(x, y, w, h geom.MM, st Style) {
	x0, y0, x1, y1 := float64(x), float64(y), float64(x+w), float64(y+h)
	s.Polygon(geom.Ring{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}}, st)
}

// Line adds a straight line.
func (s *Scene) Line(a, b geom.Point, st Style) { s.Polyline(geom.Path{a, b}, st) }

// Polyline adds an open path.
func (s *Scene) Polyline(p geom.Path, st Style) {
	s.Figures = append(s.Figures, Figure{Path: p, Style: st})
}

// Polygon adds a closed ring.
func (s *Scene) Polygon(r geom.Ring, st Style) { s.Shape(geom.Shape{Outer: r}, st) }

// Shape adds a shape with its holes, given in the picture's coordinates.
func (s *Scene) Shape(sh geom.Shape, st Style) {
	s.Figures = append(s.Figures, Figure{Shape: &sh, Style: st})
}

// Label adds a line of text with its baseline at the point. An empty text adds nothing.
func (s *Scene) Label(at geom.Point, size geom.MM, font Font, anchor Anchor, c Color, value string) {
	s.Turned(at, size, font, anchor, 0, c, value)
}

// Turned adds a line of text turned counter-clockwise by degrees about its point.
func (s *Scene) Turned(at geom.Point, size geom.MM, font Font, anchor Anchor, turn float64, c Color, value string) {
	if value == "" {
		return
	}
	s.Figures = append(s.Figures, Figure{Text: &Text{At: at, Size: size, Font: font, Anchor: anchor, Turn: turn, Value: value, Color: c}})
}

// Circle adds a circle, as a polygon fine enough for print.
func (s *Scene) Circle(c geom.Point, radius geom.MM, st Style) { s.Polygon(circle(c, radius), st) }

func circle(c geom.Point, radius geom.MM) geom.Ring {
	const corners = 36 // flat by r(1-cos 5°): 0.02 mm at 5 mm
	r := make(geom.Ring, corners)
	for i := range r {
		sin, cos := geom.SinCosDeg(float64(i) * 360 / corners)
		r[i] = c.Add(geom.Pt(cos, sin).Mul(float64(radius)))
	}
	return r
}

// framed is the scene with a white border around it; its figures are moved.
func (s Scene) framed(air geom.MM) Scene {
	out := Scene{Width: s.Width + 2*air, Height: s.Height + 2*air, Title: s.Title}
	by := geom.Placement{Move: geom.Pt(float64(air), float64(air))}
	for _, f := range s.Figures {
		switch {
		case f.Text != nil:
			t := *f.Text
			t.At = by.Apply(t.At)
			f.Text = &t
		case f.Shape != nil:
			sh := by.Shape(*f.Shape)
			f.Shape = &sh
		default:
			f.Path = by.Path(f.Path)
		}
		out.Figures = append(out.Figures, f)
	}
	return out
}

// Dimension adds a dimension line for the distance from a to b, with extension lines, arrowheads and the text above the
// line. It is moved by offset to the left of the direction a→b as seen on the picture (negative: to the right).
func (s *Scene) Dimension(a, b geom.Point, offset geom.MM, text string) {
	const (
		arrow = 2.0 // length of an arrowhead
		half  = 0.45
		gap   = 0.8 // from the object to its extension line, and from the line to its text
		size  = 2.8
	)
	d := b.Sub(a).Unit()
	if d == (geom.Point{}) || !d.Finite() {
		return
	}
	n := geom.Pt(d.Y, -d.X) // left of d, as y runs down
	sign := 1.0
	if offset < 0 {
		sign = -1
	}
	o := n.Mul(float64(offset))
	st := Stroke(Grey, 0.2)
	p, q := a.Add(o), b.Add(o)
	for _, e := range [][2]geom.Point{{a, p}, {b, q}} {
		s.Line(e[0].Add(n.Mul(sign*gap)), e[1].Add(n.Mul(sign*gap)), st)
	}
	s.Line(p, q, st)
	head := func(tip, dir geom.Point) {
		base := tip.Sub(dir.Mul(arrow))
		s.Polygon(geom.Ring{tip, base.Add(dir.Perp().Mul(half)), base.Sub(dir.Perp().Mul(half))}, Fill(Grey))
	}
	if p.Dist(q) > 2.5*arrow {
		head(p, d.Mul(-1))
		head(q, d)
	} else { // arrows from outside if there is no room between
		head(p, d)
		head(q, d.Mul(-1))
	}
	// Text must read from below or from the right.
	turn := math.Atan2(-d.Y, d.X) * 180 / math.Pi
	up := n
	if turn > 90 || turn <= -90 {
		turn += 180
		up = up.Mul(-1)
	}
	s.Turned(p.Lerp(q, 0.5).Add(up.Mul(gap)), size, Regular, Middle, turn, Ink, text)
}
