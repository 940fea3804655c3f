package rcpsp

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sync"
)

// Options say how long and how to search.
type Options struct {
	// Schedules is the budget of generated schedules over all workers; 0 means that only Stop ends the search. A
	// schedule is as many placements of an activity as the project has activities: a pass of serial generation forward
	// or backward counts one, also where it gives up early, and in the exact search every decision and every start
	// fixed counts as a placement.
	Schedules int
	Seed      uint64
	Workers   int         // goroutines; 0 is 1
	Stop      func() bool // looked at every few milliseconds, by all workers; nil never stops
}

// Status is what is known of a project after a search.
type Status string

const (
	Feasible   Status = "feasible"   // a schedule was found
	Infeasible Status = "infeasible" // proved to have none
	None       Status = "none"       // neither found nor proved
)

// Result is what a search found.
type Result struct {
	Status     Status
	Start      []int // by activity
	Makespan   int
	LowerBound int // no schedule is shorter; equal to Makespan where that is optimal
	Schedules  int // generated, see Options
	Why        error
}

// Solve looks for a schedule of least makespan. Its error says what is wrong with the instance; that no schedule
// exists is a Result with Why. With a budget of schedules the result is the same for the same instance, seed and number
// of workers, unless Stop ends the search first.
func Solve(in *Instance, o Options) (Result, error) {
	if err := in.validate(); err != nil {
		return Result{}, err
	}
	if o.Stop == nil {
		o.Stop = func() bool { return false }
	}
	o.Workers = max(1, o.Workers)
	for i, row := range in.Demand {
		for r, q := range row {
			if q > in.Capacity[r] && in.Duration[i] > 0 {
				return Result{Status: Infeasible, Why: fmt.Errorf("job %d demands %d of resource %d, which has %d", i+1, q, r+1, in.Capacity[r])}, nil
			}
		}
	}
	if e := in.positiveCycle(); e != nil {
		return Result{Status: Infeasible, Why: e}, nil
	}
	var r Result
	var err error
	if in.classic() {
		r, err = solveClassic(in, o)
	} else {
		r = solveLags(in, o)
	}
	if err == nil && r.Status == Feasible {
		if err = in.Check(r.Start); err != nil {
			err = fmt.Errorf("the schedule made contradicts its project: %w", err)
		}
	}
	return r, err
}

// Shares of a budget of schedules.
const (
	rounds          = 20 // after each, workers share what they found
	conflictEvery   = 4  // schedules that a conflict of the exact search stands for
	windowTries     = 4  // a round, where only time counts: a window takes long for what it counts in schedules
	exactActivities = 40 // up to here the exact search takes the whole project instead of windows
)

// islander is one worker's search on a classic project.
type islander struct {
	ga  *genetic
	ex  *exact
	rng *rand.Rand

	best     []int32
	makespan int32
	placed   int // outside the genetic algorithm
}

// population is a size that converges within a budget of schedules.
func population(schedules int) int {
	return max(10, min(2000, int(115*math.Pow(float64(schedules)/5000, 0.78))))
}

func solveClassic(in *Instance, o Options) (Result, error) {
	p, err := newProject(in)
	if err != nil {
		return Result{}, err
	}
	s := shared{lower: max(p.forward.criticalPath(), int32(in.energy(p)))}
	all := o.Schedules
	quantum, tries := all/o.Workers/rounds, 1
	if all == 0 {
		quantum, tries = 500, windowTries
	}
	isles := make([]*islander, o.Workers)
	for k := range isles {
		size := population(all / o.Workers)
		if all == 0 {
			size = 60
		}
		isles[k] = &islander{
			ga:       newGenetic(p, size, o.Seed, uint64(2*k)),
			rng:      rand.New(rand.NewPCG(o.Seed, uint64(2*k+1))),
			makespan: unlimited,
			best:     make([]int32, p.n),
		}
	}
	s.makespan = unlimited
	for round := 1; ; round++ {
		var wait sync.WaitGroup
		for k, x := range isles {
			wait.Go(func() { x.round(p, round, quantum, tries, s, o.Seed+uint64(k), o.Stop) })
		}
		wait.Wait()
		placed := 0
		for _, x := range isles {
			s.merge(x)
			placed += x.placed + x.ga.placed
		}
		for _, x := range isles {
			if x.ga.makespan > s.makespan {
				x.ga.invite(s.best, s.makespan)
			}
			x.best, x.makespan = append(x.best[:0], s.best...), s.makespan
		}
		s.schedules = (placed + p.n - 1) / p.n
		if s.makespan <= s.lower || all > 0 && (s.schedules >= all || round == rounds) || o.Stop() {
			break
		}
	}
	r := Result{Status: Feasible, Makespan: int(s.makespan), LowerBound: int(s.lower), Schedules: s.schedules, Start: make([]int, p.n)}
	for i, at := range p.original {
		r.Start[at] = int(s.best[i])
	}
	return r, nil
}

// shared is what the workers know together.
type shared struct {
	best            []int32
	makespan, lower int32
	schedules       int
}

func (s *shared) merge(x *islander) {
	if x.makespan < s.makespan {
		s.makespan = x.makespan
		s.best = append(s.best[:0], x.best...)
	}
	if x.ex != nil {
		if x.ex.dead {
			s.lower = s.makespan
		}
		s.lower = max(s.lower, x.ex.lower)
	}
}

// round lets the genetic algorithm and then the exact search go on for a while.
func (x *islander) round(p *project, round, quantum, tries int, s shared, seed uint64, stop func() bool) {
	left := p.n * quantum * round
	const reserve = 0.15
	x.ga.advance(left-x.placed-int(reserve*float64(p.n*quantum)), s.lower, stop)
	if x.ga.makespan < x.makespan {
		x.makespan = x.ga.makespan
		copy(x.best, x.ga.best)
	}
	if x.makespan <= s.lower || stop() {
		return
	}
	if p.n <= exactActivities {
		x.whole(p, max(1, quantum/conflictEvery), left-x.ga.placed, seed, stop)
		return
	}
	for range tries {
		if x.makespan <= s.lower || x.ga.placed+x.placed+4*p.n >= left {
			return
		}
		l, r := p.justify(x.ga, x.best, &x.makespan)
		copy(x.best, l)
		better, placed := p.shorten(x.rng, l, r, x.makespan, left-x.ga.placed-x.placed, stop)
		x.placed += placed
		if better == nil {
			continue
		}
		x.best, x.makespan = better, x.makespan-1
		x.ga.invite(better, x.makespan)
	}
}

// whole runs the exact search on the whole project.
func (x *islander) whole(p *project, conflicts, quota int, seed uint64, stop func() bool) {
	if x.ex == nil {
		d := p.in.closure()
		b, ok := within(d, x.makespan-1)
		x.ex = newExact(p.in, b, d, seed)
		x.ex.dead = x.ex.dead || !ok
	}
	e := x.ex
	if !e.dead && e.high(e.n) >= x.makespan && !e.set(2*e.n+1, 1-x.makespan, becauseDecision, 0) {
		e.dead = true
	}
	e.hint = make([]int32, p.n+1)
	for i, o := range p.original {
		e.hint[o] = x.best[i]
	}
	e.hint[p.n] = x.makespan
	e.quota = quota
	e.run(conflicts, stop)
	x.placed = e.placements()
	if e.best != nil && e.best[e.n] < x.makespan {
		x.makespan = e.best[e.n]
		for i, o := range p.original {
			x.best[i] = e.best[o]
		}
		x.ga.invite(x.best, x.makespan)
	}
}

// solveLags solves an instance with minimum and maximum lags.
func solveLags(in *Instance, o Options) Result {
	d := in.closure()
	b, _ := within(d, int32(in.horizon()))
	s := newExact(in, b, d, o.Seed)
	n := len(in.Duration)
	budget := 1 << 50
	if o.Schedules > 0 {
		budget = o.Schedules
	}
	s.run(budget, o.Stop)
	r := Result{LowerBound: int(s.lower), Schedules: (s.decisions + s.placed.count + n - 1) / n}
	switch {
	case s.best != nil:
		r.Status, r.Makespan = Feasible, int(s.best[n])
		for _, t := range s.best[:n] {
			r.Start = append(r.Start, int(t))
		}
		if s.dead {
			r.LowerBound = r.Makespan
		}
	case s.dead:
		r.Status = Infeasible
		r.Why = fmt.Errorf("the resources cannot serve all jobs within their lags, add capacity or widen a window")
	default:
		r.Status = None
	}
	return r
}
