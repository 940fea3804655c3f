package rcpsp

// generator makes schedules of one network. It allocates nothing while it runs.
type generator struct {
	net      *network
	free     []uint64 // by time, words for each
	fresh    []uint64 // the same, nothing running
	earliest []int32
	waits    []int32 // predecessors not placed
	left     []int32
	running  []int32
	dirty    int32 // times below it may be in use
}

func newGenerator(w *network) *generator {
	longest := int32(0)
	for _, d := range w.duration {
		longest = max(longest, d)
	}
	g := &generator{net: w, earliest: make([]int32, w.n), waits: make([]int32, w.n), left: make([]int32, w.n), running: make([]int32, 0, w.n)}
	for range w.horizon + 2*longest + 1 {
		g.fresh = append(g.fresh, w.free...)
	}
	g.free = append(g.free, g.fresh...)
	return g
}

// serial generates the schedule of an activity list by the serial scheme (Kelley 1963; Kolisch & Hartmann 1999): each
// activity in turn starts as early as its predecessors and the resources allow. The list must be precedence-feasible.
// It fills start and returns the makespan; the schedule is active. As soon as the
// makespan is sure to exceed limit it gives up and returns limit + 1.
func (g *generator) serial(list, start []int32, limit int32) int32 {
	w := g.net
	copy(g.free, g.fresh[:int(g.dirty)*w.words])
	free, guard := g.free, w.guard[0]
	earliest, duration, demand, first, tail := g.earliest, w.duration, w.demand, w.first, w.tail
	clear(earliest)
	end := int32(0)
	for _, j := range list {
		t, d := earliest[j], duration[j]
		if w.words > 1 {
			t = g.place(j, t)
		} else if q := demand[j]; q != 0 {
			// the window [t, t+d) is tested from its end, so that a conflict moves it far; what lies below bottom but
			// in the window has been tested already
			bottom, top := t, t+d-1
			for u := top; u >= bottom; u-- {
				if (free[u]-q)&guard != guard {
					t, bottom = u+1, top+1
					top = u + d
					u = top + 1
				}
			}
			span := free[t : t+d]
			for k := range span {
				span[k] -= q
			}
		}
		start[j] = t
		end = max(end, t+d)
		if t+tail[j] > limit {
			g.dirty = end
			return limit + 1
		}
		next, lag := w.next[first[j]:first[j+1]], w.lag[first[j]:first[j+1]]
		for a, k := range next {
			if e := t + lag[a]; e > earliest[k] {
				earliest[k] = e
			}
		}
	}
	g.dirty = end
	return end
}

// place occupies the resources for activity j at the first possible time from t on.
func (g *generator) place(j, t int32) int32 {
	w := g.net
	d, n := w.duration[j], int32(w.words)
	need := w.demand[j*n : (j+1)*n]
	for u := t; u < t+d; u++ {
		for k, q := range need {
			if (g.free[u*n+int32(k)]-q)&w.guard[k] != w.guard[k] {
				t = u + 1
				break
			}
		}
	}
	for u := t; u < t+d; u++ {
		for k, q := range need {
			g.free[u*n+int32(k)] -= q
		}
	}
	return t
}
