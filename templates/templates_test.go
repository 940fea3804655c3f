package templates_test

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"benchbell/quote/foam"
	"benchbell/quote/geom"
	"benchbell/quote/pattern"
	"benchbell/templates"
)

var dump = flag.String("dump", "", "folder to write a contact picture of each set to (SVG)")

func load(t testing.TB, name string) *pattern.Set {
	t.Helper()
	svg, toml, err := templates.Source(name)
	if err != nil {
		t.Fatal(err)
	}
	s, err := pattern.Parse(svg, toml)
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return s
}

func sides(s *pattern.Set) []foam.Side {
	if s.Sided {
		return []foam.Side{foam.Right, foam.Left}
	}
	return []foam.Side{foam.NoSide}
}

func TestSetsParse(t *testing.T) {
	if n := len(templates.Sets()); n < 11 {
		t.Errorf("%d sets, want at least 11", n)
	}
	for _, name := range templates.Sets() {
		s := load(t, name)
		if s.Name != name {
			t.Errorf("folder %s holds set %s", name, s.Name)
		}
		g, err := s.Grade(s.BaseFit(sides(s)[0]))
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if n := len(g.Pieces); n < 10 || n > 60 {
			t.Errorf("%s has %d pieces", name, n)
		}
		t.Logf("%s: %d pieces, %d seams, hardware %v, notes %v", name, len(g.Pieces), len(g.Seams), g.Hardware, g.Notes)
		if *dump != "" {
			writeContact(t, filepath.Join(*dump, name+".svg"), g)
		}
	}
}

func TestUnknownSet(t *testing.T) {
	if _, _, err := templates.Source("../go.mod"); err == nil || !strings.Contains(err.Error(), "forearm-cuff") {
		t.Fatalf("got %v, want an error that lists the sets", err)
	}
}

// writeContact draws all pieces in rows, one copy each; a picture to look at, checked by no test.
func writeContact(t *testing.T, file string, g foam.Graded) {
	t.Helper()
	var b strings.Builder
	x, y, row, wide := 20.0, 30.0, 0.0, 0.0
	for _, p := range g.Pieces {
		if p.Copy > 2 || (p.Copy == 2 && !p.Mirrored) {
			continue
		}
		bb := p.Shape.Bounds()
		w, h := float64(bb.Width()), float64(bb.Height())
		if x+w > 1180 {
			x, y, row = 20, y+row+30, 0
		}
		at := func(q geom.Point) string { return fmt.Sprintf("%.2f,%.2f ", q.X-bb.Min.X+x, bb.Max.Y-q.Y+y) }
		line := func(path []geom.Point, tag, style string) {
			fmt.Fprintf(&b, `<%s style="%s" points="`, tag, style)
			for _, q := range path {
				b.WriteString(at(q))
			}
			b.WriteString("\"/>\n")
		}
		line(p.Shape.Outer, "polygon", "fill:#eef;stroke:#000;stroke-width:1")
		for _, hl := range p.Shape.Holes {
			line(hl, "polygon", "fill:#fff;stroke:#000;stroke-width:.8")
		}
		for _, s := range p.Scores {
			line(s, "polyline", "fill:none;stroke:#c00;stroke-width:.8")
		}
		for _, m := range p.Marks {
			line(m.Path, "polyline", "fill:none;stroke:#090;stroke-width:.8")
		}
		fmt.Fprintf(&b, `<text x="%.1f" y="%.1f" font-size="9">%s %.0f mm</text>`+"\n", x, y-4, p.ID, float64(p.Thickness))
		x += max(w, 5*float64(len(p.ID)+5)) + 25 // room for the name
		row, wide = max(row, h), max(wide, x)
	}
	head := fmt.Sprintf(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1200 %.0f" width="1200" height="%.0f">`+"\n", y+row+20, y+row+20)
	if err := os.WriteFile(file, []byte(head+b.String()+"</svg>\n"), 0o644); err != nil {
		t.Fatal(err)
	}
}
