package templates_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"benchbell/quote/foam"
	"benchbell/quote/geom"
	"benchbell/quote/pattern"
	"benchbell/templates"
)

// follower is a girth that does not vary independently of another: its share of it, from the women's first percentile to
// the men's last, or the other way around (ANSUR II, public files, own computation; rounded outwards).
type follower struct {
	of        string
	low, high float64
}

var followers = map[string]follower{
	"waist-girth": {of: "chest-girth", low: 0.76, high: 1.05},
	"hip-girth":   {of: "chest-girth", low: 0.86, high: 1.23},
}

func body(t *rapid.T, s *pattern.Set) map[string]geom.MM {
	out := map[string]geom.MM{}
	for _, k := range s.Measures {
		low, high, ok := adult(k)
		if !ok {
			t.Fatalf("%s asks for %s, for which this test has no range", s.Name, k)
		}
		if f, ok := followers[k]; ok && s.Base[f.of] > 0 {
			c := float64(out[f.of])
			low, high = within(f.low*c, low, high), within(f.high*c, low, high)
		}
		out[k] = geom.MM(rapid.Float64Range(low, high).Draw(t, k))
	}
	return out
}

// bases are the sets graded to their own base, for comparison.
var bases = map[string]foam.Graded{}

func baseOf(s *pattern.Set, side foam.Side) (foam.Graded, error) {
	key := s.Name + string(side)
	if g, ok := bases[key]; ok {
		return g, nil
	}
	g, err := s.Grade(s.BaseFit(side))
	bases[key] = g
	return g, err
}

func check(t interface {
	Fatalf(string, ...any)
}, s *pattern.Set, f pattern.Fit) foam.Graded {
	g, err := s.Grade(f)
	if err != nil {
		t.Fatalf("%s: %v", s.Name, err)
	}
	base, err := baseOf(s, f.Side)
	if err != nil {
		t.Fatalf("%s: %v", s.Name, err)
	}
	if len(base.Pieces) != len(g.Pieces) {
		t.Fatalf("%s: %d pieces became %d", s.Name, len(base.Pieces), len(g.Pieces))
	}
	for i, p := range g.Pieces {
		if p.Copy > 1 {
			continue // the same shape or its mirror image
		}
		where := s.Name + " " + p.ID
		if _, _, at, ok := p.Shape.Outer.SelfCrossing(); !ok {
			t.Fatalf("%s crosses itself at %v", where, at)
		}
		if p.Shape.Outer.SignedArea() <= 0 {
			t.Fatalf("%s runs clockwise", where)
		}
		for _, d := range p.Drills {
			if !p.Shape.Outer.Contains(d.At) || p.Shape.Outer.DistanceTo(d.At) < d.Diameter/2 {
				t.Fatalf("%s: the drill at %v leaves the piece", where, d.At)
			}
			if !slices.ContainsFunc(tools, func(o foam.Tool) bool { return math.Abs(float64(o.Diameter-d.Diameter)) < 1e-9 }) {
				t.Fatalf("%s: the drill at %v is %v wide, which is no tool", where, d.At, d.Diameter)
			}
		}
		for j, m := range p.Marks {
			if m.Kind != foam.Seat {
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
	return g
}

// tools is a plain metric row of punches and drills.
var tools = []foam.Tool{{Name: "3 mm", Diameter: 3}, {Name: "4 mm", Diameter: 4}, {Name: "5 mm", Diameter: 5}, {Name: "6 mm", Diameter: 6}, {Name: "8 mm", Diameter: 8}, {Name: "10 mm", Diameter: 10}}

func TestEveryAdultBodyGrades(t *testing.T) {
	for _, name := range templates.Sets() {
		s := load(t, name)
		if len(s.Measures) == 0 {
			continue // one size
		}
		t.Run(name, func(t *testing.T) {
			rapid.Check(t, func(rt *rapid.T) {
				check(rt, s, pattern.Fit{
					Body: body(rt, s), Side: rapid.SampledFrom(sides(s)).Draw(rt, "side"), Tools: tools,
					FoamK: rapid.Float64Range(0.3, 0.6).Draw(rt, "k"), Clothing: geom.MM(rapid.Float64Range(0, 6).Draw(rt, "clothing")),
				})
			})
		})
	}
}

// Whole people: every percentile of women and men, tall and thin, short and wide, and a crowd as the survey has it, each
// left and right, bare and over clothing, with a neutral line from 0.3 to 0.5.
func TestPeopleOfTheSurveyGrade(t *testing.T) {
	all := percentiles()
	n := len(all)
	all = append(all, crowd(25, 1)...)
	for _, name := range templates.Sets() {
		s := load(t, name)
		all := all
		if len(s.Measures) == 0 {
			all = all[:1] // one size
		}
		t.Run(name, func(t *testing.T) {
			for i, p := range all {
				// Each percentile gets four of the twelve ways, all different; each member of the crowd gets one.
				for j := range 12 {
					if j%3 != i%3 || i >= n && j != i%12 {
						continue
					}
					f := pattern.Fit{Body: p.body, Side: sides(s)[j%len(sides(s))], FoamK: []float64{0.3, 0.4, 0.5}[j/4], Clothing: []geom.MM{0, 3}[j/2%2], Tools: tools}
					for _, n := range check(named{T: t, name: p.name}, s, f).Notes {
						if strings.Contains(n, "dart") && strings.Contains(n, "outside") {
							t.Errorf("%s: %s: %s", p.name, s.Name, n)
						}
					}
				}
			}
		})
	}
}

// named puts the person in front of the message.
type named struct {
	*testing.T
	name string
}

func (n named) Fatalf(format string, a ...any) {
	n.Helper()
	n.T.Fatalf("%s: %s", n.name, fmt.Sprintf(format, a...))
}

// The corners of the range, where random draws seldom land.
func TestExtremeBodiesGrade(t *testing.T) {
	for _, name := range templates.Sets() {
		s := load(t, name)
		for bits := range 1 << len(s.Measures) {
			b := map[string]geom.MM{}
			for i, k := range s.Measures {
				low, high, _ := adult(k)
				if f, ok := followers[k]; ok && s.Base[f.of] > 0 {
					c := float64(b[f.of])
					low, high = within(f.low*c, low, high), within(f.high*c, low, high)
				}
				b[k] = geom.MM([2]float64{low, high}[bits>>i&1])
			}
			check(t, s, pattern.Fit{Body: b, Side: sides(s)[0], FoamK: s.DrawnK, Tools: tools})
		}
	}
}

// The helmet's six gores close around every head: at the rim they are together as long as the head with its ease, over the
// pads, along the middle of the foam. The figures are those of the set's spec sheet.
func TestGoresCloseRoundTheHead(t *testing.T) {
	const ease, pads, foam, tolerance = 1.09, 5, 5, 0.5
	s := load(t, "gored-helmet")
	for _, p := range append(percentiles(), crowd(25, 2)...) {
		f := pattern.Fit{Body: p.body, FoamK: 0.4, Clothing: 3}
		g := check(named{T: t, name: p.name}, s, f)
		var got float64
		for _, pc := range g.Pieces {
			if pc.ID == "gore" {
				got += float64(pc.Shape.Bounds().Width()) // widest at the rim, where the dome is upright
			}
		}
		want := ease*float64(p.body["head-girth"]) + 2*math.Pi*(float64(f.Clothing)+pads+f.FoamK*foam)
		if math.Abs(got-want) > tolerance {
			t.Errorf("%s: the gores come to %.1f mm, the head with its ease asks %.1f mm", p.name, got, want)
		}
	}
}

// Left and right are mirror images: equal areas, every Mirrored flag inverted.
func TestLeftMirrorsRight(t *testing.T) {
	for _, name := range templates.Sets() {
		s := load(t, name)
		if !s.Sided {
			continue
		}
		r, err := s.Grade(s.BaseFit(foam.Right))
		if err != nil {
			t.Fatal(err)
		}
		l, err := s.Grade(s.BaseFit(foam.Left))
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

// Straps that can reach a neck, and small parts, need a warning: every set has a caution for children.
func TestEverySetHasACautionForChildren(t *testing.T) {
	for _, name := range templates.Sets() {
		s := load(t, name)
		if !strings.Contains(strings.Join(s.Cautions, " "), "child") {
			t.Errorf("%s has no caution for children", name)
		}
	}
}

// The studio's price book has these kinds; a set that uses any other could not be priced.
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
