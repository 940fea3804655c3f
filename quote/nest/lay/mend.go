package lay

import (
	"slices"

	"benchbell/quote/geom"
	"benchbell/quote/nest"
	"benchbell/quote/nest/exact"
)

// mending is a layout's pieces as they lie.
type mending struct {
	layout *nest.Layout
	items  map[string]geom.Shape
	laid   []exact.Outline
	room   geom.Box
}

// tolerance is by how much a piece may leave its sheet: what package inspect allows, which looks at every layout.
const tolerance geom.MM = 1e-6

// Shares by which mend spreads a layout and steps by which it moves a single piece, in millimetres: from a few
// roundings of a sheet's length up to where pieces on the border leave their sheet by half of tolerance.
const (
	spreadFrom = 1e-14
	mendFrom   = 1e-12
	mendTo     = 1e-6
	mendBy     = 8
)

// mend moves pieces that overlap by a rounding apart by as little, and reports whether no two overlap any more. Pieces
// that touch in a row have nowhere to go one by one: so the layout is first spread from its middle, by a share that no
// rule could measure, and single pieces are moved from there.
func mend(p nest.Problem, s *nest.Solution) bool {
	items := map[string]geom.Shape{}
	for _, it := range p.Items {
		items[it.ID] = it.Shape
	}
	for i := range s.Layouts {
		l := &s.Layouts[i]
		room := geom.Box{Max: geom.Pt(float64(l.Width), float64(l.Height))}.Grow(tolerance*9/10 - geom.MM(p.Edge()))
		placed := l.Placed
		size := max(float64(l.Width), float64(l.Height))
		done := false
		for share := 0.0; share*size <= float64(tolerance) && !done; share = max(share*mendBy, spreadFrom) {
			l.Placed = slices.Clone(placed)
			m := mending{layout: l, items: items, room: room}
			for k := range l.Placed {
				q := &l.Placed[k]
				out := q.At.Shape(items[q.Item]).Bounds().Centre().Sub(geom.Pt(float64(l.Width)/2, float64(l.Height)/2))
				q.At.Move = q.At.Move.Add(out.Mul(share))
				m.laid = append(m.laid, exact.NewOutline(q.At.Shape(items[q.Item])))
			}
			done = m.run()
		}
		if !done {
			return false
		}
	}
	return true
}

func (m *mending) run() bool {
	// Each pass frees at least one piece or gives up.
	for range len(m.laid) {
		fault := false
		for i := range m.laid {
			j := m.meets(i, m.laid[i])
			if j < 0 {
				continue
			}
			fault = true
			if !m.free(i) && !m.free(j) {
				return false
			}
		}
		if !fault {
			return true
		}
	}
	return false
}

// meets is a piece that overlaps an outline standing for piece i, or -1.
func (m *mending) meets(i int, o exact.Outline) int {
	for j, q := range m.laid {
		if j != i && exact.Overlap(o, q) {
			return j
		}
	}
	return -1
}

// free moves piece i to where it overlaps none.
func (m *mending) free(i int) bool {
	q := &m.layout.Placed[i]
	for step := mendFrom; step <= mendTo; step *= mendBy {
		for _, d := range [8]geom.Point{{X: 1}, {X: -1}, {Y: 1}, {Y: -1}, {X: 1, Y: 1}, {X: -1, Y: 1}, {X: 1, Y: -1}, {X: -1, Y: -1}} {
			at := q.At
			at.Move = at.Move.Add(d.Mul(step))
			o := exact.NewOutline(at.Shape(m.items[q.Item]))
			if !m.room.Contains(o.Box().Min) || !m.room.Contains(o.Box().Max) || m.meets(i, o) >= 0 {
				continue
			}
			q.At, m.laid[i] = at, o
			return true
		}
	}
	return false
}
