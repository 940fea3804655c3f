package drawing

import (
	"errors"
	"math"
	"slices"

	"benchbell/quote/geom"
)

// snap is the grid that crossings are rounded to, so that equal places are equal numbers: a millionth of a millimetre.
const snap = 1e-6

// probe is how far beside an edge its winding number is computed: more than snap's errors, far less than a file can
// express.
const probe = 2e-5

// sliver is the area below which a loop is an artefact of the grid.
const sliver = 1e-3

// edge is a directed edge between grid points.
type edge struct{ a, b geom.Point }

func snapped(p geom.Point) geom.Point {
	return geom.Pt(math.Round(p.X/snap)*snap, math.Round(p.Y/snap)*snap)
}

// windingBorder is the border of the region that a closed line winds around more often counter-clockwise than clockwise:
// its edges are cut at their crossings, those with the region on one side only are kept, run with the region on their left,
// and linked into loops.
func windingBorder(raw geom.Ring) ([]geom.Ring, error) {
	var edges []edge
	for i := range raw {
		if e := (edge{snapped(raw[i]), snapped(raw[(i+1)%len(raw)])}); e.a != e.b {
			edges = append(edges, e)
		}
	}
	parts := cutAtCrossings(edges)
	count := map[edge]int{} // how often a part is run in its direction, less how often backwards
	var order []edge
	for _, e := range parts {
		way, by := e, 1
		if e.b.X < e.a.X || (e.b.X == e.a.X && e.b.Y < e.a.Y) {
			way, by = edge{e.b, e.a}, -1
		}
		if _, seen := count[way]; !seen {
			order = append(order, way)
		}
		count[way] += by
	}
	next := map[geom.Point][]edge{}
	var kept []edge
	for _, e := range order {
		if count[e] == 0 {
			continue
		}
		side := e.b.Sub(e.a).Unit().Perp().Mul(probe)
		left := winding(edges, e.a.Lerp(e.b, 0.5).Add(side))
		right := left - count[e]
		switch {
		case left > 0 && right <= 0:
		case right > 0 && left <= 0:
			e = edge{e.b, e.a}
		default:
			continue
		}
		kept = append(kept, e)
		next[e.a] = append(next[e.a], e)
	}
	var loops []geom.Ring
	used := map[edge]bool{}
	for _, first := range kept {
		if used[first] {
			continue
		}
		var loop geom.Ring
		for e := first; !used[e]; {
			used[e] = true
			loop = append(loop, e.a)
			onward, ok := leftmost(e, next[e.b], used)
			if !ok {
				if e.b != first.a {
					return nil, errors.New("its edges are too close together to move; simplify the line")
				}
				break
			}
			e = onward
		}
		if math.Abs(float64(loop.SignedArea())) > sliver {
			loops = append(loops, loop)
		}
	}
	return loops, nil
}

// leftmost is the continuation of an edge that turns most to the left, so that loops which touch stay separate.
func leftmost(e edge, ways []edge, used map[edge]bool) (best edge, ok bool) {
	most := math.Inf(-1)
	u := e.b.Sub(e.a)
	for _, w := range ways {
		if used[w] {
			continue
		}
		v := w.b.Sub(w.a)
		if turn := math.Atan2(u.Cross(v), u.Dot(v)); turn > most {
			best, most, ok = w, turn, true
		}
	}
	return best, ok
}

// winding is how often the edges go counter-clockwise around a point (by the crossings of a ray to the right).
func winding(edges []edge, p geom.Point) int {
	n := 0
	for _, e := range edges {
		if (e.a.Y > p.Y) == (e.b.Y > p.Y) {
			continue
		}
		if side := e.b.Sub(e.a).Cross(p.Sub(e.a)); e.b.Y > e.a.Y && side > 0 {
			n++
		} else if e.b.Y < e.a.Y && side < 0 {
			n--
		}
	}
	return n
}

// cutAtCrossings splits edges where they meet, by a sweep over their left ends.
func cutAtCrossings(edges []edge) []edge {
	order := make([]int, len(edges))
	for i := range order {
		order[i] = i
	}
	low := func(i int) float64 { return math.Min(edges[i].a.X, edges[i].b.X) }
	slices.SortStableFunc(order, func(i, k int) int {
		switch {
		case low(i) < low(k):
			return -1
		case low(i) > low(k):
			return 1
		}
		return 0
	})
	cuts := make([][]geom.Point, len(edges))
	for s, i := range order {
		e := edges[i]
		high := math.Max(e.a.X, e.b.X)
		for _, k := range order[s+1:] {
			if low(k) > high+snap {
				break
			}
			f := edges[k]
			if math.Max(e.a.Y, e.b.Y)+snap < math.Min(f.a.Y, f.b.Y) || math.Max(f.a.Y, f.b.Y)+snap < math.Min(e.a.Y, e.b.Y) {
				continue
			}
			for _, p := range meetings(e, f) {
				cuts[i] = append(cuts[i], p)
				cuts[k] = append(cuts[k], p)
			}
		}
	}
	var out []edge
	for i, e := range edges {
		way := e.b.Sub(e.a)
		slices.SortStableFunc(cuts[i], func(p, q geom.Point) int {
			switch a, b := p.Sub(e.a).Dot(way), q.Sub(e.a).Dot(way); {
			case a < b:
				return -1
			case a > b:
				return 1
			}
			return 0
		})
		at := e.a
		for _, p := range append(cuts[i], e.b) {
			if p != at {
				out = append(out, edge{at, p})
				at = p
			}
		}
	}
	return out
}

// meetings are the grid points at which two edges must be split: their crossing, or an end of one that lies on the other.
func meetings(e, f edge) []geom.Point {
	var out []geom.Point
	on := func(p geom.Point, g edge) {
		if segmentDistance(p, g.a, g.b) <= snap && !slices.Contains(out, p) {
			out = append(out, p)
		}
	}
	on(e.a, f)
	on(e.b, f)
	on(f.a, e)
	on(f.b, e)
	if len(out) > 0 {
		return out
	}
	if p, ok := geom.SegmentsMeet(e.a, e.b, f.a, f.b); ok {
		out = append(out, snapped(p))
	}
	return out
}
