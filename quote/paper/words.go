package paper

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"benchbell/quote/draw"
	"benchbell/quote/geom"
)

// Sizes of text on pieces, em in millimetres: 2.6 mm is 7.4 points, small print but still readable at the bench.
const (
	markSize  = 2.6
	leastSize = 2.6
)

// Extents of a line of text above and below its baseline, in ems, and line spacing.
const (
	ascent  = 0.76
	descent = 0.22
	leading = 1.28
)

// textPlate is the plate covered by one line of text.
func textPlate(c geom.Point, size float64, font draw.Font, turn float64, s string) plate {
	return turnedPlate(c, float64(draw.TextWidth(font, geom.MM(size), s)), size*(ascent+descent), turn)
}

// write puts one line of text on its plate.
func (d *drawing) write(p plate, size float64, font draw.Font, turn float64, s string) {
	d.room.taken = append(d.room.taken, p)
	d.set(p.c.Add(p.down().Mul(size*(ascent-descent)/2)), size, font, turn, s)
	b := p.bounds()
	d.box = d.box.Union(b)
}

func (d *drawing) set(at geom.Point, size float64, font draw.Font, turn float64, s string) {
	d.figures = append(d.figures, draw.Figure{Text: &draw.Text{At: at, Size: geom.MM(size), Font: font, Anchor: draw.Middle, Turn: turn, Value: s, Color: black}})
}

// words labels everything on the piece: first what belongs to a line, then the grain, then the piece itself.
func (d *drawing) words() {
	for _, l := range d.piece.Lines {
		path := geom.Path(viewed(l.Path, d.turned))
		switch l.Kind {
		case Bend:
			d.along(path, bendWords("bend away", l.Label))
		case BendToward:
			d.along(path, bendWords("bend toward", l.Label))
		case Score:
			d.along(path, l.Label)
		case Notch:
			d.at(path, l.Label)
		case Seat:
			d.within(path, l.Label)
		default:
			d.along(path, l.Label)
		}
	}
	for _, h := range d.piece.Drills {
		at, r := view(h.At, d.turned), float64(h.Diameter)/2
		d.around(at, r+1.6, h.name(), "")
	}
	d.named, d.grained = false, d.piece.Turn == ""
	before := *d
	for _, arrows := range [3]grainForm{wordedArrow, bareArrow, noArrow} {
		*d = before
		d.room.taken = slices.Clone(before.room.taken)
		d.figures = slices.Clone(before.figures)
		d.missed = slices.Clone(before.missed)
		if !d.grained {
			d.grain(arrows)
			if !d.grained && arrows != noArrow {
				continue
			}
		}
		if arrows == noArrow || d.block() || d.piece.Turn == "" {
			break
		}
	}
	if !d.named {
		d.beside(d.blocks()[0])
	}
}

func bendWords(way, label string) string {
	if label = strings.TrimSpace(label); label == "" {
		return way
	}
	return way + ": " + label
}

// grainForm is how the texture arrow is placed on the foam: if there is not room for both, the name comes first.
type grainForm int

const (
	wordedArrow grainForm = iota
	bareArrow
	noArrow // it stands beside the piece, with the name
)

// missing notes a text that did not fit; it then stands with the piece's name.
func (d *drawing) missing(s string) {
	if s != "" && !slices.Contains(d.missed, s) {
		d.missed = append(d.missed, s)
	}
}

// readable turns a direction so that text along it is read from below or from the right.
func readable(u geom.Point) (dir geom.Point, turn float64) {
	turn = math.Atan2(-u.Y, u.X) * 180 / math.Pi
	if turn > 90.001 || turn <= -89.999 {
		turn += 180
	}
	sin, cos := geom.SinCosDeg(turn)
	return geom.Pt(cos, -sin), turn
}

// outgrows reports whether a text in this place makes a piece that fits on a tile too large for it.
func (d *drawing) outgrows(p plate) bool {
	g := newGrid(d.job)
	fits := func(b geom.Box) bool {
		b = b.Grow(air)
		return float64(b.Width()) <= g.width && float64(b.Height()) <= g.height
	}
	return fits(d.box) && !fits(d.box.Union(p.bounds()))
}

// along writes a text beside a line, in its direction.
func (d *drawing) along(path geom.Path, s string) {
	s = draw.Printable(s)
	if s == "" {
		return
	}
	const clear = 0.5
	l := path.Length()
	for _, off := range [2]float64{markSize*0.5 + 0.9, markSize*0.5 + 2.5} {
		for _, share := range [9]float64{0.5, 0.35, 0.65, 0.2, 0.8, 0.1, 0.9, 0.42, 0.58} {
			at, tangent := path.At(l * geom.MM(share))
			if tangent == (geom.Point{}) {
				continue
			}
			u, turn := readable(tangent)
			up := geom.Pt(u.Y, -u.X)
			for _, side := range [2]float64{off, -off} {
				p := textPlate(at.Add(up.Mul(side)), markSize, draw.Regular, turn, s)
				if d.room.free(p.grow(clear), inside) {
					d.write(p, markSize, draw.Regular, turn, s)
					return
				}
			}
		}
	}
	d.missing(s)
}

// at writes a notch's number beside it, on the foam if there is room.
func (d *drawing) at(path geom.Path, s string) {
	if len(path) == 0 {
		return
	}
	mid, _ := path.At(path.Length() / 2)
	d.around(mid, float64(path.Length())/2+0.3, s, "notch ")
}

// around writes a text near a point, as near as its radius allows; inside the piece if possible, else outside.
func (d *drawing) around(c geom.Point, radius float64, s, unplaced string) {
	s = draw.Printable(s)
	if s == "" {
		return
	}
	const (
		clear = 0.4
		turns = 16
	)
	w, h := float64(draw.TextWidth(draw.Regular, markSize, s))/2, markSize*(ascent+descent)/2
	for _, side := range [2]where{inside, outside} {
		for _, more := range [4]float64{0, 1, 2.5, 4.5} {
			for i := range turns {
				// Right, left, above, below first: 0, 180, 90, 270, then between.
				sin, cos := geom.SinCosDeg(aroundOrder[i] * 360 / turns)
				reach := radius + clear + more + math.Abs(cos)*w + math.Abs(sin)*h
				p := textPlate(c.Add(geom.Pt(cos, -sin).Mul(reach)), markSize, draw.Regular, 0, s)
				if d.room.free(p.grow(clear), side) && !d.outgrows(p) {
					d.write(p, markSize, draw.Regular, 0, s)
					return
				}
			}
		}
	}
	if unplaced != "" { // drills are counted with the piece's name anyway
		d.missing(unplaced + s)
	}
}

var aroundOrder = [16]float64{0, 8, 4, 12, 2, 6, 10, 14, 1, 7, 9, 15, 3, 5, 11, 13}

// within writes a seat's label in its middle, or near it.
func (d *drawing) within(path geom.Path, s string) {
	s = draw.Printable(s)
	if s == "" {
		return
	}
	b := path.Bounds()
	for _, turn := range [2]float64{0, 90} {
		if p := textPlate(b.Centre(), markSize, draw.Regular, turn, s); d.room.free(p.grow(0.4), inside) {
			d.write(p, markSize, draw.Regular, turn, s)
			return
		}
	}
	h := markSize*(ascent+descent)/2 + 0.9
	w := float64(draw.TextWidth(draw.Regular, markSize, s))/2 + 0.9
	for _, c := range [4]geom.Point{
		{X: b.Centre().X, Y: b.Min.Y - h}, {X: b.Centre().X, Y: b.Max.Y + h}, {X: b.Max.X + w, Y: b.Centre().Y}, {X: b.Min.X - w, Y: b.Centre().Y},
	} {
		if p := textPlate(c, markSize, draw.Regular, 0, s); d.room.free(p.grow(0.4), inside) {
			d.write(p, markSize, draw.Regular, 0, s)
			return
		}
	}
	d.missing("dotted: " + s)
}

// grain draws the texture arrow along the piece's own y with its text beside it, or puts the text into the piece's name.
func (d *drawing) grain(form grainForm) {
	const clear = 0.8
	s := draw.Printable(d.piece.Turn)
	up := view(geom.Pt(0, 1), d.turned)
	u, turn := readable(up)
	text := float64(draw.TextWidth(draw.Italic, markSize, s))
	b := d.room.shape.Bounds()
	spots := d.spots(d.room.shape.Outer.Centroid().Add(geom.Pt(float64(b.Width())*0.2, float64(b.Height())*0.15)))
	switch form {
	case wordedArrow:
		for _, length := range [2]float64{math.Max(40, text+4), math.Max(20, text+4)} {
			p, ok := d.find(spots, length, arrowWide+markSize+0.8, turn, clear)
			if !ok {
				continue
			}
			d.room.taken = append(d.room.taken, p)
			t := textPlate(p.point(0, -1).Add(p.down().Mul(markSize*(ascent+descent)/2)), markSize, draw.Italic, turn, s)
			d.write(t, markSize, draw.Italic, turn, s)
			d.arrow(p.point(0, 1).Sub(p.down().Mul(arrowWide/2)), u, up, length)
			d.grained = true
			return
		}
	case bareArrow:
		for _, length := range [2]float64{20, 10} {
			if p, ok := d.find(spots, length, arrowWide, turn, clear); ok {
				d.room.taken = append(d.room.taken, p)
				d.arrow(p.c, u, up, length)
				d.missing("arrow: " + s)
				d.grained = true
				return
			}
		}
	case noArrow:
		d.missing("arrow: " + s)
	}
}

// arrowWide is the width of the texture arrow's head.
const arrowWide = 2.2

// arrow draws the texture arrow about its middle; u is the reading direction on paper, up is the way it points.
func (d *drawing) arrow(middle, u, up geom.Point, length float64) {
	tail, tip := middle.Sub(u.Mul(length/2)), middle.Add(u.Mul(length/2))
	if u.Dot(up) < 0 {
		tail, tip = tip, tail
	}
	back := tip.Sub(up.Mul(4))
	head := geom.Ring{tip, back.Add(up.Perp().Mul(arrowWide / 2)), back.Sub(up.Perp().Mul(arrowWide / 2))}
	d.figures = append(d.figures,
		draw.Figure{Path: geom.Path{tail, tip}, Style: draw.Stroke(black, 0.25)},
		draw.Figure{Shape: &geom.Shape{Outer: head}, Style: draw.Fill(black)})
}

// spots are places on a grid over the piece, the nearest to the target first.
func (d *drawing) spots(target geom.Point) []geom.Point {
	const cells = 22 // per side: places a twentieth of the piece apart
	b := d.room.shape.Bounds()
	spots := make([]geom.Point, 0, cells*cells+1)
	spots = append(spots, target)
	for i := range cells {
		for j := range cells {
			spots = append(spots, geom.Pt(b.Min.X+float64(b.Width())*(float64(i)+0.5)/cells, b.Min.Y+float64(b.Height())*(float64(j)+0.5)/cells))
		}
	}
	far := func(p geom.Point) float64 { d := p.Sub(target); return d.Dot(d) }
	slices.SortStableFunc(spots, func(a, b geom.Point) int { return cmp.Compare(far(a), far(b)) })
	return slices.DeleteFunc(spots, func(p geom.Point) bool { return !d.room.shape.Contains(p) })
}

// find looks for a free place in the piece for a rectangle: the first of the spots with room.
func (d *drawing) find(spots []geom.Point, w, h, turn, clear float64) (plate, bool) {
	b := d.room.shape.Bounds()
	p := turnedPlate(b.Centre(), w, h, turn)
	pb := p.grow(clear).bounds()
	if pb.Width() > b.Width() || pb.Height() > b.Height() {
		return p, false
	}
	for _, c := range spots {
		p.c = c
		if d.room.free(p.grow(clear), inside) {
			return p, true
		}
	}
	return p, false
}

// line is a line of the block with a piece's name.
type line struct {
	font  draw.Font
	value string
}

// blocks are the ways to set the name, from tall to flat; each says the same.
func (d *drawing) blocks() [][]line {
	p := d.piece
	var notes []line
	if h := p.holes(); h != "" {
		notes = append(notes, line{draw.Regular, h})
	}
	if len(d.missed) > 0 {
		notes = append(notes, line{draw.Regular, strings.Join(d.missed, ", ")})
	}
	join := func(parts ...string) string {
		var out []string
		for _, s := range parts {
			if s != "" {
				out = append(out, s)
			}
		}
		return draw.Printable(strings.Join(out, " · "))
	}
	var words []string
	for _, n := range notes {
		words = append(words, n.value)
	}
	all := join(words...)
	tall := []line{{draw.Bold, join(p.Label)}, {draw.Regular, join(p.Title)}, {draw.Regular, join(p.cut())}, {draw.Regular, join(d.job.Commission)}}
	for _, n := range notes {
		tall = append(tall, line{n.font, draw.Printable(n.value)})
	}
	out := [][]line{
		tall,
		{{draw.Bold, join(p.Label, p.Title)}, {draw.Regular, join(p.cut(), d.job.Commission)}, {draw.Regular, all}},
		{{draw.Bold, join(p.Label, p.Title, p.cut())}, {draw.Regular, join(d.job.Commission, all)}},
		{{draw.Bold, join(p.Label, p.Title, p.cut(), d.job.Commission, all)}},
	}
	for i, b := range out {
		out[i] = slices.DeleteFunc(b, func(l line) bool { return l.value == "" })
	}
	return out
}

func blockSize(b []line, size float64) (w, h float64) {
	for _, l := range b {
		w = math.Max(w, float64(draw.TextWidth(l.font, geom.MM(size), l.value)))
	}
	return w, size * (ascent + descent + leading*float64(len(b)-1))
}

// block writes the piece's name, copies, thickness, commission and notes inside the outline, as large as fits. It reports
// whether they fit.
func (d *drawing) block() bool {
	spots := d.spots(d.room.shape.Outer.Centroid())
	ways := d.blocks()
	for _, q := range [2][]plate{d.quiet, nil} {
		d.room.taken = append(d.room.taken, q...)
		for _, t := range [6]struct{ size, clear float64 }{{6, 3}, {5, 2}, {4, 2}, {4, 1}, {3.2, 1}, {leastSize, 0.8}} {
			for i, b := range ways {
				if t.size >= 4 && i > 1 { // a long line in large type is harder to read than a block in small type
					break
				}
				for _, turn := range [2]float64{0, 90} {
					w, h := blockSize(b, t.size)
					if p, ok := d.find(spots, w, h, turn, t.clear); ok {
						d.room.taken = d.room.taken[:len(d.room.taken)-len(q)]
						d.writeBlock(p, b, t.size, turn)
						d.named = true
						return true
					}
				}
			}
		}
		d.room.taken = d.room.taken[:len(d.room.taken)-len(q)]
		if len(d.quiet) == 0 {
			break
		}
	}
	return false
}

func (d *drawing) writeBlock(p plate, b []line, size, turn float64) {
	d.name = p
	d.room.taken = append(d.room.taken, p)
	d.box = d.box.Union(p.bounds())
	for i, l := range b {
		at := p.point(0, -1).Add(p.down().Mul(size * (ascent + leading*float64(i))))
		d.set(at, size, l.font, turn, l.value)
	}
}

// beside writes the name next to the piece with a leader from it, choosing a place where text and piece take little paper
// and the leader is short.
func (d *drawing) beside(b []line) {
	const (
		arrow   = 12.0
		clear   = 1.5
		cells   = 24
		perArea = 0.02 // mm of leader worth a square millimetre of paper,
		perWord = 40.0 // a text that it would run over,
		perTile = 1e4  // and a second tile, worth more than anything else
	)
	w, words := blockSize(b, leastSize)
	h, up := words, view(geom.Pt(0, 1), d.turned)
	if !d.grained { // room for it below the text
		h += 2 + math.Abs(up.Y)*arrow + math.Abs(up.X)*arrowWide
		w = math.Max(w, math.Abs(up.X)*arrow)
	}
	foot, _ := draw.Roomiest(d.room.shape)
	if !d.room.shape.Contains(foot) {
		foot = d.room.shape.Outer[0]
	} else if p, ok := d.find(d.spots(foot), 1, 1, 0, 0.3); ok { // clear of the text on the foam
		foot = p.c
	}
	best := turnedPlate(geom.Pt(d.box.Max.X+2*clear+w/2, foot.Y), w, h, 0) // always free
	cost := func(p plate) float64 {
		u, from := d.box.Union(p.bounds()), p.near(foot)
		c := from.Dist(foot) + perArea*float64(u.Width())*float64(u.Height())
		if d.outgrows(p) {
			c += perTile
		}
		for _, t := range d.room.taken {
			if t.hit(seg{from, foot}) {
				c += perWord
			}
		}
		return c
	}
	least := cost(best)
	around := d.box.Grow(geom.MM(2 * clear))
	for i := range cells {
		for j := range cells {
			p := best
			p.c = geom.Pt(around.Min.X-w/2+(float64(around.Width())+w)*float64(i)/(cells-1), around.Min.Y-h/2+(float64(around.Height())+h)*float64(j)/(cells-1))
			if c := cost(p); c < least && d.room.free(p.grow(clear), outside) {
				best, least = p, c
			}
		}
	}
	block := best
	block.c.Y, block.h = best.c.Y-(h-words)/2, words
	d.writeBlock(block, b, leastSize, 0)
	if !d.grained {
		u, _ := readable(up)
		d.arrow(geom.Pt(best.c.X, best.c.Y+(words+2)/2), u, up, arrow)
		d.box = d.box.Union(best.bounds())
	}
	from := best.grow(0.6).near(foot)
	d.figures = append(d.figures,
		draw.Figure{Path: geom.Path{from, foot}, Style: leaderStyle},
		draw.Figure{Shape: &geom.Shape{Outer: dot(foot, 0.5)}, Style: draw.Fill(black)})
}

func dot(c geom.Point, radius float64) geom.Ring {
	r := make(geom.Ring, 12)
	for i := range r {
		sin, cos := geom.SinCosDeg(float64(i) * 30)
		r[i] = c.Add(geom.Pt(cos, sin).Mul(radius))
	}
	return r
}
