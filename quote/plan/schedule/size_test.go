package schedule

import (
	"fmt"
	"reflect"
	"slices"
	"testing"
	"time"

	"benchbell/quote/plan"
)

// full is a shop of n commissions of forty operations each, on six makers, three booths and benches, taken on three working days
// apart and promised so that some are tight.
func full(n int) plan.Problem {
	p := commission()
	p.Calendar.Closed = nil
	p.Busy = nil
	p.Resources = append(maker(6), plan.Resource{ID: "booth", Kind: "booth", Capacity: 3}, plan.Resource{ID: "rack", Kind: "bench", Capacity: 8})
	one := p.Operations
	p.Operations = nil
	for c := range n {
		id := fmt.Sprintf("C%03d", c+1)
		p.Projects = append(p.Projects, plan.Project{ID: id, Promised: true, Due: p.Start.AddDate(0, 0, 10+c*2+(c*7)%9)})
		for k, o := range one {
			o.ID, o.Project, o.After = id+"/"+o.ID, id, append([]plan.Lag(nil), o.After...)
			o.Duration += plan.Minutes(5 * ((c + k) % 7))
			o.High += plan.Minutes(10 * ((c + k) % 7))
			for k := range o.After {
				o.After[k].After = id + "/" + o.After[k].After
			}
			p.Operations = append(p.Operations, o)
		}
	}
	return p
}

// A shop with more work than is searched at once has a plan, the same whatever the cores. Solve has every plan checked.
func TestLargeShops(t *testing.T) {
	for _, n := range []int{30, 100} {
		p := full(n)
		p.Schedules, p.Runs = 12, 40
		s, err := Solve(t.Context(), p, nil)
		if err != nil {
			t.Fatal(err)
		}
		again, err := Options{Workers: 4}.Solve(t.Context(), p)
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(s, again) {
			t.Errorf("%d commissions planned by four workers have another plan", n)
		}
	}
}

// In a large shop some quotes are open: there are runs in which they come to nothing, all of them for one that hardly ever comes true.
func TestLargeShopWithOpenQuotes(t *testing.T) {
	p := full(30)
	p.Schedules, p.Runs = 12, 40
	s, err := Solve(t.Context(), p, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, chance := range []plan.Chance{{Accepted: 3, Lapsed: 2}, {Accepted: 1, Lapsed: 1e6}} {
		q := PlannedAs(p, s)
		q.Chance = &chance
		q.Projects = slices.Clone(q.Projects)
		for i := range q.Projects {
			q.Projects[i].Open = i%4 == 1
		}
		if _, _, err := Improve(t.Context(), q, plan.Solution{}, nil); err != nil {
			t.Errorf("open quotes that come true as %g to %g: %v", chance.Accepted, chance.Lapsed, err)
		}
	}
}

// A large plan that there is already is only made better: no promise that it keeps, as planned or as is likely, is lost for
// another, whatever the gain; and where promises have become late, though nothing has moved, there is a gain.
func TestRollingKeepsPromises(t *testing.T) {
	p := full(30)
	p.Schedules, p.Runs = 12, 0
	s, err := Solve(t.Context(), p, nil)
	if err != nil {
		t.Fatal(err)
	}
	if s, err = Settle(t.Context(), withStarts(p, s)); err != nil {
		t.Fatal(err)
	}
	better, traded := 0, 0
	for k := range 6 {
		q := withStarts(p, s)
		q.Seed = uint64(k)
		q.Projects = slices.Clone(q.Projects)
		for i := range q.Projects { // some promises are tighter than what was planned
			end := s.Dates[i].P80
			q.Projects[i].Due = end.AddDate(0, 0, []int{1, -3, 0, 2}[(i+k)%4])
			q.Projects[i].Weight = 1 + (i*i+k)%5
		}
		m, err := compile(&q)
		if err != nil {
			t.Fatal(err)
		}
		g := newGenerator(m)
		if err := m.windowsSoFar(g); err != nil {
			t.Fatal(err)
		}
		if err := m.follow(g, &individual{}, newMeter(t.Context(), Options{}, 1, 0)); err != nil {
			t.Fatal(err)
		}
		before, ends := g.score(), slices.Clone(g.ends)
		if before.late == 0 || before.moved != 0 {
			t.Fatalf("followed, %+v: nothing is late, or something moves", before)
		}
		r, _, _, err := m.roll(newMeter(t.Context(), Options{}, q.Schedules, 0))
		if err != nil {
			t.Fatal(err)
		}
		before = g.score() // both with the buffers of the search
		after := r.score()
		if before.better(after) {
			t.Errorf("%d: the plan got worse, from %+v to %+v", k, before, after)
		}
		if after.late < before.late {
			better++
		}
		for j, x := range m.projects {
			for _, buffer := range []slot{0, x.buffer} {
				if was, is := g.handover(ends[j], buffer), g.handover(r.ends[j], buffer); was <= x.due && is > x.due {
					t.Errorf("%d: the promise of %s is lost", k, x.id)
				} else if is > was && x.due != never {
					traded++
				}
			}
		}
	}
	if better == 0 || traded == 0 {
		t.Errorf("%d plans got better, and %d promises moved back: little is shown", better, traded)
	}
}

// In a full shop what comes late delays what comes after it: a promise that the plan keeps with a commission's own delays, and misses
// in the runs, is looked at, and the plan found misses fewer.
func TestRollingSeesWhatTheRunsMiss(t *testing.T) {
	p := full(40)
	p.Schedules, p.Runs = 20, 60
	p.Order = []string{plan.Promises, plan.Lateness}
	s, err := Solve(t.Context(), p, nil)
	if err == nil {
		s, err = Settle(t.Context(), withStarts(p, s))
	}
	if err != nil {
		t.Fatal(err)
	}
	q := withStarts(p, s)
	q.Projects = slices.Clone(q.Projects)
	for i := range q.Projects { // half of the promises are a little earlier than is sure
		q.Projects[i].Due = s.Dates[i].P80.AddDate(0, 0, 4)
		if i%2 == 0 {
			q.Projects[i].Due = s.Dates[i].P80.Add(-2 * time.Hour)
		}
	}
	kept, err := Settle(t.Context(), q)
	if err != nil {
		t.Fatal(err)
	}
	found, other, err := Improve(t.Context(), q, kept, nil)
	if err != nil {
		t.Fatal(err)
	}
	if !other || found.Objectives[0].Value >= kept.Objectives[0].Value {
		t.Errorf("%d promises are missed; another plan was found: %t, which misses %v", kept.Objectives[0].Value, other, found.Objectives)
	}
	t.Log(kept.Objectives, found.Objectives)
}
