package pattern

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"benchbell/quote/foam"
)

// A disc of slant 200 mm closes over a dart to a cone: half-angle and height by sin a = 1 − d/2π (elementary geometry
// of the developed cone; values from a check sheet computed outside this tree).
func TestConeFromDart(t *testing.T) {
	for _, v := range []struct{ dart, half, height float64 }{
		{15, 73.4022, 57.1305}, {30, 66.4435, 79.9305}, {45, 61.045, 96.8246}, {60, 56.4427, 110.5542},
		{90, 48.5904, 132.2876}, {120, 41.8103, 149.0712}, {180, 30, 173.2051}, {270, 14.4775, 193.6492},
	} {
		s := disc(t, v.dart, "")
		g, err := s.Grade(s.BaseFit(foam.NoSide))
		if err != nil {
			t.Fatal(err)
		}
		if d := g.Domes[0]; math.Abs(d.Angle-v.dart) > 1e-4 || math.Abs(d.Cone-v.half) > 1e-3 || math.Abs(float64(d.Depth)-v.height) > 1e-2 || d.Piece != "disc" {
			t.Errorf("dart %g°: %+v, want half-angle %.4f and depth %.4f", v.dart, d, v.half, v.height)
		}
	}
}

// disc is a disc of 200 mm radius with a dart to its middle, open to the bottom.
func disc(t testing.TB, dart float64, extra string) *Set {
	var b strings.Builder
	point := func(deg float64) string {
		sin, cos := math.Sincos(deg * math.Pi / 180)
		return fmt.Sprintf("%.9f,%.9f ", 400+200*cos, 500-200*sin)
	}
	for i := range 91 {
		b.WriteString(point(-90 + dart/2 + (360-dart)*float64(i)/90))
	}
	b.WriteString("400,500")
	mark := func(name, at string) string {
		x, y, _ := strings.Cut(strings.TrimSpace(at), ",")
		return fmt.Sprintf(`<circle class="point" data-name="%s" cx="%s" cy="%s" r="1"/>`, name, x, y)
	}
	return parse(t, sheet(`<g id="disc"><polygon class="outline" points="`+b.String()+`"/>`+
		mark("a", point(-90-dart/2))+mark("b", point(-90+dart/2))+mark("t", "400,500")+`</g>`),
		specSheet("chest-girth = 900", `BASE
[[piece]]
id = "disc"
title = "Disc"
thickness = 5
edges = { la = ["a", "t"], lb = ["t", "b"] }
[[piece.section]]
at = 0
measure = "chest-girth"
bend = 0
[[dart]]
name = "middle"
a = "disc.la"
b = "disc.lb"
`+extra))
}

// A warning is given if grading bends a dart out of its range; a drawing outside its own range is refused.
func TestDartRange(t *testing.T) {
	s := disc(t, 30, "least = 25\nmost = 35\n")
	f := s.BaseFit(foam.NoSide)
	f.Body["chest-girth"] = 1000
	g, err := s.Grade(f)
	if err != nil || len(g.Notes) != 0 {
		t.Fatalf("%v, notes %q", err, g.Notes)
	}
	f.Body["chest-girth"] = 1200
	g, err = s.Grade(f)
	if err != nil || len(g.Notes) != 1 || !contains(g.Notes[0], "piece disc", `dart "middle"`, "outside its range of 25° to 35°") {
		t.Fatalf("%v, notes %q", err, g.Notes)
	}
	r := s.seams[0]
	most := 20.0
	if err := r.setRange(dartDoc{Most: &most}); err == nil || !contains(err.Error(), "drawn at 30.0°") {
		t.Fatalf("got %v, want the drawn angle", err)
	}
}

// closedBody is the sum of all curvature of pieces that are sewn to a closed body, in degrees, and its Euler number
// V − E + F: angle defects where corners meet (360° less the pieces' own angles there), and, along each seam, by how much
// both edges together turn more than they would on a flat sheet.
func closedBody(s *Set, workpieces []*workpiece) (total float64, euler int) {
	type corner struct{ piece, vertex int }
	root := map[corner]corner{}
	var find func(c corner) corner
	find = func(c corner) corner {
		if r, ok := root[c]; ok && r != c {
			return find(r)
		}
		return c
	}
	corners := map[corner]bool{}
	for _, r := range s.seams {
		a, b := r.a.edges[r.edgeA], r.b.edges[r.edgeB]
		for _, j := range [][2]corner{{{r.a.index, a.from}, {r.b.index, b.to}}, {{r.a.index, a.to}, {r.b.index, b.from}}} {
			corners[j[0]], corners[j[1]] = true, true
			root[find(j[0])] = find(j[1])
		}
	}
	defect := map[corner]float64{}
	inner := func(w *workpiece, i int) float64 {
		n := len(w.outer)
		return wedge(w.outer[(i+1)%n], w.outer[i], w.outer[(i+n-1)%n])
	}
	for c := range corners {
		k := find(c)
		if _, ok := defect[k]; !ok {
			defect[k] = 360
		}
		defect[k] -= inner(workpieces[c.piece], workpieces[c.piece].at[c.vertex])
	}
	for _, d := range defect {
		total += d
	}
	for _, w := range workpieces {
		corner := map[int]bool{}
		for _, e := range w.p.edges {
			corner[w.at[e.from]], corner[w.at[e.to]] = true, true
		}
		for i := range w.outer {
			if !corner[i] {
				total += 180 - inner(w, i) // an edge that turns inwards carries its share of the curvature
			}
		}
	}
	return total, len(defect) - len(s.seams) + len(s.parts)
}

// Gauss–Bonnet for a closed body without handles: all curvature adds up to 4π = 720°, V − E + F = 2 (Descartes' theorem
// of total angle defect for a polyhedron: a cube's eight corners have 90° each).
func TestGaussBonnet(t *testing.T) {
	for name, s := range map[string]*Set{"cube": cube(t), "helmet with a base": helmetWithBase(t)} {
		workpieces := make([]*workpiece, len(s.parts))
		for i, p := range s.parts {
			workpieces[i] = graded(t, s, p, s.BaseFit(foam.NoSide))
		}
		total, euler := closedBody(s, workpieces)
		if euler != 2 || math.Abs(total-360*float64(euler)) > 1e-6 {
			t.Errorf("%s: curvature %.6f° with V − E + F = %d, want 720° and 2", name, total, euler)
		}
	}
	// One corner of each regular solid: defect times vertices is 720° (Descartes).
	for _, v := range []struct{ vertices, faces, angle, defect float64 }{{4, 3, 60, 180}, {6, 4, 60, 120}, {8, 3, 90, 90}, {12, 5, 60, 60}, {20, 3, 108, 36}} {
		s := pyramid(t, int(v.faces), v.angle)
		g, err := s.Grade(s.BaseFit(foam.NoSide))
		if err != nil {
			t.Fatal(err)
		}
		if d := g.Domes[0].Angle; math.Abs(d-v.defect) > 1e-4 || math.Abs(d*v.vertices-720) > 1e-2 {
			t.Errorf("%g faces of %g° leave %.5f° open, want %g°", v.faces, v.angle, d, v.defect)
		}
	}
}

// pyramid is the faces about one corner of a solid, as triangles of the face's angle.
func pyramid(t testing.TB, faces int, angle float64) *Set {
	half := 100 * math.Tan(angle/2*math.Pi/180)
	return parse(t, sheet(fmt.Sprintf(`<g id="face"><polygon class="outline" points="%.9f,500 300,400 %.9f,500"/><circle class="point" data-name="top" cx="300" cy="400" r="1"/></g>`, 300-half, 300+half)),
		specSheet("head-girth = 560", fmt.Sprintf("BASE\n[[piece]]\nid = \"face\"\ntitle = \"t\"\nthickness = 5\nframe = \"fixed\"\ncopies = %d\n[[dome]]\nname = \"corner\"\npieces = [\"face\"]\napex = \"top\"\n", faces)))
}

// flatSet is fixed pieces by polygon, every corner named, every side an edge "0", "1", …
func flatSet(t testing.TB, pieces map[string][][2]float64, order []string, seams [][2]string) *Set {
	var svg []string
	toml := "BASE\n"
	for _, id := range order {
		var pts, marks, edges strings.Builder
		n := len(pieces[id])
		for i, c := range pieces[id] {
			fmt.Fprintf(&pts, "%.9f,%.9f ", c[0], c[1])
			fmt.Fprintf(&marks, `<circle class="point" data-name="c%d" cx="%.9f" cy="%.9f" r="1"/>`, i, c[0], c[1])
			fmt.Fprintf(&edges, "e%d = [\"c%d\", \"c%d\"], ", i, i, (i+1)%n)
		}
		svg = append(svg, fmt.Sprintf(`<g id="%s"><polygon class="outline" points="%s"/>%s</g>`, id, pts.String(), marks.String()))
		toml += fmt.Sprintf("[[piece]]\nid = \"%s\"\ntitle = \"t\"\nthickness = 5\nframe = \"fixed\"\nedges = { %s }\n", id, strings.TrimSuffix(edges.String(), ", "))
	}
	for i, s := range seams {
		toml += fmt.Sprintf("[[seam]]\nname = \"s%d\"\na = \"%s\"\nb = \"%s\"\n", i, s[0], s[1])
	}
	return parse(t, sheet(svg...), specSheet("head-girth = 560", toml))
}

// cube: a bottom, four walls with edges counter-clockwise as seen (e0 right side, e1 top, e2 left side, e3 foot), a lid.
func cube(t testing.TB) *Set {
	pieces := map[string][][2]float64{}
	order := []string{"bottom", "w0", "w1", "w2", "w3", "lid"}
	for i, id := range order {
		x := 20 + 120*float64(i)
		pieces[id] = [][2]float64{{x + 100, 200}, {x + 100, 100}, {x, 100}, {x, 200}}
	}
	var seams [][2]string
	for i := range 4 {
		seams = append(seams,
			[2]string{fmt.Sprintf("w%d.e0", i), fmt.Sprintf("w%d.e2", (i+1)%4)},
			[2]string{fmt.Sprintf("w%d.e3", i), fmt.Sprintf("bottom.e%d", (4-i)%4)},
			[2]string{fmt.Sprintf("w%d.e1", i), fmt.Sprintf("lid.e%d", i)})
	}
	return flatSet(t, pieces, order, seams)
}

// helmetWithBase: six gores with curved sides, sewn to one another and to a hexagon whose sides are as long as the rims.
func helmetWithBase(t testing.TB) *Set {
	const n, r = 6, 100.0
	var svg []string
	toml := "BASE\n"
	for i := range n {
		svg = append(svg, sphereGore(fmt.Sprintf("g%d", i), n, r, 80+130*float64(i), 400))
		toml += fmt.Sprintf("[[piece]]\nid = \"g%d\"\ntitle = \"t\"\nthickness = 5\nframe = \"fixed\"\nedges = { right = [\"r\", \"apex\"], left = [\"apex\", \"l\"], rim = [\"l\", \"r\"] }\n", i)
	}
	side := 2 * math.Pi * r / n // of the hexagon, which is also its radius
	var pts, marks, edges strings.Builder
	for i := range n {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / n)
		x, y := 400+side*cos, 700-side*sin
		fmt.Fprintf(&pts, "%.9f,%.9f ", x, y)
		fmt.Fprintf(&marks, `<circle class="point" data-name="c%d" cx="%.9f" cy="%.9f" r="1"/>`, i, x, y)
		fmt.Fprintf(&edges, "e%d = [\"c%d\", \"c%d\"], ", i, i, (i+1)%n)
	}
	svg = append(svg, `<g id="base"><polygon class="outline" points="`+pts.String()+`"/>`+marks.String()+`</g>`)
	toml += "[[piece]]\nid = \"base\"\ntitle = \"t\"\nthickness = 5\nframe = \"fixed\"\nedges = { " + strings.TrimSuffix(edges.String(), ", ") + " }\n"
	for i := range n {
		toml += fmt.Sprintf("[[seam]]\nname = \"m%d\"\na = \"g%d.right\"\nb = \"g%d.left\"\n", i, i, (i+1)%n)
		toml += fmt.Sprintf("[[seam]]\nname = \"r%d\"\na = \"g%d.rim\"\nb = \"base.e%d\"\n", i, i, (n-i)%n)
	}
	return parse(t, sheet(svg...), specSheet("head-girth = 560", toml))
}
