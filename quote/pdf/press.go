package pdf

import (
	"fmt"

	"github.com/jung-kurt/gofpdf"

	"benchbell/quote/draw"
	"benchbell/quote/geom"
	"benchbell/quote/press"
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

// printer is a document being printed: the page under the press, and how far down it is filled.
type printer struct {
	press.Press
	d     Document
	foot  string          // what every page says of the document, and over what follows the first
	size  gofpdf.SizeType // portrait
	w, h  float64         // of the current page
	y     float64
	pages int // of the whole document; zero on the counting pass
}

func newPrinter(d Document, pages int) *printer {
	return newSheets(d, fmt.Sprintf("Quote %s, revision %d", d.Number, d.Revision), "Quote for "+d.Client, fmt.Sprintf("Quote %s · revision %d", d.Number, d.Revision), pages)
}

// newSheets begins what is printed on several pages of the document's paper.
func newSheets(d Document, title, subject, foot string, pages int) *printer {
	size := gofpdf.SizeType{Wd: 210, Ht: 297}
	if d.Paper == Letter {
		size = gofpdf.SizeType{Wd: 215.9, Ht: 279.4}
	}
	p := &printer{d: d, foot: foot, size: size, pages: pages, Press: press.New(geom.MM(size.Wd), geom.MM(size.Ht), press.Title{
		Title: title, Author: d.Studio, Subject: subject, Created: d.Created})}
	p.PDF.SetFooterFunc(p.footer)
	p.turn("P")
	return p
}

// turn starts a page: "P" portrait, "L" landscape.
func (p *printer) turn(orientation string) {
	p.PDF.AddPageFormat(orientation, p.size)
	p.w, p.h = p.PDF.GetPageSize()
	p.y = topMargin
	if p.page() > 1 {
		p.text(side, 14, smallSize, draw.Bold, draw.Start, draw.Ink, clip(draw.Bold, smallSize, p.width()*0.6, p.d.Studio))
		if p.d.Client != "" {
			p.text(p.w-side, 14, smallSize, draw.Regular, draw.End, draw.Grey, clip(draw.Regular, smallSize, p.width()*0.35, "for "+p.d.Client))
		}
		p.rule(16.5, draw.Pale, 0.2)
	}
}

func (p *printer) page() int { return p.PDF.PageNo() }

// width between the margins of the current page.
func (p *printer) width() float64 { return p.w - 2*side }

// left is the height still free on the page.
func (p *printer) left() float64 { return p.h - bottom - p.y }

// need starts a new page unless the height is free. It reports whether it did.
func (p *printer) need(height float64) bool {
	if height <= p.left() {
		return false
	}
	if p.y > topMargin {
		p.turn("P")
		return true
	}
	return false
}

func (p *printer) footer() {
	y := p.h - 13
	p.rule(y-4.5, draw.Pale, 0.2)
	p.text(side, y, smallSize, draw.Regular, draw.Start, draw.Grey, clip(draw.Regular, smallSize, p.width()*0.7, p.foot))
	p.text(p.w-side, y, smallSize, draw.Regular, draw.End, draw.Grey, fmt.Sprintf("page %d of %d", p.page(), max(p.pages, p.page())))
}

// use selects a font. A font is added on first use, from its own copy: the library writes to the bytes.
func (p *printer) text(x, y, size float64, font draw.Font, anchor draw.Anchor, c draw.Color, s string) {
	if p.pages > 0 {
		p.Text(x, y, size, font, anchor, c, s)
	}
}

// clip is the text shortened to one line of the width.
func clip(font draw.Font, size, width float64, s string) string {
	return draw.Short(font, geom.MM(size), geom.MM(width), s)
}

func wrap(font draw.Font, size, width float64, s string) []string {
	return draw.Fit(font, geom.MM(size), geom.MM(width), s, 0)
}

// rule is a hairline between the margins.
func (p *printer) rule(y float64, c draw.Color, width float64) {
	p.line(side, y, p.w-side, y, c, width)
}

func (p *printer) line(x0, y0, x1, y1 float64, c draw.Color, width float64) {
	r, g, b := c.RGB()
	p.PDF.SetDrawColor(int(r), int(g), int(b))
	p.PDF.SetLineWidth(width)
	p.PDF.Line(x0, y0, x1, y1)
}

func (p *printer) fill(x, y, w, h float64, c draw.Color) {
	p.Fill(c)
	p.PDF.Rect(x, y, w, h, "F")
}

// heading starts a section, kept together with the height that follows it.
func (p *printer) heading(title string, follows float64) {
	if p.y > topMargin {
		p.y += 6
	}
	p.need(9 + follows)
	p.PDF.Bookmark(title, 0, p.y)
	p.y += headSize
	p.text(side, p.y, headSize, draw.Bold, draw.Start, draw.Accent, title)
	p.y += 4
}

// paragraph flows a text over lines and pages; its first baseline is a line below y.
func (p *printer) paragraph(x, width, size, line float64, font draw.Font, c draw.Color, s string) {
	for _, t := range wrap(font, size, width, s) {
		p.need(line)
		p.y += line
		p.text(x, p.y-line*0.28, size, font, draw.Start, c, t)
	}
}
