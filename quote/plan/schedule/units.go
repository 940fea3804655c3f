package schedule

import "slices"

// unitPlan gives every operation and promise its own units of the resources it has: of a bench with four places, which.
type unitPlan struct {
	n     int
	owner []int     // by unit: its resource
	base  slot      // of busy
	of    [][]int32 // by operation
	rack  []int32   // by operation, or -1
	busy  [][]promise32
}

// promise32 is time promised on a unit.
type promise32 struct {
	span32
	whose int32 // of the open quotes, or -1
}

// claim is one interval on one unit of a resource.
type claim struct {
	from, to slot
	op       int // -1: a promise
	rack     bool
	whose    int32 // of a promise: the place of an open quote in the list of them, or -1
}

// assignUnits assigns units in order of time, each claim to the unit that has been free longest of those that are free, as
// interval graphs allow. Work that pauses, and work before its cure, holds its unit throughout where it can.
func assignUnits(m *model, g *generator, order []int) unitPlan {
	u := unitPlan{base: m.start, of: make([][]int32, len(m.tasks)), rack: make([]int32, len(m.tasks))}
	for i := range u.rack {
		u.rack[i] = -1
	}
	claims := make([][]claim, len(m.base))
	for _, i := range order {
		t := &m.tasks[i]
		if g.end[i] > g.start[i] && (!t.fixed || t.end > m.start) { // a milestone holds nothing
			for _, r := range g.taken[i] {
				claims[r] = append(claims[r], claim{max(m.start, g.start[i]), g.end[i], i, false, -1})
			}
		}
		if r := g.onRack[i]; t.rack.length > 0 && r >= 0 {
			claims[r] = append(claims[r], claim{g.end[i], g.end[i] + t.rack.length, i, true, -1})
		}
	}
	_, quotes := m.openLabels()
	for _, b := range m.p.Busy {
		whose := int32(-1)
		if b.Open {
			whose = quotes[b.Label]
		}
		if to := slotUp(b.To); to > m.start {
			claims[m.resources[b.Resource]] = append(claims[m.resources[b.Resource]], claim{max(m.start, slotDown(b.From)), to, -1, false, whose})
		}
	}
	for r, list := range claims {
		slices.SortStableFunc(list, func(a, b claim) int {
			if a.from != b.from {
				return int(a.from - b.from)
			}
			return int(a.to - b.to)
		})
		until := make([]slot, m.capacity[r])
		for range until {
			u.busy, u.owner = append(u.busy, nil), append(u.owner, r)
		}
		for _, c := range list {
			best := 0
			for k := range until {
				if until[k] < until[best] {
					best = k
				}
			}
			until[best] = max(until[best], c.to)
			id := int32(u.n + best)
			switch {
			case c.op < 0:
				u.busy[id] = append(u.busy[id], promise32{span32{int32(c.from - m.start), int32(c.to - m.start)}, c.whose})
			case c.rack:
				u.rack[c.op] = id
			default:
				u.of[c.op] = append(u.of[c.op], id)
			}
		}
		u.n += len(until)
	}
	return u
}
