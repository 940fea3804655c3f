package schedule

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"
	"time"

	"benchbell/quote/plan"
)

// Each tampering breaks one promise of a plan; Check must name it.
func TestCheckRefusesTampering(t *testing.T) {
	p := commission()
	p.Schedules, p.Runs = 20, 20
	good := solve(t, p)
	find := func(s *plan.Solution, id string) *plan.Scheduled {
		for i := range s.Operations {
			if s.Operations[i].ID == id {
				return &s.Operations[i]
			}
		}
		t.Fatalf("no operation %s", id)
		return nil
	}
	move := func(x *plan.Scheduled, d time.Duration) {
		x.Start, x.End = x.Start.Add(d), x.End.Add(d)
		for i := range x.Spans {
			x.Spans[i].From, x.Spans[i].To = x.Spans[i].From.Add(d), x.Spans[i].To.Add(d)
		}
	}
	order := func(s *plan.Solution) {
		slices.SortStableFunc(s.Operations, func(a, b plan.Scheduled) int { return a.Start.Compare(b.Start) })
	}
	for _, c := range []struct {
		name   string
		tamper func(*plan.Solution)
		words  string
	}{
		{"one missing", func(s *plan.Solution) { s.Operations = s.Operations[1:] }, "operations"},
		{"one twice", func(s *plan.Solution) { s.Operations[1] = s.Operations[0] }, "twice"},
		{"unknown", func(s *plan.Solution) { s.Operations[0].ID = "x" }, "lacks"},
		{"off the grid", func(s *plan.Solution) { move(find(s, "varnish5"), time.Minute); order(s) }, "grid"},
		{"at night", func(s *plan.Solution) { move(find(s, "varnish5"), 12*time.Hour); order(s) }, "closed hours"},
		{"a minute short", func(s *plan.Solution) {
			x := find(s, "varnish5")
			x.End = x.End.Add(-5 * time.Minute)
			x.Spans[len(x.Spans)-1].To = x.End
		}, "it takes"},
		{"span lost", func(s *plan.Solution) { x := find(s, "cut1"); x.Spans = nil }, "spans"},
		{"wrong kind", func(s *plan.Solution) { find(s, "cut1").Resources = []string{"booth"} }, "kinds"},
		{"no one", func(s *plan.Solution) { find(s, "cut1").Resources = nil }, "kinds"},
		{"stranger", func(s *plan.Solution) { find(s, "cut1").Resources = []string{"maker9"} }, "maker9"},
		{"two at once", func(s *plan.Solution) {
			for i := range s.Operations {
				for k, r := range s.Operations[i].Resources {
					if r == "maker2" {
						s.Operations[i].Resources[k] = "maker1"
					}
				}
			}
		}, "capacity"},
		{"too early a start", func(s *plan.Solution) { x := &s.Operations[0]; move(x, -7*24*time.Hour) }, "before the plan's start"},
		{"another end", func(s *plan.Solution) { s.End = s.End.Add(time.Hour) }, "ends at"},
		{"percentiles", func(s *plan.Solution) { s.P50 = s.P95.Add(time.Hour) }, "order"},
		{"cure gone", func(s *plan.Solution) { find(s, "glue1").Cure = nil }, "cure"},
		{"cure shortened", func(s *plan.Solution) { find(s, "glue1").Cure.Ready = find(s, "glue1").End }, "cure"},
		{"invented breach", func(s *plan.Solution) { s.Broken = []string{"x"} }, "broken"},
		{"out of order", func(s *plan.Solution) {
			n := len(s.Operations)
			s.Operations[0], s.Operations[n-1] = s.Operations[n-1], s.Operations[0]
		}, "listed before"},
	} {
		var s plan.Solution
		data, err := json.Marshal(good)
		if err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(data, &s); err != nil {
			t.Fatal(err)
		}
		if err := Check(p, s); err != nil {
			t.Fatalf("a plan through JSON is no plan: %v", err)
		}
		c.tamper(&s)
		if err := Check(p, s); err == nil || !strings.Contains(err.Error(), c.words) {
			t.Errorf("%s: got %v, want words %q", c.name, err, c.words)
		}
	}
}

// Promises are kept: a plan made without them does not pass where they are in its way.
func TestCheckSeesPromises(t *testing.T) {
	p := commission()
	p.Schedules, p.Runs = 20, 0
	s := solve(t, p)
	x := s.Operations[0]
	p.Busy = append(p.Busy, plan.Busy{Resource: x.Resources[0], From: x.Start, To: x.End, Label: "B-14"})
	if err := Check(p, s); err == nil || !strings.Contains(err.Error(), "promised") {
		t.Errorf("got %v", err)
	}
}

// A cure cut short is named by Check with both operations.
func TestCheckSeesShortenedCures(t *testing.T) {
	p := commission()
	p.Schedules, p.Runs = 20, 0
	s := solve(t, p)
	for i := range p.Operations {
		if p.Operations[i].ID == "seal1" {
			p.Operations[i].After[0].Min = 30 * 24 * 60
		}
	}
	if err := Check(p, s); err == nil || !strings.Contains(err.Error(), "glue1") || !strings.Contains(err.Error(), "the least is 720 h") {
		t.Errorf("got %v", err)
	}
}
