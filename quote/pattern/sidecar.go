package pattern

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"benchbell/quote/geom"
)

// The sidecar's own key names. Lengths are millimetres, shares are parts of one.
type setDoc struct {
	Name       string             `toml:"name"`
	Title      string             `toml:"title"`
	Kind       string             `toml:"kind"`
	Summary    string             `toml:"summary"`
	Sided      bool               `toml:"sided"`
	Assembly   string             `toml:"assembly"`
	DrawnK     *float64           `toml:"drawn_k"`
	Measures   []string           `toml:"measures"`
	Base       map[string]float64 `toml:"base"`
	Operations []string           `toml:"operations"`
	Finishes   []string           `toml:"finishes"`
	Cautions   []string           `toml:"cautions"`
	Pieces     []pieceDoc         `toml:"piece"`
	Seams      []seamDoc          `toml:"seam"`
	Darts      []dartDoc          `toml:"dart"`
	Hardware   []hardwareDoc      `toml:"hardware"`
}

type pieceDoc struct {
	ID        string              `toml:"id"`
	Title     string              `toml:"title"`
	Thickness float64             `toml:"thickness"`
	Layer     int                 `toml:"layer"`
	Over      []string            `toml:"over"`
	Copies    *int                `toml:"copies"`
	Pair      bool                `toml:"pair"`
	Turn      string              `toml:"turn"`
	MayFlip   bool                `toml:"may_flip"`
	Frame     string              `toml:"frame"`
	Hold      string              `toml:"hold"`
	Closed    bool                `toml:"closed"`
	Bevel     []string            `toml:"bevel"`
	Formed    bool                `toml:"formed"`
	Sealed    *bool               `toml:"sealed"`
	Lap       float64             `toml:"lap"`
	Edges     map[string][]string `toml:"edges"`
	Length    *lengthDoc          `toml:"length"`
	Sections  []sectionDoc        `toml:"section"`
}

type lengthDoc struct {
	Measure string   `toml:"measure"`
	Follow  *float64 `toml:"follow"`
}

type sectionDoc struct {
	At          float64  `toml:"at"`
	Measure     string   `toml:"measure"`
	Toward      string   `toml:"toward"`
	Part        float64  `toml:"part"`
	Share       *float64 `toml:"share"`
	Ease        float64  `toml:"ease"`
	EasePercent float64  `toml:"ease_percent"`
	Bend        *float64 `toml:"bend"`
}

type seamDoc struct {
	Name  string `toml:"name"`
	A     string `toml:"a"`
	B     string `toml:"b"`
	Trued bool   `toml:"trued"`
	Loose bool   `toml:"loose"`
	Count *int   `toml:"count"`
}

type dartDoc struct {
	Name string `toml:"name"`
	A    string `toml:"a"`
	B    string `toml:"b"`
}

type hardwareDoc struct {
	Kind   string  `toml:"kind"`
	Count  int     `toml:"count"`
	Length float64 `toml:"length"`
	Follow string  `toml:"follow"`
	Share  float64 `toml:"share"`
}

// Set is a parsed pattern set; it is never changed after Parse and may be graded from many goroutines.
type Set struct {
	Name       string
	Title      string
	Kind       string // "armour" or "prop"
	Summary    string // one or two sentences for a client
	Sided      bool   // left and right differ; the drawing is the right
	Assembly   string // what the finished thing is called on the bench
	DrawnK     float64
	Measures   []string // measurement keys needed, in asking order
	Base       map[string]geom.MM
	Operations []string // labour operations in working order
	Finishes   []string
	Cautions   []string

	parts    []*part
	seams    []seamRule
	hardware []hardwareDoc
}

// part is one piece of the set: drawing and rules brought together.
type part struct {
	drawn
	doc       pieceDoc
	copies    int
	beneath   geom.MM
	sections  []section
	follow    float64
	edges     map[string]edge
	edgeNames []string
	frame     frameKind
	holdX     float64
	base      coneBase
}

// edge is a run of outline vertices, counter-clockwise, by index of its first and last vertex.
type edge struct{ from, to int }

// section is a control section: where along the piece, and what width it asks.
type section struct {
	at      float64
	doc     sectionDoc
	share   float64
	turns   float64 // share of a full turn that the piece bends through
	measure string
}

type seamRule struct {
	name         string
	a, b         *part
	edgeA, edgeB string
	dart         bool
	trued, loose bool // loose edges are walked, not glued
	count        int
}

type frameKind int

const (
	frameFixed frameKind = iota
	frameFlat
	frameCone
)

var (
	operations = []string{"cut", "bevel", "score", "form", "glue", "layer", "punch", "seal", "prime", "paint", "clear", "hardware", "fit"}
	finishes   = []string{"primed", "painted", "weathered"}
)

// Parse reads a set from the bytes of its drawing and its sidecar.
// Errors name the line and key, or the piece and the place (mm from the drawing's lower left corner).
func Parse(svg, tomlData []byte) (*Set, error) {
	if len(tomlData) > maxFileBytes {
		return nil, fmt.Errorf("the sidecar has %d bytes, at most %d are read", len(tomlData), maxFileBytes)
	}
	var doc setDoc
	dec := toml.NewDecoder(strings.NewReader(string(tomlData)))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&doc); err != nil {
		return nil, sidecarError(err)
	}
	pieces, err := readSVG(svg)
	if err != nil {
		return nil, err
	}
	s := &Set{
		Name: doc.Name, Title: doc.Title, Kind: doc.Kind, Summary: doc.Summary, Sided: doc.Sided, Assembly: doc.Assembly,
		Measures: doc.Measures, Operations: doc.Operations, Finishes: doc.Finishes, Cautions: doc.Cautions,
		Base: map[string]geom.MM{}, hardware: doc.Hardware, DrawnK: 0.5,
	}
	if err := s.head(doc); err != nil {
		return nil, err
	}
	if err := s.join(doc, pieces); err != nil {
		return nil, err
	}
	if err := s.joinSeams(doc); err != nil {
		return nil, err
	}
	if err := s.checkHardware(); err != nil {
		return nil, err
	}
	// A set that cannot be graded to its own base is refused here, not at the first client.
	side := NoSide
	if s.Sided {
		side = Right
	}
	if _, err := s.Grade(s.BaseFit(side)); err != nil {
		return nil, fmt.Errorf("set %q as drawn: %w", s.Name, err)
	}
	return s, nil
}

// BaseFit is the fit the set was drawn to: its own base measurements, its own neutral line, no clothing.
func (s *Set) BaseFit(side Side) Fit {
	body := make(map[string]geom.MM, len(s.Base))
	for k, v := range s.Base {
		body[k] = v
	}
	return Fit{Body: body, Side: side, FoamK: s.DrawnK}
}

func sidecarError(err error) error {
	var strict *toml.StrictMissingError
	if errors.As(err, &strict) && len(strict.Errors) > 0 {
		e := strict.Errors[0]
		row, _ := e.Position()
		return fmt.Errorf("sidecar line %d: unknown key %q: %w", row, strings.Join(e.Key(), "."), errUnknownKey)
	}
	var de *toml.DecodeError
	if errors.As(err, &de) {
		row, col := de.Position()
		return fmt.Errorf("sidecar line %d column %d key %q: %w", row, col, strings.Join(de.Key(), "."), err)
	}
	return fmt.Errorf("the sidecar is not readable TOML: %w", err)
}

var errUnknownKey = errors.New("the sidecar has a fixed set of keys, remove or correct it")

// head checks everything outside the pieces.
func (s *Set) head(doc setDoc) error {
	if !validID(s.Name) || s.Name != strings.ToLower(s.Name) {
		return fmt.Errorf("name %q must be lower-case letters, digits and hyphens", clip(s.Name))
	}
	for _, f := range []struct{ key, v string }{{"title", s.Title}, {"summary", s.Summary}, {"assembly", s.Assembly}} {
		if strings.TrimSpace(f.v) == "" {
			return fmt.Errorf("%s is empty, it must say something a client can read", f.key)
		}
	}
	if s.Kind != "armour" && s.Kind != "prop" {
		return fmt.Errorf("kind %q must be \"armour\" or \"prop\"", clip(s.Kind))
	}
	if doc.DrawnK != nil {
		s.DrawnK = *doc.DrawnK
	}
	if !(s.DrawnK >= 0 && s.DrawnK <= 1) {
		return fmt.Errorf("drawn_k %g must lie between 0 and 1", s.DrawnK)
	}
	seen := map[string]bool{}
	for _, k := range s.Measures {
		v, ok := doc.Base[k]
		switch {
		case seen[k]:
			return fmt.Errorf("measures names %q twice", clip(k))
		case !ok:
			return fmt.Errorf("base lacks %q, which measures names", clip(k))
		case !(v > 0 && v <= 3000):
			return fmt.Errorf("base %q is %g, it must be more than 0 and at most 3000 mm", k, v)
		}
		seen[k] = true
		s.Base[k] = geom.MM(v)
	}
	if len(doc.Base) != len(s.Measures) {
		return errors.New("base and measures must name the same keys")
	}
	last := -1
	for _, op := range s.Operations {
		i := index(operations, op)
		if i <= last {
			return fmt.Errorf("operation %q is unknown, doubled or out of order, the order is %s", clip(op), strings.Join(operations, " "))
		}
		last = i
	}
	if last < 0 {
		return errors.New("operations is empty, it must at least have \"cut\"")
	}
	for _, f := range s.Finishes {
		if index(finishes, f) < 0 {
			return fmt.Errorf("finish %q must be one of %s", clip(f), strings.Join(finishes, " "))
		}
	}
	if len(s.Finishes) == 0 {
		return errors.New("finishes is empty, it must have at least one of " + strings.Join(finishes, " "))
	}
	return nil
}

func index(list []string, s string) int {
	for i, x := range list {
		if x == s {
			return i
		}
	}
	return -1
}

// join brings drawing and sidecar together, piece by piece.
func (s *Set) join(doc setDoc, pieces map[string]*drawn) error {
	if len(doc.Pieces) == 0 || len(doc.Pieces) > 100 {
		return errors.New("a set has 1 to 100 [[piece]] entries")
	}
	for _, pd := range doc.Pieces {
		if !validID(pd.ID) {
			return fmt.Errorf("piece id %q must be letters, digits and hyphens", clip(pd.ID))
		}
		if s.find(pd.ID) != nil {
			return fmt.Errorf("piece %q is described twice", pd.ID)
		}
		d := pieces[pd.ID]
		if d == nil {
			return fmt.Errorf("piece %q is not drawn: the drawing needs a group of that id", pd.ID)
		}
		p := &part{drawn: *d, doc: pd}
		if err := s.build(p); err != nil {
			return fmt.Errorf("piece %q: %w", pd.ID, err)
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
		return fmt.Errorf("piece %q is drawn but has no [[piece]] entry", spare)
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

// build checks one piece; pieces it lies over must come before it in the sidecar, which rules out cycles.
func (s *Set) build(p *part) error {
	d := &p.doc
	if strings.TrimSpace(d.Title) == "" {
		return errors.New("title is empty")
	}
	if d.Thickness != 2 && d.Thickness != 5 && d.Thickness != 10 {
		return fmt.Errorf("thickness %g must be 2, 5 or 10 mm", d.Thickness)
	}
	if d.Layer < 0 || d.Layer > 9 {
		return fmt.Errorf("layer %d must be 0 (next to the body) to 9", d.Layer)
	}
	for _, o := range d.Over {
		q := s.find(o)
		if q == nil {
			return fmt.Errorf("over %q is no piece described before this one", clip(o))
		}
		if q.doc.Layer >= d.Layer {
			return fmt.Errorf("layer %d must be above layer %d of %q, which it lies over", d.Layer, q.doc.Layer, o)
		}
		// Pieces side by side on one layer do not add up: the highest stack counts.
		p.beneath = max(p.beneath, q.beneath+geom.MM(q.doc.Thickness))
	}
	p.copies = 1
	if d.Copies != nil {
		p.copies = *d.Copies
	}
	if p.copies < 1 || p.copies > 200 {
		return fmt.Errorf("copies %d must be 1 to 200", p.copies)
	}
	switch Turn(d.Turn) {
	case "":
		d.Turn = string(TurnAny)
	case TurnAny, TurnQuarter, TurnHalf, TurnNone:
	default:
		return fmt.Errorf("turn %q must be any, quarter, half or none", clip(d.Turn))
	}
	if !(d.Lap >= 0 && d.Lap <= 1) {
		return fmt.Errorf("lap %g must be a share from 0 to 1", d.Lap)
	}
	if p.outline == nil {
		return errors.New("the drawing has no element of class outline for it")
	}
	if err := p.place(); err != nil {
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

// place puts the named points onto the outline and resolves the edges.
func (p *part) place() error {
	if err := checkRing(p.outline); err != nil {
		return fmt.Errorf("outline: %w", err)
	}
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
	at := map[string]int{}
	for _, np := range p.points {
		for i, q := range p.outline {
			if i2, ok := at[np.name]; !ok || q.Dist(np.at) < p.outline[i2].Dist(np.at) {
				at[np.name] = i
			}
		}
	}
	p.edges = map[string]edge{}
	for name := range p.doc.Edges {
		p.edgeNames = append(p.edgeNames, name)
	}
	sortStrings(p.edgeNames)
	for _, name := range p.edgeNames {
		ends := p.doc.Edges[name]
		if len(ends) != 2 {
			return fmt.Errorf("edge %q must name two points, its start and its end going counter-clockwise", clip(name))
		}
		for _, e := range ends {
			if _, ok := at[e]; !ok {
				return fmt.Errorf("edge %q: the drawing has no point %q", clip(name), clip(e))
			}
		}
		e := edge{at[ends[0]], at[ends[1]]}
		if e.from == e.to {
			return fmt.Errorf("edge %q has no length", clip(name))
		}
		p.edges[name] = e
	}
	return nil
}

// pointSnap is how far a named point may be drawn off the outline; more is a slip of the mouse.
const pointSnap = 0.5

// insert makes the named point a vertex, so that it survives grading exactly.
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
		return fmt.Errorf("point %q at %s lies %.1f mm off the outline, at most %.1f is allowed", np.name, place(np.at), best, pointSnap)
	}
	if bp.Dist(p.outline[bi]) <= 0.01 || bp.Dist(p.outline[(bi+1)%n]) <= 0.01 {
		return nil // already a vertex
	}
	p.outline = append(p.outline[:bi+1:bi+1], append(geom.Ring{bp}, p.outline[bi+1:]...)...)
	return nil
}

// drive checks the control sections and the length driver.
func (s *Set) drive(p *part) error {
	known := func(k string) error {
		if _, ok := s.Base[k]; !ok {
			return fmt.Errorf("measure %q is not among the set's measures", clip(k))
		}
		return nil
	}
	for i, sd := range p.doc.Sections {
		c := section{at: sd.At, doc: sd, share: 1, measure: sd.Measure}
		if err := known(sd.Measure); err != nil {
			return fmt.Errorf("section %d: %w", i+1, err)
		}
		if sd.Toward != "" {
			if err := known(sd.Toward); err != nil {
				return fmt.Errorf("section %d: toward: %w", i+1, err)
			}
		}
		if sd.Share != nil {
			c.share = *sd.Share
		}
		if strings.HasSuffix(sd.Measure, "-girth") {
			c.turns = c.share
		}
		if sd.Bend != nil {
			c.turns = *sd.Bend
		}
		switch {
		case !(sd.At >= 0 && sd.At <= 1):
			return fmt.Errorf("section %d: at %g must be a share of the piece's length from 0 (bottom) to 1 (top)", i+1, sd.At)
		case i > 0 && !(sd.At > p.doc.Sections[i-1].At):
			return fmt.Errorf("section %d: at %g must be above the section before it", i+1, sd.At)
		case !(c.share > 0 && c.share <= 4):
			return fmt.Errorf("section %d: share %g must be more than 0 and at most 4", i+1, c.share)
		case !(c.turns >= 0 && c.turns <= 4):
			return fmt.Errorf("section %d: bend %g must be a share of a full turn, 0 to 4", i+1, c.turns)
		case !(sd.Part >= 0 && sd.Part <= 1) || (sd.Part > 0 && sd.Toward == ""):
			return fmt.Errorf("section %d: part %g must be 0 to 1 of the way toward a second measure", i+1, sd.Part)
		case !(math.Abs(sd.Ease) <= 500) || !(math.Abs(sd.EasePercent) <= 100):
			return fmt.Errorf("section %d: ease must be at most 500 mm and ease_percent at most 100", i+1)
		}
		p.sections = append(p.sections, c)
		if w := c.width(s.Base, p, s.DrawnK, 0); !(w > 1) {
			return fmt.Errorf("section %d: the base width comes to %.1f mm, it must be more than 1", i+1, w)
		}
	}
	if l := p.doc.Length; l != nil {
		if err := known(l.Measure); err != nil {
			return fmt.Errorf("length: %w", err)
		}
		p.follow = 1
		if l.Follow != nil {
			p.follow = *l.Follow
		}
		if !(p.follow >= 0 && p.follow <= 1) {
			return fmt.Errorf("length: follow %g must be 0 (rigid) to 1 (in proportion)", p.follow)
		}
	}
	return nil
}

func (s *Set) checkHardware() error {
	for i, h := range s.hardware {
		if !validID(h.Kind) {
			return fmt.Errorf("hardware %d: kind %q must be letters, digits and hyphens", i+1, clip(h.Kind))
		}
		if h.Count < 0 || h.Count > 1000 || !(h.Length >= 0 && h.Length <= 10000) || !(h.Share >= 0 && h.Share <= 4) {
			return fmt.Errorf("hardware %q: count must be 0 to 1000, length 0 to 10000 mm, share 0 to 4", h.Kind)
		}
		if h.Count == 0 && h.Length == 0 && h.Share == 0 {
			return fmt.Errorf("hardware %q needs a count or a length", h.Kind)
		}
		if (h.Follow == "") != (h.Share == 0) {
			return fmt.Errorf("hardware %q: follow and share go together", h.Kind)
		}
		if _, ok := s.Base[h.Follow]; h.Follow != "" && !ok {
			return fmt.Errorf("hardware %q: follow %q is not among the set's measures", h.Kind, clip(h.Follow))
		}
	}
	return nil
}
