package inspect

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"benchbell/quote/geom"
	"benchbell/quote/nest/exact"
)

// onGrid draws a triangle or a hook of whole numbers, where touching is the rule, and no overlap is less than a thousandth wide.
func onGrid(t *rapid.T, name string) geom.Shape {
	at := func(what string) float64 { return float64(rapid.IntRange(0, 6).Draw(t, name+what)) }
	x, y := at("x"), at("y")
	if rapid.Bool().Draw(t, name+"hook") {
		return geom.Shape{Outer: geom.Ring{geom.Pt(x, y), geom.Pt(x+3, y), geom.Pt(x+3, y+3), geom.Pt(x+2, y+3), geom.Pt(x+2, y+1), geom.Pt(x+1, y+1), geom.Pt(x+1, y+3), geom.Pt(x, y+3)}}
	}
	if rapid.Bool().Draw(t, name+"frame") {
		box := func(x, y, s float64) geom.Ring {
			return geom.Ring{geom.Pt(x, y), geom.Pt(x+s, y), geom.Pt(x+s, y+s), geom.Pt(x, y+s)}
		}
		return geom.Shape{Outer: box(x, y, 4), Holes: []geom.Ring{box(x+1, y+1, 2).Reversed()}}
	}
	for {
		r := geom.Ring{geom.Pt(x, y), geom.Pt(at("u"), at("v")), geom.Pt(at("w"), at("z"))}
		if r.SignedArea() != 0 {
			return geom.Shape{Outer: r}
		}
	}
}

// On a grid, regions meet when the exact test says that they overlap: two ways that have nothing in common.
func TestMeetsAsTheExactTest(t *testing.T) {
	met := 0
	rapid.Check(t, func(t *rapid.T) {
		a, b := onGrid(t, "a"), onGrid(t, "b")
		want := exact.Overlap(exact.NewOutline(a), exact.NewOutline(b))
		if at, got := lay(geom.Placement{}, a).meets(lay(geom.Placement{}, b)); got != want {
			t.Fatalf("%v and %v meet: %t at %v, exactly %t", a, b, got, at, want)
		}
		if want {
			met++
		}
	})
	if met < 5 {
		t.Errorf("only %d met", met)
	}
}

// What leaves a region is what has area outside of it, and what does not leave it does not make the two larger together.
func TestLeaves(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := onGrid(t, "a"), onGrid(t, "b")
		g, o := lay(geom.Placement{}, a), lay(geom.Placement{}, b)
		inside := 0.0
		for _, y := range levels(g, o, imag(g.lo), imag(g.hi)) {
			for _, s := range without(g.level(y), o.level(y)) {
				inside = max(inside, s.to-s.from)
			}
		}
		if at, out := g.leaves(o); out != (inside > 1e-3) {
			t.Fatalf("%v leaves %v: %t at %v, by %g at most on a level", a, b, out, at, inside)
		}
		if out := len(a.Holes) == 0 && len(b.Holes) == 0; out {
			corner := false
			for _, p := range a.Outer { // a corner well outside is enough
				corner = corner || !b.Contains(p) && b.Outer.DistanceTo(p) > 1e-3
			}
			if _, out := g.leaves(o); corner && !out {
				t.Fatalf("%v has a corner outside of %v and does not leave it", a, b)
			}
		}
	})
}

// Distances, areas and places are those of package geom, to rounding; geom reckons each in another way.
func TestAsGeomReckons(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := onGrid(t, "a"), onGrid(t, "b")
		at := geom.Placement{Mirrored: rapid.Bool().Draw(t, "mirrored"), Turn: rapid.Float64Range(-720, 720).Draw(t, "turn"),
			Move: geom.Pt(rapid.Float64Range(-1e3, 1e3).Draw(t, "dx"), rapid.Float64Range(-1e3, 1e3).Draw(t, "dy"))}
		g := lay(at, a)
		if d := g.off(at.Shape(a)); !(d < 1e-9) {
			t.Fatalf("%g mm off", d)
		}
		wrong := at
		wrong.Turn += 0.01
		if d := g.off(wrong.Shape(a)); d < 1e-5 {
			t.Fatalf("a turn by another hundredth of a degree is only %g mm off", d)
		}
		sum := g.rings[0].area()
		for _, r := range g.rings[1:] {
			sum -= r.area()
		}
		if math.Abs(sum-float64(a.Area())) > 1e-9 {
			t.Fatalf("area %v, %v", sum, a.Area())
		}
		far := geom.Placement{Move: geom.Pt(20, 0)}.Shape(b)
		want := math.Inf(1)
		for _, r := range append([]geom.Ring{a.Outer}, a.Holes...) {
			for _, s := range append([]geom.Ring{far.Outer}, far.Holes...) {
				for i := range r {
					for j := range s {
						want = min(want, float64(geom.SegmentDistance(r[i], r[(i+1)%len(r)], s[j], s[(j+1)%len(s)])))
					}
				}
			}
		}
		if got := lay(geom.Placement{}, a).distance(lay(geom.Placement{}, far), 30); math.Abs(got-want) > 1e-12 {
			t.Fatalf("distance %v, %v", got, want)
		}
	})
}
