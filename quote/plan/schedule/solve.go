package schedule

import (
	"context"
	"fmt"

	"benchbell/quote/plan"
	"benchbell/quote/plan/check"
)

// Streams of the seed: the search and the runs draw separately, so that a bigger budget does not change the runs'
// draws.
const (
	searchStream  = 0x9e3779b97f4a7c15
	runStream     = 0xd1b54a32d192ed03
	quoteStream   = 0x8cb92ba72f3d8dd7
	spreadStream  = 0xd6e8feb86659fd93
	depositStream = 0xaaf2d1c5b1a4e36b
)

// Options are how Solve goes about it; none changes the plan, except that a stopped search may miss a better one.
type Options struct {
	Workers  int                    // goroutines of the search; 0 is one
	Stop     func() bool            // true: no more schedules, the best so far is the plan; called by all workers
	Progress func(done, budget int) // schedules and runs done out of all; called by the caller's goroutine
	Endless  bool                   // schedules do not count: Stop ends the search, of which each worker does a part of its own
}

// Solve places the problem's operations. It generates about p.Schedules schedules (at least one), keeps the best by
// broken windows, lateness of promised dates, end, changes of set-up and distance from the plan so far, and simulates it
// p.Runs times with durations drawn between Low and High; P50, P80 and P95 are the moments of handover not passed in
// those shares of the runs, or after End without runs. progress, if not nil, is told schedules and runs done out of all.
// Where the problem has a plan so far and an order of objectives, that plan stays, as far as it can be kept, unless the one found
// is worth changing it for. The same problem gives the same solution, whatever ctx and progress do; it fails where the problem is contradictory,
// naming the operations, and with ctx's error when ctx ends first.
func Solve(ctx context.Context, p plan.Problem, progress func(done, budget int)) (plan.Solution, error) {
	return Options{Progress: progress}.Solve(ctx, p)
}

// Solve is the package's Solve with options.
func (o Options) Solve(ctx context.Context, p plan.Problem) (plan.Solution, error) {
	m, err := compile(&p)
	if err != nil {
		return plan.Solution{}, err
	}
	return m.solve(newMeter(ctx, o, max(p.Schedules, 1), p.Runs))
}

func (m *model) solve(t *meter) (plan.Solution, error) {
	if len(m.offsets) > 0 {
		return m.tied(t)
	}
	g, x, c, err := m.best(t)
	if err == nil && m.plans && m.objectives != nil {
		g, x, c, err = m.orSoFar(g, x, c, t)
	}
	if err != nil {
		return plan.Solution{}, err
	}
	return m.finish(g, x, c, t)
}

// orSoFar is what was found, or the plan so far as it can still be kept, where that is not worth giving up.
func (m *model) orSoFar(g *generator, x *individual, c *chances, t *meter) (*generator, *individual, *chances, error) {
	f := newGenerator(m)
	f.ended = t.ended
	y := &individual{}
	if err := m.windowsSoFar(f); err != nil {
		return nil, nil, nil, err
	}
	if err := m.follow(f, y, t); err != nil {
		return nil, nil, nil, err
	}
	y.score = f.score()
	d, err := m.simulated(f, t)
	if err != nil {
		return nil, nil, nil, err
	}
	found, err := m.told(g, c)
	if err != nil {
		return nil, nil, nil, err
	}
	soFar, err := m.told(f, d)
	if err != nil {
		return nil, nil, nil, err
	}
	if Better(found, soFar) {
		return g, x, c, nil
	}
	return f, y, d, nil
}

// told is a plan with its dates and objectives.
func (m *model) told(g *generator, c *chances) (plan.Solution, error) {
	s := m.solution(g)
	m.dates(g, c, &s)
	var err error
	s.Objectives, err = Objectives(*m.p, s)
	return s, err
}

// best searches, and has what it finds in the generator that it returns, with what its runs gave.
func (m *model) best(t *meter) (*generator, *individual, *chances, error) {
	if len(m.tasks) > WholeOperations {
		return m.roll(t)
	}
	g := newGenerator(m)
	low := m.criticalPath(g.cal)
	if m.plain != nil {
		low = max(low, m.energy(g.cal))
	}
	people, err := search(m, t.schedules, low, t)
	if err != nil {
		return nil, nil, nil, err
	}
	if people, err = m.exactly(g, people, t); err != nil {
		return nil, nil, nil, err
	}
	if people, err = m.reason(g, people, t); err != nil {
		return nil, nil, nil, err
	}
	x, c, err := m.choose(g, people, t)
	return g, x, c, err
}

// choose simulates the few best schedules and takes the one that keeps the promised dates best and then ends first, both
// in 80 of 100 runs. Where nothing is simulated, it is the best of the search.
func (m *model) choose(g *generator, people []individual, t *meter) (*individual, *chances, error) {
	var best *individual
	var chosen *chances
	var value score
	for k := range people {
		if k == elites && people[0].placed == nil || k > elites || k > 0 && (m.p.Runs == 0 || t.stopped()) {
			break
		}
		x := &people[k]
		if err := g.decode(x); err != nil {
			return nil, nil, err
		}
		c, err := m.simulated(g, t)
		if err != nil {
			return nil, nil, err
		}
		v := m.valued(g, x.score, c)
		if best == nil || v.better(value) {
			best, chosen, value = x, c, v
		}
	}
	return best, chosen, g.decode(best)
}

func (m *model) simulated(g *generator, t *meter) (*chances, error) {
	c := &chances{}
	if m.p.Runs == 0 {
		return c, nil
	}
	p, err := newPolicy(m, g)
	if err != nil {
		return nil, err
	}
	*c, err = p.simulate(m.p.Runs, t)
	return c, err
}

// valued is the score with simulated P80 dates in place of planned ends and the search's estimate of lateness.
func (m *model) valued(g *generator, s score, c *chances) score {
	if c.ends == nil {
		return s
	}
	p80 := func(end slot, runs []int32) slot {
		if len(runs) > 0 { // none came true: as planned
			end = m.start + slot(percentile(runs, 80))
		}
		return g.handover(end, 0)
	}
	s.late, s.wish, s.missed, s.finish = 0, 0, 0, m.day(p80(g.finish, c.finish))
	if m.objectives != nil {
		s.ends = 0 // that is the whole
	}
	for k, p := range m.projects {
		end := p80(g.ends[k], c.ends[k])
		if m.objectives != nil {
			s.ends += p.weight * int64(end-m.start)
		}
		if p.due == never {
			continue
		}
		over := end - p.due
		if over > 0 && p.promised {
			s.late += p.weight * int64(over)
			s.missed++
		} else if over > 0 {
			s.wish += p.weight * int64(over)
		}
	}
	return s
}

// finish writes the plan in g down with everything that is told about it, and checks it.
func (m *model) finish(g *generator, x *individual, c *chances, t *meter) (plan.Solution, error) {
	s, err := m.told(g, c)
	if err != nil {
		return plan.Solution{}, err
	}
	s.Schedules = t.schedules
	m.chain(g, &s)
	switch {
	case x.score.broken > 0:
	case m.plain != nil || m.bounded: // proved by more than that already, or not asked
		s.LowerBound = min(g.finish, max(m.floor, m.criticalPath(g.cal))).time()
	default:
		s.LowerBound = max(m.floor, m.lowerBound(g.cal, g.finish)).time()
	}
	t.tells(t.budget)
	if err := check.Plan(*m.p, s); err != nil {
		return plan.Solution{}, fmt.Errorf("the planner made no plan of its problem, which is a fault of the program, report it: %w", err)
	}
	return s, nil
}

// criticalPath is the end of the network in the shop's hours, without resources.
func (m *model) criticalPath(cal *calendar) slot {
	b := &bounds{m: m, cal: cal}
	b.network()
	low := beginning
	for i := range m.tasks {
		low = max(low, b.first[i]+m.tasks[i].tail)
	}
	return low
}

// meter holds the budget and looks at the context.
type meter struct {
	ctx       context.Context
	o         Options
	workers   int
	schedules int // budget, then generated
	budget    int
	told      int
}

func newMeter(ctx context.Context, o Options, schedules, runs int) *meter {
	return &meter{ctx: ctx, o: o, workers: max(1, o.Workers), schedules: schedules, budget: schedules + runs}
}

// ended is an error once the context is over.
func (t *meter) ended() error {
	if err := t.ctx.Err(); err != nil {
		return fmt.Errorf("planning stopped before %d schedules and runs were done: %w", t.budget, err)
	}
	return nil
}

func (t *meter) stopped() bool { return t.o.Stop != nil && t.o.Stop() }

func (t *meter) tells(done int) {
	if t.o.Progress != nil && done > t.told {
		t.told = done
		t.o.Progress(done, t.budget)
	}
}
