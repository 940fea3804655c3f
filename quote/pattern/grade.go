package pattern

import (
	"errors"
	"fmt"
	"math"
	"sort"

	"benchbell/quote/geom"
)

// cut is one piece after grading, before it is copied and mirrored.
type cut struct {
	piece  Piece
	length map[string]geom.MM // edge name → length
}

// Grade cuts the set to one body. Grading to BaseFit changes nothing (within 1e-6 mm).
//
// It refuses a fit that lacks a measurement or lies far from the base, and a result whose outlines cross, whose holes
// leave the piece, or whose seams and darts do not match; the error names the piece and the place.
func (s *Set) Grade(f Fit) (Graded, error) {
	if err := s.checkFit(f); err != nil {
		return Graded{}, err
	}
	g := Graded{Set: s.Name, Title: s.Title, Side: f.Side}
	cuts := make([]*cut, len(s.parts))
	for i, p := range s.parts {
		c, notes, err := s.gradePart(p, f)
		if err != nil {
			return Graded{}, fmt.Errorf("piece %q: %w", p.doc.ID, err)
		}
		cuts[i] = c
		g.Notes = append(g.Notes, notes...)
	}
	if err := s.walk(&g, cuts); err != nil {
		return Graded{}, err
	}
	for i, p := range s.parts {
		g.Pieces = append(g.Pieces, copies(p, cuts[i].piece, f.Side == Left)...)
	}
	g.Hardware = s.hardwareFor(f)
	return g, nil
}

func (s *Set) checkFit(f Fit) error {
	switch {
	case s.Sided && f.Side != Left && f.Side != Right:
		return fmt.Errorf("set %q is made for one side of the body: say left or right", s.Name)
	case !s.Sided && f.Side != NoSide:
		return fmt.Errorf("set %q has no side: leave out %q", s.Name, f.Side)
	case !(f.FoamK >= 0 && f.FoamK <= 1):
		return fmt.Errorf("the foam factor %g must lie between 0 and 1", f.FoamK)
	case !(f.Clothing >= 0 && f.Clothing <= 50):
		return fmt.Errorf("clothing of %s beneath is out of range, give its thickness from 0 to 50 mm", f.Clothing)
	}
	for _, k := range s.Measures {
		v, ok := f.Body[k]
		if !ok {
			return fmt.Errorf("set %q needs the measurement %s", s.Name, k)
		}
		if r := float64(v / s.Base[k]); !(r >= 1/maxRatio && r <= maxRatio) {
			return fmt.Errorf("%s of %s is far from the %s this set is drawn for: check the unit and the limb", k, v, s.Base[k])
		}
	}
	return nil
}

func (s *Set) gradePart(p *part, f Fit) (*cut, []string, error) {
	m, err := p.grading(s, f)
	if err != nil {
		return nil, nil, err
	}
	outer, at := m.ring(p.outline)
	notes, err := s.trueDarts(p, outer, at)
	if err != nil {
		return nil, nil, err
	}
	pc := Piece{
		ID: p.doc.ID, Title: p.doc.Title, Copy: 1, Thickness: geom.MM(p.doc.Thickness), Layer: p.doc.Layer,
		Turn: Turn(p.doc.Turn), MayFlip: p.doc.MayFlip, Formed: p.doc.Formed,
		Sealed: p.doc.Sealed == nil || *p.doc.Sealed,
		Shape:  geom.Shape{Outer: outer},
	}
	for _, h := range p.holes {
		r, _ := m.ring(h)
		pc.Shape.Holes = append(pc.Shape.Holes, r)
	}
	for _, h := range p.slots {
		pc.Shape.Holes = append(pc.Shape.Holes, m.rigid(h.Centroid()).all(h))
	}
	for _, d := range p.drills {
		d.At = m(d.At)
		pc.Drills = append(pc.Drills, d)
		pc.Shape.Holes = append(pc.Shape.Holes, d.ring())
	}
	for _, sc := range p.scores {
		pc.Scores = append(pc.Scores, m.line(sc))
	}
	for _, mk := range p.marks {
		if mk.Kind == Seat {
			mk.Path = geom.Path(m.rigid(mk.Path.Bounds().Centre()).all(geom.Ring(mk.Path)))
			for _, q := range mk.Path {
				if !outer.Contains(q) {
					return nil, nil, fmt.Errorf("the seat %q leaves the outline at %s: move it inwards", mk.Label, place(q))
				}
			}
		} else {
			mk.Path = m.line(mk.Path)
		}
		pc.Marks = append(pc.Marks, mk)
	}
	if err := checkShape(pc.Shape); err != nil {
		return nil, nil, err
	}
	c := &cut{piece: pc, length: map[string]geom.MM{}}
	for _, name := range p.edgeNames {
		c.length[name] = run(outer, at, p.edges[name]).Length()
	}
	for _, b := range p.doc.Bevel {
		if b == "all" {
			c.piece.Bevel += outer.Perimeter()
		} else {
			c.piece.Bevel += c.length[b]
		}
	}
	c.piece.Lap = geom.MM2(p.doc.Lap) * pc.Shape.Area()
	return c, notes, nil
}

func (m mapping) all(r geom.Ring) geom.Ring {
	out := make(geom.Ring, len(r))
	for i, q := range r {
		out[i] = m(q)
	}
	return out
}

// ring draws the drill as an inscribed polygon, within FlattenTolerance of the circle.
func (d Drill) ring() geom.Ring {
	r := float64(d.Diameter) / 2
	n := max(12, int(math.Ceil(math.Pi/math.Acos(1-math.Min(1, float64(FlattenTolerance)/r)))))
	out := make(geom.Ring, n)
	for i := range out {
		s, c := geom.SinCosDeg(360 * float64(i) / float64(n))
		out[i] = geom.Pt(d.At.X+r*c, d.At.Y+r*s)
	}
	return out
}

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

// copies makes the numbered copies of a piece: as drawn, then, of a pair, the mirror images; all of them mirrored for
// the left side.
func copies(p *part, pc Piece, left bool) []Piece {
	var out []Piece
	for half := 0; half < 2; half++ {
		if half == 1 && !p.doc.Pair {
			break
		}
		for i := 0; i < p.copies; i++ {
			c := pc
			if left != (half == 1) {
				c = c.mirror()
			} else {
				c = c.clone()
			}
			c.Copy = len(out) + 1
			out = append(out, c)
		}
	}
	return out
}

// moved is the piece carried by a placement, sharing no memory with it.
func (p Piece) moved(t geom.Placement) Piece {
	p.Shape = t.Shape(p.Shape)
	drills := p.Drills
	p.Drills = nil
	for _, d := range drills {
		d.At = t.Apply(d.At)
		p.Drills = append(p.Drills, d)
	}
	scores := p.Scores
	p.Scores = nil
	for _, s := range scores {
		p.Scores = append(p.Scores, t.Path(s))
	}
	marks := p.Marks
	p.Marks = nil
	for _, m := range marks {
		m.Path = t.Path(m.Path)
		p.Marks = append(p.Marks, m)
	}
	return p
}

func (p Piece) clone() Piece { return p.moved(geom.Placement{}) }

// mirror turns the piece over about its own upright middle line, so that it stays where it was drawn.
func (p Piece) mirror() Piece {
	x := p.Shape.Bounds().Centre().X
	out := p.moved(geom.Placement{Mirrored: true, Move: geom.Pt(2*x, 0)})
	out.Mirrored = true
	return out
}

func (s *Set) hardwareFor(f Fit) []Hardware {
	var out []Hardware
	for _, h := range s.hardware {
		if h.Length == 0 && h.Share == 0 {
			out = append(out, Hardware{Kind: h.Kind, Count: h.Count})
			continue
		}
		l := h.Length
		if h.Follow != "" {
			m := float64(f.Body[h.Follow])
			if hasSuffix(h.Follow, "-girth") {
				m += 2 * math.Pi * float64(f.Clothing)
			}
			l += h.Share * m
		}
		out = append(out, Hardware{Kind: h.Kind, Length: geom.MM(l * float64(max(1, h.Count)))})
	}
	return out
}

func hasSuffix(s, suffix string) bool {
	return len(s) >= len(suffix) && s[len(s)-len(suffix):] == suffix
}

func sortStrings(s []string) { sort.Strings(s) }

// holeMargin is the least foam between a cut-out and the edge; less tears out when the edge is bevelled (common
// practice, no source).
const holeMargin geom.MM = 1

// minArea in mm²: smaller rings are slips of the pen.
const minArea geom.MM2 = 1

func checkRing(r geom.Ring) error {
	if len(r) < 3 {
		return errors.New("it has fewer than three corners")
	}
	if _, _, at, ok := r.SelfCrossing(); !ok {
		return fmt.Errorf("it crosses or touches itself at %s, it must be a simple line", place(at))
	}
	if a := r.SignedArea(); !(a >= minArea) {
		return fmt.Errorf("it encloses %.2f mm² at %s, it must enclose an area", float64(a), place(r[0]))
	}
	return nil
}

// checkShape holds what every piece that leaves this package satisfies.
func checkShape(s geom.Shape) error {
	if err := checkRing(s.Outer); err != nil {
		return fmt.Errorf("outline: %w", err)
	}
	for i, h := range s.Holes {
		for _, q := range h {
			if !s.Outer.Contains(q) || s.Outer.DistanceTo(q) < holeMargin {
				return fmt.Errorf("the hole at %s leaves the outline or comes within %s of it: move it inwards", place(h.Centroid()), holeMargin)
			}
		}
		for _, o := range s.Holes[:i] {
			if ringsTouch(h, o) {
				return fmt.Errorf("the holes at %s and %s overlap", place(o.Centroid()), place(h.Centroid()))
			}
		}
	}
	return nil
}

func ringsTouch(a, b geom.Ring) bool {
	if !a.Bounds().Overlaps(b.Bounds()) {
		return false
	}
	for i := range a {
		for j := range b {
			if _, hit := geom.SegmentsMeet(a[i], a[(i+1)%len(a)], b[j], b[(j+1)%len(b)]); hit {
				return true
			}
		}
	}
	return a.Contains(b[0]) || b.Contains(a[0])
}
