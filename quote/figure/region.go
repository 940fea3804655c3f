package figure

import "math"

// surface finds what a piece is bent around; an unknown region has no surface.
func (m *model) surface(w Worn) (fitted, bool) {
	h := m.height
	arm, leg := m.arm, m.leg
	if w.Side != "left" {
		arm, leg = arm.mirrored(), leg.mirrored()
	}
	// The body's right is to the picture's left.
	f := fitted{surface: surface{slim: 1, turn: -w.Facing * math.Pi / 180, out: limbClearance}}
	s := &f.surface
	// along sets the middle from the region's bottom and top as places along a tube.
	along := func(t *tube, bottom, top float64, order int) {
		s.tube, f.order = t, order
		s.mid = bottom + (top-bottom)*math.Max(-.5, math.Min(1.5, w.Height))
	}
	onTrunkAt := func(bottom, top float64, order int) {
		along(m.trunk, h-bottom, h-top, order)
		s.out = trunkClearance
	}
	armLength := m.elbowAt
	switch w.Region {
	case "head":
		s.out = headClearance
		s.equator = .062 * h
		s.radius = m.half["head-girth"]
		// The region is measured along the head: from chin to equator, then over the dome to the crown.
		along(m.trunk, h-m.chin, s.equator-s.radius*math.Pi/2, onHead)
		s.least = m.half["head-girth"] * .96
	case "neck":
		along(m.trunk, h-.835*h, h-.875*h, onHead)
		s.least = m.half["neck-girth"]
	case "chest":
		onTrunkAt(m.waist, m.acromion, onTrunk)
		s.least = math.Min(m.half["chest-girth"], m.shoulder.X) * .98
		if y := m.waist + (m.acromion-m.waist)*w.Height; y < m.chest { // it may narrow towards the waist, not towards the neck
			s.least = m.half["waist-girth"] * .9
		}
	case "waist":
		onTrunkAt(m.waist-.05*h, m.waist+.04*h, onHips)
	case "hip":
		onTrunkAt(m.crotch, m.waist-.03*h, onHips)
		s.least = m.half["hip-girth"] * .9
	case "thigh":
		along(leg, m.kneeAt-.03*h, m.hip-m.crotch, onLegs)
	case "shin":
		along(leg, m.ankleAt, m.kneeAt+.015*h, onLegs)
	case "foot":
		along(leg, leg.length+.03*h, leg.length-.01*h, onLegs)
		s.slim = .35
	case "shoulder":
		s.radius = m.half["upper-arm-girth"] * 1.15
		s.equator = .14 * armLength
		along(arm, .42*armLength, s.equator-s.radius*math.Pi/2, onShoulders)
		s.out = trunkClearance
	case "upper-arm":
		along(arm, .92*armLength, .22*armLength, onArms)
	case "forearm":
		along(arm, m.wristAt, armLength+.04*(m.wristAt-armLength), onArms)
	case "hand":
		along(arm, arm.length, m.wristAt, onArms)
	default:
		return f, false
	}
	return f, true
}
