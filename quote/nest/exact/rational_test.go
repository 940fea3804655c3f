package exact

import (
	"math"
	"math/big"
	"slices"
	"testing"

	"benchbell/quote/geom"

	"pgregory.net/rapid"
)

// The package is held here against rational numbers by other ways than its own: a turn by the whole determinant, an overlap
// level by level.

type ratPoint struct{ x, y *big.Rat }

func rational(p geom.Point) ratPoint {
	return ratPoint{new(big.Rat).SetFloat64(p.X), new(big.Rat).SetFloat64(p.Y)}
}

func mul(a, b *big.Rat) *big.Rat { return new(big.Rat).Mul(a, b) }
func sub(a, b *big.Rat) *big.Rat { return new(big.Rat).Sub(a, b) }

// turn is the sign of ab + bc + ca, each the area that two points span with the origin.
func turn(a, b, c ratPoint) int {
	sum := new(big.Rat)
	for _, e := range [3][2]ratPoint{{a, b}, {b, c}, {c, a}} {
		sum.Add(sum, sub(mul(e[0].x, e[1].y), mul(e[1].x, e[0].y)))
	}
	return sum.Sign()
}

type ratEdge struct{ a, b ratPoint }

func edges(s geom.Shape) []ratEdge {
	var out []ratEdge
	for _, r := range append([]geom.Ring{s.Outer}, s.Holes...) {
		for i := range r {
			out = append(out, ratEdge{rational(r[i]), rational(r[(i+1)%len(r)])})
		}
	}
	return out
}

// at is where an edge crosses a level, nil where it does not.
func (e ratEdge) at(y *big.Rat) *big.Rat {
	if (e.a.y.Cmp(y) > 0) == (e.b.y.Cmp(y) > 0) {
		return nil
	}
	t := new(big.Rat).Quo(sub(y, e.a.y), sub(e.b.y, e.a.y))
	return t.Add(e.a.x, mul(t, sub(e.b.x, e.a.x)))
}

// meetsAt is the level at which two edges cross, nil where they do not or run the same way.
func (e ratEdge) meetsAt(f ratEdge) *big.Rat {
	ux, uy, vx, vy := sub(e.b.x, e.a.x), sub(e.b.y, e.a.y), sub(f.b.x, f.a.x), sub(f.b.y, f.a.y)
	d := sub(mul(ux, vy), mul(uy, vx))
	if d.Sign() == 0 {
		return nil
	}
	wx, wy := sub(f.a.x, e.a.x), sub(f.a.y, e.a.y)
	t := new(big.Rat).Quo(sub(mul(wx, vy), mul(wy, vx)), d)
	return t.Add(e.a.y, mul(t, uy)) // beyond the edges it is one level more, which does no harm
}

// overlapRational looks at one level between any two next to each other on which a corner lies or edges cross: between those
// the order of edges does not change, so that what overlaps anywhere overlaps on one of them.
func overlapRational(a, b geom.Shape) bool {
	ea, eb := edges(a), edges(b)
	var ys []*big.Rat
	for _, e := range append(slices.Clone(ea), eb...) {
		ys = append(ys, e.a.y)
	}
	for _, e := range ea {
		for _, f := range eb {
			if y := e.meetsAt(f); y != nil {
				ys = append(ys, y)
			}
		}
	}
	slices.SortFunc(ys, (*big.Rat).Cmp)
	in := func(list []ratEdge, y *big.Rat) []*big.Rat {
		var xs []*big.Rat
		for _, e := range list {
			if x := e.at(y); x != nil {
				xs = append(xs, x)
			}
		}
		slices.SortFunc(xs, (*big.Rat).Cmp)
		return xs
	}
	for k := 1; k < len(ys); k++ {
		if ys[k-1].Cmp(ys[k]) == 0 {
			continue
		}
		y := new(big.Rat).Add(ys[k-1], ys[k])
		y.Mul(y, big.NewRat(1, 2))
		xa, xb := in(ea, y), in(eb, y)
		for i := 0; i+1 < len(xa); i += 2 {
			for j := 0; j+1 < len(xb); j += 2 {
				if xa[i].Cmp(xb[j+1]) < 0 && xb[j].Cmp(xa[i+1]) < 0 && xa[i].Cmp(xa[i+1]) < 0 && xb[j].Cmp(xb[j+1]) < 0 {
					return true
				}
			}
		}
	}
	return false
}

// Outlines that share an edge, a corner or a hole's border but for some roundings, and outlines anywhere: Overlap says what the
// levels in rational numbers say.
func TestOverlapAgainstLevels(t *testing.T) {
	over, clear, tight := 0, 0, 0
	rapid.Check(t, func(t *rapid.T) {
		star := func(name string) geom.Ring {
			var r geom.Ring
			n := rapid.IntRange(3, 7).Draw(t, name+" corners")
			for i := range n {
				s, c := math.Sincos(2 * math.Pi * (float64(i) + 0.3) / float64(n))
				d := float64(rapid.IntRange(5, 60).Draw(t, name))
				r = append(r, geom.Pt(d*c, d*s))
			}
			return r
		}
		a := geom.Shape{Outer: star("a")}
		b := geom.Shape{Outer: star("b")}
		move := func(r geom.Ring, by geom.Point) geom.Ring { return geom.Placement{Move: by}.Ring(r) }
		i := rapid.IntRange(0, len(a.Outer)-1).Draw(t, "edge")
		p, q := a.Outer[i], a.Outer[(i+1)%len(a.Outer)]
		near := true
		switch rapid.IntRange(0, 5).Draw(t, "how") {
		case 0: // anywhere
			near = false
			b.Outer = move(b.Outer, geom.Pt(float64(rapid.IntRange(-80, 80).Draw(t, "x")), float64(rapid.IntRange(-80, 80).Draw(t, "y"))))
		case 1: // the same turned about the middle of an edge
			b.Outer = nil
			for _, z := range a.Outer {
				b.Outer = append(b.Outer, p.Add(q).Sub(z))
			}
		case 2: // a corner on a corner
			b.Outer = move(b.Outer, p.Sub(b.Outer[0]))
		case 3: // a corner on an edge
			b.Outer = move(b.Outer, p.Lerp(q, rapid.Float64Range(0, 1).Draw(t, "along")).Sub(b.Outer[0]))
		case 4: // in the other's hole, filling it
			var hole geom.Ring
			for _, z := range a.Outer {
				hole = append(hole, z.Mul(0.3))
			}
			a.Holes = []geom.Ring{hole.Reversed()}
			b.Outer = slices.Clone(hole)
		case 5: // a splinter in a corner beside one of its edges, within or without
			along := q.Sub(p)
			if rapid.Bool().Draw(t, "other edge") {
				along = a.Outer[(i+len(a.Outer)-1)%len(a.Outer)].Sub(p)
			}
			turn := rapid.Float64Range(-20, 20).Draw(t, "degrees")
			at := func(times float64) geom.Point {
				return p.Add(geom.Placement{Turn: times * turn}.Apply(along.Mul(0.1)))
			}
			b.Outer = geom.Ring{p, at(1), at(2)}
			if b.Outer.SignedArea() == 0 {
				t.Skip("no splinter")
			}
		}
		nudge := func(x float64) float64 {
			for range rapid.IntRange(0, 3).Draw(t, "roundings") {
				x = math.Nextafter(x, math.Inf(rapid.SampledFrom([]int{-1, 1}).Draw(t, "way")))
			}
			return x
		}
		for i := range b.Outer {
			if rapid.IntRange(0, 2).Draw(t, "nudged") == 0 {
				b.Outer[i] = geom.Pt(nudge(b.Outer[i].X), nudge(b.Outer[i].Y))
			}
		}
		want := overlapRational(a, b)
		if got := Overlap(NewOutline(a), NewOutline(b)); got != want {
			t.Fatalf("%v and %v: %t, level by level %t", a, b, got, want)
		}
		if near {
			tight++
		}
		if want {
			over++
		} else {
			clear++
		}
	})
	if over < 5 || clear < 5 || tight < 20 {
		t.Errorf("%d overlapped, %d did not, %d nearly touched: that shows little", over, clear, tight)
	}
}
