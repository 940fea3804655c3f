package figure

import (
	"cmp"
	"math"
	"slices"

	"benchbell/quote/draw"
	"benchbell/quote/geom"
)

// carried is a set that is held: drawn flat, to the body's scale, beside the hand of the front figure.
type carried struct {
	name   string
	pieces []laid
	box    geom.Box // of all pieces, about the middle of the set
}

// carriedGap is the space between the hand and what hangs beside it, mm.
const carriedGap = 15

// carry gathers the carried pieces of each set and lays them out: a round thing about its middle, anything else as a stack
// along the longest piece by the heights of the pieces. If some pieces face forward, those facing backward are left out.
func carry(worn []Worn) []carried {
	var names []string
	sets := map[string][]Worn{}
	for _, w := range worn {
		if len(sets[w.Name]) == 0 {
			names = append(names, w.Name)
		}
		sets[w.Name] = append(sets[w.Name], w)
	}
	var out []carried
	for _, n := range names {
		c := carried{name: n, box: geom.EmptyBox()}
		pieces := sets[n]
		var ok bool
		if c.pieces, _, ok = disc(pieces); !ok {
			c.pieces = stack(pieces)
		}
		slices.SortStableFunc(c.pieces, func(a, b laid) int { return cmp.Compare(a.Layer, b.Layer) })
		for _, l := range c.pieces {
			for _, p := range l.Shape.Outer {
				c.box = c.box.Extend(l.place(p))
			}
		}
		if !c.box.Empty() {
			out = append(out, c)
		}
	}
	return out
}

func stack(pieces []Worn) (out []laid) {
	length := 0.0
	backward := func(w Worn) bool { return math.Abs(w.Facing) > 90 }
	both := slices.ContainsFunc(pieces, backward) && slices.ContainsFunc(pieces, func(w Worn) bool { return !backward(w) })
	for _, w := range pieces {
		length = math.Max(length, float64(w.Shape.Bounds().Height()))
	}
	for _, w := range pieces {
		if both && backward(w) {
			continue
		}
		out = append(out, laid{Worn: w, about: w.Shape.Bounds().Centre(), at: geom.Pt(0, length*clamp(w.Height, -1, 2))})
	}
	return out
}

// hand is how far from the middle line the hand reaches, and its height.
func (d *dresser) hand() (out, y float64) {
	m := d.model
	s := (m.wristAt + m.arm.length) / 2
	p := m.arm.point(s)
	return p.X + m.arm.right.at(s), p.Y
}

// reach is how far the front figure, with what it carries, extends on a side of the body, 0 right, 1 left.
func (d *dresser) reach(side int) float64 {
	out, _ := d.hand()
	for i, c := range d.carried {
		if i%2 == side {
			out += float64(c.box.Width()) + carriedGap
		}
	}
	return out
}

// hang draws what is carried: the first beside the body's right hand, the second beside the left, and so on outwards.
func (d *dresser) hang(v *view) {
	hand, y := d.hand()
	out := [2]float64{hand, hand}
	for i, c := range d.carried {
		sign := -1.0 // the body's right is to the picture's left
		if i%2 == 1 {
			sign = 1
		}
		w, h := float64(c.box.Width()), float64(c.box.Height())
		x := sign * (out[i%2] + carriedGap + w/2)
		out[i%2] += carriedGap + w
		// Held by its lower third if that keeps it off the floor.
		bottom := math.Max(.01*d.model.height, y-h*.35)
		move := geom.Pt(x, bottom+h/2).Sub(c.box.Centre())
		for _, l := range c.pieces {
			p := pen{scene: d.scene, place: func(q geom.Point) geom.Point { return v.pen.place(l.place(q).Add(move)) }}
			sh := geom.Shape{Outer: geom.Ring(sparse(p.path(geom.Path(l.Shape.Outer))))}
			for _, h := range l.Shape.Holes {
				if r := p.ring(h); r.Area() >= leastHole {
					sh.Holes = append(sh.Holes, r)
				}
			}
			tone := layers[min(max(l.Layer, 0), len(layers)-1)]
			d.scene.Shape(sh, draw.Style{Fill: tone, Stroke: edgeOfPiece, Width: .3})
			for _, s := range l.Scores {
				d.scene.Polyline(sparse(p.path(s)), draw.Stroke(edgeOfPiece, .12))
			}
			v.see(c.name, sh)
		}
	}
}
