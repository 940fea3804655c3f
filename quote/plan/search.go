package plan

import (
	"math/rand/v2"
	"slices"
)

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
