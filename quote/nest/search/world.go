package search

import (
	"math"

	"benchbell/quote/geom"
)

// Part is a kind of piece.
type Part struct {
	True    geom.Ring // as drawn, counter-clockwise: its box must lie in the field
	Rough   geom.Ring // what stands for it when pieces are kept apart; holds True
	Turns   []float64 // degrees; none: any
	MayFlip bool
}

// Field is a place pieces may lie in: a rectangle with what may not be covered in it.
type Field struct {
	Width, Height float64 // already less the margins; pieces' boxes lie in 0..Width, 0..Height
	Blocks        []geom.Ring
}

// Spot is where a piece lies: mirrored (x to -x), turned counter-clockwise in degrees, then moved.
type Spot struct {
	Field    int
	Turn     float64
	Mirrored bool
	X, Y     float64 // in the field's own coordinates
}

// fitSlack is the share of a field's size by which a box may stick out, for the roundings of a turn.
const fitSlack = 1e-12

// world is what does not change during a search, and the fields.
type world struct {
	kinds  []*kind
	pieces []*kind // of each piece
	n      int     // pieces
	m      int     // pieces, then blocks that do not move
	fields []field
	blocks []block2
}

type field struct {
	w, h float64
	ox   float64 // where the field lies in the one plane
	open bool
}

type block2 struct {
	form  *form
	field int
}

func newKind(p Part, grow float64) *kind {
	k := &kind{part: p, free: len(p.Turns) == 0}
	k.ring = grown(p.Rough, grow)
	k.hull = hull(p.True)
	k.poles = findPoles(p.Rough)
	for i := range k.poles {
		k.poles[i].r += grow
	}
	k.area = float64(p.True.Area())
	k.length = math.Sqrt(float64(geom.Ring(hull(p.Rough)).Area()))
	b := geom.Ring(k.ring).Bounds()
	k.diam = math.Hypot(float64(b.Width()), float64(b.Height()))
	tb := p.True.Bounds()
	k.side = math.Min(float64(tb.Width()), float64(tb.Height()))
	hands := []bool{false}
	if p.MayFlip {
		hands = append(hands, true)
	}
	for _, t := range p.Turns {
		for _, h := range hands {
			f := newForm(k)
			f.set(t, h)
			k.forms = append(k.forms, f)
		}
	}
	return k
}

// room is the span of places for a form in a field; ok is false where it does not fit.
func (fd *field) room(f *form) (lox, loy, hix, hiy float64, ok bool) {
	lox, loy = -f.fit.lox, -f.fit.loy
	hix, hiy = fd.w-f.fit.hix, fd.h-f.fit.hiy
	if hix < lox {
		if hix < lox-fitSlack*fd.w {
			return lox, loy, hix, hiy, false
		}
		hix = lox
	}
	if hiy < loy {
		if hiy < loy-fitSlack*fd.h {
			return lox, loy, hix, hiy, false
		}
		hiy = loy
	}
	return lox, loy, hix, hiy, true
}

// hull is the convex hull's corners (Andrew's monotone chain).
func hull(r geom.Ring) []geom.Point {
	ps := append([]geom.Point(nil), r...)
	sortPoints(ps)
	var h []geom.Point
	for pass := 0; pass < 2; pass++ {
		start := len(h)
		for _, p := range ps {
			for len(h) >= start+2 && h[len(h)-1].Sub(h[len(h)-2]).Cross(p.Sub(h[len(h)-2])) <= 0 {
				h = h[:len(h)-1]
			}
			h = append(h, p)
		}
		h = h[:len(h)-1]
		for i, j := 0, len(ps)-1; i < j; i, j = i+1, j-1 {
			ps[i], ps[j] = ps[j], ps[i]
		}
	}
	return h
}
