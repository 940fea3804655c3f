package pdf

import (
	"math"

	"benchbell/quote/draw"
	"benchbell/quote/geom"
)

// columns of the line table: right edges of quantity and amount, width of the titles.
type columns struct{ title, quantity, amount float64 }

func (p *printer) columns() columns {
	widest := func(least, most float64, font draw.Font, values func(yield func(string))) float64 {
		w := least
		values(func(s string) { w = math.Max(w, float64(draw.TextWidth(font, bodySize, s))) })
		return math.Min(w, most)
	}
	amount := widest(24, 46, draw.Bold, func(yield func(string)) {
		for _, l := range p.d.Lines {
			yield(l.Amount)
		}
		for _, t := range p.d.Totals {
			yield(t.Value)
		}
	})
	quantity := widest(18, 40, draw.Regular, func(yield func(string)) {
		for _, l := range p.d.Lines {
			yield(l.Quantity)
		}
	})
	c := columns{amount: p.w - side}
	c.quantity = c.amount - amount - 6
	c.title = c.quantity - quantity - 5 - side
	return c
}

// table prints the quote's lines; its header is repeated on every page.
func (p *printer) table() {
	if len(p.d.Lines) == 0 {
		return
	}
	c := p.columns()
	p.heading("Price", 24)
	p.tableHead(c)
	for i, l := range p.d.Lines {
		heading := l.Heading || l.Quantity == "" && l.Amount == ""
		font, size := draw.Regular, bodySize
		width := c.title
		if heading {
			font, width = draw.Bold, p.width()
			if l.Amount != "" || l.Quantity != "" {
				width = c.title
			}
		}
		titles := wrap(font, size, width, l.Title)
		quantities := draw.Fit(draw.Regular, bodySize, geom.MM(c.quantity-c.title-side-3), l.Quantity, 3)
		amounts := draw.Fit(font, bodySize, geom.MM(c.amount-c.quantity-3), l.Amount, 2)
		height := func(lines int) float64 { return float64(max(1, lines))*bodyLine + 1.5 }
		h := height(max(len(titles), len(quantities), len(amounts)))
		want := math.Min(h, 60)
		if heading {
			want += 2
			if i+1 < len(p.d.Lines) { // a heading stays with its first line
				want += height(1)
			}
		}
		if p.need(want) {
			p.tableHead(c)
		}
		if heading && i > 0 && p.y > topMargin+9 {
			p.y += 2
		}
		p.y += 0.4
		for j := 0; j < max(len(titles), len(quantities), len(amounts), 1); j++ {
			if p.need(bodyLine) { // a title longer than a page
				p.tableHead(c)
			}
			p.y += bodyLine
			base := p.y - bodyLine*0.26
			if j < len(titles) {
				p.text(side, base, size, font, draw.Start, draw.Ink, titles[j])
			}
			if j < len(quantities) {
				p.text(c.quantity, base, bodySize, draw.Regular, draw.End, draw.Ink, quantities[j])
			}
			if j < len(amounts) {
				p.text(c.amount, base, bodySize, font, draw.End, draw.Ink, amounts[j])
			}
		}
		p.y += 1.1
		p.rule(p.y, draw.Pale, 0.15)
	}
}

func (p *printer) tableHead(c columns) {
	p.y += 3
	p.text(side, p.y, smallSize, draw.Regular, draw.Start, draw.Grey, "Item")
	p.text(c.quantity, p.y, smallSize, draw.Regular, draw.End, draw.Grey, "Quantity")
	p.text(c.amount, p.y, smallSize, draw.Regular, draw.End, draw.Grey, "Amount")
	p.y += 1.8
	p.rule(p.y, draw.Ink, 0.3)
	p.y += 0.4
}

// totals prints the sums, right-aligned under the amounts, kept on one page.
func (p *printer) totals() {
	if len(p.d.Totals) == 0 {
		return
	}
	c := p.columns()
	const width = 100.0
	x := p.w - side - width
	height := 4.0
	var labels [][]string
	for _, t := range p.d.Totals {
		font := draw.Regular
		if t.Strong {
			font = draw.Bold
		}
		l := wrap(font, bodySize, width-(c.amount-c.quantity)-4, t.Label)
		labels = append(labels, l)
		height += float64(max(1, len(l)))*bodyLine + 1.8
	}
	p.need(math.Min(height, 150))
	p.y += 3
	for i, t := range p.d.Totals {
		font, ink := draw.Regular, draw.Ink
		h := float64(max(1, len(labels[i])))*bodyLine + 1.2
		p.need(h + 1)
		if t.Strong {
			font, ink = draw.Bold, draw.White
			p.fill(x-3, p.y, width+6, h+1.6, draw.Accent) // sticks out so that the figures stay aligned
			p.y += 0.8
		}
		for j, l := range labels[i] {
			p.text(x, p.y+3.9+float64(j)*bodyLine, bodySize, font, draw.Start, ink, l)
		}
		p.text(c.amount, p.y+3.9, bodySize, font, draw.End, ink, clip(font, bodySize, c.amount-c.quantity+2, t.Value))
		p.y += h
		if t.Strong {
			p.y += 1.4
		}
	}
}

// promise prints the box with the date.
func (p *printer) promise() {
	if p.d.Promise == "" {
		return
	}
	lines := draw.Fit(draw.Bold, 3.8, geom.MM(p.width()-16), p.d.Promise, 12)
	h := float64(len(lines))*5.6 + 11
	p.y += 7
	p.need(h)
	p.fill(side, p.y, p.width(), h, 0xeef3f4)
	p.fill(side, p.y, 1.4, h, draw.Accent)
	p.text(side+7, p.y+6, smallSize, draw.Regular, draw.Start, draw.Grey, "Promised date")
	for i, t := range lines {
		p.text(side+7, p.y+12+float64(i)*5.6, 3.8, draw.Bold, draw.Start, draw.Ink, t)
	}
	p.y += h
}

// acceptanceHeight is the height of the acceptance block with its heading.
const acceptanceHeight = 47.0

// acceptance prints the block to sign, whole on one page.
func (p *printer) acceptance() {
	p.heading("Acceptance", acceptanceHeight-15)
	p.paragraph(side, p.width(), bodySize, bodyLine, draw.Regular, draw.Ink,
		"Approve this revision in the commission's thread, or sign below and return it. Approval covers quote "+p.d.Number+
			" in exactly the revision printed in the footer; an earlier revision can no longer be approved.")
	p.y += 15
	gap := 6.0
	widths := []float64{(p.width() - 2*gap) * 0.38, (p.width() - 2*gap) * 0.22, (p.width() - 2*gap) * 0.4}
	x := side
	for i, label := range []string{"Name", "Date", "Signature"} {
		p.line(x, p.y, x+widths[i], p.y, draw.Ink, 0.25)
		p.text(x, p.y+4, smallSize, draw.Regular, draw.Start, draw.Grey, label)
		x += widths[i] + gap
	}
	p.y += 6
}
