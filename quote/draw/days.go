package draw

import (
	"fmt"
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
	Rows          []DayRow
}

// DayColumn is one day, with its hours.
type DayColumn struct {
	Title         string
	Opens, Closes time.Time
}

// DayRow is a maker, a place, or what dries: a strip with its times, and for each day what it is in words, a line each.
type DayRow struct {
	Title string
	Bars  []DayBar // none in any row: it has no strip
	Lines [][]string
	Wet   bool // hatched
	Bare  bool // without a strip
}

// DayBar is a stretch of time.
type DayBar struct {
	From, To time.Time
	State    DayState
}

// DayState says how a bar looks: done is solid, in hand is framed, planned is dashed.
type DayState int

// States of a bar.
const (
	DayPlanned DayState = iota
	DayInHand
	DayDone
)

// Sizes, mm: a title of 22 points is read from two metres, lines of 12 from one (common practice, no source).
const (
	dayTitle  geom.MM = 7.76 // 22 points
	dayName   geom.MM = 5.6
	dayText   geom.MM = 4.3 // at least
	dayMargin geom.MM = 10
	dayGap    geom.MM = 1.2
	dayStrip  geom.MM = 5.5
	rowAir    geom.MM = 3
)

// dayWet is the hatch of what dries, drawn finer where it is only planned to.
var dayWet, dayWetPlanned = Hatch{45, 1.6, 0.35, Ink}, Hatch{45, 3.2, 0.2, Grey}

// daysSheet is a picture of days being drawn.
type daysSheet struct {
	Scene
	p                DaysPicture
	left, wide, each geom.MM // of the columns, and of one
}

// x is where a moment is: within the hours of a day, between two days at the edge of the later one.
func (s *daysSheet) x(t time.Time) geom.MM {
	for i, c := range s.p.Columns {
		at := s.left + geom.MM(i)*s.each
		switch {
		case t.Before(c.Opens):
			return at
		case !t.After(c.Closes):
			return at + dayGap + (s.each-2*dayGap)*geom.MM(float64(t.Sub(c.Opens))/float64(c.Closes.Sub(c.Opens)))
		}
	}
	return s.left + s.wide
}

// Days draws the coming days. Rows that are higher than the picture end with how many lines there are more.
func Days(p DaysPicture) Scene {
	s := &daysSheet{Scene: Scene{Width: p.Width, Height: p.Height, Title: p.Title}, p: p, left: dayMargin + 42}
	if p.Width < 350 {
		s.left = dayMargin + 34
	}
	s.wide = p.Width - dayMargin - s.left
	y := dayMargin + dayTitle*0.8
	s.Label(geom.Pt(float64(dayMargin), float64(y)), dayTitle, Bold, Start, Accent, p.Title)
	s.key(y)
	foot := p.Height - dayMargin
	s.Label(geom.Pt(float64(dayMargin), float64(foot)), 3.2, Regular, Start, Grey, Short(Regular, 3.2, p.Width-2*dayMargin, p.Foot))
	if len(p.Columns) == 0 {
		return s.Scene
	}
	s.each = s.wide / geom.MM(len(p.Columns))
	y += 11
	for i, c := range p.Columns {
		s.Label(geom.Pt(float64(s.left+geom.MM(i)*s.each+dayGap), float64(y)), fitted(Bold, dayTitle, s.each-2*dayGap, c.Title), Bold, Start, Ink, c.Title)
	}
	y += 3
	room := foot - 6 - y
	size, shown := s.share(room)
	line := size * 1.32
	top := y
	under := len(s.Figures) // the lines of the days go beneath all that follows
	for i, r := range s.p.Rows {
		st := Stroke(Pale, 0.3)
		if r.Wet {
			st = Stroke(Ink, 0.4)
		}
		s.Line(geom.Pt(float64(dayMargin), float64(y)), geom.Pt(float64(p.Width-dayMargin), float64(y)), st)
		y += rowAir / 2
		name := fitted(Bold, dayName, s.left-dayMargin-2, r.Title)
		s.Label(geom.Pt(float64(dayMargin), float64(y+name*0.9)), name, Bold, Start, Ink, r.Title)
		if !r.Bare {
			s.strip(r, y)
			y += dayStrip
		}
		for k, lines := range r.Lines {
			for j, l := range lines {
				if j == shown[i]-1 && len(lines) > shown[i] {
					l = fmt.Sprintf("and %d more", len(lines)-j)
				}
				if j < shown[i] {
					s.Label(geom.Pt(float64(s.left+geom.MM(k)*s.each+dayGap), float64(y+geom.MM(j+1)*line-size*0.3)), size, Bold, Start, Ink, Short(Bold, size, s.each-2*dayGap, l))
				}
			}
		}
		y += geom.MM(shown[i])*line + rowAir/2
	}
	lines := Scene{}
	for i := range len(p.Columns) + 1 {
		x := float64(s.left + geom.MM(i)*s.each)
		lines.Line(geom.Pt(x, float64(top)), geom.Pt(x, float64(y)), Stroke(Grey, 0.35))
	}
	s.Figures = slices.Insert(s.Figures, under, lines.Figures...)
	return s.Scene
}

// share breaks the words of the rows into lines and says at which size, and how many lines each row shows, so that all rows have room:
// words are as large and as whole as they go, and where even one short line each is too much, the longest rows give way.
func (s *daysSheet) share(room geom.MM) (size geom.MM, shown []int) {
	rows := s.p.Rows
	for _, r := range rows {
		room -= rowAir
		if !r.Bare {
			room -= dayStrip
		}
	}
	try := func(most int, size geom.MM) (out []DayRow, lines []int, all int) {
		for _, r := range rows {
			broken, n := make([][]string, len(r.Lines)), 1
			for k, day := range r.Lines {
				for _, l := range day {
					broken[k] = append(broken[k], Fit(Bold, size, s.each-2*dayGap, l, most)...)
				}
				n = max(n, len(broken[k]))
			}
			r.Lines = broken
			out, lines, all = append(out, r), append(lines, n), all+n
		}
		return out, lines, all
	}
	for _, most := range []int{3, 2, 1} {
		for _, k := range []geom.MM{1.3, 1.15, 1, 0.9} { // 11 points before words are cut short
			size = dayText * k
			if out, lines, all := try(most, size); geom.MM(all)*size*1.32 <= room {
				s.p.Rows = out
				return size, lines
			}
		}
	}
	out, lines, all := try(1, dayText)
	s.p.Rows = out
	for all > len(lines) && geom.MM(all)*dayText*1.32 > room {
		lines[slices.Index(lines, slices.Max(lines))]--
		all--
	}
	return min(dayText, max(room/geom.MM(max(all, 1))/1.32, 2)), lines
}

// fitted is the size at which a title fits a width, at most the size given.
func fitted(f Font, size, width geom.MM, value string) geom.MM {
	if w := TextWidth(f, size, value); w > width {
		return size * width / w
	}
	return size
}

// strip draws the times of a row.
func (s *daysSheet) strip(r DayRow, y geom.MM) {
	const tall = dayStrip - 0.8
	bars := slices.Clone(r.Bars)
	slices.SortStableFunc(bars, func(a, b DayBar) int { return int(a.State) - int(b.State) }) // what is planned lies beneath what is
	for _, b := range bars {
		x, to := s.x(b.From), s.x(b.To)
		if to <= x {
			continue
		}
		st := Style{Fill: White, Stroke: Ink, Width: 0.35}
		switch {
		case r.Wet && b.State == DayPlanned:
			st.Fill, st.Dash, st.Hatch = None, []geom.MM{1.6, 1.1}, &dayWetPlanned
		case r.Wet:
			st.Hatch = &dayWet
		case b.State == DayPlanned:
			st.Dash = []geom.MM{1.6, 1.1}
		case b.State == DayInHand:
			st.Width = 1
		case b.State == DayDone:
			st.Fill = Ink
		}
		s.Rect(x, y, max(to-x, 0.8), tall, st)
	}
	if x := s.x(s.p.Now); x > s.left && x < s.left+s.wide {
		s.Line(geom.Pt(float64(x), float64(y-0.6)), geom.Pt(float64(x), float64(y+tall+0.6)), Stroke(Accent, 0.9))
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
