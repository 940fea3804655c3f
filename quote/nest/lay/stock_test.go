package lay

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"benchbell/quote/gaugetest"
	"benchbell/quote/geom"
	"benchbell/quote/nest"
	"benchbell/quote/nest/exact"
)

// drawStock is a stock of whole sheets and an offcut of odd outline with a hole torn in it.
func drawStock(t *rapid.T) []nest.Sheet {
	num := func(lo, hi int, label string) float64 { return float64(rapid.IntRange(lo, hi).Draw(t, label)) }
	notch := num(50, 350, "notch")
	x, y := num(100, 500, "x"), num(60, 200, "y")
	return []nest.Sheet{
		{ID: "full", Width: 1000, Height: 500, Price: 1000},
		{ID: "half", Width: 500, Height: 500, Price: 600, Count: 2},
		{ID: "offcut", Width: 700, Height: 400, Count: 1, Price: 100,
			Outline: geom.Ring{geom.Pt(0, 40), geom.Pt(60, 0), geom.Pt(700, 0), geom.Pt(700, 300), geom.Pt(500, 300), geom.Pt(500, 400), geom.Pt(notch, 400), geom.Pt(notch/2, 250), geom.Pt(0, 400)},
			Defects: []geom.Ring{rect(x, y, 30, 20).Outer}},
	}
}

// Everything at once: sheets, offcut, defect, gap, margin, kerf, hands, turns, priorities. Solve checks every layout;
// what is returned as offcut lies in its sheet, clear of all pieces.
func TestStockHolds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawProblem(t)
		p.Sheets = drawStock(t)
		p.Kerf = geom.MM(rapid.SampledFrom([]float64{0, 1, 4}).Draw(t, "kerf"))
		p.Workers = rapid.IntRange(1, 3).Draw(t, "workers")
		for i := range p.Items {
			p.Items[i].Owner = fmt.Sprint("commission ", i%2)
			if rapid.IntRange(0, 3).Draw(t, "listed") == 0 {
				p.Items[i].Turns = []float64{0, 30, 125.5}
			}
		}
		s, err := Solve(context.Background(), p, nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range s.Layouts {
			for _, q := range l.Placed {
				if q.Owner == "" {
					t.Fatalf("%s lost its owner", q.Item)
				}
			}
		}
		if s.Offcut == nil {
			return
		}
		l := s.Layouts[s.Offcut.Layout]
		box := geom.Box{Max: geom.Pt(float64(l.Width), float64(l.Height))}
		for _, q := range s.Offcut.Shape.Outer {
			if !box.Contains(q) {
				t.Fatalf("the offcut leaves its sheet at %v", q)
			}
		}
		o := exact.NewOutline(geom.Shape{Outer: s.Offcut.Shape.Outer})
		for _, q := range l.Placed {
			i := slices.IndexFunc(p.Items, func(it nest.Item) bool { return it.ID == q.Item })
			if exact.Overlap(o, exact.NewOutline(q.At.Shape(p.Items[i].Shape))) {
				t.Fatalf("the offcut runs through %s", q.Item)
			}
		}
	})
}

// What an outline leaves of its rectangle, and the outline, make up the rectangle.
func TestPocketsMakeUpTheRest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := drawStock(t)[2]
		if rapid.Bool().Draw(t, "star") { // touches its rectangle in few places
			radii := make([]float64, rapid.IntRange(5, 20).Draw(t, "points"))
			for i := range radii {
				radii[i] = float64(rapid.IntRange(20, 120).Draw(t, "r"))
			}
			r := star(radii, 0.8).Outer
			b := r.Bounds()
			k.Outline = geom.Placement{Move: geom.Point{}.Sub(b.Min)}.Ring(r)
			k.Width, k.Height = b.Width(), b.Height()
		}
		sum := float64(k.Outline.Area())
		in := exact.NewOutline(geom.Shape{Outer: k.Outline})
		for _, r := range pockets(k) {
			sum += float64(r.Area())
			small := r // pockets touch the outline; their middles must not lie in it
			if k.Outline.Contains(small.Centroid()) && small.Contains(small.Centroid()) {
				t.Fatalf("pocket %v lies in the outline", r)
			}
			if exact.Overlap(in, exact.NewOutline(geom.Shape{Outer: r})) {
				t.Fatalf("pocket %v overlaps the outline %v", r, k.Outline)
			}
		}
		if want := float64(k.Width) * float64(k.Height); math.Abs(sum-want) > 1e-6*want {
			t.Fatalf("outline and pockets cover %v of %v", sum, want)
		}
	})
}

// An outline that ends within a rounding error of a corner of its rectangle leaves pockets without a spike there.
func TestPocketsEndAtCorners(t *testing.T) {
	const w, h = 79.2315311765797, 118.83838533514053
	outline := geom.Ring{{X: w, Y: 59.41919266757026}, {X: 54.8, Y: 75}, {X: 2.842170943040401e-14, Y: h}, {X: 39.2, Y: 59.4}, {X: 0, Y: 0}, {X: 54.8, Y: 43.8}}
	rings := pockets(nest.Sheet{ID: "rest", Width: w, Height: h, Outline: outline})
	if len(rings) == 0 {
		t.Fatal("nothing is left of the rectangle")
	}
	for _, r := range rings {
		for i, p := range r {
			if q := r[(i+1)%len(r)]; p.Dist(q) < onEdge {
				t.Errorf("pocket %v has %v and %v beside each other", r, p, q)
			}
		}
	}
}

// The parts of a ring beyond a line have the area that is left when the part before it is taken away.
func TestBeyond(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := drawShape(t).Outer.CCW()
		b := r.Bounds()
		x := rapid.Float64Range(b.Min.X-5, b.Max.X+5).Draw(t, "x")
		var sum float64
		for _, q := range beyond(r, x) {
			if float64(q.SignedArea()) < 0 {
				t.Fatalf("part %v runs clockwise", q)
			}
			sum += float64(q.Area())
		}
		flip := geom.Placement{Mirrored: true}
		for _, q := range beyond(flip.Ring(r).CCW(), -x) {
			sum += float64(q.Area())
		}
		if want := float64(r.Area()); math.Abs(sum-want) > 1e-6*(1+want) {
			t.Fatalf("both sides cover %v of %v", sum, want)
		}
	})
}

// A defect that lies across the outline, most of it outside, is a hole of the offcut as well: solving would fail where the
// offcut claimed that foam.
func TestOffcutKnowsDefectsAcrossTheOutline(t *testing.T) {
	p := nest.Problem{
		Items: []nest.Item{{ID: "bar", Shape: rect(0, 0, 50, 60), Demand: 1, Turn: geom.TurnNone}},
		Sheets: []nest.Sheet{{ID: "rest", Width: 400, Height: 300, Price: 1, Defects: []geom.Ring{rect(190, 190, 30, 50).Outer},
			Outline: geom.Ring{geom.Pt(0, 0), geom.Pt(400, 0), geom.Pt(400, 300), geom.Pt(300, 300), geom.Pt(300, 200), geom.Pt(100, 200), geom.Pt(100, 300), geom.Pt(0, 300)}}},
		Gap: 5, Margin: 5, Evaluations: 500, Seed: 1,
	}
	if s := solve(t, p); s.Offcut == nil || len(s.Offcut.Shape.Holes) != 1 {
		t.Fatalf("the offcut is %+v, one hole is wanted", s.Offcut)
	}
}

// Cheap offcuts are used before sheets are bought, and a defect in the middle is worked around.
func TestOffcutsFirst(t *testing.T) {
	p := nest.Problem{
		Items: []nest.Item{{ID: "bar", Shape: rect(0, 0, 180, 60), Demand: 4, Turn: geom.TurnQuarter}},
		Sheets: []nest.Sheet{
			{ID: "new", Width: 1000, Height: 500, Price: 1000},
			{ID: "rest", Width: 400, Height: 300, Count: 1, Price: 0, Defects: []geom.Ring{rect(190, 140, 20, 20).Outer}},
		},
		Gap: 5, Margin: 5, Evaluations: 40000, Seed: 1,
	}
	s := solve(t, p)
	if s.Cost != 0 || len(s.Layouts) != 1 || s.Layouts[0].Sheet != "rest" {
		t.Fatalf("cost %d on %d sheets, first %q; all four bars go on the offcut", s.Cost, len(s.Layouts), s.Layouts[0].Sheet)
	}
}

// A stock too small refuses, or with Partial leaves out what matters least.
func TestPartial(t *testing.T) {
	p := nest.Problem{
		Items: []nest.Item{
			{ID: "belt", Shape: rect(0, 0, 380, 200), Demand: 1, Turn: geom.TurnNone},
			{ID: "crest", Shape: rect(0, 0, 380, 190), Demand: 1, Turn: geom.TurnNone, Priority: 5},
		},
		Sheets: []nest.Sheet{{ID: "s", Width: 400, Height: 300, Count: 1, Price: 1}},
		Gap:    5, Margin: 5, Evaluations: 3000, Seed: 1,
	}
	if _, err := Solve(context.Background(), p, nil); err == nil || !strings.Contains(err.Error(), "too small") {
		t.Fatalf("got %v", err)
	}
	p.Partial = true
	s := solve(t, p)
	if len(s.Missing) != 1 || s.Missing[0] != (nest.Missing{Item: "belt", Copies: 1}) {
		t.Fatalf("missing %+v, want the belt", s.Missing)
	}
}

// A piece that no sheet takes is refused with the sheet that comes nearest, also where only an outline is in its way.
func TestNearestSheet(t *testing.T) {
	p := nest.Problem{
		Items: []nest.Item{{ID: "cape", Shape: rect(0, 0, 900, 320), Demand: 1, Turn: geom.TurnQuarter}},
		Sheets: []nest.Sheet{
			{ID: "wide", Width: 890, Height: 400, Price: 1}, {ID: "large but low", Width: 3000, Height: 300, Price: 1},
		},
	}
	if _, err := Solve(context.Background(), p, nil); err == nil || !strings.Contains(err.Error(), `nearest is "wide"`) {
		t.Fatalf("got %v", err)
	}
	p.Sheets = []nest.Sheet{{ID: "torn", Width: 1000, Height: 400, Price: 1, Defects: []geom.Ring{rect(450, 180, 40, 40).Outer}}}
	if _, err := Solve(context.Background(), p, nil); err == nil || !strings.Contains(err.Error(), "defects") {
		t.Fatalf("got %v", err)
	}
}

// The same bytes whatever the cores, and for each number of workers its own.
func TestSameOnAnyMachine(t *testing.T) {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(0))
	for _, workers := range []int{1, 2, 3} {
		var first []byte
		for _, cores := range []int{1, 2, 4} {
			runtime.GOMAXPROCS(cores)
			p := commission(10, 24)
			p.Evaluations, p.Workers = 20000, workers
			b, _ := json.Marshal(solve(t, p))
			if first == nil {
				first = b
			}
			if !bytes.Equal(b, first) {
				t.Errorf("%d workers: another layout on %d cores", workers, cores)
			}
		}
	}
}

// Renumbering and moving the items' drawings, and mirroring all of them, leave the sheets' cost what it is.
func TestNamesDoNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawProblem(t)
		p.Evaluations = min(p.Evaluations, 2000)
		a := solve(t, p)
		q := p
		q.Items = slices.Clone(p.Items)
		for i := range q.Items {
			q.Items[i].ID = fmt.Sprint("renamed ", len(q.Items)-i)
		}
		b := solve(t, q)
		if len(a.Layouts) != len(b.Layouts) || a.Cost != b.Cost || a.Evaluations != b.Evaluations {
			t.Fatalf("%d sheets at %d, renamed %d at %d", len(a.Layouts), a.Cost, len(b.Layouts), b.Cost)
		}
		for i := range q.Items {
			q.Items[i].Shape = geom.Placement{Mirrored: true}.Shape(p.Items[i].Shape)
		}
		q.Evaluations = 0
		p.Evaluations = 0
		if a, b := solve(t, p), solve(t, q); math.Abs(float64(len(a.Layouts)-len(b.Layouts))) > 1 {
			t.Fatalf("%d sheets, mirrored %d", len(a.Layouts), len(b.Layouts))
		}
	})
}

// A strip is no shorter than its pieces' area, no longer than they are end to end, and scaling the instance scales it.
func TestStripScales(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawProblem(t)
		p.Sheets, p.Strip, p.Evaluations = nil, 500, 3000
		e := Exchanged{Problem: p, scale: 1}
		s := solve(t, e.Problem)
		var area, far float64
		for _, it := range p.Items {
			b := it.Shape.Bounds()
			area += float64(it.Demand) * float64(it.Shape.Area())
			far += float64(it.Demand)*(math.Hypot(float64(b.Width()), float64(b.Height()))+float64(p.Gap)) + 2*float64(p.Margin)
		}
		if w := float64(s.Layouts[0].Width); w < area/500*(1-1e-9) || w > far {
			t.Fatalf("length %v, pieces take %v to %v", w, area/500, far)
		}
	})
}

const stripJSON = `{"name": "two", "strip_height": 0.05, "items": [
 {"id": 7, "demand": 2, "allowed_orientations": [0, 180], "shape": {"type": "simple_polygon", "data": [[0,0],[0.03,0],[0.03,0.02],[0,0.02],[0,0]]}},
 {"id": "b", "shape": {"type": "polygon", "data": {"outer": [[0,0],[0.02,0],[0.01,0.02]], "inner": []}}}]}`

const binText = "3 100 100\n4 0 0 100 0 100 50 0 50\n3 0 0 100 0 0 50\n3 0 50 100 50 100 0\n"

// The exchange forms are read in any unit and answered in it, with the ids as they were written.
func TestReadForms(t *testing.T) {
	e, err := Read("x", []byte(stripJSON), 0)
	if err != nil {
		t.Fatal(err)
	}
	e.Problem.Evaluations = 5000
	s := solve(t, e.Problem)
	out, err := e.Layouts(s)
	if err != nil {
		t.Fatal(err)
	}
	if w := e.Width(s); w < 0.028 || w > 0.09 {
		t.Errorf("length %v", w)
	}
	for _, want := range []string{`"item":7`, `"item":"b"`, `"height":0.05`} {
		if !strings.Contains(string(out), want) {
			t.Errorf("%s is not in %s", want, out)
		}
	}
	e, err = Read("x", []byte(binText), 0)
	if err != nil {
		t.Fatal(err)
	}
	e.Problem.Evaluations = 20000
	if s := solve(t, e.Problem); len(s.Layouts) != 1 {
		t.Errorf("%d bins, the pieces fill one", len(s.Layouts))
	}
	stock := strings.Replace(stripJSON, `"strip_height": 0.05`, `"sheets": [{"id": 3, "width": 0.1, "height": 0.05, "price": 4, "outline": [[0,0],[0.1,0],[0.1,0.02],[0,0.05]]}]`, 1)
	e, err = Read("x", []byte(stock), 0.001)
	if err != nil {
		t.Fatal(err)
	}
	e.Problem.Evaluations = 5000
	s = solve(t, e.Problem)
	if out, _ = e.Layouts(s); !strings.Contains(string(out), `"sheet":3`) || float64(e.Problem.Gap) < 1 {
		t.Errorf("gap %v, %s", e.Problem.Gap, out)
	}
	for _, bad := range []string{"", "{", "3 100", "2 100 100 3 0 0 1 1", `{"items":[{"shape":{"type":"circle"}}]}`, stripJSON + "{}"} {
		if _, err := Read("x", []byte(bad), 0); err == nil {
			t.Errorf("%q was taken", bad)
		}
	}
}

func FuzzRead(f *testing.F) {
	f.Add([]byte(stripJSON), 0.5)
	f.Add([]byte(binText), 0.0)
	f.Add([]byte(`{"sheets":[{"id":1,"width":9,"height":9,"outline":[[0,0],[9,0],[9,9]]}],"items":[{"shape":{"type":"rectangle","data":{"width":3,"height":2}}}]}`), 1e-3)
	f.Fuzz(func(t *testing.T, data []byte, gap float64) {
		e, err := Read("x", data, gap)
		if err != nil {
			return
		}
		copies, points := 0, 0
		for _, it := range e.Problem.Items {
			copies += it.Demand
			points += len(it.Shape.Outer)
		}
		for _, k := range e.Problem.Sheets {
			points += len(k.Outline) + 10*len(k.Defects)
		}
		if copies > 12 || points > 120 {
			return
		}
		e.Problem.Evaluations, e.Problem.Workers = 200, 1
		s, err := Solve(context.Background(), e.Problem, nil)
		if err != nil {
			if strings.Contains(err.Error(), "fault of the program") {
				t.Fatal(err)
			}
			return
		}
		if _, err := e.Layouts(s); err != nil {
			t.Fatal(err)
		}
	})
}

// The strip instances with published densities are laid out validly and well within the budget of a test; the outside
// checker (Shapely, on GEOS) judges the layout. The densities are those of the table beside the instances.
func TestPublishedStrips(t *testing.T) {
	strips, checker := gaugetest.Reference(t, "nesting", "strip"), gaugetest.Reference(t, "verify", "nest_layout.py")
	python := gaugetest.Python(t, "shapely")
	best := map[string]float64{"albano": 89.82, "dagli": 90.17, "fu": 92.41, "jakobs1": 89.26, "marques": 92.02, "shapes0": 69.98, "shirts": 90.92, "trousers": 92.62}
	var sum float64
	names := []string{"albano", "dagli", "fu", "jakobs1", "marques", "shapes0", "shirts", "trousers"}
	for _, name := range names {
		file := filepath.Join(strips, name+".json")
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		e, err := Read(name, data, 0)
		if err != nil {
			t.Fatal(err)
		}
		e.Problem.Evaluations, e.Problem.Seed = 200_000, 1
		s := solve(t, e.Problem)
		sum += 100 * s.Density / best[name]
		out, err := e.Layouts(s)
		if err != nil {
			t.Fatal(err)
		}
		layout := filepath.Join(t.TempDir(), name+".json")
		if err := os.WriteFile(layout, out, 0o600); err != nil {
			t.Fatal(err)
		}
		if got, err := exec.Command(python, checker, file, layout).CombinedOutput(); err != nil {
			t.Errorf("%s: %v\n%s", name, err, got)
		}
	}
	// A fifteenth of what one second gives; the floor guards against a search that no longer works.
	if mean := sum / float64(len(names)); mean < 0.88 {
		t.Errorf("mean density is %.3f of the best known, at least 0.88 is wanted", mean)
	} else {
		t.Logf("mean density is %.4f of the best known", mean)
	}
}
