package schedule

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"benchbell/quote/plan"
)

// order is the objectives of a search, what comes first first.
type order struct{ names []string }

// orderOf is the order of a problem, with what it leaves out; nil where it gives none.
func orderOf(p *plan.Problem) (*order, error) {
	if len(p.Order) == 0 {
		return nil, nil
	}
	names, err := FullOrder(p.Order)
	return &order{names}, err
}

// FullOrder is an order of objectives with those that it leaves out, in the usual order after them. It refuses names that no
// objective has and one named twice.
func FullOrder(named []string) ([]string, error) {
	usual := plan.UsualOrder()
	var out []string
	for _, x := range named {
		if !slices.Contains(usual, x) {
			return nil, fmt.Errorf("there is no objective %q, use some of: %s", x, strings.Join(usual, ", "))
		}
		if slices.Contains(out, x) {
			return nil, fmt.Errorf("the objective %q is named twice, name each once", x)
		}
		out = append(out, x)
	}
	for _, x := range usual {
		if !slices.Contains(out, x) {
			out = append(out, x)
		}
	}
	return out, nil
}

// compare compares two schedules in one objective, as far as the search sees it: expected lateness and the dates of the runs are
// seen as the planned end with the project's buffer, and windows are seen only where they are broken.
func (a score) compare(b score, objective string) int64 {
	switch objective {
	case plan.Promises:
		return int64(a.missed - b.missed)
	case plan.Lateness:
		return a.late - b.late
	case plan.Wishes:
		return a.wish - b.wish
	case plan.Whole:
		return a.ends - b.ends
	case plan.Setups:
		return int64(a.changes - b.changes)
	case plan.Moves:
		if a.moves != b.moves {
			return int64(a.moves - b.moves)
		}
		return int64(a.moved - b.moved)
	case plan.Evenings:
		return int64(a.evening - b.evening)
	}
	return 0
}

// evening is how long makers work in extra shifts.
func (m *model) evening(g *generator) slot {
	var sum slot
	for i := range m.tasks {
		for _, r := range g.taken[i] {
			if m.p.Resources[r].Kind != "maker" {
				continue
			}
			for _, s := range g.spans[i] {
				for _, e := range m.extra {
					sum += max(0, min(s.to, e.to)-max(s.from, e.from))
				}
			}
		}
	}
	return sum
}

// extraSpans are a calendar's extra shifts.
func extraSpans(c plan.Calendar, zone *time.Location) []span {
	var out []span
	for _, x := range c.Extra {
		day, err := time.Parse(time.DateOnly, x.Date)
		if err != nil {
			continue // newCalendar refuses it
		}
		y, mo, d := day.Date()
		out = append(out, span{slotUp(time.Date(y, mo, d, x.From/60, x.From%60, 0, 0, zone)), slotDown(time.Date(y, mo, d, x.To/60, x.To%60, 0, 0, zone))})
	}
	return out
}

// Objectives is what a plan is worth for a problem in each objective, in the problem's order. The problem may be another than
// the one it was made for, such as the one with the plan that people have.
func Objectives(p plan.Problem, s plan.Solution) ([]plan.Objective, error) {
	names, err := FullOrder(p.Order)
	if err != nil {
		return nil, err
	}
	zone, err := time.LoadLocation(p.Calendar.Zone)
	if err != nil {
		return nil, fmt.Errorf("the calendar's time zone %q is unknown: %w", p.Calendar.Zone, err)
	}
	values := map[string]int64{plan.Setups: int64(s.Changes), plan.Windows: 100 * int64(len(s.Broken))}
	projects := make(map[string]plan.Project, len(p.Projects))
	for _, x := range p.Projects {
		projects[x.ID] = x
	}
	for _, d := range s.Dates {
		x := projects[d.Project]
		values[plan.Whole] += int64(d.P80.Sub(p.Start) / time.Minute)
		values[plan.Windows] += int64(100*d.Missed + 0.5)
		late := int64(d.Late) * int64(max(1, x.Weight))
		switch {
		case x.Due.IsZero():
		case !x.Promised:
			values[plan.Wishes] += late
		default:
			values[plan.Lateness] += late
			if d.P80.After(x.Due) {
				values[plan.Promises]++
			}
		}
	}
	at := make(map[string]*plan.Scheduled, len(s.Operations))
	for k := range s.Operations {
		at[s.Operations[k].ID] = &s.Operations[k]
	}
	for i := range p.Operations {
		o := &p.Operations[i]
		if x := at[o.ID]; x != nil && o.Started.IsZero() && !o.Planned.IsZero() && movesTo(&p, slotUp(o.Planned).time(), x.Start) {
			values[plan.Moves]++
		}
	}
	if extra := extraSpans(p.Calendar, zone); len(extra) > 0 {
		maker := map[string]bool{}
		for _, r := range p.Resources {
			maker[r.ID] = r.Kind == "maker"
		}
		for _, x := range s.Operations {
			for _, r := range x.Resources {
				if !maker[r] {
					continue
				}
				for _, w := range x.Spans {
					for _, e := range extra {
						values[plan.Evenings] += int64(max(0, min(slotDown(w.To), e.to)-max(slotDown(w.From), e.from))) * int64(plan.Grid)
					}
				}
			}
		}
	}
	out := make([]plan.Objective, len(names))
	for k, name := range names {
		out[k] = plan.Objective{Name: name, Value: values[name]}
	}
	return out, nil
}

// movesTo says whether an operation that is planned at one time and starts at another counts as moved.
func movesTo(p *plan.Problem, was, is time.Time) bool {
	return !was.Equal(is) && (p.Frozen.IsZero() || was.Before(p.Frozen) || is.Before(p.Frozen))
}

// Differences for which people change a plan by which they have arranged their days, or leave a better one (common practice, no
// source): smaller ones come from the draws of the simulation, not from the plan. Lateness and windows count in whole such steps.
const (
	stepLate    = 60      // minutes of lateness
	stepWindows = 5       // recoat windows missed in 100 runs
	leastSooner = 24 * 60 // minutes that the commissions together are ready earlier
)

// Better says whether plan s is worth giving up plan r for: it breaks less, or as much and, at the first objective in which it
// gains what is worth it, it is better, and in none before that worse. Both must have their objectives in the same order.
func Better(s, r plan.Solution) bool {
	if len(s.Broken) != len(r.Broken) {
		return len(s.Broken) < len(r.Broken)
	}
	for k, x := range s.Objectives {
		a, b, least := x.Value, r.Objectives[k].Value, int64(0)
		switch x.Name {
		case plan.Lateness, plan.Wishes:
			a, b = a/stepLate, b/stepLate
		case plan.Windows:
			a, b = a/stepWindows, b/stepWindows
		case plan.Whole:
			least = leastSooner
		}
		switch {
		case a > b:
			return false
		case a < b-least:
			return true
		}
	}
	return false
}
