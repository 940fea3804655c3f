package proof

import "slices"

// clause is a disjunction of literals; the first two are watched.
type clause struct {
	from, n  int32 // in the literals
	activity float32
	levels   int32 // different levels of decisions in it when it was learned
}

type watch struct {
	bound  int32 // the watched literal is false from this bound of the side on
	clause int32
	other  literal // some other literal of the clause: where it holds, nothing is to do
}

type clauses struct {
	list     []clause
	literals []literal
	watches  [][]watch // by side
	step     float32   // of activity
}

func (c *clauses) of(k int32) []literal {
	d := &c.list[k]
	return c.literals[d.from : d.from+d.n]
}

func (c *clauses) attach(k int32) {
	l := c.of(k)
	for w := range 2 {
		not := l[w].negated()
		c.watches[not.side] = append(c.watches[not.side], watch{not.bound, k, l[1-w]})
	}
}

// watch visits the clauses in which a literal became false when a side rose.
func (e *engine) watch(side, before, now int32) bool {
	c := &e.clauses
	list := c.watches[side]
	kept := 0
	for at := 0; at < len(list); at++ {
		w := list[at]
		if w.bound > now || w.bound <= before || e.holds(w.other) {
			list[kept] = w
			kept++
			continue
		}
		l := c.of(w.clause)
		if n := l[0].negated(); n.side == side && n.bound == w.bound {
			l[0], l[1] = l[1], l[0]
		}
		w.other = l[0]
		if e.holds(l[0]) {
			list[kept] = w
			kept++
			continue
		}
		moved := false
		for k := 2; k < len(l); k++ {
			if !e.fails(l[k]) {
				l[1], l[k] = l[k], l[1]
				n := l[1].negated()
				if n.side == side { // the list in hand is not appended to while it is read
					list[kept] = watch{n.bound, w.clause, l[0]}
					kept++
				} else {
					c.watches[n.side] = append(c.watches[n.side], watch{n.bound, w.clause, l[0]})
				}
				moved = true
				break
			}
		}
		if moved {
			continue
		}
		list[kept] = w
		kept++
		if !e.set(l[0].side, l[0].bound, becauseClause, w.clause) {
			kept += copy(list[kept:], list[at+1:])
			c.watches[side] = list[:kept]
			return false
		}
	}
	c.watches[side] = list[:kept]
	return true
}

// analysis is the memory of learning from a conflict.
type analysis struct {
	need     []int32 // by side, the bound needed
	stamp    []int32 // by side, whether need is meant
	listed   []int32 // by side, whether it is in sides
	now      int32
	sides    []int32
	scratch  []literal
	learned  []literal
	activity []float64 // by variable
	step     float64
}

// learn derives a clause from the conflict by resolving back to the first unique implication point, returns to the
// level where it speaks, and lets it speak. It says false where the conflict holds without any decision.
func (e *engine) learn() bool {
	a := &e.analysis
	for len(a.need) < len(e.bound) {
		a.need, a.stamp, a.listed = append(a.need, 0), append(a.stamp, 0), append(a.listed, 0)
	}
	root := int32(0)
	if len(e.level) > 0 {
		root = e.level[0]
	}
	// the conflict may lie wholly below the present level
	top := int32(-1)
	for _, l := range e.conflict {
		top = max(top, e.placeOf(l))
	}
	if len(e.level) == 0 || top < root {
		return false
	}
	levels := e.levelOf(top)
	e.backtrack(levels)
	begin := e.level[levels-1]

	a.now++
	a.sides = a.sides[:0]
	open := 0
	add := func(l literal) {
		at := e.placeOf(l)
		if at < root {
			return
		}
		if a.stamp[l.side] == a.now {
			if l.bound <= a.need[l.side] {
				return
			}
			if e.placeOf(literal{l.side, a.need[l.side]}) < begin && at >= begin {
				open++
			}
			a.need[l.side] = l.bound
			return
		}
		a.stamp[l.side], a.need[l.side] = a.now, l.bound
		if a.listed[l.side] != a.now {
			a.listed[l.side] = a.now
			a.sides = append(a.sides, l.side)
		}
		if at >= begin {
			open++
		}
		a.activity[l.side>>1] += a.step
	}
	for _, l := range e.conflict {
		add(l)
	}
	var point literal
	for k := len(e.trail) - 1; ; k-- {
		t := &e.trail[k]
		if a.stamp[t.side] != a.now || a.need[t.side] > t.bound || a.need[t.side] <= e.trail[t.before].bound {
			continue
		}
		if open == 1 {
			point = literal{t.side, a.need[t.side]}
			a.stamp[t.side] = 0
			break
		}
		open--
		a.stamp[t.side] = 0
		if t.why == becauseClause {
			e.bump(t.what)
		}
		a.scratch = e.reasons(a.scratch[:0], *t, a.need[t.side])
		for _, l := range a.scratch {
			add(l)
		}
	}
	if a.step *= 1 / 0.95; a.step > 1e100 {
		for x := range a.activity {
			a.activity[x] *= 1e-100
		}
		a.step *= 1e-100
	}
	if e.clauses.step *= 1 / 0.999; e.clauses.step > 1e20 {
		for k := range e.clauses.list {
			e.clauses.list[k].activity *= 1e-20
		}
		e.clauses.step *= 1e-20
	}
	a.learned = append(a.learned[:0], point.negated())
	back, second := 0, 0
	last := -1
	different := int32(1)
	for _, side := range a.sides {
		if a.stamp[side] != a.now {
			continue
		}
		l := literal{side, a.need[side]}
		if e.implied(l) {
			a.stamp[side] = 0 // it may not justify others in its turn
			continue
		}
		n := e.levelOf(e.placeOf(l))
		if n != last {
			different++
			last = n
		}
		a.learned = append(a.learned, l.negated())
		if n > back {
			back, second = n, len(a.learned)-1
		}
	}
	e.backtrack(back)
	if len(a.learned) == 1 {
		return e.set(a.learned[0].side, a.learned[0].bound, becauseDecision, 0)
	}
	a.learned[1], a.learned[second] = a.learned[second], a.learned[1]
	c := &e.clauses
	k := int32(len(c.list))
	c.list = append(c.list, clause{int32(len(c.literals)), int32(len(a.learned)), c.step, different})
	c.literals = append(c.literals, a.learned...)
	c.attach(k)
	return e.set(a.learned[0].side, a.learned[0].bound, becauseClause, k)
}

// implied says whether the other literals needed imply this one directly.
func (e *engine) implied(l literal) bool {
	a := &e.analysis
	t := e.trail[e.placeOf(l)]
	if t.why == becauseDecision {
		return false
	}
	a.scratch = e.reasons(a.scratch[:0], t, l.bound)
	for _, r := range a.scratch {
		if r.side == l.side || a.stamp[r.side] != a.now || a.need[r.side] < r.bound {
			if len(e.level) == 0 || e.placeOf(r) >= e.level[0] {
				return false
			}
		}
	}
	return true
}

// placeOf is the entry with which a literal became true.
func (e *engine) placeOf(l literal) int32 {
	k := e.last[l.side]
	for {
		before := e.trail[k].before
		if before < 0 || e.trail[before].bound < l.bound {
			return k
		}
		k = before
	}
}

// levelOf is the number of decisions at an entry.
func (e *engine) levelOf(at int32) int {
	low, high := 0, len(e.level)
	for low < high {
		if m := (low + high) / 2; e.level[m] <= at {
			low = m + 1
		} else {
			high = m
		}
	}
	return low
}

func (e *engine) bump(k int32) { e.clauses.list[k].activity += e.clauses.step }

// forget drops the less useful half of the long clauses; it is called without decisions open.
func (e *engine) forget() {
	c := &e.clauses
	var acts []float32
	for _, d := range c.list {
		if d.levels > 2 {
			acts = append(acts, d.activity)
		}
	}
	if len(acts) == 0 {
		return
	}
	slices.Sort(acts)
	median := acts[len(acts)/2]
	for side := range c.watches {
		c.watches[side] = c.watches[side][:0]
	}
	list, literals := c.list, c.literals
	c.list, c.literals = c.list[:0], c.literals[:0]
	for _, d := range list {
		l := literals[d.from : d.from+d.n]
		if d.levels > 2 && d.activity < median || slices.ContainsFunc(l, e.holds) {
			continue
		}
		d.from = int32(len(c.literals))
		c.literals = append(c.literals, l...) // moves down only
		c.list = append(c.list, d)
	}
	for k := range c.list {
		l := c.of(int32(k))
		// no decision is open: at least two literals are free, else the clause would have spoken
		free := 0
		for at := range l {
			if free < 2 && !e.fails(l[at]) {
				l[free], l[at] = l[at], l[free]
				free++
			}
		}
		c.attach(int32(k))
	}
}
