package quote

import (
	"time"

	"benchbell/quote/plan"
)

// ReadyBy begins the line of a quote's summary that tells its date.
const ReadyBy = "Ready by "

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

// FirstDay is when work on what is quoted at a time is assumed to begin: the start of the day st.StartAfter working days
// later, in that time's zone.
func (st Studio) FirstDay(at time.Time) time.Time {
	d, n := at, st.StartAfter
	const horizon = 3 * 366 // days; a shop closed for more than three years takes no commissions
	for range horizon {
		if st.Calendar.Open(d) {
			if n == 0 {
				break
			}
			n--
		}
		d = time.Date(d.Year(), d.Month(), d.Day()+1, 0, 0, 0, 0, d.Location())
	}
	return d.UTC()
}

// EndOf is the end of the day so many days after a time, in that time's zone.
func EndOf(at time.Time, days int) time.Time {
	return time.Date(at.Year(), at.Month(), at.Day()+days+1, 0, 0, 0, 0, at.Location()).UTC()
}
