package draw

import (
	"slices"
	"time"

	"benchbell/quote/geom"
)

// DaysPicture is the coming days of a shop for its wall: days from left to right, who works on what from top to bottom.
type DaysPicture struct {
	Title, Foot   string
	Width, Height geom.MM
	Now           time.Time
	Columns       []DayColumn
	Agreed        string // name of the row of what is agreed
	Rows          []DayRow
	Drying        string // name of the rows of what dries
	Wet           []DayBar
	More          string // said where more dries than there is room for
}

// DayColumn is one day: its hours, and what is agreed for it, a line each.
type DayColumn struct {
	Title         string
	Opens, Closes time.Time
	Agreed        []string
}

// DayRow is a maker or a place.
type DayRow struct {
	Title string
	Bars  []DayBar
}

// DayBar is a stretch of time: work, or what dries. Of its words as many are shown as there is room for, Label at least before Words.
type DayBar struct {
	From, To     time.Time
	Label, Words string
	State        DayState
}

// DayState says how a bar looks: done is solid, in hand is framed, planned is dashed.
type DayState int

// States of a bar.
const (
	DayPlanned DayState = iota
	DayInHand
	DayDone
)

// Sizes, mm: a capital of 22 points is read from two metres, one of 12 from one (common practice, no source).
const (
	dayTitle  geom.MM = 7.76 // 22 points
	dayName   geom.MM = 5.6
	dayText   geom.MM = 4.3
	dayMargin geom.MM = 10
	dayGap    geom.MM = 1.2
	leastLane geom.MM = 9.5
	mostLane  geom.MM = 20
)

// dayWet is the hatch of what dries.
var dayWet = Hatch{45, 1.8, 0.35, Ink}

// daysSheet is a picture of days being drawn.
type daysSheet struct {
	Scene
	p          DaysPicture
	left, wide geom.MM // of the columns
	size       geom.MM // of the words beneath bars
}

// x is where a moment is: within the hours of a day, between two days at the edge of the later one.
func (s *daysSheet) x(t time.Time) geom.MM {
	each := s.wide / geom.MM(len(s.p.Columns))
	for i, c := range s.p.Columns {
		at := s.left + geom.MM(i)*each
		switch {
		case t.Before(c.Opens):
			return at
		case !t.After(c.Closes):
			return at + dayGap + (each-2*dayGap)*geom.MM(float64(t.Sub(c.Opens))/float64(c.Closes.Sub(c.Opens)))
		case i+1 < len(s.p.Columns) && t.Before(s.p.Columns[i+1].Opens):
			return at + each
		}
	}
	return s.left + s.wide
}

// need is what a bar takes of its lane: its time, and its label.
func (s *daysSheet) need(b DayBar) (from, to geom.MM) {
	from, to = s.x(b.From), s.x(b.To)
	from = min(from, s.left+s.wide-s.words(b.Label))
	return from, max(to, from+s.words(b.Label))
}

// words is the width of a text beneath a bar.
func (s *daysSheet) words(text string) geom.MM { return TextWidth(Bold, s.size, text) + dayGap }

// lanes puts bars into as few lanes as hold them and their labels without overlap, in the order of their times.
func (s *daysSheet) lanes(bars []DayBar) [][]DayBar {
	bars = slices.Clone(bars)
	slices.SortStableFunc(bars, func(a, b DayBar) int { return a.From.Compare(b.From) })
	var out [][]DayBar
	for _, b := range bars {
		if s.x(b.To)-s.x(b.From) <= 0 { // it is over, or outside the hours
			continue
		}
		from, _ := s.need(b)
		i := slices.IndexFunc(out, func(l []DayBar) bool {
			_, to := s.need(l[len(l)-1])
			return to <= from+0.01
		})
		if i < 0 {
			out, i = append(out, nil), len(out)
		}
		out[i] = append(out[i], b)
	}
	return out
}

// Days draws the coming days. What it is given in words is clipped, never drawn over something else.
func Days(p DaysPicture) Scene {
	s := &daysSheet{Scene: Scene{Width: p.Width, Height: p.Height, Title: p.Title}, p: p, left: dayMargin + 42}
	s.size = dayText * 1.2 // A3
	if p.Width < 350 {
		s.left, s.size = dayMargin+34, dayText
	}
	s.wide = p.Width - dayMargin - s.left
	y := dayMargin + dayTitle*0.8
	s.Label(geom.Pt(float64(dayMargin), float64(y)), dayTitle, Bold, Start, Accent, p.Title)
	s.key(y)
	y += 11
	if len(p.Columns) == 0 {
		return s.Scene
	}
	each := s.wide / geom.MM(len(p.Columns))
	for i, c := range p.Columns {
		s.Label(geom.Pt(float64(s.left+geom.MM(i)*each+dayGap), float64(y)), fitted(Bold, dayTitle, each-2*dayGap, c.Title), Bold, Start, Ink, c.Title)
	}
	y += 3
	top := y
	agreed := make([][]string, len(p.Columns))
	most := 1
	for i, c := range p.Columns {
		for _, l := range c.Agreed {
			agreed[i] = append(agreed[i], Fit(Bold, dayText, each-2*dayGap-2, l, 2)...)
		}
		most = max(most, len(agreed[i]))
	}
	lines := len(s.Figures) // of the days go beneath all that follows, once it is known how long they are
	s.name(p.Agreed, y, 7)
	for i := range p.Columns {
		for j, l := range agreed[i] {
			s.Label(geom.Pt(float64(s.left+geom.MM(i)*each+dayGap+1), float64(y+5+geom.MM(j)*6)), dayText, Bold, Start, Ink, l)
		}
	}
	y += geom.MM(most)*6 + 2.5
	var rows [][][]DayBar
	count := 0
	for _, r := range p.Rows {
		l := s.lanes(r.Bars)
		rows = append(rows, l)
		count += max(len(l), 1)
	}
	wet := s.lanes(p.Wet)
	foot := p.Height - dayMargin - 5
	air := geom.MM(len(p.Rows)+1) * 3
	hidden := 0
	height := func() geom.MM { return (foot - y - air) / geom.MM(count+max(len(wet), 1)) }
	for len(wet) > 1 && height() < leastLane {
		hidden += len(wet[len(wet)-1])
		wet = wet[:len(wet)-1]
	}
	lane := min(height(), mostLane)
	for i, r := range p.Rows {
		s.Line(geom.Pt(float64(dayMargin), float64(y)), geom.Pt(float64(p.Width-dayMargin), float64(y)), Stroke(Pale, 0.3))
		y += 1.5
		s.name(r.Title, y, lane)
		for _, l := range rows[i] {
			s.bars(l, y, lane, nil)
			y += lane
		}
		if len(rows[i]) == 0 {
			y += lane
		}
		y += 1.5
	}
	s.Line(geom.Pt(float64(dayMargin), float64(y)), geom.Pt(float64(p.Width-dayMargin), float64(y)), Stroke(Ink, 0.4))
	y += 1.5
	s.name(p.Drying, y, lane)
	for _, l := range wet {
		s.bars(l, y, lane, &dayWet)
		y += lane
	}
	under := Scene{}
	for i := range len(p.Columns) + 1 {
		x := float64(s.left + geom.MM(i)*each)
		under.Line(geom.Pt(x, float64(top)), geom.Pt(x, float64(max(y, top+20))), Stroke(Grey, 0.35))
	}
	if x := s.x(p.Now); x > s.left && x < s.left+s.wide {
		under.Line(geom.Pt(float64(x), float64(top)), geom.Pt(float64(x), float64(y)), Stroke(Accent, 0.8))
	}
	s.Figures = slices.Insert(s.Figures, lines, under.Figures...)
	note := p.Foot
	if hidden > 0 && p.More != "" {
		note += " " + p.More
	}
	s.Label(geom.Pt(float64(dayMargin), float64(p.Height-dayMargin)), 3.2, Regular, Start, Grey, Short(Regular, 3.2, p.Width-2*dayMargin, note))
	return s.Scene
}

// fitted is the size at which a title fits a width, at most the size given.
func fitted(f Font, size, width geom.MM, value string) geom.MM {
	if w := TextWidth(f, size, value); w > width {
		return size * width / w
	}
	return size
}

func (s *daysSheet) name(value string, y, lane geom.MM) {
	size := fitted(Bold, dayName, s.left-dayMargin-2, value)
	s.Label(geom.Pt(float64(dayMargin), float64(y+min(lane, 8)*0.5+size*0.36)), size, Bold, Start, Ink, value)
}

// bars draws a lane: bars, and beneath each its words, as far as they go within the bar's days and before the next one's.
func (s *daysSheet) bars(l []DayBar, y, lane geom.MM, wet *Hatch) {
	line := s.size * 1.3
	tall := lane - dayGap - line
	each := s.wide / geom.MM(len(s.p.Columns))
	for i, b := range l {
		x, to := s.x(b.From), s.x(b.To)
		st := Style{Fill: White, Stroke: Ink, Width: 0.35}
		switch {
		case wet != nil && b.State == DayPlanned:
			st.Dash, st.Hatch = []geom.MM{1.6, 1.1}, &Hatch{wet.Angle, wet.Spacing * 2, wet.Width * 0.6, Grey}
		case wet != nil:
			st.Hatch = wet
		case b.State == DayPlanned:
			st.Dash = []geom.MM{1.6, 1.1}
		case b.State == DayInHand:
			st.Width = 1
		case b.State == DayDone:
			st.Fill = Ink
		}
		s.Rect(x, y, max(to-x, 0.8), tall, st)
		at, _ := s.need(b)
		end := s.left + each*(geom.MM(int((to-s.left)/each-1e-6))+1) // of the day in which it ends
		if i+1 < len(l) {
			next, _ := s.need(l[i+1])
			end = min(end, next)
		}
		room := max(end-at-dayGap, TextWidth(Bold, s.size, b.Label))
		text := b.Label
		if b.Words != "" {
			if longer := Short(Bold, s.size, room, b.Label+" "+b.Words); len(longer) > len(b.Label)+3 {
				text = longer
			}
		}
		s.Rect(at, y+tall+0.4, TextWidth(Bold, s.size, text)+0.6, line-0.4, Fill(White))
		s.Label(geom.Pt(float64(at+0.3), float64(y+tall+line*0.82)), s.size, Bold, Start, Ink, text)
	}
}

// key says at the upper right what the looks mean.
func (s *daysSheet) key(y geom.MM) {
	x := s.Width - dayMargin
	for _, k := range []struct {
		says string
		st   Style
	}{{"dries", Style{Fill: White, Stroke: Ink, Width: 0.35, Hatch: &dayWet}}, {"planned", Style{Fill: White, Stroke: Ink, Width: 0.35, Dash: []geom.MM{1.6, 1.1}}},
		{"in hand", Style{Fill: White, Stroke: Ink, Width: 1}}, {"done", Style{Fill: Ink, Stroke: Ink, Width: 0.35}}} {
		x -= TextWidth(Regular, dayText, k.says)
		s.Label(geom.Pt(float64(x), float64(y)), dayText, Regular, Start, Ink, k.says)
		x -= 11
		s.Rect(x, y-3.4, 9, 4.2, k.st)
		x -= 5
	}
}
