package drawing

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"benchbell/quote/geom"
)

// The reader follows the published DXF reference (group codes of R12, AC1009, and 2000, AC1015). Later ASCII versions write
// the entities read here in the same way.

// isDXF: an ASCII DXF file begins with the group code 0, or 999 for a comment. Binary forms are accepted too, so that
// readDXF can say what to save instead.
func isDXF(data []byte) bool {
	if isBinaryDrawing(data) {
		return true
	}
	first, rest, _ := bytes.Cut(bytes.TrimLeft(bytes.TrimPrefix(data, []byte("\xef\xbb\xbf")), " \t\r\n"), []byte("\n"))
	if head, _, ok := bytes.Cut(bytes.TrimRight(first, "\r"), []byte("\r")); ok { // lines that end in a bare CR
		return slices.Contains([]string{"0", "999"}, string(bytes.TrimSpace(head)))
	}
	switch string(bytes.TrimSpace(first)) {
	case "999":
		return true
	case "0":
		return bytes.HasPrefix(bytes.TrimLeft(rest, " \t"), []byte("SECTION"))
	}
	return false
}

// isBinaryDrawing: binary DXF identifies itself in its first 22 bytes; DWG begins with its version, AC1 and three digits.
func isBinaryDrawing(data []byte) bool {
	if bytes.Contains(data[:min(len(data), 22)], []byte("Binary DXF")) {
		return true
	}
	if len(data) < 6 || !bytes.HasPrefix(data, []byte("AC1")) {
		return false
	}
	for _, c := range data[3:6] {
		if c < '0' || c > '9' {
			return false
		}
	}
	return true
}

func readDXF(data []byte) (*Drawing, error) {
	if isBinaryDrawing(data) {
		return nil, errors.New("the file is a binary drawing (DWG or binary DXF); save it as ASCII DXF, R12 or 2000, or as plain SVG")
	}
	file, err := parseDXF(data)
	if err != nil {
		return nil, err
	}
	unit, err := file.unit()
	if err != nil {
		return nil, err
	}
	r := dxfDrawer{file: file, skipped: map[string]int{}, box: geom.EmptyBox()}
	for i := range file.entities {
		if err := r.draw(&file.entities[i], dxfPlace{m: scaling(unit, unit)}); err != nil {
			return nil, err
		}
	}
	lines, notes := Join(r.lines, meetGap)
	for i := range lines {
		if c := roundOf(&lines[i]); c != nil {
			lines[i].Circle = c
		}
	}
	return &Drawing{Lines: lines, Texts: r.texts, Notes: slices.Concat(file.notes, r.allNotes(), notes)}, nil
}

// dxfPlace is what an entity inherits from where it is drawn: the conversion to millimetres, and what the block insertions
// around it say.
type dxfPlace struct {
	m      affine
	groups []Group
	blocks []string // names of the blocks around it, upper case, outermost first
	layer  string   // of the innermost insertion: what is on layer 0 of a block is drawn on it
	colour string
	dashed bool
	hidden bool
}

// dxfDrawer turns entities into lines.
type dxfDrawer struct {
	file    *dxfFile
	lines   []Line
	texts   []Text
	notes   []string
	kinds   []string // entities that were skipped, by kind in order of appearance
	skipped map[string]int
	nodes   int // entities drawn, counted anew for each insertion of a block
	points  int
	box     geom.Box
}

// draw adds the lines of an entity.
func (r *dxfDrawer) draw(e *dxfEntity, at dxfPlace) error {
	if r.nodes++; r.nodes > maxNodes {
		return fmt.Errorf("%s: the drawing has more than %d entities, counting each insertion of a block; draw outlines as polylines and leave out what is not to be cut", e.at(), maxNodes)
	}
	f := fields{entity: e}
	if f.integer(67, 0) == 1 { // paper space: a sheet layout, not the drawing
		return nil
	}
	var err error
	switch e.kind {
	case "LINE":
		err = r.line(&f, at)
	case "CIRCLE", "ARC":
		err = r.arc(&f, at)
	case "ELLIPSE":
		err = r.ellipse(&f, at)
	case "LWPOLYLINE":
		err = r.lwpolyline(&f, at)
	case "POLYLINE":
		err = r.polyline(&f, at)
	case "SPLINE":
		err = r.spline(&f, at)
	case "TEXT", "ATTRIB", "MTEXT":
		r.text(&f, at)
	case "INSERT":
		err = r.insert(&f, at)
	case "POINT", "VIEWPORT", "ATTDEF": // a node, a window and a form: not part of the drawing
	default:
		r.skip(e.kind, "")
	}
	if err == nil {
		err = f.err
	}
	var inner placed
	if err != nil && !errors.As(err, &inner) {
		err = placed{e.at(), err}
	}
	return err
}

// placed is an error with the entity it is about; inside a block the inner place is kept.
type placed struct {
	at  string
	err error
}

func (p placed) Error() string { return p.at + ": " + p.err.Error() }
func (p placed) Unwrap() error { return p.err }

// skip counts an entity that has nothing to cut.
func (r *dxfDrawer) skip(kind, why string) {
	key := kind + why
	if r.skipped[key]++; r.skipped[key] == 1 {
		r.kinds = append(r.kinds, key)
	}
}

// note adds a note once.
func (r *dxfDrawer) note(s string) {
	if !slices.Contains(r.notes, s) && len(r.notes) < maxPlaces {
		r.notes = append(r.notes, s)
	}
}

func (r *dxfDrawer) allNotes() []string {
	notes := r.notes
	for i, k := range r.kinds {
		if i == maxPlaces {
			return append(notes, fmt.Sprintf("%d more kinds of entities were left out", len(r.kinds)-i))
		}
		notes = append(notes, fmt.Sprintf("%d × %s left out; explode in the editor if it should be cut", r.skipped[k], clip(k)))
	}
	return notes
}

// mirrorTilt is how far a plane's normal may tilt from the drawing's before what lies in it is skipped: lengths are then
// too short by less than one part in ten thousand million.
const mirrorTilt = 1e-5

// plane is the map from the entity's own plane to the drawing's: none, or x mirrored if the plane is seen from behind (the
// arbitrary axis algorithm gives (-1, 0, 0) and (0, 1, 0) for the normal (0, 0, -1)). Entities in a tilted plane are
// skipped, because their projection is not their shape.
func (r *dxfDrawer) plane(f *fields) (affine, bool) {
	x, y, z := f.number(210, 0), f.number(220, 0), f.number(230, 1)
	switch tilt := math.Hypot(x, y); {
	case tilt > mirrorTilt*math.Abs(z):
		r.skip(f.entity.kind, " in a tilted plane")
		return identity, false
	case z < 0:
		return scaling(-1, 1), true
	}
	return identity, true
}

// samePoint is the distance below which two consecutive points are one: a thousandth of what a file's decimals can express.
const samePoint = 1e-6

// add adds a polyline, given in millimetres.
func (r *dxfDrawer) add(f *fields, at dxfPlace, points geom.Path, closed bool, circle *Circle) error {
	if f.err != nil {
		return f.err
	}
	if r.points += len(points); r.points > maxPoints {
		return fmt.Errorf("the drawing has more than %d points; simplify its curves", maxPoints)
	}
	kept := points[:0:0]
	for _, p := range points {
		if !p.Finite() {
			return errors.New("its coordinates are too large; check its coordinates and scale")
		}
		if n := len(kept); n == 0 || p.Dist(kept[n-1]) > samePoint {
			kept = append(kept, p)
		}
	}
	for closed && len(kept) > 1 && kept[0].Dist(kept[len(kept)-1]) <= samePoint {
		kept = kept[:len(kept)-1]
	}
	if len(kept) < 2 { // a dot, which some programs leave where a line ends
		return nil
	}
	for _, p := range kept {
		r.box = r.box.Extend(p)
	}
	if w := max(r.box.Width(), r.box.Height()); w > maxExtent {
		return fmt.Errorf("it makes the drawing %.3g m wide or high and the limit is %.0f m; check the units and stray lines", w.M(), maxExtent.M())
	}
	l := Line{
		Points: kept, Closed: closed, Circle: circle, Groups: at.groups, ID: f.text(5), At: f.entity.at(),
		Hidden: at.hidden || f.integer(60, 0) == 1,
	}
	var layer dxfLayer
	l.Layer, layer = r.layer(f, at)
	l.Hidden = l.Hidden || layer.off || layer.frozen
	l.Stroke = f.colour(layer, at)
	l.Dashed = r.dashed(f, layer, at)
	r.lines = append(r.lines, l)
	return nil
}

// layer is the layer that an entity is drawn on.
func (r *dxfDrawer) layer(f *fields, at dxfPlace) (string, dxfLayer) {
	name := f.text(8)
	if name == "" {
		name = "0"
	}
	if name == "0" && at.layer != "" {
		name = at.layer
	}
	layer, ok := r.file.layers[strings.ToUpper(name)]
	if ok {
		name = layer.name
	}
	return name, layer
}

// basicColours are the first nine of the colour index; 7 is the ink on paper.
var basicColours = [...]string{1: "#ff0000", 2: "#ffff00", 3: "#00ff00", 4: "#00ffff", 5: "#0000ff", 6: "#ff00ff", 7: "#000000", 8: "#808080", 9: "#c0c0c0"}

func indexColour(i int) string {
	if i = max(i, -i); i > 0 && i < len(basicColours) {
		return basicColours[i]
	}
	return ""
}

func (f *fields) colour(layer dxfLayer, at dxfPlace) string {
	if c := f.integer(420, -1); c >= 0 && c <= 0xffffff {
		return fmt.Sprintf("#%06x", c)
	}
	switch c := f.integer(62, 256); c {
	case 256:
		return layer.colour
	case 0:
		return at.colour
	default:
		return indexColour(c)
	}
}

func (r *dxfDrawer) dashed(f *fields, layer dxfLayer, at dxfPlace) bool {
	switch t := strings.ToUpper(f.text(6)); t {
	case "", "BYLAYER":
		return r.file.isDashed(layer.linetype)
	case "BYBLOCK":
		return at.dashed
	default:
		return r.file.isDashed(t)
	}
}
