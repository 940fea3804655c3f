package pdf

import (
	"benchbell/quote/draw"
)

// plan prints the plan on a page of its own, lying where the picture is wider than high.
func (p *press) plan() {
	if blank(p.d.Plan) && p.d.PlanNote == "" {
		return
	}
	w, h := p.d.Plan.Size()
	orientation := "P"
	if w > h && !blank(p.d.Plan) {
		orientation = "L"
	}
	p.turn(orientation)
	p.heading("Annex: plan", 0)
	p.paragraph(side, p.width(), bodySize, bodyLine, draw.Regular, draw.Ink, p.d.PlanNote)
	if blank(p.d.Plan) {
		return
	}
	p.y += 3
	if p.left() < 60 { // a note of more than half a page
		p.turn(orientation)
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
