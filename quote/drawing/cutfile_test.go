package drawing

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"benchbell/quote/gaugetest"
	"benchbell/quote/geom"
)

// demoSheet is a sheet with every kind of line, two invented pieces on it.
func demoSheet() CutSheet {
	shape := func(x, y, r float64, n int, squash float64) geom.Path {
		var p geom.Path
		for i := range n {
			sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(n))
			p = append(p, geom.Pt(x+r*cos, y+squash*r*sin))
		}
		return p
	}
	rect := func(x, y, w, h float64) geom.Path {
		return geom.Path{geom.Pt(x, y), geom.Pt(x+w, y), geom.Pt(x+w, y+h), geom.Pt(x, y+h)}
	}
	return CutSheet{
		Title: "C0007 r2 sheet 1 of 3, 10 mm", Width: 600, Height: 400, Kerf: 2,
		Lines: []CutLine{
			{Layer: Through, Closed: true, Piece: "Shin guard L", Points: shape(420, 200, 120, 90, 1.3)},
			{Layer: Inside, Closed: true, Piece: "Shin guard L", Points: rect(400, 300, 40, 6)},
			{Layer: Inside, Closed: true, Piece: "Shin guard L", Circle: &Circle{geom.Pt(350, 200), 4}},
			{Layer: Pen, Piece: "Shin guard L", Points: geom.Path{geom.Pt(420, 100), geom.Pt(420, 130), geom.Pt(430, 140)}},
			{Layer: Through, Closed: true, Piece: "Cuff <outer> & lining", Points: geom.Path{geom.Pt(20, 20), geom.Pt(240, 40), geom.Pt(240, 180), geom.Pt(130, 120), geom.Pt(20, 180)}},
			{Layer: Inside, Closed: true, Piece: "Cuff <outer> & lining", Circle: &Circle{geom.Pt(40, 50), 2.5}},
			{Layer: Inside, Closed: true, Piece: "Cuff <outer> & lining", Circle: &Circle{geom.Pt(220, 60), 2.5}},
			{Layer: PartWay, Piece: "Cuff <outer> & lining", Points: geom.Path{geom.Pt(130, 40), geom.Pt(130, 110)}},
		},
		Words: []CutWords{
			{At: geom.Pt(90, 90), Size: 8, Turn: 0, Value: "Cuff <outer> & lining"},
			{At: geom.Pt(420, 200), Size: 12, Turn: 60, Value: "Shin guard L, Größe 2, 50 %"},
		},
	}
}

// The demo sheet's files stay as they were when somebody looked at them.
func TestCutFilesGolden(t *testing.T) {
	svg, err := WriteSVG(demoSheet())
	if err != nil {
		t.Fatal(err)
	}
	gaugetest.Golden(t, "testdata/cutfile/demo.svg", svg)
	dxf, err := WriteDXF(demoSheet())
	if err != nil {
		t.Fatal(err)
	}
	gaugetest.Golden(t, "testdata/cutfile/demo.dxf", dxf)
}

// drawSheet draws a sheet of stars with holes, scores, marks and labels, each in a field of its own.
func drawSheet(t *rapid.T) CutSheet {
	s := CutSheet{Title: "a sheet", Width: 4000, Height: 1500, Kerf: geom.MM(rapid.SampledFrom([]float64{0, 0.2, 1.5}).Draw(t, "kerf"))}
	for i := range rapid.IntRange(1, 4).Draw(t, "pieces") {
		by := geom.Pt(900*float64(i), rapid.Float64Range(0, 400).Draw(t, "dy"))
		piece := fmt.Sprintf("Piece %d & more", i)
		r := star(t)
		for k := range r {
			r[k] = r[k].Add(by)
		}
		c := geom.Placement{Move: by}.Apply(geom.Pt(10, 10))
		s.Lines = append(s.Lines,
			CutLine{Layer: Through, Closed: true, Points: geom.Path(r), Piece: piece},
			CutLine{Layer: Inside, Closed: true, Circle: &Circle{c, geom.MM(rapid.Float64Range(1, 9).Draw(t, "radius"))}, Piece: piece},
			CutLine{Layer: PartWay, Points: geom.Path{c.Add(geom.Pt(0, 20)), c.Add(geom.Pt(7, 33)), c.Add(geom.Pt(1, 40))}, Piece: piece},
			CutLine{Layer: Pen, Points: geom.Path{c.Add(geom.Pt(30, 0)), c.Add(geom.Pt(rapid.Float64Range(31, 50).Draw(t, "mark"), 9))}, Piece: piece},
		)
	}
	s.Words = []CutWords{{
		At: geom.Pt(500, 700), Size: 9, Turn: rapid.Float64Range(0, 360).Draw(t, "turn"),
		Value: rapid.SampledFrom([]string{"Cuff 1/2", "Größe 3, 50 %", "a < b & c", "10 × Ω"}).Draw(t, "label"),
	}}
	return s
}

// What is written is read back: the same lines on the same layers within 0.01 mm, circles as circles, with the kerf
// taken into account exactly once, holes before outlines.
func TestCutFileRoundTrip(t *testing.T) {
	for name, write := range map[string]func(CutSheet) ([]byte, error){"SVG": WriteSVG, "DXF": WriteDXF} {
		t.Run(name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				s := drawSheet(t)
				data, err := write(s)
				if err != nil {
					if strings.Contains(err.Error(), "too narrow") {
						t.Skip(err.Error())
					}
					t.Fatal(err)
				}
				again, _ := write(s)
				if !bytes.Equal(data, again) {
					t.Fatal("two runs differ")
				}
				want, err := toolpath(s)
				if err != nil {
					t.Fatal(err)
				}
				want = append(want, CutLine{Layer: Border, Points: geom.Path(s.edge()), Closed: true})
				got := mustRead(t, data).Lines
				if len(got) != len(want) {
					t.Fatalf("%d lines were written, %d read", len(want), len(got))
				}
				for i, l := range want {
					g := got[i]
					if !strings.EqualFold(g.Layer, string(l.Layer)) || g.Closed != l.Closed || (g.Circle != nil) != (l.Circle != nil) || g.Fill != "" {
						t.Fatalf("line %d: layer %q, closed %v, circle %v, fill %q; written as %+v", i, g.Layer, g.Closed, g.Circle, g.Fill, l)
					}
					if l.Circle != nil {
						if l.Circle.Centre.Dist(g.Circle.Centre) > 0.01 || math.Abs(float64(l.Circle.Radius-g.Circle.Radius)) > 0.01 {
							t.Fatalf("circle %v was read as %v", *l.Circle, *g.Circle)
						}
						continue
					}
					if len(g.Points) != len(l.Points) {
						t.Fatalf("line %d: %d points were written, %d read", i, len(l.Points), len(g.Points))
					}
					for k := range l.Points {
						if d := l.Points[k].Dist(g.Points[k]); d > 0.01 {
							t.Fatalf("line %d point %d is %v mm off", i, k, d)
						}
					}
				}
				words := mustRead(t, data).Texts
				if len(words) != 1 || words[0].Value != s.Words[0].Value || words[0].Place.Dist(s.Words[0].At) > float64(s.Words[0].Size) {
					t.Fatalf("label %+v was read as %+v", s.Words, words)
				}
				outline := s.Lines[0]
				for _, g := range got {
					if strings.EqualFold(g.Layer, string(Through)) && geom.Ring(g.Points).Contains(outline.Points[0].Lerp(geom.Ring(outline.Points).Centroid(), 0.01)) {
						if d := distanceToLine(g.Points[0], Line{Points: outline.Points, Closed: true}); math.Abs(d-float64(s.Kerf)/2) > 0.01 {
							t.Fatalf("the outline lies %v mm out with a kerf of %v", d, s.Kerf)
						}
					}
				}
			})
		})
	}
}

// Layers come in the order in which they are run; within a layer a piece is finished before the next, and the way
// between lines is no longer than in the order given.
func TestCuttingOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var lines []CutLine
		for i := range rapid.IntRange(1, 12).Draw(t, "pieces") {
			at := geom.Pt(rapid.Float64Range(0, 900).Draw(t, "x"), rapid.Float64Range(0, 900).Draw(t, "y"))
			for range rapid.IntRange(1, 3).Draw(t, "holes") {
				lines = append(lines, CutLine{Layer: Inside, Circle: &Circle{at.Add(geom.Pt(rapid.Float64Range(0, 40).Draw(t, "hx"), 9)), 2}, Piece: fmt.Sprint(i)})
			}
			lines = append(lines, CutLine{Layer: Through, Closed: true, Points: geom.Path{at, at.Add(geom.Pt(50, 0)), at.Add(geom.Pt(0, 50))}, Piece: fmt.Sprint(i)})
		}
		got, err := toolpath(CutSheet{Width: 1000, Height: 1000, Lines: lines})
		if err != nil {
			t.Fatal(err)
		}
		if len(got) != len(lines) {
			t.Fatalf("%d lines became %d", len(lines), len(got))
		}
		var finished []string
		for i, l := range got[1:] {
			before := got[i]
			if slices.Index(cutOrder, l.Layer) < slices.Index(cutOrder, before.Layer) {
				t.Fatalf("%s after %s", l.Layer, before.Layer)
			}
			if l.Layer != before.Layer {
				finished = nil
			} else if l.Piece != before.Piece {
				finished = append(finished, before.Piece)
			}
			if slices.Contains(finished, l.Piece) {
				t.Fatalf("piece %s is taken up again", l.Piece)
			}
		}
	})
}

// What cannot be written is refused by name.
func TestCutFileRefuses(t *testing.T) {
	line := CutLine{Layer: Pen, Points: geom.Path{{}, {X: 1}}, Piece: "Cuff"}
	with := func(change func(*CutSheet)) CutSheet {
		s := CutSheet{Width: 100, Height: 100, Lines: []CutLine{line}}
		change(&s)
		return s
	}
	nan := math.NaN()
	for _, c := range []struct {
		sheet CutSheet
		want  string
	}{
		{with(func(s *CutSheet) { s.Width = 0 }), "a sheet is 0 mm by 100 mm"},
		{with(func(s *CutSheet) { s.Height = geom.MM(nan) }), "a sheet is"},
		{with(func(s *CutSheet) { s.Kerf = -1 }), "the kerf is -1 mm"},
		{with(func(s *CutSheet) { s.Kerf = geom.MM(nan) }), "the kerf is NaN"},
		{with(func(s *CutSheet) { s.Edge = geom.Ring{{}, {X: 1}} }), "the sheet's outline"},
		{with(func(s *CutSheet) { s.Lines[0].Points = geom.Path{{}, {X: nan}} }), `pen of piece "Cuff": it reaches beyond`},
		{with(func(s *CutSheet) { s.Lines[0].Points = geom.Path{{}} }), "a line of 1 points"},
		{with(func(s *CutSheet) { s.Lines[0].Closed = true }), "a line of 2 points"},
		{with(func(s *CutSheet) { s.Lines[0].Circle = &Circle{Radius: geom.MM(nan)} }), "a circle of radius"},
		{with(func(s *CutSheet) { s.Lines[0].Layer = "engrave" }), `on layer "engrave"`},
		{with(func(s *CutSheet) { s.Words = []CutWords{{Value: "x", Size: 0}} }), `label "x"`},
		{with(func(s *CutSheet) { s.Words = []CutWords{{Value: "x", Size: 5, Turn: math.Inf(1)}} }), `label "x"`},
	} {
		for _, write := range []func(CutSheet) ([]byte, error){WriteSVG, WriteDXF} {
			s := c.sheet
			s.Lines = slices.Clone(s.Lines)
			if data, err := write(s); err == nil || data != nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("error %v, want %q", err, c.want)
			}
		}
	}
}

// Every line of the sheet is drawn where it should be, and nothing else: librsvg (Debian: librsvg2-bin) renders the SVG,
// and a pixel is dark exactly where a line passes.
func TestCutSVGAgainstLibrsvg(t *testing.T) {
	tool := gaugetest.Tool(t, "rsvg-convert")
	s := demoSheet()
	s.Words = nil
	data, err := WriteSVG(s)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	svg, png := filepath.Join(dir, "sheet.svg"), filepath.Join(dir, "sheet.png")
	if err := os.WriteFile(svg, data, 0o644); err != nil {
		t.Fatal(err)
	}
	const dpi = 127 // five dots a millimetre
	if out, err := exec.Command(tool, "-d", fmt.Sprint(dpi), "-p", fmt.Sprint(dpi), "-b", "white", "-o", png, svg).CombinedOutput(); err != nil {
		t.Fatalf("rsvg-convert: %v\n%s", err, out)
	}
	compareRaster(t, png, s, dpi/25.4)
}
