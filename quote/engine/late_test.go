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
