package paper

import (
	"fmt"
	"math"
	"strings"

	"benchbell/quote/draw"
	"benchbell/quote/geom"
)

// Lines are distinguished by width and dash alone; everything on the piece is black.
const black draw.Color = 0x000000

// Line styles. The lengths stay distinct on a worn office printer at arm's length; common practice, no source.
var (
	outlineStyle = draw.Stroke(black, 0.5)
	holeStyle    = draw.Stroke(black, 0.35)
	crossStyle   = draw.Stroke(black, 0.18)
	scoreStyle   = draw.Stroke(black, 0.35, 4, 2)
	bendStyle    = draw.Stroke(black, 0.35, 7, 1.5, 0.7, 1.5)
	towardStyle  = draw.Stroke(black, 0.35, 4, 1.3, 0.7, 1.3, 0.7, 1.3)
	notchStyle   = draw.Stroke(black, 0.9)
	seatStyle    = draw.Stroke(black, 0.6, 0.6, 1.2)
	alignStyle   = draw.Stroke(black, 0.22, 0.5, 1)
	leaderStyle  = draw.Stroke(black, 0.15)
)

func style(k LineKind) draw.Style {
	switch k {
	case Score:
		return scoreStyle
	case Bend:
		return bendStyle
	case BendToward:
		return towardStyle
	case Notch:
		return notchStyle
	case Seat:
		return seatStyle
	}
	return alignStyle
}

// drawing is a piece drawn one way up, with its text. Its coordinates have y down; its place on the pattern is added when
// it is printed.
type drawing struct {
	piece   *Piece
	turned  bool // a quarter turn
	room    room
	figures []draw.Figure
	box     geom.Box // of all of it, with a margin
	grained bool     // the texture arrow is drawn, or there is none
	named   bool     // its name stands inside its outline
	name    plate    // the block of text with the name
	quiet   []plate  // places the name should stay clear of if it can
	missed  []string // texts that did not fit at their line
	job     *Pattern
}

// air is the space around a piece, so that no line is cut by the edge of a tile and pieces do not touch.
const air = 1.2

// view maps the piece's coordinates, y up, to the drawing's, y down. It moves the piece rigidly: nothing is mirrored.
func view(p geom.Point, turned bool) geom.Point {
	if turned {
		return geom.Pt(-p.Y, -p.X)
	}
	return geom.Pt(p.X, -p.Y)
}

func viewed(ps []geom.Point, turned bool) []geom.Point {
	out := make([]geom.Point, len(ps))
	for i, p := range ps {
		out[i] = view(p, turned)
	}
	return out
}

// drawPiece draws a piece. Text keeps off the quiet places if it can.
func drawPiece(job *Pattern, p *Piece, turned bool, quiet []plate) *drawing {
	d := &drawing{piece: p, turned: turned, job: job, quiet: quiet}
	d.room.shape.Outer = viewed(p.Shape.Outer, turned)
	for _, h := range p.Shape.Holes {
		d.room.shape.Holes = append(d.room.shape.Holes, viewed(h, turned))
	}
	d.box = d.room.shape.Outer.Bounds()
	d.closed(d.room.shape.Outer, outlineStyle)
	for i, h := range d.room.shape.Holes {
		if !p.drilled(p.Shape.Holes[i]) {
			d.closed(h, holeStyle)
		}
	}
	for _, h := range p.Drills {
		d.drill(view(h.At, turned), h.Diameter)
	}
	for _, l := range p.Lines {
		path := geom.Path(viewed(l.Path, turned))
		d.room.open(path)
		d.figures = append(d.figures, draw.Figure{Path: path, Style: style(l.Kind)})
		for _, q := range path {
			d.box = d.box.Extend(q)
		}
	}
	d.words()
	d.box = d.box.Grow(air)
	return d
}

func (d *drawing) closed(r geom.Ring, st draw.Style) {
	d.room.closed(r)
	d.figures = append(d.figures, draw.Figure{Shape: &geom.Shape{Outer: r}, Style: st})
}

// drill draws a hole with a centre cross that runs past the rim, so that a punch can be lined up with it.
func (d *drawing) drill(at geom.Point, diameter geom.MM) {
	const (
		corners = 48  // flat by 0.02 mm at 20 mm
		past    = 1.2 // of the cross beyond the rim
	)
	r := make(geom.Ring, corners)
	for i := range r {
		sin, cos := geom.SinCosDeg(float64(i) * 360 / corners)
		r[i] = at.Add(geom.Pt(cos, sin).Mul(float64(diameter) / 2))
	}
	d.closed(r, holeStyle)
	arm := float64(diameter)/2 + past
	for _, v := range [2]geom.Point{{X: arm}, {Y: arm}} {
		line := geom.Path{at.Sub(v), at.Add(v)}
		d.room.open(line)
		d.figures = append(d.figures, draw.Figure{Path: line, Style: crossStyle})
	}
}

// drilled reports whether a hole of the shape is the polygon of one of the drills.
func (q *Piece) drilled(hole geom.Ring) bool {
	const same = 0.6 // mm by which a polygon and its circle may differ in place and width
	b := hole.Bounds()
	for _, d := range q.Drills {
		if b.Centre().Dist(d.At) < same && math.Abs(float64(b.Width()-d.Diameter)) < same && math.Abs(float64(b.Height()-d.Diameter)) < same {
			return true
		}
	}
	return false
}

// size is the piece's width and height, "216 × 118 mm", as drawn and not as turned on the paper.
func (q *Piece) size() string {
	b := q.Shape.Bounds()
	return fmt.Sprintf("%.0f × %.0f mm", float64(b.Width()), float64(b.Height()))
}

// cut is "cut 2 · 10 mm · mirrored".
func (q *Piece) cut() string {
	s := fmt.Sprintf("cut %d · %v", max(q.Count, 1), q.Thickness)
	if q.Mirrored {
		s += " · mirrored"
	}
	return s
}

// holes is "2 holes 5 mm, 1 hole 3/16 in", in order of first appearance; empty without drills.
func (q *Piece) holes() string {
	var sizes []string
	count := map[string]int{}
	for _, d := range q.Drills {
		s := d.name()
		if count[s] == 0 {
			sizes = append(sizes, s)
		}
		count[s]++
	}
	for i, s := range sizes {
		if count[s] == 1 {
			sizes[i] = "1 hole " + s
		} else {
			sizes[i] = fmt.Sprintf("%d holes %s", count[s], s)
		}
	}
	return strings.Join(sizes, ", ")
}

func (d Drill) name() string {
	if d.Size != "" {
		return d.Size
	}
	return d.Diameter.String()
}
