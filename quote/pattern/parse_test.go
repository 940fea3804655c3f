package pattern

import (
	"math"
	"strings"
	"testing"

	"benchbell/quote/foam"
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
		{"wrong type in a list", "finishes = [\"primed\"]", "finishes = \"primed\"", false, []string{"line ", "finishes", "a list of texts"}},
		{"wrong type of a number", "ease = 16", "ease = \"lots\"", false, []string{"line ", "piece.section.ease", "it must be a number, such as 12 or 2.5"}},
		{"wrong type of a share", "layer = 1", "layer = 1.5", false, []string{"piece.layer", "a whole number"}},
		{"broken line", "layer = 1", "layer =", false, []string{"line 37", "not valid TOML"}},
		{"form", `class="bend"`, `class="bend" data-form="up"`, true, []string{`piece "plate"`, `data-form "up"`, `"toward"`}},
		{"thickness", "thickness = 5", "thickness = 7", false, []string{`piece "shell"`, "thickness 7", "2, 5 or 10"}},
		{"unknown measure", `measure = "forearm-girth"` + "\nease", `measure = "elbow-girth"` + "\nease", false, []string{`piece "shell"`, "section 2", "elbow-girth"}},
		{"missing edge", `a = "shell.right"`, `a = "shell.top"`, false, []string{`seam 1 ("back")`, `no edge "top"`}},
		{"missing point", `"wr", "er"`, `"wx", "er"`, false, []string{`piece "shell"`, `edge "right"`, `no point "wx"`}},
		{"closed width", "ease = 16", "ease = 40", false, []string{`piece "shell"`, "section 1", "a closed piece must be"}},
		{"layers", "layer = 1", "layer = 0", false, []string{`piece "plate"`, "layer 0 must be above"}},
		{"operation order", `"cut", "glue"`, `"glue", "cut"`, false, []string{`operation "cut"`, "order"}},
		{"finish", `["primed"]`, `["gilded"]`, false, []string{`finish "gilded"`}},
		{"base lacks", "wrist-girth = 170\n", "", false, []string{`base has no value for "wrist-girth"`}},
		{"undrawn piece", `id = "plate"`, `id = "plaque"`, false, []string{`piece "plaque" is not in the drawing`}},
		{"spare drawing", `id="plate"`, `id="plate2"`, true, []string{`piece "plate" is not in the drawing`}},
		{"role", `class="score"`, `class="scratch"`, true, []string{`piece "shell"`, `class "scratch"`}},
		{"entity", "<svg", "<!DOCTYPE svg [<!ENTITY a \"&b;\">]><svg", true, []string{"document type"}},
		{"not xml", "</svg>", "</g>", true, []string{"well-formed"}},
		{"second outline", `class="slot"`, `class="outline"`, true, []string{`piece "shell"`, "second outline"}},
		{"open hole", `Q0 -100 -10 -110Z"`, `Q0 -100 -10 -112"`, true, []string{`piece "plate"`, "hole is open", "mm"}},
		{"point off the outline", `data-name="tip" cx="0" cy="-70"`, `data-name="tip" cx="0" cy="-80"`, true, []string{`piece "plate"`, `point "tip"`, "off the outline"}},
		{"drill off the piece", `class="drill" cx="60" cy="-60"`, `class="drill" cx="160" cy="-60"`, true, []string{`piece "plate"`, "lies outside the outline"}},
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

func TestMismatchedSeamIsRefused(t *testing.T) {
	s := small(t)
	s.seams[0].edgeB = "elbow"
	if _, err := s.Grade(s.BaseFit(foam.Right)); err == nil || !strings.Contains(err.Error(), "shell.elbow") {
		t.Fatalf("got %v, want the mismatch with both edges named", err)
	}
}

func TestFitErrors(t *testing.T) {
	s := small(t)
	for want, change := range map[string]func(*Fit){
		"left or right":               func(f *Fit) { f.Side = foam.NoSide },
		"foam factor":                 func(f *Fit) { f.FoamK = math.NaN() },
		"clothing":                    func(f *Fit) { f.Clothing = -1 },
		"needs the measurement wrist": func(f *Fit) { delete(f.Body, "wrist-girth") },
		"check the unit":              func(f *Fit) { f.Body["wrist-girth"] = 17 },
	} {
		f := s.BaseFit(foam.Right)
		change(&f)
		if _, err := s.Grade(f); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("got %v, want %q", err, want)
		}
	}
}

func outlineOf(t *testing.T, body string) geom.Ring {
	t.Helper()
	d, err := readDrawing([]byte(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 400 400" width="400mm" height="400mm"><g id="a">`+body+`</g></svg>`), gapDefault, nil)
	if err != nil {
		t.Fatal(err)
	}
	return d.pieces["a"].outline
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

func FuzzParse(f *testing.F) {
	svg, toml := read(f, "small.svg"), read(f, "small.toml")
	f.Add(svg, toml)
	f.Add([]byte(`<svg viewBox="0 0 9 9"><g id="a"><path class="outline" d="M1 1h5v5z"/></g></svg>`), []byte("name = \"x\"\n"))
	f.Fuzz(func(t *testing.T, svg, toml []byte) {
		s, err := Parse(svg, toml)
		if err != nil {
			return
		}
		side := foam.NoSide
		if s.Sided {
			side = foam.Left
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
