package proof

import "slices"

const (
	manyWorks     = 40 // from so many pieces of work on, large neighbourhoods are tried too
	neighbourhood = 100
)

// Round searches for a number of conflicts, in one of three ways, by turns.
func (s *Search) Round(turn, conflicts int, stop func() bool) {
	switch {
	case len(s.hint) == 0: // nothing found yet
		s.under(nil, conflicts, stop)
	case turn%2 == 1:
		s.destroy(conflicts, stop)
	case s.n >= manyWorks && turn%4 != 0:
		s.neighbours(conflicts, stop)
	default:
		s.Run(conflicts, stop)
	}
}

// Raise refutes ends from the lower bound up (destructive improvement, Klein & Scholl 1999), each with a few conflicts at
// most: one after the other, or in steps that grow while they are refuted.
func (s *Search) Raise(conflicts int, growing bool, stop func() bool) {
	for step := int32(1); step > 0 && !s.dead && !stop(); {
		low := s.low(s.n)
		s.lower = max(s.lower, low)
		by := min(low+step-1, s.high(s.n))
		switch o := s.under([]literal{{2*s.n + 1, -by}}, conflicts, stop); {
		case o == Refuted:
			s.lower = max(s.lower, by+1)
			if s.From(by+1) && growing {
				step *= 2
			}
		case growing && o == Undecided:
			step /= 2
		case !growing || o != Improved:
			return
		}
	}
}

// destroy improves both bounds at once (destructive improvement, Klein & Scholl 1999): it assumes that all work ends by a time
// between them, and either finds a schedule or refutes the time.
func (s *Search) destroy(conflicts int, stop func() bool) {
	end := s.conflicts + conflicts
	for s.conflicts < end && !s.dead && !stop() {
		low, high := s.low(s.n), s.high(s.n)
		by := low + (high-low)/2
		switch s.under([]literal{{2*s.n + 1, -by}}, end-s.conflicts, stop) {
		case Improved:
		case Refuted:
			s.lower = max(s.lower, by+1)
			s.From(by + 1)
		default:
			return
		}
	}
}

// neighbours keeps the order of the best schedule outside a random stretch of time and searches what that leaves open
// (large-neighbourhood search, Shaw 1998; over partial orders, Godard, Laborie & Nuijten 2005).
func (s *Search) neighbours(conflicts int, stop func() bool) {
	end := s.conflicts + conflicts
	var kept []literal
	for s.conflicts < end && s.Placements() < s.quota && !s.dead && !stop() {
		h := s.hint
		order := make([]int32, s.n)
		for i := range order {
			order[i] = int32(i)
		}
		slices.SortStableFunc(order, func(a, b int32) int { return int(h[a] - h[b]) })
		size := max(2, int(s.share*float64(s.n)))
		at := s.draw.IntN(int(s.n) - min(size, int(s.n)) + 1)
		free := make([]bool, s.n)
		for _, i := range order[at:min(at+size, int(s.n))] {
			free[i] = true
		}
		kept = kept[:0]
		for k, p := range s.pairs {
			if free[p.a] || free[p.b] {
				continue
			}
			v := s.first + int32(k)
			if h[p.a] <= h[p.b] {
				kept = append(kept, literal{2 * v, 1})
			} else {
				kept = append(kept, literal{2*v + 1, 0})
			}
		}
		switch s.under(kept, min(end-s.conflicts, neighbourhood), stop) {
		case Refuted:
			s.share = min(1, s.share*1.05)
		case Undecided:
			s.share = max(0.05, s.share*0.95)
		}
	}
}
