// Package cutting lays foam out for cutting: pieces on sheets and on offcuts from the rack, for one quote or for several
// commissions together, the useful offcuts left over, and the files a maker cuts from: cut list, 1:1 pattern, layouts for a
// knife, laser or router.
//
// It refuses a thickness the studio does not buy, a quote without its graded pieces, and a commission named twice. What
// always holds: every piece lies on exactly one sheet; cutting commissions together never costs more foam than cutting them
// alone, as long as the studio's sheets and gaps are still those of their quotes; no offcut is used twice; a kept offcut is
// clear of every piece by the studio's gap and kerf.
package cutting

import (
	"context"
	"fmt"
	"math"

	"benchbell/quote"
	"benchbell/quote/draw"
	"benchbell/quote/foam"
	"benchbell/quote/geom"
	"benchbell/quote/nest"
	"benchbell/quote/nest/lay"
	"benchbell/quote/picture"
)

// foamPiece is a graded piece to place on a sheet.
type foamPiece struct {
	label string
	owner string // commission, if sheets are shared
	piece foam.Piece
}

// Nest lays the pieces of a quote out on the sheets that the studio of its snapshot buys. progress receives the share of
// the work done and the share of the foam the best layout so far uses, both 0..1.
func Nest(ctx context.Context, q *quote.Quote, s quote.Snapshot, progress func(share, used float64)) error {
	shapes := q.Shapes()
	at := map[string]int{}
	for i, p := range q.Pieces {
		at[p.Label] = i
	}
	ts := foam.Thicknesses(q.Graded)
	for n, t := range ts {
		var pieces []foamPiece
		for i, c := range q.Pieces {
			if c.Thickness == t {
				pieces = append(pieces, foamPiece{label: c.Label, piece: shapes[i]})
			}
		}
		sheets, err := bought(s.Studio, t)
		if err != nil {
			return err
		}
		sol, err := layOut(ctx, s.Studio, pieces, sheets, s.Seed, func(share, used float64) {
			progress((float64(n)+share)/float64(len(ts)), used)
		})
		if err != nil {
			return err
		}
		for _, l := range sol.Layouts {
			number := len(q.Sheets) + 1
			q.Sheets = append(q.Sheets, quote.SheetLayout{Number: number, Thickness: t, Layout: l})
			for _, pl := range l.Placed {
				i := at[pl.Item]
				q.Pieces[i].Sheet, q.Pieces[i].At = number, pl.At
			}
		}
	}
	for _, p := range q.Pieces {
		if p.Sheet == 0 {
			return fmt.Errorf("piece %s did not get a place on any sheet", p.Label)
		}
	}
	return nil
}

// bought lists the sheets of one thickness the studio buys.
func bought(st quote.Studio, t geom.MM) ([]nest.Sheet, error) {
	var out []nest.Sheet
	for _, sh := range st.Prices.Sheets {
		if sh.Thickness == t {
			out = append(out, nest.Sheet{ID: sh.Key, Width: sh.Width, Height: sh.Height, Price: int64(sh.Price)})
		}
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("this pattern needs %s foam, which the studio does not buy; add a [[sheet]] of that thickness to studio.toml", t)
	}
	return out, nil
}

// grains are the directions tried for pieces that cannot be turned freely: the height of their drawing along the sheet's
// length, or across it. Within one thickness all lie the same way, so that the texture runs the same way everywhere; which
// way it runs on the sheet is up to the maker when buying (common practice, no source).
var grains = []float64{-90, 0}

// layOut nests pieces of one thickness with the studio's gap, margin and budget, once for each grain, and returns the
// cheaper layouts; placements are of the pieces as graded. progress receives the share of the budget used and the share of
// the foam the best layout so far uses.
func layOut(ctx context.Context, st quote.Studio, pieces []foamPiece, sheets []nest.Sheet, seed uint64, progress func(share, used float64)) (nest.Solution, error) {
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
			continue // a piece too long to lie along the sheet may fit across it; the other grain is tried separately
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

// along turns a piece that has a direction to the grain.
func along(p foam.Piece, grain float64) geom.Placement {
	if p.Turn == geom.TurnHalf || p.Turn == geom.TurnNone {
		return geom.Placement{Turn: grain}
	}
	return geom.Placement{}
}

// after is the placement that turns by first and then moves by then. first must only turn.
func after(first, then geom.Placement) geom.Placement {
	turn := first.Turn
	if then.Mirrored { // mirroring reverses the turn
		turn = -turn
	}
	then.Turn = math.Mod(then.Turn+turn+360, 360)
	return then
}

func SheetTitle(q quote.Quote, l quote.SheetLayout) string {
	used := fmt.Sprintf("%.0f %%", 100*l.Layout.Used)
	if l.Layout.Used < 0.005 { // "0 %" would say that there is nothing on it
		used = "under 1 %"
	}
	return fmt.Sprintf("sheet %d of %d · EVA foam %s · %g × %g mm · %s used", l.Number, len(q.Sheets), l.Thickness,
		float64(l.Layout.Width), float64(l.Layout.Height), used)
}

// SheetPicture describes a sheet for draw.Layout; shapes are the graded pieces by label.
func SheetPicture(q quote.Quote, l quote.SheetLayout, shapes map[string]foam.Piece, st quote.Studio) draw.SheetPicture {
	return draw.SheetPicture{Title: SheetTitle(q, l), Commission: string(q.Commission), Width: l.Layout.Width, Height: l.Layout.Height,
		Pieces: picture.LaidPieces(l.Layout, shapes), Offcut: largestOffcut(l.Layout, nil, nil, shapes, st)}
}
