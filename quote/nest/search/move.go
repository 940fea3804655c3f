package search

import "math"

// Samples of one move and the sizes of its descents, as shares of the piece's shorter side; tuned on the strip instances.
const (
	nearSamples = 18
	farSamples  = 26
	cornerTries = 10 // samples with a corner of the piece on a corner of another
	farPerField = 6  // more of them for each field beyond the first,
	moreFar     = 60 // up to this many
	kept        = 3  // samples refined

	roughStep, roughEnd = 0.25, 0.02
	fineStep, fineEnd   = 0.02, 0.0005
	// sameShare is the distance, as a share of the shorter side, below which two samples count as one.
	sameShare = 0.03

	grow, shrink = 1.1, 0.5 // of a descent's step, on success and on failure
	turnPerSide  = 40.0     // degrees of a descent's turn for a step of one shorter side
)

// place is a possible place for a piece.
type place struct {
	form     *form // nil: a turn of its own, built when needed
	turn     float64
	mirrored bool
	fld      int32
	x, y     float64
	loss     float64
}

// worker moves pieces in a state of its own.
type worker struct {
	state  state
	weight []float64 // shared with the other workers; only read during a round
	rng    *pcg
	near   []int32 // buffer of bordersCross
	order  []int
	best   [kept]place
	nbest  int
	built  []*form // of each piece that turns freely: the turn being tried
	evals  int
	dead   [][slots]uint8 // of a first layout: how often nothing fitted beside a piece
	laid   int            // of a first layout: pieces so far
}

// shape is a place's form.
func (w *worker) shape(i int, p *place) *form {
	if p.form != nil {
		return p.form
	}
	f := w.built[i]
	if f.turn != p.turn || f.mirrored != p.mirrored {
		f.set(p.turn, p.mirrored)
	}
	return f
}

// evaluate is the weighted loss of piece i at a place, or some value of at least limit if it is no less than that.
func (w *worker) evaluate(i int, f *form, x, y, limit float64) float64 {
	w.evals++
	s := &w.state
	m := s.w.m
	b := f.box.moved(x, y)
	weight := w.weight[i*m : i*m+m]
	sum := 0.0
	for j := range s.box {
		c := &s.box[j]
		if c.lox >= b.hix || b.lox >= c.hix || c.loy >= b.hiy || b.loy >= c.hiy || j == i {
			continue
		}
		if l := w.pairLoss(f, s.form[j], s.x[j]-x, s.y[j]-y, (limit-sum)/weight[j]); l > 0 {
			if sum += float64(l * weight[j]); sum >= limit {
				return sum
			}
		}
	}
	return sum
}

func (w *worker) current(i int) float64 {
	s := &w.state
	m := s.w.m
	sum := 0.0
	for j, l := range s.loss[i*m : i*m+m] {
		if l > 0 {
			sum += float64(l * w.weight[i*m+j])
		}
	}
	return sum
}

// offer keeps a sample if it is among the best few.
func (w *worker) offer(p place, same float64) {
	for k := range w.nbest {
		b := &w.best[k]
		if b.fld == p.fld && b.form == p.form && b.mirrored == p.mirrored && math.Abs(b.turn-p.turn) < 1 &&
			math.Abs(b.x-p.x) < same && math.Abs(b.y-p.y) < same {
			if p.loss < b.loss {
				*b = p
				w.sift(k)
			}
			return
		}
	}
	if w.nbest < kept {
		w.best[w.nbest] = p
		w.nbest++
		w.sift(w.nbest - 1)
		return
	}
	if p.loss < w.best[kept-1].loss {
		w.best[kept-1] = p
		w.sift(kept - 1)
	}
}

func (w *worker) sift(k int) {
	for k > 0 && w.best[k].loss < w.best[k-1].loss {
		w.best[k], w.best[k-1] = w.best[k-1], w.best[k]
		k--
	}
}

func (w *worker) bound() float64 {
	if w.nbest < kept {
		return math.Inf(1)
	}
	return w.best[kept-1].loss
}

// relocate moves piece i to the best place found, or leaves it if none is better.
func (w *worker) relocate(i int) {
	s := &w.state
	k := s.w.pieces[i]
	now := w.current(i)
	w.nbest = 0
	start := place{form: s.form[i], turn: s.form[i].turn, mirrored: s.form[i].mirrored, fld: s.fld[i], x: s.x[i], y: s.y[i], loss: now}
	if k.free {
		start.form = nil
	}
	w.offer(start, 0)
	same := sameShare * k.side
	home := &s.w.fields[s.fld[i]]
	hb := s.form[i].fit
	for range nearSamples {
		p := w.turned(i, s.form[i])
		f := w.shape(i, &p)
		lox, loy, hix, hiy, ok := home.room(f)
		if !ok {
			continue
		}
		// Within the box that the piece occupies now, centred.
		cx := s.x[i] - home.ox + (hb.lox+hb.hix)/2 - (f.fit.lox+f.fit.hix)/2
		cy := s.y[i] + (hb.loy+hb.hiy)/2 - (f.fit.loy+f.fit.hiy)/2
		p.fld = s.fld[i]
		p.x = home.ox + between(cx+float64((w.rng.float()-0.5)*hb.width()), lox, hix)
		p.y = between(cy+float64((w.rng.float()-0.5)*hb.height()), loy, hiy)
		if w.try(i, &p, same) {
			return
		}
	}
	for range farSamples + min(moreFar, farPerField*(len(s.w.fields)-1)) {
		p := w.turned(i, nil)
		f := w.shape(i, &p)
		p.fld = w.anyField()
		fd := &s.w.fields[p.fld]
		lox, loy, hix, hiy, ok := fd.room(f)
		if !ok {
			continue
		}
		p.x = fd.ox + lox + float64(w.rng.float()*(hix-lox))
		p.y = loy + float64(w.rng.float()*(hiy-loy))
		if w.try(i, &p, same) {
			return
		}
	}
	for range cornerTries {
		p := w.turned(i, s.form[i])
		if w.cornered(i, &p) && w.try(i, &p, same) {
			return
		}
	}
	for n := range w.nbest {
		p := w.best[n]
		w.descend(i, &p, roughStep*k.side, roughEnd*k.side)
		w.best[n] = p
		if p.loss == 0 {
			w.settle(i, &p)
			return
		}
	}
	p := w.best[0]
	for _, q := range w.best[1:w.nbest] {
		if q.loss < p.loss {
			p = q
		}
	}
	w.descend(i, &p, fineStep*k.side, fineEnd*k.side)
	if p.loss < now {
		w.settle(i, &p)
	}
}

// try evaluates a sample; true means that it was free and has been taken.
func (w *worker) try(i int, p *place, same float64) bool {
	limit := w.bound()
	p.loss = w.evaluate(i, w.shape(i, p), p.x, p.y, limit)
	if p.loss == 0 {
		w.settle(i, p)
		return true
	}
	if p.loss < limit {
		w.offer(*p, same)
	}
	return false
}

func (w *worker) settle(i int, p *place) {
	w.state.put(i, w.shape(i, p), p.fld, p.x, p.y)
	w.remeasure(i)
}

// cornered sets a place where a corner of the piece meets a corner of another piece, or where the piece lies in a corner of
// its field: exact fits are found there. It reports whether the place lies in the field.
func (w *worker) cornered(i int, p *place) bool {
	s := &w.state
	f := w.shape(i, p)
	j := w.rng.intn(s.w.m + 1)
	if j == i {
		return false
	}
	if j == s.w.m {
		p.fld = w.anyField()
		fd := &s.w.fields[p.fld]
		lox, loy, hix, hiy, ok := fd.room(f)
		p.x, p.y = fd.ox+lox, loy
		if w.rng.intn(2) == 1 {
			p.x = fd.ox + hix
		}
		if w.rng.intn(2) == 1 {
			p.y = hiy
		}
		return ok
	}
	p.fld = s.fld[j]
	fd := &s.w.fields[p.fld]
	lox, loy, hix, hiy, ok := fd.room(f)
	if !ok {
		return false
	}
	mine, other := &f.edges[w.rng.intn(len(f.edges))], &s.form[j].edges[w.rng.intn(len(s.form[j].edges))]
	x, y := other.ax+s.x[j]-mine.ax-fd.ox, other.ay+s.y[j]-mine.ay
	tol := fitSlack * (fd.w + fd.h)
	if x < lox-tol || x > hix+tol || y < loy-tol || y > hiy+tol {
		return false
	}
	p.x, p.y = fd.ox+between(x, lox, hix), between(y, loy, hiy)
	return true
}

// turned is a place with an allowed turn: close to a form's, or any.
func (w *worker) turned(i int, near *form) place {
	k := w.state.w.pieces[i]
	if !k.free {
		f := k.forms[0]
		if n := len(k.forms); n > 1 {
			f = k.forms[w.rng.intn(n)]
		}
		return place{form: f, turn: f.turn, mirrored: f.mirrored}
	}
	p := place{}
	if k.part.MayFlip {
		p.mirrored = w.rng.intn(2) == 1
	}
	if near != nil && w.rng.intn(2) == 0 {
		p.mirrored = near.mirrored
		p.turn = near.turn
		return p
	}
	if w.rng.intn(4) == 0 {
		p.turn = k.flat
		if p.mirrored {
			p.turn = -k.flat // the mirror image of what lies flat lies flat at the opposite turn
		}
		p.turn = math.Mod(p.turn+360+90*float64(w.rng.intn(4)), 360)
		return p
	}
	p.turn = 360 * w.rng.float()
	return p
}

func (w *worker) anyField() int32 {
	n := len(w.state.w.fields)
	if n == 1 {
		return 0
	}
	return int32(w.rng.intn(n))
}

// descend moves a place downhill along a random axis or diagonal, or turns it, in steps that grow on success and shrink on
// failure, until they are smaller than end.
func (w *worker) descend(i int, p *place, step, end float64) {
	s := &w.state
	k := s.w.pieces[i]
	fd := &s.w.fields[p.fld]
	f := w.shape(i, p)
	lox, loy, hix, hiy, _ := fd.room(f)
	sx, sy := step, step
	axes := 4
	if k.free {
		axes = 5
	}
	st := turnPerSide * step / k.side
	for sx >= end || sy >= end {
		axis := w.rng.intn(axes)
		if axis == 4 {
			if w.twist(i, p, st) {
				st *= grow
			} else {
				st *= shrink
			}
			f = w.shape(i, p)
			lox, loy, hix, hiy, _ = fd.room(f)
			if p.loss == 0 {
				return
			}
			if st < turnPerSide*end/k.side {
				axes = 4
			}
			continue
		}
		var dx, dy float64
		switch axis {
		case 0:
			dx = sx
		case 1:
			dy = sy
		case 2:
			dx, dy = sx, sy
		default:
			dx, dy = sx, -sy
		}
		found := false
		x0, y0 := p.x, p.y
		for sign := 1.0; sign >= -1; sign -= 2 {
			x := fd.ox + between(x0-fd.ox+sign*dx, lox, hix)
			y := between(y0+sign*dy, loy, hiy)
			if x == x0 && y == y0 {
				continue
			}
			if l := w.evaluate(i, f, x, y, p.loss); l < p.loss {
				p.x, p.y, p.loss = x, y, l
				found = true
				if l == 0 {
					return
				}
			}
		}
		by := shrink
		if found {
			by = grow
		}
		switch axis {
		case 0:
			sx *= by
		case 1:
			sy *= by
		default:
			by = math.Sqrt(by)
			sx *= by
			sy *= by
		}
	}
}

// twist turns a place a little either way about the middle of its box.
func (w *worker) twist(i int, p *place, step float64) bool {
	s := &w.state
	fd := &s.w.fields[p.fld]
	f := w.shape(i, p)
	mx, my := p.x+(f.fit.lox+f.fit.hix)/2, p.y+(f.fit.loy+f.fit.hiy)/2
	from := *p
	found := false
	for sign := 1.0; sign >= -1; sign -= 2 {
		q := from
		q.turn = math.Mod(from.turn+float64(sign*step)+360, 360)
		f := w.shape(i, &q)
		lox, loy, hix, hiy, ok := fd.room(f)
		if !ok {
			continue
		}
		q.x = fd.ox + between(mx-fd.ox-(f.fit.lox+f.fit.hix)/2, lox, hix)
		q.y = between(my-(f.fit.loy+f.fit.hiy)/2, loy, hiy)
		if q.loss = w.evaluate(i, f, q.x, q.y, p.loss); q.loss < p.loss {
			*p = q
			found = true
			if q.loss == 0 {
				break
			}
		}
	}
	return found
}
