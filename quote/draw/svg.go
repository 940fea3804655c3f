package draw

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"math"
	"strconv"

	"benchbell/quote/geom"
)

// SVG is the scene as a standalone SVG document, sized in millimetres. Text is drawn as outlines, each character defined
// once, with the words as a label for screen readers: a page needs no fonts to show it. Element ids depend only on font and
// character, so several of these SVGs can share a page.
func (s *Scene) SVG() []byte {
	var defs, body bytes.Buffer
	seen := map[string]bool{}
	for _, f := range s.Figures {
		if !f.Paintable() {
			continue
		}
		switch {
		case f.Text != nil:
			svgText(&defs, &body, seen, f.Text)
		case f.Shape != nil:
			d := svgRing(f.Shape.Outer)
			for _, h := range f.Shape.Holes {
				d += svgRing(h)
			}
			lines := f.Lines()
			if len(lines) == 0 {
				fmt.Fprintf(&body, `<path d="%s" fill-rule="evenodd"%s%s/>`+"\n", d, svgFill(f.Style.Fill), svgStroke(f))
				continue
			}
			if f.Style.Fill < None {
				fmt.Fprintf(&body, `<path d="%s" fill-rule="evenodd"%s/>`+"\n", d, svgFill(f.Style.Fill))
			}
			h := f.Style.Hatch
			body.WriteString(`<path d="`)
			for _, l := range lines {
				body.WriteString("M" + svgPoint(l.A) + "L" + svgPoint(l.B))
			}
			fmt.Fprintf(&body, `" fill="none" stroke="%s" stroke-width="%s"/>`+"\n", svgColor(h.Color), num(float64(h.Width)))
			if f.Style.Stroked() {
				fmt.Fprintf(&body, `<path d="%s" fill="none"%s/>`+"\n", d, svgStroke(f))
			}
		default:
			d := "M" + svgPoint(f.Path[0])
			for _, p := range f.Path[1:] {
				d += "L" + svgPoint(p)
			}
			if f.Style.Stroked() {
				fmt.Fprintf(&body, `<path d="%s" fill="none"%s/>`+"\n", d, svgStroke(f))
			}
		}
	}
	w, h := s.Size()
	var out bytes.Buffer
	fmt.Fprintf(&out, `<svg xmlns="http://www.w3.org/2000/svg" width="%smm" height="%smm" viewBox="0 0 %s %s" role="img">`+"\n",
		num(float64(w)), num(float64(h)), num(float64(w)), num(float64(h)))
	out.WriteString("<title>" + escape(s.Title) + "</title>\n")
	if defs.Len() > 0 {
		out.WriteString("<defs>\n" + defs.String() + "</defs>\n")
	}
	fmt.Fprintf(&out, `<rect width="%s" height="%s" fill="#ffffff"/>`+"\n", num(float64(w)), num(float64(h)))
	out.Write(body.Bytes())
	out.WriteString("</svg>\n")
	return out.Bytes()
}

func svgText(defs, body *bytes.Buffer, seen map[string]bool, t *Text) {
	value := Printable(t.Value)
	font := t.Font.known()
	f := faces()[font]
	x0 := 0.0
	switch t.Anchor {
	case Middle:
		x0 = -float64(TextWidth(font, 1, value)) / 2 * f.em
	case End:
		x0 = -float64(TextWidth(font, 1, value)) * f.em
	}
	fmt.Fprintf(body, `<g aria-label="%s" fill="%s" transform="translate(%s %s)`, escape(value), svgColor(t.Color), num(t.At.X), num(t.At.Y))
	if t.Turn != 0 {
		fmt.Fprintf(body, " rotate(%s)", num(math.Mod(-t.Turn, 360)))
	}
	fmt.Fprintf(body, ` scale(%s)">`, strconv.FormatFloat(float64(t.Size)/f.em, 'g', 6, 64))
	x := x0
	for _, r := range value {
		g := f.glyph(r)
		if len(g.outline) > 0 {
			id := fmt.Sprintf("g%c%x", "rbim"[font], r)
			if !seen[id] {
				seen[id] = true
				fmt.Fprintf(defs, `<path id="%s" d="%s"/>`+"\n", id, svgOutline(g.outline))
			}
			fmt.Fprintf(body, `<use href="#%s" x="%s"/>`, id, num(x))
		}
		x += g.advance
	}
	body.WriteString("</g>\n")
}

func svgOutline(outline []bend) string {
	var b bytes.Buffer
	for i, s := range outline {
		switch {
		case s.Start && i > 0:
			b.WriteString("ZM")
		case s.Start:
			b.WriteByte('M')
		case s.Curved:
			b.WriteString("Q" + svgPoint(s.Via) + " ")
		default:
			b.WriteByte('L')
		}
		b.WriteString(svgPoint(s.To))
	}
	return b.String() + "Z"
}

func svgRing(r geom.Ring) string {
	if len(r) == 0 {
		return ""
	}
	var b bytes.Buffer
	for i, p := range r {
		if i == 0 {
			b.WriteByte('M')
		} else {
			b.WriteByte('L')
		}
		b.WriteString(svgPoint(p))
	}
	return b.String() + "Z"
}

func svgPoint(p geom.Point) string { return num(p.X) + " " + num(p.Y) }

func svgColor(c Color) string { return fmt.Sprintf("#%06x", uint32(c)) }

func svgFill(c Color) string {
	if c >= None {
		return ` fill="none"`
	}
	return ` fill="` + svgColor(c) + `"`
}

func svgStroke(f Figure) string {
	s := f.Style
	if !s.Stroked() {
		return ""
	}
	out := fmt.Sprintf(` stroke="%s" stroke-width="%s" stroke-linejoin="round"`, svgColor(s.Stroke), num(float64(s.Width)))
	if d := f.Dashes(); len(d) > 0 {
		out += ` stroke-dasharray="`
		for i, l := range d {
			if i > 0 {
				out += " "
			}
			out += num(float64(l))
		}
		out += `"`
	}
	return out
}

// num prints with micrometre precision, without trailing zeros or negative zero.
func num(f float64) string {
	r := math.Round(f*1000) / 1000
	if r == 0 {
		return "0"
	}
	return strconv.FormatFloat(r, 'f', -1, 64)
}

func escape(s string) string {
	var b bytes.Buffer
	_ = xml.EscapeText(&b, []byte(Printable(s))) // a bytes.Buffer never fails
	return b.String()
}
