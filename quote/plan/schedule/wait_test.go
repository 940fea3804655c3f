package schedule

import (
	"context"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"benchbell/quote/plan"
)

// One maker, one booth: each of the reasons to wait, and none.
func TestWaitsByHand(t *testing.T) {
	start := time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)
	op := func(id string, kind string, after ...plan.Lag) plan.Operation {
		return plan.Operation{ID: id, Duration: 60, Whole: true, Needs: []plan.Need{{Kind: kind}}, After: after}
	}
	late := op("late", "booth", plan.Lag{After: "coat", Min: 30})
	late.Release = start.Add(20 * time.Hour)
	p := plan.Problem{Start: start, Calendar: always(), Schedules: 20, Seed: 1,
		Resources:  []plan.Resource{{ID: "ana", Kind: "maker", Capacity: 1}, {ID: "booth", Kind: "booth", Capacity: 1}},
		Operations: []plan.Operation{op("cut", "maker"), op("glue", "maker", plan.Lag{After: "cut"}), op("coat", "booth", plan.Lag{After: "glue", Min: 120, Cure: "cement"}), late}}
	p.Busy = []plan.Busy{{Resource: "ana", From: start, To: start.Add(2 * time.Hour)}}
	s := solve(t, p)
	for id, want := range map[string]plan.Wait{
		"cut": {Why: "ana"}, "glue": {For: "cut", Why: plan.WaitOrder}, "coat": {For: "glue", Why: plan.WaitCure}, "late": {Why: plan.WaitRelease},
	} {
		if w := operationOf(s, id).Wait; w == nil || *w != want {
			t.Errorf("%s waits for %+v, want %+v", id, w, want)
		}
	}
	p.Busy = nil
	if w := operationOf(solve(t, p), "cut").Wait; w != nil {
		t.Errorf("what begins at once waits for %+v", w)
	}
	p.Operations = append(p.Operations, op("second", "maker"))
	for _, x := range solve(t, p).Operations {
		if x.ID == "second" && !x.Start.Equal(start) && (x.Wait == nil || x.Wait.Why != "ana" || x.Wait.For == "") {
			t.Errorf("the second for one maker waits for %+v", x.Wait)
		}
	}
}

// What an operation is said to have waited for held it: that moment is not after its start, and no release and no
// earlier operation's end or cure held it longer. What waited for nothing was held by none of these.
func TestWaitsAreTrue(t *testing.T) {
	const grid = time.Duration(plan.Grid) * time.Minute
	up := func(at time.Time) time.Time { return at.Add(grid - 1).Truncate(grid) }
	seen := map[string]int{}
	rapid.Check(t, func(t *rapid.T) {
		p := genProblem(t)
		s, err := Solve(context.Background(), p, nil)
		if err != nil {
			return // drawn windows may contradict each other; what is left is counted
		}
		for _, o := range p.Operations {
			if !o.Started.IsZero() {
				continue // history waits for nothing
			}
			x := operationOf(s, o.ID)
			released := o.Release
			for _, at := range []time.Time{o.Pinned, projectOf(p, o).Release} {
				if at.After(released) {
					released = at
				}
			}
			released = up(released)
			start := up(p.Start)
			held, by, cures := start, map[string]time.Time{}, map[string]bool{}
			for _, l := range o.After {
				end := operationOf(s, l.After).End
				if k := slices.IndexFunc(p.Operations, func(y plan.Operation) bool { return y.ID == l.After }); !p.Operations[k].Finished.IsZero() {
					end = p.Operations[k].Finished // cures run from the real end
				}
				from := l.Min
				for _, w := range l.Windows {
					if from = w.From; w.To == 0 || !x.Start.After(end.Add(time.Duration(w.To)*time.Minute)) {
						break
					}
				}
				by[l.After], cures[l.After] = up(end.Add(time.Duration(from)*time.Minute)), from > 0
			}
			for _, at := range by {
				if at.After(held) {
					held = at
				}
			}
			if released.After(held) {
				held = released
			}
			w := x.Wait
			switch {
			case w == nil:
				seen["nothing"]++
				if held.After(start) {
					t.Fatalf("%s waited for nothing, and could not begin before %s", o.ID, held)
				}
			case w.Why == plan.WaitRelease:
				seen[w.Why]++
				if !released.Equal(held) || held.After(x.Start) {
					t.Fatalf("%s is released at %s, held until %s, begins at %s", o.ID, released, held, x.Start)
				}
			case w.Why == plan.WaitOrder || w.Why == plan.WaitCure:
				seen[w.Why]++
				if at, ok := by[w.For]; !ok || !at.Equal(held) || held.After(x.Start) || cures[w.For] != (w.Why == plan.WaitCure) {
					t.Fatalf("%s waits for %+v, which let it begin at %s; held until %s, begins at %s", o.ID, *w, at, held, x.Start)
				}
			default:
				seen["resource"]++
				if !slices.Contains(append(x.Resources, x.Rack), w.Why) {
					t.Fatalf("%s waits for %s and is on %v", o.ID, w.Why, x.Resources)
				}
				if y := operationOf(s, w.For); w.For != "" && (!slices.Contains(append(y.Resources, y.Rack), w.Why) || y.Start.After(x.End)) {
					t.Fatalf("%s waits for %s, which %s has not: %+v", o.ID, w.Why, w.For, y)
				}
				if w.For == "" && !slices.ContainsFunc(p.Busy, func(b plan.Busy) bool { return b.Resource == w.Why && b.To.After(p.Start) }) {
					t.Fatalf("%s waits for %s, which nobody has", o.ID, w.Why)
				}
			}
		}
	})
	for _, why := range []string{"nothing", plan.WaitRelease, plan.WaitOrder, plan.WaitCure, "resource"} {
		if seen[why] == 0 {
			t.Errorf("nothing waited for %s, so nothing is shown: %v", why, seen)
		}
	}
}

func projectOf(p plan.Problem, o plan.Operation) plan.Project {
	for _, x := range p.Projects {
		if x.ID == o.Project {
			return x
		}
	}
	return plan.Project{}
}
