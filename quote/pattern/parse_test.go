package pattern

import (
	"math"
	"strings"
	"testing"

	"benchbell/quote/geom"
)

func TestErrorsNameTheCause(t *testing.T) {
	svg, toml := string(read(t, "small.svg")), string(read(t, "small.toml"))
	for _, c := range []struct {
		name, old, new string
		inSVG          bool
		want           []string
	}{
		{"unknown key", "layer = 1", "layer = 1\ncolour = 3", false, []string{"line 38", "colour"}},
		{"wrong type", "thickness = 5", "thickness = \"five\"", false, []string{"line 19", "thickness"}},
		{"thickness", "thickness = 5", "thickness = 7", false, []string{`piece "shell"`, "thickness 7", "2, 5 or 10"}},
		{"unknown measure", `measure = "forearm-girth"` + "\nease", `measure = "elbow-girth"` + "\nease", false, []string{`piece "shell"`, "section 2", "elbow-girth"}},
		{"missing edge", `a = "shell.right"`, `a = "shell.top"`, false, []string{`seam 1 ("back")`, `no edge "top"`}},
		{"missing point", `"wr", "er"`, `"wx", "er"`, false, []string{`piece "shell"`, `edge "right"`, `no point "wx"`}},
		{"closed width", "ease = 16", "ease = 40", false, []string{`piece "shell"`, "section 1", "a closed piece needs"}},
		{"layers", "layer = 1", "layer = 0", false, []string{`piece "plate"`, "layer 0 must be above"}},
		{"operation order", `"cut", "glue"`, `"glue", "cut"`, false, []string{`operation "cut"`, "order"}},
		{"finish", `["primed"]`, `["gilded"]`, false, []string{`finish "gilded"`}},
		{"base lacks", "wrist-girth = 170\n", "", false, []string{`base lacks "wrist-girth"`}},
		{"undrawn piece", `id = "plate"`, `id = "plaque"`, false, []string{`piece "plaque" is not drawn`}},
		{"spare drawing", `id="plate"`, `id="plate2"`, true, []string{`piece "plate" is not drawn`}},
		{"role", `class="score"`, `class="scratch"`, true, []string{`piece "shell"`, `class "scratch"`}},
		{"units", `width="620mm"`, `width="620px"`, true, []string{"620px", "mm"}},
		{"entity", "<svg", "<!DOCTYPE svg [<!ENTITY a \"b\">]><svg", true, []string{"document types"}},
		{"use", "</svg>", "<use href=\"#x\"/></svg>", true, []string{`element "use"`}},
		{"not xml", "</svg>", "</g>", true, []string{"well-formed"}},
		{"second outline", `class="slot"`, `class="outline"`, true, []string{`piece "shell"`, "second outline"}},
		{"open hole", `Q0 -100 -10 -110Z"`, `Q0 -100 -10 -112"`, true, []string{`piece "plate"`, "hole is open", "mm"}},
		{"point off the outline", `data-name="tip" cx="0" cy="-70"`, `data-name="tip" cx="0" cy="-80"`, true, []string{`piece "plate"`, `point "tip"`, "off the outline"}},
		{"drill off the piece", `class="drill" cx="60" cy="-60"`, `class="drill" cx="160" cy="-60"`, true, []string{`piece "plate"`, "leaves the outline"}},
	} {
		s, d := svg, toml
		if c.inSVG {
			s = strings.Replace(s, c.old, c.new, 1)
		} else {
			d = strings.Replace(d, c.old, c.new, 1)
		}
		if s == svg && d == toml {
			t.Errorf("%s: the fixture no longer holds %q", c.name, c.old)
			continue
		}
		_, err := Parse([]byte(s), []byte(d))
		if err == nil {
			t.Errorf("%s: accepted", c.name)
			continue
		}
		for _, w := range c.want {
			if !strings.Contains(err.Error(), w) {
				t.Errorf("%s: error lacks %q: %v", c.name, w, err)
			}
		}
		if strings.HasSuffix(err.Error(), ".") {
			t.Errorf("%s: ends in a full stop: %v", c.name, err)
		}
	}
}

func TestCrossingOutlineIsRefused(t *testing.T) {
	d, err := readSVG([]byte(`<svg viewBox="0 0 100 100"><g id="a"><polygon class="outline" points="10,10 90,90 90,10 10,80"/></g></svg>`))
	if err != nil {
		t.Fatal(err)
	}
	if err := checkRing(d["a"].outline); err == nil || !strings.Contains(err.Error(), "crosses") {
		t.Fatalf("got %v, want a crossing named by its place", err)
	}
}

func TestMismatchedSeamIsRefused(t *testing.T) {
	s := small(t)
	s.seams[0].edgeB = "elbow"
	if _, err := s.Grade(s.BaseFit(Right)); err == nil || !strings.Contains(err.Error(), "shell.elbow") {
		t.Fatalf("got %v, want the mismatch with both edges named", err)
	}
}

func TestFitErrors(t *testing.T) {
	s := small(t)
	for want, change := range map[string]func(*Fit){
		"left or right":               func(f *Fit) { f.Side = NoSide },
		"foam factor":                 func(f *Fit) { f.FoamK = math.NaN() },
		"clothing":                    func(f *Fit) { f.Clothing = -1 },
		"needs the measurement wrist": func(f *Fit) { delete(f.Body, "wrist-girth") },
		"check the unit":              func(f *Fit) { f.Body["wrist-girth"] = 17 },
	} {
		f := s.BaseFit(Right)
		change(&f)
		if _, err := s.Grade(f); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("got %v, want %q", err, want)
		}
	}
}

func outlineOf(t *testing.T, body string) geom.Ring {
	t.Helper()
	d, err := readSVG([]byte(`<svg viewBox="0 0 400 400" width="400mm" height="400mm"><g id="a">` + body + `</g></svg>`))
	if err != nil {
		t.Fatal(err)
	}
	return d["a"].outline
}

// The same figure drawn in every way SVG offers comes out the same.
func TestDrawingCommandsAgree(t *testing.T) {
	want := geom.Box{Min: geom.Pt(100, 260), Max: geom.Pt(160, 300)} // y up from the lower left
	for _, b := range []string{
		`<path class="outline" d="M100 100H160V140H100Z"/>`,
		`<path class="outline" d="m100,100 60,0 0,40-60,0z"/>`,
		`<path class="outline" d="M100 100l60 0v40h-60z"/>`,
		`<path class="outline" d="M1e2 100L160 100 160 140 100 140 100 100"/>`,
		`<rect class="outline" x="100" y="100" width="60" height="40"/>`,
		`<polygon class="outline" points="100,100 160,100 160,140 100,140"/>`,
		`<polyline class="outline" points="100,100 160,100 160,140 100,140 100,100"/>`,
		`<g transform="translate(100 100) scale(2)"><rect class="outline" width="30" height="20"/></g>`,
		`<g transform="rotate(90 130 120)"><rect class="outline" x="110" y="90" width="40" height="60"/></g>`,
		`<g transform="matrix(1 0 0 1 50 0)"><g transform="translate(50)"><rect class="outline" y="100" width="60" height="40"/></g></g>`,
	} {
		r := outlineOf(t, b)
		if got := r.Bounds(); got.Min.Dist(want.Min) > 1e-9 || got.Max.Dist(want.Max) > 1e-9 || math.Abs(float64(r.SignedArea())-2400) > 1e-6 {
			t.Errorf("%s: bounds %v, area %v", b, got, r.SignedArea())
		}
	}
}

// Circles drawn as circle, ellipse, arcs, rounded rectangle and under a transform lie within the named tolerance.
func TestFlatteningTolerance(t *testing.T) {
	for _, b := range []string{
		`<circle class="outline" cx="200" cy="200" r="80"/>`,
		`<ellipse class="outline" cx="200" cy="200" rx="80" ry="80"/>`,
		`<path class="outline" d="M120 200A80 80 0 0 1 280 200A80 80 0 01120 200Z"/>`,
		`<path class="outline" d="M120 200a80,80 0 1,1 80,80a80 80 0 0 1-80-80z"/>`,
		`<rect class="outline" x="120" y="120" width="160" height="160" rx="80"/>`,
		`<circle class="outline" transform="translate(200,200)scale(40)" r="2"/>`,
		`<g transform="matrix(2 0 0 1 -200 0)"><ellipse class="outline" cx="200" cy="200" rx="40" ry="80"/></g>`,
	} {
		r := outlineOf(t, b)
		for i, p := range r {
			m := p.Lerp(r[(i+1)%len(r)], 0.5)
			if d := p.Dist(geom.Pt(200, 200)); math.Abs(d-80) > 1e-6 {
				t.Fatalf("%s: a point lies %.6f from the centre", b, d)
			}
			if d := m.Dist(geom.Pt(200, 200)); d < 80-float64(FlattenTolerance)-1e-9 {
				t.Fatalf("%s: a chord cuts %.4f mm off", b, 80-d)
			}
		}
	}
}

// Smooth commands continue the last control point; a quadratic is the cubic of equal shape.
func TestSmoothCommands(t *testing.T) {
	for _, c := range [][2]string{
		{`M100 200C100 150 150 150 150 200S200 250 200 200L200 300H100Z`, `M100 200C100 150 150 150 150 200C150 250 200 250 200 200L200 300H100Z`},
		{`M100 200Q125 150 150 200T200 200V300H100Z`, `M100 200q25-50 50 0q25 50 50 0v100h-100z`},
	} {
		a := outlineOf(t, `<path class="outline" d="`+c[0]+`"/>`)
		b := outlineOf(t, `<path class="outline" d="`+c[1]+`"/>`)
		same(t, c[0], a, b)
	}
	// Area under a parabola arch is two thirds of its box (Archimedes).
	r := outlineOf(t, `<path class="outline" d="M100 200Q200 0 300 200Z"/>`)
	if a, want := float64(r.Area()), 200.0*100*2/3; math.Abs(a-want) > 200*float64(FlattenTolerance) {
		t.Fatalf("area %.1f, want %.1f", a, want)
	}
}

func TestHostileDrawings(t *testing.T) {
	deep := `<svg viewBox="0 0 9 9">` + strings.Repeat("<g>", 100)
	many := `<svg viewBox="0 0 9 9">` + strings.Repeat("<g/>", maxNodes+1) + `</svg>`
	long := `<svg viewBox="0 0 9 9"><g id="a"><path class="outline" d="M0 0` + strings.Repeat("L1 1 0 0", maxPathPoints) + `Z"/></g></svg>`
	for name, s := range map[string]string{
		"deep": deep, "many": many, "long": long, "large": strings.Repeat(" ", maxFileBytes+1), "empty": "",
		"huge number": `<svg viewBox="0 0 9 9"><g id="a"><path class="outline" d="M1e300 0Z"/></g></svg>`,
		"huge arc":    `<svg viewBox="0 0 9 9"><g id="a"><path class="outline" d="M0 0A1e8 1e8 0 1 1 9 9Z"/></g></svg>`,
		"many arcs":   `<svg viewBox="0 0 9999 9999"><g id="a">` + strings.Repeat(`<circle class="score" cx="5000" cy="5000" r="4000"/>`, maxElements) + `</g><g id="b">` + strings.Repeat(`<path class="score" d="`+strings.Repeat("M0 5000A4000 4000 0 0 1 8000 5000", 6)+`"/>`, maxElements) + `</g></svg>`,
		"nan box":     `<svg viewBox="0 0 nan 9"/>`,
	} {
		if _, err := readSVG([]byte(s)); err == nil {
			t.Errorf("%s: accepted", name)
		}
	}
}

func FuzzParse(f *testing.F) {
	svg, toml := read(f, "small.svg"), read(f, "small.toml")
	f.Add(svg, toml)
	f.Add([]byte(`<svg viewBox="0 0 9 9"><g id="a"><path class="outline" d="M1 1h5v5z"/></g></svg>`), []byte("name = \"x\"\n"))
	f.Fuzz(func(t *testing.T, svg, toml []byte) {
		s, err := Parse(svg, toml)
		if err != nil {
			return
		}
		side := NoSide
		if s.Sided {
			side = Left
		}
		g, err := s.Grade(s.BaseFit(side))
		if err != nil {
			t.Fatalf("a set that parses must grade to its base: %v", err)
		}
		for _, p := range g.Pieces {
			for _, q := range p.Shape.Outer {
				if !q.Finite() {
					t.Fatal("a point is not finite")
				}
			}
		}
	})
}

// FuzzDrawing reaches the path and transform readers without a sidecar in the way.
func FuzzDrawing(f *testing.F) {
	f.Add("M10 10C20 0 40 0 50 10S80 30 50 50Q20 60 10 40T10 10A5 5 0 01 9 9Z", "rotate(10 5 5) skewX(3)")
	f.Fuzz(func(t *testing.T, d, tr string) {
		m, err := parseTransform(tr)
		if err != nil {
			return
		}
		p := &pen{m: m}
		if p.path(d) != nil {
			return
		}
		for _, l := range p.out {
			for _, q := range l.pts {
				if !q.Finite() || math.Abs(q.X) > maxCoord || math.Abs(q.Y) > maxCoord {
					t.Fatalf("point %v of %q under %q", q, d, tr)
				}
			}
		}
	})
}
