package schedule

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"benchbell/quote/plan"
)

// sort finds a topological order or names a cycle.
func (m *model) sort() error {
	waits := make([]int, len(m.tasks))
	for i := range m.tasks {
		waits[i] = len(m.tasks[i].lags)
		if waits[i] == 0 {
			m.order = append(m.order, i)
		}
	}
	for k := 0; k < len(m.order); k++ {
		for _, n := range m.tasks[m.order[k]].next {
			if waits[n]--; waits[n] == 0 {
				m.order = append(m.order, n)
			}
		}
	}
	if len(m.order) == len(m.tasks) {
		return nil
	}
	// walk backwards among what is left until an operation comes again
	at := slices.IndexFunc(waits, func(w int) bool { return w > 0 })
	seen := map[int]int{}
	var path []int
	for {
		if k, again := seen[at]; again {
			path = path[k:]
			break
		}
		seen[at] = len(path)
		path = append(path, at)
		for _, l := range m.tasks[at].lags {
			if waits[l.pred] > 0 {
				at = l.pred
				break
			}
		}
	}
	slices.Reverse(path)
	return impossible("the operations %s wait for each other in a circle, remove one of these precedences", m.names(path))
}

func (m *model) names(list []int) string {
	words := make([]string, len(list))
	for i, o := range list {
		words[i] = nameOf(m.p.Operations[o])
	}
	return strings.Join(words, ", ")
}

// tie is one edge of the temporal network: to is at least w after from.
type tie struct {
	from, to int
	w        slot
	words    func() string
}

// ties is the temporal network without resources and hours. Nodes are the starts (2i) and ends (2i+1) of operations and
// the origin. What is begun has no say here: history cannot contradict a plan, only break its windows.
func (m *model) ties() []tie {
	var out []tie
	origin := 2 * len(m.tasks)
	for i := range m.tasks {
		t := &m.tasks[i]
		if t.fixed {
			continue
		}
		o := m.p.Operations[i]
		out = append(out, tie{2 * i, 2*i + 1, t.dur, func() string { return fmt.Sprintf("%s takes %s", nameOf(o), words(t.dur)) }})
		if t.whole {
			out = append(out, tie{2*i + 1, 2 * i, -t.dur, func() string { return fmt.Sprintf("%s is done in one go", nameOf(o)) }})
		}
		if t.pin != never {
			say := func() string { return fmt.Sprintf("%s is pinned to %s", nameOf(o), t.pin.time().Format(time.RFC3339)) }
			out = append(out, tie{origin, 2 * i, t.pin - m.start, say}, tie{2 * i, origin, m.start - t.pin, say})
		}
		if t.release != never {
			out = append(out, tie{origin, 2 * i, t.release - m.start, func() string {
				return fmt.Sprintf("%s starts no earlier than %s", nameOf(o), t.release.time().Format(time.RFC3339))
			}})
		}
		for k := range t.lags {
			l := &t.lags[k]
			if m.tasks[l.pred].fixed {
				continue
			}
			pred := m.p.Operations[l.pred]
			out = append(out, tie{2*l.pred + 1, 2 * i, l.windows[0].from, func() string {
				return fmt.Sprintf("%s starts at least %s after %s", nameOf(o), words(l.windows[0].from), nameOf(pred))
			}})
			if last := l.last(); last >= 0 {
				out = append(out, tie{2 * i, 2*l.pred + 1, -last, func() string {
					return fmt.Sprintf("%s starts at most %s after %s", nameOf(o), words(last), nameOf(pred))
				}})
			}
		}
	}
	for _, x := range m.offsets {
		to, from := m.p.Operations[x.to], m.p.Operations[x.from]
		out = append(out, tie{2 * x.from, 2 * x.to, x.least, func() string {
			if x.least < 0 {
				return fmt.Sprintf("%s starts at most %s before %s", nameOf(to), words(-x.least), nameOf(from))
			}
			return fmt.Sprintf("%s starts at least %s after the start of %s", nameOf(to), words(x.least), nameOf(from))
		}})
	}
	return out
}

// contradictions refuses windows and pins that no calendar could keep: a circle of minimum and maximum distances that
// adds up to more than nothing, found as a positive cycle of longest paths (Bellman and Ford).
func (m *model) contradictions() error {
	edges := m.ties()
	if len(m.offsets) == 0 && !slices.ContainsFunc(edges, func(e tie) bool { return e.w < 0 }) {
		return nil
	}
	n := 2*len(m.tasks) + 1
	dist := make([]slot, n)
	parent := make([]int, n) // edge
	for i := range parent {
		parent[i] = -1
	}
	at := -1
	for range n + 1 {
		at = -1
		for k, e := range edges {
			if dist[e.from]+e.w > dist[e.to] {
				dist[e.to], parent[e.to], at = dist[e.from]+e.w, k, e.to
			}
		}
		if at < 0 {
			return nil
		}
	}
	for range n { // into the circle
		at = edges[parent[at]].from
	}
	var list []int
	var reasons []string
	for v := at; ; {
		e := edges[parent[v]]
		if v != n-1 && !slices.Contains(list, v/2) {
			list = append(list, v/2)
		}
		if e.w != 0 {
			reasons = append(reasons, e.words())
		}
		if v = e.from; v == at {
			break
		}
	}
	slices.Reverse(list)
	slices.Reverse(reasons)
	return impossible("the minimum times and windows between %s contradict each other, widen a window or shorten a cure: %s",
		m.names(list), strings.Join(reasons, "; "))
}

// heads finds the earliest start of every operation by the temporal network and the shop's hours alone: longest paths,
// backwards over maximum lags as well. A maximum lag that the hours alone let nobody keep is left out; the plan will
// name it.
func (m *model) heads() error {
	lost := make([]bool, len(m.lagOwner))
	for passes := headPasses; ; {
		again, err := m.longestPaths(lost, &passes)
		if err != nil || !again {
			return err
		}
	}
}

// headPasses is how often the network is gone through; then heads are left without what other maximum lags would add.
const headPasses = 200

// longestPaths computes the heads; true if another maximum lag was lost meanwhile.
func (m *model) longestPaths(lost []bool, passes *int) (bool, error) {
	pushed := make([]int, len(lost))
	end := make([]slot, len(m.tasks))
	lower := make([]slot, len(m.tasks)) // of the end
	var spans []span
	for i := range m.tasks {
		t := &m.tasks[i]
		t.head = max(m.start, t.release, m.projects[t.project].release, t.pin)
		if t.fixed {
			t.head, end[i] = t.start, t.end
		}
	}
	for changed := true; changed; {
		changed = false
		for _, i := range m.order {
			t := &m.tasks[i]
			if t.fixed {
				continue
			}
			at := t.head
			for k := range t.lags {
				at = max(at, end[t.lags[k].pred]+t.lags[k].windows[0].from)
			}
			var err error
			for {
				if spans, err = m.cal.lay(spans[:0], at, t.dur, t.whole); err != nil {
					return false, m.unplaced(i, err)
				}
				at = spans[0].from
				done := spans[len(spans)-1].to
				if done >= lower[i] {
					break
				}
				if at, err = m.cal.later(at, done, lower[i]); err != nil {
					return false, m.unplaced(i, err)
				}
			}
			t.head, end[i] = at, spans[len(spans)-1].to
		}
		if *passes--; *passes < 0 {
			return false, nil
		}
		for k := len(m.order) - 1; k >= 0; k-- {
			i := m.order[k]
			t := &m.tasks[i]
			for _, l := range t.lags {
				to := l.last()
				if to < 0 || lost[l.id] || t.fixed || m.tasks[l.pred].fixed || t.head-to <= end[l.pred] || t.head-to <= lower[l.pred] {
					continue
				}
				if pushed[l.id]++; pushed[l.id] > pushes {
					lost[l.id] = true
					return true, nil
				}
				lower[l.pred] = t.head - to
				changed = true
			}
		}
	}
	return false, nil
}

func (m *model) unplaced(i int, err error) error {
	return fmt.Errorf("operation %s cannot be placed: %w, add shifts or free what it needs", nameOf(m.p.Operations[i]), err)
}

// z80 is the standard normal distribution's 80th percentile.
const z80 = 0.8416

// ranks estimates for every operation the longest way to the end, work stretched over the week, and for every project by
// how much working time its date is usually missed: the excess of the mean over the most likely time and z80 standard
// deviations of the work on its longest way (PERT's estimate).
func (m *model) ranks() {
	stretched := float64(7*daySlots) / float64(m.cal.weekly)
	n := len(m.tasks)
	m.rank = make([]float64, n)
	shift, variance := make([]float64, n), make([]float64, n) // along the longest way
	longest := make([]float64, len(m.projects))
	for k := n - 1; k >= 0; k-- {
		i := m.order[k]
		t := &m.tasks[i]
		m.rank[i] = max(m.rank[i], float64(t.tail)) // rank holds the longest way behind it so far
		if !t.fixed {
			m.rank[i] += float64(t.dur) * stretched
			if o := m.p.Operations[i]; o.High > o.Low {
				mean := (float64(o.Low) + 4*float64(o.Duration) + float64(o.High)) / 6 / float64(plan.Grid)
				sd := float64(o.High-o.Low) / 6 / float64(plan.Grid)
				shift[i] += mean - float64(t.dur)
				variance[i] += sd * sd
			}
		}
		for _, l := range t.lags {
			if way := m.rank[i] + float64(l.windows[0].from); way > m.rank[l.pred] {
				m.rank[l.pred], shift[l.pred], variance[l.pred] = way, shift[i], variance[i]
			}
		}
		if p := t.project; m.rank[i] > longest[p] {
			longest[p] = m.rank[i]
			m.projects[p].buffer = max(0, slot(shift[i]+z80*math.Sqrt(variance[i])+0.5))
		}
	}
}
