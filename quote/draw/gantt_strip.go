package draw

import (
	"cmp"
	"math"
	"slices"
	"time"

	"benchbell/quote/geom"
)

// strip is a stretch of the plan's time with the lanes drawn for it.
type strip struct {
	Span
	lanes []fullLane
}

// strip draws one stretch of time from y down, under flags and dates, and returns the lower end.
func (c *gantt) strip(st strip, y float64) float64 {
	c.axis = newAxis(st.Span, c.plan.Open, c.left, c.right)
	flags := c.flags()
	_, deep := c.flagRows(flags)
	top := y + 0.6 + flagRow*float64(deep)
	head := top + headHigh
	hour := c.hourWide()
	if hour > 0 {
		head += hoursHigh
	}
	// What lies behind the lanes depends on their height: the lanes are drawn first, then put on top.
	above := c.Figures
	c.Figures = nil
	y = head
	for _, l := range st.lanes {
		y = c.lane(l.within(st.Span), y)
	}
	lanes, bottom := c.Figures, y
	c.Figures = above
	c.days(top, head, bottom, hour)
	c.drawFlags(flags, top, head, bottom)
	c.Figures = append(c.Figures, lanes...)
	c.Rect(geom.MM(c.left), geom.MM(head), geom.MM(c.right-c.left), geom.MM(bottom-head), Stroke(Ink, 0.25))
	return bottom
}

func (c *gantt) lane(l fullLane, y float64) float64 {
	start := y
	if c.left < laneTitle {
		c.Label(geom.Pt(c.left+0.8, start+3.4), 2.5, Bold, Start, Ink, Short(Bold, 2.5, geom.MM(c.right-c.left-2), l.Title))
		y += laneWords
	} else {
		for j, t := range Fit(Bold, 2.7, laneTitle-2, l.Title, 2) {
			c.Label(geom.Pt(0, start+4.6+3.3*float64(j)), 2.7, Bold, Start, Ink, t)
		}
		y += laneGap
	}
	y = c.bars(l.Bars, y)
	y = c.cures(l.cures, y)
	y = math.Max(y, start+6) + laneGap
	c.Line(geom.Pt(0, y), geom.Pt(c.right, y), Stroke(Pale, 0.2))
	return y
}

// packed puts bars into as few rows as hold them without overlap, in order of their starts.
func (c *gantt) packed(in []Bar) (row []int, count int) {
	slices.SortStableFunc(in, func(a, b Bar) int {
		return cmp.Or(a.Spans[0].From.Compare(b.Spans[0].From), cmp.Compare(c.number(a), c.number(b)))
	})
	return rows(len(in), func(i int) (from, to float64) {
		from, to = c.x(in[i].Spans[0].From), c.x(in[i].Spans[len(in[i].Spans)-1].To)
		if in[i].before {
			from = c.left
		}
		if in[i].after {
			to = c.right
		}
		return from, to
	})
}

func (c *gantt) bars(in []Bar, y float64) float64 {
	row, n := c.packed(in)
	busy := make([]float64, n) // right end of the numbers outside bars, per row
	for i, b := range in {
		c.bar(b, y+float64(row[i])*rowHigh, &busy[row[i]])
	}
	return y + float64(n)*rowHigh
}

// widest is the longest of the bar's stretches on the picture.
func (c *gantt) widest(b Bar) (wide, at float64) {
	for _, s := range b.Spans {
		if w := c.x(s.To) - c.x(s.From); w > wide {
			wide, at = w, c.x(s.From)
		}
	}
	return wide, at
}

// numberFits reports whether the bar has room for its number.
func (c *gantt) numberFits(b Bar) bool {
	wide, _ := c.widest(b)
	if b.Critical {
		wide -= 2 * criticalEdge
	}
	return TextWidth(Bold, barText, c.number(b)) <= geom.MM(wide-0.6)
}

// outside is where a number that does not fit in its bar stands above it: centred on the bar, or further right by shift if
// the number before it reaches that far.
func (c *gantt) outside(b Bar, busy float64) (x, width, shift float64) {
	wide, at := c.widest(b)
	width = float64(TextWidth(Bold, barTextFine, c.number(b)))
	over := at + wide/2 - width/2
	x = math.Min(math.Max(over, math.Max(busy, c.left)+0.5), c.right-width)
	return x, width, math.Abs(x - over)
}

// bar draws an operation in the row at y: the bar in the lower part, the number above it if it does not fit inside.
func (c *gantt) bar(b Bar, y float64, busy *float64) {
	c.shown.bars = append(c.shown.bars, b)
	c.shown.critical = c.shown.critical || b.Critical
	c.shown.frozen = c.shown.frozen || b.Frozen
	top := y + rowHigh - barHigh
	for i, s := range b.Spans {
		x0, x1 := c.x(s.From), c.x(s.To)
		if i > 0 {
			mid := top + barHigh/2
			c.Line(geom.Pt(c.x(b.Spans[i-1].To), mid), geom.Pt(x0, mid), Stroke(Ink, 0.3))
		}
		c.box(x0, top, x1-x0, barHigh, b)
	}
	if b.before {
		c.goesOn(c.x(b.Spans[0].From), c.left, top+barHigh/2)
	}
	if b.after {
		c.goesOn(c.x(b.Spans[len(b.Spans)-1].To), c.right, top+barHigh/2)
	}
	wide, at := c.widest(b)
	number := c.number(b)
	one := number + "  " + b.Title
	room := geom.MM(wide - 1)
	if b.Critical {
		room -= 2 * criticalEdge
	}
	mid, high := at+wide/2, top+barHigh/2+0.8
	if b.Frozen {
		high -= frozenBand / 2
	}
	put := func(y float64, size geom.MM, font Font, v string) {
		if c.look(b).lines() { // letters cannot be read over lines
			w := TextWidth(font, size, v) + 0.6
			c.Rect(geom.MM(mid)-w/2, geom.MM(y)-0.8*size, w, size, Fill(White))
		}
		c.Label(geom.Pt(mid, y), size, font, Middle, Ink, v)
	}
	if TextWidth(Regular, barText, one) <= room {
		put(high, barText, Regular, one)
		return
	}
	if lines := Fit(Regular, barTextFine, room, one, 0); len(lines) == 2 && wide > 7 && !b.Frozen && !b.Critical {
		put(top+2.1, barTextFine, Regular, lines[0])
		put(top+4.2, barTextFine, Regular, lines[1])
		return
	}
	c.whole = c.whole && b.Title == ""
	if c.numberFits(b) {
		put(high, barText, Bold, number)
		return
	}
	x, w, shift := c.outside(b, *busy)
	if shift > astray*w { // it would be read as another bar's
		c.shown.unnumbered = true
		return
	}
	*busy = x + w
	c.Line(geom.Pt(x+w/2, top-0.45), geom.Pt(mid, top), Stroke(Grey, 0.12))
	c.Label(geom.Pt(x, top-0.6), barTextFine, Bold, Start, Ink, number)
}

// goesOn marks, at an end of the strip, what continues in another.
func (c *gantt) goesOn(from, end, y float64) {
	c.shown.continued = true
	c.Line(geom.Pt(from, y), geom.Pt(end, y), Stroke(Ink, 0.3))
	const long, half = 1.6, 0.9
	tip, back := end, end-long
	if end <= c.left {
		back = end + long
	}
	c.Polygon(geom.Ring{geom.Pt(tip, y), geom.Pt(back, y-half), geom.Pt(back, y+half)}, Fill(Ink))
}

// box is the rectangle of a bar with its pattern, and its marks for the critical chain and for frozen work.
func (c *gantt) box(x, y, w, h float64, b Bar) {
	w = math.Max(w, 0.25)
	c.look(b).fill(&c.Scene, x, y, w, h)
	if b.Frozen {
		c.Rect(geom.MM(x), geom.MM(y+h-frozenBand), geom.MM(w), frozenBand, Fill(Ink))
	}
	c.edge(x, y, w, h, b.Critical, plainEdge)
}

// edge outlines a bar; on the critical chain it grows inwards, so that it does not cover its neighbours.
func (c *gantt) edge(x, y, w, h float64, critical bool, plain geom.MM) {
	if !critical {
		c.Rect(geom.MM(x), geom.MM(y), geom.MM(w), geom.MM(h), Stroke(Ink, plain))
		return
	}
	line := math.Min(criticalEdge, w/2)
	c.Rect(geom.MM(x+line/2), geom.MM(y+line/2), geom.MM(w-line), geom.MM(h-line), Stroke(Ink, geom.MM(line)))
}

// cures are drawn in rows of their own. A title stands to the right of its cure, in the gap between two of its windows if
// it fits, or to the left at the picture's right end.
func (c *gantt) cures(in []CureBar, y float64) float64 {
	if len(in) == 0 {
		return y
	}
	slices.SortStableFunc(in, func(a, b CureBar) int { return a.From.Compare(b.From) })
	titles := make([]label, len(in))
	row, n := rows(len(in), func(i int) (from, to float64) {
		titles[i], from, to = c.cureTitle(in[i])
		return from, to
	})
	for i, q := range in {
		top := y + float64(row[i])*cureRow + (cureRow-cureHigh)/2
		c.cure(q, top)
		l := titles[i]
		if l.plate {
			c.Rect(geom.MM(l.x-0.4), geom.MM(top+0.3), TextWidth(Regular, cureText, l.text)+0.8, cureHigh-0.6, Fill(White))
		}
		c.Label(geom.Pt(l.x, top+cureHigh-0.65), cureText, Regular, Start, Ink, l.text)
	}
	return y + float64(n)*cureRow
}

// label is a cure's title and where it stands; the plate makes it readable over a hatch.
type label struct {
	text  string
	x     float64
	plate bool
}

// cureTitle finds a place for a cure's title and how much of a row both take up.
func (c *gantt) cureTitle(q CureBar) (l label, from, to float64) {
	const (
		air        = 0.8
		leastTitle = 12.0 // mm; a title is cut to no less than this before it goes onto the bar
	)
	l.text = q.Title
	if letter := c.letter(q.Commission); letter != "" {
		l.text = letter + " " + l.text
	}
	most := geom.MM(math.Min(42, (c.right-c.left)/2)) // mm, then an ellipsis
	l.text = Short(Regular, cureText, most, l.text)
	wide := float64(TextWidth(Regular, cureText, l.text))
	from, to = c.x(q.From), c.x(q.end())
	allowed := q.allowed()
	for i := 0; i+1 < len(allowed); i++ {
		a, b := c.x(allowed[i].To), c.x(allowed[i+1].From)
		if !allowed[i].To.IsZero() && b-a > wide+4*air {
			l.x, l.plate = a+2*air, true
			return l, from, to + air
		}
	}
	right, left := c.right-to-2*air, from-c.left-2*air
	if most := math.Max(right, left); wide > most && most >= leastTitle {
		l.text = Short(Regular, cureText, geom.MM(most), l.text)
		wide = float64(TextWidth(Regular, cureText, l.text))
	}
	switch {
	case wide <= right:
		l.x = to + air
		return l, from, l.x + wide + air
	case wide <= left:
		l.x = from - air - wide
		return l, l.x - air, to + air
	}
	l.x, l.plate = math.Max(from, c.left)+2.2, true // past the mark of what continues
	return l, from, to + air
}

// cure draws the bar of a drying time and the marks of its windows.
func (c *gantt) cure(q CureBar, top float64) {
	c.shown.cures = true
	c.shown.cured = append(c.shown.cured, q.Commission)
	c.shown.critical = c.shown.critical || q.Critical
	x0, x1, mid := c.x(q.From), c.x(q.Ready), top+cureHigh/2
	if q.Ready.After(c.from()) {
		w := math.Max(x1-x0, 0.4)
		st := cureStyle
		st.Stroke = None
		c.Rect(geom.MM(x0), geom.MM(top), geom.MM(w), cureHigh, st)
		c.edge(x0, top, w, cureHigh, q.Critical, cureStyle.Width)
	}
	if q.From.Before(c.from()) {
		c.goesOn(c.left, c.left, mid)
	}
	if q.end().After(c.to()) {
		c.goesOn(c.right, c.right, mid)
	}
	allowed := q.allowed()
	if len(allowed) > 1 { // between its windows nothing may be done
		c.Line(geom.Pt(c.x(q.Ready), mid), geom.Pt(c.x(q.end()), mid), Stroke(Grey, 0.12))
	}
	for _, w := range allowed {
		c.shown.windows = true
		to := w.To
		if to.IsZero() {
			to = w.From
		}
		if to.Before(c.from()) || w.From.After(c.to()) {
			continue
		}
		if to.After(w.From) {
			c.Line(geom.Pt(c.x(w.From), mid), geom.Pt(c.x(to), mid), windowLine)
		}
		if !w.From.Before(c.from()) {
			c.bracket(c.x(w.From), top, 1)
		}
		if !w.To.IsZero() && !w.To.After(c.to()) {
			c.bracket(c.x(w.To), top, -1)
		}
	}
}

// bracket is the mark of a window's opening (towards 1) or closing (towards -1).
func (c *gantt) bracket(x, top, towards float64) {
	foot := 0.8 * towards
	c.Polyline(geom.Path{geom.Pt(x+foot, top-0.25), geom.Pt(x, top-0.25), geom.Pt(x, top+cureHigh+0.25), geom.Pt(x+foot, top+cureHigh+0.25)}, windowMark)
}

// timeFlag is a vertical line with its words above the dates.
type timeFlag struct {
	at    time.Time
	words string
	line  Style
	color Color
}

// flags are now and the promises that lie on the axis, which are noted as shown; promises at the same time share a flag.
func (c *gantt) flags() []timeFlag {
	var out []timeFlag
	on := func(t time.Time) bool { return !t.IsZero() && !t.Before(c.from()) && !t.After(c.to()) }
	if on(c.plan.Promise) {
		out = append(out, timeFlag{c.plan.Promise, "promised " + c.plan.Promise.In(c.zone).Format("Mon 2 Jan"), promiseLine, Accent})
	}
	for _, p := range c.plan.Promises {
		if !on(p.At) {
			continue
		}
		name := c.letter(p.Commission)
		c.shown.flagged = append(c.shown.flagged, p.Commission)
		if name == "" {
			name = "promised " + p.At.In(c.zone).Format("Mon 2 Jan")
		}
		if i := slices.IndexFunc(out, func(f timeFlag) bool { return f.at.Equal(p.At) }); i >= 0 {
			out[i].words += ", " + name
			continue
		}
		out = append(out, timeFlag{p.At, name, promiseLine, Accent})
	}
	if on(c.plan.Now) {
		out = append(out, timeFlag{c.plan.Now, "now", nowLine, Ink})
	}
	slices.SortStableFunc(out, func(a, b timeFlag) int { return a.at.Compare(b.at) })
	return out
}

const flagText = 2.5

// flagWords is where a flag's words stand: right of its line, or left of it at the picture's right end.
func (c *gantt) flagWords(f timeFlag) (from, to float64, anchor Anchor) {
	x, w := c.x(f.at), float64(TextWidth(Bold, flagText, f.words))
	if x+w+1 > c.right {
		return x - 1 - w, x, End
	}
	return x, x + 1 + w, Start
}

// flagRows stacks flags whose words would overlap.
func (c *gantt) flagRows(flags []timeFlag) (row []int, deep int) {
	return rows(len(flags), func(i int) (float64, float64) {
		from, to, _ := c.flagWords(flags[i])
		return from, to + 1
	})
}

// drawFlags draws the lines beneath the contents of the lanes and leaves out the rows of days and hours, which are read.
func (c *gantt) drawFlags(flags []timeFlag, top, head, bottom float64) {
	row, _ := c.flagRows(flags)
	for i, f := range flags {
		x, y := c.x(f.at), top-1.2-flagRow*float64(row[i])
		c.Line(geom.Pt(x, y-1.8), geom.Pt(x, top-0.4), f.line)
		c.Line(geom.Pt(x, head-0.7), geom.Pt(x, bottom), f.line)
		_, _, anchor := c.flagWords(f)
		if anchor == End {
			x -= 1
		} else {
			x += 1
		}
		c.Label(geom.Pt(x, y), flagText, Bold, anchor, f.color, f.words)
	}
}
