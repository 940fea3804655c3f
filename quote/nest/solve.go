package nest

import (
	"cmp"
	"context"

	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"benchbell/quote/geom"
)

// quietRounds is after how many rounds without a shorter last sheet Solve stops once no cheaper sheets can do.
const quietRounds = 8

// stream sets the solver's random numbers apart from another engine's with the same seed.
const stream = 0x6e657374

type unit struct{ item, number int }

// solver holds what does not change while solving, and buffers.
type solver struct {
	ctx      context.Context
	p        Problem
	copies   []unit
	outs     [][]*outline
	area     []float64 // of an item's outline, holes filled: what it takes from a sheet
	total    float64
	rng      *rand.Rand
	slide    slider
	pick     []int
	heights  []float64
	progress func(Progress)
}

// Solve lays every copy on sheets from the stock at the least sheet cost it finds, then so that the last sheet is used
// over the least length. The first layout is made whatever the budget; what is left of the budget goes into improving
// it, and Solve stops early when no cheaper choice of sheets has the area and the last sheet gets no shorter.
// The result depends on the problem alone. progress may be nil.
//
// Errors: what Validate says, a piece larger than every sheet, a stock too small, and ctx's error once it is done.
func Solve(ctx context.Context, p Problem, progress func(Progress)) (Solution, error) {
	if err := p.Validate(); err != nil {
		return Solution{}, err
	}
	sv, err := newSolver(ctx, p, progress)
	if err != nil {
		return Solution{}, err
	}
	st, err := sv.construct()
	if err != nil {
		return Solution{}, err
	}
	if st, err = sv.improve(st); err != nil {
		return Solution{}, err
	}
	if len(st.left) > 0 {
		return Solution{}, sv.shortage(st)
	}
	s := sv.solution(st)
	if err := Check(p, s); err != nil {
		return Solution{}, fmt.Errorf("the layout found does not hold, report the problem with its seed %d: %w", p.Seed, err)
	}
	return s, nil
}

func newSolver(ctx context.Context, p Problem, progress func(Progress)) (*solver, error) {
	sv := &solver{ctx: ctx, p: p, progress: progress, rng: rand.New(rand.NewPCG(p.Seed, stream))}
	sv.slide.box = float64(p.Gap)
	sv.slide.gap = math.Max(float64(p.Gap), leastGap)
	for i, it := range p.Items {
		if err := ctx.Err(); err != nil {
			return nil, fmt.Errorf("nesting stopped before the first layout: %w", err)
		}
		outs := outlines(i, it, sv.slide.gap)
		fits := slices.DeleteFunc(slices.Clone(outs), func(o *outline) bool {
			for k := range p.Sheets {
				if _, _, ok := sv.room(o, k); ok {
					return false
				}
			}
			return true
		})
		if len(fits) == 0 {
			return nil, tooLarge(p, it, outs)
		}
		sv.outs = append(sv.outs, fits)
		a := float64(it.Shape.Outer.Area())
		sv.area = append(sv.area, a)
		for c := range it.Demand {
			sv.copies = append(sv.copies, unit{i, c + 1})
			sv.total += a
		}
	}
	return sv, nil
}

func tooLarge(p Problem, it Item, outs []*outline) error {
	o := slices.MinFunc(outs, func(a, b *outline) int { return cmp.Compare(max(a.width(), a.height()), max(b.width(), b.height())) })
	k := slices.MaxFunc(p.Sheets, func(a, b Sheet) int {
		return cmp.Compare(float64(a.Width)*float64(a.Height), float64(b.Width)*float64(b.Height))
	})
	return fmt.Errorf("item %q measures %v by %v at its best turn (turn %q) and fits on no sheet, the largest is %q of %v by %v with a margin of %v; split the piece or stock a larger sheet",
		it.ID, geom.MM(o.width()), geom.MM(o.height()), it.Turn, k.ID, k.Width, k.Height, p.Margin)
}

func (sv *solver) shortage(st *state) error {
	u := sv.copies[st.left[0]]
	return fmt.Errorf("the stock of sheets is too small, %d of %d pieces have no place, the first is copy %d of item %q; add sheets or allow more evaluations",
		len(st.left), len(sv.copies), u.number, sv.p.Items[u.item].ID)
}

// order is the copies from large to small by the box at their first turn: a hollow or long piece has less choice of
// place than its area tells.
func (sv *solver) order() []int {
	o := make([]int, len(sv.copies))
	for i := range o {
		o[i] = i
	}
	box := func(c int) float64 {
		first := sv.outs[sv.copies[c].item][0]
		return first.width() * first.height()
	}
	slices.SortStableFunc(o, func(a, b int) int { return cmp.Compare(box(b), box(a)) })
	return o
}

// construct builds one layout for each kind of sheet as the kind to open first, and returns the best.
func (sv *solver) construct() (*state, error) {
	var best *state
	order := sv.order()
	for k := range sv.p.Sheets {
		st := &state{}
		for _, c := range order {
			if err := sv.stopped(); err != nil {
				return nil, err
			}
			if !sv.insert(st, c, nil, math.Inf(1)) && !sv.open(st, c, k) {
				st.left = append(st.left, c)
			}
		}
		if best == nil || sv.score(st).less(sv.score(best)) {
			best = st
		}
	}
	return best, nil
}

func (sv *solver) stopped() error {
	if err := sv.ctx.Err(); err != nil {
		return fmt.Errorf("nesting stopped after %d evaluations: %w", sv.slide.evals, err)
	}
	return nil
}

// insert puts a copy on the first sheet that has room; on the last one no piece may end beyond limit.
func (sv *solver) insert(st *state, c int, rng *rand.Rand, limit float64) bool {
	for i := range st.bins {
		end := math.Inf(1)
		if i == len(st.bins)-1 {
			end = limit
		}
		if sv.place(&st.bins[i], c, rng, false, end) {
			return true
		}
	}
	return false
}

// open starts a sheet for a copy: of the kind preferred, else of the kind that is cheapest for its area.
func (sv *solver) open(st *state, c, prefer int) bool {
	kinds := make([]int, len(sv.p.Sheets))
	for i := range kinds {
		kinds[i] = i
	}
	perArea := func(k int) float64 {
		s := sv.p.Sheets[k]
		return float64(s.Price) / (float64(s.Width) * float64(s.Height))
	}
	slices.SortStableFunc(kinds, func(a, b int) int {
		if (a == prefer) != (b == prefer) {
			if a == prefer {
				return -1
			}
			return 1
		}
		return cmp.Compare(perArea(a), perArea(b))
	})
	for _, k := range kinds {
		if n := sv.p.Sheets[k].Count; n > 0 && st.count(k) >= n {
			continue
		}
		b := bin{kind: k}
		if sv.place(&b, c, nil, true, math.Inf(1)) {
			st.bins = append(st.bins, b)
			return true
		}
	}
	return false
}

func (st *state) count(kind int) int {
	n := 0
	for i := range st.bins {
		if st.bins[i].kind == kind {
			n++
		}
	}
	return n
}

func (sv *solver) solution(st *state) Solution {
	s := Solution{Evaluations: sv.slide.evals}
	var pieces, sheets float64
	for i := range st.bins {
		k := sv.p.Sheets[st.bins[i].kind]
		l := Layout{Sheet: k.ID, Width: k.Width, Height: k.Height}
		var area float64
		for _, sp := range st.bins[i].spots {
			u := sv.copies[sp.copy]
			area += float64(sv.p.Items[u.item].Shape.Area())
			l.Placed = append(l.Placed, Placed{
				Item: sv.p.Items[u.item].ID, Copy: u.number,
				At: geom.Placement{Mirrored: sp.o.mirrored, Turn: sp.o.turn, Move: sp.o.origin.Add(geom.Pt(sp.at[0], sp.at[1]))},
			})
		}
		size := float64(k.Width) * float64(k.Height)
		l.Used = area / size
		s.Layouts = append(s.Layouts, l)
		s.Cost += k.Price
		pieces += area
		sheets += size
	}
	if sheets > 0 {
		s.Density = pieces / sheets
	}
	return s
}

func (sv *solver) tell(st *state) {
	if sv.progress == nil {
		return
	}
	pg := Progress{Evaluations: sv.slide.evals, Budget: sv.p.Evaluations, Sheets: len(st.bins)}
	if len(st.left) == 0 {
		pg.Density = sv.solution(st).Density
	}
	sv.progress(pg)
}
