package schedule

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"benchbell/quote/plan"
)

// quotedShop has one maker, an hour of work of our own, and so many open quotes that hold two hours of the maker each before it.
func quotedShop(quotes int) plan.Problem {
	day := time.Date(2026, 6, 1, 9, 0, 0, 0, time.UTC)
	p := plan.Problem{Start: day, Calendar: plan.Calendar{Zone: "UTC", Shifts: []plan.Shift{{Weekday: time.Monday, From: 0, To: 24 * 60}}},
		Resources: []plan.Resource{{ID: "maker", Kind: "maker", Capacity: 1}}, Schedules: 20, Runs: 4000, Seed: 7,
		Operations: []plan.Operation{{ID: "ours", Duration: 60, Needs: []plan.Need{{Kind: "maker"}}, Project: "ours"}}}
	for i := range quotes {
		p.Busy = append(p.Busy, plan.Busy{Resource: "maker", From: day.Add(time.Duration(2*i) * time.Hour), To: day.Add(time.Duration(2*i+2) * time.Hour), Label: fmt.Sprint("Q", i), Open: true})
	}
	return p
}

// How many of four open quotes come true follows the beta-binomial distribution: by hand, for 3 accepted and 2 that came to
// nothing, P(k) = C(4, k) B(3 + k, 6 - k) / B(3, 2) = 10/70, 16/70 and so on. (N. L. Johnson, A. W. Kemp and S. Kotz, Univariate
// Discrete Distributions, section 6.2.2, from memory; the five values were worked out by hand and add up to 1.)
func TestQuotesComeTrueAsBetaBinomial(t *testing.T) {
	p := quotedShop(4)
	p.Chance = &plan.Chance{Accepted: 3, Lapsed: 2}
	m, err := compile(&p)
	if err != nil {
		t.Fatal(err)
	}
	const runs = 100_000
	draws := policy{m: m, quotes: m.openQuotes(), came: make([]bool, 4)}
	var count [5]int
	var each [4]int
	for r := range runs {
		draws.run = int32(r)
		draws.draw()
		n := 0
		for k, c := range draws.came {
			if c {
				n++
				each[k]++
			}
		}
		count[n]++
	}
	// B(3,2) = 1/12; B(3,6) = 1/168, B(4,5) = 1/280, B(5,4) = 1/280, B(6,3) = 1/168, B(7,2) = 1/56.
	for k, want := range [5]float64{12. / 168, 4 * 12. / 280, 6 * 12. / 280, 4 * 12. / 168, 12. / 56} {
		got, sd := float64(count[k])/runs, math.Sqrt(want*(1-want)/runs)
		if math.Abs(got-want) > 4.5*sd {
			t.Errorf("%d of 4 come true in %.4f of the runs, want %.4f ± %.4f", k, got, want, sd)
		}
	}
	for k, n := range each {
		if got := float64(n) / runs; math.Abs(got-0.6) > 4.5*math.Sqrt(0.24/runs) {
			t.Errorf("quote %d comes true in %.4f of the runs, want 0.6: whichever is drawn first", k, got)
		}
	}
}

// The work is planned around an open quote's place, and its odds count how often that place falls free.
func TestPlaceOfAnOpenQuote(t *testing.T) {
	p := quotedShop(1)
	p.Chance = &plan.Chance{Accepted: 3, Lapsed: 1}
	p.Projects = []plan.Project{{ID: "ours", Due: p.Start.Add(time.Hour)}}
	s, err := Solve(t.Context(), p, nil)
	if err != nil {
		t.Fatal(err)
	}
	if at := s.Operations[0].Start; !at.Equal(p.Start.Add(2 * time.Hour)) {
		t.Errorf("planned at %s, on the open quote's place", at)
	}
	// Within the hour only where the quote comes to nothing: 1/4.
	if k := s.Dates[0].Kept; math.Abs(k-0.25) > 4.5*math.Sqrt(0.25*0.75/4000) {
		t.Errorf("done within the hour in %.3f of the runs, want 0.25", k)
	}
	if !s.Dates[0].P50.Equal(p.Start.Add(3 * time.Hour)) {
		t.Errorf("half of the runs are done by %s", s.Dates[0].P50)
	}
	p.Busy[0].Open = false
	if s, err = Solve(t.Context(), p, nil); err != nil || s.Dates[0].Kept != 0 {
		t.Errorf("a place that is certain falls free in %.3f of the runs (%v)", s.Dates[0].Kept, err)
	}
}

// A project whose quote is open has the dates of the runs in which it comes true, and takes nobody's time in the others.
func TestOpenProject(t *testing.T) {
	p := quotedShop(0)
	p.Chance = &plan.Chance{Accepted: 2, Lapsed: 2}
	first := plan.Operation{ID: "first", Duration: 120, Needs: []plan.Need{{Kind: "maker"}}, Project: "quoted", Planned: p.Start}
	p.Operations[0].Planned = p.Start.Add(2 * time.Hour)
	p.Operations = append(p.Operations, first)
	p.Projects = []plan.Project{{ID: "quoted", Open: true, Due: p.Start.Add(2 * time.Hour)}, {ID: "ours", Due: p.Start.Add(time.Hour)}}
	s, err := Settle(t.Context(), p)
	if err != nil {
		t.Fatal(err)
	}
	if k := s.Dates[0].Kept; k != 1 {
		t.Errorf("the quoted work is done in its two hours in %.3f of the runs in which it comes true", k)
	}
	if k := s.Dates[1].Kept; math.Abs(k-0.5) > 4.5*math.Sqrt(0.25/4000) {
		t.Errorf("ours is done within the hour in %.3f of the runs, want 0.5", k)
	}
}

// A deposit may come on any day until the last: the work begins evenly between.
func TestLateDeposit(t *testing.T) {
	p := quotedShop(0)
	p.Projects = []plan.Project{{ID: "ours", Latest: p.Start.Add(10 * time.Hour), Due: p.Start.Add(4*time.Hour + time.Minute)}}
	s, err := Solve(t.Context(), p, nil)
	if err != nil {
		t.Fatal(err)
	}
	// Done by 13:00 where it begins by 12:00: 37 of the 121 moments.
	if k, want := s.Dates[0].Kept, 37./121; math.Abs(k-want) > 4.5*math.Sqrt(want*(1-want)/4000) {
		t.Errorf("done by 13:00 in %.3f of the runs, want %.3f", k, want)
	}
	p.Projects[0].Release, p.Projects[0].Latest = p.Start.Add(3*time.Hour), p.Start.Add(time.Hour)
	if _, err := Solve(t.Context(), p, nil); err == nil || !strings.Contains(err.Error(), "before its release") {
		t.Errorf("a latest start before the release is answered with %v", err)
	}
	p.Projects[0] = plan.Project{ID: "ours"}
	p.Chance = &plan.Chance{Accepted: 0, Lapsed: 1}
	if _, err := Solve(t.Context(), p, nil); err == nil || !strings.Contains(err.Error(), "above 0") {
		t.Errorf("a chance of 0 to 1 is answered with %v", err)
	}
}

// Nobody stands idle for work whose deposit is awaited: what comes after it in the plan goes first until it is let go.
func TestNobodyWaitsForADeposit(t *testing.T) {
	day := time.Date(2026, 6, 1, 9, 0, 0, 0, time.UTC)
	byMaker := []plan.Need{{Kind: "maker"}}
	p := plan.Problem{Start: day, Calendar: weekdays("UTC"), Resources: []plan.Resource{{ID: "maker", Kind: "maker", Capacity: 1}}, Schedules: 20, Runs: 2000, Seed: 3,
		Operations: []plan.Operation{
			{ID: "awaited", Project: "awaited", Duration: 60, Needs: byMaker, Planned: day},
			{ID: "paid 1", Project: "paid", Duration: 60, Needs: byMaker, Planned: day.Add(time.Hour)},
			{ID: "paid 2", Project: "paid", Duration: 60, Needs: byMaker, Planned: day.Add(2 * time.Hour), After: []plan.Lag{{After: "paid 1"}}},
		},
		Projects: []plan.Project{{ID: "awaited", Latest: day.AddDate(0, 0, 4)}, {ID: "paid", Due: day.Add(3 * time.Hour), Promised: true}}}
	s, err := Settle(t.Context(), p)
	if err != nil {
		t.Fatal(err)
	}
	if s.Operations[0].Start.After(s.Operations[1].Start) {
		t.Fatalf("what is awaited is not planned first: %v", s.Operations)
	}
	// An hour of the awaited work fits before it, or comes after the first or second hour of the other, which is late by it in the
	// few runs in which it is let go just then.
	if k := s.Dates[1].Kept; k < 0.95 {
		t.Errorf("the paid work is done in time in %.3f of the runs: it waits for the other's deposit", k)
	}
}
