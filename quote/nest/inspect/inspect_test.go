package inspect_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"benchbell/quote/gaugetest"
	"benchbell/quote/geom"
	"benchbell/quote/nest"
	"benchbell/quote/nest/inspect"
	"benchbell/quote/nest/lay"
)

func box(x, y, w, h float64) geom.Ring {
	return geom.Ring{geom.Pt(x, y), geom.Pt(x+w, y), geom.Pt(x+w, y+h), geom.Pt(x, y+h)}
}

// laid writes a solution down: squares of 50 at the moves given, on a sheet of 200 by 100 at 7.
func laid(gap, margin float64, moves ...geom.Point) (nest.Problem, nest.Solution) {
	p := nest.Problem{Items: []nest.Item{{ID: "tile", Shape: geom.Shape{Outer: box(0, 0, 50, 50)}, Demand: len(moves), Turn: geom.TurnQuarter}},
		Sheets: []nest.Sheet{{ID: "s", Width: 200, Height: 100, Price: 7}}, Gap: geom.MM(gap), Margin: geom.MM(margin)}
	used := float64(len(moves)) * 2500 / 20000
	l := nest.Layout{Sheet: "s", Width: 200, Height: 100, Used: used}
	for i, m := range moves {
		l.Placed = append(l.Placed, nest.Placed{Item: "tile", Copy: i + 1, At: geom.Placement{Move: m}})
	}
	return p, nest.Solution{Layouts: []nest.Layout{l}, Cost: 7, Density: used}
}

func refused(t *testing.T, what string, p nest.Problem, s nest.Solution, words string) {
	t.Helper()
	if err := inspect.Layouts(p, s); err == nil || !strings.Contains(err.Error(), words) {
		t.Errorf("%s: got %v, want words %q", what, err, words)
	}
}

func taken(t *testing.T, what string, p nest.Problem, s nest.Solution) {
	t.Helper()
	if err := inspect.Layouts(p, s); err != nil {
		t.Errorf("%s: %v", what, err)
	}
}

// Distances are kept to a thousandth of a micron, and where nothing is to be kept, not a rounding of overlap is taken.
func TestToTheTolerance(t *testing.T) {
	p, s := laid(4, 5, geom.Pt(5, 5), geom.Pt(59-0.9e-6, 5), geom.Pt(145+0.9e-6, 45))
	taken(t, "missed by less", p, s)
	p, s = laid(4, 5, geom.Pt(5, 5), geom.Pt(59-2e-6, 5))
	refused(t, "a gap too small", p, s, "apart")
	p, s = laid(4, 5, geom.Pt(5, 5), geom.Pt(145+2e-6, 45))
	refused(t, "a margin too small", p, s, "margin")
	p, s = laid(0, 0, geom.Pt(0, 0), geom.Pt(50, 0), geom.Pt(50, 50))
	taken(t, "side by side", p, s)
	s.Layouts[0].Placed[1].At.Move.X = math.Nextafter(50, 0)
	refused(t, "a rounding of overlap", p, s, "overlap by less than")
	s.Layouts[0].Placed[1].At.Move.X = 50 - 1e-3
	refused(t, "a micron of overlap", p, s, "overlap at")
	p, s = laid(3, 0, geom.Pt(1, 1), geom.Pt(55, 1))
	p.Kerf = 1
	taken(t, "gap and kerf", p, s)
	p.Kerf = 1.001
	refused(t, "a wider kerf", p, s, "apart")
	p.Kerf = 2.001
	refused(t, "half of a kerf from the edge", p, s, "margin")
}

// Turns and the mirror do what they say: a hook's mouth takes a bar on one side only.
func TestTurnsAndMirrors(t *testing.T) {
	hook := geom.Shape{Outer: geom.Ring{geom.Pt(0, 0), geom.Pt(30, 0), geom.Pt(30, 10), geom.Pt(10, 10), geom.Pt(10, 20), geom.Pt(30, 20), geom.Pt(30, 30), geom.Pt(0, 30)}}
	p := nest.Problem{Items: []nest.Item{{ID: "hook", Shape: hook, Demand: 1, Turn: geom.TurnAny, MayFlip: true}, {ID: "bar", Shape: geom.Shape{Outer: box(0, 0, 30, 10)}, Demand: 1, Turn: geom.TurnQuarter}},
		Sheets: []nest.Sheet{{ID: "s", Width: 100, Height: 100}}}
	used := (700 + 300) / 1e4
	flat := func(x, y float64) geom.Placement { return geom.Placement{Move: geom.Pt(x, y)} }
	upright := func(x, y float64) geom.Placement { return geom.Placement{Turn: 90, Move: geom.Pt(x+10, y)} }
	for _, c := range []struct {
		name string
		at   geom.Placement
		bar  geom.Placement
		over bool
	}{
		{"as drawn", geom.Placement{Move: geom.Pt(20, 20)}, flat(30, 30), false},
		{"as drawn, from behind", geom.Placement{Move: geom.Pt(20, 20)}, flat(10, 30), true},
		{"mirrored", geom.Placement{Mirrored: true, Move: geom.Pt(50, 20)}, flat(10, 30), false},
		{"mirrored, from the old side", geom.Placement{Mirrored: true, Move: geom.Pt(50, 20)}, flat(30, 30), true},
		{"half turned", geom.Placement{Turn: 180, Move: geom.Pt(50, 50)}, flat(10, 30), false},
		{"a quarter turned", geom.Placement{Turn: 90, Move: geom.Pt(50, 20)}, flat(30, 30), true},
		{"a quarter turned, from above", geom.Placement{Turn: 90, Move: geom.Pt(50, 20)}, upright(30, 30), false},
		{"mirrored, then a quarter turned back", geom.Placement{Mirrored: true, Turn: -450, Move: geom.Pt(50, 50)}, upright(60, 60), false},
		{"the same from below", geom.Placement{Mirrored: true, Turn: -450, Move: geom.Pt(50, 50)}, upright(60, 40), true},
	} {
		s := nest.Solution{Layouts: []nest.Layout{{Sheet: "s", Width: 100, Height: 100, Used: used, Placed: []nest.Placed{
			{Item: "hook", Copy: 1, At: c.at}, {Item: "bar", Copy: 1, At: c.bar}}}}, Density: used}
		if err := inspect.Layouts(p, s); (err != nil) != c.over || err != nil && !strings.Contains(err.Error(), "overlap at") {
			t.Errorf("%s: %v, overlaps: %t", c.name, err, c.over)
		}
	}
}

// A piece in another's hole is no fault when it keeps the gap, and is one when it does not.
func TestHoles(t *testing.T) {
	p := nest.Problem{
		Items: []nest.Item{{ID: "ring", Shape: geom.Shape{Outer: box(0, 0, 200, 200), Holes: []geom.Ring{box(50, 50, 100, 100).Reversed()}}, Demand: 1, Turn: geom.TurnNone},
			{ID: "disc", Shape: geom.Shape{Outer: box(0, 0, 90, 90)}, Demand: 1, Turn: geom.TurnNone}},
		Sheets: []nest.Sheet{{ID: "s", Width: 200, Height: 200, Price: 1}}, Gap: 5,
	}
	used := float64(200*200-100*100+90*90) / (200 * 200)
	at := func(x float64) nest.Solution {
		return nest.Solution{Cost: 1, Density: used, Layouts: []nest.Layout{{Sheet: "s", Width: 200, Height: 200, Used: used,
			Placed: []nest.Placed{{Item: "ring", Copy: 1}, {Item: "disc", Copy: 1, At: geom.Placement{Move: geom.Pt(x, 55)}}}}}}
	}
	taken(t, "in the hole", p, at(55))
	refused(t, "too near to its border", p, at(54.99), "apart")
	refused(t, "over its border", p, at(40), "overlap")
	refused(t, "beside the hole", p, at(5), "overlap")
}

// The margin is kept from a slanting outline and from a defect as from the sheet's edges.
func TestOutlinesAndDefects(t *testing.T) {
	at := func(x, y float64) (nest.Problem, nest.Solution) {
		p, s := laid(4, 5, geom.Pt(x, y))
		p.Sheets[0].Outline = geom.Ring{geom.Pt(0, 0), geom.Pt(200, 0), geom.Pt(200, 100), geom.Pt(60, 100), geom.Pt(0, 40)} // a corner is cut off, 60 by 60
		p.Sheets[0].Defects = []geom.Ring{box(150, 60, 10, 10)}
		s.Layouts[0].Used = 2500.0 / (20000 - 1800)
		s.Density = s.Layouts[0].Used
		return p, s
	}
	p, s := at(30, 12.9) // its corner is 7.1/√2 from the cut
	taken(t, "beside the cut", p, s)
	p, s = at(30, 13)
	refused(t, "nearer than the margin to the cut", p, s, "4.949747 mm from the sheet's outline")
	p, s = at(30, 25)
	refused(t, "over the cut", p, s, "leaves the sheet's outline")
	p, s = at(95, 45)
	taken(t, "beside the defect", p, s)
	p, s = at(95.01, 45)
	refused(t, "nearer than the margin to the defect", p, s, "4.990000 mm from defect 1")
	p, s = at(102, 45)
	refused(t, "over the defect", p, s, "covers defect 1")
	p, s = at(5, 45)
	refused(t, "off the sheet", p, s, "leaves the sheet's outline")

	p, s = at(30, 5)
	off := func(r geom.Ring, holes ...geom.Ring) nest.Solution {
		s := s
		s.Offcut = &nest.Offcut{Shape: geom.Shape{Outer: r, Holes: holes}}
		return s
	}
	taken(t, "an offcut", p, off(box(84, 0, 116, 100), box(150, 60, 10, 10)))
	taken(t, "an offcut with a larger hole", p, off(box(84, 0, 116, 100), box(149, 59, 12, 12)))
	refused(t, "an offcut over the cut", p, off(box(50, 60, 150, 40), box(150, 60, 10, 10)), "offcut leaves")
	refused(t, "an offcut with the defect", p, off(box(84, 0, 116, 100)), "has defect 1 in it")
	refused(t, "an offcut with half the defect", p, off(box(84, 0, 116, 100), box(150, 60, 5, 10)), "has defect 1 in it")
	refused(t, "an offcut with some of the gap", p, off(box(83, 0, 117, 60)), "3.000000 mm from copy 1")
	refused(t, "an offcut with the piece", p, off(box(0, 0, 200, 40)), "has copy 1")
}

// Figures that are none are refused, wherever they stand.
func TestNoNumbers(t *testing.T) {
	p, s := laid(4, 5, geom.Pt(5, 5), geom.Pt(59, 5))
	taken(t, "numbers", p, s)
	q := p
	q.Margin = geom.MM(math.NaN())
	refused(t, "margin", q, s, "the problem asks for")
	q = p
	q.Kerf = geom.MM(math.Inf(1))
	refused(t, "kerf", q, s, "the problem asks for")
	q = p
	q.Sheets = []nest.Sheet{{ID: "s", Width: 200, Height: 100, Price: 7, Defects: []geom.Ring{{geom.Pt(math.NaN(), 0), geom.Pt(150, 50), geom.Pt(160, 60)}}}}
	refused(t, "defect", q, s, "the problem's sheet")
	q = p
	q.Items = []nest.Item{p.Items[0]}
	q.Items[0].Shape.Outer = append(box(0, 0, 50, 50), geom.Pt(0, math.NaN()))
	refused(t, "outline of an item", q, s, "no finite place")
}

// Whatever is written down as problem and solution, it is looked at to an end.
func TestAnythingIsLookedAt(t *testing.T) {
	words := []string{"", "x", "i0", "i1", "full", "rest", "strip", "any", "none"}
	read := 0
	for seed := range 30 {
		p := rapid.Custom(asked).Example(seed)
		s, err := lay.Solve(context.Background(), p, nil)
		if err != nil {
			t.Fatal(err)
		}
		read += gaugetest.Scrambled(t, both{P: p, S: s}, uint64(seed), words, func(b both) { _ = inspect.Layouts(b.P, b.S) })
	}
	if read < 500 {
		t.Errorf("only %d could be read", read)
	}
}

type both struct {
	P nest.Problem
	S nest.Solution
}

// asked draws problems with everything that a layout has to keep.
func asked(t *rapid.T) nest.Problem {
	num := func(lo, hi int, what string) float64 { return float64(rapid.IntRange(lo, hi).Draw(t, what)) }
	one := func(in int, what string) bool { return rapid.IntRange(1, in).Draw(t, what) == 1 }
	p := nest.Problem{Workers: 1, Seed: 1, Evaluations: rapid.SampledFrom([]int{0, 300}).Draw(t, "evaluations"),
		Gap: geom.MM(rapid.SampledFrom([]float64{0, 0.5, 4}).Draw(t, "gap")), Margin: geom.MM(rapid.SampledFrom([]float64{0, 5}).Draw(t, "margin")),
		Kerf: geom.MM(rapid.SampledFrom([]float64{0, 0.4}).Draw(t, "kerf"))}
	for i := range 3 + rapid.IntRange(0, 6).Draw(t, "items") {
		it := nest.Item{ID: fmt.Sprint("i", i), Demand: rapid.IntRange(1, 2).Draw(t, "demand"), MayFlip: one(2, "flip"), Owner: fmt.Sprint("C", i%2), Priority: i % 3,
			Turn: rapid.SampledFrom([]geom.Turn{geom.TurnAny, geom.TurnQuarter, geom.TurnHalf, geom.TurnNone}).Draw(t, "turn")}
		if one(5, "listed") {
			it.Turns = []float64{0, 30, 125.5}
		}
		w, h := num(80, 220, "w"), num(80, 220, "h")
		switch rapid.IntRange(0, 3).Draw(t, "shape") {
		case 0:
			it.Shape.Outer = box(7, -3, w, h)
		case 1: // with a hole, drawn clockwise
			it.Shape = geom.Shape{Outer: box(0, 0, w, h).Reversed(), Holes: []geom.Ring{box(10, 10, w-20, h-20)}}
		case 2:
			d := min(w, h) / 4
			it.Shape.Outer = geom.Ring{geom.Pt(0, 0), geom.Pt(w, 0), geom.Pt(w, h), geom.Pt(w-d, h), geom.Pt(w-d, d), geom.Pt(d, d), geom.Pt(d, h), geom.Pt(0, h)}
		default:
			n := rapid.IntRange(5, 30).Draw(t, "points")
			for k := range n {
				s, c := math.Sincos(2 * math.Pi * float64(k) / float64(n))
				r := num(20, 110, "r")
				it.Shape.Outer = append(it.Shape.Outer, geom.Pt(r*c, r*s*w/220))
			}
		}
		p.Items = append(p.Items, it)
	}
	if one(4, "strip") {
		p.Strip = 500
		return p
	}
	p.Partial = one(3, "partial")
	if p.Partial { // too little for most
		p.Sheets = []nest.Sheet{{ID: "full", Width: 250, Height: 250, Price: 1000, Count: 1}}
		return p
	}
	x, y := num(100, 400, "x"), num(60, 200, "y")
	p.Sheets = []nest.Sheet{{ID: "full", Width: 400, Height: 300, Price: 1000},
		{ID: "rest", Width: 600, Height: 400, Count: 1, Price: 100, Defects: []geom.Ring{box(x, y, 30, 20)},
			Outline: geom.Ring{geom.Pt(0, 40), geom.Pt(60, 0), geom.Pt(600, 0), geom.Pt(600, 300), geom.Pt(500, 300), geom.Pt(500, 400), geom.Pt(200, 400), geom.Pt(100, 250), geom.Pt(0, 400)}}}
	return p
}

// spoiler has a problem and a valid solution at hand, copies that it may spoil.
type spoiler struct {
	p   nest.Problem
	s   nest.Solution
	rng *rand.Rand
}

// one is a placed piece that fits, with its item and layout.
func (k *spoiler) one(fits func(*nest.Item, *nest.Placed) bool) (*nest.Item, *nest.Placed, *nest.Layout) {
	type hit struct{ l, q int }
	var hits []hit
	for i := range k.s.Layouts {
		for j := range k.s.Layouts[i].Placed {
			if q := &k.s.Layouts[i].Placed[j]; fits(k.item(q.Item), q) {
				hits = append(hits, hit{l: i, q: j})
			}
		}
	}
	if len(hits) == 0 {
		return nil, nil, nil
	}
	h := hits[k.rng.IntN(len(hits))]
	q := &k.s.Layouts[h.l].Placed[h.q]
	return k.item(q.Item), q, &k.s.Layouts[h.l]
}

func (k *spoiler) item(id string) *nest.Item {
	return &k.p.Items[slices.IndexFunc(k.p.Items, func(it nest.Item) bool { return it.ID == id })]
}

func (k *spoiler) sheet(id string) *nest.Sheet {
	if i := slices.IndexFunc(k.p.Sheets, func(s nest.Sheet) bool { return s.ID == id }); i >= 0 {
		return &k.p.Sheets[i]
	}
	return nil
}

func always(*nest.Item, *nest.Placed) bool { return true }

// inner is a point of a placed piece, a millimetre deep at least.
func (k *spoiler) inner(it *nest.Item, q *nest.Placed) (geom.Point, bool) {
	s := q.At.Shape(it.Shape)
	b := s.Bounds()
	for range 400 {
		p := geom.Pt(b.Min.X+k.rng.Float64()*float64(b.Width()), b.Min.Y+k.rng.Float64()*float64(b.Height()))
		deep := s.Contains(p)
		for _, r := range append([]geom.Ring{s.Outer}, s.Holes...) {
			deep = deep && r.DistanceTo(p) > 1
		}
		if deep {
			return p, true
		}
	}
	return geom.Point{}, false
}

// nearest is the least distance of any two pieces on one layout.
func (k *spoiler) nearest() float64 {
	d := math.Inf(1)
	for _, l := range k.s.Layouts {
		for i := range l.Placed {
			for j := range i {
				a, b := l.Placed[i], l.Placed[j]
				for _, r := range rings(a.At.Shape(k.item(a.Item).Shape)) {
					for _, s := range rings(b.At.Shape(k.item(b.Item).Shape)) {
						d = min(d, between(r, s))
					}
				}
			}
		}
	}
	return d
}

func rings(s geom.Shape) []geom.Ring { return append([]geom.Ring{s.Outer}, s.Holes...) }

func between(r, s geom.Ring) float64 {
	d := math.Inf(1)
	for i := range r {
		for j := range s {
			d = min(d, float64(geom.SegmentDistance(r[i], r[(i+1)%len(r)], s[j], s[(j+1)%len(s)])))
		}
	}
	return d
}

var spoilings = []struct {
	name  string
	words string // alternatives, parted by |
	spoil func(*spoiler) bool
}{
	{"a piece gone", "on no sheet", func(k *spoiler) bool {
		_, q, l := k.one(always)
		l.Placed = slices.DeleteFunc(l.Placed, func(x nest.Placed) bool { return x == *q })
		return true
	}},
	{"one asked for more", "on no sheet", func(k *spoiler) bool { k.p.Items[0].Demand++; return true }},
	{"a piece twice", "second time", func(k *spoiler) bool {
		it, q, _ := k.one(func(it *nest.Item, q *nest.Placed) bool { return it.Demand == 2 && q.Copy == 1 })
		if it == nil {
			return false
		}
		_, r, _ := k.one(func(o *nest.Item, r *nest.Placed) bool { return o == it && r.Copy == 2 })
		if r == nil {
			return false
		}
		q.Copy = 2
		return true
	}},
	{"a copy too many", "are asked for", func(k *spoiler) bool { it, q, _ := k.one(always); q.Copy = it.Demand + 1; return true }},
	{"a stranger", "nobody asked for", func(k *spoiler) bool { _, q, _ := k.one(always); q.Item = "x"; return true }},
	{"someone else's", "it is", func(k *spoiler) bool { _, q, _ := k.one(always); q.Owner += "x"; return true }},
	{"said to be missing", "said to be missing", func(k *spoiler) bool {
		it, _, _ := k.one(func(it *nest.Item, q *nest.Placed) bool {
			return !slices.ContainsFunc(k.s.Missing, func(m nest.Missing) bool { return m.Item == it.ID })
		})
		if it == nil {
			return false
		}
		k.s.Missing = append(k.s.Missing, nest.Missing{Item: it.ID, Copies: 1})
		return true
	}},
	{"not said to be missing", "said to be missing", func(k *spoiler) bool {
		if len(k.s.Missing) == 0 {
			return false
		}
		k.s.Missing = k.s.Missing[1:]
		return true
	}},
	{"missing twice", "give each item once", func(k *spoiler) bool {
		if len(k.s.Missing) == 0 {
			return false
		}
		k.s.Missing = append(k.s.Missing, k.s.Missing[0])
		return true
	}},
	{"missing where all must be", "were to be placed", func(k *spoiler) bool { k.p.Partial = false; return len(k.s.Missing) > 0 }},

	{"a sheet that is not there", "not in stock", func(k *spoiler) bool { k.s.Layouts[0].Sheet = "x"; return true }},
	{"another size", "mm", func(k *spoiler) bool { k.s.Layouts[0].Height++; return true }},
	{"one sheet too many", "in stock", func(k *spoiler) bool {
		l := k.s.Layouts[0]
		if k.p.Strip > 0 {
			return false
		}
		k.sheet(l.Sheet).Count = 1
		k.s.Layouts = append(k.s.Layouts, nest.Layout{Sheet: l.Sheet, Width: l.Width, Height: l.Height})
		return true
	}},
	{"two strips", "a strip has one layout", func(k *spoiler) bool {
		k.s.Layouts = append(k.s.Layouts, k.s.Layouts[0])
		return k.p.Strip > 0
	}},
	{"a strip too long", "its pieces end", func(k *spoiler) bool { k.s.Layouts[0].Width += 0.01; return k.p.Strip > 0 }},
	{"a strip too short", "leaves", func(k *spoiler) bool { k.s.Layouts[0].Width -= 0.01; return k.p.Strip > 0 }},
	{"another cost", "cost", func(k *spoiler) bool { k.s.Cost++; return true }},
	{"another share", "pieces cover", func(k *spoiler) bool { k.s.Layouts[0].Used += 1e-6; return true }},
	{"another density", "density", func(k *spoiler) bool { k.s.Density -= 1e-6; return true }},
	{"no density", "density", func(k *spoiler) bool { k.s.Density = math.NaN(); return true }},

	{"turned", "turned", func(k *spoiler) bool {
		_, q, _ := k.one(func(it *nest.Item, q *nest.Placed) bool { return it.Turn != geom.TurnAny || len(it.Turns) > 0 })
		if q == nil {
			return false
		}
		q.At.Turn += 1e-6
		return true
	}},
	{"a quarter turned", "turned", func(k *spoiler) bool {
		_, q, _ := k.one(func(it *nest.Item, q *nest.Placed) bool {
			return (it.Turn == geom.TurnHalf || it.Turn == geom.TurnNone) && len(it.Turns) == 0
		})
		if q == nil {
			return false
		}
		q.At.Turn += 90
		return true
	}},
	{"turned by no number", "turned", func(k *spoiler) bool { _, q, _ := k.one(always); q.At.Turn = math.NaN(); return true }},
	{"mirrored", "mirrored", func(k *spoiler) bool {
		_, q, _ := k.one(func(it *nest.Item, q *nest.Placed) bool { return !it.MayFlip })
		if q == nil {
			return false
		}
		q.At.Mirrored = true
		return true
	}},
	{"nowhere", "finite", func(k *spoiler) bool { _, q, _ := k.one(always); q.At.Move.X = math.Inf(1); return true }},

	{"one on another", "overlap|leaves|defect|margin", func(k *spoiler) bool {
		_, q, l := k.one(always)
		if len(l.Placed) < 2 {
			return false
		}
		r := &l.Placed[0]
		if q == r {
			r = &l.Placed[1]
		}
		a, b := k.item(q.Item), k.item(r.Item)
		p, ok := k.inner(b, r)
		o, also := k.inner(a, q)
		if !ok || !also {
			return false
		}
		q.At.Move = q.At.Move.Add(p.Sub(o))
		return true
	}},
	{"a wider gap", "apart", func(k *spoiler) bool {
		d := k.nearest()
		k.p.Gap = geom.MM(d+1e-3) - k.p.Kerf
		k.s.Offcut = nil
		return !math.IsInf(d, 1)
	}},
	{"a wider margin", "margin", func(k *spoiler) bool {
		d := math.Inf(1)
		for _, l := range k.s.Layouts {
			for _, q := range l.Placed {
				d = min(d, between(q.At.Ring(k.item(q.Item).Shape.Outer), box(0, 0, float64(l.Width), float64(l.Height))))
			}
		}
		k.p.Margin = geom.MM(d+1e-3) - k.p.Kerf/2
		return true
	}},
	{"a wider margin to outline and defects", "margin", func(k *spoiler) bool {
		d := math.Inf(1)
		for _, l := range k.s.Layouts {
			if s := k.sheet(l.Sheet); s != nil && len(s.Outline) > 0 {
				for _, q := range l.Placed {
					for _, r := range append([]geom.Ring{s.Outline}, s.Defects...) {
						d = min(d, between(q.At.Ring(k.item(q.Item).Shape.Outer), r))
					}
				}
			}
		}
		k.p.Margin = geom.MM(d+1e-3) - k.p.Kerf/2
		return !math.IsInf(d, 1)
	}},
	{"a slit from the edge", "the sheet's outline", func(k *spoiler) bool {
		it, q, l := k.one(always)
		p, ok := k.inner(it, q)
		s := k.sheet(l.Sheet)
		if !ok || s == nil || len(s.Outline) > 0 || p.X < 2 || p.X > float64(l.Width)-2 {
			return false
		}
		w, h := float64(l.Width), float64(l.Height)
		s.Outline = geom.Ring{{}, {X: w}, {X: w, Y: h}, {X: p.X + 0.5, Y: h}, p, {X: p.X - 0.5, Y: h}, {Y: h}}
		return true
	}},
	{"a hole torn in the foam", "covers defect|from defect", func(k *spoiler) bool {
		it, q, l := k.one(always)
		p, ok := k.inner(it, q)
		s := k.sheet(l.Sheet)
		if !ok || s == nil {
			return false
		}
		s.Defects = append(s.Defects, box(p.X, p.Y, 0.01, 0.01))
		return true
	}},

	{"an offcut of another layout", "of layout", func(k *spoiler) bool {
		if k.s.Offcut == nil {
			return false
		}
		k.s.Offcut.Layout = len(k.s.Layouts)
		return true
	}},
	{"an offcut beside the sheet", "offcut leaves", func(k *spoiler) bool { return k.offcut(geom.Pt(0.01, 0)) }},
	{"an offcut with pieces in it", "the offcut", func(k *spoiler) bool {
		if k.s.Offcut == nil {
			return false
		}
		l := k.s.Layouts[k.s.Offcut.Layout]
		k.s.Offcut.Shape = geom.Shape{Outer: box(0, 0, float64(l.Width), float64(l.Height))}
		return true
	}},
	{"an offcut too near to the pieces", "the offcut is|the offcut has|offcut leaves", func(k *spoiler) bool {
		if k.s.Offcut == nil { // its side towards the pieces moves by a hundredth
			return false
		}
		r := k.s.Offcut.Shape.Outer
		left := r.Bounds().Min.X
		for i := range r {
			if r[i].X == left {
				r[i].X -= 0.01
			}
		}
		return len(k.s.Layouts[k.s.Offcut.Layout].Placed) > 0 && k.reaches(left)
	}},
	{"an offcut with a hole torn in it", "defect", func(k *spoiler) bool {
		if k.s.Offcut == nil {
			return false
		}
		l := k.s.Layouts[k.s.Offcut.Layout]
		p, ok := k.inner(&nest.Item{Shape: k.s.Offcut.Shape}, &nest.Placed{})
		if !ok {
			return false
		}
		k.sheet(l.Sheet).Defects = append(k.sheet(l.Sheet).Defects, box(p.X, p.Y, 0.01, 0.01))
		k.p.Margin, k.p.Kerf = 0, 0
		return true
	}},
}

// offcut moves the offcut.
func (k *spoiler) offcut(by geom.Point) bool {
	if k.s.Offcut == nil {
		return false
	}
	k.s.Offcut.Shape = geom.Placement{Move: by}.Shape(k.s.Offcut.Shape)
	return true
}

// reaches reports whether the piece that lies farthest right does so beside the offcut, whose left side is at x.
func (k *spoiler) reaches(x float64) bool {
	o := k.s.Offcut
	for _, q := range k.s.Layouts[o.Layout].Placed {
		if between(q.At.Ring(k.item(q.Item).Shape.Outer), o.Shape.Outer) < float64(k.p.Gap)+float64(k.p.Kerf)-5e-3 {
			return true
		}
	}
	return false
}

// Every way to spoil a layout is refused, for its own reason, in solutions of many problems.
func TestSpoiledLayoutsAreRefused(t *testing.T) {
	const problems, least = 120, 3
	var ways []gaugetest.Spoiling[both]
	for _, c := range spoilings {
		ways = append(ways, gaugetest.Spoiling[both]{Name: c.name, Words: c.words, Spoil: func(rng *rand.Rand, b *both) bool {
			k := &spoiler{p: b.P, s: b.S, rng: rng}
			done := c.spoil(k)
			b.P, b.S = k.p, k.s
			return done
		}})
	}
	times := map[string]int{}
	drawn := rapid.Custom(asked)
	for seed := range problems {
		p := drawn.Example(seed)
		s, err := lay.Solve(context.Background(), p, nil)
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		if len(s.Layouts[0].Placed) == 0 {
			continue
		}
		gaugetest.Spoiled(t, both{P: p, S: s}, uint64(seed), ways, func(b both) error { return inspect.Layouts(b.P, b.S) }, times)
	}
	gaugetest.Often(t, ways, times, least)
}

// BenchmarkLayouts looks at 60 pieces of 60 points, with and without a gap between them.
func BenchmarkLayouts(b *testing.B) {
	for _, gap := range []geom.MM{0, 3} {
		rng := rand.New(rand.NewPCG(7, 7))
		p := nest.Problem{Sheets: []nest.Sheet{{ID: "large", Width: 2000, Height: 1000, Price: 1}}, Gap: gap, Evaluations: 50_000, Seed: 1}
		for i := range 60 {
			it := nest.Item{ID: fmt.Sprint(i), Demand: 1, Turn: geom.TurnAny, MayFlip: i%2 == 0}
			size, depth, waves := 60+140*rng.Float64(), 0.35*rng.Float64(), float64(2+rng.IntN(4))
			for k := range 60 {
				at := 2 * math.Pi * float64(k) / 60
				r := size * (1 + depth*math.Sin(waves*at))
				it.Shape.Outer = append(it.Shape.Outer, geom.Pt(r*math.Cos(at), 0.6*r*math.Sin(at)))
			}
			p.Items = append(p.Items, it)
		}
		s, err := lay.Solve(context.Background(), p, nil)
		if err != nil {
			b.Fatal(err)
		}
		b.Run(fmt.Sprint("gap ", gap), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if err := inspect.Layouts(p, s); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
