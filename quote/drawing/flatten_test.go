package drawing

import (
	"math"
	"testing"

	"benchbell/quote/geom"

	"pgregory.net/rapid"
)

// rounding allows for the floats of a check, a millionth of a millimetre.
const rounding = 1e-6

func anyPoint(t *rapid.T, name string, reach float64) geom.Point {
	return geom.Pt(rapid.Float64Range(-reach, reach).Draw(t, name+".x"), rapid.Float64Range(-reach, reach).Draw(t, name+".y"))
}

// pathDistance is the distance of p from a polyline.
func pathDistance(p geom.Point, line geom.Path) float64 {
	best := math.Inf(1)
	for i := 1; i < len(line); i++ {
		best = min(best, segmentDistance(p, line[i-1], line[i]))
	}
	return best
}

// The exact curve is Bernstein's form (W3C SVG 2, 9.3.6 and 9.3.7, and any textbook), evaluated apart from the halving.
func TestCurvesStayWithinFlatness(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		reach := rapid.SampledFrom([]float64{0.01, 1, 50, 1000}).Draw(t, "reach")
		p := [4]geom.Point{}
		for i := range p {
			p[i] = anyPoint(t, string(rune('a'+i)), reach)
		}
		cubic := flattenCubic(geom.Path{p[0]}, p[0], p[1], p[2], p[3])
		quadratic := flattenQuadratic(geom.Path{p[0]}, p[0], p[1], p[2])
		if cubic[len(cubic)-1] != p[3] || quadratic[len(quadratic)-1] != p[2] {
			t.Fatalf("end points moved")
		}
		const samples = 97
		for i := range samples + 1 {
			s := float64(i) / samples
			r := 1 - s
			at := p[0].Mul(r * r * r).Add(p[1].Mul(3 * r * r * s)).Add(p[2].Mul(3 * r * s * s)).Add(p[3].Mul(s * s * s))
			if d := pathDistance(at, cubic); d > float64(Flatness)+rounding {
				t.Fatalf("cubic %v: %v away at %v", p, d, s)
			}
			at = p[0].Mul(r * r).Add(p[1].Mul(2 * r * s)).Add(p[2].Mul(s * s))
			if d := pathDistance(at, quadratic); d > float64(Flatness)+rounding {
				t.Fatalf("quadratic %v: %v away at %v", p, d, s)
			}
		}
	})
}

func TestArcsStayWithinFlatness(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		reach := rapid.SampledFrom([]float64{0.005, 0.05, 5, 300, 20_000}).Draw(t, "reach")
		radius := rapid.Float64Range(reach/1000, reach)
		rx, ry := radius.Draw(t, "rx"), radius.Draw(t, "ry")
		turn := rapid.Float64Range(-4, 4).Draw(t, "turn")
		start, sweep := rapid.Float64Range(-7, 7).Draw(t, "start"), rapid.Float64Range(-6.28, 6.28).Draw(t, "sweep")
		e := axisEllipse(anyPoint(t, "centre", reach), rx, ry, turn)
		m := affine{a: 1, b: rapid.Float64Range(-1, 1).Draw(t, "b"), c: rapid.Float64Range(-1, 1).Draw(t, "c"), d: 1, e: 3, f: -4}
		arc := e.under(m).flattenArc(geom.Path{m.apply(e.at(start))}, start, sweep)
		whole := e.under(m).flatten()
		whole = append(whole, whole[0])
		const samples = 61
		for i := range samples + 1 {
			// The map of a point on the plain ellipse, not a point on the mapped one.
			at := m.apply(e.at(start + sweep*float64(i)/samples))
			if d := pathDistance(at, arc); d > float64(Flatness)+rounding {
				t.Fatalf("arc: %v away", d)
			}
			if d := pathDistance(at, whole); d > float64(Flatness)+rounding {
				t.Fatalf("ellipse: %v away", d)
			}
		}
		if len(whole) > maxArcSteps+4 || len(arc) > maxArcSteps+1 {
			t.Fatalf("%d and %d points", len(whole), len(arc))
		}
	})
}

// Huge curves end: coordinates past maxExtent are for the callers to refuse, but nothing here may run away with them.
func TestCurvesOfAbsurdSizeAreBounded(t *testing.T) {
	far := geom.Pt(1e300, -1e300)
	if n := len(flattenCubic(nil, geom.Pt(0, 0), far, far.Mul(-1), geom.Pt(1, 1))); n > 1<<maxHalvings {
		t.Errorf("cubic has %d points", n)
	}
	nan := geom.Pt(math.NaN(), math.Inf(1))
	if n := len(flattenCubic(nil, nan, far, nan, nan)); n > 1<<maxHalvings {
		t.Errorf("cubic of NaN has %d points", n)
	}
	for _, r := range []float64{0, 1e300, math.Inf(1), math.NaN()} {
		if n := len(axisEllipse(far, r, r, 0).flatten()); n > maxArcSteps {
			t.Errorf("circle of radius %v has %d points", r, n)
		}
	}
}

func TestAffineComposes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		number := rapid.Float64Range(-10, 10)
		draw := func(name string) affine {
			return affine{number.Draw(t, name), number.Draw(t, name), number.Draw(t, name), number.Draw(t, name), number.Draw(t, name), number.Draw(t, name)}
		}
		m, n, p := draw("m"), draw("n"), anyPoint(t, "p", 10)
		if d := m.mul(n).apply(p).Dist(m.apply(n.apply(p))); d > rounding {
			t.Fatalf("composition is off by %v", d)
		}
		great, small := m.stretches()
		for deg := range 36 {
			l := m.vector(turning(float64(deg) * 10).apply(geom.Pt(1, 0))).Norm()
			if l > great+rounding || l < small-rounding {
				t.Fatalf("%v stretches by %v, outside %v..%v", m, l, small, great)
			}
		}
		s := rapid.Float64Range(0.1, 10).Draw(t, "s")
		similar := turning(number.Draw(t, "turn") * 36).mul(scaling(s, -s)).mul(translation(1, 2))
		if got, ok := similar.similarity(); !ok || math.Abs(got-s) > rounding {
			t.Fatalf("scale %v of a similarity by %v, %v", got, s, ok)
		}
		if _, ok := scaling(s, s*1.001).similarity(); ok {
			t.Fatal("a stretch in one direction is no similarity")
		}
	})
}
