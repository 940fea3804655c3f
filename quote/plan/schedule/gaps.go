package schedule

import "slices"

// gaps are what the units of a run leave free. As a rule the shop takes up work in the plan's order, and a unit is free from the
// end of its last work on. Where some work is let go later than planned, nobody waits at the bench for its deposit: it keeps
// its place in the order, and what comes after it is done in the meantime, as far as it is over in time.
type gaps struct {
	first []int32 // by project: the first start that is planned for what has not begun
	late  bool    // some project may be let go later
	open  bool    // some is, in this run
	taken [][]span32
}

func (p *policy) addGaps(g *generator) {
	const none = int32(1 << 30)
	x := gaps{taken: make([][]span32, p.nUnits)}
	for k := range p.m.projects {
		x.first = append(x.first, none)
		x.late = x.late || p.m.projects[k].latest != never
	}
	for i := range p.m.tasks {
		if t := &p.m.tasks[i]; !t.fixed {
			x.first[t.project] = min(x.first[t.project], p.after(g.start[i]))
		}
	}
	p.gaps = x
}

// lookForGaps prepares a run once it is known when each project is let go.
func (p *policy) lookForGaps() {
	x := &p.gaps
	x.open = false
	for k := 0; x.late && k < len(p.begins); k++ {
		if q := p.quotes.of[k]; q >= 0 && !p.came[q] {
			continue
		}
		x.open = x.open || p.begins[k] > x.first[k]
	}
	if x.open {
		for u := range x.taken {
			x.taken[u] = x.taken[u][:0]
		}
	}
}

// firstAfter is the first span of a unit that ends after a moment. Most are looked for near the last.
func firstAfter(list []span32, at int32) int {
	lo, hi := 0, len(list)
	for step := 1; hi > lo; step *= 2 {
		k := max(lo, hi-step)
		if list[k].to <= at {
			lo = k + 1
			break
		}
		hi = k
	}
	for lo < hi {
		if k := int(uint(lo+hi) / 2); list[k].to <= at {
			lo = k + 1
		} else {
			hi = k
		}
	}
	return lo
}

// until is the end of the last span of a unit that overlaps the interval, or 0.
func (x *gaps) until(u, from, to int32) (until int32) {
	if !x.open {
		return 0
	}
	list := x.taken[u]
	for k := firstAfter(list, from); k < len(list) && list[k].from < to; k++ {
		until = list[k].to
	}
	return until
}

func (x *gaps) take(u, from, to int32) {
	if to <= from {
		return
	}
	list := x.taken[u]
	k := firstAfter(list, from)
	before, after := k > 0 && list[k-1].to == from, k < len(list) && list[k].from == to
	switch {
	case before && after: // spans that touch are one, so that few are looked through
		list[k-1].to = list[k].to
		x.taken[u] = slices.Delete(list, k, k+1)
	case before:
		list[k-1].to = to
	case after:
		list[k].from = from
	default:
		x.taken[u] = slices.Insert(list, k, span32{from, to})
	}
}
