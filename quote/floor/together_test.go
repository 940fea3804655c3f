package floor

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"benchbell/quote/plan"
	"benchbell/quote/plan/check"
	"benchbell/quote/plan/schedule"
)

// Work put together is never worse than apart: not in the studio's order, nor for a promise that is kept apart. A pair is of two commissions and one set-up, at one place, the second at once after the first and shorter by what is said
// to be saved.
func TestTogetherIsNeverWorseThanApart(t *testing.T) {
	base := opened(t, 5)
	first := planned(t, base, shopNow)
	rng := rand.New(rand.NewPCG(4, 4))
	pairs, saved := 0, plan.Minutes(0)
	for range 6 {
		open := take(base, first)
		open = promise(open, first, func(int) int { return rng.IntN(16) - 8 })
		now := shopNow.Add(time.Duration(rng.IntN(40)) * time.Hour)
		open = worked(open, now, punctual)
		p, sh, err := shopProblem(open, shopStudio(), now)
		if err != nil {
			t.Fatal(err)
		}
		apart, err := schedule.Settle(t.Context(), p)
		if err == nil {
			apart, err = sh.improved(t.Context(), p, apart, func(float64) {})
		}
		if err != nil {
			t.Fatal(err)
		}
		got := planned(t, open, now)
		if err := check.Plan(got.sh.problem, got.Plan); err != nil {
			t.Fatal(err)
		}
		for k, x := range got.Plan.Objectives {
			if y := apart.Objectives[k]; x.Value != y.Value {
				if x.Value > y.Value {
					t.Errorf("together %s is %d, apart %d", x.Name, x.Value, y.Value)
				}
				break
			}
		}
		full := map[string]plan.Operation{}
		for _, o := range sh.apart.Operations {
			full[o.ID] = o
		}
		less := plan.Minutes(0)
		for _, x := range got.Together {
			pairs++
			if !slices.ContainsFunc(sh.joined, func(p pair) bool { return p.then == shopID(x.Then.Commission, x.Then.Op) }) { // anew
				less += x.Saved
			}
			a, b := full[shopID(x.First.Commission, x.First.Op)], full[shopID(x.Then.Commission, x.Then.Op)]
			if a.Kind != b.Kind || a.Setup != b.Setup || a.Kind == cutKind && x.First.Op != x.Then.Op || x.First.Commission == x.Then.Commission {
				t.Errorf("%+v and %+v have no set-up in common", a, b)
			}
			if late := x.Then.Start.Sub(x.First.End); late < 0 || late > atOnce {
				t.Errorf("%s begins %s after %s ends", x.Then.Title, late, x.First.Title)
			}
			if !slices.ContainsFunc(x.First.Who, func(who string) bool { return slices.Contains(x.Then.Who, who) }) {
				t.Errorf("%s by %v and %s by %v have no place in common", x.First.Title, x.First.Who, x.Then.Title, x.Then.Who)
			}
		}
		if was, is := minutes(apart), minutes(got.Plan); was-is != less {
			t.Errorf("the plan has %d minutes of work, apart %d, and %d are said to be saved", is, was, less)
		}
		saved += less
	}
	if pairs == 0 {
		t.Error("nothing was put together, so nothing is shown")
	}
	t.Logf("%d pairs, %d minutes saved", pairs, saved)
}

// minutes is the work of a plan.
func minutes(s plan.Solution) plan.Minutes {
	var sum time.Duration
	for _, x := range s.Operations {
		for _, w := range x.Spans {
			sum += w.To.Sub(w.From)
		}
	}
	return plan.Minutes(sum / time.Minute)
}

// What is together in the plan that people have stays together while it can, and is apart, with its whole time, once the first is
// done and the second has not followed at once.
func TestTogetherStays(t *testing.T) {
	open := opened(t, 5)
	first := planned(t, open, shopNow)
	if len(first.Together) == 0 {
		t.Fatal("nothing is together, so nothing is shown")
	}
	open = take(open, first)
	again := planned(t, open, shopNow)
	if len(again.Together) != len(first.Together) || again.Moved != 0 {
		t.Errorf("%d pairs were together and %d are; %d operations move", len(first.Together), len(again.Together), again.Moved)
	}
	x := first.Together[0]
	now := x.First.End.Add(90 * time.Minute)
	for i := range open {
		for k := range open[i].Actual {
			if a := &open[i].Actual[k]; open[i].Snapshot.Commission == x.First.Commission && a.Op == x.First.Op {
				a.Started, a.Finished = x.First.Start, x.First.End
			}
		}
	}
	_, sh, err := shopProblem(open, shopStudio(), now)
	if err != nil {
		t.Fatal(err)
	}
	if then := shopID(x.Then.Commission, x.Then.Op); slices.ContainsFunc(sh.joined, func(p pair) bool { return p.then == then && strings.HasSuffix(p.first, "/"+x.First.Op) }) {
		t.Errorf("%s is done, and %s is still to follow it at once", x.First.Title, then)
	}
}
