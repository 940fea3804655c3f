package schedule

import (
	"context"
	"fmt"
	"runtime"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"benchbell/quote/plan"
	"benchbell/quote/plan/check"
)

// later is a problem with a plan so far, some time after: what should have begun has, some of it late.
func later(t *rapid.T, p plan.Problem, s plan.Solution) plan.Problem {
	q := withStarts(p, s)
	q.Start = q.Start.Add(time.Duration(rapid.IntRange(0, 3000).Draw(t, "later")) * time.Minute)
	if rapid.Bool().Draw(t, "frozen") {
		q.Frozen = q.Start.Add(time.Duration(rapid.IntRange(0, 6000).Draw(t, "frozen for")) * time.Minute)
	}
	at := map[string]plan.Scheduled{}
	for _, x := range s.Operations {
		at[x.ID] = x
	}
	begun := map[string]bool{}
	for i := range q.Operations { // each comes after what it waits for
		o := &q.Operations[i]
		x := at[o.ID]
		ready := !slices.ContainsFunc(o.After, func(l plan.Lag) bool { return !begun[l.After] })
		if begun[o.ID] = ready && x.End.Before(q.Start) && rapid.IntRange(0, 3).Draw(t, "done") > 0; begun[o.ID] {
			o.Started, o.Finished, o.By = x.Start, x.End, x.Resources
		}
	}
	return q
}

// genOrder is an order of some objectives.
func genOrder(t *rapid.T) []string {
	return rapid.Permutation(plan.UsualOrder()).Draw(t, "order")[:rapid.IntRange(1, len(plan.UsualOrder())).Draw(t, "named")]
}

// worse names the first objective in which a is worse than b, none where it is better in one before.
func worse(a, b plan.Solution) string {
	if len(a.Broken) != len(b.Broken) {
		if len(a.Broken) > len(b.Broken) {
			return "broken"
		}
		return ""
	}
	for k, x := range a.Objectives {
		if y := b.Objectives[k]; x.Value != y.Value {
			if x.Value > y.Value {
				return fmt.Sprintf("%s: %d, so far %d", x.Name, x.Value, y.Value)
			}
			return ""
		}
	}
	return ""
}

func sameStarts(a, b plan.Solution) bool {
	return slices.EqualFunc(a.Operations, b.Operations, func(x, y plan.Scheduled) bool { return x.ID == y.ID && x.Start.Equal(y.Start) })
}

// A plan given as the one so far never gets worse by the stated objectives, in whatever order they are.
func TestSoFarNeverGetsWorse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := genProblem(t)
		p.Order = genOrder(t)
		s, err := Solve(context.Background(), p, nil)
		if err != nil {
			t.Skip(err)
		}
		q := later(t, p, s)
		q.Schedules = rapid.IntRange(1, 30).Draw(t, "schedules")
		kept, err := Follow(context.Background(), q)
		if err != nil {
			t.Skip(err)
		}
		found, err := Solve(context.Background(), q, nil)
		if err != nil {
			t.Fatal(err)
		}
		if err := check.Plan(q, found); err != nil {
			t.Fatal(err)
		}
		if by := worse(found, kept); by != "" {
			t.Fatalf("in the order %v a plan got worse: %s", q.Order, by)
		}
	})
}

// The same, where a shop is planned in windows.
func TestLargeSoFarNeverGetsWorse(t *testing.T) {
	p := full(30)
	p.Schedules, p.Runs = 12, 20
	p.Order = []string{plan.Promises, plan.Lateness}
	s, err := Solve(t.Context(), p, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, late := range []time.Duration{0, 31 * time.Hour} {
		q := withStarts(p, s)
		q.Start = q.Start.Add(late)
		kept, err := Follow(t.Context(), q)
		if err != nil {
			t.Fatal(err)
		}
		found, err := Solve(t.Context(), q, nil)
		if err != nil {
			t.Fatal(err)
		}
		if by := worse(found, kept); by != "" {
			t.Errorf("%s later a plan got worse: %s", late, by)
		}
		if late == 0 && !sameStarts(found, kept) && !Better(found, kept) {
			t.Error("nothing happened, and the plan changes for nothing that is worth it")
		}
	}
}

// The order decides: two coats of one colour and one of another are sprayed with the fewest set-ups or in the order of their
// promises.
func TestOrderDecides(t *testing.T) {
	p := commission()
	p.Busy, p.Calendar.Closed, p.Runs, p.Schedules = nil, nil, 0, 50
	p.Resources = append(maker(1), plan.Resource{ID: "booth", Kind: "booth", Capacity: 1})
	p.Operations = nil
	for k, setup := range []string{"red", "blue", "red"} {
		id := fmt.Sprint("C", k)
		p.Operations = append(p.Operations, plan.Operation{ID: id + "/coat", Project: id, Duration: 180, Whole: true, Setup: setup,
			Needs: []plan.Need{{Kind: "maker"}, {Kind: "booth"}}})
		p.Projects = append(p.Projects, plan.Project{ID: id, Promised: true})
	}
	// The shop opens an hour after the start. In time are a red one, the blue one, and the other red one next day.
	for k, hours := range []int{5, 8, 90} {
		p.Projects[k].Due = p.Start.Add(time.Duration(hours) * time.Hour)
	}
	values := func(order ...string) map[string]int64 {
		q := p
		q.Order = order
		s := solve(t, q)
		out := map[string]int64{}
		for k, x := range s.Objectives {
			if k < len(order) && x.Name != order[k] {
				t.Errorf("objective %d is %s in the order %v", k, x.Name, order)
			}
			out[x.Name] = x.Value
		}
		return out
	}
	first, last := values(plan.Setups, plan.Lateness), values(plan.Lateness, plan.Setups)
	if first[plan.Setups] != 1 || last[plan.Lateness] > first[plan.Lateness] || first[plan.Setups] > last[plan.Setups] {
		t.Errorf("set-ups first: %v, lateness first: %v", first, last)
	}
	if first[plan.Setups] == last[plan.Setups] || first[plan.Lateness] == last[plan.Lateness] {
		t.Errorf("the order changes nothing: %v and %v", first, last)
	}
}

func TestOrderRefusesWhatIsNone(t *testing.T) {
	for words, order := range map[string][]string{
		`there is no objective "beauty", use some of: lateness, promises, wishes, windows, whole, setups, moves, evenings`: {"beauty"},
		`the objective "moves" is named twice, name each once`:                                                             {plan.Moves, plan.Whole, plan.Moves},
	} {
		p := commission()
		p.Order = order
		if _, err := Solve(t.Context(), p, nil); err == nil || err.Error() != words {
			t.Errorf("%v: %v", order, err)
		}
	}
}

// The same budget gives the same plan on one core and on several, with one worker and with several, several islands too.
func TestCoresDoNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := genProblem(t)
		p.Schedules = rapid.IntRange(20, 200).Draw(t, "schedules")
		islands := rapid.IntRange(1, 3).Draw(t, "islands")
		var plans []string
		for _, c := range []struct{ cores, workers int }{{1, 1}, {4, 4}, {2, 3}} {
			m, err := compile(&p)
			if err != nil {
				t.Skip(err)
			}
			m.islands = islands
			was := runtime.GOMAXPROCS(c.cores)
			s, err := m.solve(newMeter(context.Background(), Options{Workers: c.workers}, p.Schedules, p.Runs))
			runtime.GOMAXPROCS(was)
			if err != nil {
				t.Skip(err)
			}
			plans = append(plans, flat(s))
		}
		if plans[0] != plans[1] || plans[0] != plans[2] {
			t.Fatalf("%d schedules of %d islands give another plan on other cores", p.Schedules, islands)
		}
	})
}

// What people have arranged themselves with stays for the frozen days, and only for these: the short work would make the whole
// ready earlier if it went first.
func TestFrozenDays(t *testing.T) {
	p := commission()
	p.Busy, p.Calendar.Closed, p.Runs, p.Schedules = nil, nil, 0, 50
	p.Resources = maker(1)
	need := []plan.Need{{Kind: "maker"}}
	p.Operations = []plan.Operation{{ID: "long", Project: "a", Duration: 1500, Needs: need}, {ID: "short", Project: "b", Duration: 30, Needs: need, After: []plan.Lag{{After: "long"}}}}
	s, err := Solve(t.Context(), p, nil)
	if err != nil {
		t.Fatal(err)
	}
	p = withStarts(p, s)
	p.Operations[1].After = nil
	opens := p.Operations[0].Planned
	p.Projects = []plan.Project{{ID: "a"}, {ID: "b"}}
	p.Order = []string{plan.Moves, plan.Whole}
	for _, x := range []struct {
		frozen time.Time
		first  string
		moves  int64
	}{{time.Time{}, "long", 0}, {p.Start.AddDate(0, 0, 2), "long", 0}, {opens, "short", 0}} {
		p.Frozen = x.frozen
		s, err := Solve(t.Context(), p, nil)
		if err != nil {
			t.Fatal(err)
		}
		first := s.Operations[0]
		for _, o := range s.Operations {
			if o.Start.Before(first.Start) {
				first = o
			}
		}
		if first.ID != x.first || s.Objectives[0].Value != x.moves {
			t.Errorf("frozen until %v, the %s work goes first and %d starts move, want the %s and %d", x.frozen, first.ID, s.Objectives[0].Value, x.first, x.moves)
		}
	}
}
