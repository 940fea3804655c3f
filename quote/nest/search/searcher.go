package search

import "math"

// Budget returns the share of the budget spent after so many evaluations; at 1 the search ends. With a budget that reads a
// clock the outcome depends on the machine; with one that only divides it depends on the request alone.
type Budget func(evaluations int) float64

// Searcher holds a layout being searched.
type Searcher struct {
	w       *world
	workers []*worker
	weight  []float64 // m by m, symmetric, 1 or more
	cur     *state
	least   *state // the best of one separation
	rng     *pcg
	spent   Budget
	before  int // evaluations made by earlier searchers on the same budget
	rounds  int
}

// stream separates these random numbers from another engine's with the same seed.
const stream = 0x6e657374

// newSearcher prepares a search for pieces of given kinds, with no places set yet.
func newSearcher(pieces []*Kind, fields []*Field, workers int, seed uint64, spent Budget) *Searcher {
	w := &world{n: len(pieces), pieces: pieces}
	ox := 0.0
	for i, f := range fields {
		w.fields = append(w.fields, field{w: f.Width, h: f.Height, ox: ox})
		for _, b := range f.blocks {
			w.blocks = append(w.blocks, obstacle{b, i})
		}
		ox += f.Width * fieldStride
	}
	w.m = w.n + len(w.blocks)
	s := &Searcher{w: w, weight: make([]float64, w.m*w.m), spent: spent, rng: newPCG(seed, stream)}
	for i := range s.weight {
		s.weight[i] = 1
	}
	s.cur, s.least = newState(w), newState(w)
	edges := 0
	for _, k := range pieces {
		edges = max(edges, len(k.ring))
	}
	for _, b := range w.blocks {
		edges = max(edges, len(b.form.edges))
	}
	for i := range max(1, workers) {
		k := &worker{weight: s.weight, rng: newPCG(seed, stream+1+uint64(i)), built: make([]*form, w.n),
			near: make([]int32, 0, edges), order: make([]int, 0, w.n)}
		k.state = *newState(w)
		for p, kd := range pieces {
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

// fieldStride is how far apart fields lie in the plane, as a multiple of their width: far enough that grown outlines of
// neighbouring fields never meet. Gaps are far smaller than sheets.
const fieldStride = 3

// evaluations is the number of places tried by all workers together.
func (s *Searcher) evaluations() int {
	n := s.before
	for _, w := range s.workers {
		n += w.evals
	}
	return n
}

func (s *Searcher) over(share float64) bool { return s.spent(s.evaluations()) >= share }

// remeasure computes all losses of the current layout. It counts as an evaluation, so that a search whose every step
// succeeds at once still uses up its budget.
func (s *Searcher) remeasure() {
	w := s.workers[0]
	w.evals++
	w.state.copyFrom(s.cur)
	w.measure()
	s.cur.copyFrom(&w.state)
}

// length is how far the pieces in a field reach.
func (s *Searcher) length(fld int) float64 {
	most := 0.0
	for i := range s.w.n {
		if int(s.cur.fld[i]) == fld {
			most = math.Max(most, s.cur.x[i]-s.w.fields[fld].ox+s.cur.form[i].fit.hix)
		}
	}
	return most
}

// normal is a standard normal deviate, closely enough (a sum of twelve).
func (s *Searcher) normal() float64 {
	sum := -6.0
	for range 12 {
		sum += s.rng.float()
	}
	return sum
}
