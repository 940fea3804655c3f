package schedule

import (
	"fmt"
	"slices"
	"time"

	"benchbell/quote/plan"
)

// Check says whether s is a plan for p: every operation once, with its whole duration in open hours on the grid and
// nothing earlier than the start, on resources of the kinds it needs and never beyond their capacity together with
// what is promised, its lags kept or named in Broken, cures and end as they follow from the times. It is independent
// of how the plan was made.
func Check(p plan.Problem, s plan.Solution) error {
	m, err := compile(&p)
	if err != nil {
		return err
	}
	return m.check(s)
}

func (m *model) check(s plan.Solution) error {
	index := make(map[string]int, len(m.p.Operations))
	for i, o := range m.p.Operations {
		index[o.ID] = i
	}
	n := len(m.tasks)
	if len(s.Operations) != n {
		return fmt.Errorf("the plan has %d operations, the problem %d", len(s.Operations), n)
	}
	start, end := make([]slot, n), make([]slot, n)
	seen := make([]bool, n)
	own := make([]profile, len(m.base)) // without promises
	for i := range own {
		own[i] = newProfile()
	}
	for k, x := range s.Operations {
		i, ok := index[x.ID]
		if !ok || seen[i] {
			return fmt.Errorf("the plan has operation %q twice or the problem lacks it", x.ID)
		}
		seen[i] = true
		if k > 0 && x.Start.Before(s.Operations[k-1].Start) {
			return fmt.Errorf("operation %q starts before the one listed before it", x.ID)
		}
		if err := m.checkTimes(i, x); err != nil {
			return fmt.Errorf("operation %s: %w", nameOf(m.p.Operations[i]), err)
		}
		if err := m.checkResources(i, x, own); err != nil {
			return fmt.Errorf("operation %s: %w", nameOf(m.p.Operations[i]), err)
		}
		start[i], end[i] = slotDown(x.Start), slotDown(x.End)
	}
	if err := m.checkCapacity(own, s, index); err != nil {
		return err
	}
	for i := range m.tasks {
		for k := range m.tasks[i].lags {
			l := &m.tasks[i].lags[k]
			if m.tasks[i].fixed {
				break // history
			}
			if d := start[i] - end[l.pred]; d < l.windows[0].from {
				return fmt.Errorf("operation %s starts %s after %s ends, the least is %s",
					nameOf(m.p.Operations[i]), words(max(0, d)), nameOf(m.p.Operations[l.pred]), words(l.windows[0].from))
			}
		}
	}
	if want := m.broken(start, end); !slices.Equal(want, s.Broken) {
		return fmt.Errorf("the plan names %d broken windows %q, by its times they are %q", len(s.Broken), s.Broken, want)
	}
	finish := beginning
	for i, t := range m.tasks {
		finish = max(finish, end[i]+t.tail)
	}
	if !s.End.Equal(finish.time()) {
		return fmt.Errorf("the plan ends at %s, by its times at %s", s.End.Format(time.RFC3339), finish.time().Format(time.RFC3339))
	}
	if err := m.checkDates(s, end, index); err != nil {
		return err
	}
	for _, x := range s.Operations {
		got, want := x.Cure, m.cure(index[x.ID], start, end)
		if (got == nil) != (want == nil) || got != nil && (got.Material != want.Material || !got.From.Equal(want.From) ||
			!got.Ready.Equal(want.Ready) || !got.Latest.Equal(want.Latest)) {
			return fmt.Errorf("the cure after operation %q is not the one that follows from its times", x.ID)
		}
	}
	return nil
}

// checkDates looks at what may be promised, the lower bound and the count of changes.
func (m *model) checkDates(s plan.Solution, end []slot, index map[string]int) error {
	if s.P80.Before(s.P50) || s.P95.Before(s.P80) {
		return fmt.Errorf("the dates of 50, 80 and 95 percent are not in order")
	}
	if s.LowerBound.After(s.End) {
		return fmt.Errorf("the plan ends at %s, before its lower bound %s", s.End.Format(time.RFC3339), s.LowerBound.Format(time.RFC3339))
	}
	taken, start := make([][]int, len(m.tasks)), make([]slot, len(m.tasks))
	for _, x := range s.Operations {
		i := index[x.ID]
		start[i] = slotDown(x.Start)
		for _, id := range x.Resources {
			taken[i] = append(taken[i], m.resources[id])
		}
		if w := x.Wait; w != nil && w.For != "" {
			if j, ok := index[w.For]; !ok || end[j] > end[i] {
				return fmt.Errorf("operation %q is said to wait for %q, which ends later or is none", x.ID, w.For)
			}
		}
	}
	if n := m.changes(start, taken); n != s.Changes {
		return fmt.Errorf("the plan counts %d changes of set-up, by its times there are %d", s.Changes, n)
	}
	if len(s.Dates) != len(m.projects) {
		return fmt.Errorf("the plan has dates of %d projects, the problem has %d", len(s.Dates), len(m.projects))
	}
	for k, d := range s.Dates {
		finish := beginning
		for i, t := range m.tasks {
			if t.project == k {
				finish = max(finish, end[i]+t.tail)
			}
		}
		if d.Project != m.projects[k].id || !d.End.Equal(finish.time()) {
			return fmt.Errorf("project %q ends at %s, by its times at %s", d.Project, d.End.Format(time.RFC3339), finish.time().Format(time.RFC3339))
		}
		if d.P80.Before(d.P50) || d.P95.Before(d.P80) || d.Missed < 0 || d.Missed > 1 {
			return fmt.Errorf("the dates of 50, 80 and 95 percent of project %q are not in order", d.Project)
		}
	}
	return nil
}

// checkTimes looks at one operation's spans: the real ones of what has begun, or those of work by the rules.
func (m *model) checkTimes(i int, x plan.Scheduled) error {
	t := &m.tasks[i]
	if !t.fixed {
		if start := slotDown(x.Start); start < t.release || start < m.projects[t.project].release {
			return fmt.Errorf("it starts at %s, before its release", x.Start.Format(time.RFC3339))
		}
		return m.checkWork(i, x)
	}
	if len(x.Spans) != len(t.spans) || !x.Start.Equal(t.start.time()) || !x.End.Equal(t.end.time()) {
		return fmt.Errorf("it has begun and is planned from %s to %s, in truth it is %s to %s", x.Start.Format(time.RFC3339), x.End.Format(time.RFC3339),
			t.start.time().Format(time.RFC3339), t.end.time().Format(time.RFC3339))
	}
	for k, w := range x.Spans {
		if !w.From.Equal(t.spans[k].from.time()) || !w.To.Equal(t.spans[k].to.time()) {
			return fmt.Errorf("span %d is not what it has had or has left", k+1)
		}
	}
	return nil
}

// checkWork looks at one operation's spans: on the grid, open hours, its whole duration, pausing only at closing time.
func (m *model) checkWork(i int, x plan.Scheduled) error {
	t := &m.tasks[i]
	if len(x.Spans) == 0 || !x.Spans[0].From.Equal(x.Start) || !x.Spans[len(x.Spans)-1].To.Equal(x.End) {
		return fmt.Errorf("its spans do not run from its start to its end")
	}
	if t.whole && len(x.Spans) != 1 {
		return fmt.Errorf("it is interrupted but must be done in one go")
	}
	var sum slot
	for k, w := range x.Spans {
		from, to := slotDown(w.From), slotDown(w.To)
		if !from.time().Equal(w.From) || !to.time().Equal(w.To) || to < from || from == to && t.dur > 0 {
			return fmt.Errorf("span %d is empty or off the grid of %d minutes", k+1, plan.Grid)
		}
		if from < m.start {
			return fmt.Errorf("it begins before the plan's start")
		}
		at, err := m.cal.find(from)
		if err != nil {
			return err
		}
		for to > m.cal.stretches[at].to && at == len(m.cal.stretches)-1 && m.cal.grow() {
			continue // the stretch goes on past what was built
		}
		open := m.cal.stretches[at]
		if from < open.from || to > open.to {
			return fmt.Errorf("span %d lies in closed hours", k+1)
		}
		if k > 0 {
			if from != open.from || at == 0 || slotDown(x.Spans[k-1].To) != m.cal.stretches[at-1].to {
				return fmt.Errorf("it pauses before span %d, though not from closing time to the next opening", k+1)
			}
		}
		sum += to - from
	}
	if sum != t.dur {
		return fmt.Errorf("it is worked on for %s, it takes %s", words(sum), words(t.dur))
	}
	return nil
}

// checkResources looks at the kinds and skills of one operation's resources and adds its use, and its cures', to own.
func (m *model) checkResources(i int, x plan.Scheduled, own []profile) error {
	t := &m.tasks[i]
	o := m.p.Operations[i]
	var want, got []string
	for _, n := range o.Needs {
		want = append(want, n.Kind)
	}
	with := make([]int32, len(m.capacity))
	for _, id := range x.Resources {
		r, ok := m.resources[id]
		if !ok {
			return fmt.Errorf("resource %q is not the studio's", id)
		}
		got = append(got, m.p.Resources[r].Kind)
		with[r]++
		for _, w := range x.Spans {
			if from, to := max(m.start, slotDown(w.From)), slotDown(w.To); from < to {
				own[r].add(from, to, 1)
			}
		}
	}
	slices.Sort(want)
	slices.Sort(got)
	if !t.fixed {
		if !slices.Equal(want, got) {
			return fmt.Errorf("it has resources of the kinds %q and needs %q", got, want)
		}
		if _, ok := match(t.needs, with, nil); !ok {
			return fmt.Errorf("its resources %q lack a skill that it needs", x.Resources)
		}
	}
	if t.rack.length == 0 {
		if x.Rack != "" {
			return fmt.Errorf("it has a place on %q for its cures and needs none", x.Rack)
		}
		return nil
	}
	end := slotDown(x.End)
	if end+t.rack.length <= m.start {
		return nil // long off it
	}
	r, ok := m.resources[x.Rack]
	if !ok || !slices.Contains(t.rack.resources, r) {
		return fmt.Errorf("its cures have no place: %q is none for them", x.Rack)
	}
	own[r].add(max(m.start, end), end+t.rack.length, 1)
	return nil
}

// checkCapacity looks at every resource wherever something planned uses it, together with promises and what has begun.
// What has begun may exceed a capacity alone, since it is so.
func (m *model) checkCapacity(own []profile, s plan.Solution, index map[string]int) error {
	for r, b := range m.promises { // own and promised together
		for k, n := range b.use {
			if n > 0 {
				own[r].add(b.at[k], b.at[k+1], n) // the last step is always 0
			}
		}
	}
	within := func(i, r int, from, to slot) error {
		if from >= to {
			return nil
		}
		if top, _ := own[r].peak([]span{{from, to}}); top > m.capacity[r] {
			return fmt.Errorf("resource %q is used or promised %d times while operation %s has it between %s and %s, its capacity is %d", m.p.Resources[r].ID,
				top, nameOf(m.p.Operations[i]), from.time().Format(time.RFC3339), to.time().Format(time.RFC3339), m.capacity[r])
		}
		return nil
	}
	for _, x := range s.Operations {
		i := index[x.ID]
		t := &m.tasks[i]
		if t.fixed {
			continue
		}
		for _, id := range x.Resources {
			for _, w := range x.Spans {
				if err := within(i, m.resources[id], slotDown(w.From), slotDown(w.To)); err != nil {
					return err
				}
			}
		}
		if t.rack.length > 0 {
			end := slotDown(x.End)
			if err := within(i, m.resources[x.Rack], end, end+t.rack.length); err != nil {
				return err
			}
		}
	}
	return nil
}
