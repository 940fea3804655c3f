package draw

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"benchbell/quote/geom"
)

// PlanPicture is what Gantt draws.
type PlanPicture struct {
	Title    string
	Zone     *time.Location // of the day grid and the dates; nil is UTC
	From, To time.Time      // of the picture; stretched to hold every bar, cure and the promise
	Now      time.Time      // drawn as a line where it is set
	Open     []Span         // the shop's hours; the rest is shaded and drawn narrower
	Lanes    []Lane         // makers and places
	Cures    []CureBar
	Promise  time.Time // zero: none
	Legend   []string  // lines under the picture
	Width    geom.MM   // of the picture; zero is 267, A4 across with margins of 15
}

// Lane is a maker or a place with what is done there.
type Lane struct {
	Title string
	Bars  []Bar
}

// Bar is an operation; its number is the same in every lane it occupies.
type Bar struct {
	Number int
	Title  string
	Spans  []Span // worked; interrupted by nights
	Kind   string // trade stage; bars of a kind share a tone
}

// CureBar is a drying or setting time: from the operation's end until ready. Work that must come before Latest (a
// recoat window) shows as a line to a stop mark.
type CureBar struct {
	Title               string
	Lane                string // a lane's title puts it beneath that lane, another title opens a lane of cures
	From, Ready, Latest time.Time
}

// Dimensions of the plan picture in millimetres.
const (
	ganttWidth  = 267.0
	laneTitle   = 34.0 // left column
	headHigh    = 9.0  // dates
	rowHigh     = 7.4  // of bars
	barHigh     = 4.8
	cureRow     = 4.2
	cureHigh    = 2.6
	laneGap     = 1.4
	barText     = 2.3
	barTextFine = 1.9 // two lines in a bar, numbers outside of it
	cureText    = 1.9
)

// tones of kinds in order of appearance: apart in grey too, and light enough for black text.
var tones = []Color{0xd3e1e5, 0xffffff, 0xa7c0c8, 0xf0e2bf, 0xc2c8cc, 0xe8cfc8, 0xb9d0b2, 0xdcd3e6}

type gantt struct {
	Scene
	axis
	zone  *time.Location
	tone  map[string]int
	kinds []string
	left  float64
	right float64
	whole bool // every bar shows its title
}

// Gantt draws a plan: a lane for each maker and place with a numbered bar for each operation, cures hatched, the days
// with their dates, closed hours shaded, the promised date. Titles stand in the bars where they fit; if one does not,
// all are listed by number beneath.
func Gantt(g PlanPicture) Scene {
	width := float64(g.Width)
	if !(width >= 120 && width <= float64(maxSide)) {
		width = ganttWidth
	}
	c := &gantt{zone: g.Zone, tone: map[string]int{}, left: laneTitle, right: width - 2, whole: true}
	if c.zone == nil {
		c.zone = time.UTC
	}
	c.Scene = Scene{Width: geom.MM(width), Title: Printable(g.Title)}
	c.axis = newAxis(extent(g), g.Open, c.left, c.right)

	y := 0.0
	if g.Title != "" {
		c.Label(geom.Pt(0, 4.4), 4, Bold, Start, Ink, Short(Bold, 4, geom.MM(width), g.Title))
		y = 8
	}
	// The shading goes beneath everything but needs the height: it is put in front at the end.
	top := y + 4 // room for the flags of now and promise
	head := top + headHigh
	y = head
	extra := cureLanes(g)
	for i, l := range append(slices.Clone(g.Lanes), extra...) {
		var cures []CureBar
		for _, q := range g.Cures {
			if q.Lane == l.Title && (i < len(g.Lanes) && firstLane(g.Lanes, l.Title) == i || i >= len(g.Lanes)) {
				cures = append(cures, q)
			}
		}
		start := y
		y += laneGap
		y = c.bars(l.Bars, y)
		y = c.cures(cures, y)
		y = math.Max(y, start+6) + laneGap
		for j, t := range Fit(Bold, 2.7, laneTitle-2, l.Title, 2) {
			c.Label(geom.Pt(0, start+4.6+3.3*float64(j)), 2.7, Bold, Start, Ink, t)
		}
		c.Line(geom.Pt(0, y), geom.Pt(c.right, y), Stroke(Pale, 0.2))
	}
	bottom := y
	front := Scene{}
	front.days(c, top, head, bottom)
	c.Figures = append(front.Figures, c.Figures...)
	c.Rect(geom.MM(c.left), geom.MM(head), geom.MM(c.right-c.left), geom.MM(bottom-head), Stroke(Ink, 0.25))
	if !g.Now.IsZero() && !g.Now.Before(c.from()) && !g.Now.After(c.to()) {
		c.flag(g.Now, top, bottom, Stroke(Ink, 0.35, 1.2, 0.8), Ink, "now")
	}
	if !g.Promise.IsZero() {
		c.flag(g.Promise, top, bottom, Stroke(Accent, 0.7), Accent, "promised "+g.Promise.In(c.zone).Format("Mon 2 Jan"))
	}
	y = c.key(g, bottom+5.5)
	c.Height = geom.MM(y)
	return c.Scene
}

// extent is the time the picture covers: whole enough to hold everything, a day at least, longestPlan at most.
func extent(g PlanPicture) Span {
	s := Span{g.From, g.To}
	hold := func(t time.Time) {
		if t.IsZero() {
			return
		}
		if s.From.IsZero() || t.Before(s.From) {
			s.From = t
		}
		if s.To.IsZero() || t.After(s.To) {
			s.To = t
		}
	}
	for _, l := range g.Lanes {
		for _, b := range l.Bars {
			for _, sp := range b.Spans {
				hold(sp.From)
				hold(sp.To)
			}
		}
	}
	for _, q := range g.Cures {
		hold(q.From)
		hold(q.Ready)
	}
	hold(g.Promise)
	if s.To.Sub(s.From) < 24*time.Hour {
		s.To = s.From.Add(24 * time.Hour)
	}
	if s.To.Sub(s.From) > longestPlan {
		s.To = s.From.Add(longestPlan)
	}
	return s
}

func firstLane(lanes []Lane, title string) int {
	return slices.IndexFunc(lanes, func(l Lane) bool { return l.Title == title })
}

// cureLanes are lanes for the cures whose lane is not among the plan's.
func cureLanes(g PlanPicture) []Lane {
	var out []Lane
	for _, q := range g.Cures {
		if firstLane(g.Lanes, q.Lane) < 0 && firstLane(out, q.Lane) < 0 {
			out = append(out, Lane{Title: q.Lane})
		}
	}
	return out
}

// rows packs intervals, given in order of their beginnings, into as few rows as possible; each gets a row number.
func rows(n int, interval func(i int) (from, to float64)) (row []int, count int) {
	row = make([]int, n)
	var ends []float64
	for i := range n {
		from, to := interval(i)
		r := slices.IndexFunc(ends, func(e float64) bool { return e <= from+1e-6 })
		if r < 0 {
			r = len(ends)
			ends = append(ends, 0)
		}
		ends[r], row[i] = to, r
	}
	return row, len(ends)
}

func (c *gantt) bars(bars []Bar, y float64) float64 {
	var in []Bar
	for _, b := range bars {
		spans := mergeSpans(Span{c.from(), c.to()}, b.Spans)
		if len(spans) > 0 {
			b.Spans = spans
			in = append(in, b)
		}
	}
	slices.SortStableFunc(in, func(a, b Bar) int {
		return cmp.Or(a.Spans[0].From.Compare(b.Spans[0].From), cmp.Compare(a.Number, b.Number))
	})
	row, n := rows(len(in), func(i int) (float64, float64) {
		return c.x(in[i].Spans[0].From), c.x(in[i].Spans[len(in[i].Spans)-1].To)
	})
	busy := make([]float64, n) // right end of the numbers outside bars, per row
	for i, b := range in {
		c.bar(b, y+float64(row[i])*rowHigh, &busy[row[i]])
	}
	return y + float64(n)*rowHigh
}

// bar draws one operation in the row at y: the lower part is the bar, the upper is for numbers that find no room in it.
func (c *gantt) bar(b Bar, y float64, busy *float64) {
	top := y + rowHigh - barHigh
	if _, ok := c.tone[b.Kind]; !ok {
		c.tone[b.Kind] = len(c.kinds)
		c.kinds = append(c.kinds, b.Kind)
	}
	fill := tones[c.tone[b.Kind]%len(tones)]
	wide, at := 0.0, 0.0
	for i, s := range b.Spans {
		x0, x1 := c.x(s.From), c.x(s.To)
		if i > 0 {
			mid := top + barHigh/2
			c.Line(geom.Pt(c.x(b.Spans[i-1].To), mid), geom.Pt(x0, mid), Stroke(Ink, 0.3))
		}
		if x1-x0 > wide {
			wide, at = x1-x0, x0
		}
		c.Rect(geom.MM(x0), geom.MM(top), geom.MM(math.Max(x1-x0, 0.25)), barHigh, Style{Fill: fill, Stroke: Ink, Width: 0.2})
	}
	number := fmt.Sprint(b.Number)
	one := number + "  " + b.Title
	room := geom.MM(wide - 1)
	mid := at + wide/2
	if TextWidth(Regular, barText, one) <= room {
		c.Label(geom.Pt(mid, top+barHigh/2+0.8), barText, Regular, Middle, Ink, one)
		return
	}
	if lines := Fit(Regular, barTextFine, room, one, 0); len(lines) == 2 && wide > 7 {
		c.Label(geom.Pt(mid, top+2.1), barTextFine, Regular, Middle, Ink, lines[0])
		c.Label(geom.Pt(mid, top+4.1), barTextFine, Regular, Middle, Ink, lines[1])
		return
	}
	c.whole = c.whole && b.Title == ""
	if TextWidth(Bold, barText, number) <= geom.MM(wide-0.5) {
		c.Label(geom.Pt(mid, top+barHigh/2+0.8), barText, Bold, Middle, Ink, number)
		return
	}
	w := float64(TextWidth(Bold, barTextFine, number))
	x := math.Max(mid-w/2, *busy+0.5)
	x = math.Min(x, c.right-w)
	*busy = x + w
	c.Line(geom.Pt(x+w/2, top-0.45), geom.Pt(mid, top), Stroke(Grey, 0.12))
	c.Label(geom.Pt(x, top-0.6), barTextFine, Bold, Start, Ink, number)
}

func (c *gantt) cures(cures []CureBar, y float64) float64 {
	var in []CureBar
	for _, q := range cures {
		if q.Ready.After(q.From) && q.From.Before(c.to()) {
			in = append(in, q)
		}
	}
	if len(in) == 0 {
		return y
	}
	slices.SortStableFunc(in, func(a, b CureBar) int { return a.From.Compare(b.From) })
	const most = 42 // mm of title, then an ellipsis
	titles := make([]string, len(in))
	span := func(i int) (x0, x1 float64) {
		q := in[i]
		x0, x1 = c.x(q.From), c.x(q.Ready)
		if q.Latest.After(q.Ready) {
			x1 = c.x(q.Latest)
		}
		return x0, x1
	}
	row, n := rows(len(in), func(i int) (float64, float64) {
		x0, x1 := span(i)
		titles[i] = Short(Regular, cureText, most, in[i].Title)
		w := float64(TextWidth(Regular, cureText, titles[i])) + 2
		if x1+w > c.right { // the title goes to the left
			return x0 - w, x1 + 0.5
		}
		return x0, x1 + w
	})
	for i, q := range in {
		x0, x1 := c.x(q.From), c.x(q.Ready)
		top := y + float64(row[i])*cureRow + (cureRow-cureHigh)/2
		c.Rect(geom.MM(x0), geom.MM(top), geom.MM(math.Max(x1-x0, 0.4)), cureHigh, Style{Fill: White, Stroke: Ink, Width: 0.18,
			Hatch: &Hatch{Angle: 60, Spacing: 0.75, Width: 0.14, Color: Grey}})
		_, end := span(i)
		if q.Latest.After(q.Ready) {
			mid := top + cureHigh/2
			c.Line(geom.Pt(x1, mid), geom.Pt(end, mid), Stroke(Ink, 0.22, 0.6, 0.5))
			if !q.Latest.After(c.to()) {
				c.Line(geom.Pt(end, top-0.2), geom.Pt(end, top+cureHigh+0.2), Stroke(Ink, 0.5))
			}
		}
		if w := float64(TextWidth(Regular, cureText, titles[i])); end+w+2 > c.right {
			c.Label(geom.Pt(x0-0.8, top+cureHigh-0.65), cureText, Regular, End, Ink, titles[i])
		} else {
			c.Label(geom.Pt(end+0.8, top+cureHigh-0.65), cureText, Regular, Start, Ink, titles[i])
		}
	}
	return y + float64(n)*cureRow
}

// flag is a vertical line with its word above the dates.
func (c *gantt) flag(t time.Time, top, bottom float64, st Style, color Color, word string) {
	x := c.x(t)
	c.Line(geom.Pt(x, top-1), geom.Pt(x, bottom), st)
	w := float64(TextWidth(Bold, 2.5, word))
	if x+w+1 > c.right {
		c.Label(geom.Pt(x-1, top-1.2), 2.5, Bold, End, color, word)
		return
	}
	c.Label(geom.Pt(x+1, top-1.2), 2.5, Bold, Start, color, word)
}
