package floor

import (
	"context"
	"fmt"
	"slices"
	"time"

	"benchbell/quote"
	"benchbell/quote/plan"
	"benchbell/quote/plan/schedule"
)

// The simulated runs begin work as soon as it can be begun, whatever the plan says, so that to them a plan with a gap is as good as
// one without. People read the plan: work is drawn forward into gaps.
const (
	// standsIdle is how long nobody has anything to do for the frozen days to be given up.
	standsIdle = 4 * time.Hour
	// leastForward is how much sooner the work of all commissions together must be done for it to be drawn forward.
	leastForward = 24 * time.Hour
	// mostClosing is how many more recoat windows may close in 100 runs: each is looked at again before its coat is begun.
	mostClosing = 10
)

// drawnForward is, where nobody has anything to do, a plan that begins at once, in the same order as far as can be; the plan
// itself where somebody has, or where that would put a promise in danger or cost more than the draws of the simulation may. The
// frozen days are given up for it.
func (sh *shop) drawnForward(ctx context.Context, p plan.Problem, best plan.Solution, progress func(float64)) (plan.Solution, error) {
	if len(p.Operations) > schedule.WholeOperations || !sh.idle(best) {
		return best, nil
	}
	q := schedule.PlannedAs(p, best)
	order := slices.Clone(best.Operations)
	slices.SortStableFunc(order, func(a, b plan.Scheduled) int { return a.Start.Compare(b.Start) })
	rank := map[string]int{}
	for k, x := range order {
		rank[x.ID] = k
	}
	for i := range q.Operations { // in the same order, each as early as can be
		o := &q.Operations[i]
		if early := p.Start.Add(time.Duration(rank[o.ID]) * time.Duration(plan.Grid) * time.Minute); o.Started.IsZero() && o.Planned.After(early) {
			o.Planned = early
		}
	}
	next, err := schedule.Settle(ctx, q)
	if err != nil {
		return best, fmt.Errorf("the shop plan: %w", err)
	}
	if next, err = sh.improved(ctx, schedule.PlannedAs(p, next), next, progress); err != nil {
		return best, err
	}
	if next.Objectives, err = schedule.Objectives(p, next); err != nil {
		return best, fmt.Errorf("the shop plan: %w", err)
	}
	if len(next.Broken) > len(best.Broken) || !sh.allTogether(&p, next) || sooner(next, best) < leastForward {
		return best, nil
	}
	if sh.endangers(next, best) {
		return best, nil
	}
	for k, x := range next.Objectives {
		var least int64
		switch x.Name {
		case plan.Lateness, plan.Wishes:
			least = int64(leastForward / time.Minute)
		case plan.Windows:
			least = mostClosing
		default:
			continue
		}
		if x.Value > best.Objectives[k].Value+least {
			return best, nil
		}
	}
	return next, nil
}

// endangers says that plan s puts a promise in danger that is not in r.
func (sh *shop) endangers(s, r plan.Solution) bool {
	limit := float64(sh.studio.Danger) / 100
	for k, d := range s.Dates {
		if sh.due[quote.CommissionID(d.Project)].IsZero() {
			continue
		}
		if d.Kept < limit && r.Dates[k].Kept >= limit {
			return true
		}
	}
	return false
}

// idle says that nobody has anything to do for some open hours, and that there is work.
func (sh *shop) idle(s plan.Solution) bool {
	first := time.Time{}
	for _, x := range s.Operations {
		if o := sh.ops[x.ID]; !o.Finished.IsZero() || x.End.Equal(x.Start) {
			continue
		}
		if first.IsZero() || x.Start.Before(first) {
			first = x.Start
		}
	}
	return !first.IsZero() && first.Sub(sh.now) > standsIdle
}

// sooner is how much sooner than in r the commissions' planned work ends in s, together.
func sooner(s, r plan.Solution) time.Duration {
	ends := func(s plan.Solution) map[string]time.Time {
		out := map[string]time.Time{}
		for _, x := range s.Operations {
			if x.End.After(out[x.Project]) {
				out[x.Project] = x.End
			}
		}
		return out
	}
	sum, was := time.Duration(0), ends(r)
	for id, end := range ends(s) {
		sum += was[id].Sub(end)
	}
	return sum
}
