package lay_test

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"testing"

	"benchbell/quote/foam"
	"benchbell/quote/geom"
	"benchbell/quote/nest"
	"benchbell/quote/nest/lay"
	"benchbell/quote/pattern"
	"benchbell/quote/settings"
	"benchbell/templates"
)

// studioPieces are the pieces of one thickness that three invented commissions ask for, graded by the engine itself.
func studioPieces(t testing.TB) [][]nest.Item {
	t.Helper()
	const thickness geom.MM = 5
	var out [][]nest.Item
	for n, sets := range [][]string{{"breastplate", "shoulder-cap"}, {"thigh-guard", "knee-cup", "shin-guard"}, {"back-plate", "forearm-cuff", "collar"}} {
		owner := fmt.Sprintf("C%04d", n+1)
		studio := settings.Demo()
		var items []nest.Item
		for _, name := range sets {
			svg, toml, err := templates.Source(name)
			if err != nil {
				t.Fatal(err)
			}
			set, err := pattern.Parse(svg, toml)
			if err != nil {
				t.Fatal(err)
			}
			body := map[string]geom.MM{}
			for _, k := range set.Measures {
				body[k] = set.Base[k] * geom.MM(1+0.02*float64(n))
			}
			sides := []foam.Side{""}
			if set.Sided {
				sides = []foam.Side{foam.Left, foam.Right}
			}
			for _, side := range sides {
				g, err := set.Grade(pattern.Fit{Body: body, Side: side, FoamK: studio.FoamK, Tools: studio.Bench.Tools})
				if err != nil {
					t.Fatal(err)
				}
				for _, p := range g.Pieces {
					if p.Thickness == thickness {
						items = append(items, nest.Item{ID: fmt.Sprintf("%s %s%s %s/%d", owner, name, side, p.ID, p.Copy), Shape: p.Shape, Demand: 1,
							Turn: p.Turn, MayFlip: p.MayFlip, Owner: owner})
					}
				}
			}
		}
		out = append(out, items)
	}
	return out
}

// studioStock is invented: three sizes to buy, and two offcuts for the price of their handling.
func studioStock() []nest.Sheet {
	return []nest.Sheet{
		{ID: "1000 × 500", Width: 1000, Height: 500, Price: 1100},
		{ID: "1500 × 1000", Width: 1500, Height: 1000, Price: 2900},
		{ID: "610 × 914", Width: 610, Height: 914, Price: 1250},
		{ID: "offcut 1", Width: 700, Height: 400, Count: 1, Price: 50,
			Outline: geom.Ring{geom.Pt(0, 0), geom.Pt(700, 0), geom.Pt(700, 260), geom.Pt(480, 260), geom.Pt(480, 400), geom.Pt(0, 400)},
			Defects: []geom.Ring{{geom.Pt(300, 150), geom.Pt(330, 150), geom.Pt(330, 180), geom.Pt(300, 180)}}},
		{ID: "offcut 2", Width: 500, Height: 300, Count: 1, Price: 50},
	}
}

// shelves is the cost of packing bounding boxes, high ones first, onto shelves of the kind of sheet for which that is
// cheapest: what a maker does with a rule and no computer.
func shelves(items []nest.Item, gap, margin float64, stock []nest.Sheet) int64 {
	best := int64(math.MaxInt64)
	for _, k := range stock {
		if k.Count > 0 {
			continue
		}
		w, h := float64(k.Width)-2*margin+gap, float64(k.Height)-2*margin+gap
		type boxed struct{ w, h float64 }
		var bs []boxed
		for _, it := range items {
			b := it.Shape.Bounds()
			x, y := float64(b.Width())+gap, float64(b.Height())+gap
			if x < y && y <= w && x <= h || x > w || y > h {
				x, y = y, x
			}
			bs = append(bs, boxed{w: x, h: y})
		}
		slices.SortStableFunc(bs, func(a, b boxed) int { return cmp.Compare(b.h, a.h) })
		sheets, fits := int64(0), true
		next, x := math.Inf(1), math.Inf(1)
		for _, b := range bs {
			fits = fits && b.w <= w && b.h <= h
			if x+b.w > w { // a new shelf
				x, next = 0, next+b.h
			}
			if next > h { // a new sheet
				sheets++
				x, next = 0, b.h
			}
			x += b.w
		}
		if fits {
			best = min(best, sheets*k.Price)
		}
	}
	return best
}

// Nested together, three commissions cost no more than each alone, and each alone no more than boxes on shelves. The
// log is the table of the results: go test -run StudioCase -v ./quote/nest.
func TestStudioCase(t *testing.T) {
	const gap, margin = 5, 5
	all := studioPieces(t)
	solve := func(items []nest.Item, stock []nest.Sheet, effort int) nest.Solution {
		s, err := lay.Solve(context.Background(), nest.Problem{Items: items, Sheets: stock, Gap: gap, Margin: margin, Evaluations: effort, Seed: 1}, nil)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	effort := 60_000
	if testing.Short() {
		effort = 10_000
	}
	var alone, boxed int64
	var joint []nest.Item
	t.Logf("%-12s %6s %8s %8s %8s", "what", "pieces", "cost", "sheets", "yield")
	stock := studioStock() // each alone, one after the other: an offcut is used once
	for i, items := range all {
		s := solve(items, stock, effort)
		for _, l := range s.Layouts {
			stock = slices.DeleteFunc(stock, func(k nest.Sheet) bool { return k.ID == l.Sheet && k.Count == 1 })
		}
		b := shelves(items, gap, margin, studioStock())
		t.Logf("%-12s %6d %8.2f %8d %7.1f%%   boxes on shelves %8.2f", fmt.Sprint("commission ", i+1), len(items), float64(s.Cost)/100, len(s.Layouts), 100*s.Density, float64(b)/100)
		if s.Cost > b {
			t.Errorf("commission %d costs %d nested and %d as boxes", i+1, s.Cost, b)
		}
		alone += s.Cost
		boxed += b
		joint = append(joint, items...)
	}
	s := solve(joint, studioStock(), 4*effort)
	b := shelves(joint, gap, margin, studioStock())
	t.Logf("%-12s %6d %8.2f", "each alone", len(joint), float64(alone)/100)
	t.Logf("%-12s %6d %8.2f %8d %7.1f%%   boxes on shelves %8.2f", "together", len(joint), float64(s.Cost)/100, len(s.Layouts), 100*s.Density, float64(b)/100)
	if s.Cost > alone || s.Cost > b {
		t.Errorf("together cost %d, alone %d, boxes %d", s.Cost, alone, b)
	}
	if s.Offcut == nil {
		t.Error("no offcut is left")
	}
}
