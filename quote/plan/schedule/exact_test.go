package schedule

import (
	"context"
	"fmt"
	"testing"
	"time"

	"pgregory.net/rapid"

	"benchbell/quote/plan"
)

// What is proved to be the best is better than everything a long search finds, or as good; what was not finished is a plan
// no worse than what it started from.
func TestNothingBeatsWhatIsProved(t *testing.T) {
	small, proved := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		p := genProblem(t)
		m, err := compile(&p)
		if err != nil {
			t.Skip("contradiction")
		}
		found := func(schedules int) individual {
			people, err := search(m, schedules, m.start, newMeter(context.Background(), Options{}, schedules, 0))
			if err != nil {
				t.Fatal(err)
			}
			return people[0]
		}
		g, first := newGenerator(m), found(6)
		x := newProver(m, g, first.score, newMeter(context.Background(), Options{}, 1, 0))
		if x == nil {
			return
		}
		small++
		if rapid.IntRange(0, 3).Draw(t, "hurry") == 0 {
			x.steps = rapid.IntRange(1, 300).Draw(t, "steps")
		}
		x.run()
		best := first
		if x.found != nil {
			best = individual{placed: x.found, score: x.best}
		}
		if err := g.decode(&best); err != nil {
			t.Fatal(err)
		}
		if got := g.score(); got != x.best || first.score.better(got) {
			t.Fatalf("a plan worth %+v is said to be worth %+v, there was one worth %+v", got, x.best, first.score)
		}
		if _, err := m.finish(g, &best, &chances{}, newMeter(context.Background(), Options{}, 1, 0)); err != nil {
			t.Fatal(err)
		}
		if !x.proved {
			return
		}
		proved++
		if long := found(300); long.score.better(x.best) {
			t.Fatalf("proved is %+v, found was %+v", x.best, long.score)
		}
	})
	t.Logf("%d small problems, %d of them solved to the end", small, proved)
}

// Holding back a coat opens an earlier window for a later one. Two shops that a search of 60 schedules by chance planned an
// hour and a half, and two hours, later.
func TestCoatIsHeldBackForTheNext(t *testing.T) {
	coat := func(n int, d plan.Minutes, first, second plan.Minutes) plan.Operation {
		o := plan.Operation{ID: fmt.Sprint("coat", n), Duration: d, Needs: byMaker, Whole: true}
		if n > 1 {
			o.After = []plan.Lag{{After: fmt.Sprint("coat", n-1), Windows: []plan.LagWindow{{From: 0, To: first}, {From: second}}}}
		}
		return o
	}
	day := time.Date(2026, 6, 1, 9, 0, 0, 0, time.UTC)
	p := plan.Problem{Start: day, Calendar: weekdays("UTC"), Resources: maker(1),
		Operations: []plan.Operation{coat(1, 30, 0, 0), coat(2, 90, 30, 270), coat(3, 150, 30, 60)},
		Busy:       []plan.Busy{{Resource: "maker1", From: day, To: day.Add(3 * time.Hour)}}}
	s := solve(t, p)
	// at noon it could begin, but the second coat would not be done before the break
	at(t, "the first coat waits until two", operationOf(s, "coat1").Start, "2026-06-01T14:00:00Z")
	at(t, "the second goes on wet", operationOf(s, "coat2").Start, "2026-06-01T14:30:00Z")
	at(t, "the third next morning", s.End, "2026-06-02T11:30:00Z")
	at(t, "and nothing ends earlier", s.LowerBound, "2026-06-02T11:30:00Z")

	p = plan.Problem{Start: day.Add(90 * time.Minute), Calendar: weekdays("UTC"), Resources: maker(1),
		Operations: []plan.Operation{coat(1, 30, 0, 0), coat(2, 120, 30, 330), coat(3, 90, 30, 60)},
		Busy:       []plan.Busy{{Resource: "maker1", From: day.Add(150 * time.Minute), To: day.Add(330 * time.Minute)}}}
	s = solve(t, p)
	at(t, "both coats before the evening, held back", operationOf(s, "coat1").Start, "2026-06-01T14:30:00Z")
	at(t, "the last next morning", s.End, "2026-06-02T10:30:00Z")
	at(t, "and nothing ends earlier", s.LowerBound, "2026-06-02T10:30:00Z")
}

// What is not small is left to the search.
func TestLargeIsNotSmall(t *testing.T) {
	p := plan.Problem{Start: time.Date(2026, 6, 1, 9, 0, 0, 0, time.UTC), Calendar: weekdays("UTC"), Resources: maker(1)}
	for i := range exactOperations + 1 {
		p.Operations = append(p.Operations, plan.Operation{ID: fmt.Sprint("op", i), Duration: 30, Needs: byMaker})
	}
	for _, c := range []struct {
		change func(*plan.Problem)
		small  bool
	}{
		{func(*plan.Problem) {}, false},
		{func(p *plan.Problem) { p.Operations = p.Operations[1:] }, true},
		{func(p *plan.Problem) { p.Operations[0].Started, p.Operations[0].Finished = p.Start, p.Start }, true},
		{func(p *plan.Problem) { p.Operations, p.Resources = p.Operations[1:], maker(exactWays+1) }, false},
		{func(p *plan.Problem) { // each of five asks for another of five, in 120 orders, of which one is enough
			p.Operations, p.Resources = p.Operations[1:], maker(5)
			for k := range p.Resources {
				p.Resources[k].Skills = []string{"a", "b", "c", "d", "e"}
			}
			p.Operations[0].Needs = []plan.Need{{Kind: "maker", Skill: "a"}, {Kind: "maker", Skill: "b"}, {Kind: "maker", Skill: "c"}, {Kind: "maker", Skill: "d"}, {Kind: "maker", Skill: "e"}}
		}, true},
		{func(p *plan.Problem) { // a cure where something is worked on
			p.Operations = p.Operations[1:]
			p.Operations[0].Tail, p.Operations[0].TailRack = 60, "maker"
		}, false},
	} {
		q := p
		q.Operations = append([]plan.Operation(nil), p.Operations...)
		c.change(&q)
		m, err := compile(&q)
		if err != nil {
			t.Fatal(err)
		}
		if x := newProver(m, newGenerator(m), score{}, newMeter(context.Background(), Options{}, 1, 0)); (x != nil) != c.small {
			t.Errorf("%d operations, %d resources: small is %t", len(q.Operations), len(q.Resources), x != nil)
		}
		solve(t, q)
	}
}

// Where a promise takes a part of a place, what finds no room beside it waits for its end rather than for other work.
func TestRoomBesideAPromise(t *testing.T) {
	day := time.Date(2026, 6, 1, 9, 0, 0, 0, time.UTC)
	bench := []plan.Need{{Kind: "bench"}}
	p := plan.Problem{Start: day, Calendar: weekdays("UTC"), Resources: []plan.Resource{{ID: "bench", Kind: "bench", Capacity: 2}},
		Operations: []plan.Operation{{ID: "a", Duration: 30, Needs: bench}, {ID: "b", Duration: 30, Needs: bench}},
		Busy:       []plan.Busy{{Resource: "bench", From: day, To: day.Add(10 * time.Minute)}}}
	at(t, "one of them after the promise", provedPlan(t, p).End, "2026-06-01T09:40:00Z")
}

// A change of colour is saved by starting one step later where nothing ends later for it: of equal starts the one listed
// first counts first.
func TestColourWaitsAStep(t *testing.T) {
	bench := []plan.Need{{Kind: "bench"}}
	p := plan.Problem{Start: time.Date(2026, 6, 1, 9, 0, 0, 0, time.UTC), Calendar: weekdays("UTC"), Resources: []plan.Resource{{ID: "bench", Kind: "bench", Capacity: 3}},
		Operations: []plan.Operation{{ID: "a", Duration: 30, Needs: bench, Setup: "red"}, {ID: "b", Duration: 20, Needs: bench, Setup: "black"},
			{ID: "c", Duration: 30, Needs: bench, Setup: "red"}}}
	s := solve(t, p)
	if s.Changes != 1 {
		t.Errorf("%d changes", s.Changes)
	}
	at(t, "black after both reds", operationOf(s, "b").Start, "2026-06-01T09:05:00Z")
	at(t, "the end", s.End, "2026-06-01T09:30:00Z")
}

// Makers are alike only if nothing is promised of the one and not of the other.
func TestPromisedMakerIsNotLikeTheOther(t *testing.T) {
	day := time.Date(2026, 6, 1, 9, 0, 0, 0, time.UTC)
	p := plan.Problem{Start: day, Calendar: weekdays("UTC"), Resources: maker(2),
		Operations: []plan.Operation{{ID: "a", Duration: 120, Needs: byMaker, Whole: true}, {ID: "b", Duration: 30, Needs: byMaker, Whole: true}},
		Busy:       []plan.Busy{{Resource: "maker1", From: day, To: day.Add(time.Hour)}, {Resource: "maker2", From: day.Add(4 * time.Hour), To: day.Add(5 * time.Hour)}}}
	at(t, "the long one at once, with the other maker", provedPlan(t, p).End, "2026-06-01T11:00:00Z")
}
