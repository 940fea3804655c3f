package schedule

import (
	"math/bits"
	"slices"
)

// maxPlain is the longest time, in slots, that a plain problem's work may take one after the other: its timelines are as long.
const maxPlain = 1 << 17

// plain is a model where nothing but precedence and resources rules: the shop is open all the time that its work can take,
// nothing is promised or has begun, and every need is of one resource. Time is then a line from the start of the plan, in
// slots, and generation is plain arithmetic: of a list it gives the schedule that the generator gives, only faster, and as easily
// from the end.
type plain struct {
	m       *model
	horizon int32 // by which everything can be done
	dur     []int32
	tail    []int32   // longest way from a start to the end of all
	head    []int32   // no earlier start
	demand  [][]int32 // by resource
	single  []int32   // capacity by resource
	offsets bool      // starts are tied otherwise than by precedence: there is no generation
	sides   [2]*line
}

// line is a plain model laid out for generation in one direction of time: forward, or backward, where what ends at e starts at
// the end of all less e.
type line struct {
	order  []int // topological
	words  int   // of a packed demand
	dur    []int32
	demand []uint64 // packed, words for each operation
	fresh  []uint64 // capacities with guard bits set, by time, words for each
	guard  []uint64 // the top bit of each field
	first  []int32  // operation → its first arc
	next   []int32  // the operation that an arc leads to
	lag    []int32  // and how much later than this one it starts at least
	tail   []int32  // longest way from an operation's start to the end
}

// newPlain lays a model out where it is plain, nil where it is not.
func newPlain(m *model) *plain {
	n := len(m.tasks)
	if m.plans || m.dues || m.setups || len(m.choices) > 0 || m.cal.weekly < 7*daySlots {
		return nil
	}
	p := &plain{m: m, dur: make([]int32, n), tail: make([]int32, n), head: make([]int32, n), offsets: len(m.offsets) > 0, single: m.capacity}
	span, late := slot(0), slot(0)
	for i := range m.tasks {
		t := &m.tasks[i]
		if t.fixed || t.pin != never || t.rack.length > 0 || t.mixed {
			return nil
		}
		after := t.dur + t.tail
		for _, x := range t.next {
			for k := range m.tasks[x].lags {
				if l := &m.tasks[x].lags[k]; l.pred == i {
					after = max(after, t.dur+l.windows[0].from)
				}
			}
		}
		for _, o := range m.offsets {
			if o.from == i {
				after = max(after, o.least)
			}
		}
		span += after
		late = max(late, t.head-m.start)
		for k := range t.lags {
			if t.lags[k].last() >= 0 {
				return nil
			}
		}
		for k := range t.needs {
			r := t.needs[k].resources[0]
			if len(t.needs[k].resources) > 1 || len(m.base[r].at) > 1 {
				return nil
			}
		}
	}
	if span += late; span > maxPlain || !m.alwaysOpen(span) {
		return nil
	}
	p.horizon = int32(span)
	p.demand = make([][]int32, len(m.capacity))
	for r := range p.demand {
		p.demand[r] = make([]int32, n)
	}
	for i := range m.tasks {
		t := &m.tasks[i]
		p.dur[i], p.head[i] = int32(t.dur), int32(t.head-m.start)
		for k := range t.needs {
			if t.dur > 0 { // a milestone occupies nothing
				p.demand[t.needs[k].resources[0]][i] += t.needs[k].count
			}
		}
	}
	p.tails()
	if !p.offsets {
		p.lines()
	}
	return p
}

// alwaysOpen says whether the shop is open from the start for so long.
func (m *model) alwaysOpen(span slot) bool {
	i, err := m.cal.find(m.start)
	for err == nil && m.cal.stretches[i].to < m.start+span && i == len(m.cal.stretches)-1 && m.cal.grow() {
	}
	return err == nil && m.cal.stretches[i].from <= m.start && m.cal.stretches[i].to >= m.start+span
}

func (p *plain) tails() {
	for k := len(p.m.order) - 1; k >= 0; k-- {
		i := p.m.order[k]
		t := &p.m.tasks[i]
		p.tail[i] = max(p.tail[i], p.dur[i]+int32(t.tail))
		for k := range t.lags {
			l := &t.lags[k]
			p.tail[l.pred] = max(p.tail[l.pred], p.dur[l.pred]+int32(l.windows[0].from)+p.tail[i])
		}
	}
}

// plainArc is that to starts at least lag after from.
type plainArc struct {
	from, to int
	lag      int32
}

// lines lays out both directions.
func (p *plain) lines() {
	m := p.m
	n := len(m.tasks)
	var arcs, mirrored []plainArc
	back := make([]int32, n)
	for i := range m.tasks {
		for k := range m.tasks[i].lags {
			l := &m.tasks[i].lags[k]
			between := int32(l.windows[0].from)
			arcs = append(arcs, plainArc{l.pred, i, p.dur[l.pred] + between})
			mirrored = append(mirrored, plainArc{i, l.pred, p.dur[i] + between})
		}
		back[i] = p.dur[i] + p.head[i]
	}
	reversed := slices.Clone(m.order)
	slices.Reverse(reversed)
	longest := slices.Max(p.dur)
	p.sides[0] = &line{order: m.order, dur: p.dur, tail: p.tail}
	p.sides[1] = &line{order: reversed, dur: p.dur, tail: back}
	for side, list := range [2][]plainArc{arcs, mirrored} {
		w := p.sides[side]
		slices.SortStableFunc(list, func(a, b plainArc) int { return a.from - b.from })
		w.first = make([]int32, n+1)
		for _, a := range list {
			w.first[a.from+1]++
			w.next = append(w.next, int32(a.to))
			w.lag = append(w.lag, a.lag)
		}
		for i := range n {
			w.first[i+1] += w.first[i]
		}
		p.pack(w, int(p.horizon+2*longest+1))
	}
}

// pack gives every resource that can be scarce a field of a 64-bit word, one bit wider than its capacity: that guard bit
// survives the subtraction of a demand exactly when the demand fits, so one subtraction tests all fields.
func (p *plain) pack(w *line, length int) {
	type field struct{ r, word, shift int }
	var fields []field
	word, shift := 0, 0
	for r, c := range p.single {
		total := int64(0)
		for _, q := range p.demand[r] {
			total += int64(q)
		}
		if total <= int64(c) {
			continue
		}
		width := bits.Len(uint(c)) + 1
		if shift+width > 64 {
			word, shift = word+1, 0
		}
		fields = append(fields, field{r, word, shift})
		shift += width
	}
	w.words = word + 1
	w.guard = make([]uint64, w.words)
	w.demand = make([]uint64, w.words*len(p.dur))
	free := make([]uint64, w.words)
	for _, f := range fields {
		c := p.single[f.r]
		top := uint64(1) << (f.shift + bits.Len(uint(c)))
		w.guard[f.word] |= top
		free[f.word] |= top | uint64(c)<<f.shift
		for i, q := range p.demand[f.r] {
			w.demand[i*w.words+f.word] |= uint64(q) << f.shift
		}
	}
	w.fresh = make([]uint64, 0, length*w.words)
	for range length {
		w.fresh = append(w.fresh, free...)
	}
}

// placer makes schedules of one line. It allocates nothing while it works.
type placer struct {
	w        *line
	free     []uint64
	earliest []int32
	dirty    int32 // times below it may be in use
}

func newPlacer(w *line) *placer {
	return &placer{w: w, free: slices.Clone(w.fresh), earliest: make([]int32, len(w.dur))}
}

// serial generates the schedule of a list by the serial scheme (Kelley 1963; Kolisch & Hartmann 1999): each operation in turn
// starts as early as its release, its predecessors and the resources allow. It fills start and returns the latest end, ways to
// the end included. As soon as that is sure to exceed limit it gives up and returns limit + 1.
func (g *placer) serial(list []int, start, release []int32, limit int32) int32 {
	w := g.w
	copy(g.free, w.fresh[:int(g.dirty)*w.words])
	free, guard := g.free, w.guard[0]
	earliest, duration, demand, first, tail := g.earliest, w.dur, w.demand, w.first, w.tail
	copy(earliest, release)
	end, used := int32(0), int32(0)
	for _, j := range list {
		t, d := earliest[j], duration[j]
		if w.words > 1 {
			t = g.place(int32(j), t)
		} else if q := demand[j]; q != 0 {
			// the window [t, t+d) is tested from its end, so that a conflict moves it far; what lies below bottom but
			// in the window has been tested already
			bottom, top := t, t+d-1
			for u := top; u >= bottom; u-- {
				if (free[u]-q)&guard != guard {
					t, bottom = u+1, top+1
					top = u + d
					u = top + 1
				}
			}
			span := free[t : t+d]
			for k := range span {
				span[k] -= q
			}
		}
		start[j] = t
		used = max(used, t+d)
		if end = max(end, t+tail[j]); end > limit {
			g.dirty = used
			return limit + 1
		}
		next, lag := w.next[first[j]:first[j+1]], w.lag[first[j]:first[j+1]]
		for a, k := range next {
			if e := t + lag[a]; e > earliest[k] {
				earliest[k] = e
			}
		}
	}
	g.dirty = used
	return end
}

// place occupies the resources for operation j at the first possible time from t on.
func (g *placer) place(j, t int32) int32 {
	w := g.w
	d, n := w.dur[j], int32(w.words)
	need := w.demand[j*n : (j+1)*n]
	for u := t; u < t+d; u++ {
		for k, q := range need {
			if (g.free[u*n+int32(k)]-q)&w.guard[k] != w.guard[k] {
				t = u + 1
				break
			}
		}
	}
	for u := t; u < t+d; u++ {
		for k, q := range need {
			g.free[u*n+int32(k)] -= q
		}
	}
	return t
}

// sorter makes lists of keys.
type sorter struct{ bucket []int32 }

// sort fills list by rising keys, but no operation before its predecessors, whose keys it raises the followers' to.
func (x *sorter) sort(w *line, key []int32, list []int) {
	top := int32(0)
	for _, i := range w.order {
		k := key[i]
		top = max(top, k)
		for _, j := range w.next[w.first[i]:w.first[i+1]] {
			if key[j] < k {
				key[j] = k
			}
		}
	}
	if int(top) > 32*len(key)+1024 {
		copy(list, w.order)
		slices.SortStableFunc(list, func(a, b int) int { return int(key[a] - key[b]) })
		return
	}
	if len(x.bucket) < int(top)+2 {
		x.bucket = make([]int32, 2*top+2)
	}
	b := x.bucket[:top+2] // a counting sort, stable over the topological order
	clear(b)
	for _, k := range key {
		b[k+1]++
	}
	sum := int32(0)
	for k, v := range b {
		sum += v
		b[k] = sum
	}
	for _, i := range w.order {
		k := key[i]
		list[b[k]] = i
		b[k]++
	}
}
