package pdf

import (
	"bytes"
	"fmt"

	"github.com/jung-kurt/gofpdf"

	"benchbell/quote/draw"
	"benchbell/quote/geom"
)

// The page in millimetres.
const (
	side      = 20.0 // left and right margin
	topMargin = 24.0 // below the running head
	bottom    = 24.0 // above the footer
)

// Sizes of text, em in millimetres (1 mm is 2.83 points), and line spacing.
const (
	bodySize  = 3.25
	bodyLine  = 4.7
	smallSize = 2.75
	smallLine = 3.9
	pointSize = 2.9 // of lists
	headSize  = 4.4
)

// press is a document being printed: the library's state, the page, and how far down it is filled.
type press struct {
	f     *gofpdf.Fpdf
	d     Document
	size  gofpdf.SizeType // portrait
	w, h  float64         // of the current page
	y     float64
	pages int // of the whole document; zero while counting
	fonts map[draw.Font]bool
}

func newPress(d Document, pages int) *press {
	size := gofpdf.SizeType{Wd: 210, Ht: 297}
	if d.Paper == Letter {
		size = gofpdf.SizeType{Wd: 215.9, Ht: 279.4}
	}
	f := gofpdf.NewCustom(&gofpdf.InitType{OrientationStr: "P", UnitStr: "mm", Size: size})
	p := &press{f: f, d: d, size: size, pages: pages, fonts: map[draw.Font]bool{}}
	f.SetCatalogSort(true)
	created := d.Created.UTC()
	if d.Created.IsZero() {
		created = undated
	}
	f.SetCreationDate(created)
	f.SetModificationDate(created)
	f.SetProducer("Benchbell", true)
	f.SetTitle(draw.Printable(fmt.Sprintf("Quote %s, revision %d", d.Number, d.Revision)), true)
	f.SetAuthor(draw.Printable(d.Studio), true)
	f.SetSubject(draw.Printable("Quote for "+d.Client), true)
	f.SetAutoPageBreak(false, 0)
	f.SetMargins(0, 0, 0)
	f.SetCellMargin(0)
	f.SetLineJoinStyle("round")
	f.SetFooterFunc(p.footer)
	p.turn("P")
	return p
}

// turn starts a page: "P" portrait, "L" landscape.
func (p *press) turn(orientation string) {
	p.f.AddPageFormat(orientation, p.size)
	p.w, p.h = p.f.GetPageSize()
	p.y = topMargin
	if p.page() > 1 {
		p.text(side, 14, smallSize, draw.Bold, draw.Start, draw.Ink, clip(draw.Bold, smallSize, p.width()*0.6, p.d.Studio))
		if p.d.Client != "" {
			p.text(p.w-side, 14, smallSize, draw.Regular, draw.End, draw.Grey, clip(draw.Regular, smallSize, p.width()*0.35, "for "+p.d.Client))
		}
		p.rule(16.5, draw.Pale, 0.2)
	}
}

func (p *press) page() int { return p.f.PageNo() }

// width between the margins of the current page.
func (p *press) width() float64 { return p.w - 2*side }

// left is the height still free on the page.
func (p *press) left() float64 { return p.h - bottom - p.y }

// need starts a new page unless the height is free. It reports whether it did.
func (p *press) need(height float64) bool {
	if height <= p.left() {
		return false
	}
	if p.y > topMargin {
		p.turn("P")
		return true
	}
	return false
}

func (p *press) footer() {
	y := p.h - 13
	p.rule(y-4.5, draw.Pale, 0.2)
	id := fmt.Sprintf("Quote %s · revision %d", p.d.Number, p.d.Revision)
	p.text(side, y, smallSize, draw.Regular, draw.Start, draw.Grey, clip(draw.Regular, smallSize, p.width()*0.7, id))
	p.text(p.w-side, y, smallSize, draw.Regular, draw.End, draw.Grey, fmt.Sprintf("page %d of %d", p.page(), max(p.pages, p.page())))
}

// use selects a font. A font is added on first use, from its own copy: the library writes to the bytes.
func (p *press) use(font draw.Font, size float64) {
	name := [...]string{"gor", "gob", "goi", "gom"}[font]
	if !p.fonts[font] {
		p.fonts[font] = true
		p.f.AddUTF8FontFromBytes(name, "", bytes.Clone(font.TTF()))
	}
	p.f.SetFont(name, "", size*72/25.4)
}

// text prints one line with its baseline at y.
func (p *press) text(x, y, size float64, font draw.Font, anchor draw.Anchor, c draw.Color, s string) {
	s = draw.Printable(s)
	if s == "" || c >= draw.None || p.pages == 0 { // the counting pass prints nothing
		return
	}
	if font < draw.Regular || font > draw.Mono {
		font = draw.Regular
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

// clip is the text shortened to one line of the width.
func clip(font draw.Font, size, width float64, s string) string {
	return draw.Short(font, geom.MM(size), geom.MM(width), s)
}

func wrap(font draw.Font, size, width float64, s string) []string {
	return draw.Fit(font, geom.MM(size), geom.MM(width), s, 0)
}

// rule is a hairline between the margins.
func (p *press) rule(y float64, c draw.Color, width float64) { p.line(side, y, p.w-side, y, c, width) }

func (p *press) line(x0, y0, x1, y1 float64, c draw.Color, width float64) {
	r, g, b := c.RGB()
	p.f.SetDrawColor(int(r), int(g), int(b))
	p.f.SetLineWidth(width)
	p.f.Line(x0, y0, x1, y1)
}

func (p *press) fill(x, y, w, h float64, c draw.Color) {
	r, g, b := c.RGB()
	p.f.SetFillColor(int(r), int(g), int(b))
	p.f.Rect(x, y, w, h, "F")
}

// heading starts a section, kept together with the height that follows it.
func (p *press) heading(title string, follows float64) {
	if p.y > topMargin {
		p.y += 6
	}
	p.need(9 + follows)
	p.f.Bookmark(title, 0, p.y)
	p.y += headSize
	p.text(side, p.y, headSize, draw.Bold, draw.Start, draw.Accent, title)
	p.y += 4
}

// paragraph flows a text over lines and pages; its first baseline is a line below y.
func (p *press) paragraph(x, width, size, line float64, font draw.Font, c draw.Color, s string) {
	for _, t := range wrap(font, size, width, s) {
		p.need(line)
		p.y += line
		p.text(x, p.y-line*0.28, size, font, draw.Start, c, t)
	}
}
