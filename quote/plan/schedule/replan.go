package schedule

import (
	"context"
	"slices"
	"time"

	"benchbell/quote/plan"
	"benchbell/quote/plan/check"
)

// Replan brings a plan up to date: p is the shop as it is now, with real clocks for what has begun, s the plan so far. What
// is running, curing or done stays with its real times; of equally good plans the one nearest to s is taken. Where p has
// exactly s's operations, begun and done as planned, and s is still a plan for p, s itself is returned: nothing changed
// changes nothing. Dates and hours that change without breaking the plan are no reason to move work; Solve is for that.
func Replan(ctx context.Context, p plan.Problem, s plan.Solution, now time.Time) (plan.Solution, error) {
	return Options{}.Replan(ctx, p, s, now)
}

// Replan is the package's Replan with options.
func (o Options) Replan(ctx context.Context, p plan.Problem, s plan.Solution, now time.Time) (plan.Solution, error) {
	if p.Start.Before(now) {
		p.Start = now
	}
	p.Operations = append([]plan.Operation(nil), p.Operations...)
	planned := make(map[string]plan.Scheduled, len(s.Operations))
	for _, x := range s.Operations {
		planned[x.ID] = x
	}
	for i := range p.Operations {
		op := &p.Operations[i]
		x, ok := planned[op.ID]
		if !ok {
			continue
		}
		if op.Planned.IsZero() {
			op.Planned = x.Start
		}
		if !op.Started.IsZero() && op.Finished.IsZero() && len(op.By) == 0 {
			op.By = x.Resources // whoever was to do it does it
		}
	}
	m, err := compile(&p)
	if err != nil {
		return plan.Solution{}, err
	}
	if m.unchanged(s) {
		return s, nil
	}
	return m.solve(newMeter(ctx, o, max(p.Schedules, 1), p.Runs))
}

// unchanged says that s is still the plan: what has begun did so as planned, and the rest can.
func (m *model) unchanged(s plan.Solution) bool {
	if len(s.Operations) != len(m.tasks) {
		return false
	}
	at := make(map[string]int, len(s.Operations))
	for k, x := range s.Operations {
		at[x.ID] = k
	}
	for i := range m.tasks {
		t := &m.tasks[i]
		k, ok := at[m.p.Operations[i].ID]
		if !ok {
			return false
		}
		x := s.Operations[k]
		if t.fixed && (!x.Start.Equal(t.start.time()) || !x.End.Equal(t.end.time())) || !t.fixed && slotDown(x.Start) < m.start {
			return false
		}
	}
	return m.stands(s)
}

// stands says that everything s has ahead is allowed. The spans that what has begun had, and the windows it missed, are
// history; what s tells besides the times is not asked for: it may be another now.
func (m *model) stands(s plan.Solution) bool {
	s.Operations = slices.Clone(s.Operations)
	index := make(map[string]int, len(m.tasks))
	for i, o := range m.p.Operations {
		index[o.ID] = i
	}
	g := newGenerator(m)
	for k := range s.Operations {
		x := &s.Operations[k]
		i := index[x.ID]
		g.start[i], g.end[i] = slotDown(x.Start), slotDown(x.End)
		x.Wait, x.Critical = nil, true
		if t := &m.tasks[i]; t.fixed {
			x.Spans = nil
			for _, w := range t.spans {
				x.Spans = append(x.Spans, plan.Span{From: w.from.time(), To: w.to.time()})
			}
		}
	}
	s.Broken = m.broken(g.start, g.end)
	g.measure()
	now := s
	now.Dates = nil
	m.dates(g, &chances{}, &now)
	s.P50, s.P80, s.P95 = now.P50, now.P80, now.P95
	if len(now.Dates) != len(s.Dates) {
		return false
	}
	s.Dates = slices.Clone(s.Dates)
	for k := range s.Dates {
		d := &s.Dates[k]
		d.P50, d.P80, d.P95, d.Kept = now.Dates[k].P50, now.Dates[k].P80, now.Dates[k].P95, now.Dates[k].Kept
	}
	return check.Plan(*m.p, s) == nil
}
