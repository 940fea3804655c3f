package lay

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"benchbell/quote/geom"
	"benchbell/quote/nest"
)

func rect(x, y, w, h float64) geom.Shape {
	return geom.Shape{Outer: geom.Ring{geom.Pt(x, y), geom.Pt(x+w, y), geom.Pt(x+w, y+h), geom.Pt(x, y+h)}}
}

// star is a star-shaped ring, concave almost always, from radii given in order.
func star(radii []float64, squeeze float64) geom.Shape {
	var r geom.Ring
	for i, d := range radii {
		s, c := math.Sincos(2 * math.Pi * float64(i) / float64(len(radii)))
		r = append(r, geom.Pt(d*c, d*s*squeeze))
	}
	return geom.Shape{Outer: r}
}

// hook is a U whose mouth can take other pieces.
func hook(w, h, t float64) geom.Shape {
	return geom.Shape{Outer: geom.Ring{
		geom.Pt(0, 0), geom.Pt(w, 0), geom.Pt(w, h), geom.Pt(w-t, h), geom.Pt(w-t, t), geom.Pt(t, t), geom.Pt(t, h), geom.Pt(0, h),
	}}
}

// collinear adds points in the middle of every edge.
func collinear(s geom.Shape) geom.Shape {
	var r geom.Ring
	for i, p := range s.Outer {
		q := s.Outer[(i+1)%len(s.Outer)]
		r = append(r, p, p.Lerp(q, 0.25), p.Lerp(q, 0.5))
	}
	return geom.Shape{Outer: r}
}

func drawShape(t *rapid.T) geom.Shape {
	num := func(lo, hi int, label string) float64 { return float64(rapid.IntRange(lo, hi).Draw(t, label)) }
	switch rapid.IntRange(0, 5).Draw(t, "shape") {
	case 0:
		return rect(0, 0, num(10, 300, "w"), num(10, 300, "h"))
	case 1:
		return hook(num(60, 300, "w"), num(60, 300, "h"), num(5, 25, "t"))
	case 2: // a sliver
		return geom.Shape{Outer: geom.Ring{geom.Pt(0, 0), geom.Pt(num(100, 380, "long"), num(0, 20, "rise")), geom.Pt(5, num(1, 3, "thin")+0.5)}}
	case 3:
		return collinear(rect(0, 0, num(10, 200, "w"), num(10, 200, "h")))
	}
	n := rapid.IntRange(5, 24).Draw(t, "points")
	radii := make([]float64, n)
	for i := range radii {
		radii[i] = num(20, 120, "r")
	}
	return star(radii, num(5, 100, "squeeze")/100)
}

func drawProblem(t *rapid.T) nest.Problem {
	p := nest.Problem{
		Sheets: []nest.Sheet{{ID: "full", Width: 1000, Height: 500, Price: 1000}, {ID: "half", Width: 500, Height: 500, Price: 600}},
		Gap:    geom.MM(rapid.SampledFrom([]float64{0, 0.5, 2, 10}).Draw(t, "gap")),
		Margin: geom.MM(rapid.SampledFrom([]float64{0, 5}).Draw(t, "margin")),
		Seed:   rapid.Uint64().Draw(t, "seed"),
	}
	p.Evaluations = rapid.SampledFrom([]int{0, 2000, 6000}).Draw(t, "evaluations")
	for i := range rapid.IntRange(1, 8).Draw(t, "items") {
		p.Items = append(p.Items, nest.Item{
			ID: fmt.Sprint("i", i), Shape: drawShape(t), Demand: rapid.IntRange(1, 3).Draw(t, "demand"),
			Turn:    rapid.SampledFrom([]geom.Turn{geom.TurnAny, geom.TurnQuarter, geom.TurnHalf, geom.TurnNone}).Draw(t, "turn"),
			MayFlip: rapid.Bool().Draw(t, "flip"),
		})
	}
	return p
}

// Solve runs Check itself, so a layout that does not hold is an error here.
func TestSolveHolds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawProblem(t)
		s, err := Solve(context.Background(), p, nil)
		if err != nil {
			t.Fatal(err)
		}
		if s.Density <= 0 || s.Density > 1+1e-9 {
			t.Fatalf("density %v", s.Density)
		}
	})
}

// commission is a set of n pieces like those of a suit of foam armour: plates, rings of lames, straps.
func commission(n int, points int) nest.Problem {
	rng := rand.New(rand.NewPCG(7, 7))
	p := nest.Problem{
		Sheets: []nest.Sheet{{ID: "large", Width: 2000, Height: 1000, Price: 3600}, {ID: "small", Width: 1000, Height: 1000, Price: 2000}},
		Gap:    3, Margin: 5, Evaluations: 200_000, Seed: 1,
	}
	turns := []geom.Turn{geom.TurnAny, geom.TurnQuarter, geom.TurnHalf, geom.TurnAny}
	for i := range n {
		radii := make([]float64, points)
		size, waves := 60+140*rng.Float64(), float64(2+rng.IntN(4))
		depth, phase := 0.35*rng.Float64(), rng.Float64()*6
		for k := range radii {
			radii[k] = size * (1 + depth*math.Sin(phase+waves*2*math.Pi*float64(k)/float64(points)))
		}
		p.Items = append(p.Items, nest.Item{
			ID: fmt.Sprint("plate", i), Shape: star(radii, 0.4+0.6*rng.Float64()), Demand: 1, Turn: turns[i%4], MayFlip: i%2 == 0,
		})
	}
	return p
}

func BenchmarkSolve(b *testing.B) {
	for _, c := range []struct{ pieces, points int }{{12, 40}, {30, 60}, {60, 60}, {30, 200}} {
		b.Run(fmt.Sprintf("%dx%d", c.pieces, c.points), func(b *testing.B) {
			p := commission(c.pieces, c.points)
			evals, s := 0, nest.Solution{}
			for b.Loop() {
				var err error
				if s, err = Solve(context.Background(), p, nil); err != nil {
					b.Fatal(err)
				}
				evals += s.Evaluations
			}
			b.ReportMetric(float64(evals)/b.Elapsed().Seconds(), "evaluations/s")
			b.ReportMetric(float64(s.Cost), "cost")
			b.ReportMetric(lastLength(p, s), "last-mm")
			b.ReportMetric(100*s.Density, "density%")
		})
	}
}

// lastLength is the length used of the last sheet.
func lastLength(p nest.Problem, s nest.Solution) float64 {
	shapes := map[string]geom.Shape{}
	for _, it := range p.Items {
		shapes[it.ID] = it.Shape
	}
	end := 0.0
	for _, q := range s.Layouts[len(s.Layouts)-1].Placed {
		end = math.Max(end, q.At.Shape(shapes[q.Item]).Bounds().Max.X)
	}
	return end
}

// As many points as a problem may have are taken, one ring more is not.
func TestPointsAreCounted(t *testing.T) {
	circle := make(geom.Ring, maxRingPoints)
	for i := range circle {
		a := 2 * math.Pi * float64(i) / maxRingPoints
		circle[i] = geom.Pt(100*math.Cos(a), 100*math.Sin(a))
	}
	p := nest.Problem{Sheets: []nest.Sheet{{ID: "s", Width: 1000, Height: 1000}}}
	for i := range maxPoints / maxRingPoints {
		p.Items = append(p.Items, nest.Item{ID: fmt.Sprint(i), Demand: 1, Turn: geom.TurnAny, Shape: geom.Shape{Outer: circle}})
	}
	if err := validate(p); err != nil {
		t.Errorf("%d points: %v", maxPoints, err)
	}
	p.Items = append(p.Items, nest.Item{ID: "more", Demand: 1, Turn: geom.TurnAny, Shape: geom.Shape{Outer: geom.Ring{{X: 0, Y: 0}, {X: 9, Y: 0}, {X: 0, Y: 9}}}})
	if err := validate(p); err == nil || !strings.Contains(err.Error(), "points in all") {
		t.Errorf("%d points: %v", maxPoints+3, err)
	}
}
