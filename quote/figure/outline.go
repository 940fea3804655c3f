package figure

import (
	"math"
	"slices"

	"benchbell/quote/geom"
)

// part of the body's outline: an area, and the lines of it that are drawn (not where it joins the next part).
type part struct {
	area  geom.Ring
	lines []geom.Path
}

// tubePart is a tube from s = from to s = to; each end is closed, or open towards the part it joins.
func tubePart(t *tube, from, to float64, openTop, openEnd bool) part {
	l, r := t.sides(from, to)
	ring := geom.Ring(slices.Clone(l))
	for i := len(r) - 1; i >= 0; i-- {
		ring = append(ring, r[i])
	}
	p := part{area: ring}
	switch {
	case openTop && openEnd:
		p.lines = []geom.Path{l, r}
	case openTop:
		back := slices.Clone(r)
		slices.Reverse(back)
		p.lines = []geom.Path{append(slices.Clone(l), back...)}
	default:
		p.lines = []geom.Path{append(geom.Path(ring), ring[0])}
	}
	return p
}

func mirrorPart(p part) part {
	out := part{area: geom.Ring(mirrorPath(geom.Path(p.area)))}
	for _, l := range p.lines {
		out.lines = append(out.lines, mirrorPath(l))
	}
	return out
}

func mirrorPath(p geom.Path) geom.Path {
	out := make(geom.Path, len(p))
	for i, q := range p {
		out[i] = geom.Pt(-q.X, q.Y)
	}
	return out
}

// legParts are the body's left leg and foot; back shows the heel instead of the toes.
func (m *model) legParts(back bool) []part {
	h := m.height
	const gap = .0035 // of the stature: each thigh stays on its own side of the middle line
	end := m.leg.length - .012*h
	leg := tubePart(m.leg, 0, end, true, true)
	for _, path := range append([]geom.Path{geom.Path(leg.area)}, leg.lines...) {
		for i := range path {
			path[i].X = math.Max(path[i].X, gap*h)
		}
	}
	in := leg.lines[0] // no line between leg and trunk
	for len(in) > 2 && in[0].Y > m.crotch {
		in = in[1:]
	}
	leg.lines[0] = in
	inner, outer := in[len(in)-1], leg.lines[1][len(leg.lines[1])-1]
	c := m.leg.point(m.leg.length)
	w, b := m.half["ankle-girth"]*1.2, ballShare*h/2
	turn := .012 * h // the toes point outwards a little
	foot := geom.Path{
		inner, geom.Pt(c.X-w*1.02, c.Y-.008*h), geom.Pt(c.X-b*.98+turn, .016*h), geom.Pt(c.X-b*.84+turn, .003*h),
		geom.Pt(c.X-b*.3+turn, 0), geom.Pt(c.X+b*.6+turn, 0), geom.Pt(c.X+b*1.08+turn, .004*h), geom.Pt(c.X+b*1.10+turn, .014*h),
		geom.Pt(c.X+w*1.14, c.Y-.008*h), outer,
	}
	if back {
		foot = geom.Path{
			inner, geom.Pt(c.X-w*.92, c.Y-.012*h), geom.Pt(c.X-w*.95, .010*h), geom.Pt(c.X-w*.6, 0),
			geom.Pt(c.X+w*.6, 0), geom.Pt(c.X+w*.95, .010*h), geom.Pt(c.X+w*.92, c.Y-.012*h), outer,
		}
	}
	line := smooth(foot)
	return []part{{area: geom.Ring(line), lines: []geom.Path{line}}, leg}
}

// trunkParts are neck and trunk, and the head over them.
func (m *model) trunkParts() []part {
	h, w := m.height, m.half["head-girth"]
	from := h - m.chin - .02*h
	p := tubePart(m.trunk, from, h-m.crotch, true, true)
	p.lines = nil
	for side := range 2 {
		l, r := m.trunk.sides(from, h-m.hip+.001*h)
		if side == 0 {
			r = l
		}
		// The arm covers the shoulder from the start of its own outline.
		cut := 0
		for cut < len(r)-1 && r[cut].Y > shoulderShare*h {
			cut++
		}
		low := cut
		for low < len(r)-2 && r[low].Y > m.axilla {
			low++
		}
		p.lines = append(p.lines, r[:cut+1], r[low:])
	}
	_, thigh := m.leg.sides(0, .06*h) // again, because the trunk lies over it
	p.lines = append(p.lines, thigh, mirrorPath(thigh))
	var right geom.Path
	for _, q := range [][2]float64{{0, 1}, {.47, .993}, {.83, .972}, {.99, .944}, {.985, .920}, {.90, .900}, {.72, .884}, {.46, .8735}, {.20, chinShare}} {
		right = append(right, geom.Pt(w*q[0], h*q[1]))
	}
	ring := geom.Ring(right)
	for i := len(right) - 1; i > 0; i-- {
		ring = append(ring, geom.Pt(-right[i].X, right[i].Y))
	}
	ring = smoothRing(ring)
	return []part{p, {area: ring, lines: []geom.Path{append(geom.Path(ring), ring[0])}}}
}

// shoulderShare is the height at which the arm's outline leaves the trunk's, as a share of the stature.
const shoulderShare = .829

// armParts are the body's left thumb, and arm with a plain hand.
func (m *model) armParts() []part {
	h, t := m.height, m.arm
	inner, outer := t.sides(.16*m.elbowAt, t.length)
	join := geom.Pt(m.trunk.right.at(h-shoulderShare*h), shoulderShare*h)
	first := outer[0]
	cap := smooth(geom.Path{join.Add(geom.Pt(-.03*h, .006*h)), join, join.Lerp(first, .5).Add(geom.Pt(.005*h, .0065*h)), first, outer[2]})
	over := cap[smoothSteps : 3*smoothSteps]
	line := append(slices.Clone(over), outer...)
	for i := len(inner) - 1; i >= 0; i-- {
		line = append(line, inner[i])
	}
	area := geom.Ring(slices.Clone(line))
	area = append(area, geom.Pt(join.X-.02*h, m.axilla+.02*h))
	for line[len(line)-1].Y > m.axilla-.004*h { // the inner line starts below the armpit, where the arm leaves the trunk
		line = line[:len(line)-1]
	}
	n := t.length - m.wristAt
	at := func(share, side float64) geom.Point {
		s := m.wristAt + n*share
		return t.point(s).Add(t.normal(s).Mul(side * m.half["hand-girth"]))
	}
	thumb := smooth(geom.Path{at(.08, -.5), at(.20, -.92), at(.36, -1.16), at(.50, -1.16), at(.56, -1.02), at(.50, -.88), at(.40, -.66)})
	return []part{{area: geom.Ring(thumb), lines: []geom.Path{thumb}}, {area: area, lines: []geom.Path{line}}}
}

// details are thin lines that distinguish front from back.
func (m *model) details(back bool) []geom.Path {
	h := m.height
	chest := m.half["chest-girth"]
	both := func(p geom.Path) []geom.Path { p = smooth(p); return []geom.Path{p, mirrorPath(p)} }
	knee := m.leg.point(m.kneeAt)
	k := m.half["knee-girth"]
	if back {
		out := []geom.Path{smooth(geom.Path{geom.Pt(0, m.cervical-.03*h), geom.Pt(0, m.waist+.1*h), geom.Pt(0, m.waist-.02*h)})}
		out = append(out, smooth(geom.Path{geom.Pt(0, m.hip+.045*h), geom.Pt(0, m.hip), geom.Pt(0, m.crotch-.012*h)}))
		out = append(out, both(geom.Path{geom.Pt(.006*h, m.crotch-.012*h), geom.Pt(.035*h, m.crotch-.018*h), geom.Pt(.07*h, m.crotch-.006*h)})...)
		out = append(out, both(geom.Path{geom.Pt(chest*.28, m.pit-.03*h), geom.Pt(chest*.40, m.axilla-.005*h), geom.Pt(chest*.62, m.axilla-.03*h)})...)
		out = append(out, both(geom.Path{geom.Pt(knee.X-k*.5, m.knee-.004*h), geom.Pt(knee.X, m.knee-.008*h), geom.Pt(knee.X+k*.5, m.knee-.004*h)})...)
		return out
	}
	eye, w := m.height*.933, m.half["head-girth"]
	out := both(geom.Path{geom.Pt(w*.24, eye), geom.Pt(w*.40, eye+.003*h), geom.Pt(w*.56, eye)})
	out = append(out, smooth(geom.Path{geom.Pt(w*.02, eye), geom.Pt(w*.10, eye-.024*h), geom.Pt(-w*.04, eye-.027*h)}))
	out = append(out, smooth(geom.Path{geom.Pt(-w*.24, eye-.043*h), geom.Pt(0, eye-.046*h), geom.Pt(w*.24, eye-.043*h)}))
	out = append(out, both(geom.Path{geom.Pt(.012*h, m.pit-.002*h), geom.Pt(.05*h, m.pit+.002*h), geom.Pt(m.shoulder.X*.8, m.pit+.006*h)})...)
	out = append(out, both(geom.Path{geom.Pt(.012*h, m.chest-.022*h), geom.Pt(chest*.45, m.chest-.030*h), geom.Pt(chest*.80, m.chest-.005*h)})...)
	out = append(out, smooth(geom.Path{geom.Pt(-.003*h, m.waist-.008*h), geom.Pt(0, m.waist-.012*h), geom.Pt(.003*h, m.waist-.008*h)}))
	out = append(out, both(geom.Path{geom.Pt(knee.X-k*.55, m.knee+.012*h), geom.Pt(knee.X-k*.5, m.knee-.012*h), geom.Pt(knee.X, m.knee-.02*h), geom.Pt(knee.X+k*.5, m.knee-.012*h), geom.Pt(knee.X+k*.55, m.knee+.012*h)})...)
	return out
}
