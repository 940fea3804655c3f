package figure

import (
	"math"

	"benchbell/quote/geom"
)

// usual is what is drawn for a measurement not given, as a share of the stature: the average of the two sexes' means over
// stature in ANSUR II (2012), US Army, public. The knee girth, which that survey lacks, is from memory.
var usual = map[string]float64{
	"wrist-girth": .0977, "forearm-girth": .169, "elbow-wrist-length": .1504, "upper-arm-girth": .196,
	"shoulder-elbow-length": .206, "biacromial-breadth": .2305, "chest-girth": .592, "waist-girth": .533,
	"hip-girth": .604, "neck-girth": .2145, "head-girth": .336, "back-waist-length": .2665, "front-waist-length": .2195,
	"calf-girth": .226, "ankle-girth": .1315, "thigh-girth": .367, "knee-girth": .222, "knee-floor-height": .277,
	"hand-girth": .118, "foot-length": .1525, "head-breadth": .0895, "head-length": .1155, "arm-length": .336,
	"waist-floor-height": .602,
}

// Heights of landmarks as shares of the stature, from the same means; those marked ° are common drawing practice.
const (
	chinShare     = .870 // °
	cervicalShare = .861
	pitShare      = .818 // pit of the neck
	acromialShare = .820
	axillaShare   = .759
	chestShare    = .727
	buttockShare  = .509
	crotchShare   = .481
	calfShare     = .205  // °
	ankleShare    = .075  // ° at the least girth
	soleShare     = .040  // outer ankle bone
	handShare     = .110  // length of the hand
	ballShare     = .0575 // breadth of the foot
)

// Width over depth of the ellipse a girth is drawn as. Trunk: chosen so that the usual girth gives the usual breadth in
// ANSUR II (the chest's is wider, because its girth includes what lies in front of the arms); limbs: common drawing
// practice.
const (
	chestAspect   = 1.22
	waistAspect   = 1.30
	hipAspect     = 1.22
	neckAspect    = 1.0
	headAspect    = .78
	armAspect     = .96
	forearmAspect = 1.12
	wristAspect   = 1.35
	thighAspect   = .94
	kneeAspect    = 1.0
	calfAspect    = .98
	ankleAspect   = .86
)

// Bounds of what is drawn: a body outside them is drawn at the bound, so that it still looks like a body.
const (
	leastStature   = 500.0
	mostStature    = 2500.0
	usualStature   = 1700.0
	leastOfUsual   = .5
	mostOfUsual    = 2.2
	relaxed        = .95 // girth of a hanging arm over its girth with the muscle tensed, which is what is measured
	upperArmDegree = 13.0
	forearmDegree  = 8.0
)

// tube is a limb or the trunk: a middle line running down from s = 0 to s = length, how far the outline lies to the
// picture's left and right of it in the front view, and the girth. Lengths in mm, y up from the floor.
type tube struct {
	x, y        curve // of the middle line over s
	left, right curve
	girth       curve
	length      float64
}

func (t *tube) point(s float64) geom.Point { return geom.Pt(t.x.at(s), t.y.at(s)) }

// normal points to the picture's right, perpendicular to the middle line.
func (t *tube) normal(s float64) geom.Point {
	const step = 1.0
	a, b := math.Max(0, s-step), math.Min(t.length, s+step)
	return t.point(b).Sub(t.point(a)).Unit().Perp()
}

// sides are the two lines of the outline from s = from to s = to.
func (t *tube) sides(from, to float64) (left, right geom.Path) {
	const every = 8.0 // mm
	n := max(2, int(math.Ceil((to-from)/every)))
	for i := range n + 1 {
		s := from + (to-from)*float64(i)/float64(n)
		p, v := t.point(s), t.normal(s)
		left = append(left, p.Sub(v.Mul(t.left.at(s))))
		right = append(right, p.Add(v.Mul(t.right.at(s))))
	}
	return left, right
}

// mirrored is the tube on the other side of the body.
func (t *tube) mirrored() *tube {
	m := *t
	m.x.y, m.x.slope = negative(t.x.y), negative(t.x.slope)
	m.left, m.right = t.right, t.left
	return &m
}

func negative(v []float64) []float64 {
	out := make([]float64, len(v))
	for i, x := range v {
		out[i] = -x
	}
	return out
}

// model is a body in mm: the middle line is x = 0, the floor y = 0, and x runs to the right in the front view, which is the
// body's left. Limbs are the body's left ones.
type model struct {
	height          float64
	chin, cervical  float64 // heights
	pit, acromion   float64
	axilla, chest   float64
	waist, hip      float64
	crotch, knee    float64
	calf, ankle     float64
	half            map[string]float64 // half widths of the girths, half breadths, by measurement key
	girth           map[string]float64
	shoulder        geom.Point // the bone at the point of the shoulder
	trunk, arm, leg *tube
	// Places along the arm and the leg.
	elbowAt, wristAt, kneeAt, ankleAt, calfAt float64
}

// newModel draws a body to its measurements; what is missing, or not a length, is usual for the height.
func newModel(body map[string]geom.MM) *model {
	m := &model{height: usualStature, half: map[string]float64{}, girth: map[string]float64{}}
	if h := float64(body["stature"]); h > 0 {
		m.height = math.Max(leastStature, math.Min(mostStature, h))
	}
	get := func(key string) float64 {
		u := usual[key] * m.height
		v := float64(body[key])
		if !(v > 0) {
			return u
		}
		return math.Max(leastOfUsual*u, math.Min(mostOfUsual*u, v))
	}
	h := m.height
	m.chin, m.cervical, m.pit, m.acromion = chinShare*h, cervicalShare*h, pitShare*h, acromialShare*h
	m.axilla, m.chest, m.crotch = axillaShare*h, chestShare*h, crotchShare*h
	m.hip, m.calf, m.ankle = buttockShare*h, calfShare*h, ankleShare*h
	m.waist = clamp(get("waist-floor-height"), m.hip+.05*h, m.chest-.05*h)
	if body["waist-floor-height"] == 0 && body["back-waist-length"] > 0 {
		m.waist = clamp(m.cervical-get("back-waist-length"), m.hip+.05*h, m.chest-.05*h)
	}
	m.knee = clamp(get("knee-floor-height"), m.calf+.03*h, m.crotch-.1*h)
	for key, aspect := range map[string]float64{
		"chest-girth": chestAspect, "waist-girth": waistAspect, "hip-girth": hipAspect, "neck-girth": neckAspect,
		"head-girth": headAspect, "upper-arm-girth": armAspect, "forearm-girth": forearmAspect, "wrist-girth": wristAspect,
		"thigh-girth": thighAspect, "knee-girth": kneeAspect, "calf-girth": calfAspect, "ankle-girth": ankleAspect,
		"hand-girth": 2.2,
	} {
		g := get(key)
		if key == "upper-arm-girth" || key == "forearm-girth" {
			g *= relaxed
		}
		m.girth[key], m.half[key] = g, halfWidth(g, aspect)
	}
	if body["head-breadth"] > 0 {
		m.half["head-girth"] = get("head-breadth") / 2
	}
	biacromial := get("biacromial-breadth") / 2
	m.shoulder = geom.Pt(biacromial, m.acromion)
	m.trunk = m.newTrunk(biacromial)
	m.newArm(get("shoulder-elbow-length"), get("elbow-wrist-length"))
	m.newLeg()
	return m
}

func clamp(v, low, high float64) float64 { return math.Max(low, math.Min(high, v)) }

// newTrunk runs from the crown down to the crotch.
func (m *model) newTrunk(biacromial float64) *tube {
	h := m.height
	head, neck := m.half["head-girth"], m.half["neck-girth"]
	chest, waist, hip := m.half["chest-girth"], m.half["waist-girth"], m.half["hip-girth"]
	axilla := math.Min(chest*1.0, biacromial*1.02)
	w := newCurve(
		0, head*.66, // the outline of the head is drawn separately
		.055*h, head,
		.100*h, head*.80,
		h-m.chin-.012*h, math.Min(neck*.94, head*.75),
		h-m.chin+.006*h, neck*.94,
		h-.852*h, neck*1.0,
		h-.845*h, neck*1.16,
		h-.838*h, neck*.35+biacromial*.36,
		h-.829*h, biacromial*.78,
		h-.815*h, biacromial*.98,
		h-m.axilla, axilla,
		h-m.chest, chest*.98,
		h-(m.chest+m.waist)/2, waist*.45+chest*.53,
		h-m.waist, waist,
		h-(m.waist+m.hip)/2, waist*.3+hip*.7,
		h-m.hip, hip,
		h-m.crotch, hip*.80, // the outline of the legs lies outside it
	)
	g := newCurve(
		.055*h, m.girth["head-girth"],
		h-m.chin-.02*h, m.girth["head-girth"]*.95,
		h-m.chin+.01*h, m.girth["neck-girth"],
		h-.85*h, m.girth["neck-girth"]*1.05,
		h-m.acromion, m.girth["chest-girth"],
		h-m.chest, m.girth["chest-girth"],
		h-m.waist, m.girth["waist-girth"],
		h-m.hip, m.girth["hip-girth"],
	)
	return &tube{x: newCurve(0, 0), y: newCurve(0, h, h, 0), left: w, right: w, girth: g, length: h - m.crotch + .01*h}
}

// newArm runs from the shoulder bone to the finger tips.
func (m *model) newArm(upper, lower float64) {
	h := m.height
	arm, fore, wrist := m.half["upper-arm-girth"], m.half["forearm-girth"], m.half["wrist-girth"]
	hand := m.half["hand-girth"]
	top := m.shoulder.Sub(geom.Pt(.012*h, 0))
	sin, cos := geom.SinCosDeg(upperArmDegree)
	elbow := top.Add(geom.Pt(sin, -cos).Mul(upper - .012*h)) // the measured length ends below the bent elbow's joint
	sin, cos = geom.SinCosDeg(forearmDegree)
	wristAt := elbow.Add(geom.Pt(sin, -cos).Mul(lower))
	tip := wristAt.Add(geom.Pt(sin*.5, -cos).Mul(handShare * h))
	a := top.Dist(elbow)
	b := a + elbow.Dist(wristAt)
	c := b + wristAt.Dist(tip)
	m.elbowAt, m.wristAt = a, b
	joint := .5*arm + .42*fore
	out := newCurve(
		0, arm*.8,
		a*.16, arm*1.02,
		a*.30, arm*1.06,
		a*.58, arm*.98,
		a*.82, joint*.98,
		a, joint*.94,
		a+(b-a)*.22, fore*1.04,
		a+(b-a)*.50, fore*.86,
		a+(b-a)*.85, wrist*1.02,
		b, wrist,
		b+(c-b)*.25, hand*.74,
		b+(c-b)*.45, hand*.78,
		b+(c-b)*.75, hand*.58,
		b+(c-b)*.94, hand*.30,
		c, hand*.10,
	)
	in := newCurve(
		0, arm*.8,
		a*.35, arm*.93,
		a*.60, arm*.97,
		a*.85, joint*.88,
		a, joint*.90,
		a+(b-a)*.22, fore*.98,
		a+(b-a)*.55, fore*.80,
		a+(b-a)*.85, wrist*1.02,
		b, wrist,
		b+(c-b)*.25, hand*.80,
		b+(c-b)*.40, hand*.76,
		b+(c-b)*.75, hand*.56,
		b+(c-b)*.94, hand*.32,
		c, hand*.10,
	)
	g := newCurve(
		0, m.girth["upper-arm-girth"],
		a*.6, m.girth["upper-arm-girth"],
		a*.95, 2*math.Pi*joint*.95,
		a+(b-a)*.22, m.girth["forearm-girth"],
		b-.05*(b-a), m.girth["wrist-girth"],
		b+.02*(b-a), m.girth["wrist-girth"],
		b+(c-b)*.4, m.girth["hand-girth"],
	)
	m.arm = &tube{
		x: newCurve(0, top.X, a, elbow.X, b, wristAt.X, c, tip.X),
		y: newCurve(0, top.Y, a, elbow.Y, b, wristAt.Y, c, tip.Y),
		// The arm is the body's left: outwards is to the picture's right.
		left: in, right: out, girth: g, length: c,
	}
}

// newLeg runs from seat height to the ankle; the foot is drawn separately.
func (m *model) newLeg() {
	h := m.height
	thigh, knee, calf, ankle := m.half["thigh-girth"], m.half["knee-girth"], m.half["calf-girth"], m.half["ankle-girth"]
	hip := m.half["hip-girth"]
	top := geom.Pt(hip*.52, m.hip)
	kneeX := .058*h + .15*(knee-.035*h)
	end := geom.Pt(.068*h, soleShare*h)
	s := func(y float64) float64 { return m.hip - y }
	m.kneeAt, m.calfAt, m.ankleAt = s(m.knee), s(m.calf), s(m.ankle)
	fold := s(m.crotch - .03*h)
	low := m.knee + .035*h // just above the knee
	out := newCurve(
		0, hip-top.X,
		s(m.crotch), math.Max(hip*.985-top.X, thigh*.90),
		s(m.crotch*.7+low*.3), thigh*.72+knee*.26,
		s(m.crotch*.35+low*.65), thigh*.38+knee*.62,
		s(low), knee*1.06,
		m.kneeAt, knee,
		s(m.knee-.03*h), knee*.62+calf*.33,
		m.calfAt+.01*h, calf*1.06,
		s((m.calf+m.ankle)/2), calf*.45+ankle*.54,
		m.ankleAt, ankle,
		s(soleShare*h), ankle*1.18,
	)
	in := newCurve(
		0, top.X-2,
		s(m.crotch), thigh*1.0,
		s(m.crotch*.7+low*.3), thigh*.80+knee*.14,
		s(m.crotch*.35+low*.65), thigh*.44+knee*.52,
		s(low), knee*1.02,
		m.kneeAt, knee,
		s(m.knee-.03*h), knee*.60+calf*.33,
		m.calfAt-.005*h, calf*.96,
		s((m.calf+m.ankle)/2-.01*h), calf*.40+ankle*.57,
		m.ankleAt, ankle,
		s(soleShare*h+.008*h), ankle*1.22,
	)
	g := newCurve(
		s(m.crotch), m.girth["thigh-girth"],
		fold, m.girth["thigh-girth"],
		m.kneeAt, m.girth["knee-girth"],
		m.calfAt, m.girth["calf-girth"],
		m.ankleAt, m.girth["ankle-girth"],
	)
	length := s(soleShare * h)
	m.leg = &tube{
		x: newCurve(0, top.X, s(m.crotch), top.X, fold+.03*h, top.X+(kneeX-top.X)*.3, m.kneeAt, kneeX, length, end.X),
		y: newCurve(0, m.hip, length, end.Y), left: in, right: out, girth: g, length: length,
	}
}
