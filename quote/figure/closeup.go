package figure

import (
	"math"

	"benchbell/quote/draw"
	"benchbell/quote/geom"
)

// Picture of one measurement, in mm: a square window onto the body with text below, sized to be read on a phone.
const (
	closeEdge   = 8
	window      = 104
	closeWidth  = window + 2*closeEdge
	tapeWidth   = 3.0
	noteSize    = 4.4
	closeLabel  = 7.0
	closeHow    = 5.2
	closeHowGap = 6.6
)

// canvas is a window onto the body while one measurement is drawn.
type canvas struct {
	scene *draw.Scene
	pen   pen
	model *model
	notes []note
}

// note is a text in the picture with a line to what it names.
type note struct {
	text string
	at   geom.Point // on the picture
	to   geom.Point // where the middle of the text stands, relative to that
}

// HowToOne draws how one measurement is taken: the part of the body enlarged, the tape on it with its start and end, the
// landmarks to find, and the instructions below. A measurement without a picture gets the instructions alone.
func HowToOne(e Entry) draw.Scene {
	s := draw.Scene{Width: closeWidth, Title: e.Label + ": " + e.How}
	label := draw.Fit(draw.Bold, closeLabel, window, e.Label, 2)
	how := draw.Fit(draw.Regular, closeHow, window, e.How, 8)
	top := float64(closeEdge)
	show, ok := closeUps[e.Key]
	if ok {
		top += window
	}
	s.Height = geom.MM(top + 4 + 8.4*float64(len(label)) + closeHowGap*float64(len(how)) + closeEdge)
	s.Rect(0, 0, s.Width, s.Height, draw.Fill(draw.White))
	if ok {
		c := &canvas{scene: &s, model: newModel(nil)}
		show(c)
		for _, m := range []geom.Box{ // the surround of the window
			{Min: geom.Pt(0, 0), Max: geom.Pt(closeWidth, closeEdge)},
			{Min: geom.Pt(0, closeEdge), Max: geom.Pt(closeEdge, closeEdge+window)},
			{Min: geom.Pt(closeEdge+window, closeEdge), Max: geom.Pt(closeWidth, closeEdge+window)},
			{Min: geom.Pt(0, closeEdge+window), Max: geom.Pt(closeWidth, float64(s.Height))},
		} {
			s.Rect(geom.MM(m.Min.X), geom.MM(m.Min.Y), m.Width(), m.Height(), draw.Fill(draw.White))
		}
		s.Rect(closeEdge, closeEdge, window, window, draw.Style{Fill: draw.None, Stroke: draw.Pale, Width: .4})
		c.write()
	}
	y := top + 9
	for _, l := range label {
		s.Label(geom.Pt(closeEdge, y), closeLabel, draw.Bold, draw.Start, ink, l)
		y += 8.4
	}
	for _, l := range how {
		s.Label(geom.Pt(closeEdge, y), closeHow, draw.Regular, draw.Start, ink, l)
		y += closeHowGap
	}
	return s
}

// look sets the window to a square of the body, in its millimetres.
func (c *canvas) look(centre geom.Point, size float64) {
	k := window / size
	mid := closeEdge + window/2.0
	c.pen = pen{scene: c.scene, line: .55, place: func(p geom.Point) geom.Point {
		return geom.Pt(mid+(p.X-centre.X)*k, mid-(p.Y-centre.Y)*k)
	}}
}

// body shows the standing figure around a point; sizes are shares of the stature.
func (c *canvas) body(x, y, size float64, back bool) {
	h := c.model.height
	c.look(geom.Pt(x*h, y*h), size*h)
	c.pen.body(c.model, back)
}

// pose shows one of the other poses.
func (c *canvas) pose(centre geom.Point, size float64, p part, lines ...geom.Path) {
	c.look(centre, size)
	c.pen.part(p)
	for _, l := range lines {
		c.scene.Polyline(c.pen.path(l), draw.Stroke(faint, .35))
	}
}

// bulge is how far a tape around a limb is drawn below its ends, as a share of the half width.
const bulge = .2

// round lays the tape around a limb from a to b; the far half is dashed.
func (c *canvas) round(a, b geom.Point) {
	p, q := c.pen.place(a), c.pen.place(b)
	m, u := p.Lerp(q, .5), q.Sub(p).Mul(.5)
	v := u.Unit().Perp().Mul(u.Norm() * bulge)
	if v.Y < 0 || v.Y == 0 && v.X < 0 { // the near half hangs down on the picture
		v = v.Mul(-1)
	}
	var near, far geom.Path
	const steps = 32
	for i := range steps + 1 {
		sin, cos := math.Sincos(math.Pi * float64(i) / steps)
		near = append(near, m.Sub(u.Mul(cos)).Add(v.Mul(sin)))
		far = append(far, m.Sub(u.Mul(cos)).Sub(v.Mul(sin*.6)))
	}
	c.scene.Polyline(far, draw.Stroke(ink, .5, 1.6, 1.3))
	c.strip(near)
	c.arrow(near, .30)
	c.arrow(near, .70)
}

// tape lays the tape along a line on the body, from its start to its end.
func (c *canvas) tape(line geom.Path, start, end string, startTo, endTo geom.Point) {
	p := c.pen.path(line)
	c.strip(p)
	n := p.Length()
	for _, at := range []geom.MM{n * .3, n * .7} {
		c.arrow(p, float64(at/n))
	}
	for i, e := range []geom.Point{p[0], p[len(p)-1]} {
		other := p[1]
		text, to := "start: "+start, startTo
		if i == 1 {
			other, text, to = p[len(p)-2], "end: "+end, endTo
		}
		t := other.Sub(e).Unit().Perp().Mul(tapeWidth)
		c.scene.Line(e.Add(t), e.Sub(t), draw.Stroke(ink, .9))
		c.scene.Circle(e, 1.1, draw.Style{Fill: draw.White, Stroke: ink, Width: .7})
		c.notes = append(c.notes, note{text, e, to})
	}
}

// strip draws a tape: white, with a dark edge and its marks.
func (c *canvas) strip(p geom.Path) {
	const tick = 3.2
	half := tapeWidth / 2.0
	var left, right geom.Path
	n := float64(p.Length())
	steps := max(1, int(n/1.2))
	for i := range steps + 1 {
		q, t := p.At(geom.MM(n * float64(i) / float64(steps)))
		left, right = append(left, q.Add(t.Perp().Mul(half))), append(right, q.Sub(t.Perp().Mul(half)))
	}
	ring := geom.Ring(left)
	for i := len(right) - 1; i >= 0; i-- {
		ring = append(ring, right[i])
	}
	c.scene.Polygon(ring, draw.Style{Fill: draw.White, Stroke: ink, Width: .5})
	for i, s := 1, tick; s < n-tick/2; i, s = i+1, s+tick {
		q, t := p.At(geom.MM(s))
		l := .35
		if i%5 == 0 {
			l = .75
		}
		c.scene.Line(q.Add(t.Perp().Mul(half)), q.Add(t.Perp().Mul(half-l*tapeWidth)), draw.Stroke(ink, .25))
	}
}

// arrow on the tape shows which way it runs.
func (c *canvas) arrow(p geom.Path, share float64) {
	q, t := p.At(p.Length() * geom.MM(share))
	tip, base := q.Add(t.Mul(2.6)), q.Sub(t.Mul(1.6))
	n := t.Perp().Mul(2.4)
	c.scene.Polygon(geom.Ring{tip, base.Add(n), base.Sub(n)}, draw.Style{Fill: ink, Stroke: draw.White, Width: .35})
}

// straight is a distance between two faces rather than along the body: a line with arrowheads.
func (c *canvas) straight(a, b geom.Point, start, end string, startTo, endTo geom.Point) {
	p, q := c.pen.place(a), c.pen.place(b)
	c.scene.Line(p, q, draw.Stroke(ink, .9))
	d := q.Sub(p).Unit()
	for _, e := range []struct {
		tip, dir geom.Point
	}{{p, d.Mul(-1)}, {q, d}} {
		base := e.tip.Sub(e.dir.Mul(4))
		n := e.dir.Perp()
		c.scene.Polygon(geom.Ring{e.tip, base.Add(n.Mul(1.6)), base.Sub(n.Mul(1.6))}, draw.Fill(ink))
		c.scene.Line(e.tip.Add(n.Mul(3)), e.tip.Sub(n.Mul(3)), draw.Stroke(ink, .6))
	}
	c.notes = append(c.notes, note{start, p, startTo}, note{end, q, endTo})
}

// mark labels a place on the body with a dot.
func (c *canvas) mark(at geom.Point, text string, to geom.Point) {
	p := c.pen.place(at)
	c.scene.Circle(p, 1.3, draw.Style{Fill: ink, Stroke: draw.White, Width: .4})
	c.notes = append(c.notes, note{text, p, to})
}

// say adds a text without a line.
func (c *canvas) say(at geom.Point, text string) {
	c.notes = append(c.notes, note{text: text, at: c.pen.place(at)})
}

// write draws the texts last, over everything else, each kept within the window.
func (c *canvas) write() {
	for _, n := range c.notes {
		if n.text == "" {
			continue
		}
		w := float64(draw.TextWidth(draw.Bold, noteSize, n.text)) / 2
		m := n.at.Add(n.to)
		m.X = clamp(m.X, closeEdge+w+2, closeEdge+window-w-2)
		m.Y = clamp(m.Y, closeEdge+4, closeEdge+window-4)
		if n.to != (geom.Point{}) {
			// From the nearest edge of the text to what it names.
			from := geom.Pt(clamp(n.at.X, m.X-w, m.X+w), clamp(n.at.Y, m.Y-noteSize/2, m.Y+noteSize/2))
			c.scene.Line(from, n.at, draw.Stroke(draw.White, 1))
			c.scene.Line(from, n.at, draw.Stroke(ink, .4))
		}
		c.scene.Rect(geom.MM(m.X-w-.8), geom.MM(m.Y-noteSize*.62), geom.MM(2*w+1.6), noteSize*1.24, draw.Fill(draw.White))
		c.scene.Label(geom.Pt(m.X, m.Y+noteSize*.35), noteSize, draw.Bold, draw.Middle, ink, n.text)
	}
}

func (c *canvas) dashed() draw.Style { return draw.Stroke(ink, .4, 1.6, 1.2) }

// waistLine shows where the waist is.
func (c *canvas) waistLine() {
	a, b := across(c.model.trunk, c.model.height-c.model.waist)
	c.scene.Line(c.pen.place(a), c.pen.place(b), c.dashed())
}
