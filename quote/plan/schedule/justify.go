package schedule

import "slices"

// justifier pushes a schedule's operations as late as they can go, last first, without delaying any project: the right
// half of double justification. What it finds is an order; a serial pass by that order is the left half, and only a
// better schedule is kept.
type justifier struct {
	use   []profile
	right []slot // latest start
	order []int
	spans []span
}

func newJustifier(m *model) *justifier {
	j := &justifier{use: make([]profile, len(m.base)), right: make([]slot, len(m.tasks))}
	for i := range m.tasks {
		if !m.tasks[i].fixed {
			j.order = append(j.order, i)
		}
	}
	return j
}

// run fills right from g's schedule; false where something finds no place, as after a broken window.
func (j *justifier) run(g *generator) bool {
	m := g.m
	for i := range j.use {
		j.use[i].copyFrom(&m.base[i])
	}
	slices.SortFunc(j.order, func(a, b int) int {
		if g.end[a] != g.end[b] {
			return int(g.end[b] - g.end[a])
		}
		return g.at[b] - g.at[a]
	})
	for _, i := range j.order {
		t := &m.tasks[i]
		limit := g.ends[t.project] - t.tail
		for _, n := range t.next {
			for k := range m.tasks[n].lags {
				if l := &m.tasks[n].lags[k]; l.pred == i && !m.tasks[n].fixed {
					w := l.windows[max(0, l.hit(g.start[n]-g.end[i]))]
					limit = min(limit, j.right[n]-w.from)
				}
			}
		}
		if !j.place(g, i, limit) {
			return false
		}
	}
	return true
}

// place puts i as late as it ends by limit.
func (j *justifier) place(g *generator, i int, limit slot) bool {
	t := &g.m.tasks[i]
	for {
		var ok bool
		if j.spans, ok = g.cal.layBack(j.spans[:0], limit, t.dur, t.whole); !ok {
			return false
		}
		end, start := j.spans[0].to, j.spans[len(j.spans)-1].from
		if start < t.head {
			return false
		}
		before := limit
		for k := range t.needs {
			n := &t.needs[k]
			left, latest := n.count, beginning
			for _, r := range n.resources {
				top, first := j.use[r].front(j.spans)
				if free := g.m.capacity[r] - top; free > 0 {
					left -= free
				}
				if left <= 0 {
					break
				}
				if top > 0 {
					latest = max(latest, first)
				}
			}
			if left > 0 {
				before = min(before, latest)
			}
		}
		rack := -1
		if before == limit && t.rack.length > 0 {
			lie := []span{{end, end + t.rack.length}}
			latest := beginning
			for _, r := range t.rack.resources {
				top, first := j.use[r].front(lie)
				if top < g.m.capacity[r] {
					rack = r
					break
				}
				latest = max(latest, first)
			}
			if rack < 0 {
				before = min(end-1, latest-t.rack.length)
			}
		}
		if before < limit {
			limit = min(before, end-1)
			continue
		}
		j.right[i] = start
		for k := range t.needs {
			n := &t.needs[k]
			left := n.count
			for _, r := range n.resources {
				top, _ := j.use[r].front(j.spans)
				for free := g.m.capacity[r] - top; free > 0 && left > 0; free-- {
					for _, s := range j.spans {
						j.use[r].add(s.from, s.to, 1)
					}
					left--
				}
			}
		}
		if rack >= 0 {
			j.use[rack].add(end, end+t.rack.length, 1)
		}
		return true
	}
}
