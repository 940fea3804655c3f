package schedule

import (
	"math"
	"slices"
)

// Limits of the lower bound's effort; beyond them it is weaker, never wrong.
const (
	boundTasks = 300 // with more, no end is refuted
	boundEnds  = 60  // moments by kind between which energy is counted
	boundFew   = 12  // the same, of more than boundTasks
	boundKinds = 30  // sets of resources looked at
	boundTurns = 20  // rounds of propagation for one end
)

// supply is the working time of a set of resources besides promises: use[k] units from at[k] to at[k+1], sum[k] before.
type supply struct {
	resources []int
	at        []slot
	units     []slot
	sum       []slot
	total     int32 // units without promises
	jobs      []demand
}

// demand is an operation's work on a supply.
type demand struct {
	task  int
	count int32
}

// bounds finds when the shop's work can end at the earliest.
type bounds struct {
	m        *model
	cal      *calendar
	supplies []*supply
	head     []slot // start
	first    []slot // end
	last     []slot // latest end
	start    []slot // latest start
	rest     []slot // least elapsed time from an end to the finish
	spans    []span
}

// lowerBound is a moment before which no plan without broken windows ends, given one that ends at best: the calendar's
// critical path, the energy of each kind of resource, and the latest end that can be refuted (destructive improvement).
func (m *model) lowerBound(cal *calendar, best slot) slot {
	b := &bounds{m: m, cal: cal}
	b.network()
	low := beginning
	for i := range m.tasks {
		low = max(low, b.first[i]+m.tasks[i].tail)
	}
	if len(m.tasks) > WholeOperations {
		return min(low, best)
	}
	b.addSupplies(best)
	for _, s := range b.supplies {
		low = max(low, b.energy(s))
	}
	low = min(low, best)
	if len(m.tasks) > boundTasks {
		return low
	}
	for low < best { // the least end that is not refuted
		mid := low + (best-low)/2
		if b.refuted(mid) {
			low = mid + 1
		} else {
			best = mid
		}
	}
	return low
}

// energy is the part of the lower bound that is quick: the energy of each kind of resource.
func (m *model) energy(cal *calendar) slot {
	b := &bounds{m: m, cal: cal}
	b.network()
	b.addSupplies(m.start + maxPlain)
	low := beginning
	for _, s := range b.supplies {
		low = max(low, b.energy(s))
	}
	return low
}

func (b *bounds) network() {
	n := len(b.m.tasks)
	b.head, b.first, b.last, b.start, b.rest = make([]slot, n), make([]slot, n), make([]slot, n), make([]slot, n), make([]slot, n)
	b.reset()
	for k := n - 1; k >= 0; k-- {
		i := b.m.order[k]
		t := &b.m.tasks[i]
		b.rest[i] = max(b.rest[i], t.tail)
		for _, l := range t.lags {
			b.rest[l.pred] = max(b.rest[l.pred], l.windows[0].from+t.dur+b.rest[i])
		}
	}
}

// reset puts heads back to those of the network alone.
func (b *bounds) reset() {
	for i := range b.m.tasks {
		t := &b.m.tasks[i]
		b.head[i] = t.head
		if t.fixed {
			b.first[i] = t.end
			continue
		}
		b.first[i] = b.ends(i, t.head)
	}
}

// ends is when operation i ends if it starts at or as soon after at as it can.
func (b *bounds) ends(i int, at slot) slot {
	t := &b.m.tasks[i]
	var err error
	if b.spans, err = b.cal.lay(b.spans[:0], at, t.dur, t.whole); err != nil {
		return at
	}
	return b.spans[len(b.spans)-1].to
}

// addSupplies collects the sets of resources that operations need, each with everything that only they can do.
func (b *bounds) addSupplies(until slot) {
	m := b.m
	for i := range m.tasks {
		for k := range m.tasks[i].needs {
			n := &m.tasks[i].needs[k]
			if len(b.supplies) < boundKinds && !slices.ContainsFunc(b.supplies, func(s *supply) bool { return same(s.resources, n.resources) }) {
				b.supplies = append(b.supplies, b.newSupply(n.resources, until))
			}
		}
	}
	for _, s := range b.supplies {
		for i := range m.tasks {
			if m.tasks[i].fixed {
				continue
			}
			d := demand{task: i}
			for k := range m.tasks[i].needs {
				if n := &m.tasks[i].needs[k]; within(n.resources, s.resources) {
					d.count += n.count
				}
			}
			if d.count > 0 && m.tasks[i].dur > 0 {
				s.jobs = append(s.jobs, d)
			}
		}
	}
}

func within(a, b []int) bool {
	return !slices.ContainsFunc(a, func(x int) bool { return !slices.Contains(b, x) })
}

func same(a, b []int) bool { return len(a) == len(b) && within(a, b) }

func (b *bounds) newSupply(resources []int, until slot) *supply {
	s := &supply{resources: resources}
	var cuts []slot
	for _, r := range resources {
		s.total += b.m.capacity[r]
		for _, t := range b.m.base[r].at {
			if t > b.m.start && t < until {
				cuts = append(cuts, t)
			}
		}
	}
	slices.Sort(cuts)
	cuts = slices.Compact(cuts)
	var sum slot
	add := func(from, to slot) {
		var units int32
		for _, r := range resources {
			top, _ := b.m.base[r].peak([]span{{from, to}})
			units += max(0, b.m.capacity[r]-top)
		}
		s.at, s.units, s.sum = append(s.at, from, to), append(s.units, slot(units), 0), append(s.sum, sum, sum+slot(units)*(to-from))
		sum = s.sum[len(s.sum)-1]
	}
	k := 0
	i, err := b.cal.find(b.m.start)
	for ; err == nil && i < len(b.cal.stretches) && b.cal.stretches[i].from < until; i++ {
		from, to := max(b.m.start, b.cal.stretches[i].from), min(until, b.cal.stretches[i].to)
		for k < len(cuts) && cuts[k] < to {
			if cuts[k] > from {
				add(from, cuts[k])
				from = cuts[k]
			}
			k++
		}
		if from < to {
			add(from, to)
		}
	}
	return s
}

// before is the units' working time until t.
func (s *supply) before(t slot) slot {
	k, found := slices.BinarySearch(s.at, t)
	if found {
		return s.sum[k]
	}
	if k == 0 {
		return 0
	}
	return s.sum[k-1] + s.units[k-1]*(t-s.at[k-1])
}

// reach is the first moment with so much working time before it, or the end of what was counted.
func (s *supply) reach(work slot) slot {
	k, _ := slices.BinarySearch(s.sum, work)
	switch {
	case len(s.at) == 0:
		return beginning
	case k == 0:
		return s.at[0]
	case k == len(s.sum):
		return s.at[len(s.at)-1]
	case s.units[k-1] == 0:
		return s.at[k]
	}
	return s.at[k-1] + slot(math.Ceil(float64(work-s.sum[k-1])/float64(s.units[k-1])))
}

// energy is the end of the work of those that start late and have far to go, if the supply did nothing else.
func (b *bounds) energy(s *supply) slot {
	heads, rests := make([]slot, 0, len(s.jobs)), make([]slot, 0, len(s.jobs))
	for _, d := range s.jobs {
		heads, rests = append(heads, b.head[d.task]), append(rests, b.rest[d.task])
	}
	low := beginning
	for _, h := range some(heads) {
		for _, q := range some(rests) {
			var work slot
			for _, d := range s.jobs {
				if b.head[d.task] >= h && b.rest[d.task] >= q {
					work += slot(d.count) * b.m.tasks[d.task].dur
				}
			}
			if work > 0 {
				low = max(low, s.reach(s.before(h)+work)+q)
			}
		}
	}
	return low
}

// some is the different moments of a list, thinned out where there are many.
func some(list []slot) []slot {
	slices.Sort(list)
	list = slices.Compact(list)
	most := boundEnds
	if len(list) > boundTasks {
		most = boundFew
	}
	if len(list) <= most {
		return list
	}
	out := make([]slot, most)
	for k := range out {
		out[k] = list[k*len(list)/most]
	}
	return out
}

// refuted says that no plan ends by t.
func (b *bounds) refuted(t slot) bool {
	b.reset()
	again := true
	for turn := 0; again && turn < boundTurns; turn++ {
		again = false
		if !b.backward(t) || !b.forward() {
			return true
		}
		changed, impossible := b.windows()
		if impossible {
			return true
		}
		again = changed
		for _, s := range b.supplies {
			if b.overloaded(s) {
				return true
			}
			changed, impossible := b.pairs(s)
			if impossible {
				return true
			}
			again = again || changed
		}
	}
	return false
}

// backward finds latest starts; false where one lies before its head.
func (b *bounds) backward(t slot) bool {
	for i := range b.last {
		b.last[i] = t - b.m.tasks[i].tail
		b.start[i] = b.last[i]
	}
	for k := len(b.m.order) - 1; k >= 0; k-- {
		i := b.m.order[k]
		x := &b.m.tasks[i]
		if x.fixed {
			if x.end > b.last[i] {
				return false
			}
			b.last[i], b.start[i] = x.end, x.start
			continue
		}
		var ok bool
		if b.spans, ok = b.cal.layBack(b.spans[:0], b.last[i], x.dur, x.whole); !ok {
			return false
		}
		b.last[i], b.start[i] = b.spans[0].to, b.spans[len(b.spans)-1].from
		if b.start[i] < b.head[i] {
			return false
		}
		for k := range x.lags {
			l := &x.lags[k]
			w, ok := b.possible(l, i)
			if !ok {
				return false
			}
			b.last[l.pred] = min(b.last[l.pred], b.start[i]-w.from)
		}
	}
	return true
}

// possible is the range of the windows of a lag that the times of its operations still allow; false where there is none.
func (b *bounds) possible(l *lag, i int) (window, bool) {
	least, most := b.head[i]-b.last[l.pred], b.start[i]-b.first[l.pred]
	out, found := window{}, false
	for _, w := range l.windows {
		if w.from > most || w.to >= 0 && w.to < least {
			continue
		}
		if !found {
			out.from = w.from
		}
		out.to, found = w.to, true
	}
	return out, found
}

// windows tightens times by lags that close: an earlier operation ends late enough, a later one starts early enough.
// changed says that some head rose, impossible that nothing is left.
func (b *bounds) windows() (changed, impossible bool) {
	for k := len(b.m.order) - 1; k >= 0; k-- {
		i := b.m.order[k]
		t := &b.m.tasks[i]
		if t.fixed {
			continue
		}
		for k := range t.lags {
			l := &t.lags[k]
			w, ok := b.possible(l, i)
			if !ok || w.to >= 0 && b.head[i] > b.last[l.pred]+w.to {
				return changed, true
			}
			if p := l.pred; w.to >= 0 && b.first[p] < b.head[i]-w.to {
				if b.m.tasks[p].fixed {
					return changed, true
				}
				at, err := b.cal.later(b.head[p], b.first[p], b.head[i]-w.to)
				if err != nil || at > b.start[p] {
					return changed, true
				}
				b.head[p], changed = at, true
				b.first[p] = b.ends(p, at)
			}
		}
	}
	return changed, false
}

// forward raises heads by precedence.
func (b *bounds) forward() bool {
	for _, i := range b.m.order {
		t := &b.m.tasks[i]
		if t.fixed {
			continue
		}
		for k := range t.lags {
			w, ok := b.possible(&t.lags[k], i)
			if !ok {
				return false
			}
			b.head[i] = max(b.head[i], b.first[t.lags[k].pred]+w.from)
		}
		b.first[i] = b.ends(i, b.head[i])
		if len(b.spans) > 0 {
			b.head[i] = max(b.head[i], b.spans[0].from)
		}
		if b.first[i] > b.last[i] {
			return false
		}
	}
	return true
}

// overloaded says that what must be done between two moments is more than the supply between them.
func (b *bounds) overloaded(s *supply) bool {
	jobs := slices.Clone(s.jobs)
	slices.SortFunc(jobs, func(x, y demand) int { return int(b.last[x.task] - b.last[y.task]) })
	heads := make([]slot, 0, len(jobs))
	for _, d := range jobs {
		heads = append(heads, b.head[d.task])
	}
	for _, h := range some(heads) {
		base := s.before(h)
		var work slot
		for _, d := range jobs {
			if b.head[d.task] < h {
				continue
			}
			work += slot(d.count) * b.m.tasks[d.task].dur
			if work > s.before(b.last[d.task])-base {
				return true
			}
		}
	}
	return false
}

// pairs orders two operations that exceed the supply together where only one order is left; impossible where none is.
func (b *bounds) pairs(s *supply) (changed, impossible bool) {
	for x, d := range s.jobs {
		for _, e := range s.jobs[x+1:] {
			if d.count+e.count <= s.total {
				continue
			}
			i, j := d.task, e.task
			ij, ji := b.first[i] <= b.start[j], b.first[j] <= b.start[i]
			switch {
			case !ij && !ji:
				return changed, true
			case !ij && b.first[j] > b.head[i]:
				b.head[i], changed = b.first[j], true
			case !ji && b.first[i] > b.head[j]:
				b.head[j], changed = b.first[i], true
			}
			if ij != ji {
				i, j := i, j
				if ji {
					i, j = j, i
				}
				b.first[j] = b.ends(j, b.head[j])
				if b.last[i] > b.start[j] && b.start[j] < b.last[i] {
					b.last[i] = b.start[j]
				}
			}
		}
	}
	return changed, false
}
