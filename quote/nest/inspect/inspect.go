// Package inspect looks at layouts and says whether they can be cut as they are.
//
// It reads the problem and the layouts as they are written, moves every outline by its placement with arithmetic of its own
// (points as complex numbers), and compares regions level by level rather than edge against edge. It refuses the first fault
// that it finds, naming pieces, sheet and distances. What always holds: it takes no layout in which a piece is missing, in a
// place or turned as it must not be, on another piece, or nearer to it than gap and kerf, whoever made it; a piece may lie in
// another's hole. How good a layout is, it leaves alone.
//
// Shares with what it checks: the words of packages nest and geom, and, only for overlaps of less than its tolerance, the
// exact predicates of package exact and geom's placement. Those predicates are tested against rational numbers; the placed
// points, which are the ones that are cut, are held against this package's own here.
package inspect

import (
	"fmt"
	"math"
	"slices"

	"benchbell/quote/geom"
	"benchbell/quote/nest"
	"benchbell/quote/nest/exact"
)

const (
	// tolerance in millimetres is by how much a layout may miss a distance: a thousandth of a micron, far below what a blade
	// can do, and a thousand times what turning a point a kilometre out costs in double precision.
	tolerance = 1e-6
	// turned is by how many degrees a turn may miss an allowed one: it moves a point two metres out by less than a tenth of
	// tolerance.
	turned = 1e-9
	// summed is by how much a share of an area may be off, for the order in which areas are added.
	summed = 1e-9
)

// piece is a copy of an item where it lies.
type piece struct {
	name  string
	at    region
	exact exact.Outline // as it is cut
}

// Layouts says whether s solves p in a way that can be cut, and if not, what is wrong with it first. Looked at are
//
//   - that each item is there as often as it is asked for, under its owner, and what is not there is named in Missing, no more
//     and no less, and only where the problem allows it;
//   - that sheets are in stock, as often as they are used, and layouts as large as they;
//   - that each piece is turned and mirrored only as it may be, and lies on its sheet, within its outline, clear of its defects,
//     with margin and half the kerf to all of them;
//   - that no two pieces overlap, nor are nearer to each other than gap and kerf;
//   - that the shares used, density and cost add up;
//   - that the offcut lies on its sheet, clear of defects, pieces and what is cut away around these.
//
// An error that begins with "the problem" says that p cannot be read.
func Layouts(p nest.Problem, s nest.Solution) error {
	c := order{p: p, between: float64(p.Gap) + float64(p.Kerf), edge: float64(p.Margin) + float64(p.Kerf)/2}
	if !(c.between >= 0 && c.edge >= 0) || math.IsInf(c.between+c.edge, 0) {
		return fmt.Errorf("the problem asks for a gap of %v, a margin of %v and a kerf of %v, which are no distances", p.Gap, p.Margin, p.Kerf)
	}
	if err := c.stock(s); err != nil {
		return err
	}
	if err := c.copies(s); err != nil {
		return err
	}
	var pieces, sheets float64
	for n, l := range s.Layouts {
		k := c.sheets[l.Sheet]
		what := fmt.Sprintf("layout %d on sheet %q", n+1, l.Sheet)
		placed, err := c.place(l)
		if err == nil {
			err = c.lie(k, placed)
		}
		if err == nil {
			err = c.apart(placed)
		}
		if err == nil && c.p.Strip > 0 {
			err = c.length(l, placed)
		}
		if err == nil && s.Offcut != nil && s.Offcut.Layout == n {
			err = c.offcut(k, placed, s.Offcut.Shape)
		}
		var area float64
		for _, q := range l.Placed {
			area += c.areas[q.Item]
		}
		if err == nil && math.Abs(l.Used-area/k.area) > summed {
			err = fmt.Errorf("%.9f of it is said to be used, its pieces cover %.9f", l.Used, area/k.area)
		}
		if err != nil {
			return fmt.Errorf("%s: %w", what, err)
		}
		pieces += area
		sheets += k.area
	}
	density := 0.0
	if sheets > 0 {
		density = pieces / sheets
	}
	if !(math.Abs(s.Density-density) <= summed) {
		return fmt.Errorf("the density is said to be %.9f, it is %.9f", s.Density, density)
	}
	return nil
}

// sheet is a kind of sheet as it is cut from.
type sheet struct {
	nest.Sheet
	area    float64
	room    region
	whole   bool // room is the whole rectangle
	defects []region
}

// order is what a problem asks for.
type order struct {
	p       nest.Problem
	between float64 // two pieces
	edge    float64 // a piece and what it must not cover
	items   map[string]nest.Item
	areas   map[string]float64
	sheets  map[string]sheet
}

// stock looks at the sheets used and what they cost.
func (c *order) stock(s nest.Solution) error {
	c.sheets = map[string]sheet{}
	kinds := c.p.Sheets
	if c.p.Strip > 0 {
		if len(s.Layouts) != 1 {
			return fmt.Errorf("a strip has one layout, the solution %d", len(s.Layouts))
		}
		kinds = []nest.Sheet{{ID: nest.StripID, Width: s.Layouts[0].Width, Height: c.p.Strip, Count: 1}}
	}
	for _, k := range kinds {
		x := sheet{Sheet: k}
		outline := k.Outline
		if x.whole = len(outline) == 0; x.whole {
			w, h := float64(k.Width), float64(k.Height)
			outline = geom.Ring{{}, {X: w}, {X: w, Y: h}, {Y: h}}
		}
		x.room = lay(geom.Placement{}, geom.Shape{Outer: outline})
		x.area = x.room.rings[0].area()
		for _, d := range k.Defects {
			x.defects = append(x.defects, lay(geom.Placement{}, geom.Shape{Outer: d}))
		}
		for _, g := range append(x.defects, x.room) {
			if !g.finite() {
				return fmt.Errorf("the problem's sheet %q has an outline or a defect without place or end", k.ID)
			}
		}
		c.sheets[k.ID] = x
	}
	used := map[string]int{}
	var cost int64
	for n, l := range s.Layouts {
		k, ok := c.sheets[l.Sheet]
		if !ok {
			return fmt.Errorf("layout %d is on sheet %q, which is not in stock", n+1, l.Sheet)
		}
		if l.Width != k.Width || l.Height != k.Height || !(l.Width > 0) || math.IsInf(float64(l.Width), 0) {
			return fmt.Errorf("layout %d is %v by %v, sheet %q is %v by %v", n+1, l.Width, l.Height, k.ID, k.Width, k.Height)
		}
		if used[k.ID]++; k.Count > 0 && used[k.ID] > k.Count {
			return fmt.Errorf("layout %d is on sheet %q for the %d. time, %d are in stock", n+1, k.ID, used[k.ID], k.Count)
		}
		cost += k.Price
	}
	if cost != s.Cost {
		return fmt.Errorf("the sheets are said to cost %d, they cost %d", s.Cost, cost)
	}
	if o := s.Offcut; o != nil && (c.p.Strip > 0 || o.Layout < 0 || o.Layout >= len(s.Layouts)) {
		return fmt.Errorf("the offcut is of layout %d, which is none that leaves one", o.Layout+1)
	}
	return nil
}

// copies looks at which copies of the items are there, and which are said not to be.
func (c *order) copies(s nest.Solution) error {
	c.items, c.areas = map[string]nest.Item{}, map[string]float64{}
	for _, it := range c.p.Items {
		c.items[it.ID] = it
		for k, r := range lay(geom.Placement{}, it.Shape).rings {
			if k == 0 {
				c.areas[it.ID] = r.area()
			} else {
				c.areas[it.ID] -= r.area()
			}
		}
	}
	type one struct {
		item string
		copy int
	}
	there := map[one]bool{}
	count := map[string]int{}
	for n, l := range s.Layouts {
		for _, q := range l.Placed {
			it, ok := c.items[q.Item]
			switch {
			case !ok:
				return fmt.Errorf("layout %d has item %q, which nobody asked for", n+1, q.Item)
			case q.Copy < 1 || q.Copy > it.Demand:
				return fmt.Errorf("layout %d has copy %d of item %q, of which 1 to %d are asked for", n+1, q.Copy, q.Item, it.Demand)
			case there[one{q.Item, q.Copy}]:
				return fmt.Errorf("layout %d has copy %d of item %q a second time", n+1, q.Copy, q.Item)
			case q.Owner != it.Owner:
				return fmt.Errorf("layout %d has copy %d of item %q for %q, it is %q's", n+1, q.Copy, q.Item, q.Owner, it.Owner)
			}
			there[one{q.Item, q.Copy}] = true
			count[q.Item]++
		}
	}
	missing := map[string]int{}
	for _, m := range s.Missing {
		if _, ok := c.items[m.Item]; !ok || m.Copies < 1 || missing[m.Item] > 0 {
			return fmt.Errorf("%d copies of item %q are said to be missing, give each item once that lacks some", m.Copies, m.Item)
		}
		missing[m.Item] = m.Copies
	}
	for _, it := range c.p.Items {
		if lacks := it.Demand - count[it.ID]; lacks != missing[it.ID] {
			return fmt.Errorf("%d of %d copies of item %q are on no sheet, %d are said to be missing", lacks, it.Demand, it.ID, missing[it.ID])
		}
	}
	if len(s.Missing) > 0 && !c.p.Partial {
		return fmt.Errorf("%d copies of item %q are missing, though all were to be placed", s.Missing[0].Copies, s.Missing[0].Item)
	}
	return nil
}

// place moves the pieces of a layout to where they lie and looks at how each is turned.
func (c *order) place(l nest.Layout) ([]piece, error) {
	var out []piece
	for _, q := range l.Placed {
		it := c.items[q.Item]
		name := fmt.Sprintf("copy %d of item %q", q.Copy, q.Item)
		if !mayTurn(it, q.At.Turn) {
			return nil, fmt.Errorf("%s is turned by %g degrees, it may turn %q %v", name, q.At.Turn, it.Turn, it.Turns)
		}
		if q.At.Mirrored && !it.MayFlip {
			return nil, fmt.Errorf("%s is mirrored and may not be", name)
		}
		at, cut := lay(q.At, it.Shape), q.At.Shape(it.Shape)
		if !at.finite() {
			return nil, fmt.Errorf("%s lies at no finite place", name)
		}
		if d := at.off(cut); !(d <= tolerance) {
			return nil, fmt.Errorf("%s is cut %g mm from where it lies", name, d)
		}
		out = append(out, piece{name, at, exact.NewOutline(cut)})
	}
	return out, nil
}

func mayTurn(it nest.Item, deg float64) bool {
	if math.IsNaN(deg) || math.IsInf(deg, 0) {
		return false
	}
	near := func(to, each float64) bool {
		over := math.Mod(deg-to, each)
		return min(math.Abs(over), each-math.Abs(over)) <= turned
	}
	switch {
	case len(it.Turns) > 0:
		return slices.ContainsFunc(it.Turns, func(t float64) bool { return near(t, 360) })
	case it.Turn == geom.TurnAny:
		return true
	case it.Turn == geom.TurnQuarter:
		return near(0, 90)
	case it.Turn == geom.TurnHalf:
		return near(0, 180)
	}
	return near(0, 360)
}

// lie looks at each piece and its sheet: within the outline, clear of the defects.
func (c *order) lie(k sheet, pieces []piece) error {
	w, h := float64(k.Width), float64(k.Height)
	for _, q := range pieces {
		lo, hi := q.at.lo, q.at.hi
		if least := c.edge - tolerance; real(lo) < least || imag(lo) < least || real(hi) > w-least || imag(hi) > h-least {
			return fmt.Errorf("%s spans %.6f, %.6f to %.6f, %.6f and leaves the %v by %v less its margin of %v",
				q.name, real(lo), imag(lo), real(hi), imag(hi), k.Width, k.Height, geom.MM(c.edge))
		}
		if !k.whole {
			if at, out := q.at.leaves(k.room); out {
				return fmt.Errorf("%s leaves the sheet's outline at %.6f, %.6f", q.name, real(at), imag(at))
			}
			if d := q.at.distance(k.room, c.edge); d < c.edge-tolerance {
				return fmt.Errorf("%s is %.6f mm from the sheet's outline, the margin is %v", q.name, d, geom.MM(c.edge))
			}
		}
		for i, d := range k.defects {
			if at, over := q.at.meets(d); over {
				return fmt.Errorf("%s covers defect %d at %.6f, %.6f", q.name, i+1, real(at), imag(at))
			}
			if d := q.at.distance(d, c.edge); d < c.edge-tolerance {
				return fmt.Errorf("%s is %.6f mm from defect %d, the margin is %v", q.name, d, i+1, geom.MM(c.edge))
			}
		}
	}
	return nil
}

// length looks at a strip: it is as long as its pieces reach, and no longer.
func (c *order) length(l nest.Layout, pieces []piece) error {
	var end float64
	for _, q := range pieces {
		end = max(end, real(q.at.hi))
	}
	if d := float64(l.Width) - c.edge - end; !(d <= tolerance) {
		return fmt.Errorf("it is %v long, its pieces end %.6f mm before its margin", l.Width, d)
	}
	return nil
}

// apart looks at every two pieces of a layout.
func (c *order) apart(pieces []piece) error {
	for i, q := range pieces {
		for _, r := range pieces[:i] {
			if !q.at.near(r.at, c.between) {
				continue
			}
			if at, over := q.at.meets(r.at); over {
				return fmt.Errorf("%s and %s overlap at %.6f, %.6f", r.name, q.name, real(at), imag(at))
			}
			if d := q.at.distance(r.at, c.between); d < c.between-tolerance {
				return fmt.Errorf("%s and %s are %.6f mm apart, gap and kerf are %v", r.name, q.name, d, geom.MM(c.between))
			}
			if exact.Overlap(q.exact, r.exact) {
				return fmt.Errorf("%s and %s overlap by less than %g mm", r.name, q.name, tolerance)
			}
		}
	}
	return nil
}

// offcut looks at what is said to remain of a sheet.
func (c *order) offcut(k sheet, pieces []piece, s geom.Shape) error {
	o := lay(geom.Placement{}, s)
	if at, out := o.leaves(k.room); out {
		return fmt.Errorf("the offcut leaves the sheet's outline at %.6f, %.6f", real(at), imag(at))
	}
	for i, d := range k.defects {
		if at, over := o.meets(d); over {
			return fmt.Errorf("the offcut has defect %d in it at %.6f, %.6f and no hole there", i+1, real(at), imag(at))
		}
	}
	for _, q := range pieces {
		if at, over := o.meets(q.at); over {
			return fmt.Errorf("the offcut has %s in it at %.6f, %.6f", q.name, real(at), imag(at))
		}
		if d := o.distance(q.at, c.between); d < c.between-tolerance {
			return fmt.Errorf("the offcut is %.6f mm from %s, gap and kerf are %v", d, q.name, geom.MM(c.between))
		}
	}
	return nil
}
