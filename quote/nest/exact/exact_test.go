package exact

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"benchbell/quote/geom"
)

// Points within some roundings of one line, where floating point alone errs: the filtered answer is the rational one.
func TestOrientIsExact(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	zero, naive := 0, 0
	for range 20000 {
		a, b := geom.Pt(rng.Float64()*1000, rng.Float64()*1000), geom.Pt(rng.Float64()*1000, rng.Float64()*1000)
		c := a.Lerp(b, rng.Float64()*3-1)
		for range rng.IntN(3) {
			c.X = math.Nextafter(c.X, math.Inf(1))
		}
		got, want := orient(a, b, c), turn(rational(a), rational(b), rational(c))
		if got != want {
			t.Fatalf("%v %v %v: %d, in rationals %d", a, b, c, got, want)
		}
		if want == 0 {
			zero++
		}
		if d := b.Sub(a).Cross(c.Sub(a)); (d > 0) != (want > 0) || (d < 0) != (want < 0) {
			naive++
		}
	}
	if naive < 100 {
		t.Errorf("only %d of the cases fool plain floating point; they prove little", naive)
	}
	t.Logf("%d on the line, %d that plain floating point gets wrong", zero, naive)
}

func TestOrientLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pt := func(n string) geom.Point {
			if rapid.Bool().Draw(t, n+" small") {
				return geom.Pt(float64(rapid.IntRange(-3, 3).Draw(t, n+"x")), float64(rapid.IntRange(-3, 3).Draw(t, n+"y")))
			}
			return geom.Pt(rapid.Float64Range(-1e6, 1e6).Draw(t, n+"x"), rapid.Float64Range(-1e6, 1e6).Draw(t, n+"y"))
		}
		a, b, c := pt("a"), pt("b"), pt("c")
		o := orient(a, b, c)
		if orient(b, c, a) != o || orient(c, a, b) != o || orient(b, a, c) != -o {
			t.Fatalf("%v %v %v: sides disagree", a, b, c)
		}
	})
}

func square(x, y, s float64) geom.Ring {
	return geom.Ring{geom.Pt(x, y), geom.Pt(x+s, y), geom.Pt(x+s, y+s), geom.Pt(x, y+s)}
}

// Cases that a test of crossing edges alone, or of corners alone, gets wrong.
func TestOverlapCases(t *testing.T) {
	one := math.Nextafter(1, 0)
	hollow := geom.Shape{Outer: square(0, 0, 10), Holes: []geom.Ring{square(2, 2, 6)}}
	star := geom.Shape{Outer: geom.Ring{geom.Pt(0, 0), geom.Pt(4, 1), geom.Pt(8, 0), geom.Pt(7, 4), geom.Pt(8, 8), geom.Pt(4, 7), geom.Pt(0, 8), geom.Pt(1, 4)}}
	for _, c := range []struct {
		name string
		a, b geom.Shape
		want bool
	}{
		{"side by side", geom.Shape{Outer: square(0, 0, 1)}, geom.Shape{Outer: square(1, 0, 1)}, false},
		{"one rounding in", geom.Shape{Outer: square(0, 0, 1)}, geom.Shape{Outer: square(one, 0, 1)}, true},
		{"slid along a common side", geom.Shape{Outer: square(0, 0, 1)}, geom.Shape{Outer: square(0.5, 0, 1)}, true},
		{"the same", geom.Shape{Outer: square(0, 0, 1)}, geom.Shape{Outer: square(0, 0, 1)}, true},
		{"the same, other sense and start", geom.Shape{Outer: square(0, 0, 1)},
			geom.Shape{Outer: geom.Ring{geom.Pt(1, 1), geom.Pt(1, 0), geom.Pt(0, 0), geom.Pt(0, 1)}}, true},
		{"corner to corner", geom.Shape{Outer: square(0, 0, 1)}, geom.Shape{Outer: square(1, 1, 1)}, false},
		{"corner on a side", geom.Shape{Outer: square(0, 0, 2)}, geom.Shape{Outer: geom.Ring{geom.Pt(1, 2), geom.Pt(2, 3), geom.Pt(0, 3)}}, false},
		{"corner on a side, from inside", geom.Shape{Outer: square(0, 0, 2)}, geom.Shape{Outer: geom.Ring{geom.Pt(1, 2), geom.Pt(0.5, 1), geom.Pt(1.5, 1)}}, true},
		{"within", geom.Shape{Outer: square(0, 0, 10)}, geom.Shape{Outer: square(3, 3, 1)}, true},
		{"in the hole", hollow, geom.Shape{Outer: square(3, 3, 1)}, false},
		{"filling the hole", hollow, geom.Shape{Outer: square(2, 2, 6)}, false},
		{"over the hole's border", hollow, geom.Shape{Outer: square(1, 3, 2)}, true},
		{"covering all of it", hollow, geom.Shape{Outer: square(-1, -1, 12)}, true},
		{"around the hole, without touching", hollow, geom.Shape{Outer: square(1, 1, 8)}, true},
		{"cross", geom.Shape{Outer: geom.Ring{geom.Pt(0, 2), geom.Pt(6, 2), geom.Pt(6, 3), geom.Pt(0, 3)}},
			geom.Shape{Outer: geom.Ring{geom.Pt(2, 0), geom.Pt(3, 0), geom.Pt(3, 6), geom.Pt(2, 6)}}, true},
		{"across from corner to corner", geom.Shape{Outer: square(0, 0, 4)}, geom.Shape{Outer: geom.Ring{geom.Pt(0, 0), geom.Pt(4, 4), geom.Pt(-4, 8)}}, true},
		{"point in a hollow corner", star, geom.Shape{Outer: geom.Ring{geom.Pt(4, 1), geom.Pt(3.9, -3), geom.Pt(4.1, -3)}}, false},
		{"point into a hollow corner", star, geom.Shape{Outer: geom.Ring{geom.Pt(4, 1.5), geom.Pt(3.9, -3), geom.Pt(4.1, -3)}}, true},
	} {
		a, b := NewOutline(c.a), NewOutline(c.b)
		if got := Overlap(a, b); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
		if got := Overlap(b, a); got != c.want {
			t.Errorf("%s, swapped: %v", c.name, got)
		}
	}
}

// On a small grid, where touching, collinear and equal are the rule: the area common to two convex polygons, cut out
// edge by edge in whole numbers and fractions (Sutherland and Hodgman, another method altogether), is zero exactly
// when Overlap says so; and a shape's sense, start, place and mirror image change nothing.
func TestOverlapAgainstClipping(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		draw := func(n string) geom.Ring {
			x, y := rapid.IntRange(0, 6).Draw(t, n+"x"), rapid.IntRange(0, 6).Draw(t, n+"y")
			for {
				r := geom.Ring{geom.Pt(float64(x), float64(y))}
				for range 2 {
					r = append(r, geom.Pt(float64(rapid.IntRange(0, 6).Draw(t, n+"u")), float64(rapid.IntRange(0, 6).Draw(t, n+"v"))))
				}
				if r.SignedArea() != 0 {
					return r.CCW()
				}
			}
		}
		a, b := draw("a"), draw("b")
		want := commonArea(a, b) > 1e-6 // the least common area of triangles on this grid is far above
		check := func(what string, a, b geom.Ring) {
			if got := Overlap(NewOutline(geom.Shape{Outer: a}), NewOutline(geom.Shape{Outer: b})); got != want {
				t.Fatalf("%s: %v and %v: %v, common area says %v", what, a, b, got, want)
			}
		}
		check("as drawn", a, b)
		check("swapped", b, a)
		check("other sense", a.Reversed(), b)
		check("other start", append(a[1:len(a):len(a)], a[0]), b)
		move := geom.Placement{Turn: 90, Mirrored: true, Move: geom.Pt(1024, -512)}
		check("moved and mirrored", move.Ring(a), move.Ring(b))
	})
}

func commonArea(a, b geom.Ring) float64 {
	out := a
	for i := range b {
		p, q := b[i], b[(i+1)%len(b)]
		side := func(r geom.Point) float64 { return q.Sub(p).Cross(r.Sub(p)) }
		in := out
		out = nil
		for j := range in {
			u, v := in[j], in[(j+1)%len(in)]
			su, sv := side(u), side(v)
			if su >= 0 {
				out = append(out, u)
			}
			if su*sv < 0 {
				out = append(out, u.Lerp(v, su/(su-sv)))
			}
		}
	}
	if len(out) < 3 {
		return 0
	}
	return float64(out.Area())
}
