package lay

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"benchbell/quote/gaugetest"
	"benchbell/quote/geom"
	"benchbell/quote/nest"
)

func solve(t interface {
	Helper()
	Fatal(...any)
}, p nest.Problem) nest.Solution {
	t.Helper()
	s, err := Solve(context.Background(), p, nil)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestSameProblemSameBytes(t *testing.T) {
	p := commission(10, 24)
	p.Evaluations = 8000
	a, _ := json.Marshal(solve(t, p))
	b, _ := json.Marshal(solve(t, p))
	if string(a) != string(b) {
		t.Fatal("two runs differ")
	}
}

// A piece of exactly the sheet less its margins fits, at any turn it was drawn in when it may turn.
func TestExactFit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		margin := rapid.Float64Range(0, 30).Draw(t, "margin")
		w, h := rapid.Float64Range(200, 900).Draw(t, "w"), rapid.Float64Range(200, 900).Draw(t, "h")
		drawn := rapid.Float64Range(0, 360).Draw(t, "drawn")
		turn := geom.TurnAny
		if rapid.Bool().Draw(t, "still") {
			drawn, turn = 0, geom.TurnNone
		}
		piece := geom.Placement{Turn: drawn, Move: geom.Pt(rapid.Float64Range(-1e4, 1e4).Draw(t, "x"), 5)}.Shape(rect(0, 0, w-2*margin, h-2*margin))
		p := nest.Problem{
			Items:  []nest.Item{{ID: "plate", Shape: piece, Demand: 2, Turn: turn}},
			Sheets: []nest.Sheet{{ID: "s", Width: geom.MM(w), Height: geom.MM(h), Price: 1}},
			Gap:    3, Margin: geom.MM(margin), Evaluations: 500,
		}
		if s := solve(t, p); len(s.Layouts) != 2 {
			t.Fatalf("%d sheets, want 2", len(s.Layouts))
		}
	})
}

// Rectangles that tile the sheet with exactly the gap between them fill one sheet.
func TestTiling(t *testing.T) {
	for _, gap := range []float64{0, 2.5} {
		p := nest.Problem{
			Items:  []nest.Item{{ID: "tile", Shape: collinear(rect(7, -3, 100, 50)), Demand: 24, Turn: geom.TurnNone}},
			Sheets: []nest.Sheet{{ID: "s", Width: geom.MM(400 + 3*gap + 10), Height: geom.MM(300 + 5*gap + 10), Price: 1}},
			Gap:    geom.MM(gap), Margin: 5,
		}
		if s := solve(t, p); len(s.Layouts) != 1 {
			t.Fatalf("gap %v: %d sheets, want 1", gap, len(s.Layouts))
		}
	}
}

// The mouth of a hook takes a bar that fits nowhere else on its sheet: outlines count, not boxes.
func TestOutlinesNotBoxes(t *testing.T) {
	p := nest.Problem{
		Items: []nest.Item{
			{ID: "hook", Shape: hook(400, 300, 50), Demand: 1, Turn: geom.TurnNone},
			{ID: "bar", Shape: rect(0, 0, 290, 240), Demand: 1, Turn: geom.TurnNone},
		},
		Sheets: []nest.Sheet{{ID: "s", Width: 410, Height: 310, Price: 1}},
		Gap:    5, Margin: 5,
	}
	if s := solve(t, p); len(s.Layouts) != 1 {
		t.Fatalf("%d sheets, want 1", len(s.Layouts))
	}
}

func TestWhereAnItemIsDrawnDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawProblem(t)
		p.Evaluations = min(p.Evaluations, 2000)
		q := p
		q.Items = append([]nest.Item(nil), p.Items...)
		for i := range q.Items {
			dx, dy := rapid.IntRange(-5000, 5000).Draw(t, "dx"), rapid.IntRange(-5000, 5000).Draw(t, "dy")
			q.Items[i].Shape = geom.Placement{Move: geom.Pt(float64(dx), float64(dy))}.Shape(p.Items[i].Shape)
		}
		a, b := solve(t, p), solve(t, q)
		if len(a.Layouts) != len(b.Layouts) || a.Cost != b.Cost {
			t.Fatalf("%d sheets at %d, moved %d at %d", len(a.Layouts), a.Cost, len(b.Layouts), b.Cost)
		}
	})
}

// More evaluations never cost more sheets.
func TestBudgetNeverHurts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawProblem(t)
		p.Evaluations = 0
		none := solve(t, p)
		p.Evaluations = 4000
		if some := solve(t, p); some.Cost > none.Cost {
			t.Fatalf("cost %d with a budget, %d without", some.Cost, none.Cost)
		}
	})
}

func TestCheapestSheets(t *testing.T) {
	p := nest.Problem{
		Items:  []nest.Item{{ID: "tile", Shape: rect(0, 0, 90, 90), Demand: 5, Turn: geom.TurnNone}},
		Sheets: []nest.Sheet{{ID: "four", Width: 200, Height: 200, Price: 100}, {ID: "one", Width: 100, Height: 100, Price: 40}},
		Gap:    2, Evaluations: 5000,
	}
	if s := solve(t, p); s.Cost != 140 {
		t.Fatalf("cost %d, want 140: four tiles on one sheet and one on a small sheet", s.Cost)
	}
	p.Sheets[0].Count = 1
	p.Items[0].Demand = 6
	if s := solve(t, p); s.Cost != 180 {
		t.Fatalf("cost %d, want 180: the stock holds one large sheet", s.Cost)
	}
}

func TestErrorsNameTheFault(t *testing.T) {
	p := nest.Problem{
		Items:  []nest.Item{{ID: "cape", Shape: rect(0, 0, 900, 300), Demand: 3, Turn: geom.TurnQuarter}},
		Sheets: []nest.Sheet{{ID: "roll end", Width: 500, Height: 800, Price: 1}},
	}
	_, err := Solve(context.Background(), p, nil)
	for _, want := range []string{`"cape"`, "900 mm", "300 mm", `"roll end"`, "500 mm", "800 mm"} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Fatalf("error %v does not say %s", err, want)
		}
	}
	p.Sheets[0] = nest.Sheet{ID: "roll end", Width: 300, Height: 900, Count: 2}
	if _, err = Solve(context.Background(), p, nil); err == nil || !strings.Contains(err.Error(), "stock") {
		t.Fatalf("error %v does not speak of the stock", err)
	}
	ctx, stop := context.WithCancel(context.Background())
	p = commission(12, 20)
	calls := 0
	_, err = Solve(ctx, p, func(nest.Progress) {
		if calls++; calls == 2 {
			stop()
		}
	})
	if !errors.Is(err, context.Canceled) {
		t.Fatalf("cancelled, got %v", err)
	}
}

func FuzzDecode(f *testing.F) {
	data, _ := json.Marshal(commission(2, 6))
	f.Add(data)
	f.Add([]byte(`{"items":[{"id":"a","shape":{"outer":[{"x":0,"y":0},{"x":9,"y":0},{"x":0,"y":9}]},"demand":1,"turn":"any"}],"sheets":[{"id":"s","width":50,"height":50,"price":1}]}`))
	f.Add([]byte(`{"items":[{"id":"a","shape":{"outer":[{"x":1e999,"y":0}]},"demand":-1,"turn":"any"}]} {}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := decode(data)
		if err != nil {
			return
		}
		again, err := json.Marshal(p)
		if err != nil {
			t.Fatal(err)
		}
		q, err := decode(again)
		if err != nil || !reflect.DeepEqual(p, q) {
			t.Fatalf("did not survive a second reading: %v", err)
		}
		copies, points := 0, 0
		for _, it := range p.Items {
			copies += it.Demand
			points += len(it.Shape.Outer)
		}
		if copies > 20 || points > 200 {
			return // solving is tested elsewhere; here only small ones
		}
		p.Evaluations = min(p.Evaluations, 200)
		if s, err := Solve(context.Background(), p, nil); err != nil && strings.Contains(err.Error(), "fault of the program") {
			t.Fatalf("%v\n%+v", err, s)
		}
	})
}

func TestDecodeRefuses(t *testing.T) {
	good, _ := json.Marshal(commission(2, 6))
	if _, err := decode(good); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ from, to, says string }{
		{`"demand":1`, `"demand":0`, "demand"},
		{`"turn":"any"`, `"turn":"some"`, "turn"},
		{`"gap":3`, `"gap":-3`, "gap"},
		{`"width":2000`, `"width":0`, "large"},
		{`"seed":1`, `"seed":1,"sede":2`, "sede"},
		{`"id":"plate1"`, `"id":"plate0"`, "twice"},
		{`"evaluations":200000`, `"evaluations":-1`, "budget"},
	} {
		bad := strings.Replace(string(good), c.from, c.to, 1)
		if bad == string(good) {
			t.Fatalf("%s is not in the sample", c.from)
		}
		if _, err := decode([]byte(bad)); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: got %v", c.to, err)
		}
	}
	bow := geom.Ring{geom.Pt(0, 0), geom.Pt(10, 10), geom.Pt(10, 0), geom.Pt(0, 12)}
	if err := validateRing(bow); err == nil {
		t.Error("a bow tie was taken")
	}
	if _, err := decode(make([]byte, maxBytes+1)); err == nil {
		t.Error("too many bytes were taken")
	}
}

// The outside checker moves every polygon by its placement and intersects them with a general geometry library
// (Shapely 2, on GEOS); it knows nothing of this package.
func TestOutsideChecker(t *testing.T) {
	script := gaugetest.Reference(t, "verify", "nest_layout.py")
	python := gaugetest.Python(t, "shapely")
	for i, p := range []nest.Problem{commission(14, 40), commission(8, 120), func() nest.Problem {
		p := commission(9, 12)
		p.Gap, p.Margin = 0, 0
		p.Items[0].Demand = 4
		p.Items[1].Shape, p.Items[1].Demand = hook(300, 250, 20), 3
		return p
	}()} {
		p.Evaluations = 6000
		s := solve(t, p)
		inst, err := instanceOf(p)
		if err != nil {
			t.Fatal(err)
		}
		lay, err := layouts(p, s)
		if err != nil {
			t.Fatal(err)
		}
		dir := t.TempDir()
		a, b := filepath.Join(dir, "instance.json"), filepath.Join(dir, "layout.json")
		if err := errors.Join(os.WriteFile(a, inst, 0o600), os.WriteFile(b, lay, 0o600)); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command(python, script, a, b, "--gap", fmt.Sprint(float64(p.Gap))).CombinedOutput()
		if err != nil {
			t.Fatalf("problem %d: %v\n%s", i, err, out)
		}
		t.Logf("%s", out)
	}
}
