package figure

import (
	"fmt"
	"math"

	"benchbell/quote/draw"
	"benchbell/quote/geom"
)

// Picture of many measurements, in mm: the body on the left, the explanations on the right.
const (
	bodyWidth  = 114
	bodyHeight = 150
	textWidth  = 112
)

// place is where a measurement sits on the standing figure: a band from a to b or, if length is set, a line between two
// marks.
type place struct {
	a, b   geom.Point
	length bool
}

// places are all measurements on a body: girths on its left side, lengths of limbs beside its right.
func (m *model) places() map[string]place {
	h := m.height
	band := func(t *tube, s float64) place {
		a, b := across(t, s)
		return place{a: a, b: b}
	}
	line := func(x0, y0, x1, y1 float64) place { return place{geom.Pt(x0, y0), geom.Pt(x1, y1), true} }
	arm := func(from, to, off float64) place {
		l := beside(m.arm, from, to, off)
		a, b := l[0], l[len(l)-1]
		return line(-a.X, a.Y, -b.X, b.Y)
	}
	trunk := func(y float64) place { return band(m.trunk, h-y) }
	head := m.half["head-girth"]
	return map[string]place{
		"stature":               line(-.385*h, h, -.385*h, 0),
		"head-girth":            trunk(.947 * h),
		"head-breadth":          line(-head, 1.018*h, head, 1.018*h),
		"head-length":           line(-head-.035*h, .985*h, -head-.008*h, .935*h), // from back to front, at a slant
		"neck-girth":            trunk(.857 * h),
		"biacromial-breadth":    line(-m.shoulder.X, m.acromion+.012*h, m.shoulder.X, m.acromion+.012*h),
		"chest-girth":           trunk(m.chest),
		"waist-girth":           trunk(m.waist),
		"hip-girth":             trunk(m.hip),
		"front-waist-length":    line(.02*h, m.pit, .02*h, m.waist),
		"back-waist-length":     line(-.02*h, m.cervical-.01*h, -.02*h, m.waist),
		"upper-arm-girth":       band(m.arm, .55*m.elbowAt),
		"forearm-girth":         band(m.arm, m.elbowAt+.22*(m.wristAt-m.elbowAt)),
		"wrist-girth":           band(m.arm, m.wristAt),
		"hand-girth":            band(m.arm, m.wristAt+.42*(m.arm.length-m.wristAt)),
		"shoulder-elbow-length": arm(.12*m.elbowAt, m.elbowAt, .022*h),
		"elbow-wrist-length":    arm(m.elbowAt, m.wristAt, .022*h),
		"arm-length":            arm(.12*m.elbowAt, m.wristAt, .055*h),
		"thigh-girth":           band(m.leg, m.hip-m.crotch+.03*h),
		"knee-girth":            band(m.leg, m.kneeAt),
		"calf-girth":            band(m.leg, m.calfAt),
		"ankle-girth":           band(m.leg, m.ankleAt),
		"knee-floor-height":     line(-.155*h, m.knee, -.155*h, 0),
		"waist-floor-height":    line(-.325*h, m.waist, -.325*h, 0),
		"foot-length":           line(.045*h, -.018*h, .105*h, -.018*h),
	}
}

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
	s.Height = geom.MM(math.Max(bodyHeight+36, height+2*edge))
	s.Rect(0, 0, s.Width, s.Height, draw.Fill(draw.White))
	s.Label(geom.Pt(edge, 12), 5.2, draw.Bold, draw.Start, ink, "Where to measure")
	s.Label(geom.Pt(edge, 17.5), 3.2, draw.Regular, draw.Start, faint, "tape snug, not tight, on the body itself")
	m := newModel(nil)
	places := m.places()
	k := bodyHeight / m.height
	p := pen{scene: &s.Scene, line: .3, place: func(q geom.Point) geom.Point {
		return geom.Pt(edge+bodyWidth/2+5+q.X*k, 26+bodyHeight-q.Y*k)
	}}
	p.body(m, false)
	y := 14.0
	x := float64(edge*2 + bodyWidth)
	for i, e := range entries {
		n := fmt.Sprint(i + 1)
		if at, ok := places[e.Key]; ok {
			s.mark(p.place(at.a), p.place(at.b), at.length, n)
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
