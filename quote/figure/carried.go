package figure

import (
	"cmp"
	"math"
	"slices"

	"benchbell/quote/draw"
	"benchbell/quote/geom"
)

// carried is a set that is held, laid flat: its pieces one over another, drawn to the body's scale.
type carried struct {
	name   string
	pieces []Worn
	length float64 // of its longest piece
	width  float64 // of its widest
}

func (d *dresser) carry(w Worn) {
	i := slices.IndexFunc(d.carried, func(c carried) bool { return c.name == w.Name })
	if i < 0 {
		i = len(d.carried)
		d.carried = append(d.carried, carried{name: w.Name})
	}
	c := &d.carried[i]
	c.pieces = append(c.pieces, w)
	c.length = math.Max(c.length, float64(w.Shape.Bounds().Height()))
	c.width = math.Max(c.width, float64(w.Shape.Bounds().Width()))
}

// hand is how far from the middle line the hand reaches, and how high it is.
func (d *dresser) hand() (out, y float64) {
	m := d.model
	s := (m.wristAt + m.arm.length) / 2
	p := m.arm.point(s)
	return p.X + m.arm.right.at(s), p.Y
}

// reach is how far the figure with what it carries extends on a side of the body, 0 right, 1 left.
func (d *dresser) reach(side int) float64 {
	out, _ := d.hand()
	for i, c := range d.carried {
		if i%2 == side {
			out += c.width + carriedGap
		}
	}
	return out
}

// carriedGap between the hand and what hangs beside it, mm.
const carriedGap = 15

// hang draws what is carried: the first beside the body's right hand, the next beside the left, and so on outward.
func (d *dresser) hang(v *view) {
	m := d.model
	hand, y := d.hand()
	out := [2]float64{hand, hand}
	for i, c := range d.carried {
		sign := -1.0 // the body's right is to the picture's left from the front
		if i%2 == 1 {
			sign = 1
		}
		at := geom.Pt(sign*(out[i%2]+carriedGap+c.width/2), y)
		out[i%2] += carriedGap + c.width
		// Held by its lower third where that leaves it above the floor.
		bottom := math.Max(.01*m.height, at.Y-c.length*.3)
		pieces := slices.Clone(c.pieces)
		slices.SortStableFunc(pieces, func(a, b Worn) int { return cmp.Compare(a.Layer, b.Layer) })
		for _, w := range pieces {
			away := math.Abs(math.Mod(math.Abs(w.Facing), 360)-180) < 90 // its face looks backward
			if away != v.back && c.hasFaces() {
				continue
			}
			o := geom.Pt(at.X, bottom+c.length*w.Height).Sub(w.Shape.Bounds().Centre())
			flip := 1.0
			if v.back {
				flip = -1 // a piece is drawn as its face is seen
			}
			place := func(p geom.Point) geom.Point {
				q := p.Add(o)
				return v.pen.place(geom.Pt(at.X+flip*(q.X-at.X), q.Y))
			}
			p := pen{scene: d.scene, place: place}
			sh := geom.Shape{Outer: p.ring(w.Shape.Outer)}
			for _, h := range w.Shape.Holes {
				sh.Holes = append(sh.Holes, p.ring(h))
			}
			tone := layers[min(max(w.Layer, 0), len(layers)-1)]
			d.scene.Shape(sh, draw.Style{Fill: tone, Stroke: edgeOfPiece, Width: .3})
			for _, l := range w.Scores {
				d.scene.Polyline(p.path(l), draw.Stroke(edgeOfPiece, .12))
			}
			v.see(w.Name, sh)
		}
	}
}

// hasFaces reports whether some of its pieces look forward and some back.
func (c carried) hasFaces() bool {
	return slices.ContainsFunc(c.pieces, func(w Worn) bool { return math.Abs(w.Facing) > 90 })
}
