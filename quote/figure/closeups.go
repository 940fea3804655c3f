package figure

import "benchbell/quote/geom"

// at is where a text stands, relative to what it names, in mm on the picture.
var at = geom.Pt

// across are the ends of a tape around a tube.
func across(t *tube, s float64) (a, b geom.Point) {
	p, n := t.point(s), t.normal(s)
	return p.Sub(n.Mul(t.left.at(s))), p.Add(n.Mul(t.right.at(s)))
}

// beside is a line along the outer side of a tube, off mm away from it.
func beside(t *tube, from, to, off float64) geom.Path {
	_, r := t.sides(from, to)
	for i, s := range r {
		share := float64(i) / float64(len(r)-1)
		r[i] = s.Add(t.normal(from + (to-from)*share).Mul(off))
	}
	return r
}

// closeUps draw the picture of each measurement.
var closeUps = map[string]func(*canvas){
	"wrist-girth": func(c *canvas) {
		c.pose(geom.Pt(8, 10), 200, flatHand())
		c.round(geom.Pt(-29, 8), geom.Pt(29, 8))
		c.mark(geom.Pt(-24, 14), "wrist bone", at(-20, -16))
		c.mark(geom.Pt(24, 14), "wrist bone", at(24, -16))
	},
	"hand-girth": func(c *canvas) {
		c.pose(geom.Pt(8, -62), 250, flatHand())
		c.round(geom.Pt(-43, -80), geom.Pt(41, -78))
		c.mark(geom.Pt(-10, -80), "knuckles", at(-26, -24))
		c.mark(geom.Pt(74, -94), "without the thumb", at(0, 14))
	},
	"forearm-girth": func(c *canvas) {
		c.pose(geom.Pt(140, -220), 440, bentArm(), knuckles()...)
		c.round(geom.Pt(95, -267), geom.Pt(95, -387))
		c.say(geom.Pt(100, -225), "fullest part")
		c.mark(geom.Pt(310, -340), "fist closed", at(-8, 18))
		c.mark(geom.Pt(-40, -352), "right angle", at(10, 14))
	},
	"upper-arm-girth": func(c *canvas) {
		c.pose(geom.Pt(140, -190), 440, bentArm(), knuckles()...)
		c.round(geom.Pt(-65, -165), geom.Pt(72, -165))
		c.say(geom.Pt(180, -165), "fullest part")
		c.mark(geom.Pt(310, -340), "fist closed, arm tensed", at(-14, 18))
	},
	"shoulder-elbow-length": func(c *canvas) {
		c.pose(geom.Pt(110, -185), 520, bentArm(), knuckles()...)
		c.scene.Line(c.pen.place(geom.Pt(-100, -378)), c.pen.place(geom.Pt(60, -378)), c.dashed())
		c.tape(path(-4, 6, -4, -376), "point of the shoulder", "underside of the elbow", at(34, -3), at(30, 12))
	},
	"elbow-wrist-length": func(c *canvas) {
		m := c.model
		c.body(.225, .545, .32, false)
		c.tape(beside(m.arm, m.elbowAt-5, m.wristAt, 12), "outside of the elbow", "wrist bone", at(-30, -13), at(14, 16))
		c.say(geom.Pt(m.arm.point(m.elbowAt).X*.35, m.waist), "arm hanging")
	},
	"arm-length": func(c *canvas) {
		m := c.model
		c.body(.20, .655, .46, false)
		c.tape(beside(m.arm, .13*m.elbowAt, m.wristAt, 12), "point of the shoulder", "wrist bone", at(-26, -12), at(-26, 10))
		c.say(geom.Pt(.02*m.height, m.waist), "arm hanging")
	},
	"biacromial-breadth": func(c *canvas) {
		m := c.model
		c.body(0, .81, .40, true)
		for _, x := range []float64{-m.shoulder.X, m.shoulder.X} {
			c.scene.Line(c.pen.place(geom.Pt(x, m.acromion)), c.pen.place(geom.Pt(x, m.acromion+.038*m.height)), c.dashed())
		}
		y := m.acromion + .036*m.height
		c.straight(geom.Pt(-m.shoulder.X, y), geom.Pt(m.shoulder.X, y), "", "", at(0, 0), at(0, 0))
		c.mark(geom.Pt(-m.shoulder.X*.98, m.acromion-.002*m.height), "point of the shoulder", at(12, 22))
		c.mark(geom.Pt(m.shoulder.X*.98, m.acromion-.002*m.height), "point of the shoulder", at(-12, 30))
		c.say(geom.Pt(0, m.acromion+.062*m.height), "straight, not over the back")
	},
	"chest-girth": func(c *canvas) {
		c.body(0, .74, .44, false)
		c.round(across(c.model.trunk, c.model.height-c.model.chest))
		c.say(geom.Pt(0, .60*c.model.height), "level, under the arms")
		c.mark(geom.Pt(0, c.model.chest-.018*c.model.height), "fullest part of the chest", at(0, -20))
	},
	"waist-girth": func(c *canvas) {
		m := c.model
		c.body(0, .62, .44, false)
		c.round(across(m.trunk, m.height-m.waist))
		c.mark(geom.Pt(m.half["waist-girth"]*.62, m.waist+.055*m.height), "lowest rib", at(-26, -12))
		c.mark(geom.Pt(m.half["waist-girth"]*.88, m.waist-.052*m.height), "top of the hip bone", at(-30, 11))
	},
	"hip-girth": func(c *canvas) {
		m := c.model
		c.body(0, .52, .44, true)
		c.round(across(m.trunk, m.height-m.hip-.004*m.height))
		c.say(geom.Pt(0, m.hip+.10*m.height), "level, fullest part of the seat")
		c.say(geom.Pt(0, m.hip-.17*m.height), "feet together")
	},
	"neck-girth": func(c *canvas) {
		m := c.model
		c.body(0, .865, .25, false)
		c.round(across(m.trunk, m.height-.857*m.height))
		c.mark(geom.Pt(0, .862*m.height), "larynx", at(28, -5))
		c.say(geom.Pt(0, .80*m.height), "room for one finger")
	},
	"head-girth": func(c *canvas) {
		c.pose(geom.Pt(5, 85), 330, sideHead(), sideHeadLines()...)
		c.round(geom.Pt(-101, 124), geom.Pt(94, 126))
		c.mark(geom.Pt(92, 103), "just above the brows", at(-12, 30))
		c.mark(geom.Pt(-98, 118), "bump at the back", at(4, 26))
	},
	"head-breadth": func(c *canvas) {
		m := c.model
		c.body(0, .93, .25, false)
		w, y := m.half["head-girth"], .945*m.height
		for _, side := range []float64{-1, 1} {
			c.book(geom.Pt(side*w, y-55), geom.Pt(side*(w+16), y+75))
			c.scene.Line(c.pen.place(geom.Pt(side*w, y+75)), c.pen.place(geom.Pt(side*w, 1.025*m.height)), c.dashed())
		}
		c.straight(geom.Pt(-w, 1.02*m.height), geom.Pt(w, 1.02*m.height), "", "", at(0, 0), at(0, 0))
		c.mark(geom.Pt(-w-8, y-20), "book", at(-12, 12))
		c.mark(geom.Pt(w+8, y-20), "book", at(12, 12))
		c.say(geom.Pt(0, 1.038*m.height), "straight between the books")
	},
	"head-length": func(c *canvas) {
		c.pose(geom.Pt(0, 95), 340, sideHead(), sideHeadLines()...)
		c.book(geom.Pt(97, 96), geom.Pt(112, 235))
		c.book(geom.Pt(-116, 60), geom.Pt(-101, 235))
		c.straight(geom.Pt(-101, 228), geom.Pt(97, 228), "", "", at(0, 0), at(0, 0))
		c.mark(geom.Pt(97, 106), "between the brows", at(-2, 46))
		c.mark(geom.Pt(-101, 125), "furthest point at the back", at(12, 26))
		c.say(geom.Pt(0, 248), "straight between two books")
	},
	"stature": func(c *canvas) {
		m := c.model
		h := m.height
		c.body(.03, .5, 1.12, false)
		c.ground(0)
		c.book(geom.Pt(-.16*h, h), geom.Pt(.12*h, h*1.015))
		c.straight(geom.Pt(.34*h, 0), geom.Pt(.34*h, h), "floor", "top of the head", at(2, -10), at(0, 12))
		c.scene.Line(c.pen.place(geom.Pt(.12*h, h)), c.pen.place(geom.Pt(.36*h, h)), c.dashed())
		c.say(geom.Pt(-.34*h, .95*h), "look ahead")
		c.say(geom.Pt(-.36*h, .06*h), "barefoot")
	},
	"back-waist-length": func(c *canvas) {
		m := c.model
		c.body(0, .73, .38, true)
		c.waistLine()
		c.tape(path(0, m.cervical-.006*m.height, 0, m.waist), "knob of the neck", "waist", at(-28, 5), at(26, 10))
	},
	"front-waist-length": func(c *canvas) {
		m := c.model
		c.body(0, .72, .38, false)
		c.waistLine()
		c.tape(path(0, m.pit, 0, m.waist), "pit of the neck", "waist", at(-28, 10), at(26, 10))
	},
	"thigh-girth": func(c *canvas) {
		m := c.model
		c.body(.055, .42, .32, true)
		c.round(across(m.leg, m.hip-m.crotch+.028*m.height))
		c.mark(geom.Pt(m.half["hip-girth"]*.5, m.crotch-.010*m.height), "fold of the seat", at(-24, -18))
		c.say(geom.Pt(.055*m.height, .32*m.height), "feet a little apart")
	},
	"knee-girth": func(c *canvas) {
		m := c.model
		c.body(.062, .275, .26, false)
		c.round(across(m.leg, m.kneeAt))
		c.mark(m.leg.point(m.kneeAt).Add(geom.Pt(0, 22)), "kneecap", at(34, -18))
		c.say(geom.Pt(.062*m.height, .17*m.height), "middle of the kneecap")
	},
	"calf-girth": func(c *canvas) {
		m := c.model
		c.body(.065, .20, .28, true)
		c.round(across(m.leg, m.calfAt))
		c.say(geom.Pt(.065*m.height, m.calf-.07*m.height), "fullest part of the calf")
	},
	"ankle-girth": func(c *canvas) {
		m := c.model
		c.body(.065, .085, .20, false)
		c.round(across(m.leg, m.ankleAt))
		p := m.leg.point(m.leg.length - 6)
		c.mark(p.Add(geom.Pt(m.half["ankle-girth"]*.9, 0)), "ankle bone", at(24, 6))
		c.say(geom.Pt(.065*m.height, m.ankle+.045*m.height), "thinnest part")
	},
	"knee-floor-height": func(c *canvas) {
		m := c.model
		c.body(.07, .16, .38, false)
		c.ground(0)
		knee := m.leg.point(m.kneeAt)
		c.scene.Line(c.pen.place(knee), c.pen.place(geom.Pt(.19*m.height, m.knee)), c.dashed())
		c.straight(geom.Pt(.18*m.height, 0), geom.Pt(.18*m.height, m.knee), "floor", "", at(0, -12), at(0, 0))
		c.mark(knee, "middle of the kneecap", at(20, -14))
	},
	"waist-floor-height": func(c *canvas) {
		m := c.model
		c.body(.03, .31, .74, false)
		c.ground(0)
		c.waistLine()
		c.scene.Line(c.pen.place(geom.Pt(m.half["waist-girth"], m.waist)), c.pen.place(geom.Pt(.34*m.height, m.waist)), c.dashed())
		c.straight(geom.Pt(.33*m.height, 0), geom.Pt(.33*m.height, m.waist), "floor", "waist", at(0, -12), at(-4, -8))
		c.say(geom.Pt(-.24*m.height, .03*m.height), "barefoot")
	},
	"foot-length": func(c *canvas) {
		c.pose(geom.Pt(120, 90), 360, sideFoot())
		c.ground(0)
		c.wall(0)
		for _, x := range []float64{0, 260} {
			c.scene.Line(c.pen.place(geom.Pt(x, 10)), c.pen.place(geom.Pt(x, -46)), c.dashed())
		}
		c.straight(geom.Pt(0, -40), geom.Pt(260, -40), "", "", at(0, 0), at(0, 0))
		c.mark(geom.Pt(3, 30), "heel at the wall", at(26, -30))
		c.mark(geom.Pt(259, 12), "longest toe", at(-4, -26))
		c.say(geom.Pt(130, -62), "on a sheet of paper")
	},
}
