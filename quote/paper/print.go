package paper

import (
	"bytes"
	"fmt"

	"benchbell/quote/draw"
	"benchbell/quote/geom"
)

// band is the height above a tile's frame for its name, the ruler and the page number.
const band = 9.0

// Print lays the pattern out over its paper and returns the PDF: a cover with the check squares, the map of the tiles and
// the list of pieces, then the tiles at 1:1. It refuses what the package refuses, and a pattern of more than 400 pages,
// naming a paper that would do.
func Print(job Pattern) (out []byte, err error) {
	defer func() {
		// The library reports some errors by panicking (an index out of its font tables); a pattern that does not print is
		// an error of this pattern, not of the program.
		if r := recover(); r != nil {
			out, err = nil, fmt.Errorf("pattern %q could not be printed: %v", job.Title, r)
		}
	}()
	if err := job.check(); err != nil {
		return nil, fmt.Errorf("pattern %q: %w", job.Title, err)
	}
	s := arrange(&job)
	if n := s.pages(); n > maxPages {
		return nil, fmt.Errorf("pattern %q needs %d pages of %s, more than the limit of %d; %s", job.Title, n, job.Paper.Title, maxPages, larger(job))
	}
	p := newPress(&job)
	s.printCover(p)
	for _, t := range s.tiles {
		s.printTile(p, t)
	}
	var buf bytes.Buffer
	if err := p.PDF.Output(&buf); err != nil {
		return nil, fmt.Errorf("pattern %q could not be printed: %w", job.Title, err)
	}
	return buf.Bytes(), nil
}

func (s *sheet) pages() int { return s.covers + len(s.tiles) }

// larger names the first larger paper on which the pattern stays within the limit.
func larger(job Pattern) string {
	for _, size := range sizes() {
		if !size.roll() && size.Width*size.Height <= job.Paper.Width*job.Paper.Height {
			continue
		}
		job.Paper = size
		if job.check() != nil {
			continue
		}
		if n := arrange(&job).pages(); n <= maxPages {
			return fmt.Sprintf("use %s, which needs %d", size.Title, n)
		}
	}
	return "print it in parts"
}

// pageHeight of a tile: the paper's, or the length at which a roll is cut off.
func (s *sheet) pageHeight(t *tile) float64 {
	if s.job.Paper.roll() {
		return t.height + band + 2*float64(s.job.Margin)
	}
	return float64(s.job.Paper.Height)
}

// origin is where the upper left corner of a tile's frame lies on its page.
func (s *sheet) origin() geom.Point {
	return geom.Pt(float64(s.job.Margin), float64(s.job.Margin)+band)
}

func (s *sheet) printTile(p *sheetPress, t *tile) {
	p.page(float64(s.job.Paper.Width), s.pageHeight(t))
	o := s.origin()
	shift := o.Sub(geom.Pt(float64(t.col)*s.grid.stepX, float64(t.row)*s.grid.stepY)) // pattern to page
	p.PDF.ClipRect(o.X, o.Y, s.grid.width, t.height, false)
	s.printSeams(p, t, shift)
	frame := s.grid.frame(t.cell)
	for _, it := range s.items {
		if !s.on(t, it) {
			continue
		}
		for _, f := range it.figures {
			if figureBox(f, it.offset).Overlaps(frame) {
				p.figure(f, it.offset.Add(shift))
			}
		}
	}
	for _, m := range s.marks(t) {
		p.sign(m.X+shift.X, m.Y+shift.Y)
	}
	p.PDF.ClipEnd()
	p.rect(o.X, o.Y, s.grid.width, t.height, draw.Stroke(frameGrey, 0.15))
	s.printBand(p, t)
}

// figureBox is a box around a figure, possibly larger than the figure.
func figureBox(f draw.Figure, offset geom.Point) geom.Box {
	b := geom.EmptyBox()
	var wide geom.MM = 1
	switch {
	case f.Text != nil:
		b = b.Extend(f.Text.At)
		wide = draw.TextWidth(f.Text.Font, f.Text.Size, f.Text.Value) + f.Text.Size
	case f.Shape != nil:
		b = f.Shape.Outer.Bounds()
	default:
		b = f.Path.Bounds()
	}
	b = b.Grow(wide)
	return geom.Box{Min: b.Min.Add(offset), Max: b.Max.Add(offset)}
}

// printBand prints the tile's name, a ruler, whose pattern it is, and the page number.
func (s *sheet) printBand(p *sheetPress, t *tile) {
	const ruler = 100.0
	x, y := float64(s.job.Margin), float64(s.job.Margin)
	base := y + band - 2.6
	p.Text(x, base, 6, draw.Bold, draw.Start, black, t.name())
	x += 20
	st := draw.Stroke(black, 0.2)
	foot := y + band - 1.2
	p.line(x, foot, x+ruler, foot, st)
	for i := range 21 {
		high := 1.2
		if i%2 == 0 {
			high = 2
		}
		if i%10 == 0 {
			high = 3.4
		}
		at := x + ruler*float64(i)/20
		p.line(at, foot, at, foot-high, st)
	}
	for i, word := range [3]string{"0", "50", "100 mm"} {
		p.Text(x+float64(i)*50+0.7, foot-2.3, 2.2, draw.Regular, draw.Start, black, word)
	}
	x += ruler + 12
	right := float64(s.job.Paper.Width - s.job.Margin)
	page := fmt.Sprintf("page %d of %d", s.covers+t.number+1, s.pages())
	p.Text(right, foot-0.3, 2.6, draw.Regular, draw.End, black, page)
	wide := right - x - float64(draw.TextWidth(draw.Regular, 2.6, page)) - 3
	p.short(x, foot-4, 2.9, right-x, draw.Bold, black, s.job.Commission)
	p.short(x, foot-0.3, 2.6, wide, draw.Regular, black, s.job.Title)
}

// printSeams draws the glue strips and names the neighbours at the edges.
func (s *sheet) printSeams(p *sheetPress, t *tile, shift geom.Point) {
	b := s.grid.frame(t.cell)
	w, h := s.grid.width, t.height
	dashed := draw.Stroke(frameGrey, 0.25, 3, 2)
	if t.right {
		x := b.Min.X + s.grid.stepX + shift.X
		p.line(x, b.Min.Y+shift.Y, x, b.Min.Y+h+shift.Y, dashed)
	}
	if t.down {
		y := b.Min.Y + s.grid.stepY + shift.Y
		p.line(b.Min.X+shift.X, y, b.Min.X+w+shift.X, y, dashed)
	}
	const inset = 2.0 // of text from the frame
	name := func(col, row int) string { return cell{col, row}.name() }
	for _, e := range []struct {
		near, joined bool
		long, short  string
		from, to     geom.Point // along the edge, within the strip
		turn         float64
	}{
		{s.at[cell{t.col - 1, t.row}] != nil, t.left, "cut along this edge and lay it over the strip of " + name(t.col-1, t.row), name(t.col-1, t.row),
			geom.Pt(b.Min.X+inset, b.Min.Y), geom.Pt(b.Min.X+inset, b.Min.Y+h), 90},
		{s.at[cell{t.col + 1, t.row}] != nil, t.right, "glue under " + name(t.col+1, t.row) + ", up to the dashed line", name(t.col+1, t.row),
			geom.Pt(b.Max.X-inset, b.Min.Y), geom.Pt(b.Max.X-inset, b.Min.Y+h), 90},
		{s.at[cell{t.col, t.row - 1}] != nil, t.up, "cut along this edge and lay it over the strip of " + name(t.col, t.row-1), name(t.col, t.row-1),
			geom.Pt(b.Min.X, b.Min.Y+inset), geom.Pt(b.Max.X, b.Min.Y+inset), 0},
		{s.at[cell{t.col, t.row + 1}] != nil, t.down, "glue under " + name(t.col, t.row+1) + ", up to the dashed line", name(t.col, t.row+1),
			geom.Pt(b.Min.X, b.Min.Y+h-inset), geom.Pt(b.Max.X, b.Min.Y+h-inset), 0},
	} {
		if !e.near {
			continue
		}
		if !e.joined {
			e.long, e.short = "", e.short+" (nothing to glue)"
		}
		s.edgeWord(p, t, e.from, e.to, shift, e.turn, e.long, e.short)
	}
}

// edgeWord prints a text along an edge clear of the pieces: the long form, or else the short one; if there is no free place
// at all, the short one in the middle.
func (s *sheet) edgeWord(p *sheetPress, t *tile, from, to, shift geom.Point, turn float64, long, short string) {
	const size = 2.4
	for _, word := range [2]string{long, short} {
		if word == "" {
			continue
		}
		for _, k := range [13]float64{0.5, 0.4, 0.6, 0.3, 0.7, 0.24, 0.76, 0.45, 0.55, 0.1, 0.9, 0.06, 0.94} {
			pl := textPlate(from.Lerp(to, k), size, draw.Regular, turn, word)
			if s.clear(t, pl.grow(0.6)) {
				s.setEdge(p, pl, shift, size, turn, word)
				return
			}
		}
	}
	s.setEdge(p, textPlate(from.Lerp(to, 0.5), size, draw.Regular, turn, short), shift, size, turn, short)
}

func (s *sheet) setEdge(p *sheetPress, pl plate, shift geom.Point, size, turn float64, word string) {
	at := pl.c.Add(pl.down().Mul(size * (ascent - descent) / 2)).Add(shift)
	p.turned(at.X, at.Y, size, draw.Regular, turn, wordGrey, word)
}

// clear reports whether no piece on the tile has ink or text under the plate, which is given in the pattern's coordinates.
func (s *sheet) clear(t *tile, pl plate) bool {
	b := pl.bounds()
	for _, it := range s.items {
		if !s.on(t, it) || !it.bounds().Overlaps(b) {
			continue
		}
		if !it.room.free(pl.moved(it.offset.Mul(-1)), anywhere) {
			return false
		}
	}
	return true
}
