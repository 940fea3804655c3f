package schedule

import (
	"slices"
	"time"
)

// Bounds of the exact search. A problem is small when no more than exactOperations of its operations have not begun, each
// with no more than exactWays of choosing its resources, and no cure lies where something is worked on. That is one chain
// of sixteen coats or two of eight: the trade's recoat problems, not its whole commissions, whose orders grow beyond any
// budget. A step is a start moved, a look into hours and promises; exactSteps of them take some hundredths of a second.
// Drawn shops of up to twelve operations need one in a hundred of them, and one shop in two hundred more than there are; of
// two chains of six coats that want the booth all the time, one in four.
const (
	exactOperations = 16
	exactWays       = 24
	exactSteps      = 100_000
)

// prover finds the best plan of a small problem by branch and bound, in the order that score gives, and knows whether it
// has.
//
// Every rule that a plan keeps is one of two sorts. The first raises an operation's start or end to some other operation's
// start or end and a distance, or to the next moment that hours, promises and what has begun leave to it: precedence and
// cures, a window once it is known which (its closing raises the earlier coat), who goes first at a place, a place for a
// cure once another has left it. If two schedules keep such rules, so does the schedule that takes the earlier start of
// each operation from the one or the other. So there is one schedule that keeps them with every start at its earliest at
// once (Bartusch, Möhring and Radermacher, 1988; with calendars Franck, Neumann and Schwindt, OR Spektrum 23, 2001), and
// moving starts up until all rules are kept finds it: no other start times need be tried. It is the best of all schedules
// that keep these rules in everything that an earlier start never makes worse: broken windows, lateness, ends and starts.
// The second sort are choices: which of several windows, or the last one missed, which resources, who goes first. A node
// decides some of them; its earliest schedule is at least as good as every plan below it, and where that schedule happens
// to keep everything undecided, it is the best of them. Otherwise what it violates is decided in all ways there are.
//
// Two measures are not of that kind. Changes of set-up hang on the order at a place alone, so that order is decided as
// well while fewer changes than the best plan's are possible. Nearness to the plan so far may ask for a later start, so
// starts are then split into before and not before some moment, the planned one first.
//
// A window that must break is missed to its end, as in generated schedules: no coat goes into a forbidden middle. Nothing
// starts before its pin. What no week like another can keep once everything promised is over, nothing keeps: a night in
// which the clocks change is not waited for.
type prover struct {
	m *model
	g *generator // scores plans
	t *meter

	ops    []int   // by place in the search: operations that have not begun, in topological order
	place  []int   // operation → place, or -1
	ways   [][]way // by place
	class  []int   // resources of one class can stand for each other
	users  [][]int // by resource: places that may use it
	shelf  []bool  // by resource: cures lie on it, nothing is worked on
	lags   []choiceLag
	arcs   [][]arc // by place: what its start and end raise
	ended  []slot  // by project, of what has begun
	begun  slot    // sum of the starts of what has begun
	rest   []slot  // by operation: least time from its end to the end of all
	strict bool    // the best plan breaks nothing
	until  slot    // latest start looked at
	limit  slot    // what breaks as much as the best plan ends no later

	best   score
	found  *placement // nil: the best is the one given
	proved bool
	steps  int // left
	nodes  int
	err    error

	// of the node at work
	queue  []int
	queued []bool
	spans  []span
	uses   []occupation
	use    []profile
	ends   []slot
	times  []slot
	open   []int
}

// placement is a schedule as it stands: some best plans are no activity list's.
type placement struct {
	start, end []slot
	spans      [][]span
	taken      [][]int
	onRack     []int
}

// load puts a schedule into g.
func (g *generator) load(p *placement) {
	copy(g.start, p.start)
	copy(g.end, p.end)
	for i := range p.spans {
		g.spans[i], g.taken[i] = slices.Clone(p.spans[i]), slices.Clone(p.taken[i])
	}
	copy(g.onRack, p.onRack)
	for id := range g.given { // every window that it misses counts
		g.given[id] = true
	}
	g.measure()
}

// exactly looks for something better than the best of people where the problem is small, and puts it first.
func (m *model) exactly(g *generator, people []individual, t *meter) ([]individual, error) {
	x := newProver(m, g, people[0].score, t)
	if x == nil || t.stopped() {
		return people, nil
	}
	if x.run(); x.err != nil {
		return nil, x.err
	}
	if x.found != nil {
		people = slices.Insert(people, 0, individual{placed: x.found, score: x.best})
	}
	if x.proved && x.best.broken == 0 && !m.dues && !m.plans && (m.objectives == nil || len(m.projects) == 1) {
		m.floor = x.best.finish
	}
	return people, nil
}

// newProver prepares the search for something better than best; nil where the problem is not small.
func newProver(m *model, g *generator, best score, t *meter) *prover {
	x := &prover{m: m, g: g, t: t, best: best, strict: best.broken == 0, place: make([]int, len(m.tasks)), steps: exactSteps, ended: make([]slot, len(m.projects))}
	for k := range x.ended {
		x.ended[k] = beginning
	}
	for _, i := range m.order {
		x.place[i] = -1
		if t := &m.tasks[i]; t.fixed {
			x.ended[t.project] = max(x.ended[t.project], t.end+t.tail)
			x.begun += t.start - m.start
			continue
		}
		if len(x.ops) == exactOperations {
			return nil
		}
		x.place[i] = len(x.ops)
		x.ops = append(x.ops, i)
	}
	if !x.addWays() {
		return nil
	}
	x.arcs, x.queued, x.ends = make([][]arc, len(x.ops)), make([]bool, len(x.ops)), make([]slot, len(m.projects))
	x.use = make([]profile, len(m.base))
	x.until = m.weeksRepeat()
	for _, i := range x.ops {
		x.until += m.longestWait(&m.tasks[i])
	}
	b := &bounds{m: m, cal: g.cal}
	b.network()
	x.rest = b.rest
	x.limited()
	return x
}

// weeksRepeat is a moment after which one week is like another for everything that has not begun: nothing is promised,
// running, closed, extra, released, pinned or planned any more.
func (m *model) weeksRepeat() slot {
	last := m.start
	for r := range m.base {
		last = max(last, m.base[r].at[len(m.base[r].at)-1])
	}
	day := func(date string) {
		if t, err := time.Parse(time.DateOnly, date); err == nil { // it was read before
			last = max(last, slotUp(t)+2*daySlots) // wherever the shop is
		}
	}
	for _, date := range m.p.Calendar.Closed {
		day(date)
	}
	for _, e := range m.p.Calendar.Extra {
		day(e.Date)
	}
	for i := range m.tasks {
		t := &m.tasks[i]
		last = max(last, t.end, t.release, m.projects[t.project].release, t.pin, t.planned)
	}
	return last
}

// longestWait is the most by which one operation can delay the others where one week is like another and they can be
// done at all: its windows' distances, its cures, its work and the wait for the right hour of the week.
func (m *model) longestWait(t *task) slot {
	wait := (t.dur/m.cal.weekly+2)*7*daySlots + t.rack.length
	for k := range t.lags {
		for _, w := range t.lags[k].windows {
			wait += max(w.from, w.to)
		}
	}
	return wait
}

// limited sets the limit anew for the best.
func (x *prover) limited() {
	if x.limit = far; x.best.late == 0 && x.best.wish == 0 && x.m.objectives == nil {
		x.limit = x.best.finish
	}
}

// run searches until everything is decided or the steps are used up.
func (x *prover) run() {
	x.proved = true
	if root := x.root(); root != nil {
		x.explore(root)
	}
	x.proved = x.proved && x.steps > 0
}

// explore takes a node whose bound is better than the best, and what can be decided in it.
func (x *prover) explore(n *node) {
	if x.nodes++; x.nodes%64 == 0 {
		if x.err = x.t.ended(); x.t.stopped() {
			x.proved = false
		}
	}
	if x.err != nil || !x.proved || x.steps <= 0 {
		return
	}
	var below []*node
	for _, c := range x.branch(n) {
		if b := x.child(n, &c); b != nil {
			below = append(below, b)
		}
	}
	slices.SortStableFunc(below, func(a, b *node) int {
		switch {
		case a.bound.better(b.bound):
			return -1
		case b.bound.better(a.bound):
			return 1
		}
		return 0
	})
	for _, b := range below {
		if b.bound.better(x.best) {
			x.push(b.arcs)
			x.explore(b)
			x.pop(b.arcs)
		}
	}
}

// branch is in what ways the node's plans can go about something that its earliest schedule violates; none where that is
// a plan and the best of the node.
func (x *prover) branch(n *node) []choice {
	if list, missed := x.missed(n); missed {
		return list
	}
	if list, over := x.overload(n); over {
		return list
	}
	with, list := x.assign(n)
	if with == nil {
		return list
	}
	s := x.record(n, with)
	if !n.bound.better(x.best) {
		return nil
	}
	if s.changes > n.bound.changes {
		list = x.reorder(n)
	}
	if list == nil {
		list = x.nearer(n)
	}
	x.proved = x.proved && list != nil
	return list
}

// record takes the node's schedule, done in these ways, for the best if it is.
func (x *prover) record(n *node, with []int8) score {
	m := x.m
	p := &placement{start: make([]slot, len(m.tasks)), end: make([]slot, len(m.tasks)), spans: make([][]span, len(m.tasks)),
		taken: make([][]int, len(m.tasks)), onRack: make([]int, len(m.tasks))}
	for i := range m.tasks {
		t := &m.tasks[i]
		k := x.place[i]
		if k < 0 {
			p.start[i], p.end[i], p.spans[i], p.taken[i], p.onRack[i] = t.start, t.end, t.spans, t.taken, t.onRack
			continue
		}
		w := &x.ways[k][with[k]]
		p.start[i], p.end[i], p.taken[i], p.onRack[i] = n.start[k], n.end[k], w.taken, w.rack
		p.spans[i], _ = x.g.cal.lay(nil, n.start[k], t.dur, t.whole) // it was laid there before
	}
	x.g.load(p)
	s := x.g.score()
	if s.better(x.best) {
		x.best, x.found = s, p
		x.limited()
	}
	return s
}

// reorder is the two orders of two operations that differ in set-up and share a place, or the places of one that has a
// choice of them.
func (x *prover) reorder(n *node) []choice {
	for k := range x.ops {
		if x.m.tasks[x.ops[k]].setup > 0 && n.way[k] < 0 && x.placesOf(n, k) == nil {
			return x.eachWay(n, k)
		}
	}
	for r := range x.users {
		list := x.setupsAt(n, r)
		for a, i := range list {
			for _, j := range list[a+1:] {
				if x.m.tasks[x.ops[i]].setup != x.m.tasks[x.ops[j]].setup && !n.ordered(i, j) {
					return []choice{x.before(r, i, j), x.before(r, j, i)}
				}
			}
		}
	}
	return nil
}

// before is that i starts before j at resource r, by the order in which changes are counted.
func (x *prover) before(r, i, j int) choice {
	a := arc{from: i, to: j, kind: startStart}
	if x.ops[i] > x.ops[j] {
		a.w = 1 // of equal starts the other would go first
	}
	if x.m.capacity[r] == 1 && x.m.tasks[x.ops[i]].dur > 0 && x.m.tasks[x.ops[j]].dur > 0 {
		a = arc{from: i, to: j, kind: endStart}
	}
	c := undecided()
	c.arcs, c.first, c.then = []arc{a}, i, j
	return c
}

// setupsAt is the places in the search with a set-up at resource r, in the order of the node's starts; none for a maker,
// who changes nothing.
func (x *prover) setupsAt(n *node, r int) []int {
	if x.m.p.Resources[r].Kind == "maker" {
		return nil
	}
	var list []int
	for _, k := range x.users[r] {
		if x.m.tasks[x.ops[k]].setup > 0 && slices.Contains(x.placesOf(n, k), r) {
			list = append(list, k)
		}
	}
	slices.SortFunc(list, func(a, b int) int {
		if n.start[a] != n.start[b] {
			return int(n.start[a] - n.start[b])
		}
		return x.ops[a] - x.ops[b]
	})
	return list
}

// placesOf is the resources that k takes in whatever way it is done, makers left out; nil where ways differ.
func (x *prover) placesOf(n *node, k int) []int {
	if n.way[k] >= 0 {
		return x.ways[k][n.way[k]].places
	}
	first := x.ways[k][0].places
	for _, w := range x.ways[k][1:] {
		if !slices.Equal(w.places, first) {
			return nil
		}
	}
	return first
}

// fewest is how many changes of set-up the node's plans have at least, and have where their order is decided.
func (x *prover) fewest(n *node) int {
	total := 0
	for r := range x.users {
		list := x.setupsAt(n, r)
		if len(list) == 0 {
			continue
		}
		last, changes, early := 0, 0, true
		for _, i := range x.begunAt(r) {
			t := &x.m.tasks[i]
			early = early && t.start < x.m.start // else what is planned may count before it
			if last != 0 && last != t.setup {
				changes++
			}
			last = t.setup
		}
		if !early {
			continue
		}
		decided := true
		var colours []int
		first := last
		for a, i := range list {
			c := x.m.tasks[x.ops[i]].setup
			for _, j := range list[a+1:] {
				decided = decided && (c == x.m.tasks[x.ops[j]].setup || n.ordered(i, j))
			}
			if !slices.Contains(colours, c) && c != first {
				colours = append(colours, c)
			}
		}
		if !decided {
			if first == 0 { // nothing has to be changed for the first one
				changes--
			}
			total += max(0, changes+len(colours))
			continue
		}
		for _, i := range list {
			c := x.m.tasks[x.ops[i]].setup
			if last != 0 && last != c {
				changes++
			}
			last = c
		}
		total += changes
	}
	return total
}

// begunAt is what has begun at resource r with a set-up, in order of start.
func (x *prover) begunAt(r int) []int {
	var list []int
	for i := range x.m.tasks {
		if t := &x.m.tasks[i]; t.fixed && t.setup > 0 && slices.Contains(t.taken, r) {
			list = append(list, i)
		}
	}
	slices.SortStableFunc(list, func(a, b int) int { return int(x.m.tasks[a].start - x.m.tasks[b].start) })
	return list
}

// nearer splits the starts of one operation that could be nearer to its planned one: those not before the moment that is
// nearest, or halfway to what is left of it, and those before.
func (x *prover) nearer(n *node) []choice {
	if !x.m.plans {
		return nil
	}
	best, gap := -1, slot(0)
	for k, i := range x.ops {
		if p := x.m.tasks[i].arrange; p != never && min(p, x.m.frozen, n.most[k])-n.start[k] > gap {
			best, gap = k, min(p, x.m.frozen, n.most[k])-n.start[k]
		}
	}
	if best < 0 {
		return nil
	}
	at := min(x.m.tasks[x.ops[best]].arrange, x.m.frozen)
	if n.most[best] < at {
		at = n.start[best] + (gap+1)/2
	}
	later, earlier := undecided(), undecided()
	later.at, later.from = best, at
	earlier.at, earlier.most = best, at-1
	return []choice{later, earlier}
}

// unmoved is the schedule in which all that has not begun starts as planned so far, where the problem is small and that is
// one; nil otherwise. The resources that a list finds, each the first one free, may not suffice for it.
func (m *model) unmoved(g *generator, t *meter) *placement {
	x := newProver(m, g, score{broken: len(m.tasks) + len(m.lagOwner) + 1}, t)
	if x == nil {
		return nil
	}
	n := x.root()
	if n == nil {
		return nil
	}
	for k, i := range x.ops {
		if !x.raise(n, k, max(m.tasks[i].planned, n.start[k]), beginning) {
			return nil
		}
	}
	if !x.settle(n) {
		return nil
	}
	for k, i := range x.ops {
		if n.start[k] != m.tasks[i].planned {
			return nil
		}
	}
	for l := range x.lags {
		c := &x.lags[l]
		last := c.windows[len(c.windows)-1].to
		if d, in := c.hit(n); !in && (last < 0 || d <= last) { // in a forbidden middle
			return nil
		}
	}
	if _, over := x.overload(n); over {
		return nil
	}
	with, _ := x.assign(n)
	if with == nil {
		return nil
	}
	x.record(n, with)
	return x.found
}
