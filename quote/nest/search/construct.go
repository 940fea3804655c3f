package search

import (
	"cmp"
	"math"
	"slices"
)

// largeFirst lists the pieces from large to small, by hull area and diameter, higher ranks first.
func (w *world) largeFirst() []int {
	o := make([]int, w.n)
	for i := range o {
		o[i] = i
	}
	size := func(i int) float64 { k := w.pieces[i]; return k.length * k.length * k.diam }
	slices.SortStableFunc(o, func(a, b int) int {
		if w.rank != nil && w.rank[a] != w.rank[b] {
			return w.rank[b] - w.rank[a]
		}
		return cmp.Compare(size(b), size(a))
	})
	return o
}

// absent takes all pieces off the fields, so that nothing collides with them.
func (s *Searcher) absent() {
	for i := range s.w.n {
		s.cur.box[i] = emptyBox()
	}
}

// first places the pieces, large ones first, on the fields in turn, and returns those without a place.
func (s *Searcher) first() (left []int) {
	s.absent()
	k := s.workers[0]
	k.state.copyFrom(s.cur)
	left = k.firstOn(s.w.largeFirst(), 0)
	s.cur.copyFrom(&k.state)
	s.remeasure()
	return left
}

// firstOn places pieces, in order, on the first field from number from on that has room.
func (w *worker) firstOn(pieces []int, from int) (left []int) {
	s := &w.state
	there := make([][]int, len(s.w.fields))
	w.dead, w.laid = make([][slots]uint8, s.w.m), 0
	for _, i := range pieces {
		w.laid++
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

const (
	// slots is how many places beside another piece are tried.
	slots = 14
	// hollowSlots is the first of those within a hollow of it.
	hollowSlots = 10
	// restMost: once nothing has fitted beside a piece so many times in a row, it is tried only for one piece in two to the
	// power of this.
	restMost = 5
)

// lay is the free place for piece i in a field, beside the pieces and blocks already there, at which its far end is nearest
// to the start.
func (w *worker) lay(i int, fld int32, there []int) (place, bool) {
	s := &w.state
	fd := &s.w.fields[fld]
	best := place{loss: math.Inf(1)}
	tol := fitSlack * (fd.w + fd.h)
	turns := s.w.pieces[i].firstTurns()
	// A slot is tried in all turns; it counts against the piece if none of them fits.
	var fails, frees int
	try := func(p *place, f *form, x, y float64) {
		lox, loy, hix, hiy, ok := fd.room(f)
		// What sticks out by a rounding error is pushed back: a fit may be exact.
		if !ok || x < lox-tol || x > hix+tol || y < loy-tol || y > hiy+tol {
			return
		}
		x, y = between(x, lox, hix), between(y, loy, hiy)
		end := x + f.fit.hix
		if end > best.loss || (end == best.loss && y >= best.y) {
			return
		}
		if w.evaluate(i, f, fd.ox+x, y, math.SmallestNonzeroFloat64) > 0 {
			fails++
			return
		}
		frees++
		best = *p
		best.fld, best.x, best.y, best.loss = fld, x, y, end
	}
	for n := range turns {
		p := &turns[n]
		f := w.shape(i, p)
		if _, loy, _, hiy, ok := fd.room(f); ok {
			try(p, f, -f.fit.lox, loy)
			try(p, f, -f.fit.lox, hiy)
		}
	}
	beside := func(j int) {
		b, g := s.box[j], s.form[j]
		left, right, low, high := b.lox-fd.ox, b.hix-fd.ox, b.loy, b.hiy
		for slot := range slots {
			if w.laid&(1<<w.dead[j][slot]-1) != 0 {
				continue
			}
			fails, frees = 0, 0
			for n := range turns {
				p := &turns[n]
				f := w.shape(i, p)
				if slot < hollowSlots {
					x, y := slotAt(slot, f, left, right, low, high, fd.h)
					try(p, f, x, y)
					continue
				}
				for _, q := range g.hollows {
					x, y := hollowAt(slot, f, q.X+s.x[j]-fd.ox, q.Y+s.y[j])
					try(p, f, x, y)
				}
			}
			if frees > 0 {
				w.dead[j][slot] = 0
			} else if fails > 0 && w.dead[j][slot] < restMost {
				w.dead[j][slot]++
			}
		}
	}
	for _, j := range there {
		beside(j)
	}
	for j := s.w.n; j < s.w.m; j++ {
		if s.fld[j] == fld {
			beside(j)
		}
	}
	best.x += fd.ox
	return best, !math.IsInf(best.loss, 1)
}

// slotAt is where a form is put for it to lie in a slot beside the box of another piece, in a field h high.
func slotAt(slot int, f *form, left, right, low, high, h float64) (x, y float64) {
	c := f.box
	switch slot {
	case 0:
		return right - c.lox, low - c.loy
	case 1:
		return right - c.lox, high - c.hiy
	case 2:
		return right - c.lox, -f.fit.loy
	case 3:
		return right - c.lox, h - f.fit.hiy
	case 4:
		return left - c.lox, high - c.loy
	case 5:
		return left - c.lox, low - c.hiy
	case 6:
		return right - c.hix, high - c.loy
	case 7:
		return right - c.hix, low - c.hiy
	case 8:
		return -f.fit.lox, high - c.loy
	default:
		return -f.fit.lox, low - c.hiy
	}
}

// hollowAt is where a form is put for a corner of its box to lie in a hollow of another piece.
func hollowAt(slot int, f *form, hx, hy float64) (x, y float64) {
	c := f.box
	x, y = hx-c.lox, hy-c.loy
	if slot == hollowSlots+2 || slot == hollowSlots+3 {
		x = hx - c.hix
	}
	if slot == hollowSlots+1 || slot == hollowSlots+3 {
		y = hy - c.hiy
	}
	return x, y
}

// firstTurns are the turns tried in a first layout.
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
