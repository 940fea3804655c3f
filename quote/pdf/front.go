package pdf

import (
	"fmt"
	"math"

	"benchbell/quote/draw"
	"benchbell/quote/geom"
)

// letterhead prints the letterhead and the title block.
func (p *printer) letterhead() {
	d := p.d
	p.fill(0, 0, p.w, 3, draw.Accent)
	y := 20.0
	name := draw.Fit(draw.Bold, 6.4, geom.MM(p.width()*0.55), d.Studio, 3)
	for _, t := range name {
		p.text(side, y, 6.4, draw.Bold, draw.Start, draw.Ink, t)
		y += 7.2
	}
	right := 15.5
	lines := append([]string(nil), d.Address...)
	lines = append(lines, d.Contact)
	if d.TaxNumber != "" {
		lines = append(lines, "Tax number "+d.TaxNumber)
	}
	for _, l := range lines {
		for _, t := range wrap(draw.Regular, smallSize, p.width()*0.42, l) {
			p.text(p.w-side, right, smallSize, draw.Regular, draw.End, draw.Grey, t)
			right += smallLine
		}
	}
	p.y = math.Max(math.Max(y, right), 34) + 6

	p.text(side, p.y+8, 10, draw.Bold, draw.Start, draw.Accent, "Quote")
	p.y += 15
	// The client on the left, number and dates on the right: labels in one column, values in the other.
	top := p.y
	if d.Client != "" {
		p.text(side, p.y+2.5, smallSize, draw.Regular, draw.Start, draw.Grey, "for")
	}
	p.y += 8
	for _, t := range draw.Fit(draw.Bold, 4.2, geom.MM(p.width()*0.48), d.Client, 4) {
		p.text(side, p.y, 4.2, draw.Bold, draw.Start, draw.Ink, t)
		p.y += 5.6
	}
	left := p.y
	p.y = top + 2.5
	x := p.w - side - 62
	for _, f := range []Fact{
		{"Quote number", d.Number, true},
		{"Revision", fmt.Sprint(d.Revision), true},
		{"Date", d.Issued, false},
		{"Valid until", d.ValidTo, false},
	} {
		if f.Value == "" {
			continue
		}
		font := draw.Regular
		if f.Strong {
			font = draw.Bold
		}
		p.text(x, p.y, smallSize, draw.Regular, draw.Start, draw.Grey, f.Label)
		p.text(p.w-side, p.y, bodySize, font, draw.End, draw.Ink, clip(font, bodySize, 38, f.Value))
		p.line(x, p.y+1.9, p.w-side, p.y+1.9, draw.Pale, 0.15)
		p.y += 6
	}
	p.y = math.Max(left, p.y) + 1
}

// made prints what is made: text, drawings, facts.
func (p *printer) made() {
	d := p.d
	if len(d.Intro) == 0 && len(d.Facts) == 0 && len(d.Drawings) == 0 {
		return
	}
	p.heading("What is made", 2*bodyLine)
	for _, t := range d.Intro {
		p.paragraph(side, p.width(), bodySize, bodyLine, draw.Regular, draw.Ink, t)
		p.y += 1.2
	}
	for _, s := range d.Drawings {
		if blank(s) {
			continue
		}
		w, h := s.Size()
		k := fit(s, p.width(), 125, 1)
		p.y += 3
		p.need(float64(h) * k)
		p.scene(s, side+(p.width()-float64(w)*k)/2, p.y, k)
		p.y += float64(h)*k + 3
	}
	p.facts(d.Facts)
}

// factLines is how many lines a fact may take: enough for a client's notes of usual length, and never more than a page.
const factLines = 40

// facts prints labels and values in two columns, read across.
func (p *printer) facts(facts []Fact) {
	const label = 30.0
	column := (p.width() - 8) / 2
	if len(facts) > 0 {
		p.y += 1
	}
	for i := 0; i < len(facts); i += 2 {
		pair := facts[i:min(i+2, len(facts))]
		var labels, values [2][]string
		n := 1
		for j, f := range pair {
			font := draw.Regular
			if f.Strong {
				font = draw.Bold
			}
			labels[j] = wrap(draw.Regular, smallSize, label-2, f.Label)
			values[j] = draw.Fit(font, bodySize, geom.MM(column-label), f.Value, factLines)
			n = max(n, len(labels[j]), len(values[j]))
		}
		height := float64(n)*bodyLine + 1.6
		p.need(height)
		for j, f := range pair {
			x := side + float64(j)*(column+8)
			font := draw.Regular
			if f.Strong {
				font = draw.Bold
			}
			for l, t := range labels[j] {
				p.text(x, p.y+3.6+float64(l)*bodyLine, smallSize, draw.Regular, draw.Start, draw.Grey, t)
			}
			for l, t := range values[j] {
				p.text(x+label, p.y+3.6+float64(l)*bodyLine, bodySize, font, draw.Start, draw.Ink, t)
			}
			p.line(x, p.y+height-0.6, x+column, p.y+height-0.6, draw.Pale, 0.15)
		}
		p.y += height
	}
}

// changes prints what differs from the revision before.
func (p *printer) changes() {
	title := "Changes"
	if p.d.Revision > 1 {
		title = fmt.Sprintf("Changed since revision %d", p.d.Revision-1)
	}
	p.list(title, p.d.Changes)
}

// list prints a section of points; a short one is kept on one page.
func (p *printer) list(title string, points []string) {
	if len(points) == 0 {
		return
	}
	const short = 60.0
	follows := p.listHeight(points)
	if follows > short {
		follows = 3 * smallLine
	}
	p.heading(title, follows)
	for _, t := range points {
		p.point(t)
	}
}

// listHeight is the height of the points without their heading.
func (p *printer) listHeight(points []string) float64 {
	h := 0.0
	for _, t := range points {
		h += float64(len(wrap(draw.Regular, pointSize, p.width()-5, t)))*smallLine + 1.1
	}
	return h
}

func (p *printer) point(t string) {
	lines := wrap(draw.Regular, pointSize, p.width()-5, t)
	if len(lines) == 0 {
		return
	}
	p.need(float64(min(len(lines), 3)) * smallLine)
	p.fill(side+0.6, p.y+smallLine*0.5-0.45, 1.1, 1.1, draw.Accent)
	for _, l := range lines {
		p.need(smallLine)
		p.y += smallLine
		p.text(side+5, p.y-smallLine*0.28, pointSize, draw.Regular, draw.Start, draw.Ink, l)
	}
	p.y += 1.1
}

// body prints the measurements that the quote is based on.
func (p *printer) body() {
	if len(p.d.Body) == 0 {
		return
	}
	p.heading("Made to these measurements", 5*bodyLine)
	p.paragraph(side, p.width(), pointSize, smallLine, draw.Regular, draw.Grey, "Please check them with the tape once more before approving.")
	p.y += 1
	p.facts(p.d.Body)
}

// closing prints the terms and the acceptance block, which is never alone on a page if the terms, or part of them, can go
// with it.
func (p *printer) closing() {
	const most = 140.0
	terms := p.listHeight(p.d.Terms)
	if all := 15 + terms + acceptanceHeight; len(p.d.Terms) > 0 && all > p.left() && terms < most {
		p.need(all)
	}
	p.list("Terms", p.d.Terms)
	p.acceptance()
}
