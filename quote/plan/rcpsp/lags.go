package rcpsp

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"sync"
)

const (
	firstConflicts = 50   // of a worker's first round
	mostConflicts  = 4000 // of a round
	freeActivities = 40   // from so many activities on, large-neighbourhood search is tried too
)

// tracker is one worker's search on a project with maximum lags.
type tracker struct {
	ex    *exact
	rng   *rand.Rand
	share float64 // of the activities that a neighbourhood frees
}

// solveLags solves an instance with minimum and maximum lags.
func solveLags(in *Instance, o Options) Result {
	n := len(in.Duration)
	d := in.closure()
	b, ok := within(d, int32(in.horizon()))
	var t []*tracker
	workers := o.Workers
	if o.Schedules > 0 {
		workers = min(workers, o.Schedules)
	}
	for k := range workers {
		if !ok {
			break
		}
		seed := o.Seed + uint64(k)*0x9e3779b97f4a7c15
		t = append(t, &tracker{newExact(in, b, d, seed), rand.New(rand.NewPCG(seed, 1)), 0.3})
	}
	var best []int32
	lower, decided, placed := b.low[n], !ok, 0
	conflicts := firstConflicts
	for round := 0; !decided; round++ {
		var wait sync.WaitGroup
		for k, x := range t {
			if o.Schedules > 0 {
				x.ex.allow(o.Schedules * n / len(t))
			}
			wait.Go(func() { x.round(round+k, conflicts, o.Stop) })
		}
		wait.Wait()
		placed = 0
		for _, x := range t {
			placed += x.ex.placements()
			decided = decided || x.ex.dead
			lower = max(lower, x.ex.lower)
			if x.ex.best != nil && (best == nil || x.ex.best[n] < best[n]) {
				best = slices.Clone(x.ex.best)
			}
		}
		if o.Stop() || o.Schedules > 0 && placed > (o.Schedules-2*workers)*n {
			break
		}
		for _, x := range t {
			if !x.ex.learnBounds(best, lower) {
				decided = true
			}
		}
		conflicts = min(mostConflicts, conflicts*3/2)
	}
	r := Result{LowerBound: int(lower), Schedules: (placed + n - 1) / n}
	switch {
	case best != nil:
		r.Status, r.Makespan = Feasible, int(best[n])
		for _, at := range best[:n] {
			r.Start = append(r.Start, int(at))
		}
		if decided {
			r.LowerBound = r.Makespan
		}
		r.LowerBound = min(r.LowerBound, r.Makespan)
	case decided:
		r.Status = Infeasible
		r.Why = fmt.Errorf("the resources cannot serve all jobs within their lags, add capacity or widen a window")
	default:
		r.Status = None
	}
	return r
}

// learnBounds takes in what others found; it says false where that leaves nothing to find.
func (s *exact) learnBounds(best []int32, lower int32) bool {
	if s.dead {
		return false
	}
	ok := s.set(2*s.n, lower, becauseDecision, 0)
	if ok && best != nil {
		s.hint = append(s.hint[:0], best...)
		ok = s.set(2*s.n+1, 1-best[s.n], becauseDecision, 0)
	}
	s.dead = !ok
	return ok
}

// round searches for a number of conflicts, in one of three ways.
func (x *tracker) round(way, conflicts int, stop func() bool) {
	s := x.ex
	switch {
	case len(s.hint) == 0: // nothing found yet
		s.under(nil, conflicts, stop)
	case way%2 == 1:
		x.destroy(conflicts, stop)
	case s.n >= freeActivities && way%4 != 0:
		x.neighbours(conflicts, stop)
	default:
		s.run(conflicts, stop)
	}
}

// destroy improves both bounds at once (destructive improvement, Klein & Scholl 1999): it assumes that the project ends
// by a time between them, and either finds a schedule or refutes the time.
func (x *tracker) destroy(conflicts int, stop func() bool) {
	s := x.ex
	end := s.conflicts + conflicts
	for part := int32(2); s.conflicts < end && !s.dead && !stop(); {
		low, high := s.low(s.n), s.high(s.n)
		by := low + (high-low)/part
		switch s.under([]literal{{2*s.n + 1, -by}}, end-s.conflicts, stop) {
		case improved:
		case refuted:
			s.lower = max(s.lower, by+1)
			if !s.set(2*s.n, by+1, becauseDecision, 0) {
				s.dead = true
			}
		default:
			return
		}
	}
}

// neighbours keeps the order of the best schedule outside a random stretch of time and searches what that leaves open
// (large-neighbourhood search, Shaw 1998; over partial orders, Godard, Laborie & Nuijten 2005).
func (x *tracker) neighbours(conflicts int, stop func() bool) {
	s := x.ex
	end := s.conflicts + conflicts
	var kept []literal
	for s.conflicts < end && s.placements() < s.quota && !s.dead && !stop() {
		h := s.hint
		order := make([]int32, s.n)
		for i := range order {
			order[i] = int32(i)
		}
		slices.SortStableFunc(order, func(a, b int32) int { return int(h[a] - h[b]) })
		size := max(2, int(x.share*float64(s.n)))
		at := x.rng.IntN(int(s.n) - min(size, int(s.n)) + 1)
		free := make([]bool, s.n)
		for _, i := range order[at:min(at+size, int(s.n))] {
			free[i] = true
		}
		kept = kept[:0]
		for k, p := range s.pairs {
			if free[p.a] || free[p.b] {
				continue
			}
			v := s.first + int32(k)
			if h[p.a] <= h[p.b] {
				kept = append(kept, literal{2 * v, 1})
			} else {
				kept = append(kept, literal{2*v + 1, 0})
			}
		}
		switch s.under(kept, min(end-s.conflicts, 100), stop) {
		case refuted:
			x.share = min(1, x.share*1.05)
		case undecided:
			x.share = max(0.05, x.share*0.95)
		}
	}
}
