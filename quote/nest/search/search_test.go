package search

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"benchbell/quote/geom"
	"benchbell/quote/nest/exact"

	"pgregory.net/rapid"
)

func rect(w, h float64) geom.Ring { return geom.Ring{{}, {X: w}, {X: w, Y: h}, {Y: h}} }

// blob is a ring around the origin, concave almost always.
func blob(radii []float64, squeeze float64) geom.Ring {
	var r geom.Ring
	for i, d := range radii {
		s, c := math.Sincos(2 * math.Pi * float64(i) / float64(len(radii)))
		r = append(r, geom.Pt(d*c, d*s*squeeze))
	}
	return r
}

func drawRing(t *rapid.T) geom.Ring {
	num := func(lo, hi int, label string) float64 { return float64(rapid.IntRange(lo, hi).Draw(t, label)) }
	switch rapid.IntRange(0, 3).Draw(t, "ring") {
	case 0:
		return rect(num(1, 300, "w"), num(1, 300, "h"))
	case 1: // a U
		w, h, d := num(60, 300, "w"), num(60, 300, "h"), num(5, 25, "t")
		return geom.Ring{{}, {X: w}, {X: w, Y: h}, {X: w - d, Y: h}, {X: w - d, Y: d}, {X: d, Y: d}, {X: d, Y: h}, {Y: h}}
	case 2: // a sliver
		return geom.Ring{{}, {X: num(100, 380, "long"), Y: num(0, 20, "rise")}, {X: 5, Y: num(1, 3, "thin") + 0.5}}
	}
	radii := make([]float64, rapid.IntRange(5, 60).Draw(t, "points"))
	for i := range radii {
		radii[i] = num(20, 120, "r")
	}
	return blob(radii, num(5, 100, "squeeze")/100)
}

// Every circle lies inside its outline and clear of the others; long or thin rings have some too.
func TestPolesLieInside(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := drawRing(t)
		ps := findPoles(r)
		if len(ps) == 0 {
			t.Fatal("no circle")
		}
		for i, p := range ps {
			if d := float64(r.DistanceTo(geom.Pt(p.x, p.y))); !r.Contains(geom.Pt(p.x, p.y)) || p.r > d*(1+1e-9) || !(p.r > 0) {
				t.Fatalf("circle %d of radius %v at %v, %v is %v from the border", i, p.r, p.x, p.y, d)
			}
			for _, q := range ps[:i] {
				if d := math.Hypot(p.x-q.x, p.y-q.y); d < (p.r+q.r)*(1-1e-9) {
					t.Fatalf("circles overlap by %v", p.r+q.r-d)
				}
			}
		}
	})
}

// No point closer to the ring than the distance lies outside the grown outline, and none of its corners sticks out farther
// than its arcs are coarse.
func TestGrownKeepsDistance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := drawRing(t)
		d := rapid.Float64Range(0.5, 20).Draw(t, "distance")
		k := NewKind(Part{True: r, Rough: r, Turns: []float64{0}}, d)
		for i, p := range r {
			q := r[(i+1)%len(r)]
			on := p.Lerp(q, rapid.Float64Range(0, 1).Draw(t, "along"))
			sin, cos := math.Sincos(rapid.Float64Range(0, 2*math.Pi).Draw(t, "way"))
			at := on.Add(geom.Pt(cos, sin).Mul(d * 0.9999))
			if !inside(k.forms[0], at.X, at.Y) {
				t.Fatalf("%v, %v from the ring, is left out", at, r.DistanceTo(at))
			}
		}
		for _, p := range k.ring {
			if far := float64(r.DistanceTo(p)); far > d/math.Cos(arcStep/2)*(1+1e-9) {
				t.Fatalf("%v is %v out, grown by %v", p, far, d)
			}
		}
	})
}

// The rough ring contains the ring and gains less than a thousandth of its area.
func TestRoughHolds(t *testing.T) {
	fewer := 0
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(16, 240).Draw(t, "points")
		radii := make([]float64, n)
		phase := rapid.Float64Range(0, 6).Draw(t, "phase")
		for i := range radii {
			radii[i] = 100 + 30*math.Sin(phase+3*2*math.Pi*float64(i)/float64(n)) + rapid.Float64Range(0, 2).Draw(t, "jitter")
		}
		r := blob(radii, 1)
		s := Rough(r)
		for _, p := range r {
			if !s.Contains(p) && s.DistanceTo(p) > 1e-9 {
				t.Fatalf("%v is left out by %v", p, s.DistanceTo(p))
			}
		}
		if a, b := float64(r.Area()), float64(s.Area()); b < a*(1-1e-12) || b > a*1.001 {
			t.Fatalf("area %v became %v", a, b)
		}
		if len(s) < len(r) {
			fewer++
		}
	})
	if fewer == 0 {
		t.Error("no ring got fewer points")
	}
}

// Where nothing is close to touching (an irrational step makes sure of that), the search's test and the exact one agree; on
// a grid, where touching is the rule, they agree too.
func TestCollidesIsExact(t *testing.T) {
	w := &worker{}
	rapid.Check(t, func(t *rapid.T) {
		grid := rapid.Bool().Draw(t, "grid")
		draw := func(n string) geom.Ring {
			if !grid {
				return drawRing(t)
			}
			x, y := float64(rapid.IntRange(1, 6).Draw(t, n+"w")), float64(rapid.IntRange(1, 6).Draw(t, n+"h"))
			switch rapid.IntRange(0, 2).Draw(t, n) {
			case 0:
				return rect(x, y)
			case 1:
				return geom.Ring{{}, {X: x}, {Y: y}}
			}
			return geom.Ring{{}, {X: x + 2}, {X: x + 2, Y: y + 2}, {X: x + 1, Y: y + 2}, {X: x + 1, Y: 1}, {X: 1, Y: 1}, {X: 1, Y: y + 2}, {Y: y + 2}}
		}
		ra, rb := draw("a"), draw("b")
		a := NewKind(Part{True: ra, Rough: ra, Turns: []float64{0, 90, 180, 270}, MayFlip: true}, 0)
		b := NewKind(Part{True: rb, Rough: rb, Turns: []float64{0, 90, 180, 270}, MayFlip: true}, 0)
		f, g := a.forms[rapid.IntRange(0, 7).Draw(t, "turn")], b.forms[rapid.IntRange(0, 7).Draw(t, "turn")]
		var at geom.Point
		if grid {
			at = geom.Pt(float64(rapid.IntRange(-9, 9).Draw(t, "x")), float64(rapid.IntRange(-9, 9).Draw(t, "y")))
		} else {
			at = geom.Pt(float64(rapid.IntRange(-400, 400).Draw(t, "x"))+math.Sqrt2/3, float64(rapid.IntRange(-400, 400).Draw(t, "y"))+math.Sqrt2/5)
		}
		pa := geom.Placement{Turn: f.turn, Mirrored: f.mirrored}.Ring(ra)
		pb := geom.Placement{Turn: g.turn, Mirrored: g.mirrored, Move: at}.Ring(rb)
		want := exact.Overlap(exact.NewOutline(geom.Shape{Outer: pa}), exact.NewOutline(geom.Shape{Outer: pb}))
		got := f.box.overlaps(g.box.moved(at.X, at.Y)) && w.collides(f, g, at.X, at.Y)
		if got != want {
			t.Fatalf("%v and %v: collide %v, exactly %v", pa, pb, got, want)
		}
		if back := g.box.moved(at.X, at.Y).overlaps(f.box) && w.collides(g, f, -at.X, -at.Y); back != got {
			t.Fatalf("%v and %v: collide %v, swapped %v", pa, pb, got, back)
		}
	})
}

// pieces is n outlines of so many points on a strip.
func testSearcher(n, points int, free bool) *Searcher {
	rng := rand.New(rand.NewPCG(3, 3))
	var kinds []*Kind
	area := 0.0
	for range n {
		radii := make([]float64, points)
		size, waves := 60+140*rng.Float64(), float64(2+rng.IntN(4))
		depth, phase := 0.35*rng.Float64(), rng.Float64()*6
		for k := range radii {
			radii[k] = size * (1 + depth*math.Sin(phase+waves*2*math.Pi*float64(k)/float64(points)))
		}
		r := blob(radii, 0.4+0.6*rng.Float64())
		p := Part{True: r, Rough: r, Turns: []float64{0, 90, 180, 270}}
		if free {
			p.Turns = nil
		}
		kinds = append(kinds, NewKind(p, 2))
		area += float64(r.Area())
	}
	h := math.Sqrt(area)
	s := newSearcher(kinds, []*Field{{Width: 3 * h, Height: h}}, 1, 1, func(int) float64 { return 0 })
	s.first()
	s.w.fields[0].w = area / h / 0.85 // crowded: most pieces overlap some
	for i := range s.w.n {
		s.cur.clamp(i)
	}
	s.remeasure()
	return s
}

// A round, with all its evaluations, does not allocate.
func TestRoundAllocatesNothing(t *testing.T) {
	for _, free := range []bool{false, true} {
		s := testSearcher(30, 24, free)
		w := s.workers[0]
		w.pass(s.cur) // buffers grow to their size once
		before := w.evals
		if n := testing.AllocsPerRun(3, func() { w.pass(s.cur) }); n > 0 {
			t.Errorf("any turn %v: %v allocations in a round", free, n)
		}
		if w.evals-before < 1000 {
			t.Errorf("any turn %v: only %d evaluations; the test proves little", free, w.evals-before)
		}
	}
}

// The losses updated through moves equal those measured from scratch.
func TestLossesStayTrue(t *testing.T) {
	s := testSearcher(25, 16, true)
	w := s.workers[0]
	for range 5 {
		w.pass(s.cur)
		kept := append([]float64(nil), w.state.loss...)
		hits := append([]int32(nil), w.state.hits...)
		w.measure()
		for i := range kept {
			if math.Abs(kept[i]-w.state.loss[i]) > 1e-9*(1+kept[i]) {
				t.Fatalf("pair %d: %v kept, %v measured", i, kept[i], w.state.loss[i])
			}
		}
		for i := range hits {
			if hits[i] != w.state.hits[i] {
				t.Fatalf("piece %d: %d hits kept, %d measured", i, hits[i], w.state.hits[i])
			}
		}
		s.cur.copyFrom(&w.state)
		s.reweigh()
	}
}

// A jigsaw of pieces that leave nothing is put together again, at any size.
func TestJigsaw(t *testing.T) {
	for _, scale := range []float64{1, 0.37} {
		ring := func(ps ...float64) geom.Ring {
			var r geom.Ring
			for i := 0; i < len(ps); i += 2 {
				r = append(r, geom.Pt(ps[i]*scale, ps[i+1]*scale))
			}
			return r
		}
		cut := []geom.Ring{
			ring(0, 0, 600, 0, 250, 1000, 0, 1000), ring(600, 0, 1000, 0, 1000, 400), ring(600, 0, 1000, 400, 250, 1000), ring(1000, 400, 1000, 1000, 250, 1000),
			ring(0, 0, 1000, 0, 1000, 300, 0, 700), ring(0, 700, 1000, 300, 1000, 1000), ring(0, 700, 1000, 1000, 0, 1000),
		}
		var kinds []*Kind
		var pieces []int
		for i, r := range cut {
			lo := r.Bounds().Min
			r = geom.Placement{Move: geom.Pt(-lo.X, -lo.Y)}.Ring(r).CCW()
			kinds = append(kinds, NewKind(Part{True: r, Rough: r, Turns: []float64{0, 90, 180, 270}}, 0))
			pieces = append(pieces, i)
		}
		f := NewField(1000*scale, 1000*scale, nil, 0)
		r := Stock(kinds, pieces, nil, []Sheet{{Field: f, Price: 1, Area: f.Area(0)}}, 2, 1, func(n int) float64 { return float64(n) / 100000 }, nil)
		if len(r.Sheets) != 2 || len(r.Left) != 0 {
			t.Errorf("scale %v: %d sheets and %d left, want 2 and none", scale, len(r.Sheets), len(r.Left))
		}
	}
}

// One evaluation's cost by pieces and by points of each.
func BenchmarkEvaluations(b *testing.B) {
	for _, c := range []struct{ pieces, points int }{{50, 12}, {200, 12}, {1000, 12}, {50, 60}, {50, 200}} {
		b.Run(fmt.Sprintf("%dx%d", c.pieces, c.points), func(b *testing.B) {
			s := testSearcher(c.pieces, c.points, false)
			w := s.workers[0]
			w.pass(s.cur)
			before := w.evals
			b.ReportAllocs()
			for b.Loop() {
				w.pass(s.cur)
			}
			b.ReportMetric(float64(w.evals-before)/b.Elapsed().Seconds(), "evaluations/s")
		})
	}
}

func BenchmarkFirst(b *testing.B) {
	for _, n := range []int{50, 100, 200} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			s := testSearcher(n, 12, false)
			s.w.fields[0].w *= 3
			for b.Loop() {
				s.first()
			}
		})
	}
}
