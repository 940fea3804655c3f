package rcpsp

import (
	"math/rand/v2"
	"slices"
)

// windowSize is how many activities a window frees: about as many as propagation with learning settles in a few dozen
// conflicts.
const windowSize = 28

// windowConflicts end an attempt.
const windowConflicts = 50

// shorten tries to end a project one unit earlier (time-window LNS, Palpant, Artigues & Michelon 2004). It is given a
// schedule twice, justified to the left and to the right. What ends before a random window stays on the left, what
// starts after it comes one unit earlier than on the right, and the rest is placed anew. It returns the new starts, or
// nil, and how many activities it placed.
func (p *project) shorten(rng *rand.Rand, left, right []int32, makespan int32, quota int, stop func() bool) (better []int32, placed int) {
	w := &p.forward
	from := rng.Int32N(makespan)
	to := from + 1
	before := func(i int) bool { return left[i]+w.duration[i] <= from }
	after := func(i int) bool { return right[i] >= to }
	free := func() (k int) {
		for i := range p.n {
			if !before(i) && !after(i) {
				k++
			}
		}
		return k
	}
	for to < makespan && free() < windowSize {
		to++
	}
	for from > 0 && free() < windowSize {
		from--
	}
	next := slices.Clone(left)
	place := make([]int32, p.n) // activity → its number in the part, from 1
	part := &Instance{Capacity: p.in.Capacity}
	var b bounds
	var members []int
	add := func(i int, low, high int32) {
		o := p.original[i]
		part.Duration = append(part.Duration, p.in.Duration[o])
		part.Demand = append(part.Demand, p.in.Demand[o])
		b.low, b.high = append(b.low, low), append(b.high, high)
		members = append(members, i)
		place[i] = int32(len(members))
	}
	for i := range p.n {
		switch {
		case before(i):
		case after(i):
			next[i] = right[i] - 1
		default:
			add(i, min(left[i], from), makespan-1-w.tail[i])
		}
	}
	for i := range p.n {
		for a := w.first[i]; a < w.first[i+1]; a++ {
			j := w.next[a]
			switch x, y := place[i]-1, place[j]-1; {
			case x >= 0 && y >= 0:
				part.Arcs = append(part.Arcs, Arc{int(x), int(y), int(w.lag[a])})
			case x >= 0:
				b.high[x] = min(b.high[x], next[j]-w.lag[a])
			case y >= 0:
				b.low[y] = max(b.low[y], next[i]+w.lag[a])
			case next[j] < next[i]+w.lag[a]:
				return nil, 0
			}
		}
	}
	end := int32(0)
	for x, i := range members {
		if b.low[x] > b.high[x] {
			return nil, 0
		}
		end = max(end, b.high[x]+w.duration[i])
	}
	least := slices.Min(b.low)
	n := len(members)
	for i := range p.n {
		if place[i] == 0 && next[i] < end && next[i]+w.duration[i] > least {
			add(i, next[i], next[i])
		}
	}
	b.low, b.high = append(b.low, 0), append(b.high, end)
	s := newExact(part, b, nil, rng.Uint64())
	s.quota = quota
	s.hint = make([]int32, 0, n)
	for _, i := range members {
		s.hint = append(s.hint, left[i])
	}
	s.hint = append(s.hint, end)
	o := s.under(nil, windowConflicts, stop)
	if s.best != nil && (o == improved || o == decided) {
		for x, i := range members[:n] {
			next[i] = s.best[x]
		}
		better = next
	}
	return better, s.placements()
}

// justify makes a schedule active by two passes, backward and forward, and returns it on the left and on the right.
func (p *project) justify(g *genetic, start []int32, makespan *int32) (left, right []int32) {
	x := individual{start: start, makespan: *makespan}
	g.keys(&x)
	g.sort(1)
	y := individual{start: make([]int32, p.n)}
	g.generate(1, &y, unlimited)
	g.keys(&y)
	g.sort(0)
	x = individual{start: make([]int32, p.n)}
	g.generate(0, &x, unlimited)
	left = x.start
	g.keys(&x)
	g.sort(1)
	g.generate(1, &y, unlimited)
	right = y.start
	p.mirror(right, x.makespan)
	*makespan = x.makespan
	return left, right
}
