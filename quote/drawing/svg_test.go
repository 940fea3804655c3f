package drawing

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"benchbell/quote/gaugetest"
	"benchbell/quote/geom"
)

// drawn reads SVG that must be good.
func drawn(t *testing.T, svg string) *Drawing {
	t.Helper()
	d, err := Read([]byte(svg))
	if err != nil {
		t.Fatalf("%v\n%.300s", err, svg)
	}
	return d
}

// inMM is a page whose user unit is a millimetre.
func inMM(inside string) string {
	return `<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" ` +
		`xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape" width="200mm" height="100mm" viewBox="0 0 200 100">` + inside + `</svg>`
}

func near(p geom.Point, x, y, within float64) bool { return p.Dist(geom.Pt(x, y)) <= within }

// listing prints what a test compares of a drawing, numbers to a hundredth.
func listing(d *Drawing) string {
	var b strings.Builder
	for _, l := range d.Lines {
		box := l.Points.Bounds()
		fmt.Fprintf(&b, "%s: layer %q id %q label %q class %q data %v stroke %q fill %q", l.At, l.Layer, l.ID, l.Label, l.Class, l.Data, l.Stroke, l.Fill)
		if l.Dashed {
			b.WriteString(" dashed")
		}
		if l.Hidden {
			b.WriteString(" hidden")
		}
		fmt.Fprintf(&b, "\n  %d points from %.2f,%.2f to %.2f,%.2f", len(l.Points), box.Min.X, box.Min.Y, box.Max.X, box.Max.Y)
		if l.Closed {
			fmt.Fprintf(&b, ", closed, area %.2f", geom.Ring(l.Points).Area())
		} else {
			fmt.Fprintf(&b, ", open, length %.2f", l.Points.Length())
		}
		if c := l.Circle; c != nil {
			fmt.Fprintf(&b, ", circle %.3f about %.2f,%.2f", c.Radius, c.Centre.X, c.Centre.Y)
		}
		fmt.Fprintf(&b, "\n  in %v\n", l.Groups)
	}
	for _, x := range d.Texts {
		fmt.Fprintf(&b, "%s: text %q at %.2f,%.2f layer %q in %v\n", x.At, x.Value, x.Place.X, x.Place.Y, x.Layer, x.Groups)
	}
	for _, n := range d.Notes {
		fmt.Fprintf(&b, "note: %s\n", n)
	}
	return b.String()
}

// editor_layers.svg and editor_plain.svg were saved by Inkscape 1.2.2 from Debian, which made their cuff, strap, clones,
// layers and transforms by its own actions (path-difference, path-union, clone, object-flip-vertical, transform-rotate,
// selection-group) from a rectangle, ellipses and two curves. The other files are written as other editors write.
func TestSVGGolden(t *testing.T) {
	files, err := filepath.Glob("testdata/*.svg")
	if err != nil || len(files) < 5 {
		t.Fatalf("%d files, %v", len(files), err)
	}
	for _, file := range files {
		t.Run(filepath.Base(file), func(t *testing.T) {
			data, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			gaugetest.Golden(t, strings.TrimSuffix(file, ".svg")+".golden", []byte(listing(drawn(t, string(data)))))
		})
	}
}

// Inkscape 1.2.2 says where it puts each object (inkscape --query-all of editor_layers.svg with its strokes taken off,
// in pixels of 1/96 in from the page's upper left corner, six digits).
func TestEditorsOwnBoxes(t *testing.T) {
	data, err := os.ReadFile("testdata/editor_layers.svg")
	if err != nil {
		t.Fatal(err)
	}
	d := drawn(t, string(data))
	for name, want := range map[string][4]float64{
		"strap": {75.5898, 566.93, 498.898, 90.709},
		"cuff":  {105.59, 55.5898, 604.725, 340.158},
		"rivet": {149.055, 99.0551, 18.8976, 18.8976},
		"score": {143.386, 197.323, 529.134, 28.3465},
		"use17": {647.955, 99.0551, 18.8976, 18.8976},
		"use19": {647.955, 325.855, 18.8976, 18.8976},
		"lame":  {746.567, 96.6477, 261.107, 263.825},
		"use22": {814.107, 408.113, 274.07, 271.552},
	} {
		i := slices.IndexFunc(d.Lines, func(l Line) bool {
			used := strings.Contains(l.At, "used")
			return l.ID == name && !used || used && l.Groups[len(l.Groups)-1].ID == name
		})
		if i < 0 {
			t.Errorf("%s is missing", name)
			continue
		}
		box := d.Lines[i].Points.Bounds()
		const px = 25.4 / 96
		got := [4]float64{box.Min.X / px, (220 - box.Max.Y) / px, float64(box.Width()) / px, float64(box.Height()) / px}
		for k := range got {
			// Flatness twice, for a curve's box is that of its polyline, and six printed digits.
			if math.Abs(got[k]-want[k]) > 2*float64(Flatness)/px+0.002 {
				t.Errorf("%s: box %.3f, want %.3f", name, got, want)
				break
			}
		}
	}
}

// Page sizes by W3C SVG 2, 8.2 to 8.8, and CSS Values and Units 3, 5.2.
func TestPageUnits(t *testing.T) {
	for _, c := range []struct {
		root       string
		x, y       float64 // where the user space's point 10, 20 lands
		noted      string
		wantScaled float64
	}{
		{`width="100mm" height="50mm" viewBox="0 0 100 50"`, 10, 30, "", 1},
		{`width="10cm" height="5cm" viewBox="0 0 1000 500"`, 1, 48, "", 0.1},
		{`width="4in" height="2in" viewBox="0 0 4 2"`, 254, 50.8 - 508, "", 25.4},
		{`width="72pt" height="144pt" viewBox="0 0 25.4 50.8"`, 10, 30.8, "", 1},
		{`width="6pc" height="12pc" viewBox="0 0 25.4 50.8"`, 10, 30.8, "", 1},
		{`width="400Q" height="400q" viewBox="0 0 100 100"`, 10, 80, "", 1},
		{`width="96" height="192"`, 10 * pixel, 50.8 - 20*pixel, "CSS pixel", pixel},
		{`width="96px" height="192px" viewBox="0 0 25.4 50.8"`, 10, 30.8, "CSS pixel", 1},
		{`width="100%" height="100%" viewBox="0 0 96 192"`, 10 * pixel, 50.8 - 20*pixel, "CSS pixel", pixel},
		{`viewBox="0 0 96 192"`, 10 * pixel, 50.8 - 20*pixel, "CSS pixel", pixel},
		{``, 10 * pixel, -20 * pixel, "CSS pixel", pixel},
		{`width="25.4mm" height="50.8mm"`, 10 * pixel, 50.8 - 20*pixel, "no viewBox", pixel},
		{`width="100mm" viewBox="0 0 50 25"`, 20, 10, "", 2},
		{`height="50mm" width="100%" viewBox="0 0 50 25"`, 20, 10, "", 2},
		{`width="100mm" height="50mm" viewBox="10 20 100 50"`, 0, 50, "", 1},
		{`width="100mm" height="100mm" viewBox="0 0 100 50"`, 10, 100 - 25 - 20, "", 1},
		{`width="100mm" height="100mm" viewBox="0 0 100 50" preserveAspectRatio="xMinYMin"`, 10, 80, "", 1},
		{`width="100mm" height="100mm" viewBox="0 0 100 50" preserveAspectRatio="xMaxYMax meet"`, 10, 100 - 50 - 20, "", 1},
		{`width="100mm" height="100mm" viewBox="0 0 100 50" preserveAspectRatio="xMidYMid slice"`, -50 + 20, 100 - 40, "", 2},
		{`width="100mm" height="100mm" viewBox="0 0 100 50" preserveAspectRatio="none"`, 10, 60, "", 1},
	} {
		d := drawn(t, `<svg xmlns="http://www.w3.org/2000/svg" `+c.root+`><path d="M10,20h1v30"/></svg>`)
		l := d.Lines[0]
		if !near(l.Points[0], c.x, c.y, 1e-9) {
			t.Errorf("%s: at %v, want %v, %v", c.root, l.Points[0], c.x, c.y)
		}
		if got := l.Points[0].Dist(l.Points[1]); math.Abs(got-c.wantScaled) > 1e-9 {
			t.Errorf("%s: a unit is %v mm, want %v", c.root, got, c.wantScaled)
		}
		if notes := strings.Join(d.Notes, "\n"); (c.noted == "") != (notes == "") || !strings.Contains(notes, c.noted) {
			t.Errorf("%s: notes %q, want %q", c.root, notes, c.noted)
		}
	}
}

// Each transform against its definition as a matrix (SVG 1.1, 7.4 to 7.6).
func TestTransforms(t *testing.T) {
	sin, cos := math.Sincos(30 * math.Pi / 180)
	tan := math.Tan(30 * math.Pi / 180)
	for text, want := range map[string]affine{
		"":                                 identity,
		"none":                             identity,
		"matrix(1 2 3 4 5 6)":              {1, 2, 3, 4, 5, 6},
		"matrix(1,2,3,4,5,6)":              {1, 2, 3, 4, 5, 6},
		"matrix(1-2 3-4.5.5-6)":            {1, -2, 3, -4.5, 0.5, -6},
		"translate(3)":                     {1, 0, 0, 1, 3, 0},
		"translate(3,4)":                   {1, 0, 0, 1, 3, 4},
		"scale(2)":                         {2, 0, 0, 2, 0, 0},
		"scale(2 -3)":                      {2, 0, 0, -3, 0, 0},
		"rotate(30)":                       {cos, sin, -sin, cos, 0, 0},
		"rotate(90 10 20)":                 {0, 1, -1, 0, 30, 10},
		"rotate(30deg)":                    {cos, sin, -sin, cos, 0, 0},
		"skewX(30)":                        {1, 0, tan, 1, 0, 0},
		"skewY(30)":                        {1, tan, 0, 1, 0, 0},
		"translate(10,20) scale(2)":        {2, 0, 0, 2, 10, 20},
		" scale( 2 ),translate( 10 , 20 )": {2, 0, 0, 2, 20, 40},
		"translate(1e1px, 2E1px)":          {1, 0, 0, 1, 10, 20},
	} {
		got, err := parseTransform(text)
		if err != nil {
			t.Errorf("%q: %v", text, err)
			continue
		}
		for _, p := range []geom.Point{{}, {X: 1}, {Y: 1}} {
			if got.apply(p).Dist(want.apply(p)) > 1e-12 {
				t.Errorf("%q is %v, want %v", text, got, want)
			}
		}
	}
	for _, text := range []string{"rotate(1,2)", "spin(3)", "matrix(1 2 3)", "scale", "scale(2", "translate(1mm)", "scale(x)", "scale(1 2 3 4 5 6 7)", "scale(1e9) scale(1e999)", "translate(1;2)"} {
		if _, err := parseTransform(text); err == nil || !strings.HasPrefix(err.Error(), "transform") {
			t.Errorf("%q: %v, want an error", text, err)
		}
	}
}

func TestNestedTransforms(t *testing.T) {
	d := drawn(t, inMM(`<g transform="translate(10 0)"><g style="transform: scale(2)"><path transform="rotate(90)" d="M1 2h1"/></g></g>
		<path d="M1 2h1" style="transform:rotate(90deg); transform-origin: 1px 2px"/>`))
	for i, want := range []geom.Point{{X: 10 - 4, Y: 100 - 2}, {X: 1, Y: 98}} {
		if l := d.Lines[i]; !near(l.Points[0], want.X, want.Y, 1e-9) || l.Points[0].X != l.Points[1].X {
			t.Errorf("line %d is %v, want it to go down from %v", i, l.Points, want)
		}
	}
}

func TestShapes(t *testing.T) {
	for _, c := range []struct {
		svg    string
		area   float64 // 0 for open lines
		length float64
	}{
		{`<rect x="1" y="2" width="30" height="20"/>`, 600, 100},
		{`<rect width="30" height="20" rx="5"/>`, 600 - 100 + 25*math.Pi, 100 - 40 + 10*math.Pi},
		{`<rect width="30" height="20" ry="5"/>`, 600 - 100 + 25*math.Pi, 100 - 40 + 10*math.Pi},
		{`<rect width="30" height="20" rx="5" ry="auto"/>`, 600 - 100 + 25*math.Pi, 100 - 40 + 10*math.Pi},
		{`<rect width="30" height="20" rx="4" ry="2"/>`, 600 - (4-math.Pi)*8, 0},
		{`<rect width="30" height="20" rx="99" ry="99"/>`, math.Pi * 150, 0},
		{`<rect width="30" height="20" rx="0" ry="5"/>`, 600, 100},
		{`<rect width="10%" height="10%"/>`, 200, 60},
		{`<circle cx="5" cy="5" r="20"/>`, math.Pi * 400, math.Pi * 40},
		{`<ellipse cx="5" cy="5" rx="20" ry="10"/>`, math.Pi * 200, 0},
		{`<ellipse cx="5" cy="5" rx="20"/>`, math.Pi * 400, math.Pi * 40},
		{`<line x1="3" x2="3" y2="40"/>`, 0, 40},
		{`<polyline points="0,0 30,0 30,40"/>`, 0, 70},
		{`<polygon points="0 0 30 0 30-40"/>`, 600, 120},
		{`<polygon points="0,0,30,0,30,40,0,0"/>`, 600, 120},
		{`<polyline points="0,0 30,0 30,40 0,0"/>`, 600, 120},
		{`<rect width="1cm" height="96px" transform="scale(.264583333333333)"/>`, 10 * 25.4, 70.8},
	} {
		d := drawn(t, inMM(c.svg))
		if len(d.Lines) != 1 {
			t.Errorf("%s: %d lines", c.svg, len(d.Lines))
			continue
		}
		l := d.Lines[0]
		length, area := float64(l.Points.Length()), 0.0
		if l.Closed {
			length, area = float64(geom.Ring(l.Points).Perimeter()), float64(geom.Ring(l.Points).Area())
		}
		if math.Abs(area-c.area) > length*float64(Flatness) || (c.length > 0 && math.Abs(length-c.length) > 0.1) {
			t.Errorf("%s: area %.3f length %.3f, want %.3f and %.3f", c.svg, area, length, c.area, c.length)
		}
	}
}

// Circles keep their centre and radius where they still are circles, and where an editor wrote one as arcs or curves.
func TestCirclesAreKept(t *testing.T) {
	for svg, want := range map[string]*Circle{
		`<circle cx="10" cy="20" r="3"/>`:                                                        {geom.Pt(10, 80), 3},
		`<circle cx="10" cy="20" r="3" transform="scale(2)"/>`:                                   {geom.Pt(20, 60), 6},
		`<circle cx="10" cy="0" r="3" transform="rotate(90) scale(-1 1)"/>`:                      {geom.Pt(0, 110), 3},
		`<circle cx="10" cy="20" r="3" transform="scale(2 1)"/>`:                                 nil,
		`<circle cx="10" cy="20" r="3" transform="skewX(1)"/>`:                                   nil,
		`<ellipse cx="10" cy="20" rx="3" ry="3"/>`:                                               {geom.Pt(10, 80), 3},
		`<ellipse cx="10" cy="20" rx="6" ry="3" transform="scale(.5 1)"/>`:                       {geom.Pt(5, 80), 3},
		`<rect x="10" y="20" width="6" height="6" rx="3"/>`:                                      {geom.Pt(13, 77), 3},
		`<path d="M13 20A3 3 0 1 1 7 20 3 3 0 0 1 13 20z"/>`:                                     {geom.Pt(10, 80), 3},
		`<path d="M 13,20 C 13,21 13,19 13,20 z"/>`:                                              nil,
		`<path d="m 12.999998,20 a 2.9999981,3.0000019 0 0 1 -6,0 3,3 0 1 1 6,0 z"/>`:            {geom.Pt(10, 80), 3},
		`<path d="M 13,20 A 3,3 0 0 1 10,23 3,3 0 0 1 7,20 3,3 0 0 1 10,17 3,3 0 0 1 13,20 Z"/>`: {geom.Pt(10, 80), 3},
		`<path d="M13 20A3 3 0 1 1 7 20z"/>`:                                                     nil,
		`<path d="M13 20A3 3 0 1 1 7 20 3 3 0 0 0 13 20z"/>`:                                     nil,
		`<path d="M13 20A3 3 0 1 1 7 20L13 20"/>`:                                                nil,
		`<path d="M13 20A3 3 0 1 1 7 20 4 3 0 0 1 13 20z"/>`:                                     nil,
	} {
		d := drawn(t, inMM(svg))
		for _, l := range d.Lines {
			got := l.Circle
			if (got == nil) != (want == nil) {
				t.Errorf("%s: circle %v, want %v", svg, got, want)
				continue
			}
			if got != nil && (got.Centre.Dist(want.Centre) > 0.01 || math.Abs(float64(got.Radius-want.Radius)) > 0.001) {
				t.Errorf("%s: circle %v, want %v", svg, *got, *want)
			}
		}
	}
}

func TestUse(t *testing.T) {
	d := drawn(t, inMM(`
		<use xlink:href="#later" x="10" y="20" id="u" data-role="seat" class="big"/>
		<defs><path id="later" d="M0 0h1" data-role="own" data-size="3"/></defs>
		<use href="#sym" x="100" y="0" width="40" height="10"/>
		<symbol id="sym" viewBox="0 0 10 10"><path d="M0 0h10"/></symbol>
		<use href="#in" y="5"/>
		<g id="in" transform="translate(0 1)"><path d="M0 0h1"/></g>`))
	if len(d.Lines) != 4 {
		t.Fatalf("%d lines, want 4", len(d.Lines))
	}
	first := d.Lines[0]
	if !near(first.Points[0], 10, 80, 1e-9) || first.ID != "later" || first.Groups[0].ID != "u" || first.Data["role"] != "own" || first.Data["size"] != "3" {
		t.Errorf("used path is %+v", first)
	}
	if first.At != "line 3, used in line 2" {
		t.Errorf("at %q", first.At)
	}
	// 40×10 around a square box: scaled to 10, in the middle (SVG 2, 8.7, xMidYMid meet).
	if p := d.Lines[1].Points; !near(p[0], 115, 100, 1e-9) || !near(p[1], 125, 100, 1e-9) {
		t.Errorf("symbol drawn at %v", p)
	}
	if p := d.Lines[2].Points[0]; !near(p, 0, 94, 1e-9) {
		t.Errorf("used group at %v", p)
	}
	if p := d.Lines[3].Points[0]; !near(p, 0, 99, 1e-9) {
		t.Errorf("group itself at %v", p)
	}
}

func TestLayersAndLabels(t *testing.T) {
	d := drawn(t, inMM(`
		<g inkscape:groupmode="layer" id="layer1" inkscape:label="Cut"><g inkscape:groupmode="layer" id="layer2" inkscape:label="Left">
			<path id="p" d="M0 0h1"><title>Upper
				half</title></path></g></g>
		<g inkscape:groupmode="layer" id="layer3" style="display:none"><path d="M0 0h1" inkscape:label="Ghost" style="display:inline"/></g>
		<g id="wrap"><g inkscape:groupmode="layer" inkscape:label="Deep"><path d="M0 0h1"/></g></g>
		<g id="plain"><g id="inner"><path d="M0 0h1" data-name="Kept name"/></g></g>
		<g><g id="named" class="a b"><path d="M0 0h1"/></g></g>
		<path d="M0 0h1"/>`))
	var got []string
	for _, l := range d.Lines {
		got = append(got, fmt.Sprintf("%s/%s/%v/%d", l.Layer, l.Label, l.Hidden, len(l.Groups)))
	}
	want := []string{"Cut/Upper half/false/2", "layer3/Ghost/true/1", "Deep//false/2", "plain/Kept name/false/2", "named//false/2", "//false/0"}
	if !slices.Equal(got, want) {
		t.Errorf("got %q\nwant %q", got, want)
	}
	if g := d.Lines[0].Groups[1]; !g.Layer || g.Label != "Left" || g.ID != "layer2" {
		t.Errorf("inner layer is %+v", g)
	}
	if g := d.Lines[4].Groups[1]; g.Layer || !slices.Equal(g.Class, []string{"a", "b"}) {
		t.Errorf("group is %+v", g)
	}
}

func TestTexts(t *testing.T) {
	d := drawn(t, inMM(`
		<g id="names" transform="translate(100 0)"><text x="10 20 30" y="20">  Left <tspan font-weight="bold">cu</tspan>ff
			<tspan x="10" y="28">10 mm</tspan></text></g>
		<text><tspan x="5" y="6">Lower</tspan><tspan x="5" y="9">part</tspan></text>
		<text y="50"><tspan x="5" y="50">Fore</tspan><tspan x="22.5" y="50">arm</tspan><tspan x="5" dy="1.2em">10 mm</tspan></text>
		<text transform="matrix(0 1 -1 0 50 60)">turned</text>
		<text x="1" y="1"></text>
		<text x="1" y="1" display="none">secret</text>`))
	var got []string
	for _, x := range d.Texts {
		got = append(got, fmt.Sprintf("%s@%.0f,%.0f/%s", x.Value, x.Place.X, x.Place.Y, x.Layer))
	}
	want := []string{"Left cuff 10 mm@110,80/names", "Lower part@5,94/", "Forearm 10 mm@0,50/", "turned@50,40/"}
	if !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
	if len(d.Notes) != 1 || !strings.Contains(d.Notes[0], "hidden text") {
		t.Errorf("notes %q", d.Notes)
	}
}

func TestSwitchTakesTheFirstThatMay(t *testing.T) {
	d := drawn(t, inMM(`<switch><g systemLanguage="de"><path id="german" d="M0 0h1"/></g><g requiredExtensions="x"/>
		<g systemLanguage="fr, en-GB"><path id="english" d="M0 0h1"/></g><path id="rest" d="M0 0h1"/></switch>`))
	if len(d.Lines) != 1 || d.Lines[0].ID != "english" || len(d.Notes) != 0 {
		t.Errorf("%+v %q", d.Lines, d.Notes)
	}
}

func TestSkippedThingsAreNoted(t *testing.T) {
	for svg, want := range map[string]string{
		`<image href="photo.png" width="5" height="5"/>`: "image is skipped",
		`<foreignObject/>`:                               "foreignObject is skipped",
		`<use href="other.svg#a"/>`:                      "another file",
		`<use/>`:                                         "of nothing",
		`<use href="#nowhere"/>`:                         "not in the file",
		`<rect width="0" height="5"/><rect/>`:            "rect of zero size is skipped (line 1 and 1 more)",
		`<circle r="0"/>`:                                "circle of zero size",
		`<ellipse rx="4" ry="0"/>`:                       "ellipse of zero size",
		`<line x1="4" x2="4"/>`:                          "line of zero size",
		`<polyline points="1 1"/>`:                       "polyline of zero size",
		`<path d=""/>`:                                   "path of zero size",
		`<path d="none"/>`:                               "path of zero size",
		`<path d="M1 1z"/>`:                              "path of zero size",
		`<path d="M1 1h5v5zM3 3h0"/>`:                    "part of a path with zero length",
		`<path d="M1 1h5v0z"/>`:                          "two points",
		`<g transform="scale(0)"><path d="M0 0h9"/></g>`: "path of zero size",
		`<path d="M0 0h9" clip-path="url(#c)"/>`:         "clip",
		`<star points="5"/>`:                             `unknown element "star"`,
		`<style>g path{fill:red} path{fill:red}</style><path d="M0 0h9"/>`: `"g path" is not supported`,
		`<style>@font-face{src:url(x)} path{fill:red}</style>`:             "@font-face",
		`<style>@import "a.css"; path{fill:red}</style>`:                   "@import",
		`<style type="text/x-other">path{}</style>`:                        "text/x-other",
		`<svg width="0" viewBox="0 0 1 1"><path d="M0 0h9"/></svg>`:        "svg of zero width or height",
		`<text>` + strings.Repeat("many words ", 100) + `</text>`:          "too long for a label",
		`<g systemLanguage="de, fr"><rect/></g>`:                           "a language other than English",
		`<g requiredExtensions="http://example.org/x"><rect/></g>`:         "an extension",
		`<path d="M0 0L5 5zM3 3"/>`:                                        "two points",
	} {
		d := drawn(t, inMM(svg))
		if got := strings.Join(d.Notes, "; "); !strings.Contains(got, want) {
			t.Errorf("%s: notes %q, want %q", svg, got, want)
		}
	}
	// What draws nothing by its nature is not worth a word.
	quiet := drawn(t, inMM(`<defs><rect/></defs><metadata/><symbol><rect/></symbol><clipPath/><mask/><marker/><pattern/><title>x</title>
		<linearGradient/><x:any xmlns:x="http://example.org/x"><rect/></x:any><path d="M1 1h5v5zm2 2"/>`))
	if len(quiet.Notes) != 0 || len(quiet.Lines) != 1 {
		t.Errorf("notes %q, %d lines", quiet.Notes, len(quiet.Lines))
	}
}

func TestSVGRefuses(t *testing.T) {
	for svg, want := range map[string]string{
		`<path id="cuff" d="M0 0 L10 x"/>`:     `line 1: path "cuff": path data, character 10: expected a number, found "x"`,
		`<path d="10 20"/>`:                    "character 1: expected a path command",
		`<path d="L10 20"/>`:                   "must begin with M",
		`<path d="M10"/>`:                      "character 4: expected a number, found the end",
		`<path d="M1 1 A 5 5 0 2 0 9 9"/>`:     "flag",
		`<path d="M1 1 C 1 2 3 4"/>`:           "expected a number",
		`<path d="M1 1 h NaN"/>`:               "expected a number",
		`<path d="M1 1 h 1e308"/>`:             "too large",
		`<path d="M1 1 h 1e999"/>`:             "too large",
		`<path d="M1 1 h 1e8"/>`:               "the limit is 20000 mm",
		`<path d="M1 1 C 1e8 1 1 1 1 2"/>`:     "the limit is 20000 mm",
		`<path d="M1 1 Q 1e8 1 1 2"/>`:         "the limit is 20000 mm",
		`<path d="M1 1 A 1e8 1e8 0 1 1 5 5"/>`: "the limit is 20000 mm",
		`<circle r="30000"/>`:                  "the limit is 20000 mm",
		`<circle r="-1"/>`:                     "negative",
		`<rect width="-1" height="1"/>`:        "negative",
		`<rect width="2em" height="1"/>`:       "unit",
		`<rect width="wide" height="1"/>`:      "width: expected a number",
		`<polygon points="1 2 3"/>`:            "points, character 6",
		`<g transform="scale(1e9)"><g transform="scale(1e9)"><path d="M1 1h1"/></g></g>`: "the limit is 20000 mm",
		`<g transform="turn(9)"/>`:                                     "transform, character",
		`<text x="1e7">far</text>`:                                     "the limit is 20000 mm",
		`<text x="1 2" y="b">x</text>`:                                 "y: expected a number",
		`<g id="a"><use href="#b"/></g><g id="b"><use href="#a"/></g>`: "these uses include themselves: #b (line 1) → #a (line 1) → #b (line 1)",
		`<use id="u" href="#u"/>`:                                      "these uses include themselves: #u",
		`<svg viewBox="0 0 0 1"/>`:                                     "viewBox",
		`<svg viewBox="0 0 1"/>`:                                       "viewBox",
		`<svg viewBox="0 0 1 1" preserveAspectRatio="middle"/>`:        "preserveAspectRatio",
		`<svg width="-1"/>`:                                            "must be zero or more",
		`<g style="transform:rotate(1turn)"/>`:                         "unit",
		`<path style="transform-origin:center" d="M0 0h1"/>`:           "transform-origin",
		`<g>`:                     "not well-formed",
		`<circle style="r:5px"/>`: "its r is set in a style",
		`<style>rect{width:5px}</style><rect height="4"/>`: "its width is set in a style",
		`<g>&nbsp;</g>`: "not well-formed",
		`<path d="M0 0"` + strings.Repeat(` a="b"`, 300) + `/>`: "attributes",
		`<path class="` + strings.Repeat("a ", 100) + `"/>`:     "classes",
	} {
		d, err := Read([]byte(inMM(svg)))
		if err == nil {
			t.Errorf("%.90s: read, with notes %q, want %q", svg, d.Notes, want)
		} else if !strings.Contains(err.Error(), want) {
			t.Errorf("%.90s: %v, want %q", svg, err, want)
		}
	}
	for file, want := range map[string]string{
		`<html/>`:                                              "not svg",
		`<?xml version="1.0"?>`:                                "no svg element",
		`<svg width="0"/>`:                                     "width is 0",
		`<svg transform="scale(2)"/>`:                          "whole page",
		`<svg style="transform:scale(x)"/>`:                    "transform",
		`<svg width="30m"/>`:                                   "unit",
		`<svg width="1e6mm" height="1mm"/>`:                    "page is too large",
		`<a:svg xmlns:a="http://example.org/other"/>`:          "not svg",
		`<?xml version="1.0" encoding="koi8-r"?><svg/>`:        `encoding "koi8-r" is not supported`,
		`<!DOCTYPE svg [<!ENTITY a "&b;">]><svg/>`:             "document type",
		`<!DOCTYPE svg SYSTEM "x" [<!ELEMENT svg ANY>]><svg/>`: "document type",
		"\xfe\xff\x00":                                         "odd number",
	} {
		if _, err := Read([]byte(file)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", file, err, want)
		}
	}
}

// Encodings, byte order marks and document types of files as they come.
func TestFilesAsTheyCome(t *testing.T) {
	const body = `<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm" viewBox="0 0 9 9"><path id="Größe €" d="M0 0h1"/></svg>`
	western := strings.NewReplacer("ö", "\xf6", "ß", "\xdf", "€", "\x80").Replace(body)
	utf16 := []byte("\xff\xfe")
	for _, r := range `<?xml version="1.0" encoding="UTF-16"?>` + body {
		utf16 = append(utf16, byte(r), byte(r>>8))
	}
	for name, file := range map[string]string{
		"plain":           body,
		"byte order mark": "\xef\xbb\xbf<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n" + body,
		"windows":         `<?xml version="1.0" encoding="Windows-1252"?>` + western,
		"utf-16":          string(utf16),
		"document type":   "<?xml version='1.0' standalone='no'?>\n<!DOCTYPE svg PUBLIC \"-//W3C//DTD SVG 20010904//EN\"\n \"http://www.w3.org/TR/2001/REC-SVG-20010904/DTD/svg10.dtd\">\n" + body,
		"white space":     "\n  " + body,
	} {
		d := drawn(t, file)
		if len(d.Lines) != 1 || d.Lines[0].ID != "Größe €" {
			t.Errorf("%s: %+v", name, d.Lines)
		}
	}
	if _, err := Read([]byte(`<?xml version="1.0" encoding="us-ascii"?>` + western)); err == nil {
		t.Error("bytes that are no ASCII were read as such")
	}
	bare := drawn(t, `<svg width="9mm" height="9mm" viewBox="0 0 9 9"><path inkscape:label="undeclared" d="M0 0h1"/></svg>`)
	if bare.Lines[0].Label != "undeclared" {
		t.Errorf("without namespaces: %+v", bare.Lines)
	}
	prefixed := drawn(t, `<s:svg xmlns:s="http://www.w3.org/2000/svg" width="9mm" height="9mm" viewBox="0 0 9 9"><s:path d="M0 0h1"/></s:svg>`)
	if len(prefixed.Lines) != 1 {
		t.Error("a prefixed svg was not read")
	}
}
