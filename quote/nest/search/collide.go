package search

import "math"

// Loss of two overlapping outlines. Pairs of poles that overlap deeper than decay, a share of the larger outline's
// diameter, count by their depth; shallower or separate ones count less and less but never zero, so that the loss falls
// smoothly until the outlines are free of each other (after Gardeyn et al. 2025).
const decay = 0.01

// pairLoss is 0 if b, moved by dx, dy relative to a, has no inner point in common with a. A loss of limit or more need not
// be exact.
func (w *worker) pairLoss(a, b *form, dx, dy, limit float64) float64 {
	if !w.collides(a, b, dx, dy) {
		return 0
	}
	return poleLoss(a, b, dx, dy, limit)
}

func poleLoss(a, b *form, dx, dy, limit float64) float64 {
	scale := a.kind.root * b.kind.root
	most := limit / scale
	most *= most
	eps := decay * a.kind.diam
	if d := decay * b.kind.diam; d > eps {
		eps = d
	}
	eps2 := eps * eps
	sum := eps2
	for i := range a.poles {
		p := &a.poles[i]
		px, py := p.x-dx, p.y-dy
		for j := range b.poles {
			q := &b.poles[j]
			x, y := q.x-px, q.y-py
			r := p.r + q.r
			least := p.r
			if q.r < least {
				least = q.r
			}
			d2 := float64(x*x) + float64(y*y)
			depth := r - math.Sqrt(d2)
			if depth < eps {
				depth = eps2 / (2*eps - depth)
			}
			sum += float64(depth * least)
		}
		if sum >= most {
			break
		}
	}
	return math.Sqrt(sum) * scale
}

// collides reports whether the insides of a, and of b moved by dx, dy relative to it, meet.
func (w *worker) collides(a, b *form, dx, dy float64) bool {
	// The first poles are the largest; if they meet, no further test is needed.
	for i := range min(len(a.poles), quickPoles) {
		p := &a.poles[i]
		for j := range min(len(b.poles), quickPoles) {
			q := &b.poles[j]
			x, y, r := q.x+dx-p.x, q.y+dy-p.y, (p.r+q.r)*quickShare
			if float64(x*x)+float64(y*y) < r*r {
				return true
			}
		}
	}
	switch w.bordersCross(a, b, dx, dy) {
	case crossing:
		return true
	case touching:
		return midsInside(a, b, dx, dy) || midsInside(b, a, -dx, -dy)
	}
	// The borders do not meet: the outlines are apart, or one lies inside the other.
	if len(a.poles) == 0 || len(b.poles) == 0 {
		return false
	}
	bb := b.box.moved(dx, dy)
	if within(a.box, bb) {
		return inside(b, a.poles[0].x-dx, a.poles[0].y-dy)
	}
	if within(bb, a.box) {
		return inside(a, b.poles[0].x+dx, b.poles[0].y+dy)
	}
	return false
}

// shared is the part common to two boxes that overlap.
func shared(a, b box) box {
	if b.lox > a.lox {
		a.lox = b.lox
	}
	if b.loy > a.loy {
		a.loy = b.loy
	}
	if b.hix < a.hix {
		a.hix = b.hix
	}
	if b.hiy < a.hiy {
		a.hiy = b.hiy
	}
	return a
}

const (
	quickPoles = 3
	// quickShare keeps touching circles from counting as overlapping because of the last digit of a root.
	quickShare = 1 - 1e-12
)

func within(a, b box) bool {
	return a.lox >= b.lox && a.loy >= b.loy && a.hix <= b.hix && a.hiy <= b.hiy
}

type meeting int

const (
	apart meeting = iota
	touching
	crossing
)

// bordersCross looks for two edges that cross at an inner point of both. Edges that only touch are reported if none cross:
// whether insides meet then needs a closer look.
func (w *worker) bordersCross(a, b *form, dx, dy float64) meeting {
	// Only edges in the window common to both boxes matter. The window is computed in a's place and in b's, each from the
	// box there: carried over from one to the other, it could lose an edge on its border to rounding.
	win, wb := shared(a.box, b.box.moved(dx, dy)), shared(b.box, a.box.moved(-dx, -dy))
	near := w.near[:0]
	for i := range b.blocks {
		k := &b.blocks[i]
		if k.lox > wb.hix || k.hix < wb.lox || k.loy > wb.hiy || k.hiy < wb.loy {
			continue
		}
		for j := k.from; j < k.to; j++ {
			e := &b.edges[j]
			if e.lox > wb.hix || e.hix < wb.lox || e.loy > wb.hiy || e.hiy < wb.loy {
				continue
			}
			near = append(near, j)
		}
	}
	if len(near) == 0 {
		return apart
	}
	found := apart
	for i := range a.blocks {
		k := &a.blocks[i]
		if k.lox > win.hix || k.hix < win.lox || k.loy > win.hiy || k.hiy < win.loy {
			continue
		}
		for j := k.from; j < k.to; j++ {
			e := &a.edges[j]
			if e.lox > win.hix || e.hix < win.lox || e.loy > win.hiy || e.hiy < win.loy {
				continue
			}
			ax, ay := e.ax-dx, e.ay-dy // in b's place
			bx, by := e.bx-dx, e.by-dy
			lox, loy, hix, hiy := e.lox-dx, e.loy-dy, e.hix-dx, e.hiy-dy
			rx, ry := bx-ax, by-ay
			for _, n := range near {
				f := &b.edges[n]
				if f.lox > hix || f.hix < lox || f.loy > hiy || f.hiy < loy {
					continue
				}
				slack := e.slack
				if f.slack > slack {
					slack = f.slack
				}
				c1 := float64(rx*(f.ay-ay)) - float64(ry*(f.ax-ax))
				c2 := float64(rx*(f.by-ay)) - float64(ry*(f.bx-ax))
				if (c1 > slack && c2 > slack) || (c1 < -slack && c2 < -slack) {
					continue
				}
				sx, sy := f.bx-f.ax, f.by-f.ay
				c3 := float64(sx*(ay-f.ay)) - float64(sy*(ax-f.ax))
				c4 := float64(sx*(by-f.ay)) - float64(sy*(bx-f.ax))
				if (c3 > slack && c4 > slack) || (c3 < -slack && c4 < -slack) {
					continue
				}
				if (c1 > slack || c1 < -slack) && (c2 > slack || c2 < -slack) &&
					(c3 > slack || c3 < -slack) && (c4 > slack || c4 < -slack) {
					return crossing
				}
				found = touching
			}
		}
	}
	return found
}

// midsInside splits each edge of a where b's border touches it and reports whether the middle of a part lies inside b. It
// is called only if borders touch and none cross; there are few such edges.
func midsInside(a, b *form, dx, dy float64) bool {
	tol := touchTolerance * math.Max(a.kind.diam, b.kind.diam)
	bb := b.box
	for i := range a.edges {
		e := &a.edges[i]
		if e.lox-dx > bb.hix || e.hix-dx < bb.lox || e.loy-dy > bb.hiy || e.hiy-dy < bb.loy {
			continue
		}
		ax, ay, rx, ry := e.ax-dx, e.ay-dy, e.bx-e.ax, e.by-e.ay
		l2 := float64(rx*rx) + float64(ry*ry)
		if l2 == 0 {
			continue
		}
		// Walk the edge from split to split: the next one is the nearest beyond the last.
		for t := 0.0; t < 1; {
			next := 1.0
			for j := range b.edges {
				f := &b.edges[j]
				// The edge can pass in or out only at b's corners and at its own ends.
				u := (float64(rx*(f.ax-ax)) + float64(ry*(f.ay-ay))) / l2
				if u <= t+1e-9 || u >= next {
					continue
				}
				x, y := ax+float64(rx*u)-f.ax, ay+float64(ry*u)-f.ay
				if float64(x*x)+float64(y*y) <= tol*tol {
					next = u
				}
			}
			m := (t + next) / 2
			x, y := ax+float64(rx*m), ay+float64(ry*m)
			if inside(b, x, y) && !onBorder(b, x, y, tol) {
				return true
			}
			t = next
		}
	}
	// All edges coincide: copies of one shape, one on top of the other.
	if len(a.poles) == 0 {
		return false
	}
	x, y := a.poles[0].x-dx, a.poles[0].y-dy
	return inside(b, x, y) && !onBorder(b, x, y, tol)
}

// touchTolerance is the share of a diameter within which borders count as touching.
const touchTolerance = 1e-10

func onBorder(f *form, x, y, tol float64) bool {
	for i := range f.edges {
		e := &f.edges[i]
		if x < e.lox-tol || x > e.hix+tol || y < e.loy-tol || y > e.hiy+tol {
			continue
		}
		rx, ry := e.bx-e.ax, e.by-e.ay
		c := float64(rx*(y-e.ay)) - float64(ry*(x-e.ax))
		if c*c <= tol*tol*(float64(rx*rx)+float64(ry*ry)) {
			return true
		}
	}
	return false
}

// inside reports whether the outline winds around a point. A grown outline may run through its own inside, where it winds
// more than once; a loop in the other direction winds around nothing.
func inside(f *form, x, y float64) bool {
	wind := 0
	for i := range f.edges {
		e := &f.edges[i]
		if e.loy > y || e.hiy <= y {
			continue
		}
		c := float64((e.bx-e.ax)*(y-e.ay)) - float64((e.by-e.ay)*(x-e.ax))
		if e.ay <= y {
			if c > 0 {
				wind++
			}
		} else if c < 0 {
			wind--
		}
	}
	return wind > 0
}
