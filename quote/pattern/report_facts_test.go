package pattern

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"benchbell/quote/foam"
	"benchbell/quote/geom"
)

// What the report says is so, found in another way than the report finds it: from the shapes that are cut, the body, and
// elementary geometry.
func TestReportIsTrue(t *testing.T) {
	near := func(a, b geom.MM, slack float64) bool { return math.Abs(float64(a-b)) <= slack }
	for name, c := range map[string]struct {
		s *Set
		f func(*Fit)
	}{
		"small":  {small(t), func(f *Fit) { f.Side, f.Body["forearm-girth"] = foam.Left, 300 }},
		"gores":  {hemisphere(t, 6), func(f *Fit) { f.Clothing = 3 }},
		"strap":  {strap(t, ""), func(f *Fit) { f.Body["waist-girth"] = 1000 }},
		"trued":  {sides(t, followsLess, "trued = true"), func(f *Fit) { f.Body["front-waist-length"] = 450 }},
		"as was": {small(t), func(f *Fit) { f.Side = foam.Left }},
	} {
		f := c.s.BaseFit(foam.NoSide)
		c.f(&f)
		g, err := c.s.Grade(f)
		if err != nil {
			t.Fatal(err)
		}
		r := c.s.Report(f, g)
		copies := 0
		for _, p := range r.Pieces {
			copies += p.Copies
			var cut []foam.Piece
			for _, q := range g.Pieces {
				if q.ID == p.ID {
					cut = append(cut, q)
				}
			}
			if len(cut) != p.Copies {
				t.Errorf("%s: %d copies of %s are reported, %d are cut", name, p.Copies, p.ID, len(cut))
				continue
			}
			lo, hi := geom.Pt(math.Inf(1), math.Inf(1)), geom.Pt(math.Inf(-1), math.Inf(-1))
			twice := 0.0 // the area by the corners, holes taken off
			for i, ring := range append([]geom.Ring{cut[0].Shape.Outer}, cut[0].Shape.Holes...) {
				sum := 0.0
				for k, a := range ring {
					b := ring[(k+1)%len(ring)]
					sum += a.X*b.Y - b.X*a.Y
					lo, hi = geom.Pt(min(lo.X, a.X), min(lo.Y, a.Y)), geom.Pt(max(hi.X, a.X), max(hi.Y, a.Y))
				}
				if sum = math.Abs(sum); i > 0 {
					sum = -sum
				}
				twice += sum
			}
			if !near(p.Width, geom.MM(hi.X-lo.X), 1e-6) || !near(p.Height, geom.MM(hi.Y-lo.Y), 1e-6) || math.Abs(float64(p.Area)-twice/2) > 1e-6*twice {
				t.Errorf("%s: %s is reported as %v × %v and %v, it is %v × %v and %v", name, p.ID, p.Width, p.Height, p.Area, hi.X-lo.X, hi.Y-lo.Y, twice/2)
			}
			if p.CutOuts != len(cut[0].Shape.Holes)-len(cut[0].Drills) || len(p.Drills) != len(cut[0].Drills) {
				t.Errorf("%s: %s has %d cut-outs and %d drilled holes of %d holes", name, p.ID, p.CutOuts, len(p.Drills), len(cut[0].Shape.Holes))
			}
			if p.Thickness != cut[0].Thickness || p.Title != cut[0].Title || p.Layer != cut[0].Layer {
				t.Errorf("%s: %s is reported as %q, %v in layer %d, cut as %q, %v in layer %d", name, p.ID, p.Title, p.Thickness, p.Layer, cut[0].Title, cut[0].Thickness, cut[0].Layer)
			}
		}
		if copies != len(g.Pieces) {
			t.Errorf("%s: %d pieces are reported, %d are cut", name, copies, len(g.Pieces))
		}
		for i, s := range r.Seams {
			if i < len(r.Seams)-r.Loose && !near(s.LengthA, s.LengthB, 3) { // what the foam takes up in gluing
				t.Errorf("%s: seam %s is glued from %v to %v", name, s.Name, s.LengthA, s.LengthB)
			}
			if s.Trued > 0 && !near(s.Trued, max(s.BeforeA, s.BeforeB)-min(s.BeforeA, s.BeforeB), 1e-6) {
				t.Errorf("%s: seam %s was %v and %v, trued by %v", name, s.Name, s.BeforeA, s.BeforeB, s.Trued)
			}
		}
		for _, d := range r.Domes { // sin a = 1 − angle/360
			if math.Abs(math.Sin(d.Cone*math.Pi/180)-(1-d.Angle/360)) > 1e-9 {
				t.Errorf("%s: dome %s takes %v° out and is a cone of %v°", name, d.Name, d.Angle, d.Cone)
			}
		}
		// Nothing of it is lost in words.
		text := r.Text()
		for _, p := range r.Pieces {
			if !strings.Contains(text, fmt.Sprintf("%d × %2.0f mm  %7.1f × %-7.1f", p.Copies, float64(p.Thickness), float64(p.Width), float64(p.Height))) {
				t.Errorf("%s: the text lacks %s\n%s", name, p.ID, text)
			}
		}
		for _, s := range r.Seams {
			if !strings.Contains(text, fmt.Sprintf("%-18s %7.1f %7.1f", s.Name, float64(s.LengthA), float64(s.LengthB))) {
				t.Errorf("%s: the text lacks seam %s\n%s", name, s.Name, text)
			}
		}
		for _, n := range r.Notes {
			if !strings.Contains(text, n) {
				t.Errorf("%s: the text lacks the note %q", name, n)
			}
		}
	}
}

// What sections ask follows from the body: a share of the girth that the piece goes round, with clothing of c mm
// between and foam of t mm whose neutral line lies at K of it, which add 2π(c + Kt), and the ease of an estimate.
func TestReportAsksWhatTheBodyAsks(t *testing.T) {
	s := hemisphere(t, 6)
	f := s.BaseFit(foam.NoSide)
	f.Clothing, f.Uncertain = 3, map[string]geom.MM{"head-girth": 6}
	g, err := s.Grade(f)
	if err != nil {
		t.Fatal(err)
	}
	mouth := s.Report(f, g).Pieces[0].Sections[0]
	base := float64(s.Base["head-girth"]) + 2*math.Pi*f.FoamK*5
	for what, c := range map[string][2]float64{
		"drawn": {float64(mouth.Base), base / 6},
		"asked": {float64(mouth.Asked), (base + 6 + 2*math.Pi*3) / 6},
		"cut":   {float64(g.Pieces[0].Shape.Bounds().Width()), (base + 6 + 2*math.Pi*3) / 6},
	} {
		if math.Abs(c[0]-c[1]) > 0.05 {
			t.Errorf("the mouth of one gore of six is %s as %.2f mm, want %.2f", what, c[0], c[1])
		}
	}
	strapped := strap(t, "")
	f = strapped.BaseFit(foam.NoSide)
	f.Body["waist-girth"] = 1000
	if g, err = strapped.Grade(f); err != nil {
		t.Fatal(err)
	}
	if p := strapped.Report(f, g).Pieces[0]; math.Abs(float64(p.Sections[0].Asked)-500) > 0.05 || math.Abs(float64(p.Width)-500) > 0.05 {
		t.Errorf("half of a waist of 1000 mm is asked as %v and cut as %v", p.Sections[0].Asked, p.Width)
	}
}
