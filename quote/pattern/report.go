package pattern

import (
	"fmt"
	"math"
	"strings"

	"benchbell/quote/foam"
	"benchbell/quote/geom"
)

// Report is what a maker checks on a graded set before cutting.
type Report struct {
	Set    string        `json:"set"`
	Title  string        `json:"title"`
	Side   foam.Side     `json:"side,omitempty"`
	Pieces []PieceReport `json:"pieces"`
	Seams  []foam.Seam   `json:"seams,omitempty"` // glued seams and darts, then those that are only walked
	Loose  int           `json:"loose,omitempty"` // how many at the end of Seams are only walked
	Domes  []foam.Dome   `json:"domes,omitempty"`
	Notes  []string      `json:"notes,omitempty"` // from the drawing, then from grading
}

// PieceReport is one piece of the set, with all its copies.
type PieceReport struct {
	ID        string          `json:"id"`
	Title     string          `json:"title"`
	Copies    int             `json:"copies"` // including mirror images
	Thickness geom.MM         `json:"thickness"`
	Layer     int             `json:"layer"`
	Frame     string          `json:"frame"` // flat, cone, gore, fixed
	Width     geom.MM         `json:"width"`
	Height    geom.MM         `json:"height"`
	Area      geom.MM2        `json:"area"`
	CutOuts   int             `json:"cut_outs"` // holes and slots that are not drilled
	Drills    []foam.Drill    `json:"drills,omitempty"`
	Sections  []SectionReport `json:"sections,omitempty"`
}

// SectionReport is a control section: what the body requires there and what the drawing has at the base.
type SectionReport struct {
	At      float64   `json:"at"` // 0 bottom … 1 top
	Measure string    `json:"measure"`
	Asked   geom.MM   `json:"asked"` // width along the foam's neutral line
	Base    geom.MM   `json:"base"`  // the same for the body the set is drawn for
	Line    geom.Path `json:"-"`     // its place on the graded piece as drawn, the right side's
}

// Report tells a maker what to check on g, which must be this set graded to f.
func (s *Set) Report(f Fit, g foam.Graded) Report {
	r := Report{Set: g.Set, Title: g.Title, Side: g.Side, Domes: g.Domes, Loose: len(g.Loose)}
	r.Seams = append(append(r.Seams, g.Seams...), g.Loose...)
	r.Notes = append(append(r.Notes, s.Notes...), g.Notes...)
	first := map[string]foam.Piece{}
	for _, p := range g.Pieces {
		if _, ok := first[p.ID]; !ok {
			first[p.ID] = p
		}
	}
	for _, p := range s.parts {
		c := first[p.doc.ID]
		b := c.Shape.Bounds()
		pr := PieceReport{
			ID: c.ID, Title: c.Title, Copies: p.physical(), Thickness: c.Thickness, Layer: c.Layer, Frame: p.frame.String(),
			Width: b.Width(), Height: b.Height(), Area: c.Shape.Area(), CutOuts: len(c.Shape.Holes) - len(c.Drills), Drills: c.Drills,
		}
		m, err := p.grading(s, f)
		for _, sec := range p.sections {
			sr := SectionReport{At: sec.at, Measure: sec.says(), Asked: geom.MM(sec.width(f, p)), Base: geom.MM(sec.width(s.base, p))}
			if err == nil { // it always is, since g was graded
				sr.Line = m.line(p.across(sec.at))
			}
			pr.Sections = append(pr.Sections, sr)
		}
		r.Pieces = append(r.Pieces, pr)
	}
	return r
}

// across is the drawn line at a share of the piece's length: straight, or an arc about the apex of a cone.
func (p *part) across(at float64) geom.Path {
	if p.frame == frameCone {
		const steps = 24 // a section is only looked at, not cut
		var out geom.Path
		for i := 0; i <= steps; i++ {
			out = append(out, p.base.put(float64(i)/steps-0.5, at))
		}
		return out
	}
	b := p.outline.Bounds()
	y := b.Min.Y + at*float64(b.Height())
	return geom.Path{geom.Pt(b.Min.X, y), geom.Pt(b.Max.X, y)}
}

// says describes what drives the section: "1/6 of head-girth", "0.62 of upper-arm-girth".
func (c section) says() string {
	m := c.measure
	if c.doc.Part > 0 {
		m = fmt.Sprintf("%s, %.0f %% of the way to %s", m, 100*c.doc.Part, c.doc.Toward)
	}
	if share := c.share * c.profile; math.Abs(share-1) > 1e-9 {
		return fmt.Sprintf("%.3g of %s", share, m)
	}
	return m
}

func (k frameKind) String() string {
	return [...]string{"fixed", "flat", "cone", "gore"}[k]
}

// Text is the report in lines of at most about 100 characters, for a terminal or a message in fixed-width type.
func (r Report) Text() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s", r.Title)
	if r.Side != foam.NoSide {
		fmt.Fprintf(&b, ", %s side", r.Side)
	}
	fmt.Fprintf(&b, ": %s, %s, %s\n", count(len(r.Pieces), "piece"), count(len(r.Seams), "seam"), count(len(r.Domes), "dome"))
	b.WriteString("\nPieces (width × height in mm, area in cm²)\n")
	for _, p := range r.Pieces {
		fmt.Fprintf(&b, "  %-14s %2d × %2.0f mm  %7.1f × %-7.1f %7.1f  %-5s %s\n", p.ID, p.Copies, float64(p.Thickness), float64(p.Width), float64(p.Height), float64(p.Area)/100, p.Frame, p.Title)
		for _, s := range p.Sections {
			fmt.Fprintf(&b, "      at %.2f  %7.1f mm wide (drawn for %.1f), %s\n", s.At, float64(s.Asked), float64(s.Base), s.Measure)
		}
		if h := p.holes(); h != "" {
			fmt.Fprintf(&b, "      %s\n", h)
		}
	}
	if len(r.Seams) > 0 {
		b.WriteString("\nSeams (both edges in mm)\n")
	}
	for i, s := range r.Seams {
		kind := ""
		switch {
		case s.Dart:
			kind = ", dart"
		case i >= len(r.Seams)-r.Loose:
			kind = ", not glued"
		}
		if s.Notches > 0 {
			kind += ", " + count(s.Notches, "notch") + " met"
		}
		if s.Trued > 0 {
			kind += fmt.Sprintf(", trued from %.1f and %.1f", float64(s.BeforeA), float64(s.BeforeB))
		}
		fmt.Fprintf(&b, "  %-18s %7.1f %7.1f  differ by %.1f  %s to %s%s\n", s.Name, float64(s.LengthA), float64(s.LengthB), float64(apart(s.LengthA, s.LengthB)), s.PieceA, s.PieceB, kind)
	}
	if len(r.Domes) > 0 {
		b.WriteString("\nDomes (degrees taken out, half-angle of the cone, depth in mm)\n")
	}
	for _, d := range r.Domes {
		where := ""
		if d.Piece != "" {
			where = " in " + d.Piece
		}
		fmt.Fprintf(&b, "  %-18s %6.1f° %6.1f° %7.1f%s\n", d.Name, d.Angle, d.Cone, float64(d.Depth), where)
	}
	if len(r.Notes) > 0 {
		b.WriteString("\nPlease check\n")
	}
	for _, n := range r.Notes {
		fmt.Fprintf(&b, "  - %s\n", n)
	}
	return b.String()
}

// holes lists how many of each diameter, in order of first appearance.
func (p PieceReport) holes() string {
	var names []string
	counts := map[string]int{}
	for _, d := range p.Drills {
		n := d.Tool
		if n == "" {
			n = d.Diameter.String()
		}
		if counts[n] == 0 {
			names = append(names, n)
		}
		counts[n]++
	}
	var out []string
	for _, n := range names {
		out = append(out, fmt.Sprintf("%s of %s", count(counts[n], "hole"), n))
	}
	if p.CutOuts > 0 {
		out = append(out, count(p.CutOuts, "cut-out"))
	}
	return strings.Join(out, ", ")
}

func count(n int, what string) string {
	if n != 1 {
		if strings.HasSuffix(what, "ch") {
			what += "e"
		}
		what += "s"
	}
	return fmt.Sprintf("%d %s", n, what)
}
