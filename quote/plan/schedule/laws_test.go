package schedule

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"benchbell/quote/plan"
	"benchbell/quote/plan/check"
)

// policyOf is the policy of a problem's best plan after a few schedules.
func policyOf(t interface{ Fatal(...any) }, p plan.Problem) (*model, *generator) {
	m, err := compile(&p)
	if err != nil {
		t.Fatal(err)
	}
	meter := newMeter(context.Background(), Options{}, 6, 0)
	people, err := search(m, 6, m.start, meter)
	if err != nil {
		t.Fatal(err)
	}
	g := newGenerator(m)
	if people, err = m.exactly(g, people, meter); err != nil {
		t.Fatal(err)
	}
	if err := g.decode(&people[0]); err != nil {
		t.Fatal(err)
	}
	return m, g
}

// With order and assignment kept, a slower cure never gives any project an earlier date, run by run; nor does longer work.
// Closing windows and the day's air are left out: waiting for a window, or for a drier day, may overtake waiting less.
func TestSlowerNeverEarlierAtEqualList(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := genProblem(t)
		p.Air = nil
		for i := range p.Operations {
			p.Operations[i].Pinned = time.Time{}
			for k := range p.Operations[i].After {
				l := &p.Operations[i].After[k]
				l.Max, l.Windows = 0, nil
			}
		}
		const runs = 20
		m, g := policyOf(t, p)
		before, err := newPolicy(m, g)
		if err != nil {
			t.Fatal(err)
		}
		after, err := newPolicy(m, g)
		if err != nil {
			t.Fatal(err)
		}
		more := int32(rapid.IntRange(1, 600).Draw(t, "more"))
		switch rapid.IntRange(0, 3).Draw(t, "what") {
		case 0:
			if len(after.windows) > 0 {
				after.windows[rapid.IntRange(0, len(after.windows)-1).Draw(t, "lag")].from += more
			}
		case 1:
			after.steps[rapid.IntRange(0, len(after.steps)-1).Draw(t, "step")].tail += more
		case 2:
			if s := &after.steps[rapid.IntRange(0, len(after.steps)-1).Draw(t, "step")]; s.rack >= 0 {
				s.rackLength += more
			}
		case 3: // what is interrupted at closing time only gets later with more work; what is done in one go as well
			if s := &after.steps[rapid.IntRange(0, len(after.steps)-1).Draw(t, "step")]; !s.whole && s.table == nil && !s.fixed {
				s.dur += more
			}
		}
		n := len(m.projects)
		x, y := make([]int32, n), make([]int32, n)
		missed := make([]bool, n)
		for r := range int32(runs) {
			before.run, after.run = r, r
			before.once(x, missed)
			after.once(y, missed)
			for k := range x {
				if y[k] < x[k] {
					t.Fatalf("run %d: project %q is ready %d slots after the start, with less to wait for %d", r, m.projects[k].id, y[k], x[k])
				}
			}
		}
	})
}

// Exact durations, dry air and deposits as planned, every quote accepted: the shop that follows the plan is never later than the plan.
func TestPolicyKeepsThePlan(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := genProblem(t)
		p.Air = nil
		for i := range p.Projects {
			p.Projects[i].Latest, p.Projects[i].Open = time.Time{}, false
		}
		for i := range p.Busy {
			p.Busy[i].Open = false
		}
		for i := range p.Operations {
			o := &p.Operations[i]
			o.Low, o.High, o.Pinned = 0, 0, time.Time{}
			for k := range o.After {
				o.After[k].Max, o.After[k].Windows = 0, nil
			}
		}
		m, g := policyOf(t, p)
		policy, err := newPolicy(m, g)
		if err != nil {
			t.Fatal(err)
		}
		c, err := policy.simulate(1, newMeter(context.Background(), Options{}, 0, 1))
		if err != nil {
			t.Fatal(err)
		}
		if got := m.start + slot(c.finish[0]); got > g.finish {
			// a claim on a bench that pauses overnight may have let a cure onto its place meanwhile
			t.Fatalf("all as planned, ready at %s instead of %s", got.time(), g.finish.time())
		}
	})
}

// Neither workers nor being told change a plan; a stopped search still gives one.
func TestWorkersDoNotMatter(t *testing.T) {
	p := commission()
	p.Schedules, p.Runs = 900, 50
	one, err := Options{Workers: 1}.Solve(context.Background(), p)
	if err != nil {
		t.Fatal(err)
	}
	last := 0
	two, err := Options{Workers: 2, Progress: func(done, budget int) {
		if done < last || done > budget || budget != 950 {
			t.Errorf("told %d of %d after %d", done, budget, last)
		}
		last = done
	}}.Solve(context.Background(), p)
	if err != nil || flat(one) != flat(two) {
		t.Errorf("two workers plan otherwise than one: %v", err)
	}
	if last != 950 {
		t.Errorf("told of %d of 950 at last", last)
	}
	stopped, err := Options{Workers: 2, Stop: func() bool { return true }}.Solve(context.Background(), p)
	if err != nil {
		t.Fatal(err)
	}
	if err := check.Plan(p, stopped); err != nil || stopped.Schedules > 20 {
		t.Errorf("stopped after %d schedules: %v", stopped.Schedules, err)
	}
}

// Contradictions are named with the operations and the windows.
func TestContradictionsNameWindows(t *testing.T) {
	day := time.Date(2026, 6, 1, 9, 0, 0, 0, time.UTC)
	p := plan.Problem{Start: day, Calendar: weekdays("UTC"), Resources: maker(1), Operations: []plan.Operation{
		{ID: "prime", Duration: 30, Needs: byMaker, Whole: true},
		{ID: "paint", Duration: 30, Needs: byMaker, Whole: true, After: []plan.Lag{{After: "prime", Max: 240}}},
		{ID: "weather", Duration: 30, Needs: byMaker, Whole: true, After: []plan.Lag{{After: "prime", Min: 300}}},
	}}
	p.Operations[1].After = append(p.Operations[1].After, plan.Lag{After: "weather"})
	// prime, 5 h, weather, then paint, though paint may start at most 4 h after prime
	_, err := Solve(context.Background(), p, nil)
	for _, words := range []string{`"prime"`, `"paint"`, `"weather"`, "at most 4 h", "at least 5 h", "contradict"} {
		if err == nil || !strings.Contains(err.Error(), words) {
			t.Errorf("%v does not say %s", err, words)
		}
	}
	p.Operations = p.Operations[:2]
	p.Operations[1].After = p.Operations[1].After[:1]
	p.Operations[0].Pinned, p.Operations[1].Pinned = day.Add(time.Hour), day.Add(8*time.Hour)
	if _, err = Solve(context.Background(), p, nil); err == nil || !strings.Contains(err.Error(), "pinned to 2026-06-01T17:00:00Z") {
		t.Errorf("pins against a window: %v", err)
	}
	// a pin that the shop alone cannot keep is broken, not refused
	p.Operations[1].Pinned = time.Time{}
	p.Busy = []plan.Busy{{Resource: "maker1", From: day, To: day.Add(2 * time.Hour)}}
	if s := solve(t, p); len(s.Broken) != 1 || !strings.Contains(s.Broken[0], "pinned") {
		t.Errorf("broken: %q", s.Broken)
	}
}

// A skill is asked of the one who has it, and what anybody can do is left to the others.
func TestSkills(t *testing.T) {
	p := plan.Problem{Start: time.Date(2026, 6, 1, 9, 0, 0, 0, time.UTC), Calendar: weekdays("UTC"), Schedules: 20,
		Resources: []plan.Resource{{ID: "ana", Kind: "maker", Capacity: 1, Skills: []string{"spray", "sew"}}, {ID: "ben", Kind: "maker", Capacity: 1, Skills: []string{"sew"}}},
		Operations: []plan.Operation{
			{ID: "cut", Duration: 120, Needs: byMaker}, {ID: "paint", Duration: 120, Needs: []plan.Need{{Kind: "maker", Skill: "spray"}}},
			{ID: "both", Duration: 60, Needs: []plan.Need{{Kind: "maker"}, {Kind: "maker", Skill: "spray"}}, After: []plan.Lag{{After: "cut"}}},
		}}
	s := solve(t, p)
	if got := operationOf(s, "cut").Resources[0] + operationOf(s, "paint").Resources[0] + strings.Join(operationOf(s, "both").Resources, ""); got != "benanaanaben" {
		t.Errorf("who does what: %s", got)
	}
	at(t, "both at once", s.End, "2026-06-01T12:00:00Z")
	swapped := s
	swapped.Operations = slices.Clone(s.Operations)
	for i := range swapped.Operations {
		if swapped.Operations[i].ID == "paint" {
			swapped.Operations[i].Resources = []string{"ben"}
		}
	}
	if err := check.Plan(p, swapped); err == nil || !strings.Contains(err.Error(), "skill") {
		t.Errorf("painting without the skill: %v", err)
	}
	p.Operations[1].Needs[0].Skill = "weld"
	if _, err := Solve(context.Background(), p, nil); err == nil || !strings.Contains(err.Error(), `who can "weld"`) {
		t.Errorf("got %v", err)
	}
	p.Operations[1].Needs = []plan.Need{{Kind: "maker", Skill: "spray"}, {Kind: "maker", Skill: "spray"}}
	if _, err := Solve(context.Background(), p, nil); err == nil || !strings.Contains(err.Error(), "needs 2") {
		t.Errorf("got %v", err)
	}
}

// Objectives in their order: a promised date before a wish before the end, and fewer changes of colour at an equal end.
func TestObjectives(t *testing.T) {
	day := time.Date(2026, 6, 1, 9, 0, 0, 0, time.UTC)
	p := plan.Problem{Start: day, Calendar: weekdays("UTC"), Resources: append(maker(1), plan.Resource{ID: "booth", Kind: "booth", Capacity: 1}), Schedules: 200}
	for i, c := range []string{"red", "black", "red", "black", "red", "black"} {
		project := []string{"A", "B", "C"}[i%3]
		p.Operations = append(p.Operations, plan.Operation{ID: string(rune('a' + i)), Project: project, Duration: 60, Needs: []plan.Need{{Kind: "maker"}, {Kind: "booth"}}, Setup: c})
	}
	s := solve(t, p)
	if s.Changes != 1 {
		t.Errorf("%d changes of colour, one is enough", s.Changes)
	}
	p.Projects = []plan.Project{{ID: "B", Due: day.Add(2 * time.Hour), Promised: true}, {ID: "A", Due: day.Add(2 * time.Hour)}}
	s = solve(t, p)
	for _, d := range s.Dates {
		switch d.Project {
		case "B":
			at(t, "the promise", d.P80, "2026-06-01T11:00:00Z")
		case "A":
			at(t, "the wish", d.P80, "2026-06-01T13:00:00Z")
		}
	}
}

// The share of runs in which a window is missed is the probability that what the coat also waits for takes too long: a
// mask of one hour to four, two most likely, against two hours after half an hour of priming. By an independent sampler.
func TestShareOfMissedWindows(t *testing.T) {
	p := plan.Problem{Start: time.Date(2026, 6, 1, 9, 0, 0, 0, time.UTC), Calendar: always(), Resources: maker(2), Schedules: 10, Runs: 20_000, Seed: 4}
	p.Operations = []plan.Operation{
		{ID: "prime", Duration: 30, Needs: byMaker, Whole: true, Pinned: p.Start},
		{ID: "mask", Duration: 120, Low: 60, High: 240, Needs: byMaker, Pinned: p.Start},
		{ID: "paint", Duration: 30, Needs: byMaker, Whole: true, After: []plan.Lag{{After: "prime", Max: 120, Cure: "primer"}, {After: "mask"}}},
	}
	rng := rand.New(rand.NewPCG(7, 7))
	over := 0.0
	const n = 200_000
	for range n {
		if math.Round(pertDraw(rng, 60, 120, 240)/5)*5 > 150 {
			over++
		}
	}
	// four standard errors of the runs
	if got := solve(t, p).Dates[0].Missed; math.Abs(got-over/n) > 0.014 {
		t.Errorf("%.4f of the runs miss the window, want %.4f", got, over/n)
	}
}

// Critical is what delays a project when it starts a step later with order and assignment kept; nothing else does.
func TestCriticalIsWhatDelays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := genProblem(t)
		p.Air = nil
		for i := range p.Operations {
			o := &p.Operations[i]
			o.Low, o.High, o.Pinned, o.Duration = 0, 0, time.Time{}, max(o.Duration, 5)
			for k := range o.After {
				o.After[k].Max, o.After[k].Windows = 0, nil
			}
		}
		m, g := policyOf(t, p)
		s := m.solution(g)
		m.chain(g, &s)
		order := byEnd(m, g)
		n := len(m.projects)
		ends, planned := make([]int32, n), make([]int32, n)
		missed := make([]bool, n)
		policy, err := newPolicy(m, g)
		if err != nil {
			t.Fatal(err)
		}
		policy.once(planned, missed)
		for k := range planned {
			if m.start+slot(planned[k]) != g.ends[k] {
				return // the plan waits somewhere without need: nothing to compare with
			}
		}
		for k, i := range order {
			if m.tasks[i].fixed {
				continue
			}
			policy, err := newPolicy(m, g)
			if err != nil {
				t.Fatal(err)
			}
			policy.steps[k].head = int32(g.start[i]-m.start) + 1
			policy.once(ends, missed)
			delays := false
			for k := range ends {
				delays = delays || ends[k] > planned[k]
			}
			if x := operationOf(s, p.Operations[i].ID); delays != x.Critical {
				t.Fatalf("%s started later delays a project: %t, critical: %t", x.ID, delays, x.Critical)
			}
		}
	})
}

// A lower bound found without knowing of a plan is still none that a plan could beat.
func TestLowerBoundIsBelowEveryPlan(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := genProblem(t)
		p.Schedules, p.Runs = 30, 0
		s, err := Solve(context.Background(), p, nil)
		if err != nil || len(s.Broken) > 0 {
			t.Skip("no plan that keeps all windows")
		}
		m, err := compile(&p)
		if err != nil {
			t.Fatal(err)
		}
		if low := m.lowerBound(m.cal, slotDown(s.End)+slot(rapid.IntRange(1, 20000).Draw(t, "slack"))); low.time().After(s.End) {
			t.Fatalf("the bound is %s, a plan ends at %s", low.time(), s.End)
		}
	})
}
