package schedule

// What is worked with is free or taken in working hours only, so the search counts its use in them: from[i] to to[i] of such a
// profile are slots of working time after the calendar's first. Work that pauses at closing time is one interval of it, a week
// that is full from morning to evening is one step, and a search for room passes over nights and weekends by arithmetic. Where
// cures lie, time runs on: those profiles are in slots as everything else.

// countHours makes the profiles that a search starts from.
func (m *model) countHours() error {
	m.shelf = make([]bool, len(m.base))
	for i := range m.tasks {
		for _, r := range m.tasks[i].rack.resources {
			m.shelf[r] = true
		}
	}
	m.hours = make([]profile, len(m.base))
	for r := range m.hours {
		b := &m.base[r]
		if m.shelf[r] {
			m.hours[r] = *b
			continue
		}
		h := newProfile()
		for k := 1; k < len(b.at); k++ {
			if b.use[k] == 0 || k+1 == len(b.at) {
				continue
			}
			from, err := m.cal.worked(max(b.at[k], m.start))
			if err != nil {
				break // later than any plan
			}
			to, err := m.cal.worked(b.at[k+1])
			if err != nil {
				to = far
			}
			h.add(from, to, b.use[k])
		}
		m.hours[r] = h
	}
	return nil
}

// peak is the highest use of r by what is placed, at the laid spans of i, and the moment before which work as long meets it
// again.
func (g *generator) peak(r, i int) (int32, slot) {
	if g.m.shelf[r] {
		return g.use[r].peak(g.spans[i])
	}
	top, until := g.use[r].peak([]span{{g.from, g.from + g.m.tasks[i].dur}})
	if top > 0 && until < far {
		at, err := g.cal.after(until)
		if err != nil {
			return top, far
		}
		return top, at
	}
	return top, until
}

// front is peak from the other side: the highest use of r, and the moment by which work as long must end to meet less of it.
func (j *justifier) front(g *generator, r int, from, dur slot) (int32, slot) {
	if g.m.shelf[r] {
		return j.use[r].front(j.spans)
	}
	top, first := j.use[r].front([]span{{from, from + dur}})
	if top == 0 {
		return top, first
	}
	at, err := g.cal.after(max(0, first))
	if err != nil || first <= 0 {
		return top, beginning
	}
	return top, at
}
