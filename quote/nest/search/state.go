package search

import "math"

// state is where every piece lies, and how badly each pair overlaps.
type state struct {
	w    *world
	x, y []float64 // in the plane shared by all fields
	fld  []int32
	form []*form
	own  []*form // of pieces that may turn freely: their form is theirs alone
	box  []box
	loss []float64 // m by m, symmetric
	hits []int32   // how many others each overlaps
}

func newState(w *world) *state {
	s := &state{w: w, x: make([]float64, w.m), y: make([]float64, w.m), fld: make([]int32, w.m), form: make([]*form, w.m),
		own: make([]*form, w.n), box: make([]box, w.m), loss: make([]float64, w.m*w.m), hits: make([]int32, w.m)}
	for i, k := range w.pieces {
		if k.free {
			s.own[i] = newForm(k)
			s.own[i].set(0, false)
			s.form[i] = s.own[i]
		} else {
			s.form[i] = k.forms[0]
		}
	}
	for i, b := range w.blocks {
		s.form[w.n+i], s.fld[w.n+i] = b.form, int32(b.field)
	}
	return s
}

func (s *state) copyFrom(o *state) {
	copy(s.x, o.x)
	copy(s.y, o.y)
	copy(s.fld, o.fld)
	copy(s.box, o.box)
	copy(s.loss, o.loss)
	copy(s.hits, o.hits)
	for i, f := range o.form {
		if i >= s.w.n || s.own[i] == nil {
			s.form[i] = f
			continue
		}
		if s.own[i].turn != f.turn || s.own[i].mirrored != f.mirrored {
			s.own[i].copyFrom(f)
		}
	}
}

func (f *form) copyFrom(o *form) {
	f.turn, f.mirrored, f.box, f.fit = o.turn, o.mirrored, o.box, o.fit
	copy(f.edges, o.edges)
	copy(f.blocks, o.blocks)
	copy(f.poles, o.poles)
	copy(f.hollows, o.hollows)
}

// put moves a piece, given its place in the field's plane, without measuring its overlaps.
func (s *state) put(i int, f *form, fld int32, x, y float64) {
	if i < s.w.n && s.own[i] != nil {
		if f != s.own[i] && (s.own[i].turn != f.turn || s.own[i].mirrored != f.mirrored) {
			s.own[i].copyFrom(f)
		}
		f = s.own[i]
	}
	s.form[i], s.fld[i], s.x[i], s.y[i] = f, fld, x, y
	s.box[i] = f.box.moved(x, y)
}

// clamp brings a piece back into its field.
func (s *state) clamp(i int) bool {
	fd := &s.w.fields[s.fld[i]]
	lox, loy, hix, hiy, ok := fd.room(s.form[i])
	x, y := between(s.x[i]-fd.ox, lox, hix)+fd.ox, between(s.y[i], loy, hiy)
	if x != s.x[i] || y != s.y[i] {
		s.put(i, s.form[i], s.fld[i], x, y)
	}
	return ok
}

func between(v, lo, hi float64) float64 {
	if v < lo {
		return lo
	}
	if v > hi {
		return hi
	}
	return v
}

// spots is the layout for callers.
func (s *state) spots() []Spot {
	out := make([]Spot, s.w.n)
	s.copySpots(out)
	return out
}

func (s *state) copySpots(out []Spot) {
	for i := range out {
		f := s.form[i]
		out[i] = Spot{int(s.fld[i]), f.turn, f.mirrored, s.x[i] - s.w.fields[s.fld[i]].ox, s.y[i]}
	}
}

// measure computes every pair.
func (w *worker) measure() {
	s := &w.state
	m := s.w.m
	clear(s.loss)
	clear(s.hits)
	for i := range s.w.n {
		for j := i + 1; j < m; j++ {
			if !s.box[i].overlaps(s.box[j]) {
				continue
			}
			if l := w.pairLoss(s.form[i], s.form[j], s.x[j]-s.x[i], s.y[j]-s.y[i], math.Inf(1)); l > 0 {
				s.loss[i*m+j], s.loss[j*m+i] = l, l
				s.hits[i]++
				s.hits[j]++
			}
		}
	}
}

// remeasure recomputes the pairs of one piece.
func (w *worker) remeasure(i int) {
	s := &w.state
	m := s.w.m
	row := s.loss[i*m : i*m+m]
	for j := range m {
		l := 0.0
		if j != i && s.box[i].overlaps(s.box[j]) {
			l = w.pairLoss(s.form[i], s.form[j], s.x[j]-s.x[i], s.y[j]-s.y[i], math.Inf(1))
		}
		if l == row[j] {
			continue
		}
		if row[j] == 0 {
			s.hits[i]++
			s.hits[j]++
		} else if l == 0 {
			s.hits[i]--
			s.hits[j]--
		}
		row[j] = l
		s.loss[j*m+i] = l
	}
}
