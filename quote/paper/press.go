package paper

import (
	"bytes"
	"time"

	"github.com/jung-kurt/gofpdf"

	"benchbell/quote/draw"
	"benchbell/quote/geom"
)

// Greys for everything that is not the pattern: a photocopier still shows them, and nobody cuts along them.
const (
	frameGrey draw.Color = 0xa0a0a0
	wordGrey  draw.Color = 0x606060
)

// undated is used for a pattern without a date: the library would put the current time into the file.
var undated = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)

// press is a PDF being printed.
type press struct {
	f     *gofpdf.Fpdf
	job   *Pattern
	fonts map[draw.Font]bool
}

func newPress(job *Pattern) *press {
	f := gofpdf.NewCustom(&gofpdf.InitType{OrientationStr: "P", UnitStr: "mm", Size: gofpdf.SizeType{Wd: float64(job.Paper.Width), Ht: float64(job.Paper.Width)}})
	f.SetCatalogSort(true)
	created := job.Date.UTC()
	if job.Date.IsZero() {
		created = undated
	}
	f.SetCreationDate(created)
	f.SetModificationDate(created)
	f.SetProducer("Benchbell", true)
	f.SetTitle(draw.Printable("Paper pattern: "+job.Title), true)
	f.SetAuthor(draw.Printable(job.Studio), true)
	f.SetSubject(draw.Printable(job.Commission), true)
	f.SetAutoPageBreak(false, 0)
	f.SetMargins(0, 0, 0)
	f.SetCellMargin(0)
	f.SetLineJoinStyle("round")
	return &press{f: f, job: job, fonts: map[draw.Font]bool{}}
}

// page starts a page; the size is given upright or lying, as it is read.
func (p *press) page(w, h float64) {
	orientation := "P"
	if w > h { // the library swaps the sides of a landscape page
		orientation, w, h = "L", h, w
	}
	p.f.AddPageFormat(orientation, gofpdf.SizeType{Wd: w, Ht: h})
}

// use selects a font. A font is added on first use, from its own copy: the library writes to the bytes.
func (p *press) use(font draw.Font, size float64) {
	name := [...]string{"gor", "gob", "goi", "gom"}[font]
	if !p.fonts[font] {
		p.fonts[font] = true
		p.f.AddUTF8FontFromBytes(name, "", bytes.Clone(font.TTF()))
	}
	p.f.SetFont(name, "", size*72/float64(geom.Inch))
}

// text prints one line with its baseline at y.
func (p *press) text(x, y, size float64, font draw.Font, anchor draw.Anchor, c draw.Color, s string) {
	s = draw.Printable(s)
	if s == "" {
		return
	}
	switch w := float64(draw.TextWidth(font, geom.MM(size), s)); anchor {
	case draw.Middle:
		x -= w / 2
	case draw.End:
		x -= w
	}
	p.use(font, size)
	r, g, b := c.RGB()
	p.f.SetTextColor(int(r), int(g), int(b))
	p.f.Text(x, y, s)
}

// short prints one line, shortened to a width.
func (p *press) short(x, y, size, width float64, font draw.Font, c draw.Color, s string) {
	p.text(x, y, size, font, draw.Start, c, draw.Short(font, geom.MM(size), geom.MM(width), s))
}

// turned prints one turned line, centred on its baseline.
func (p *press) turned(x, y, size float64, font draw.Font, turn float64, c draw.Color, s string) {
	if turn == 0 {
		p.text(x, y, size, font, draw.Middle, c, s)
		return
	}
	p.f.TransformBegin()
	p.f.TransformRotate(turn, x, y)
	p.text(x, y, size, font, draw.Middle, c, s)
	p.f.TransformEnd()
}

func (p *press) pen(st draw.Style) {
	r, g, b := st.Stroke.RGB()
	p.f.SetDrawColor(int(r), int(g), int(b))
	p.f.SetLineWidth(float64(st.Width))
	dash := make([]float64, len(st.Dash))
	for i, d := range st.Dash {
		dash[i] = float64(d)
	}
	p.f.SetDashPattern(dash, 0)
}

func (p *press) line(x0, y0, x1, y1 float64, st draw.Style) {
	p.pen(st)
	p.f.Line(x0, y0, x1, y1)
}

func (p *press) rect(x, y, w, h float64, st draw.Style) {
	p.pen(st)
	p.f.Rect(x, y, w, h, "D")
}

// figure paints one figure moved by d.
func (p *press) figure(f draw.Figure, d geom.Point) {
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
				p.f.MoveTo(q.X+d.X, q.Y+d.Y)
			} else {
				p.f.LineTo(q.X+d.X, q.Y+d.Y)
			}
		}
		if f.Shape != nil {
			p.f.ClosePath()
		}
	}
	if f.Shape != nil && f.Style.Fill < draw.None {
		r, g, b := f.Style.Fill.RGB()
		p.f.SetFillColor(int(r), int(g), int(b))
		trace()
		p.f.DrawPath("F*")
	}
	if f.Style.Stroked() {
		st := f.Style
		st.Dash = f.Dashes()
		p.pen(st)
		trace()
		p.f.DrawPath("D")
	}
}

// sign is a registration mark: a cross in a circle.
func (p *press) sign(x, y float64) {
	const radius, arm = 1.8, 3.2
	st := draw.Stroke(wordGrey, 0.15)
	p.pen(st)
	p.f.Circle(x, y, radius, "D")
	p.f.Line(x-arm, y, x+arm, y)
	p.f.Line(x, y-arm, x, y+arm)
}
