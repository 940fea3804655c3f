package schedule

import (
	"context"
	"testing"
	"time"

	"pgregory.net/rapid"

	"benchbell/quote/plan"
	"benchbell/quote/plan/check"
)

// Follow gives every operation its planned start or the first moment after it that can be had, once.
func Follow(ctx context.Context, p plan.Problem) (plan.Solution, error) {
	m, err := compile(&p)
	if err != nil {
		return plan.Solution{}, err
	}
	t := newMeter(ctx, Options{}, 1, p.Runs)
	g, x := newGenerator(m), &individual{}
	if err := m.windowsSoFar(g); err != nil {
		return plan.Solution{}, err
	}
	if err := m.follow(g, x, t); err != nil {
		return plan.Solution{}, err
	}
	return m.followed(g, x, t)
}

// withStarts is the problem with a solution as its plan so far.
func withStarts(p plan.Problem, s plan.Solution) plan.Problem {
	at := map[string]time.Time{}
	for _, x := range s.Operations {
		at[x.ID] = x.Start
	}
	p.Operations = append([]plan.Operation(nil), p.Operations...)
	for i := range p.Operations {
		p.Operations[i].Planned = at[p.Operations[i].ID]
	}
	return p
}

// A plan that can still be kept is kept to the minute, and keeping it again changes nothing.
func TestFollowKeeps(t *testing.T) {
	p, _ := wanted()
	for seed := range uint64(5) {
		p.Seed = seed
		s, err := Solve(context.Background(), p, nil)
		if err != nil {
			t.Fatal(err)
		}
		for range 2 {
			q := withStarts(p, s)
			f, err := Follow(context.Background(), q)
			if err != nil {
				t.Fatal(err)
			}
			if err := check.Plan(q, f); err != nil {
				t.Fatal(err)
			}
			for k, x := range f.Operations {
				if !x.Start.Equal(s.Operations[k].Start) || x.ID != s.Operations[k].ID {
					t.Fatalf("seed %d: %s starts at %s, planned is %s at %s", seed, x.ID, x.Start, s.Operations[k].ID, s.Operations[k].Start)
				}
			}
			s = f
		}
	}
}

// Where the shop begins a day late, nothing comes before its planned start and the order on the one maker stays.
func TestFollowPushes(t *testing.T) {
	p, _ := wanted()
	s, err := Solve(context.Background(), p, nil)
	if err != nil {
		t.Fatal(err)
	}
	q := withStarts(p, s)
	q.Start = q.Start.AddDate(0, 0, 1)
	f, err := Follow(context.Background(), q)
	if err != nil {
		t.Fatal(err)
	}
	if err := check.Plan(q, f); err != nil {
		t.Fatal(err)
	}
	planned := map[string]time.Time{}
	for _, x := range s.Operations {
		planned[x.ID] = x.Start
	}
	for k, x := range f.Operations {
		if x.Start.Before(planned[x.ID]) {
			t.Errorf("%s starts at %s, planned is %s", x.ID, x.Start, planned[x.ID])
		}
		if k > 0 && planned[x.ID].Before(planned[f.Operations[k-1].ID]) {
			t.Errorf("%s comes after %s, planned is the other way", x.ID, f.Operations[k-1].ID)
		}
	}
}

// The share of runs that keep a date fits the dates of 50, 80 and 95 in 100.
func TestKept(t *testing.T) {
	p, _ := wanted()
	s, err := Solve(context.Background(), p, nil)
	if err != nil {
		t.Fatal(err)
	}
	d := s.Dates[1]
	for _, c := range []struct {
		due   time.Time
		least float64
		most  float64
	}{{d.P50, 0.5, 1}, {d.P80, 0.8, 1}, {d.P95, 0.95, 1}, {d.P95.AddDate(0, 0, 30), 1, 1}, {p.Start, 0, 0}} {
		q := withStarts(p, s)
		q.Projects = append([]plan.Project(nil), q.Projects...)
		q.Projects[1].Due = c.due
		f, err := Follow(context.Background(), q)
		if err != nil {
			t.Fatal(err)
		}
		if kept := f.Dates[1].Kept; kept < c.least || kept > c.most {
			t.Errorf("%s is kept in %g of the runs, want %g to %g", c.due, kept, c.least, c.most)
		}
	}
}

// On shops of all kinds, what can still be kept is kept: following a plan at once gives it again, and what Follow makes is a
// plan that following again does not change.
func TestFollowAgain(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := genProblem(t)
		for i := range p.Operations { // a shop's work takes time; a milestone may stand before or after what begins with it
			if o := &p.Operations[i]; o.Duration == 0 {
				o.Duration = plan.Grid
				o.High = max(o.High, plan.Grid)
			}
		}
		s, err := Solve(context.Background(), p, nil)
		if err != nil {
			t.Skip(err)
		}
		f, err := Follow(context.Background(), withStarts(p, s))
		if err != nil {
			t.Fatal(err)
		}
		for k, x := range f.Operations {
			if !x.Start.Equal(s.Operations[k].Start) {
				t.Fatalf("followed, %s starts at %s and is planned at %s", x.ID, x.Start, s.Operations[k].Start)
			}
		}
		q := withStarts(p, f)
		again, err := Follow(context.Background(), q)
		if err != nil {
			t.Fatal(err)
		}
		if err := check.Plan(q, again); err != nil {
			t.Fatal(err)
		}
		for k, x := range again.Operations {
			if !x.Start.Equal(f.Operations[k].Start) {
				t.Fatalf("followed again, %s starts at %s and started at %s", x.ID, x.Start, f.Operations[k].Start)
			}
		}
	})
}

// What is settled is a plan that settling again does not change.
func TestSettledAgain(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := genProblem(t)
		for i := range p.Operations { // as in TestFollowAgain
			if o := &p.Operations[i]; o.Duration == 0 {
				o.Duration = plan.Grid
				o.High = max(o.High, plan.Grid)
			}
		}
		s, err := Solve(context.Background(), p, nil)
		if err != nil {
			t.Skip(err)
		}
		q := later(t, p, s)
		settled, err := Settle(context.Background(), q)
		if err != nil {
			t.Skip(err)
		}
		for i := range q.Operations {
			if o := &q.Operations[i]; o.Started.IsZero() {
				o.Planned = operationOf(settled, o.ID).Start
			}
		}
		again, err := Settle(context.Background(), q)
		if err != nil {
			t.Fatal(err)
		}
		if !sameStarts(settled, again) {
			t.Fatal("settled again, something moves")
		}
	})
}
