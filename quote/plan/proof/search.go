package proof

import (
	"math"
	"math/rand/v2"
	"slices"
)

// Search looks for starts of work. Its variables 0 to n−1 are the starts, n is the end of all work, and the rest choose, for
// pairs that cannot run at once, which of the two comes first. It is made by New, Work for each piece of work, Goal, Least
// and Resource, and then Close.
type Search struct {
	engine
	n        int32
	demand   [][]int32 // by resource and piece of work
	capacity []int32
	pairs    []pair
	first    int32 // the first pair's variable

	best      []int32 // the best schedule found, with the end as last
	hint      []int32 // values to try first
	rng       *rand.PCG
	draw      *rand.Rand // neighbourhoods
	share     float64    // of the work that a neighbourhood frees
	conflicts int
	decisions int
	lower     int32 // proved
	kept      int   // clauses before some are forgotten
	quota     int   // of placements, all runs together
	asked     []int // by level, how many assumptions hold
}

const (
	// mostPairs bounds the choices of order; what runs at once is kept within capacities without them too.
	mostPairs = 20_000
	// apart is the distance between pieces of work that nothing ties.
	apart = -1 << 30
)

type pair struct{ a, b int32 }

// always is the condition of what holds without one.
var always = literal{-1, 0}

// New begins a search; the seed settles what is tried first of equals.
func New(seed uint64) *Search {
	s := &Search{rng: rand.NewPCG(seed, 0xd1b54a32d192ed03), draw: rand.New(rand.NewPCG(seed, 1)), share: 0.3, kept: 4000, quota: math.MaxInt}
	s.clauses.step, s.analysis.step = 1, 1
	return s
}

// Work adds a piece of work that starts between low and high, both included, and gives its number, from 0.
func (s *Search) Work(low, high, duration int32) int32 {
	s.dead = s.dead || low > high
	s.duration = append(s.duration, duration)
	s.n++
	return s.addVariable(low, max(low, high))
}

// Goal adds the end of all work, which is what is to be early, and gives its number. It comes after everything by no less than
// Least says of it.
func (s *Search) Goal(low, high int32) int32 {
	s.dead = s.dead || low > high
	s.placed.upTo = s.n
	s.first = s.n + 1
	return s.addVariable(low, max(low, high))
}

// Open gives hours to the pieces of work added so far; those added later are done without a break.
func (s *Search) Open(h Hours) { s.hours, s.openWork = h, int(s.n) }

// After says that y is at least lag after the end of x, a piece of work.
func (s *Search) After(x, y, lag int32) { s.addAfter(x, y, lag, always) }

// Within says that y is at most lag after the end of x, a piece of work.
func (s *Search) Within(x, y, lag int32) {
	if s.hours == nil {
		s.addEdge(y, x, -lag-s.duration[x], always)
		return
	}
	s.addEdges(edge{2*x + 1, 2*y + 1, lag, x, endMost, always}, edge{2 * y, 2 * x, lag, x, mostEnd, always})
}

// Least says that y is at least lag after x, which may be negative.
func (s *Search) Least(x, y, lag int32) { s.addEdge(x, y, lag, always) }

// Resource says that of all work that runs at one time, no more than capacity is demanded; demand is by piece of work.
func (s *Search) Resource(capacity int32, demand []int32) {
	c := cumulative{capacity: capacity}
	total := int64(0)
	for i, q := range demand {
		if q > 0 && s.duration[i] > 0 {
			c.consumers = append(c.consumers, consumer{int32(i), q})
			total += int64(q)
			s.dead = s.dead || q > capacity
		}
	}
	if total <= int64(capacity) {
		return
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
	s.demand = append(s.demand, demand)
	s.capacity = append(s.capacity, capacity)
}

// Close draws first conclusions; nothing may be added after it. With far ties, the longest ways between all pieces of work settle
// the order of some pairs at the outset, which takes time of the third power of their number and needs rules without a
// positive circle; where work has hours, they do not.
func (s *Search) Close(farTies bool) {
	var d [][]int32
	if farTies && !s.dead && s.hours == nil {
		d = s.distances()
	}
	if !s.dead && !s.propagate() {
		s.dead = true
	}
	for i := range s.n {
		for j := i + 1; j < s.n; j++ {
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
	s.lower = s.low(s.n)
}

// distances are the longest ways between the starts of all work (Floyd 1962; Warshall 1962).
func (s *Search) distances() [][]int32 {
	d := make([][]int32, s.n)
	for i := range d {
		d[i] = make([]int32, s.n)
		for j := range d[i] {
			d[i][j] = apart
		}
		d[i][i] = 0
	}
	for _, e := range s.edges {
		if e.from&1 == 0 && e.from < 2*s.n && e.to < 2*s.n {
			d[e.from/2][e.to/2] = max(d[e.from/2][e.to/2], e.lag)
		}
	}
	for k := range d {
		for i := range d {
			ik := d[i][k]
			if ik == apart {
				continue
			}
			row, via := d[i], d[k]
			for j, kj := range via {
				if kj != apart && ik+kj > row[j] {
					row[j] = ik + kj
				}
			}
		}
	}
	return d
}

// addPair says that one of two pieces of work comes first, if they cannot run at once.
func (s *Search) addPair(i, j int32, d [][]int32) {
	di, dj := s.duration[i], s.duration[j]
	if di == 0 || dj == 0 || s.fixed(i) && s.fixed(j) || s.hours != nil && (s.fixed(i) || s.fixed(j)) || !s.exclusive(i, j) {
		return
	}
	settled := s.low(j) >= s.end(i, s.high(i)) || s.low(i) >= s.end(j, s.high(j))
	first, second := s.end(i, s.low(i)) <= s.high(j), s.end(j, s.low(j)) <= s.high(i) // whether i, or j, can be first
	if d != nil {
		settled = settled || d[i][j] >= di || d[j][i] >= dj
		first, second = first && d[j][i] <= -di, second && d[i][j] <= -dj
	}
	if settled {
		return
	}
	switch {
	case !first && !second:
		s.dead = true
	case !second:
		s.addAfter(i, j, 0, always)
	case !first:
		s.addAfter(j, i, 0, always)
	default:
		x := s.addVariable(0, 1)
		s.pairs = append(s.pairs, pair{i, j})
		s.addAfter(i, j, 0, literal{2 * x, 1})
		s.addAfter(j, i, 0, literal{2*x + 1, 0})
	}
}

// exclusive says whether two pieces of work can never run at once.
func (s *Search) exclusive(i, j int32) bool {
	for r, c := range s.capacity {
		if s.demand[r][i]+s.demand[r][j] > c {
			return true
		}
	}
	return false
}

// Hint gives values to try first: starts, and the end where it is known.
func (s *Search) Hint(values []int32) { s.hint = append(s.hint[:0], values...) }

// Before asks for an end before that of a plan that is known; false where that leaves nothing to look for.
func (s *Search) Before(end int32) bool { return s.raise(2*s.n+1, 1-end) }

// From says that an earlier end was proved to be impossible elsewhere; false as Before.
func (s *Search) From(end int32) bool { return s.raise(2*s.n, end) }

func (s *Search) raise(side, bound int32) bool {
	if !s.dead && !s.set(side, bound, becauseDecision, 0) {
		s.dead = true
	}
	return !s.dead
}

// Best is the best starts found, with the end as last; nil where none are.
func (s *Search) Best() []int32 { return s.best }

// Lower is an end before which nothing can be done.
func (s *Search) Lower() int32 { return s.lower }

// Decided says that nothing better than what was found, or asked to be better than, exists.
func (s *Search) Decided() bool { return s.dead }

// Allow sets how much work may be placed in all. The last decision may place all that is left, so room for one schedule is
// kept.
func (s *Search) Allow(placements int) { s.quota = placements - int(s.n) }

// Conflicts are those learned from so far.
func (s *Search) Conflicts() int { return s.conflicts }

// Placements is the work placed so far: decisions made and starts fixed.
func (s *Search) Placements() int { return s.decisions + s.placed.count }

// Outcome of a search.
type Outcome int

// What a search comes to.
const (
	Undecided Outcome = iota // a budget ran out
	Improved                 // a schedule was found
	Refuted                  // there is none under what was assumed
	Settled                  // the best is optimal, or nil where no schedule exists
)

// Run searches until the problem is decided, conflicts are used up, or stop says so; it does not return at the first
// schedule but goes on with a smaller makespan.
func (s *Search) Run(conflicts int, stop func() bool) Outcome {
	for {
		before := s.conflicts
		switch o := s.under(nil, conflicts, stop); o {
		case Improved:
			if conflicts -= s.conflicts - before; conflicts <= 0 {
				return Undecided
			}
		default:
			return o
		}
	}
}

// Once searches until a schedule is found or conflicts are used up.
func (s *Search) Once(conflicts int, stop func() bool) Outcome { return s.under(nil, conflicts, stop) }

// under searches for a better schedule in which the assumptions hold.
func (s *Search) under(assumed []literal, conflicts int, stop func() bool) Outcome {
	if s.dead {
		return Settled
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
				return Settled
			}
			if s.conflicts&7 == 0 && stop() || s.conflicts >= end || s.Placements() >= s.quota {
				s.backtrack(0)
				return Undecided
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
			return Refuted
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
				return Settled
			}
			return Improved
		}
		s.decisions++
		if s.decisions&63 == 0 && stop() || s.Placements() >= s.quota {
			s.backtrack(0)
			return Undecided
		}
		s.decide(l)
	}
}

func (s *Search) found() {
	s.best = s.best[:0]
	for x := range s.n + 1 {
		s.best = append(s.best, s.low(x))
	}
	s.hint = append(s.hint[:0], s.best...)
}

// branch chooses what to decide; it says false where nothing is left.
func (s *Search) branch() (literal, bool) {
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
