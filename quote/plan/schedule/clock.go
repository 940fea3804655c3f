package schedule

import (
	"fmt"
	"time"
)

// addClocks takes over what is begun or done with its real times. Work that is running goes on for what is left of its
// duration; when that is over already, for at least a step of the grid.
func (m *model) addClocks() error {
	for i, o := range m.p.Operations {
		t := &m.tasks[i]
		if o.Started.IsZero() && o.Finished.IsZero() {
			if len(o.By) > 0 {
				return fmt.Errorf("operation %s has resources but no real start, give that or leave the resources out", nameOf(o))
			}
			continue
		}
		switch {
		case o.Started.IsZero():
			return fmt.Errorf("operation %s is finished but was never started, give its real start", nameOf(o))
		case !o.Finished.IsZero() && o.Finished.Before(o.Started):
			return fmt.Errorf("operation %s was finished at %s, before it was started at %s", nameOf(o), o.Finished.Format(time.RFC3339), o.Started.Format(time.RFC3339))
		case slotUp(o.Started) > m.start || !o.Finished.IsZero() && slotUp(o.Finished) > m.start:
			return fmt.Errorf("operation %s has a real time after the plan's start at %s, give the present as the start", nameOf(o), m.p.Start.Format(time.RFC3339))
		}
		for _, id := range o.By {
			r, ok := m.resources[id]
			if !ok {
				return fmt.Errorf("operation %s is done by %q, which the studio does not list", nameOf(o), id)
			}
			t.taken = append(t.taken, r)
		}
		t.fixed, t.start = true, slotDown(o.Started)
		if !o.Finished.IsZero() {
			t.end = max(t.start, slotUp(o.Finished))
			t.late = int64(t.end.time().Sub(o.Finished) / time.Second)
			t.spans = []span{{t.start, t.end}}
			continue
		}
		before, err := m.cal.worked(t.start)
		if err != nil {
			return err
		}
		now, err := m.cal.worked(m.start)
		if err != nil {
			return err
		}
		left := max(min(1, t.dur), t.dur-(now-before))
		if t.spans, err = m.cal.lay(nil, m.start, left, false); err != nil {
			return fmt.Errorf("operation %s cannot go on: %w, add shifts", nameOf(o), err)
		}
		switch {
		case t.start == m.start && t.spans[0].from == m.start:
		case t.spans[0].from == m.start:
			t.spans[0].from = t.start
		default:
			t.spans = append([]span{{t.start, m.start}}, t.spans...)
		}
		t.end = t.spans[len(t.spans)-1].to
	}
	return nil
}

// occupyFixed adds what is begun to the base of every schedule, and chooses resources for what names none. Reality may
// exceed a capacity; what is planned never adds to that.
func (m *model) occupyFixed() {
	for i := range m.tasks {
		t := &m.tasks[i]
		if !t.fixed {
			continue
		}
		if len(m.p.Operations[i].By) == 0 && t.end > m.start {
			free := make([]int32, len(m.base))
			for r := range m.base {
				top, _ := m.base[r].peak([]span{{m.start, t.end}})
				free[r] = m.capacity[r] - top
			}
			if taken, ok := match(t.needs, free, nil); ok {
				t.taken = taken
			} else { // in truth somebody does it
				for _, n := range t.needs {
					for k := range n.count {
						t.taken = append(t.taken, n.resources[int(k)%len(n.resources)])
					}
				}
			}
		}
		for _, r := range t.taken {
			for _, s := range t.spans {
				m.base[r].add(max(s.from, m.start), s.to, 1)
			}
		}
	}
	for i := range m.tasks {
		t := &m.tasks[i]
		if !t.fixed || t.rack.length == 0 || t.end+t.rack.length <= m.start {
			continue
		}
		lie := span{max(t.end, m.start), t.end + t.rack.length}
		best := int32(-1 << 30)
		for _, r := range t.rack.resources {
			top, _ := m.base[r].peak([]span{lie})
			if free := m.capacity[r] - top; free > best {
				best, t.onRack = free, r
			}
		}
		m.base[t.onRack].add(lie.from, lie.to, 1)
	}
}
