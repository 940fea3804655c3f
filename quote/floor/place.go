package floor

import (
	"context"
	"time"

	"benchbell/quote"
	"benchbell/quote/plan"
	"benchbell/quote/plan/schedule"
)

// Place puts a quoted commission into the shop plan: nothing of it starts before from, and what is in busy stays where it
// is.
func Place(ctx context.Context, s quote.Snapshot, q quote.Quote, from time.Time, busy []plan.Busy) (plan.Solution, error) {
	return schedule.Solve(ctx, s.Problem(q.Work.Plan(), from, busy), nil)
}
