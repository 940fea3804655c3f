package engine_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"benchbell/quote"
	"benchbell/quote/engine"
	"benchbell/quote/floor"
	"benchbell/quote/foam"
	"benchbell/quote/geom"
	"benchbell/quote/nest"
	"benchbell/quote/nest/inspect"
	"benchbell/quote/plan"
	"benchbell/quote/plan/check"
	"benchbell/quote/plan/schedule"
	"benchbell/quote/quotetest"
	"benchbell/quote/settings"
)

// Makers' skills, a rack and the day's humidity come from the studio's settings: work goes to those who can do it, one rack
// delays two assemblies that cure at the same time, and uncertain humidity never brings a date forward.
func TestStudioShapesThePlan(t *testing.T) {
	s := quotetest.Snapshot(t, "forearm-cuff", "shoulder-cap")
	s.Studio.Runs = 400
	plain, err := engine.Compute(t.Context(), s, nil)
	if err != nil {
		t.Fatal(err)
	}
	text := string(settings.DemoTOML)
	for was, is := range map[string]string{
		`# humidity_between = [40, 65]`:          `humidity_between = [40, 65]`,
		`# skills = ["prime", "paint", "clear"]`: `skills = ["prime", "paint", "clear"]`,
		"[foam]":                                 "[[place]]\nid = \"rack\"\ntitle = \"Rack\"\nkind = \"rack\"\n\n[foam]",
	} {
		if !strings.Contains(text, was) {
			t.Fatalf("%q is not in the file", was)
		}
		text = strings.Replace(text, was, is, 1)
	}
	st, err := settings.Parse([]byte(text))
	if err != nil {
		t.Fatal(err)
	}
	st.Evaluations, st.Schedules, st.Runs = s.Studio.Evaluations, s.Studio.Schedules, s.Studio.Runs
	s.Studio = st
	q, err := engine.Compute(t.Context(), s, nil)
	if err != nil {
		t.Fatal(err)
	}
	racked := 0
	for _, o := range q.Plan.Operations {
		if o.Kind == "cut" && slices.Contains(o.Resources, "mara") {
			t.Errorf("%s is planned for a maker who only primes, paints and clears", o.ID)
		}
		if o.Rack != "" {
			racked++
		}
	}
	if racked == 0 {
		t.Error("no coat cures on the rack")
	}
	if q.Plan.P95.Before(plain.Plan.P95) {
		t.Errorf("with less of everything the sure date is %v, earlier than %v", q.Plan.P95, plain.Plan.P95)
	}
}

// The same snapshot gives the same bytes, even when several are computed at once and after a round trip through JSON.
func TestSameSnapshotSameBytes(t *testing.T) {
	s := quotetest.Snapshot(t, sets...)
	text, err := json.Marshal(s)
	if err != nil {
		t.Fatal(err)
	}
	var want []byte
	got := make([][]byte, 3)
	var wg sync.WaitGroup
	for i := range got {
		wg.Add(1)
		go func() {
			defer wg.Done()
			var own quote.Snapshot
			if err := json.Unmarshal(text, &own); err != nil {
				t.Error(err)
				return
			}
			q, err := engine.Compute(context.Background(), own, nil)
			if err != nil {
				t.Error(err)
				return
			}
			got[i], _ = json.Marshal(q)
		}()
	}
	wg.Wait()
	want = got[0]
	for i := range got {
		if len(got[i]) == 0 || !bytes.Equal(got[i], want) {
			t.Fatalf("run %d differs from run 0", i)
		}
	}
}

// What must hold for every quote: pieces on sheets once, valid layouts, sums, and a plan that passes its own check.
func TestQuoteHolds(t *testing.T) {
	s := quotetest.Snapshot(t, sets...)
	var stages []quote.Stage
	used := 0.0
	q, err := engine.Compute(context.Background(), s, func(at quote.Step) {
		if at.Share < 0 || at.Share > 1 || at.Used < 0 || at.Used > 1 {
			t.Errorf("a step says %+v", at)
		}
		used = max(used, at.Used)
		if len(stages) == 0 || stages[len(stages)-1] != at.Stage {
			stages = append(stages, at.Stage)
		}
	})
	if used == 0 {
		t.Error("nesting never said how much of the foam is used")
	}
	if err != nil {
		t.Fatal(err)
	}
	if len(stages) != len(quote.Stages) {
		t.Errorf("stages told: %v", stages)
	}
	placed := map[string]int{}
	for _, l := range q.Sheets {
		for _, p := range l.Layout.Placed {
			placed[p.Item]++
		}
	}
	labels := map[string]bool{}
	shapes := 0
	for _, g := range q.Graded {
		shapes += len(g.Pieces)
	}
	for _, p := range q.Pieces {
		if labels[p.Label] {
			t.Errorf("label %s stands twice", p.Label)
		}
		labels[p.Label] = true
		if placed[p.Label] != 1 {
			t.Errorf("piece %s is placed %d times", p.Label, placed[p.Label])
		}
		if p.Sheet < 1 || p.Sheet > len(q.Sheets) || q.Sheets[p.Sheet-1].Thickness != p.Thickness {
			t.Errorf("piece %s of %s lies on sheet %d", p.Label, p.Thickness, p.Sheet)
		}
	}
	copies := 0
	for _, p := range q.Pieces { // copies of a piece are told apart by their number, and a piece alone has none
		stem, number, several := strings.Cut(p.Label, "/")
		if several && (number != strconv.Itoa(p.Copy) || !labels[stem+"/1"]) || !several && p.Copy != 1 {
			t.Errorf("copy %d of %s is labelled %s", p.Copy, p.Piece, p.Label)
		}
		copies = max(copies, p.Copy)
	}
	if copies < 2 {
		t.Error("no piece has copies")
	}
	if shapes != len(q.Pieces) || len(placed) != shapes {
		t.Errorf("%d graded pieces, %d in the cut list, %d placed", shapes, len(q.Pieces), len(placed))
	}
	checkLayouts(t, s, q)
	// The plan is one for the work as the quote has it, from its first start on.
	if err := check.Plan(s.Problem(q.Work.Plan(), q.Plan.Operations[0].Start, s.Promised), q.Plan); err != nil {
		t.Error(err)
	}
	e := q.Estimate
	var sum int64
	for _, l := range e.Lines {
		sum += int64(l.Amount)
	}
	if sum != int64(e.Subtotal) || e.Subtotal-e.Discount+e.Tax != e.Total || e.Deposit+e.Balance != e.Total || e.Total <= 0 {
		t.Errorf("lines %d, estimate %+v", sum, e)
	}
	if got := strings.Count(q.CutList, "\n"); got != len(q.Pieces)+1 {
		t.Errorf("the cut list has %d lines for %d pieces", got, len(q.Pieces))
	}
	checkCutList(t, q)
	if !bytes.HasPrefix(q.PDF, []byte("%PDF-")) || len(q.SHA256) != 64 {
		t.Error("no PDF, or no checksum")
	}
	if q.Plan.P50.After(q.Plan.P80) || q.Plan.P80.After(q.Plan.P95) || q.Promise < q.Plan.P80.Format(time.DateOnly) {
		t.Errorf("P50 %v, P80 %v, P95 %v, promise %s", q.Plan.P50, q.Plan.P80, q.Plan.P95, q.Promise)
	}
	for _, o := range q.Plan.Operations {
		if strings.Contains(o.ID, "prime") && (o.Cure == nil || !o.Cure.Ready.After(o.End)) {
			t.Errorf("%s has no cure after it: %+v", o.ID, o.Cure)
		}
	}
}

// The cut list gives the position of each piece's bounding box, and it is on its sheet.
func checkCutList(t *testing.T, q quote.Quote) {
	t.Helper()
	rows, err := csv.NewReader(strings.NewReader(q.CutList)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	column := func(row []string, name string) float64 {
		v, err := strconv.ParseFloat(row[slices.Index(rows[0], name)], 64)
		if err != nil {
			t.Fatalf("cut list, %s: %v", name, err)
		}
		return v
	}
	for i, row := range rows[1:] {
		sheet := q.Sheets[q.Pieces[i].Sheet-1].Layout
		x, y := column(row, "x_mm"), column(row, "y_mm")
		if x < 0 || y < 0 || x > float64(sheet.Width) || y > float64(sheet.Height) {
			t.Errorf("%s lies at %g, %g of a sheet %g × %g", row[0], x, y, float64(sheet.Width), float64(sheet.Height))
		}
	}
}

// Each layout is checked again against the problem rebuilt from the quote.
func checkLayouts(t *testing.T, s quote.Snapshot, q quote.Quote) {
	t.Helper()
	shape := map[string]foam.Piece{}
	i := 0
	for _, g := range q.Graded {
		for _, p := range g.Pieces {
			shape[q.Pieces[i].Label] = p
			i++
		}
	}
	byThickness := map[geom.MM]*nest.Problem{}
	grain := map[geom.MM]bool{}
	sol := map[geom.MM]*nest.Solution{}
	for _, l := range q.Sheets {
		p := byThickness[l.Thickness]
		if p == nil {
			p = &nest.Problem{Gap: s.Studio.Gap, Margin: s.Studio.Margin}
			for _, sh := range s.Studio.Prices.Sheets {
				if sh.Thickness == l.Thickness {
					p.Sheets = append(p.Sheets, nest.Sheet{ID: sh.Key, Width: sh.Width, Height: sh.Height, Price: int64(sh.Price)})
				}
			}
			byThickness[l.Thickness], sol[l.Thickness] = p, &nest.Solution{}
		}
		sol[l.Thickness].Layouts = append(sol[l.Thickness].Layouts, l.Layout)
		for _, sh := range p.Sheets {
			if sh.ID == l.Layout.Sheet {
				sol[l.Thickness].Cost += sh.Price
			}
		}
		for _, pl := range l.Layout.Placed {
			pc := shape[pl.Item]
			turn := pc.Turn
			if pc.Turn == geom.TurnHalf { // all with a direction lie the same way
				turn = geom.TurnQuarter
				across := pl.At.Turn == 90 || pl.At.Turn == 270
				if was, ok := grain[l.Thickness]; ok && was != across {
					t.Errorf("%s is turned by %v°, across the others' direction", pl.Item, pl.At.Turn)
				}
				grain[l.Thickness] = across
			}
			p.Items = append(p.Items, nest.Item{ID: pl.Item, Shape: pc.Shape, Demand: 1, Turn: turn, MayFlip: pc.MayFlip})
		}
	}
	for th, p := range byThickness {
		var used, area float64
		for _, l := range sol[th].Layouts {
			area += float64(l.Width) * float64(l.Height)
			used += l.Used * float64(l.Width) * float64(l.Height)
		}
		sol[th].Density = used / area
		if err := inspect.Layouts(*p, *sol[th]); err != nil {
			t.Errorf("%s: %v", th, err)
		}
	}
}

// A wider body never gets a smaller piece or a lighter total; promised work never makes the plan start earlier.
func TestBodyAndPromisesMoveTheQuote(t *testing.T) {
	s := quotetest.Snapshot(t, "forearm-cuff")
	a, err := engine.Compute(context.Background(), s, nil)
	if err != nil {
		t.Fatal(err)
	}
	wide := quotetest.Snapshot(t, "forearm-cuff")
	for i := range wide.Body {
		wide.Body[i].Value *= 1.1
	}
	b, err := engine.Compute(context.Background(), wide, nil)
	if err != nil {
		t.Fatal(err)
	}
	if b.Grams <= a.Grams {
		t.Errorf("10 %% wider weighs %.1f g against %.1f g", b.Grams, a.Grams)
	}
	busy := s
	for _, r := range s.Studio.Resources {
		busy.Promised = append(busy.Promised, plan.Busy{Resource: r.ID, From: s.At, To: s.At.AddDate(0, 0, 14), Label: "C0000"})
		if r.Capacity > 1 {
			busy.Promised = append(busy.Promised, plan.Busy{Resource: r.ID, From: s.At, To: s.At.AddDate(0, 0, 14), Label: "C0000"})
		}
	}
	c, err := engine.Compute(context.Background(), busy, nil)
	if err != nil {
		t.Fatal(err)
	}
	if !c.Plan.End.After(a.Plan.End) {
		t.Errorf("a fortnight of promised work left the end at %v", c.Plan.End)
	}
	p, err := floor.Place(context.Background(), s, a, s.At.AddDate(0, 0, 30), nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(p.Operations) != len(a.Plan.Operations) || p.Operations[0].Start.Before(s.At.AddDate(0, 0, 30)) {
		t.Errorf("replanned: %d operations from %v", len(p.Operations), p.Operations[0].Start)
	}
}

func TestRefusals(t *testing.T) {
	for name, c := range map[string]struct {
		spoil func(*quote.Snapshot)
		want  string
	}{
		"version":     {func(s *quote.Snapshot) { s.Version = 99 }, "same release"},
		"nothing":     {func(s *quote.Snapshot) { s.Items = nil }, "at least one"},
		"unknown set": {func(s *quote.Snapshot) { s.Items[0].Set = "wing" }, "wing"},
		"count":       {func(s *quote.Snapshot) { s.Items[0].Count = 0 }, "1 to"},
		"side":        {func(s *quote.Snapshot) { s.Items[0].Sides = quote.Plain }, "left, right or pair"},
		"finish":      {func(s *quote.Snapshot) { s.Finish = "chrome" }, "chrome"},
		"measurement": {func(s *quote.Snapshot) { s.Body = nil }, "girth"},
		"foam":        {func(s *quote.Snapshot) { s.Studio.Prices.Sheets = nil }, "[[sheet]]"},
		"hardware":    {func(s *quote.Snapshot) { s.Studio.Prices.Hardware = nil }, ""},
		"cold room":   {func(s *quote.Snapshot) { s.Studio.Room.Celsius = 2 }, ""},
	} {
		t.Run(name, func(t *testing.T) {
			s := quotetest.Snapshot(t, "forearm-cuff")
			c.spoil(&s)
			_, err := engine.Compute(context.Background(), s, nil)
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Fatalf("error %v does not say %q", err, c.want)
			}
		})
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := engine.Compute(ctx, quotetest.Snapshot(t, "forearm-cuff"), nil); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

// The planning alone of one set, two, and all of the library, at the demo studio's budget.
func BenchmarkPlanning(b *testing.B) {
	for _, sets := range [][]string{{"forearm-cuff"}, {"forearm-cuff", "shoulder-cap"}, nil} {
		s := quotetest.Snapshot(b, sets...)
		s.Studio = settings.Demo()
		s.Studio.Evaluations = 200
		q, err := engine.Compute(b.Context(), s, nil)
		if err != nil {
			b.Fatal(err)
		}
		ops := q.Work.Plan()
		b.Run(fmt.Sprint(len(ops), " operations"), func(b *testing.B) {
			for b.Loop() {
				if _, err := schedule.Solve(b.Context(), s.Problem(ops, q.Issued, nil), nil); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkCompute(b *testing.B) {
	s := quotetest.Snapshot(b)
	s.Studio = settings.Demo()
	for b.Loop() {
		if _, err := engine.Compute(context.Background(), s, nil); err != nil {
			b.Fatal(err)
		}
	}
}
