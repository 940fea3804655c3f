package schedule

import (
	"context"
	"fmt"
	"slices"
	"time"

	"benchbell/quote/plan"
)

// settleRounds is the most times a plan is followed until it no longer changes. Usually it takes two.
const settleRounds = 6

// Settle keeps to the plan so far: without a search it gives every operation its planned start, or the first moment after it
// that what has happened since allows, in the order of the planned starts; operations without one come after them. That is done
// until it changes nothing, since pushing an operation back changes the order of work. A plan that can still be kept comes out as
// it is, otherwise with work pushed back and nothing rearranged. Dates are simulated as in Solve, in which work may begin earlier
// than planned, and the same is refused.
func Settle(ctx context.Context, p plan.Problem) (plan.Solution, error) {
	m, err := compile(&p)
	if err != nil {
		return plan.Solution{}, err
	}
	return m.settle(newMeter(ctx, Options{}, 1, p.Runs))
}

// PlannedAs is a problem with a plan of it as the plan so far.
func PlannedAs(p plan.Problem, s plan.Solution) plan.Problem {
	at := make(map[string]time.Time, len(s.Operations))
	for _, x := range s.Operations {
		at[x.ID] = x.Start
	}
	p.Operations = slices.Clone(p.Operations)
	for i := range p.Operations {
		if o := &p.Operations[i]; o.Started.IsZero() {
			o.Planned = at[o.ID]
		}
	}
	return p
}

// Improve searches for a plan as Solve does and settles it, so that Settle returns it unchanged. It begins with the plan from,
// where that has operations, in place of the plan so far, and counts what moves against the plan so far all the same. It is false,
// with no plan, where the search finds nothing but what it began with.
func Improve(ctx context.Context, p plan.Problem, from plan.Solution, progress func(done, budget int)) (plan.Solution, bool, error) {
	asked := p.Operations
	if len(from.Operations) > 0 {
		p = PlannedAs(p, from)
	}
	m, err := compile(&p)
	if err != nil {
		return plan.Solution{}, false, err
	}
	p.Operations = asked
	for i := range m.tasks {
		if m.tasks[i].arrange, err = onGrid(asked[i].Planned); err != nil {
			return plan.Solution{}, false, fmt.Errorf("the planned start of operation %s %w", nameOf(asked[i]), err)
		}
	}
	runs := p.Runs
	t := newMeter(ctx, Options{Progress: progress}, max(p.Schedules, 1), runs)
	if len(m.tasks) > WholeOperations {
		p.Runs = 0 // nothing is chosen by its dates before it is settled
	}
	g, _, _, err := m.best(t)
	if err != nil || m.unchanged(g) {
		return plan.Solution{}, false, err
	}
	p.Runs = runs
	m.take(g)
	s, err := m.settle(t)
	return s, true, err
}

// unchanged says that all that has not begun starts in g as in the plan so far.
func (m *model) unchanged(g *generator) bool {
	for i := range m.tasks {
		if t := &m.tasks[i]; !t.fixed && t.planned != g.start[i] {
			return false
		}
	}
	return true
}

// take makes g's the plan so far.
func (m *model) take(g *generator) {
	for i := range m.tasks {
		if t := &m.tasks[i]; !t.fixed {
			t.planned = g.start[i]
		}
	}
	m.plans = true
}

// settle follows the plan so far until that changes nothing.
func (m *model) settle(t *meter) (plan.Solution, error) {
	var g *generator
	x := &individual{}
	for range settleRounds {
		g = newGenerator(m)
		g.ended = t.ended
		if err := m.windowsSoFar(g); err != nil {
			return plan.Solution{}, err
		}
		if x.placed = nil; t.ended() != nil {
			return plan.Solution{}, t.ended()
		}
		if err := m.follow(g, x, t); err != nil {
			return plan.Solution{}, err
		}
		if m.unchanged(g) {
			break // what is followed hangs on the planned starts alone
		}
		m.take(g)
	}
	return m.followed(g, x, t)
}

// follow generates the plan so far in g, as far as it can still be kept.
func (m *model) follow(g *generator, x *individual, t *meter) error {
	if x.placed = m.unmoved(g, t); x.placed != nil {
		return g.decode(x)
	}
	priority, heads := make([]float64, len(m.tasks)), make([]slot, len(m.tasks))
	for i := range m.tasks {
		heads[i] = m.tasks[i].head
		if at := m.tasks[i].planned; at != never {
			priority[i] = -float64(at - m.start)
			m.tasks[i].head = max(m.tasks[i].head, at)
		} else {
			priority[i] = -float64(m.tasks[i].head-m.start) - 1e6
		}
	}
	if err := g.run(newQueue(m).list(nil, priority)); err != nil {
		return err
	}
	for i := range m.tasks { // bounds and runs know nothing of the plan so far
		m.tasks[i].head = heads[i]
	}
	return nil
}

// followed simulates and writes down what is followed.
func (m *model) followed(g *generator, x *individual, t *meter) (plan.Solution, error) {
	x.score = g.score()
	c, err := m.simulated(g, t)
	if err != nil {
		return plan.Solution{}, err
	}
	m.bounded = true // how good another plan could be is not asked
	return m.finish(g, x, c, t)
}

// windowsSoFar lets each lag use its windows up to the one that the plan so far uses. Where the plan so far misses all of
// them, nothing is moved for its sake.
func (m *model) windowsSoFar(g *generator) error {
	for i := range m.tasks {
		t := &m.tasks[i]
		for k := range t.lags {
			l := &t.lags[k]
			pred := &m.tasks[l.pred]
			if t.planned == never || !pred.fixed && pred.planned == never {
				continue
			}
			end := pred.end
			if !pred.fixed {
				spans, err := g.cal.lay(nil, pred.planned, pred.dur, pred.whole)
				if err != nil {
					return m.unplaced(l.pred, err)
				}
				end = spans[len(spans)-1].to
			}
			if h := l.hit(t.planned - end); h >= 0 {
				g.wanted[l.id] = h + 1
			} else if l.last() >= 0 && t.planned-end > l.last() {
				g.hopeless[l.id] = true
			}
		}
	}
	return nil
}
