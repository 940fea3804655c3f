package draw

import (
	"math"

	"benchbell/quote/geom"
)

// SheetPicture is what Layout draws: one sheet of foam with the pieces to cut from it, in sheet coordinates: origin at
// the lower left corner, y up.
type SheetPicture struct {
	Title         string // "sheet 2 of 3 · EVA foam 5 mm · 1000 × 500 mm · 71 % used"
	Commission    string
	Width, Height geom.MM // of the sheet
	Pieces        []LaidPiece
}

// LaidPiece is a piece where it lies on its sheet.
type LaidPiece struct {
	Label    string
	Shape    geom.Shape
	Scores   []geom.Path
	Marks    []geom.Path
	Mirrored bool
}

// frame maps sheet or pattern coordinates (y up) into a picture (y down).
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

// drillHole is the greatest diameter drawn as a hole to drill or punch, with a centre cross, rather than to cut.
const drillHole geom.MM = 16

// Layout draws a sheet to cut: the sheet with its dimensions, every piece's outline with its label inside, score lines
// dashed, marks dotted, holes with their centre, mirrored pieces hatched and labelled so. Sheet and pieces keep their
// proportions; the picture is at most 250 mm wide and about 190 mm high.
func Layout(l SheetPicture) Scene {
	const (
		left, right, top, bottom = 13.0, 3.0, 13.0, 9.0
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
	s.Rect(left, top, geom.MM(w), geom.MM(h), Style{Fill: 0xf7f8f8, Stroke: Ink, Width: 0.5})

	var scored, marked, holed, mirrored bool
	for _, p := range l.Pieces {
		sh := f.shape(p.Shape)
		st := Style{Fill: White, Stroke: Ink, Width: 0.3}
		if p.Mirrored {
			st.Hatch = &Hatch{Angle: 45, Spacing: 2.2, Width: 0.12, Color: Pale}
			mirrored = true
		}
		s.Shape(sh, st)
		var drawn []geom.Path // what the label keeps clear of
		for _, hole := range p.Shape.Holes {
			b := hole.Bounds()
			if b.Empty() || b.Width() > drillHole || b.Height() > drillHole {
				continue
			}
			holed = true
			c, arm := f.point(b.Centre()), float64(b.Width())*k/2+0.7
			for _, d := range [2]geom.Point{{X: arm}, {Y: arm}} {
				drawn = append(drawn, geom.Path{c.Sub(d), c.Add(d)})
				s.Line(c.Sub(d), c.Add(d), Stroke(Ink, 0.12))
			}
		}
		for _, q := range p.Scores {
			drawn = append(drawn, f.path(q))
			s.Polyline(f.path(q), Stroke(Ink, 0.2, 1.6, 0.9))
			scored = true
		}
		for _, q := range p.Marks {
			drawn = append(drawn, f.path(q))
			s.Polyline(f.path(q), Stroke(Grey, 0.2, 0.3, 0.6))
			marked = true
		}
		s.pieceLabel(sh, drawn, p)
	}

	s.Dimension(geom.Pt(left, top), geom.Pt(left+w, top), 2.2, sheet.Width().String())
	s.Dimension(geom.Pt(left, top+h), geom.Pt(left, top), 4, sheet.Height().String())

	// The key names only what the picture shows.
	x, y := left, top+h+6
	key := func(sample func(x, y float64), text string) {
		w := 9 + float64(TextWidth(Regular, 2.6, text)) + 5
		if x > left && x+w > float64(s.Width)-right {
			x, y = left, y+4.5
		}
		sample(x, y-0.9)
		s.Label(geom.Pt(x+9, y), 2.6, Regular, Start, Ink, text)
		x += w
	}
	stroke := func(st Style) func(x, y float64) {
		return func(x, y float64) { s.Line(geom.Pt(x, y), geom.Pt(x+7.5, y), st) }
	}
	key(stroke(Stroke(Ink, 0.3)), "cut")
	if scored {
		key(stroke(Stroke(Ink, 0.2, 1.6, 0.9)), "score")
	}
	if marked {
		key(stroke(Stroke(Grey, 0.2, 0.3, 0.6)), "mark, do not cut")
	}
	if holed {
		key(func(x, y float64) {
			c := geom.Pt(x+3.75, y)
			s.Circle(c, 0.9, Stroke(Ink, 0.3))
			s.Line(c.Sub(geom.Pt(1.6, 0)), c.Add(geom.Pt(1.6, 0)), Stroke(Ink, 0.12))
			s.Line(c.Sub(geom.Pt(0, 1.6)), c.Add(geom.Pt(0, 1.6)), Stroke(Ink, 0.12))
		}, "drill or punch")
	}
	if mirrored {
		key(func(x, y float64) {
			s.Rect(geom.MM(x), geom.MM(y-1.4), 7.5, 2.8, Style{Fill: White, Stroke: Ink, Width: 0.3,
				Hatch: &Hatch{Angle: 45, Spacing: 1.1, Width: 0.12, Color: Grey}})
		}, "mirrored piece")
	}
	s.Height = geom.MM(y + 3)
	return s
}

// sheetBox is the sheet's extent: from its corner, and wide enough for every piece should one lie outside; 100 × 100 where
// the sheet has no size and no pieces.
func sheetBox(l SheetPicture) geom.Box {
	b := geom.EmptyBox()
	if l.Width > 0 && l.Height > 0 && l.Width < maxSheet && l.Height < maxSheet {
		b = geom.Box{Max: geom.Pt(float64(l.Width), float64(l.Height))}
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

// maxSheet bounds a sheet's side: rolls of foam end well below a hundred metres.
const maxSheet geom.MM = 100000

// pieceLabel writes the label, and "mirrored" beneath where there is room.
func (s *Scene) pieceLabel(sh geom.Shape, drawn []geom.Path, p LaidPiece) {
	label := p.Label
	if p.Mirrored {
		label += " (M)"
	}
	const (
		size  geom.MM = 3.6
		least geom.MM = 0.9 // a print's finest legible lettering
	)
	if s.labelInside(sh, drawn, size, least, Bold, Ink, label) > 0 || !allFinite(sh.Outer) || len(sh.Outer) < 3 {
		return
	}
	// No room inside: beside it, with a leader.
	at, _ := Roomiest(sh)
	b := sh.Bounds()
	if at == (geom.Point{}) {
		at = b.Centre()
	}
	to := geom.Pt(b.Max.X+1.2, b.Min.Y+1)
	s.Line(at, to, Stroke(Grey, 0.12))
	s.Label(to.Add(geom.Pt(0.3, 0.5)), 1.6, Bold, Start, Ink, label)
}
