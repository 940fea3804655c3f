package schedule

// justifier pushes a schedule's operations as late as they can go, last first, without delaying any project: the right
// half of double justification. What it finds is an order; a serial pass by that order is the left half, and only a
// better schedule is kept.
type justifier struct {
	use   []profile
	right []slot // latest start
	work  []slot // working slots before it
	order []int
	spans []span
}

func newJustifier(m *model) *justifier {
	j := &justifier{use: make([]profile, len(m.base)), right: make([]slot, len(m.tasks)), work: make([]slot, len(m.tasks))}
	return j
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
		from, err := g.cal.worked(start)
		if err != nil {
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
		j.right[i], j.work[i] = start, from
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
