package rcpsp

import (
	"fmt"
	"math/bits"
	"slices"
)

// network is a classic instance laid out for speed, in one direction of time. Activities are renumbered in topological
// order, so that counting up is a precedence-feasible order (counting down, in the mirrored network).
type network struct {
	n        int
	words    int      // of a packed demand
	duration []int32  // by activity
	demand   []uint64 // packed, words for each activity
	free     []uint64 // packed capacities with guard bits set
	guard    []uint64 // the top bit of each field
	first    []int32  // activity → its first successor arc; n+1 long
	next     []int32  // successor of an arc
	lag      []int32  // start-to-start lag of an arc
	tail     []int32  // longest way from an activity's start to the end
	head     []int32  // longest way from the beginning to an activity's start
	horizon  int32
}

// project is a classic instance in both directions.
type project struct {
	in       *Instance
	n        int
	original []int // activity here → activity of the instance
	forward  network
	backward network // the same project, time running from the end: what ends at e starts at makespan − e
}

// newProject compiles a classic instance; it refuses an activity that demands more than there is.
func newProject(in *Instance) (*project, error) {
	order, ok := in.topological()
	if !ok {
		return nil, fmt.Errorf("the precedences run in a circle")
	}
	n := len(order)
	p := &project{in: in, n: n, original: order}
	place := make([]int, n)
	for i, o := range order {
		place[o] = i
	}
	arcs := make([]Arc, len(in.Arcs))
	for k, a := range in.Arcs {
		arcs[k] = Arc{place[a.From], place[a.To], a.Lag}
	}
	mirrored := make([]Arc, len(arcs))
	for k, a := range arcs {
		mirrored[k] = Arc{a.To, a.From, a.Lag - in.Duration[order[a.From]] + in.Duration[order[a.To]]}
	}
	for _, w := range []*network{&p.forward, &p.backward} {
		w.n = n
		w.duration = make([]int32, n)
		for i, o := range order {
			w.duration[i] = int32(in.Duration[o])
		}
		w.horizon = int32(in.horizon())
		w.pack(in, order)
	}
	p.forward.link(arcs)
	p.backward.link(mirrored)
	p.forward.tails(false)
	p.backward.tails(true)
	for i := range n {
		p.backward.head[i] = p.forward.tail[i] - p.forward.duration[i]
		p.forward.head[i] = p.backward.tail[i] - p.backward.duration[i]
	}
	return p, nil
}

// pack gives every resource that can be scarce a field of a 64-bit word, one bit wider than its capacity: that guard
// bit survives the subtraction of a demand exactly when the demand fits, so one subtraction tests all fields.
func (w *network) pack(in *Instance, order []int) {
	type field struct{ r, word, shift int }
	var fields []field
	word, shift := 0, 0
	for r, c := range in.Capacity {
		total := 0
		for i, o := range order {
			if w.duration[i] > 0 {
				total += in.Demand[o][r]
			}
		}
		if total <= c {
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
	w.free, w.guard = make([]uint64, w.words), make([]uint64, w.words)
	w.demand = make([]uint64, w.words*w.n)
	for _, f := range fields {
		c := in.Capacity[f.r]
		top := uint64(1) << (f.shift + bits.Len(uint(c)))
		w.guard[f.word] |= top
		w.free[f.word] |= top | uint64(c)<<f.shift
		for i, o := range order {
			if w.duration[i] > 0 {
				w.demand[i*w.words+f.word] |= uint64(in.Demand[o][f.r]) << f.shift
			}
		}
	}
}

func (w *network) link(arcs []Arc) {
	sorted := slices.Clone(arcs)
	slices.SortStableFunc(sorted, func(a, b Arc) int { return a.From - b.From })
	w.first = make([]int32, w.n+1)
	for _, a := range sorted {
		w.first[a.From+1]++
		w.next = append(w.next, int32(a.To))
		w.lag = append(w.lag, int32(a.Lag))
	}
	for i := range w.n {
		w.first[i+1] += w.first[i]
	}
}

// tails computes the longest ways to the end; up says that arcs lead to lower numbers.
func (w *network) tails(up bool) {
	w.tail, w.head = make([]int32, w.n), make([]int32, w.n)
	for k := range w.n {
		i := k
		if !up {
			i = w.n - 1 - k
		}
		w.tail[i] = w.duration[i]
		for a := w.first[i]; a < w.first[i+1]; a++ {
			w.tail[i] = max(w.tail[i], w.lag[a]+w.tail[w.next[a]])
		}
	}
}

// criticalPath is the longest way through the project.
func (w *network) criticalPath() int32 { return slices.Max(w.tail) }
