package floor

import (
	"context"
	"fmt"
	"maps"
	"math"
	"slices"
	"time"

	"benchbell/quote/plan"
	"benchbell/quote/plan/schedule"
)

// Work of several commissions with one set-up: the second operation follows the first at its place at once and takes so much less
// time as that set-up takes. Such a pair is kept as long as the plan that people have has it so and neither has begun apart.
const (
	// atOnce is how much later than the first the second may begin.
	atOnce = time.Duration(plan.Grid) * time.Minute
	// joinWithin is how far apart two operations may lie that are tried together: what lies further has other reasons.
	joinWithin = 48 * time.Hour
	// joinTries is the most pairs looked at, of those that come first, each time one is looked for.
	joinTries = 3
	// mostJoins is the most pairs that one plan joins anew.
	mostJoins = 12
)

// Pair is two operations of different commissions that are done one after the other with one set-up.
type Pair struct {
	First, Then Reason
	Saved       plan.Minutes // of the set-up
}

// pair is two operations by shop ID.
type pair struct {
	first, then string
	saved       plan.Minutes
}

// setUp is what an operation's place or maker is set up for, and how long that takes; none where the rate has none or where it is
// particular to the commission.
func (sh *shop) setUp(o *plan.Operation) (string, plan.Minutes) {
	_, op := splitID(o.ID)
	i := slices.IndexFunc(o.Needs, func(n plan.Need) bool { return n.Kind != "maker" })
	switch {
	case o.Setup != "" && i >= 0:
	case o.Kind == cutKind: // its ID says the foam
	default:
		return "", 0
	}
	for _, r := range sh.studio.Rates {
		if r.Op == o.Kind {
			// whole steps of the grid, so that nothing is rounded twice, and work is left
			saved := plan.Minutes(math.Floor(r.SetUp/float64(plan.Grid))) * plan.Grid
			if saved <= 0 || saved >= o.Duration {
				return "", 0
			}
			if o.Setup != "" {
				return o.Kind + " " + o.Setup, saved
			}
			return op, saved
		}
	}
	return "", 0
}

// cutKind is the rate of cutting foam; sheets of one thickness are set up once.
const cutKind = "cut"

// withJoined is a problem in which these pairs are together; the shop's from here on.
func (sh *shop) withJoined(apart plan.Problem, pairs []pair) plan.Problem {
	p := apart
	p.Operations = slices.Clone(apart.Operations)
	for _, x := range pairs {
		sh.join(&p, x)
	}
	sh.apart, sh.joined, sh.problem = apart, pairs, p
	for _, o := range p.Operations {
		sh.ops[o.ID] = o
	}
	return p
}

// join makes one operation follow another with its set-up.
func (sh *shop) join(p *plan.Problem, x pair) {
	i := slices.IndexFunc(p.Operations, func(o plan.Operation) bool { return o.ID == x.then })
	o := &p.Operations[i]
	less := func(m plan.Minutes) plan.Minutes { return max(0, m-x.saved) }
	o.Duration, o.Low, o.High = less(o.Duration), less(o.Low), less(o.High)
	o.After = append(slices.Clone(o.After), plan.Lag{After: x.first, Max: plan.Grid})
}

// joinedSoFar finds the pairs that the plan which people have has together and that can still be.
func (sh *shop) joinedSoFar(p *plan.Problem) []pair {
	begins := map[time.Time][]int{}
	for i := range p.Operations {
		if o := &p.Operations[i]; o.Started.IsZero() && !o.Planned.IsZero() {
			begins[o.Planned] = append(begins[o.Planned], i)
		}
	}
	var out []pair
	taken := map[string]bool{}
	order := make([]int, len(p.Operations)) // what runs last, since its end is not known
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, k int) int {
		a, b := p.Operations[i].Started.IsZero(), p.Operations[k].Started.IsZero()
		switch {
		case a == b:
			return 0
		case a:
			return -1
		}
		return 1
	})
	for _, i := range order {
		a := &p.Operations[i]
		key, _ := sh.setUp(a)
		if key == "" || !a.Finished.IsZero() {
			continue
		}
		end := sh.actual[a.ID].End
		after := slices.Concat(begins[end], begins[end.Add(atOnce)])
		if !a.Started.IsZero() { // it ends when it ends; what does not come right after it then is apart again
			after = later(begins)
		}
		for _, k := range after {
			b := &p.Operations[k]
			other, saved := sh.setUp(b)
			if other != key || b.Project == a.Project || taken[b.ID] || !samePlace(a, sh.actual[a.ID].Resources, sh.actual[b.ID].Resources) {
				continue
			}
			worked := time.Duration(0)
			for _, s := range sh.actual[b.ID].Spans {
				worked += s.To.Sub(s.From)
			}
			if full := onGrid(b.Duration); plan.Minutes(worked/time.Minute) == full-saved {
				taken[b.ID] = true
				out = append(out, pair{a.ID, b.ID, saved})
				break
			}
		}
	}
	return out
}

// later are the operations that have not begun, by planned start.
func later(begins map[time.Time][]int) []int {
	var out []int
	for _, at := range slices.SortedFunc(maps.Keys(begins), time.Time.Compare) {
		out = append(out, begins[at]...)
	}
	return out
}

// onGrid is a duration as it is planned.
func onGrid(m plan.Minutes) plan.Minutes { return (m + plan.Grid - 1) / plan.Grid * plan.Grid }

// samePlace says that two operations are done at one place, or, where the first needs none, by the same maker.
func samePlace(a *plan.Operation, x, y []string) bool {
	if !slices.ContainsFunc(a.Needs, func(n plan.Need) bool { return n.Kind != "maker" }) {
		return slices.ContainsFunc(x, func(r string) bool { return slices.Contains(y, r) })
	}
	places := 0
	for _, r := range x {
		if slices.Contains(y, r) {
			places++
		}
	}
	return places > 0 && places >= len(x)-makers(a)
}

// makers is how many an operation needs.
func makers(o *plan.Operation) int {
	n := 0
	for _, x := range o.Needs {
		if x.Kind == "maker" {
			n++
		}
	}
	return n
}

// candidates are the pairs that could have one set-up in plan s: of operations of different commissions with the same set-up that
// have not begun, each with the next after it.
func (sh *shop) candidates(p *plan.Problem, s plan.Solution, joined []pair) []pair {
	ops := make(map[string]*plan.Operation, len(p.Operations))
	for i := range p.Operations {
		ops[p.Operations[i].ID] = &p.Operations[i]
	}
	follows, leads := map[string]bool{}, map[string]bool{}
	for _, x := range joined {
		leads[x.first], follows[x.then] = true, true
	}
	last := map[string][]plan.Scheduled{} // by set-up, in order of start
	var out []pair
	for _, x := range s.Operations {
		o := ops[x.ID]
		key, saved := sh.setUp(o)
		if key == "" || !o.Started.IsZero() {
			continue
		}
		if !follows[x.ID] {
			for _, before := range slices.Backward(last[key]) {
				if leads[before.ID] || before.Project == x.Project || before.End.After(x.Start) || x.Start.Sub(before.End) > joinWithin {
					continue
				}
				out = append(out, pair{before.ID, x.ID, saved})
				break
			}
		}
		last[key] = append(last[key], x)
	}
	return out
}

// together joins more pairs in the plan, as long as each keeps every promise that is kept without it and is worse in none of the
// objectives: in the frozen days nothing moves for a set-up. In a shop too large to be searched as a whole pairs that there are stay, and none are looked
// for: for each all the work would have to be gone through.
func (sh *shop) together(ctx context.Context, p plan.Problem, best plan.Solution) (plan.Problem, plan.Solution, error) {
	if len(p.Operations) > schedule.WholeOperations {
		return p, best, nil
	}
	for range mostJoins {
		found := false
		list := sh.candidates(&p, best, sh.joined)
		for _, x := range list[:min(len(list), joinTries)] {
			q := schedule.PlannedAs(p, best)
			sh.join(&q, x)
			end := time.Time{}
			for _, o := range best.Operations {
				if o.ID == x.first {
					end = o.End
				}
			}
			i := slices.IndexFunc(q.Operations, func(o plan.Operation) bool { return o.ID == x.then })
			q.Operations[i].Planned = end.Add(-time.Duration(plan.Grid) * time.Minute) // before what else was to begin then
			quick := q
			quick.Runs = 0
			next, err := schedule.Settle(ctx, quick)
			if err == nil && heldTogether(&q, x, next) && !next.End.After(best.End) { // worth simulating
				next, err = schedule.Settle(ctx, q)
			} else if ctx.Err() == nil {
				continue // they cannot be together, or not without delay
			}
			if err != nil {
				return p, best, fmt.Errorf("the shop plan: %w", err)
			}
			with := p
			with.Operations = slices.Clone(p.Operations)
			sh.join(&with, x)
			if next.Objectives, err = schedule.Objectives(with, next); err != nil {
				return p, best, fmt.Errorf("the shop plan: %w", err)
			}
			if !heldTogether(&q, x, next) || !sh.allTogether(&q, next) || !noWorse(next, best) {
				continue
			}
			best, found = next, true
			p = sh.withJoined(sh.apart, append(slices.Clone(sh.joined), x))
			break
		}
		if !found {
			break
		}
	}
	return p, best, nil
}

// allTogether says that plan s has all pairs together.
func (sh *shop) allTogether(p *plan.Problem, s plan.Solution) bool {
	return !slices.ContainsFunc(sh.joined, func(x pair) bool { return !heldTogether(p, x, s) })
}

// heldTogether says that in plan s a pair is done one after the other at one place.
func heldTogether(p *plan.Problem, x pair, s plan.Solution) bool {
	then := &p.Operations[slices.IndexFunc(p.Operations, func(o plan.Operation) bool { return o.ID == x.then })]
	var a, b plan.Scheduled
	for _, o := range s.Operations {
		switch o.ID {
		case x.first:
			a = o
		case x.then:
			b = o
		}
	}
	late := b.Start.Sub(a.End)
	return !then.Started.IsZero() || late >= 0 && late <= atOnce && samePlace(then, a.Resources, b.Resources)
}

// noWorse says that a plan loses no promise that another keeps, breaks no more, and is worse in none of the objectives.
func noWorse(s, than plan.Solution) bool {
	if len(s.Broken) > len(than.Broken) {
		return false
	}
	for k, x := range s.Objectives {
		if x.Value > than.Objectives[k].Value {
			return false
		}
	}
	for k, d := range s.Dates {
		if d.Kept < 0.8 && than.Dates[k].Kept >= 0.8 {
			return false
		}
	}
	return true
}

// pairs are what the plan does with one set-up.
func (r *reasoned) pairs() []Pair {
	var out []Pair
	for _, x := range r.sh.joined {
		a, b := r.at[x.first], r.at[x.then]
		out = append(out, Pair{r.reason(a, ""), r.reason(b, ""), x.saved})
	}
	slices.SortStableFunc(out, func(a, b Pair) int { return a.First.Start.Compare(b.First.Start) })
	return out
}
