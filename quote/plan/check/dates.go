package check

import (
	"fmt"
	"slices"
	"time"

	"benchbell/quote/plan"
)

// dates looks at the ends and at what may be promised.
func (c *checker) dates() error {
	ends := map[string]time.Time{}
	var others []string // projects that the problem gives no dates, as they come
	var all time.Time
	for i := range c.work {
		w := &c.work[i]
		id := w.ask.Project
		if _, ok := ends[id]; !ok {
			if _, given := c.projects[id]; !given {
				others = append(others, id)
			}
		}
		ends[id] = latest(w.over(), ends[id])
		all = latest(all, w.over())
	}
	if !c.s.End.Equal(all) {
		return fmt.Errorf("the plan ends at %s, by its times at %s", clock(c.s.End), clock(all))
	}
	if c.s.LowerBound.After(c.s.End) {
		return fmt.Errorf("the plan ends at %s, before its lower bound at %s", clock(c.s.End), clock(c.s.LowerBound))
	}
	if err := c.promises("the plan", c.s.P50, c.s.P80, c.s.P95, all); err != nil {
		return err
	}
	var order []string
	for _, x := range c.p.Projects {
		if _, ok := ends[x.ID]; ok {
			order = append(order, x.ID)
		}
	}
	order = append(order, others...)
	if len(c.s.Dates) != len(order) {
		return fmt.Errorf("the plan has dates of %d projects, the problem has %d with operations", len(c.s.Dates), len(order))
	}
	for k, d := range c.s.Dates {
		what := fmt.Sprintf("project %q", order[k])
		switch {
		case d.Project != order[k]:
			return fmt.Errorf("the dates of %s are in the place of those of %s", fmt.Sprintf("project %q", d.Project), what)
		case !d.End.Equal(ends[d.Project]):
			return fmt.Errorf("%s ends at %s, by its times at %s", what, clock(d.End), clock(ends[d.Project]))
		case !(d.Missed >= 0 && d.Missed <= 1 && d.Kept >= 0 && d.Kept <= 1):
			return fmt.Errorf("%s misses a window in %g and is kept in %g of the runs, which are no shares", what, d.Missed, d.Kept)
		case d.Kept > 0 && c.projects[d.Project].Due.IsZero():
			return fmt.Errorf("%s is kept in %g of the runs, but has no date to keep", what, d.Kept)
		case !c.open() && (d.P50.After(c.s.P50) || d.P80.After(c.s.P80) || d.P95.After(c.s.P95)):
			return fmt.Errorf("%s is handed over later than everything is", what)
		}
		if err := c.promises(what, d.P50, d.P80, d.P95, d.End); err != nil {
			return err
		}
	}
	return nil
}

// promises looks at dates of handover: in order, while somebody is in the shop, and without runs right after the end.
func (c *checker) promises(what string, p50, p80, p95, end time.Time) error {
	if p80.Before(p50) || p95.Before(p80) {
		return fmt.Errorf("the dates of 50, 80 and 95 percent of %s are not in order: %s, %s, %s", what, clock(p50), clock(p80), clock(p95))
	}
	for _, t := range []time.Time{p50, p80, p95} {
		want := t
		if c.p.Runs == 0 {
			want = end
		}
		if want, ok := c.hours.handover(want); ok && !t.Equal(want) {
			return fmt.Errorf("%s is handed over at %s, the first time somebody is there then is %s", what, clock(t), clock(want))
		}
	}
	return nil
}

// told looks at what the plan says about itself: changes of set-up, waits and what is critical.
func (c *checker) told() error {
	if n := c.changes(); n != c.s.Changes {
		return fmt.Errorf("the plan counts %d changes of set-up, by its times there are %d", c.s.Changes, n)
	}
	ends := map[string]time.Time{}
	for _, d := range c.s.Dates {
		ends[d.Project] = d.End
	}
	for i := range c.work {
		w := &c.work[i]
		if !w.got.Critical && w.got.End.After(c.start) && w.over().Equal(ends[w.ask.Project]) {
			return fmt.Errorf("%s ends its project and is not said to be critical", w.name())
		}
		if w.got.Wait != nil {
			if err := c.waits(w); err != nil {
				return fmt.Errorf("%s: %w", w.name(), err)
			}
		}
	}
	return nil
}

// waits looks at what an operation is said to have waited for last: it must be over by its start, and nothing else that it
// waits for may have been over later.
func (c *checker) waits(w *work) error {
	said := w.got.Wait
	if w.began {
		return fmt.Errorf("it has begun and is said to wait for %q", said.Why)
	}
	start := w.got.Start
	released := latest(w.ask.Release, c.projects[w.ask.Project].Release, w.ask.Pinned)
	ready := latest(c.start, up(released))
	for _, l := range w.lags {
		in, _ := l.in(start)
		ready = latest(ready, in.opens)
	}
	for _, x := range w.offsets {
		if c.work[x.from].ask.ID != w.ask.ID { // nothing waits for itself
			ready = latest(ready, up(x.at))
		}
	}
	switch said.Why {
	case plan.WaitRelease:
		if said.For != "" || !up(released).After(c.start) || !up(released).Equal(ready) {
			return fmt.Errorf("it is said to wait for its release, which it did not wait for last")
		}
		return nil
	case plan.WaitOrder, plan.WaitCure:
		for _, l := range w.lags {
			pred := &c.work[l.pred]
			in, _ := l.in(start)
			if pred.ask.ID == said.For && ready.After(c.start) && in.opens.Equal(ready) && in.opens.After(pred.got.End) == (said.Why == plan.WaitCure) {
				return nil
			}
		}
		if slices.ContainsFunc(w.offsets, func(x offset) bool {
			return said.For != w.ask.ID && c.work[x.from].ask.ID == said.For && ready.After(c.start) && up(x.at).Equal(ready) && said.Why == plan.WaitOrder
		}) {
			return nil
		}
		return fmt.Errorf("it is said to wait for %q (%s), which it did not wait for last", said.For, said.Why)
	}
	by := start // when it had to be free: for what it cures on, its end
	switch {
	case w.got.Rack == said.Why:
		by = w.got.End
	case !slices.Contains(w.got.Resources, said.Why):
		return fmt.Errorf("it is said to wait for resource %q, which it does not have", said.Why)
	}
	if said.For == "" {
		if slices.ContainsFunc(c.p.Busy, func(b plan.Busy) bool {
			return b.Resource == said.Why && up(b.To).After(ready) && !b.To.After(by)
		}) {
			return nil
		}
		return fmt.Errorf("it is said to wait for resource %q, of which no promise ends after all else and before it", said.Why)
	}
	i, ok := c.index[said.For]
	if !ok || said.For == w.ask.ID {
		return fmt.Errorf("it is said to wait for %q, which is no other operation", said.For)
	}
	other := c.work[i].got
	if !slices.Contains(other.Resources, said.Why) && other.Rack != said.Why || other.End.After(by) {
		return fmt.Errorf("it is said to wait for %q, which does not have resource %q before it", said.For, said.Why)
	}
	return nil
}

// open reports whether some project may come to nothing: its dates are then those of other runs than the plan's.
func (c *checker) open() bool {
	return slices.ContainsFunc(c.p.Projects, func(p plan.Project) bool { return p.Open })
}
