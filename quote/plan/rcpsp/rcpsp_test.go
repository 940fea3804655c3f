package rcpsp

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// faults checks a schedule another way than Check does: unit of time by unit of time.
func faults(in *Instance, start []int) string {
	end := 0
	for i, s := range start {
		if s < 0 {
			return fmt.Sprintf("job %d starts at %d", i, s)
		}
		end = max(end, s+in.Duration[i])
	}
	for _, a := range in.Arcs {
		if start[a.To]-start[a.From] < a.Lag {
			return fmt.Sprintf("the lag %v is not kept: %d, %d", a, start[a.From], start[a.To])
		}
	}
	for t := range end {
		use := make([]int, len(in.Capacity))
		for i, s := range start {
			if t >= s && t < s+in.Duration[i] {
				for r, q := range in.Demand[i] {
					use[r] += q
				}
			}
		}
		for r, u := range use {
			if u > in.Capacity[r] {
				return fmt.Sprintf("resource %d is used %d of %d at %d", r, u, in.Capacity[r], t)
			}
		}
	}
	return ""
}

// drawProject draws a project with precedences, and perhaps longer lags, but no maximum lags.
func drawProject(t *rapid.T, most int) *Instance {
	n := rapid.IntRange(1, most).Draw(t, "activities")
	in := &Instance{}
	for range rapid.IntRange(1, 7).Draw(t, "resources") { // seven do not fit one word
		in.Capacity = append(in.Capacity, rapid.IntRange(1, 1<<rapid.IntRange(1, 11).Draw(t, "bits")).Draw(t, "capacity"))
	}
	for range n {
		in.Duration = append(in.Duration, rapid.IntRange(0, 9).Draw(t, "duration"))
		var row []int
		for _, c := range in.Capacity {
			row = append(row, rapid.IntRange(0, c).Draw(t, "demand"))
		}
		in.Demand = append(in.Demand, row)
	}
	number := rapid.Permutation(numbersTo(n)).Draw(t, "numbers")
	for range rapid.IntRange(0, 2*n).Draw(t, "arcs") {
		i, j := rapid.IntRange(0, n-1).Draw(t, "from"), rapid.IntRange(0, n-1).Draw(t, "to")
		if i < j {
			from := number[i]
			in.Arcs = append(in.Arcs, Arc{from, number[j], in.Duration[from] + max(0, rapid.IntRange(-9, 4).Draw(t, "more"))})
		}
	}
	return in
}

func numbersTo(n int) []int {
	v := make([]int, n)
	for i := range v {
		v[i] = i
	}
	return v
}

// Laws of both schemes and of justification, on drawn projects: every schedule is feasible; the serial scheme's is
// active, that is, no activity alone could start earlier; justification never lengthens; no schedule is shorter than
// the lower bounds.
func TestSchemes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := drawProject(t, 14)
		p, err := newProject(in)
		if err != nil {
			t.Fatal(err)
		}
		g := newGenetic(p, 10, rapid.Uint64().Draw(t, "seed"), 0)
		bound := max(int(p.forward.criticalPath()), in.energy(p))
		starts := func(s []int32) []int {
			out := make([]int, p.n)
			for i, o := range p.original {
				out[o] = int(s[i])
			}
			return out
		}
		check := func(name string, s []int32, makespan int32) []int {
			list := starts(s)
			if f := faults(in, list); f != "" {
				t.Fatalf("%s: %s", name, f)
			}
			if in.Makespan(list) != int(makespan) || int(makespan) < bound {
				t.Fatalf("%s: makespan %d, said %d, at least %d", name, in.Makespan(list), makespan, bound)
			}
			return list
		}
		x := individual{start: make([]int32, p.n)}
		g.sample()
		x.makespan = g.gen[0].parallel(g.list, x.start)
		check("parallel", x.start, x.makespan)

		g.generate(0, &x, unlimited)
		list := check("serial", x.start, x.makespan)
		for i, s := range list {
			for earlier := range s {
				if list[i] = earlier; in.Duration[i] > 0 && faults(in, list) == "" {
					t.Fatalf("not active: job %d could start at %d, not at %d", i, earlier, s)
				}
			}
			list[i] = s
		}
		makespan := x.makespan
		left, right := p.justify(g, slices.Clone(x.start), &makespan)
		if makespan > x.makespan {
			t.Fatalf("justification lengthened %d to %d", x.makespan, makespan)
		}
		check("justified to the left", left, makespan)
		for i := range right {
			if right[i] < left[i] {
				t.Fatalf("justified to the right, activity %d starts at %d, before %d", i, right[i], left[i])
			}
		}
		if f := faults(in, starts(right)); f != "" {
			t.Fatal("justified to the right:", f)
		}
	})
}

// A window's schedule is feasible and one unit shorter.
func TestShorten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := drawProject(t, 60)
		p, err := newProject(in)
		if err != nil {
			t.Fatal(err)
		}
		g := newGenetic(p, 10, 1, 0)
		g.first(true)
		makespan := g.makespan
		left, right := p.justify(g, slices.Clone(g.best), &makespan)
		if makespan == 0 {
			return
		}
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
		better, _ := p.shorten(rng, left, right, makespan, unlimited, goOn)
		if better == nil {
			return
		}
		list := make([]int, p.n)
		for i, o := range p.original {
			list[o] = int(better[i])
		}
		if f := faults(in, list); f != "" {
			t.Fatal(f)
		}
		if in.Makespan(list) >= int(makespan) {
			t.Fatalf("makespan %d is no better than %d", in.Makespan(list), makespan)
		}
	})
}

// bruteForce tries all starts up to a horizon. It returns the least makespan, or −1.
func bruteForce(in *Instance, horizon int) int {
	best := -1
	start := make([]int, len(in.Duration))
	var place func(i int)
	place = func(i int) {
		if i == len(start) {
			if faults(in, start) == "" {
				if m := in.Makespan(start); best < 0 || m < best {
					best = m
				}
			}
			return
		}
	times:
		for s := 0; s+in.Duration[i] <= horizon; s++ {
			start[i] = s
			for _, a := range in.Arcs {
				if a.From <= i && a.To <= i && start[a.To]-start[a.From] < a.Lag {
					continue times
				}
			}
			place(i + 1)
		}
	}
	place(0)
	return best
}

// On tiny projects with maximum lags the search decides what trying everything decides: the optimum, or that there is
// none; and a positive cycle is named with its lags.
func TestAgainstBruteForce(t *testing.T) {
	seen := map[Status]int{}
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 5).Draw(t, "activities")
		in := &Instance{Capacity: []int{rapid.IntRange(1, 3).Draw(t, "capacity"), 2}}
		for range n {
			in.Duration = append(in.Duration, rapid.IntRange(0, 3).Draw(t, "duration"))
			in.Demand = append(in.Demand, []int{rapid.IntRange(0, in.Capacity[0]).Draw(t, "demand"), rapid.IntRange(0, 2).Draw(t, "demand")})
		}
		for range rapid.IntRange(0, n+2).Draw(t, "arcs") {
			i, j := rapid.IntRange(0, n-1).Draw(t, "from"), rapid.IntRange(0, n-1).Draw(t, "to")
			if i != j {
				in.Arcs = append(in.Arcs, Arc{i, j, rapid.IntRange(-4, 3).Draw(t, "lag")})
			}
		}
		r, err := Solve(in, Options{Seed: 1, Workers: rapid.IntRange(1, 2).Draw(t, "workers")})
		if err != nil {
			t.Fatal(err)
		}
		seen[r.Status]++
		want := bruteForce(in, min(in.horizon(), 12))
		switch {
		case want >= 0:
			if r.Status != Feasible || r.Makespan != want || r.LowerBound != want {
				t.Fatalf("%+v: %s %d, at least %d, want %d", in, r.Status, r.Makespan, r.LowerBound, want)
			}
		case r.Status == Infeasible:
			var cycle *CycleError
			if errors.As(r.Why, &cycle) {
				checkCycle(t, in, cycle)
			}
		case r.Makespan <= 12:
			t.Fatalf("%+v: found %d, which trying everything did not", in, r.Makespan)
		}
	})
	if seen[Feasible] == 0 || seen[Infeasible] == 0 {
		t.Errorf("one-sided: %v", seen)
	}
}

// checkCycle adds up the lags around a cycle.
func checkCycle(t *rapid.T, in *Instance, c *CycleError) {
	sum := 0
	for k, i := range c.Activities {
		j := c.Activities[(k+1)%len(c.Activities)]
		most := never
		for _, a := range in.Arcs {
			if a.From == i && a.To == j {
				most = max(most, a.Lag)
			}
		}
		if most == never {
			t.Fatalf("no lag from %d to %d in the cycle %v", i, j, c.Activities)
		}
		sum += most
	}
	if c.Excess <= 0 || sum < c.Excess {
		t.Fatalf("the cycle %v adds up to %d, said %d", c.Activities, sum, c.Excess)
	}
}

// Classic projects are decided alike by the two searches: the genetic one with its proof, and the exact one alone.
func TestSearchesAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := drawProject(t, 9)
		a, err := Solve(in, Options{Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		b := solveLags(in, Options{Seed: 2, Workers: 1, Stop: goOn})
		if a.Makespan != b.Makespan || a.LowerBound != b.LowerBound || a.LowerBound != a.Makespan {
			t.Fatalf("%+v: %d (at least %d) and %d (at least %d)", in, a.Makespan, a.LowerBound, b.Makespan, b.LowerBound)
		}
	})
}

func goOn() bool { return false }

// With a budget of schedules the result depends on instance, seed and workers only, and the budget is kept.
func TestDeterminism(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := drawProject(t, 50)
		if rapid.Bool().Draw(t, "maximum lags") {
			for k, a := range in.Arcs {
				if k%3 == 0 {
					in.Arcs = append(in.Arcs, Arc{a.To, a.From, -a.Lag - 20})
				}
			}
		}
		o := Options{Schedules: rapid.IntRange(10, 400).Draw(t, "schedules"), Seed: 5, Workers: rapid.IntRange(1, 3).Draw(t, "workers")}
		a, err := Solve(in, o)
		if err != nil {
			t.Fatal(err)
		}
		b, err := Solve(in, o)
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(a, b) {
			t.Fatalf("two runs differ:\n%+v\n%+v", a, b)
		}
		if a.Status == Feasible {
			if f := faults(in, a.Start); f != "" {
				t.Fatal(f)
			}
			if a.Makespan != in.Makespan(a.Start) || a.LowerBound > a.Makespan {
				t.Fatalf("makespan %d (said %d), lower bound %d", in.Makespan(a.Start), a.Makespan, a.LowerBound)
			}
		}
		if a.Schedules > o.Schedules {
			t.Fatalf("%d schedules of %d", a.Schedules, o.Schedules)
		}
	})
}

// Contradictions are named.
func TestInfeasible(t *testing.T) {
	two := func(arcs ...Arc) *Instance {
		return &Instance{Duration: []int{3, 2}, Demand: [][]int{{1}, {1}}, Capacity: []int{1}, Arcs: arcs}
	}
	for _, c := range []struct {
		name string
		in   *Instance
		says string
	}{
		{"cycle", two(Arc{0, 1, 5}, Arc{1, 0, -4}), "between the jobs 2, 1 contradict each other by 1"},
		{"resources", two(Arc{0, 1, -1}, Arc{1, 0, -1}), "the resources cannot serve all jobs within their lags"},
		{"demand", &Instance{Duration: []int{1}, Demand: [][]int{{2}}, Capacity: []int{1}}, "job 1 demands 2 of resource 1, which has 1"},
	} {
		r, err := Solve(c.in, Options{Schedules: 100})
		if err != nil {
			t.Fatal(err)
		}
		if r.Status != Infeasible || !strings.Contains(fmt.Sprint(r.Why), c.says) {
			t.Errorf("%s: %s, %v; want %q", c.name, r.Status, r.Why, c.says)
		}
	}
}

// A search that is stopped at once still gives a schedule where precedences alone rule.
func TestStopped(t *testing.T) {
	in, err := Read([]byte(pat2))
	if err != nil {
		t.Fatal(err)
	}
	r, err := Solve(in, Options{Stop: func() bool { return true }, Workers: 2})
	if err != nil || r.Status != Feasible || faults(in, r.Start) != "" {
		t.Errorf("%+v, %v", r, err)
	}
}
