package rehearsal

import (
	"cmp"
	"slices"
	"sort"
	"time"

	"benchbell/quote/plan"
)

// hours are stretches in which the shop is open, or a maker is in it, in order.
type hours []plan.Span

// openHours of a calendar from one time to another.
func openHours(c plan.Calendar, zone *time.Location, from, to time.Time) hours {
	var out hours
	add := func(day time.Time, a, b int) {
		s := plan.Span{From: time.Date(day.Year(), day.Month(), day.Day(), 0, a, 0, 0, zone), To: time.Date(day.Year(), day.Month(), day.Day(), 0, b, 0, 0, zone)}
		if s.To.After(from) && s.From.Before(to) {
			out = append(out, plan.Span{From: s.From.UTC(), To: s.To.UTC()})
		}
	}
	for day := from.In(zone); day.Before(to.AddDate(0, 0, 1)); day = time.Date(day.Year(), day.Month(), day.Day()+1, 12, 0, 0, 0, zone) {
		date := day.Format(time.DateOnly)
		switch {
		case slices.Contains(c.Closed, date):
		case len(c.Shifts) == 0:
			add(day, 0, 24*60)
		default:
			for _, s := range c.Shifts {
				if s.Weekday == day.Weekday() {
					add(day, s.From, s.To)
				}
			}
		}
		for _, x := range c.Extra {
			if x.Date == date {
				add(day, x.From, x.To)
			}
		}
	}
	slices.SortFunc(out, func(a, b plan.Span) int { return cmp.Or(a.From.Compare(b.From), a.To.Compare(b.To)) })
	return out
}

// without is the hours without those of absences.
func (h hours) without(away []plan.Span) hours {
	var out hours
	for _, s := range h {
		rest := []plan.Span{s}
		for _, a := range away {
			var next []plan.Span
			for _, x := range rest {
				if !a.From.Before(x.To) || !x.From.Before(a.To) {
					next = append(next, x)
					continue
				}
				if x.From.Before(a.From) {
					next = append(next, plan.Span{From: x.From, To: a.From.UTC()})
				}
				if a.To.Before(x.To) {
					next = append(next, plan.Span{From: a.To.UTC(), To: x.To})
				}
			}
			rest = next
		}
		out = append(out, rest...)
	}
	return out
}

// next is the index of the first stretch that ends after a time.
func (h hours) next(t time.Time) int {
	return sort.Search(len(h), func(i int) bool { return h[i].To.After(t) })
}

// at reports whether a time is within them, and until when.
func (h hours) at(t time.Time) (until time.Time, ok bool) {
	i := h.next(t)
	if i == len(h) || t.Before(h[i].From) {
		return time.Time{}, false
	}
	return h[i].To, true
}

// opens is the first moment within them from a time on; zero where there is none.
func (h hours) opens(t time.Time) time.Time {
	i := h.next(t)
	switch {
	case i == len(h):
		return time.Time{}
	case t.Before(h[i].From):
		return h[i].From
	}
	return t
}

// after is when so much work is done that begins at a time and rests outside of them; zero where it is never.
func (h hours) after(t time.Time, work time.Duration) time.Time {
	for i := h.next(t); i < len(h); i++ {
		from := h[i].From
		if t.After(from) {
			from = t
		}
		if left := h[i].To.Sub(from); work <= left {
			return from.Add(work)
		} else {
			work -= left
		}
	}
	return time.Time{}
}

// between is how much of them lies between two times.
func (h hours) between(from, to time.Time) time.Duration {
	var sum time.Duration
	if !from.Before(to) {
		return 0
	}
	for i := h.next(from); i < len(h) && h[i].From.Before(to); i++ {
		a, b := h[i].From, h[i].To
		if a.Before(from) {
			a = from
		}
		if b.After(to) {
			b = to
		}
		sum += b.Sub(a)
	}
	return sum
}
