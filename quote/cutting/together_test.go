package cutting_test

import (
	"cmp"
	"context"
	"encoding/csv"
	"flag"
	"fmt"
	"maps"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"sync"
	"testing"

	"pgregory.net/rapid"

	"benchbell/quote"
	"benchbell/quote/cutting"
	"benchbell/quote/engine"
	"benchbell/quote/foam"
	"benchbell/quote/geom"
	"benchbell/quote/nest"
	"benchbell/quote/nest/inspect"
	"benchbell/quote/nest/lay"
	"benchbell/quote/price"
	"benchbell/quote/quotetest"
	"benchbell/quote/settings"
)

var dump = flag.String("dump", "", "a folder that cut layouts are written to, to be looked at")

// ordered are commissions of sets from the library, quoted with a studio's settings; sets with sides are ordered for the
// given sides.
func ordered(t testing.TB, st quote.Studio, sides quote.Sides, sets ...[]string) []cutting.Commission {
	t.Helper()
	var out []cutting.Commission
	for i, names := range sets {
		s := quotetest.Snapshot(t, names...)
		s.Commission, s.Revision, s.Seed = quote.CommissionID(fmt.Sprintf("C%04d", 7+i)), 1+i%2, uint64(i)
		effort := s.Studio
		for k := range s.Items {
			if s.Items[k].Sides != quote.Plain {
				s.Items[k].Sides = sides
			}
		}
		s.Studio = st
		s.Studio.Schedules, s.Studio.Runs = effort.Schedules, effort.Runs
		q, err := engine.Compute(context.Background(), s, nil)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, cutting.Commission{Snapshot: s, Quote: q})
	}
	return out
}

var fewOnce struct {
	sync.Once
	jobs []cutting.Commission
}

// few are commissions computed once, with the least effort; the laws hold for them as well.
func few(t testing.TB) ([]cutting.Commission, quote.Studio) {
	t.Helper()
	st := settings.Demo()
	st.Evaluations = 1
	fewOnce.Do(func() {
		fewOnce.jobs = ordered(t, st, quote.OneLeft, []string{"forearm-cuff"}, []string{"short-sword"}, []string{"shoulder-cap"})
	})
	return fewOnce.jobs, st
}

func corner(w, h, a, b float64) geom.Ring { // a rectangle without its upper right corner of a × b
	if a <= 0 || b <= 0 || a >= w || b >= h {
		return geom.Ring{{}, {X: w}, {X: w, Y: h}, {Y: h}}
	}
	return geom.Ring{{}, {X: w}, {X: w, Y: h - b}, {X: w - a, Y: h - b}, {X: w - a, Y: h}, {Y: h}}
}

// For any commissions on any rack: every piece lies on exactly one sheet, the layouts pass the nesting check, no offcut is
// used twice, the offcut left over is useful and clear of all pieces, parts add up to totals, and together never costs more
// than alone.
func TestTogetherHolds(t *testing.T) {
	st := settings.Demo()
	st.Evaluations = 1
	rapid.Check(t, func(rt *rapid.T) {
		var jobs []cutting.Commission
		for i := range rapid.IntRange(2, 4).Draw(rt, "commissions") {
			jobs = append(jobs, invented(rt, quote.CommissionID(fmt.Sprintf("C%04d", 20-i)), st))
		}
		var rack []quote.Offcut
		for i := range rapid.IntRange(0, 4).Draw(rt, "offcuts") {
			side := rapid.Float64Range(8, 900)
			w, h := side.Draw(rt, "width"), side.Draw(rt, "height")
			rack = append(rack, quote.Offcut{ID: fmt.Sprintf("R%04d", i+1), Thickness: geom.MM(rapid.SampledFrom([]int{2, 5, 10}).Draw(rt, "thickness")),
				Outline: corner(w, h, w*rapid.Float64Range(-0.5, 0.8).Draw(rt, "notch"), h*0.4)})
		}
		p, err := cutting.Together(context.Background(), jobs, rack, st, nil)
		if err != nil {
			rt.Fatal(err)
		}
		if err := holds(p, jobs, rack, st); err != nil {
			rt.Fatal(err)
		}
	})
}

// invented is a commission of a few plain pieces, some with a notch or a hole, laid out alone.
func invented(rt *rapid.T, id quote.CommissionID, st quote.Studio) cutting.Commission {
	q := quote.Quote{Commission: id, Revision: 1, Graded: []foam.Graded{{Set: "invented"}}}
	items := map[geom.MM][]nest.Item{}
	for i := range rapid.IntRange(1, 6).Draw(rt, "pieces") {
		side := rapid.Float64Range(12, 320)
		w, h := side.Draw(rt, "width"), side.Draw(rt, "height")
		pc := foam.Piece{ID: fmt.Sprintf("p%d", i+1), Thickness: geom.MM(rapid.SampledFrom([]int{2, 5, 10}).Draw(rt, "thickness")),
			Shape:   geom.Shape{Outer: corner(w, h, w*rapid.Float64Range(-0.5, 0.8).Draw(rt, "notch"), h*0.4)},
			Turn:    rapid.SampledFrom([]geom.Turn{geom.TurnAny, geom.TurnQuarter, geom.TurnHalf, geom.TurnNone}).Draw(rt, "turn"),
			MayFlip: rapid.Bool().Draw(rt, "flip")}
		if a, b := w/8, h/8; rapid.Bool().Draw(rt, "hole") {
			pc.Shape.Holes = []geom.Ring{{{X: a, Y: b}, {X: a, Y: 2 * b}, {X: 2 * a, Y: 2 * b}, {X: 2 * a, Y: b}}}
		}
		label := "1-" + pc.ID
		q.Graded[0].Pieces = append(q.Graded[0].Pieces, pc)
		q.Pieces = append(q.Pieces, quote.CutPiece{Label: label, Piece: pc.ID, Thickness: pc.Thickness, Area: pc.Shape.Area()})
		items[pc.Thickness] = append(items[pc.Thickness], nest.Item{ID: label, Shape: pc.Shape, Demand: 1, Turn: pc.Turn, MayFlip: pc.MayFlip})
	}
	for _, th := range slices.Sorted(maps.Keys(items)) {
		p := nest.Problem{Items: items[th], Gap: st.Gap, Margin: st.Margin, Evaluations: 1}
		for _, s := range st.Prices.Sheets {
			if s.Thickness == th {
				p.Sheets = append(p.Sheets, nest.Sheet{ID: s.Key, Width: s.Width, Height: s.Height, Price: int64(s.Price)})
			}
		}
		sol, err := lay.Solve(context.Background(), p, nil)
		if err != nil {
			rt.Fatal(err)
		}
		for _, l := range sol.Layouts {
			q.Sheets = append(q.Sheets, quote.SheetLayout{Number: len(q.Sheets) + 1, Thickness: th, Layout: l})
		}
	}
	return cutting.Commission{Snapshot: quote.Snapshot{Commission: id, Studio: st}, Quote: q}
}

// holds says what is wrong with a plan.
func holds(p cutting.Plan, jobs []cutting.Commission, rack []quote.Offcut, st quote.Studio) error {
	shapes := map[string]foam.Piece{}
	for _, j := range jobs {
		i := 0
		for _, g := range j.Quote.Graded {
			for _, pc := range g.Pieces {
				shapes[string(j.Quote.Commission)+" "+j.Quote.Pieces[i].Label] = pc
				i++
			}
		}
	}
	placed := map[string]int{}
	byID := map[string]quote.Offcut{}
	for _, o := range rack {
		byID[o.ID] = o
	}
	used := map[string]bool{}
	var cost price.Money
	for i, s := range p.Sheets {
		if s.Number != i+1 {
			return fmt.Errorf("sheet %d is numbered %d", i+1, s.Number)
		}
		cost += s.Price
		stock := nest.Sheet{ID: s.Layout.Sheet, Width: s.Layout.Width, Height: s.Layout.Height, Price: int64(s.Price)}
		if s.RackID != "" {
			if used[s.RackID] {
				return fmt.Errorf("offcut %s is used twice", s.RackID)
			}
			used[s.RackID] = true
			if s.Price != 0 || byID[s.RackID].Thickness != s.Thickness {
				return fmt.Errorf("offcut %s of %s lies under %s at a price of %d", s.RackID, byID[s.RackID].Thickness, s.Thickness, s.Price)
			}
			stock.Outline = byID[s.RackID].Outline
		}
		problem := nest.Problem{Gap: st.Gap, Margin: st.Margin, Sheets: []nest.Sheet{stock}}
		for _, pl := range s.Layout.Placed {
			placed[pl.Item]++
			if !strings.HasPrefix(pl.Item, pl.Owner+" ") || shapes[pl.Item].Thickness != s.Thickness {
				return fmt.Errorf("%s of %s lies on %s", pl.Item, pl.Owner, s.Thickness)
			}
			turn := shapes[pl.Item].Turn
			if turn == geom.TurnHalf || turn == geom.TurnNone {
				turn = geom.TurnQuarter // along or across, as the grain was chosen; that all lie alike is checked below
			}
			problem.Items = append(problem.Items, nest.Item{ID: pl.Item, Shape: shapes[pl.Item].Shape, Demand: 1, Turn: turn,
				MayFlip: shapes[pl.Item].MayFlip, Owner: pl.Owner})
		}
		sol := nest.Solution{Layouts: []nest.Layout{s.Layout}, Cost: int64(s.Price), Density: s.Layout.Used}
		if err := inspect.Layouts(problem, sol); err != nil {
			return fmt.Errorf("sheet %d: %w", s.Number, err)
		}
		if err := offcutHolds(s, shapes, st); err != nil {
			return fmt.Errorf("sheet %d: %w", s.Number, err)
		}
	}
	var together, alone price.Money
	pieces := 0
	for _, c := range p.Parts {
		together, alone, pieces = together+c.Together, alone+c.Alone, pieces+c.Pieces
		if c.Together < 0 {
			return fmt.Errorf("%s pays %d", c.Commission, c.Together)
		}
	}
	switch {
	case cost != p.Cost || together != p.Cost || alone != p.Alone:
		return fmt.Errorf("sheets cost %d, parts %d, the plan says %d; alone %d and %d", cost, together, p.Cost, alone, p.Alone)
	case p.Cost > p.Alone:
		return fmt.Errorf("together costs %d, alone %d", p.Cost, p.Alone)
	case pieces != len(shapes) || len(p.Pieces) != len(shapes) || len(placed) != len(shapes):
		return fmt.Errorf("%d pieces of commissions, %d in the list, %d placed", len(shapes), len(p.Pieces), len(placed))
	case len(p.FromRack()) != len(used):
		return fmt.Errorf("%v leave the rack, %v are cut from", p.FromRack(), used)
	}
	for _, c := range p.Pieces {
		if placed[c.Label] != 1 || p.Sheets[c.Sheet-1].Thickness != c.Thickness {
			return fmt.Errorf("%s is placed %d times, last on sheet %d", c.Label, placed[c.Label], c.Sheet)
		}
	}
	return nil
}

// offcutHolds checks an offcut with tests of its own: sampled points of it lie on the sheet and keep the gap from pieces.
func offcutHolds(s cutting.Sheet, shapes map[string]foam.Piece, st quote.Studio) error {
	if s.Offcut == nil {
		return nil
	}
	edge := s.Outline
	if edge == nil {
		edge = corner(float64(s.Layout.Width), float64(s.Layout.Height), 0, 0)
	}
	b := s.Offcut.Bounds()
	if b.Width() < 149.9 || b.Height() < 149.9 {
		return fmt.Errorf("what remains measures %v × %v", b.Width(), b.Height())
	}
	var laid []geom.Shape
	var boxes []geom.Box
	for _, pl := range s.Layout.Placed {
		l := pl.At.Shape(shapes[pl.Item].Shape)
		laid, boxes = append(laid, l), append(boxes, l.Bounds().Grow(st.Gap))
	}
	const rows = 25
	for i := range rows * rows {
		at := geom.Pt(b.Min.X+(float64(i%rows)+0.5)*float64(b.Width())/rows, b.Min.Y+(float64(i/rows)+0.5)*float64(b.Height())/rows)
		if !s.Offcut.Contains(at) {
			continue
		}
		if !edge.Contains(at) {
			return fmt.Errorf("what remains holds %v, which is beside the sheet", at)
		}
		for i, laid := range laid {
			if !boxes[i].Contains(at) {
				continue
			}
			near := laid.Outer.DistanceTo(at) < st.Gap-0.01
			for _, h := range laid.Holes {
				near = near || h.DistanceTo(at) < st.Gap-0.01
			}
			if laid.Contains(at) || near {
				return fmt.Errorf("what remains holds %v, where a piece lies", at)
			}
		}
	}
	return nil
}

// All pieces with a direction lie along one grain within a thickness, whatever commission they belong to.
func TestTogetherKeepsTheGrain(t *testing.T) {
	all, st := few(t)
	p, err := cutting.Together(t.Context(), all, nil, st, nil)
	if err != nil {
		t.Fatal(err)
	}
	turns := map[string]geom.Turn{}
	for _, j := range all {
		i := 0
		for _, g := range j.Quote.Graded {
			for _, pc := range g.Pieces {
				turns[string(j.Quote.Commission)+" "+j.Quote.Pieces[i].Label] = pc.Turn
				i++
			}
		}
	}
	across := map[geom.MM]bool{}
	directed := 0
	for _, c := range p.Pieces {
		if tn := turns[c.Label]; tn != geom.TurnHalf && tn != geom.TurnNone {
			continue
		}
		directed++
		a := math.Mod(c.At.Turn, 180) != 0
		if was, ok := across[c.Thickness]; ok && was != a {
			t.Errorf("%s is turned by %g°, across the others", c.Label, c.At.Turn)
		}
		across[c.Thickness] = a
	}
	if directed < 4 {
		t.Errorf("only %d pieces have a direction: nothing was tested", directed)
	}
}

// The order of commissions and offcuts changes nothing, and the same plan gives the same files.
func TestTogetherIsTheSameAgain(t *testing.T) {
	all, st := few(t)
	rack := []quote.Offcut{{ID: "R0002", Thickness: 5, Outline: corner(420, 380, 100, 90)}, {ID: "R0001", Thickness: 5, Outline: corner(300, 300, 0, 0)}}
	a, err := cutting.Together(t.Context(), all[:3], rack, st, nil)
	if err != nil {
		t.Fatal(err)
	}
	back := slices.Clone(all[:3])
	slices.Reverse(back)
	b, err := cutting.Together(t.Context(), back, []quote.Offcut{rack[1], rack[0]}, st, nil)
	if err != nil {
		t.Fatal(err)
	}
	files := func(p cutting.Plan) []quote.File {
		fs, err := p.CutFiles()
		if err != nil {
			t.Fatal(err)
		}
		return append(fs, p.CutList())
	}
	if !reflect.DeepEqual(a, b) || !reflect.DeepEqual(files(a), files(b)) {
		t.Error("another order gives another plan")
	}
	if a.Name() != "C0007-C0008-C0009" || len(files(a)) != 2*len(a.Sheets)+1 {
		t.Errorf("%s has %d files for %d sheets", a.Name(), len(files(a)), len(a.Sheets))
	}
	rows, err := csv.NewReader(strings.NewReader(string(a.CutList().Data))).ReadAll()
	if err != nil || len(rows) != len(a.Pieces)+1 {
		t.Errorf("the cut list has %d rows, %v", len(rows), err)
	}
	for _, row := range rows[1:] {
		if !strings.HasPrefix(row[2], row[0]+" ") {
			t.Errorf("%s belongs to %s", row[2], row[0])
		}
	}
}

func TestTogetherRefuses(t *testing.T) {
	all, st := few(t)
	for name, c := range map[string]struct {
		jobs  []cutting.Commission
		rack  []quote.Offcut
		spoil func(*quote.Studio)
		want  string
	}{
		"one":       {jobs: all[:1], want: "name 2 to 8"},
		"twice":     {jobs: []cutting.Commission{all[0], all[0]}, want: "named twice"},
		"no pieces": {jobs: []cutting.Commission{all[0], {Quote: quote.Quote{Commission: "C0001", Pieces: []quote.CutPiece{{Label: "x"}}}}}, want: "recompute the quote"},
		"same ID":   {jobs: all[:2], rack: []quote.Offcut{{ID: "R0001", Thickness: 5, Outline: corner(300, 300, 0, 0)}, {ID: "R0001", Thickness: 5, Outline: corner(300, 300, 0, 0)}}, want: "twice"},
		"no foam":   {jobs: all[:2], spoil: func(s *quote.Studio) { s.Prices.Sheets = nil }, want: "[[sheet]]"},
	} {
		t.Run(name, func(t *testing.T) {
			s := st
			if c.spoil != nil {
				c.spoil(&s)
			}
			if _, err := cutting.Together(t.Context(), c.jobs, c.rack, s, nil); err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("error %v does not say %q", err, c.want)
			}
		})
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := cutting.Together(ctx, all[:2], nil, st, nil); err == nil {
		t.Error("a cancelled plan was made")
	}
}

// With a rack that holds everything there is nothing to buy; what is left of an offcut is kept in one piece.
func TestTogetherFromTheRackAlone(t *testing.T) {
	all, st := few(t)
	var rack []quote.Offcut
	for i, th := range []geom.MM{2, 5, 10} {
		rack = append(rack, quote.Offcut{ID: fmt.Sprintf("R%04d", i+1), Thickness: th, Outline: corner(2500, 1200, 0, 0)})
	}
	p, err := cutting.Together(t.Context(), all[:2], rack, st, nil)
	if err != nil {
		t.Fatal(err)
	}
	if p.Cost != 0 || len(p.FromRack()) != len(p.Sheets) || len(p.Offcuts()) == 0 {
		t.Errorf("%d to pay, %d of %d sheets from the rack, %d offcuts", p.Cost, len(p.FromRack()), len(p.Sheets), len(p.Offcuts()))
	}
	for _, r := range p.Offcuts() {
		if b := r.Outline.Bounds(); b.Min != (geom.Point{}) || r.ID != "" {
			t.Errorf("offcut %+v does not begin at 0, 0", b)
		}
	}
	if !strings.Contains(p.Summary(), "Buy: nothing.") {
		t.Error(p.Summary())
	}
}

// The offcuts of one commission's own sheets.
func TestOffcuts(t *testing.T) {
	all, _ := few(t)
	n := 0
	for _, j := range all {
		offcuts, err := cutting.Offcuts(j.Snapshot, j.Quote)
		if err != nil {
			t.Fatal(err)
		}
		n += len(offcuts)
		for _, r := range offcuts {
			if w, h := r.Size(); w < 149.9 || h < 149.9 || j.Quote.Sheets[r.Sheet-1].Thickness != r.Thickness {
				t.Errorf("%s: %v × %v of %s from sheet %d", j.Quote.Commission, w, h, r.Thickness, r.Sheet)
			}
		}
	}
	if n == 0 {
		t.Error("three commissions leave no useful offcut: nothing was tested")
	}
}

// The cut between a piece and an offcut takes its width from the offcut.
func TestOffcutsLoseTheKerf(t *testing.T) {
	const kerf = 3 // offcuts are told in whole millimetres
	all, _ := few(t)
	narrower := 0
	for _, j := range all {
		thin, err := cutting.Offcuts(j.Snapshot, j.Quote)
		if err != nil {
			t.Fatal(err)
		}
		j.Snapshot.Studio.Bench.Kerf += kerf
		wide, err := cutting.Offcuts(j.Snapshot, j.Quote)
		if err != nil {
			t.Fatal(err)
		}
		for _, a := range thin {
			i := slices.IndexFunc(wide, func(b quote.Offcut) bool { return b.Sheet == a.Sheet })
			if i < 0 {
				continue // too small now
			}
			aw, ah := a.Size()
			bw, bh := wide[i].Size()
			if bw*bh > aw*ah {
				t.Errorf("with a wider cut the offcut of sheet %d grows from %v × %v to %v × %v", a.Sheet, aw, ah, bw, bh)
			}
			if aw-bw == kerf || ah-bh == kerf {
				narrower++
			}
		}
	}
	if narrower == 0 {
		t.Error("no offcut lost the width of the cut")
	}
}

// ownCase is the studio's own case: three invented commissions from the library, sheets of 1000 × 500, 1500 × 1000 and 610
// × 914 mm at invented prices, a gap of 5 mm, and a rack as a day's cutting might leave it. It returns a table of what is
// bought and the plan with the rack.
func ownCase(t testing.TB, evaluations int) (string, cutting.Plan) {
	t.Helper()
	st := settings.Demo()
	st.Gap, st.Evaluations = 5, evaluations
	st.Prices.Sheets = nil
	for _, th := range []struct {
		mm                   geom.MM
		small, large, middle price.Money
	}{{2, 480, 1260, 530}, {5, 890, 2350, 980}, {10, 1490, 3900, 1640}} {
		for _, k := range []struct {
			w, h geom.MM
			cost price.Money
		}{{1000, 500, th.small}, {1500, 1000, th.large}, {914, 610, th.middle}} {
			st.Prices.Sheets = append(st.Prices.Sheets, price.Sheet{Key: fmt.Sprintf("eva-%g-%gx%g", float64(th.mm), float64(k.w), float64(k.h)),
				Thickness: th.mm, Width: k.w, Height: k.h, Density: 100, Price: k.cost})
		}
	}
	jobs := ordered(t, st, quote.Pair, []string{"forearm-cuff", "shin-guard"}, []string{"breastplate", "shoulder-cap"}, []string{"knee-cup", "thigh-guard", "collar"})
	rack := []quote.Offcut{
		{ID: "R0001", Thickness: 5, Outline: corner(760, 500, 180, 140)}, {ID: "R0002", Thickness: 5, Outline: corner(610, 330, 0, 0)},
		{ID: "R0003", Thickness: 10, Outline: corner(515, 500, 0, 0)}, {ID: "R0004", Thickness: 2, Outline: corner(540, 500, 90, 110)},
	}
	bare, err := cutting.Together(context.Background(), jobs, nil, st, nil)
	if err != nil {
		t.Fatal(err)
	}
	racked, err := cutting.Together(context.Background(), jobs, rack, st, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range []cutting.Plan{bare, racked} {
		if err := holds(p, jobs, rack, st); err != nil {
			t.Error(err)
		}
	}
	var shelfAlone price.Money
	for _, j := range jobs {
		shelfAlone += shelves(t, []cutting.Commission{j}, st)
	}
	shelf := shelves(t, jobs, st)
	if racked.Cost >= bare.Cost || bare.Cost > bare.Alone || bare.Cost > shelf || bare.Alone > shelfAlone {
		t.Errorf("together %d, with the rack %d, alone %d, boxes %d and %d", bare.Cost, racked.Cost, bare.Alone, shelf, shelfAlone)
	}
	var b strings.Builder
	fmt.Fprintf(&b, "| three commissions, %d pieces, 5 mm gap, %d evaluations | foam bought | of each alone |\n|---|---|---|\n", len(bare.Pieces), evaluations)
	for _, r := range []struct {
		what string
		m    price.Money
	}{{"boxes on shelves, each alone", shelfAlone}, {"boxes on shelves, together", shelf}, {"nested, each alone", bare.Alone}, {"nested together", bare.Cost},
		{fmt.Sprintf("nested together, %d of %d offcuts of the rack used", len(racked.FromRack()), len(rack)), racked.Cost}} {
		fmt.Fprintf(&b, "| %s | %s | %.0f %% |\n", r.what, r.m.Format(st.Prices.Currency), 100*float64(r.m)/float64(bare.Alone))
	}
	return b.String(), racked
}

// BenchmarkTogetherTable prints the studio's own case, computed with the demo studio's effort; -dump writes its layouts.
func BenchmarkTogetherTable(b *testing.B) {
	for b.Loop() {
		table, p := ownCase(b, settings.Demo().Evaluations)
		b.Logf("\n%s\n%s", table, p.Summary())
		if *dump == "" {
			continue
		}
		pics, err := p.Pictures()
		if err != nil {
			b.Fatal(err)
		}
		for _, pic := range pics {
			if err := os.WriteFile(filepath.Join(*dump, pic.Name), pic.Data, 0o644); err != nil {
				b.Fatal(err)
			}
		}
	}
}

// shelves is the cost of the bounding boxes of the pieces packed on shelves, highest first, each box on the first shelf
// that takes it (first fit decreasing height: Coffman, Garey, Johnson, Tarjan 1980), pieces a gap apart. Each next sheet is
// of the kind that holds the most for its price.
func shelves(t testing.TB, jobs []cutting.Commission, st quote.Studio) price.Money {
	t.Helper()
	boxes := map[geom.MM][][2]float64{}
	for _, j := range jobs {
		for _, g := range j.Quote.Graded {
			for _, p := range g.Pieces {
				b := p.Shape.Bounds()
				w, h := float64(b.Width()+st.Gap), float64(b.Height()+st.Gap)
				if p.Turn != geom.TurnHalf && p.Turn != geom.TurnNone && h > w {
					w, h = h, w
				}
				boxes[p.Thickness] = append(boxes[p.Thickness], [2]float64{w, h})
			}
		}
	}
	var sum price.Money
	for _, th := range slices.Sorted(maps.Keys(boxes)) {
		var least price.Money
		for _, turned := range []bool{false, true} { // all along the sheet's length or all across it
			left := slices.Clone(boxes[th])
			if turned {
				for i := range left {
					left[i] = [2]float64{left[i][1], left[i][0]}
				}
			}
			slices.SortStableFunc(left, func(a, b [2]float64) int { return cmp.Compare(b[1], a[1]) })
			var cost price.Money
			for len(left) > 0 {
				var best price.Sheet
				var rest [][2]float64
				worth := 0.0
				for _, k := range st.Prices.Sheets {
					if k.Thickness != th {
						continue
					}
					r, packed := onShelves(left, float64(k.Width-2*st.Margin+st.Gap), float64(k.Height-2*st.Margin+st.Gap))
					if v := packed / float64(k.Price); v > worth {
						best, rest, worth = k, r, v
					}
				}
				if worth == 0 {
					cost = math.MaxInt64
					break
				}
				cost, left = cost+best.Price, rest
			}
			if least == 0 || cost < least {
				least = cost
			}
		}
		if least == math.MaxInt64 {
			t.Fatalf("a box of %s fits on no sheet", th)
		}
		sum += least
	}
	return sum
}

// onShelves packs what it can on a sheet and returns what is left, and the area packed.
func onShelves(boxes [][2]float64, w, h float64) (rest [][2]float64, packed float64) {
	type shelf struct{ high, used float64 }
	var s []shelf
	top := 0.0
	for _, b := range boxes {
		i := slices.IndexFunc(s, func(x shelf) bool { return b[1] <= x.high && x.used+b[0] <= w })
		if i < 0 && top+b[1] <= h && b[0] <= w {
			s, i, top = append(s, shelf{high: b[1]}), len(s), top+b[1]
		}
		if i < 0 {
			rest = append(rest, b)
			continue
		}
		s[i].used += b[0]
		packed += b[0] * b[1]
	}
	return rest, packed
}
