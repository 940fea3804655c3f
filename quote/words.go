package quote

import (
	"fmt"
	"math"
	"time"
	"unicode"
)

// How what is said everywhere is said: at every door, on pages and on paper.

// LongDate writes "2026-12-18" as "Friday 18 December 2026"; text that is not a date is returned unchanged.
func LongDate(d string) string { return dateAs(d, "Monday 2 January 2006") }

// DateWords writes "2026-12-18" as "Fri 18 Dec 2026"; text that is not a date is returned unchanged.
func DateWords(d string) string { return dateAs(d, "Mon 2 Jan 2006") }

// ShortDate writes "2026-12-18" as "Fri 18 Dec"; text that is not a date is returned unchanged.
func ShortDate(d string) string { return dateAs(d, "Mon 2 Jan") }

func dateAs(d, layout string) string {
	t, err := time.Parse(time.DateOnly, d)
	if err != nil {
		return d
	}
	return t.Format(layout)
}

// TimeWords is a duration as people say it, to the minute, rounded up: "45 min", "2 h 5 min"; from two days on, "3 days". What is over
// takes no time.
func TimeWords(d time.Duration) string {
	m := int(math.Ceil(d.Minutes()))
	switch {
	case m < 60:
		return fmt.Sprintf("%d min", max(m, 0))
	case m < 48*60 && m%60 == 0:
		return fmt.Sprintf("%d h", m/60)
	case m < 48*60:
		return fmt.Sprintf("%d h %d min", m/60, m%60)
	}
	return fmt.Sprintf("%d days", (m+12*60)/(24*60))
}

// Capital makes the first letter a capital.
func Capital(s string) string {
	r := []rune(s)
	if len(r) > 0 {
		r[0] = unicode.ToUpper(r[0])
	}
	return string(r)
}
