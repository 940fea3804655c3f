package rehearsal

import (
	"fmt"
	"strconv"

	"benchbell/quote/draw"
	"benchbell/quote/geom"
)

// The picture for a phone: 3.2 mm text on 90 mm is 14 of its 390 pixels.
const (
	wide   geom.MM = 90
	text   geom.MM = 3.2
	pixels         = 12

	// mostDays from its date that a commission is shown apart; what is further off is shown with these.
	mostDays = 10
)

// picture shows, of what was played, how many days before or after the date first told the work was ready, for each arm.
func picture(studio, span string, all []tally) draw.Scene {
	const panel, top geom.MM = 62, 21
	s := draw.Scene{Width: wide, Height: top + panel*geom.MM(len(all)) + 2, Title: "When work was ready, against the date first told: " + studio + ", " + span}
	s.Rect(0, 0, s.Width, s.Height, draw.Fill(draw.White))
	s.Label(at(4, 7), 4.2, draw.Bold, draw.Start, draw.Ink, "Ready, against the date told")
	s.Label(at(4, 12.5), text, draw.Regular, draw.Start, draw.Ink, draw.Short(draw.Regular, text, wide-8, studio))
	s.Label(at(4, 17.5), text, draw.Regular, draw.Start, draw.Ink, draw.Short(draw.Regular, text, wide-8, span))
	for k, t := range all {
		panelOf(&s, top+panel*geom.MM(k), t)
	}
	return s
}

func at(x, y geom.MM) geom.Point { return geom.Point{X: float64(x), Y: float64(y)} }

// panelOf draws one arm: a bar for each number of days, those after the date hatched.
func panelOf(s *draw.Scene, y geom.MM, t tally) {
	count := map[int]int{}
	most := 1
	for _, d := range t.days {
		d = min(max(d, -mostDays), mostDays)
		count[d]++
		most = max(most, count[d])
	}
	s.Label(at(4, y+5), 3.6, draw.Bold, draw.Start, draw.Accent, t.name)
	s.Label(at(wide-4, y+5), 3.6, draw.Bold, draw.End, draw.Ink, fmt.Sprintf("%.0f %% of %d kept", t.KeptPercent, t.Promises))
	const left, right, foot, high geom.MM = 5, 5, 46, 32
	step := (wide - left - right) / (2*mostDays + 1)
	hatch := draw.Style{Fill: draw.White, Stroke: draw.Ink, Width: 0.3, Hatch: &draw.Hatch{Angle: 45, Spacing: 1, Width: 0.3, Color: draw.Ink}}
	for d := -mostDays; d <= mostDays; d++ {
		x := left + step*geom.MM(d+mostDays)
		h := high * geom.MM(count[d]) / geom.MM(most)
		st := draw.Style{Fill: draw.Accent, Stroke: draw.Accent, Width: 0.3}
		if d > 0 {
			st = hatch
		}
		if h > 0 {
			s.Rect(x+0.3, y+foot-h, step-0.6, h, st)
			s.Label(at(x+step/2, y+foot-h-0.8), 2.6, draw.Regular, draw.Middle, draw.Ink, strconv.Itoa(count[d]))
		}
		if d%5 == 0 {
			name := strconv.Itoa(max(d, -d))
			if d == -mostDays || d == mostDays {
				name += "+"
			}
			s.Label(at(x+step/2, y+foot+4), text, draw.Regular, draw.Middle, draw.Ink, name)
		}
	}
	s.Line(at(left, y+foot), at(wide-right, y+foot), draw.Stroke(draw.Ink, 0.3))
	edge := left + step*(mostDays+1)
	s.Line(at(edge, y+9), at(edge, y+foot), draw.Stroke(draw.Ink, 0.4, 1.2, 1))
	s.Label(at(left, y+foot+8.5), text, draw.Regular, draw.Start, draw.Ink, "days early, or on the day")
	s.Label(at(wide-right, y+foot+8.5), text, draw.Regular, draw.End, draw.Ink, "days late")
}
