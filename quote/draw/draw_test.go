package draw

import (
	"bytes"
	"encoding/xml"
	"errors"
	"flag"
	"image/png"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"pgregory.net/rapid"

	"benchbell/quote/gaugetest"
	"benchbell/quote/geom"
)

var (
	pictures = flag.String("pictures", "", "directory to write the samples to as PNG, to be looked at")
)

func samples() map[string]Scene {
	dims := Scene{Width: 100, Height: 60, Title: "dimensions"}
	dims.Rect(30, 20, 40, 20, Style{Fill: 0xeeeeee, Stroke: Ink, Width: 0.3, Hatch: &Hatch{Angle: 45, Spacing: 2, Width: 0.15, Color: Grey}})
	dims.Dimension(geom.Pt(30, 20), geom.Pt(70, 20), 5, "40 mm")
	dims.Dimension(geom.Pt(70, 40), geom.Pt(30, 40), 5, "40 mm")
	dims.Dimension(geom.Pt(30, 40), geom.Pt(30, 20), 5, "20 mm")
	dims.Dimension(geom.Pt(70, 40), geom.Pt(70, 20), -5, "20 mm")
	dims.Dimension(geom.Pt(30, 20), geom.Pt(70, 40), 0, "44.7 mm")
	dims.Dimension(geom.Pt(80, 10), geom.Pt(83, 10), 2, "3 mm")
	dims.Label(geom.Pt(2, 56), 4, Italic, Start, Accent, "Ärmel, Ωμέγα, Жук, 12,50 €")
	return map[string]Scene{
		"sheet":      Layout(sampleSheet()),
		"offcut":     Layout(sampleOffcut()),
		"specks":     Layout(sampleSpecks()),
		"checked":    Checked(sampleChecked()),
		"fault":      Fault("Cuff shell, refused", sampleFault(), geom.Pt(120, 100), "piece \"shell\": the outline crosses itself at 120.0, 100.0 mm; move one of the two edges so that they no longer meet"),
		"plan-small": Gantt(samplePlan(10, 5)),
		"plan-large": Gantt(samplePlan(60, 2)),
		"pieces":     Pieces("What is made", sampleGroups(), 170),
		"dimensions": dims,
	}
}

func TestGoldenSVG(t *testing.T) {
	for name, s := range samples() {
		got := s.SVG()
		gaugetest.Golden(t, filepath.Join("testdata", name+".svg"), got)
		d := xml.NewDecoder(bytes.NewReader(got))
		for {
			if _, err := d.Token(); errors.Is(err, io.EOF) {
				break
			} else if err != nil {
				t.Fatalf("%s: not well-formed: %v", name, err)
			}
		}
		data, err := s.PNG(3)
		if err != nil {
			t.Fatal(err)
		}
		again, err := s.PNG(3)
		if err != nil || !bytes.Equal(data, again) {
			t.Errorf("%s: two PNGs of one scene differ (%v)", name, err)
		}
		if *pictures != "" {
			data, err := s.PNG(6)
			if err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(filepath.Join(*pictures, name+".png"), data, 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
}

func TestPNGRefuses(t *testing.T) {
	s := Scene{Width: 100, Height: 100, Title: "x"}
	for _, k := range []float64{0, -1, math.NaN(), math.Inf(1), 41} {
		if _, err := s.PNG(k); err == nil {
			t.Errorf("PNG(%v) was painted", k)
		}
	}
	data, err := s.PNG(2)
	if err != nil {
		t.Fatal(err)
	}
	c, err := png.DecodeConfig(bytes.NewReader(data))
	if err != nil || c.Width != 200 || c.Height != 200 {
		t.Errorf("100 mm at 2 pixels a mm is %d × %d pixels (%v)", c.Width, c.Height, err)
	}
}

// Any float may come in: the drawings must come out.
func TestNoInputPanics(t *testing.T) {
	float := rapid.OneOf(rapid.Float64(), rapid.Float64Range(-500, 500), rapid.SampledFrom([]float64{0, math.NaN(), math.Inf(1), math.Inf(-1), 1e300}))
	point := rapid.Custom(func(t *rapid.T) geom.Point { return geom.Pt(float.Draw(t, "x"), float.Draw(t, "y")) })
	ring := rapid.Custom(func(t *rapid.T) geom.Ring { return rapid.SliceOfN(point, 0, 8).Draw(t, "ring") })
	moment := rapid.Custom(func(t *rapid.T) time.Time {
		return rapid.SampledFrom([]time.Time{{}, time.Unix(0, 0), time.Date(2026, 11, 30, 9, 0, 0, 0, zone), time.Date(9999, 1, 1, 0, 0, 0, 0, time.UTC)}).Draw(t, "t").
			Add(time.Duration(rapid.Int64Range(-1e15, 1e15).Draw(t, "d")))
	})
	rapid.Check(t, func(t *rapid.T) {
		shape := geom.Shape{Outer: ring.Draw(t, "outer"), Holes: rapid.SliceOfN(ring, 0, 2).Draw(t, "holes")}
		paths := []geom.Path{geom.Path(ring.Draw(t, "path"))}
		name := rapid.String().Draw(t, "name")
		mm := func() geom.MM { return geom.MM(float.Draw(t, "mm")) }
		spans := []Span{{moment.Draw(t, "from"), moment.Draw(t, "to")}, {moment.Draw(t, "from"), moment.Draw(t, "to")}}
		free := Scene{Width: mm(), Height: mm(), Title: name}
		free.Shape(shape, Style{Fill: Ink, Stroke: Ink, Width: mm(), Dash: []geom.MM{mm(), mm()}, Hatch: &Hatch{float.Draw(t, "angle"), mm(), mm(), Ink}})
		free.Dimension(point.Draw(t, "a"), point.Draw(t, "b"), mm(), name)
		free.Turned(point.Draw(t, "at"), mm(), Font(rapid.IntRange(-2, 9).Draw(t, "font")), Middle, float.Draw(t, "turn"), Ink, name)
		for _, s := range []Scene{
			free,
			Layout(SheetPicture{Title: name, Commission: name, Width: mm(), Height: mm(), Edge: shape.Outer, Offcut: shape.Outer, Defects: shape.Holes,
				Pieces: []LaidPiece{{name, shape, paths, paths, true, name}, {name, shape, paths, paths, false, ""}}}),
			Gantt(PlanPicture{Title: name, From: moment.Draw(t, "from"), To: moment.Draw(t, "to"), Now: moment.Draw(t, "now"), Promise: moment.Draw(t, "promise"),
				Open: spans, Lanes: []Lane{{name, []Bar{{Number: 1, Title: name, Spans: spans, Kind: name}}}}, Cures: []CureBar{{Title: name, Lane: name, From: spans[0].From, Ready: spans[0].To, Latest: spans[1].To}}, Width: mm()}),
			Fault(name, paths, point.Draw(t, "at"), name),
			Checked(CheckedSet{Title: name, Seams: []string{name}, Width: mm(), Pieces: []CheckedPiece{{name, name, shape, paths,
				[]SeamLine{{1, paths[0]}}, []SectionLine{{paths[0], name}}, []MarkLine{{paths[0], name, true}, {paths[0], name, false}}}}}),
			Pieces(name, []PieceGroup{{name, []NamedPiece{{name, shape, paths, 2}}}}, mm()),
		} {
			if out := s.SVG(); bytes.Contains(out, []byte("NaN")) && !strings.Contains(name, "NaN") || bytes.Contains(out, []byte("Inf")) && !strings.Contains(name, "Inf") {
				t.Fatal("the SVG has a coordinate that is no number")
			}
			w, h := s.Size()
			if w*h < 1e5 {
				if _, err := s.PNG(0.5); err != nil {
					t.Fatal(err)
				}
			}
		}
	})
}

func TestEmptyPictures(t *testing.T) {
	for _, s := range []Scene{{}, Layout(SheetPicture{}), Gantt(PlanPicture{}), Pieces("", nil, 0), Checked(CheckedSet{}), Fault("", nil, geom.Point{}, "")} {
		if len(s.SVG()) == 0 {
			t.Error("no SVG")
		}
		if _, err := s.PNG(1); err != nil {
			t.Error(err)
		}
	}
}

func TestHatchStaysInside(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := leaf(rapid.Float64Range(5, 200).Draw(t, "w"), rapid.Float64Range(5, 200).Draw(t, "h"))
		s.Holes = []geom.Ring{circle(s.Bounds().Centre(), 1.5).Reversed()}
		for _, l := range hatchLines(s, Hatch{Angle: rapid.Float64Range(-200, 200).Draw(t, "angle"), Spacing: 1}) {
			mid := l.A.Lerp(l.B, 0.5)
			if l.A.Dist(l.B) > 1e-3 && !s.Contains(mid) && s.Outer.DistanceTo(mid) > 1e-9 { // a line may run along the border
				t.Fatalf("the middle of %v lies outside", l)
			}
		}
	})
}

// Parallel lines a spacing apart measure an area: total length × spacing, the error shrinking with the spacing.
func TestHatchMeasuresArea(t *testing.T) {
	s := leaf(100, 60)
	s.Holes = []geom.Ring{circle(geom.Pt(50, 30), 8).Reversed()}
	const spacing = 0.1
	var length float64
	for _, l := range hatchLines(s, Hatch{Angle: 30, Spacing: spacing}) {
		length += l.A.Dist(l.B)
	}
	if got, want := length*spacing, float64(s.Area()); math.Abs(got-want) > 0.005*want {
		t.Errorf("the hatch covers %.1f mm², the shape has %.1f mm²", got, want)
	}
}

func TestRoomiest(t *testing.T) {
	// An L: the centroid of such a shape may lie outside, the roomiest point never does.
	l := geom.Shape{Outer: geom.Ring{{X: 0, Y: 0}, {X: 100, Y: 0}, {X: 100, Y: 12}, {X: 10, Y: 12}, {X: 10, Y: 100}, {X: 0, Y: 100}}}
	p, r := Roomiest(l)
	if !l.Contains(p) || math.Abs(float64(l.Outer.DistanceTo(p)-r)) > 1e-9 || r < 6 {
		t.Errorf("the roomiest point is %v with %v around it", p, r)
	}
	sq := geom.Shape{Outer: geom.Ring{{X: 0, Y: 0}, {X: 40, Y: 0}, {X: 40, Y: 40}, {X: 0, Y: 40}}}
	if p, r := Roomiest(sq); p.Dist(geom.Pt(20, 20)) > 0.5 || r < 19.5 {
		t.Errorf("the roomiest point of a square is %v, %v", p, r)
	}
}

// A label stays within its piece: its four corners lie inside the outline.
func TestLabelInside(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := leaf(rapid.Float64Range(4, 80).Draw(t, "w"), rapid.Float64Range(4, 80).Draw(t, "h"))
		var sc Scene
		size, _ := sc.labelInside(s, nil, 3.6, 0.1, Bold, Ink, "12R-B2 (M)")
		if size == 0 {
			return
		}
		x := sc.Figures[0].Text
		w, h := float64(TextWidth(Bold, x.Size, x.Value)), float64(x.Size)*0.72
		for _, c := range [][2]float64{{-w / 2, 0}, {w / 2, 0}, {-w / 2, -h}, {w / 2, -h}} {
			sin, cos := geom.SinCosDeg(-x.Turn)
			p := x.At.Add(geom.Pt(cos*c[0]-sin*c[1], sin*c[0]+cos*c[1]))
			if !s.Contains(p) {
				t.Fatalf("corner %v of the label lies outside (size %v, turn %v)", p, size, x.Turn)
			}
		}
	})
}

func TestPrintable(t *testing.T) {
	for in, want := range map[string]string{
		"plain":                          "plain",
		"Ανδρέας, Жанна, 5 €":            "Ανδρέας, Жанна, 5 €",
		"Zoe\u0308 A\u0301":              "Zoë Á",
		"a\tb\nc\u2003d":                 "a b c d",
		"q\u0301":                        "q",
		"5\u202f€":                       "5\u00a0€",
		"hi \U0001F9D1\u200d\U0001F680!": "hi □!",
		"\U0001F44D\U0001F3FD":           "□",
		"漢字 kana":                        "□ kana",
		"\xff":                           "□",
		"":                               "",
		"\u200bzero\u00adwidth":          "zerowidth",
	} {
		if got := Printable(in); got != want {
			t.Errorf("Printable(%q) = %q, want %q", in, got, want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.String().Draw(t, "s")
		p := Printable(s)
		if !utf8.ValidString(p) || Printable(p) != p {
			t.Fatalf("Printable(%q) = %q does not stay", s, p)
		}
		for _, r := range p {
			if r > 0xffff || !faces()[Regular].has(r) {
				t.Fatalf("%q is not in the font", r)
			}
		}
	})
}

// Printable asks one font; the others must draw the same characters.
func TestFontsCoverTheSame(t *testing.T) {
	f := faces()
	for r := rune(0x20); r <= 0xffff; r++ {
		for _, g := range f[1:] {
			if f[Regular].has(r) != g.has(r) {
				t.Fatalf("%q (%U) is in one font and not in another", r, r)
			}
		}
	}
}

func TestFit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.StringOf(rapid.RuneFrom([]rune("abc dé WΩ €.\U0001F600"))).Draw(t, "s")
		width := geom.MM(rapid.Float64Range(8, 80).Draw(t, "width"))
		max := rapid.IntRange(0, 4).Draw(t, "max")
		lines := Fit(Regular, 3, width, s, max)
		if max > 0 && len(lines) > max {
			t.Fatalf("%d lines of %d", len(lines), max)
		}
		for _, l := range lines {
			if TextWidth(Regular, 3, l) > width+1e-9 {
				t.Fatalf("%q is wider than %v", l, width)
			}
		}
		if max == 0 {
			strip := func(s string) string { return strings.ReplaceAll(s, " ", "") }
			if got, want := strip(strings.Join(lines, "")), strip(Printable(s)); got != want {
				t.Fatalf("%q became %q", want, got)
			}
		}
	})
	if got := Fit(Regular, 3, 20, "one two three four five six seven", 2); len(got) != 2 || !strings.HasSuffix(got[1], ellipsis) {
		t.Errorf("cut text is %q", got)
	}
	if got := Fit(Regular, 3, 14, "a total of 5\u00a0€", 0); len(got) != 2 || got[1] != "5\u00a0€" {
		t.Errorf("the amount was broken: %q", got)
	}
	if got := Fit(Regular, 3, -1, "ab", 0); len(got) != 2 {
		t.Errorf("no width gives %q", got)
	}
}

func BenchmarkLayoutPNG(b *testing.B) {
	for b.Loop() {
		s := Layout(sampleSheet())
		if _, err := s.PNG(4); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkGanttSVG(b *testing.B) {
	p := samplePlan(60, 2)
	for b.Loop() {
		s := Gantt(p)
		s.SVG()
	}
}

// Names and titles of many sets must not press the pieces to specks.
func TestManyPiecesStayLegible(t *testing.T) {
	const least = 8 // mm in the picture, of pieces 200 mm wide
	var groups []PieceGroup
	for range 8 {
		g := PieceGroup{Title: "A set"}
		for range 12 {
			r := geom.Ring{geom.Pt(0, 0), geom.Pt(200, 0), geom.Pt(200, 150), geom.Pt(0, 150)}
			g.Pieces = append(g.Pieces, NamedPiece{Name: "Some longer name of it", Shape: geom.Shape{Outer: r}, Count: 1})
		}
		groups = append(groups, g)
	}
	n := 0
	for _, f := range Pieces("", groups, 170).Figures {
		if f.Shape == nil {
			continue
		}
		n++
		if w := f.Shape.Bounds().Width(); w < least {
			t.Fatalf("a piece is drawn %s wide, want at least %d mm", w, least)
		}
	}
	if n != 96 {
		t.Errorf("%d pieces drawn, want 96", n)
	}
}

// A figure with more crossings in a row than a picture can show is thinned before it is painted, so that nobody's drawing
// holds up the program; an outline that a hand can cut is painted as it is.
func TestIntricateFigures(t *testing.T) {
	comb := func(teeth int) geom.Ring {
		r := geom.Ring{geom.Pt(100, 0), geom.Pt(0, 0)}
		for i := range teeth {
			x := 100 * float64(i) / float64(teeth)
			r = append(r, geom.Pt(x, 90), geom.Pt(x+50/float64(teeth), 5))
		}
		return append(r, geom.Pt(100, 90))
	}
	p := painter{scale: 6}
	for _, c := range []struct {
		teeth int
		thin  bool
	}{{20, false}, {20000, true}} {
		r := comb(c.teeth)
		got := p.bounded(Figure{Shape: &geom.Shape{Outer: r}}).Shape.Outer
		if (len(got) < len(r)) != c.thin {
			t.Errorf("%d teeth: %d of %d points are painted", c.teeth, len(got), len(r))
		}
		if c.thin && got.Bounds().Height() < 80 {
			t.Errorf("what is left of %d teeth is %v high", c.teeth, got.Bounds().Height())
		}
	}
}
