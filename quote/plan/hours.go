package plan

import (
	"slices"
	"time"
)

// Open reports whether the shop works on t's local day according to its shifts; t is in the shop's zone. A calendar without
// shifts is open on every day not marked as closed.
func (c Calendar) Open(t time.Time) bool {
	if slices.Contains(c.Closed, t.Format(time.DateOnly)) {
		return false
	}
	return len(c.Shifts) == 0 || slices.ContainsFunc(c.Shifts, func(s Shift) bool { return s.Weekday == t.Weekday() })
}

// longestClosed bounds how many days ahead to look for an open one.
const longestClosed = 366

// Handover is when something ready at t can be collected: t itself if a shift of that day has yet to end, otherwise the
// start of the next open day. t is in the shop's zone. If the shop is closed for a year, it is t.
func (c Calendar) Handover(t time.Time) time.Time {
	d := t
	for range longestClosed {
		if closes := c.Closing(d); !closes.IsZero() && !d.Truncate(time.Minute).After(closes) {
			return d
		}
		d = time.Date(d.Year(), d.Month(), d.Day()+1, 0, 0, 0, 0, d.Location())
	}
	return t
}

// Closing is until when work that is ready can be handed over on a day, in that time's zone: the end of its last shift, or of the
// day where there are no shifts. It is zero on a day that is closed.
func (c Calendar) Closing(day time.Time) time.Time {
	_, to := c.hours(day)
	return to
}

// Opening is when work begins on a day, in that time's zone: with its first shift, or the day where there are no shifts. It is zero
// on a day that is closed.
func (c Calendar) Opening(day time.Time) time.Time {
	from, _ := c.hours(day)
	return from
}

// hours are from the beginning of a day's first shift to the end of its last; zero on a day that is closed.
func (c Calendar) hours(day time.Time) (from, to time.Time) {
	if !c.Open(day) {
		return from, to
	}
	first, last := 0, 24*60
	if len(c.Shifts) > 0 {
		first, last = last, 0
		for _, s := range c.Shifts {
			if s.Weekday == day.Weekday() {
				first, last = min(first, s.From), max(last, s.To)
			}
		}
	}
	midnight := func(minutes int) time.Time {
		return time.Date(day.Year(), day.Month(), day.Day(), 0, minutes, 0, 0, day.Location())
	}
	return midnight(first), midnight(last)
}

// Worked is how long is worked on what runs from start to end in these spans, without the hours within it in which the shop is closed;
// without spans, all of it.
func Worked(start, end time.Time, spans []Span) time.Duration {
	if len(spans) == 0 {
		return end.Sub(start)
	}
	var sum time.Duration
	for _, x := range spans {
		sum += x.To.Sub(x.From)
	}
	return sum
}

// OpenTime is how long the shop is open between two moments, in the time zone of the first, evenings worked in addition counted in; all of it where
// there are no shifts.
func (c Calendar) OpenTime(from, to time.Time) time.Duration {
	var sum time.Duration
	to = to.In(from.Location())
	for n := 0; ; n++ {
		day := time.Date(from.Year(), from.Month(), from.Day()+n, 0, 0, 0, 0, from.Location())
		if !day.Before(to) {
			return sum
		}
		var open []Span
		add := func(first, last int) {
			at := func(minutes int) time.Time {
				return time.Date(day.Year(), day.Month(), day.Day(), 0, minutes, 0, 0, day.Location())
			}
			x := Span{at(first), at(last)}
			if x.From.Before(from) {
				x.From = from
			}
			if x.To.After(to) {
				x.To = to
			}
			if x.From.Before(x.To) {
				open = append(open, x)
			}
		}
		date := day.Format(time.DateOnly)
		for _, s := range c.Shifts {
			if s.Weekday == day.Weekday() && !slices.Contains(c.Closed, date) {
				add(s.From, s.To)
			}
		}
		if len(c.Shifts) == 0 && !slices.Contains(c.Closed, date) {
			add(0, 24*60)
		}
		for _, x := range c.Extra {
			if x.Date == date {
				add(x.From, x.To)
			}
		}
		slices.SortFunc(open, func(a, b Span) int { return a.From.Compare(b.From) })
		until := from
		for _, x := range open { // what overlaps counts once
			if x.From.Before(until) {
				x.From = until
			}
			if x.From.Before(x.To) {
				sum, until = sum+x.To.Sub(x.From), x.To
			}
		}
	}
}

// Working reports whether t, in the shop's zone, is in a shift of an open day.
func (c Calendar) Working(t time.Time) bool {
	at := t.Hour()*60 + t.Minute()
	return c.Open(t) && (len(c.Shifts) == 0 || slices.ContainsFunc(c.Shifts, func(s Shift) bool {
		return s.Weekday == t.Weekday() && s.From <= at && at < s.To
	}))
}

// Begins is when work begins on the first open day on which that is after t; t is in the shop's zone. If the shop is closed for a
// year, it is t.
func (c Calendar) Begins(t time.Time) time.Time {
	for d := range longestClosed {
		day := time.Date(t.Year(), t.Month(), t.Day()+d, 12, 0, 0, 0, t.Location())
		if at := c.Opening(day); at.After(t) {
			return at
		}
	}
	return t
}
