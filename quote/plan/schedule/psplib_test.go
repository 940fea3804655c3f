package schedule

import (
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"benchbell/quote/gaugetest"
	"benchbell/quote/plan"
)

// Resource-constrained projects with known optima. Source: PSPLIB (Kolisch & Sprecher 1996), sets j30 and j60, with the
// best known bounds of September 2024. A schedule below a proved lower bound would mean that a constraint is lost; the
// mean excess over the bound says how good the search is. The instances are not part of the project: without them the
// test says that it did not run.
func TestPSPLIB(t *testing.T) {
	library := gaugetest.Reference(t, "sched", "psplib")
	f, err := os.Open(filepath.Join(library, "bounds.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, set := range []struct {
		prefix string
		every  int
		most   float64 // mean excess allowed over the bound, in percent, after only 200 schedules
	}{{"j30", 12, 1}, {"j60", 23, 1.5}} {
		var excess float64
		n, optimal := 0, 0
		for i, r := range rows {
			if i%set.every != 0 || !strings.HasPrefix(r[0], set.prefix) {
				continue
			}
			data, err := os.ReadFile(filepath.Join(library, set.prefix, r[0]))
			if err != nil {
				continue // only a part of each set is kept
			}
			bound, err := strconv.Atoi(r[2])
			if err != nil {
				t.Fatal(err)
			}
			p, err := readProject(string(data))
			if err != nil {
				t.Fatalf("%s: %v", r[0], err)
			}
			p.Schedules, p.Seed = 200, 1
			s := solve(t, p)
			got := int(s.End.Sub(p.Start) / (5 * time.Minute))
			if got < bound {
				t.Errorf("%s: makespan %d below the proved bound %d", r[0], got, bound)
			}
			excess += 100 * float64(got-bound) / float64(bound)
			n++
			if got == bound {
				optimal++
			}
		}
		if n == 0 {
			t.Errorf("no instances of %s", set.prefix)
			continue
		}
		t.Logf("%s: %d instances, %d at the bound, mean excess %.2f %%", set.prefix, n, optimal, excess/float64(n))
		if excess/float64(n) > set.most {
			t.Errorf("%s: mean excess %.2f %% over the bounds, want at most %g %%", set.prefix, excess/float64(n), set.most)
		}
	}
}

// All of j30, j60 and j120 as shop problems, with as many schedules as BENCHBELL_PROJECTS says: the mean excess over the optimum
// of j30, over the critical path of the others. What is asked at 5,000 and 50,000 schedules is checked.
func TestProjectsInFull(t *testing.T) {
	budget, _ := strconv.Atoi(os.Getenv("BENCHBELL_PROJECTS"))
	if budget == 0 {
		t.Skip("BENCHBELL_PROJECTS is not set to a number of schedules")
	}
	library := gaugetest.Reference(t, "sched", "psplib")
	f, err := os.Open(filepath.Join(library, "bounds.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, set := range []struct {
		name   string
		column int
		bar    map[int]float64
	}{{"j30", 2, map[int]float64{5000: 0.11, 50000: 0.05}}, {"j60", 1, map[int]float64{5000: 11.1, 50000: 10.8}}, {"j120", 1, map[int]float64{5000: 32.6, 50000: 31.1}}} {
		t.Run(set.name, func(t *testing.T) {
			var mutex sync.Mutex
			var excess float64
			n := 0
			var group sync.WaitGroup
			turn := make(chan struct{}, 2)
			for _, r := range rows {
				data, err := os.ReadFile(filepath.Join(library, set.name, r[0]))
				if err != nil {
					continue // another set's, or left out
				}
				bound, err := strconv.Atoi(r[set.column])
				if err != nil {
					t.Fatal(err)
				}
				group.Go(func() {
					turn <- struct{}{}
					defer func() { <-turn }()
					p, err := readProject(string(data))
					if err != nil {
						t.Errorf("%s: %v", r[0], err)
						return
					}
					p.Schedules, p.Seed = budget, 1
					s, err := Solve(t.Context(), p, nil)
					if err != nil {
						t.Errorf("%s: %v", r[0], err)
						return
					}
					got := int(s.End.Sub(p.Start) / (time.Duration(plan.Grid) * time.Minute))
					mutex.Lock()
					defer mutex.Unlock()
					excess += 100 * float64(got-bound) / float64(bound)
					n++
				})
			}
			group.Wait()
			mean := excess / float64(max(1, n))
			t.Logf("%d projects, %d schedules each: %.3f %%", n, budget, mean)
			if bar, ok := set.bar[budget]; n == 0 || ok && mean > bar {
				t.Errorf("%d projects, mean excess %.3f %%, want at most %g", n, mean, bar)
			}
		})
	}
}

// readProject reads the single-mode .sm format: a unit of time is one step of the grid, a unit of a resource one need.
func readProject(s string) (plan.Problem, error) {
	p := plan.Problem{Start: time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC), Calendar: always()}
	section := ""
	after := map[int][]plan.Lag{}
	for line := range strings.Lines(s) {
		line = strings.TrimSpace(line)
		switch {
		case strings.HasPrefix(line, "PRECEDENCE"), strings.HasPrefix(line, "REQUESTS"), strings.HasPrefix(line, "RESOURCEAVAIL"):
			section = line[:3]
			continue
		case strings.HasPrefix(line, "*"), strings.HasPrefix(line, "-"):
			continue
		}
		var v []int
		for _, w := range strings.Fields(line) {
			x, err := strconv.Atoi(w)
			if err != nil {
				v = nil
				break
			}
			v = append(v, x)
		}
		switch {
		case section == "PRE" && len(v) >= 3:
			for _, to := range v[3:] {
				after[to] = append(after[to], plan.Lag{After: fmt.Sprint("job", v[0])})
			}
		case section == "REQ" && len(v) >= 3:
			o := plan.Operation{ID: fmt.Sprint("job", v[0]), Duration: plan.Minutes(v[2]) * plan.Grid, Whole: true, After: after[v[0]]}
			for k, units := range v[3:] {
				for range units {
					o.Needs = append(o.Needs, plan.Need{Kind: fmt.Sprint("R", k+1)})
				}
			}
			p.Operations = append(p.Operations, o)
		case section == "RES" && len(v) > 0:
			for k, c := range v {
				p.Resources = append(p.Resources, plan.Resource{ID: fmt.Sprint("R", k+1), Kind: fmt.Sprint("R", k+1), Capacity: c})
			}
		}
	}
	if len(p.Operations) == 0 || len(p.Resources) == 0 {
		return p, fmt.Errorf("no jobs or no resources found")
	}
	return p, nil
}
