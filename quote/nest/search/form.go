package search

import (
	"math"

	"benchbell/quote/geom"
)

// box is an axis-parallel rectangle.
type box struct{ lox, loy, hix, hiy float64 }

func (b box) width() float64  { return b.hix - b.lox }
func (b box) height() float64 { return b.hiy - b.loy }

// overlaps reports whether two boxes share more than a line.
func (b box) overlaps(c box) bool {
	return b.lox < c.hix && c.lox < b.hix && b.loy < c.hiy && c.loy < b.hiy
}

func (b box) moved(x, y float64) box { return box{b.lox + x, b.loy + y, b.hix + x, b.hiy + y} }

// edge is a directed edge of an outline with its own box, and how far from its line a point still counts as on it, as a
// cross product.
type edge struct {
	ax, ay, bx, by float64
	box
	slack float64
}

// block is a box around a run of edges, so that long outlines need not be tested edge by edge.
type block struct {
	box
	from, to int32
}

// pole is a circle inside an outline.
type pole struct{ x, y, r float64 }

// form is a kind of piece at one turn, mirrored or not, about the kind's own origin. The collision outline is the kind's
// outline grown by half the gap; fit is the box of the outline as drawn, which must lie in the sheet.
type form struct {
	kind     *Kind
	turn     float64
	mirrored bool
	edges    []edge
	blocks   []block
	poles    []pole
	hollows  []geom.Point // corners that other pieces' corners may go into
	box, fit box
}

const (
	// blockEdges is how many edges share a block: enough to skip a run at once, few enough for a tight box.
	blockEdges = 6
	// onLine is the share of an outline's diameter within which a point counts as on a line: a few hundred rounding errors.
	onLine = 1e-11
)

// Kind is an outline and everything about it that does not change when it is turned.
type Kind struct {
	part   Part
	ring   []geom.Point // collision outline; may run through its own inside in narrow hollows
	hull   []geom.Point // corners of the outline as drawn that decide its box
	poles  []pole
	hollow []int32 // corners of ring that turn inwards, only the sharpest
	forms  []*form // for the turns given; none if any turn is allowed
	flat   float64 // turn at which the box is smallest
	tried  []*form // turns that stand in for any turn
	free   bool
	diam   float64 // of the collision outline's box
	side   float64 // shorter side of the first form's fit box
	length float64 // a size in millimetres: the root of the hull's area
	root   float64 // of length
	area   float64 // least area a copy takes, including the room around it
}

func newForm(k *Kind) *form {
	n := len(k.ring)
	return &form{kind: k, edges: make([]edge, n), blocks: make([]block, (n+blockEdges-1)/blockEdges), poles: make([]pole, len(k.poles)), hollows: make([]geom.Point, len(k.hollow))}
}

// set makes f its kind's outline at a turn. It does not allocate.
func (f *form) set(turn float64, mirrored bool) {
	k := f.kind
	f.turn, f.mirrored = turn, mirrored
	sin, cos := geom.SinCosDeg(turn)
	m := 1.0
	if mirrored {
		m = -1
	}
	at := func(p geom.Point) (x, y float64) {
		px := m * p.X
		return float64(px*cos) - float64(p.Y*sin), float64(px*sin) + float64(p.Y*cos)
	}
	n := len(k.ring)
	for i, p := range k.ring {
		x, y := at(p)
		j := i
		if mirrored {
			j = n - 1 - i
		}
		f.edges[j].ax, f.edges[j].ay = x, y
	}
	whole := emptyBox()
	for b := range f.blocks {
		from, to := b*blockEdges, min((b+1)*blockEdges, n)
		bb := emptyBox()
		for i := from; i < to; i++ {
			e := &f.edges[i]
			next := &f.edges[0]
			if i+1 < n {
				next = &f.edges[i+1]
			}
			e.bx, e.by = next.ax, next.ay
			e.lox, e.hix = e.ax, e.bx
			if e.lox > e.hix {
				e.lox, e.hix = e.hix, e.lox
			}
			e.loy, e.hiy = e.ay, e.by
			if e.loy > e.hiy {
				e.loy, e.hiy = e.hiy, e.loy
			}
			e.slack = (e.hix - e.lox + e.hiy - e.loy) * k.diam * onLine
			bb.add(e.box)
		}
		f.blocks[b] = block{bb, int32(from), int32(to)}
		whole.add(bb)
	}
	f.box = whole
	for i, p := range k.poles {
		x, y := at(geom.Pt(p.x, p.y))
		f.poles[i] = pole{x, y, p.r}
	}
	for i, c := range k.hollow {
		x, y := at(k.ring[c])
		f.hollows[i] = geom.Pt(x, y)
	}
	f.fit = emptyBox()
	for _, p := range k.hull {
		x, y := at(p)
		f.fit.add(box{x, y, x, y})
	}
}

func emptyBox() box {
	return box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
}

func (b *box) add(c box) {
	if c.lox < b.lox {
		b.lox = c.lox
	}
	if c.loy < b.loy {
		b.loy = c.loy
	}
	if c.hix > b.hix {
		b.hix = c.hix
	}
	if c.hiy > b.hiy {
		b.hiy = c.hiy
	}
}
