package figure

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"benchbell/quote/draw"
	"benchbell/quote/geom"
)

// label is the name of a set at the side, with a line leading to it.
type label struct {
	name  string
	at    geom.Point // what it names
	lines []string
	y     float64
}

// labels names each set once, in the column nearest to where it shows best: left of the front figure, or between the
// figures.
func (d *dresser) labels(front, back *view) {
	const size, step = 3.6, 4.3
	columns := [2][]label{}
	names := []string{}
	for _, v := range []*view{front, back} {
		for n := range v.anchors {
			if n != "" && !slices.Contains(names, n) {
				names = append(names, n)
			}
		}
	}
	slices.Sort(names)
	for _, n := range names {
		f, b := front.anchors[n], back.anchors[n]
		a, v := f, front
		if f == nil || b != nil && b.area > 2*f.area {
			a, v = b, back
		}
		col := 1
		if x := a.at.X - v.centre; v == front && (x < -1 || math.Abs(x) <= 1 && len(columns[0]) <= len(columns[1])) {
			col = 0
		}
		columns[col] = append(columns[col], label{name: n, at: a.at, lines: draw.Fit(draw.Regular, size, labelWidth-3, n, 3)})
	}
	for col, ls := range columns {
		slices.SortStableFunc(ls, func(a, b label) int { return cmp.Compare(a.at.Y, b.at.Y) })
		top, limit := dressedTop+4.0, dressedHeight-dressedFoot // of the baselines
		gap := 2.2
		lines := 0
		for _, l := range ls {
			lines += len(l.lines)
		}
		if room := limit - top - float64(lines-1)*step; len(ls) > 1 { // many names move closer together
			gap = clamp(room/float64(len(ls)-1), 0, gap)
		}
		y := top
		for i := range ls {
			ls[i].y = math.Max(y, ls[i].at.Y-float64(len(ls[i].lines)-1)*step/2)
			y = ls[i].y + float64(len(ls[i].lines))*step + gap
		}
		for i := len(ls) - 1; i >= 0; i-- { // names that went past the floor move back up
			ls[i].y = math.Min(ls[i].y, limit-float64(len(ls[i].lines)-1)*step)
			limit = ls[i].y - step - gap
		}
		for _, l := range ls {
			d.label(l, col, size, step)
		}
	}
}

func (d *dresser) label(l label, col int, size geom.MM, step float64) {
	wide := 0.0
	for _, t := range l.lines {
		wide = math.Max(wide, float64(draw.TextWidth(draw.Regular, size, t)))
	}
	x, anchor := float64(edge)-2, draw.Start
	end := x + wide + 1
	if col == 1 {
		x, anchor = d.between, draw.Middle
		end = x - wide/2 - 1
		if l.at.X > x {
			end = x + wide/2 + 1
		}
	}
	from := geom.Pt(end, l.y+float64(len(l.lines)-1)*step/2-float64(size)*.32)
	d.scene.Line(from, l.at, draw.Stroke(draw.White, .8))
	d.scene.Line(from, l.at, draw.Stroke(ink, .25))
	d.scene.Circle(l.at, .7, draw.Style{Fill: ink, Stroke: draw.White, Width: .2})
	for i, t := range l.lines {
		d.scene.Label(geom.Pt(x, l.y+float64(i)*step), size, draw.Regular, anchor, ink, t)
	}
}

// floor is the line that both figures stand on.
func (d *dresser) floor() {
	y := dressedHeight - dressedFoot
	d.scene.Line(geom.Pt(edge, y), geom.Pt(float64(d.scene.Width)-scaleWidth, y), draw.Stroke(faint, .25))
}

// scale is a height scale at the right: centimetres on its left, feet on its right.
func (d *dresser) scale() {
	const size = 3.0
	x, floor := float64(d.scene.Width)-scaleWidth/2-2, dressedHeight-dressedFoot
	y := func(mm float64) float64 { return floor - mm*d.perMM }
	top := d.model.height * 1.02
	d.scene.Line(geom.Pt(x, y(0)), geom.Pt(x, y(top)), draw.Stroke(ink, .3))
	for cm := 0; float64(cm)*10 <= top; cm += 10 {
		l := 1.0
		if cm%50 == 0 {
			l = 2.2
			d.scene.Label(geom.Pt(x-3, y(float64(cm)*10)+1), size, draw.Regular, draw.End, ink, fmt.Sprint(cm))
		}
		d.scene.Line(geom.Pt(x-l, y(float64(cm)*10)), geom.Pt(x, y(float64(cm)*10)), draw.Stroke(ink, .25))
	}
	for half := 0; float64(half)*float64(geom.Foot)/2 <= top; half++ {
		mm := float64(half) * float64(geom.Foot) / 2
		l := 1.0
		if half%2 == 0 {
			l = 2.2
			d.scene.Label(geom.Pt(x+3, y(mm)+1), size, draw.Regular, draw.Start, ink, fmt.Sprint(half/2))
		}
		d.scene.Line(geom.Pt(x, y(mm)), geom.Pt(x+l, y(mm)), draw.Stroke(ink, .25))
	}
	d.scene.Label(geom.Pt(x-2, floor+5), size, draw.Regular, draw.End, ink, "cm")
	d.scene.Label(geom.Pt(x+2, floor+5), size, draw.Regular, draw.Start, ink, "ft")
}
