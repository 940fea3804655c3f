package rcpsp

import (
	"math"
	"math/rand/v2"
	"slices"
)

// exact searches with propagation and learning. Variables 0 to n−1 are the starts, n is the end of the project, and
// the rest choose, for pairs that cannot run at once, which of the two comes first.
type exact struct {
	engine
	in    *Instance
	n     int32
	pairs []pair
	first int32 // the first pair's variable

	best      []int32 // the best schedule found, with the end as last
	hint      []int32 // values to try first
	rng       *rand.PCG
	conflicts int
	decisions int
	lower     int32 // proved
	kept      int   // clauses before some are forgotten
	quota     int   // of placements, all runs together
	asked     []int // by level, how many assumptions hold
}

// mostPairs bounds the choices of order; what runs at once is kept within capacities without them too.
const mostPairs = 20_000

type pair struct{ a, b int32 }

// bounds are the earliest and latest starts of all activities and, as last, of the end.
type bounds struct{ low, high []int32 }

// within are the bounds that closure and horizon give; it says false where they leave an activity no start.
func within(d [][]int32, horizon int32) (b bounds, ok bool) {
	n := len(d) - 1
	ok = true
	for j := range d {
		low, high := int32(0), horizon
		for i := range d {
			low = max(low, d[i][j])
		}
		if d[j][n] != never {
			high -= d[j][n]
		}
		if high < low {
			ok, high = false, low
		}
		b.low, b.high = append(b.low, low), append(b.high, high)
	}
	return b, ok
}

// newExact compiles an instance without positive cycle. What starts where is limited to the bounds; d is the closure,
// or nil where the bounds say enough.
func newExact(in *Instance, b bounds, d [][]int32, seed uint64) *exact {
	n := int32(len(in.Duration))
	s := &exact{in: in, n: n, rng: rand.NewPCG(seed, 0xd1b54a32d192ed03)}
	s.clauses.step, s.analysis.step = 1, 1
	s.placed.upTo = n
	s.kept, s.quota = 4000, math.MaxInt
	for j := range n + 1 {
		s.addVariable(b.low[j], b.high[j])
	}
	always := literal{-1, 0}
	seen := map[[2]int32]int32{}
	for _, a := range in.Arcs {
		k := [2]int32{int32(a.From), int32(a.To)}
		if old, ok := seen[k]; !ok || old < int32(a.Lag) {
			seen[k] = int32(a.Lag)
		}
	}
	for _, a := range in.Arcs {
		k := [2]int32{int32(a.From), int32(a.To)}
		if a.From != a.To && seen[k] == int32(a.Lag) {
			s.addEdge(k[0], k[1], int32(a.Lag), always)
			seen[k] = never - 1
		}
	}
	for i := range n {
		s.addEdge(i, n, int32(in.Duration[i]), always)
	}
	for r, capacity := range in.Capacity {
		c := cumulative{capacity: int32(capacity)}
		total := 0
		for i := range n {
			if q := in.Demand[i][r]; q > 0 && in.Duration[i] > 0 {
				c.consumers = append(c.consumers, consumer{i, int32(in.Duration[i]), int32(q)})
				total += q
				if q > capacity {
					s.dead = true
				}
			}
		}
		if total <= capacity {
			continue
		}
		slices.SortStableFunc(c.consumers, func(a, b consumer) int { return int(b.demand - a.demand) })
		k := int32(len(s.resources))
		for _, u := range c.consumers {
			s.users[2*u.x] = append(s.users[2*u.x], k)
			s.users[2*u.x+1] = append(s.users[2*u.x+1], k)
		}
		s.resources = append(s.resources, c)
		s.stale = append(s.stale, true)
		s.waiting = append(s.waiting, k)
	}
	s.first = n + 1
	for i := range n {
		for j := i + 1; j < n; j++ {
			if !s.dead && len(s.pairs) < mostPairs {
				s.addPair(i, j, d)
			}
		}
	}
	s.analysis.activity = make([]float64, len(s.bound)/2)
	for x := range s.analysis.activity {
		s.analysis.activity[x] = float64(s.rng.Uint64()>>40) * 1e-9
	}
	if !s.dead && !s.propagate() {
		s.dead = true
	}
	s.lower = s.low(n)
	return s
}

// addPair says that one of two activities comes first, if they cannot run at once.
func (s *exact) addPair(i, j int32, d [][]int32) {
	di, dj := int32(s.in.Duration[i]), int32(s.in.Duration[j])
	if di == 0 || dj == 0 || s.fixed(i) && s.fixed(j) || !s.in.exclusive(int(i), int(j)) {
		return
	}
	// how much later than the one the other starts, at least
	ij, ji := s.low(j)-s.high(i), s.low(i)-s.high(j)
	if d != nil {
		ij, ji = max(ij, d[i][j]), max(ji, d[j][i])
	}
	if ij >= di || ji >= dj {
		return // settled
	}
	first, second := ji <= -di, ij <= -dj // whether i, or j, can be first
	switch {
	case !first && !second:
		s.dead = true
	case !second:
		s.addEdge(i, j, di, literal{-1, 0})
	case !first:
		s.addEdge(j, i, dj, literal{-1, 0})
	default:
		x := s.addVariable(0, 1)
		s.pairs = append(s.pairs, pair{i, j})
		s.addEdge(i, j, di, literal{2 * x, 1})
		s.addEdge(j, i, dj, literal{2*x + 1, 0})
	}
}

// exclusive says whether two activities can never run at once.
func (in *Instance) exclusive(i, j int) bool {
	for r, c := range in.Capacity {
		if in.Demand[i][r]+in.Demand[j][r] > c {
			return true
		}
	}
	return false
}

// outcome of a search.
type outcome int

const (
	undecided outcome = iota // a budget ran out
	improved                 // a schedule was found
	refuted                  // there is none under the assumptions
	decided                  // best is optimal, or nil where no schedule exists
)

// run searches until the problem is decided, conflicts are used up, or stop says so; it does not return at the first
// schedule but goes on with a smaller makespan.
func (s *exact) run(conflicts int, stop func() bool) outcome {
	for {
		before := s.conflicts
		switch o := s.under(nil, conflicts, stop); o {
		case improved:
			if conflicts -= s.conflicts - before; conflicts <= 0 {
				return undecided
			}
		default:
			return o
		}
	}
}

// under searches for a better schedule in which the assumptions hold.
func (s *exact) under(assumed []literal, conflicts int, stop func() bool) outcome {
	if s.dead {
		return decided
	}
	end := s.conflicts + conflicts
	s.asked = s.asked[:0]
	limit, used := 100, 0
	for k := 1; ; {
		if !s.propagate() {
			s.conflicts++
			used++
			if !s.learn() {
				s.dead = true
				s.lower = s.low(s.n)
				return decided
			}
			if s.conflicts&7 == 0 && stop() || s.conflicts >= end || s.placements() >= s.quota {
				s.backtrack(0)
				return undecided
			}
			continue
		}
		if used >= limit {
			s.backtrack(0)
			k++
			used, limit = 0, 100*luby(k)
			s.lower = max(s.lower, s.low(s.n))
			if len(s.clauses.list) > s.kept {
				s.forget()
				s.kept += 500
			}
			continue
		}
		if len(s.asked) > len(s.level) {
			s.asked = s.asked[:len(s.level)]
		}
		at := 0 // assumptions before it hold
		if len(s.asked) > 0 {
			at = s.asked[len(s.asked)-1]
		}
		for at < len(assumed) && s.holds(assumed[at]) {
			at++
		}
		if at < len(assumed) && s.fails(assumed[at]) {
			s.backtrack(0)
			return refuted
		}
		s.asked = append(s.asked, at)
		if at < len(assumed) {
			s.decide(assumed[at])
			continue
		}
		l, ok := s.branch()
		if !ok {
			s.found()
			s.backtrack(0)
			if !s.set(2*s.n+1, 1-s.best[s.n], becauseDecision, 0) {
				s.dead = true
				s.lower = s.best[s.n]
				return decided
			}
			return improved
		}
		s.decisions++
		if s.decisions&63 == 0 && stop() || s.placements() >= s.quota {
			s.backtrack(0)
			return undecided
		}
		s.decide(l)
	}
}

// allow sets how many activities may be placed in all. The last decision may fix every start that is left, so room for one
// schedule is kept.
func (s *exact) allow(placements int) { s.quota = placements - int(s.n) }

// placements are the activities placed so far: decisions made and starts fixed.
func (s *exact) placements() int { return s.decisions + s.placed.count }

func (s *exact) found() {
	s.best = s.best[:0]
	for x := range s.n + 1 {
		s.best = append(s.best, s.low(x))
	}
	s.hint = append(s.hint[:0], s.best...)
}

// branch chooses what to decide; it says false where nothing is left.
func (s *exact) branch() (literal, bool) {
	x, most := int32(-1), -1.0
	for y, a := range s.analysis.activity {
		if a > most && !s.fixed(int32(y)) {
			x, most = int32(y), a
		}
	}
	if x < 0 {
		return literal{}, false
	}
	switch {
	case x >= s.first:
		p := s.pairs[x-s.first]
		var before bool
		if len(s.hint) > 0 {
			before = s.hint[p.a] <= s.hint[p.b]
		} else {
			before = s.low(p.a)+s.high(p.a) < s.low(p.b)+s.high(p.b)
		}
		if before {
			return literal{2 * x, 1}, true
		}
		return literal{2*x + 1, 0}, true
	case len(s.hint) > 0 && x < s.n:
		v := s.hint[x]
		switch low, high := s.low(x), s.high(x); {
		case v <= low:
			return literal{2*x + 1, -low}, true
		case v >= high:
			return literal{2 * x, high}, true
		default:
			return literal{2*x + 1, -v}, true
		}
	default:
		return literal{2*x + 1, -s.low(x)}, true
	}
}

// luby is the k-th member of Luby's sequence 1 1 2 1 1 2 4 …, k from 1.
func luby(k int) int {
	for {
		p := 1
		for p-1 < k {
			p *= 2
		}
		if p-1 == k {
			return p / 2
		}
		k -= p/2 - 1
	}
}
