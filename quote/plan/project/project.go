package project

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"benchbell/quote/plan"
)

// Limits of a project: well above the published sets, low enough that no input can hold a machine up or fill it.
const (
	maxJobs      = 1200
	maxResources = 64
	maxArcs      = 200_000
	maxUnits     = 1000    // of one resource
	maxDemands   = 1 << 20 // units, of all jobs together
	maxTime      = 200_000 // of one duration or lag, and of all work one after the other
)

// period is a unit of a project's time.
const period = time.Duration(plan.Grid) * time.Minute

// arc is a time lag between starts: to starts at the earliest lag after from starts. A negative lag is a maximum lag the other
// way round: from starts at the latest −lag after to.
type arc struct{ from, to, lag int }

// file is a project as it is written: jobs from 0 with durations and demands by resource, capacities, and lags.
type file struct {
	duration []int
	demand   [][]int
	capacity []int
	arcs     []arc
}

func (f *file) validate() error {
	n := len(f.duration)
	if len(f.arcs) > maxArcs {
		return fmt.Errorf("the project has %d lags, give at most %d", len(f.arcs), maxArcs)
	}
	for r, c := range f.capacity {
		if c < 0 || c > maxUnits {
			return fmt.Errorf("resource %d has capacity %d, give 0 to %d", r+1, c, maxUnits)
		}
	}
	units := 0
	for i, d := range f.duration {
		if d < 0 || d > maxTime {
			return fmt.Errorf("job %d takes %d, give 0 to %d", i+1, d, maxTime)
		}
		for r, q := range f.demand[i] {
			if q < 0 || q > maxDemands {
				return fmt.Errorf("job %d demands %d of resource %d, give 0 to %d", i+1, q, r+1, maxDemands)
			}
			if units += min(q, maxUnits); units > maxDemands {
				return fmt.Errorf("the jobs demand more than %d units together, give a coarser unit", maxDemands)
			}
		}
	}
	sum := 0
	after := append([]int(nil), f.duration...)
	for _, a := range f.arcs {
		if a.from < 0 || a.from >= n || a.to < 0 || a.to >= n {
			return fmt.Errorf("a lag ties job %d to job %d, but jobs are numbered 1 to %d", a.from+1, a.to+1, n)
		}
		if a.lag < -maxTime || a.lag > maxTime {
			return fmt.Errorf("the lag from job %d to job %d is %d, give -%d to %d", a.from+1, a.to+1, a.lag, maxTime, maxTime)
		}
		after[a.from] = max(after[a.from], a.lag)
	}
	for _, d := range after {
		sum += d
	}
	if sum > maxTime {
		return fmt.Errorf("all jobs one after the other take %d, give at most %d or a coarser unit", sum, maxTime)
	}
	return nil
}

// excess says which job asks for more of a resource at once than there is.
func (f *file) excess() string {
	for i, d := range f.duration {
		for r, q := range f.demand[i] {
			if d > 0 && q > f.capacity[r] { // a milestone occupies nothing
				return fmt.Sprintf("%s needs %d of resource %d at once, and there are %d", job(i), q, r+1, f.capacity[r])
			}
		}
	}
	return ""
}

// circle says which lags lead from the start of a job back to it and take longer than nothing (Bellman and Ford).
func (f *file) circle() string {
	n := len(f.duration)
	dist, by := make([]int, n), make([]int, n) // longest way to a job, and the lag that it ends with
	last := -1
	for range n + 1 {
		last = -1
		for k, a := range f.arcs {
			if d := dist[a.from] + a.lag; d > dist[a.to] {
				dist[a.to], by[a.to], last = d, k, a.to
			}
		}
		if last < 0 {
			return ""
		}
	}
	for range n { // from here back, n lags end on the circle
		last = f.arcs[by[last]].from
	}
	var ways []string
	sum := 0
	for at := last; ; {
		a := f.arcs[by[at]]
		sum += a.lag
		way := fmt.Sprintf("%s starts at least %d after %s", job(a.to), a.lag, job(a.from))
		if a.lag < 0 {
			way = fmt.Sprintf("%s starts at most %d after %s", job(a.from), -a.lag, job(a.to))
		}
		ways = append(ways, way)
		if at = a.from; at == last {
			break
		}
	}
	slices.Reverse(ways)
	const most = 6
	if len(ways) > most {
		ways = append(ways[:most], "and so on")
	}
	return fmt.Sprintf("the jobs' times go round in a circle that takes %d: %s", sum, strings.Join(ways, ", "))
}

// start is when a project begins: some midnight.
var start = time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)

// dayAndNight is a calendar without closed hours.
func dayAndNight() plan.Calendar {
	c := plan.Calendar{Zone: "UTC"}
	for d := time.Sunday; d <= time.Saturday; d++ {
		c.Shifts = append(c.Shifts, plan.Shift{Weekday: d, From: 0, To: 24 * 60})
	}
	return c
}

func job(i int) string { return fmt.Sprintf("job %d", i+1) }

// problem says the same in the shop's words.
func (f *file) problem() plan.Problem {
	p := plan.Problem{Start: start, Calendar: dayAndNight()}
	kinds := make([]string, len(f.capacity))
	for r, c := range f.capacity {
		kinds[r] = fmt.Sprintf("resource %d", r+1)
		if c > 0 { // of what there is nothing, the shop has none
			p.Resources = append(p.Resources, plan.Resource{ID: kinds[r], Kind: kinds[r], Capacity: c})
		}
	}
	for i, d := range f.duration {
		o := plan.Operation{ID: job(i), Duration: plan.Minutes(d) * plan.Grid, Whole: true}
		for r, q := range f.demand[i] {
			for range min(q, f.capacity[r]+1) {
				if d > 0 { // a milestone occupies nothing
					o.Needs = append(o.Needs, plan.Need{Kind: kinds[r]})
				}
			}
		}
		p.Operations = append(p.Operations, o)
	}
	precedence := f.precedence()
	for _, a := range f.arcs {
		o := &p.Operations[a.to]
		if d := f.duration[a.from]; a.from != a.to && a.lag >= d && (d > 0 || precedence) {
			o.After = append(o.After, plan.Lag{After: job(a.from), Min: plan.Minutes(a.lag-d) * plan.Grid})
		} else {
			o.Offsets = append(o.Offsets, plan.Offset{From: job(a.from), Least: plan.Minutes(a.lag) * plan.Grid})
		}
	}
	return p
}

// precedence says whether all lags are precedences: each at least the duration of its first job, and no circle.
func (f *file) precedence() bool {
	n := len(f.duration)
	waits := make([]int, n)
	next := make([][]int, n)
	for _, a := range f.arcs {
		if a.lag < f.duration[a.from] {
			return false
		}
		waits[a.to]++
		next[a.from] = append(next[a.from], a.to)
	}
	var order []int
	for i, w := range waits {
		if w == 0 {
			order = append(order, i)
		}
	}
	for k := 0; k < len(order); k++ {
		for _, j := range next[order[k]] {
			if waits[j]--; waits[j] == 0 {
				order = append(order, j)
			}
		}
	}
	return len(order) == n
}

// Starts are the starts in a plan of a project that Read gave, by job in the order of the file, and when the last job ends, both
// in periods from its beginning.
func Starts(p plan.Problem, s plan.Solution) (starts []int, makespan int) {
	at := make(map[string]time.Time, len(s.Operations))
	for _, x := range s.Operations {
		at[x.ID] = x.Start
	}
	for _, o := range p.Operations {
		starts = append(starts, Periods(p, at[o.ID]))
	}
	return starts, Periods(p, s.End)
}

// Periods is how many periods a moment lies after the beginning of a project.
func Periods(p plan.Problem, t time.Time) int { return int(t.Sub(p.Start) / period) }
