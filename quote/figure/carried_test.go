package figure

import (
	"math"
	"testing"

	"benchbell/quote/draw"
	"benchbell/quote/geom"

	"pgregory.net/rapid"
)

// sector of a ring, as a pattern has it: drawn anywhere, turned anyhow, its arcs in short straight pieces.
func sector(inner, outer, degrees, turn float64, at geom.Point) geom.Ring {
	const steps = 40
	var r geom.Ring
	add := func(radius, deg float64) {
		sin, cos := math.Sincos((deg + turn) * math.Pi / 180)
		r = append(r, at.Add(geom.Pt(radius*cos, radius*sin)))
	}
	for i := range steps + 1 {
		add(outer, degrees*float64(i)/steps)
	}
	if inner == 0 {
		if degrees < 180 {
			r = append(r, at)
		}
		return r
	}
	for i := steps; i >= 0; i-- {
		add(inner, degrees*float64(i)/steps)
	}
	return r
}

// Sectors of a full turn, wherever they are drawn, are put together to one disc: as wide as high, and its area theirs.
func TestSectorsMakeADisc(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 8).Draw(t, "sectors")
		radius := rapid.Float64Range(150, 400).Draw(t, "radius")
		inner := radius * rapid.SampledFrom([]float64{0, .5, .8}).Draw(t, "inner")
		turn := rapid.Float64Range(0, 360).Draw(t, "turn")
		var pieces []Worn
		for range n {
			pieces = append(pieces, Worn{Name: "shield", Shape: geom.Shape{Outer: sector(inner, radius, 360/float64(n), turn, geom.Pt(50, -20))}})
		}
		pieces = append(pieces, Worn{Name: "shield", Layer: 1, Shape: box(60, 60)}, Worn{Name: "shield", Layer: 2, Shape: box(6*radius, 30)})
		laid, r, ok := disc(pieces)
		if !ok || math.Abs(r-radius) > .01*radius {
			t.Fatalf("%v %v", r, ok)
		}
		if len(laid) != n+1 {
			t.Fatalf("%d pieces are laid, want the sectors and the one in the middle", len(laid))
		}
		b := geom.EmptyBox()
		for _, l := range laid {
			for _, p := range l.Shape.Outer {
				q := l.place(p)
				if q.Norm() > radius*1.001 {
					t.Fatalf("a point lies %v from the middle of a disc of %v", q.Norm(), radius)
				}
				b = b.Extend(q)
			}
		}
		if float64(b.Width()) < 1.9*radius || float64(b.Height()) < 1.9*radius {
			t.Fatalf("the disc is %v by %v, its radius %v", b.Width(), b.Height(), radius)
		}
	})
}

// A sword is no disc: its pieces are stacked by their heights.
func TestSwordIsStacked(t *testing.T) {
	cs := carry([]Worn{
		{Name: "sword", Shape: box(50, 600), Height: .5}, {Name: "sword", Shape: box(180, 30), Height: .2, Layer: 2},
		{Name: "lamp", Shape: box(100, 100), Height: .5},
	})
	if len(cs) != 2 || cs[0].name != "sword" || len(cs[0].pieces) != 2 {
		t.Fatalf("%+v", cs)
	}
	if h := cs[0].box.Height(); math.Abs(float64(h)-600) > 1e-9 {
		t.Errorf("the sword is %v high", h)
	}
	if y := cs[0].pieces[1].place(geom.Pt(90, 15)).Y; math.Abs(y-120) > 1e-9 {
		t.Errorf("the guard's middle is at %v of 600, want 120", y)
	}
}

// Names at the side never lie on each other, nor off the picture.
func TestLabelsKeepApart(t *testing.T) {
	var worn []Worn
	for _, side := range []string{"right", "left"} {
		for i, w := range wardrobe() {
			if w.Side == "" || w.Side == side {
				w.Name = w.Region + " of a long name that takes lines " + side
				if i%3 == 0 {
					w.Name = w.Region + " " + side
				}
				worn = append(worn, w)
			}
		}
	}
	s := Dressed(bodies["large"], worn, "Labels")
	var boxes []geom.Box
	for _, f := range s.Figures {
		if f.Text == nil || f.Text.Size != 3.6 {
			continue
		}
		w := float64(draw.TextWidth(f.Text.Font, f.Text.Size, f.Text.Value))
		x := f.Text.At.X
		if f.Text.Anchor == draw.Middle {
			x -= w / 2
		}
		b := geom.Box{Min: geom.Pt(x, f.Text.At.Y-2.6), Max: geom.Pt(x+w, f.Text.At.Y+.6)}
		for _, o := range boxes {
			if b.Overlaps(o) {
				t.Errorf("%q at %v lies on another name at %v", f.Text.Value, b, o)
			}
		}
		if b.Min.X < 0 || b.Max.X > float64(s.Width) || b.Min.Y < 0 || b.Max.Y > float64(s.Height) {
			t.Errorf("%q is off the picture at %v", f.Text.Value, b)
		}
		boxes = append(boxes, b)
	}
	if len(boxes) < 20 {
		t.Errorf("%d lines of names", len(boxes))
	}
}
