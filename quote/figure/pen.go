package figure

import (
	"benchbell/quote/draw"
	"benchbell/quote/geom"
)

// pen draws in a body's millimetres on a scene.
type pen struct {
	scene *draw.Scene
	place func(geom.Point) geom.Point
	line  geom.MM // width of the outline on the picture
}

func (p pen) ring(r geom.Ring) geom.Ring { return geom.Ring(p.path(geom.Path(r))) }

func (p pen) path(l geom.Path) geom.Path {
	out := make(geom.Path, len(l))
	for i, q := range l {
		out[i] = p.place(q)
	}
	return out
}

func (p pen) part(parts ...part) {
	for _, x := range parts {
		p.scene.Polygon(p.ring(x.area), draw.Fill(skin))
		for _, l := range x.lines {
			p.scene.Polyline(p.path(l), draw.Stroke(contour, p.line))
		}
	}
}

// body draws the whole bare figure.
func (p pen) body(m *model, back bool) {
	legs := m.legParts(back)
	for _, x := range legs {
		p.part(x)
		p.part(mirrorPart(x))
	}
	p.part(m.trunkParts()...)
	for _, l := range m.details(back) {
		p.scene.Polyline(p.path(l), draw.Stroke(faint, p.line*.6))
	}
	for _, x := range m.armParts() {
		p.part(x)
		p.part(mirrorPart(x))
	}
}
