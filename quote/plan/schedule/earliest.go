package schedule

import "slices"

// far is later than any moment of a plan.
const far = -beginning

// Which ends of two operations an arc ties.
const (
	endStart   = iota // to starts no earlier than w after from ends
	startStart        // to starts no earlier than w after from starts
	startEnd          // to ends no earlier than w after from starts
	endEnd            // to ends no earlier than w after from ends
)

// arc is a rule of the first sort between two places of the search.
type arc struct {
	from, to int
	kind     int8
	w        slot
}

// way is one choice of resources for an operation.
type way struct {
	taken  []int // a unit each
	places []int // of those, what is no maker, sorted
	rack   int   // where its cures lie, or -1
}

// choiceLag is a lag with more to decide than that it has opened.
type choiceLag struct {
	owner   int
	pred    int  // place, or -1 for what has begun
	ended   slot // when that ended
	windows []window
}

// node is what has been decided so far and the earliest schedule that keeps it.
type node struct {
	start, end []slot
	most       []slot   // latest start, or far
	after      []uint32 // by place: the places known to start after it
	way        []int8   // -1: any
	window     []int8   // by lag: window chosen, their number if it is missed, or -1
	arcs       []arc    // of its own decision
	missed     int      // windows decided to be missed
	bound      score
}

func (n *node) ordered(i, j int) bool { return n.after[i]>>j&1 == 1 || n.after[j]>>i&1 == 1 }

// follows notes that j starts after i, with all that this entails.
func (n *node) follows(i, j int) {
	late := n.after[j] | 1<<j
	for k := range n.after {
		if k == i || n.after[k]>>i&1 == 1 {
			n.after[k] |= late
		}
	}
}

// choice is one way to decide something: rules, a way of doing an operation, a window, a bound of a start or an end.
type choice struct {
	arcs             []arc
	first, then      int // places, of which one is to start first
	at               int // the place that what follows is for
	way              int8
	from, till, most slot // start no earlier, end no earlier, start no later
	lag              int
	window           int8
	missed           int
}

// undecided is a choice of nothing yet.
func undecided() choice {
	return choice{first: -1, then: -1, at: -1, way: -1, from: beginning, till: beginning, most: far, lag: -1}
}

// addWays lists how each operation can be done; false where something is not small.
func (x *prover) addWays() bool {
	m := x.m
	x.users, x.shelf = make([][]int, len(m.base)), make([]bool, len(m.base))
	worked := make([]bool, len(m.base))
	for k, i := range x.ops {
		t := &m.tasks[i]
		list, few := m.waysOf(t)
		if !few {
			return false
		}
		x.ways = append(x.ways, list)
		for _, n := range t.needs {
			for _, r := range n.resources {
				worked[r] = true
				if !slices.Contains(x.users[r], k) {
					x.users[r] = append(x.users[r], k)
				}
			}
		}
		if t.rack.length > 0 {
			for _, r := range t.rack.resources {
				x.shelf[r] = true
				if !slices.Contains(x.users[r], k) {
					x.users[r] = append(x.users[r], k)
				}
			}
		}
	}
	for r := range worked {
		if worked[r] && x.shelf[r] {
			return false
		}
	}
	x.classes()
	return true
}

// waysOf is how a task can be done, with what the problem lists first first; false where that is more than exactWays.
func (m *model) waysOf(t *task) ([]way, bool) {
	var list []way
	seen := map[string]bool{}
	free := slices.Clone(m.capacity)
	var taken []int
	tries := 0
	full := func() {
		tries++
		racks := []int{-1}
		if t.rack.length > 0 {
			racks = t.rack.resources
		}
		sorted := slices.Sorted(slices.Values(taken))
		if key := keyOf(sorted); !seen[key] {
			seen[key] = true
			for _, r := range racks {
				w := way{taken: slices.Clone(taken), rack: r}
				for _, r := range sorted {
					if m.p.Resources[r].Kind != "maker" && !slices.Contains(w.places, r) {
						w.places = append(w.places, r)
					}
				}
				list = append(list, w)
			}
		}
	}
	var take func(need, from int, left int32)
	take = func(need, from int, left int32) {
		if len(list) > exactWays || tries > wayTries {
			return
		}
		if left == 0 {
			if need++; need == len(t.needs) {
				full()
			} else {
				take(need, 0, t.needs[need].count)
			}
			return
		}
		for j, r := range t.needs[need].resources[from:] {
			if free[r] > 0 {
				free[r]--
				taken = append(taken, r)
				take(need, from+j, left-1)
				taken = taken[:len(taken)-1]
				free[r]++
			}
		}
	}
	take(-1, 0, 0)
	return list, len(list) <= exactWays && tries <= wayTries
}

// wayTries is after how many ways, most of them the same in another order, an operation's are too many.
const wayTries = 1000

func keyOf(list []int) string {
	key := make([]byte, 0, 2*len(list))
	for _, r := range list {
		key = append(key, byte(r), byte(r>>8))
	}
	return string(key)
}

// classes finds resources that can stand for each other: alike in everything that operations which have not begun and
// promises know of them.
func (x *prover) classes() {
	m := x.m
	alike := func(a, b int) bool {
		if m.capacity[a] != m.capacity[b] || m.p.Resources[a].Kind != m.p.Resources[b].Kind ||
			!slices.Equal(m.base[a].at, m.base[b].at) || !slices.Equal(m.base[a].use, m.base[b].use) ||
			len(x.begunAt(a))+len(x.begunAt(b)) > 0 {
			return false
		}
		for _, i := range x.ops {
			t := &m.tasks[i]
			for _, n := range t.needs {
				if slices.Contains(n.resources, a) != slices.Contains(n.resources, b) {
					return false
				}
			}
			if slices.Contains(t.rack.resources, a) != slices.Contains(t.rack.resources, b) {
				return false
			}
		}
		return true
	}
	x.class = make([]int, len(m.base))
	for r := range x.class {
		x.class[r] = r
		for q := range r {
			if x.class[q] == q && alike(q, r) {
				x.class[r] = q
				break
			}
		}
	}
}

// root is the node with nothing decided; nil where even that has no schedule.
func (x *prover) root() *node {
	m := x.m
	n := &node{start: make([]slot, len(x.ops)), end: make([]slot, len(x.ops)), most: make([]slot, len(x.ops)), after: make([]uint32, len(x.ops)),
		way: make([]int8, len(x.ops))}
	for k, i := range x.ops {
		t := &m.tasks[i]
		n.start[k], n.end[k], n.most[k] = max(m.start, t.release, m.projects[t.project].release, t.pin), beginning, far
		if x.strict && t.pin != never {
			n.most[k] = t.pin
		}
		if n.way[k] = -1; len(x.ways[k]) == 1 {
			n.way[k] = 0
		}
		for j := range t.lags {
			x.addLag(n, k, &t.lags[j])
		}
	}
	n.window = make([]int8, len(x.lags))
	for l := range n.window {
		n.window[l] = -1
	}
	for k := range x.ops {
		if !x.raise(n, k, n.start[k], beginning) {
			return nil
		}
	}
	if !x.settle(n) {
		return nil
	}
	n.bound = x.measure(n)
	return n
}

// addLag adds the rules of a lag of k that hold in every plan, and where those are not all, the lag.
func (x *prover) addLag(n *node, k int, l *lag) {
	pred, w := x.place[l.pred], l.windows[0]
	last := l.last()
	c := choiceLag{owner: k, pred: pred, ended: x.m.tasks[l.pred].end, windows: l.windows}
	if pred < 0 {
		n.start[k] = max(n.start[k], c.ended+w.from)
		if x.strict && last >= 0 {
			n.most[k] = min(n.most[k], c.ended+last)
		}
	} else {
		x.arcs[pred] = append(x.arcs[pred], arc{pred, k, endStart, w.from})
		if x.m.tasks[x.ops[pred]].dur > 0 {
			n.follows(pred, k)
		}
		if x.strict && last >= 0 {
			x.arcs[k] = append(x.arcs[k], arc{k, pred, startEnd, -last})
		}
	}
	if len(l.windows) > 1 || last >= 0 && !x.strict {
		x.lags = append(x.lags, c)
	}
}

// child is the node with one thing more decided; nil where no plan of it is better than the best.
func (x *prover) child(n *node, c *choice) *node {
	both := make([]slot, 2*len(x.ops))
	b := &node{start: both[:len(x.ops)], end: both[len(x.ops):], most: n.most, after: n.after, way: n.way, window: n.window,
		arcs: c.arcs, missed: n.missed + c.missed}
	copy(b.start, n.start)
	copy(b.end, n.end)
	if c.first >= 0 && !b.ordered(c.first, c.then) {
		b.after = slices.Clone(n.after)
		b.follows(c.first, c.then)
	}
	if c.lag >= 0 {
		b.window = slices.Clone(n.window)
		b.window[c.lag] = c.window
	}
	x.steps--
	x.push(c.arcs)
	defer x.pop(c.arcs)
	ok := true
	if k := c.at; k >= 0 {
		if c.most < b.most[k] {
			b.most = slices.Clone(n.most)
			b.most[k] = c.most
		}
		if c.way >= 0 {
			b.way = slices.Clone(n.way)
			b.way[k] = c.way
		}
		ok = x.raise(b, k, max(c.from, b.start[k]), c.till)
	}
	for _, a := range c.arcs {
		ok = ok && x.keep(b, a)
	}
	if !ok {
		x.forget()
		return nil
	}
	if !x.settle(b) {
		return nil
	}
	if b.bound = x.measure(b); !b.bound.better(x.best) {
		return nil
	}
	return b
}

func (x *prover) push(arcs []arc) {
	for _, a := range arcs {
		x.arcs[a.from] = append(x.arcs[a.from], a)
	}
}

func (x *prover) pop(arcs []arc) {
	for _, a := range arcs {
		x.arcs[a.from] = x.arcs[a.from][:len(x.arcs[a.from])-1]
	}
}

// looks is after how many moved starts a node is compared with the best: rules that contradict each other move them on
// and on.
const looks = 64

// settle moves starts up until every rule is kept; false where that leads beyond the horizon or to nothing better than
// the best.
func (x *prover) settle(n *node) bool {
	for turn := 0; turn < len(x.queue); turn++ {
		k := x.queue[turn]
		x.queued[k] = false
		for _, a := range x.arcs[k] {
			if !x.keep(n, a) {
				x.forget()
				return false
			}
		}
		if turn%looks == looks-1 && !x.measure(n).better(x.best) {
			x.forget()
			return false
		}
	}
	x.queue = x.queue[:0]
	return true
}

func (x *prover) forget() {
	for _, k := range x.queue {
		x.queued[k] = false
	}
	x.queue = x.queue[:0]
}

// keep moves the later operation of an arc up as far as it asks; false as in settle.
func (x *prover) keep(n *node, a arc) bool {
	at := n.end[a.from] + a.w
	if a.kind == startStart || a.kind == startEnd {
		at = n.start[a.from] + a.w
	}
	switch {
	case a.kind == startEnd || a.kind == endEnd:
		return at <= n.end[a.to] || x.raise(n, a.to, n.start[a.to], at)
	default:
		return at <= n.start[a.to] || x.raise(n, a.to, at, beginning)
	}
}

// raise gives k its first start not before from with an end not before till.
func (x *prover) raise(n *node, k int, from, till slot) bool {
	x.steps--
	start, end, ok := x.earliest(k, n.way[k], from, till)
	if !ok || start > n.most[k] || start > x.until || x.steps <= 0 {
		return false
	}
	if n.missed >= x.best.broken && end+x.rest[x.ops[k]] > x.limit {
		return false
	}
	if n.start[k] != start || n.end[k] != end {
		n.start[k], n.end[k] = start, end
		if !x.queued[k] {
			x.queued[k] = true
			x.queue = append(x.queue, k)
		}
	}
	return true
}

// earliest is the first start of k from that moment, with its end not before till, that the hours and everything promised
// or begun leave to it if it is done that way, or in some way; false where there is none within the horizon.
func (x *prover) earliest(k int, w int8, from, till slot) (start, end slot, ok bool) {
	t := &x.m.tasks[x.ops[k]]
	ways := x.ways[k]
	if w >= 0 {
		ways = ways[w : w+1]
	}
	cal := x.g.cal
	for {
		var err error
		if x.spans, err = cal.lay(x.spans[:0], from, t.dur, t.whole); err != nil {
			return 0, 0, false
		}
		from, end = x.spans[0].from, x.spans[len(x.spans)-1].to
		if end < till {
			if from, err = cal.later(from, end, till); err != nil {
				return 0, 0, false
			}
			continue
		}
		next := far
		for i := range ways {
			if next = min(next, x.room(&ways[i], t, from, end)); next == from {
				return from, end, true
			}
		}
		if next == far {
			return 0, 0, false
		}
		from = next
	}
}

// room is from where nothing promised or begun is in the way of the laid spans, or a later start before which there is.
func (x *prover) room(w *way, t *task, from, end slot) slot {
	m := x.m
	next := from
	for j, r := range w.taken {
		if slices.Contains(w.taken[:j], r) || len(m.base[r].at) == 1 {
			continue
		}
		units := int32(0)
		for _, q := range w.taken[j:] {
			if q == r {
				units++
			}
		}
		if top, until := m.base[r].peak(x.spans); top > m.capacity[r]-units {
			next = max(next, until)
		}
	}
	if next > from || w.rack < 0 {
		return next
	}
	if top, until := m.base[w.rack].peak([]span{{end, end + t.rack.length}}); top >= m.capacity[w.rack] {
		if until >= far {
			return far
		}
		at, err := x.g.cal.later(from, end, until)
		if err != nil {
			return far
		}
		return at
	}
	return from
}

// measure is the score that no plan of the node is better than.
func (x *prover) measure(n *node) score {
	m := x.m
	s := score{broken: n.missed, finish: beginning, sum: x.begun, order: m.objectives}
	copy(x.ends, x.ended)
	for k, i := range x.ops {
		t := &m.tasks[i]
		x.ends[t.project] = max(x.ends[t.project], n.end[k]+t.tail)
		s.sum += n.start[k] - m.start
		if t.pin != never && n.start[k] > t.pin {
			s.broken++
		}
		m.moves(&s, i, n.start[k], n.most[k])
	}
	for k, end := range x.ends {
		s.finish = max(s.finish, end)
		x.g.lateness(&s, k, end)
	}
	s.finish = m.day(s.finish)
	if m.setups {
		s.changes = x.fewest(n)
	}
	return s
}
