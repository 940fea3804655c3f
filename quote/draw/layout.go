package draw

import (
	"fmt"
	"math"
	"slices"

	"benchbell/quote/geom"
)

// SheetPicture is what Layout draws: a sheet of foam with the pieces to cut from it, in sheet coordinates: origin at the
// lower left corner, y up.
type SheetPicture struct {
	Title         string // "sheet 2 of 3 · EVA foam 5 mm · 1000 × 500 mm · 71 % used"
	Commission    string
	Width, Height geom.MM // of the sheet
	Pieces        []LaidPiece
	Edge          geom.Ring   // outline of the offcut to cut from; nil is the rectangle
	Defects       []geom.Ring // places to avoid
	Offcut        geom.Ring   // left over and kept; nil: none
}

// LaidPiece is a piece in its place on the sheet.
type LaidPiece struct {
	Label    string
	Shape    geom.Shape
	Scores   []geom.Path
	Marks    []geom.Path
	Mirrored bool
	Owner    string // commission, if the sheet is shared; empty: the sheet's own
}

// frame maps sheet or pattern coordinates (y up) to the picture (y down).
type frame struct {
	origin geom.Point // where 0, 0 lands on the picture
	scale  float64
}

func (f frame) point(p geom.Point) geom.Point {
	return geom.Pt(f.origin.X+p.X*f.scale, f.origin.Y-p.Y*f.scale)
}

func (f frame) ring(r geom.Ring) geom.Ring {
	out := make(geom.Ring, len(r))
	for i, p := range r {
		out[i] = f.point(p)
	}
	return out
}

func (f frame) path(p geom.Path) geom.Path { return geom.Path(f.ring(geom.Ring(p))) }

func (f frame) shape(s geom.Shape) geom.Shape {
	out := geom.Shape{Outer: f.ring(s.Outer)}
	for _, h := range s.Holes {
		out.Holes = append(out.Holes, f.ring(h))
	}
	return out
}

// drillHole is the largest diameter drawn as a hole to drill or punch, with a centre cross, rather than to cut.
const drillHole geom.MM = 16

// Sizes of names on the layout, em in millimetres. A quote's page shows the picture at two thirds, where 2.2 mm is four
// points and still readable; a piece too small for that gets a number and its name stands under the sheet.
const (
	labelSize  geom.MM = 3.6
	labelLeast geom.MM = 2.2
	keySize            = 2.8
)

// Styles that the key explains.
var (
	layScore  = Stroke(Ink, 0.2, 1.6, 0.9)
	layMark   = Stroke(Grey, 0.2, 0.3, 0.6)
	layOffcut = Stroke(Ink, 0.35, 2.6, 0.8, 0.4, 0.8)
)

// Layout draws a sheet to cut: the sheet with its dimensions, every piece's outline with its label inside, score lines
// dashed, marks dotted, holes with their centre, mirrored pieces hatched and marked M, defects cross-hatched, the offcut to
// keep dash-dotted. Pieces too small for their label have a number, and a list under the sheet says which they are; a crowd
// of them is drawn again, larger. On a shared sheet each piece is named with its commission. Sheet and pieces keep their
// proportions; the picture is at most 250 mm wide, and about 190 mm high without the list.
func Layout(l SheetPicture) Scene {
	const (
		left, right, top, bottom = 13.0, 9.0, 13.0, 9.0
		wide, high               = 250 - left - right, 160.0
	)
	sheet := sheetBox(l)
	k := math.Min(wide/float64(sheet.Width()), high/float64(sheet.Height()))
	w, h := float64(sheet.Width())*k, float64(sheet.Height())*k
	s := Scene{Width: geom.MM(math.Max(left+w+right, 110)), Height: geom.MM(top + h + bottom + 9), Title: Printable(l.Title)}
	f := frame{geom.Pt(left-sheet.Min.X*k, top+h+sheet.Min.Y*k), k}

	commission := TextWidth(Bold, 4, l.Commission)
	s.Label(geom.Pt(left, 5), 4, Bold, Start, Ink, Short(Bold, 4, s.Width-left-right-commission-4, l.Title))
	s.Label(geom.Pt(float64(s.Width)-right, 5), 4, Bold, End, Accent, l.Commission)
	edge := Style{Fill: 0xf7f8f8, Stroke: Ink, Width: 0.5}
	area := geom.Box{Min: geom.Pt(left, top), Max: geom.Pt(left+w, top+h)}
	if drawable(l.Edge) {
		s.Polygon(f.ring(l.Edge), edge)
	} else {
		s.Rect(left, top, geom.MM(w), geom.MM(h), edge)
	}

	has := layoutKey{}
	for _, r := range l.Defects {
		has.defect = true
		for _, angle := range [2]float64{45, -45} {
			s.Polygon(f.ring(r), Style{Fill: None, Stroke: Grey, Width: 0.2, Hatch: &Hatch{Angle: angle, Spacing: 1.2, Width: 0.12, Color: Grey}})
		}
	}
	if drawable(l.Offcut) {
		s.Polygon(f.ring(l.Offcut), layOffcut)
		b := l.Offcut.Bounds()
		has.offcut = fmt.Sprintf("offcut to keep, %.0f × %.0f mm", float64(b.Width()), float64(b.Height()))
		s.labelInside(geom.Shape{Outer: f.ring(l.Offcut)}, nil, 3.2, labelLeast, Italic, Ink, "offcut to keep", fmt.Sprintf("%.0f × %.0f mm", float64(b.Width()), float64(b.Height())))
	}
	drawn := make([]inked, len(l.Pieces))
	for i, p := range l.Pieces {
		drawn[i] = s.laid(f, p, &has)
	}
	n := naming{s: &s, l: &l, shared: l.shared()}
	details := n.onSheet(f, drawn, area)

	s.Dimension(geom.Pt(left, top), geom.Pt(left+w, top), 2.2, sheet.Width().String())
	s.Dimension(geom.Pt(left, top+h), geom.Pt(left, top), 4, sheet.Height().String())
	y := n.drawDetails(details, f, left, top+h+2, float64(s.Width)-right)
	y = s.layoutKey(left, y+4, float64(s.Width)-right, has)
	s.Height = geom.MM(s.keyList(left, y, float64(s.Width)-right, n.keys) + 3)
	return s
}

// drawable reports whether a ring can be drawn at all.
func drawable(r geom.Ring) bool { return len(r) > 2 && near(r) }

// inked is the lines on a piece. Names always keep off firm ones, and off soft ones if they can.
type inked struct{ firm, soft []geom.Path }

func (d inked) all() []geom.Path { return slices.Concat(d.firm, d.soft) }

// laid draws a piece in its place and returns the lines on it.
func (s *Scene) laid(f frame, p LaidPiece, has *layoutKey) inked {
	st := Style{Fill: White, Stroke: Ink, Width: 0.3}
	if p.Mirrored {
		st.Hatch = &Hatch{Angle: 45, Spacing: 2.2, Width: 0.12, Color: Pale}
		has.mirrored = true
	}
	s.Shape(f.shape(p.Shape), st)
	var drawn inked
	for _, hole := range p.Shape.Holes {
		b := hole.Bounds()
		if b.Empty() || b.Width() > drillHole || b.Height() > drillHole {
			continue
		}
		has.holed = true
		c, arm := f.point(b.Centre()), float64(b.Width())*f.scale/2+0.7
		for _, d := range [2]geom.Point{{X: arm}, {Y: arm}} {
			drawn.firm = append(drawn.firm, geom.Path{c.Sub(d), c.Add(d)})
			s.Line(c.Sub(d), c.Add(d), Stroke(Ink, 0.12))
		}
	}
	for _, q := range p.Scores {
		drawn.firm = append(drawn.firm, f.path(q))
		s.Polyline(f.path(q), layScore)
		has.scored = true
	}
	for _, q := range p.Marks {
		drawn.soft = append(drawn.soft, f.path(q))
		s.Polyline(f.path(q), layMark)
		has.marked = true
	}
	return drawn
}

// layoutKey is what a layout shows; its key explains nothing else.
type layoutKey struct {
	scored, marked, holed, mirrored, defect bool
	offcut                                  string
}

// layoutKey draws the key from x, y on, no farther than right, and returns the baseline of its last row.
func (s *Scene) layoutKey(left, y, right float64, has layoutKey) float64 {
	x := left
	key := func(sample func(x, y float64), text string) {
		w := 9 + float64(TextWidth(Regular, keySize, text)) + 5
		if x > left && x+w > right {
			x, y = left, y+4.5
		}
		sample(x, y-0.9)
		s.Label(geom.Pt(x+9, y), keySize, Regular, Start, Ink, text)
		x += w
	}
	stroke := func(st Style) func(x, y float64) {
		return func(x, y float64) { s.Line(geom.Pt(x, y), geom.Pt(x+7.5, y), st) }
	}
	patch := func(c Color, angles ...float64) func(x, y float64) {
		return func(x, y float64) {
			for _, a := range angles {
				s.Rect(geom.MM(x), geom.MM(y-1.4), 7.5, 2.8, Style{Fill: None, Stroke: c, Width: 0.3, Hatch: &Hatch{Angle: a, Spacing: 1.1, Width: 0.12, Color: Grey}})
			}
		}
	}
	key(stroke(Stroke(Ink, 0.3)), "cut")
	if has.scored {
		key(stroke(layScore), "score")
	}
	if has.marked {
		key(stroke(layMark), "mark, do not cut")
	}
	if has.holed {
		key(func(x, y float64) {
			c := geom.Pt(x+3.75, y)
			s.Circle(c, 0.9, Stroke(Ink, 0.3))
			s.Line(c.Sub(geom.Pt(1.6, 0)), c.Add(geom.Pt(1.6, 0)), Stroke(Ink, 0.12))
			s.Line(c.Sub(geom.Pt(0, 1.6)), c.Add(geom.Pt(0, 1.6)), Stroke(Ink, 0.12))
		}, "drill or punch")
	}
	if has.mirrored {
		key(patch(Ink, 45), "mirrored piece (M)")
	}
	if has.defect {
		key(patch(Grey, 45, -45), "defect, do not use")
	}
	if has.offcut != "" {
		key(stroke(layOffcut), has.offcut)
	}
	return y
}

// sheetBox is the sheet's extent: from its corner, and large enough for every piece should one lie outside; 100 × 100 if
// the sheet has no size and no pieces.
func sheetBox(l SheetPicture) geom.Box {
	b := geom.EmptyBox()
	if l.Width > 0 && l.Height > 0 && l.Width < maxSheet && l.Height < maxSheet {
		b = geom.Box{Max: geom.Pt(float64(l.Width), float64(l.Height))}
	}
	if drawable(l.Edge) {
		b = l.Edge.Bounds()
	}
	for _, p := range l.Pieces {
		for _, q := range p.Shape.Outer {
			if q.Finite() && math.Abs(q.X) < float64(maxSheet) && math.Abs(q.Y) < float64(maxSheet) {
				b = b.Extend(q)
			}
		}
	}
	if b.Empty() || !(b.Width() > 0) || !(b.Height() > 0) {
		return geom.Box{Max: geom.Pt(100, 100)}
	}
	return b
}

// maxSheet bounds a sheet's side: no roll of foam is a hundred metres long.
const maxSheet geom.MM = 100000
