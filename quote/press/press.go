// Package press puts text and lines on PDF pages: what the printed quote and the paper pattern both need of the PDF library.
//
// It is given what to print, ready to print; it decides no layout. What always holds: the same calls give the same bytes, no
// page breaks by itself, and dates are those of the document, never the clock's.
package press

import (
	"bytes"
	"time"

	"github.com/jung-kurt/gofpdf"

	"benchbell/quote/draw"
	"benchbell/quote/geom"
)

// undated stands in for a document without a date: the library would otherwise put the present time into the file.
var undated = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)

// Title is what a PDF says of itself.
type Title struct {
	Title, Author, Subject string
	Created                time.Time // zero: a fixed day
}

// Press is a PDF being printed, in millimetres from the upper left corner of its page. PDF is the library's document, for
// what only one user needs.
type Press struct {
	PDF   *gofpdf.Fpdf
	fonts map[draw.Font]bool
}

// New begins a document whose upright pages have a size, without a page yet.
func New(width, height geom.MM, t Title) Press {
	f := gofpdf.NewCustom(&gofpdf.InitType{OrientationStr: "P", UnitStr: "mm", Size: gofpdf.SizeType{Wd: float64(width), Ht: float64(height)}})
	f.SetCatalogSort(true)
	created := t.Created.UTC()
	if t.Created.IsZero() {
		created = undated
	}
	f.SetCreationDate(created)
	f.SetModificationDate(created)
	f.SetProducer("Benchbell", true)
	f.SetTitle(draw.Printable(t.Title), true)
	f.SetAuthor(draw.Printable(t.Author), true)
	f.SetSubject(draw.Printable(t.Subject), true)
	f.SetAutoPageBreak(false, 0)
	f.SetMargins(0, 0, 0)
	f.SetCellMargin(0)
	f.SetLineJoinStyle("round")
	return Press{PDF: f, fonts: map[draw.Font]bool{}}
}

// use selects a font. A font is added when first used, from its own copy: the library writes into the bytes.
func (p Press) use(font draw.Font, size float64) {
	name := [...]string{"gor", "gob", "goi", "gom"}[font]
	if !p.fonts[font] {
		p.fonts[font] = true
		p.PDF.AddUTF8FontFromBytes(name, "", bytes.Clone(font.TTF()))
	}
	p.PDF.SetFont(name, "", size*72/float64(geom.Inch))
}

// Text prints one line with its baseline at y, the size in millimetres; an unknown font is the regular one.
func (p Press) Text(x, y, size float64, font draw.Font, anchor draw.Anchor, c draw.Color, s string) {
	s = draw.Printable(s)
	if s == "" || c >= draw.None {
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
	p.PDF.SetTextColor(int(r), int(g), int(b))
	p.PDF.Text(x, y, s)
}

// Turned has what print puts down turned by degrees about a point.
func (p Press) Turned(turn, x, y float64, print func()) {
	if turn == 0 {
		print()
		return
	}
	p.PDF.TransformBegin()
	p.PDF.TransformRotate(turn, x, y)
	print()
	p.PDF.TransformEnd()
}

// Pen sets colour, width and dashes of the lines that follow; width and dashes are scaled by k.
func (p Press) Pen(c draw.Color, width geom.MM, dash []geom.MM, k float64) {
	r, g, b := c.RGB()
	p.PDF.SetDrawColor(int(r), int(g), int(b))
	p.PDF.SetLineWidth(float64(width) * k)
	pattern := make([]float64, len(dash))
	for i, d := range dash {
		pattern[i] = float64(d) * k
	}
	p.PDF.SetDashPattern(pattern, 0)
}

// Fill sets the colour that areas are filled with.
func (p Press) Fill(c draw.Color) {
	r, g, b := c.RGB()
	p.PDF.SetFillColor(int(r), int(g), int(b))
}
