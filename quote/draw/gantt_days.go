package draw

import (
	"fmt"
	"math"
	"time"

	"benchbell/quote/geom"
)

// days draws what lies behind the bars: closed hours shaded, a line at every midnight, the dates above, and the hours where
// there is room. If a day is too narrow for its date only its number is written, and if that does not fit either, only
// Mondays are dated.
func (c *gantt) days(top, head, bottom, hour float64) {
	x := c.left
	shade := func(x0, x1 float64) {
		if x1 > x0 {
			c.Rect(geom.MM(x0), geom.MM(head), geom.MM(x1-x0), geom.MM(bottom-head), Fill(closedFill))
		}
	}
	if len(c.plan.Open) > 0 {
		for _, o := range c.open {
			shade(x, c.x(o.From))
			x = c.x(o.To)
		}
		shade(x, c.right)
	}
	dates := head
	if hour > 0 {
		dates = head - hoursHigh
		c.hours(head, hour)
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
		monday := t.Weekday() == time.Monday
		if mean < 1 && !monday && i > 0 {
			continue
		}
		st := Stroke(Pale, 0.15)
		from := head - 4.4
		if monday || i == 0 {
			st, from = Stroke(Grey, 0.2), top
		}
		c.Line(geom.Pt(x0, from), geom.Pt(x0, bottom), st)
		mid := geom.Pt((x0+x1)/2, 0)
		full, name := t.Format("2 Jan"), t.Format("Mon")
		fits := func(size geom.MM, v string) bool { return TextWidth(Regular, size, v) <= geom.MM(x1-x0-0.4) }
		put := func(y float64, size geom.MM, color Color, v string) {
			c.Label(mid.Add(geom.Pt(0, y)), size, Regular, Middle, color, v)
		}
		switch {
		case mean >= 7:
			if fits(2.5, name) {
				put(dates-5.4, 2.5, Grey, name)
			}
			if fits(2.5, full) {
				put(dates-1.6, 2.5, Ink, full)
			} else if fits(2.2, fmt.Sprint(t.Day())) {
				put(dates-1.6, 2.2, Ink, fmt.Sprint(t.Day()))
			}
		default:
			if fits(leastText, fmt.Sprint(t.Day())) {
				put(dates-1.6, leastText, Ink, fmt.Sprint(t.Day()))
			}
			// The month is written above the first day shown and above each Monday in it.
			if (i == 0 || monday) && (mean > 1.6 || t.Year() != lastYear || int(t.Month()) != lastMonth) {
				if room := geom.MM(mean * 6); TextWidth(Regular, 2.3, full) <= room || t.Day() < 8 {
					c.Label(geom.Pt(x0+0.6, dates-5.4), 2.3, Regular, Start, Grey, t.Format("Jan 2006"))
				}
				lastYear, lastMonth = t.Year(), int(t.Month())
			}
		}
	}
	c.Line(geom.Pt(c.left, head), geom.Pt(c.right, head), Stroke(Ink, 0.25))
}

// marked is the time whose hours are marked: the open hours, or, where the shop is closed all along, all of it, since cures run
// through it.
func (c *gantt) marked() []Span {
	if len(c.open) == 0 && len(c.plan.Open) > 0 {
		return []Span{{c.from(), c.to()}}
	}
	return c.open
}

// hourWide is the width of an open hour if it can be marked, else 0.
func (c *gantt) hourWide() float64 {
	const least = 2.2 // mm; closer marks are a smear
	wide := math.Inf(1)
	for _, o := range c.marked() {
		wide = min(wide, (c.x(o.To)-c.x(o.From))/o.To.Sub(o.From).Hours())
	}
	if wide < least || math.IsInf(wide, 1) {
		return 0
	}
	return wide
}

// hours marks the open hours above the line at head and writes as many of them as fit.
func (c *gantt) hours(head, wide float64) {
	every := 1
	for float64(every)*wide < 5 { // two digits and a gap
		every++
	}
	last := math.Inf(-1)
	for _, o := range c.marked() {
		from := o.From.In(c.zone)
		t := time.Date(from.Year(), from.Month(), from.Day(), from.Hour(), 0, 0, 0, c.zone)
		for i := 0; !t.After(o.To); t = t.Add(time.Hour) {
			if t.Before(o.From) {
				continue
			}
			x, tick := c.x(t), 0.7
			word := fmt.Sprint(t.Hour())
			if w := float64(TextWidth(Regular, leastText, word)); i%every == 0 && x-w/2 > last && x+w/2 < c.right {
				c.Label(geom.Pt(x, head-1.2), leastText, Regular, Middle, Grey, word)
				last = x + w/2 + 0.8
			}
			c.Line(geom.Pt(x, head-tick), geom.Pt(x, head), Stroke(Grey, 0.15))
			i++
		}
	}
}
