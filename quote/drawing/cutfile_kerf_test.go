package drawing

import (
	"math"
	"strings"
	"testing"

	"benchbell/quote/geom"
	"pgregory.net/rapid"
)

// checkOffset checks a moved ring against its definition: simple, in the same direction, everywhere at distance d from the
// old one, and the old one nowhere nearer to it.
func checkOffset(t *rapid.T, r, out geom.Ring, d float64) {
	if i, j, at, ok := out.SelfCrossing(); !ok {
		t.Fatalf("edges %d and %d of the moved ring meet at %v", i, j, at)
	}
	if out.SignedArea()*r.SignedArea() <= 0 {
		t.Fatal("the moved ring runs the other way")
	}
	for i, p := range out {
		q := p.Lerp(out[(i+1)%len(out)], 0.5)
		if off := float64(r.DistanceTo(p)); math.Abs(off-math.Abs(d)) > joinFlatness+1e-5 {
			t.Fatalf("point %d is %v from the ring, not %v", i, off, math.Abs(d))
		}
		if off := float64(r.DistanceTo(q)); off < math.Abs(d)-2*joinFlatness {
			t.Fatalf("the middle of edge %d is %v from the ring, less than %v", i, off, math.Abs(d))
		}
		if r.Contains(p) != (d < 0) {
			t.Fatalf("point %d is on the wrong side", i)
		}
	}
}

// A ring moved out or in keeps its distance everywhere, or is refused with a reason.
func TestOffsetLaw(t *testing.T) {
	moved, refused := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		r := star(t)
		if rapid.Bool().Draw(t, "clockwise") {
			r = r.Reversed()
		}
		d := rapid.Float64Range(0.05, 6).Draw(t, "d")
		if rapid.Bool().Draw(t, "inwards") {
			d = -d
		}
		out, err := offsetRing(r, d)
		if err != nil {
			refused++
			return
		}
		moved++
		checkOffset(t, r, out, d)
	})
	if moved < 4*refused {
		t.Errorf("%d of %d rings were refused", refused, moved+refused)
	}
}

// A wavy ring of short edges, as flattened curves are, can be moved even by more than its edges and the radius of its inner
// curves.
func TestOffsetOfCurves(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(50, 250).Draw(t, "points")
		waves, depth := rapid.IntRange(0, 12).Draw(t, "waves"), rapid.Float64Range(0, 20).Draw(t, "depth")
		d := rapid.Float64Range(0.05, 4).Draw(t, "d")
		r := make(geom.Ring, n)
		for i := range r {
			a := 2 * math.Pi * float64(i) / float64(n)
			sin, cos := math.Sincos(a)
			r[i] = geom.Pt(cos, sin).Mul(100 + depth*math.Sin(float64(waves)*a))
		}
		for _, d := range []float64{d, -d} {
			out, err := offsetRing(r, d)
			if err != nil {
				t.Fatalf("by %v: %v", d, err)
			}
			checkOffset(t, r, out, d)
			if grown := float64(out.Area() - r.Area()); math.Signbit(grown) != math.Signbit(d) {
				t.Fatalf("moved by %v the area grows by %v", d, grown)
			}
		}
	})
}

// Steiner's formula: a convex ring moved out by d gains perimeter·d + πd² (J. Steiner, 1840); a rectangle moved in
// loses as much as the sides say.
func TestOffsetAreas(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, h := rapid.Float64Range(20, 400).Draw(t, "w"), rapid.Float64Range(20, 400).Draw(t, "h")
		d := rapid.Float64Range(0.1, 5).Draw(t, "d")
		r := geom.Ring{geom.Pt(0, 0), geom.Pt(w, 0), geom.Pt(w, h), geom.Pt(0, h)}
		out, err := offsetRing(r, d)
		if err != nil {
			t.Fatal(err)
		}
		if got, want := float64(out.Area()), w*h+2*(w+h)*d+math.Pi*d*d; math.Abs(got-want) > 2*math.Pi*d*joinFlatness {
			t.Fatalf("out: %v mm², Steiner says %v", got, want)
		}
		in, err := offsetRing(r, -d)
		if err != nil {
			t.Fatal(err)
		}
		if got, want := float64(in.Area()), (w-2*d)*(h-2*d); math.Abs(got-want) > 1e-3 {
			t.Fatalf("in: %v mm², %v expected", got, want)
		}
	})
}

// What the tool cannot cut is refused with piece and reason.
func TestKerfRefuses(t *testing.T) {
	pt := geom.Pt
	rect := func(x, y, w, h float64) geom.Path {
		return geom.Path{pt(x, y), pt(x+w, y), pt(x+w, y+h), pt(x, y+h)}
	}
	for _, c := range []struct {
		name string
		line CutLine
		want string
	}{
		{"slot in the outline", CutLine{Layer: Through, Closed: true, Points: geom.Path{pt(0, 0), pt(100, 0), pt(100, 50), pt(51, 50), pt(51, 10), pt(50, 10), pt(50, 50), pt(0, 50)}}, "too narrow for the kerf of 2 mm"},
		{"keyhole", CutLine{Layer: Through, Closed: true, Points: geom.Path{pt(0, 0), pt(100, 0), pt(100, 50), pt(51, 50), pt(51, 30), pt(60, 30), pt(60, 10), pt(40, 10), pt(40, 30), pt(50, 30), pt(50, 50), pt(0, 50)}}, "the outline has a gap no wider than the kerf of 2 mm"},
		{"thin hole", CutLine{Layer: Inside, Closed: true, Points: rect(10, 10, 30, 1.9)}, "a hole no wider than the kerf of 2 mm would vanish"},
		{"hole with a neck", CutLine{Layer: Inside, Closed: true, Points: geom.Path{pt(0, 0), pt(20, 0), pt(20, 5), pt(11, 5), pt(11, 10), pt(20, 10), pt(20, 20), pt(0, 20), pt(0, 10), pt(10, 10), pt(10, 5), pt(0, 5)}}, "would split into 2"},
		{"small drill", CutLine{Layer: Inside, Circle: &Circle{pt(5, 5), 1}}, "a hole of 2 mm is no wider than the kerf of 2 mm"},
		{"crossed", CutLine{Layer: Through, Closed: true, Points: geom.Path{pt(0, 0), pt(30, 30), pt(30, 0), pt(0, 30)}}, "it crosses itself at (15.0, 15.0)"},
		{"flat", CutLine{Layer: Through, Closed: true, Points: geom.Path{pt(0, 0), pt(0, 0), pt(9, 0)}}, "encloses nothing"},
	} {
		c.line.Piece = "Cuff left"
		s := CutSheet{Width: 500, Height: 500, Kerf: 2, Lines: []CutLine{c.line}}
		for _, write := range []func(CutSheet) ([]byte, error){WriteSVG, WriteDXF} {
			_, err := write(s)
			if err == nil || !strings.Contains(err.Error(), c.want) || !strings.Contains(err.Error(), `"Cuff left"`) {
				t.Errorf("%s: error %v, want %q", c.name, err, c.want)
			}
		}
	}
}
