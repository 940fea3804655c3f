package schedule

import (
	"fmt"
	"slices"
)

// pushes is how often one maximum lag may move its earlier operation before the schedule gives the lag up. A push
// nearly always lands at the next shift, so two or three are usual.
const pushes = 16

// repairs is how often one schedule is unscheduled, for each operation; what then still closes is given up.
const repairs = 20

// generator makes one schedule after another from activity lists by serial schedule generation. Each operation is
// placed at the earliest moment that its predecessors, the shop's hours, the promises and the operations placed before
// it allow. Where a window would close before that, everything back to the earlier operation is unscheduled and that one
// placed again, later.
type generator struct {
	m        *model
	cal      *calendar
	use      []profile
	at       []int // operation → its place in the list
	start    []slot
	end      []slot
	spans    [][]span
	taken    [][]int // resources, a unit each
	onRack   []int   // resource of the cures, or -1
	release  []slot  // lag id → moment before which its earlier operation must not end
	pushed   []int   // lag id → pushes so far
	given    []bool  // lag id → given up
	hopeless []bool  // lag id → given up from the start
	wanted   []int   // lag id → of its windows, how many from the first may be used; the rest only when those fail
	windows  []int   // lag id → windows in use in this schedule
	free     []int32
	full     [][]room     // by class
	keep     bool         // nothing starts before its planned start
	left     int          // repairs of this schedule
	broken   int          // lags given up and not kept by luck, and pins missed
	ended    func() error // nil: it goes on to the end
	finish   slot         // tails included
	ends     []slot       // by project
}

// lookAgain is after how many placings a generator looks whether it is still wanted: some milliseconds' worth.
const lookAgain = 256

func newGenerator(m *model) *generator {
	n := len(m.tasks)
	g := &generator{m: m, cal: m.cal.clone(), at: make([]int, n), start: make([]slot, n), end: make([]slot, n), spans: make([][]span, n),
		taken: make([][]int, n), onRack: make([]int, n), release: make([]slot, len(m.lagOwner)), pushed: make([]int, len(m.lagOwner)),
		given: make([]bool, len(m.lagOwner)), hopeless: make([]bool, len(m.lagOwner)), wanted: m.allWindows(), windows: make([]int, len(m.lagOwner)),
		free: make([]int32, len(m.base)), ends: make([]slot, len(m.projects)), use: make([]profile, len(m.base)), full: make([][]room, m.nClasses)}
	for i := range m.tasks {
		g.onRack[i] = -1
		if t := &m.tasks[i]; t.fixed {
			g.start[i], g.end[i], g.spans[i], g.taken[i], g.onRack[i] = t.start, t.end, t.spans, t.taken, t.onRack
		}
	}
	return g
}

// run generates the schedule of a list that has every movable operation after its predecessors.
func (g *generator) run(list []int) error {
	for i := range g.use {
		g.use[i].copyFrom(&g.m.base[i])
	}
	for i := range g.release {
		g.release[i], g.pushed[i], g.given[i] = 0, 0, g.hopeless[i]
	}
	g.forget()
	g.left = repairs * len(list)
	copy(g.windows, g.wanted)
	for k, i := range list {
		g.at[i] = k
	}
	for k, placings := 0, 1; k < len(list); placings++ {
		if placings%lookAgain == 0 && g.ended != nil {
			if err := g.ended(); err != nil {
				return err
			}
		}
		i := list[k]
		late, when, err := g.place(i)
		if err != nil {
			return err
		}
		if late == nil {
			k++
			continue
		}
		k = g.repair(list, k, late, when)
	}
	g.measure()
	return nil
}

// repair answers the window of late, which closes before the operation at place k can start at when: it unschedules back
// to the lag's earlier operation, which must end later, and returns that one's place. What cannot move, or has moved
// often enough, gives way to the lag's later windows, and at last the lag is given up.
func (g *generator) repair(list []int, k int, late *lag, when slot) int {
	p := &g.m.tasks[late.pred]
	g.left--
	fast := p.fixed || p.pin != never || g.left < 0
	switch g.pushed[late.id]++; {
	case !fast && g.pushed[late.id] <= pushes:
		g.release[late.id] = when - late.windows[g.windows[late.id]-1].to
	case g.windows[late.id] < len(late.windows):
		g.windows[late.id], g.pushed[late.id], g.release[late.id] = len(late.windows), 0, 0
	default:
		g.given[late.id], g.release[late.id] = true, 0
		if !p.fixed { // what was pushed back for its sake is not any more
			for _, i := range list[g.at[late.pred]:] {
				for _, id := range g.m.tasks[i].held {
					if !g.given[id] {
						g.release[id], g.pushed[id] = 0, 0
					}
				}
			}
		}
	}
	if p.fixed {
		return k
	}
	back := g.at[late.pred]
	first := -beginning
	for j := k - 1; j >= back; j-- {
		g.occupy(list[j], -1)
		first = min(first, g.start[list[j]])
	}
	if back < k {
		g.freed(first)
	}
	return back
}

func (g *generator) measure() {
	g.broken = 0
	for k := range g.ends {
		g.ends[k] = beginning
	}
	g.finish = beginning
	for i := range g.m.tasks {
		t := &g.m.tasks[i]
		done := g.end[i] + t.tail
		g.finish = max(g.finish, done)
		g.ends[t.project] = max(g.ends[t.project], done)
		if t.fixed {
			continue
		}
		if t.pin != never && g.start[i] != t.pin {
			g.broken++
		}
		for k := range t.lags {
			l := &t.lags[k]
			if g.given[l.id] && l.hit(g.start[i]-g.end[l.pred]) < 0 {
				g.broken++
			}
		}
	}
}

// sum is the last measure of a schedule: how early things start over all.
func (g *generator) sum() slot {
	var s slot
	for _, t := range g.start {
		s += t - g.m.start
	}
	return s
}

// place gives i its earliest start, or returns as find does.
func (g *generator) place(i int) (*lag, slot, error) {
	late, when, err := g.find(i)
	if late == nil && err == nil {
		g.occupy(i, 1)
	}
	return late, when, err
}

// find finds the earliest start of i. Where the last window that a lag may use closes before that, it returns the lag
// and the earliest moment found.
func (g *generator) find(i int) (*lag, slot, error) {
	t := &g.m.tasks[i]
	var notBefore slot // of the end
	for _, id := range t.held {
		notBefore = max(notBefore, g.release[id])
	}
	at := t.head
	if g.keep {
		at = max(at, t.planned)
	}
	from := slot(-1) // looked at from here on
	for {
		var late *lag
		if at, late = g.allowed(t, at); late != nil {
			return late, at, nil
		}
		if from < 0 && t.class >= 0 {
			from = at
			at = g.skip(t, at)
		}
		spans, err := g.cal.lay(g.spans[i][:0], at, t.dur, t.whole)
		g.spans[i] = spans
		if err != nil {
			return nil, 0, g.m.unplaced(i, err)
		}
		if spans[0].from > at {
			at = spans[0].from
			continue // a window may have closed meanwhile
		}
		end := spans[len(spans)-1].to
		if end < notBefore {
			if at, err = g.cal.later(at, end, notBefore); err != nil {
				return nil, 0, fmt.Errorf("operation %s cannot be placed: %w, widen its window", nameOf(g.m.p.Operations[i]), err)
			}
			continue
		}
		next := g.choose(i, at)
		if next == at {
			var until slot
			if until = g.chooseRack(i, end); until > end {
				if next, err = g.cal.later(at, end, until); err != nil {
					return nil, 0, g.m.unplaced(i, err)
				}
			}
		}
		if next > at {
			at = next
			continue
		}
		if t.class >= 0 {
			g.learn(t, from, at)
		}
		g.start[i], g.end[i] = at, end
		return nil, 0, nil
	}
}

// room is a time in which no operation of a class that takes so long can start: what is placed later only adds to that.
type room struct{ dur, from, to slot }

// forget is for a new schedule.
func (g *generator) forget() {
	for k := range g.full {
		g.full[k] = g.full[k][:0]
	}
}

// freed is for when things that start at a moment or later are taken out again: what would have to be over by then still has no
// room.
func (g *generator) freed(at slot) {
	w, err := g.cal.worked(at)
	if err != nil {
		g.forget()
		return
	}
	for k := range g.full {
		list := g.full[k]
		for n := range list {
			r := &list[n]
			to, err := g.cal.after(max(0, w-r.dur))
			if err != nil || w < r.dur {
				to = r.from
			}
			r.to = max(r.from, min(r.to, to))
		}
	}
}

// skip leaves out starts that have been tried for operations like t and no longer.
func (g *generator) skip(t *task, at slot) slot {
	list := g.full[t.class]
	for k := 0; k < len(list); k++ {
		if r := &list[k]; r.dur <= t.dur && r.from <= at && at < r.to {
			at, k = r.to, -1
		}
	}
	return at
}

// learn notes that t has no start in [from, to).
func (g *generator) learn(t *task, from, to slot) {
	if from >= to {
		return
	}
	list := g.full[t.class]
	for k := range list {
		r := &list[k]
		if r.dur != t.dur {
			continue
		}
		switch {
		case from <= r.to && r.from <= to: // they touch
			r.from, r.to = min(r.from, from), max(r.to, to)
		case to-from > r.to-r.from:
			r.from, r.to = from, to
		}
		return
	}
	g.full[t.class] = append(list, room{t.dur, from, to})
}

// allowed is the first moment at or after at in a window in use of every lag, or the lag whose last such window is over
// by then.
func (g *generator) allowed(t *task, at slot) (slot, *lag) {
	for k := 0; k < len(t.lags); k++ {
		l := &t.lags[k]
		end := g.end[l.pred]
		moved, ok := at, false
		for _, w := range l.windows[:g.windows[l.id]] {
			if w.to < 0 || at <= end+w.to {
				moved, ok = max(at, end+w.from), true
				break
			}
		}
		if !ok {
			if g.given[l.id] {
				continue
			}
			return at, l
		}
		if moved > at {
			at, k = moved, -1 // look at all lags again
		}
	}
	return at, nil
}

// choose takes units for the needs of i at the laid spans. It returns at, or a later moment before which they cannot all
// be met.
func (g *generator) choose(i int, at slot) slot {
	t := &g.m.tasks[i]
	g.taken[i] = g.taken[i][:0]
	if t.mixed {
		return g.chooseMixed(i, at)
	}
	next := at
	for k := range t.needs {
		next = max(next, g.chooseFor(i, &t.needs[k], at))
	}
	return next
}

// chooseFor takes a need's units, first resource first.
func (g *generator) chooseFor(i int, n *need, at slot) slot {
	left := n.count
	next := -beginning
	for _, r := range n.resources {
		top, until := g.use[r].peak(g.spans[i])
		for free := g.m.capacity[r] - top; free > 0 && left > 0; free-- {
			g.taken[i] = append(g.taken[i], r)
			left--
		}
		if left == 0 {
			return at
		}
		if top > 0 {
			next = min(next, until)
		}
	}
	return next
}

// chooseMixed takes units for needs that share resources, by matching.
func (g *generator) chooseMixed(i int, at slot) slot {
	next := -beginning
	for k := range g.m.tasks[i].needs {
		for _, r := range g.m.tasks[i].needs[k].resources {
			top, until := g.use[r].peak(g.spans[i])
			g.free[r] = g.m.capacity[r] - top
			if top > 0 {
				next = min(next, until)
			}
		}
	}
	var ok bool
	if g.taken[i], ok = match(g.m.tasks[i].needs, g.free, g.taken[i]); ok {
		return at
	}
	return next
}

// match gives every unit of the needs a resource with something free, by augmenting paths.
func match(needs []need, free []int32, out []int) ([]int, bool) {
	var demands []int // need of each unit
	for k := range needs {
		for range needs[k].count {
			demands = append(demands, k)
		}
	}
	given := map[int][]int{} // resource → demands
	seen := map[int]bool{}
	var try func(d int) bool
	try = func(d int) bool {
		for _, r := range needs[demands[d]].resources {
			if seen[r] || free[r] <= 0 {
				continue
			}
			seen[r] = true
			if len(given[r]) < int(free[r]) {
				given[r] = append(given[r], d)
				return true
			}
			for k, other := range given[r] {
				if try(other) {
					given[r][k] = d
					return true
				}
			}
		}
		return false
	}
	for d := range demands {
		clear(seen)
		if !try(d) {
			return out, false
		}
	}
	first := len(out)
	for r, list := range given {
		for range list {
			out = append(out, r)
		}
	}
	slices.Sort(out[first:])
	return out, true
}

// chooseRack finds a place for the cures after an end. It returns that end, or a later one before which there is none.
func (g *generator) chooseRack(i int, end slot) slot {
	t := &g.m.tasks[i]
	if t.rack.length == 0 {
		return end
	}
	next := -beginning
	for _, r := range t.rack.resources {
		top, until := g.use[r].peak([]span{{end, end + t.rack.length}})
		if top < g.m.capacity[r] {
			g.onRack[i] = r
			return end
		}
		next = min(next, until)
	}
	return next
}

func (g *generator) occupy(i int, delta int32) {
	for _, r := range g.taken[i] {
		for _, s := range g.spans[i] {
			g.use[r].add(s.from, s.to, delta)
		}
	}
	if t := &g.m.tasks[i]; t.rack.length > 0 {
		g.use[g.onRack[i]].add(g.end[i], g.end[i]+t.rack.length, delta)
	}
}
