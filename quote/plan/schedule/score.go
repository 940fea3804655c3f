package schedule

import "slices"

// score orders schedules: broken windows and pins, then how late promised dates and then wishes are likely to be, then
// the end of the shop's work, then changes of set-up, then how far planned starts move, then the projects' ends, then how
// early things start; where the problem gives an order of objectives, that comes after broken windows. A plan in force is not overthrown for an end earlier by less than a day.
type score struct {
	broken     int
	late, wish int64 // weighted slots
	finish     slot
	changes    int
	moves      int   // operations that move
	moved      slot  // how far, together
	ends       int64 // of the projects, weighted slots after the start
	sum        slot

	order   *order // nil: as above
	missed  int    // promised dates that are likely to be
	evening slot   // worked in extra shifts, where the order is given
}

func (a score) better(b score) bool {
	if a.broken == b.broken && (a.order != nil || b.order != nil) {
		return a.betterInOrder(b)
	}
	switch {
	case a.broken != b.broken:
		return a.broken < b.broken
	case a.late != b.late:
		return a.late < b.late
	case a.wish != b.wish:
		return a.wish < b.wish
	case a.finish != b.finish:
		return a.finish < b.finish
	case a.changes != b.changes:
		return a.changes < b.changes
	case a.moved != b.moved:
		return a.moved < b.moved
	case a.ends != b.ends:
		return a.ends < b.ends
	}
	return a.sum < b.sum
}

// betterInOrder compares by a given order.
func (a score) betterInOrder(b score) bool {
	o := a.order
	if o == nil {
		o = b.order
	}
	for _, name := range o.names {
		if d := a.compare(b, name); d != 0 {
			return d < 0
		}
	}
	if a.ends != b.ends {
		return a.ends < b.ends
	}
	return a.sum < b.sum
}

// score measures the generated schedule. Lateness is that of the planned end and the project's buffer of working time, a
// quick stand-in for the simulated date.
func (g *generator) score() score {
	m := g.m
	s := score{broken: g.broken, finish: m.day(g.finish), sum: g.sum(), order: m.objectives}
	for k := range m.projects {
		g.lateness(&s, k, g.ends[k])
	}
	if m.setups {
		s.changes = m.changes(g.start, g.taken)
	}
	if m.objectives != nil && m.extra != nil {
		s.evening = m.evening(g)
	}
	if m.plans {
		for i := range m.tasks {
			if !m.tasks[i].fixed {
				m.moves(&s, i, g.start[i], g.start[i])
			}
		}
	}
	return s
}

// moves adds how far operation i moves at least, where it starts between from and most.
func (m *model) moves(s *score, i int, from, most slot) {
	at := m.tasks[i].arrange
	if at == never || at >= m.frozen && most >= m.frozen {
		return
	}
	if d := max(0, from-at, at-most); d > 0 {
		s.moved += d
		s.moves++
	}
}

// lateness adds the end of project k to a score, and how late that is.
func (g *generator) lateness(s *score, k int, end slot) {
	p := &g.m.projects[k]
	s.ends += p.weight * int64(end-g.m.start)
	if p.due == never {
		return
	}
	if over := g.handover(end, p.buffer) - p.due; over > 0 && p.promised {
		s.late += p.weight * int64(over)
		s.missed++
	} else if over > 0 {
		s.wish += p.weight * int64(over)
	}
}

// day rounds an end up to whole days after the start where a plan is in force.
func (m *model) day(finish slot) slot {
	if !m.plans {
		return finish
	}
	return m.start + (finish-m.start+daySlots-1)/daySlots*daySlots
}

// handover is the first moment in working hours at or after so much working time after t.
func (g *generator) handover(t, buffer slot) slot {
	at, err := g.cal.open(t)
	if err == nil && buffer > 0 {
		var w slot
		if w, err = g.cal.worked(at); err == nil {
			if at, err = g.cal.after(w + buffer - 1); err == nil {
				at++
			}
		}
	}
	if err != nil { // beyond the calendar: as late as that
		return t
	}
	return at
}

// changes counts, resource by resource, how often an operation with a set-up follows one with another.
func (m *model) changes(start []slot, taken [][]int) int {
	var list []int
	for i := range m.tasks {
		if m.tasks[i].setup > 0 {
			list = append(list, i)
		}
	}
	slices.SortStableFunc(list, func(a, b int) int { return int(start[a] - start[b]) })
	last := make([]int, len(m.capacity))
	n := 0
	for _, i := range list {
		for k, r := range taken[i] {
			if k > 0 && taken[i][k-1] == r || m.p.Resources[r].Kind == "maker" {
				continue // a maker changes nothing; two units of one place are set up together
			}
			if last[r] != 0 && last[r] != m.tasks[i].setup {
				n++
			}
			last[r] = m.tasks[i].setup
		}
	}
	return n
}
