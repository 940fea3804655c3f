package drawing

import (
	"encoding/json"
	"image"
	"image/color"
	_ "image/png"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"benchbell/quote/geom"
)

// compareRaster holds a rendering to a sheet: its size, dark dots along every whole line, and no dark dot farther than a
// stroke's half width and a dot from a line.
func compareRaster(t *testing.T, png string, s CutSheet, dots float64) {
	t.Helper()
	f, err := os.Open(png)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	img, _, err := image.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	w, h := int(math.Round(float64(s.Width)*dots)), int(math.Round(float64(s.Height)*dots))
	if b := img.Bounds(); b.Dx() != w || b.Dy() != h {
		t.Fatalf("rendered %d by %d dots, the sheet is %d by %d", b.Dx(), b.Dy(), w, h)
	}
	paths, err := toolpath(s)
	if err != nil {
		t.Fatal(err)
	}
	paths = append(paths, CutLine{Layer: Border, Points: geom.Path(s.edge()), Closed: true})
	near := make([]bool, w*h) // dots at which a line passes
	const reach = 0.3 + 0.25  // half the widest stroke, and a dot with its blurred neighbour
	for _, l := range paths {
		points := l.Points
		if l.Circle != nil {
			points = axisEllipse(l.Circle.Centre, float64(l.Circle.Radius), float64(l.Circle.Radius), 0).flatten()
		}
		if l.Closed {
			points = append(append(geom.Path(nil), points...), points[0])
		}
		for d, length := geom.MM(0), points.Length(); d < length; d += 0.05 {
			p, _ := points.At(d)
			x, y := p.X*dots, float64(h)-p.Y*dots
			if whole := l.Layer == Through || l.Layer == Inside; whole && x > 2 && y > 2 && x < float64(w)-2 && y < float64(h)-2 && !isDark(img.At(int(x), int(y))) {
				t.Fatalf("no line is drawn at %v on %s", p, l.Layer)
			}
			r := int(math.Ceil(reach * dots))
			for dy := -r; dy <= r; dy++ {
				for dx := -r; dx <= r; dx++ {
					if i, k := int(x)+dx, int(y)+dy; i >= 0 && k >= 0 && i < w && k < h {
						near[k*w+i] = true
					}
				}
			}
		}
	}
	for y := range h {
		for x := range w {
			if !near[y*w+x] && isDark(img.At(x, y)) {
				t.Fatalf("something is drawn at (%.1f, %.1f) where no line passes", float64(x)/dots, float64(h-y)/dots)
			}
		}
	}
}

func isDark(c color.Color) bool {
	r, g, b, _ := c.RGBA()
	return r+g+b < 3*0xffff*9/10
}

// ezdxf reads our DXF as we meant it: units, layers, closed polylines with every vertex, circles, labels with their
// alignment; and its auditor finds no error. Source: python3-ezdxf of Debian.
func TestCutDXFAgainstEzdxf(t *testing.T) {
	s := demoSheet()
	data, err := WriteDXF(s)
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "sheet.dxf")
	if err := os.WriteFile(file, data, 0o644); err != nil {
		t.Fatal(err)
	}
	var theirs struct {
		Version string
		Errors  []string
		Units   int
		Layers  []string
		Lines   []struct {
			Layer  string
			Closed bool
			Points [][2]float64
			Centre [2]float64
			Radius float64
		}
		Texts []struct {
			Value, Align string
			At           [2]float64
			Size, Turn   float64
		}
	}
	if err := json.Unmarshal(ezdxf(t, "testdata/cutfile/read.py", file), &theirs); err != nil {
		t.Fatal(err)
	}
	if theirs.Version != "AC1009" || len(theirs.Errors) != 0 || theirs.Units != 4 {
		t.Errorf("version %s, units %d, errors %q", theirs.Version, theirs.Units, theirs.Errors)
	}
	for _, l := range cutOrder {
		if !strings.Contains(strings.Join(theirs.Layers, " ")+" ", dxfName(l)+" ") {
			t.Errorf("layer %s is missing in %q", dxfName(l), theirs.Layers)
		}
	}
	want, err := toolpath(s)
	if err != nil {
		t.Fatal(err)
	}
	want = append(want, CutLine{Layer: Border, Points: geom.Path(s.edge()), Closed: true})
	if len(want) != len(theirs.Lines) {
		t.Fatalf("%d lines were written, %d read", len(want), len(theirs.Lines))
	}
	near := func(p geom.Point, q [2]float64) bool { return p.Dist(geom.Pt(q[0], q[1])) < 1e-4 }
	for i, l := range want {
		g := theirs.Lines[i]
		switch {
		case g.Layer != dxfName(l.Layer):
			t.Errorf("line %d is on %s, not %s", i, g.Layer, l.Layer)
		case l.Circle != nil:
			if !near(l.Circle.Centre, g.Centre) || math.Abs(float64(l.Circle.Radius)-g.Radius) > 1e-4 {
				t.Errorf("line %d: circle %v was read as %v, %v", i, *l.Circle, g.Centre, g.Radius)
			}
		case len(g.Points) != len(l.Points) || g.Closed != l.Closed:
			t.Errorf("line %d: %d points, closed %v; read as %d, %v", i, len(l.Points), l.Closed, len(g.Points), g.Closed)
		default:
			for k, p := range l.Points {
				if !near(p, g.Points[k]) {
					t.Errorf("line %d point %d: %v was read as %v", i, k, p, g.Points[k])
				}
			}
		}
	}
	for i, w := range s.Words {
		g := theirs.Texts[i]
		if g.Value != w.Value || g.Align != "MIDDLE_CENTER" || !near(w.At, g.At) || g.Size != float64(w.Size) || g.Turn != w.Turn {
			t.Errorf("label %+v was read as %+v", w, g)
		}
	}
}

// Another program reads our SVG and writes what it read as DXF, and that is the sheet again: same layers by name, same
// geometry, circles found in the curves and arcs that it makes of them. Source: testdata/cutfile/editor_*.dxf were written
// from demo.svg by the DXF export of Debian's Inkscape (/usr/share/inkscape/extensions/dxf_outlines.py --units=mm, with
// --POLY=true and with --ROBO=true); write them again that way when demo.svg changes.
func TestCutSVGThroughAnEditor(t *testing.T) {
	s := demoSheet()
	want, err := toolpath(s)
	if err != nil {
		t.Fatal(err)
	}
	want = append(want, CutLine{Layer: Border, Points: geom.Path(s.edge()), Closed: true})
	for _, name := range []string{"editor_poly", "editor_arcs"} {
		data, err := os.ReadFile(filepath.Join("testdata/cutfile", name+".dxf"))
		if err != nil {
			t.Fatal(err)
		}
		got := mustRead(t, data).Lines
		if len(got) != len(want) {
			t.Errorf("%s: %d lines were written, %d read", name, len(want), len(got))
		}
		for _, l := range want {
			ours := Line{Points: l.Points, Closed: l.Closed, Layer: string(l.Layer)}
			if l.Circle != nil {
				ours.Points = axisEllipse(l.Circle.Centre, float64(l.Circle.Radius), float64(l.Circle.Radius), 0).flatten()
			}
			found := false
			for _, g := range got {
				found = found || g.Layer == ours.Layer && g.Closed == ours.Closed && (g.Circle != nil) == (l.Circle != nil) && within(g, ours) && within(ours, g) &&
					(g.Circle == nil || math.Abs(float64(g.Circle.Radius-l.Circle.Radius)) < 0.005)
			}
			if !found {
				t.Errorf("%s: no line is that on layer %s of piece %q", name, l.Layer, l.Piece)
			}
		}
	}
}

// within reports whether every point of a lies on b, as near as two flattenings are.
func within(a, b Line) bool {
	for _, p := range a.Points {
		if distanceToLine(p, b) > 2*float64(Flatness) {
			return false
		}
	}
	return true
}
