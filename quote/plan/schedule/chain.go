package schedule

import "benchbell/quote/plan"

// chain marks in s what is critical and writes down what everything waited for: the critical chain in the sense of
// resource flow, over predecessors, cures, units and promises.
func (m *model) chain(g *generator, s *plan.Solution) {
	order := byEnd(m, g)
	u := assignUnits(m, g, order)
	at := make(map[string]int, len(s.Operations))
	for k, x := range s.Operations {
		at[x.ID] = k
	}
	latest := make([]slot, len(m.tasks)) // start
	next := make([]slot, u.n)            // latest beginning of the next claim on a unit
	for k := range next {
		next[k] = -beginning
	}
	for k := len(order) - 1; k >= 0; k-- {
		i := order[k]
		t := &m.tasks[i]
		limit := g.ends[t.project] - t.tail
		for _, n := range t.next {
			for a := range m.tasks[n].lags {
				if l := &m.tasks[n].lags[a]; l.pred == i {
					limit = min(limit, latest[n]-l.windows[max(0, l.hit(g.start[n]-g.end[i]))].from)
				}
			}
		}
		for _, o := range m.offsets { // one not looked at yet stands
			if o.from == i && o.to != i {
				limit = min(limit, max(g.start[o.to], latest[o.to])-o.least+g.end[i]-g.start[i])
			}
		}
		for _, id := range u.of[i] {
			limit = min(limit, next[id])
		}
		if id := u.rack[i]; id >= 0 {
			limit = min(limit, next[id]-t.rack.length)
		}
		latest[i] = g.start[i]
		end := g.end[i]
		if from, to := u.latest(m, g, i, limit); !t.fixed && t.pin == never && from > latest[i] {
			latest[i], end = from, to
		}
		for _, id := range u.of[i] {
			next[id] = latest[i]
		}
		if id := u.rack[i]; id >= 0 {
			next[id] = end
		}
		if t.fixed && t.end <= m.start {
			continue
		}
		s.Operations[at[m.p.Operations[i].ID]].Critical = latest[i] <= g.start[i]
	}
	m.waits(g, s, order, u, at)
}

// latest is the latest start and end of operation i, ended by limit and clear of its units' promises; its own times where
// there is none later.
func (u *unitPlan) latest(m *model, g *generator, i int, limit slot) (start, end slot) {
	t := &m.tasks[i]
	for limit > g.end[i] {
		spans, ok := g.cal.layBack(nil, limit, t.dur, t.whole)
		if !ok {
			break
		}
		start, end = spans[len(spans)-1].from, spans[0].to
		before := beginning // the end must not be later, to meet the last promise no more
		for _, id := range u.of[i] {
			for _, b := range u.busy[id] {
				for _, s := range spans {
					if from, to := u.base+slot(b.from), u.base+slot(b.to); from < s.to && s.from < to {
						before = max(before, from, s.from)
					}
				}
			}
		}
		if id := u.rack[i]; id >= 0 {
			for _, b := range u.busy[id] {
				if from, to := u.base+slot(b.from), u.base+slot(b.to); from < end+t.rack.length && end < to {
					before = max(before, from-t.rack.length)
				}
			}
		}
		if before == beginning {
			return start, end
		}
		limit = min(before, end-1)
	}
	return g.start[i], g.end[i]
}

func (m *model) waits(g *generator, s *plan.Solution, order []int, u unitPlan, at map[string]int) {
	type claimed struct {
		by int
		to slot
	}
	last := make([]claimed, u.n)
	for k := range last {
		last[k].by = -1
	}
	owner := make([]int, u.n) // resource of a unit
	n := 0
	for r, c := range m.capacity {
		for range c {
			owner[n] = r
			n++
		}
	}
	for _, i := range order {
		t := &m.tasks[i]
		var w *plan.Wait
		ready := m.start
		if !t.fixed {
			if r := max(t.release, m.projects[t.project].release, t.pin); r > ready {
				ready, w = r, &plan.Wait{Why: plan.WaitRelease}
			}
			for k := range t.lags {
				l := &t.lags[k]
				from := l.windows[max(0, l.hit(g.start[i]-g.end[l.pred]))].from
				if r := g.end[l.pred] + from; r > ready || r == ready && w == nil && r > m.start {
					ready, w = r, &plan.Wait{For: m.p.Operations[l.pred].ID, Why: plan.WaitOrder}
					if from > 0 {
						w.Why = plan.WaitCure
					}
				}
			}
			for _, o := range m.offsets {
				if r := g.start[o.from] + o.least; o.to == i && o.from != i && (r > ready || r == ready && w == nil && r > m.start) {
					ready, w = r, &plan.Wait{For: m.p.Operations[o.from].ID, Why: plan.WaitOrder}
				}
			}
			for k, id := range append(u.of[i][:len(u.of[i]):len(u.of[i])], u.rack[i]) {
				if id < 0 {
					continue
				}
				free, by, begin := last[id].to, last[id].by, g.start[i]
				if k == len(u.of[i]) { // its cure's place had to be free by its end
					begin = g.end[i]
					if free < begin { // and was
						free = 0
					} else {
						free = g.start[i]
					}
				}
				for _, b := range u.busy[id] {
					if to := slot(b.to) + m.start; to > free && to <= begin {
						free, by = to, -1
					}
				}
				if free > ready && free <= g.start[i] {
					ready, w = free, &plan.Wait{Why: m.p.Resources[owner[id]].ID}
					if by >= 0 {
						w.For = m.p.Operations[by].ID
					}
				}
			}
		}
		for _, id := range u.of[i] {
			last[id] = claimed{by: i, to: g.end[i]}
		}
		if id := u.rack[i]; id >= 0 {
			last[id] = claimed{by: i, to: g.end[i] + t.rack.length}
		}
		s.Operations[at[m.p.Operations[i].ID]].Wait = w
	}
}
