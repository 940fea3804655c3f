package schedule

import (
	"context"
	"errors"
	"fmt"
	"sync/atomic"
	"testing"
	"time"

	"benchbell/quote/plan"
	"benchbell/quote/plan/check"
)

// soon is how soon a search must have ended once nobody wants it any more: fifty milliseconds, and on a machine that does other
// things at the time, a second, which no search of these shops that goes on to its end keeps.
const soon = time.Second

// endless is a shop of so many commissions with a budget that takes many times as long as is waited for.
func endless(commissions int) plan.Problem {
	p := full(commissions)
	p.Schedules, p.Runs = 100_000/commissions, 10_000/commissions
	return p
}

// interrupted is how long Solve takes to end after its context has, so long after it began.
func interrupted(t testing.TB, p plan.Problem, after time.Duration) time.Duration {
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	at := make(chan time.Time, 1)
	timer := time.AfterFunc(after, func() { at <- time.Now(); cancel() })
	defer timer.Stop()
	if _, err := Solve(ctx, p, nil); !errors.Is(err, context.Canceled) {
		t.Fatalf("%d operations, stopped after %s: %v", len(p.Operations), after, err)
	}
	return time.Since(<-at)
}

// A search that nobody wants any more ends soon, whatever it is at.
func TestSearchIsCancelled(t *testing.T) {
	for _, n := range []int{1, 8, 100} {
		for _, after := range []time.Duration{0, 40 * time.Millisecond, 300 * time.Millisecond} {
			if took := interrupted(t, endless(n), after); took > soon {
				t.Errorf("%d commissions, cancelled after %s: ended %s later", n, after, took)
			}
		}
	}
}

// A search that is stopped gives the best plan it has, which is one, and soon.
func TestStoppedSearchHasAPlan(t *testing.T) {
	for _, n := range []int{1, 8, 30} {
		p := endless(n)
		p.Runs = 20
		var stop atomic.Bool
		at := make(chan time.Time, 1)
		time.AfterFunc(100*time.Millisecond, func() { at <- time.Now(); stop.Store(true) })
		s, err := Options{Stop: stop.Load}.Solve(t.Context(), p)
		if err != nil {
			t.Fatal(err)
		}
		if took := time.Since(<-at); took > soon {
			t.Errorf("%d commissions: stopped, and ended %s later", n, took)
		}
		if err := check.Plan(p, s); err != nil {
			t.Errorf("%d commissions: %v", n, err)
		}
	}
}

// BenchmarkCancelled is how long a search takes to end once nobody wants it any more, at the longest of twenty moments.
func BenchmarkCancelled(b *testing.B) {
	for _, n := range []int{1, 10, 100} {
		p := endless(n)
		b.Run(fmt.Sprint(len(p.Operations)), func(b *testing.B) {
			var longest time.Duration
			for b.Loop() {
				for k := range 20 {
					longest = max(longest, interrupted(b, p, time.Duration(k*k)*3*time.Millisecond))
				}
			}
			b.ReportMetric(float64(longest.Microseconds())/1000, "ms-longest")
		})
	}
}
