package floor

import (
	"slices"
	"testing"
	"time"

	"benchbell/quote/plan"
)

func objectiveOf(p Shop, name string) int64 {
	i := slices.IndexFunc(p.Plan.Objectives, func(x plan.Objective) bool { return x.Name == name })
	return p.Plan.Objectives[i].Value
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
