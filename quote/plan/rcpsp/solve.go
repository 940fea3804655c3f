package rcpsp

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
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
	rounds          = 20   // after each, workers share what they found
	exactShare      = 7    // one part in so many of a round is kept for the exact search
	conflictEvery   = 4    // schedules that a conflict of the exact search stands for
	timedQuantum    = 3000 // schedules of a round, where only time counts
	windowTries     = 4    // a round, where only time counts: a window takes long for what it counts in schedules
	raiseConflicts  = 40   // to refute one makespan
	raiseShare      = 50   // one part in so many of a budget is kept for raising the lower bound
	raiseActivities = 400  // up to here the lower bound is raised: above, setting up takes too long
	exactActivities = 40   // up to here the exact search takes the whole project instead of windows
)

// islander is one worker's search on a classic project.
type islander struct {
	ga  *genetic
	ex  *exact
	rng *rand.Rand

	best     []int32
	makespan int32
	windows  int // activities placed in windows
	placed   int // and in the exact search too
}

// population is a size that converges within a budget of schedules.
func population(schedules int) int {
	return max(10, min(2000, int(115*math.Pow(float64(schedules)/5000, 0.8))))
}

func solveClassic(in *Instance, o Options) (Result, error) {
	p, err := newProject(in)
	if err != nil {
		return Result{}, err
	}
	s := shared{lower: max(p.forward.criticalPath(), int32(in.energy(p)))}
	all := o.Schedules
	quantum, tries := (all-all/raiseShare)/o.Workers/rounds, 1
	if all == 0 {
		quantum, tries = timedQuantum, windowTries
	}
	isles := make([]*islander, o.Workers)
	for k := range isles {
		size := population(all / o.Workers)
		if all == 0 {
			size = 60
		}
		isles[k] = &islander{
			ga:   newGenetic(p, size, o.Seed, uint64(2*k)),
			rng:  rand.New(rand.NewPCG(o.Seed, uint64(2*k+1))),
			best: make([]int32, p.n),
		}
	}
	isles[0].ga.first(all != 1)
	s.makespan, s.best = isles[0].ga.makespan, slices.Clone(isles[0].ga.best)
	for _, x := range isles {
		x.makespan = s.makespan
		copy(x.best, s.best)
	}
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
	if all-s.schedules > 2 && p.n > exactActivities && p.n <= raiseActivities && s.makespan > s.lower && !o.Stop() {
		x := isles[0]
		x.raise(p, s.lower, (all-s.schedules-1)*p.n, o.Seed, o.Stop)
		s.merge(x)
		s.schedules += (x.ex.placements() + p.n - 1) / p.n
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
	x.ga.advance(left-x.placed-p.n*quantum/exactShare, s.lower, stop)
	if x.ga.makespan < x.makespan {
		x.makespan = x.ga.makespan
		copy(x.best, x.ga.best)
	}
	if x.makespan <= s.lower || stop() {
		return
	}
	if left-x.ga.placed-x.placed <= p.n {
		return
	}
	if p.n <= exactActivities {
		x.whole(p, max(1, quantum/conflictEvery), left-x.ga.placed, seed, stop)
		return
	}
	if tries > 1 && round%8 == 0 && p.n <= raiseActivities {
		x.raise(p, s.lower, math.MaxInt, seed, stop)
	}
	for range tries {
		if x.makespan <= s.lower || x.ga.placed+x.placed+4*p.n >= left {
			return
		}
		l, r := p.justify(x.ga, x.best, &x.makespan)
		copy(x.best, l)
		better, placed := p.shorten(x.rng, l, r, x.makespan, left-x.ga.placed-x.placed, stop)
		x.windows += placed
		x.placed += placed
		if better == nil {
			continue
		}
		x.best, x.makespan = better, 0
		for i, t := range better {
			x.makespan = max(x.makespan, t+p.forward.duration[i])
		}
		x.ga.invite(better, x.makespan)
	}
}

// whole runs the exact search on the whole project.
func (x *islander) whole(p *project, conflicts, quota int, seed uint64, stop func() bool) {
	e := x.exact(p, seed)
	e.allow(quota)
	e.run(conflicts, stop)
	x.absorb(p)
}

// raise refutes makespans from the lower bound up (destructive improvement, Klein & Scholl 1999), each with a few
// conflicts at most.
func (x *islander) raise(p *project, lower int32, quota int, seed uint64, stop func() bool) {
	e := x.exact(p, seed)
	e.quota = quota
	for !e.dead && !stop() {
		if !e.set(2*e.n, lower, becauseDecision, 0) {
			e.dead = true
			break
		}
		low := e.low(e.n)
		e.lower = max(e.lower, low)
		if e.under([]literal{{2*e.n + 1, -low}}, raiseConflicts, stop) != refuted {
			break
		}
		lower = low + 1
	}
	x.absorb(p)
}

// exact is the exact search for something better than the best.
func (x *islander) exact(p *project, seed uint64) *exact {
	if x.ex == nil {
		d := p.in.closure()
		b, ok := within(d, x.makespan-1)
		x.ex = newExact(p.in, b, d, seed)
		x.ex.dead = x.ex.dead || !ok
	}
	e := x.ex
	if !e.dead && !e.set(2*e.n+1, 1-x.makespan, becauseDecision, 0) {
		e.dead = true
	}
	e.hint = make([]int32, p.n+1)
	for i, o := range p.original {
		e.hint[o] = x.best[i]
	}
	e.hint[p.n] = x.makespan
	return e
}

// absorb takes over what the exact search found.
func (x *islander) absorb(p *project) {
	e := x.ex
	x.placed = x.windows + e.placements()
	if e.best != nil && e.best[e.n] < x.makespan {
		x.makespan = e.best[e.n]
		for i, o := range p.original {
			x.best[i] = e.best[o]
		}
		x.ga.invite(x.best, x.makespan)
	}
}
