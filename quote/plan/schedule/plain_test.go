package schedule

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"benchbell/quote/plan"
)

// drawPlain draws a project in a shop that is open day and night: precedence, perhaps with cures, and needs of several units.
func drawPlain(t *rapid.T, most int) plan.Problem {
	p := plan.Problem{Start: midnight, Calendar: always(), Seed: 1}
	capacity := map[string]int{}
	for k := range rapid.IntRange(1, 9).Draw(t, "resources") { // nine do not fit one word
		kind := fmt.Sprint("R", k)
		capacity[kind] = rapid.IntRange(1, 1<<rapid.IntRange(1, 9).Draw(t, "bits")).Draw(t, "capacity")
		p.Resources = append(p.Resources, plan.Resource{ID: kind, Kind: kind, Capacity: capacity[kind]})
	}
	n := rapid.IntRange(1, most).Draw(t, "operations")
	for i := range n {
		o := plan.Operation{ID: fmt.Sprint(i), Duration: plan.Minutes(rapid.IntRange(0, 9).Draw(t, "duration")) * plan.Grid}
		for _, r := range p.Resources {
			for range rapid.IntRange(0, min(9, r.Capacity)).Draw(t, "demand") {
				o.Needs = append(o.Needs, plan.Need{Kind: r.Kind})
			}
		}
		if rapid.IntRange(0, 5).Draw(t, "tail") == 0 {
			o.Tail = 4 * plan.Grid
		}
		if rapid.IntRange(0, 9).Draw(t, "release") == 0 {
			o.Release = p.Start.Add(3 * grid)
		}
		p.Operations = append(p.Operations, o)
	}
	number := rapid.Permutation(numbersTo(n)).Draw(t, "numbers")
	for range rapid.IntRange(0, 2*n).Draw(t, "lags") {
		i, j := rapid.IntRange(0, n-1).Draw(t, "from"), rapid.IntRange(0, n-1).Draw(t, "to")
		if i < j {
			o := &p.Operations[number[j]]
			o.After = append(o.After, plan.Lag{After: fmt.Sprint(number[i]), Min: plan.Minutes(max(0, rapid.IntRange(-9, 4).Draw(t, "cure"))) * plan.Grid})
		}
	}
	return p
}

const grid = 5 * time.Minute

var midnight = time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)

func numbersTo(n int) []int {
	v := make([]int, n)
	for i := range v {
		v[i] = i
	}
	return v
}

func compiled(t *rapid.T, p plan.Problem) *model {
	t.Helper()
	m, err := compile(&p)
	if err != nil {
		t.Fatal(err)
	}
	if m.plain == nil {
		t.Fatal("the model is not plain")
	}
	return m
}

// Plain arithmetic gives of a list the schedule that the generator gives of it, start by start; backward it keeps every rule and
// the end; and generated in the order of that, nothing ends later.
func TestPlainGeneratesTheSame(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := compiled(t, drawPlain(t, 25))
		s := newIsland(m, 0, 100, beginning)
		priority := make([]float64, len(m.tasks))
		for i := range priority {
			priority[i] = rapid.Float64Range(0, 1).Draw(t, "priority")
		}
		x := &parent{individual: individual{list: newQueue(m).list(nil, priority), wanted: m.allWindows()}}
		if err := s.forward(x, far); err != nil {
			t.Fatal(err)
		}
		g := newGenerator(m)
		if err := g.decode(&x.individual); err != nil {
			t.Fatal(err)
		}
		for i := range m.tasks {
			if got := m.start + slot(s.begin[i]); got != g.start[i] {
				t.Fatalf("operation %d starts at %d, by the generator at %d", i, got-m.start, g.start[i]-m.start)
			}
		}
		if c := g.score(); c.finish != x.score.finish || c.sum != x.score.sum || c.ends != x.score.ends {
			t.Fatalf("scored %+v, by the generator %+v", x.score, c)
		}
		before := x.score.finish
		s.toTheRight(x)
		lateFits(t, m, x.key, before)
		s.byKey(x)
		if err := s.forward(x, far); err != nil || x.score.finish > before {
			t.Fatalf("justified it ends at %d, before at %d; %v", x.score.finish, before, err)
		}
		if err := s.forward(x, x.score.finish-1); err != nil || x.score.finish != far {
			t.Fatal("what ends after the limit was not given up")
		}
	})
}

// lateFits looks at starts slot by slot.
func lateFits(t *rapid.T, m *model, start []int32, end slot) {
	for i := range m.tasks {
		x := &m.tasks[i]
		if m.start+slot(start[i])+x.dur+x.tail > end {
			t.Fatalf("operation %d at %d is not over by the end", i, start[i])
		}
		for _, l := range x.lags {
			if slot(start[i]) < slot(start[l.pred])+m.tasks[l.pred].dur+l.windows[0].from {
				t.Fatalf("operation %d at %d comes too early after %d", i, start[i], l.pred)
			}
		}
		for r, c := range m.capacity {
			use := int32(0)
			for j := range m.tasks {
				if start[j] <= start[i] && slot(start[i]-start[j]) < m.tasks[j].dur {
					use += m.plain.demand[r][j]
				}
			}
			if x.dur > 0 && use > c {
				t.Fatalf("%d of %d of resource %d at %d", use, c, r, start[i])
			}
		}
	}
}

// drawOffsets is a small problem with offsets of both signs.
func drawOffsets(t *rapid.T) plan.Problem {
	p := plan.Problem{Start: midnight, Calendar: always(), Seed: 1, Schedules: 5000}
	p.Resources = []plan.Resource{{ID: "A", Kind: "A", Capacity: rapid.IntRange(1, 3).Draw(t, "capacity")}, {ID: "B", Kind: "B", Capacity: 2}}
	n := rapid.IntRange(2, 5).Draw(t, "operations")
	for i := range n {
		o := plan.Operation{ID: fmt.Sprint(i), Duration: plan.Minutes(rapid.IntRange(0, 3).Draw(t, "duration")) * plan.Grid}
		for _, r := range p.Resources {
			for range rapid.IntRange(0, r.Capacity).Draw(t, "demand") {
				o.Needs = append(o.Needs, plan.Need{Kind: r.Kind})
			}
		}
		p.Operations = append(p.Operations, o)
	}
	for range rapid.IntRange(1, n+2).Draw(t, "offsets") {
		i, j := rapid.IntRange(0, n-1).Draw(t, "from"), rapid.IntRange(0, n-1).Draw(t, "to")
		if i != j {
			o := &p.Operations[j]
			o.Offsets = append(o.Offsets, plan.Offset{From: fmt.Sprint(i), Least: plan.Minutes(rapid.IntRange(-4, 3).Draw(t, "least")) * plan.Grid})
		}
	}
	return p
}

// bruteForce tries all starts up to a horizon. It returns the least end, or −1.
func bruteForce(p plan.Problem, horizon int) int {
	best := -1
	n := len(p.Operations)
	start, length := make([]int, n), make([]int, n)
	demand := make([]map[string]int, n)
	index := map[string]int{}
	for i, o := range p.Operations {
		index[o.ID], length[i], demand[i] = i, int(o.Duration/plan.Grid), map[string]int{}
		for _, x := range o.Needs {
			demand[i][x.Kind]++
		}
	}
	var place func(i int)
	place = func(i int) {
		if i == n {
			end := 0
			for k, at := range start {
				end = max(end, at+length[k])
			}
			if best < 0 || end < best {
				best = end
			}
			return
		}
	times:
		for at := 0; at+length[i] <= horizon; at++ {
			start[i] = at
			for k := range i + 1 {
				for _, x := range p.Operations[k].Offsets {
					if f := index[x.From]; f <= i && start[k]-start[f] < int(x.Least/plan.Grid) {
						continue times
					}
				}
			}
			for u := at; u < at+length[i]; u++ {
				for _, r := range p.Resources {
					use := 0
					for k := range i + 1 {
						if start[k] <= u && u < start[k]+length[k] {
							use += demand[k][r.Kind]
						}
					}
					if use > r.Capacity {
						continue times
					}
				}
			}
			place(i + 1)
		}
	}
	place(0)
	return best
}

// On tiny problems with offsets the search decides what trying everything decides: the earliest end, proved, or that there is no
// plan.
func TestOffsetsAgainstBruteForce(t *testing.T) {
	found, none := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		p := drawOffsets(t)
		want := bruteForce(p, 12)
		s, err := Options{Workers: rapid.IntRange(1, 2).Draw(t, "workers")}.Solve(context.Background(), p)
		end := int(s.End.Sub(p.Start) / grid)
		var no *Impossible
		switch {
		case want >= 0:
			if found++; err != nil || end != want || !s.LowerBound.Equal(s.End) {
				t.Fatalf("%v: ends at %d, at least %v, want %d", err, end, s.LowerBound, want)
			}
		case errors.As(err, &no):
			none++
		case err != nil:
			t.Fatal(err)
		case end <= 12:
			t.Fatalf("found %d, which trying everything did not", end)
		}
	})
	if found == 0 || none == 0 {
		t.Errorf("one-sided: %d found, %d impossible", found, none)
	}
}

// Projects are decided alike by breeding with its proof and by propagation alone.
func TestSearchesAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawPlain(t, 8)
		o := Options{Endless: true}
		a, err := o.Solve(context.Background(), p)
		if err != nil {
			t.Fatal(err)
		}
		p.Operations[0].Offsets = []plan.Offset{{From: p.Operations[0].ID}} // nothing, but then there are offsets
		b, err := o.Solve(context.Background(), p)
		if err != nil {
			t.Fatal(err)
		}
		if !a.End.Equal(b.End) || !a.LowerBound.Equal(a.End) || !b.LowerBound.Equal(b.End) {
			t.Fatalf("%v (at least %v) and %v (at least %v)", a.End, a.LowerBound, b.End, b.LowerBound)
		}
	})
}

// A budget of schedules gives the same plan for any number of workers, and is kept.
func TestPlainIsTheSame(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawPlain(t, 50)
		p.Schedules = rapid.IntRange(1, 400).Draw(t, "schedules")
		if rapid.Bool().Draw(t, "most times") {
			for i := range p.Operations {
				for k, l := range p.Operations[i].After {
					if k%3 == 0 {
						pred := slices.IndexFunc(p.Operations, func(o plan.Operation) bool { return o.ID == l.After })
						p.Operations[pred].Offsets = append(p.Operations[pred].Offsets, plan.Offset{From: p.Operations[i].ID, Least: -l.Min - 40*plan.Grid})
					}
				}
			}
		}
		var got [2]string
		for k := range got {
			s, err := Options{Workers: 1 + k}.Solve(context.Background(), p)
			if err != nil && !errors.Is(err, ErrNotFound) {
				t.Fatal(err)
			}
			if s.Schedules > p.Schedules+2 { // a pair of the first is made whole
				t.Fatalf("%d schedules of %d", s.Schedules, p.Schedules)
			}
			b, _ := json.Marshal(s)
			got[k] = fmt.Sprint(string(b), err)
		}
		if got[0] != got[1] {
			t.Fatalf("two runs differ:\n%s\n%s", got[0], got[1])
		}
	})
}

// Contradictions are named, and told from faults of the problem.
func TestImpossible(t *testing.T) {
	two := func(a, b plan.Minutes, capacity int) plan.Problem {
		p := plan.Problem{Start: midnight, Calendar: always(), Schedules: 100,
			Resources: []plan.Resource{{ID: "booth", Kind: "booth", Capacity: 1}}}
		for k, x := range []struct {
			of    string
			least plan.Minutes
		}{{"b", a}, {"a", b}} {
			o := plan.Operation{ID: string(rune('a' + k)), Duration: 15, Offsets: []plan.Offset{{From: x.of, Least: x.least}}}
			for range capacity {
				o.Needs = append(o.Needs, plan.Need{Kind: "booth"})
			}
			p.Operations = append(p.Operations, o)
		}
		return p
	}
	for _, c := range []struct {
		name string
		p    plan.Problem
		says string
	}{
		{"circle", two(-20, 25, 1), `"b" starts at least 25 min after the start of "a"; "a" starts at most 20 min before "b"`},
		{"resources", two(-5, -5, 1), "the resources cannot serve all operations within their offsets"},
		{"needs", two(-5, -5, 2), `needs 2 of "booth" at once, the studio has 1`},
	} {
		_, err := Solve(t.Context(), c.p, nil)
		var no *Impossible
		if !errors.As(err, &no) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v; want %q", c.name, err, c.says)
		}
	}
	p := two(-20, 20, 1)
	for what, spoil := range map[string]func(p *plan.Problem){
		"not among the operations":                  func(p *plan.Problem) { p.Operations[0].Offsets[0].From = "c" },
		"give 0 runs":                               func(p *plan.Problem) { p.Runs = 10 },
		"open day and night":                        func(p *plan.Problem) { p.Calendar.Shifts = p.Calendar.Shifts[:3] },
		fmt.Sprint(math.MaxInt32, " minutes after"): func(p *plan.Problem) { p.Operations[1].Offsets[0].Least = math.MaxInt32 },
	} {
		q := p
		q.Operations = slices.Clone(p.Operations)
		for i := range q.Operations {
			q.Operations[i].Offsets = slices.Clone(q.Operations[i].Offsets)
		}
		spoil(&q)
		if _, err := Solve(t.Context(), q, nil); err == nil || !strings.Contains(err.Error(), what) {
			t.Errorf("%v, want something with %q", err, what)
		}
	}
}

// An endless search that is stopped at once still gives a plan where precedence alone rules, and one with time enough ends by itself
// where the end is proved.
func TestEndless(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawPlain(t, 7)
		s, err := Options{Endless: true, Workers: 2, Stop: func() bool { return true }}.Solve(context.Background(), p)
		if err != nil || len(s.Operations) != len(p.Operations) {
			t.Fatalf("%d operations, %v", len(s.Operations), err)
		}
		s, err = Options{Endless: true, Workers: 2}.Solve(context.Background(), p)
		if err != nil || !s.LowerBound.Equal(s.End) {
			t.Fatalf("ends at %v, at least %v; %v", s.End, s.LowerBound, err)
		}
	})
}
