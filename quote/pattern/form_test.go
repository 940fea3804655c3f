package pattern

import (
	"errors"
	"fmt"
	"testing"

	"benchbell/quote/foam"
)

// A bend says to which side it is formed: by its own data, its class or name, or a layer; otherwise it goes away from the
// drawn face.
func TestBendForms(t *testing.T) {
	const outline = `<path d="M10 10h100v80h-100z"/>`
	layer := func(name, in string) string {
		return fmt.Sprintf(`<g id="layer7" inkscape:groupmode="layer" inkscape:label="%s">%s</g>`, name, in)
	}
	for drawing, want := range map[string]foam.Form{
		svg(outline + `<path class="bend" d="M50 20v60"/>`):                                                     foam.Away,
		svg(outline + `<path stroke-dasharray="2" d="M50 20v60"/>`):                                             foam.Away,
		svg(outline + `<path class="bend" data-form="toward" d="M50 20v60"/>`):                                  foam.Toward,
		svg(outline + `<path class="bend" data-form=" Toward " d="M50 20v60"/>`):                                foam.Toward,
		svg(outline + `<path class="bend-toward" d="M50 20v60"/>`):                                              foam.Toward,
		svg(outline + `<path inkscape:label="Bend toward 2" d="M50 20v60"/>`):                                   foam.Toward,
		svg(outline + layer("Bend-toward lines", `<path d="M50 20v60"/>`)):                                      foam.Toward,
		svg(outline + layer("bend-away", `<path d="M50 20v60"/>`)):                                              foam.Away,
		svg(outline + layer("bends", `<path d="M50 20v60"/>`)):                                                  foam.Away,
		svg(outline + layer("bend toward", `<path data-form="away" d="M50 20v60"/>`)):                           foam.Away,
		dxfHead + dxf("0", 0) + dxfLine("BEND-TOWARD", 50, 20, 50, 60) + dxfTail:                                foam.Toward,
		dxfHead + dxf("0", 0) + dxfLine("Bend", 50, 20, 50, 60) + dxfTail:                                       foam.Away,
		svg(outline + `<g id="bend_toward"><path inkscape:label="rim" class="bend" d="M50 20v60"/></g>`):        foam.Toward,
		svg(outline + `<g id="bend_toward"><g id="bend-away"><path inkscape:label="x" d="M50 20v60"/></g></g>`): foam.Away,
	} {
		_, s, _, err := Draft([]byte(drawing), "x")
		if err != nil {
			t.Errorf("%s: %v", drawing, err)
			continue
		}
		g, err := s.Grade(s.BaseFit(foam.NoSide))
		if err != nil {
			t.Fatal(err)
		}
		m := g.Pieces[0].Marks
		if len(m) != 1 || m[0].Kind != foam.Bend || m[0].Form != want {
			t.Errorf("%s: marks %v, want one bend that goes %s", drawing, m, want)
		}
	}
}

// A mirror image bends to the same side of its drawn face, and only bends have a form.
func TestMirrorKeepsForm(t *testing.T) {
	_, s, _, err := Draft([]byte(svg(`<path d="M10 10h100v80h-100z"/><path class="bend" data-form="toward" d="M50 20v60"/><path class="notch" data-form="toward" d="M60 10v9"/>`)), "x")
	if err != nil {
		t.Fatal(err)
	}
	g, err := s.Grade(s.BaseFit(foam.NoSide))
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range mirroredPiece(g.Pieces[0]).Marks {
		if want := map[foam.MarkKind]foam.Form{foam.Bend: foam.Toward, foam.Notch: ""}[m.Kind]; m.Form != want {
			t.Errorf("%s has the form %q, want %q", m.Kind, m.Form, want)
		}
	}
}

// Mistakes in the spec sheet are distinguished from mistakes in the drawing.
func TestSpecErrors(t *testing.T) {
	good := "BASE\n[[piece]]\nid = \"p\"\ntitle = \"t\"\nthickness = 5\nframe = \"fixed\"\n"
	panel := sheet(`<g id="p"><path class="outline" d="M10 10h100v80h-100z"/></g>`)
	for name, c := range map[string]struct {
		drawing []byte
		toml    []byte
		spec    bool
	}{
		"unknown key":  {panel, append([]byte("x = 1\n"), specSheet("chest-girth = 900", good)...), true},
		"not TOML":     {panel, []byte("name"), true},
		"thickness":    {panel, specSheet("chest-girth = 900", good+"layer = 12\n"), true},
		"gap":          {panel, append([]byte("gap = 9\n"), specSheet("chest-girth = 900", good)...), true},
		"seam":         {panel, specSheet("chest-girth = 900", good+"[[seam]]\nname = \"s\"\na = \"p.x\"\nb = \"p.y\"\n"), true},
		"open outline": {sheet(`<g id="p"><path class="outline" d="M10 10h100v80h-80"/></g>`), specSheet("chest-girth = 900", good), false},
		"not SVG":      {[]byte("<html/>"), specSheet("chest-girth = 900", good), false},
		"hole":         {sheet(`<g id="p"><path class="outline" d="M10 10h100v80h-100z"/><circle class="drill" cx="11" cy="50" r="2"/></g>`), specSheet("chest-girth = 900", good), false},
	} {
		_, err := Parse(c.drawing, c.toml)
		var se *SpecError
		if err == nil || errors.As(err, &se) != c.spec {
			t.Errorf("%s: %v (%T)", name, err, err)
		}
	}
}
