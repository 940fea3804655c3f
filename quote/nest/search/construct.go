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

// construct lays the pieces on a strip one after the other, each where its far end comes to lie nearest to the start
// among places beside pieces already there.
func (s *Searcher) construct() {
	fd := &s.w.fields[0]
	k := s.workers[0]
	st := &k.state
	st.copyFrom(s.cur)
	for i := range k.weight {
		k.weight[i] = 1
	}
	far := 0.0
	for i := range s.w.n {
		st.box[i] = emptyBox() // not there yet
		far += math.Max(s.w.pieces[i].diam, 0)
	}
	fd.w = far * 1.01
	var there []int
	for _, i := range s.w.largeFirst() {
		best := place{loss: math.Inf(1)}
		for _, p := range s.turns(i) {
			f := k.shape(i, &p)
			lox, loy, hix, hiy, ok := fd.room(f)
			if !ok {
				continue
			}
			try := func(x, y float64) {
				if x < lox || x > hix || y < loy || y > hiy {
					return
				}
				end := x + f.fit.hix
				if end > best.loss || (end == best.loss && y >= best.y) {
					return
				}
				if k.evaluate(i, f, x, y, math.SmallestNonzeroFloat64) == 0 {
					best = place{form: p.form, turn: p.turn, mirrored: p.mirrored, x: x, y: y, loss: end}
				}
			}
			try(lox, loy)
			try(lox, hiy)
			for _, j := range there {
				b := &st.box[j]
				r, l, u, d := b.hix-f.box.lox, b.lox-f.box.lox, b.hiy-f.box.loy, b.loy-f.box.hiy
				v, t := b.loy-f.box.loy, b.hiy-f.box.hiy
				h := b.hix - f.box.hix
				try(r, loy)
				try(r, hiy)
				try(r, v)
				try(r, t)
				try(lox, u)
				try(lox, d)
				try(l, u)
				try(l, d)
				try(h, u)
				try(h, d)
			}
		}
		st.put(i, k.shape(i, &best), 0, best.x, best.y)
		there = append(there, i)
	}
	s.cur.copyFrom(st)
	fd.w = s.length()
	s.remeasure()
}

// turns is the turns tried for a piece in a first layout.
func (s *Searcher) turns(i int) []place {
	k := s.w.pieces[i]
	var out []place
	if k.free {
		for t := range 4 {
			out = append(out, place{turn: float64(t) * 90})
		}
		return out
	}
	for _, f := range k.forms[:min(4, len(k.forms))] {
		out = append(out, place{form: f, turn: f.turn, mirrored: f.mirrored})
	}
	return out
}
