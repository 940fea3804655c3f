package pdf

import (
	"benchbell/quote/draw"
)

// plan prints the plan, each picture on a page of its own, landscape if it is wider than high.
func (p *printer) plan() {
	var scenes []draw.Scene
	for _, s := range p.d.Plan {
		if !blank(s) {
			scenes = append(scenes, s)
		}
	}
	if len(scenes) == 0 && p.d.PlanNote == "" {
		return
	}
	p.turn(lying(scenes))
	p.heading("Annex: plan", 0)
	p.paragraph(side, p.width(), bodySize, bodyLine, draw.Regular, draw.Ink, p.d.PlanNote)
	for i, s := range scenes {
		if i > 0 || p.left() < 60 { // after a note that fills more than half a page
			p.turn(lying(scenes[i:]))
		}
		if i == 0 {
			p.y += 3
		}
		w, h := s.Size()
		k := fit(s, p.width(), p.left(), 1)
		p.scene(s, side+(p.width()-float64(w)*k)/2, p.y, k)
		p.y += float64(h) * k
	}
}

// lying is the orientation of the first picture's page.
func lying(scenes []draw.Scene) string {
	if len(scenes) > 0 {
		if w, h := scenes[0].Size(); w > h {
			return "L"
		}
	}
	return "P"
}

// sheets prints the cut layouts, as many to a page as fit the width.
func (p *printer) sheets() {
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
