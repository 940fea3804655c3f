package plan

import (
	"context"
	"fmt"
)

// Streams of the seed: the search and the runs draw separately, so that a bigger budget does not change the runs'
// draws.
const (
	searchStream = 0x9e3779b97f4a7c15
	runStream    = 0xd1b54a32d192ed03
)

// Solve places the problem's operations. It generates p.Schedules schedules (at least one) from priority lists, keeps
// the best by broken windows, end and sum of starts, and generates that list's schedule p.Runs times more with
// durations drawn from beta-PERT with Low, Duration (the most likely) and High; P50, P80 and P95 are the ends not
// exceeded in those shares of the runs, or End without runs. progress, if not nil, is told schedules and runs done out
// of all. The same problem gives the same solution, whatever ctx and progress do; it fails where the problem is
// contradictory, naming the operations, and with ctx's error when ctx ends first.
func Solve(ctx context.Context, p Problem, progress func(done, budget int)) (Solution, error) {
	m, err := compile(&p)
	if err != nil {
		return Solution{}, err
	}
	budget := max(p.Schedules, 1)
	meter := meter{ctx: ctx, tell: progress, budget: budget + p.Runs}
	g := newGenerator(m)
	list, err := search(m, g, budget, &meter)
	if err != nil {
		return Solution{}, err
	}
	if err := g.run(list); err != nil {
		return Solution{}, err
	}
	s := m.solution(g)
	s.Schedules = budget
	if err := m.chances(g, list, &s, &meter); err != nil {
		return Solution{}, err
	}
	if err := m.check(s); err != nil {
		return Solution{}, fmt.Errorf("the plan made contradicts its problem: %w", err)
	}
	return s, nil
}

// meter counts schedules and looks at the context.
type meter struct {
	ctx          context.Context
	tell         func(done, budget int)
	done, budget int
}

// step counts one schedule; it tells every hundredth of the budget, and the end.
func (t *meter) step() error {
	if err := t.ctx.Err(); err != nil {
		return fmt.Errorf("planning stopped after %d of %d schedules: %w", t.done, t.budget, err)
	}
	t.done++
	if t.tell != nil && (t.done == t.budget || t.done%max(1, t.budget/100) == 0) {
		t.tell(t.done, t.budget)
	}
	return nil
}
