package schedule

import "slices"

// occupation is one place's hold on a resource, by work or by a cure.
type occupation struct {
	from, to slot
	units    int32
	k        int
}

// missed is the choices for the first lag whose distance lies in none of its windows: each of them, or to be past the
// last.
func (x *prover) missed(n *node) ([]choice, bool) {
	for l := range x.lags {
		c := &x.lags[l]
		if n.window[l] >= 0 {
			continue
		}
		if _, in := c.hit(n); in {
			continue
		}
		windows := c.windows
		if last := windows[len(windows)-1].to; last >= 0 && !x.strict {
			windows = append(windows[:len(windows):len(windows)], window{last + 1, -1})
		}
		var list []choice
		for j, w := range windows {
			o := undecided()
			o.lag, o.window = l, int8(j)
			if j == len(c.windows) {
				o.missed = 1
			}
			if c.pred >= 0 {
				o.arcs = []arc{{c.pred, c.owner, endStart, w.from}}
				if w.to >= 0 {
					o.arcs = append(o.arcs, arc{c.owner, c.pred, startEnd, -w.to})
				}
			} else {
				o.at, o.from = c.owner, c.ended+w.from
				if w.to >= 0 {
					o.most = c.ended + w.to
				}
			}
			list = append(list, o)
		}
		return list, true
	}
	return nil, false
}

// hit is the distance of a lag in a node's schedule, and whether it lies in one of its windows.
func (c *choiceLag) hit(n *node) (slot, bool) {
	end := c.ended
	if c.pred >= 0 {
		end = n.end[c.pred]
	}
	d := n.start[c.owner] - end
	return d, slices.ContainsFunc(c.windows, func(w window) bool { return d >= w.from && (w.to < 0 || d <= w.to) })
}

// overload is the choices for the first moment at which a resource is used beyond its capacity by operations that are
// known to use it. Of a few that exceed it together, where none could be left out, some one must have left before some
// other comes; or, where a promise takes a part of the capacity, one of them comes after that.
func (x *prover) overload(n *node) ([]choice, bool) {
	var over []occupation
	first, where := far, -1
	for r := range x.users {
		if len(x.users[r]) < 2 {
			continue
		}
		x.occupations(n, r)
		if len(x.uses) < 2 {
			continue
		}
		for _, at := range x.moments(r) {
			if at >= first {
				continue
			}
			if list := x.excess(r, at); list != nil {
				over, first, where = list, at, r
			}
		}
	}
	if where < 0 {
		return nil, false
	}
	list := []choice{}
	for _, a := range over {
		for _, b := range over {
			if a.k == b.k {
				continue
			}
			c := undecided()
			if x.shelf[where] {
				c.arcs = []arc{{a.k, b.k, endEnd, a.to - a.from}}
			} else {
				if n.after[b.k]>>a.k&1 == 1 {
					continue
				}
				c.arcs, c.first, c.then = []arc{{a.k, b.k, endStart, 0}}, a.k, b.k
			}
			list = append(list, c)
		}
	}
	if until := x.reliefAt(where, first); until < far {
		for _, a := range over {
			c := undecided()
			if c.at = a.k; x.shelf[where] {
				c.till = until
			} else {
				c.from = until
			}
			list = append(list, c)
		}
	}
	return list, true
}

// occupations lists into x.uses what is known to use r.
func (x *prover) occupations(n *node, r int) {
	x.uses = x.uses[:0]
	for _, k := range x.users[r] {
		if n.way[k] < 0 {
			continue
		}
		w := &x.ways[k][n.way[k]]
		if w.rack == r {
			x.uses = append(x.uses, occupation{n.end[k], n.end[k] + x.m.tasks[x.ops[k]].rack.length, 1, k})
			continue
		}
		o := occupation{n.start[k], n.end[k], 0, k}
		for _, q := range w.taken {
			if q == r {
				o.units++
			}
		}
		if o.units > 0 && o.from < o.to {
			x.uses = append(x.uses, o)
		}
	}
}

// moments is when the use of r may reach a peak: at the beginning of what uses it, and where what is promised grows, or
// at the opening after that.
func (x *prover) moments(r int) []slot {
	list := x.times[:0]
	defer func() { x.times = list }()
	until := beginning
	for _, o := range x.uses {
		list = append(list, o.from)
		until = max(until, o.to)
	}
	if x.m.capacity[r] == 1 {
		return list // where something is promised there is no room for one
	}
	from := slices.Min(list)
	for _, at := range x.m.base[r].at {
		if at <= from || at >= until {
			continue
		}
		if !x.shelf[r] {
			i, err := x.g.cal.find(at)
			if err != nil {
				break
			}
			at = max(at, x.g.cal.stretches[i].from)
		}
		list = append(list, at)
	}
	return list
}

// excess is a few of x.uses that exceed what is left of r at that moment, and do not without any one of them.
func (x *prover) excess(r int, at slot) []occupation {
	b := &x.m.base[r]
	left := x.m.capacity[r] - b.use[b.index(at)]
	for _, o := range x.uses {
		if o.from <= at && at < o.to {
			left -= o.units
		}
	}
	if left >= 0 {
		return nil
	}
	var list []occupation
	for _, o := range x.uses {
		if o.from <= at && at < o.to {
			list = append(list, o)
		}
	}
	for j := len(list) - 1; j >= 0; j-- {
		if left+list[j].units < 0 {
			left += list[j].units
			list = slices.Delete(list, j, j+1)
		}
	}
	return list
}

// reliefAt is when less is promised of r than at that moment; far where nothing is, or never.
func (x *prover) reliefAt(r int, at slot) slot {
	b := &x.m.base[r]
	j := b.index(at)
	if b.use[j] == 0 {
		return far
	}
	for k := j + 1; k < len(b.at); k++ {
		if b.use[k] < b.use[j] {
			return b.at[k]
		}
	}
	return far
}

// copied is how many steps of a profile are copied in the time of one start moved.
const copied = 32

// assign finds a way for everything whose way is open, at the node's times. Where there is none it returns the ways of one
// operation to choose from: the first one open that is in the way of what found no place.
func (x *prover) assign(n *node) ([]int8, []choice) {
	open := x.open[:0]
	for k := range n.way {
		if n.way[k] < 0 {
			open = append(open, k)
		}
	}
	if x.open = open; len(open) == 0 {
		return n.way, nil
	}
	slices.SortStableFunc(open, func(a, b int) int { return int(n.start[a] - n.start[b]) })
	for r := range x.use {
		if len(x.users[r]) > 0 {
			x.use[r].copyFrom(&x.m.base[r])
			x.steps -= len(x.use[r].at) / copied
		}
	}
	with := slices.Clone(n.way)
	for k, w := range with {
		if w >= 0 {
			x.occupy(n, k, w, 1)
		}
	}
	deepest := 0
	var try func(j int) bool
	try = func(j int) bool {
		if j == len(open) {
			return true
		}
		deepest = max(deepest, j)
		k := open[j]
		for w := range x.ways[k] {
			if x.steps--; x.steps <= 0 {
				return false
			}
			if !x.fits(n, k, int8(w)) {
				continue
			}
			x.occupy(n, k, int8(w), 1)
			if with[k] = int8(w); try(j + 1) {
				return true
			}
			x.occupy(n, k, int8(w), -1)
		}
		with[k] = -1
		return false
	}
	if try(0) {
		return with, nil
	}
	hard := open[deepest]
	for _, k := range open {
		if k == hard || x.meet(n, k, hard) {
			return nil, x.eachWay(n, k)
		}
	}
	return nil, nil
}

// meet says that two places hold something at the same time.
func (x *prover) meet(n *node, a, b int) bool {
	until := func(k int) slot { return n.end[k] + x.m.tasks[x.ops[k]].rack.length }
	return n.start[a] < until(b) && n.start[b] < until(a)
}

func (x *prover) lay(n *node, k int) []span {
	t := &x.m.tasks[x.ops[k]]
	x.spans, _ = x.g.cal.lay(x.spans[:0], n.start[k], t.dur, t.whole) // it was laid there before
	return x.spans
}

// occupy adds what k holds, done that way, to x.use.
func (x *prover) occupy(n *node, k int, w int8, delta int32) {
	c := &x.ways[k][w]
	spans := x.lay(n, k)
	for _, r := range c.taken {
		for _, s := range spans {
			x.use[r].add(s.from, s.to, delta)
		}
	}
	if c.rack >= 0 {
		x.use[c.rack].add(n.end[k], n.end[k]+x.m.tasks[x.ops[k]].rack.length, delta)
	}
}

// fits says that x.use leaves room for k, done that way.
func (x *prover) fits(n *node, k int, w int8) bool {
	c := &x.ways[k][w]
	spans := x.lay(n, k)
	for _, r := range c.taken {
		units := int32(0)
		for _, q := range c.taken {
			if q == r {
				units++
			}
		}
		if top, _ := x.use[r].peak(spans); top > x.m.capacity[r]-units {
			return false
		}
	}
	if c.rack < 0 {
		return true
	}
	top, _ := x.use[c.rack].peak([]span{{n.end[k], n.end[k] + x.m.tasks[x.ops[k]].rack.length}})
	return top < x.m.capacity[c.rack]
}

// eachWay is the choice of a way for k. Of ways that differ in resources alike, as far as nothing is known to use them,
// one is enough.
func (x *prover) eachWay(n *node, k int) []choice {
	used := make([]bool, len(x.class))
	for j, w := range n.way {
		if w < 0 {
			continue
		}
		for _, r := range x.ways[j][w].taken {
			used[r] = true
		}
		if r := x.ways[j][w].rack; r >= 0 {
			used[r] = true
		}
	}
	name := func(r int) int {
		switch {
		case r < 0:
			return 0
		case used[r]:
			return 2 * (r + 1)
		}
		return 2*x.class[r] + 1
	}
	list := []choice{}
	seen := map[string]bool{}
	for w := range x.ways[k] {
		var names []int
		for _, r := range x.ways[k][w].taken {
			names = append(names, name(r))
		}
		slices.Sort(names)
		key := keyOf(append(names, name(x.ways[k][w].rack)))
		if seen[key] {
			continue
		}
		seen[key] = true
		c := undecided()
		c.at, c.way = k, int8(w)
		list = append(list, c)
	}
	return list
}
