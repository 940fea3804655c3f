package draw

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"benchbell/quote/geom"
)

// naming writes the names of a sheet's pieces and keeps track of what its numbers mean.
type naming struct {
	s      *Scene
	l      *SheetPicture
	shared bool // the sheet has several owners
	keys   []string
}

// crowd is a group of pieces too small to be named on the sheet, and the part of the picture that holds them.
type crowd struct {
	box    geom.Box
	pieces []int
}

const (
	crowdLeast  = 4   // fewer pieces are numbered in place
	crowdGap    = 2.5 // mm of the picture around a piece: others within it belong to its crowd
	detailLeast = 1.6 // times larger than the sheet; at less a detail shows no more than the sheet does
	detailMost  = 8.0
	detailHigh  = 48.0
)

// shared reports whether the sheet holds pieces of several commissions.
func (l *SheetPicture) shared() bool {
	for _, p := range l.Pieces {
		if l.owner(p) != l.owner(l.Pieces[0]) {
			return true
		}
	}
	return false
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

// onSheet names the pieces on the sheet: inside, else by a number inside, else by a number beside. It returns the crowds,
// which are then drawn larger.
func (n *naming) onSheet(f frame, drawn []inked, area geom.Box) []crowd {
	all := make([]int, len(n.l.Pieces))
	for i := range all {
		all[i] = i
	}
	words := n.ground(f, drawn, area)
	rest := n.numbered(f, n.inside(f, all, drawn, &words), drawn, &words)
	var out []crowd
	var loose []int
	for _, c := range crowds(n.l, f, rest) {
		if len(c.pieces) >= crowdLeast && detailScale(c, area) >= detailLeast {
			out = append(out, c)
			words.boxes = append(words.boxes, c.box)
		} else {
			loose = append(loose, c.pieces...)
		}
	}
	slices.Sort(loose)
	for _, i := range loose { // once everything else has its place
		n.s.numberBeside(&words, f.shape(n.l.Pieces[i].Shape), n.number(i), area)
	}
	for i, c := range out {
		n.s.Polygon(ringOf(c.box), Stroke(Ink, 0.25, 1, 0.7))
		n.s.crowdLetter(&words, c.box, i, area)
	}
	return out
}

// ground is the lines that numbers keep off.
func (n *naming) ground(f frame, drawn []inked, area geom.Box) clutter {
	var words clutter
	for i, p := range n.l.Pieces {
		if sh := f.shape(p.Shape); drawable(sh.Outer) {
			words.shape(sh)
		}
		for _, q := range drawn[i].all() {
			words.path(q)
		}
	}
	if drawable(n.l.Edge) {
		words.ring(f.ring(n.l.Edge))
	}
	words.ring(ringOf(area))
	return words
}

func ringOf(b geom.Box) geom.Ring {
	return geom.Ring{b.Min, {X: b.Max.X, Y: b.Min.Y}, b.Max, {X: b.Min.X, Y: b.Max.Y}}
}

// inside writes names in the pieces they fit in and returns the other pieces.
func (n *naming) inside(f frame, which []int, drawn []inked, words *clutter) []int {
	var rest []int
	for _, i := range which {
		p := n.l.Pieces[i]
		sh := f.shape(p.Shape)
		if !drawable(sh.Outer) {
			continue
		}
		value := []string{p.title()}
		if n.shared {
			value = append(value, n.l.owner(p))
		}
		size, b := n.s.labelInside(sh, drawn[i].all(), labelSize, labelLeast, Bold, Ink, value...)
		if size == 0 && len(drawn[i].soft) > 0 {
			size, b = n.s.labelInside(sh, drawn[i].firm, labelSize, labelLeast, Bold, Ink, value...)
		}
		if size == 0 {
			rest = append(rest, i)
			continue
		}
		words.boxes = append(words.boxes, b)
	}
	return rest
}

// numbered numbers the pieces, writes the numbers on them, and returns those on which a number does not fit.
func (n *naming) numbered(f frame, which []int, drawn []inked, words *clutter) []int {
	var rest []int
	for _, i := range which {
		if b, ok := n.s.numberInside(f.shape(n.l.Pieces[i].Shape), drawn[i].all(), strconv.Itoa(len(n.keys)+1)); ok {
			n.number(i)
			words.boxes = append(words.boxes, b)
		} else {
			rest = append(rest, i)
		}
	}
	return rest
}

// number gives a piece the next number and lists it.
func (n *naming) number(i int) string {
	p := n.l.Pieces[i]
	number := strconv.Itoa(len(n.keys) + 1)
	key := number + " = " + p.title()
	if n.shared {
		key += ", " + n.l.owner(p)
	}
	n.keys = append(n.keys, key)
	return number
}

// crowds groups pieces by place: those whose surroundings overlap belong together.
func crowds(l *SheetPicture, f frame, which []int) []crowd {
	var out []crowd
	for _, i := range which {
		c := crowd{f.shape(l.Pieces[i].Shape).Bounds().Grow(crowdGap), []int{i}}
		for k := 0; k < len(out); {
			if !out[k].box.Overlaps(c.box) {
				k++
				continue
			}
			c.box, c.pieces = c.box.Union(out[k].box), append(c.pieces, out[k].pieces...)
			out = slices.Delete(out, k, k+1)
			k = 0 // the union may reach what the piece alone did not
		}
		out = append(out, c)
	}
	for i := range out {
		out[i].box = out[i].box.Grow(1.2 - crowdGap)
		slices.Sort(out[i].pieces)
	}
	return out
}

// detailScale is how much larger a crowd can be drawn.
func detailScale(c crowd, area geom.Box) float64 {
	return math.Min(detailMost, math.Min(float64(area.Width())/float64(c.box.Width()), detailHigh/float64(c.box.Height())))
}

// crowdLetter labels the frame of a crowd.
func (s *Scene) crowdLetter(words *clutter, box geom.Box, i int, area geom.Box) {
	const size = 3.0
	name := detailName(i)
	w, h := float64(TextWidth(Bold, size, name))+0.6, size*capital+0.6
	at := geom.Pt(box.Centre().X, box.Min.Y)
	b, ok := words.beside(at, w, h, 0.2, 30, area)
	if !ok {
		b = boxAt(geom.Pt(box.Max.X-w/2, box.Min.Y-h/2), w, h)
	}
	words.boxes = append(words.boxes, b)
	s.Label(b.Centre().Add(geom.Pt(0, size*capital/2)), size, Bold, Middle, Accent, name)
}

func detailName(i int) string {
	if i < 26 {
		return string(rune('A' + i))
	}
	return strconv.Itoa(i + 1)
}

// drawDetails draws the crowds larger, in rows below y, and returns the lower end.
func (n *naming) drawDetails(list []crowd, f frame, left, y, right float64) float64 {
	const gap, head = 5.0, 6.0
	x, tall := left, 0.0
	for i, c := range list {
		m := detailScale(c, geom.Box{Min: geom.Pt(left, 0), Max: geom.Pt(right, 0)})
		w, h := float64(c.box.Width())*m, float64(c.box.Height())*m
		if x > left && x+w > right {
			x, y, tall = left, y+tall+gap, 0
		}
		at := geom.Box{Min: geom.Pt(x, y+head), Max: geom.Pt(x+w, y+head+h)}
		n.s.Label(geom.Pt(x, y+head-1.4), 3, Bold, Start, Accent, detailName(i))
		n.s.Label(geom.Pt(x+4.5, y+head-1.4), keySize, Regular, Start, Ink, Short(Regular, keySize, geom.MM(math.Max(w-4, 30)), fmt.Sprintf("enlarged %.1f times", m)))
		g := frame{at.Min.Add(f.origin.Sub(c.box.Min).Mul(m)), f.scale * m}
		n.s.Polygon(ringOf(at), Style{Fill: 0xf7f8f8, Stroke: Ink, Width: 0.25, Dash: []geom.MM{1, 0.7}})
		n.detail(c, g, at)
		x, tall = x+w+gap, math.Max(tall, head+h)
	}
	if len(list) == 0 {
		return y
	}
	return y + tall + 2
}

// detail draws a crowd in its frame: its pieces with their names, and whatever else reaches into it.
func (n *naming) detail(c crowd, f frame, at geom.Box) {
	drawn := make([]inked, len(n.l.Pieces))
	var has layoutKey
	for i, p := range n.l.Pieces {
		outer := f.ring(p.Shape.Outer)
		if slices.Contains(c.pieces, i) {
			drawn[i] = n.s.laid(f, p, &has)
		} else if drawable(outer) && outer.Bounds().Overlaps(at) {
			for _, q := range clip(append(geom.Path(outer), outer[0]), at) {
				n.s.Polyline(q, Stroke(Grey, 0.2))
			}
		}
	}
	words := n.ground(f, drawn, at)
	for _, i := range n.numbered(f, n.inside(f, c.pieces, drawn, &words), drawn, &words) {
		n.s.numberBeside(&words, f.shape(n.l.Pieces[i].Shape), n.number(i), at)
	}
}

// numberInside writes a number on a piece if it fits clear of the lines; always level, because a turned 6 looks like a 9.
func (s *Scene) numberInside(sh geom.Shape, lines []geom.Path, number string) (geom.Box, bool) {
	const most, air = 2.8, 1.15
	w := float64(TextWidth(Bold, 1, number))
	at, r := labelPlace{sh, lines, w / capital, most * capital * air / math.Sqrt2}.find()
	size := min(most, geom.MM(r*math.Sqrt2/capital/air))
	if size < labelLeast {
		return geom.Box{}, false
	}
	s.Label(at.Add(geom.Pt(0, float64(size)*capital/2)), size, Bold, Middle, Ink, number)
	return boxAt(at, w*float64(size), capital*float64(size)), true
}

// numberBeside writes a number near a piece where there is nothing else, or right of the sheet, with a leader to the piece.
func (s *Scene) numberBeside(words *clutter, sh geom.Shape, number string, area geom.Box) {
	const (
		size   = 2.4
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
		// Right of the sheet, one under the other, as near to the piece's height as there is room.
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

// keyList explains the numbers in columns below y, no farther right than right, and returns the last baseline.
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
