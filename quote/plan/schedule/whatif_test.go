package schedule

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"benchbell/quote/plan"
)

// wanted is two commissions on one maker; the second is wished for earlier than one maker can have it.
func wanted() (plan.Problem, Wish) {
	day := time.Date(2026, 6, 1, 9, 0, 0, 0, time.UTC)
	p := plan.Problem{Start: day, Calendar: weekdays("UTC"), Resources: append(maker(1), plan.Resource{ID: "booth", Kind: "booth", Capacity: 1}), Schedules: 60, Runs: 200, Seed: 2,
		Projects: []plan.Project{{ID: "C1", Due: day.AddDate(0, 0, 3), Promised: true}, {ID: "C2"}}}
	for _, project := range []string{"C1", "C2"} {
		for _, part := range []string{"helm", "cuirass"} {
			id := func(s string) string { return project + " " + part + " " + s }
			add := func(s string, d plan.Minutes, after ...plan.Lag) {
				p.Operations = append(p.Operations, plan.Operation{ID: id(s), Group: part, Project: project, Kind: s, Duration: d, Low: d * 9 / 10, High: d * 13 / 10, Needs: byMaker, After: after})
			}
			add("cut", 200)
			add("glue", 240, plan.Lag{After: id("cut")})
			add("paint", 120, plan.Lag{After: id("glue"), Min: 120, Cure: "cement"})
		}
	}
	small := Variant{Name: "without paint", Cost: -4000}
	for _, o := range p.Operations {
		if o.Project == "C2" && o.Kind != "paint" {
			small.Operations = append(small.Operations, o)
		}
	}
	w := Wish{Project: "C2", By: day.AddDate(0, 0, 4), Variants: []Variant{small},
		Hire:  &Hire{Resource: plan.Resource{ID: "guest", Title: "Guest", Kind: "maker", Capacity: 1}, PerHour: 3000},
		Parts: &Parts{Groups: []string{"helm", "cuirass"}, Cost: 900}}
	var evenings []plan.Extra
	for d := range 4 {
		evenings = append(evenings, plan.Extra{Date: day.AddDate(0, 0, d).Format(time.DateOnly), From: 18 * 60, To: 21 * 60})
	}
	w.Overtime = []Overtime{{Name: "evening", Shifts: evenings, PerHour: 2000}}
	return p, w
}

// As planned is the plan that people have, however much better another would be, and moves nobody.
func TestAsPlannedIsThePlanSoFar(t *testing.T) {
	p, w := wanted()
	for i := range p.Operations {
		p.Operations[i].Planned = p.Start.AddDate(0, 0, 14+i)
	}
	options, err := WhatIf(t.Context(), p, w)
	if err != nil {
		t.Fatal(err)
	}
	for _, o := range options {
		switch o.Way {
		case AsPlanned:
			if o.Kept || len(o.Moved) > 0 || o.Solution.End.Before(p.Start.AddDate(0, 0, 14)) {
				t.Errorf("as planned is ready at %s, kept %t, and moves %v", o.Date, o.Kept, o.Moved)
			}
		case Anew:
			if !o.Solution.End.Before(p.Start.AddDate(0, 0, 14)) {
				t.Errorf("planned anew ends at %s", o.Solution.End)
			}
		}
	}
}

func TestWhatIf(t *testing.T) {
	p, w := wanted()
	options, err := WhatIf(context.Background(), p, w)
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]Option{}
	for k, o := range options {
		seen[o.Way] = o
		if k > 0 && o.Kept && (!options[k-1].Kept || options[k-1].Cost > o.Cost) {
			t.Errorf("option %d, %s, is not in order", k, o.Way)
		}
		if o.Kept && o.Way != ByParts && o.Date.After(w.By) {
			t.Errorf("%s is said to keep %s and is ready at %s", o.Way, w.By, o.Date)
		}
		if at := p80Of(&o.Solution, "C1"); at.After(p.Projects[0].Due) {
			t.Errorf("%s breaks the promise to C1: %s", o.Way, at)
		}
		t.Logf("%-17s %-16s kept %-5t cost %6d date %s first %v moved %v", o.Way, o.Name, o.Kept, o.Cost, o.Date.Format(time.RFC3339), o.First, o.Moved)
	}
	if len(seen) != 5 || seen[AsPlanned].Kept {
		t.Fatalf("%d ways, as planned kept %t", len(seen), seen[AsPlanned].Kept)
	}
	if o, ok := seen[Anew]; ok {
		t.Errorf("planned anew it is ready at %s, no sooner, and is offered all the same", o.Date)
	}
	if h := seen[ByHire]; !h.Kept || h.Cost <= 0 || h.Cost > 40*3000 {
		t.Errorf("another maker: %+v", h.Cost)
	}
	if o := seen[ByOvertime]; o.Kept && (o.Cost <= 0 || o.Cost > 12*2000) {
		t.Errorf("overtime costs %d", o.Cost)
	}
	if o, n := seen[ByOvertime], 0; true { // three hours an evening
		if _, err := fmt.Sscan(o.Name, &n); err != nil || o.Full != int64(n)*3*2000 {
			t.Errorf("%s cost %d for one who stays for all of it, want %d", o.Name, o.Full, n*3*2000)
		}
	}
	if v := seen[ByVariation]; v.Cost != -4000 || !v.Date.Before(seen[AsPlanned].Date) {
		t.Errorf("without paint: %+v", v.Date)
	}
	if parts := seen[ByParts]; !parts.Kept || len(parts.First) == 0 || len(parts.First) == 2 {
		t.Errorf("in parts: %v", parts.First)
	}
	w.By = p.Start.AddDate(0, 0, 21)
	options, err = WhatIf(context.Background(), p, w)
	if err != nil || len(options) != 1 || !options[0].Kept || options[0].Cost != 0 {
		t.Errorf("with three weeks there is nothing to do: %v %v", options, err)
	}
	w.Project = "C9"
	if _, err := WhatIf(context.Background(), p, w); err == nil || !strings.Contains(err.Error(), "C9") {
		t.Errorf("got %v", err)
	}
}
