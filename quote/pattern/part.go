package pattern

import (
	"errors"
	"fmt"
	"math"
	"sort"
	"strings"

	"benchbell/quote/foam"
	"benchbell/quote/geom"
)

// part is one piece of the set: its drawing together with its rules.
type part struct {
	drawn
	doc       pieceDoc
	worn      foam.Worn
	copies    int
	beneath   geom.MM
	bridge    geom.MM
	sections  []section
	follow    float64
	index     int            // in the set's parts
	named     map[string]int // point on the outline → vertex
	edges     map[string]edge
	edgeNames []string
	frame     frameKind
	holdX     float64
	base      coneBase
}

// edge is a run of outline vertices, counter-clockwise, given by the indices of the first and last.
type edge struct{ from, to int }

// join combines drawing and spec sheet, piece by piece.
func (s *Set) join(doc setDoc, pieces map[string]*drawn) error {
	if len(doc.Pieces) == 0 || len(doc.Pieces) > 100 {
		return errors.New("a set must have from 1 to 100 [[piece]] entries")
	}
	for _, pd := range doc.Pieces {
		if !validID(pd.ID) {
			return fmt.Errorf("piece id %q may contain only letters, digits and hyphens", clip(pd.ID))
		}
		if s.find(pd.ID) != nil {
			return fmt.Errorf("piece %q has two [[piece]] entries; leave one", pd.ID)
		}
		d := pieces[pd.ID]
		if d == nil {
			return fmt.Errorf("piece %q is not in the drawing: draw it in a group with that id", pd.ID)
		}
		p := &part{drawn: *d, doc: pd, index: len(s.parts)}
		if err := s.build(p); err != nil {
			return inPiece(pd.ID, err)
		}
		s.parts = append(s.parts, p)
	}
	if len(pieces) != len(s.parts) {
		spare := ""
		for id := range pieces { // the smallest name, so that the message does not depend on map order
			if s.find(id) == nil && (spare == "" || id < spare) {
				spare = id
			}
		}
		return fmt.Errorf("piece %q is in the drawing but has no [[piece]] entry", spare)
	}
	return nil
}

func (s *Set) find(id string) *part {
	for _, p := range s.parts {
		if p.doc.ID == id {
			return p
		}
	}
	return nil
}

// build checks one piece; pieces it lies over must come before it in the spec sheet, which rules out cycles.
func (s *Set) build(p *part) error {
	d := &p.doc
	if strings.TrimSpace(d.Title) == "" {
		return errors.New("title is empty; give the piece one")
	}
	if d.Thickness != 2 && d.Thickness != 5 && d.Thickness != 10 {
		return fmt.Errorf("thickness %g must be 2, 5 or 10 mm", d.Thickness)
	}
	if d.Layer < 0 || d.Layer > 9 {
		return fmt.Errorf("layer %d must be from 0 (next to the body) to 9", d.Layer)
	}
	for _, o := range d.Over {
		q := s.find(o)
		if q == nil {
			return fmt.Errorf("over lists %q, which is not a piece described before this one", clip(o))
		}
		if q.doc.Layer >= d.Layer {
			return fmt.Errorf("layer %d must be above layer %d of %q, since it lies over that piece", d.Layer, q.doc.Layer, o)
		}
		// Pieces side by side on one layer do not add up: the highest stack counts.
		p.beneath = max(p.beneath, q.beneath+geom.MM(q.doc.Thickness))
	}
	p.copies = 1
	if d.Copies != nil {
		p.copies = *d.Copies
	}
	if p.copies < 1 || p.copies > 200 {
		return fmt.Errorf("copies %d must be from 1 to 200", p.copies)
	}
	switch geom.Turn(d.Turn) {
	case "":
		d.Turn = string(geom.TurnAny)
	case geom.TurnAny, geom.TurnQuarter, geom.TurnHalf, geom.TurnNone:
	default:
		return fmt.Errorf("turn %q must be any, quarter, half or none", clip(d.Turn))
	}
	if !(d.Lap >= 0 && d.Lap <= 1) {
		return fmt.Errorf("lap %g must be a share from 0 to 1", d.Lap)
	}
	if p.outline == nil {
		return errors.New("the drawing has no outline for it")
	}
	if err := s.wear(p); err != nil {
		return err
	}
	if err := p.place(); err != nil {
		return err
	}
	if err := p.fixHoles(); err != nil {
		return err
	}
	if err := s.drive(p); err != nil {
		return err
	}
	for _, b := range d.Bevel {
		if _, ok := p.edges[b]; !ok && b != "all" {
			return fmt.Errorf("bevel %q is neither an edge of this piece nor \"all\"", clip(b))
		}
	}
	return p.setFrame(s)
}

// place puts the named points on the outline and resolves the edges.
func (p *part) place() error {
	seen := map[string]bool{}
	for _, np := range p.points {
		if seen[np.name] {
			return fmt.Errorf("point %q is drawn twice", np.name)
		}
		seen[np.name] = true
		if err := p.insert(np); err != nil {
			return err
		}
	}
	p.named = map[string]int{}
	for _, np := range p.points {
		for i, q := range p.outline {
			if i2, ok := p.named[np.name]; !ok || q.Dist(np.at) < p.outline[i2].Dist(np.at) {
				p.named[np.name] = i
			}
		}
	}
	p.edges = map[string]edge{}
	for name := range p.doc.Edges {
		p.edgeNames = append(p.edgeNames, name)
	}
	sort.Strings(p.edgeNames)
	for _, name := range p.edgeNames {
		ends := p.doc.Edges[name]
		if len(ends) != 2 {
			return fmt.Errorf("edge %q must list two points, its start and its end going counter-clockwise", clip(name))
		}
		for _, e := range ends {
			if _, ok := p.named[e]; !ok {
				return fmt.Errorf("edge %q: the drawing has no point %q", clip(name), clip(e))
			}
		}
		e := edge{p.named[ends[0]], p.named[ends[1]]}
		if e.from == e.to {
			return fmt.Errorf("edge %q has no length", clip(name))
		}
		p.edges[name] = e
	}
	return nil
}

// pointSnap is how far off the outline a named point may be drawn; further is a drawing mistake.
const pointSnap = 0.5

// insert makes the named point a vertex, so that grading keeps it exactly.
func (p *part) insert(np namedPoint) error {
	best, bi, bp := math.Inf(1), 0, geom.Point{}
	n := len(p.outline)
	for i, a := range p.outline {
		b := p.outline[(i+1)%n]
		ab := b.Sub(a)
		t := math.Max(0, math.Min(1, np.at.Sub(a).Dot(ab)/ab.Dot(ab)))
		q := a.Lerp(b, t)
		if d := q.Dist(np.at); d < best-1e-12 {
			best, bi, bp = d, i, q
		}
	}
	if best > pointSnap {
		return fault(np.at, []geom.Path{{np.at, bp}}, "point %q at %s is %.1f mm off the outline; it must be within %.1f mm", np.name, place(np.at), best, pointSnap)
	}
	if bp.Dist(p.outline[bi]) <= 0.01 || bp.Dist(p.outline[(bi+1)%n]) <= 0.01 {
		return nil // already a vertex
	}
	p.outline = append(p.outline[:bi+1:bi+1], append(geom.Ring{bp}, p.outline[bi+1:]...)...)
	return nil
}

// wear says where on the body the piece is worn.
func (s *Set) wear(p *part) error {
	d := p.doc
	if err := checkRegion(d.Region); err != nil {
		return err
	}
	p.worn.Region = s.Region
	if d.Region != "" {
		p.worn.Region = foam.Region(d.Region)
	}
	if !(d.Facing >= -180 && d.Facing <= 180) {
		return fmt.Errorf("facing %g must be from -180 to 180 degrees: 0 front, 90 outward, 180 back", d.Facing)
	}
	if p.worn.Region == "" {
		if d.Facing != 0 || d.Height != nil {
			return errors.New("facing and height need a region; give one to the set or the piece")
		}
		return nil
	}
	p.worn.Facing, p.worn.Height = d.Facing, 0.5
	if d.Height != nil {
		p.worn.Height = *d.Height
	}
	if !(p.worn.Height >= 0 && p.worn.Height <= 1) {
		return fmt.Errorf("height %g must be from 0 (bottom of the region) to 1 (top)", p.worn.Height)
	}
	return nil
}
