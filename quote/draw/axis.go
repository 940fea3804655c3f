package draw

import (
	"math"
	"slices"
	"time"
)

// Span is a stretch of time, From before To.
type Span struct{ From, To time.Time }

func (s Span) valid() bool { return !s.From.IsZero() && s.To.After(s.From) }

// axis places times on the picture. Closed time is squeezed so that the work, which is what people read, has room; it is
// never hidden, because cures run through it.
type axis struct {
	knots []time.Time // ascending
	at    []float64   // x of each knot
	open  []Span      // merged, within the axis
}

const (
	// closedShare is the most of the width that closed hours take up together.
	closedShare = 0.25
	// longestPlan bounds the axis; beyond it a day is thinner than a line.
	longestPlan = 3 * 366 * 24 * time.Hour
)

// newAxis maps the span to x0..x1. Without open hours all time runs at one scale.
func newAxis(whole Span, open []Span, x0, x1 float64) axis {
	merged := mergeSpans(whole, open)
	total := whole.To.Sub(whole.From).Seconds()
	worked := 0.0
	for _, s := range merged {
		worked += s.To.Sub(s.From).Seconds()
	}
	slow := 1.0
	if closed := total - worked; worked > 0 && closed > 0 {
		slow = math.Min(1, closedShare/(1-closedShare)*worked/closed)
	}
	a := axis{open: merged}
	length := 0.0
	add := func(t time.Time, speed float64) {
		if n := len(a.knots); n > 0 {
			if !t.After(a.knots[n-1]) {
				return
			}
			length += t.Sub(a.knots[n-1]).Seconds() * speed
		}
		a.knots, a.at = append(a.knots, t), append(a.at, length)
	}
	add(whole.From, slow)
	for _, s := range merged {
		add(s.From, slow)
		add(s.To, 1)
	}
	add(whole.To, slow)
	for i := range a.at {
		a.at[i] = x0 + (x1-x0)*a.at[i]/length
	}
	return a
}

// x is the position of a time; times outside the axis land on its ends.
func (a axis) x(t time.Time) float64 {
	i, _ := slices.BinarySearchFunc(a.knots, t, time.Time.Compare)
	if i == 0 {
		return a.at[0]
	}
	if i == len(a.knots) {
		return a.at[i-1]
	}
	part := t.Sub(a.knots[i-1]).Seconds() / a.knots[i].Sub(a.knots[i-1]).Seconds()
	return a.at[i-1] + part*(a.at[i]-a.at[i-1])
}

func (a axis) from() time.Time { return a.knots[0] }
func (a axis) to() time.Time   { return a.knots[len(a.knots)-1] }

// mergeSpans clips the spans to the whole, sorts and joins them.
func mergeSpans(whole Span, spans []Span) []Span {
	var in []Span
	for _, s := range spans {
		if s.From.Before(whole.From) {
			s.From = whole.From
		}
		if s.To.After(whole.To) {
			s.To = whole.To
		}
		if s.valid() {
			in = append(in, s)
		}
	}
	slices.SortFunc(in, func(a, b Span) int { return a.From.Compare(b.From) })
	var out []Span
	for _, s := range in {
		if n := len(out); n > 0 && !s.From.After(out[n-1].To) {
			if s.To.After(out[n-1].To) {
				out[n-1].To = s.To
			}
			continue
		}
		out = append(out, s)
	}
	return out
}

// midnights are the starts of days in the zone within the axis; the start of the first day is included even if it lies
// before.
func midnights(from, to time.Time, zone *time.Location) []time.Time {
	y, m, d := from.In(zone).Date()
	var out []time.Time
	for i := 0; ; i++ {
		t := time.Date(y, m, d+i, 0, 0, 0, 0, zone)
		if !t.Before(to) || i > int(longestPlan/(24*time.Hour))+1 {
			return out
		}
		out = append(out, t)
	}
}
