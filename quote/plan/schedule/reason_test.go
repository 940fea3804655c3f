package schedule

import (
	"context"
	"fmt"
	"testing"
	"time"

	"pgregory.net/rapid"

	"benchbell/quote/plan"
)

// Ends and starts of work are each other's inverse: from the first moment from which work ends at t or later it does, from the one
// before not; and what the calendar lays ends when it is said to.
func TestHoursAreInverse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := genProblem(t)
		m, err := compile(&p)
		if err != nil {
			t.Skip("contradiction")
		}
		h := &hours{m: m, cal: m.cal, ops: numbersTo(len(m.tasks))}
		for range 20 {
			work := int32(rapid.IntRange(0, len(m.tasks)-1).Draw(t, "work"))
			at := int32(rapid.IntRange(-50, 4000).Draw(t, "at"))
			end := h.End(work, at)
			if x := &m.tasks[work]; at >= 0 {
				spans, err := m.cal.lay(nil, m.start+slot(at), x.dur, x.whole)
				if err != nil || m.start+slot(end) != spans[len(spans)-1].to {
					t.Fatalf("work of %d from %d ends at %d, laid at %v", x.dur, at, end, spans)
				}
			}
			first := h.Start(work, end)
			if first > at || h.End(work, first) < end || first > -never32 && h.End(work, first-1) >= end {
				t.Fatalf("from %d on work ends at %d or later, from %d it ends at %d", first, end, at, end)
			}
			if after := h.Start(work, end+1); after <= at || h.End(work, after-1) > end {
				t.Fatalf("from %d on work ends after %d, from %d it ends at %d", after, end, at, end)
			}
		}
	})
}

// What reasoning proves holds: no long search and no branch and bound finds an end before the lower bound, and what it takes is a
// plan no worse than what there was.
func TestReasoningHolds(t *testing.T) {
	looked := 0
	rapid.Check(t, func(t *rapid.T) {
		p := genProblem(t)
		for i := range p.Operations {
			p.Operations[i].Planned = time.Time{}
		}
		for i := range p.Projects {
			p.Projects[i].Due = time.Time{}
		}
		m, err := compile(&p)
		if err != nil {
			t.Skip("contradiction")
		}
		ctx := newMeter(context.Background(), Options{}, 1, 0)
		g := newGenerator(m)
		people, err := search(m, 4, m.start, ctx)
		if err != nil {
			t.Fatal(err)
		}
		before := people[0].score
		if people, err = m.reason(g, people, ctx); err != nil {
			t.Fatal(err)
		}
		if before.better(people[0].score) {
			t.Fatalf("a plan worth %+v was taken for one worth %+v", people[0].score, before)
		}
		if err := g.decode(&people[0]); err != nil || g.score() != people[0].score {
			t.Fatalf("a plan worth %+v is said to be worth %+v, %v", g.score(), people[0].score, err)
		}
		if !m.bounded {
			return
		}
		looked++
		floor := m.floor
		if floor > people[0].score.finish {
			t.Fatalf("the bound %d is after the end %d", floor-m.start, people[0].score.finish-m.start)
		}
		long, err := search(m, 300, m.start, newMeter(context.Background(), Options{}, 300, 0))
		if err != nil {
			t.Fatal(err)
		}
		if x := newProver(m, g, long[0].score, ctx); x != nil {
			if x.run(); x.found != nil {
				long[0].score = x.best
			}
		}
		if c := long[0].score; c.broken == 0 && c.finish < floor {
			t.Fatalf("a plan ends at %d, before the bound %d", c.finish-m.start, floor-m.start)
		}
	})
	if looked == 0 {
		t.Error("nothing was looked at")
	}
}

// Four pieces of work of two and a half hours each, in one go, on one maker in shifts of four hours take four shifts: their time would
// do for three, so that neither ways nor energy tell. Reasoning proves it, whichever of them the search did first.
func TestReasoningProves(t *testing.T) {
	p := plan.Problem{Start: moment(t, "2026-09-07T06:00:00Z"), Calendar: weekdays("UTC"), Resources: maker(1)}
	for k := range 4 {
		p.Operations = append(p.Operations, plan.Operation{ID: fmt.Sprint(k), Duration: 150, Whole: true, Needs: byMaker})
	}
	m, err := compile(&p)
	if err != nil {
		t.Fatal(err)
	}
	g, ctx := newGenerator(m), newMeter(context.Background(), Options{}, 1, 0)
	people, err := search(m, 1, m.start, ctx)
	if err != nil {
		t.Fatal(err)
	}
	end := people[0].score.finish
	if quick := m.lowerBound(g.cal, end); quick >= end {
		t.Fatalf("the quick bound is %d already", quick-m.start)
	}
	if _, err := m.reason(g, people, ctx); err != nil || m.floor != end {
		t.Errorf("no plan ends before %d, want before %d; %v", m.floor-m.start, end-m.start, err)
	}
}
