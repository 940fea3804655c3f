package drawing

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A hostile or broken file ends in an error that says where and what would be right.
func TestDXFRefuses(t *testing.T) {
	line := []any{0, "LINE", 8, "0", 10, 0, 20, 0, 11, 10, 21, 0}
	blocks := func(entities []any, groups ...any) []byte {
		return []byte(dxfText(0, "SECTION", 2, "BLOCKS") + dxfText(groups...) + dxfText(0, "ENDSEC", 0, "SECTION", 2, "ENTITIES") +
			dxfText(entities...) + dxfText(0, "ENDSEC", 0, "EOF"))
	}
	// Twenty blocks, each of which inserts the next ten times: 10^20 lines, or none at all in the empty one.
	bomb := func(last ...any) []byte {
		var groups []any
		for i := range 20 {
			groups = append(groups, 0, "BLOCK", 2, string(rune('a'+i)), 10, 0, 20, 0)
			for range 10 {
				groups = append(groups, 0, "INSERT", 8, "0", 2, string(rune('b'+i)), 10, 0, 20, 0)
			}
			groups = append(groups, 0, "ENDBLK")
		}
		groups = append(groups, 0, "BLOCK", 2, "u", 10, 0, 20, 0)
		groups = append(append(groups, last...), 0, "ENDBLK")
		return blocks([]any{0, "INSERT", 8, "0", 2, "a", 10, 0, 20, 0}, groups...)
	}
	deep := func() []byte {
		var groups []any
		name := func(i int) string { return strings.Repeat("x", i+1) }
		for i := range 100 {
			groups = append(groups, 0, "BLOCK", 2, name(i), 10, 0, 20, 0, 0, "INSERT", 8, "0", 2, name(i+1), 10, 0, 20, 0, 0, "ENDBLK")
		}
		groups = append(append(groups, 0, "BLOCK", 2, name(100), 10, 0, 20, 0), append(line, 0, "ENDBLK")...)
		return blocks([]any{0, "INSERT", 8, "0", 2, "x", 10, 0, 20, 0}, groups...)
	}
	many := func(n int, groups ...any) []byte {
		return []byte(dxfText(0, "SECTION", 2, "ENTITIES") + strings.Repeat(dxfText(groups...), n) + dxfText(0, "ENDSEC", 0, "EOF"))
	}
	spline := func(degree int, knots []float64, weights []float64) []byte {
		g := []any{0, "SPLINE", 8, "0", 71, degree, 10, 0, 20, 0, 10, 9, 20, 9, 10, 9, 20, 0, 10, 20, 20, 0}
		for _, k := range knots {
			g = append(g, 40, k)
		}
		for _, w := range weights {
			g = append(g, 41, w)
		}
		return dxfOf(g...)
	}
	clamped := []float64{0, 0, 0, 0, 1, 1, 1, 1}
	polyline := append([]byte(dxfText(0, "SECTION", 2, "ENTITIES", 0, "LWPOLYLINE", 8, 0)), bytes.Repeat([]byte("10\n1\n20\n2\n10\n2\n20\n2\n"), maxPoints/2+1)...)
	for _, c := range []struct {
		name string
		data []byte
		want string
	}{
		{"binary", []byte("A program's Binary DXF\r\n\x1a\x00"), "save it as ASCII DXF"},
		{"DWG", []byte("AC1015\x00\x00\x00"), "save it as ASCII DXF"},
		{"no entities", []byte(dxfText(0, "SECTION", 2, "HEADER", 0, "ENDSEC", 0, "EOF")), "no ENTITIES section"},
		{"cut short", []byte("0\nSECTION\n2\nENTITIES\n0\nLINE\n10"), "line 7: the file ends after a group code"},
		{"no code", []byte("0\nSECTION\n2\nENTITIES\nLINE\n10\n"), "line 5: a group code must be a whole number"},
		{"junk between sections", []byte("0\nSECTION\n2\nENTITIES\n0\nENDSEC\n5\nx\n0\nEOF\n"), "the file is damaged"},
		{"many lines", many(maxNodes+1, line...), "entity 20001 (LINE): the drawing has more than 20000 entities"},
		{"many points nodes", many(maxNodes+1, 0, "POINT", 8, 0), "more than 20000 entities"},
		{"many vertices", polyline, "entity 1 (LWPOLYLINE): the drawing has more than 400000 points"},
		{"block bomb", bomb(line...), "more than 20000 entities"},
		{"empty block bomb", bomb(), "more than 20000 entities"},
		{"block in itself", blocks([]any{0, "INSERT", 2, "a", 10, 0, 20, 0}, 0, "BLOCK", 2, "a", 0, "INSERT", 2, "b", 10, 0, 20, 0, 0, "ENDBLK",
			0, "BLOCK", 2, "B", 0, "INSERT", 2, "A", 10, 0, 20, 0, 0, "ENDBLK"), "entity 1 (INSERT) of block B: block \"A\" inserts itself"},
		{"deep blocks", deep(), "nested more than 64 deep"},
		{"array", blocks([]any{0, "INSERT", 2, "a", 10, 0, 20, 0, 70, 30000, 71, 30000}, 0, "BLOCK", 2, "a", 0, "ENDBLK"), "30000 columns and 30000 rows"},
		{"array that overflows", blocks([]any{0, "INSERT", 2, "a", 10, 0, 20, 0, 70, math.MaxInt, 71, 3}, 0, "BLOCK", 2, "a", 0, "ENDBLK"), "entity 1 (INSERT): it repeats"},
		{"scale zero", blocks([]any{0, "INSERT", 2, "a", 10, 0, 20, 0, 41, 0}, 0, "BLOCK", 2, "a", 0, "ENDBLK"), "its scale is zero"},
		{"not a number", dxfOf(0, "LINE", 10, "NaN", 20, 0, 11, 1, 21, 1), "entity 1 (LINE): group 10 is \"NaN\""},
		{"infinite", dxfOf(0, "CIRCLE", 10, 0, 20, 0, 40, "1e999"), "entity 1 (CIRCLE): group 40"},
		{"absurd", dxfOf(0, "CIRCLE", 10, 0, 20, 0, 40, "1e300"), "entity 1 (CIRCLE): group 40"},
		{"huge", dxfOf(0, "LINE", 10, 0, 20, 0, 11, 1e6, 21, 1), "entity 1 (LINE): it makes the drawing 1e+03 m wide"},
		{"far apart", dxfOf(0, "LINE", 10, 0, 20, 0, 11, 1, 21, 1, 0, "LINE", 10, 1e9, 20, 0, 11, 1e9, 21, 1), "entity 2 (LINE): it makes the drawing"},
		{"no point", dxfOf(0, "LINE", 10, 0, 20, 0), "entity 1 (LINE): the point of groups 11 and 21 is missing"},
		{"no radius", dxfOf(0, "ARC", 10, 0, 20, 0, 40, -3), "its radius is -3"},
		{"no axis", dxfOf(0, "ELLIPSE", 10, 0, 20, 0, 11, 0, 21, 0, 40, 0.5), "its axes are 0"},
		{"vertex", dxfOf(0, "VERTEX", 10, 0, 20, 0), "entity 1 (VERTEX) follows no polyline"},
		{"bad vertex", dxfOf(0, "POLYLINE", 0, "VERTEX", 10, 0, 20, 0, 0, "VERTEX", 10, "x", 20, 0), "entity 1 (POLYLINE): vertex 2: group 10 is \"x\""},
		{"degree", spline(99, clamped, nil), "its degree is 99"},
		{"degree 0", spline(0, clamped, nil), "its degree is 0"},
		{"too few knots", spline(3, clamped[1:], nil), "it has 7 knots; 4 control points of degree 3 need 8"},
		{"too many knots", spline(3, make([]float64, 5000), nil), "it has 5000 knots"},
		{"falling knots", spline(3, []float64{0, 0, 0, 0, -1, 1, 1, 1}, nil), "its knots fall from 0 to -1"},
		{"no knot span", spline(3, make([]float64, 8), nil), "its knots are all equal"},
		{"weights", spline(3, clamped, []float64{1, 0, 1, 1}), "one weight is 0"},
		{"few weights", spline(3, clamped, []float64{1}), "it has 1 weights for 4 control points"},
		{"no spline", dxfOf(0, "SPLINE", 71, 3), "neither control points nor two points"},
	} {
		d, err := Read(c.data)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want %q", c.name, err, c.want)
		}
		if d != nil {
			t.Errorf("%s: a drawing beside the error", c.name)
		}
	}
}

// The largest hostile files are read or refused within a bound on memory: what is allocated in all, of which less is
// held at once.
func TestHostileDXFIsBounded(t *testing.T) {
	const most = 320 << 20
	section := func(body string) []byte {
		return []byte("0\nSECTION\n2\nENTITIES\n" + body)
	}
	fill := func(s string) string { return strings.Repeat(s, maxBytes/4/len(s)) } // all are linear in it
	insertAll := func(block string) []byte {
		return []byte("0\nSECTION\n2\nBLOCKS\n0\nBLOCK\n2\na\n" + block + "\n0\nENDBLK\n0\nENDSEC\n0\nSECTION\n2\nENTITIES\n" +
			"0\nINSERT\n2\na\n10\n0\n20\n0\n70\n100\n71\n99\n44\n1\n45\n1\n0\nENDSEC\n0\nEOF\n")
	}
	var kinds, heaps strings.Builder // of the ends of lines: two heaps, all of one a little too far from all of the other
	for i := range maxNodes {
		fmt.Fprintf(&kinds, "0\nK%d\n", i)
		fmt.Fprintf(&heaps, "0\nLINE\n10\n%.6f\n20\n0\n11\n%d\n21\n%d\n", float64(i%2)*0.0127+float64(i)*1e-8, i%140, 100+i/140)
	}
	for name, c := range map[string]struct {
		data []byte
		want string
	}{
		"entities of nothing":  {section(fill("0\n\n")), "more than 400000 entities"},
		"groups of nothing":    {section("0\nLINE\n" + fill("1\n\n")), "groups 10 and 20 is missing"},
		"vertices":             {section("0\nPOLYLINE\n" + strings.Repeat("0\nVERTEX\n10\n1\n20\n1\n", maxPoints)), "more than 400000 entities"},
		"knots":                {section("0\nSPLINE\n" + strings.Repeat("10\n1\n20\n1\n", 4) + fill("40\n1\n")), "knots; 4 control points"},
		"control points":       {section("0\nSPLINE\n" + strings.Repeat("10\n1\n20\n1\n", maxPoints+1)), "more than 400000 points"},
		"one long text":        {section("0\nTEXT\n10\n0\n20\n0\n1\n" + fill(`\U+00DF`)), ""},
		"a text in parts":      {section("0\nMTEXT\n10\n0\n20\n0\n" + fill("3\n{\\H1;a}\n")), ""},
		"a long text inserted": {insertAll("0\nTEXT\n10\n0\n20\n0\n1\n" + strings.Repeat(`%%d`, 1_000_000)), ""},
		"a long layer's name":  {insertAll("0\nLINE\n8\n" + strings.Repeat(`\U+00DF`, 500_000) + "\n10\n0\n20\n0\n11\n1\n21\n0"), ""},
		"curves inserted":      {insertAll("0\nCIRCLE\n10\n0\n20\n0\n40\n9000"), "more than 400000 points"},
		"kinds":                {section(kinds.String()), ""},
		"code page":            {section("0\nLINE\n" + fill("1\n\xff\n")), "groups 10 and 20 is missing"},
		"heaps of ends":        {section(heaps.String()), ""},
	} {
		var err error
		if got := allocated(func() { _, err = Read(c.data) }); got > most {
			t.Errorf("%s: %d MB are allocated", name, got>>20)
		}
		if (err == nil) != (c.want == "") || err != nil && !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want %q", name, err, c.want)
		}
	}
}

// Whatever the bytes are: no panic, and what is read keeps what Read promises.
func FuzzReadDXF(f *testing.F) {
	files, err := filepath.Glob("testdata/dxf/*.dxf")
	if err != nil || len(files) == 0 {
		f.Fatalf("no files to start from: %v", err)
	}
	for _, name := range files {
		data, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		if i := bytes.Index(data, []byte("BLOCKS")); i > 0 { // the tables before are long and say little
			data = append([]byte("0\nSECTION\n2\n"), data[i:]...)
		}
		f.Add(data)
	}
	f.Add(dxfOf(0, "SPLINE", 71, 2, 40, 0, 40, 0, 40, 0, 40, 1, 40, 1, 40, 1, 10, 0, 20, 0, 10, 9, 20, 9, 10, 9, 20, 0, 41, 1, 41, 2, 41, 1))
	f.Add(dxfOf(0, "LWPOLYLINE", 70, 1, 10, 0, 20, 0, 42, 0.5, 10, 9, 20, 9, 42, -2, 10, 9, 20, 0))
	f.Add(dxfOf(0, "MTEXT", 10, 0, 20, 0, 1, `{\H1;\S1^2;}\P%%065 \U+00DF`))
	f.Fuzz(func(t *testing.T, data []byte) {
		d, err := readDXF(data)
		if err != nil {
			if d != nil || err.Error() == "" {
				t.Fatal("an error without words, or beside a drawing")
			}
			return
		}
		points := 0
		for _, l := range d.Lines {
			points += len(l.Points)
			if len(l.Points) < 2 {
				t.Fatalf("%s has %d points", l.At, len(l.Points))
			}
			for _, p := range l.Points {
				if !p.Finite() {
					t.Fatalf("%s reaches %v", l.At, p)
				}
			}
		}
		if points > maxPoints || len(d.Lines) > maxNodes {
			t.Fatalf("%d lines with %d points", len(d.Lines), points)
		}
	})
}
