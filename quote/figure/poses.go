package figure

import (
	"math"

	"benchbell/quote/draw"
	"benchbell/quote/geom"
)

// Poses that a standing figure cannot show, each in its own millimetres, y up. They carry no data; the shapes are by eye.

func path(xy ...float64) geom.Path {
	p := make(geom.Path, 0, len(xy)/2)
	for i := 0; i+1 < len(xy); i += 2 {
		p = append(p, geom.Pt(xy[i], xy[i+1]))
	}
	return p
}

// flatHand is a right hand from the back, fingers down; the wrist lies at y = 0.
func flatHand() part {
	line := smooth(path(
		-42, 200, -33, 60, -29, 20, -30, 0, -36, -30, -42, -68, -45, -105, -44, -136, -38, -146, -31, -138, -27, -104,
		-25, -99, -24, -104, -25, -160, -18, -174, -10, -163, -6, -108, -4, -102, -2, -108, -1, -172, 7, -186, 15, -172, 14, -108, 16, -102, 18, -106,
		22, -158, 30, -170, 36, -157, 37, -105, 41, -80, 48, -66, 60, -86, 72, -106, 82, -104, 82, -90, 70, -58, 54, -26, 36, -4, 30, 20, 34, 60, 44, 200))
	return part{area: geom.Ring(line), lines: []geom.Path{line}}
}

// bentArm is a left arm from the outside, elbow at a right angle, hand in a fist; the point of the shoulder is the origin.
func bentArm() part {
	line := smooth(path(
		-62, -60, -50, -8, -20, 14, 18, 12, 48, -14, 58, -60, 60, -100, 70, -145, 72, -185, 60, -230, 56, -258,
		80, -266, 120, -270, 180, -288, 236, -303, 256, -300, 276, -288, 318, -288, 338, -304, 340, -346, 322, -366, 270, -368, 240, -362,
		170, -376, 100, -388, 40, -382, -6, -374, -36, -362, -50, -338, -56, -290, -60, -230, -66, -160, -62, -60))
	return part{area: geom.Ring(line), lines: []geom.Path{line}}
}

// knuckles are the fingers of the bent arm's fist.
func knuckles() []geom.Path {
	return []geom.Path{
		path(300, -306, 338, -308), path(298, -326, 340, -327), path(296, -345, 336, -347),
		smooth(path(270, -292, 262, -312, 276, -326, 298, -322, 300, -306)),
	}
}

// sideHead is a head from the side, looking to the right; the chin lies at y = 0.
func sideHead() part {
	line := smooth(path(
		-86, -75, -70, -20, -70, 30, -80, 62, -96, 95, -101, 128, -92, 165, -62, 196, -15, 212, 35, 204, 72, 180, 90, 148, 95, 122, 97, 110, 92, 98,
		103, 78, 114, 62, 106, 55, 94, 53, 96, 45, 97, 38, 92, 33, 94, 26, 89, 18, 92, 6, 84, -3, 62, -5, 40, -12, 34, -40, 42, -75))
	return part{area: geom.Ring(line), lines: []geom.Path{line}}
}

func sideHeadLines() []geom.Path {
	return []geom.Path{
		smooth(path(-14, 108, 4, 118, 14, 104, 8, 84, -4, 66, -14, 74, -12, 96)),
		smooth(path(64, 96, 74, 100, 84, 98)), path(76, 36, 92, 35),
	}
}

// sideFoot is a foot from the side, the heel at x = 0 and the floor at y = 0.
func sideFoot() part {
	line := smooth(path(
		14, 230, 18, 150, 14, 100, 10, 66, 1, 38, 2, 12, 22, 1, 70, 4, 120, 9, 160, 3, 200, 0, 246, 1, 259, 12, 254, 26, 226, 38, 190, 52, 150, 78, 122, 110, 112, 150, 118, 230))
	return part{area: geom.Ring(line), lines: []geom.Path{line}}
}

// book is what a straight distance is measured between: a narrow box, hatched.
func (c *canvas) book(low, high geom.Point) {
	a, b := c.pen.place(low), c.pen.place(high)
	x0, x1 := math.Min(a.X, b.X), math.Max(a.X, b.X)
	y0, y1 := math.Min(a.Y, b.Y), math.Max(a.Y, b.Y)
	c.scene.Rect(geom.MM(x0), geom.MM(y0), geom.MM(x1-x0), geom.MM(y1-y0), draw.Style{
		Fill: draw.White, Stroke: ink, Width: .4, Hatch: &draw.Hatch{Angle: 45, Spacing: 1.8, Width: .2, Color: ink}})
}

// ground is the floor, hatched below; wall is a wall to the left of x.
func (c *canvas) ground(y float64) {
	p := c.pen.place(geom.Pt(0, y))
	c.scene.Rect(closeEdge, geom.MM(p.Y), window, 3, draw.Style{Fill: draw.White, Stroke: draw.None, Hatch: &draw.Hatch{Angle: 45, Spacing: 2, Width: .25, Color: ink}})
	c.scene.Line(geom.Pt(closeEdge, p.Y), geom.Pt(closeEdge+window, p.Y), draw.Stroke(ink, .6))
}

func (c *canvas) wall(x float64) {
	p := c.pen.place(geom.Pt(x, 0))
	c.scene.Rect(geom.MM(p.X-3), closeEdge, 3, window, draw.Style{Fill: draw.White, Stroke: draw.None, Hatch: &draw.Hatch{Angle: 45, Spacing: 2, Width: .25, Color: ink}})
	c.scene.Line(geom.Pt(p.X, closeEdge), geom.Pt(p.X, closeEdge+window), draw.Stroke(ink, .6))
}
