package plan

import (
	"slices"
	"time"
)

// Open reports whether the shop works on t's local day by its shifts; t is in the shop's zone. A calendar without shifts is
// open on every day that is not closed: nothing is known against it.
func (c Calendar) Open(t time.Time) bool {
	if slices.Contains(c.Closed, t.Format(time.DateOnly)) {
		return false
	}
	return len(c.Shifts) == 0 || slices.ContainsFunc(c.Shifts, func(s Shift) bool { return s.Weekday == t.Weekday() })
}

// longestClosed bounds the days looked ahead for an open one.
const longestClosed = 366

// Handover is when what is ready at t can be collected: t itself while a shift of its day is still to end, otherwise the
// beginning of the next open day; t is in the shop's zone. It is t where the shop is closed for a year.
func (c Calendar) Handover(t time.Time) time.Time {
	d := t
	for range longestClosed {
		if c.Open(d) && (len(c.Shifts) == 0 || slices.ContainsFunc(c.Shifts, func(s Shift) bool {
			return s.Weekday == d.Weekday() && d.Hour()*60+d.Minute() <= s.To
		})) {
			return d
		}
		d = time.Date(d.Year(), d.Month(), d.Day()+1, 0, 0, 0, 0, d.Location())
	}
	return t
}
