package floor

import (
	"slices"
	"testing"
	"time"

	"benchbell/quote"
	"benchbell/quote/plan"
)

func objectiveOf(p Shop, name string) int64 {
	i := slices.IndexFunc(p.Plan.Objectives, func(x plan.Objective) bool { return x.Name == name })
	return p.Plan.Objectives[i].Value
}

// A small change does not reshuffle the week: where two commissions are cancelled, the new plan moves no start of the frozen days for
// the sake of an earlier end. Planned for an early end of the whole first, it would.
func TestSmallChangeLeavesTheWeek(t *testing.T) {
	base := opened(t, 9)
	first := planned(t, base, shopNow)
	base = promise(take(base, first), first, func(int) int { return 4 })
	early := shopStudio()
	early.Order = []string{plan.Promises, plan.Lateness, plan.Wishes, plan.Windows, plan.Whole}
	var pushed, moved, shuffled int64
	for k := range 8 {
		now := shopNow.Add(time.Duration(7+11*k) * time.Hour)
		open := worked(slices.Delete(slices.Clone(base), k, k+2), now, punctual)
		look, err := Look(t.Context(), open, shopStudio(), now)
		if err != nil {
			t.Fatal(err)
		}
		plans := func(st quote.Studio) Shop {
			p, err := Plan(t.Context(), open, st, now, nil)
			if err != nil {
				t.Fatal(err)
			}
			return p
		}
		p, q := plans(shopStudio()), plans(early)
		before := func(p Shop) []plan.Objective { // what comes before moves
			return p.Plan.Objectives[:slices.IndexFunc(p.Plan.Objectives, func(x plan.Objective) bool { return x.Name == plan.Moves })]
		}
		if !slices.Equal(before(p), before(look)) {
			continue // moved for a promise or a window
		}
		if a, b := objectiveOf(p, plan.Moves), objectiveOf(look, plan.Moves); a > b {
			t.Errorf("%s: %d starts of the frozen days move, %d need to", now.Format(time.RFC3339), a, b)
		}
		pushed, moved, shuffled = pushed+objectiveOf(look, plan.Moves), moved+objectiveOf(p, plan.Moves), shuffled+objectiveOf(q, plan.Moves)
		t.Logf("%s: followed %d, planned anew %d, early end first %d; in all %d and %d; whole %d, %d, %d", now.Format(time.RFC3339), objectiveOf(look, plan.Moves), objectiveOf(p, plan.Moves), objectiveOf(q, plan.Moves),
			p.Moved, q.Moved, objectiveOf(look, plan.Whole), objectiveOf(p, plan.Whole), objectiveOf(q, plan.Whole))
	}
	t.Logf("followed %d, planned anew %d, early end first %d", pushed, moved, shuffled)
	if moved > pushed || shuffled <= moved {
		t.Errorf("starts moved within the frozen days: %d where the plan is followed, %d planned anew, %d with an early end first", pushed, moved, shuffled)
	}
}

// Nobody stands idle where there is work: a plan that begins in three days, as quotes assume it, is drawn forward once all is paid.
// Where somebody has work on the frozen days, these stay as they are.
func TestNobodyStandsIdle(t *testing.T) {
	base := opened(t, 6)
	for _, late := range []time.Duration{72 * time.Hour, 0} {
		first := planned(t, base, shopNow.Add(late))
		open := promise(take(base, first), first, func(int) int { return 2 })
		p := planned(t, open, shopNow)
		begins := p.Plan.Operations[0].Start
		for _, x := range p.Plan.Operations {
			if x.Start.Before(begins) {
				begins = x.Start
			}
		}
		if begins.Sub(shopNow) > standsIdle {
			t.Errorf("planned for %s later: there is work, and it begins at %s", late, begins)
		}
		if late == 0 && objectiveOf(p, plan.Moves) > 0 {
			t.Errorf("%d starts of the frozen days move for an earlier end", objectiveOf(p, plan.Moves))
		}
		open = take(open, p)
		if again := planned(t, open, shopNow); again.Moved > 0 {
			t.Errorf("planned again, %d operations move", again.Moved)
		}
	}
}
