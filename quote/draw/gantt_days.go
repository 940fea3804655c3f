package draw

import (
	"cmp"
	"fmt"
	"slices"

	"benchbell/quote/geom"
)

// days draws what lies behind the bars: closed hours shaded, a line at every midnight, the dates above. Where a day is
// too narrow for its date only its number stands, and where not even that, only Mondays are dated.
func (s *Scene) days(c *gantt, top, head, bottom float64) {
	x := c.left
	shade := func(x0, x1 float64) {
		if x1 > x0 {
			s.Rect(geom.MM(x0), geom.MM(head), geom.MM(x1-x0), geom.MM(bottom-head), Fill(0xeceeef))
		}
	}
	if len(c.open) > 0 {
		for _, o := range c.open {
			shade(x, c.x(o.From))
			x = c.x(o.To)
		}
		shade(x, c.right)
	}
	starts := midnights(c.from(), c.to(), c.zone)
	mean := (c.right - c.left) / float64(max(1, len(starts)))
	lastYear, lastMonth := 0, 0
	for i, t := range starts {
		x0, x1 := c.left, c.right
		if i > 0 {
			x0 = c.x(t)
		}
		if i+1 < len(starts) {
			x1 = c.x(starts[i+1])
		}
		monday := t.Weekday() == 1
		if mean < 1 && !monday && i > 0 {
			continue
		}
		st := Stroke(Pale, 0.15)
		from := head - 4.4
		if monday || i == 0 {
			st, from = Stroke(Grey, 0.2), top
		}
		s.Line(geom.Pt(x0, from), geom.Pt(x0, bottom), st)
		mid := geom.Pt((x0+x1)/2, 0)
		full, name := t.Format("2 Jan"), t.Format("Mon")
		fits := func(size geom.MM, v string) bool { return TextWidth(Regular, size, v) <= geom.MM(x1-x0-0.4) }
		put := func(y float64, size geom.MM, color Color, v string) {
			s.Label(mid.Add(geom.Pt(0, y)), size, Regular, Middle, color, v)
		}
		switch {
		case mean >= 7:
			if fits(2.5, name) {
				put(head-5.4, 2.5, Grey, name)
			}
			if fits(2.5, full) {
				put(head-1.6, 2.5, Ink, full)
			} else if fits(2.2, fmt.Sprint(t.Day())) {
				put(head-1.6, 2.2, Ink, fmt.Sprint(t.Day()))
			}
		default:
			if fits(1.9, fmt.Sprint(t.Day())) {
				put(head-1.6, 1.9, Ink, fmt.Sprint(t.Day()))
			}
			// The month stands over the first day shown and over each Monday of it.
			if (i == 0 || monday) && (mean > 1.6 || t.Year() != lastYear || int(t.Month()) != lastMonth) {
				if room := geom.MM(mean * 6); TextWidth(Regular, 2.3, full) <= room || t.Day() < 8 {
					s.Label(geom.Pt(x0+0.6, head-5.4), 2.3, Regular, Start, Grey, t.Format("Jan 2006"))
				}
				lastYear, lastMonth = t.Year(), int(t.Month())
			}
		}
	}
	s.Line(geom.Pt(c.left, head), geom.Pt(c.right, head), Stroke(Ink, 0.25))
}

// key explains the picture from y down: signs, tones, numbers and the caller's lines. It returns the height reached.
func (c *gantt) key(g PlanPicture, y float64) float64 {
	x := 0.0
	sign := func(width float64, text string, draw func(x, y float64)) {
		w := width + 1.5 + float64(TextWidth(Regular, 2.4, text)) + 5
		if x > 0 && x+w > c.right {
			x, y = 0, y+4.4
		}
		draw(x, y)
		c.Label(geom.Pt(x+width+1.5, y), 2.4, Regular, Start, Ink, text)
		x += w
	}
	for i, k := range c.kinds {
		if k == "" {
			continue
		}
		sign(6, k, func(x, y float64) {
			c.Rect(geom.MM(x), geom.MM(y-2.2), 6, 2.8, Style{Fill: tones[i%len(tones)], Stroke: Ink, Width: 0.2})
		})
	}
	if len(g.Cures) > 0 {
		sign(6, "drying or setting", func(x, y float64) {
			c.Rect(geom.MM(x), geom.MM(y-2.2), 6, 2.8, Style{Fill: White, Stroke: Ink, Width: 0.18,
				Hatch: &Hatch{Angle: 60, Spacing: 0.75, Width: 0.14, Color: Grey}})
		})
	}
	if slices.ContainsFunc(g.Cures, func(q CureBar) bool { return q.Latest.After(q.Ready) }) {
		sign(6, "next coat at the latest", func(x, y float64) {
			c.Line(geom.Pt(x, y-0.8), geom.Pt(x+5.5, y-0.8), Stroke(Ink, 0.22, 0.6, 0.5))
			c.Line(geom.Pt(x+5.5, y-2.4), geom.Pt(x+5.5, y+0.6), Stroke(Ink, 0.5))
		})
	}
	if len(c.open) > 0 {
		sign(6, "shop closed (drawn narrower)", func(x, y float64) {
			c.Rect(geom.MM(x), geom.MM(y-2.2), 6, 2.8, Style{Fill: 0xeceeef, Stroke: Pale, Width: 0.15})
		})
	}
	if x > 0 {
		y += 5.5
	}
	if !c.whole {
		y = c.numbers(g, y)
	}
	for _, l := range g.Legend {
		for _, t := range Fit(Regular, 2.5, c.Width-2, l, 3) {
			c.Label(geom.Pt(0, y), 2.5, Regular, Start, Grey, t)
			y += 3.8
		}
	}
	return y - 1.5
}

// numbers lists the operations by number in columns read downwards.
func (c *gantt) numbers(g PlanPicture, y float64) float64 {
	type entry struct {
		number int
		title  string
	}
	var list []entry
	for _, l := range g.Lanes {
		for _, b := range l.Bars {
			if e := (entry{b.Number, b.Title}); b.Title != "" && !slices.Contains(list, e) {
				list = append(list, e)
			}
		}
	}
	slices.SortFunc(list, func(a, b entry) int { return cmp.Or(cmp.Compare(a.number, b.number), cmp.Compare(a.title, b.title)) })
	if len(list) == 0 {
		return y
	}
	const (
		size   = 2.3
		line   = 3.6
		number = 5.5 // width of a number
	)
	widest := geom.MM(20)
	for _, e := range list {
		widest = max(widest, TextWidth(Regular, size, e.title))
	}
	columns := int(float64(c.Width) / (number + float64(widest) + 4))
	columns = min(max(columns, 3), 6, len(list))
	per := (len(list) + columns - 1) / columns
	w := float64(c.Width) / float64(columns)
	for i, e := range list {
		x, ly := float64(i/per)*w, y+float64(i%per)*line
		c.Label(geom.Pt(x+number-1.5, ly), size, Bold, End, Ink, fmt.Sprint(e.number))
		c.Label(geom.Pt(x+number, ly), size, Regular, Start, Ink, Short(Regular, size, geom.MM(w-number-2), e.title))
	}
	return y + float64(per)*line + 2
}
