// Package figure draws a plain standing body to its measurements, shows on it where measurements are taken, one by one
// enlarged (HowToOne) and all together (HowTo), and how graded pieces sit on it from front and back (Dressed).
//
// The body is a sign, not a person: girths become widths through ellipses of named aspects, heights are shares of the
// stature, and what is not measured is usual for the height; the shares are a survey's, named where they stand. A piece
// is bent around the part of the body it is worn on as around a tube or a dome. Every picture reads without colour.
//
// It refuses nothing: a measurement it has no place for is explained in words alone, a piece on no region is left out,
// a measurement no body has is drawn at a bound. What always holds: the same input gives the same scene, every
// coordinate is finite, the body's right is on the picture's left from the front.
package figure

import (
	"fmt"
	"math"

	"benchbell/quote/draw"
	"benchbell/quote/geom"
)

// Entry is one measurement to show: its key, what it is called and how it is taken.
type Entry struct{ Key, Label, How string }

// Body landmarks as shares of the stature: x from the middle line, y down from the crown.
var (
	shoulder = geom.Pt(.100, .192)
	elbow    = geom.Pt(.162, .345)
	wrist    = geom.Pt(.200, .480)
	finger   = geom.Pt(.218, .565)
	hip      = geom.Pt(.052, .490)
	knee     = geom.Pt(.056, .720)
	ankle    = geom.Pt(.058, .945)
)

// place is where a measurement sits: a band from a to b, or, Length, a line between two marks.
type place struct {
	a, b   geom.Point
	length bool
}

var places = map[string]place{
	"stature":               {geom.Pt(-.31, 0), geom.Pt(-.31, 1), true},
	"head-girth":            {geom.Pt(-.043, .045), geom.Pt(.043, .045), false},
	"head-breadth":          {geom.Pt(-.043, -.02), geom.Pt(.043, -.02), true},
	"head-length":           {geom.Pt(-.062, .005), geom.Pt(-.062, .125), true},
	"neck-girth":            {geom.Pt(-.028, .142), geom.Pt(.028, .142), false},
	"biacromial-breadth":    {geom.Pt(-.112, .168), geom.Pt(.112, .168), true},
	"chest-girth":           {geom.Pt(-.100, .262), geom.Pt(.100, .262), false},
	"waist-girth":           {geom.Pt(-.079, .375), geom.Pt(.079, .375), false},
	"hip-girth":             {geom.Pt(-.099, .468), geom.Pt(.099, .468), false},
	"front-waist-length":    {geom.Pt(.018, .158), geom.Pt(.018, .375), true},
	"back-waist-length":     {geom.Pt(-.018, .150), geom.Pt(-.018, .375), true},
	"upper-arm-girth":       across(shoulder, elbow, .55, .032),
	"forearm-girth":         across(elbow, wrist, .22, .028),
	"wrist-girth":           across(elbow, wrist, .98, .019),
	"hand-girth":            across(wrist, finger, .5, .022),
	"shoulder-elbow-length": beside(shoulder, elbow, .045),
	"elbow-wrist-length":    beside(elbow, wrist, .045),
	"arm-length":            beside(shoulder, wrist, .075),
	"thigh-girth":           across(hip, knee, .22, .046),
	"knee-girth":            across(hip, knee, 1, .033),
	"calf-girth":            across(knee, ankle, .3, .034),
	"ankle-girth":           across(knee, ankle, .97, .021),
	"knee-floor-height":     {geom.Pt(-.125, .72), geom.Pt(-.125, 1), true},
	"waist-floor-height":    {geom.Pt(-.195, .375), geom.Pt(-.195, 1), true},
	"foot-length":           {geom.Pt(.042, 1.015), geom.Pt(.092, 1.015), true},
}

func across(a, b geom.Point, t, half float64) place {
	m, n := a.Lerp(b, t), b.Sub(a).Unit().Perp().Mul(half)
	return place{m.Add(n), m.Sub(n), false}
}

func beside(a, b geom.Point, off float64) place {
	n := b.Sub(a).Unit().Perp().Mul(-off)
	p, q := a.Add(n), b.Add(n)
	return place{geom.Pt(-p.X, p.Y), geom.Pt(-q.X, q.Y), true} // on the other limb, clear of the girths
}

const (
	ink     draw.Color = 0x20242b
	skin    draw.Color = 0xe6e3dd
	line    draw.Color = 0xa33b20
	faint   draw.Color = 0x6a6f78
	contour draw.Color = 0x4a4f57
)

// Picture dimensions in mm: the body on the left, the explanations on the right.
const (
	bodyWidth  = 96
	bodyHeight = 132
	textWidth  = 112
	edge       = 8
)

// HowTo draws the body with the entries marked and explained.
func HowTo(entries []Entry) draw.Scene {
	s := board{draw.Scene{Title: "How to take the measurements"}}
	type note struct{ label, how []string }
	notes := make([]note, len(entries))
	height := 16.0
	for i, e := range entries {
		notes[i] = note{draw.Fit(draw.Bold, 4, textWidth-14, e.Label, 2), draw.Fit(draw.Regular, 3.4, textWidth-14, e.How, 4)}
		height += 5.2*float64(len(notes[i].label)) + 4.4*float64(len(notes[i].how)) + 4
	}
	s.Width = edge*3 + bodyWidth + textWidth
	s.Height = geom.MM(math.Max(bodyHeight+28, height+2*edge))
	s.Rect(0, 0, s.Width, s.Height, draw.Fill(0xffffff))
	s.Label(geom.Pt(edge, 12), 5.2, draw.Bold, draw.Start, ink, "Where to measure")
	s.Label(geom.Pt(edge, 17.5), 3.2, draw.Regular, draw.Start, faint, "tape snug, not tight, over what is worn beneath")
	o := geom.Pt(edge+bodyWidth/2, 26)
	at := func(p geom.Point) geom.Point { return o.Add(p.Mul(bodyHeight - 6)) }
	for _, r := range body() {
		out := make(geom.Ring, len(r))
		for i, p := range r {
			out[i] = at(p)
		}
		s.Polygon(out, draw.Fill(skin))
	}
	y := 14.0
	x := float64(edge*2 + bodyWidth)
	for i, e := range entries {
		n := fmt.Sprint(i + 1)
		if p, ok := places[e.Key]; ok {
			s.mark(at(p.a), at(p.b), p.length, n)
		}
		s.badge(geom.Pt(x+3.4, y-1.4), n)
		for _, l := range notes[i].label {
			s.Label(geom.Pt(x+10, y), 4, draw.Bold, draw.Start, ink, l)
			y += 5.2
		}
		for _, l := range notes[i].how {
			s.Label(geom.Pt(x+10, y), 3.4, draw.Regular, draw.Start, ink, l)
			y += 4.4
		}
		y += 4
	}
	return s.Scene
}

type board struct{ draw.Scene }

// mark draws a band or a length line with its number.
func (s *board) mark(a, b geom.Point, length bool, n string) {
	st := draw.Stroke(line, .7)
	if length {
		s.Line(a, b, st)
		t := b.Sub(a).Unit().Perp().Mul(1.8)
		s.Line(a.Add(t), a.Sub(t), st)
		s.Line(b.Add(t), b.Sub(t), st)
		s.badge(a.Lerp(b, .5), n)
		return
	}
	// A band is the near half of a flat ellipse around the limb, dashed at the back.
	m, u := a.Lerp(b, .5), b.Sub(a).Mul(.5)
	v := u.Perp().Unit().Mul(math.Max(1.1, u.Norm()*.16))
	var near, far geom.Path
	const steps = 16
	for i := 0; i <= steps; i++ {
		sin, cos := math.Sincos(math.Pi * float64(i) / steps)
		near = append(near, m.Add(u.Mul(cos)).Add(v.Mul(sin)))
		far = append(far, m.Add(u.Mul(cos)).Sub(v.Mul(sin)))
	}
	s.Polyline(far, draw.Stroke(line, .45, 1, 1))
	s.Polyline(near, draw.Stroke(line, .8))
	end := b
	if a.X > b.X {
		end = a
	}
	s.Line(end, end.Add(geom.Pt(3.2, 0)), draw.Stroke(line, .4))
	s.badge(end.Add(geom.Pt(5.8, 0)), n)
}

func (s *board) badge(c geom.Point, n string) {
	s.Circle(c, 2.7, draw.Style{Fill: 0xffffff, Stroke: line, Width: .5})
	s.Label(geom.Pt(c.X, c.Y+1.3), 3.5, draw.Bold, draw.Middle, line, n)
}

// body is the standing figure as rings that overlap: head, trunk, and each limb with its mirror image.
func body() []geom.Ring {
	var head geom.Ring
	const steps = 32
	for i := 0; i < steps; i++ {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / steps)
		head = append(head, geom.Pt(.043*cos, .064+.064*sin))
	}
	half := geom.Ring{
		geom.Pt(.026, .105), geom.Pt(.027, .145), geom.Pt(.060, .163), geom.Pt(.100, .172), geom.Pt(.117, .190),
		geom.Pt(.106, .225), geom.Pt(.099, .262), geom.Pt(.086, .330), geom.Pt(.078, .375), geom.Pt(.087, .425),
		geom.Pt(.098, .468), geom.Pt(.096, .510), geom.Pt(.010, .525),
	}
	trunk := append(geom.Ring(nil), half...)
	for i := len(half) - 1; i >= 0; i-- {
		trunk = append(trunk, geom.Pt(-half[i].X, half[i].Y))
	}
	rings := []geom.Ring{head, trunk}
	for _, limb := range []geom.Ring{
		limb([]geom.Point{shoulder, shoulder.Lerp(elbow, .5), elbow, elbow.Lerp(wrist, .25), wrist, wrist.Lerp(finger, .5), finger},
			[]float64{.016, .028, .022, .025, .015, .020, .008}),
		limb([]geom.Point{hip, hip.Lerp(knee, .25), knee, knee.Lerp(ankle, .28), ankle, geom.Pt(.062, .985), geom.Pt(.070, 1)},
			[]float64{.043, .044, .029, .031, .017, .022, .020}),
	} {
		mirror := make(geom.Ring, len(limb))
		for i, p := range limb {
			mirror[i] = geom.Pt(-p.X, p.Y)
		}
		rings = append(rings, limb, mirror)
	}
	return rings
}

// limb is a ring around a middle line with a half width at each of its points, smoothed between them.
func limb(mid []geom.Point, half []float64) geom.Ring {
	var right, left geom.Ring
	const steps = 6
	for i := 0; i+1 < len(mid); i++ {
		for k := 0; k < steps; k++ {
			t := float64(k) / steps
			w := half[i] + (half[i+1]-half[i])*(3*t*t-2*t*t*t) // smoothstep: no corners at the joints
			p := mid[i].Lerp(mid[i+1], t)
			n := mid[i+1].Sub(mid[i]).Unit().Perp()
			right = append(right, p.Add(n.Mul(w)))
			left = append(left, p.Sub(n.Mul(w)))
		}
	}
	right = append(right, mid[len(mid)-1])
	for i := len(left) - 1; i >= 0; i-- {
		right = append(right, left[i])
	}
	return right
}
