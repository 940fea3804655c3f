package pattern

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"benchbell/quote/foam"
	"benchbell/quote/geom"
)

// A sphere's gores, R = 100 mm: width at the equator 2πR/n, at 45° that times cos 45°, from rim to crown πR/2
// (elementary geometry of the sphere; values from a check sheet computed outside this tree).
func TestSphereGores(t *testing.T) {
	for _, v := range []struct {
		n                  int
		equator, at45, arc float64
	}{{4, 157.0796, 111.0721, 157.0796}, {6, 104.7198, 74.048, 157.0796}, {8, 78.5398, 55.536, 157.0796}, {12, 52.3599, 37.024, 157.0796}} {
		s := hemisphere(t, v.n)
		p := s.parts[0]
		if w := p.sections[0].width(s.base, p); math.Abs(w-v.equator) > 1e-4 {
			t.Errorf("%d gores: %.4f mm at the rim, want %.4f", v.n, w, v.equator)
		}
		if w := p.sections[2].width(s.base, p); math.Abs(w-v.at45) > 1e-4 {
			t.Errorf("%d gores: %.4f mm at 45°, want %.4f", v.n, w, v.at45)
		}
		g, err := s.Grade(s.BaseFit(foam.NoSide))
		if err != nil {
			t.Fatal(err)
		}
		if h := float64(g.Pieces[0].Shape.Bounds().Height()); math.Abs(h-v.arc) > 1e-4 {
			t.Errorf("%d gores: %.4f mm long, want %.4f", v.n, h, v.arc)
		}
		// The crown's own angle: n gores that each end in 2·atan(π/n), from the slope of π/n·cos(latitude) at 90°.
		want := 360 - 2*float64(v.n)*math.Atan(math.Pi/float64(v.n))*180/math.Pi
		if d := g.Domes[0]; math.Abs(d.Angle-want) > 0.1 || math.Abs(float64(d.Depth)-100) > 0.3 {
			t.Errorf("%d gores: defect %.2f° and depth %.2f mm, want %.2f° and 100 mm", v.n, d.Angle, d.Depth, want)
		}
	}
}

func drawHead(t *rapid.T, s *Set) Fit {
	mm := func(name string, lo, hi float64) geom.MM { return geom.MM(rapid.Float64Range(lo, hi).Draw(t, name)) }
	return Fit{
		Body: map[string]geom.MM{
			"head-girth": mm("girth", 510, 640), "head-length": mm("length", 170, 220), "head-breadth": mm("breadth", 130, 175),
		},
		FoamK: rapid.Float64Range(0, 1).Draw(t, "k"), Clothing: mm("clothing", 0, 10), Allowance: mm("allowance", 0, 20),
		Uncertain: map[string]geom.MM{"head-girth": mm("sd", 0, 8)},
	}
}

// The gores of a ring together are as wide as the girth that the section asks for, within half a millimetre.
func TestClosedGoresGirth(t *testing.T) {
	s := hemisphere(t, 6)
	p := s.parts[0]
	rapid.Check(t, func(rt *rapid.T) {
		f := drawHead(rt, s)
		g, err := s.Grade(f)
		if err != nil {
			rt.Fatal(err)
		}
		o := g.Pieces[0].Shape.Outer
		b := o.Bounds()
		for i, c := range p.sections {
			y := math.Max(b.Min.Y+1e-3, b.Min.Y+c.at*float64(b.Height()))
			lo, hi := crossings(o, y)
			cos := *c.doc.Profile
			want := cos*(float64(f.Body["head-girth"]+f.Allowance+f.Uncertain["head-girth"])) + 2*math.Pi*cos*(float64(f.Clothing)+5*f.FoamK)
			if got := 6 * (hi - lo); math.Abs(got-want) > 0.5 {
				rt.Fatalf("section %d: six gores are %.2f mm round, want %.2f", i+1, got, want)
			}
		}
		mean := float64(f.Body["head-length"]+f.Body["head-breadth"]) / 2
		want := (0.785*mean + math.Pi/2*(float64(f.Clothing)+5*f.FoamK)) / (0.785*175 + math.Pi/2*2.5) * 50 * math.Pi
		if got := float64(b.Height()); math.Abs(got-want) > 1e-6 {
			rt.Fatalf("meridian %.3f mm, want %.3f", got, want)
		}
	})
}

// A larger measurement, allowance, deviation, clothing or foam factor never makes a latitude narrower.
func TestGoreIsMonotone(t *testing.T) {
	s := hemisphere(t, 6)
	rapid.Check(t, func(rt *rapid.T) {
		f := drawHead(rt, s)
		more := f
		more.Body, more.Uncertain = map[string]geom.MM{}, map[string]geom.MM{}
		for k, v := range f.Body {
			more.Body[k] = v
		}
		switch d := rapid.SampledFrom([]string{"head-girth", "head-length", "allowance", "sd", "clothing", "k"}).Draw(rt, "driver"); d {
		case "allowance":
			more.Allowance += 3
		case "sd":
			more.Uncertain["head-girth"] = f.Uncertain["head-girth"] + 3
		case "clothing":
			more.Clothing += 2
		case "k":
			more.FoamK = (f.FoamK + 1) / 2
		default:
			more.Body[d] *= 1.04
		}
		if _, ok := more.Uncertain["head-girth"]; !ok {
			more.Uncertain = f.Uncertain
		}
		a, b := graded(rt, s, s.parts[0], f), graded(rt, s, s.parts[0], more)
		for i := range 50 {
			at := (float64(i) + 0.5) / 50
			wide := func(w *workpiece) float64 {
				bb := w.outer.Bounds()
				lo, hi := crossings(w.outer, bb.Min.Y+at*float64(bb.Height()))
				return hi - lo
			}
			// Each outline may bow inside its curve by the sag, on both sides.
			if wide(b) < wide(a)-4*sag {
				rt.Fatalf("at %.2f the gore became %.3f mm wide, from %.3f", at, wide(b), wide(a))
			}
		}
	})
}

// panel is a flat piece whose three sections follow three measurements without ease or bend.
func panel(t testing.TB) *Set {
	return parse(t, sheet(`<g id="p"><path class="outline" d="M100 500L300 500C330 420 330 330 300 200L100 200C80 330 80 420 100 500Z"/></g>`),
		specSheet("hip-girth = 950\nwaist-girth = 800\nchest-girth = 980", `BASE
[[piece]]
id = "p"
title = "Panel"
thickness = 5
length = { measure = "waist-girth" }
[[piece.section]]
at = 0
measure = "hip-girth"
share = 0.25
bend = 0
[[piece.section]]
at = 0.45
measure = "waist-girth"
share = 0.25
bend = 0
[[piece.section]]
at = 1
measure = "chest-girth"
share = 0.25
bend = 0
`))
}

// If all measurements grow by one factor, widths and length do too, and the area by its square.
func TestUniformGrowth(t *testing.T) {
	s := panel(t)
	base := float64(s.parts[0].outline.Area())
	rapid.Check(t, func(rt *rapid.T) {
		k := rapid.Float64Range(0.7, 1.4).Draw(rt, "factor")
		f := s.BaseFit(foam.NoSide)
		for key := range f.Body {
			f.Body[key] *= geom.MM(k)
		}
		if a := float64(graded(rt, s, s.parts[0], f).outer.Area()); math.Abs(a-base*k*k) > 1e-6*base {
			rt.Fatalf("area %.3f, want %.3f", a, base*k*k)
		}
	})
}

// The growth between three sections has no kink, meets every section and grows with each of them.
func TestGrowthIsSmoothAndMonotone(t *testing.T) {
	p := panel(t).parts[0]
	rapid.Check(t, func(rt *rapid.T) {
		scale := []float64{rapid.Float64Range(0.7, 1.4).Draw(rt, "a"), rapid.Float64Range(0.7, 1.4).Draw(rt, "b"), rapid.Float64Range(0.7, 1.4).Draw(rt, "c")}
		for i, c := range p.sections {
			if got := p.scaleAt(scale, c.at); math.Abs(got-scale[i]) > 1e-12 {
				rt.Fatalf("section %d has scale %g, want %g", i, got, scale[i])
			}
		}
		const h = 1e-6
		at := p.sections[1].at
		left, right := (p.scaleAt(scale, at)-p.scaleAt(scale, at-h))/h, (p.scaleAt(scale, at+h)-p.scaleAt(scale, at))/h
		if math.Abs(left-right) > 1e-4 {
			rt.Fatalf("the slope jumps from %g to %g at the waist", left, right)
		}
		more := append([]float64(nil), scale...)
		more[rapid.IntRange(0, 2).Draw(rt, "section")] += 0.1
		for i := range 101 {
			u := float64(i) / 100
			if p.scaleAt(more, u) < p.scaleAt(scale, u)-1e-12 {
				rt.Fatalf("at %g the piece shrank when a section grew", u)
			}
		}
	})
}

func TestWornIsMirrored(t *testing.T) {
	toml := string(read(t, "small.toml"))
	toml = "region = \"forearm\"\n" + toml
	toml = replaceOnce(t, toml, "frame = \"cone\"\n", "frame = \"cone\"\nfacing = 90\nheight = 0.4\n")
	toml = replaceOnce(t, toml, "layer = 1\n", "layer = 1\nregion = \"hand\"\nfacing = 30\n")
	s := parse(t, read(t, "small.svg"), []byte(toml))
	for side, want := range map[foam.Side][3]float64{foam.Right: {90, 30, -30}, foam.Left: {-90, -30, 30}} {
		g, err := s.Grade(s.BaseFit(side))
		if err != nil {
			t.Fatal(err)
		}
		if w := g.Pieces[0].Worn; w != (foam.Worn{Region: foam.Forearm, Facing: want[0], Height: 0.4}) {
			t.Errorf("%s: shell at %+v", side, w)
		}
		for i := range 2 {
			if w := g.Pieces[1+i].Worn; w != (foam.Worn{Region: foam.Hand, Facing: want[1+i], Height: 0.5}) {
				t.Errorf("%s: plate %d at %+v", side, i+1, w)
			}
		}
	}
	g, err := hemisphere(t, 4).Grade(hemisphere(t, 4).BaseFit(foam.NoSide))
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{0, 90, 180, -90} {
		if w := g.Pieces[i].Worn.Facing; w != want {
			t.Errorf("gore %d faces %g, want %g", i+1, w, want)
		}
	}
}

// A section gets its share of the ease for an estimate and of a mock-up allowance, and the report says so.
func TestAllowanceAndEstimate(t *testing.T) {
	s := small(t)
	f := s.BaseFit(foam.Right)
	p := s.find("plate")
	before := p.sections[0].width(f, p)
	f.Allowance, f.Uncertain = 20, map[string]geom.MM{"wrist-girth": 5}
	if d := p.sections[0].width(f, p) - before; math.Abs(d-0.7*(20+5)) > 1e-9 {
		t.Errorf("the section grew by %.3f mm, want %.3f", d, 0.7*25)
	}
	g, err := s.Grade(f)
	if err != nil {
		t.Fatal(err)
	}
	if len(g.Notes) != 1 || !contains(g.Notes[0], "wrist-girth is an estimate", "5 mm") {
		t.Errorf("notes %q", g.Notes)
	}
}

// Gores of two kinds whose lengths follow the body differently are trued all around, and the ring stays closed.
func TestMixedGoresAreTrued(t *testing.T) {
	const n = 6
	girth := 2 * math.Pi * 97.5
	gore := func(id, follow string) string {
		out := fmt.Sprintf("[[piece]]\nid = \"%s\"\ntitle = \"Gore\"\nthickness = 5\nframe = \"gore\"\ncopies = 3\nedges = { right = [\"r\", \"apex\"], left = [\"apex\", \"l\"] }\nlength = { measure = \"head-length\", follow = %s }\n", id, follow)
		for _, deg := range []float64{0, 45, 80} {
			out += fmt.Sprintf("[[piece.section]]\nat = %.9f\nmeasure = \"head-girth\"\nshare = %.12f\nprofile = %.12f\n", deg/90, 1.0/n, math.Cos(deg*math.Pi/180))
		}
		return out
	}
	seams := "[[seam]]\nname = \"one\"\na = \"a.right\"\nb = \"b.left\"\ntrued = true\n[[seam]]\nname = \"two\"\na = \"b.right\"\nb = \"a.left\"\ntrued = true\n"
	ring := "[[dome]]\nname = \"crown\"\npieces = [\"a\", \"b\"]\n"
	drawing := sheet(sphereGore("a", n, 100, 200, 500), sphereGore("b", n, 100, 500, 500))
	base := fmt.Sprintf("head-girth = %.9f\nhead-length = 195", girth)
	s := parse(t, drawing, specSheet(base, "BASE\n"+gore("a", "1")+gore("b", "0.7")+seams+ring))
	rapid.Check(t, func(rt *rapid.T) {
		f := s.BaseFit(foam.NoSide)
		f.Body["head-length"] = geom.MM(rapid.Float64Range(175, 215).Draw(rt, "length"))
		f.Body["head-girth"] = geom.MM(rapid.Float64Range(540, 640).Draw(rt, "girth"))
		g, err := s.Grade(f)
		if err != nil {
			rt.Fatal(err)
		}
		for _, sm := range g.Seams {
			limit := SeamTolerance
			if sm.Trued > 0 {
				limit = truedTo
			}
			if apart(sm.LengthA, sm.LengthB) > limit {
				rt.Fatalf("%+v", sm)
			}
		}
		// A meridian of length m from a rim of radius r rises at most as a straight one does, and at least as one that goes
		// straight up and then straight in.
		m := float64(g.Pieces[0].Shape.Bounds().Height()+g.Pieces[3].Shape.Bounds().Height()) / 2
		r := float64(f.Body["head-girth"])/(2*math.Pi) + 2.5
		if d := g.Domes[0]; d.Name != "crown" || float64(d.Depth) > math.Sqrt(m*m-r*r)+1 || float64(d.Depth) < m-r-1 {
			rt.Fatalf("%+v", d)
		}
	})
	for what, change := range map[string][2]string{
		"add up to": {"copies = 3", "copies = 4"},
		"together":  {base, fmt.Sprintf("head-girth = %.9f\nhead-length = 195", girth-1)},
	} {
		toml := strings.Replace(string(specSheet(base, "BASE\n"+gore("a", "1")+gore("b", "0.7")+ring)), change[0], change[1], 1)
		if _, err := Parse(drawing, []byte(toml)); err == nil || !contains(err.Error(), `dome 1 ("crown")`, what) {
			t.Errorf("got %v, want %q", err, what)
		}
	}
}
