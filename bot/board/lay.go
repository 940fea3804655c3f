package board

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"benchbell/bot/shop"
	"benchbell/quote"
	"benchbell/quote/price"
)

// What is measured out is rounded up to what a cup or a syringe shows, in millilitres.
const (
	finely   = 1.0
	coarsely = 5.0 // from tenMl on
	tenMl    = 10.0
)

// hundredth is what a price.Percent of 100 % counts.
const hundredth = 10000

// lay says what to lay out for an operation: foam, glue, paint, hardware, with the amount; share is of its pieces.
func lay(st quote.Studio, r shop.Revision, op shop.Operation) []string {
	i := slices.IndexFunc(r.Quote.Work.Operations, func(o quote.Operation) bool { return o.ID == op.Op })
	if i < 0 {
		return nil
	}
	work := r.Quote.Work.Operations[i]
	share := op.Share
	if share <= 0 || share > 1 {
		share = 1
	}
	var out []string
	for _, m := range work.Materials {
		switch {
		case m.Thickness > 0:
			var sheets []int
			for _, p := range r.Quote.Pieces {
				if p.Thickness == m.Thickness && p.Sheet > 0 && !slices.Contains(sheets, p.Sheet) {
					sheets = append(sheets, p.Sheet)
				}
			}
			slices.Sort(sheets)
			var numbers []string
			for _, n := range sheets {
				numbers = append(numbers, fmt.Sprint(n))
			}
			say := fmt.Sprintf("%s foam", m.Thickness)
			switch len(numbers) {
			case 0:
			case 1:
				say += ", sheet " + numbers[0]
			default:
				say += ", sheets " + strings.Join(numbers, ", ")
			}
			out = append(out, say)
		case m.Area > 0:
			out = append(out, liquid(st, m, share))
		case m.Count > 0 || m.Length > 0:
			out = append(out, hardware(st, m, share))
		}
	}
	return out
}

// liquid is how much glue or paint to measure out, by what it spreads to, with the studio's waste.
func liquid(st quote.Studio, m quote.Material, share float64) string {
	i := slices.IndexFunc(st.Prices.Liquids, func(l price.Liquid) bool { return l.Key == m.Key })
	if i < 0 || st.Prices.Liquids[i].Spread <= 0 {
		return m.Key
	}
	l := st.Prices.Liquids[i]
	ml := 1000 * m.Area.M2() * share * float64(max(1, m.Coats)*max(1, l.Faces)) / l.Spread * (1 + float64(st.Prices.Waste)/hundredth)
	step := finely
	if ml > tenMl {
		step = coarsely
	}
	return fmt.Sprintf("%s, %.0f ml", l.Title, math.Max(step, math.Ceil(ml/step)*step))
}

func hardware(st quote.Studio, m quote.Material, share float64) string {
	title := m.Key
	if i := slices.IndexFunc(st.Prices.Hardware, func(h price.Hardware) bool { return h.Key == m.Key }); i >= 0 {
		title = st.Prices.Hardware[i].Title
	}
	if m.Count > 0 {
		return fmt.Sprintf("%d × %s", int(math.Ceil(float64(m.Count)*share)), title)
	}
	return fmt.Sprintf("%s, %.0f cm", title, math.Ceil(float64(m.Length)*share/10))
}
