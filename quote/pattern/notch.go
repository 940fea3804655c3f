package pattern

import (
	"fmt"
	"math"
	"sort"

	"benchbell/quote/foam"
	"benchbell/quote/geom"
)

// touch is a notch that starts on an edge.
type touch struct {
	mark int  // of the piece's marks
	last bool // its last point lies on the edge rather than its first
	at   geom.MM
}

// cornerNotch in mm: a notch this near an edge's end marks the corner, not a place along the edge.
const cornerNotch geom.MM = 1

// findNotches lists the notches drawn on both edges, in order along them.
func (r *seamRule) findNotches() error {
	r.notchesA = r.a.touching(r.edgeA)
	if r.self() {
		return nil // both edges are one drawing
	}
	r.notchesB = r.b.touching(r.edgeB)
	if na, nb := len(r.notchesA), len(r.notchesB); na > 0 && nb > 0 && na != nb {
		return fmt.Errorf("edge %s.%s has %d notches but edge %s.%s has %d: draw them in pairs where the edges must meet", r.a.doc.ID, r.edgeA, na, r.b.doc.ID, r.edgeB, nb)
	}
	if !r.sameWay {
		for i, j := 0, len(r.notchesB)-1; i < j; i, j = i+1, j-1 {
			r.notchesB[i], r.notchesB[j] = r.notchesB[j], r.notchesB[i]
		}
	}
	return nil
}

func (p *part) touching(name string) []touch {
	at := make([]int, len(p.outline))
	for i := range at {
		at[i] = i
	}
	path := run(p.outline, at, p.edges[name])
	l := path.Length()
	var out []touch
	for i, mk := range p.marks {
		if mk.Kind != foam.Notch {
			continue
		}
		for _, last := range []bool{false, true} {
			t := touch{mark: i, last: last}
			d, off := along(path, t.point(mk.Path))
			if off <= pointSnap && d > cornerNotch && d < l-cornerNotch {
				t.at = d
				out = append(out, t)
				break
			}
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].at < out[j].at })
	return out
}

func (t touch) point(p geom.Path) geom.Point {
	if t.last {
		return p[len(p)-1]
	}
	return p[0]
}

// along is how far along the path the nearest point to q lies, and how far q is from it.
func along(p geom.Path, q geom.Point) (d geom.MM, off float64) {
	off = math.Inf(1)
	var run float64
	for i := 1; i < len(p); i++ {
		ab := p[i].Sub(p[i-1])
		l := ab.Norm()
		t := 0.0
		if l > 0 {
			t = math.Max(0, math.Min(1, q.Sub(p[i-1]).Dot(ab)/(l*l)))
		}
		if o := p[i-1].Lerp(p[i], t).Dist(q); o < off {
			off, d = o, geom.MM(run+t*l)
		}
		run += l
	}
	return d, off
}

// notch is the place of the seam's i-th pair of notches, both measured from the start of edge a.
func (r seamRule) notch(a, b geom.Path, wa, wb *workpiece, i int) (da, db geom.MM) {
	da, _ = along(a, r.notchesA[i].point(wa.marks[r.notchesA[i].mark].Path))
	db, _ = along(b, r.notchesB[i].point(wb.marks[r.notchesB[i].mark].Path))
	if !r.sameWay {
		db = b.Length() - db
	}
	return da, db
}

// meet checks that the notches of a seam meet.
func (r seamRule) meet(wa, wb *workpiece) error {
	if len(r.notchesA) == 0 || len(r.notchesB) == 0 {
		return nil
	}
	a, b := wa.edge(r.edgeA), wb.edge(r.edgeB)
	for i := range r.notchesA {
		if da, db := r.notch(a, b, wa, wb, i); apart(da, db) > SeamTolerance {
			return fmt.Errorf("notch %d is %s along edge %s.%s, but its mate on %s.%s is at %s: they must meet within %s, so move one, or mark the seam as trued", i+1, da, r.a.doc.ID, r.edgeA, r.b.doc.ID, r.edgeB, db, SeamTolerance)
		}
	}
	return nil
}

// slideNotches moves the notches of a trued seam along their edges to where they meet; those of a fixed piece stay.
func (r seamRule) slideNotches(wa, wb *workpiece) {
	if len(r.notchesA) == 0 || len(r.notchesB) == 0 {
		return
	}
	a, b := wa.edge(r.edgeA), wb.edge(r.edgeB)
	for i := range r.notchesA {
		da, db := r.notch(a, b, wa, wb, i)
		to := (da + db) / 2
		switch {
		case r.a.frame == frameFixed:
			to = da
		case r.b.frame == frameFixed:
			to = db
		}
		r.notchesA[i].slide(wa, a, to)
		if !r.sameWay {
			to = b.Length() - to
		}
		r.notchesB[i].slide(wb, b, to)
	}
}

func (t touch) slide(w *workpiece, edge geom.Path, to geom.MM) {
	path := w.marks[t.mark].Path
	q, _ := edge.At(to)
	d := q.Sub(t.point(path))
	for i := range path {
		path[i] = path[i].Add(d)
	}
}
