package quote

import (
	"time"

	"benchbell/quote/plan"
)

// PromiseDay is when what is planned can be promised for: the finish that so many of 100 runs keep as the studio's promise
// says, never before the plan's own end, and in opening hours of the shop, which is in zone. Zero where nothing is planned.
func (st Studio) PromiseDay(p plan.Solution, zone *time.Location) time.Time {
	by := p.P80
	switch st.Promise {
	case 50:
		by = p.P50
	case 95:
		by = p.P95
	}
	if by.Before(p.End) {
		by = p.End
	}
	if by.IsZero() {
		return by
	}
	return st.Calendar.Handover(by.In(zone))
}
