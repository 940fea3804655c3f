package board

import (
	"fmt"
	"strings"
	"time"

	"benchbell/bot/shop"
)

// ribbon is a maker's day from left to right: done is solid, in hand is framed, planned is dashed, drying is hatched.
type ribbon struct {
	Says  string
	Hours []tick
	Bars  []bar
	Now   float64
	Foot  int // where the hours stand
}

// Tall is the height of the drawing: the hours take what is a line of them.
func (r *ribbon) Tall() int { return r.Foot + rowTall - 6 }

type tick struct {
	X    float64
	Says string
}

type bar struct {
	X, Width float64
	Class    string
	Label    string
	Y        int
}

// Of a ribbon: its width in units of the drawing, the hours it shows at least, the height of a row, and from which width on a
// bar has room for a commission's number.
const (
	ribbonWide = 1000
	firstHour  = 8
	lastHour   = 18
	rowTall    = 34
	labelWide  = 70
)

// ribbon draws the part of the day that an operation can be in.
func (f frame) ribbon(d shop.BenchDay, whose string, his func(shop.Operation) bool) *ribbon {
	hour := func(h int) time.Time { return time.Date(f.At.Year(), f.At.Month(), f.At.Day(), h, 0, 0, 0, f.Zone) }
	from, to := hour(firstHour), hour(lastHour)
	if f.At.Before(from) {
		from = f.At.Truncate(time.Hour)
	}
	if f.At.After(to) {
		to = f.At.Truncate(time.Hour).Add(time.Hour)
	}
	x := func(t time.Time) float64 {
		return ribbonWide * max(0, min(1, float64(t.Sub(from))/float64(to.Sub(from))))
	}
	r := &ribbon{Now: x(f.At)}
	put := func(class string, a, b time.Time, op shop.Operation, row int) {
		if !b.After(from) || !a.Before(to) {
			return
		}
		v := bar{X: x(a), Width: max(x(b)-x(a), 2), Class: class, Y: row * rowTall}
		if v.Width >= labelWide {
			v.Label = string(op.Commission)
		}
		r.Bars = append(r.Bars, v)
	}
	count := map[string]int{}
	planned := func(op shop.Operation) {
		if len(op.Spans) == 0 {
			put("planned", op.Start, op.End, op, 0)
		}
		for _, s := range op.Spans {
			put("planned", s.From, s.To, op, 0)
		}
		count["planned"]++
	}
	for _, l := range d.Lines {
		switch {
		case !his(l.Operation) || l.Rank == shop.CouldBegin:
		case l.Rank == shop.InHand:
			end := l.Operation.StartedAt.Add(takes(l.Operation))
			if end.Before(f.At) {
				end = f.At
			}
			put("inhand", l.Operation.StartedAt, end, l.Operation, 0)
			count["in hand"]++
		default:
			planned(l.Operation)
		}
	}
	for _, w := range d.Waiting {
		if his(w.Operation) {
			planned(w.Operation)
		}
	}
	// What was done stands before what was planned for the same time.
	for _, op := range d.Done {
		if !his(op) {
			continue
		}
		began := op.StartedAt
		if began.IsZero() {
			began = op.DoneAt.Add(-takes(op))
		}
		put("done", began, op.DoneAt, op, 0)
		count["done"]++
	}
	for _, w := range d.Curing {
		if his(w.For) {
			put("wet", w.For.DoneAt, w.Until, w.For, 1)
			count["drying"]++
		}
	}
	if len(r.Bars) == 0 {
		return nil
	}
	r.Foot = rowTall
	if count["drying"] > 0 {
		r.Foot += rowTall
	}
	var says []string
	for _, k := range []string{"done", "in hand", "planned", "drying"} {
		if count[k] > 0 {
			says = append(says, fmt.Sprintf("%d %s", count[k], k))
		}
	}
	r.Says = fmt.Sprintf("%s, from %s to %s: %s", whose, from.Format("15:04"), to.Format("15:04"), strings.Join(says, ", "))
	for t := from; t.Before(to); t = t.Add(2 * time.Hour) {
		r.Hours = append(r.Hours, tick{x(t), t.Format("15")})
	}
	return r
}
