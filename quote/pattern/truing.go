package pattern

import (
	"fmt"
	"math"

	"benchbell/quote/foam"
	"benchbell/quote/geom"
)

// truing is the result of truing the seams and darts of one grade.
type truing struct {
	before map[int][2]geom.MM // by number of the seam: both lengths as graded
	notes  []string
}

// truingPasses bounds the rounds: edges that share a corner disturb each other, and settle within a few rounds.
const truingPasses = 12

// truedTo is how close to equal two trued edges must be: a tenth of a knife's width.
const truedTo geom.MM = 0.05

// trueUp makes the legs of darts and the edges of seams marked as trued equal, and moves what lies near them along. Edges
// that match within the tolerance stay exactly as graded.
func (s *Set) trueUp(workpieces []*workpiece) (*truing, error) {
	t := &truing{before: map[int][2]geom.MM{}}
	drawn := make([]geom.Ring, len(workpieces)) // outlines as graded, of pieces that were reshaped
	for range truingPasses {
		moved := false
		for i, r := range s.seams {
			if r.self() || !r.dart && !r.trued {
				continue
			}
			wa, wb := workpieces[r.a.index], workpieces[r.b.index]
			la, lb := wa.edge(r.edgeA).Length(), wb.edge(r.edgeB).Length()
			_, open := t.before[i]
			switch diff := apart(la, lb); {
			case open && diff <= truedTo, !open && r.dart && diff <= dartDrawn, !open && !r.dart && diff <= SeamTolerance:
				continue
			}
			if !open {
				if err := r.mayBeTrued(la, lb); err != nil {
					return nil, err
				}
				t.before[i] = [2]geom.MM{la, lb}
			}
			for _, w := range []*workpiece{wa, wb} {
				if drawn[w.p.index] == nil {
					drawn[w.p.index] = append(geom.Ring(nil), w.outer...)
				}
			}
			moved = true
			if r.dart {
				r.trueDart(wa, la, lb)
				continue
			}
			ka, kb := r.shares(la, lb)
			s.stretch(wa, r.edgeA, ka)
			s.stretch(wb, r.edgeB, kb)
		}
		if !moved {
			break
		}
	}
	for i, w := range workpieces {
		if drawn[i] != nil {
			w.follow(drawn[i])
		}
	}
	for i, r := range s.seams {
		b, ok := t.before[i]
		if !ok {
			continue
		}
		wa, wb := workpieces[r.a.index], workpieces[r.b.index]
		to := (wa.edge(r.edgeA).Length() + wb.edge(r.edgeB).Length()) / 2
		if r.dart {
			t.notes = append(t.notes, fmt.Sprintf("piece %s: the legs of dart %q differed by %s and were trued to %s each", r.a.doc.ID, r.name, apart(b[0], b[1]), to))
			continue
		}
		t.notes = append(t.notes, fmt.Sprintf("seam %q: the edges of %s and %s were trued to %s each", r.name, b[0], b[1], to))
		r.slideNotches(wa, wb)
	}
	return t, nil
}

// mayBeTrued refuses a difference that is too large to be shared.
func (r seamRule) mayBeTrued(la, lb geom.MM) error {
	diff := float64(apart(la, lb))
	if r.dart {
		if mean := float64(la+lb) / 2; diff > dartTruedShare*mean {
			return inPiece(r.a.doc.ID, fmt.Errorf("the legs of dart %q come to %s and %s; truing can share at most %s: check the measurements that drive its ends", r.name, la, lb, geom.MM(dartTruedShare*mean)))
		}
		return nil
	}
	if r.a.frame == frameFixed && r.b.frame == frameFixed {
		return fmt.Errorf("seam %q: edge %s.%s is %s but edge %s.%s is %s, and both pieces are fixed: draw them to match", r.name, r.a.doc.ID, r.edgeA, la, r.b.doc.ID, r.edgeB, lb)
	}
	if most := truedShare * float64(max(la, lb)); diff > most {
		return fmt.Errorf("seam %q: edge %s.%s is %s but edge %s.%s is %s; truing can share at most %s: check the measurements that drive them", r.name, r.a.doc.ID, r.edgeA, la, r.b.doc.ID, r.edgeB, lb, geom.MM(most))
	}
	return nil
}

// shares is how much each edge is stretched: both to the mean, or one to match a fixed piece.
func (r seamRule) shares(la, lb geom.MM) (ka, kb float64) {
	switch {
	case r.a.frame == frameFixed:
		return 1, float64(la / lb)
	case r.b.frame == frameFixed:
		return float64(lb / la), 1
	}
	mean := (la + lb) / 2
	return float64(mean / la), float64(mean / lb)
}

// stretch scales an edge to k times its length, about the end that other seams also use, or about the middle between its
// ends; the outline beyond follows.
func (s *Set) stretch(w *workpiece, name string, k float64) {
	if k == 1 {
		return
	}
	e := w.p.edges[name]
	from, to := w.at[e.from], w.at[e.to]
	anchor := w.outer[from].Lerp(w.outer[to], 0.5)
	switch busyFrom, busyTo := s.busy(w.p, name, e.from), s.busy(w.p, name, e.to); {
	case busyFrom && !busyTo:
		anchor = w.outer[from]
	case busyTo && !busyFrom:
		anchor = w.outer[to]
	}
	ends := w.p.edgeEnds(w.at)
	fair(w.outer, from, -1, w.outer[from].Sub(anchor).Mul(k-1), ends)
	fair(w.outer, to, 1, w.outer[to].Sub(anchor).Mul(k-1), ends)
	shrink(w.outer, from, to, anchor, k)
}

// busy reports whether another seam or dart has an edge of this piece that ends at the drawn vertex.
func (s *Set) busy(p *part, name string, vertex int) bool {
	for _, r := range s.seams {
		for _, x := range [2]struct {
			p    *part
			name string
		}{{r.a, r.edgeA}, {r.b, r.edgeB}} {
			if e := x.p.edges[x.name]; x.p == p && x.name != name && (e.from == vertex || e.to == vertex) {
				return true
			}
		}
	}
	return false
}

// trueDart scales each leg about the tip to their mean length; the outline beyond the mouth is faired to match.
func (r seamRule) trueDart(w *workpiece, la, lb geom.MM) {
	mean := (la + lb) / 2
	ea, eb := r.a.edges[r.edgeA], r.a.edges[r.edgeB]
	tip := w.outer[w.at[ea.to]]
	ka, kb := float64(mean/la), float64(mean/lb)
	ends := w.p.edgeEnds(w.at)
	// The outline leaves leg a's mouth backwards and leg b's forwards; beyond them it follows the moved mouth.
	fair(w.outer, w.at[ea.from], -1, tip.Sub(w.outer[w.at[ea.from]]).Mul(1-ka), ends)
	fair(w.outer, w.at[eb.to], 1, tip.Sub(w.outer[w.at[eb.to]]).Mul(1-kb), ends)
	shrink(w.outer, w.at[ea.from], w.at[ea.to], tip, ka)
	shrink(w.outer, w.at[eb.from], w.at[eb.to], tip, kb)
}

// shrink scales the vertices from one to another, counter-clockwise, about a point that may be one of them.
func shrink(r geom.Ring, from, to int, tip geom.Point, k float64) {
	for i := from; ; i = (i + 1) % len(r) {
		r[i] = tip.Add(r[i].Sub(tip).Mul(k))
		if i == to {
			return
		}
	}
}

// fairPerMove: the move of a dart mouth fades out along the neighbouring edge over this many times the move, at most to the
// next named point; a shorter fade shows as a jog, a longer one changes the edge (common practice, no source).
const fairPerMove = 12

// fair carries the move of the mouth at vertex i into the outline beyond it (step ±1), fading smoothly to nothing.
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

// edgeEnds are the graded vertices at which a named edge starts or ends.
func (p *part) edgeEnds(at []int) map[int]bool {
	out := map[int]bool{}
	for _, e := range p.edges {
		out[at[e.from]], out[at[e.to]] = true, true
	}
	return out
}

// follow moves what lies near the reshaped outline with it: marks and scores point by point, holes and seats as a whole, by
// the move of the nearest point of the outline as it was, fading with distance.
func (w *workpiece) follow(old geom.Ring) {
	most := 0.0
	for i, q := range old {
		most = math.Max(most, q.Dist(w.outer[i]))
	}
	reach := fairPerMove * most
	move := func(q geom.Point) geom.Point {
		best, to := math.Inf(1), geom.Point{}
		for i, a := range old {
			j := (i + 1) % len(old)
			ab := old[j].Sub(a)
			l := ab.Dot(ab)
			if l == 0 {
				continue
			}
			t := math.Max(0, math.Min(1, q.Sub(a).Dot(ab)/l))
			if d := a.Add(ab.Mul(t)).Dist(q); d < best {
				best, to = d, w.outer[i].Sub(a).Lerp(w.outer[j].Sub(old[j]), t)
			}
		}
		if best >= reach {
			return geom.Point{}
		}
		return to.Mul((1 + math.Cos(math.Pi*best/reach)) / 2)
	}
	each := func(p []geom.Point) {
		for i, q := range p {
			p[i] = q.Add(move(q))
		}
	}
	whole := func(p []geom.Point, centre geom.Point) {
		d := move(centre)
		for i, q := range p {
			p[i] = q.Add(d)
		}
	}
	for i, h := range w.slots {
		if i < len(w.p.holes) {
			each(h)
		} else {
			whole(h, h.Centroid())
		}
	}
	for i := range w.drills {
		w.drills[i].At = w.drills[i].At.Add(move(w.drills[i].At))
	}
	for _, r := range w.rows {
		each(r)
	}
	for _, sc := range w.scores {
		each(sc)
	}
	for _, mk := range w.marks {
		if mk.Kind == foam.Seat {
			whole(mk.Path, mk.Path.Bounds().Centre())
		} else {
			each(mk.Path)
		}
	}
}
