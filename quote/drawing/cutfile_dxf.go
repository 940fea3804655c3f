package drawing

import (
	"fmt"
	"strings"

	"benchbell/quote/geom"
)

// dxfLook is the colour index and linetype of a layer.
type dxfLook struct {
	colour   int
	linetype string
}

var dxfLooks = map[Layer]dxfLook{
	Through: {7, "CONTINUOUS"}, Inside: {5, "CONTINUOUS"}, PartWay: {6, "DASHED"},
	Pen: {3, "DOT"}, Words: {8, "CONTINUOUS"}, Border: {9, "DASHDOT"},
}

// dxfPatterns are the linetypes' dashes and gaps in millimetres; a negative number is a gap, zero a dot.
var dxfPatterns = []struct {
	name, looks string
	dashes      []float64
}{
	{"CONTINUOUS", "Solid line", nil},
	{"DASHED", "__ __ __", []float64{6, -2}},
	{"DOT", ". . . .", []float64{0, -1.5}},
	{"DASHDOT", "__ . __ .", []float64{10, -2, 0, -2}},
}

// WriteDXF writes a sheet as ASCII DXF R12 (AC1009), which most programs read: lines as POLYLINE, circles as CIRCLE, labels
// as TEXT, in millimetres and in the order of toolpath. Layer names are ours in upper case, as R12 requires. R12 has no
// units; $INSUNITS is in the header because later readers look for it there. Errors are those of toolpath.
func WriteDXF(s CutSheet) ([]byte, error) {
	lines, err := toolpath(s)
	if err != nil {
		return nil, err
	}
	var w dxfWriter
	if t := dxfEscaped(s.Title); t != "" {
		w.group(999, t)
	}
	w.header(s)
	w.tables()
	w.section("ENTITIES")
	for _, l := range lines {
		w.line(l)
	}
	for _, t := range s.Words {
		w.words(t)
	}
	w.line(CutLine{Layer: Border, Points: geom.Path(s.edge()), Closed: true})
	w.group(0, "ENDSEC")
	w.group(0, "EOF")
	return []byte(w.String()), nil
}

type dxfWriter struct{ strings.Builder }

func (w *dxfWriter) group(code int, value any) {
	if v, ok := value.(float64); ok {
		value = decimal(v)
	}
	fmt.Fprintf(w, "%3d\n%v\n", code, value)
}

func (w *dxfWriter) point(code int, p geom.Point) {
	w.group(code, p.X)
	w.group(code+10, p.Y)
	w.group(code+20, 0.0)
}

func (w *dxfWriter) section(name string) {
	w.group(0, "SECTION")
	w.group(2, name)
}

func (w *dxfWriter) header(s CutSheet) {
	w.section("HEADER")
	w.group(9, "$ACADVER")
	w.group(1, "AC1009")
	w.group(9, "$DWGCODEPAGE")
	w.group(3, "ANSI_1252")
	w.group(9, "$INSUNITS")
	w.group(70, 4)
	corner := geom.Pt(float64(s.Width), float64(s.Height))
	for _, v := range []struct {
		name string
		at   geom.Point
	}{{"EXTMIN", geom.Point{}}, {"EXTMAX", corner}} {
		w.group(9, "$"+v.name)
		w.point(10, v.at)
	}
	w.group(0, "ENDSEC")
}

func (w *dxfWriter) tables() {
	w.section("TABLES")
	w.table("LTYPE", len(dxfPatterns))
	for _, p := range dxfPatterns {
		w.entry("LTYPE", p.name)
		w.group(3, p.looks)
		w.group(72, 65)
		w.group(73, len(p.dashes))
		total := 0.0
		for _, d := range p.dashes {
			total += max(d, -d)
		}
		w.group(40, total)
		for _, d := range p.dashes {
			w.group(49, d)
		}
	}
	w.group(0, "ENDTAB")
	w.table("LAYER", len(cutOrder)+1)
	w.layer("0", dxfLook{7, "CONTINUOUS"}) // every file has this one
	for _, l := range cutOrder {
		w.layer(dxfName(l), dxfLooks[l])
	}
	w.group(0, "ENDTAB")
	w.table("STYLE", 1)
	w.entry("STYLE", "STANDARD")
	for _, g := range []struct {
		code  int
		value any
	}{{40, 0.0}, {41, 1.0}, {50, 0.0}, {71, 0}, {42, 5.0}, {3, "txt"}, {4, ""}} {
		w.group(g.code, g.value)
	}
	w.group(0, "ENDTAB")
	w.group(0, "ENDSEC")
}

func (w *dxfWriter) table(name string, entries int) {
	w.group(0, "TABLE")
	w.group(2, name)
	w.group(70, entries)
}

func (w *dxfWriter) entry(kind, name string) {
	w.group(0, kind)
	w.group(2, name)
	w.group(70, 0)
}

func (w *dxfWriter) layer(name string, look dxfLook) {
	w.entry("LAYER", name)
	w.group(62, look.colour)
	w.group(6, look.linetype)
}

// dxfName is a layer's name as R12 allows it: letters, digits, $, - and _ in upper case.
func dxfName(l Layer) string { return strings.ToUpper(string(l)) }

func (w *dxfWriter) line(l CutLine) {
	name := dxfName(l.Layer)
	if l.Circle != nil {
		w.group(0, "CIRCLE")
		w.group(8, name)
		w.point(10, l.Circle.Centre)
		w.group(40, float64(l.Circle.Radius))
		return
	}
	w.group(0, "POLYLINE")
	w.group(8, name)
	w.group(66, 1)
	w.point(10, geom.Point{})
	closed := 0
	if l.Closed {
		closed = polyClosed
	}
	w.group(70, closed)
	for _, p := range l.Points {
		w.group(0, "VERTEX")
		w.group(8, name)
		w.point(10, p)
	}
	w.group(0, "SEQEND")
	w.group(8, name)
}

// Alignment of a text on its middle: groups 72 and 73.
const alignCentre, alignMiddle = 1, 2

func (w *dxfWriter) words(t CutWords) {
	w.group(0, "TEXT")
	w.group(8, dxfName(Words))
	w.point(10, t.At)
	w.group(40, float64(t.Size))
	w.group(1, dxfEscaped(t.Value))
	w.group(50, t.Turn)
	w.group(7, "STANDARD")
	w.group(72, alignCentre)
	w.point(11, t.At)
	w.group(73, alignMiddle)
}

// oneLine is text without anything that would end its line.
func oneLine(s string) string {
	return strings.TrimSpace(strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f {
			return ' '
		}
		return r
	}, s))
}

// dxfEscaped is a label in the code page that the header names, Western European: other characters as \U+XXXX, which R12's
// successors read, and a doubled percent sign split, because it would start a control code.
func dxfEscaped(s string) string {
	var b strings.Builder
	for _, r := range strings.ReplaceAll(oneLine(s), "%%", "% %") {
		switch {
		case r < 0x80 || (r >= 0xa0 && r <= 0xff):
			b.WriteByte(byte(r))
		case r <= 0xffff:
			fmt.Fprintf(&b, `\U+%04X`, r)
		default: // the escape has room for four digits
			b.WriteByte('?')
		}
	}
	return b.String()
}
