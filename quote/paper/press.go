package paper

import (
	"github.com/jung-kurt/gofpdf"

	"benchbell/quote/draw"
	"benchbell/quote/geom"
	"benchbell/quote/press"
)

// Greys for everything that is not the pattern: a photocopier still shows them, and nobody cuts along them.
const (
	frameGrey draw.Color = 0xa0a0a0
	wordGrey  draw.Color = 0x606060
)

// sheetPress is a pattern being printed.
type sheetPress struct {
	press.Press
	job *Pattern
}

func newPress(job *Pattern) *sheetPress {
	return &sheetPress{job: job, Press: press.New(job.Paper.Width, job.Paper.Width, press.Title{
		Title: "Paper pattern: " + job.Title, Author: job.Studio, Subject: job.Commission, Created: job.Date})}
}

// page starts a page; the size is given upright or lying, as it is read.
func (p *sheetPress) page(w, h float64) {
	orientation := "P"
	if w > h { // the library swaps the sides of a landscape page
		orientation, w, h = "L", h, w
	}
	p.PDF.AddPageFormat(orientation, gofpdf.SizeType{Wd: w, Ht: h})
}

// short prints one line, cut to a width.
func (p *sheetPress) short(x, y, size, width float64, font draw.Font, c draw.Color, s string) {
	p.Text(x, y, size, font, draw.Start, c, draw.Short(font, geom.MM(size), geom.MM(width), s))
}

// turned prints one line about its middle on the baseline.
func (p *sheetPress) turned(x, y, size float64, font draw.Font, turn float64, c draw.Color, s string) {
	p.Turned(turn, x, y, func() { p.Text(x, y, size, font, draw.Middle, c, s) })
}

func (p *sheetPress) pen(st draw.Style) { p.Pen(st.Stroke, st.Width, st.Dash, 1) }

func (p *sheetPress) line(x0, y0, x1, y1 float64, st draw.Style) {
	p.pen(st)
	p.PDF.Line(x0, y0, x1, y1)
}

func (p *sheetPress) rect(x, y, w, h float64, st draw.Style) {
	p.pen(st)
	p.PDF.Rect(x, y, w, h, "D")
}

// figure paints one figure moved by d.
func (p *sheetPress) figure(f draw.Figure, d geom.Point) {
	if !f.Paintable() {
		return
	}
	if t := f.Text; t != nil {
		p.turned(t.At.X+d.X, t.At.Y+d.Y, float64(t.Size), t.Font, t.Turn, t.Color, t.Value)
		return
	}
	ps := []geom.Point(f.Path)
	if f.Shape != nil {
		ps = f.Shape.Outer
	}
	trace := func() {
		for i, q := range ps {
			if i == 0 {
				p.PDF.MoveTo(q.X+d.X, q.Y+d.Y)
			} else {
				p.PDF.LineTo(q.X+d.X, q.Y+d.Y)
			}
		}
		if f.Shape != nil {
			p.PDF.ClosePath()
		}
	}
	if f.Shape != nil && f.Style.Fill < draw.None {
		p.Fill(f.Style.Fill)
		trace()
		p.PDF.DrawPath("F*")
	}
	if f.Style.Stroked() {
		st := f.Style
		st.Dash = f.Dashes()
		p.pen(st)
		trace()
		p.PDF.DrawPath("D")
	}
}

// sign is a registration mark: a cross in a circle.
func (p *sheetPress) sign(x, y float64) {
	const radius, arm = 1.8, 3.2
	st := draw.Stroke(wordGrey, 0.15)
	p.pen(st)
	p.PDF.Circle(x, y, radius, "D")
	p.PDF.Line(x-arm, y, x+arm, y)
	p.PDF.Line(x, y-arm, x, y+arm)
}
