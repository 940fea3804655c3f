package search

import (
	"cmp"
	"math"
	"slices"
)

// largeFirst is the pieces from large to small: by hull area and diameter.
func (w *world) largeFirst() []int {
	o := make([]int, w.n)
	for i := range o {
		o[i] = i
	}
	size := func(i int) float64 { k := w.pieces[i]; return k.length * k.length * k.diam }
	slices.SortStableFunc(o, func(a, b int) int { return cmp.Compare(size(b), size(a)) })
	return o
}

// absent takes all pieces off the fields: nothing meets them.
func (s *Searcher) absent() {
	for i := range s.w.n {
		s.cur.box[i] = emptyBox()
	}
}

// first lays the pieces, large ones first, on the fields in turn, and returns those that have no place.
func (s *Searcher) first() (left []int) {
	s.absent()
	k := s.workers[0]
	k.state.copyFrom(s.cur)
	left = k.firstOn(s.w.largeFirst(), 0)
	s.cur.copyFrom(&k.state)
	s.remeasure()
	return left
}

// firstOn lays pieces, in their order, on the first field from one on that has room.
func (w *worker) firstOn(pieces []int, from int) (left []int) {
	s := &w.state
	there := make([][]int, len(s.w.fields))
	for _, i := range pieces {
		placed := false
		for f := from; f < len(s.w.fields) && !placed; f++ {
			var p place
			if p, placed = w.lay(i, int32(f), there[f]); placed {
				s.put(i, w.shape(i, &p), p.fld, p.x, p.y)
				there[f] = append(there[f], i)
			}
		}
		if !placed {
			left = append(left, i)
		}
	}
	return left
}

// lay is the free place in a field, beside pieces and blocks there, where piece i's far end lies nearest to the start.
func (w *worker) lay(i int, fld int32, there []int) (place, bool) {
	s := &w.state
	fd := &s.w.fields[fld]
	best := place{loss: math.Inf(1)}
	tol := fitSlack * (fd.w + fd.h)
	for _, p := range s.w.pieces[i].firstTurns() {
		f := w.shape(i, &p)
		lox, loy, hix, hiy, ok := fd.room(f)
		if !ok {
			continue
		}
		try := func(x, y float64) {
			// What overhangs by a rounding is pushed back: fits may be exact.
			if x < lox-tol || x > hix+tol || y < loy-tol || y > hiy+tol {
				return
			}
			x, y = between(x, lox, hix), between(y, loy, hiy)
			end := x + f.fit.hix
			if end > best.loss || (end == best.loss && y >= best.y) {
				return
			}
			if w.evaluate(i, f, fd.ox+x, y, math.SmallestNonzeroFloat64) == 0 {
				best = p
				best.fld, best.x, best.y, best.loss = fld, x, y, end
			}
		}
		beside := func(b box) {
			right, left := b.hix-fd.ox-f.box.lox, b.lox-fd.ox-f.box.lox
			over, under := b.hiy-f.box.loy, b.loy-f.box.hiy
			flush := b.hix - fd.ox - f.box.hix
			for _, y := range [4]float64{loy, hiy, b.loy - f.box.loy, b.hiy - f.box.hiy} {
				try(right, y)
			}
			for _, x := range [3]float64{lox, left, flush} {
				try(x, over)
				try(x, under)
			}
		}
		try(lox, loy)
		try(lox, hiy)
		for _, j := range there {
			beside(s.box[j])
			for _, c := range s.form[j].hollows {
				x, y := c.X+s.x[j]-fd.ox, c.Y+s.y[j]
				try(x-f.box.lox, y-f.box.loy)
				try(x-f.box.lox, y-f.box.hiy)
				try(x-f.box.hix, y-f.box.loy)
				try(x-f.box.hix, y-f.box.hiy)
			}
		}
		for j := s.w.n; j < s.w.m; j++ {
			if s.fld[j] == fld {
				beside(s.box[j])
			}
		}
	}
	best.x += fd.ox
	return best, !math.IsInf(best.loss, 1)
}

// firstTurns is the turns tried in a first layout.
func (k *Kind) firstTurns() []place {
	var out []place
	if k.free {
		for t := range 4 {
			out = append(out, place{turn: math.Mod(k.flat+float64(t)*90, 360)})
		}
		return out
	}
	for _, f := range k.forms[:min(4, len(k.forms))] {
		out = append(out, place{form: f, turn: f.turn, mirrored: f.mirrored})
	}
	return out
}
