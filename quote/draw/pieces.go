package draw

import (
	"fmt"
	"math"

	"benchbell/quote/geom"
)

// PieceGroup is a set's pieces, drawn together under their title.
type PieceGroup struct {
	Title  string
	Pieces []NamedPiece
}

// NamedPiece is a graded piece in its pattern's coordinates, y up.
type NamedPiece struct {
	Name   string
	Shape  geom.Shape
	Scores []geom.Path
	Count  int // "2 ×" before the name if above one
}

// placed is a piece with its place: cell at x, y (upper left, in picture mm).
type placed struct {
	piece      *NamedPiece
	title      string // of a group, where piece is nil
	x, y, w, h float64
}

const (
	piecesTitle  = 7.0  // height of the picture's title
	groupTitle   = 6.5  // height of a group's title
	nameSize     = 2.6  // of a piece's name
	pieceGap     = 5.0  // between pieces
	piecesHigh   = 82.0 // wanted height of all rows together,
	piecesRow    = 13.0 // and each row's pieces get at least this much of it, besides names and titles
	largestScale = 0.5  // small sets are enlarged no further than 1 : 2
	leastScale   = 0.01
)

// Pieces draws what is made: the graded outlines of the ordered sets in rows to one common scale, with their names and a
// scale bar of 100 mm. The scale is the largest at which all rows together are about a hand high and no piece is wider than
// width; many rows make the picture higher rather than the pieces tiny.
func Pieces(title string, groups []PieceGroup, width geom.MM) Scene {
	width = max(60, side(width))
	lo, hi := leastScale, largestScale
	high := wantedHeight(groups, float64(width))
	if _, h := shelves(groups, float64(width), hi); h > high || !fitsWidth(groups, float64(width), hi) {
		for range 30 {
			mid := math.Sqrt(lo * hi)
			if _, h := shelves(groups, float64(width), mid); h > high || !fitsWidth(groups, float64(width), mid) {
				hi = mid
			} else {
				lo = mid
			}
		}
	} else {
		lo = hi
	}
	cells, h := shelves(groups, float64(width), lo)
	top := 0.0
	s := Scene{Width: width, Title: Printable(title)}
	if title != "" {
		top = piecesTitle
		s.Label(geom.Pt(0, 4.2), 3.8, Bold, Start, Ink, Short(Bold, 3.8, width, title))
	}
	for _, c := range cells {
		if c.piece == nil {
			s.Label(geom.Pt(c.x, top+c.y+4), 3, Regular, Start, Accent, Short(Regular, 3, geom.MM(c.w), c.title))
			s.Line(geom.Pt(c.x, top+c.y+5.2), geom.Pt(c.x+c.w, top+c.y+5.2), Stroke(Pale, 0.15))
			continue
		}
		b := c.piece.Shape.Bounds()
		pw := float64(b.Width()) * lo
		// The piece stands in the middle of its cell, on the baseline of its row.
		f := frame{geom.Pt(c.x+(c.w-pw)/2-b.Min.X*lo, top+c.y+c.h-4.5+b.Min.Y*lo), lo}
		s.Shape(f.shape(c.piece.Shape), Style{Fill: 0xeef1f2, Stroke: Ink, Width: 0.3})
		for _, q := range c.piece.Scores {
			s.Polyline(f.path(q), Stroke(Grey, 0.18, 1.2, 0.8))
		}
		s.Label(geom.Pt(c.x+c.w/2, top+c.y+c.h-1), nameSize, Regular, Middle, Ink, Short(Regular, nameSize, geom.MM(c.w+pieceGap-1), c.piece.caption()))
	}
	y := top + h + 5
	bar := 100 * lo
	s.Line(geom.Pt(0, y), geom.Pt(bar, y), Stroke(Ink, 0.35))
	for i := range 3 {
		x := bar * float64(i) / 2
		s.Line(geom.Pt(x, y-1.2), geom.Pt(x, y+0.17), Stroke(Ink, 0.25))
	}
	s.Label(geom.Pt(bar+2, y+0.3), 2.6, Regular, Start, Ink, "100 mm")
	s.Height = geom.MM(y + 2.5)
	return s
}

// wantedHeight is the height of all rows: the usual one, or more if names and titles would use it up.
func wantedHeight(groups []PieceGroup, width float64) float64 {
	cells, words := shelves(groups, width, leastScale)
	rows, last := 0, -1.0
	for _, c := range cells {
		if c.piece != nil && c.y != last {
			rows, last = rows+1, c.y
		}
	}
	return math.Max(piecesHigh, words+float64(rows)*piecesRow)
}

func (p *NamedPiece) caption() string {
	if p.Count > 1 {
		return fmt.Sprintf("%d × %s", p.Count, p.Name)
	}
	return p.Name
}

func (p *NamedPiece) drawable() bool {
	b := p.Shape.Bounds()
	return len(p.Shape.Outer) > 2 && allFinite(p.Shape.Outer) && b.Width() > 0 && b.Height() > 0 && b.Width() < maxSheet && b.Height() < maxSheet
}

func fitsWidth(groups []PieceGroup, width, k float64) bool {
	for _, g := range groups {
		for i := range g.Pieces {
			if p := &g.Pieces[i]; p.drawable() && float64(p.Shape.Bounds().Width())*k > width {
				return false
			}
		}
	}
	return true
}

// shelves lays the pieces out in rows at a scale and returns the cells and the height used. A group that fits beside the
// one before shares its row; a group wider than the picture wraps.
func shelves(groups []PieceGroup, width, k float64) ([]placed, float64) {
	const between = 10 // between groups in one row
	var out []placed
	y, x, tall, head, row := 0.0, 0.0, 0.0, 0.0, 0
	flush := func() {
		for i := row; i < len(out); i++ {
			out[i].y = y
			if out[i].piece != nil {
				out[i].y, out[i].h = y+head, tall
			}
		}
		if len(out) > row {
			y += head + tall + 2.5
		}
		row, x, tall, head = len(out), 0, 0, 0
	}
	for _, g := range groups {
		var cells []placed
		natural := -pieceGap
		for i := range g.Pieces {
			p := &g.Pieces[i]
			if !p.drawable() {
				continue
			}
			b := p.Shape.Bounds()
			// A narrow piece gets a cell wide enough for its name, unless that is very long.
			w := math.Max(float64(b.Width())*k, math.Min(float64(TextWidth(Regular, nameSize, p.caption())), 40))
			cells = append(cells, placed{piece: p, w: w, h: float64(b.Height())*k + 4.5})
			natural += w + pieceGap
		}
		if len(cells) == 0 {
			continue
		}
		natural = math.Max(natural, math.Min(float64(TextWidth(Regular, 3, g.Title)), 60))
		if x > 0 && x+natural > width {
			flush()
		}
		if g.Title != "" {
			head = groupTitle
			out = append(out, placed{title: g.Title, x: x, w: math.Min(natural, width)})
		}
		begin := x
		for _, c := range cells {
			if x > begin && x+c.w > width {
				flush()
				begin = 0
			}
			c.x = x
			x += c.w + pieceGap
			tall = math.Max(tall, c.h)
			out = append(out, c)
		}
		x = math.Max(x-pieceGap, begin+natural) + between
		if natural > width {
			flush()
		}
	}
	flush()
	return out, y
}
