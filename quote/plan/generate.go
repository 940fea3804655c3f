package plan

import "fmt"

// pushes is how often one maximum lag may move its earlier operation before the schedule gives the lag up. A push
// nearly always lands at the next shift, so two or three are usual.
const pushes = 16

// generator makes one schedule after another from priority lists by serial schedule generation. Each operation is
// placed at the earliest moment that its predecessors, the shop's hours, the promises and the operations placed before
// it allow. Where a window would close before that, the earlier operation is placed again, later.
type generator struct {
	m       *model
	use     []profile
	at      []int // operation → its place in the list
	start   []slot
	end     []slot
	spans   [][]span
	taken   [][]int // resources, a unit each
	release []slot  // lag id → moment before which its earlier operation must not end
	pushed  []int   // lag id → pushes so far
	given   []bool  // lag id → given up
	wanted  []int   // lag id → of its windows, how many from the first may be used; the rest only when those fail
	windows []int   // lag id → windows in use in this schedule
	dur     []slot  // durations of this schedule
	broken  int     // lags given up and not kept by luck
	finish  slot    // tails included
	whole   []bool  // whole in this schedule
}

func newGenerator(m *model) *generator {
	n := len(m.tasks)
	g := &generator{m: m, at: make([]int, n), start: make([]slot, n), end: make([]slot, n), spans: make([][]span, n),
		taken: make([][]int, n), release: make([]slot, len(m.lagOwner)), pushed: make([]int, len(m.lagOwner)),
		given: make([]bool, len(m.lagOwner)), wanted: m.allWindows(), windows: make([]int, len(m.lagOwner)), dur: make([]slot, n), whole: make([]bool, n)}
	g.use = make([]profile, len(m.base))
	for i, t := range m.tasks {
		g.dur[i], g.whole[i] = t.dur, t.whole
	}
	return g
}

// run generates the schedule of a list that has every operation after its predecessors.
func (g *generator) run(list []int) error {
	for i := range g.use {
		g.use[i].copyFrom(&g.m.base[i])
	}
	for i := range g.release {
		g.release[i], g.pushed[i], g.given[i] = 0, 0, false
	}
	copy(g.windows, g.wanted)
	for k, i := range list {
		g.at[i] = k
	}
	for k := 0; k < len(list); {
		i := list[k]
		late, when, err := g.place(i)
		if err != nil {
			return err
		}
		if late == nil {
			k++
			continue
		}
		// the window of late closes before i can start: its earlier operation must end later
		switch g.pushed[late.id]++; {
		case g.pushed[late.id] <= pushes:
			g.release[late.id] = when - late.windows[g.windows[late.id]-1].to
		case g.windows[late.id] < len(late.windows):
			g.windows[late.id], g.pushed[late.id], g.release[late.id] = len(late.windows), 0, 0
		default:
			g.given[late.id], g.release[late.id] = true, 0
		}
		back := g.at[late.pred]
		for j := k - 1; j >= back; j-- {
			g.remove(list[j])
		}
		k = back
	}
	g.broken = 0
	for i := range g.m.tasks {
		for k := range g.m.tasks[i].lags {
			l := &g.m.tasks[i].lags[k]
			if g.given[l.id] && l.hit(g.start[i]-g.end[l.pred]) < 0 {
				g.broken++
			}
		}
	}
	g.finish = g.m.start
	for i, t := range g.m.tasks {
		g.finish = max(g.finish, g.end[i]+t.tail)
	}
	return nil
}

// sum is the third measure of a schedule: how early things start over all.
func (g *generator) sum() slot {
	var s slot
	for _, t := range g.start {
		s += t - g.m.start
	}
	return s
}

// place finds the earliest start of i. Where the last window that a lag may use closes before that, it returns the lag and the
// earliest moment found.
func (g *generator) place(i int) (*lag, slot, error) {
	t := &g.m.tasks[i]
	var notBefore slot // of the end
	for _, id := range t.held {
		notBefore = max(notBefore, g.release[id])
	}
	at := g.m.start
	for {
		var late *lag
		if at, late = g.allowed(t, at); late != nil {
			return late, at, nil
		}
		spans, err := g.m.cal.lay(g.spans[i][:0], at, g.dur[i], g.whole[i])
		g.spans[i] = spans
		if err != nil {
			return nil, 0, fmt.Errorf("operation %s cannot be placed: %w, add shifts or free what it needs", g.m.p.Operations[i].name(), err)
		}
		if spans[0].from > at {
			at = spans[0].from
			continue // a window may have closed meanwhile
		}
		if end := spans[len(spans)-1].to; end < notBefore {
			if at, err = g.later(at, end, notBefore); err != nil {
				return nil, 0, fmt.Errorf("operation %s cannot be placed: %w, widen its window", g.m.p.Operations[i].name(), err)
			}
			continue
		}
		next := at
		g.taken[i] = g.taken[i][:0]
		for k := range t.needs {
			next = max(next, g.choose(i, &t.needs[k], at))
		}
		if next > at {
			at = next
			continue
		}
		g.start[i], g.end[i] = at, spans[len(spans)-1].to
		g.occupy(i, 1)
		return nil, 0, nil
	}
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

// later is the start from which work of the same length ends at or after notBefore.
func (g *generator) later(at, end, notBefore slot) (slot, error) {
	c := g.m.cal
	a, err := c.worked(at)
	if err != nil {
		return 0, err
	}
	// the end counts as worked up to end−1, so that an end at closing time is not taken for the next morning
	e, err := c.worked(max(at, end-1))
	if err != nil {
		return 0, err
	}
	b, err := c.worked(notBefore - 1)
	if err != nil {
		return 0, err
	}
	return c.after(a + max(1, b-e))
}

// choose takes units for a need at the laid spans, lowest resource first. It returns at, or a later moment before
// which the need cannot be met.
func (g *generator) choose(i int, n *need, at slot) slot {
	left := n.count
	next := -beginning
	mark := len(g.taken[i])
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
	g.taken[i] = g.taken[i][:mark]
	return next
}

func (g *generator) occupy(i int, delta int32) {
	for _, r := range g.taken[i] {
		for _, s := range g.spans[i] {
			g.use[r].add(s.from, s.to, delta)
		}
	}
}

func (g *generator) remove(i int) { g.occupy(i, -1) }
