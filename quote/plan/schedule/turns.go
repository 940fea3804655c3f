package schedule

import "slices"

// turns are the steps of a run in the order in which somebody comes to them, where a project is let go later than its place in the
// plan. The policy's own order would have everybody stand idle for it, and for each step of it that is not ready yet: nobody does,
// who has other work at the bench.
type turns struct {
	next     [][]int32 // by step, those that wait for it
	waits    []int32   // by step, how many it waits for
	left     []int32   // by step, of these in the run
	heap     []int64
	taken    []int32 // steps begun since the line was last looked at
	released []int32 // by step, the run that it let its successors go in
}

func (l *turns) init(p *policy) {
	n := len(p.steps)
	l.next, l.waits = make([][]int32, n), make([]int32, n)
	for i := range p.steps {
		s := &p.steps[i]
		for _, x := range p.lags[s.lagFrom:s.lagTo] {
			l.next[x.pred] = append(l.next[x.pred], int32(i))
			l.waits[i]++
		}
	}
	l.alloc(n)
}

// alloc is for another goroutine.
func (l *turns) alloc(n int) {
	l.left, l.released, l.heap, l.taken = make([]int32, n), make([]int32, n), nil, nil
}

// late reports whether a project is let go later than its place in the plan in the run.
func (p *policy) late() bool {
	for k, first := range p.firsts {
		if p.begins[k] > first && (p.quotes.of[k] < 0 || p.came[p.quotes.of[k]]) {
			return true
		}
	}
	return false
}

// inLine does the steps of the run in the order of the plan, each project's as much later as it is let go, and none before it is
// ready: what is goes first.
func (p *policy) inLine(ends []int32, missed []bool) {
	l := &p.line
	copy(l.left, l.waits)
	l.heap = l.heap[:0]
	for i := range p.steps {
		if l.left[i] == 0 {
			p.joins(int32(i))
		}
	}
	for len(l.heap) > 0 {
		i := l.pop()
		l.taken = l.taken[:0]
		if p.ran[i] != p.run+1 {
			p.step(i, ends, missed)
		}
		l.taken = append(l.taken, i)
		for _, j := range l.taken { // also what overtook it
			if l.released[j] == p.run+1 || p.ran[j] != p.run+1 {
				continue
			}
			l.released[j] = p.run + 1
			for _, k := range l.next[j] {
				if l.left[k]--; l.left[k] == 0 {
					p.joins(k)
				}
			}
		}
	}
}

// joins puts a step into the line, now that all that it waits for is done.
func (p *policy) joins(i int32) {
	s := &p.steps[i]
	at := int32(0)
	if !s.fixed && !s.begun {
		at = max(0, s.planned+max(0, p.begins[s.project]-p.firsts[s.project]))
		for k := s.lagFrom; k < s.lagTo; k++ {
			at = max(at, p.end[p.lags[k].pred]+p.opening(&p.lags[k]))
		}
	}
	p.line.push(int64(at)<<32 | int64(i))
}

func (l *turns) push(x int64) {
	l.heap = append(l.heap, x)
	for i := len(l.heap) - 1; i > 0; {
		up := (i - 1) / 2
		if l.heap[up] <= l.heap[i] {
			break
		}
		l.heap[up], l.heap[i] = l.heap[i], l.heap[up]
		i = up
	}
}

func (l *turns) pop() int32 {
	x, n := l.heap[0], len(l.heap)-1
	l.heap[0] = l.heap[n]
	l.heap = slices.Delete(l.heap, n, n+1)
	for i := 0; ; {
		least := i
		for k := 2*i + 1; k <= 2*i+2 && k < n; k++ {
			if l.heap[k] < l.heap[least] {
				least = k
			}
		}
		if least == i {
			break
		}
		l.heap[i], l.heap[least] = l.heap[least], l.heap[i]
		i = least
	}
	const low = 1<<32 - 1
	return int32(x & low)
}
