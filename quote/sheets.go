package quote

import (
	"context"
	"fmt"
	"math"

	"benchbell/quote/foam"
	"benchbell/quote/geom"
	"benchbell/quote/nest"
	"benchbell/quote/nest/lay"
)

// foamPiece is a graded piece on its way to a sheet.
type foamPiece struct {
	label string
	owner string // commission, where sheets are shared
	piece foam.Piece
}

func (q *Quote) nest(ctx context.Context, s Snapshot, progress Progress) error {
	progress.At(Nesting, 0)
	shapes := q.graded()
	at := map[string]int{}
	for i, p := range q.Pieces {
		at[p.Label] = i
	}
	ts := thicknesses(q.Graded)
	for n, t := range ts {
		var pieces []foamPiece
		for i, c := range q.Pieces {
			if c.Thickness == t {
				pieces = append(pieces, foamPiece{label: c.Label, piece: shapes[i]})
			}
		}
		sheets, err := s.Studio.bought(t)
		if err != nil {
			return err
		}
		sol, err := s.Studio.lay(ctx, pieces, sheets, s.Seed, func(share, used float64) {
			progress(Step{Stage: Nesting, Share: (float64(n) + share) / float64(len(ts)), Used: used})
		})
		if err != nil {
			return err
		}
		for _, l := range sol.Layouts {
			number := len(q.Sheets) + 1
			q.Sheets = append(q.Sheets, SheetLayout{Number: number, Thickness: t, Layout: l})
			for _, pl := range l.Placed {
				i := at[pl.Item]
				q.Pieces[i].Sheet, q.Pieces[i].At = number, pl.At
			}
		}
	}
	for _, p := range q.Pieces {
		if p.Sheet == 0 {
			return fmt.Errorf("piece %s was not laid on any sheet", p.Label)
		}
	}
	progress.At(Nesting, 1)
	return nil
}

// bought lists the sheets of one thickness that the studio buys.
func (st Studio) bought(t geom.MM) ([]nest.Sheet, error) {
	var out []nest.Sheet
	for _, sh := range st.Prices.Sheets {
		if sh.Thickness == t {
			out = append(out, nest.Sheet{ID: sh.Key, Width: sh.Width, Height: sh.Height, Price: int64(sh.Price)})
		}
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("the studio buys no %s foam, which this pattern needs; add a [[sheet]] of that thickness to studio.toml", t)
	}
	return out, nil
}

// grains are the directions tried for the pieces that may not be turned freely: with their drawing's height along the
// sheet's length, or across it. Within one thickness all lie the same way, so that a texture runs alike over the work;
// which way it runs on the sheet is the maker's to choose when buying (common practice, no source).
var grains = []float64{-90, 0}

// lay nests pieces of one thickness with the studio's gap, margin and budget, once for each grain, and returns the cheaper
// layouts; placements are of the pieces as graded. progress is told the share of the budget used,
// and the share of the foam used by the best layout so far.
func (st Studio) lay(ctx context.Context, pieces []foamPiece, sheets []nest.Sheet, seed uint64, progress func(share, used float64)) (nest.Solution, error) {
	var sol nest.Solution
	var grain float64
	for k, turn := range grains {
		p := nest.Problem{Sheets: sheets, Gap: st.Gap, Margin: st.Margin, Kerf: st.Bench.Kerf, Evaluations: st.Evaluations, Seed: seed}
		for _, f := range pieces {
			p.Items = append(p.Items, nest.Item{ID: f.label, Shape: along(f.piece, turn).Shape(f.piece.Shape), Demand: 1,
				Turn: f.piece.Turn, MayFlip: f.piece.MayFlip, Owner: f.owner})
		}
		got, err := lay.Solve(ctx, p, func(g nest.Progress) {
			share := 1.0
			if g.Budget > 0 {
				share = math.Min(1, float64(g.Evaluations)/float64(g.Budget))
			}
			progress((float64(k)+share)/float64(len(grains)), g.Density)
		})
		if err != nil && k == 0 && ctx.Err() == nil {
			continue // what is too long along the sheet may lie across it; the other way has its own say
		}
		if err != nil && len(sol.Layouts) == 0 {
			return sol, err
		}
		if err == nil && (len(sol.Layouts) == 0 || got.Cost < sol.Cost) {
			sol, grain = got, turn
		}
	}
	graded := map[string]foam.Piece{}
	for _, f := range pieces {
		graded[f.label] = f.piece
	}
	for _, l := range sol.Layouts {
		for k := range l.Placed {
			l.Placed[k].At = after(along(graded[l.Placed[k].Item], grain), l.Placed[k].At)
		}
	}
	return sol, nil
}

// along turns a piece with a direction to the grain.
func along(p foam.Piece, grain float64) geom.Placement {
	if p.Turn == geom.TurnHalf || p.Turn == geom.TurnNone {
		return geom.Placement{Turn: grain}
	}
	return geom.Placement{}
}

// after is the placement that turns by first and then moves by then. first only turns.
func after(first, then geom.Placement) geom.Placement {
	turn := first.Turn
	if then.Mirrored { // a mirror turns the other way round
		turn = -turn
	}
	then.Turn = math.Mod(then.Turn+turn+360, 360)
	return then
}
