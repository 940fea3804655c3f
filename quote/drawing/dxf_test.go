package drawing

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"benchbell/quote/gaugetest"
	"benchbell/quote/geom"
)

// dxfText writes groups: codes and values by turns.
func dxfText(groups ...any) string {
	var b strings.Builder
	for i := 0; i+1 < len(groups); i += 2 {
		fmt.Fprintf(&b, "%3v\r\n%v\r\n", groups[i], groups[i+1])
	}
	return b.String()
}

// dxfOf is a file in millimetres with the entities given as groups.
func dxfOf(entities ...any) []byte {
	return []byte(dxfText(0, "SECTION", 2, "HEADER", 9, "$INSUNITS", 70, 4, 0, "ENDSEC", 0, "SECTION", 2, "ENTITIES") +
		dxfText(entities...) + dxfText(0, "ENDSEC", 0, "EOF"))
}

func mustRead(t interface{ Fatalf(string, ...any) }, data []byte) *Drawing {
	d, err := Read(data)
	if err != nil {
		t.Fatalf("%v", err)
	}
	return d
}

// summary prints what a drawing says, to be compared with a golden file.
func summary(d *Drawing) string {
	var b strings.Builder
	for _, l := range d.Lines {
		length := l.Points.Length()
		if l.Closed {
			length = geom.Ring(l.Points).Perimeter()
		}
		box := l.Points.Bounds()
		fmt.Fprintf(&b, "%s: layer %s, %d points, closed %v, length %.3f, from (%.3f, %.3f) to (%.3f, %.3f), stroke %q, dashed %v, hidden %v",
			l.At, l.Layer, len(l.Points), l.Closed, float64(length), box.Min.X, box.Min.Y, box.Max.X, box.Max.Y, l.Stroke, l.Dashed, l.Hidden)
		if l.Circle != nil {
			fmt.Fprintf(&b, ", circle (%.3f, %.3f) radius %.3f", l.Circle.Centre.X, l.Circle.Centre.Y, float64(l.Circle.Radius))
		}
		for _, g := range l.Groups {
			fmt.Fprintf(&b, ", in %s %q", g.Label, g.ID)
		}
		b.WriteByte('\n')
	}
	for _, t := range d.Texts {
		fmt.Fprintf(&b, "%s: %q at (%.3f, %.3f), layer %s\n", t.At, t.Value, t.Place.X, t.Place.Y, t.Layer)
	}
	for _, n := range d.Notes {
		fmt.Fprintf(&b, "note: %s\n", n)
	}
	return b.String()
}

// Files written by another program (python3-ezdxf of Debian) in R12 and 2000 read as they did when they were checked
// against that program's own flattening (TestDXFAgainstEzdxf).
func TestReadDXFGolden(t *testing.T) {
	for _, name := range []string{"r12", "r2000"} {
		data, err := os.ReadFile(filepath.Join("testdata/dxf", name+".dxf"))
		if err != nil {
			t.Fatal(err)
		}
		gaugetest.Golden(t, filepath.Join("testdata/dxf", name+".golden"), []byte(summary(mustRead(t, data))))
		if crlf := []byte(strings.ReplaceAll(string(data), "\n", "\r\n")); summary(mustRead(t, crlf)) != summary(mustRead(t, data)) {
			t.Errorf("%s: lines that end in CRLF read otherwise", name)
		}
		if cr := []byte(strings.ReplaceAll(string(data), "\n", "\r")); summary(mustRead(t, cr)) != summary(mustRead(t, data)) {
			t.Errorf("%s: lines that end in CR read otherwise", name)
		}
	}
}

// Units by $INSUNITS (the published header reference; the inch and foot by NIST SP 811, app. B), and what is assumed
// without it.
func TestDXFUnits(t *testing.T) {
	file := func(header ...any) []byte {
		return []byte(dxfText(0, "SECTION", 2, "HEADER") + dxfText(header...) + dxfText(0, "ENDSEC", 0, "SECTION", 2, "ENTITIES",
			0, "LINE", 8, "0", 10, 0, 20, 0, 11, 10, 21, 0, 0, "ENDSEC", 0, "EOF"))
	}
	for _, c := range []struct {
		header []any
		length float64
		note   string
	}{
		{[]any{9, "$INSUNITS", 70, 1}, 254, ""},
		{[]any{9, "$INSUNITS", 70, 2}, 3048, ""},
		{[]any{9, "$INSUNITS", 70, "     4"}, 10, ""},
		{[]any{9, "$INSUNITS", 70, 5}, 100, ""},
		{[]any{9, "$INSUNITS", 70, 6}, 10000, ""},
		{[]any{9, "$INSUNITS", 70, 0, 9, "$MEASUREMENT", 70, 0}, 254, "inches are assumed"},
		{[]any{9, "$INSUNITS", 70, 0, 9, "$MEASUREMENT", 70, 1}, 10, "millimetres are assumed"},
		{nil, 10, "millimetres are assumed"},
	} {
		d := mustRead(t, file(c.header...))
		if got := float64(d.Lines[0].Points.Length()); math.Abs(got-c.length) > 1e-9 {
			t.Errorf("%v: %v mm, want %v", c.header, got, c.length)
		}
		if notes := strings.Join(d.Notes, "; "); !strings.Contains(notes, c.note) || (c.note == "") != (notes == "") {
			t.Errorf("%v: notes %q", c.header, notes)
		}
	}
	if _, err := Read(file(9, "$INSUNITS", 70, 20)); err == nil || !strings.Contains(err.Error(), "set them to millimetres or inches") {
		t.Errorf("parsecs: %v", err)
	}
}

// A bulge is the tangent of a quarter of its arc's angle, positive counter-clockwise (published reference, LWPOLYLINE):
// every point of the drawn arc is one radius from one centre, the radius is chord·(1+b²)/4|b|, and the arc bulges to
// the right of the chord for a positive bulge.
func TestBulgeIsAnArc(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := rapid.Float64Range(-400, 400)
		p, q := geom.Pt(f.Draw(t, "x"), f.Draw(t, "y")), geom.Pt(f.Draw(t, "x"), f.Draw(t, "y"))
		b := rapid.Float64Range(0.05, 3).Draw(t, "bulge")
		if rapid.Bool().Draw(t, "clockwise") {
			b = -b
		}
		chord := q.Sub(p)
		if chord.Norm() < 1 {
			t.Skip("no chord")
		}
		d := mustRead(t, dxfOf(0, "LWPOLYLINE", 8, "0", 90, 2, 70, 0, 10, p.X, 20, p.Y, 42, b, 10, q.X, 20, q.Y))
		got := d.Lines[0].Points
		if got[0] != p || got[len(got)-1] != q {
			t.Fatalf("runs from %v to %v, not from %v to %v", got[0], got[len(got)-1], p, q)
		}
		radius := chord.Norm() * (1 + b*b) / (4 * math.Abs(b))
		sagitta := b * chord.Norm() / 2 // to the right of the chord
		top := p.Lerp(q, 0.5).Sub(chord.Unit().Perp().Mul(sagitta))
		centre := top.Add(chord.Unit().Perp().Mul(math.Copysign(radius, b)))
		length := 0.0
		for i, g := range got {
			if off := g.Dist(centre) - radius; math.Abs(off) > 1e-6*radius {
				t.Fatalf("point %d is %v off the arc", i, off)
			}
			if i > 0 {
				length += g.Dist(got[i-1])
			}
		}
		if want := radius * 4 * math.Atan(math.Abs(b)); math.Abs(length-want) > 0.02*want {
			t.Fatalf("%v mm long, the arc is %v", length, want)
		}
	})
}

// A clamped spline of degree n with n+1 control points is their Bézier curve (Bernstein form), of any degree; a
// quarter circle is the quadratic rational one with weights 1, √½, 1 (Piegl and Tiller, The NURBS Book, 7.3). The
// polyline's points lie on the curve and the curve within Flatness of the polyline.
func TestSplineIsBezier(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, maxDegree).Draw(t, "degree")
		groups := []any{0, "SPLINE", 8, "0", 70, 8, 71, n}
		for range n + 1 {
			groups = append(groups, 40, 0)
		}
		for range n + 1 {
			groups = append(groups, 40, 2.5)
		}
		cs := make([]geom.Point, n+1)
		for i := range cs {
			cs[i] = geom.Pt(rapid.Float64Range(-200, 200).Draw(t, "x"), rapid.Float64Range(-200, 200).Draw(t, "y"))
			groups = append(groups, 10, cs[i].X, 20, cs[i].Y, 30, 0)
		}
		d := mustRead(t, dxfOf(groups...))
		if len(d.Lines) == 0 {
			t.Skip("no length")
		}
		l := d.Lines[0]
		for i := range 33 {
			u := float64(i) / 32
			var p geom.Point
			for k, c := range cs {
				p = p.Add(c.Mul(float64(choose(n, k)) * math.Pow(u, float64(k)) * math.Pow(1-u, float64(n-k))))
			}
			if off := distanceToLine(p, l); off > float64(Flatness)+1e-6 {
				t.Fatalf("the curve at %v is %v mm off the polyline", u, off)
			}
		}
	})
	d := mustRead(t, dxfOf(0, "SPLINE", 8, "0", 70, 12, 71, 2, 40, 0, 40, 0, 40, 0, 40, 1, 40, 1, 40, 1,
		41, 1, 41, math.Sqrt(0.5), 41, 1, 10, 50, 20, 0, 10, 50, 20, 50, 10, 0, 20, 50))
	for _, p := range d.Lines[0].Points {
		if math.Abs(p.Norm()-50) > 1e-9 {
			t.Errorf("%v is %v off the circle", p, p.Norm()-50)
		}
	}
}

func choose(n, k int) int {
	if k == 0 {
		return 1
	}
	return choose(n-1, k-1) * n / k
}

func distanceToLine(p geom.Point, l Line) float64 {
	d := math.Inf(1)
	for i := range l.Points {
		if i+1 == len(l.Points) && !l.Closed {
			break
		}
		d = math.Min(d, float64(geom.SegmentDistance(l.Points[i], l.Points[(i+1)%len(l.Points)], p, p)))
	}
	return d
}

// A curve through points passes them, and the closed one has no corner where it begins.
func TestSplineThroughPoints(t *testing.T) {
	ps := []geom.Point{geom.Pt(0, 0), geom.Pt(40, 10), geom.Pt(60, 50), geom.Pt(20, 70), geom.Pt(-20, 40)}
	groups := []any{0, "SPLINE", 8, "0", 70, 1, 71, 3}
	for _, p := range ps {
		groups = append(groups, 11, p.X, 21, p.Y)
	}
	d := mustRead(t, dxfOf(groups...))
	l := d.Lines[0]
	for _, p := range ps {
		if off := distanceToLine(p, l); off > 1e-9 {
			t.Errorf("%v is passed at %v mm", p, off)
		}
	}
	n := len(l.Points)
	in, out := l.Points[0].Sub(l.Points[n-1]).Unit(), l.Points[1].Sub(l.Points[0]).Unit()
	if turn := math.Acos(in.Dot(out)); !l.Closed || turn > 0.1 {
		t.Errorf("closed %v, turns by %v at its start", l.Closed, turn)
	}
	if len(d.Notes) != 1 || !strings.Contains(d.Notes[0], "natural cubic curves") {
		t.Errorf("notes %q", d.Notes)
	}
}

// Fit vertices stand in for a spline-fit polyline's frame; layers, blocks, colours and escapes resolve as the
// reference says.
func TestDXFResolves(t *testing.T) {
	text := dxfText(999, "written by hand for this test", 0, "SECTION", 2, "HEADER", 9, "$INSUNITS", 70, 4, 0, "ENDSEC",
		0, "SECTION", 2, "TABLES", 0, "TABLE", 2, "LTYPE", 0, "LTYPE", 2, "SOLID", 73, 0, 0, "LTYPE", 2, "Gap", 73, 2, 0, "ENDTAB",
		0, "TABLE", 2, "LAYER", 0, "LAYER", 2, `Au\U+00DFen`, 70, 0, 62, 3, 6, "SOLID", 0, "LAYER", 2, "off", 70, 0, 62, -1, 6, "GAP",
		0, "LAYER", 2, "cold", 70, 1, 62, 1, 6, "Continuous", 0, "ENDTAB", 0, "ENDSEC",
		0, "SECTION", 2, "BLOCKS", 0, "BLOCK", 8, "0", 2, "part", 10, 5, 20, 0,
		0, "LINE", 8, "0", 62, 0, 6, "BYBLOCK", 10, 5, 20, 0, 11, 15, 21, 0, 0, "ENDBLK", 0, "ENDSEC",
		0, "SECTION", 2, "ENTITIES",
		0, "INSERT", 8, `AU\U+00DFEN`, 2, "PART", 62, 6, 6, "gap", 10, 100, 20, 0, 50, 90,
		0, "INSERT", 8, "cold", 2, "PART", 10, 0, 20, 0,
		0, "INSERT", 8, "0", 2, "elsewhere", 10, 0, 20, 0,
		0, "LINE", 8, "OFF", 10, 0, 20, 9, 11, 9, 21, 9,
		0, "LINE", 8, "new", 60, 1, 420, 0x12ab34, 10, 0, 20, 8, 11, 9, 21, 8,
		0, "LINE", 67, 1, 8, "0", 10, 0, 20, 7, 11, 9, 21, 7,
		0, "LINE", 8, "0", 210, 0.5, 230, 0.5, 10, 0, 20, 6, 11, 9, 21, 6,
		0, "CIRCLE", 8, "0", 210, 0.5, 220, 0, 230, 0.5, 10, 0, 20, 6, 40, 5,
		0, "POLYLINE", 66, 1, 8, "0", 70, 4, 0, "VERTEX", 70, 16, 10, 0, 20, 0, 0, "VERTEX", 70, 8, 10, 1, 20, 30, 0, "VERTEX", 70, 16, 10, 9, 20, 99,
		0, "VERTEX", 70, 8, 10, 20, 20, 30, 0, "SEQEND",
		0, "POLYLINE", 66, 1, 8, "0", 70, 64, 0, "VERTEX", 70, 192, 10, 0, 20, 0, 0, "SEQEND",
		0, "TEXT", 8, "0", 10, 1, 20, 2, 11, 3, 21, 4, 72, 1, 1, `Gr\U+00F6\U+00DFe %%c5 %%p1 %%u10%% %%065`,
		0, "MTEXT", 8, "0", 10, 1, 20, 2, 3, `{\fArial|b0;back} \H2.5x;of\P`, 1, `the \Lguard\l \\ \S3#4; \{a\}`,
		0, "ENDSEC", 0, "EOF")
	d := mustRead(t, []byte(text))
	gaugetest.Golden(t, "testdata/dxf/resolves.golden", []byte(summary(d)))
	latin := strings.ReplaceAll(text, `Au\U+00DFen`, "Au\xdfen")
	if got := summary(mustRead(t, []byte(latin))); got != summary(d) {
		t.Errorf("a layer's name in the code page reads otherwise:\n%s", got)
	}
}

// A circle is a circle however it is written: as an entity, as two half circles, as loose arcs, as four cubic curves; a
// polygon of as many points and an oval are none.
func TestRoundLinesAreCircles(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := geom.Pt(rapid.Float64Range(-300, 300).Draw(t, "x"), rapid.Float64Range(-300, 300).Draw(t, "y"))
		r := rapid.Float64Range(0.5, 60).Draw(t, "radius")
		start := rapid.Float64Range(0, 360).Draw(t, "start")
		at := func(deg, k float64) geom.Point {
			sin, cos := geom.SinCosDeg(start + deg)
			return c.Add(geom.Pt(cos*k, sin*k))
		}
		var arcs, curves, polygon, oval []any
		polygon = append(polygon, 0, "LWPOLYLINE", 70, 1)
		oval = append(oval, 0, "ELLIPSE", 10, c.X, 20, c.Y, 11, r, 21, 0, 40, 1-0.2/r)
		for i := range 3 {
			arcs = append(arcs, 0, "ARC", 10, c.X, 20, c.Y, 40, r, 50, start+120*float64(i), 51, start+120*float64(i+1))
		}
		const k = 0.5522847498 // of the radius: the handles of a quarter circle
		for i := range 4 {
			a := 90 * float64(i)
			p, q := at(a, r), at(a+90, r)
			curves = append(curves, 0, "SPLINE", 71, 3, 40, 0, 40, 0, 40, 0, 40, 0, 40, 1, 40, 1, 40, 1, 40, 1)
			for _, v := range []geom.Point{p, p.Add(at(a+90, k*r).Sub(c)), q.Add(at(a, k*r).Sub(c)), q} {
				curves = append(curves, 10, v.X, 20, v.Y)
			}
		}
		for i := range 10 {
			p := at(36*float64(i), r+4)
			polygon = append(polygon, 10, p.X, 20, p.Y)
		}
		for name, entities := range map[string][]any{"arcs": arcs, "curves": curves} {
			d := mustRead(t, dxfOf(entities...))
			if len(d.Lines) != 1 || d.Lines[0].Circle == nil {
				t.Fatalf("%s: %d lines, no circle", name, len(d.Lines))
			}
			if g := d.Lines[0].Circle; g.Centre.Dist(c) > 0.01 || math.Abs(float64(g.Radius)-r) > 0.0004*r+1e-6 {
				t.Fatalf("%s: circle %v for centre %v, radius %v", name, *g, c, r)
			}
		}
		for name, entities := range map[string][]any{"polygon": polygon, "oval": oval} {
			if d := mustRead(t, dxfOf(entities...)); d.Lines[0].Circle != nil {
				t.Fatalf("%s: taken for circle %v", name, *d.Lines[0].Circle)
			}
		}
	})
}
