package engine_test

import (
	"testing"
	"time"

	"benchbell/quote/engine"
	"benchbell/quote/quotetest"
)

// What is ready on the day that was asked for is not late; wanted a day earlier, it is.
func TestReadyOnTheWantedDayIsNotLate(t *testing.T) {
	s := quotetest.Snapshot(t, "forearm-cuff")
	s.Wanted = ""
	q, err := engine.Compute(t.Context(), s, nil)
	if err != nil {
		t.Fatal(err)
	}
	if q.Late {
		t.Error("a quote for no day in particular is late")
	}
	day, err := time.Parse(time.DateOnly, q.Promise)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		days int
		late bool
	}{{-1, true}, {0, false}, {1, false}} {
		s.Wanted = day.AddDate(0, 0, c.days).Format(time.DateOnly)
		got, err := engine.Compute(t.Context(), s, nil)
		if err != nil {
			t.Fatal(err)
		}
		if got.Promise != q.Promise || got.Late != c.late {
			t.Errorf("wanted by %s and promised for %s: late is %t, want %t", s.Wanted, got.Promise, got.Late, c.late)
		}
	}
}

// A quote holds for the studio's days of validity, to the end of the last of them where the studio is.
func TestQuoteHoldsToTheEndOfItsLastDay(t *testing.T) {
	s := quotetest.Snapshot(t, "forearm-cuff")
	s.Studio.Calendar.Zone, s.Studio.Validity = "Europe/Berlin", 14
	s.At = time.Date(2026, 10, 12, 22, 30, 0, 0, time.UTC) // the 13th there, in summer time; the 27th is in winter time
	q, err := engine.Compute(t.Context(), s, nil)
	if err != nil {
		t.Fatal(err)
	}
	if want := time.Date(2026, 10, 27, 23, 0, 0, 0, time.UTC); !q.Expires.Equal(want) {
		t.Errorf("the quote holds until %v, want %v", q.Expires, want)
	}
}
