package rcpsp

// parallel generates a schedule by the parallel scheme (Bedworth & Bailey 1982; Kolisch 1996): at each moment where
// something ends or becomes possible, what may start starts, first in the list first. It fills start and returns the
// makespan; the schedule is non-delay. Few projects are solved best by such schedules, but most of them are good.
func (g *generator) parallel(list, start []int32) int32 {
	w := g.net
	n := int32(w.words)
	copy(g.free, g.fresh[:int(g.dirty)*w.words])
	clear(g.earliest)
	clear(g.waits)
	for _, j := range w.next {
		g.waits[j]++
	}
	left := append(g.left[:0], list...)
	running := g.running[:0]
	end := int32(0)
	for now := int32(0); ; {
		kept := left[:0]
		for _, j := range left {
			if g.waits[j] > 0 || g.earliest[j] > now || !g.fits(now*n, w.demand[j*n:(j+1)*n]) {
				kept = append(kept, j)
				continue
			}
			g.place(j, now)
			start[j] = now
			running = append(running, j)
			end = max(end, now+w.duration[j])
			for a := w.first[j]; a < w.first[j+1]; a++ {
				k := w.next[a]
				g.waits[k]--
				g.earliest[k] = max(g.earliest[k], now+w.lag[a])
			}
		}
		moved := len(kept) < len(left)
		if left = kept; len(left) == 0 {
			break
		}
		next := int32(unlimited)
		if moved { // an activity without duration may have let others in
			for _, j := range left {
				if g.waits[j] == 0 && g.earliest[j] == now {
					next = now
				}
			}
		}
		still := running[:0]
		for _, j := range running {
			if e := start[j] + w.duration[j]; e > now {
				next = min(next, e)
				still = append(still, j)
			}
		}
		running = still
		for _, j := range left {
			if g.waits[j] == 0 && g.earliest[j] > now {
				next = min(next, g.earliest[j])
			}
		}
		now = next
	}
	g.dirty = end
	return end
}

// fits says whether a demand is free at one time; what the parallel scheme has placed only ends later.
func (g *generator) fits(at int32, need []uint64) bool {
	for k, q := range need {
		if (g.free[at+int32(k)]-q)&g.net.guard[k] != g.net.guard[k] {
			return false
		}
	}
	return true
}
