package rcpsp

// keys sets the keys of one parent: the starts seen from the other end.
func (g *genetic) keys(x *individual) {
	for i, d := range g.p.forward.duration {
		g.key[i] = x.makespan - x.start[i] - d
	}
}

// measure sums the starts of a schedule, and its work over time.
func (g *genetic) measure(x *individual) {
	x.spread = 0
	for _, s := range x.start {
		x.spread += int(s)
	}
	if len(x.work) < int(x.makespan)+2 {
		x.work = make([]int32, x.makespan+x.makespan/8+2)
	}
	w := x.work[:x.makespan+2]
	clear(w)
	for i, s := range x.start {
		w[s+1] += g.load[i]
		w[s+g.p.forward.duration[i]+1] -= g.load[i]
	}
	rate, sum := int32(0), int32(0)
	for t, v := range w {
		rate += v
		sum += rate
		w[t] = sum // before t
	}
}

// workIn is the work of a schedule in a window of time counted from the other end.
func (x *individual) workIn(from, width int32) int32 {
	a, b := max(0, x.makespan-from-width), max(0, x.makespan-from)
	return x.work[b] - x.work[a]
}

// cross sets the keys of a child: what the father runs in a window keeps his times, all else the mother's. Of several
// fathers, each the better of two, and windows it takes that in which the father does most more work than the mother.
func (g *genetic) cross(m *individual, fathers []individual) {
	duration := g.p.forward.duration
	var f *individual
	var a, width, most int32
	share := windowLeast + g.unit()*(windowMost-windowLeast)
	for range candidates {
		c := &fathers[g.below(len(fathers))]
		if o := &fathers[g.below(len(fathers))]; o.better(c) {
			c = o
		}
		if c == m {
			continue
		}
		w := max(1, int32(share*float64(c.makespan)))
		from := int32(g.below(int(c.makespan - w + 1)))
		more := c.workIn(from, w) - m.workIn(from, w)
		if f == nil || more > most {
			f, a, width, most = c, from, w, more
		}
	}
	if f == nil {
		g.keys(m)
		return
	}
	g.keys(f)
	for i, s := range m.start {
		if k := g.key[i]; k < a || k >= a+width {
			g.key[i] = m.makespan - s - duration[i]
		}
	}
}

// sort makes the list of the keys for generation on a side: by key, but no activity before its predecessors.
func (g *genetic) sort(side int) {
	w, key := g.net[side], g.key
	n := g.p.n
	top := int32(0)
	for i := range n {
		if side == 1 {
			i = n - 1 - i
		}
		k := key[i]
		top = max(top, k)
		for _, j := range w.next[w.first[i]:w.first[i+1]] {
			if key[j] < k {
				key[j] = k
			}
		}
	}
	b := g.bucket[:top+2] // a counting sort, stable over the topological order
	clear(b)
	for _, k := range key {
		b[k+1]++
	}
	sum := int32(0)
	for k, v := range b {
		sum += v
		b[k] = sum
	}
	if side == 0 {
		for i, k := range key {
			g.list[b[k]] = int32(i)
			b[k]++
		}
		return
	}
	for i := n - 1; i >= 0; i-- {
		k := key[i]
		g.list[b[k]] = int32(i)
		b[k]++
	}
}

// swap swaps a few neighbours of the list that no precedence ties.
func (g *genetic) swap(side int) {
	w, n := g.net[side], len(g.list)
	if n < 2 {
		return
	}
swaps:
	for range int(swapShare*float64(n) + g.unit()) {
		k := g.below(n - 1)
		a, b := g.list[k], g.list[k+1]
		for _, j := range w.next[w.first[a]:w.first[a+1]] {
			if j == b {
				continue swaps
			}
		}
		g.list[k], g.list[k+1] = b, a
	}
}

// sample makes a list by regret-based biased random sampling (Drexl 1991; Kolisch 1995) with the rule of latest finish
// times: of what may come next, what has the longest way to the end is the likeliest.
func (g *genetic) sample() {
	w := g.net[0]
	clear(g.waits)
	for _, j := range w.next {
		g.waits[j]++
	}
	ready := g.ready[:0]
	for i, k := range g.waits {
		if k == 0 {
			ready = append(ready, int32(i))
		}
	}
	for k := range g.list {
		least := int32(unlimited)
		for _, j := range ready {
			least = min(least, w.tail[j])
		}
		sum := 0.0
		for e, j := range ready {
			regret := float64(w.tail[j]-least) + 1
			g.weight[e] = regret * regret
			sum += g.weight[e]
		}
		r, e := g.unit()*sum, 0
		for ; e < len(ready)-1; e++ {
			if r -= g.weight[e]; r < 0 {
				break
			}
		}
		j := ready[e]
		ready[e] = ready[len(ready)-1]
		ready = ready[:len(ready)-1]
		g.list[k] = j
		for _, i := range w.next[w.first[j]:w.first[j+1]] {
			if g.waits[i]--; g.waits[i] == 0 {
				ready = append(ready, i)
			}
		}
	}
}
