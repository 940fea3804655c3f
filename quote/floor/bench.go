package floor

import (
	"math"
	"slices"
	"time"

	"benchbell/quote"
	"benchbell/quote/plan"
)

// What has happened at the bench and the quote does not know: work that lay at pause, that went back, or that dries longer.

// rested is how long work in hand has lain at pause while the shop was open.
func (sh *shop) rested(a Actual) plan.Minutes {
	d := a.Rested
	if !a.Paused.IsZero() {
		d += sh.studio.Calendar.OpenTime(a.Paused.In(sh.zone), sh.now)
	}
	return plan.Minutes(d / time.Minute)
}

// longer has an operation take so much longer, on the grid.
func (sh *shop) longer(op *plan.Operation, by plan.Minutes) {
	by = by / plan.Grid * plan.Grid
	if op.Duration += by; op.High > 0 {
		op.Low, op.High = op.Low+by, op.High+by
	}
}

// part has an operation done to a share of its pieces.
func part(op *plan.Operation, share float64) {
	of := func(m plan.Minutes) plan.Minutes {
		return max(plan.Grid, plan.Minutes(math.Ceil(float64(m)*share/float64(plan.Grid)))*plan.Grid)
	}
	if op.Duration > 0 {
		op.Duration = of(op.Duration)
	}
	if op.High > 0 {
		op.Low, op.High = min(of(op.Low), op.Duration), of(op.High)
	}
}

// behind has what is to come wait for what went back to be done again and lies before work that is begun: that work has its real
// times and waits for nothing any more, but what comes after it of the same pieces does.
func behind(ops []plan.Operation, work []quote.Operation) {
	at := map[string]int{}
	for i := range ops {
		at[ops[i].ID] = i
	}
	shares := func(i, k int) bool {
		return slices.ContainsFunc(work[i].Pieces, func(p string) bool { return slices.Contains(work[k].Pieces, p) })
	}
	owed := map[int][]plan.Lag{} // by what is begun
	for range ops {              // as long as it goes on; usually there is nothing
		grown := false
		for i := range ops {
			if ops[i].Started.IsZero() {
				continue
			}
			for _, l := range ops[i].After {
				k, ok := at[l.After]
				if !ok {
					continue
				}
				more := owed[k]
				if ops[k].Started.IsZero() {
					more = []plan.Lag{l}
				}
				for _, l := range more {
					if !slices.ContainsFunc(owed[i], func(x plan.Lag) bool { return x.After == l.After }) {
						owed[i], grown = append(owed[i], l), true
					}
				}
			}
		}
		if !grown {
			break
		}
	}
	if len(owed) == 0 {
		return
	}
	for i := range ops {
		o := &ops[i]
		after := slices.Clone(o.After)
		if !o.Started.IsZero() {
			o.After = slices.DeleteFunc(after, func(l plan.Lag) bool { k, ok := at[l.After]; return ok && ops[k].Started.IsZero() })
			continue
		}
		for _, l := range o.After {
			begun, ok := at[l.After]
			if !ok {
				continue
			}
			for _, more := range owed[begun] {
				known := slices.ContainsFunc(after, func(x plan.Lag) bool { return x.After == more.After })
				if k := at[more.After]; k != i && !known && shares(i, k) {
					after = append(after, plan.Lag{After: more.After, Min: least(more)})
				}
			}
		}
		o.After = after
	}
}

// slower has what waits for a cure wait as much longer as it dries longer than planned; its window ends when it would.
func slower(ops []plan.Operation, actual map[string]Actual) {
	for i := range ops {
		o := &ops[i]
		if !slices.ContainsFunc(o.After, func(l plan.Lag) bool { return actual[l.After].Slower > 0 }) {
			continue
		}
		o.After = slices.Clone(o.After)
		for k := range o.After {
			l := &o.After[k]
			by := plan.Minutes(math.Ceil(actual[l.After].Slower.Minutes()))
			if by == 0 {
				continue
			}
			later := func(from, to plan.Minutes) (plan.Minutes, plan.Minutes) {
				if from += by; to > 0 {
					to = max(to, from+plan.Grid) // else nothing could ever be begun in it
				}
				return from, to
			}
			l.Min, l.Max = later(l.Min, l.Max)
			l.Windows = slices.Clone(l.Windows)
			for w := range l.Windows {
				l.Windows[w].From, l.Windows[w].To = later(l.Windows[w].From, l.Windows[w].To)
			}
		}
	}
}

// least is how long after the end of another operation one may begin at the earliest.
func least(l plan.Lag) plan.Minutes {
	if len(l.Windows) > 0 {
		return l.Windows[0].From
	}
	return l.Min
}
