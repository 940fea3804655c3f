package pattern

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"benchbell/quote/foam"
	"benchbell/quote/geom"
)

// seamRule is a seam or a dart of the spec sheet, resolved.
type seamRule struct {
	name               string
	a, b               *part
	edgeA, edgeB       string
	dart               bool
	trued, loose       bool // loose edges are walked but not glued
	sameWay            bool // the edges run the same way, so start meets start
	count              int
	least, most        float64 // degrees, of a dart
	notchesA, notchesB []touch
}

// self reports whether an edge is joined to its own mirror image.
func (r seamRule) self() bool { return r.a == r.b && r.edgeA == r.edgeB }

// Tolerances of joined edges.
const (
	// SeamTolerance is how much two joined edges may differ: contact cement and the give of the foam take up 2 mm (common
	// practice, no source).
	SeamTolerance geom.MM = 2
	// truedShare is how much of its length a seam marked as trued may differ and still be eased in by hand (common
	// practice, no source).
	truedShare = 0.04
	// dartDrawn: the legs of a dart must be drawn equal to within this, and only a larger difference is trued after
	// grading.
	dartDrawn geom.MM = 0.1
	// dartTruedShare is the most the legs of a dart may differ, as a share of their mean, and still be trued: each moves by
	// half of it along its own line. More would change the effect of the dart (common practice, no source).
	dartTruedShare = 0.2
)

func (s *Set) edgeRef(ref string) (*part, string, error) {
	id, name, ok := strings.Cut(ref, ".")
	p := s.find(id)
	if !ok || p == nil {
		return nil, "", fmt.Errorf("%q must be a piece and an edge, such as \"shell.left\"", clip(ref))
	}
	if _, ok := p.edges[name]; !ok {
		return nil, "", fmt.Errorf("piece %q has no edge %q", id, clip(name))
	}
	return p, name, nil
}

func (p *part) physical() int {
	if p.doc.Pair {
		return 2 * p.copies
	}
	return p.copies
}

// joinSeams resolves seams and darts and checks that each can be walked.
func (s *Set) joinSeams(doc setDoc) error {
	for i, d := range doc.Seams {
		r := seamRule{name: d.Name, trued: d.Trued, loose: d.Loose, sameWay: d.SameWay}
		var err error
		if r.a, r.edgeA, err = s.edgeRef(d.A); err != nil {
			return fmt.Errorf("seam %d (%q): a: %w", i+1, clip(d.Name), err)
		}
		if r.b, r.edgeB, err = s.edgeRef(d.B); err != nil {
			return fmt.Errorf("seam %d (%q): b: %w", i+1, clip(d.Name), err)
		}
		r.count = min(r.a.physical(), r.b.physical())
		if r.self() {
			if !r.a.doc.Pair {
				return fmt.Errorf("seam %d (%q): an edge can be joined to itself only if the piece is a pair", i+1, clip(d.Name))
			}
			r.count = r.a.copies
		}
		if d.Count != nil {
			r.count = *d.Count
		}
		if r.name == "" || r.count < 1 || r.count > 400 {
			return fmt.Errorf("seam %d (%q): give it a name and a count from 1 to 400", i+1, clip(d.Name))
		}
		if err := r.findNotches(); err != nil {
			return fmt.Errorf("seam %d (%q): %w", i+1, clip(d.Name), err)
		}
		s.seams = append(s.seams, r)
	}
	for i, d := range doc.Darts {
		r := seamRule{name: d.Name, dart: true}
		var err error
		if r.a, r.edgeA, err = s.edgeRef(d.A); err != nil {
			return fmt.Errorf("dart %d (%q): a: %w", i+1, clip(d.Name), err)
		}
		if r.b, r.edgeB, err = s.edgeRef(d.B); err != nil {
			return fmt.Errorf("dart %d (%q): b: %w", i+1, clip(d.Name), err)
		}
		if r.a != r.b || r.edgeA == r.edgeB {
			return fmt.Errorf("dart %d (%q): its legs must be two edges of the same piece", i+1, clip(d.Name))
		}
		if _, ok := r.tip(); !ok {
			return fmt.Errorf("dart %d (%q): leg a must end, counter-clockwise, at the tip, where leg b starts", i+1, clip(d.Name))
		}
		r.count = r.a.physical()
		if r.name == "" {
			return fmt.Errorf("dart %d has no name; give it one", i+1)
		}
		if err := r.setRange(d); err != nil {
			return fmt.Errorf("dart %d (%q): %w", i+1, clip(d.Name), err)
		}
		s.seams = append(s.seams, r)
	}
	return nil
}

// tip is the vertex where a dart's legs meet: leg a runs into it, leg b out of it.
func (r seamRule) tip() (int, bool) {
	a, b := r.a.edges[r.edgeA], r.a.edges[r.edgeB]
	return a.to, a.to == b.from
}

var errSeam = errors.New("joined edges must match within 2 mm")

// walk measures every seam on the graded pieces, refuses those that do not match and adds up the length of each piece's
// glue line.
func (s *Set) walk(g *foam.Graded, workpieces []*workpiece, t *truing) error {
	glued := map[string]bool{}
	for i, r := range s.seams {
		wa, wb := workpieces[r.a.index], workpieces[r.b.index]
		la, lb := wa.length[r.edgeA], wb.length[r.edgeB]
		if diff := apart(la, lb); diff > SeamTolerance || r.dart && diff > dartDrawn {
			return fmt.Errorf("seam %q: edge %s.%s is %s but edge %s.%s is %s: %w", r.name, r.a.doc.ID, r.edgeA, la, r.b.doc.ID, r.edgeB, lb, errSeam)
		}
		if err := r.meet(wa, wb); err != nil {
			return fmt.Errorf("seam %q: %w", r.name, err)
		}
		sm := foam.Seam{
			Name: r.name, PieceA: r.a.doc.ID, PieceB: r.b.doc.ID, LengthA: la, LengthB: lb,
			Thickness: geom.MM(math.Min(r.a.doc.Thickness, r.b.doc.Thickness)), Count: r.count, Dart: r.dart,
			Notches: len(r.notchesA), PathA: wa.edge(r.edgeA), PathB: wb.edge(r.edgeB),
		}
		if len(r.notchesB) == 0 && !r.self() {
			sm.Notches = 0
		}
		if b, ok := t.before[i]; ok {
			sm.BeforeA, sm.BeforeB, sm.Trued = b[0], b[1], apart(b[0], b[1])
		}
		if r.loose {
			g.Loose = append(g.Loose, sm)
			continue
		}
		for _, e := range []struct {
			w    *workpiece
			name string
			l    geom.MM
		}{{wa, r.edgeA, la}, {wb, r.edgeB, lb}} {
			if key := e.w.p.doc.ID + "." + e.name; !glued[key] {
				glued[key] = true
				e.w.piece.Glue += e.l
			}
		}
		g.Seams = append(g.Seams, sm)
	}
	return nil
}

func apart(a, b geom.MM) geom.MM { return geom.MM(math.Abs(float64(a - b))) }
