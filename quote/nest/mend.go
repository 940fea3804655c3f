package nest

import (
	"benchbell/quote/geom"
	"benchbell/quote/nest/exact"
)

// mending is a layout's pieces as they lie.
type mending struct {
	layout *Layout
	items  map[string]geom.Shape
	laid   []exact.Outline
	room   geom.Box
}

// Steps by which mend moves a piece, in millimetres: from a few roundings of a sheet's length to Tolerance.
const (
	mendFrom = 1e-12
	mendTo   = 1e-6
)

// mend moves pieces that overlap by a rounding apart by as little, and reports whether no two overlap any more.
func mend(p Problem, s *Solution) bool {
	items := map[string]geom.Shape{}
	for _, it := range p.Items {
		items[it.ID] = it.Shape
	}
	for i := range s.Layouts {
		l := &s.Layouts[i]
		m := mending{layout: l, items: items, room: geom.Box{Max: geom.Pt(float64(l.Width), float64(l.Height))}.Grow(geom.MM(-p.edge()))}
		m.room = m.room.Grow(Tolerance / 2)
		for _, q := range l.Placed {
			m.laid = append(m.laid, exact.NewOutline(q.At.Shape(items[q.Item])))
		}
		if !m.run() {
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
	for step := mendFrom; step <= mendTo; step *= 8 {
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
