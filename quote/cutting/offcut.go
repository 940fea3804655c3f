package cutting

import (
	"math"

	"benchbell/quote"
	"benchbell/quote/foam"
	"benchbell/quote/geom"
	"benchbell/quote/nest"
)

// usefulSide is the smallest side an offcut may have and still be worth its place on the rack: a rectangle of this side
// must fit in it. Common practice, no source.
const usefulSide geom.MM = 150

const (
	// searchCell is the grid on which the largest free rectangle is searched for. An offcut that is useful by less than two
	// cells may be missed; that is less foam than anyone would miss.
	searchCell = 10.0
	// growStep is the step by which that rectangle then grows towards what bounds it; offcuts are labelled to the
	// millimetre.
	growStep = 1.0
	// freeTolerance is how far a free rectangle may overlap what bounds it: enough for rounding, far less than a blade's
	// width.
	freeTolerance geom.MM = 1e-6
)

// Offcuts are the useful offcuts of a quote's own sheets, at most one per sheet. The quote must be the one computed from s.
func Offcuts(s quote.Snapshot, q quote.Quote) ([]quote.Offcut, error) {
	shapes, err := q.ByLabel()
	if err != nil {
		return nil, err
	}
	var out []quote.Offcut
	for _, l := range q.Sheets {
		if r := largestOffcut(l.Layout, nil, nil, shapes, s.Studio); r != nil {
			out = append(out, offcutOf(l, r))
		}
	}
	return out, nil
}

func offcutOf(l quote.SheetLayout, r geom.Ring) quote.Offcut {
	return quote.Offcut{Thickness: l.Thickness, Outline: geom.Placement{Move: geom.Pt(0, 0).Sub(r.Bounds().Min)}.Ring(r), Sheet: l.Number}
}

// largestOffcut is the useful offcut a layout leaves, in the sheet's coordinates; nil if there is none. It is the largest
// rectangle parallel to the sheet's edges that keeps the studio's gap and kerf from every piece; if end, the offcut the
// nesting engine reports, is useful and larger, it is end. outline is the sheet's outline, nil for the whole rectangle.
func largestOffcut(l nest.Layout, outline, end geom.Ring, shapes map[string]foam.Piece, st quote.Studio) geom.Ring {
	room := freeRoom{sheet: geom.Box{Max: geom.Pt(float64(l.Width), float64(l.Height))}, outline: outline, gap: st.Gap + st.Bench.Kerf}
	for _, pl := range l.Placed {
		s := pl.At.Shape(shapes[pl.Item].Shape)
		room.laid, room.boxes = append(room.laid, s), append(room.boxes, s.Bounds())
	}
	b, ok := room.largest()
	if !ok {
		return nil
	}
	found := geom.Ring{b.Min, {X: b.Max.X, Y: b.Min.Y}, b.Max, {X: b.Min.X, Y: b.Max.Y}}
	if len(end) < 3 || end.Area() <= found.Area() {
		return found
	}
	if _, ok := (freeRoom{sheet: end.Bounds(), outline: end}).largest(); !ok {
		return found
	}
	return end
}

// freeRoom is a sheet with pieces on it.
type freeRoom struct {
	sheet   geom.Box
	outline geom.Ring // nil: all of sheet
	laid    []geom.Shape
	boxes   []geom.Box // of laid
	gap     geom.MM
}

// free reports whether a rectangle in the sheet is foam and clear of every piece.
func (f freeRoom) free(b geom.Box) bool {
	in := b.Grow(-freeTolerance)
	if !f.sheet.Contains(in.Min) || !f.sheet.Contains(in.Max) {
		return false
	}
	if len(f.outline) > 0 && (!f.outline.Contains(in.Centre()) || meets(f.outline, in)) {
		return false
	}
	kept := in.Grow(f.gap)
	for i, s := range f.laid {
		if !f.boxes[i].Overlaps(kept) {
			continue
		}
		if s.Contains(in.Centre()) || meets(s.Outer, kept) {
			return false
		}
		for _, h := range s.Holes {
			if meets(h, kept) {
				return false
			}
		}
	}
	return true
}

// largest is the largest free rectangle with useful sides.
func (f freeRoom) largest() (geom.Box, bool) {
	w, h := float64(f.sheet.Width()), float64(f.sheet.Height())
	nx, ny := int(math.Ceil(w/searchCell)), int(math.Ceil(h/searchCell))
	if nx < 1 || ny < 1 {
		return geom.Box{}, false
	}
	cx, cy := w/float64(nx), h/float64(ny)
	span := func(x0, y0, x1, y1 int) geom.Box {
		return geom.Box{Min: f.sheet.Min.Add(geom.Pt(float64(x0)*cx, float64(y0)*cy)), Max: f.sheet.Min.Add(geom.Pt(float64(x1)*cx, float64(y1)*cy))}
	}
	// For each row: how many free cells are stacked in each column up to that row, and the largest rectangle under that
	// skyline.
	var best geom.Box
	tall := make([]int, nx)
	for y := range ny {
		for x := range nx {
			if f.free(span(x, y, x+1, y+1)) {
				tall[x]++
			} else {
				tall[x] = 0
			}
		}
		for x := range nx {
			low := tall[x]
			for to := x; to < nx && tall[to] > 0; to++ {
				low = min(low, tall[to])
				b := span(x, y+1-low, to+1, y+1)
				if useful(b) && area(b) > area(best) {
					best = b
				}
			}
		}
	}
	if area(best) == 0 {
		return best, false
	}
	return f.grown(best), true
}

// grown moves each side outwards until it meets something.
func (f freeRoom) grown(b geom.Box) geom.Box {
	for _, side := range []geom.Box{{Min: geom.Pt(-1, 0)}, {Min: geom.Pt(0, -1)}, {Max: geom.Pt(1, 0)}, {Max: geom.Pt(0, 1)}} {
		for {
			next := geom.Box{Min: b.Min.Add(side.Min.Mul(growStep)), Max: b.Max.Add(side.Max.Mul(growStep))}
			if !f.free(next) {
				break
			}
			b = next
		}
	}
	return b
}

// useful reports whether both sides are worth keeping.
func useful(b geom.Box) bool {
	return b.Width() >= usefulSide-freeTolerance && b.Height() >= usefulSide-freeTolerance
}

func area(b geom.Box) float64 { return float64(b.Width()) * float64(b.Height()) }

// meets reports whether an edge of the ring passes through the box: clipping by Liang and Barsky (1984).
func meets(r geom.Ring, b geom.Box) bool {
	for i, p := range r {
		q := r[(i+1)%len(r)]
		if q.X < b.Min.X && p.X < b.Min.X || q.X > b.Max.X && p.X > b.Max.X || q.Y < b.Min.Y && p.Y < b.Min.Y || q.Y > b.Max.Y && p.Y > b.Max.Y {
			continue
		}
		d := q.Sub(p)
		from, to := 0.0, 1.0
		for _, c := range [4][2]float64{{-d.X, p.X - b.Min.X}, {d.X, b.Max.X - p.X}, {-d.Y, p.Y - b.Min.Y}, {d.Y, b.Max.Y - p.Y}} {
			switch t := c[1] / c[0]; {
			case c[0] == 0:
				if c[1] < 0 {
					from = 2
				}
			case c[0] < 0:
				from = math.Max(from, t)
			default:
				to = math.Min(to, t)
			}
		}
		if from <= to {
			return true
		}
	}
	return false
}
