package pattern

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"benchbell/quote/drawing"
	"benchbell/quote/foam"
	"benchbell/quote/geom"
)

// Bounds on a drawing; a large hand-made set stays ten times below each.
const (
	maxLines    = 5000
	maxElements = 400 // lines of one piece
	maxPieces   = 100
	maxPoints   = 60_000 // of the whole drawing, flattened
	// maxCorners of one line that is cut: a hand follows a corner every millimetre or so, and a plate three metres around
	// has half as many. Work on a piece grows with the square of its corners.
	maxCorners = 6000
)

// gapDefault in mm: an outline open by at most this is closed. It is the width of a pen; a larger gap is a missing edge.
const gapDefault = 0.5

// drillLargest in mm: a circle up to this, drawn inside a piece without a role, is drilled or punched; a larger one is cut
// with the knife and graded (common practice, no source).
const drillLargest = 16

// drawn is what the drawing says about one piece; y points up.
type drawn struct {
	title   string // as written in the drawing; empty if it is not
	outline geom.Ring
	holes   []geom.Ring
	slots   []geom.Ring
	drills  []foam.Drill
	rows    []row
	scores  []geom.Path
	marks   []foam.Mark
	points  []namedPoint
}

type namedPoint struct {
	name string
	at   geom.Point
}

// reading is a drawing sorted into pieces.
type reading struct {
	dxf    bool     // not SVG
	order  []string // ids, from top left to bottom right
	pieces map[string]*drawn
	notes  []string
}

// item is a line of the drawing to be assigned to a piece.
type item struct {
	*drawing.Line
	order int    // among the drawing's lines
	role  string // what the drawing says, or else what the default rule says once the piece is known
	given bool   // the drawing says it
	ring  geom.Ring
	box   geom.Box
	area  float64
	grid  *fence   // grid over ring, made when needed
	names []string // of the groups around it that could be a piece, outermost first
	title []string // the same as a person would write them
	keys  []string // tells these groups apart
}

// readDrawing reads the pieces of a drawing. ids are those the spec sheet describes, nil if there is none.
func readDrawing(data []byte, gap float64, ids []string) (*reading, error) {
	d, err := drawing.Read(data)
	if err != nil {
		return nil, err
	}
	r := &reading{pieces: map[string]*drawn{}, notes: d.Notes}
	r.dxf = !bytes.HasPrefix(bytes.TrimLeft(bytes.TrimPrefix(data, []byte("\xef\xbb\xbf")), " \t\r\n"), []byte("<"))
	if err := r.sort(d, gap, ids); err != nil {
		return nil, asIn(r.dxf, err)
	}
	if r.dxf {
		for i, n := range r.notes {
			r.notes[i] = strings.ReplaceAll(n, corner, zero)
		}
	}
	return r, nil
}

// sort finds the pieces and gives each its lines.
func (r *reading) sort(d *drawing.Drawing, gap float64, ids []string) error {
	items, err := r.items(d, gap, ids)
	if err != nil {
		return err
	}
	for _, it := range items {
		it.inGroups(r.dxf, ids)
	}
	sheets, err := sortPieces(items, r.dxf, ids)
	if err != nil {
		return err
	}
	loose, err := spread(items, sheets)
	if err != nil {
		return err
	}
	if loose > 0 {
		r.notes = append(r.notes, fmt.Sprintf("%s skipped because outside every outline", were(loose, "line")))
	}
	inOrder(sheets)
	r.name(sheets, d.Texts)
	for i, s := range sheets {
		p, err := s.draw()
		if err != nil {
			return inPiece(r.order[i], err)
		}
		p.title = s.title
		r.pieces[r.order[i]] = p
	}
	return nil
}

func were(n int, what string) string {
	if n == 1 {
		return "1 " + what + " was"
	}
	return strconv.Itoa(n) + " " + what + "s were"
}

// items takes the lines to be cut or drawn: it skips guides and hidden lines, and closes outlines.
func (r *reading) items(d *drawing.Drawing, gap float64, ids []string) ([]*item, error) {
	if len(d.Lines) > maxLines {
		return nil, fmt.Errorf("the drawing has %d lines and the limit is %d: leave out what is not cut, or split it", len(d.Lines), maxLines)
	}
	// Only lines that can bound foam are joined: two score lines that meet are two cuts.
	var closed, ends, rest []drawing.Line
	hidden := 0
	for _, l := range d.Lines {
		switch role := roleOf(&l, ids); {
		case role == roleGuide:
		case l.Hidden:
			hidden++
		case role != "" && role != roleOutline && role != roleHole && role != roleSlot:
			rest = append(rest, l)
		case l.Closed:
			closed = append(closed, l)
		default:
			ends = append(ends, l)
		}
	}
	if hidden > 0 {
		r.notes = append(r.notes, fmt.Sprintf("%s hidden and skipped", were(hidden, "line")))
	}
	joined, notes := drawing.Join(ends, geom.MM(gap))
	r.notes = append(r.notes, notes...)
	for i := range joined {
		meet(&joined[i], gap)
	}
	points := 0
	var out []*item
	for _, l := range slices.Concat(closed, joined, rest) {
		if points += len(l.Points); points > maxPoints {
			return nil, fmt.Errorf("the drawing has more than %d points; simplify it", maxPoints)
		}
		it := &item{Line: &l, order: len(out), role: roleOf(&l, ids), box: l.Points.Bounds()}
		it.given = it.role != ""
		if len(l.Points) > maxCorners {
			if l.Points = thinned(l.Points, l.Closed); len(l.Points) > maxCorners {
				return nil, fault(it.box.Centre(), nil, "the line around %s has more than %d corners (%s), more than can be cut by hand: simplify it in the editor", place(it.box.Centre()), maxCorners, l.At)
			}
			r.notes = append(r.notes, fmt.Sprintf("the line around %s had so many points that those within %.2f mm of its course were left out", place(it.box.Centre()), thin))
		}
		if l.Closed && len(l.Points) >= 3 {
			it.ring = geom.Ring(l.Points).CCW()
			it.area = float64(it.ring.Area())
		}
		out = append(out, it)
	}
	return out, nil
}

// meet moves the end of a closed line onto its start if bridging the gap would make the line cross itself: the pen ran a
// little past its start.
func meet(l *drawing.Line, gap float64) {
	n := len(l.Points)
	if !l.Closed || n < 4 || l.Points[0].Dist(l.Points[n-1]) > gap || checkRing(geom.Ring(l.Points).CCW()) == nil {
		return
	}
	if shorter := l.Points[: n-1 : n-1]; checkRing(geom.Ring(shorter).CCW()) == nil {
		l.Points = shorter
	}
}

// inGroups lists the enclosing groups that have a name of their own that is not a role.
func (it *item) inGroups(dxf bool, ids []string) {
	const deep = 8 // a piece's group nested deeper than this in named groups is not a real drawing
	for _, g := range it.Groups {
		if groupRole(g) != "" && !named(g, ids) || len(it.keys) == deep {
			continue
		}
		if dxf {
			g.ID, g.Label = g.Label, g.ID // the name of a block is the maker's, its handle the program's
		}
		name := ownName(g)
		if dxf {
			name = ""
			if !madeUp(g.ID) {
				name = g.ID
			}
		}
		for _, n := range []string{g.Label, g.ID} {
			if index(ids, slug(n)) >= 0 {
				name = n
			}
		}
		if name == "" && g.ID == "" {
			continue // nothing distinguishes it from its neighbours
		}
		if g.Layer && name == "" {
			continue
		}
		key := fmt.Sprintf("%q %q %t", g.ID, g.Label, g.Layer)
		if n := len(it.keys); n > 0 {
			key = it.keys[n-1] + " / " + key
		}
		title := name
		if g.Label != "" && !madeUp(g.Label) && name != "" && !dxf {
			title = g.Label
		}
		it.names, it.title, it.keys = append(it.names, name), append(it.title, title), append(it.keys, key)
	}
	if len(it.keys) == 0 && it.Layer != "" && !madeUp(it.Layer) && namesRole(it.Layer) == "" {
		it.names, it.title, it.keys = []string{it.Layer}, []string{it.Layer}, []string{"layer " + it.Layer}
	}
}

// bounding reports whether the line can be the outline of a piece.
func (it *item) bounding() bool {
	return it.ring != nil && (it.role == roleOutline || !it.given && !it.Dashed)
}

// fence is the grid over the closed line.
func (it *item) fence() *fence {
	if it.grid == nil {
		it.grid = newFence(it.ring)
	}
	return it.grid
}

// path is the line; of a closed line the first point is repeated at the end.
func (it *item) path() geom.Path {
	p := slices.Clone(it.Points)
	if it.Closed && len(p) > 0 {
		p = append(p, p[0])
	}
	return p
}

// pieceSheet is a piece being put together.
type pieceSheet struct {
	name    string // from its group; empty if it has none
	title   string
	outline *item
	items   []*item
}

// draw turns the piece's lines into what they mean at the bench.
func (s *pieceSheet) draw() (*drawn, error) {
	p := &drawn{outline: s.outline.ring}
	if err := checkFence(s.outline.fence()); err != nil {
		return nil, inOutline(withLine(err, s.outline))
	}
	for _, it := range s.items {
		if it == s.outline {
			continue
		}
		if err := p.add(it); err != nil {
			return nil, err
		}
	}
	return p, nil
}

// withLine adds the faulty line to a fault that has none.
func withLine(err error, it *item) error {
	var f *Fault
	if errors.As(err, &f) && len(f.Lines) == 0 && err == error(f) {
		g := *f
		g.Lines = []geom.Path{it.path()}
		return &g
	}
	return err
}

func (p *drawn) add(it *item) error {
	at := func(format string, args ...any) error {
		return fault(it.box.Centre(), []geom.Path{it.path()}, format, args...)
	}
	if len(it.Points) == 0 {
		return nil
	}
	label := it.Data["label"]
	switch it.role {
	case roleHole, roleSlot:
		if it.ring == nil {
			a, b := it.Points[0], it.Points[len(it.Points)-1]
			return fault(a, []geom.Path{it.path()}, "the %s is open between %s: close it", it.role, places(a, b))
		}
		if err := checkRing(it.ring); err != nil {
			return prefixed(withLine(err, it), it.role+": ")
		}
		if it.role == roleHole {
			p.holes = append(p.holes, it.ring)
		} else {
			p.slots = append(p.slots, it.ring)
		}
	case roleDrill, rolePoint:
		c := it.Circle
		if c == nil {
			return at("the %s at %s must be a circle", it.role, place(it.box.Centre()))
		}
		if it.role == rolePoint {
			name := it.Data["name"]
			if name == "" {
				name = it.Label
			}
			if !validID(name) {
				return at("the point at %s needs a data-name of letters, digits and hyphens", place(c.Centre))
			}
			p.points = append(p.points, namedPoint{name, c.Centre})
			return nil
		}
		if d := 2 * c.Radius; !(d >= 1 && d <= 100) {
			return at("the drill at %s is %s wide; it must be from 1 to 100 mm", place(c.Centre), d)
		}
		p.drills = append(p.drills, foam.Drill{At: c.Centre, Diameter: 2 * c.Radius})
	case roleRow:
		r := row{name: it.Data["name"], path: it.path(), closed: it.Closed}
		if r.name == "" {
			r.name = it.ID
		}
		for key, to := range map[string]*geom.MM{"diameter": &r.diameter, "pitch": &r.pitch, "inset": &r.inset} {
			if v, ok := it.Data[key]; ok {
				x, err := strconv.ParseFloat(v, 64)
				if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
					return at("the row at %s: its data-diameter, data-pitch and data-inset must be plain numbers of millimetres", place(it.Points[0]))
				}
				*to = geom.MM(x)
			}
		}
		if len(r.path) < 2 {
			return at("the row at %s has no length", place(it.Points[0]))
		}
		p.rows = append(p.rows, r)
	default:
		path := it.path()
		if len(path) < 2 {
			return at("a %s line at %s has no length", it.role, place(it.Points[0]))
		}
		kind := map[string]foam.MarkKind{roleNotch: foam.Notch, roleBend: foam.Bend, roleSeat: foam.Seat, roleAlign: foam.Align}[it.role]
		if kind == "" {
			p.scores = append(p.scores, path)
			return nil
		}
		m := foam.Mark{Kind: kind, Label: label, Path: path}
		if kind == foam.Bend {
			if m.Form = formOf(it.Line); m.Form != foam.Away && m.Form != foam.Toward {
				return at("the bend at %s: its data-form %q must be \"away\" (the drawn face ends up outside the bend) or \"toward\"", place(it.box.Centre()), clip(string(m.Form)))
			}
		}
		p.marks = append(p.marks, m)
	}
	return nil
}

func prefixed(err error, what string) error {
	var f *Fault
	if errors.As(err, &f) && err == error(f) {
		g := *f
		g.What = what + g.What
		return &g
	}
	return fmt.Errorf("%s%w", what, err)
}
