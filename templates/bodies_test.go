package templates_test

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"benchbell/quote/geom"
	"benchbell/quote/pattern"
	"benchbell/templates"
)

// adult is the range of bodies every set must grade to, small adult to large adult in mm (common practice, no source).
var adult = map[string][2]float64{
	"wrist-girth":           {140, 195},
	"forearm-girth":         {215, 340},
	"elbow-wrist-length":    {215, 300},
	"upper-arm-girth":       {240, 430},
	"shoulder-elbow-length": {300, 410},
	"biacromial-breadth":    {340, 440},
	"chest-girth":           {780, 1250},
	"front-waist-length":    {340, 480},
	"neck-girth":            {310, 460},
}

// waistOfChest: waist girth as a share of chest girth (common practice, no source); the two do not vary freely.
var waistOfChest = [2]float64{0.68, 1.05}

func body(t *rapid.T, s *pattern.Set) map[string]geom.MM {
	out := map[string]geom.MM{}
	for _, k := range s.Measures {
		if k == "waist-girth" {
			continue
		}
		r, ok := adult[k]
		if !ok {
			t.Fatalf("%s asks for %s, for which this test has no range", s.Name, k)
		}
		out[k] = geom.MM(rapid.Float64Range(r[0], r[1]).Draw(t, k))
	}
	if _, ok := s.Base["waist-girth"]; ok {
		out["waist-girth"] = out["chest-girth"] * geom.MM(rapid.Float64Range(waistOfChest[0], waistOfChest[1]).Draw(t, "waist"))
	}
	return out
}

func check(t interface {
	Fatalf(string, ...any)
}, s *pattern.Set, f pattern.Fit) {
	g, err := s.Grade(f)
	if err != nil {
		t.Fatalf("%s: %v", s.Name, err)
	}
	base, err := s.Grade(func() pattern.Fit { b := s.BaseFit(f.Side); return b }())
	if err != nil {
		t.Fatalf("%s: %v", s.Name, err)
	}
	if len(base.Pieces) != len(g.Pieces) {
		t.Fatalf("%s: %d pieces became %d", s.Name, len(base.Pieces), len(g.Pieces))
	}
	for i, p := range g.Pieces {
		where := s.Name + " " + p.ID
		if _, _, at, ok := p.Shape.Outer.SelfCrossing(); !ok {
			t.Fatalf("%s crosses itself at %v", where, at)
		}
		if p.Shape.Outer.SignedArea() <= 0 {
			t.Fatalf("%s runs clockwise", where)
		}
		for j, d := range p.Drills {
			if !p.Shape.Outer.Contains(d.At) || p.Shape.Outer.DistanceTo(d.At) < d.Diameter/2 {
				t.Fatalf("%s: the drill at %v leaves the piece", where, d.At)
			}
			if d.Diameter != base.Pieces[i].Drills[j].Diameter {
				t.Fatalf("%s: a drill changed its size", where)
			}
		}
		for j, m := range p.Marks {
			if m.Kind != pattern.Seat {
				continue
			}
			if a, b := m.Path.Length(), base.Pieces[i].Marks[j].Path.Length(); math.Abs(float64(a-b)) > 1e-6 {
				t.Fatalf("%s: seat %q changed from %v to %v", where, m.Label, b, a)
			}
			for _, q := range m.Path {
				if !p.Shape.Outer.Contains(q) {
					t.Fatalf("%s: seat %q leaves the piece at %v", where, m.Label, q)
				}
			}
		}
		for _, sc := range p.Scores {
			for _, q := range sc {
				if !p.Shape.Outer.Contains(q) {
					t.Fatalf("%s: a score line leaves the piece at %v", where, q)
				}
			}
		}
	}
	for _, sm := range g.Seams {
		if d := math.Abs(float64(sm.LengthA - sm.LengthB)); d > float64(pattern.SeamTolerance) {
			t.Fatalf("%s: seam %s differs by %.2f mm", s.Name, sm.Name, d)
		}
	}
}

func TestEveryAdultBodyGrades(t *testing.T) {
	for _, name := range templates.Sets() {
		s := load(t, name)
		t.Run(name, func(t *testing.T) {
			rapid.Check(t, func(rt *rapid.T) {
				check(rt, s, pattern.Fit{
					Body: body(rt, s), Side: rapid.SampledFrom(sides(s)).Draw(rt, "side"),
					FoamK: rapid.Float64Range(0.3, 0.6).Draw(rt, "k"), Clothing: geom.MM(rapid.Float64Range(0, 6).Draw(rt, "clothing")),
				})
			})
		})
	}
}

// The corners of the range, where a chance draw seldom lands.
func TestExtremeBodiesGrade(t *testing.T) {
	for _, name := range templates.Sets() {
		s := load(t, name)
		n := len(s.Measures)
		for bits := range 1 << n {
			b := map[string]geom.MM{}
			waist := 0
			for i, k := range s.Measures {
				if k == "waist-girth" {
					waist = bits >> i & 1
					continue
				}
				b[k] = geom.MM(adult[k][bits>>i&1])
			}
			if _, ok := s.Base["waist-girth"]; ok {
				b["waist-girth"] = b["chest-girth"] * geom.MM(waistOfChest[waist])
			}
			check(t, s, pattern.Fit{Body: b, Side: sides(s)[0], FoamK: s.DrawnK})
		}
	}
}

// Left and right are mirror images: equal areas, every Mirrored flag turned over.
func TestLeftMirrorsRight(t *testing.T) {
	for _, name := range templates.Sets() {
		s := load(t, name)
		if !s.Sided {
			continue
		}
		r, err := s.Grade(s.BaseFit(pattern.Right))
		if err != nil {
			t.Fatal(err)
		}
		l, err := s.Grade(s.BaseFit(pattern.Left))
		if err != nil {
			t.Fatal(err)
		}
		for i := range r.Pieces {
			a, b := r.Pieces[i], l.Pieces[i]
			if a.Mirrored == b.Mirrored || math.Abs(float64(a.Shape.Area()-b.Shape.Area())) > 1e-6 {
				t.Errorf("%s %s copy %d: mirrored %t and %t, areas %v and %v", name, a.ID, a.Copy, a.Mirrored, b.Mirrored, a.Shape.Area(), b.Shape.Area())
			}
		}
	}
}

// Straps that can reach a neck, and small parts, are warned of: every set says something for children.
func TestEverySetHasACautionForChildren(t *testing.T) {
	for _, name := range templates.Sets() {
		s := load(t, name)
		if !strings.Contains(strings.Join(s.Cautions, " "), "child") {
			t.Errorf("%s has no caution for children", name)
		}
	}
}

// The studio's price book knows these kinds; a set that asks for another could not be priced.
func TestHardwareIsKnown(t *testing.T) {
	known := map[string]bool{ // true: bought by length
		"side-release-buckle-25": false, "webbing-25": true, "hook-and-loop-25": true, "snap-15": false,
		"rivet-9": false, "magnet-10x3": false, "elastic-25": true, "d-ring-25": false,
	}
	for _, name := range templates.Sets() {
		s := load(t, name)
		g, err := s.Grade(s.BaseFit(sides(s)[0]))
		if err != nil {
			t.Fatal(err)
		}
		for _, h := range g.Hardware {
			byLength, ok := known[h.Kind]
			if !ok || byLength != (h.Length > 0) || byLength == (h.Count > 0) {
				t.Errorf("%s: %+v is unknown or counted the wrong way", name, h)
			}
		}
	}
}
