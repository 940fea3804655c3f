package pattern

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"benchbell/quote/foam"
	"benchbell/quote/geom"
)

// sides is two panels that meet along one edge, whose lengths follow one measurement by different shares.
func sides(t testing.TB, frameB, trued string) *Set {
	toml := `BASE
[[piece]]
id = "a"
title = "A"
thickness = 5
edges = { right = ["ar", "at"], foot = ["al", "ar"] }
length = { measure = "front-waist-length" }
[[piece]]
id = "b"
title = "B"
thickness = 5
edges = { left = ["bt", "bl"] }
` + frameB + `
[[seam]]
name = "side"
a = "a.right"
b = "b.left"
` + trued
	return parse(t, sheet(`<g id="a"><path class="outline" d="M100 400L300 400C310 300 310 200 300 100L100 100Z"/>
<circle class="point" data-name="al" cx="100" cy="400" r="1"/>
<circle class="point" data-name="ar" cx="300" cy="400" r="1"/><circle class="point" data-name="at" cx="300" cy="100" r="1"/>
<line class="notch" x1="307.5" y1="250" x2="299" y2="250"/><line class="score" x1="120" y1="250" x2="306" y2="200"/>
<circle class="drill" cx="295" cy="380" r="2"/></g>`, `<g id="b"><path class="outline" d="M500 400L700 400L700 100L500 100C510 200 510 300 500 400Z"/>
<circle class="point" data-name="bl" cx="500" cy="400" r="1"/><circle class="point" data-name="bt" cx="500" cy="100" r="1"/>
<line class="notch" x1="507.5" y1="250" x2="515" y2="250"/></g>`), specSheet("front-waist-length = 400", toml))
}

const followsLess = `length = { measure = "front-waist-length", follow = 0.75 }`

// The two edges of a trued seam both get their mean length; what lies on them follows; both original lengths are reported.
func TestSeamIsTrued(t *testing.T) {
	s := sides(t, followsLess, "trued = true")
	rapid.Check(t, func(rt *rapid.T) {
		f := s.BaseFit(foam.NoSide)
		f.Body["front-waist-length"] = geom.MM(rapid.Float64Range(350, 465).Draw(rt, "length"))
		g, err := s.Grade(f)
		if err != nil {
			rt.Fatal(err)
		}
		sm := g.Seams[0]
		if sm.Notches != 1 {
			rt.Fatalf("%d pairs of notches compared, want 1", sm.Notches)
		}
		if sm.Trued == 0 {
			if d := apart(sm.LengthA, sm.LengthB); d > SeamTolerance {
				rt.Fatalf("the seam was left %v apart", d)
			}
			return
		}
		mean := (sm.BeforeA + sm.BeforeB) / 2
		if apart(sm.LengthA, mean) > 0.1 || apart(sm.LengthB, mean) > 0.1 || apart(sm.Trued, apart(sm.BeforeA, sm.BeforeB)) > 1e-9 {
			rt.Fatalf("%+v: want both edges %v", sm, mean)
		}
		if len(g.Notes) != 1 || !contains(g.Notes[0], `seam "side"`, sm.BeforeA.String(), sm.BeforeB.String()) {
			rt.Fatalf("notes %q", g.Notes)
		}
		a, b := g.Pieces[0], g.Pieces[1]
		if d := a.Shape.Outer.DistanceTo(a.Marks[0].Path[0]); d > 0.1 {
			rt.Fatalf("the notch of a lies %v off its edge", d)
		}
		if d := b.Shape.Outer.DistanceTo(b.Marks[0].Path[0]); d > 0.1 {
			rt.Fatalf("the notch of b lies %v off its edge", d)
		}
		if !a.Shape.Outer.Contains(a.Scores[0][len(a.Scores[0])-1]) {
			rt.Fatal("the score line leaves the piece")
		}
	})
}

// Next to a fixed piece only the other edge changes.
func TestSeamIsTruedToAFixedPiece(t *testing.T) {
	s := sides(t, `frame = "fixed"`, "trued = true")
	f := s.BaseFit(foam.NoSide)
	f.Body["front-waist-length"] = 412
	g, err := s.Grade(f)
	if err != nil {
		t.Fatal(err)
	}
	if sm := g.Seams[0]; sm.LengthB != sm.BeforeB || apart(sm.LengthA, sm.LengthB) > 0.1 || sm.Trued < 5 {
		t.Fatalf("%+v", sm)
	}
	same(t, "fixed piece", g.Pieces[1].Shape.Outer, s.parts[1].outline)
}

func TestSeamsThatCannotBeTrued(t *testing.T) {
	for _, c := range []struct {
		trued  string
		length geom.MM
		want   []string
	}{
		{"", 430, []string{`seam "side"`, "a.right", "b.left", "must match within 2 mm"}},
		{"trued = true", 500, []string{`seam "side"`, "a.right", "b.left", "truing can share at most"}},
	} {
		s := sides(t, followsLess, c.trued)
		f := s.BaseFit(foam.NoSide)
		f.Body["front-waist-length"] = c.length
		if _, err := s.Grade(f); err == nil || !contains(err.Error(), c.want...) {
			t.Errorf("%q at %v: got %v, want %q", c.trued, c.length, err, c.want)
		}
	}
}

// Notches that do not meet as drawn are refused, and so are notches without a mate.
func TestNotchesMustMeet(t *testing.T) {
	s := sides(t, followsLess, "")
	s.parts[1].marks[0].Path = geom.Path{s.parts[1].marks[0].Path[0].Add(geom.Pt(0, 3)), s.parts[1].marks[0].Path[1]}
	if _, err := s.Grade(s.BaseFit(foam.NoSide)); err == nil || !contains(err.Error(), `seam "side"`, "notch 1", "must meet") {
		t.Errorf("got %v, want the notch named", err)
	}
	s = sides(t, followsLess, "")
	p := s.parts[0]
	q, _ := s.parts[0].start(func(q geom.Point) geom.Point { return q }).edge("right").At(40)
	p.marks = append(p.marks, foam.Mark{Kind: foam.Notch, Path: geom.Path{q, q.Add(geom.Pt(-5, 0))}})
	r := s.seams[0]
	if err := r.findNotches(); err == nil || !contains(err.Error(), "2 notches", "has 1") {
		t.Errorf("got %v, want both counts", err)
	}
}

// Truing moves points smoothly: no vertex of either outline moves more than the shared difference.
func TestTruingMovesLittle(t *testing.T) {
	s := sides(t, followsLess, "trued = true")
	f := s.BaseFit(foam.NoSide)
	f.Body["front-waist-length"] = 450
	workpieces := make([]*workpiece, len(s.parts))
	var before []geom.Ring
	for i, p := range s.parts {
		m, err := p.grading(s, f)
		if err != nil {
			t.Fatal(err)
		}
		workpieces[i] = p.start(m)
		before = append(before, append(geom.Ring(nil), workpieces[i].outer...))
	}
	tr, err := s.trueUp(workpieces)
	if err != nil {
		t.Fatal(err)
	}
	b := tr.before[0]
	most := 0.0
	for i, w := range workpieces {
		for j, q := range w.outer {
			most = math.Max(most, q.Dist(before[i][j]))
		}
		if err := checkRing(w.outer); err != nil {
			t.Error(err)
		}
	}
	if limit := float64(apart(b[0], b[1])); most > limit || most < limit/8 {
		t.Fatalf("a point moved %.2f mm to share %.2f mm", most, limit)
	}
}
