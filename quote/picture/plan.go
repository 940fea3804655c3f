package picture

import (
	"sort"
	"time"

	"benchbell/quote"
	"benchbell/quote/draw"
	"benchbell/quote/plan"
)

// PlanPicture describes a plan for draw.Gantt: a lane for each maker and place, cures beneath by assembly, the critical
// chain marked.
func PlanPicture(p plan.Solution, st quote.Studio, zone *time.Location, title string, promise time.Time) draw.PlanPicture {
	g := draw.PlanPicture{Title: title, Zone: zone, Promise: promise}
	number := map[string]int{}
	ops := append([]plan.Scheduled(nil), p.Operations...)
	sort.SliceStable(ops, func(i, j int) bool { return ops[i].Start.Before(ops[j].Start) })
	for i, o := range ops {
		number[o.ID] = i + 1
		if g.From.IsZero() || o.Start.Before(g.From) {
			g.From = o.Start
		}
		if o.End.After(g.To) {
			g.To = o.End
		}
		if o.Cure != nil && o.Cure.Ready.After(g.To) {
			g.To = o.Cure.Ready
		}
	}
	if promise.After(g.To) {
		g.To = promise
	}
	for _, r := range st.Resources {
		lane := draw.Lane{Title: r.Title}
		for _, o := range ops {
			for _, id := range o.Resources {
				if id != r.ID {
					continue
				}
				bar := draw.Bar{Number: number[o.ID], Title: o.Title, Kind: o.Kind, Critical: o.Critical}
				for _, sp := range o.Spans {
					bar.Spans = append(bar.Spans, draw.Span{From: sp.From, To: sp.To})
				}
				lane.Bars = append(lane.Bars, bar)
			}
		}
		g.Lanes = append(g.Lanes, lane)
	}
	// A cure is critical if a critical operation waits for it.
	critical := map[string]bool{}
	for _, o := range ops {
		if o.Critical && o.Wait != nil && o.Wait.Why == plan.WaitCure {
			critical[o.Wait.For] = true
		}
	}
	for _, o := range ops {
		if o.Cure != nil && o.Cure.Ready.After(o.Cure.From) {
			g.Cures = append(g.Cures, draw.CureBar{Title: o.Cure.Material, Lane: o.Group, From: o.Cure.From, Ready: o.Cure.Ready, Latest: o.Cure.Latest, Critical: critical[o.ID]})
		}
	}
	g.Open = OpenSpans(st.Calendar, zone, g.From, g.To)
	return g
}

// openSpans lists the working hours between two times.
func OpenSpans(c plan.Calendar, zone *time.Location, from, to time.Time) []draw.Span {
	var out []draw.Span
	const horizon = 2 * 366 // days drawn at most
	f := from.In(zone)
	for i := 0; i < horizon; i++ {
		day := time.Date(f.Year(), f.Month(), f.Day()+i, 0, 0, 0, 0, zone)
		if day.After(to) {
			break
		}
		if !c.Open(day) {
			continue
		}
		for _, s := range c.Shifts {
			if s.Weekday == day.Weekday() {
				at := func(m int) time.Time {
					return time.Date(day.Year(), day.Month(), day.Day(), m/60, m%60, 0, 0, zone)
				}
				out = append(out, draw.Span{From: at(s.From), To: at(s.To)})
			}
		}
	}
	return out
}
