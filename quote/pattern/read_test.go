package pattern

import (
	"errors"
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"

	"benchbell/quote/geom"
)

// contents is a reading in one line per piece, to compare.
func contents(t testing.TB, data string) (out []string, notes string) {
	t.Helper()
	r, err := readDrawing([]byte(data), gapDefault, nil)
	if err != nil {
		t.Fatalf("%v in %.200s", err, data)
	}
	for _, id := range r.order {
		p := r.pieces[id]
		kinds := ""
		for _, m := range p.marks {
			kinds += string(m.Kind) + " "
		}
		out = append(out, strings.TrimSpace(fmt.Sprintf("%s: %d holes %d slots %d drills %d rows %d scores %s", id, len(p.holes), len(p.slots), len(p.drills), len(p.rows), len(p.scores), kinds)))
	}
	return out, strings.Join(r.notes, "\n")
}

func svg(body string) string {
	return `<svg xmlns="http://www.w3.org/2000/svg" xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape" width="400mm" height="400mm" viewBox="0 0 400 400">` + body + `</svg>`
}

const layer = `<g inkscape:groupmode="layer" inkscape:label="%s" id="layer%d">%s</g>`

func TestPiecesAndRoles(t *testing.T) {
	const left, right = `<path d="M10 10h100v80h-100z"/>`, `<path d="M210 10h100v80h-100z"/>`
	for name, c := range map[string]struct {
		drawing string
		want    []string
		note    string
	}{
		"layers named after roles": {svg(fmt.Sprintf(layer, "Outlines", 1, left+right) + fmt.Sprintf(layer, "SCORE", 2, `<path d="M20 20h50"/>`) + fmt.Sprintf(layer, "slots", 3, `<path d="M230 30h27v5h-27z"/>`) + fmt.Sprintf(layer, "Guide lines", 4, `<path d="M0 0h400"/>`)),
			[]string{"A: 0 holes 0 slots 0 drills 0 rows 1 scores", "B: 0 holes 1 slots 0 drills 0 rows 0 scores"}, "has no name"},
		"a layer for each piece": {svg(fmt.Sprintf(layer, "Front plate", 1, left) + fmt.Sprintf(layer, "Back plate", 2, right+`<circle cx="230" cy="30" r="3"/>`)),
			[]string{"Front-plate: 0 holes 0 slots 0 drills 0 rows 0 scores", "Back-plate: 0 holes 0 slots 1 drills 0 rows 0 scores"}, ""},
		"a label beats a made-up id": {svg(`<g id="g12" inkscape:label="Cuff">` + left + `</g><g id="shin"><title>Shin guard</title>` + right + `</g>`),
			[]string{"Cuff: 0 holes 0 slots 0 drills 0 rows 0 scores", "shin: 0 holes 0 slots 0 drills 0 rows 0 scores"}, ""},
		"one group round everything": {svg(`<g id="all"><g id="p1">` + left + `</g><g id="p2">` + right + `</g></g>`),
			[]string{"p1: 0 holes 0 slots 0 drills 0 rows 0 scores", "p2: 0 holes 0 slots 0 drills 0 rows 0 scores"}, ""},
		"a compound outline": {svg(`<path class="outline" d="M10 10h100v80h-100z M20 20v20h20v-20z"/>`),
			[]string{"A: 1 holes 0 slots 0 drills 0 rows 0 scores"}, ""},
		"large and small circles": {svg(left + `<circle cx="40" cy="40" r="8"/><circle cx="80" cy="40" r="8.1"/>`),
			[]string{"A: 1 holes 0 slots 1 drills 0 rows 0 scores"}, ""},
		"dashes": {svg(left + `<path d="M20 20v50" style="stroke-dasharray:3"/><path d="M60 20v50"/><path d="M70 20h20v20h-20z" stroke-dasharray="2 1"/>`),
			[]string{"A: 0 holes 0 slots 0 drills 0 rows 1 scores align bend"}, ""},
		"loose segments": {svg(`<path d="M10 10h100"/><path d="M110 90v-80"/><path d="M110.3 90h-100.3"/><path d="M10 90v-80"/>`),
			[]string{"A: 0 holes 0 slots 0 drills 0 rows 0 scores"}, "joined"},
		"a small gap": {svg(`<path d="M10 10h100v80h-100v-79.6"/>`), []string{"A: 0 holes 0 slots 0 drills 0 rows 0 scores"}, "closed over a gap of 0.40 mm"},
		"texts": {svg(left + right + `<text x="250" y="50">Über-flap 2</text><text x="0" y="300">not for cutting</text>`),
			[]string{"A: 0 holes 0 slots 0 drills 0 rows 0 scores", "Ueber-flap-2: 0 holes 0 slots 0 drills 0 rows 0 scores"}, `takes its name from the text "Über-flap 2"`},
		"the same name twice": {svg(`<g id="flap">` + left + `</g><g id="g1" inkscape:label="flap">` + right + `</g>`),
			[]string{"flap: 0 holes 0 slots 0 drills 0 rows 0 scores", "flap-2: 0 holes 0 slots 0 drills 0 rows 0 scores"}, "has the same name as another"},
		"hidden and stray lines": {svg(left + `<path style="display:none" d="M20 20h5v5h-5z"/><path d="M300 300h50"/>`),
			[]string{"A: 0 holes 0 slots 0 drills 0 rows 0 scores"}, "outside every outline"},
		"rows by layer": {svg(left + fmt.Sprintf(layer, "row", 9, `<path id="studs" data-diameter="4" data-pitch="20" d="M20 80h80"/>`)),
			[]string{"A: 0 holes 0 slots 0 drills 1 rows 0 scores"}, ""},
		"an object's own name": {svg(`<path id="path1" inkscape:label="Knee cop" d="M10 10h100v80h-100z"/><path id="flap" d="M210 10h100v80h-100z"/>`),
			[]string{"Knee-cop: 0 holes 0 slots 0 drills 0 rows 0 scores", "flap: 0 holes 0 slots 0 drills 0 rows 0 scores"}, ""},
		"outlines that share an edge": {svg(left + `<path d="M110 10h100v80h-100z"/>`),
			[]string{"A: 0 holes 0 slots 0 drills 0 rows 0 scores", "B: 0 holes 0 slots 0 drills 0 rows 0 scores"}, ""},
		"DXF layers": {dxfHead + dxf("CUFF", 0) + dxfTail, []string{"CUFF: 0 holes 0 slots 0 drills 0 rows 0 scores"}, ""},
		"DXF by containment": {dxfHead + dxf("0", 0) + dxf("0", 150) + dxfLine("Score", 10, 20, 50, 20) + dxfTail,
			[]string{"A: 0 holes 0 slots 0 drills 0 rows 1 scores", "B: 0 holes 0 slots 0 drills 0 rows 0 scores"}, ""},
	} {
		got, notes := contents(t, c.drawing)
		if !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s:\n got %q\nwant %q\nnotes %s", name, got, c.want, notes)
		}
		if !strings.Contains(notes, c.note) {
			t.Errorf("%s: notes lack %q:\n%s", name, c.note, notes)
		}
	}
}

// dxf is a rectangle of lines on a layer.
func dxf(layer string, x float64) string {
	return dxfLine(layer, x, 0, x+100, 0) + dxfLine(layer, x+100, 0, x+100, 80) + dxfLine(layer, x+100, 80, x, 80) + dxfLine(layer, x, 80, x, 0)
}

func dxfLine(layer string, x0, y0, x1, y1 float64) string {
	return fmt.Sprintf("0\nLINE\n8\n%s\n10\n%g\n20\n%g\n11\n%g\n21\n%g\n", layer, x0, y0, x1, y1)
}

const (
	dxfHead = "0\nSECTION\n2\nHEADER\n9\n$INSUNITS\n70\n4\n0\nENDSEC\n0\nSECTION\n2\nENTITIES\n"
	dxfTail = "0\nENDSEC\n0\nEOF\n"
)

// What cannot be cut is refused by piece and place, with the lines to mark.
func TestFaults(t *testing.T) {
	const left = `<path d="M10 10h100v80h-100z"/>`
	for name, c := range map[string]struct {
		drawing string
		piece   string
		want    []string
		x, y    float64 // where, from the lower left
	}{
		"crossing":           {svg(`<g id="cuff"><path d="M10 10L110 90L110 10L10 90z"/></g>`), "cuff", []string{"outline", "crosses"}, 60, 350},
		"open":               {svg(`<g id="cuff"><path d="M10 10h100v80h-100v-77"/></g>`), "cuff", []string{"open between", "gap of 3.00 mm"}, 10, 388.5},
		"open, no group":     {svg(left + `<path d="M210 10h100v80h-100v-77"/>`), "", []string{"open between", "gap of 3.00 mm"}, 210, 388.5},
		"open cut-out":       {svg(`<g id="cuff">` + left + `<path class="hole" d="M20 20h40v40"/></g>`), "cuff", []string{"hole is open"}, 20, 380},
		"twice":              {svg(left + left), "", []string{"drawn twice"}, 60, 350},
		"twice, backwards":   {svg(left + `<path d="M10 90h100v-80h-100z"/>`), "", []string{"drawn twice"}, 60, 350},
		"no area":            {svg(left + `<path d="M210 10h.5v.5z"/>`), "B", []string{"encloses no area"}, 210, 390},
		"no width":           {svg(left + `<path d="M210 10h40h40z"/>`), "B", []string{"encloses no area"}, 210, 390},
		"figure of eight":    {svg(left + `<path d="M210 10l40 40v-40l-40 40z"/>`), "B", []string{"crosses"}, 230, 370},
		"lettering":          {svg(`<g id="text172"><path d="M10 10h9v9h-9z"/><path d="M30 10h9v9h-9z"/></g>`), "text172", []string{"second outline", "text converted to paths"}, 34.5, 385.5},
		"overlap, corners":   {svg(`<path d="M10 10h100v100h-100z"/><path d="M80 20h80v80h-80z"/>`), "", []string{"overlap at (110.0, 380.0) mm from the lower left corner"}, 110, 380},
		"open DXF":           {dxfHead + dxfLine("0", 0, 0, 100, 0) + dxfLine("0", 100, 0, 100, 80) + dxfLine("0", 100, 80, 0, 2) + dxfTail, "", []string{"open between (0.0, 0.0) and (0.0, 2.0) mm from the drawing's zero point"}, 0, 1},
		"comb":               {svg(`<path d="M0 0` + teeth(maxCorners+1) + `V0z"/>`), "", []string{"more than 6000 corners", "simplify"}, 150, 305},
		"outline in outline": {svg(left + `<path d="M20 20h60v50h-60z"/><path d="M30 30h20v20h-20z"/>`), "", []string{"lies in another"}, 40, 360},
		"two outlines":       {svg(`<g id="cuff">` + left + `<path d="M210 10h100v80h-100z"/></g>`), "cuff", []string{"second outline"}, 260, 350},
		"overlap":            {svg(left + `<path d="M50 5h20v200h-20z"/>`), "", []string{"two outlines overlap"}, 50, 390},
		"stray role":         {svg(left + `<path class="slot" d="M210 10h27v5h-27z"/>`), "", []string{`class "slot"`, "belongs to no piece"}, 223.5, 387.5},
		"touching hole":      {svg(`<g id="cuff">` + left + `<path d="M20 20h20v20h-20z M30 30h5v5"/></g>`), "cuff", nil, 0, 0},
	} {
		_, _, _, err := Draft([]byte(c.drawing), "x")
		var f *Fault
		if c.want == nil {
			if err != nil && !errors.As(err, &f) {
				t.Errorf("%s: %v", name, err)
			}
			continue
		}
		if !errors.As(err, &f) {
			t.Errorf("%s: got %v, want a fault", name, err)
			continue
		}
		if f.Piece != c.piece || !contains(f.What, c.want...) || f.At.Dist(geom.Pt(c.x, c.y)) > 0.6 {
			t.Errorf("%s: piece %q at %v: %s; want piece %q at (%g, %g) and %q", name, f.Piece, f.At, f.What, c.piece, c.x, c.y, c.want)
		}
		if len(f.Lines) == 0 && name != "comb" {
			t.Errorf("%s: no line to mark", name)
		}
	}
	if _, _, _, err := Draft([]byte(svg(`<path d="M10 10h50"/>`)), "x"); err == nil || !contains(err.Error(), "no closed line") {
		t.Errorf("a drawing without an outline: %v", err)
	}
}

// teeth is a line with so many corners.
func teeth(n int) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, "L%.3f %d", float64(i)*300/float64(n), 10+180*(i%2))
	}
	return b.String()
}

// A line with too many points is thinned if that moves it by less than its flattening tolerance.
func TestManyPointsAreThinned(t *testing.T) {
	var round strings.Builder
	const n = 3 * maxCorners
	for i := range n {
		s, c := geom.SinCosDeg(360 * float64(i) / n)
		fmt.Fprintf(&round, "L%.5f %.5f", 200+100*c, 200-100*s)
	}
	d, err := readDrawing([]byte(svg(`<path d="M300 200`+round.String()+`z"/>`)), gapDefault, nil)
	if err != nil {
		t.Fatal(err)
	}
	r := d.pieces["A"].outline
	if len(r) > 1000 || !contains(strings.Join(d.notes, "\n"), "were left out") {
		t.Errorf("%d points, notes %q", len(r), d.notes)
	}
	for i, q := range r {
		if out, in := q.Dist(geom.Pt(200, 200)), q.Lerp(r[(i+1)%len(r)], 0.5).Dist(geom.Pt(200, 200)); math.Abs(out-100) > 1e-4 || in < 100-thin-1e-4 {
			t.Fatalf("a corner lies %g and its edge %g from the centre", out, in)
		}
	}
}

// The spec sheet's gap decides what is closed.
func TestGapKey(t *testing.T) {
	d := []byte(svg(`<g id="p"><path class="outline" d="M10 10h100v80h-100v-79"/></g>`))
	toml := "BASE\n[[piece]]\nid = \"p\"\ntitle = \"t\"\nthickness = 5\nframe = \"fixed\"\n"
	if _, err := Parse(d, specSheet("chest-girth = 900", toml)); err == nil || !contains(err.Error(), "gap of 1.00 mm") {
		t.Errorf("got %v, want the gap", err)
	}
	s, err := Parse(d, append([]byte("gap = 1.5\n"), specSheet("chest-girth = 900", toml)...))
	if err != nil || len(s.Notes) != 1 || !contains(s.Notes[0], "closed over a gap of 1.00 mm") {
		t.Errorf("%v, notes %v", err, s)
	}
}

// Drawings made to be slow or large are refused.
func TestHostileDrawings(t *testing.T) {
	var rings, deep, many strings.Builder
	for i := range maxLines {
		fmt.Fprintf(&rings, `<circle cx="200" cy="200" r="%g"/>`, 190-float64(i)*0.03)
		fmt.Fprintf(&many, `<path d="M%d %dh.9v.9h-.9z"/>`, i%300, i/300)
	}
	for range 60 {
		deep.WriteString(`<g id="a">`)
	}
	for name, d := range map[string]string{
		"rings": svg(rings.String()), "many": svg(many.String()), "deep": svg(deep.String()), "empty": "", "not a drawing": "hello",
		"points": svg(`<path d="M0 0` + strings.Repeat("L1 1L2 0", maxPoints) + `z"/>`),
		"lines":  svg(strings.Repeat(`<path d="M1 1h5v5z"/>`, maxLines+1)),
	} {
		if _, _, _, err := Draft([]byte(d), "x"); err == nil {
			t.Errorf("%s: accepted", name)
		}
	}
}

// The slowest of the hostile drawings: as many lines as are allowed, none inside another.
func BenchmarkRefuseManyLines(b *testing.B) {
	var many strings.Builder
	for i := range maxLines {
		fmt.Fprintf(&many, `<path d="M%d %dh.9v.9h-.9z"/>`, i%300, i/300)
	}
	data := []byte(svg(many.String()))
	for b.Loop() {
		if _, _, _, err := Draft(data, "x"); err == nil {
			b.Fatal("accepted")
		}
	}
}

// A piece may have the name of a role: the spec sheet decides.
func TestPieceNamedLikeARole(t *testing.T) {
	s := parse(t, []byte(svg(`<g id="seat"><path d="M10 10h100v80h-100z"/><path d="M20 20v40"/></g>`)),
		specSheet("hip-girth = 950", "BASE\n[[piece]]\nid = \"seat\"\ntitle = \"Seat\"\nthickness = 10\nframe = \"fixed\"\n"))
	if p := s.parts[0]; len(p.scores) != 1 || len(p.marks) != 0 {
		t.Fatalf("%d scores and %d marks", len(p.scores), len(p.marks))
	}
}
