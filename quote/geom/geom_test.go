package geom

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// near is floating-point noise on shapes of a metre: far below what a knife can cut.
const near = 1e-6

// star draws a simple ring: points at growing angles around a centre, so that no two edges cross.
func star(t *rapid.T) Ring {
	n := rapid.IntRange(3, 40).Draw(t, "n")
	c := Pt(rapid.Float64Range(-500, 500).Draw(t, "x"), rapid.Float64Range(-500, 500).Draw(t, "y"))
	r := make(Ring, n)
	for i := range r {
		d := rapid.Float64Range(5, 300).Draw(t, "r")
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		r[i] = c.Add(Pt(d*cos, d*sin))
	}
	return r
}

func placement(t *rapid.T) Placement {
	return Placement{
		Mirrored: rapid.Bool().Draw(t, "mirrored"), Turn: rapid.Float64Range(-720, 720).Draw(t, "turn"),
		Move: Pt(rapid.Float64Range(-1e3, 1e3).Draw(t, "dx"), rapid.Float64Range(-1e3, 1e3).Draw(t, "dy")),
	}
}

// A rigid placement keeps area, sense, perimeter and what lies inside.
func TestPlacementIsRigid(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, p := star(t), placement(t)
		q := p.Ring(r)
		if math.Abs(float64(q.SignedArea()-r.SignedArea())) > near*math.Max(1, float64(r.Area())) {
			t.Fatalf("area %v became %v", r.SignedArea(), q.SignedArea())
		}
		if math.Abs(float64(q.Perimeter()-r.Perimeter())) > near*float64(r.Perimeter()) {
			t.Fatalf("perimeter %v became %v", r.Perimeter(), q.Perimeter())
		}
		if d := p.Apply(r.Centroid()).Dist(q.Centroid()); d > 1e-5 {
			t.Fatalf("the centroid moved by %v against the ring", d)
		}
		c := Pt(rapid.Float64Range(-900, 900).Draw(t, "px"), rapid.Float64Range(-900, 900).Draw(t, "py"))
		if r.DistanceTo(c) > 1e-3 && r.Contains(c) != q.Contains(p.Apply(c)) {
			t.Fatalf("%v is inside before or after, not both", c)
		}
	})
}

// Reversing changes the sense and nothing else; CCW is counter-clockwise and idempotent.
func TestSense(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := star(t)
		if got := r.Reversed().SignedArea(); math.Abs(float64(got+r.SignedArea())) > near*float64(r.Area()) {
			t.Fatalf("reversed area %v of %v", got, r.SignedArea())
		}
		if r.Reversed().Reversed()[0] != r[0] || r.Reversed().CCW().SignedArea() < 0 {
			t.Fatal("reversing twice, or CCW, is off")
		}
	})
}

// A star has no crossing; exchanging two far points of a convex one makes one, and it is found on both edges.
func TestSelfCrossing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := star(t)
		if i, j, at, ok := r.SelfCrossing(); !ok {
			t.Fatalf("edges %d and %d of a simple ring cross at %v", i, j, at)
		}
		n := rapid.IntRange(5, 40).Draw(t, "m")
		c := make(Ring, n)
		for i := range c {
			sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(n))
			c[i] = Pt(100*cos, 100*sin)
		}
		c[1], c[3] = c[3], c[1]
		i, j, at, ok := c.SelfCrossing()
		if ok {
			t.Fatal("a crossed ring passed")
		}
		for _, k := range []int{i, j} {
			if d := SegmentDistance(c[k], c[(k+1)%n], at, at); d > near {
				t.Fatalf("the place %v is %v off edge %d", at, d, k)
			}
		}
	})
	spike := Ring{Pt(0, 0), Pt(10, 0), Pt(20, 0), Pt(15, 0), Pt(15, 10)}
	if _, _, _, ok := spike.SelfCrossing(); ok {
		t.Error("an edge that folds back on the one before passed")
	}
}

// The distance between segments is symmetric, zero exactly where they meet, and never above that of their ends.
func TestSegmentDistance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := rapid.Float64Range(-100, 100)
		p := func(name string) Point { return Pt(f.Draw(t, name+"x"), f.Draw(t, name+"y")) }
		a, b, c, d := p("a"), p("b"), p("c"), p("d")
		x, y := SegmentDistance(a, b, c, d), SegmentDistance(c, d, b, a)
		if math.Abs(float64(x-y)) > near {
			t.Fatalf("%v one way, %v the other", x, y)
		}
		if _, hit := SegmentsMeet(a, b, c, d); hit != (x == 0) && x > near {
			t.Fatalf("meet %v, distance %v", hit, x)
		}
		if float64(x) > a.Dist(c)+near || float64(x) > b.Dist(d)+near {
			t.Fatalf("distance %v is above that of two ends", x)
		}
	})
}

// Quarter turns are exact, so that a piece turned four times lies where it lay.
func TestQuarterTurnsAreExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := Pt(rapid.Float64().Draw(t, "x"), rapid.Float64().Draw(t, "y"))
		q := p
		for range 4 {
			q = Placement{Turn: 90}.Apply(q)
		}
		if q != p {
			t.Fatalf("%v became %v", p, q)
		}
	})
}

// Known figures: a 3-4-5 triangle, a square with a hole, a path of two edges.
func TestKnownFigures(t *testing.T) {
	tri := Ring{Pt(0, 0), Pt(4, 0), Pt(0, 3)}
	if tri.SignedArea() != 6 || tri.Perimeter() != 12 {
		t.Errorf("3-4-5: area %v, perimeter %v", tri.SignedArea(), tri.Perimeter())
	}
	s := Shape{Outer: Ring{Pt(0, 0), Pt(10, 0), Pt(10, 10), Pt(0, 10)}, Holes: []Ring{{Pt(4, 4), Pt(6, 4), Pt(6, 6), Pt(4, 6)}}}
	if s.Area() != 96 || s.CutLength() != 48 || s.Contains(Pt(5, 5)) || !s.Contains(Pt(2, 2)) {
		t.Errorf("square with hole: area %v, cut %v", s.Area(), s.CutLength())
	}
	p := Path{Pt(0, 0), Pt(3, 0), Pt(3, 4)}
	at, dir := p.At(5)
	if p.Length() != 7 || at != Pt(3, 2) || dir != Pt(0, 1) {
		t.Errorf("path: length %v, at 5 %v towards %v", p.Length(), at, dir)
	}
	if MM(97.5).String() != "97.5 mm" || MM(5).String() != "5 mm" || MM2(1e6).M2() != 1 || MM(250).M() != 0.25 {
		t.Error("lengths or areas are written wrong")
	}
}
