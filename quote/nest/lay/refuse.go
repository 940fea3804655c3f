package lay

import (
	"fmt"
	"math"

	"benchbell/quote/geom"
	"benchbell/quote/nest"
)

// fits refuses an item that lies in no sheet at any turn it may take.
func (sv *solver) fits() error {
	sv.prepare(sv.p.Between() / 2)
	for i, it := range sv.p.Items {
		if sv.p.Strip > 0 {
			if !sv.kinds[i].FitsHeight(float64(sv.p.Strip) - 2*sv.p.Edge()) {
				_, h := sv.kinds[i].Least(math.Inf(1), float64(sv.p.Strip))
				return fmt.Errorf("item %q is %v high at its best turn (turn %q) and does not fit on the strip of %v with a margin of %v; "+
					"split the piece or take a higher strip", it.ID, geom.MM(h), it.Turn, sv.p.Strip, geom.MM(sv.p.Edge()))
			}
			continue
		}
		ok := false
		for _, f := range sv.fields {
			ok = ok || sv.kinds[i].Lies(f.Field)
		}
		if !ok {
			return sv.tooLarge(i)
		}
	}
	return nil
}

// tooLarge names the item, its size and the sheet that comes nearest: the one it overhangs least.
func (sv *solver) tooLarge(i int) error {
	p := sv.p
	best, over := 0, math.Inf(1)
	var bw, bh float64
	for k, s := range p.Sheets {
		w, h := float64(s.Width)-2*p.Edge(), float64(s.Height)-2*p.Edge()
		iw, ih := sv.kinds[i].Least(w, h)
		if o := math.Max(iw-w, ih-h); o < over {
			best, over, bw, bh = k, o, iw, ih
		}
	}
	k := p.Sheets[best]
	what := "split the piece or stock a larger sheet"
	if over <= 0 {
		what = "its outline or defects are in the way; split the piece or stock a whole sheet"
	}
	return fmt.Errorf("item %q measures %v by %v at its best turn (turn %q) and fits on no sheet, the nearest is %q of %v by %v with a margin of %v; %s",
		p.Items[i].ID, geom.MM(bw), geom.MM(bh), p.Items[i].Turn, k.ID, k.Width, k.Height, geom.MM(p.Edge()), what)
}

func shortage(p nest.Problem, s nest.Solution) error {
	n, all := 0, 0
	for _, m := range s.Missing {
		n += m.Copies
	}
	for _, it := range p.Items {
		all += it.Demand
	}
	return fmt.Errorf("the stock of sheets is too small, %d of %d pieces have no place, the first is of item %q; add sheets or allow more evaluations",
		n, all, s.Missing[0].Item)
}
