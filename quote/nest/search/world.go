package search

import (
	"cmp"
	"math"
	"slices"

	"benchbell/quote/geom"
)

// Part is a kind of piece.
type Part struct {
	True    geom.Ring // as drawn, counter-clockwise: its box must lie in the field
	Rough   geom.Ring // replaces True for keeping pieces apart; contains it
	Turns   []float64 // degrees; none: any
	MayFlip bool
}

// Spot is the place of a piece: mirrored (x to -x), turned counter-clockwise in degrees, then moved.
type Spot struct {
	Field    int
	Turn     float64
	Mirrored bool
	X, Y     float64 // in the field's own coordinates
}

// fitSlack is how far a box may stick out, as a share of the field's size, to allow for rounding in a turn.
const fitSlack = 1e-10

// Field is an area that pieces may lie in: a rectangle and what must not be covered in it.
type Field struct {
	Width, Height float64
	blocks        []*form
}

// Area is what copies, with the room they keep around them, may cover: grow more on each side, minus the blocks.
func (f *Field) Area(grow float64) float64 {
	a := (f.Width + 2*grow) * (f.Height + 2*grow)
	for _, b := range f.blocks {
		a -= float64(b.kind.part.True.Area())
	}
	return a
}

// NewField is a field whose pieces' boxes lie in 0..width, 0..height, and whose pieces, grown, keep out of blocks that are
// themselves grown by grow.
func NewField(width, height float64, blocks []geom.Ring, grow float64) *Field {
	f := &Field{Width: width, Height: height}
	for _, b := range blocks {
		f.blocks = append(f.blocks, NewKind(Part{True: b, Rough: b, Turns: []float64{0}}, grow).forms[0])
	}
	return f
}

// world is what a search does not change: its pieces, and its fields except for their length.
type world struct {
	pieces []*Kind
	rank   []int // of each piece, if some go before others; nil otherwise
	n      int   // pieces
	m      int   // pieces, then blocks, which do not move
	fields []field
	blocks []obstacle
}

type field struct {
	w, h float64
	ox   float64 // where the field lies in the plane
}

type obstacle struct {
	form  *form
	field int
}

// NewKind prepares an outline whose copies keep grow around them free.
func NewKind(p Part, grow float64) *Kind {
	k := &Kind{part: p, free: len(p.Turns) == 0}
	k.ring = grown(p.Rough, grow)
	k.hull = hull(p.True)
	k.hollow = hollows(k.ring)
	k.poles = findPoles(p.Rough)
	for i := range k.poles {
		k.poles[i].r += grow
	}
	// What a copy takes of its field: by Brunn and Minkowski, the grown outline has at least the area of the grown disc
	// with the outline's area.
	a := float64(p.True.Area())
	k.area = a + float64(2*math.Sqrt(math.Pi*a)*grow) + float64(math.Pi*grow*grow)
	k.length = math.Sqrt(float64(geom.Ring(hull(p.Rough)).Area()))
	k.root = math.Sqrt(k.length)
	b := geom.Ring(k.ring).Bounds()
	k.diam = math.Hypot(float64(b.Width()), float64(b.Height()))
	tb := p.True.Bounds()
	k.side = math.Min(float64(tb.Width()), float64(tb.Height()))
	k.flat = flattest(k.hull)
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

// room is the range of places for a form in a field; ok is false if it does not fit.
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

// flattest is the turn in degrees at which a hull's box is smallest; one of its sides then lies level.
func flattest(h []geom.Point) float64 {
	best, turn := math.Inf(1), 0.0
	for i := range h {
		d := h[(i+1)%len(h)].Sub(h[i]).Unit()
		n := d.Perp()
		ulo, uhi, vlo, vhi := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
		for _, p := range h {
			ulo, uhi = math.Min(ulo, p.Dot(d)), math.Max(uhi, p.Dot(d))
			vlo, vhi = math.Min(vlo, p.Dot(n)), math.Max(vhi, p.Dot(n))
		}
		if a := (uhi - ulo) * (vhi - vlo); a < best*(1-1e-9) {
			best = a
			turn = -math.Atan2(d.Y, d.X) * 180 / math.Pi
		}
	}
	return math.Mod(turn+360, 360)
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

// mostHollows bounds the hollow corners a first layout tries to fill.
const mostHollows = 8

// hollows are the corners of a ring that turn inwards clearly, the sharpest first.
func hollows(r []geom.Point) []int32 {
	n := len(r)
	turn := make([]float64, n)
	var out []int32
	for i, p := range r {
		in, on := p.Sub(r[(i+n-1)%n]), r[(i+1)%n].Sub(p)
		if turn[i] = math.Atan2(in.Cross(on), in.Dot(on)); turn[i] < -math.Pi/6 {
			out = append(out, int32(i))
		}
	}
	slices.SortStableFunc(out, func(a, b int32) int { return cmp.Compare(turn[a], turn[b]) })
	return out[:min(len(out), mostHollows)]
}

// Fits reports whether a copy fits on an empty field, ignoring blocks, at some turn; if any turn is allowed, many are
// tried.
func (k *Kind) Fits(f *Field) bool {
	fd := field{w: f.Width, h: f.Height}
	for _, g := range k.trials() {
		if _, _, _, _, ok := fd.room(g); ok {
			return true
		}
	}
	return false
}

// freeTrials is how many turns stand in for any turn in testing whether a piece fits at all.
const freeTrials = 90

func (k *Kind) trials() []*form {
	if !k.free {
		return k.forms
	}
	if k.tried == nil {
		for i := range freeTrials + 2 {
			g := newForm(k)
			if i < freeTrials {
				g.set(float64(i)*360/freeTrials, false)
			} else {
				g.set(k.flat+90*float64(i-freeTrials), false)
			}
			k.tried = append(k.tried, g)
		}
	}
	return k.tried
}

// Lies reports whether a copy fits on a field clear of its blocks. If there are blocks, a short search tries.
func (k *Kind) Lies(f *Field) bool {
	if !k.Fits(f) || len(f.blocks) == 0 {
		return k.Fits(f)
	}
	s := newSearcher([]*Kind{k}, []*Field{f}, 1, 0, func(int) float64 { return 0 })
	s.absent()
	if !s.insert([]int{0}) {
		return false
	}
	s.remeasure()
	ok, _ := s.separate(2, 50, 1)
	return ok
}

// FitsHeight reports whether a copy is no higher than h at some turn.
func (k *Kind) FitsHeight(h float64) bool {
	return k.Fits(&Field{Width: math.MaxFloat64 / 4, Height: h})
}

// Least is the size of the box, over the turns a copy may take, that sticks out least from w by h.
func (k *Kind) Least(w, h float64) (bw, bh float64) {
	over := math.Inf(1)
	for _, f := range k.trials() {
		if o := math.Max(f.fit.width()-w, f.fit.height()-h); o < over {
			over, bw, bh = o, f.fit.width(), f.fit.height()
		}
	}
	return bw, bh
}
