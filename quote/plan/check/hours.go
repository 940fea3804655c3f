package check

import (
	"fmt"
	"slices"
	"time"
	_ "time/tzdata" // zones also on machines without a zone database

	"benchbell/quote/plan"
)

// stretch is open hours without a break, from its first moment to its closing.
type stretch struct{ from, to time.Time }

// hours is the shop's open hours in order, with a break between any two.
type hours []stretch

// open is the hours from the day before first to two days after last, both on the wall of the shop: what touches a day's
// midnight is then whole on both sides.
func open(c plan.Calendar, first, last time.Time) (hours, error) {
	zone, err := time.LoadLocation(c.Zone)
	if err != nil {
		return nil, fmt.Errorf("the problem's time zone %q cannot be read: %w", c.Zone, err)
	}
	closed := make(map[string]bool, len(c.Closed))
	for _, d := range c.Closed {
		closed[d] = true
	}
	type times struct{ from, to int }
	var week [7][]times
	for _, x := range c.Shifts {
		if x.Weekday < 0 || x.Weekday > 6 {
			return nil, fmt.Errorf("the problem has a shift on weekday %d", x.Weekday)
		}
		week[x.Weekday] = append(week[x.Weekday], times{x.From, x.To})
	}
	extra := make(map[string][]times, len(c.Extra))
	for _, x := range c.Extra {
		extra[x.Date] = append(extra[x.Date], times{x.From, x.To})
	}
	var all hours
	y, m, d := first.In(zone).Date()
	for d--; ; d++ {
		noon := time.Date(y, m, d, 12, 0, 0, 0, zone)
		if noon.AddDate(0, 0, -3).After(last) {
			break
		}
		date := noon.Format(time.DateOnly)
		add := func(list []times) {
			for _, x := range list {
				s := stretch{up(time.Date(y, m, d, 0, x.from, 0, 0, zone)), down(time.Date(y, m, d, 0, x.to, 0, 0, zone))}
				if s.from.Before(s.to) {
					all = append(all, s)
				}
			}
		}
		if !closed[date] {
			add(week[noon.Weekday()])
		}
		add(extra[date])
	}
	slices.SortFunc(all, func(a, b stretch) int { return a.from.Compare(b.from) })
	var out hours
	for _, s := range all {
		if n := len(out); n > 0 && !s.from.After(out[n-1].to) {
			out[n-1].to = latest(out[n-1].to, s.to)
			continue
		}
		out = append(out, s)
	}
	return out, nil
}

// at is the number of the stretch that t lies in, closing time excluded.
func (h hours) at(t time.Time) (int, bool) {
	k := h.after(t)
	return k, k < len(h) && !t.Before(h[k].from)
}

// after is the number of the first stretch that closes after t.
func (h hours) after(t time.Time) int {
	k, _ := slices.BinarySearchFunc(h, t, func(s stretch, t time.Time) int {
		if s.to.After(t) {
			return 1
		}
		return -1
	})
	return k
}

// between is how long the shop is open from a to b.
func (h hours) between(a, b time.Time) time.Duration {
	var sum time.Duration
	for k := h.after(a); k < len(h) && h[k].from.Before(b); k++ {
		to := h[k].to
		if b.Before(to) {
			to = b
		}
		sum += to.Sub(latest(a, h[k].from))
	}
	return sum
}

// fill is the open stretches from t on that hold so much work; no work is a moment at which the shop is open. False where the
// hours end before that.
func (h hours) fill(t time.Time, work time.Duration) ([]plan.Span, bool) {
	var out []plan.Span
	for k := h.after(t); k < len(h); k++ {
		from := latest(t, h[k].from)
		to := from.Add(work)
		if !to.After(h[k].to) {
			return append(out, plan.Span{From: from, To: to}), true
		}
		out = append(out, plan.Span{From: from, To: h[k].to})
		work -= h[k].to.Sub(from)
	}
	return out, false
}

// handover is the first moment at or after t at which somebody is in the shop, closing time included. False where the hours
// end before it.
func (h hours) handover(t time.Time) (time.Time, bool) {
	k := h.after(t.Add(-1))
	if k == len(h) {
		return t, false
	}
	return latest(t, h[k].from), true
}
