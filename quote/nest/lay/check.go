package lay

import (
	"fmt"
	"math"
	"slices"

	"benchbell/quote/geom"
	"benchbell/quote/nest"
	"benchbell/quote/nest/exact"
)

// Tolerance is by how much a layout may miss a distance before Check calls it a fault: a thousandth of a micron,
// far below what a blade can do and far above what a rotation costs in double precision at the sizes Validate takes.
const Tolerance geom.MM = 1e-6

// angleTolerance in degrees: a turn of this much moves a point two metres out by less than a tenth of Tolerance.
const angleTolerance = 1e-9

// piece is a placed copy as Check sees it.
type piece struct {
	name  string
	shape geom.Shape
	box   geom.Box
	exact exact.Outline
}

// Check says whether s is a layout of p that can be cut, and names the first fault. It shares no collision code with
// the search: it moves every shape by its placement and tests outlines against outlines, overlap exactly, distances to
// Tolerance. A piece may lie in another's hole when
// it keeps the gap. Evaluations are not checked.
func Check(p nest.Problem, s nest.Solution) error {
	items := make(map[string]nest.Item, len(p.Items))
	got := make(map[string][]bool, len(p.Items))
	for _, it := range p.Items {
		items[it.ID] = it
		got[it.ID] = make([]bool, it.Demand)
	}
	kinds := make(map[string]nest.Sheet, len(p.Sheets))
	for _, k := range p.Sheets {
		kinds[k.ID] = k
	}
	if p.Strip > 0 && len(s.Layouts) == 1 {
		kinds[nest.StripID] = nest.Sheet{ID: nest.StripID, Width: s.Layouts[0].Width, Height: p.Strip}
	}
	used := map[string]int{}
	var cost int64
	var allPieces, allSheets float64
	for n, l := range s.Layouts {
		k, ok := kinds[l.Sheet]
		if !ok {
			return fmt.Errorf("layout %d uses sheet %q, which is not in stock", n+1, l.Sheet)
		}
		if l.Width != k.Width || l.Height != k.Height {
			return fmt.Errorf("layout %d is %v by %v, sheet %q is %v by %v", n+1, l.Width, l.Height, k.ID, k.Width, k.Height)
		}
		if used[k.ID]++; k.Count > 0 && used[k.ID] > k.Count {
			return fmt.Errorf("layout %d uses sheet %q for the %d. time, %d are in stock", n+1, k.ID, used[k.ID], k.Count)
		}
		cost += k.Price
		pieces, err := checkPlaced(p, n, l, items, got)
		if err != nil {
			return err
		}
		if err := checkBlocked(n, k, pieces, geom.MM(p.Edge())); err != nil {
			return err
		}
		if err := checkApart(n, pieces, geom.MM(p.Between())); err != nil {
			return err
		}
		var area float64
		for _, q := range pieces {
			area += float64(q.shape.Area())
		}
		sheet := sheetArea(k)
		if !near(l.Used, area/sheet) {
			return fmt.Errorf("layout %d says %.6f of the sheet is used, its pieces cover %.6f", n+1, l.Used, area/sheet)
		}
		allPieces += area
		allSheets += sheet
	}
	missing := map[string]int{}
	for _, m := range s.Missing {
		missing[m.Item] += m.Copies
	}
	for _, it := range p.Items {
		for c, ok := range got[it.ID] {
			if !ok && missing[it.ID] > 0 {
				missing[it.ID]--
			} else if !ok {
				return fmt.Errorf("copy %d of item %q is on no sheet, %d are wanted", c+1, it.ID, it.Demand)
			}
		}
	}
	if cost != s.Cost {
		return fmt.Errorf("the solution says its sheets cost %d, they cost %d", s.Cost, cost)
	}
	if allSheets > 0 && !near(s.Density, allPieces/allSheets) {
		return fmt.Errorf("the solution says its density is %.6f, it is %.6f", s.Density, allPieces/allSheets)
	}
	return nil
}

// near allows for the order in which areas are summed.
func near(a, b float64) bool { return math.Abs(a-b) <= 1e-9 }

// checkPlaced tests what each piece of a layout must hold alone, and marks the copies seen.
func checkPlaced(p nest.Problem, n int, l nest.Layout, items map[string]nest.Item, got map[string][]bool) ([]piece, error) {
	room := geom.Box{Max: geom.Pt(float64(l.Width), float64(l.Height))}.Grow(Tolerance - geom.MM(p.Edge()))
	pieces := make([]piece, 0, len(l.Placed))
	for _, pl := range l.Placed {
		it, ok := items[pl.Item]
		if !ok {
			return nil, fmt.Errorf("layout %d holds item %q, which nobody asked for", n+1, pl.Item)
		}
		name := fmt.Sprintf("copy %d of item %q", pl.Copy, pl.Item)
		if pl.Copy < 1 || pl.Copy > it.Demand {
			return nil, fmt.Errorf("layout %d holds %s, only 1 to %d are wanted", n+1, name, it.Demand)
		}
		if got[pl.Item][pl.Copy-1] {
			return nil, fmt.Errorf("layout %d holds %s a second time", n+1, name)
		}
		got[pl.Item][pl.Copy-1] = true
		if !turnAllowed(it, pl.At.Turn) {
			return nil, fmt.Errorf("%s is turned by %g degrees, its turn is %q", name, pl.At.Turn, it.Turn)
		}
		if pl.At.Mirrored && !it.MayFlip {
			return nil, fmt.Errorf("%s is mirrored and may not be", name)
		}
		if !pl.At.Move.Finite() {
			return nil, fmt.Errorf("%s is moved to no finite place", name)
		}
		shape := pl.At.Shape(it.Shape)
		box := shape.Bounds()
		if !room.Contains(box.Min) || !room.Contains(box.Max) {
			return nil, fmt.Errorf("%s spans %.6f, %.6f to %.6f, %.6f and leaves sheet %q of %v by %v less its margin of %v",
				name, box.Min.X, box.Min.Y, box.Max.X, box.Max.Y, l.Sheet, l.Width, l.Height, geom.MM(p.Edge()))
		}
		pieces = append(pieces, piece{name, shape, box, exact.NewOutline(shape)})
	}
	return pieces, nil
}

func turnAllowed(it nest.Item, deg float64) bool {
	if math.IsNaN(deg) || math.IsInf(deg, 0) {
		return false
	}
	if len(it.Turns) > 0 {
		return slices.ContainsFunc(it.Turns, func(t float64) bool { return math.Abs(math.Remainder(deg-t, 360)) <= angleTolerance })
	}
	var step float64
	switch it.Turn {
	case geom.TurnAny:
		return true
	case geom.TurnQuarter:
		step = 90
	case geom.TurnHalf:
		step = 180
	default:
		step = 360
	}
	return math.Abs(math.Remainder(deg, step)) <= angleTolerance
}

// checkBlocked tests the pieces of a layout against what the sheet's outline leaves of its rectangle and its defects.
func checkBlocked(n int, k nest.Sheet, pieces []piece, edge geom.MM) error {
	for i, r := range append(pockets(k), k.Defects...) {
		b := piece{shape: geom.Shape{Outer: r}, box: r.Bounds()}
		what := "its outline"
		if at := i - len(pockets(k)); at >= 0 {
			what = fmt.Sprintf("defect %d", at+1)
		}
		for j := range pieces {
			a := &pieces[j]
			if !a.box.Grow(edge).Overlaps(b.box) {
				continue
			}
			if reaches(a.shape, b.shape) || reaches(b.shape, a.shape) {
				return fmt.Errorf("%s covers %s of sheet %q on layout %d", a.name, what, k.ID, n+1)
			}
			if d := shapeDistance(a, &b, edge); d < edge-Tolerance {
				return fmt.Errorf("%s is %.6f mm from %s of sheet %q on layout %d, the margin is %v", a.name, float64(d), what, k.ID, n+1, edge)
			}
		}
	}
	return nil
}

// checkApart tests every two pieces of a layout.
func checkApart(n int, pieces []piece, gap geom.MM) error {
	for i := range pieces {
		for j := i + 1; j < len(pieces); j++ {
			a, b := &pieces[i], &pieces[j]
			if !a.box.Grow(gap).Overlaps(b.box) {
				continue
			}
			if exact.Overlap(a.exact, b.exact) {
				return fmt.Errorf("%s and %s overlap on layout %d", a.name, b.name, n+1)
			}
			if d := shapeDistance(a, b, gap); d < gap-Tolerance {
				return fmt.Errorf("%s and %s are %.6f mm apart on layout %d, the gap is %v", a.name, b.name, float64(d), n+1, gap)
			}
		}
	}
	return nil
}

func rings(s geom.Shape) []geom.Ring { return append([]geom.Ring{s.Outer}, s.Holes...) }

// reaches reports whether a's outline, or a point inside a, lies in b by more than Tolerance. Each edge of a is cut
// where it meets b's border, so that every part lies wholly in or out and its middle decides.
func reaches(a, b geom.Shape) bool {
	bb := b.Bounds()
	if p, ok := innerPoint(a); ok && bb.Contains(p) && deepIn(b, p) {
		return true
	}
	br := rings(b)
	for _, r := range rings(a) {
		for i := range r {
			p, q := r[i], r[(i+1)%len(r)]
			eb := geom.EmptyBox().Extend(p).Extend(q)
			if !eb.Overlaps(bb) || p == q {
				continue
			}
			d := q.Sub(p)
			l2 := d.Dot(d)
			cuts := []float64{0, 1}
			for _, s := range br {
				for j := range s {
					u, v := s[j], s[(j+1)%len(s)]
					if !eb.Overlaps(geom.EmptyBox().Extend(u).Extend(v)) {
						continue
					}
					if at, hit := geom.SegmentsMeet(p, q, u, v); hit {
						cuts = append(cuts, at.Sub(p).Dot(d)/l2)
					}
					for _, e := range [2]geom.Point{u, v} {
						if t := e.Sub(p).Dot(d) / l2; t > 0 && t < 1 && p.Lerp(q, t).Dist(e) <= float64(Tolerance) {
							cuts = append(cuts, t) // edges that run along each other
						}
					}
				}
			}
			slices.Sort(cuts)
			for k := 1; k < len(cuts); k++ {
				if cuts[k] > cuts[k-1] && deepIn(b, p.Lerp(q, (cuts[k-1]+cuts[k])/2)) {
					return true
				}
			}
		}
	}
	return false
}

// deepIn reports whether p lies in s farther than Tolerance from its border.
func deepIn(s geom.Shape, p geom.Point) bool {
	if !s.Contains(p) {
		return false
	}
	for _, r := range rings(s) {
		if r.DistanceTo(p) <= Tolerance {
			return false
		}
	}
	return true
}

// innerPoint is a point well inside a shape: the middle of the widest stretch on a level between two of its points.
func innerPoint(s geom.Shape) (geom.Point, bool) {
	var ys []float64
	for _, r := range rings(s) {
		for _, p := range r {
			ys = append(ys, p.Y)
		}
	}
	slices.Sort(ys)
	best, at := 0.0, geom.Point{}
	step := max(1, len(ys)/16) // some levels are enough to find one that is not a sliver
	for k := 0; k < len(ys); k++ {
		if k%step != 0 && k+1 != len(ys) {
			continue
		}
		j := k
		for j < len(ys) && ys[j] == ys[k] {
			j++
		}
		if j == len(ys) {
			break
		}
		y := (ys[k] + ys[j]) / 2
		var xs []float64
		for _, r := range rings(s) {
			for i := range r {
				a, b := r[i], r[(i+1)%len(r)]
				if (a.Y > y) != (b.Y > y) {
					xs = append(xs, a.X+(y-a.Y)*(b.X-a.X)/(b.Y-a.Y))
				}
			}
		}
		slices.Sort(xs)
		for i := 0; i+1 < len(xs); i += 2 {
			if w := min(xs[i+1]-xs[i], ys[j]-ys[k]); w > best {
				best, at = w, geom.Pt((xs[i]+xs[i+1])/2, y)
			}
		}
	}
	return at, best > 0
}

// shapeDistance is the distance between two borders, or something no less than gap where it is no less.
func shapeDistance(a, b *piece, gap geom.MM) geom.MM {
	near := a.box.Grow(gap)
	type seg struct {
		p, q geom.Point
		box  geom.Box
	}
	var es []seg
	for _, r := range rings(b.shape) {
		for i := range r {
			e := seg{p: r[i], q: r[(i+1)%len(r)]}
			if e.box = geom.EmptyBox().Extend(e.p).Extend(e.q); e.box.Overlaps(near) {
				es = append(es, e)
			}
		}
	}
	d := geom.MM(math.Inf(1))
	for _, r := range rings(a.shape) {
		for i := range r {
			p, q := r[i], r[(i+1)%len(r)]
			box := geom.EmptyBox().Extend(p).Extend(q).Grow(gap)
			for _, e := range es {
				if box.Overlaps(e.box) {
					d = min(d, geom.SegmentDistance(p, q, e.p, e.q))
				}
			}
		}
	}
	return d
}
