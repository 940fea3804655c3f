package pattern

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"benchbell/quote/foam"
	"benchbell/quote/geom"
)

// strap is a piece along the waist with a row of rivets, a drill and a webbing slot.
func strap(t testing.TB, extra string) *Set {
	return parse(t, sheet(`<g id="strap"><rect class="outline" x="100" y="100" width="400" height="40"/>
<line class="row" data-name="rivets" x1="100" y1="110" x2="500" y2="110" data-diameter="4" data-pitch="30" data-inset="20"/>
<circle class="row" id="eyelets" cx="300" cy="128" r="6"/>
<circle class="drill" cx="130" cy="128" r="2.5"/><rect class="slot" x="400" y="122" width="27" height="5"/></g>`),
		specSheet("waist-girth = 800", `BASE
[[piece]]
id = "strap"
title = "Strap"
thickness = 2
copies = 2
`+extra+`[[piece.section]]
at = 0
measure = "waist-girth"
share = 0.5
bend = 0
[[piece.row]]
line = "eyelets"
diameter = 2
pitch = 9
[[hardware]]
kind = "rivet-9"
count = 1
rows = ["strap"]
`))
}

// A row keeps its inset and has equal steps, the nearest whole number of them for its pitch.
func TestRowsAreRespaced(t *testing.T) {
	s := strap(t, "")
	rapid.Check(t, func(rt *rapid.T) {
		f := s.BaseFit(foam.NoSide)
		f.Body["waist-girth"] = geom.MM(rapid.Float64Range(600, 1300).Draw(rt, "waist"))
		g, err := s.Grade(f)
		if err != nil {
			rt.Fatal(err)
		}
		p := g.Pieces[0]
		length := float64(f.Body["waist-girth"]) / 2
		b := p.Shape.Bounds()
		var xs []float64
		round := 0
		for _, d := range p.Drills {
			switch d.Diameter {
			case 4:
				xs = append(xs, d.At.X-b.Min.X)
			case 2:
				round++
			}
		}
		n := int(math.Round((length - 40) / 30))
		if len(xs) != n+1 || math.Abs(xs[0]-20) > 1e-6 || math.Abs(xs[n]-(length-20)) > 1e-6 {
			rt.Fatalf("%d holes from %.2f to %.2f on %.1f mm, want %d from 20", len(xs), xs[0], xs[len(xs)-1], length, n+1)
		}
		for i := 1; i < len(xs); i++ {
			if math.Abs(xs[i]-xs[i-1]-(length-40)/float64(n)) > 1e-6 {
				rt.Fatalf("step %d is %.3f mm", i, xs[i]-xs[i-1])
			}
		}
		if h := g.Hardware[0].Count; h != 1+2*(len(xs)+round) || round < 2 {
			rt.Fatalf("%d rivets for %d and %d holes in two copies", h, len(xs), round)
		}
	})
	f := s.BaseFit(foam.NoSide)
	f.Body["waist-girth"] = 1000
	g, err := s.Grade(f)
	if err != nil {
		t.Fatal(err)
	}
	if len(g.Notes) == 0 || !contains(g.Notes[0], "strap", "a row of 13 holes became 16") {
		t.Errorf("notes %q", g.Notes)
	}
}

// Holes take the diameter of the nearest tool and report it if it matters, stay as drawn and are cut out if there is none,
// and are refused if the knife cannot cut them.
func TestHolesSnapToTools(t *testing.T) {
	s := strap(t, "")
	f := s.BaseFit(foam.NoSide)
	f.Tools = []foam.Tool{{Name: "2 mm", Diameter: 2}, {Name: "5/32 in", Diameter: 3.96875}, {Name: "3/16 in", Diameter: 4.7625}, {Name: "10 mm", Diameter: 10}}
	g, err := s.Grade(f)
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range g.Pieces[0].Drills {
		want := map[string]geom.MM{"2 mm": 2, "5/32 in": 3.96875, "3/16 in": 4.7625}[d.Tool]
		if d.Diameter != want {
			t.Errorf("a hole is %v with tool %q", d.Diameter, d.Tool)
		}
		if r := drillRing(d).Bounds().Width(); math.Abs(float64(r-d.Diameter)) > 1e-9 {
			t.Errorf("its outline is %v wide, want %v", r, d.Diameter)
		}
	}
	if len(g.Notes) != 1 || !contains(g.Notes[0], "5 mm became 3/16 in") {
		t.Errorf("notes %q, want the one change above 0.2 mm", g.Notes)
	}
	f.Tools = f.Tools[3:]
	_, err = s.Grade(f)
	var ft *Fault
	if !errors.As(err, &ft) || ft.Piece != "strap" || !contains(ft.What, "no drill or punch", "nearest is 10 mm", "too small for the knife") {
		t.Errorf("got %v, want a fault that names the nearest tool", err)
	}
}

// The bounds of snapping: a tenth of the diameter, or half a millimetre.
func TestHolesWithoutTool(t *testing.T) {
	s := parse(t, sheet(`<g id="p"><rect class="outline" x="100" y="100" width="200" height="60"/><circle class="drill" cx="130" cy="130" r="7.3"/><circle class="drill" cx="200" cy="130" r="2.7"/><circle class="hole" cx="260" cy="130" r="9"/></g>`),
		specSheet("chest-girth = 900", "BASE\n[[piece]]\nid = \"p\"\ntitle = \"t\"\nthickness = 5\nframe = \"fixed\"\n"))
	for _, c := range []struct {
		tool         geom.MM
		drilled      int
		large, small geom.MM // diameters that the two holes come to
		note, absent string
	}{
		{12, 0, 14.6, 5.4, "the studio has no drill or punch for holes of 14.6 mm (the nearest is x), 5.4 mm (the nearest is x)", "became"},
		{13.2, 1, 13.2, 5.4, "14.6 mm became x", "14.6 mm ("},
		{13.1, 0, 14.6, 5.4, "no drill or punch for holes of 14.6 mm", "became"},
		{5, 1, 14.6, 5, "5.4 mm became x", "5.4 mm ("},
		{4.8, 0, 14.6, 5.4, "5.4 mm (", "became"},
	} {
		f := s.BaseFit(foam.NoSide)
		f.Tools = []foam.Tool{{Name: "x", Diameter: c.tool}}
		g, err := s.Grade(f)
		if err != nil {
			t.Fatal(err)
		}
		p := g.Pieces[0]
		notes := strings.Join(g.Notes, "\n")
		if len(p.Drills) != c.drilled || len(p.Shape.Holes) != 3 || !contains(notes, c.note) || contains(notes, c.absent) {
			t.Errorf("%v: %d drills, %d holes, notes %q", c.tool, len(p.Drills), len(p.Shape.Holes), notes)
		}
		for x, want := range map[float64]geom.MM{130: c.large, 200: c.small} {
			found := false
			for _, h := range p.Shape.Holes {
				b := h.Bounds()
				found = found || math.Abs(b.Centre().X-x) < 0.1 && math.Abs(float64(b.Width()-want)) < 0.1
			}
			if !found {
				t.Errorf("%v: no hole of %v at %g", c.tool, want, x)
			}
		}
	}
}

// Too little foam around a hole is refused by piece and place; the piece can allow less.
func TestBridges(t *testing.T) {
	draw := func(hole string) []byte {
		return sheet(`<g id="p"><rect class="outline" x="100" y="100" width="100" height="60"/>` + hole + `</g>`)
	}
	toml := func(bridge string) []byte {
		return specSheet("chest-girth = 900", "BASE\n[[piece]]\nid = \"p\"\ntitle = \"t\"\nthickness = 5\nframe = \"fixed\"\n"+bridge)
	}
	for _, c := range []struct {
		hole, bridge string
		ok           bool
	}{
		{`<circle class="drill" cx="150" cy="105" r="2"/>`, "", true},
		{`<circle class="drill" cx="150" cy="104.9" r="2"/>`, "", false},
		{`<circle class="drill" cx="150" cy="103.5" r="2"/>`, "bridge = 1.5\n", true},
		{`<circle class="drill" cx="150" cy="103" r="2"/>`, "bridge = 0.5\n", false},
		{`<circle class="drill" cx="150" cy="130" r="2"/><circle class="drill" cx="156.9" cy="130" r="2"/>`, "", false},
		{`<circle class="drill" cx="150" cy="130" r="2"/><circle class="drill" cx="157" cy="130" r="2"/>`, "", true},
		{`<rect class="slot" x="150" y="120" width="27" height="5"/><circle class="drill" cx="145.1" cy="122" r="2"/>`, "", false},
		{`<rect class="slot" x="150" y="120" width="27" height="5"/><circle class="drill" cx="144.9" cy="122" r="2"/>`, "", true},
		{`<rect class="slot" x="150" y="120" width="27" height="5"/><circle class="drill" cx="160" cy="122" r="1"/>`, "", false},
		{`<rect class="slot" x="150" y="120" width="27" height="5"/><rect class="hole" x="150" y="127" width="27" height="5"/>`, "", false},
		{`<rect class="slot" x="150" y="120" width="27" height="5"/><rect class="hole" x="150" y="128.1" width="27" height="5"/>`, "", true},
		{`<rect class="slot" x="50" y="120" width="27" height="5"/>`, "", false},
	} {
		_, err := Parse(draw(c.hole), toml(c.bridge))
		if (err == nil) != c.ok {
			t.Errorf("%s %s: %v", c.hole, c.bridge, err)
		}
		var ft *Fault
		if err != nil && c.bridge == "" && (!errors.As(err, &ft) || ft.Piece != "p") {
			t.Errorf("%s: %v names no fault of piece p", c.hole, err)
		}
	}
}
