package paper

import (
	"fmt"
	"math"

	"benchbell/quote/draw"
	"benchbell/quote/geom"
)

// The cover: a head, the two check squares one below the other with the instructions and the map in them, and columns of
// text to their right, which continue on further pages.
const (
	coverHead   = 25.0
	metric      = 100.0                  // side of the metric check square
	imperial    = 4 * float64(geom.Inch) // and of the other one
	squareGap   = 4.0
	leastColumn = 64.0
	coverWidth  = imperial + columnGap + leastColumn
	coverHeight = coverHead + metric + squareGap + imperial + coverFoot
	coverFoot   = 6.0
	columnGap   = 6.0
	legendHigh  = 48.0
	rollCover   = 287.0 // height of a roll's cover between its margins
)

// flow fills columns with lines of text on the cover and the pages after it. Without a press it only counts.
type flow struct {
	s       *sheet
	p       *sheetPress
	pages   int
	columns []column
	at      int // column
	y       float64
}

type column struct{ x, w, top, bottom float64 }

func (s *sheet) coverSize() (w, h float64) {
	w, h = float64(s.job.Paper.Width), float64(s.job.Paper.Height)
	if s.job.Paper.roll() {
		h = rollCover + 2*float64(s.job.Margin)
	}
	return w, h
}

// split divides a width, starting at x, into columns.
func split(x, width, top, bottom float64) []column {
	const wanted = 86.0
	n := max(1, int((width+columnGap)/(wanted+columnGap)))
	w := math.Min((width-columnGap*float64(n-1))/float64(n), 110)
	out := make([]column, n)
	for i := range out {
		out[i] = column{x + float64(i)*(w+columnGap), w, top, bottom}
	}
	return out
}

// room makes sure that the current column has a height left.
func (f *flow) room(high float64) column {
	c := f.columns[f.at]
	if f.y+high > c.bottom {
		f.at++
		if f.at == len(f.columns) {
			f.newPage()
		}
		c = f.columns[f.at]
		f.y = c.top
	}
	return c
}

func (f *flow) newPage() {
	w, h := f.s.coverSize()
	m := float64(f.s.job.Margin)
	f.pages++
	f.columns, f.at = split(m, w-2*m, m+14, h-m-coverFoot), 0
	if f.p != nil {
		f.p.page(w, h)
		f.p.short(m, m+6, 4, w-2*m, draw.Bold, black, f.s.job.Title+" · "+f.s.job.Commission)
		f.foot()
	}
}

func (f *flow) foot() {
	w, h := f.s.coverSize()
	m := float64(f.s.job.Margin)
	f.p.Text(w-m, h-m-1, 2.6, draw.Regular, draw.End, black, fmt.Sprintf("page %d of %d", f.pages, f.s.pages()))
}

// say adds a text to the column.
func (f *flow) say(size float64, font draw.Font, indent float64, s string) {
	c := f.columns[f.at]
	for i, l := range draw.Fit(font, geom.MM(size), geom.MM(c.w-indent), s, 0) {
		c = f.room(size * 1.35)
		f.y += size * 1.35
		if f.p != nil {
			f.p.Text(c.x+indent, f.y-size*0.3, size, font, draw.Start, black, l)
			if i == 0 && indent > 0 {
				f.p.Text(c.x, f.y-size*0.3, size, font, draw.Start, black, "–")
			}
		}
	}
}

func (f *flow) heading(s string, follows float64) {
	if f.y > f.columns[f.at].top {
		f.y += 3
	}
	f.room(7 + follows)
	f.say(3.8, draw.Bold, 0, s)
	f.y += 1
}

// printCover prints the cover and the pages of the list.
func (s *sheet) printCover(p *sheetPress) { s.cover(p) }

// cover lays out the cover and returns its number of pages; without a press it only counts them.
func (s *sheet) cover(p *sheetPress) int {
	w, h := s.coverSize()
	m := float64(s.job.Margin)
	top := m + coverHead
	bottom := h - m - coverFoot
	x := m + imperial + columnGap
	f := &flow{s: s, p: p, pages: 1, columns: split(x, w-m-x, top, bottom), y: top}
	legendAt := top + metric + squareGap + imperial + 6
	below := legendAt+legendHigh <= h-m
	if p != nil {
		p.page(w, h)
		s.head(p)
		s.squares(p, m, top)
		f.foot()
		if below {
			legend(p, m, legendAt, imperial)
		}
	}
	if !below {
		c := f.room(legendHigh)
		if p != nil {
			legend(p, c.x, f.y, c.w)
		}
		f.y += legendHigh
	}
	if len(s.job.Cautions) > 0 && !s.cautionsInSquare() {
		f.heading("Cautions", 8)
		for _, c := range s.job.Cautions {
			f.say(2.8, draw.Regular, 3, c)
		}
	}
	f.heading(fmt.Sprintf("Pieces (%d)", len(s.items)), 10)
	for _, it := range s.items {
		s.entry(f, it)
	}
	return f.pages
}

// entry is a piece in the list.
func (s *sheet) entry(f *flow, it *item) {
	q := it.piece
	f.room(3.1*1.35 + 2*2.7*1.35)
	name := q.Label
	if q.Title != "" && name != "" {
		name += " · "
	}
	f.say(3.1, draw.Bold, 0, name+q.Title)
	f.say(2.7, draw.Regular, 0, q.cut()+" · "+q.size())
	f.say(2.7, draw.Regular, 0, "on "+it.tileNames())
	if h := q.holes(); h != "" {
		f.say(2.7, draw.Regular, 0, h)
	}
	f.y += 1.4
}

func (s *sheet) head(p *sheetPress) {
	w, _ := s.coverSize()
	m := float64(s.job.Margin)
	width := w - 2*m
	p.short(m, m+7, 6.5, width, draw.Bold, black, s.job.Title)
	who := s.job.Studio
	if s.job.Commission != "" {
		who += " · " + s.job.Commission
	}
	if !s.job.Date.IsZero() {
		who += " · " + s.job.Date.Format("2 January 2006")
	}
	p.short(m, m+13.5, 3.6, width, draw.Regular, black, who)
	p.short(m, m+19.5, 3.2, width, draw.Regular, black, fmt.Sprintf("Paper pattern at full size, 1:1. %s on %s of %s.",
		count(len(s.items), "piece"), count(s.pages(), "page"), s.job.Paper.Title))
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// use is the instructions; they fit into the metric square.
var use = []string{
	"Print at 100 % (“actual size”), never “fit to page”, without scaling in the printer's own settings.",
	"Measure both squares on every side before cutting: this one must be 100 mm, the one below 4 in (101.6 mm). If a side is off by more than 0.5 mm, do not cut; print again.",
	"Pages with a dashed strip are joined. Trim the next page along its frame, lay it over the strip up to the dashed line, line up the crosses in circles, then tape or glue. The map shows which pages meet.",
	"All other pages stand alone.",
	"Cut in the middle of the outline. The width of the blade or saw is not allowed for.",
}

// Text in the metric square.
const (
	squarePad    = 4.0
	squareSize   = 3.0
	squareLine   = 4.1
	squareIndent = 5.0
)

func squareLines(s string) []string {
	return draw.Fit(draw.Regular, squareSize, metric-2*squarePad-squareIndent, s, 0)
}

// cautionsInSquare reports whether the cautions fit below the instructions in the metric square.
func (s *sheet) cautionsInSquare() bool {
	high := 10 + 7.0
	for _, u := range use {
		high += float64(len(squareLines(u)))*squareLine + 1.2
	}
	for _, c := range s.job.Cautions {
		high += float64(len(squareLines(c)))*squareLine + 1
	}
	return high <= metric-squarePad/2
}

// squares draws the check squares with the instructions, the cautions and the map in them.
func (s *sheet) squares(p *sheetPress, x, y float64) {
	st := draw.Stroke(black, 0.3)
	p.rect(x, y, metric, metric, st)
	p.Text(x+metric/2, y+6, 4, draw.Bold, draw.Middle, black, "100 mm × 100 mm")
	at := y + 10
	list := func(point, text string, after float64) {
		for j, l := range squareLines(text) {
			at += squareLine
			if j == 0 {
				p.Text(x+squarePad, at, squareSize, draw.Bold, draw.Start, black, point)
			}
			p.Text(x+squarePad+squareIndent, at, squareSize, draw.Regular, draw.Start, black, l)
		}
		at += after
	}
	for i, u := range use {
		list(fmt.Sprint(i+1), u, 1.2)
	}
	if len(s.job.Cautions) > 0 && s.cautionsInSquare() {
		at += 5.5
		p.Text(x+squarePad, at, 3.4, draw.Bold, draw.Start, black, "Cautions")
		at += 0.5
		for _, c := range s.job.Cautions {
			list("–", c, 1)
		}
	}
	y += metric + squareGap
	p.rect(x, y, imperial, imperial, st)
	p.Text(x+imperial/2, y+6, 4, draw.Bold, draw.Middle, black, "4 in × 4 in")
	s.tileMap(p, x+squarePad, y+9, imperial-2*squarePad, imperial-9-squarePad)
}

// tileMap draws the tiles with their names and page numbers, and the pieces on them.
func (s *sheet) tileMap(p *sheetPress, x, y, w, h float64) {
	b := geom.EmptyBox()
	for _, t := range s.tiles {
		f := s.grid.frame(t.cell)
		f.Max.Y = f.Min.Y + t.height
		b = b.Union(f)
	}
	k := math.Min(w/float64(b.Width()), h/float64(b.Height()))
	x += (w-float64(b.Width())*k)/2 - b.Min.X*k
	y += (h-float64(b.Height())*k)/2 - b.Min.Y*k
	size := math.Min(3.2, math.Max(1.2, s.grid.stepX*k*0.2))
	p.pen(draw.Stroke(0x808080, 0.15))
	for _, it := range s.items {
		for i, q := range it.room.shape.Outer {
			px, py := x+(q.X+it.offset.X)*k, y+(q.Y+it.offset.Y)*k
			if i == 0 {
				p.PDF.MoveTo(px, py)
			} else {
				p.PDF.LineTo(px, py)
			}
		}
		p.PDF.ClosePath()
		p.PDF.DrawPath("D")
	}
	pages := s.covers
	for _, t := range s.tiles {
		f := s.grid.frame(t.cell)
		fw, fh := s.grid.width, t.height // to the end of the frame, or to where the next tile covers it
		if s.at[cell{t.col + 1, t.row}] != nil {
			fw = s.grid.stepX
		}
		if s.at[cell{t.col, t.row + 1}] != nil {
			fh = math.Min(fh, s.grid.stepY)
		}
		p.rect(x+f.Min.X*k, y+f.Min.Y*k, fw*k, fh*k, draw.Stroke(frameGrey, 0.25))
		p.Text(x+f.Min.X*k+size*0.3, y+f.Min.Y*k+size*0.95, size, draw.Bold, draw.Start, black, t.name())
		p.Text(x+(f.Min.X+fw)*k-size*0.3, y+(f.Min.Y+fh)*k-size*0.35, size, draw.Regular, draw.End, wordGrey, fmt.Sprintf("p. %d", pages+t.number+1))
	}
	for _, it := range s.items {
		label := draw.Printable(it.piece.Label)
		c, r := draw.Roomiest(it.room.shape)
		wide := float64(draw.TextWidth(draw.Regular, 1, label))
		fit := math.Min(2.4, 2*float64(r)*k/math.Max(wide, 1)*1.1)
		if fit < 1.1 { // three points: anything smaller is illegible
			continue
		}
		p.Text(x+(c.X+it.offset.X)*k, y+(c.Y+it.offset.Y)*k+fit*0.35, fit, draw.Regular, draw.Middle, black, label)
	}
}

// legend explains the lines.
func legend(p *sheetPress, x, y, w float64) {
	p.Text(x, y+3.8, 3.8, draw.Bold, draw.Start, black, "Lines")
	type row struct {
		draw func(x, y float64)
		word string
	}
	stroke := func(st draw.Style) func(x, y float64) {
		return func(x, y float64) { p.line(x, y, x+12.8, y, st) }
	}
	rows := []row{
		{stroke(outlineStyle), "outline: cut through"},
		{func(x, y float64) {
			p.pen(holeStyle)
			p.PDF.Circle(x+6, y, 1.6, "D")
			p.line(x+3.2, y, x+8.8, y, crossStyle)
			p.line(x+6, y-2.8, x+6, y+2.8, crossStyle)
		}, "hole: drill or punch to size"},
		{stroke(scoreStyle), "score: cut part-way"},
		{stroke(bendStyle), "bend away: drawn face out"},
		{stroke(towardStyle), "bend toward: drawn face in"},
		{func(x, y float64) { p.line(x+6, y-2.2, x+6, y+2.2, notchStyle) }, "notch: match equal numbers"},
		{stroke(seatStyle), "hardware goes here: do not cut"},
		{stroke(alignStyle), "edge of a layer above: do not cut"},
		{stroke(draw.Stroke(frameGrey, 0.25, 3, 2)), "next page reaches to here"},
		{func(x, y float64) { p.sign(x+6, y) }, "line up with its match"},
		{func(x, y float64) {
			p.line(x, y, x+10, y, draw.Stroke(black, 0.25))
			p.figure(draw.Figure{Shape: &geom.Shape{Outer: geom.Ring{{X: 12}, {X: 8, Y: -1.1}, {X: 8, Y: 1.1}}}, Style: draw.Fill(black)}, geom.Pt(x, y))
		}, "direction of the foam's texture"},
	}
	columns := 1
	if w >= 96 {
		columns = 2
	}
	per := (len(rows) + columns - 1) / columns
	step := math.Min(7.4, (legendHigh-7)/float64(per))
	for i, r := range rows {
		cx := x + float64(i/per)*w/2
		cy := y + 9 + float64(i%per)*step
		r.draw(cx, cy)
		lines := draw.Fit(draw.Regular, 2.5, geom.MM(w/float64(columns)-16), r.word, 2)
		for j, l := range lines {
			p.Text(cx+15, cy+1+(float64(j)-float64(len(lines)-1)/2)*3, 2.5, draw.Regular, draw.Start, black, l)
		}
	}
}
