package pattern

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"benchbell/quote/geom"
)

// Bounds on a drawing; a generous hand-made set stays ten times below each.
const (
	maxFileBytes = 1 << 20
	maxNodes     = 5000
	maxDepth     = 32
	maxElements  = 200   // elements of one piece
	maxPoints    = 60000 // of the whole drawing, flattened: a few bytes of arc can ask for thousands
)

// Roles: the class of an element says what the line is to the bench.
const (
	roleOutline = "outline" // cut, graded; one closed line per piece
	roleHole    = "hole"    // cut out, graded with the piece
	roleSlot    = "slot"    // cut out, never scaled (webbing slots, buckle windows)
	roleDrill   = "drill"   // circle, moves and keeps its diameter
	roleRow     = "row"     // line along which equal holes sit, spaced after grading
	roleScore   = "score"   // cut part-way
	roleNotch   = "notch"   // drawn, where mated edges meet
	roleBend    = "bend"    // drawn, axis of forming
	roleSeat    = "seat"    // drawn, place of hardware, never scaled
	roleAlign   = "align"   // drawn, outline of a layer above
	rolePoint   = "point"   // circle on the outline that names an end of an edge
	roleGuide   = "guide"   // for the designer only, skipped
)

const roleList = "outline, hole, slot, drill, row, score, notch, bend, seat, align, point, guide"

// drawn is what the drawing says of one piece; y already points up.
type drawn struct {
	outline  geom.Ring
	holes    []geom.Ring
	slots    []geom.Ring
	drills   []Drill
	rows     []row
	scores   []geom.Path
	marks    []Mark
	points   []namedPoint
	elements int
}

type namedPoint struct {
	name string
	at   geom.Point
}

// readSVG reads the pieces of a drawing by the id of their group.
func readSVG(data []byte) (map[string]*drawn, error) {
	if len(data) > maxFileBytes {
		return nil, fmt.Errorf("the drawing has %d bytes, at most %d are read", len(data), maxFileBytes)
	}
	dec := xml.NewDecoder(bytes.NewReader(data))
	r := &svgReader{pieces: map[string]*drawn{}}
	nodes := 0
	for {
		tok, err := dec.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, fmt.Errorf("the drawing is not well-formed XML: %w", err)
		}
		line, _ := dec.InputPos()
		switch t := tok.(type) {
		case xml.Directive:
			return nil, fmt.Errorf("line %d: document types and entities are not read, remove the declaration", line)
		case xml.StartElement:
			if nodes++; nodes > maxNodes {
				return nil, fmt.Errorf("line %d: the drawing has more than %d elements", line, maxNodes)
			}
			if len(r.stack) >= maxDepth {
				return nil, fmt.Errorf("line %d: groups are nested deeper than %d", line, maxDepth)
			}
			skip, err := r.start(t)
			if err != nil {
				return nil, fmt.Errorf("line %d: %w", line, err)
			}
			if skip {
				if err := dec.Skip(); err != nil {
					return nil, fmt.Errorf("line %d: the drawing is not well-formed XML: %w", line, err)
				}
			}
		case xml.EndElement:
			r.stack = r.stack[:len(r.stack)-1]
		}
	}
	if !r.root {
		return nil, errors.New("the drawing has no svg element")
	}
	return r.pieces, nil
}

type svgLevel struct {
	m     affine
	piece string
}

type svgReader struct {
	stack  []svgLevel
	root   bool
	pieces map[string]*drawn
	points int
}

func attr(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

// start takes one opening tag; it pushes a level unless the element is to be skipped whole.
func (r *svgReader) start(e xml.StartElement) (skip bool, err error) {
	name := e.Name.Local
	if !r.root {
		if name != "svg" {
			return false, fmt.Errorf("the drawing begins with %q instead of svg", clip(name))
		}
		m, err := rootMatrix(e)
		if err != nil {
			return false, err
		}
		r.root = true
		r.stack = append(r.stack, svgLevel{m: m})
		return false, nil
	}
	if len(r.stack) == 0 {
		return false, errors.New("the drawing has a second root element")
	}
	top := r.stack[len(r.stack)-1]
	t, err := parseTransform(attr(e, "transform"))
	if err != nil {
		return false, err
	}
	lvl := svgLevel{m: top.m.mul(t), piece: top.piece}
	switch name {
	case "title", "desc", "metadata", "style", "text":
		return true, nil
	case "g":
		if id := attr(e, "id"); id != "" && lvl.piece == "" {
			if !validID(id) {
				return false, fmt.Errorf("group id %q is not a piece id: use letters, digits and hyphens", clip(id))
			}
			if r.pieces[id] != nil {
				return false, fmt.Errorf("piece %q is drawn twice", id)
			}
			r.pieces[id] = &drawn{}
			lvl.piece = id
		}
		r.stack = append(r.stack, lvl)
		return false, nil
	case "path", "rect", "circle", "ellipse", "line", "polyline", "polygon":
		r.stack = append(r.stack, lvl)
		if err := r.element(e, lvl); err != nil {
			if lvl.piece != "" {
				return false, fmt.Errorf("piece %q: %w", lvl.piece, err)
			}
			return false, err
		}
		return false, nil
	}
	return false, fmt.Errorf("element %q is not read here: use g, path, rect, circle, ellipse, line, polyline or polygon", clip(name))
}

// rootMatrix flips y and checks that one user unit is one millimetre.
func rootMatrix(e xml.StartElement) (affine, error) {
	s := &scanner{s: attr(e, "viewBox")}
	var v [4]float64
	for i := range v {
		x, err := s.number()
		if err != nil {
			return identity, fmt.Errorf("the svg element needs a viewBox in millimetres: %w", err)
		}
		v[i] = x
	}
	if !(v[2] > 0 && v[3] > 0 && v[2] <= maxCoord && v[3] <= maxCoord) || math.Abs(v[0]) > maxCoord || math.Abs(v[1]) > maxCoord {
		return identity, fmt.Errorf("the viewBox must be greater than 0 and at most %d mm", maxCoord)
	}
	for i, k := range []string{"width", "height"} {
		a := attr(e, k)
		if a == "" {
			continue
		}
		x, err := strconv.ParseFloat(strings.TrimSuffix(a, "mm"), 64)
		const rel = 1e-3 // drawing programs round the page size
		if err != nil || !strings.HasSuffix(a, "mm") || !(math.Abs(x-v[2+i]) <= rel*v[2+i]) {
			return identity, fmt.Errorf("the svg %s %q must be the viewBox's %g followed by mm, so that one unit is one millimetre", k, clip(a), v[2+i])
		}
	}
	return affine{a: 1, d: -1, f: 2*v[1] + v[3]}, nil
}

func validID(s string) bool {
	if s == "" || len(s) > 40 {
		return false
	}
	for _, c := range s {
		if !(c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || c == '-') {
			return false
		}
	}
	return true
}

func (r *svgReader) element(e xml.StartElement, lvl svgLevel) error {
	role := attr(e, "class")
	if role == roleGuide {
		return nil
	}
	if role == "" || !strings.Contains(", "+roleList+",", ", "+role+",") {
		return fmt.Errorf("%s has class %q, its class must be one of %s", e.Name.Local, clip(role), roleList)
	}
	if lvl.piece == "" {
		return fmt.Errorf("the %s of class %q lies in no piece: put it into a group whose id is the piece's", e.Name.Local, role)
	}
	p := r.pieces[lvl.piece]
	if p.elements++; p.elements > maxElements {
		return fmt.Errorf("a piece may have at most %d elements", maxElements)
	}
	if role == roleDrill || role == rolePoint {
		return p.addCircle(e, lvl.m, role)
	}
	lines, err := trace(e, lvl.m)
	if err != nil {
		return fmt.Errorf("%s of class %q: %w", e.Name.Local, role, err)
	}
	for _, l := range lines {
		if r.points += len(l.pts); r.points > maxPoints {
			return fmt.Errorf("the drawing has more than %d points, simplify it", maxPoints)
		}
		if role == roleRow {
			if err := p.addRow(e, l); err != nil {
				return err
			}
			continue
		}
		if err := p.addLine(role, attr(e, "data-label"), l); err != nil {
			return err
		}
	}
	return nil
}

func (p *drawn) addCircle(e xml.StartElement, m affine, role string) error {
	n, err := numbers(e, "cx", "cy", "r")
	if e.Name.Local != "circle" || err != nil {
		return fmt.Errorf("class %q must be a circle with cx, cy and r", role)
	}
	at := m.apply(geom.Pt(n[0], n[1]))
	if !at.Finite() || math.Abs(at.X) > maxCoord || math.Abs(at.Y) > maxCoord {
		return fmt.Errorf("a point lies outside ±%d mm", maxCoord)
	}
	if role == rolePoint {
		name := attr(e, "data-name")
		if !validID(name) {
			return fmt.Errorf("the point at %s needs a data-name of letters, digits and hyphens", place(at))
		}
		p.points = append(p.points, namedPoint{name, at})
		return nil
	}
	k, round := m.similarity()
	if !round || !(n[2]*k >= 0.5) || !(n[2]*k <= 50) {
		return fmt.Errorf("the drill at %s must be a round circle of 1 to 100 mm diameter", place(at))
	}
	p.drills = append(p.drills, Drill{At: at, Diameter: geom.MM(2 * n[2] * k)})
	return nil
}

func (p *drawn) addRow(e xml.StartElement, l polyline) error {
	n, err := numbers(e, "data-diameter", "data-pitch", "data-inset")
	if err != nil {
		return err
	}
	name := attr(e, "data-name")
	if name == "" {
		name = attr(e, "id")
	}
	path := l.pts
	if l.closed && len(path) > 0 {
		path = append(path, path[0])
	}
	if len(path) < 2 {
		return errors.New("a row has no length")
	}
	p.rows = append(p.rows, row{name: name, path: path, closed: l.closed, diameter: geom.MM(n[0]), pitch: geom.MM(n[1]), inset: geom.MM(n[2])})
	return nil
}

func (p *drawn) addLine(role, label string, l polyline) error {
	switch role {
	case roleOutline, roleHole, roleSlot:
		if n := len(l.pts); !l.closed && n > 3 && l.pts[0].Dist(l.pts[n-1]) <= joinTolerance {
			l.pts, l.closed = l.pts[:n-1], true
		}
		if len(l.pts) == 0 {
			return fmt.Errorf("an empty %s", role)
		}
		if !l.closed {
			return fmt.Errorf("the %s is open between %s and %s, close it with Z", role, place(l.pts[0]), place(l.pts[len(l.pts)-1]))
		}
		ring := geom.Ring(l.pts).CCW()
		if role == roleOutline {
			if p.outline != nil {
				return fmt.Errorf("a second outline begins at %s, a piece has one (cut-outs are of class hole)", place(l.pts[0]))
			}
			p.outline = ring
			return nil
		}
		if err := checkRing(ring); err != nil {
			return fmt.Errorf("%s: %w", role, err)
		}
		if role == roleHole {
			p.holes = append(p.holes, ring)
		} else {
			p.slots = append(p.slots, ring)
		}
		return nil
	}
	path := l.pts
	if l.closed && len(path) > 0 {
		path = append(path, path[0])
	}
	if len(path) < 2 {
		return fmt.Errorf("a %s line has no length", role)
	}
	switch role {
	case roleScore:
		p.scores = append(p.scores, path)
	case roleNotch:
		p.marks = append(p.marks, Mark{Notch, label, path})
	case roleBend:
		p.marks = append(p.marks, Mark{Bend, label, path})
	case roleSeat:
		p.marks = append(p.marks, Mark{Seat, label, path})
	case roleAlign:
		p.marks = append(p.marks, Mark{Align, label, path})
	}
	return nil
}

// numbers reads numeric attributes; a missing one is 0, as in SVG.
func numbers(e xml.StartElement, names ...string) ([]float64, error) {
	out := make([]float64, len(names))
	for i, n := range names {
		a := attr(e, n)
		if a == "" {
			continue
		}
		s := &scanner{s: a}
		v, err := s.number()
		if err != nil || !s.done() {
			return nil, fmt.Errorf("%s %q must be a plain number of millimetres", n, clip(a))
		}
		out[i] = v
	}
	return out, nil
}

// trace flattens one element.
func trace(e xml.StartElement, m affine) ([]polyline, error) {
	p := &pen{m: m}
	switch e.Name.Local {
	case "path":
		err := p.path(attr(e, "d"))
		return p.out, err
	case "circle":
		n, err := numbers(e, "cx", "cy", "r")
		if err == nil {
			err = p.ellipse(geom.Pt(n[0], n[1]), n[2], n[2])
		}
		return p.out, err
	case "ellipse":
		n, err := numbers(e, "cx", "cy", "rx", "ry")
		if err == nil {
			err = p.ellipse(geom.Pt(n[0], n[1]), n[2], n[3])
		}
		return p.out, err
	case "line":
		n, err := numbers(e, "x1", "y1", "x2", "y2")
		if err == nil {
			err = p.moveTo(geom.Pt(n[0], n[1]))
		}
		if err == nil {
			err = p.lineTo(geom.Pt(n[2], n[3]))
		}
		return p.out, err
	case "rect":
		n, err := numbers(e, "x", "y", "width", "height", "rx", "ry")
		if err == nil {
			err = p.rect(n, attr(e, "rx") != "", attr(e, "ry") != "")
		}
		return p.out, err
	}
	s := &scanner{s: attr(e, "points")}
	for !s.done() {
		x, err := s.number()
		if err != nil {
			return nil, err
		}
		y, err := s.number()
		if err != nil {
			return nil, err
		}
		if len(p.out) == 0 {
			err = p.moveTo(geom.Pt(x, y))
		} else {
			err = p.lineTo(geom.Pt(x, y))
		}
		if err != nil {
			return nil, err
		}
	}
	if e.Name.Local == "polygon" {
		p.close()
	}
	return p.out, nil
}

// rect draws a rectangle, rounded where radii are given; one radius stands for both.
func (p *pen) rect(n []float64, hasX, hasY bool) error {
	x, y, w, h, rx, ry := n[0], n[1], n[2], n[3], n[4], n[5]
	if !(w > 0 && h > 0) {
		return errors.New("width and height must be greater than 0")
	}
	if !hasX {
		rx = ry
	}
	if !hasY {
		ry = rx
	}
	rx, ry = math.Min(math.Max(rx, 0), w/2), math.Min(math.Max(ry, 0), h/2)
	if err := p.moveTo(geom.Pt(x+rx, y)); err != nil {
		return err
	}
	corners := [4][2]geom.Point{
		{{X: x + w - rx, Y: y}, {X: x + w, Y: y + ry}},
		{{X: x + w, Y: y + h - ry}, {X: x + w - rx, Y: y + h}},
		{{X: x + rx, Y: y + h}, {X: x, Y: y + h - ry}},
		{{X: x, Y: y + ry}, {X: x + rx, Y: y}},
	}
	for _, c := range corners {
		if err := p.lineTo(c[0]); err != nil {
			return err
		}
		if err := p.arcTo(rx, ry, 0, false, true, c[1]); err != nil {
			return err
		}
	}
	p.close()
	return nil
}
