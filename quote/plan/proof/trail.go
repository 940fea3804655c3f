package proof

// The exact solver is constraint propagation with learning: lazy clause generation (Ohrimenko, Stuckey & Codish 2009)
// for scheduling (Schutt, Feydy, Stuckey & Wallace 2013). Its literals are bounds and nothing else.
//
// A side is a variable seen from below: side 2x bounds variable x from below, side 2x+1 bounds −x from below, so that
// "x ≤ b" is "side 2x+1 ≥ −b". A literal says that a side is at least something; its negation is a literal too.

// literal says that a side is at least a bound.
type literal struct{ side, bound int32 }

// negated is the opposite: not (x ≥ b) is (−x ≥ 1 − b).
func (l literal) negated() literal { return literal{l.side ^ 1, 1 - l.bound} }

// Why a bound holds.
const (
	because         = iota // the explanation at an offset of the arena
	becauseEdge            // a time lag
	becauseClause          // all other literals of a clause are false
	becauseDecision        // nothing: it was chosen, or holds from the outset
)

// entry is one tightening of a side.
type entry struct {
	side, bound int32
	before      int32 // the side's entry before, or −1
	why         int32
	what        int32
}

// edge is that side to is at least what follows from side from, where when holds.
type edge struct {
	from, to, lag int32
	work          int32 // the piece of work whose end counts
	kind          int32
	when          literal // side < 0: always
}

// What an edge between x and y says. Each that speaks of an end is two edges, one for either side.
const (
	startStart = iota // y ≥ x + lag, either side
	endStart          // y ≥ end of x + lag, from the side of x
	startEnd          // the same, from the side of y
	endMost           // y ≤ end of x + lag, from the side of x
	mostEnd           // the same, from the side of y
)

// follows is what an edge says of side to where side from is at least bound.
func (e *engine) follows(d *edge, bound int32) int32 {
	switch d.kind {
	case endStart:
		return e.end(d.work, bound) + d.lag
	case startEnd:
		return 1 - e.start(d.work, 1-bound-d.lag)
	case endMost:
		return -e.end(d.work, -bound) - d.lag
	case mostEnd:
		return e.start(d.work, bound-d.lag)
	}
	return bound + d.lag
}

// needs is the least bound of side from that has side to at least bound.
func (e *engine) needs(d *edge, bound int32) int32 {
	switch d.kind {
	case endStart:
		return e.start(d.work, bound-d.lag)
	case startEnd:
		return 1 - d.lag - e.end(d.work, 1-bound)
	case endMost:
		return 1 - e.start(d.work, 1-bound-d.lag)
	case mostEnd:
		return e.end(d.work, bound-1) + 1 + d.lag
	}
	return bound - d.lag
}

// Hours say when work is over that starts at a moment, where that is not so long after it. Both rise with the moment, and
// each is the other's inverse: Start is the first moment from which work ends at t or later.
type Hours interface {
	End(work, at int32) int32
	Start(work, t int32) int32
}

// end is when a piece of work is over that starts at a moment, start the first moment from which it ends at t or later.
func (e *engine) end(work, at int32) int32 {
	if e.hours == nil || int(work) >= e.openWork {
		return at + e.duration[work]
	}
	return e.hours.End(work, at)
}

func (e *engine) start(work, t int32) int32 {
	if e.hours == nil || int(work) >= e.openWork {
		return t - e.duration[work]
	}
	return e.hours.Start(work, t)
}

// engine holds the state of propagation.
type engine struct {
	bound []int32 // by side, now
	last  []int32 // by side, its latest entry
	trail []entry
	level []int32 // where each level of decisions begins in the trail
	done  int     // entries propagated

	duration []int32 // by piece of work
	hours    Hours   // nil: work is done without a break
	openWork int     // of so many pieces of work

	edges   []edge
	leaving [][]int32 // by side, edges from it
	enabled [][]int32 // by side, edges whose condition is on it

	arena []literal // explanations; a literal {−1, n} and then n literals
	marks []int32   // length of the arena where each level begins

	clauses clauses

	resources []cumulative
	users     [][]int32 // by side, resources whose profile depends on it
	stale     []bool    // by resource
	waiting   []int32   // stale resources

	conflict []literal // all true, yet together impossible
	dead     bool      // the problem has no solution (left)

	analysis analysis

	placed struct { // how often a start of the first variables was fixed
		upTo  int32
		count int
	}
}

func (e *engine) addVariable(low, high int32) (x int32) {
	x = int32(len(e.bound) / 2)
	for k, b := range [2]int32{low, -high} {
		side := 2*x + int32(k)
		e.bound = append(e.bound, b)
		e.last = append(e.last, int32(len(e.trail)))
		e.trail = append(e.trail, entry{side, b, -1, becauseDecision, 0})
	}
	e.leaving = append(e.leaving, nil, nil)
	e.enabled = append(e.enabled, nil, nil)
	e.users = append(e.users, nil, nil)
	e.clauses.watches = append(e.clauses.watches, nil, nil)
	return x
}

func (e *engine) low(x int32) int32    { return e.bound[2*x] }
func (e *engine) high(x int32) int32   { return -e.bound[2*x+1] }
func (e *engine) fixed(x int32) bool   { return e.bound[2*x] == -e.bound[2*x+1] }
func (e *engine) holds(l literal) bool { return e.bound[l.side] >= l.bound }
func (e *engine) fails(l literal) bool { return e.bound[l.side^1] >= 1-l.bound }

// addEdge says y ≥ x + lag for the two variables, where when holds.
func (e *engine) addEdge(x, y, lag int32, when literal) {
	e.addEdges(edge{from: 2 * x, to: 2 * y, lag: lag, when: when}, edge{from: 2*y + 1, to: 2*x + 1, lag: lag, when: when})
}

// addAfter says that y is at least lag after the end of work x, where when holds.
func (e *engine) addAfter(x, y, lag int32, when literal) {
	if e.hours == nil {
		e.addEdge(x, y, e.duration[x]+lag, when)
		return
	}
	e.addEdges(edge{2 * x, 2 * y, lag, x, endStart, when}, edge{2*y + 1, 2*x + 1, lag, x, startEnd, when})
}

func (e *engine) addEdges(both ...edge) {
	for _, d := range both {
		k := int32(len(e.edges))
		e.edges = append(e.edges, d)
		e.leaving[d.from] = append(e.leaving[d.from], k)
		if d.when.side >= 0 {
			e.enabled[d.when.side] = append(e.enabled[d.when.side], k)
		}
	}
}

// explain puts an explanation into the arena.
func (e *engine) explain(list ...literal) int32 {
	at := int32(len(e.arena))
	e.arena = append(e.arena, literal{-1, int32(len(list))})
	e.arena = append(e.arena, list...)
	return at
}

// set tightens a side; it says false, and notes the conflict, where the variable has no value left.
func (e *engine) set(side, bound, why, what int32) bool {
	if bound <= e.bound[side] {
		return true
	}
	if bound > -e.bound[side^1] {
		e.conflict = append(e.conflict[:0], literal{side ^ 1, 1 - bound})
		e.conflict = e.reasons(e.conflict, entry{side, bound, 0, why, what}, bound)
		return false
	}
	e.trail = append(e.trail, entry{side, bound, e.last[side], why, what})
	e.last[side] = int32(len(e.trail) - 1)
	e.bound[side] = bound
	if side < 2*e.placed.upTo && bound == -e.bound[side^1] {
		e.placed.count++
	}
	return true
}

// reasons appends the literals that together imply that the entry's side is at least bound, which may be less than the
// entry says.
func (e *engine) reasons(list []literal, t entry, bound int32) []literal {
	switch t.why {
	case becauseEdge:
		d := &e.edges[t.what]
		list = append(list, literal{d.from, e.needs(d, bound)})
		if d.when.side >= 0 {
			list = append(list, d.when)
		}
	case because:
		list = append(list, e.arena[t.what+1:t.what+1+e.arena[t.what].bound]...)
	case becauseClause:
		for _, l := range e.clauses.of(t.what) {
			if l.side != t.side {
				list = append(list, l.negated())
			}
		}
	}
	return list
}

// decide opens a level and chooses a literal.
func (e *engine) decide(l literal) {
	e.level = append(e.level, int32(len(e.trail)))
	e.marks = append(e.marks, int32(len(e.arena)))
	e.set(l.side, l.bound, becauseDecision, 0)
}

// backtrack undoes all levels above the given number.
func (e *engine) backtrack(levels int) {
	if len(e.level) <= levels {
		return
	}
	from := e.level[levels]
	for k := len(e.trail) - 1; k >= int(from); k-- {
		t := &e.trail[k]
		e.last[t.side] = t.before
		e.bound[t.side] = e.trail[t.before].bound
	}
	e.trail = e.trail[:from]
	e.arena = e.arena[:e.marks[levels]]
	e.level, e.marks = e.level[:levels], e.marks[:levels]
	e.done = min(e.done, len(e.trail))
	for _, r := range e.waiting {
		e.stale[r] = false
	}
	e.waiting = e.waiting[:0]
}

// propagate draws all conclusions; it says false, and notes the conflict, where they contradict each other.
func (e *engine) propagate() bool {
	for {
		for e.done < len(e.trail) {
			t := e.trail[e.done]
			e.done++
			if !e.follow(t) {
				return false
			}
		}
		if len(e.waiting) == 0 {
			return true
		}
		r := e.waiting[0]
		e.waiting = e.waiting[1:]
		e.stale[r] = false
		if !e.timetable(&e.resources[r]) {
			return false
		}
	}
}

// follow draws the conclusions of one entry.
func (e *engine) follow(t entry) bool {
	for _, k := range e.leaving[t.side] {
		d := &e.edges[k]
		if d.when.side >= 0 && !e.holds(d.when) {
			if e.follows(d, t.bound) > -e.bound[d.to^1] && !e.refute(d) {
				return false
			}
			continue
		}
		if !e.set(d.to, e.follows(d, t.bound), becauseEdge, k) {
			return false
		}
	}
	for _, k := range e.enabled[t.side] {
		d := &e.edges[k]
		if e.holds(d.when) && !e.set(d.to, e.follows(d, e.bound[d.from]), becauseEdge, k) {
			return false
		}
	}
	for _, r := range e.users[t.side] {
		if !e.stale[r] {
			e.stale[r] = true
			e.waiting = append(e.waiting, r)
		}
	}
	before := int32(-1 << 31)
	if t.before >= 0 {
		before = e.trail[t.before].bound
	}
	return e.watch(t.side, before, t.bound)
}

// refute concludes that a conditional edge cannot hold.
func (e *engine) refute(d *edge) bool {
	not := d.when.negated()
	if e.holds(not) {
		return true
	}
	from := e.bound[d.from]
	return e.set(not.side, not.bound, because, e.explain(literal{d.from, from}, literal{d.to ^ 1, 1 - e.follows(d, from)}))
}
