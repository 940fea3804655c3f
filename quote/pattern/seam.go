package pattern

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"benchbell/quote/geom"
)

// Tolerances of mated edges.
const (
	// SeamTolerance is how much two mated edges may differ: contact cement and foam's give take up 2 mm
	// (common practice, no source).
	SeamTolerance geom.MM = 2
	// truedShare is how much of its length a seam that is marked as trued may differ and still be eased in by hand
	// (common practice, no source).
	truedShare = 0.04
	// dartDrawn: legs of a dart are drawn this equal, and only a larger difference is trued after grading.
	dartDrawn geom.MM = 0.1
	// dartTruedShare is the most that the legs of a dart may differ, of their mean, and still be trued: each moves by
	// half of it along its own line. More would change what the dart does (common practice, no source).
	dartTruedShare = 0.2
)

func (s *Set) edgeRef(ref string) (*part, string, error) {
	id, name, ok := strings.Cut(ref, ".")
	p := s.find(id)
	if !ok || p == nil {
		return nil, "", fmt.Errorf("%q must be a piece and an edge, as in \"shell.left\"", clip(ref))
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

// joinSeams resolves seams and darts and checks that every one can be walked.
func (s *Set) joinSeams(doc setDoc) error {
	for i, d := range doc.Seams {
		r := seamRule{name: d.Name, trued: d.Trued, loose: d.Loose}
		var err error
		if r.a, r.edgeA, err = s.edgeRef(d.A); err != nil {
			return fmt.Errorf("seam %d (%q): a: %w", i+1, clip(d.Name), err)
		}
		if r.b, r.edgeB, err = s.edgeRef(d.B); err != nil {
			return fmt.Errorf("seam %d (%q): b: %w", i+1, clip(d.Name), err)
		}
		r.count = min(r.a.physical(), r.b.physical())
		if r.a == r.b && r.edgeA == r.edgeB {
			if !r.a.doc.Pair {
				return fmt.Errorf("seam %d (%q): an edge can be joined to itself only where the piece is a pair", i+1, clip(d.Name))
			}
			r.count = r.a.copies
		}
		if d.Count != nil {
			r.count = *d.Count
		}
		if r.name == "" || r.count < 1 || r.count > 400 {
			return fmt.Errorf("seam %d (%q): it needs a name and a count of 1 to 400", i+1, clip(d.Name))
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
			return fmt.Errorf("dart %d (%q): its legs must be two edges of one piece", i+1, clip(d.Name))
		}
		if _, ok := r.tip(); !ok {
			return fmt.Errorf("dart %d (%q): leg a must end, counter-clockwise, at the tip where leg b begins", i+1, clip(d.Name))
		}
		r.count = r.a.physical()
		if r.name == "" {
			return fmt.Errorf("dart %d needs a name", i+1)
		}
		s.seams = append(s.seams, r)
	}
	return nil
}

// tip is the vertex at which a dart's legs meet: leg a runs into it, leg b out of it.
func (r seamRule) tip() (int, bool) {
	a, b := r.a.edges[r.edgeA], r.a.edges[r.edgeB]
	return a.to, a.to == b.from
}

// trueDarts makes the legs of each dart equal by sharing the difference: each leg is scaled about the tip to the mean
// length, and the outline beyond its mouth is faired into the new place. The outline is changed in place. Legs drawn
// equal stay as they are when nothing is graded.
func (s *Set) trueDarts(p *part, outer geom.Ring, at []int) ([]string, error) {
	var notes []string
	for _, r := range s.seams {
		if !r.dart || r.a != p {
			continue
		}
		ea, eb := p.edges[r.edgeA], p.edges[r.edgeB]
		la, lb := run(outer, at, ea).Length(), run(outer, at, eb).Length()
		diff := geom.MM(math.Abs(float64(la - lb)))
		if diff <= dartDrawn {
			continue
		}
		mean := float64(la+lb) / 2
		if float64(diff) > dartTruedShare*mean {
			return nil, fmt.Errorf("the legs of dart %q come to %s and %s, truing shares at most %s: check the measurements that drive its ends", r.name, la, lb, geom.MM(dartTruedShare*mean))
		}
		tip := outer[at[ea.to]]
		ka, kb := mean/float64(la), mean/float64(lb)
		ends := p.edgeEnds(at)
		// Leg a is left backwards at its mouth, leg b forwards; the outline beyond follows the moved mouth.
		fair(outer, at[ea.from], -1, tip.Sub(outer[at[ea.from]]).Mul(1-ka), ends)
		fair(outer, at[eb.to], 1, tip.Sub(outer[at[eb.to]]).Mul(1-kb), ends)
		shrink(outer, at[ea.from], at[ea.to], tip, ka)
		shrink(outer, at[eb.from], at[eb.to], tip, kb)
		notes = append(notes, fmt.Sprintf("piece %s: legs of dart %q differed by %s and were trued to %s each", p.doc.ID, r.name, diff, geom.MM(mean)))
	}
	return notes, nil
}

// shrink scales the vertices from one to another, counter-clockwise, about the tip.
func shrink(r geom.Ring, from, to int, tip geom.Point, k float64) {
	for i := from; ; i = (i + 1) % len(r) {
		r[i] = tip.Add(r[i].Sub(tip).Mul(k))
		if i == to {
			return
		}
	}
}

// fairPerMove: a moved dart mouth is faded out along its neighbouring edge over this many times the move, at most to
// the next named point; a shorter fade shows as a jog, a longer one changes the edge (common practice, no source).
const fairPerMove = 12

// fair carries the move of the mouth at vertex i into the outline beyond it (step ±1), smoothly down to nothing.
func fair(r geom.Ring, i, step int, move geom.Point, ends map[int]bool) {
	n := len(r)
	reach := fairPerMove * move.Norm()
	var beyond []int
	var dist []float64
	d := 0.0
	for j, prev := (i+step+n)%n, i; j != i; prev, j = j, (j+step+n)%n {
		d += r[j].Dist(r[prev])
		if ends[j] {
			reach = math.Min(reach, d)
		}
		if d >= reach {
			break
		}
		beyond, dist = append(beyond, j), append(dist, d)
	}
	for k, j := range beyond {
		r[j] = r[j].Add(move.Mul((1 + math.Cos(math.Pi*dist[k]/reach)) / 2))
	}
}

// edgeEnds is the graded vertices at which a named edge begins or ends.
func (p *part) edgeEnds(at []int) map[int]bool {
	out := map[int]bool{}
	for _, e := range p.edges {
		out[at[e.from]], out[at[e.to]] = true, true
	}
	return out
}

var errSeam = errors.New("mated edges must match within 2 mm")

// walk measures every seam on the graded pieces, refuses those that do not match and adds up each piece's glue line.
func (s *Set) walk(g *Graded, cuts []*cut) error {
	of := map[*part]*cut{}
	for i, p := range s.parts {
		of[p] = cuts[i]
	}
	glued := map[string]bool{}
	for _, r := range s.seams {
		la, lb := of[r.a].length[r.edgeA], of[r.b].length[r.edgeB]
		diff := geom.MM(math.Abs(float64(la - lb)))
		switch {
		case diff <= SeamTolerance:
		case r.trued && float64(diff) <= truedShare*float64(max(la, lb)):
			g.Notes = append(g.Notes, fmt.Sprintf("seam %q: edges of %s and %s differ by %s, share it evenly along the seam", r.name, la, lb, diff))
		default:
			return fmt.Errorf("seam %q: edge %s.%s is %s and edge %s.%s is %s: %w", r.name, r.a.doc.ID, r.edgeA, la, r.b.doc.ID, r.edgeB, lb, errSeam)
		}
		if r.loose {
			continue
		}
		for _, e := range []struct {
			p    *part
			name string
			l    geom.MM
		}{{r.a, r.edgeA, la}, {r.b, r.edgeB, lb}} {
			if key := e.p.doc.ID + "." + e.name; !glued[key] {
				glued[key] = true
				of[e.p].piece.Glue += e.l
			}
		}
		g.Seams = append(g.Seams, Seam{
			Name: r.name, PieceA: r.a.doc.ID, PieceB: r.b.doc.ID, LengthA: la, LengthB: lb,
			Thickness: geom.MM(math.Min(r.a.doc.Thickness, r.b.doc.Thickness)), Count: r.count, Dart: r.dart,
		})
	}
	return nil
}
