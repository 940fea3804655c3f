package draw

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"time"
)

// shopPlan is an invented shop plan of n commissions with about a dozen operations each, two makers and one booth: each
// commission's next operation goes to the maker who is free first, and coats wait for the coat before.
func shopPlan(n int) PlanPicture {
	begin := time.Date(2026, 11, 30, 0, 0, 0, 0, zone)
	r := rand.New(rand.NewPCG(7, uint64(n)))
	g := PlanPicture{Title: fmt.Sprintf("Plan of the shop, %d commissions", n), Zone: zone, From: begin, Now: begin.Add(34*time.Hour + 20*time.Minute),
		Legend: []string{"Drying times at 18 °C and 55 % relative humidity. The data sheet holds where it differs."}}
	if n == 1 {
		g.Title = "Plan of C0007, revision 2"
	}
	for d := range 180 {
		at := begin.AddDate(0, 0, d)
		if w := at.Weekday(); w != time.Saturday && w != time.Sunday {
			g.Open = append(g.Open, Span{at.Add(9 * time.Hour), at.Add(12*time.Hour + 30*time.Minute)}, Span{at.Add(13 * time.Hour), at.Add(17 * time.Hour)})
		}
	}
	// worked lays minutes of work into the open hours from t on.
	worked := func(t time.Time, minutes int) []Span {
		rest := time.Duration(minutes) * time.Minute
		var out []Span
		for _, o := range g.Open {
			from := o.From
			if from.Before(t) {
				from = t
			}
			if !from.Before(o.To) || rest <= 0 {
				continue
			}
			to := from.Add(min(rest, o.To.Sub(from)))
			rest -= to.Sub(from)
			out = append(out, Span{from, to})
		}
		return out
	}
	steps := []struct {
		title, kind string
		minutes     int
		booth       bool
		cure        time.Duration
		window      time.Duration
	}{
		{"Cut 8 mm foam", "cut", 150, false, 0, 0}, {"Cut 5 mm foam", "cut", 60, false, 0, 0}, {"Bevel edges", "form", 110, false, 0, 0},
		{"Score and heat-form", "form", 120, false, 0, 0}, {"Glue seams", "glue", 190, false, 40 * time.Minute, 0},
		{"Heat-seal the foam", "seal", 45, false, 0, 0}, {"First fitting", "fit", 30, false, 0, 0}, {"Prime, coat 1 of 2", "prime", 40, true, 90 * time.Minute, 0},
		{"Prime, coat 2 of 2", "prime", 40, true, 4 * time.Hour, 0}, {"Base colour, coat 1", "paint", 75, true, 0, time.Hour},
		{"Base colour, coat 2", "paint", 75, true, 5 * time.Hour, 26 * time.Hour}, {"Clear coat", "varnish", 50, true, 24 * time.Hour, 0},
		{"Hardware and straps", "fit", 120, false, 0, 0},
	}
	makers := []Lane{{Title: "Maker: Ida"}, {Title: "Maker: Jon"}}
	booth, bench := Lane{Title: "Spray booth"}, Lane{Title: "Large bench"}
	free := []time.Time{begin, begin}
	boothFree := begin
	ready := make([]time.Time, n)
	for i := range steps {
		for c := range n {
			s := steps[i]
			if i == 0 {
				ready[c] = begin.Add(time.Duration(c) * 20 * time.Hour)
			}
			m := 0
			if free[1].Before(free[0]) {
				m = 1
			}
			at := ready[c]
			for _, t := range []time.Time{free[m]} {
				if at.Before(t) {
					at = t
				}
			}
			if s.booth && at.Before(boothFree) {
				at = boothFree
			}
			name := fmt.Sprintf("C%04d %s", 7+c, []string{"shoulders", "forearm cuff", "breastplate", "greaves", "helmet", "shield", "belt", "gauntlets", "pauldron", "wings", "mask", "tassets"}[c%12])
			b := Bar{Number: i + 1, Title: s.title, Kind: s.kind, Commission: name, Spans: worked(at, s.minutes*(80+r.IntN(50))/100/5*5), Critical: c == n-1 && i%6 > 1}
			end := b.Spans[len(b.Spans)-1].To
			b.Frozen = b.Spans[0].From.Before(g.Now)
			free[m], ready[c] = end, end.Add(s.cure)
			makers[m].Bars = append(makers[m].Bars, b)
			if s.booth {
				boothFree = end
				booth.Bars = append(booth.Bars, b)
			} else if s.kind == "glue" {
				bench.Bars = append(bench.Bars, b)
			}
			if s.cure > 0 || s.window > 0 {
				q := CureBar{Title: "after " + s.title, Lane: "Drying rack", From: end, Ready: end.Add(max(s.cure, 5*time.Minute)), Commission: name, Critical: b.Critical}
				switch {
				case s.cure == 0:
					q.Windows = []Span{{end.Add(5 * time.Minute), end.Add(s.window)}, {end.Add(48 * time.Hour), time.Time{}}}
				case s.window > 0:
					q.Latest = end.Add(s.window)
				}
				g.Cures = append(g.Cures, q)
			}
			if i == len(steps)-1 {
				g.Promises = append(g.Promises, PromiseMark{name, time.Date(end.Year(), end.Month(), end.Day()+2, 17, 0, 0, 0, zone)})
			}
		}
	}
	g.Lanes = append(makers, bench, booth)
	for i := range g.Lanes {
		slices.SortStableFunc(g.Lanes[i].Bars, func(a, b Bar) int { return a.Spans[0].From.Compare(b.Spans[0].From) })
	}
	return g
}

// phone is the plan in pictures for a chat: 90 mm wide, so that 2 mm text is 9 of 390 pixels.
func phone(g PlanPicture) PlanPicture {
	g.Width, g.Height = 90, 300
	return g
}

// upright is the plan for A4 portrait with margins of 20, below a heading and a note.
func upright(g PlanPicture) PlanPicture {
	g.Width, g.Height = 170, 220
	return g
}
