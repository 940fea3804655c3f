package plan

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
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

// score orders schedules: broken windows, then the end, then how early things start.
type score struct {
	broken      int
	finish, sum slot
}

func (a score) better(b score) bool {
	if a.broken != b.broken {
		return a.broken < b.broken
	}
	if a.finish != b.finish {
		return a.finish < b.finish
	}
	return a.sum < b.sum
}

// search tries priority lists: first the longest way to the end first, then by turns that order disturbed at random
// and the best order with a few operations moved. Where a lag has several windows it also tries to do with the first
// of them, by doing the earlier operation later: waiting for a coat to be hard may cost more than starting it next
// morning. It leaves the best choice of windows in g and returns the best list.
func search(m *model, g *generator, budget int, t *meter) ([]int, error) {
	rng := rand.New(rand.NewPCG(m.p.Seed, searchStream))
	n := len(m.tasks)
	q := newQueue(m)
	all := m.allWindows()
	priority, bestPriority := slices.Clone(m.rank), slices.Clone(m.rank)
	bestWanted := slices.Clone(all)
	var best score
	var bestList []int
	list := make([]int, 0, n)
	for k := range budget {
		if err := t.step(); err != nil {
			return nil, err
		}
		switch {
		case k == 0:
		case k == 1 && len(m.choices) > 0: // the same order, first windows only
			for _, id := range m.choices {
				g.wanted[id] = 1
			}
		case k%2 == 1:
			// the wilder the later: mild disturbances keep the rank's sense, wild ones reach the rest
			noise := 0.1 + 0.9*float64(k)/float64(budget)
			for i := range priority {
				priority[i] = m.rank[i] * (1 + noise*(2*rng.Float64()-1))
			}
			for _, id := range m.choices {
				g.wanted[id] = 1 + rng.IntN(all[id])
			}
		default:
			copy(priority, bestPriority)
			copy(g.wanted, bestWanted)
			for range 1 + rng.IntN(3) {
				a, b := rng.IntN(n), rng.IntN(n)
				priority[a], priority[b] = priority[b], priority[a]
			}
			if len(m.choices) > 0 && rng.IntN(2) == 0 {
				id := m.choices[rng.IntN(len(m.choices))]
				g.wanted[id] = 1 + rng.IntN(all[id])
			}
		}
		list = q.list(list[:0], priority)
		if err := g.run(list); err != nil {
			return nil, err
		}
		if s := (score{g.broken, g.finish, g.sum()}); bestList == nil || s.better(best) {
			best, bestList = s, slices.Clone(list)
			copy(bestPriority, priority)
			copy(bestWanted, g.wanted)
		}
	}
	copy(g.wanted, bestWanted)
	return bestList, nil
}

// queue turns priorities into a list that has every operation after its predecessors.
type queue struct {
	m     *model
	waits []int
	heap  []int
}

func newQueue(m *model) *queue { return &queue{m: m, waits: make([]int, len(m.tasks))} }

// before says whether a goes into the list before b: operations whose window is running first, so that nothing takes
// their place, then by priority, then in the problem's order.
func (q *queue) before(a, b int, priority []float64) bool {
	if x, y := q.m.tasks[a].hurried, q.m.tasks[b].hurried; x != y {
		return x
	}
	if priority[a] != priority[b] {
		return priority[a] > priority[b]
	}
	return a < b
}

func (q *queue) list(out []int, priority []float64) []int {
	q.heap = q.heap[:0]
	for i := range q.m.tasks {
		if q.waits[i] = len(q.m.tasks[i].lags); q.waits[i] == 0 {
			q.push(i, priority)
		}
	}
	for len(q.heap) > 0 {
		i := q.pop(priority)
		out = append(out, i)
		for _, n := range q.m.tasks[i].next {
			if q.waits[n]--; q.waits[n] == 0 {
				q.push(n, priority)
			}
		}
	}
	return out
}

func (q *queue) push(i int, priority []float64) {
	q.heap = append(q.heap, i)
	h := q.heap
	for k := len(h) - 1; k > 0; {
		up := (k - 1) / 2
		if !q.before(h[k], h[up], priority) {
			break
		}
		h[k], h[up] = h[up], h[k]
		k = up
	}
}

func (q *queue) pop(priority []float64) int {
	h := q.heap
	top := h[0]
	h[0] = h[len(h)-1]
	h = h[:len(h)-1]
	for k := 0; ; {
		down := 2*k + 1
		if down >= len(h) {
			break
		}
		if down+1 < len(h) && q.before(h[down+1], h[down], priority) {
			down++
		}
		if !q.before(h[down], h[k], priority) {
			break
		}
		h[k], h[down] = h[down], h[k]
		k = down
	}
	q.heap = h
	return top
}

// chances generates the list's schedule with drawn durations and reads the percentiles of the end.
func (m *model) chances(g *generator, list []int, s *Solution, t *meter) error {
	s.P50, s.P80, s.P95 = s.End, s.End, s.End
	if m.p.Runs == 0 {
		return nil
	}
	rng := rand.New(rand.NewPCG(m.p.Seed, runStream))
	ends := make([]slot, m.p.Runs)
	for r := range ends {
		if err := t.step(); err != nil {
			return err
		}
		for i, o := range m.p.Operations {
			if o.High <= o.Low { // exact
				continue
			}
			minutes := duration(rng, float64(o.Low), float64(o.Duration), float64(o.High))
			// to the nearest slot, so that many short operations do not add up to a bias; work is never nothing
			g.dur[i] = max(1, slot(minutes/float64(Grid)+0.5))
			// what no longer fits any shift goes on next morning
			g.whole[i] = o.Whole && g.dur[i] <= m.cal.longest
		}
		if err := g.run(list); err != nil {
			return err
		}
		ends[r] = g.finish
	}
	slices.Sort(ends)
	at := func(percent int) slot { return ends[(percent*len(ends)+99)/100-1] }
	s.P50, s.P80, s.P95 = at(50).time(), at(80).time(), at(95).time()
	return nil
}

// solution writes the generated schedule down, in order of start and, within that, of the problem.
func (m *model) solution(g *generator) Solution {
	s := Solution{End: g.finish.time()}
	order := make([]int, len(m.tasks))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return int(g.start[a] - g.start[b]) })
	for _, i := range order {
		o := m.p.Operations[i]
		x := Scheduled{ID: o.ID, Title: o.Title, Group: o.Group, Kind: o.Kind, Start: g.start[i].time(), End: g.end[i].time()}
		for _, w := range g.spans[i] {
			x.Spans = append(x.Spans, Span{w.from.time(), w.to.time()})
		}
		for _, r := range g.taken[i] {
			x.Resources = append(x.Resources, m.p.Resources[r].ID)
		}
		x.Cure = m.cure(i, g.start, g.end)
		s.Operations = append(s.Operations, x)
	}
	s.Broken = m.broken(g.start, g.end)
	return s
}

// cure is what follows operation i: of the lags that name a cure, and the tail, the one that is ready last. A lag with
// several windows shows the one that the plan uses.
func (m *model) cure(i int, start, end []slot) *Cure {
	var best *Cure
	for _, n := range m.followers(i) {
		for k := range m.tasks[n].lags {
			l := &m.tasks[n].lags[k]
			named := m.p.Operations[n].After[m.lagPlace[l.id]].Cure
			if l.pred != i || named == "" {
				continue
			}
			w := l.windows[max(0, l.hit(start[n]-end[i]))]
			c := &Cure{Material: named, From: end[i].time(), Ready: (end[i] + w.from).time()}
			if w.to >= 0 {
				c.Latest = (end[i] + w.to).time()
			}
			if best == nil || c.Ready.After(best.Ready) {
				best = c
			}
		}
	}
	if t := m.tasks[i].tail; t > 0 {
		if ready := (end[i] + t).time(); best == nil || ready.After(best.Ready) {
			best = &Cure{Material: m.p.Operations[i].TailCure, From: end[i].time(), Ready: ready}
		}
	}
	return best
}

// followers are the operations that wait for i, each once, in the problem's order.
func (m *model) followers(i int) []int {
	list := slices.Clone(m.tasks[i].next)
	slices.Sort(list)
	return slices.Compact(list)
}

// broken says in words which windows the starts and ends miss.
func (m *model) broken(start, end []slot) []string {
	var out []string
	for i := range m.tasks {
		for k := range m.tasks[i].lags {
			l := &m.tasks[i].lags[k]
			if d := start[i] - end[l.pred]; l.hit(d) < 0 {
				out = append(out, fmt.Sprintf("%s starts %s after %s ends, %s: no schedule tried could keep that",
					m.p.Operations[i].name(), words(d), m.p.Operations[l.pred].name(), l.allowedWords()))
			}
		}
	}
	return out
}

// allowedWords says what a lag allows.
func (l *lag) allowedWords() string {
	s := "allowed is "
	for k, w := range l.windows {
		if k > 0 {
			s += " or "
		}
		if w.to < 0 {
			s += fmt.Sprintf("%s or later", words(w.from))
		} else {
			s += fmt.Sprintf("%s to %s", words(w.from), words(w.to))
		}
	}
	return s
}

// words writes a duration as "26 h 5 min".
func words(s slot) string {
	minutes := int64(s) * int64(Grid)
	switch h, m := minutes/60, minutes%60; {
	case h == 0:
		return fmt.Sprintf("%d min", m)
	case m == 0:
		return fmt.Sprintf("%d h", h)
	default:
		return fmt.Sprintf("%d h %d min", h, m)
	}
}
