package schedule

import (
	"slices"

	"benchbell/quote/plan/proof"
)

// Bounds of what is reasoned about a shop with hours.
const (
	reasonOperations = 100 // not begun
	reasonBusy       = 400 // stretches of promises and of what has begun
	reasonConflicts  = 300 // of the search for something better
	reasonRaise      = 30  // to refute one end
	reasonEnds       = 40  // ends refuted at most
	never32          = 1 << 28
)

// hours are the shop's, for the work of a search: times are slots from the start of the plan. Work that begins before it does
// not begin earlier than at it.
type hours struct {
	m     *model
	cal   *calendar
	ops   []int // by piece of work
	spans []span
}

// End is when an operation is over that starts at a moment or as soon after it as the shop lets it.
func (h *hours) End(work, at int32) int32 {
	if at >= never32/2 {
		return never32
	}
	t := &h.m.tasks[h.ops[work]]
	spans, err := h.cal.lay(h.spans[:0], h.m.start+slot(max(0, at)), t.dur, t.whole)
	h.spans = spans
	if err != nil {
		return never32
	}
	return int32(spans[len(spans)-1].to - h.m.start)
}

// Start is the first moment from which End is t or later: the one after the last from which it is earlier.
func (h *hours) Start(work, t int32) int32 {
	x := &h.m.tasks[h.ops[work]]
	if t >= never32/2 {
		return never32
	}
	last, ok := h.cal.lastStart(h.m.start+slot(t)-1, x.dur, x.whole)
	if !ok || last < h.m.start {
		return -never32
	}
	return int32(last + 1 - h.m.start)
}

// lastStart is the latest moment from which d slots of work are over by t, false where the calendar begins too late for any.
func (k *calendar) lastStart(t, d slot, whole bool) (slot, bool) {
	i, err := k.find(t)
	switch {
	case err != nil:
		return 0, false
	case d == 0: // a moment at which the shop is open
		if k.stretches[i].from > t {
			if i == 0 {
				return 0, false
			}
			t = k.stretches[i-1].to - 1
		}
		return t, true
	case !whole:
		w := k.stretches[i].before + max(0, t-k.stretches[i].from) - d
		if w < 0 {
			return 0, false
		}
		at, err := k.after(w)
		return at, err == nil
	}
	for ; i >= 0; i-- {
		if at := min(t, k.stretches[i].to) - d; at >= k.stretches[i].from {
			return at, true
		}
	}
	return 0, false
}

// reason proves by propagation with learning that no plan ends earlier than the best of people, or how early one could, and takes
// what it finds better on the way. It looks at less than a plan has to keep: of makers with different skills only that no set of
// them has more to do than it can, of racks nothing. So its proofs hold for every plan without broken windows; what it finds is
// an order, and better only if the schedule of that is. It is for problems in which the end counts first.
func (m *model) reason(g *generator, people []individual, t *meter) ([]individual, error) {
	best := people[0].score
	if m.plain != nil || m.dues || m.plans || best.broken > 0 || m.floor >= best.finish || t.stopped() {
		return people, nil
	}
	m.floor = max(m.floor, m.lowerBound(g.cal, best.finish))
	m.bounded = true
	if m.floor >= best.finish {
		return people, nil
	}
	x, ops := m.reasoner(g, best.finish)
	if x == nil {
		return people, nil
	}
	if err := g.decode(&people[0]); err != nil {
		return nil, err
	}
	hint := make([]int32, 0, len(ops)+1)
	for _, i := range ops {
		hint = append(hint, int32(g.start[i]-m.start))
	}
	x.Hint(hint)
	for conflicts := reasonConflicts; conflicts > 0; {
		before := x.Conflicts()
		o := x.Once(conflicts, t.interrupted)
		conflicts -= x.Conflicts() - before
		if o != proof.Improved && (o != proof.Settled || x.Best() == nil) {
			break
		}
		y, err := m.inOrder(g, ops, x.Best())
		if err != nil {
			return nil, err
		}
		if y.score.better(people[0].score) {
			people = slices.Insert(people, 0, y)
		}
		if o == proof.Settled {
			break
		}
	}
	x.Raise(reasonRaise, true, func() bool { return x.Conflicts() > reasonConflicts+reasonRaise*reasonEnds || t.interrupted() })
	floor := m.start + slot(x.Lower())
	if x.Decided() {
		if floor = best.finish; x.Best() != nil {
			floor = m.start + slot(x.Best()[len(x.Best())-1])
		}
	}
	m.floor = max(m.floor, min(floor, people[0].score.finish))
	return people, t.ended()
}

// inOrder is the schedule of operations in the order of these starts.
func (m *model) inOrder(g *generator, ops []int, start []int32) (individual, error) {
	priority := make([]float64, len(m.tasks))
	for k, i := range ops {
		priority[i] = -float64(start[k])
	}
	x := individual{list: newQueue(m).list(nil, priority), wanted: m.allWindows(), urged: -1}
	if err := g.decode(&x); err != nil {
		return x, err
	}
	x.score = g.score()
	return x, nil
}

// reasoner is what is reasoned about: the operations that have not begun, by the number of their work, all over before end. Nil
// where that is too much.
func (m *model) reasoner(g *generator, end slot) (*proof.Search, []int) {
	x := proof.New(m.p.Seed)
	until := int32(end - m.start)
	h := &hours{m: m, cal: g.cal}
	place := make([]int32, len(m.tasks))
	for _, i := range m.order {
		t := &m.tasks[i]
		if t.fixed {
			continue
		}
		low, high := int32(t.head-m.start), until
		if t.pin != never {
			high = int32(t.pin - m.start)
		}
		for k := range t.lags {
			l := &t.lags[k]
			if p := &m.tasks[l.pred]; p.fixed {
				low = max(low, int32(p.end+l.windows[0].from-m.start))
				if last := l.last(); last >= 0 {
					high = min(high, int32(p.end+last-m.start))
				}
			}
		}
		if len(h.ops) == reasonOperations {
			return nil, nil
		}
		place[i] = x.Work(low, high, int32(t.dur))
		h.ops = append(h.ops, i)
	}
	x.Open(h)
	b := &bounds{m: m, cal: g.cal}
	b.network()
	b.addSupplies(end)
	busy := make([][]int32, len(b.supplies)) // by supply and piece of work, from the first that is not an operation
	pieces := 0
	for s, set := range b.supplies {
		for _, c := range m.taken(g.cal, set.resources, end) {
			if pieces++; pieces > reasonBusy {
				return nil, nil
			}
			n := x.Work(int32(c.from-m.start), int32(c.from-m.start), int32(c.to-c.from))
			busy[s] = append(busy[s], make([]int32, int(n)+1-len(busy[s]))...)
			busy[s][n] = c.units
		}
	}
	goal := x.Goal(max(0, int32(m.floor-m.start)), until)
	for _, i := range h.ops {
		t := &m.tasks[i]
		x.After(place[i], goal, int32(t.tail))
		for k := range t.lags {
			l := &t.lags[k]
			if m.tasks[l.pred].fixed {
				continue
			}
			x.After(place[l.pred], place[i], int32(l.windows[0].from))
			if last := l.last(); last >= 0 {
				x.Within(place[l.pred], place[i], int32(last))
			}
		}
	}
	for s, set := range b.supplies {
		demand := make([]int32, int(goal))
		copy(demand, busy[s])
		for _, d := range set.jobs {
			demand[place[d.task]] = d.count
		}
		x.Resource(set.total, demand)
	}
	x.Close(false)
	x.Before(until)
	return x, h.ops
}

// part is so many units taken from a moment to another.
type part struct {
	from, to slot
	units    int32
}

// taken is what is promised or has begun on a set of resources, within opening hours until an end.
func (m *model) taken(cal *calendar, resources []int, until slot) []part {
	var out []part
	for _, r := range resources {
		p := &m.base[r]
		for k, use := range p.use {
			from, to := max(p.at[k], m.start), until
			if k+1 < len(p.at) {
				to = min(to, p.at[k+1])
			}
			if use = min(use, m.capacity[r]); use <= 0 {
				continue
			}
			for from < to {
				i, err := cal.find(from)
				if err != nil || cal.stretches[i].from >= to {
					break
				}
				s := cal.stretches[i]
				out = append(out, part{max(from, s.from), min(to, s.to), use})
				from = s.to
			}
		}
	}
	return out
}
