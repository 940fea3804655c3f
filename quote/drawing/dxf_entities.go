package drawing

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"benchbell/quote/geom"
)

// Heights (z) are ignored everywhere: the pattern is the plan view.

func (r *dxfDrawer) line(f *fields, at dxfPlace) error {
	return r.add(f, at, geom.Path{at.m.apply(f.point(10)), at.m.apply(f.point(11))}, false, nil)
}

// arc draws an ARC, and a CIRCLE as an arc of a full turn.
func (r *dxfDrawer) arc(f *fields, at dxfPlace) error {
	own, ok := r.plane(f)
	centre, radius := f.point(10), f.number(40, 0)
	start, sweep := 0.0, 2*math.Pi
	if f.entity.kind == "ARC" {
		from, to := f.number(50, 0), f.number(51, 360)
		start, sweep = radians(from), turnTo(radians(from), radians(to))
	}
	switch {
	case f.err != nil:
		return f.err
	case radius <= 0:
		return fmt.Errorf("its radius is %g; it must be above zero", radius)
	case !ok:
		return nil
	}
	return r.addEllipse(f, at, axisEllipse(centre, radius, radius, 0).under(at.m.mul(own)), start, sweep)
}

func radians(degrees float64) float64 { return degrees * math.Pi / 180 }

// turnTo is the counter-clockwise way from one angle to another: more than zero, at most a full turn.
func turnTo(from, to float64) float64 {
	s := math.Mod(to-from, 2*math.Pi)
	if s < 0 {
		s += 2 * math.Pi
	}
	if s < 1e-9 || s > 2*math.Pi-1e-9 { // written with few digits, a full turn misses itself slightly
		return 2 * math.Pi
	}
	return s
}

// addEllipse adds an ellipse or part of one, given in millimetres.
func (r *dxfDrawer) addEllipse(f *fields, at dxfPlace, e ellipse, start, sweep float64) error {
	if sweep == 2*math.Pi {
		return r.add(f, at, e.flatten(), true, e.circle())
	}
	return r.add(f, at, e.flattenArc(geom.Path{e.at(start)}, start, sweep), false, nil)
}

// ellipse draws an ELLIPSE: centre, end of the major axis relative to it, ratio of the minor axis, parameters of its ends.
func (r *dxfDrawer) ellipse(f *fields, at dxfPlace) error {
	centre, major, ratio := f.point(10), f.point(11), f.number(40, 1)
	start, end := f.number(41, 0), f.number(42, 2*math.Pi)
	own, ok := r.plane(f)
	if math.Abs(f.number(31, 0)) > mirrorTilt*major.Norm() && ok {
		r.skip("ELLIPSE", " in a tilted plane")
		ok = false
	}
	switch {
	case f.err != nil:
		return f.err
	case ratio <= 0 || major.Norm() == 0:
		return fmt.Errorf("its axes are %g and %g long; both must be above zero", major.Norm(), ratio*major.Norm())
	case !ok:
		return nil
	}
	minor := major.Perp().Mul(ratio)
	if own.a < 0 { // its points are not in its own plane, but its direction is as seen from behind
		minor = minor.Mul(-1)
	}
	return r.addEllipse(f, at, ellipse{centre, major, minor}.under(at.m), start, turnTo(start, end))
}

// bulged is a vertex and the bulge of the segment after it: the tangent of a quarter of the arc's angle, positive if the
// arc runs counter-clockwise.
type bulged struct {
	geom.Point
	bulge float64
}

func (r *dxfDrawer) lwpolyline(f *fields, at dxfPlace) error {
	own, ok := r.plane(f)
	var vs []bulged
	for _, p := range f.entity.pairs {
		switch {
		case p.code == 10:
			vs = append(vs, bulged{Point: geom.Pt(f.parse(10, p.value), 0)})
		case len(vs) > 0 && p.code == 20:
			vs[len(vs)-1].Y = f.parse(20, p.value)
		case len(vs) > 0 && p.code == 42:
			vs[len(vs)-1].bulge = f.parse(42, p.value)
		}
	}
	if !ok {
		return f.err
	}
	return r.addBulged(f, at, own, vs, f.integer(70, 0)&1 != 0)
}

// Flags of POLYLINE (the first four) and VERTEX.
const (
	polyClosed    = 1
	polySplineFit = 4
	poly3D        = 8
	polyMesh      = 16 | 64
	vertexFrame   = 16 // a control point of a spline fit, not on the curve
)

func (r *dxfDrawer) polyline(f *fields, at dxfPlace) error {
	flags := f.integer(70, 0)
	if flags&polyMesh != 0 {
		r.skip("POLYLINE", " that is a mesh")
		return f.err
	}
	own := identity
	if flags&poly3D == 0 {
		var ok bool
		if own, ok = r.plane(f); !ok {
			return f.err
		}
	}
	var vs []bulged
	for i := range f.entity.children {
		v := fields{entity: &f.entity.children[i]}
		if v.entity.kind != "VERTEX" {
			continue
		}
		b := bulged{v.point(10), v.number(42, 0)}
		if v.integer(70, 0)&vertexFrame == 0 || flags&(polySplineFit|poly3D) == 0 {
			vs = append(vs, b)
		}
		if v.err != nil {
			return fmt.Errorf("vertex %d: %w", i+1, v.err)
		}
	}
	return r.addBulged(f, at, own, vs, flags&polyClosed != 0)
}

// addBulged adds a polyline of straight and bulged segments; own maps its plane.
func (r *dxfDrawer) addBulged(f *fields, at dxfPlace, own affine, vs []bulged, closed bool) error {
	if f.err != nil {
		return f.err
	}
	if len(vs) < 2 {
		return nil
	}
	m := at.m.mul(own)
	if a, b := vs[0], vs[1]; closed && len(vs) == 2 && math.Abs(a.bulge) == 1 && a.bulge == b.bulge && a.Dist(b.Point) > 0 { // two half circles
		radius := a.Dist(b.Point) / 2
		return r.addEllipse(f, at, axisEllipse(a.Lerp(b.Point, 0.5), radius, radius, 0).under(m), 0, 2*math.Pi)
	}
	points := geom.Path{m.apply(vs[0].Point)}
	for i, v := range vs {
		if i == len(vs)-1 && !closed {
			break
		}
		if points = addBulge(points, m, v, vs[(i+1)%len(vs)].Point); r.points+len(points) > maxPoints {
			break // add refuses it
		}
	}
	return r.add(f, at, points, closed, nil)
}

// addBulge appends the segment from v to q, q included.
func addBulge(to geom.Path, m affine, v bulged, q geom.Point) geom.Path {
	chord, b := q.Sub(v.Point), v.bulge
	end := m.apply(q)
	if rise := math.Abs(b) * chord.Norm() / 2 * m.stretch(); b == 0 || !(rise > float64(Flatness)/10) {
		return append(to, end) // flatter than it would be drawn
	}
	centre := v.Lerp(q, 0.5).Add(chord.Perp().Mul((1 - b*b) / (4 * b)))
	spoke := v.Sub(centre)
	arc := ellipse{centre, spoke, spoke.Perp()}.under(m)
	to = arc.flattenArc(to, 0, 4*math.Atan(b))
	to[len(to)-1] = end
	return to
}

// maxArray bounds the rows and columns of one insertion before they are multiplied.
const maxArray = maxNodes

// insert draws a block: about its base point, scaled, turned and moved, for each row and column.
func (r *dxfDrawer) insert(f *fields, at dxfPlace) error {
	name := f.text(2)
	b, ok := r.file.blocks[strings.ToUpper(name)]
	own, flat := r.plane(f)
	to, sx, sy, turn := f.point(10), f.number(41, 1), f.number(42, 1), f.number(50, 0)
	cols, rows := max(1, f.integer(70, 1)), max(1, f.integer(71, 1))
	dx, dy := f.number(44, 0), f.number(45, 0)
	switch {
	case f.err != nil:
		return f.err
	case !ok:
		r.note(fmt.Sprintf("%s inserts block %q, which is not in the file; it is skipped", f.entity.at(), clip(name)))
		return nil
	case slices.Contains(at.blocks, strings.ToUpper(name)):
		return fmt.Errorf("block %q inserts itself; take the insertion out of the block", clip(name))
	case len(at.blocks) >= maxDepth:
		return fmt.Errorf("blocks are nested more than %d deep; explode some", maxDepth)
	case sx == 0 || sy == 0:
		return errors.New("its scale is zero, which would leave nothing of the block; change the scale")
	case cols > maxArray || rows > maxArray || cols*rows > maxArray:
		return fmt.Errorf("it repeats its block in %d columns and %d rows; the limit is %d pieces", cols, rows, maxArray)
	case !flat:
		return nil
	}
	inner := at
	var layer dxfLayer
	inner.layer, layer = r.layer(f, at)
	inner.colour, inner.dashed = f.colour(layer, at), r.dashed(f, layer, at)
	inner.hidden = at.hidden || layer.frozen || f.integer(60, 0) == 1
	inner.blocks = append(slices.Clone(at.blocks), strings.ToUpper(name))
	place := at.m.mul(own).mul(translation(to.X, to.Y)).mul(turning(turn))
	id := f.text(5)
	if id == "" {
		id = f.entity.at()
	}
	for i := range rows * cols {
		g := Group{ID: id, Label: b.name}
		if rows*cols > 1 {
			g.ID = fmt.Sprintf("%s/%d", id, i+1)
		}
		if strings.HasPrefix(b.name, "*") { // named by the program rather than the maker
			g.Label = ""
		}
		inner.groups = append(slices.Clone(at.groups), g)
		inner.m = place.mul(translation(float64(i%cols)*dx, float64(i/cols)*dy)).mul(scaling(sx, sy)).mul(translation(-b.base.X, -b.base.Y))
		for k := range b.entities {
			if err := r.draw(&b.entities[k], inner); err != nil {
				return err
			}
		}
		if r.nodes++; r.nodes > maxNodes {
			return fmt.Errorf("with the blocks it inserts the drawing has more than %d entities; insert fewer", maxNodes)
		}
	}
	for i := range f.entity.children {
		a := fields{entity: &f.entity.children[i]}
		if r.text(&a, at); a.err != nil {
			return a.err
		}
	}
	return f.err
}
