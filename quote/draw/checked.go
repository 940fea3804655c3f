package draw

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"benchbell/quote/geom"
)

// CheckedSet is what Checked draws: the pieces of a set with everything read from their drawing.
type CheckedSet struct {
	Title  string
	Pieces []CheckedPiece
	Seams  []string // the seams in words, number 1 first: "side: A right to B left, 212.0 and 212.4 mm"
	Width  geom.MM  // of the picture; zero is 250 mm
}

// CheckedPiece is a piece in its own coordinates, y up.
type CheckedPiece struct {
	Name     string // "A · Cuff shell"
	Note     string // "2 ×, 10 mm, mirrored pair"
	Shape    geom.Shape
	Scores   []geom.Path
	Seams    []SeamLine
	Sections []SectionLine
	Marks    []MarkLine
}

// SeamLine is an edge joined to the edge with the same number, on this piece or another.
type SeamLine struct {
	Number int
	Path   geom.Path
}

// SectionLine is where a measurement drives the piece's width or length.
type SectionLine struct {
	Path  geom.Path
	Label string // "wrist girth, half"
}

// MarkLine is a mark: a notch, or the place of something.
type MarkLine struct {
	Path  geom.Path
	Label string
	Notch bool
}

// Styles of a checked set, told apart by width and dash.
var (
	checkedOutline = Style{Fill: White, Stroke: Ink, Width: 0.25}
	checkedSeam    = Stroke(Ink, 0.9)
	checkedSection = Stroke(Ink, 0.25, 3, 0.8, 0.5, 0.8)
	checkedScore   = Stroke(Ink, 0.2, 1.6, 0.9)
	checkedMark    = Stroke(Ink, 0.3, 0.3, 0.7)
	checkedNotch   = Stroke(Ink, 0.6)
)

// checkedWide is the usual width of the picture.
const checkedWide geom.MM = 250

const (
	checkedTop   = 11.0
	checkedName  = 2.9
	checkedNote  = 2.4
	checkedSmall = 2.3 // of labels on pieces
	checkedPad   = 7.0 // around a piece, for labels beside it
	checkedWords = 8.5 // below a piece, for its name and note
	checkedHigh  = 190 // wanted height of all rows,
	checkedEach  = 5   // and this much more for every piece
	checkedMost  = 0.9 // largest scale
)

// checkedCell is the space for a piece: upper left corner and size.
type checkedCell struct {
	piece      *CheckedPiece
	x, y, w, h float64
}

// Checked draws every piece of a set to one scale, with its seams (both edges of a seam have the same number), sections,
// score lines, holes, notches and labels; below them a key and the list of seams. A piece without a drawable outline is
// left out.
func Checked(c CheckedSet) Scene {
	width := side(c.Width)
	if c.Width <= 0 {
		width = checkedWide
	}
	width = max(width, 100)
	s := Scene{Width: width, Title: Printable(c.Title)}
	s.Label(geom.Pt(0, 5), 4, Bold, Start, Ink, Short(Bold, 4, width, c.Title))
	var pieces []*CheckedPiece
	for i := range c.Pieces {
		p := &c.Pieces[i]
		if b := p.Shape.Bounds(); drawable(p.Shape.Outer) && b.Width() > 0 && b.Height() > 0 {
			pieces = append(pieces, p)
		}
	}
	lo, hi := leastScale, checkedMost
	for range 30 {
		mid := math.Sqrt(lo * hi)
		if _, h, fits := checkedRows(pieces, float64(width), mid); fits && h <= checkedHigh+checkedEach*float64(len(pieces)) {
			lo = mid
		} else {
			hi = mid
		}
	}
	cells, y, _ := checkedRows(pieces, float64(width), lo)
	has := checkedKey{}
	for _, cell := range cells {
		s.checkedPiece(cell, lo, &has)
	}
	y = s.checkedKey(y+2, has, lo)
	y = s.list(y, "Labels", has.notes, func(i int) string { l, _ := has.letter(has.notes[i]); return l })
	y = s.list(y, "Seams", c.Seams, func(i int) string { return strconv.Itoa(i + 1) })
	s.Height = geom.MM(y + 1)
	return s.framed(4)
}

// checkedRows lays the pieces out in rows at a scale; it reports the lower end, and whether every piece fits the width.
func checkedRows(pieces []*CheckedPiece, width, k float64) ([]checkedCell, float64, bool) {
	var out []checkedCell
	x, y, tall, row, fits := 0.0, checkedTop, 0.0, 0, true
	flush := func() {
		for i := row; i < len(out); i++ {
			out[i].h = tall
		}
		x, y, tall, row = 0, y+tall, 0, len(out)
	}
	for _, p := range pieces {
		b := p.Shape.Bounds()
		words := math.Max(float64(TextWidth(Bold, checkedName, p.Name)), float64(TextWidth(Regular, checkedNote, p.Note)))
		w := math.Max(float64(b.Width())*k+2*checkedPad, math.Min(words, 45)+3)
		if float64(b.Width())*k+2*checkedPad > width {
			fits = false
		}
		if x > 0 && x+w > width {
			flush()
		}
		out = append(out, checkedCell{piece: p, x: x, y: y, w: w})
		x += w
		tall = math.Max(tall, float64(b.Height())*k+2*checkedPad+checkedWords)
	}
	flush()
	return out, y, fits
}

func (s *Scene) checkedPiece(c checkedCell, k float64, has *checkedKey) {
	p := c.piece
	b := p.Shape.Bounds()
	w, h := float64(b.Width())*k, float64(b.Height())*k
	x, y := c.x+(c.w-w)/2, c.y+(c.h-checkedWords-h)/2
	f := frame{geom.Pt(x-b.Min.X*k, y+h+b.Min.Y*k), k}
	bounds := geom.Box{Min: geom.Pt(c.x, c.y), Max: geom.Pt(c.x+c.w, c.y+c.h-checkedWords+1)}
	var words clutter
	sh := f.shape(p.Shape)
	words.shape(sh)
	s.Shape(sh, checkedOutline)
	line := func(q geom.Path, st Style, flag *bool) geom.Path {
		q = f.path(q)
		if len(q) > 1 && near(q) {
			words.path(q)
			s.Polyline(q, st)
			*flag = true
		}
		return q
	}
	for _, hole := range sh.Holes {
		if hb := hole.Bounds(); !hb.Empty() && float64(hb.Width()) < float64(drillHole)*k && float64(hb.Height()) < float64(drillHole)*k {
			has.holes = true
			arm := float64(hb.Width())/2 + 0.8
			for _, d := range [2]geom.Point{{X: arm}, {Y: arm}} {
				cross := geom.Path{hb.Centre().Sub(d), hb.Centre().Add(d)}
				words.path(cross)
				s.Polyline(cross, Stroke(Ink, 0.12))
			}
		}
	}
	for _, q := range p.Scores {
		line(q, checkedScore, &has.scores)
	}
	for _, m := range p.Marks {
		if m.Notch {
			line(m.Path, checkedNotch, &has.notches)
		} else {
			line(m.Path, checkedMark, &has.marks)
		}
	}
	for _, q := range p.Sections {
		line(q.Path, checkedSection, &has.sections)
	}
	for _, q := range p.Seams {
		s.seamEnds(&words, line(q.Path, checkedSeam, &has.seams))
	}
	for _, q := range p.Seams {
		s.seamNumber(&words, f.path(q.Path), q.Number, bounds)
	}
	for _, q := range p.Sections {
		s.labelNear(&words, f.path(q.Path), q.Label, bounds, has)
	}
	for _, m := range p.Marks {
		s.labelNear(&words, f.path(m.Path), m.Label, bounds, has)
	}
	at := geom.Pt(c.x+c.w/2, c.y+c.h-checkedWords+checkedName)
	s.Label(at, checkedName, Bold, Middle, Ink, Short(Bold, checkedName, geom.MM(c.w-1), p.Name))
	s.Label(at.Add(geom.Pt(0, checkedNote*1.35)), checkedNote, Regular, Middle, Ink, Short(Regular, checkedNote, geom.MM(c.w-1), p.Note))
}

// seamEnds marks the ends of a seam's edge with ticks.
func (s *Scene) seamEnds(words *clutter, q geom.Path) {
	if len(q) < 2 || !near(q) {
		return
	}
	for _, e := range [2][2]geom.Point{{q[0], q[1]}, {q[len(q)-1], q[len(q)-2]}} {
		n := e[1].Sub(e[0]).Unit().Perp().Mul(1.1)
		tick := geom.Path{e[0].Sub(n), e[0].Add(n)}
		words.path(tick)
		s.Polyline(tick, Stroke(Ink, 0.35))
	}
}

// seamNumber puts a seam's number in a circle beside the middle of its edge.
func (s *Scene) seamNumber(words *clutter, q geom.Path, number int, bounds geom.Box) {
	if len(q) < 2 || !near(q) {
		return
	}
	const r = 1.9
	at, _ := q.At(q.Length() / 2)
	b, ok := words.beside(at, 2*r, 2*r, 0.9, 9, bounds)
	if !ok {
		b = boxAt(at, 2*r, 2*r)
	}
	words.boxes = append(words.boxes, b)
	c := b.Centre()
	if c.Dist(at) > 2*r+1.5 {
		s.Line(at, c, Stroke(Ink, 0.12))
	}
	s.numbered(c, r, number)
}

func (s *Scene) numbered(c geom.Point, r float64, number int) {
	s.Circle(c, geom.MM(r), Style{Fill: White, Stroke: Ink, Width: 0.25})
	v := strconv.Itoa(number)
	size := math.Min(2.6, 1.5*r/math.Max(float64(TextWidth(Bold, 1, v)), 0.1))
	s.Label(c.Add(geom.Pt(0, size*capital/2)), geom.MM(size), Bold, Middle, Ink, v)
}

// labelNear writes a label beside the middle of a line, with a leader if it stands away from it; if there is no room, it
// writes a letter that a list under the picture explains.
func (s *Scene) labelNear(words *clutter, q geom.Path, label string, bounds geom.Box, has *checkedKey) {
	label = Printable(label)
	if label == "" || len(q) == 0 || !near(q) {
		return
	}
	at, _ := q.At(q.Length() / 2)
	place := func(v string) (geom.Box, bool) {
		return words.beside(at, float64(TextWidth(Regular, checkedSmall, v))+0.6, checkedSmall*capital+0.8, 0.4, 14, bounds)
	}
	b, ok := place(label)
	if !ok {
		letter, known := has.letter(label)
		if b, ok = place(letter); !ok {
			b = boxAt(at.Add(geom.Pt(0, -checkedSmall)), float64(TextWidth(Regular, checkedSmall, letter))+0.6, checkedSmall*capital+0.8)
		}
		if !known {
			has.notes = append(has.notes, label)
		}
		label = letter
	}
	words.boxes = append(words.boxes, b)
	c := b.Centre()
	to := geom.Pt(math.Max(b.Min.X, math.Min(b.Max.X, at.X)), math.Max(b.Min.Y, math.Min(b.Max.Y, at.Y)))
	if to.Dist(at) > 1.6 {
		s.Line(at, to, Stroke(Ink, 0.12))
	}
	s.Label(c.Add(geom.Pt(0, checkedSmall*capital/2)), checkedSmall, Regular, Middle, Ink, label)
}

// checkedKey is what the picture shows; its key explains nothing else.
type checkedKey struct {
	scores, seams, sections, notches, marks, holes bool
	notes                                          []string // labels that letters stand for
}

// letter is the letter for a label; it reports whether the list already has it.
func (k *checkedKey) letter(label string) (string, bool) {
	i := slices.Index(k.notes, label)
	known := i >= 0
	if !known {
		i = len(k.notes)
	}
	if i < 26 {
		return string(rune('a' + i)), known
	}
	return fmt.Sprintf("n%d", i+1), known
}

// checkedKey draws the key below y and returns its lower end.
func (s *Scene) checkedKey(y float64, has checkedKey, k float64) float64 {
	x := 0.0
	y += 3
	key := func(show bool, sample func(c geom.Point), text string) {
		if !show {
			return
		}
		w := 10 + float64(TextWidth(Regular, keySize, text)) + 6
		if x > 0 && x+w > float64(s.Width) {
			x, y = 0, y+5
		}
		sample(geom.Pt(x+4, y-0.9))
		s.Label(geom.Pt(x+10, y), keySize, Regular, Start, Ink, text)
		x += w
	}
	stroke := func(st Style) func(c geom.Point) {
		return func(c geom.Point) { s.Line(c.Sub(geom.Pt(4, 0)), c.Add(geom.Pt(4, 0)), st) }
	}
	key(true, stroke(Stroke(Ink, 0.25)), "outline")
	key(has.seams, func(c geom.Point) {
		stroke(checkedSeam)(c)
		s.numbered(c, 1.9, 1)
	}, "seam: join equal numbers")
	key(has.sections, stroke(checkedSection), "section: follows a measurement")
	key(has.scores, stroke(checkedScore), "score")
	key(has.notches, func(c geom.Point) { s.Line(c.Sub(geom.Pt(0, 1.4)), c.Add(geom.Pt(0, 1.4)), checkedNotch) }, "notch")
	key(has.marks, stroke(checkedMark), "mark")
	key(has.holes, func(c geom.Point) {
		s.Circle(c, 0.9, Stroke(Ink, 0.25))
		s.Line(c.Sub(geom.Pt(1.6, 0)), c.Add(geom.Pt(1.6, 0)), Stroke(Ink, 0.12))
		s.Line(c.Sub(geom.Pt(0, 1.6)), c.Add(geom.Pt(0, 1.6)), Stroke(Ink, 0.12))
	}, "hole")
	y += 5
	bar := 100 * k
	s.Line(geom.Pt(0, y-0.9), geom.Pt(bar, y-0.9), Stroke(Ink, 0.35))
	for _, at := range [2]float64{0, bar} {
		s.Line(geom.Pt(at, y-2), geom.Pt(at, y+0.2), Stroke(Ink, 0.35))
	}
	s.Label(geom.Pt(bar+2, y), keySize, Regular, Start, Ink, "100 mm")
	return y
}

// list writes a heading and lines, each after its name, below y, and returns the last baseline.
func (s *Scene) list(y float64, heading string, lines []string, name func(i int) string) float64 {
	if len(lines) == 0 {
		return y
	}
	y += 6
	s.Label(geom.Pt(0, y), keySize, Bold, Start, Ink, heading)
	y += 1.2
	for i, v := range lines {
		for j, l := range Fit(Regular, keySize, s.Width-8, v, 2) {
			y += 4.3
			if j == 0 {
				s.Label(geom.Pt(5, y), keySize, Bold, End, Ink, name(i))
			}
			s.Label(geom.Pt(8, y), keySize, Regular, Start, Ink, l)
		}
	}
	return y
}
