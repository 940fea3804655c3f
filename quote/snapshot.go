package quote

import (
	"fmt"
	"slices"
	"time"

	"benchbell/quote/foam"
	"benchbell/quote/plan"
)

// Named is an item as it is listed, of a set with a title: "Forearm cuff, pair", "2 × Lantern".
func (it Item) Named(title string) string {
	if it.Sides != Plain {
		title += ", " + string(it.Sides)
	}
	if it.Count > 1 {
		title = fmt.Sprintf("%d × %s", it.Count, title)
	}
	return title
}

// FinishOrdered is the finish that the snapshot names, by the studio's settings in it.
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

// Problem is the snapshot's shop as a planning problem for operations that may begin at start, around what is busy.
func (s Snapshot) Problem(ops []plan.Operation, start time.Time, busy []plan.Busy) plan.Problem {
	return plan.Problem{
		Start: start, Calendar: s.Studio.Calendar, Resources: s.Studio.Resources, Operations: ops, Busy: busy,
		Schedules: s.Studio.Schedules, Runs: s.Studio.Runs, Seed: s.Seed, Air: s.Studio.Air,
	}
}

// Specialists reports whether some maker does only some of the work; then every maker's skills are asked for.
func (st Studio) Specialists() bool {
	return slices.ContainsFunc(st.Resources, func(r plan.Resource) bool { return len(r.Skills) > 0 })
}

// RackKind is the kind of place that cures occupy, or none where the studio has no rack.
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

// ByLabel gives the graded pieces by the label of the cut list. It refuses a quote that does not hold them.
func (q Quote) ByLabel() (map[string]foam.Piece, error) {
	graded := q.Shapes()
	if len(graded) != len(q.Pieces) {
		return nil, fmt.Errorf("the quote of %s does not hold its graded pieces; work it out again", q.Commission)
	}
	out := map[string]foam.Piece{}
	for i, p := range graded {
		out[q.Pieces[i].Label] = p
	}
	return out, nil
}

// LongDate writes "2026-12-18" as "Friday 18 December 2026"; what is no date it leaves as it is.
func LongDate(d string) string {
	t, err := time.Parse(time.DateOnly, d)
	if err != nil {
		return d
	}
	return t.Format("Monday 2 January 2006")
}
