package figure

import (
	"cmp"
	"math"
	"slices"

	"benchbell/quote/draw"
	"benchbell/quote/geom"
)

// Worn is one graded piece and where it sits on the body.
type Worn struct {
	Name      string  // of the set, for the label
	Region    string  // head neck shoulder upper-arm forearm hand chest waist hip thigh shin foot; carried if the whole set is carried; other regions are not drawn
	Side      string  // "left" or "right" limb; empty for the trunk, or for the right limb
	Facing    float64 // degrees about the body or limb: 0 front, 90 to the body's right, 180 back, -90 to its left
	Height    float64 // of the piece's middle: 0 bottom of the region … 1 top
	Layer     int     // 0 is next to the body
	Shape     geom.Shape
	Scores    []geom.Path
	Thickness geom.MM
}

// Picture of the dressed figure, in mm on paper.
const (
	dressedHeight = 172.0
	dressedTop    = 16.0 // the title is above it
	dressedFoot   = 15.0 // below the floor
	labelWidth    = 36.0
	scaleWidth    = 20.0
	figureGap     = 5.0 // between a figure and what is beside it
)

// Clearance of a piece from the body by group of regions: clothing and ease; common practice, no source.
const (
	limbClearance  = 5.0
	trunkClearance = 8.0
	headClearance  = 10.0
)

// Shading of pieces by layer, darkest next to the body so that an outer layer stands out; lightest where a face looks at
// the viewer.
var layers = []draw.Color{0x7f8b99, 0x97a3b0, 0xaeb8c3, 0xc5cdd6, 0xd9dfe5}

const edgeOfPiece draw.Color = 0x14181d

// bands is how many strips of equal angle the visible half of a piece is shaded in.
const bands = 7

// Dressed draws a plain body to its measurements (mm, keys of package measure) from front and back, wearing the graded
// pieces, each bent around its part of the body. What is not measured is drawn as usual for the height. The picture is to
// scale and shows a scale.
func Dressed(body map[string]geom.MM, worn []Worn, title string) draw.Scene {
	s := draw.Scene{Height: dressedHeight, Title: title}
	d := dresser{scene: &s, model: newModel(body)}
	d.fit(worn)
	front, back := d.layOut()
	s.Rect(0, 0, s.Width, s.Height, draw.Fill(draw.White))
	s.Label(geom.Pt(edge, 10), 5.4, draw.Bold, draw.Start, ink, draw.Short(draw.Bold, 5.4, s.Width-2*edge, title))
	d.floor()
	for _, v := range []*view{front, back} {
		d.paint(v)
	}
	s.Label(geom.Pt(front.centre, dressedHeight-dressedFoot+9), 4, draw.Bold, draw.Middle, ink, "front")
	s.Label(geom.Pt(back.centre, dressedHeight-dressedFoot+9), 4, draw.Bold, draw.Middle, ink, "back")
	d.scale()
	d.labels(front, back)
	return s
}

// dresser holds what the two views share.
type dresser struct {
	scene   *draw.Scene
	model   *model
	fitted  []fitted
	carried []carried
	perMM   float64 // picture mm per body mm
	between float64 // centre of the labels between the figures
}

// fitted is a piece with the surface it is bent around.
type fitted struct {
	Worn
	surface surface
	middle  geom.Point
	order   int // of painting: trunk, legs, arms …
}

// view is one of the two figures.
type view struct {
	back    bool
	centre  float64
	pen     pen
	anchors map[string]*anchor
}

// anchor is the place of a set for its label: the middle of its largest visible piece.
type anchor struct {
	at   geom.Point
	area float64
}

// layOut places the two figures so that everything they carry has room, and sizes the picture.
func (d *dresser) layOut() (front, back *view) {
	d.perMM = (dressedHeight - dressedTop - dressedFoot - 6) / d.model.height
	arm, _ := d.hand()
	arm = d.perMM*arm + figureGap
	x := labelWidth + d.perMM*d.reach(0) + figureGap // the body's right
	front = d.view(false, x)
	x += d.perMM*d.reach(1) + figureGap
	d.between = x + labelWidth/2
	x += labelWidth + arm
	back = d.view(true, x)
	d.scene.Width = geom.MM(x + arm + scaleWidth)
	return front, back
}

func (d *dresser) view(back bool, centre float64) *view {
	v := &view{back: back, centre: centre, anchors: map[string]*anchor{}}
	sign := 1.0
	if back {
		sign = -1
	}
	v.pen = pen{scene: d.scene, line: .3, place: func(p geom.Point) geom.Point {
		return geom.Pt(v.centre+sign*p.X*d.perMM, dressedHeight-dressedFoot-p.Y*d.perMM)
	}}
	return v
}

// Groups in painting order; each is parts of the body and the pieces on them.
const (
	onLegs = iota
	onHips
	onTrunk // chest and neck: over the arms, which come out behind a chest plate
	onHead
	onArms
	onShoulders
)

// paint draws body and pieces from back to front.
func (d *dresser) paint(v *view) {
	m := d.model
	p := v.pen
	both := func(parts ...part) {
		for _, x := range parts {
			p.part(x)
			p.part(mirrorPart(x))
		}
	}
	both(m.legParts(v.back)...)
	trunk := m.trunkParts()
	p.part(trunk...)
	for _, l := range m.details(v.back) {
		p.scene.Polyline(p.path(l), draw.Stroke(faint, p.line*.6))
	}
	d.pieces(v, onLegs)
	d.pieces(v, onHips)
	both(m.armParts()...)
	for _, order := range []int{onTrunk, onHead, onArms, onShoulders} {
		d.pieces(v, order)
	}
	if !v.back {
		d.hang(v)
	}
}

// fit finds the surface of each piece; pieces on the same stretch of the body lie on top of those of lower layers.
func (d *dresser) fit(worn []Worn) {
	type stretch struct{ region, side string }
	thick := map[stretch]map[int]float64{} // the thickest piece of each layer
	for _, w := range worn {
		at := stretch{w.Region, w.Side}
		if thick[at] == nil {
			thick[at] = map[int]float64{}
		}
		if t := float64(w.Thickness); t > 0 && t < 200 {
			thick[at][w.Layer] = math.Max(thick[at][w.Layer], t)
		}
	}
	var held []Worn
	for _, w := range worn {
		if !sound(w) {
			continue
		}
		if w.Region == "carried" {
			// A piece of a worn set marked as carried stands edge-on to the body, such as a crest: nothing of it shows.
			if !slices.ContainsFunc(worn, func(o Worn) bool { return o.Name == w.Name && o.Region != w.Region }) {
				held = append(held, w)
			}
			continue
		}
		f, ok := d.model.surface(w)
		if !ok {
			continue
		}
		at := stretch{w.Region, w.Side}
		keys := make([]int, 0, len(thick[at]))
		for l := range thick[at] {
			keys = append(keys, l)
		}
		slices.Sort(keys)
		for _, l := range keys {
			if l <= w.Layer {
				f.surface.out += thick[at][l]
			}
		}
		b := w.Shape.Bounds()
		f.Worn, f.middle = w, b.Centre()
		d.fitted = append(d.fitted, f)
	}
	d.carried = carry(held)
	slices.SortStableFunc(d.fitted, func(a, b fitted) int {
		return cmp.Or(cmp.Compare(a.order, b.order), cmp.Compare(a.Layer, b.Layer))
	})
}

// sound reports whether a piece can be drawn at all.
func sound(w Worn) bool {
	const most = 5000 // mm; nothing worn is larger
	if len(w.Shape.Outer) < 3 || math.IsNaN(w.Facing+w.Height) || math.IsInf(w.Facing+w.Height, 0) {
		return false
	}
	for _, r := range append([]geom.Ring{w.Shape.Outer}, w.Shape.Holes...) {
		for _, p := range r {
			if !p.Finite() || math.Abs(p.X) > most || math.Abs(p.Y) > most {
				return false
			}
		}
	}
	for _, l := range w.Scores {
		for _, p := range l {
			if !p.Finite() || math.Abs(p.X) > most || math.Abs(p.Y) > most {
				return false
			}
		}
	}
	return true
}

// pieces paints one group's pieces on a view.
func (d *dresser) pieces(v *view, order int) {
	for _, f := range d.fitted {
		if f.order == order {
			d.piece(v, f)
		}
	}
}

func (d *dresser) piece(v *view, f fitted) {
	from, to := -math.Pi/2, math.Pi/2
	if v.back {
		from, to = math.Pi/2, 3*math.Pi/2
	}
	rings := [][]bent{f.surface.ring(f.Shape.Outer, f.middle)}
	for _, h := range f.Shape.Holes {
		rings = append(rings, f.surface.ring(h, f.middle))
	}
	for k := -2.0; k <= 2; k++ {
		a, b := from+2*math.Pi*k, to+2*math.Pi*k
		if !slices.ContainsFunc(rings[0], func(p bent) bool { return p.u > a+sliver && p.u < b-sliver }) {
			continue
		}
		whole, ok := facing(v, f, rings, a, b)
		if !ok {
			continue
		}
		tone := layers[min(max(f.Layer, 0), len(layers)-1)]
		middle := math.Cos(shaded(rings[0], a, b) - (a+b)/2 + lightFrom)
		d.scene.Shape(whole, draw.Fill(shade(tone, .72+.28*middle)))
		for i := range bands {
			if whole.Outer.Area() < plain {
				break
			}
			u0, u1 := a+(b-a)*float64(i)/bands, a+(b-a)*float64(i+1)/bands
			if sh, ok := facing(v, f, rings, u0, u1); ok {
				bright := math.Cos((u0+u1)/2 - (a+b)/2 + lightFrom)
				d.scene.Shape(sh, draw.Fill(shade(tone, .72+.28*bright)))
			}
		}
		for _, l := range f.Scores {
			for _, run := range clipPath(f.surface.path(l, f.middle), a, b) {
				d.scene.Polyline(drawn(v, f, run), draw.Stroke(edgeOfPiece, .12))
			}
		}
		d.scene.Shape(whole, draw.Style{Fill: draw.None, Stroke: edgeOfPiece, Width: .3})
		v.see(f.Name, whole)
	}
}

// plain is the area on paper below which a piece has a single shade.
const plain geom.MM2 = 6

// shaded is the direction that the middle of the visible part of a piece faces.
func shaded(r []bent, from, to float64) float64 {
	sum, n := 0.0, 0.0
	for _, p := range r {
		if p.u >= from && p.u <= to {
			sum, n = sum+p.u, n+1
		}
	}
	if n == 0 {
		return (from + to) / 2
	}
	return sum / n
}

// sliver is the least angle of a piece that must come around the side for it to be drawn there: anything less would be just
// a black line.
const sliver = .3 // radians

// lightFrom is how far to the picture's left the light comes from, as an angle.
const lightFrom = .45

// facing is the part of a piece between two angles, on the picture.
func facing(v *view, f fitted, rings [][]bent, from, to float64) (geom.Shape, bool) {
	outer := clip(rings[0], from, to)
	if len(outer) < 3 {
		return geom.Shape{}, false
	}
	sh := geom.Shape{Outer: geom.Ring(drawn(v, f, outer))}
	for _, h := range rings[1:] {
		if c := geom.Ring(drawn(v, f, clip(h, from, to))); c.Area() >= leastHole {
			sh.Holes = append(sh.Holes, c)
		}
	}
	return sh, true
}

func drawn(v *view, f fitted, run []bent) geom.Path {
	out := make(geom.Path, len(run))
	for i, b := range run {
		out[i] = v.pen.place(f.surface.place(b))
	}
	return sparse(out)
}

// What looks the same on paper, mm: two points, and a point and the line past it.
const (
	finest = .14
	level  = .012
)

// leastHole is the area on paper below which a hole is invisible.
const leastHole geom.MM2 = .3

// sparse drops points whose absence is invisible.
func sparse(p geom.Path) geom.Path {
	var out geom.Path
	for i, q := range p {
		if i > 0 && i < len(p)-1 {
			last, next := out[len(out)-1], p[i+1]
			t := next.Sub(last).Unit()
			if q.Dist(last) < finest || math.Abs(q.Sub(last).Cross(t)) < level && q.Sub(last).Dot(t) > 0 && next.Sub(q).Dot(t) > 0 {
				continue
			}
		}
		out = append(out, q)
	}
	return out
}

// shade darkens a tone.
func shade(c draw.Color, k float64) draw.Color {
	r, g, b := c.RGB()
	f := func(x uint8) draw.Color { return draw.Color(math.Max(0, math.Min(255, math.Round(float64(x)*k)))) }
	return f(r)<<16 | f(g)<<8 | f(b)
}

// see remembers the place of a set's largest piece.
func (v *view) see(name string, sh geom.Shape) {
	area := float64(sh.Outer.Area())
	if a := v.anchors[name]; a == nil || area > a.area {
		v.anchors[name] = &anchor{at: sh.Outer.Bounds().Centre(), area: area}
	}
}
