package search

import (
	"cmp"
	"math"
	"slices"

	"benchbell/quote/geom"
)

// Budget says what share of it is spent after so many evaluations; at 1 the search ends.
type Budget func(evaluations int) float64

// newSearcher prepares a search for pieces of the kinds given by index.
func newSearcher(kinds []*kind, pieces []int, fields []Field, gap float64, workers int, seed uint64, spent Budget) *Searcher {
	w := &world{kinds: kinds, n: len(pieces)}
	for _, p := range pieces {
		w.pieces = append(w.pieces, kinds[p])
	}
	ox := 0.0
	for i, f := range fields {
		w.fields = append(w.fields, field{w: f.Width, h: f.Height, ox: ox, open: true})
		for _, b := range f.Blocks {
			k := newKind(Part{True: b, Rough: b, Turns: []float64{0}}, 0)
			w.blocks = append(w.blocks, block2{k.forms[0], i})
		}
		ox += f.Width + 2*gap + f.Width*0.05
	}
	w.m = w.n + len(w.blocks)
	s := &Searcher{w: w, weight: make([]float64, w.m*w.m), spent: spent, rng: newPCG(seed, 0x6e657374)}
	s.cur, s.least = newState(w), newState(w)
	for i := range max(1, workers) {
		k := &worker{weight: s.weight, rng: newPCG(seed, uint64(i)+1)}
		k.state = *newState(w)
		k.built = make([]*form, w.n)
		for p, kd := range w.pieces {
			if kd.free {
				k.built[p] = newForm(kd)
				k.built[p].set(0, false)
			}
		}
		s.workers = append(s.workers, k)
	}
	for i, b := range w.blocks {
		s.cur.put(w.n+i, b.form, int32(b.field), w.fields[b.field].ox, 0)
	}
	return s
}

// remeasure works out all losses of the current layout.
func (s *Searcher) remeasure() {
	w := s.workers[0]
	w.state.copyFrom(s.cur)
	w.measure()
	s.cur.copyFrom(&w.state)
}

// length is how far the pieces reach.
func (s *Searcher) length() float64 {
	most := 0.0
	for i := range s.w.n {
		most = math.Max(most, s.cur.x[i]+s.cur.form[i].fit.hix)
	}
	return most
}

// StripResult is a layout on a strip and the length it takes.
type StripResult struct {
	Length      float64
	Spots       []Spot
	Evaluations int
}

// Effort of the phases.
const (
	exploreShare    = 0.8
	exploreStep     = 0.001
	exploreStrikes  = 3
	explorePatience = 200
	compressStrikes = 5
	compressPat     = 100
	stepMost        = 0.04
	hastyPatience   = 12
)

// Strip packs pieces on a strip of a height over as short a length as it finds.
func Strip(parts []Part, pieces []int, height, grow float64, workers int, seed uint64, spent Budget, found func(StripResult)) StripResult {
	kinds := make([]*kind, len(parts))
	var area float64
	for i, p := range parts {
		kinds[i] = newKind(p, grow)
	}
	for _, p := range pieces {
		area += kinds[p].area
	}
	s := newSearcher(kinds, pieces, []Field{{Width: 1, Height: height}}, 2*grow, workers, seed, spent)
	s.construct()
	best := newState(s.w)
	bestLen := 0.0
	keep := func() {
		bestLen = s.length()
		best.copyFrom(s.cur)
		if found != nil {
			found(StripResult{bestLen, best.spots(), s.evaluations()})
		}
	}
	keep()
	bound := area / height
	s.explore(best, &bestLen, bound, keep)
	s.compress(best, &bestLen, bound, keep)
	return StripResult{bestLen, best.spots(), s.evaluations()}
}

type attempt struct {
	loss float64
	st   *state
}

func (s *Searcher) explore(best *state, bestLen *float64, bound float64, keep func()) {
	step := stepMost
	var pool []attempt
	for !s.over(exploreShare) && *bestLen > bound {
		s.cur.copyFrom(best)
		s.resize(*bestLen * (1 - step))
		if step > exploreStep {
			before := s.rounds
			if ok, _ := s.separate(1, hastyPatience, exploreShare); ok {
				keep()
				if s.rounds-before > hastyPatience {
					step = math.Max(exploreStep, step*0.7)
				}
			} else {
				step = math.Max(exploreStep, step/2)
			}
			continue
		}
		pool = pool[:0]
		for {
			ok, loss := s.separate(exploreStrikes, explorePatience, exploreShare)
			if ok {
				keep()
				break
			}
			if s.over(exploreShare) {
				return
			}
			st := newState(s.w)
			st.copyFrom(s.cur)
			at, _ := slices.BinarySearchFunc(pool, loss, func(a attempt, l float64) int { return cmp.Compare(a.loss, l) })
			pool = slices.Insert(pool, at, attempt{loss, st})
			// The better an attempt, the likelier it is begun from again.
			k := min(len(pool)-1, int(math.Abs(s.normal())*float64(len(pool))/4))
			s.cur.copyFrom(pool[k].st)
			s.exchange()
			s.remeasure()
		}
	}
}

// normal is a standard normal deviate, near enough (sum of twelve).
func (s *Searcher) normal() float64 {
	sum := -6.0
	for range 12 {
		sum += s.rng.float()
	}
	return sum
}

// resize sets the strip's length; pieces beyond its end come back in.
func (s *Searcher) resize(length float64) {
	s.w.fields[0].w = length
	for i := range s.w.n {
		s.cur.clamp(i)
	}
	s.remeasure()
}

// exchange lets two large pieces of different kinds change places.
func (s *Searcher) exchange() {
	order := make([]int, s.w.n)
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(s.w.pieces[b].length, s.w.pieces[a].length) })
	large := 0
	sum, all := 0.0, 0.0
	for _, p := range s.w.pieces {
		all += p.length * p.length
	}
	for _, i := range order {
		large++
		if sum += s.w.pieces[i].length * s.w.pieces[i].length; sum > 0.75*all {
			break
		}
	}
	large = max(large, min(2, s.w.n))
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
	centre := func(i int) (x, y float64) {
		f := st.form[i].fit
		return st.x[i] + (f.lox+f.hix)/2, st.y[i] + (f.loy+f.hiy)/2
	}
	ax, ay := centre(a)
	bx, by := centre(b)
	fa, fb := st.fld[a], st.fld[b]
	st.put(a, st.form[a], fb, st.x[a]+bx-ax, st.y[a]+by-ay)
	st.put(b, st.form[b], fa, st.x[b]+ax-bx, st.y[b]+ay-by)
	st.clamp(a)
	st.clamp(b)
}

const (
	compressFrom = 0.002
	compressTo   = 0.00002
)

func (s *Searcher) compress(best *state, bestLen *float64, bound float64, keep func()) {
	begin := s.spent(s.evaluations())
	for !s.over(1) && *bestLen > bound {
		t := (s.spent(s.evaluations()) - begin) / math.Max(1e-9, 1-begin)
		step := compressFrom * math.Pow(compressTo/compressFrom, t)
		s.cur.copyFrom(best)
		cut := s.rng.float() * *bestLen
		less := step * *bestLen
		for i := range s.w.n {
			f := s.cur.form[i].fit
			if s.cur.x[i]+(f.lox+f.hix)/2 > cut {
				s.cur.put(i, s.cur.form[i], 0, s.cur.x[i]-less, s.cur.y[i])
			}
		}
		s.resize(*bestLen - less)
		if ok, _ := s.separate(compressStrikes, compressPat, 1); ok {
			keep()
		}
	}
}

var _ = geom.Pt
