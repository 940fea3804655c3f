package pdf

import (
	"fmt"
	"math"

	"benchbell/quote/draw"
	"benchbell/quote/geom"
)

// plan prints the plan on a page of its own, lying where the picture is wider than high.
func (p *press) plan() {
	if blank(p.d.Plan) && p.d.PlanNote == "" {
		return
	}
	w, h := p.d.Plan.Size()
	if w > h && !blank(p.d.Plan) {
		p.turn("L")
	} else {
		p.turn("P")
	}
	p.heading("Annex: plan", 0)
	p.paragraph(side, p.width(), bodySize, bodyLine, draw.Regular, draw.Ink, p.d.PlanNote)
	if blank(p.d.Plan) {
		return
	}
	p.y += 3
	if p.left() < 60 { // a note of more than half a page
		p.turn("P")
	}
	k := fit(p.d.Plan, p.width(), p.left(), 1)
	p.scene(p.d.Plan, side+(p.width()-float64(w)*k)/2, p.y, k)
	p.y += float64(h) * k
}

// sheets prints the cut layouts, as many to a page as fit the width.
func (p *press) sheets() {
	for i, s := range p.d.Sheets {
		if i == 0 {
			p.turn("P")
			p.heading("Annex: cut layouts", 0)
		}
		caption := wrap(draw.Regular, smallSize, p.width(), s.Caption)
		w, h := s.Scene.Size()
		k := fit(s.Scene, p.width(), p.size.Ht-topMargin-bottom-20-float64(len(caption))*smallLine, 1)
		if i > 0 {
			p.y += 6
			p.need(float64(h)*k + float64(len(caption))*smallLine + 4)
		}
		if !blank(s.Scene) {
			p.scene(s.Scene, side+(p.width()-float64(w)*k)/2, p.y, k)
			p.y += float64(h)*k + 1
		}
		for _, t := range caption {
			p.need(smallLine)
			p.y += smallLine
			p.text(side, p.y, smallSize, draw.Regular, draw.Start, draw.Grey, t)
		}
	}
}

// body prints the measurements the quote was made for.
func (p *press) body() {
	if len(p.d.Body) == 0 {
		return
	}
	switch {
	case len(p.d.Sheets) == 0 && (!blank(p.d.Plan) || p.d.PlanNote != ""):
		p.turn("P") // the plan's page may lie
	case p.y > topMargin:
		p.y += 4
	}
	p.heading("Annex: measurements", 30)
	p.paragraph(side, p.width(), bodySize, bodyLine, draw.Regular, draw.Ink,
		fmt.Sprintf("Quote %s is made for these measurements. Please compare them with the tape before approving.", p.d.Number))
	p.y += 2
	for _, f := range p.d.Body {
		font := draw.Regular
		if f.Strong {
			font = draw.Bold
		}
		labels := wrap(draw.Regular, bodySize, p.width()*0.5-4, f.Label)
		values := draw.Fit(font, bodySize, geom.MM(p.width()*0.5), f.Value, 6)
		h := math.Max(1, float64(max(len(labels), len(values))))*bodyLine + 1.4
		p.need(h)
		for i, t := range labels {
			p.text(side, p.y+3.7+float64(i)*bodyLine, bodySize, draw.Regular, draw.Start, draw.Ink, t)
		}
		for i, t := range values {
			p.text(p.w-side, p.y+3.7+float64(i)*bodyLine, bodySize, font, draw.End, draw.Ink, t)
		}
		p.y += h
		p.rule(p.y-0.2, draw.Pale, 0.15)
	}
}
