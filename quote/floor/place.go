package floor

import (
	"context"
	"time"

	"benchbell/quote"
	"benchbell/quote/plan"
	"benchbell/quote/plan/schedule"
)

// Place gives a quoted commission its place in the shop's plan as it is now: nothing begins before from, and busy keeps its
// place.
func Place(ctx context.Context, s quote.Snapshot, q quote.Quote, from time.Time, busy []plan.Busy) (plan.Solution, error) {
	return schedule.Solve(ctx, s.Problem(q.Work.Plan(), from, busy), nil)
}
