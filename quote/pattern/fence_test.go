package pattern

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"benchbell/quote/geom"
)

func drawRing(t *rapid.T) geom.Ring {
	n := rapid.IntRange(3, 40).Draw(t, "n")
	coarse := rapid.Bool().Draw(t, "coarse") // whole numbers bring touching corners and parallel edges
	r := make(geom.Ring, n)
	for i := range r {
		if coarse {
			r[i] = geom.Pt(float64(rapid.IntRange(0, 12).Draw(t, "x")), float64(rapid.IntRange(0, 12).Draw(t, "y")))
		} else {
			a := 2 * math.Pi * float64(i) / float64(n)
			d := rapid.Float64Range(20, 100).Draw(t, "d")
			r[i] = geom.Pt(d*math.Cos(a)+rapid.Float64Range(-15, 15).Draw(t, "dx"), d*math.Sin(a))
		}
	}
	return r
}

// The grid finds a crossing exactly where comparing all pairs of edges does, and knows what is near and what lies inside.
func TestFenceAgreesWithAllPairs(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		r := drawRing(rt)
		for i := range r {
			if r[i] == r[(i+1)%len(r)] {
				return // a standing point is a crossing to the fence only
			}
		}
		f := newFence(r)
		_, crosses, err := f.crossing()
		if err != nil {
			rt.Fatal(err)
		}
		if _, _, _, simple := r.SelfCrossing(); crosses == simple {
			rt.Fatalf("crosses %t, all pairs say simple %t: %v", crosses, simple, r)
		}
		p, q := geom.Pt(rapid.Float64Range(-20, 20).Draw(rt, "px"), rapid.Float64Range(-20, 20).Draw(rt, "py")), geom.Pt(rapid.Float64Range(-20, 20).Draw(rt, "qx"), 5)
		const border = 1e-9 // a point on the line is neither in nor out
		if got, want := f.contains(p), r.Contains(p); got != want && r.DistanceTo(p) > border {
			rt.Fatalf("contains is %t, want %t", got, want)
		}
		d := rapid.Float64Range(0.1, 10).Draw(rt, "distance")
		want := false
		for i, a := range r {
			want = want || float64(geom.SegmentDistance(a, r[(i+1)%len(r)], p, q)) < d
		}
		if got := f.near(p, q, d); got != want {
			rt.Fatalf("near is %t, want %t", got, want)
		}
	})
}

func TestCrossingIsRefused(t *testing.T) {
	r := geom.Ring{geom.Pt(10, 10), geom.Pt(90, 90), geom.Pt(90, 10), geom.Pt(10, 80)}
	if err := checkRing(r); err == nil || !contains(err.Error(), "crosses or touches itself at (47.3, 47.3) mm") {
		t.Fatalf("got %v, want a crossing named by its place", err)
	}
}

// wheel is a large simple ring with many short edges; comb one with as many long ones.
func wheel(n int) geom.Ring {
	r := make(geom.Ring, n)
	for i := range r {
		s, c := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		d := 500 + 20*math.Sin(40*math.Pi*float64(i)/float64(n))
		r[i] = geom.Pt(d*c, d*s)
	}
	return r
}

func comb(n int, slant float64) geom.Ring {
	var r geom.Ring
	for i := range n / 2 {
		x := float64(i)
		if i%2 == 0 {
			r = append(r, geom.Pt(x, 0), geom.Pt(x+slant, 1000))
		} else {
			r = append(r, geom.Pt(x+slant, 1000), geom.Pt(x, 0))
		}
	}
	return append(r, geom.Pt(float64(n), -10), geom.Pt(-10, -10))
}

// Rings that are slow to check end in a plain refusal within bounded work.
func TestIntricateRings(t *testing.T) {
	for name, c := range map[string]struct {
		ring geom.Ring
		ok   bool
	}{"wheel": {wheel(20000), true}, "comb": {comb(20000, 0), true}, "slanted comb": {comb(20000, 10000), false}} {
		at, crosses, err := newFence(c.ring).crossing()
		if crosses || (err == nil) != c.ok {
			t.Errorf("%s: crosses %t at %v, %v", name, crosses, at, err)
		}
	}
}

func BenchmarkCrossing20k(b *testing.B) {
	r := wheel(20000)
	for b.Loop() {
		if _, crosses, err := newFence(r).crossing(); crosses || err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkCrossingIntricate(b *testing.B) {
	r := comb(20000, 10000)
	for b.Loop() {
		if _, _, err := newFence(r).crossing(); err == nil {
			b.Fatal("checked")
		}
	}
}
