package search

import (
	"math"
)

// Shortening one field, a strip or the last sheet: explore takes a little off its length and separates what then overlaps,
// again and again; if that fails it starts again from one of the failures with two large pieces exchanged. compress
// continues from the best layout with ever smaller cuts (Gardeyn et al. 2025). The figures were tuned on the strip
// instances.
const (
	exploreShare    = 0.8 // of the budget
	exploreStep     = 0.001
	exploreStrikes  = 3
	explorePatience = 200
	hastyStep       = 0.04 // cuts while they succeed easily
	hastyPatience   = 12

	compressFrom     = 0.002
	compressTo       = 0.00002
	compressStrikes  = 5
	compressPatience = 100
)

// shortening is the state of a field being shortened.
type shortening struct {
	*Searcher
	fld   int
	best  *state
	len   float64
	bound float64 // no shorter length can hold the pieces
	from  float64 // share of the budget spent at the start
	found func()
}

func (s *Searcher) shorten(fld int, bound float64, found func()) *shortening {
	h := &shortening{Searcher: s, fld: fld, best: newState(s.w), bound: math.Max(0, bound), found: found}
	h.from = s.spent(s.evaluations())
	h.keep()
	h.explore(h.from + float64(exploreShare*(1-h.from)))
	h.compress()
	s.w.fields[fld].w = h.len
	s.cur.copyFrom(h.best)
	return h
}

func (h *shortening) keep() {
	h.len = h.length(h.fld)
	h.best.copyFrom(h.cur)
	if h.found != nil {
		h.found()
	}
}

type attempt struct {
	loss  float64
	spots []Spot
}

// poolMost bounds how many failures are remembered.
const poolMost = 40

func (h *shortening) explore(until float64) {
	step := hastyStep
	var pool []attempt
	for !h.over(until) && h.len > h.bound {
		h.cur.copyFrom(h.best)
		if !h.resize(h.len * (1 - step)) {
			if step /= 2; step < exploreStep {
				return // the longest piece lies as short as it can
			}
			continue
		}
		if step > exploreStep {
			before := h.rounds
			if ok, _ := h.separate(1, hastyPatience, until); ok {
				h.keep()
				if h.rounds-before > hastyPatience {
					step = math.Max(exploreStep, step*0.7)
				}
			} else {
				step = math.Max(exploreStep, step/2)
			}
			continue
		}
		pool = pool[:0]
		for {
			ok, loss := h.separate(exploreStrikes, explorePatience, until)
			if ok {
				h.keep()
				break
			}
			if h.over(until) {
				return
			}
			pool = remember(pool, loss, h.cur.spots())
			h.again(pool)
		}
	}
}

// again starts from one of the failures, more likely a better one, with two large pieces exchanged.
func (s *Searcher) again(pool []attempt) {
	k := min(len(pool)-1, int(math.Abs(s.normal())*float64(len(pool))/4))
	for i, sp := range pool[k].spots {
		s.restore(i, sp, sp.Field)
	}
	s.exchange()
	s.remeasure()
}

func (h *shortening) compress() {
	begin := h.spent(h.evaluations())
	for !h.over(1) && h.len > h.bound {
		t := (h.spent(h.evaluations()) - begin) / math.Max(1e-9, 1-begin)
		less := compressFrom * math.Pow(compressTo/compressFrom, t) * h.len
		h.cur.copyFrom(h.best)
		cut := float64(h.rng.float()*h.len) + h.w.fields[h.fld].ox
		for i := range h.w.n {
			if int(h.cur.fld[i]) != h.fld {
				continue
			}
			f := h.cur.form[i].fit
			if h.cur.x[i]+(f.lox+f.hix)/2 > cut {
				h.cur.put(i, h.cur.form[i], h.cur.fld[i], h.cur.x[i]-less, h.cur.y[i])
			}
		}
		if !h.resize(h.len - less) {
			return
		}
		if ok, _ := h.separate(compressStrikes, compressPatience, 1); ok {
			h.keep()
		}
	}
}

// resize sets the field's length and brings pieces beyond its end back in. It reports whether each still fits.
func (h *shortening) resize(length float64) bool {
	h.w.fields[h.fld].w = length
	fits := true
	for i := range h.w.n {
		if int(h.cur.fld[i]) == h.fld && !h.cur.clamp(i) {
			fits = false
		}
	}
	h.remeasure()
	return fits
}

// largeShare is the share of the total hull area that the large pieces make up.
const largeShare = 0.75

// exchange swaps two large pieces of different kinds.
func (s *Searcher) exchange() {
	order := s.w.largeFirst()
	sum, all := 0.0, 0.0
	hull := func(i int) float64 { k := s.w.pieces[i]; return k.length * k.length }
	for i := range s.w.n {
		all += hull(i)
	}
	large := 0
	for large < len(order) && sum < largeShare*all {
		sum += hull(order[large])
		large++
	}
	a := order[s.rng.intn(large)]
	var others []int
	for _, b := range order[:large] {
		if s.w.pieces[b] != s.w.pieces[a] {
			others = append(others, b)
		}
	}
	if len(others) == 0 {
		return
	}
	s.swap(a, others[s.rng.intn(len(others))])
}

func (s *Searcher) swap(a, b int) {
	st := s.cur
	middle := func(i int) (x, y float64) {
		f := st.form[i].fit
		return st.x[i] + (f.lox+f.hix)/2, st.y[i] + (f.loy+f.hiy)/2
	}
	ax, ay := middle(a)
	bx, by := middle(b)
	fa, fb := st.fld[a], st.fld[b]
	st.put(a, st.form[a], fb, st.x[a]+bx-ax, st.y[a]+by-ay)
	st.put(b, st.form[b], fa, st.x[b]+ax-bx, st.y[b]+ay-by)
	st.clamp(a)
	st.clamp(b)
}
