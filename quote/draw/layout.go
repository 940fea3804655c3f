package draw

import (
	"fmt"
	"math"
	"strconv"

	"benchbell/quote/geom"
)

// SheetPicture is what Layout draws: one sheet of foam with the pieces to cut from it, in sheet coordinates: origin at
// the lower left corner, y up.
type SheetPicture struct {
	Title         string // "sheet 2 of 3 · EVA foam 5 mm · 1000 × 500 mm · 71 % used"
	Commission    string
	Width, Height geom.MM // of the sheet
	Pieces        []LaidPiece
	Edge          geom.Ring   // outline of an offcut that is cut from; nil is the rectangle
	Defects       []geom.Ring // places that are not used
	Offcut        geom.Ring   // what remains and is kept; nil for none
}

// LaidPiece is a piece where it lies on its sheet.
type LaidPiece struct {
	Label    string
	Shape    geom.Shape
	Scores   []geom.Path
	Marks    []geom.Path
	Mirrored bool
	Owner    string // commission, where a sheet holds pieces of several; empty is the sheet's own
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

// Sizes of names on the layout, em in millimetres: at 1.7 mm (5 points) print is still read, below it a piece gets a
// number and the name stands under the sheet.
const (
	labelSize  geom.MM = 3.6
	labelLeast geom.MM = 1.7
	keySize            = 2.6
)

// Styles that the key explains.
var (
	layScore  = Stroke(Ink, 0.2, 1.6, 0.9)
	layMark   = Stroke(Grey, 0.2, 0.3, 0.6)
	layOffcut = Stroke(Ink, 0.35, 2.6, 0.8, 0.4, 0.8)
)

// Layout draws a sheet to cut: the sheet with its dimensions, every piece's outline with its label inside, score lines
// dashed, marks dotted, holes with their centre, mirrored pieces hatched and labelled so, defects cross-hatched, what is
// kept dash-dotted. Pieces too small for their label have a number, and a list under the sheet says which they are. Where
// pieces have several owners, each is named with its own. Sheet and pieces keep their proportions; the picture is at
// most 250 mm wide, and about 190 mm high without the list.
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
	n := len(s.Figures)
	drawn := make([][]geom.Path, len(l.Pieces)) // what a piece's label keeps clear of
	for i, p := range l.Pieces {
		drawn[i] = s.laid(f, p, &has)
	}
	keys := s.names(f, l, drawn, area, s.Figures[n:])

	s.Dimension(geom.Pt(left, top), geom.Pt(left+w, top), 2.2, sheet.Width().String())
	s.Dimension(geom.Pt(left, top+h), geom.Pt(left, top), 4, sheet.Height().String())
	y := s.layoutKey(left, top+h+6, float64(s.Width)-right, has)
	s.Height = geom.MM(s.keyList(left, y, float64(s.Width)-right, keys) + 3)
	return s
}

// drawable reports whether a ring can be drawn at all.
func drawable(r geom.Ring) bool { return len(r) > 2 && near(r) }

// laid draws a piece where it lies and returns the lines on it.
func (s *Scene) laid(f frame, p LaidPiece, has *layoutKey) []geom.Path {
	st := Style{Fill: White, Stroke: Ink, Width: 0.3}
	if p.Mirrored {
		st.Hatch = &Hatch{Angle: 45, Spacing: 2.2, Width: 0.12, Color: Pale}
		has.mirrored = true
	}
	s.Shape(f.shape(p.Shape), st)
	var drawn []geom.Path
	for _, hole := range p.Shape.Holes {
		b := hole.Bounds()
		if b.Empty() || b.Width() > drillHole || b.Height() > drillHole {
			continue
		}
		has.holed = true
		c, arm := f.point(b.Centre()), float64(b.Width())*f.scale/2+0.7
		for _, d := range [2]geom.Point{{X: arm}, {Y: arm}} {
			drawn = append(drawn, geom.Path{c.Sub(d), c.Add(d)})
			s.Line(c.Sub(d), c.Add(d), Stroke(Ink, 0.12))
		}
	}
	for _, q := range p.Scores {
		drawn = append(drawn, f.path(q))
		s.Polyline(f.path(q), layScore)
		has.scored = true
	}
	for _, q := range p.Marks {
		drawn = append(drawn, f.path(q))
		s.Polyline(f.path(q), layMark)
		has.marked = true
	}
	return drawn
}

// names writes every piece's label on it, or a number on or beside it; it returns what the numbers mean.
func (s *Scene) names(f frame, l SheetPicture, drawn [][]geom.Path, area geom.Box, ink []Figure) []string {
	owners := map[string]bool{}
	for _, p := range l.Pieces {
		owners[l.owner(p)] = true
	}
	several := len(owners) > 1
	var keys []string
	var small []int // pieces that get a number
	var words clutter
	for i, p := range l.Pieces {
		sh := f.shape(p.Shape)
		if !drawable(sh.Outer) {
			continue
		}
		value := []string{p.title()}
		if several {
			value = append(value, l.owner(p))
		}
		if size, b := s.labelInside(sh, drawn[i], labelSize, labelLeast, Bold, Ink, value...); size > 0 {
			words.boxes = append(words.boxes, b)
			continue
		}
		small = append(small, i)
		key := fmt.Sprintf("%d = %s", len(small), p.title())
		if several {
			key += ", " + l.owner(p)
		}
		keys = append(keys, key)
	}
	var beside []int
	for n, i := range small {
		number := strconv.Itoa(n + 1)
		if b, ok := s.numberInside(f.shape(l.Pieces[i].Shape), number); ok {
			words.boxes = append(words.boxes, b)
		} else {
			beside = append(beside, n)
		}
	}
	if len(beside) == 0 {
		return keys
	}
	for _, g := range ink {
		if g.Shape != nil && g.Paintable() {
			words.shape(*g.Shape)
		} else if g.Paintable() {
			words.path(g.Path)
		}
	}
	words.ring(geom.Ring{area.Min, {X: area.Max.X, Y: area.Min.Y}, area.Max, {X: area.Min.X, Y: area.Max.Y}})
	for _, n := range beside {
		s.numberBeside(&words, f.shape(l.Pieces[small[n]].Shape), strconv.Itoa(n+1), area)
	}
	return keys
}

// numberInside writes a number on a piece where it fits, always level: a turned 6 is a 9 to somebody.
func (s *Scene) numberInside(sh geom.Shape, number string) (geom.Box, bool) {
	const most, air = 2.4, 1.15
	w := float64(TextWidth(Bold, 1, number))
	at, r := hope{sh, nil, w / capital, most * capital * air / math.Sqrt2}.inside()
	size := min(most, geom.MM(r*math.Sqrt2/capital/air))
	if size < labelLeast {
		return geom.Box{}, false
	}
	s.Label(at.Add(geom.Pt(0, float64(size)*capital/2)), size, Bold, Middle, Ink, number)
	return boxAt(at, w*float64(size), capital*float64(size)), true
}

// numberBeside writes a number near a piece where nothing else is, else right of the sheet, with a leader from it.
func (s *Scene) numberBeside(words *clutter, sh geom.Shape, number string, area geom.Box) {
	const (
		size   = 2.2
		margin = 8.0 // right of the sheet
		far    = 16.0
	)
	at, r := Roomiest(sh)
	if r == 0 {
		at = sh.Bounds().Centre()
	}
	w, h := float64(TextWidth(Bold, size, number))+0.5, size*capital+0.5
	box, ok := words.beside(at, w, h, 0.5+math.Max(float64(r), 0.6), far, geom.Box{Min: area.Min, Max: geom.Pt(area.Max.X+margin, area.Max.Y)})
	if !ok {
		// One under the other right of the sheet, as near to the piece's height as there is room.
		for d := 0.0; !ok && d < float64(area.Height()); d += h + 0.2 {
			for _, y := range [2]float64{at.Y - d, at.Y + d} {
				box = boxAt(geom.Pt(area.Max.X+3.5, y), w, h)
				if ok = y > area.Min.Y && y < area.Max.Y && words.free(box); ok {
					break
				}
			}
		}
	}
	words.boxes = append(words.boxes, box)
	c := box.Centre()
	to := geom.Pt(math.Max(box.Min.X, math.Min(box.Max.X, at.X)), math.Max(box.Min.Y, math.Min(box.Max.Y, at.Y)))
	s.Line(at, to, Stroke(Ink, 0.12))
	s.Circle(at, 0.3, Fill(Ink))
	s.Label(geom.Pt(c.X, c.Y+size*capital/2), size, Bold, Middle, Ink, number)
}

// owner of a piece.
func (l *SheetPicture) owner(p LaidPiece) string {
	if p.Owner != "" {
		return p.Owner
	}
	return l.Commission
}

func (p *LaidPiece) title() string {
	if p.Mirrored {
		return p.Label + " (M)"
	}
	return p.Label
}

// layoutKey is what a layout shows: its key names that only.
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
		key(patch(Grey, 45, -45), "defect, not used")
	}
	if has.offcut != "" {
		key(stroke(layOffcut), has.offcut)
	}
	return y
}

// keyList writes what numbers mean in columns below y, no farther than right, and returns the last baseline.
func (s *Scene) keyList(left, y, right float64, keys []string) float64 {
	if len(keys) == 0 {
		return y
	}
	y += 5.5
	s.Label(geom.Pt(left, y), keySize, Bold, Start, Ink, "Small pieces by number")
	wide := 0.0
	for _, k := range keys {
		wide = math.Max(wide, math.Min(float64(TextWidth(Regular, keySize, k)), right-left))
	}
	const gap, line = 6.0, 3.8
	columns := max(1, int((right-left+gap)/(wide+gap)))
	rows := (len(keys) + columns - 1) / columns
	for i, k := range keys {
		at := geom.Pt(left+float64(i/rows)*(wide+gap), y+line*float64(i%rows+1))
		s.Label(at, keySize, Regular, Start, Ink, Short(Regular, keySize, geom.MM(right-left), k))
	}
	return y + line*float64(rows)
}

// sheetBox is the sheet's extent: from its corner, and wide enough for every piece should one lie outside; 100 × 100 where
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

// maxSheet bounds a sheet's side: rolls of foam end well below a hundred metres.
const maxSheet geom.MM = 100000
