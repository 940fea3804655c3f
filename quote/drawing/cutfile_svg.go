package drawing

import (
	"fmt"
	"strconv"
	"strings"

	"benchbell/quote/geom"
)

// svgStyles are the styles of the layers, distinguished by width and dash where there is no colour. Lines that are cut
// through are solid, because some machines' programs cut dashes as drawn.
var svgStyles = map[Layer]string{
	Through: `stroke="#000000" stroke-width="0.6"`,
	Inside:  `stroke="#0000ff" stroke-width="0.25"`,
	PartWay: `stroke="#ff00ff" stroke-width="0.35" stroke-dasharray="6 2"`,
	Pen:     `stroke="#008000" stroke-width="0.25" stroke-dasharray="0.5 1.5"`,
	Words:   `stroke="none"`,
	Border:  `stroke="#808080" stroke-width="0.25" stroke-dasharray="10 2 1 2"`,
}

// WriteSVG writes a sheet as SVG 1.1 in millimetres: a group for every layer in the order of toolpath, marked as a layer as
// the Inkscape editor does, which other programs read or ignore. Circles stay circles, and only text is filled. In the file
// y runs down. Errors are those of toolpath.
func WriteSVG(s CutSheet) ([]byte, error) {
	lines, err := toolpath(s)
	if err != nil {
		return nil, err
	}
	w := svgWriter{height: float64(s.Height)}
	width, height := decimal(float64(s.Width)), decimal(float64(s.Height))
	w.printf(`<?xml version="1.0" encoding="UTF-8"?>` + "\n")
	w.printf(`<svg xmlns="http://www.w3.org/2000/svg" xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape" version="1.1" width="%smm" height="%smm" viewBox="0 0 %s %s">`+"\n", width, height, width, height)
	w.printf("<title>%s</title>\n", escaped(s.Title))
	for _, layer := range cutOrder {
		w.printf(`<g id="%s" inkscape:groupmode="layer" inkscape:label="%s" fill="none" stroke-linejoin="round" %s>`+"\n", layer, layer, svgStyles[layer])
		switch layer {
		case Words:
			for i, t := range s.Words {
				w.words(i, t)
			}
		case Border:
			w.line(1, CutLine{Layer: Border, Points: geom.Path(s.edge()), Closed: true})
		}
		n := 0
		for _, l := range lines {
			if l.Layer == layer {
				n++
				w.line(n, l)
			}
		}
		w.printf("</g>\n")
	}
	w.printf("</svg>\n")
	return []byte(w.String()), nil
}

type svgWriter struct {
	strings.Builder
	height float64
}

func (w *svgWriter) printf(format string, args ...any) { fmt.Fprintf(w, format, args...) }

func (w *svgWriter) line(n int, l CutLine) {
	label := ""
	if l.Piece != "" {
		label = ` inkscape:label="` + escaped(l.Piece) + `"`
	}
	if c := l.Circle; c != nil {
		w.printf(`<circle id="%s-%d"%s cx="%s" cy="%s" r="%s"/>`+"\n", l.Layer, n, label, decimal(c.Centre.X), decimal(w.height-c.Centre.Y), decimal(float64(c.Radius)))
		return
	}
	w.printf(`<path id="%s-%d"%s d="`, l.Layer, n, label)
	for i, p := range l.Points {
		lead := " L"
		if i == 0 {
			lead = "M"
		}
		w.printf("%s%s %s", lead, decimal(p.X), decimal(w.height-p.Y))
	}
	if l.Closed {
		w.printf(" Z")
	}
	w.printf("\"/>\n")
}

// capHeight is roughly the height of a sans-serif's capitals as a share of its size; the baseline on which SVG sets a text
// is half of it below the middle.
const capHeight = 0.7

func (w *svgWriter) words(i int, t CutWords) {
	down := geom.Pt(0, -float64(t.Size)*capHeight/2)
	at := t.At.Add(geom.Placement{Turn: t.Turn}.Apply(down))
	x, y := decimal(at.X), decimal(w.height-at.Y)
	w.printf(`<text id="words-%d" x="%s" y="%s" font-size="%s" font-family="sans-serif" text-anchor="middle" fill="#000000"`, i+1, x, y, decimal(float64(t.Size)))
	if t.Turn != 0 {
		w.printf(` transform="rotate(%s %s %s)"`, decimal(-t.Turn), x, y)
	}
	w.printf(">%s</text>\n", escaped(t.Value))
}

// decimal prints a length to a ten-thousandth of a millimetre, without trailing zeros.
func decimal(v float64) string {
	s := strconv.FormatFloat(v, 'f', 4, 64)
	if s = strings.TrimRight(strings.TrimRight(s, "0"), "."); s == "-0" {
		return "0"
	}
	return s
}

// escaped is text as XML holds it, on one line; characters that XML 1.0 does not allow are left out.
func escaped(s string) string {
	var b strings.Builder
	for _, r := range s {
		switch {
		case r == '&':
			b.WriteString("&amp;")
		case r == '<':
			b.WriteString("&lt;")
		case r == '>':
			b.WriteString("&gt;")
		case r == '"':
			b.WriteString("&quot;")
		case r == '\n' || r == '\r' || r == '\t':
			b.WriteByte(' ')
		case r < ' ' || r == 0xfffe || r == 0xffff:
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}
