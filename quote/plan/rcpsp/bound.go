package rcpsp

import "slices"

// energy is a lower bound of the makespan of a classic project: what a resource has to deliver between a time that
// some activities cannot start before and a time that they must end by, at its full capacity.
func (in *Instance) energy(p *project) int {
	best := 0
	heads := slices.Clone(p.forward.head)
	slices.Sort(heads)
	heads = slices.Compact(heads)
	byTail := make([]int, p.n)
	for i := range byTail {
		byTail[i] = i
	}
	slices.SortStableFunc(byTail, func(a, b int) int { return int(p.backward.head[b] - p.backward.head[a]) })
	for r, c := range in.Capacity {
		if c == 0 {
			continue
		}
		for _, h := range heads {
			work := 0
			for k, i := range byTail { // longest tail first
				if o := p.original[i]; p.forward.head[i] >= h {
					work += in.Duration[o] * in.Demand[o][r]
				}
				if t := p.backward.head[i]; work > 0 && (k+1 == p.n || p.backward.head[byTail[k+1]] < t) {
					best = max(best, int(h)+(work+c-1)/c+int(t))
				}
			}
		}
	}
	return best
}
