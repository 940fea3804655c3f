package rcpsp

import (
	"fmt"
	"slices"
)

// Limits of an instance: well above the published sets, low enough that no input can hold a machine up or fill it.
const (
	maxActivities = 1200
	maxResources  = 64
	maxArcs       = 200_000
	maxUnits      = 1 << 20 // of one resource
	maxTime       = 1 << 20 // of one duration, one lag, and of all work one after the other
)

// Arc is a time lag between starts: To starts at the earliest Lag after From starts. A negative lag is a maximum lag
// the other way round: From starts at the latest −Lag after To.
type Arc struct{ From, To, Lag int }

// Instance is a project: activities numbered from 0 with a duration and a demand for each resource while they run, the
// capacities of the resources, and lags. Times are in the instance's own unit; nothing starts before 0.
type Instance struct {
	Duration []int
	Demand   [][]int // by activity and resource
	Capacity []int
	Arcs     []Arc
}

// validate refuses what no solver here can take.
func (in *Instance) validate() error {
	n := len(in.Duration)
	switch {
	case n == 0:
		return fmt.Errorf("the project has no activities, give at least one")
	case n > maxActivities:
		return fmt.Errorf("the project has %d activities, give at most %d", n, maxActivities)
	case len(in.Capacity) > maxResources:
		return fmt.Errorf("the project has %d resources, give at most %d", len(in.Capacity), maxResources)
	case len(in.Demand) != n:
		return fmt.Errorf("the project has %d activities but %d rows of demands, give one for each", n, len(in.Demand))
	case len(in.Arcs) > maxArcs:
		return fmt.Errorf("the project has %d lags, give at most %d", len(in.Arcs), maxArcs)
	}
	for r, c := range in.Capacity {
		if c < 0 || c > maxUnits {
			return fmt.Errorf("resource %d has capacity %d, give 0 to %d", r+1, c, maxUnits)
		}
	}
	for i, d := range in.Duration {
		if d < 0 || d > maxTime {
			return fmt.Errorf("job %d takes %d, give 0 to %d", i+1, d, maxTime)
		}
		if len(in.Demand[i]) != len(in.Capacity) {
			return fmt.Errorf("job %d demands %d resources, the project has %d", i+1, len(in.Demand[i]), len(in.Capacity))
		}
		for r, q := range in.Demand[i] {
			if q < 0 || q > maxUnits {
				return fmt.Errorf("job %d demands %d of resource %d, give 0 to %d", i+1, q, r+1, maxUnits)
			}
		}
	}
	for _, a := range in.Arcs {
		if a.From < 0 || a.From >= n || a.To < 0 || a.To >= n {
			return fmt.Errorf("a lag ties job %d to job %d, but jobs are numbered 1 to %d", a.From+1, a.To+1, n)
		}
		if a.Lag < -maxTime || a.Lag > maxTime {
			return fmt.Errorf("the lag from job %d to job %d is %d, give -%d to %d", a.From+1, a.To+1, a.Lag, maxTime, maxTime)
		}
	}
	if h := in.horizon(); h > maxTime {
		return fmt.Errorf("all jobs one after the other take %d, give at most %d or a coarser unit", h, maxTime)
	}
	return nil
}

// horizon is a time by which a feasible project can always end: every activity, and every lag behind it, after the
// other.
func (in *Instance) horizon() int {
	after := slices.Clone(in.Duration)
	for _, a := range in.Arcs {
		after[a.From] = max(after[a.From], a.Lag)
	}
	h := 0
	for _, d := range after {
		h += d
	}
	return h
}

// Makespan is when the last activity of a schedule ends.
func (in *Instance) Makespan(start []int) int {
	end := 0
	for i, s := range start {
		end = max(end, s+in.Duration[i])
	}
	return end
}

// Check says what is wrong with a schedule: a start before 0, a lag not kept, a resource used beyond its capacity.
func (in *Instance) Check(start []int) error {
	n := len(in.Duration)
	if len(start) != n {
		return fmt.Errorf("the schedule has %d starts for %d jobs, give one for each", len(start), n)
	}
	for i, s := range start {
		if s < 0 {
			return fmt.Errorf("job %d starts at %d, nothing starts before 0", i+1, s)
		}
	}
	for _, a := range in.Arcs {
		if start[a.To] < start[a.From]+a.Lag {
			return fmt.Errorf("job %d starts at %d, but job %d starts at %d and asks for a lag of %d",
				a.To+1, start[a.To], a.From+1, start[a.From], a.Lag)
		}
	}
	for r, c := range in.Capacity { // use only rises where something starts
		for i, at := range start {
			if in.Duration[i] == 0 || in.Demand[i][r] == 0 {
				continue
			}
			use := 0
			for k, s := range start {
				if s <= at && at < s+in.Duration[k] {
					use += in.Demand[k][r]
				}
			}
			if use > c {
				return fmt.Errorf("at %d the jobs use %d of resource %d, which has %d", at, use, r+1, c)
			}
		}
	}
	return nil
}

// classic says whether all lags are precedences: each at least the duration of its first activity, and no circle.
func (in *Instance) classic() bool {
	for _, a := range in.Arcs {
		if a.Lag < in.Duration[a.From] {
			return false
		}
	}
	_, ok := in.topological()
	return ok
}

// topological orders the activities so that every arc leads forward, or says that there is a circle.
func (in *Instance) topological() (order []int, ok bool) {
	n := len(in.Duration)
	waits := make([]int, n)
	next := make([][]int, n)
	for _, a := range in.Arcs {
		waits[a.To]++
		next[a.From] = append(next[a.From], a.To)
	}
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
	return order, len(order) == n
}
