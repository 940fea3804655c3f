package lay

import (
	"context"
	"fmt"
	"math"
	"slices"

	"benchbell/quote/geom"
	"benchbell/quote/nest"
	"benchbell/quote/nest/inspect"
	"benchbell/quote/nest/search"
)

const (
	// snap is the grid outlines are put on once their box stands at the origin, so that where an item was drawn does
	// not change its layout through the last digits: so many lines to the millimetre, far finer than the tolerance.
	snap = 1e10
	// candidates is how many of the last layouts found are kept, for the case that the best does not hold.
	candidates = 8
	// spare is by how much pieces of the layout of last resort keep apart, in millimetres; twice the tolerance.
	spare = 2e-6
)

// Solve lays every copy on sheets from the stock at the least sheet cost it finds, then so that the last sheet is used
// over the least length; or on a strip over the least length. The first layout is made whatever the budget of
// evaluations; what is left goes into improving it, and Solve stops early where no cheaper choice of sheets has the
// area and the last length cannot fall. The result depends on the problem alone. progress may be nil.
//
// Errors: a figure that is out of bounds, a piece larger than every sheet, a stock too small unless Partial, and ctx's error once
// it is done.
func Solve(ctx context.Context, p nest.Problem, progress func(nest.Progress)) (nest.Solution, error) {
	return SolveUntil(ctx, p, func(evaluations int) float64 {
		if p.Evaluations == 0 {
			return 1
		}
		return float64(evaluations) / float64(p.Evaluations)
	}, progress)
}

// SolveUntil is Solve with a budget of the caller's: spent tells the share of it used up after so many evaluations, and
// at 1 the search ends. Where spent asks a clock, the result depends on the machine. It is called by one goroutine at
// a time.
func SolveUntil(ctx context.Context, p nest.Problem, spent func(evaluations int) float64, progress func(nest.Progress)) (nest.Solution, error) {
	if err := validate(p); err != nil {
		return nest.Solution{}, err
	}
	if err := ctx.Err(); err != nil {
		return nest.Solution{}, fmt.Errorf("nesting stopped before the first layout: %w", err)
	}
	sv := newSolver(p, progress)
	if err := sv.fits(); err != nil {
		return nest.Solution{}, err
	}
	budget := func(n int) float64 {
		if ctx.Err() != nil {
			return 1
		}
		return spent(n)
	}
	sv.search(p.Between()/2, budget)
	if err := ctx.Err(); err != nil {
		return nest.Solution{}, fmt.Errorf("nesting stopped after %d evaluations: %w", sv.evaluations, err)
	}
	return sv.holding()
}

// unit is one copy of an item.
type unit struct{ item, number int }

// laid is where every copy lies, in sheets' coordinates.
type laid struct {
	sheets []int // kind of each sheet; none for a strip
	length float64
	spots  []search.Spot // of each copy; Field is the sheet's index
	left   []int
}

type solver struct {
	p           nest.Problem
	copies      []unit
	lo          []geom.Point // of each item: its box's lower corner as drawn
	base        []geom.Ring  // its outline from there
	kinds       []*search.Kind
	fields      []search.Sheet
	total       float64
	found       []laid // the last few, best last
	evaluations int
	progress    func(nest.Progress)
}

func newSolver(p nest.Problem, progress func(nest.Progress)) *solver {
	sv := &solver{p: p, progress: progress}
	for i, it := range p.Items {
		r := distinct(it.Shape.Outer).CCW()
		lo := r.Bounds().Min
		for j, q := range r {
			q = q.Sub(lo)
			r[j] = geom.Pt(math.Round(q.X*snap)/snap, math.Round(q.Y*snap)/snap)
		}
		sv.lo, sv.base = append(sv.lo, lo), append(sv.base, r)
		for c := range it.Demand {
			sv.copies = append(sv.copies, unit{i, c + 1})
			sv.total += float64(it.Shape.Area())
		}
	}
	return sv
}

// prepare makes kinds and fields for pieces that keep grow on each side to themselves.
func (sv *solver) prepare(grow float64) {
	sv.kinds, sv.fields = nil, nil
	for i, it := range sv.p.Items {
		sv.kinds = append(sv.kinds, search.NewKind(search.Part{
			True: sv.base[i], Rough: search.Rough(sv.base[i]), Turns: turns(it), MayFlip: it.MayFlip}, grow))
	}
	edge := sv.p.Edge()
	for _, k := range sv.p.Sheets {
		f := search.NewField(float64(k.Width)-2*edge, float64(k.Height)-2*edge, blocked(k, edge), math.Max(0, edge-grow))
		sv.fields = append(sv.fields, search.Sheet{Field: f, Count: k.Count, Price: k.Price, Area: f.Area(grow)})
	}
}

// turns is the angles an item may take; none for any.
func turns(it nest.Item) []float64 {
	if len(it.Turns) > 0 {
		return it.Turns
	}
	switch it.Turn {
	case geom.TurnAny:
		return nil
	case geom.TurnQuarter:
		return []float64{0, 90, 180, 270}
	case geom.TurnHalf:
		return []float64{0, 180}
	}
	return []float64{0}
}

// search fills found.
func (sv *solver) search(grow float64, budget search.Budget) {
	if sv.kinds == nil {
		sv.prepare(grow)
	}
	pieces := make([]int, len(sv.copies))
	for i, u := range sv.copies {
		pieces[i] = u.item
	}
	workers := sv.p.Workers
	if workers == 0 {
		workers = nest.DefaultWorkers
	}
	if sv.p.Strip > 0 {
		edge := sv.p.Edge()
		r := search.Strip(sv.kinds, pieces, float64(sv.p.Strip)-2*edge, grow, workers, sv.p.Seed, budget, func(r search.Result) {
			sv.keep(laid{length: r.Length + 2*edge, spots: r.Spots}, r.Evaluations)
		})
		sv.evaluations = r.Evaluations
		return
	}
	r := search.Stock(sv.kinds, pieces, sv.ranks(), sv.fields, workers, sv.p.Seed, budget, func(r search.StockResult) {
		sv.keep(laid{sheets: r.Sheets, length: r.Length, spots: r.Spots, left: r.Left}, r.Evaluations)
	})
	sv.evaluations = r.Evaluations
}

// ranks is the copies' priorities, counted from the lowest, where they matter.
func (sv *solver) ranks() []int {
	if !sv.p.Partial {
		return nil
	}
	var levels []int
	for _, it := range sv.p.Items {
		levels = append(levels, it.Priority)
	}
	slices.Sort(levels)
	levels = slices.Compact(levels)
	out := make([]int, len(sv.copies))
	for i, u := range sv.copies {
		out[i], _ = slices.BinarySearch(levels, sv.p.Items[u.item].Priority)
	}
	return out
}

func (sv *solver) keep(l laid, evaluations int) {
	sv.found = append(sv.found, l)
	if len(sv.found) > candidates {
		sv.found = slices.Delete(sv.found, 0, 1)
	}
	sv.evaluations = evaluations
	if sv.progress == nil {
		return
	}
	pg := nest.Progress{Evaluations: evaluations, Budget: sv.p.Evaluations, Sheets: max(1, len(l.sheets))}
	if len(l.left) == 0 {
		area := l.length * float64(sv.p.Strip)
		for _, k := range l.sheets {
			area += sheetArea(sv.p.Sheets[k])
		}
		pg.Density = sv.total / area
	}
	sv.progress(pg)
}

// holding is the best layout found that can be cut, mended where two pieces overlap by a rounding.
func (sv *solver) holding() (nest.Solution, error) {
	if best := sv.found[len(sv.found)-1]; len(best.left) > 0 && !sv.p.Partial {
		return nest.Solution{}, shortage(sv.p, sv.solution(best))
	}
	var fault error
	for n := len(sv.found) - 1; n >= 0; n-- {
		s := sv.solution(sv.found[n])
		if fault = inspect.Layouts(sv.p, s); fault == nil {
			return s, nil
		}
		if mend(sv.p, &s) {
			sv.finish(&s) // the offcut begins where the pieces end now
			if fault = inspect.Layouts(sv.p, s); fault == nil {
				return s, nil
			}
		}
	}
	// The last resort keeps pieces apart by more than any rounding, and tries nothing after the first layout.
	sv.found, sv.kinds = nil, nil
	n := sv.evaluations
	sv.search(sv.p.Between()/2+spare, func(int) float64 { return 1 })
	sv.evaluations += n
	s := sv.solution(sv.found[len(sv.found)-1])
	if err := inspect.Layouts(sv.p, s); err != nil {
		return nest.Solution{}, fmt.Errorf("no layout found can be cut, which is a fault of the program, report it with the seed %d: %w", sv.p.Seed, fault)
	}
	return s, nil
}

// solution is a layout with names, in the items' own coordinates.
func (sv *solver) solution(l laid) nest.Solution {
	s := nest.Solution{Evaluations: sv.evaluations}
	p := sv.p
	edge := p.Edge()
	if p.Strip > 0 {
		s.Layouts = []nest.Layout{{Sheet: nest.StripID, Width: geom.MM(l.length), Height: p.Strip}}
	}
	for _, k := range l.sheets {
		s.Layouts = append(s.Layouts, nest.Layout{Sheet: p.Sheets[k].ID, Width: p.Sheets[k].Width, Height: p.Sheets[k].Height})
		s.Cost += p.Sheets[k].Price
	}
	missing := map[string]int{}
	for i, u := range sv.copies {
		it := p.Items[u.item]
		if slices.Contains(l.left, i) {
			missing[it.ID]++
			continue
		}
		sp := l.spots[i]
		at := geom.Placement{Mirrored: sp.Mirrored, Turn: sp.Turn}
		at.Move = geom.Pt(sp.X+edge, sp.Y+edge).Sub(at.Apply(sv.lo[u.item]))
		s.Layouts[sp.Field].Placed = append(s.Layouts[sp.Field].Placed, nest.Placed{Item: it.ID, Copy: u.number, At: at, Owner: it.Owner})
	}
	for _, it := range p.Items {
		if n := missing[it.ID]; n > 0 {
			s.Missing = append(s.Missing, nest.Missing{Item: it.ID, Copies: n})
		}
	}
	sv.finish(&s)
	return s
}

// finish works out areas, density and the offcut.
func (sv *solver) finish(s *nest.Solution) {
	area := map[string]float64{}
	for _, it := range sv.p.Items {
		area[it.ID] = float64(it.Shape.Area())
	}
	var pieces, sheets float64
	for i := range s.Layouts {
		l := &s.Layouts[i]
		var a float64
		for _, q := range l.Placed {
			a += area[q.Item]
		}
		size := layoutArea(sv.p, *l)
		l.Used = a / size
		pieces += a
		sheets += size
	}
	if sheets > 0 {
		s.Density = pieces / sheets
	}
	s.Offcut = offcut(sv.p, *s)
}

// area is what can be cut from a sheet, defects aside.
func sheetArea(k nest.Sheet) float64 {
	a := float64(k.Width) * float64(k.Height)
	if len(k.Outline) > 0 {
		a = float64(k.Outline.Area())
	}
	return a
}

// layoutArea is the area of the sheet that a layout is on.
func layoutArea(p nest.Problem, l nest.Layout) float64 {
	for _, k := range p.Sheets {
		if k.ID == l.Sheet && p.Strip == 0 {
			return sheetArea(k)
		}
	}
	return float64(l.Width) * float64(l.Height)
}
