package pattern

import (
	"errors"
	"fmt"
	"math"

	"benchbell/quote/foam"
	"benchbell/quote/geom"
)

// workpiece is a piece being graded: from its drawing to one body.
type workpiece struct {
	p      *part
	m      mapping
	outer  geom.Ring
	at     []int       // index in outer of each drawn vertex of the outline
	slots  []geom.Ring // cut-outs, graded holes first
	drills []foam.Drill
	rows   []geom.Path
	scores []geom.Path
	marks  []foam.Mark
	piece  foam.Piece
	length map[string]geom.MM // edge name → length
	rowed  int                // number of holes in rows
}

// Grade cuts the set to one body. Grading to BaseFit changes nothing (within 1e-6 mm).
//
// It refuses a fit that lacks a measurement or is far from the base, and a result whose outlines cross, whose holes leave
// the piece, or whose seams and darts do not match; the error names the piece and the place.
func (s *Set) Grade(f Fit) (foam.Graded, error) {
	if err := s.Suits(f); err != nil {
		return foam.Graded{}, err
	}
	g := foam.Graded{Set: s.Name, Title: s.Title, Side: f.Side, Notes: s.uncertain(f)}
	workpieces := make([]*workpiece, len(s.parts))
	for i, p := range s.parts {
		m, err := p.grading(s, f)
		if err != nil {
			return foam.Graded{}, asIn(s.dxf, inPiece(p.doc.ID, err))
		}
		workpieces[i] = p.start(m)
	}
	t, err := s.trueUp(workpieces)
	if err != nil {
		return foam.Graded{}, err
	}
	g.Notes = append(g.Notes, t.notes...)
	rowHoles := map[string]int{}
	for i, p := range s.parts {
		notes, err := workpieces[i].finish(f)
		if err != nil {
			return foam.Graded{}, asIn(s.dxf, inPiece(p.doc.ID, err))
		}
		g.Notes = append(g.Notes, notes...)
		rowHoles[p.doc.ID] = workpieces[i].rowed * p.physical()
	}
	if err := s.walk(&g, workpieces, t); err != nil {
		return foam.Graded{}, asIn(s.dxf, err)
	}
	for i, p := range s.parts {
		g.Pieces = append(g.Pieces, copies(p, workpieces[i].piece, f.Side == foam.Left)...)
	}
	s.curve(&g, workpieces)
	g.Hardware = s.hardwareFor(f, rowHoles)
	return g, nil
}

// OffScaleError is a measurement too far from the one that a set is drawn for.
type OffScaleError struct {
	Key         string
	Value, Base geom.MM
}

func (e *OffScaleError) Error() string {
	return fmt.Sprintf("%s of %s is far from the %s this set is drawn for: check the unit and the limb", e.Key, e.Value, e.Base)
}

// Range is the least and the most that the measurement can be.
func (e *OffScaleError) Range() (least, most geom.MM) { return e.Base / maxRatio, e.Base * maxRatio }

// Suits reports whether a fit has what the set needs, each value within the range the set can be drawn for; Grade may still
// find that they cannot be met together.
func (s *Set) Suits(f Fit) error {
	switch {
	case s.Sided && f.Side != foam.Left && f.Side != foam.Right:
		return fmt.Errorf("set %q is made for one side of the body; say left or right", s.Name)
	case !s.Sided && f.Side != foam.NoSide:
		return fmt.Errorf("set %q has no sides; leave out %q", s.Name, f.Side)
	case !(f.FoamK >= 0 && f.FoamK <= 1):
		return fmt.Errorf("the foam factor %g must lie between 0 and 1", f.FoamK)
	case !(f.Clothing >= 0 && f.Clothing <= 50):
		return fmt.Errorf("clothing of %s is out of range; give its thickness, from 0 to 50 mm", f.Clothing)
	case !(f.Allowance >= 0 && f.Allowance <= 100):
		return fmt.Errorf("a mock-up allowance of %s is out of range; give 0 to 100 mm", f.Allowance)
	}
	for _, t := range f.Tools {
		if !(t.Diameter > 0 && t.Diameter <= 200) {
			return fmt.Errorf("tool %q: a diameter of %s is out of range; give more than 0 and at most 200 mm", clip(t.Name), t.Diameter)
		}
	}
	for _, k := range s.Measures {
		if sd := f.Uncertain[k]; !(sd >= 0 && sd <= 100) {
			return fmt.Errorf("%s: a standard deviation of %s is out of range; give 0 to 100 mm", k, sd)
		}
		v, ok := f.Body[k]
		if !ok {
			return fmt.Errorf("set %q needs the measurement %s", s.Name, k)
		}
		if r := float64(v / s.Base[k]); !(r >= 1/maxRatio && r <= maxRatio) {
			return &OffScaleError{Key: k, Value: v, Base: s.Base[k]}
		}
	}
	return nil
}

// start puts the drawing of the piece through its mapping.
func (p *part) start(m mapping) *workpiece {
	w := &workpiece{p: p, m: m}
	w.outer, w.at = m.ring(p.outline)
	for _, h := range p.holes {
		r, _ := m.ring(h)
		w.slots = append(w.slots, r)
	}
	for _, h := range p.slots {
		w.slots = append(w.slots, m.rigid(h.Centroid()).all(h))
	}
	for _, d := range p.drills {
		d.At = m(d.At)
		w.drills = append(w.drills, d)
	}
	for _, r := range p.rows {
		w.rows = append(w.rows, m.line(r.path))
	}
	for _, sc := range p.scores {
		w.scores = append(w.scores, m.line(sc))
	}
	for _, mk := range p.marks {
		if mk.Kind == foam.Seat {
			mk.Path = geom.Path(m.rigid(mk.Path.Bounds().Centre()).all(geom.Ring(mk.Path)))
		} else {
			mk.Path = m.line(mk.Path)
		}
		w.marks = append(w.marks, mk)
	}
	return w
}

// finish completes the piece after grading and truing: it places the holes, measures, and checks.
func (w *workpiece) finish(f Fit) ([]string, error) {
	p := w.p
	var notes []string
	for i, r := range p.rows {
		holes, drawn := r.holes(w.rows[i]), r.holes(r.path)
		if len(holes) != len(drawn) {
			notes = append(notes, fmt.Sprintf("piece %s: a row of %d holes became %d, to keep them about %s apart", p.doc.ID, len(drawn), len(holes), r.pitch))
		}
		w.drills = append(w.drills, holes...)
		w.rowed += len(holes)
	}
	drilled, cut, snapped, err := p.snap(w.drills, f.Tools)
	if err != nil {
		return nil, err
	}
	w.drills, notes = drilled, append(notes, snapped...)
	for _, d := range cut {
		w.slots = append(w.slots, drillRing(d))
	}
	fn := newFence(w.outer)
	if err := checkFence(fn); err != nil {
		return nil, inOutline(err)
	}
	if err := p.bridges(fn, w.slots, w.drills); err != nil {
		return nil, err
	}
	for _, mk := range w.marks {
		if mk.Kind != foam.Seat {
			continue
		}
		for _, q := range mk.Path {
			if !fn.contains(q) {
				return nil, fault(q, []geom.Path{mk.Path}, "the seat %q extends beyond the outline at %s: move it inwards", mk.Label, place(q))
			}
		}
	}
	w.piece = foam.Piece{
		ID: p.doc.ID, Title: p.doc.Title, Copy: 1, Thickness: geom.MM(p.doc.Thickness), Layer: p.doc.Layer,
		Turn: geom.Turn(p.doc.Turn), MayFlip: p.doc.MayFlip, Formed: p.doc.Formed,
		Sealed: p.doc.Sealed == nil || *p.doc.Sealed, Worn: p.worn,
		Shape:  geom.Shape{Outer: w.outer, Holes: w.slots},
		Drills: w.drills, Scores: w.scores, Marks: w.marks,
	}
	for _, d := range w.drills {
		w.piece.Shape.Holes = append(w.piece.Shape.Holes, drillRing(d))
	}
	w.length = map[string]geom.MM{}
	for _, name := range p.edgeNames {
		w.length[name] = w.edge(name).Length()
	}
	for _, b := range p.doc.Bevel {
		if b == "all" {
			w.piece.Bevel += w.outer.Perimeter()
		} else {
			w.piece.Bevel += w.length[b]
		}
	}
	w.piece.Lap = geom.MM2(p.doc.Lap) * w.piece.Shape.Area()
	return notes, nil
}

// edge is a named edge of the graded outline.
func (w *workpiece) edge(name string) geom.Path { return run(w.outer, w.at, w.p.edges[name]) }

// run is the polyline of an edge on a graded ring.
func run(r geom.Ring, at []int, e edge) geom.Path {
	var out geom.Path
	for i := at[e.from]; ; i = (i + 1) % len(r) {
		out = append(out, r[i])
		if i == at[e.to] {
			return out
		}
	}
}

// minArea in mm²: smaller rings are drawing mistakes.
const minArea geom.MM2 = 1

// checkRing checks what must hold for every ring of a drawing: it is simple, counter-clockwise and has an area.
func checkRing(r geom.Ring) error {
	if len(r) < 3 {
		return errors.New("it has fewer than three corners")
	}
	return checkFence(newFence(r))
}

func checkFence(f *fence) error {
	if flat(f.ring) {
		return fault(f.ring[0], nil, "it encloses no area at %s because its corners lie on one line; draw it around the foam to be cut", place(f.ring[0]))
	}
	at, crosses, err := f.crossing()
	if err != nil {
		return err
	}
	if crosses {
		return fault(at, nil, "it crosses or touches itself at %s; it must be a simple line", place(at))
	}
	if a := f.ring.SignedArea(); !(a >= minArea) {
		return fault(f.ring[0], nil, "it encloses only %.2f mm² at %s; it must enclose an area", float64(a), place(f.ring[0]))
	}
	return nil
}

// flat reports whether the ring's corners lie on one line. Such a ring also touches itself, but that is not what its maker
// would look for.
func flat(r geom.Ring) bool {
	var swept float64 // unsigned, so that the two halves of a figure eight do not cancel
	for i := 2; i < len(r); i++ {
		swept += math.Abs(r[i-1].Sub(r[0]).Cross(r[i].Sub(r[0]))) / 2
	}
	return geom.MM2(swept) < minArea
}

// inOutline says that the faulty ring is the piece's outline.
func inOutline(err error) error {
	var f *Fault
	if errors.As(err, &f) && err == error(f) {
		g := *f
		g.What = "outline: " + g.What
		return &g
	}
	return fmt.Errorf("outline: %w", err)
}
