package search

import (
	"math"
	"slices"
)

// A sheet that pieces fill without waste is found, if at all, by exact fit rather than by separating overlaps: at the
// leftmost lowest uncovered point some piece must have its own leftmost lowest corner, so each piece in each turn has just
// one place there, and what is left of the sheet must remain a sum of pieces.
const (
	jigsawShare = 0.3 // of the budget
	haltEvery   = 256
	// fullShare is the share of a sheet's area that counts as nothing left.
	fullShare = 1e-9
	// probeShare is how far from a point free room is looked for beside it, as a share of the sheet's height.
	probeShare = 1e-6
	probes     = 24
)

// jigsaw fills one field of a searcher completely from pieces not placed yet.
type jigsaw struct {
	w     *worker
	fld   int32
	area  float64
	free  []int // pieces not placed yet
	there []int
	halt  func() bool // checked now and then
	over  bool
}

// fill tries to cover the field; the pieces it placed stay there.
func (g *jigsaw) fill(left float64) bool {
	if left <= fullShare*g.area {
		return true
	}
	s := &g.w.state
	fd := &s.w.fields[g.fld]
	px, py, ok := g.notch()
	if !ok {
		return false
	}
	least := math.Inf(1)
	for _, i := range g.free {
		least = math.Min(least, s.w.pieces[i].area)
	}
	tol := fitSlack * (fd.w + fd.h)
	seen := []*Kind{}
	for n, i := range g.free {
		k := s.w.pieces[i]
		rest := left - k.area
		if rest < -fullShare*g.area || (rest > fullShare*g.area && rest < least*(1-fullShare)) || slices.Contains(seen, k) {
			continue
		}
		seen = append(seen, k)
		for _, f := range k.forms {
			if g.w.evals++; g.w.evals%haltEvery == 0 {
				g.over = g.over || g.halt()
			}
			if g.over {
				return false
			}
			cx, cy := f.lowest()
			x, y := px-cx, py-cy
			lox, loy, hix, hiy, fits := fd.room(f)
			if !fits || x < lox-tol || x > hix+tol || y < loy-tol || y > hiy+tol {
				continue
			}
			x, y = fd.ox+between(x, lox, hix), between(y, loy, hiy)
			if !g.clear(f, x, y) {
				continue
			}
			s.put(i, f, g.fld, x, y)
			g.free = slices.Delete(g.free, n, n+1)
			g.there = append(g.there, i)
			if g.fill(rest) {
				return true
			}
			g.there = g.there[:len(g.there)-1]
			g.free = slices.Insert(g.free, n, i)
			s.box[i] = emptyBox()
		}
	}
	return false
}

func (g *jigsaw) clear(f *form, x, y float64) bool {
	s := &g.w.state
	b := f.box.moved(x, y)
	for _, j := range g.there {
		if b.overlaps(s.box[j]) && g.w.collides(f, s.form[j], s.x[j]-x, s.y[j]-y) {
			return false
		}
	}
	return true
}

// lowest is the leftmost, then lowest corner of a form.
func (f *form) lowest() (x, y float64) {
	x, y = math.Inf(1), math.Inf(1)
	for i := range f.edges {
		if e := &f.edges[i]; e.ax < x || (e.ax == x && e.ay < y) {
			x, y = e.ax, e.ay
		}
	}
	return x, y
}

// notch is the leftmost, then lowest corner of the field or of a piece in it that has room to its right.
func (g *jigsaw) notch() (x, y float64, ok bool) {
	s := &g.w.state
	fd := &s.w.fields[g.fld]
	x, y = math.Inf(1), math.Inf(1)
	look := func(cx, cy float64) {
		if (cx < x || (cx == x && cy < y)) && g.roomBeside(cx, cy) {
			x, y, ok = cx, cy, true
		}
	}
	look(0, 0)
	look(0, fd.h)
	for _, j := range g.there {
		f := s.form[j]
		for i := range f.edges {
			look(f.edges[i].ax+s.x[j]-fd.ox, f.edges[i].ay+s.y[j])
		}
	}
	return x, y, ok
}

func (g *jigsaw) roomBeside(x, y float64) bool {
	s := &g.w.state
	fd := &s.w.fields[g.fld]
	d := probeShare * fd.h
	for n := range probes {
		sin, cos := math.Sincos(math.Pi * ((float64(n)+0.5)/probes - 0.5))
		px, py := x+float64(d*cos), y+float64(d*sin)
		if px <= 0 || py <= 0 || px >= fd.w || py >= fd.h {
			continue
		}
		covered := slices.ContainsFunc(g.there, func(j int) bool {
			return inside(s.form[j], px+fd.ox-s.x[j], py-s.y[j])
		})
		if !covered {
			return true
		}
	}
	return false
}

// jigsaw fills sheets of one kind without waste as long as it can, and the rest like a first layout. It is useful only if
// pieces have few turns and leave nothing between them.
func (t *stock) jigsaw(kind int) (StockResult, bool) {
	sh := &t.sheets[kind]
	if len(sh.blocks) > 0 || slices.ContainsFunc(t.pieces, func(k *Kind) bool { return k.free }) {
		return StockResult{}, false
	}
	most := len(t.best.Sheets)
	if sh.Count > 0 {
		most = min(most, sh.Count)
	}
	sheets := make([]int, most)
	for i := range sheets {
		sheets[i] = kind
	}
	s := t.searcher(sheets)
	s.absent()
	w := s.workers[0]
	w.state.copyFrom(s.cur)
	g := jigsaw{w: w, area: sh.Area, free: s.w.largeFirst(), halt: func() bool { return s.over(jigsawShare) }}
	full := 0
	for full < most && len(g.free) > 0 && !g.over {
		g.fld, g.there = int32(full), g.there[:0]
		if !g.fill(sh.Area) {
			for _, i := range g.there {
				w.state.box[i] = emptyBox()
			}
			break
		}
		full++
	}
	if full == 0 {
		t.evals = s.evaluations()
		return StockResult{}, false
	}
	left := w.firstOn(g.free, full)
	s.cur.copyFrom(&w.state)
	s.remeasure()
	t.evals = s.evaluations()
	return t.result(s, sheets, left), true
}
