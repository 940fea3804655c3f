package search

import (
	"math"
	"sync"
)

// Guided local search (Umetani et al. 2009, Gardeyn et al. 2025): the weight of a pair grows while it collides, faster the
// deeper the overlap, and fades once the pair is free, so that a stuck pair becomes expensive and gives way.
const (
	weightUpLeast = 1.2
	weightUpMost  = 2.0
	weightFade    = 0.95
	// gain is the share to which the loss must fall for a round to count as progress.
	gain = 0.98
)

// total is the sum of all losses, plain and weighted.
func (s *Searcher) total(st *state) (plain, weighted float64, colliding int) {
	m := s.w.m
	for i := range s.w.n {
		if st.hits[i] == 0 {
			continue
		}
		colliding++
		row, weight := st.loss[i*m:i*m+m], s.weight[i*m:i*m+m]
		for j := range row {
			// Each pair once; pieces that do not move have no row of their own here.
			if l := row[j]; l > 0 && (j > i) {
				plain += l
				weighted += float64(l * weight[j])
			}
		}
	}
	return plain, weighted, colliding
}

// round lets each worker move all colliding pieces in its own order, and keeps the best outcome.
func (s *Searcher) round() {
	var wg sync.WaitGroup
	for _, w := range s.workers[1:] {
		wg.Add(1)
		go func() {
			defer wg.Done()
			w.pass(s.cur)
		}()
	}
	s.workers[0].pass(s.cur)
	wg.Wait()
	best, at := math.Inf(1), 0
	for i, w := range s.workers {
		if _, l, _ := s.total(&w.state); l < best {
			best, at = l, i
		}
	}
	s.cur.copyFrom(&s.workers[at].state)
	s.rounds++
}

// pass moves all colliding pieces of a copy of the layout, once each.
func (w *worker) pass(from *state) {
	w.state.copyFrom(from)
	w.order = w.order[:0]
	for i := range w.state.w.n {
		if w.state.hits[i] > 0 {
			w.order = append(w.order, i)
		}
	}
	w.rng.shuffle(w.order)
	for _, i := range w.order {
		if w.state.hits[i] > 0 {
			w.relocate(i)
		}
	}
}

func (s *Searcher) reweigh() {
	m := s.w.m
	most := 0.0
	for _, l := range s.cur.loss {
		most = math.Max(most, l)
	}
	for i := range s.w.n {
		row := s.cur.loss[i*m : i*m+m]
		for j := i + 1; j < m; j++ {
			w := s.weight[i*m+j]
			if l := row[j]; l > 0 {
				w *= weightUpLeast + float64((weightUpMost-weightUpLeast)*l/most)
			} else if w > 1 {
				w = math.Max(1, w*weightFade)
			} else {
				continue
			}
			s.weight[i*m+j], s.weight[j*m+i] = w, w
		}
	}
}

// separate moves pieces until none overlap, and reports whether it succeeded. It gives up after strikes times patience
// rounds without progress, or once the share of the budget is spent; the layout with the least loss stays.
func (s *Searcher) separate(strikes, patience int, share float64) (ok bool, loss float64) {
	for i := range s.weight {
		s.weight[i] = 1
	}
	least, _, n := s.total(s.cur)
	if n == 0 {
		return true, 0
	}
	s.least.copyFrom(s.cur)
	for strike := 0; strike < strikes; {
		begin := least
		for quiet := 0; quiet < patience; quiet++ {
			s.round()
			l, _, n := s.total(s.cur)
			if n == 0 {
				return true, 0
			}
			if l < least {
				if l < least*gain {
					quiet = -1
				}
				least = l
				s.least.copyFrom(s.cur)
			}
			s.reweigh()
			if s.over(share) {
				s.cur.copyFrom(s.least)
				return false, least
			}
		}
		if least < begin*gain {
			strike = 0
		} else {
			strike++
		}
		s.cur.copyFrom(s.least)
	}
	return false, least
}
