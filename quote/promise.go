package quote

import (
	"time"

	"benchbell/quote/plan"
)

// PromiseDay is the day the studio can promise for a plan: the date met in st.Confidence percent of the simulated runs,
// never before the plan's own end, moved into opening hours in the shop's zone. It is zero if nothing is planned.
func (st Studio) PromiseDay(p plan.Solution, zone *time.Location) time.Time {
	by := p.P80
	switch st.Confidence {
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
