package pattern

import (
	"errors"
	"fmt"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"benchbell/quote/foam"
	"benchbell/quote/geom"
)

// The keys of the spec sheet. Lengths are millimetres, shares are fractions of one.
type setDoc struct {
	Name       string             `toml:"name"`
	Title      string             `toml:"title"`
	Kind       string             `toml:"kind"`
	Summary    string             `toml:"summary"`
	Region     string             `toml:"region"`
	Sided      bool               `toml:"sided"`
	Assembly   string             `toml:"assembly"`
	DrawnK     *float64           `toml:"drawn_k"`
	Gap        *float64           `toml:"gap"`
	Measures   []string           `toml:"measures"`
	Base       map[string]float64 `toml:"base"`
	Operations []string           `toml:"operations"`
	Finishes   []string           `toml:"finishes"`
	Cautions   []string           `toml:"cautions"`
	Pieces     []pieceDoc         `toml:"piece"`
	Seams      []seamDoc          `toml:"seam"`
	Darts      []dartDoc          `toml:"dart"`
	Domes      []domeDoc          `toml:"dome"`
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
	Region    string              `toml:"region"`
	Facing    float64             `toml:"facing"`
	Height    *float64            `toml:"height"`
	Frame     string              `toml:"frame"`
	Hold      string              `toml:"hold"`
	Closed    bool                `toml:"closed"`
	Bridge    *float64            `toml:"bridge"`
	Bevel     []string            `toml:"bevel"`
	Formed    bool                `toml:"formed"`
	Sealed    *bool               `toml:"sealed"`
	Lap       float64             `toml:"lap"`
	Edges     map[string][]string `toml:"edges"`
	Length    *lengthDoc          `toml:"length"`
	Sections  []sectionDoc        `toml:"section"`
	Rows      []rowDoc            `toml:"row"`
}

type lengthDoc struct {
	Measure  string   `toml:"measure"`
	Measures []string `toml:"measures"`
	Follow   *float64 `toml:"follow"`
	Share    *float64 `toml:"share"`
	Ease     float64  `toml:"ease"`
	Bend     float64  `toml:"bend"`
}

type sectionDoc struct {
	At          float64  `toml:"at"`
	Measure     string   `toml:"measure"`
	Toward      string   `toml:"toward"`
	Part        float64  `toml:"part"`
	Share       *float64 `toml:"share"`
	Profile     *float64 `toml:"profile"`
	Ease        float64  `toml:"ease"`
	EasePercent float64  `toml:"ease_percent"`
	Bend        *float64 `toml:"bend"`
}

type rowDoc struct {
	Line     string  `toml:"line"`
	Diameter float64 `toml:"diameter"`
	Pitch    float64 `toml:"pitch"`
	Inset    float64 `toml:"inset"`
}

type seamDoc struct {
	Name    string `toml:"name"`
	A       string `toml:"a"`
	B       string `toml:"b"`
	Trued   bool   `toml:"trued"`
	Loose   bool   `toml:"loose"`
	SameWay bool   `toml:"same_way"`
	Count   *int   `toml:"count"`
}

type dartDoc struct {
	Name  string   `toml:"name"`
	A     string   `toml:"a"`
	B     string   `toml:"b"`
	Least *float64 `toml:"least"`
	Most  *float64 `toml:"most"`
}

type domeDoc struct {
	Name   string   `toml:"name"`
	Pieces []string `toml:"pieces"`
	Apex   string   `toml:"apex"`
}

type hardwareDoc struct {
	Kind   string   `toml:"kind"`
	Count  int      `toml:"count"`
	Length float64  `toml:"length"`
	Follow string   `toml:"follow"`
	Share  float64  `toml:"share"`
	Rows   []string `toml:"rows"`
}

// Set is a parsed pattern set; it never changes after Parse and may be graded from many goroutines at once.
type Set struct {
	Name       string
	Title      string
	Kind       string      // "armour" or "prop"
	Summary    string      // one or two sentences for a client
	Region     foam.Region // where it is worn; empty if not given
	Sided      bool        // left and right differ; the drawing is for the right
	Assembly   string      // what the finished thing is called on the bench
	DrawnK     float64
	Measures   []string // keys of the measurements needed, in asking order
	Base       map[string]geom.MM
	Operations []string // labour operations in working order
	Finishes   []string
	Cautions   []string
	Notes      []string // what was skipped, assumed or repaired when the drawing was read

	dxf      bool // the drawing was a DXF
	parts    []*part
	seams    []seamRule
	domes    []domeRule
	hardware []hardwareDoc
	base     Fit // BaseFit without a side
}

var (
	operations = []string{"cut", "bevel", "score", "form", "glue", "layer", "punch", "seal", "prime", "paint", "clear", "hardware", "fit"}
	finishes   = []string{"primed", "painted", "weathered"}
	regions    = []string{"head", "neck", "shoulder", "upper-arm", "forearm", "hand", "chest", "waist", "hip", "thigh", "shin", "foot", "carried"}
)

// maxGap in mm: an outline open by more is not an accident.
const maxGap = 5.0

// Parse reads a set from its drawing, SVG or DXF by content, and its spec sheet. Errors name the line and key, or the piece
// and the place (mm, y up, from an SVG's lower left corner or a DXF's zero point). One that a picture can mark is a *Fault,
// one to be fixed in the spec sheet a *SpecError.
func Parse(data, spec []byte) (*Set, error) {
	doc, err := readSpec(spec)
	if err != nil {
		return nil, &SpecError{err}
	}
	gap := gapDefault
	if doc.Gap != nil {
		gap = *doc.Gap
	}
	if !(gap >= 0 && gap <= maxGap) {
		return nil, &SpecError{fmt.Errorf("gap %g must be from 0 to %g mm", gap, maxGap)}
	}
	var ids []string
	for _, p := range doc.Pieces {
		ids = append(ids, p.ID)
	}
	r, err := readDrawing(data, gap, ids)
	if err != nil {
		return nil, err
	}
	s := &Set{
		Name: doc.Name, Title: doc.Title, Kind: doc.Kind, Summary: doc.Summary, Region: foam.Region(doc.Region), Sided: doc.Sided,
		Assembly: doc.Assembly, Measures: doc.Measures, Operations: doc.Operations, Finishes: doc.Finishes, Cautions: doc.Cautions,
		Notes: r.notes, dxf: r.dxf, Base: map[string]geom.MM{}, hardware: doc.Hardware, DrawnK: 0.5,
	}
	for _, step := range []func() error{
		func() error { return s.head(doc) },
		func() error { return s.join(doc, r.pieces) },
		func() error { return s.joinSeams(doc) },
		func() error { return s.joinDomes(doc) },
		s.checkHardware,
	} {
		if err := step(); err != nil {
			var f *Fault
			if errors.As(err, &f) {
				return nil, asIn(r.dxf, err) // a place in the drawing
			}
			return nil, &SpecError{err}
		}
	}
	// A set that cannot be graded to its own base is refused here, not when the first client orders it.
	if _, err := s.Grade(s.BaseFit(s.DrawnSide())); err != nil {
		return nil, fmt.Errorf("set %q as drawn: %w", s.Name, err)
	}
	return s, nil
}

// DrawnSide is the side the set is drawn for: the right, or none.
func (s *Set) DrawnSide() foam.Side {
	if s.Sided {
		return foam.Right
	}
	return foam.NoSide
}

// BaseFit is the fit that the set was drawn for: its own base measurements, its own neutral line, no clothing.
func (s *Set) BaseFit(side foam.Side) Fit {
	body := make(map[string]geom.MM, len(s.Base))
	for k, v := range s.Base {
		body[k] = v
	}
	return Fit{Body: body, Side: side, FoamK: s.DrawnK}
}

// maxSpecBytes bounds the spec sheet; a large hand-made one stays far below.
const maxSpecBytes = 1 << 20

func readSpec(data []byte) (setDoc, error) {
	var doc setDoc
	if len(data) > maxSpecBytes {
		return doc, fmt.Errorf("the spec sheet has %d bytes; the limit is %d", len(data), maxSpecBytes)
	}
	dec := toml.NewDecoder(strings.NewReader(string(data)))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&doc); err != nil {
		return doc, specError(err)
	}
	return doc, nil
}

// head checks everything outside the pieces.
func (s *Set) head(doc setDoc) error {
	if !validID(s.Name) || s.Name != strings.ToLower(s.Name) {
		return fmt.Errorf("name %q may contain only lower-case letters, digits and hyphens", clip(s.Name))
	}
	for _, f := range []struct{ key, v string }{{"title", s.Title}, {"summary", s.Summary}, {"assembly", s.Assembly}} {
		if strings.TrimSpace(f.v) == "" {
			return fmt.Errorf("%s is empty; write something a client can read", f.key)
		}
	}
	if s.Kind != "armour" && s.Kind != "prop" {
		return fmt.Errorf("kind %q must be \"armour\" or \"prop\"", clip(s.Kind))
	}
	if err := checkRegion(doc.Region); err != nil {
		return err
	}
	if doc.DrawnK != nil {
		s.DrawnK = *doc.DrawnK
	}
	if !(s.DrawnK >= 0 && s.DrawnK <= 1) {
		return fmt.Errorf("drawn_k %g must be between 0 and 1", s.DrawnK)
	}
	if err := s.headBase(doc); err != nil {
		return err
	}
	last := -1
	for _, op := range s.Operations {
		i := index(operations, op)
		if i <= last {
			return fmt.Errorf("operation %q is unknown, listed twice or out of order; the order is %s", clip(op), strings.Join(operations, " "))
		}
		last = i
	}
	if last < 0 {
		return errors.New("operations is empty; it must have at least \"cut\"")
	}
	for _, f := range s.Finishes {
		if index(finishes, f) < 0 {
			return fmt.Errorf("finish %q must be one of %s", clip(f), strings.Join(finishes, " "))
		}
	}
	if len(s.Finishes) == 0 {
		return errors.New("finishes is empty; it must have at least one of " + strings.Join(finishes, " "))
	}
	return nil
}

// headBase checks the measurements and the body the set is drawn for.
func (s *Set) headBase(doc setDoc) error {
	seen := map[string]bool{}
	for _, k := range s.Measures {
		v, ok := doc.Base[k]
		switch {
		case seen[k]:
			return fmt.Errorf("measures lists %q twice; list it once", clip(k))
		case !ok:
			return fmt.Errorf("base has no value for %q, which measures lists", clip(k))
		case !(v > 0 && v <= 3000):
			return fmt.Errorf("base %q is %g; it must be more than 0 and at most 3000 mm", k, v)
		}
		seen[k] = true
		s.Base[k] = geom.MM(v)
	}
	if len(doc.Base) != len(s.Measures) {
		return errors.New("base and measures must have the same keys")
	}
	s.base = s.BaseFit(foam.NoSide)
	return nil
}

func checkRegion(r string) error {
	if r != "" && index(regions, r) < 0 {
		return fmt.Errorf("region %q must be one of %s", clip(r), strings.Join(regions, ", "))
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
