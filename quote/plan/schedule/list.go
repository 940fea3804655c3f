package schedule

import "slices"

// queue turns priorities into an activity list: every movable operation after its predecessors.
type queue struct {
	m     *model
	waits []int
	heap  []int
	urged slot // operations with a closing window no wider than this go first; -1: none
}

func newQueue(m *model) *queue {
	return &queue{m: m, waits: make([]int, len(m.tasks)), urged: -beginning}
}

// before says whether a goes into the list before b: operations whose window is running first, so that a chain of coats
// is placed whole and nothing takes its place, then by priority, then in the problem's order.
func (q *queue) before(a, b int, priority []float64) bool {
	if x, y := q.urgent(a), q.urgent(b); x != y {
		return x
	}
	if priority[a] != priority[b] {
		return priority[a] > priority[b]
	}
	return a < b
}

func (q *queue) urgent(i int) bool {
	t := &q.m.tasks[i]
	return t.pin != never || t.hurry >= 0 && t.hurry <= q.urged
}

func (q *queue) list(out []int, priority []float64) []int {
	q.heap = q.heap[:0]
	for i := range q.m.tasks {
		q.waits[i] = 0
		for _, l := range q.m.tasks[i].lags {
			if !q.m.tasks[l.pred].fixed {
				q.waits[i]++
			}
		}
		if q.waits[i] == 0 && !q.m.tasks[i].fixed {
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

// parallel is the parallel schedule generation scheme: of the operations whose predecessors are placed, always the one
// that can start first, by priority among equals. Windows that close meanwhile are let go; the order it gives is for a
// serial pass, which repairs them.
func (g *generator) parallel(out []int, priority []float64) ([]int, error) {
	m := g.m
	for i := range g.use {
		g.use[i].copyFrom(&m.base[i])
	}
	for i := range g.release {
		g.release[i], g.given[i] = 0, false
	}
	g.forget()
	copy(g.windows, g.wanted)
	waits := make([]int, len(m.tasks))
	var ready []int
	first := make([]slot, len(m.tasks)) // no later than it can start
	for i := range m.tasks {
		for _, l := range m.tasks[i].lags {
			if !m.tasks[l.pred].fixed {
				waits[i]++
			}
		}
		if waits[i] == 0 && !m.tasks[i].fixed {
			ready = append(ready, i)
			first[i] = m.tasks[i].head
		}
	}
	for len(ready) > 0 {
		best := 0
		for k, i := range ready {
			b := ready[best]
			if first[i] < first[b] || first[i] == first[b] && (priority[i] > priority[b] || priority[i] == priority[b] && i < b) {
				best = k
			}
		}
		i := ready[best]
		late, _, err := g.find(i)
		for late != nil && err == nil {
			g.given[late.id] = true
			late, _, err = g.find(i)
		}
		if err != nil {
			return nil, err
		}
		if g.start[i] > first[i] {
			first[i] = g.start[i]
			continue // another may start before that
		}
		g.occupy(i, 1)
		out = append(out, i)
		ready = slices.Delete(ready, best, best+1)
		for _, n := range m.tasks[i].next {
			if waits[n]--; waits[n] == 0 {
				ready = append(ready, n)
				first[n] = max(g.end[i], m.tasks[n].head)
			}
		}
	}
	return out, nil
}
