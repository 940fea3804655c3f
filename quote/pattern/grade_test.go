package pattern

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"testing"

	"pgregory.net/rapid"

	"benchbell/quote/foam"
	"benchbell/quote/gaugetest"
	"benchbell/quote/geom"
)

func small(t testing.TB) *Set {
	t.Helper()
	s, err := Parse(read(t, "small.svg"), read(t, "small.toml"))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func read(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// drawFit is any body of common practice's range for these keys, any foam factor, any clothing.
func drawFit(t *rapid.T) Fit {
	mm := func(name string, lo, hi float64) geom.MM { return geom.MM(rapid.Float64Range(lo, hi).Draw(t, name)) }
	return Fit{
		Body: map[string]geom.MM{
			"wrist-girth":        mm("wrist", 140, 195),
			"forearm-girth":      mm("forearm", 215, 340),
			"elbow-wrist-length": mm("length", 215, 300),
		},
		Side:     rapid.SampledFrom([]foam.Side{foam.Left, foam.Right}).Draw(t, "side"),
		FoamK:    rapid.Float64Range(0, 1).Draw(t, "k"),
		Clothing: mm("clothing", 0, 8),
	}
}

// graded is one piece graded by itself, without its seams.
func graded(t interface{ Fatal(...any) }, s *Set, p *part, f Fit) *workpiece {
	m, err := p.grading(s, f)
	if err != nil {
		t.Fatal(err)
	}
	w := p.start(m)
	if _, err := w.finish(f); err != nil {
		t.Fatal(err)
	}
	return w
}

// identityTolerance: a grade that changes nothing may still round; a millionth of a millimetre is allowed.
const identityTolerance = 1e-6

func TestBaseChangesNothing(t *testing.T) {
	s := small(t)
	g, err := s.Grade(s.BaseFit(foam.Right))
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range s.parts {
		var c foam.Piece
		for _, q := range g.Pieces {
			if q.ID == p.doc.ID && !q.Mirrored {
				c = q
			}
		}
		same(t, p.doc.ID+" outline", c.Shape.Outer, p.outline)
		for i, h := range append(append([]geom.Ring{}, p.holes...), p.slots...) {
			same(t, p.doc.ID+" hole", c.Shape.Holes[i], h)
		}
		for i, d := range p.drills {
			same(t, p.doc.ID+" drill", []geom.Point{c.Drills[i].At}, []geom.Point{d.At})
		}
		for i, m := range p.marks {
			same(t, p.doc.ID+" mark", c.Marks[i].Path, m.Path)
		}
		for i, sc := range p.scores {
			same(t, p.doc.ID+" score", c.Scores[i], sc)
		}
	}
}

func same(t *testing.T, what string, got, want []geom.Point) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%s has %d points, drawn were %d", what, len(got), len(want))
	}
	for i := range got {
		if got[i].Dist(want[i]) > identityTolerance {
			t.Fatalf("%s moved from %v to %v", what, want[i], got[i])
		}
	}
}

func find(t testing.TB, g foam.Graded, id string, mirrored bool) foam.Piece {
	t.Helper()
	for _, p := range g.Pieces {
		if p.ID == id && p.Mirrored == mirrored {
			return p
		}
	}
	t.Fatalf("no piece %s mirrored %t", id, mirrored)
	return foam.Piece{}
}

// A closed cuff's inner girth, recovered from the length of its graded edge, is measurement + ease + 2π·clothing.
func TestClosedCuffGirth(t *testing.T) {
	s := small(t)
	rapid.Check(t, func(rt *rapid.T) {
		f := drawFit(rt)
		c := graded(rt, s, s.find("shell"), f)
		for _, e := range []struct {
			edge, key string
			ease      float64
		}{{"wrist", "wrist-girth", 16}, {"elbow", "forearm-girth", 14}} {
			inner := float64(c.length[e.edge]) - 2*math.Pi*f.FoamK*5
			want := float64(f.Body[e.key]) + e.ease + 2*math.Pi*float64(f.Clothing)
			if math.Abs(inner-want) > 0.5 {
				rt.Fatalf("inner girth at %s is %.2f mm, want %.2f", e.edge, inner, want)
			}
		}
		straight := float64(c.length["left"])
		if want := s.find("shell").base.slant * float64(f.Body["elbow-wrist-length"]) / 250; math.Abs(straight-want) > 0.01 {
			rt.Fatalf("slant %.3f, want %.3f", straight, want)
		}
	})
}

// A graded cuff is the exact development of its frustum: both ends lie on arcs of the closed form's radii about one apex,
// and its sides enclose the closed form's sector angle (elementary geometry of the developed cone).
func TestGradedCuffIsAnExactFrustum(t *testing.T) {
	s := small(t)
	p := s.find("shell")
	rapid.Check(t, func(rt *rapid.T) {
		f := drawFit(rt)
		w := graded(rt, s, p, f)
		g, G := p.sections[0].width(f, p), p.sections[1].width(f, p)
		slant := p.base.slant * float64(f.Body["elbow-wrist-length"]) / 250
		theta := (G - g) / slant
		if math.Abs(theta) < 0.02 {
			return // nearly a cylinder: the apex is too far away to measure from
		}
		r := g / theta
		apex := p.base.origin.Sub(geom.Pt(0, r))
		for edge, want := range map[string]float64{"wrist": math.Abs(r), "elbow": math.Abs(r + slant)} {
			for _, q := range w.edge(edge) {
				if d := q.Dist(apex); math.Abs(d-want) > 0.5 {
					rt.Fatalf("a point of the %s edge lies %.2f mm from the apex, want %.2f", edge, d, want)
				}
			}
		}
		left := w.edge("left")
		a, b := w.edge("right")[0].Sub(apex), left[len(left)-1].Sub(apex)
		got := math.Atan2(math.Abs(a.Cross(b)), a.Dot(b))
		if d := math.Abs(got-math.Abs(theta)) * (math.Abs(r) + slant); d > 0.5 {
			rt.Fatalf("the sector angle is off by %.3f mm at the big end", d)
		}
	})
}

func TestGradedInvariants(t *testing.T) {
	s := small(t)
	rapid.Check(t, func(rt *rapid.T) {
		f := drawFit(rt)
		g, err := s.Grade(f)
		if err != nil {
			rt.Fatal(err)
		}
		if len(g.Pieces) != 3 {
			rt.Fatalf("%d pieces", len(g.Pieces))
		}
		left, pair := 0, 0
		for _, p := range g.Pieces {
			if err := checkRing(p.Shape.Outer); err != nil {
				rt.Fatalf("%s: %v", p.ID, err)
			}
			if p.Mirrored {
				left++
			}
			if p.ID == "plate" {
				pair++
			}
			want := map[string]geom.MM{"shell": 4, "plate": 6}[p.ID]
			if d := p.Drills[0].Diameter; math.Abs(float64(d-want)) > 1e-9 {
				rt.Fatalf("%s: drill became %v", p.ID, d)
			}
			for _, m := range p.Marks {
				if m.Kind == foam.Seat {
					// Sides of a 20 × 30 seat with rounded corners keep their perimeter under a rigid motion.
					if l := m.Path.Length(); math.Abs(float64(l)-(2*(18+28)+2*math.Pi)) > 0.2 {
						rt.Fatalf("%s: seat's outline is %v long", p.ID, l)
					}
				}
			}
		}
		if want := map[foam.Side]int{foam.Right: 1, foam.Left: 2}[f.Side]; left != want || pair != 2 {
			rt.Fatalf("%d mirrored pieces and %d plates on side %s", left, pair, f.Side)
		}
		for _, sm := range g.Seams {
			tol := SeamTolerance
			if sm.Dart {
				tol = dartDrawn
			}
			if d := math.Abs(float64(sm.LengthA - sm.LengthB)); d > float64(tol) {
				rt.Fatalf("seam %s differs by %.3f mm", sm.Name, d)
			}
		}
	})
}

// A larger measurement, thicker clothing or a larger foam factor never makes a piece smaller.
func TestMonotone(t *testing.T) {
	s := small(t)
	rapid.Check(t, func(rt *rapid.T) {
		f := drawFit(rt)
		f.Side = foam.Right
		more := f
		more.Body = map[string]geom.MM{}
		for k, v := range f.Body {
			more.Body[k] = v
		}
		switch d := rapid.SampledFrom([]string{"wrist-girth", "forearm-girth", "elbow-wrist-length", "clothing", "k"}).Draw(rt, "driver"); d {
		case "clothing":
			more.Clothing += 2
		case "k":
			more.FoamK += (1 - f.FoamK) / 2
		default:
			more.Body[d] *= 1.05
		}
		a, err := s.Grade(f)
		if err != nil {
			rt.Fatal(err)
		}
		b, err := s.Grade(more)
		if err != nil {
			rt.Fatal(err)
		}
		for i := range a.Pieces {
			x, y := a.Pieces[i].Shape.Outer, b.Pieces[i].Shape.Outer
			if float64(y.Area()) < float64(x.Area())-1e-6 {
				rt.Fatalf("%s shrank from %.2f to %.2f mm²", a.Pieces[i].ID, x.Area(), y.Area())
			}
		}
	})
}

func TestLeftIsTheMirrorOfRight(t *testing.T) {
	s := small(t)
	f := s.BaseFit(foam.Right)
	f.Body["forearm-girth"] = 300
	r, err := s.Grade(f)
	if err != nil {
		t.Fatal(err)
	}
	f.Side = foam.Left
	l, err := s.Grade(f)
	if err != nil {
		t.Fatal(err)
	}
	a, b := find(t, r, "shell", false), find(t, l, "shell", true)
	x := a.Shape.Bounds().Centre().X
	back := geom.Placement{Mirrored: true, Move: geom.Pt(2*x, 0)}.Shape(b.Shape)
	if d := math.Abs(float64(back.Area() - a.Shape.Area())); d > 1e-6 {
		t.Fatalf("areas differ by %g", d)
	}
	same(t, "mirrored outline", back.Outer, a.Shape.Outer)
	if b.Shape.Outer.SignedArea() <= 0 {
		t.Fatal("the mirrored outline runs clockwise")
	}
}

func TestGradeIsRepeatableAndShared(t *testing.T) {
	s := small(t)
	a, err := s.Grade(s.BaseFit(foam.Left))
	if err != nil {
		t.Fatal(err)
	}
	a.Pieces[0].Shape.Outer[0] = geom.Pt(1e6, 1e6) // a caller that scribbles must not reach the set
	b, _ := s.Grade(s.BaseFit(foam.Left))
	c, _ := s.Grade(s.BaseFit(foam.Left))
	if !reflect.DeepEqual(b, c) || b.Pieces[0].Shape.Outer[0] == a.Pieces[0].Shape.Outer[0] {
		t.Fatal("two grades of one fit differ")
	}
}

func TestHardwareFollows(t *testing.T) {
	s := small(t)
	f := s.BaseFit(foam.Right)
	f.Body["wrist-girth"], f.Clothing = 190, 3
	g, err := s.Grade(f)
	if err != nil {
		t.Fatal(err)
	}
	want := 2 * (60 + 0.5*(190+2*math.Pi*3))
	if h := g.Hardware; h[0].Count != 3 || h[0].Length != 0 || math.Abs(float64(h[1].Length)-want) > 1e-9 {
		t.Fatalf("hardware %v, want 3 rivets and %.1f mm", h, want)
	}
}

// goldenSummary is what a person would check: sizes, not every point.
type goldenPiece struct {
	ID       string
	Copy     int
	Mirrored bool
	W, H     float64
	Area     float64
	Bevel    float64
	Glue     float64
	Lap      float64
	Points   int
}

func TestGolden(t *testing.T) {
	s := small(t)
	f := Fit{Body: map[string]geom.MM{"wrist-girth": 182, "forearm-girth": 301, "elbow-wrist-length": 268}, Side: foam.Left, FoamK: 0.45, Clothing: 2}
	g, err := s.Grade(f)
	if err != nil {
		t.Fatal(err)
	}
	round := func(x float64) float64 { return math.Round(x*100) / 100 }
	var out []goldenPiece
	for _, p := range g.Pieces {
		b := p.Shape.Bounds()
		out = append(out, goldenPiece{p.ID, p.Copy, p.Mirrored, round(float64(b.Width())), round(float64(b.Height())),
			round(float64(p.Shape.Area())), round(float64(p.Bevel)), round(float64(p.Glue)), round(float64(p.Lap)), len(p.Shape.Outer)})
	}
	got, err := json.MarshalIndent(out, "", "  ")
	if err != nil {
		t.Fatal(err)
	}
	got = append(got, '\n')
	gaugetest.Golden(t, filepath.Join("testdata", "small.golden.json"), got)
}

// Developed frustum: slant and both girths give sector angle θ = (G−g)/s, inner radius g/θ, area s(G+g)/2.
// Values computed independently from the closed form (elementary geometry; a check sheet kept outside this tree).
func TestFrustumDevelopment(t *testing.T) {
	for _, v := range []struct{ big, small, slant, deg, inner, outer, area float64 }{
		{400, 300, 250, 22.9183, 750, 1000, 87500},
		{360, 250, 240, 26.2606, 545.4545, 785.4545, 73200},
		{600, 420, 300, 34.3775, 700, 1000, 153000},
	} {
		c := coneBase{small: v.small, big: v.big, slant: v.slant}
		if d := c.theta() * 180 / math.Pi; math.Abs(d-v.deg) > 1e-4 {
			t.Errorf("sector %.4f°, want %.4f", d, v.deg)
		}
		if r := c.small / c.theta(); math.Abs(r-v.inner) > 1e-3 || math.Abs(r+v.slant-v.outer) > 1e-3 {
			t.Errorf("radii %.4f and %.4f, want %.4f and %.4f", r, r+v.slant, v.inner, v.outer)
		}
		var ring geom.Ring
		const n = 2000
		for i := 0; i <= n; i++ {
			ring = append(ring, c.put(float64(i)/n-0.5, 0))
		}
		for i := n; i >= 0; i-- {
			ring = append(ring, c.put(float64(i)/n-0.5, 1))
		}
		if a := float64(ring.SignedArea()); math.Abs(a-v.area) > 0.01 {
			t.Errorf("area %.3f, want %.0f", a, v.area)
		}
		for _, q := range []geom.Point{{X: 0.3, Y: 0.2}, {X: -0.5, Y: 1}, {X: 0, Y: 0}} {
			u, w := c.take(c.put(q.X, q.Y))
			if math.Abs(u-q.X) > 1e-12 || math.Abs(w-q.Y) > 1e-12 {
				t.Errorf("(%g, %g) came back as (%g, %g)", q.X, q.Y, u, w)
			}
		}
	}
}

// A cylinder and a cuff that tapers the other way are no special cases.
func TestConeThroughCylinder(t *testing.T) {
	for _, big := range []float64{299.9999, 300, 300.0001, 250} {
		c := coneBase{small: 300, big: big, slant: 200}
		var wrist, elbow geom.Path
		for i := 0; i <= 400; i++ {
			u := float64(i)/400 - 0.5
			wrist, elbow = append(wrist, c.put(u, 0)), append(elbow, c.put(u, 1))
		}
		if math.Abs(float64(wrist.Length())-300) > 1e-3 || math.Abs(float64(elbow.Length())-big) > 1e-3 {
			t.Errorf("big end %g: lengths %v and %v", big, wrist.Length(), elbow.Length())
		}
		if d := c.put(0.5, 0).Dist(c.put(0.5, 1)); math.Abs(d-math.Hypot(200, 0)) > 1e-9 {
			t.Errorf("big end %g: side edge %g", big, d)
		}
	}
}

// Bend allowance BA = A·(π/180)·(R + K·T), Machinery's Handbook (formula from memory). Worked values:
// 90°, R = 0.125 in, T = 0.125 in, K = 0.44 → 0.2827 in (published worked example of a public bend calculator);
// foam 90°, R = 30 mm, T = 10 mm, K = 0.5 → 54.9779 mm; full wrap of girth 360 mm, T = 10 mm, K = 0.5 → 391.4159 mm
// (both from the formula).
func TestBendAllowance(t *testing.T) {
	width := func(girth, turns, thick, k float64) float64 {
		p := &part{doc: pieceDoc{Thickness: thick}}
		return section{measure: "g", share: turns, profile: 1, turns: turns}.width(Fit{Body: map[string]geom.MM{"g": geom.MM(girth)}, FoamK: k}, p)
	}
	for _, v := range []struct{ got, want, tol float64 }{
		{width(2*math.Pi*0.125, 0.25, 0.125, 0.44), 0.2827, 1e-4},
		{width(2*math.Pi*30, 0.25, 10, 0.5), 54.9779, 1e-4},
		{width(360, 1, 10, 0.5), 391.4159, 1e-4},
	} {
		if math.Abs(v.got-v.want) > v.tol {
			t.Errorf("bend %.5f, want %.4f", v.got, v.want)
		}
	}
}

// A layer worn over another is longer by 2π × the thickness beneath it, per full turn.
func TestLayerClearsWhatLiesBeneath(t *testing.T) {
	s := small(t)
	p := s.find("plate")
	if p.beneath != 5 {
		t.Fatalf("beneath the plate lie %v, want 5 mm", p.beneath)
	}
	bare := *p
	bare.beneath = 0
	c := p.sections[0]
	d := c.width(s.base, p) - c.width(s.base, &bare)
	if want := 2 * math.Pi * 0.7 * 5; math.Abs(d-want) > 1e-9 {
		t.Fatalf("difference %.4f, want %.4f", d, want)
	}
}

func BenchmarkGrade(b *testing.B) {
	s := small(b)
	f := s.BaseFit(foam.Left)
	f.Body["forearm-girth"] = 300
	for b.Loop() {
		if _, err := s.Grade(f); err != nil {
			b.Fatal(err)
		}
	}
}

// Between two inner sections the scale eases from one to the other; beyond them it stays constant.
func TestSectionsInterpolate(t *testing.T) {
	s := small(t)
	p := s.find("plate")
	scale := []float64{1.2, 0.8}
	for _, v := range []struct{ at, want float64 }{{0, 1.2}, {0.2, 1.2}, {0.35, 1.1375}, {0.5, 1}, {0.8, 0.8}, {1, 0.8}} {
		if got := p.scaleAt(scale, v.at); math.Abs(got-v.want) > 1e-12 {
			t.Errorf("scale at %g is %g, want %g", v.at, got, v.want)
		}
	}
}

// A straight edge that the mapping bends is followed within the flattening tolerance.
func TestBentEdgesAreFollowed(t *testing.T) {
	s := small(t)
	f := s.BaseFit(foam.Right)
	f.Body["forearm-girth"] = 340
	p := s.find("plate")
	m, err := p.grading(s, f)
	if err != nil {
		t.Fatal(err)
	}
	a, b := geom.Pt(420, 130), geom.Pt(480, 260)
	path := m.line(geom.Path{a, b})
	for i := range 1001 {
		q := m(a.Lerp(b, float64(i)/1000))
		best := math.Inf(1)
		for j := 1; j < len(path); j++ {
			best = math.Min(best, float64(geom.SegmentDistance(path[j-1], path[j], q, q)))
		}
		if best > 2*sag {
			t.Fatalf("at %d/1000 the edge runs %.3f mm off", i, best)
		}
	}
}

// An off-centre dart loses the equality of its legs when its ends follow different measurements; truing restores it,
// says so, and leaves the named points beyond the neighbouring edge where they were.
func TestDartIsTrued(t *testing.T) {
	svg := []byte(`<svg width="300mm" height="200mm" viewBox="0 0 300 200"><g id="p">
<path class="outline" d="M20 180L190 180L200 90L210 180L280 180C282 170 282 60 280 20L20 20Z"/>
<circle class="point" data-name="a" cx="190" cy="180" r="1"/><circle class="point" data-name="t" cx="200" cy="90" r="1"/>
<circle class="point" data-name="b" cx="210" cy="180" r="1"/><circle class="point" data-name="c" cx="280" cy="180" r="1"/></g></svg>`)
	toml := []byte(`name = "dart"
title = "t"
kind = "armour"
summary = "s"
assembly = "a"
measures = ["waist-girth", "chest-girth"]
operations = ["cut"]
finishes = ["primed"]
[base]
waist-girth = 800
chest-girth = 960
[[piece]]
id = "p"
title = "t"
thickness = 5
hold = "left"
edges = { da = ["a", "t"], db = ["t", "b"], foot = ["b", "c"] }
[[piece.section]]
at = 0
measure = "waist-girth"
share = 0.25
[[piece.section]]
at = 1
measure = "chest-girth"
share = 0.25
[[dart]]
name = "d"
a = "p.da"
b = "p.db"
`)
	s, err := Parse(svg, toml)
	if err != nil {
		t.Fatal(err)
	}
	f := s.BaseFit(foam.NoSide)
	f.Body["waist-girth"] = 900
	g, err := s.Grade(f)
	if err != nil {
		t.Fatal(err)
	}
	if d := math.Abs(float64(g.Seams[0].LengthA - g.Seams[0].LengthB)); d > 1e-9 || len(g.Notes) != 1 {
		t.Fatalf("legs differ by %g, notes %v", d, g.Notes)
	}
	m, err := s.parts[0].grading(s, f)
	if err != nil {
		t.Fatal(err)
	}
	want, found := m(geom.Pt(280, 20)), false
	for _, q := range g.Pieces[0].Shape.Outer {
		found = found || q.Dist(want) < 1e-9
	}
	if !found {
		t.Fatal("truing moved the far end of the neighbouring edge")
	}
}
