package quote

import (
	"fmt"
	"slices"
	"time"

	"benchbell/quote/foam"
	"benchbell/quote/plan"
)

// Named is the item as listed, for a set of this title: "Forearm cuff, pair", "2 × Lantern".
func (it Item) Named(title string) string {
	if it.Sides != Plain {
		title += ", " + string(it.Sides)
	}
	if it.Count > 1 {
		title = fmt.Sprintf("%d × %s", it.Count, title)
	}
	return title
}

// FinishOrdered is the finish the snapshot orders, from the settings in it.
func (s Snapshot) FinishOrdered() (Finish, error) {
	var keys []string
	for _, f := range s.Studio.Finishes {
		if f.Key == s.Finish {
			return f, nil
		}
		keys = append(keys, f.Key)
	}
	return Finish{}, fmt.Errorf("there is no finish %q; choose one of %v", s.Finish, keys)
}

// Problem is the planning problem of doing ops in the snapshot's shop, from start on and around what is busy.
func (s Snapshot) Problem(ops []plan.Operation, start time.Time, busy []plan.Busy) plan.Problem {
	return plan.Problem{
		Start: start, Calendar: s.Studio.Calendar, Resources: s.Studio.Resources, Operations: ops, Busy: slices.Concat(busy, s.Studio.NotThere()),
		Schedules: s.Studio.Schedules, Runs: s.Studio.Runs, Seed: s.Seed, Air: s.Studio.Air, Chance: s.Studio.Chance(), Spread: s.Studio.Spread,
	}
}

// NotThere is the time of makers who are away.
func (st Studio) NotThere() []plan.Busy {
	var out []plan.Busy
	for _, a := range st.Away {
		if slices.ContainsFunc(st.Resources, func(r plan.Resource) bool { return r.ID == a.Maker }) { // one who has left meanwhile is away for good
			out = append(out, plan.Busy{Resource: a.Maker, From: a.From, To: a.To})
		}
	}
	return out
}

// Counting is the studio after so many more quotes were accepted and came to nothing.
func (st Studio) Counting(accepted, lapsed int) Studio {
	before := st.Chance()
	st.Before = plan.Chance{Accepted: before.Accepted + float64(accepted), Lapsed: before.Lapsed + float64(lapsed)}
	return st
}

// Chance that an open quote is accepted; where nothing is known, every share of accepted quotes is as likely.
func (st Studio) Chance() *plan.Chance {
	if st.Before.Accepted <= 0 || st.Before.Lapsed <= 0 {
		return &plan.Chance{Accepted: 1, Lapsed: 1}
	}
	return &st.Before
}

// Specialists reports whether some maker does only part of the work; if so, every maker's skills count.
func (st Studio) Specialists() bool {
	return slices.ContainsFunc(st.Resources, func(r plan.Resource) bool { return len(r.Skills) > 0 })
}

// RackKind is the kind of resource that cures occupy; empty if the studio has no rack.
func (st Studio) RackKind() string {
	if slices.ContainsFunc(st.Resources, func(r plan.Resource) bool { return r.Kind == "rack" }) {
		return "rack"
	}
	return ""
}

// Shapes lists the graded pieces in the order of Pieces.
func (q Quote) Shapes() []foam.Piece {
	var out []foam.Piece
	for _, g := range q.Graded {
		out = append(out, g.Pieces...)
	}
	return out
}

// ByLabel maps the labels of the cut list to the graded pieces. It fails for a quote stored without its graded pieces.
func (q Quote) ByLabel() (map[string]foam.Piece, error) {
	graded := q.Shapes()
	if len(graded) != len(q.Pieces) {
		return nil, fmt.Errorf("the quote of %s has no graded pieces stored with it; recompute the quote", q.Commission)
	}
	out := map[string]foam.Piece{}
	for i, p := range graded {
		out[q.Pieces[i].Label] = p
	}
	return out, nil
}
