package rehearsal

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/quote"
	"benchbell/quote/settings"
)

// A filled shop has commissions in every state that a shop at work has, messages that wait and that were answered, and a date in danger,
// ends at the moment it is to, not after it, and is the same for the same seed.
func TestFill(t *testing.T) {
	if raced {
		t.Skip("it is one goroutine with much to work out; the run without the race detector has it")
	}
	until := time.Date(2026, 11, 30, 11, 0, 0, 0, time.UTC)
	fill := func(n int, seed uint64) (trail string, states map[ledger.State]int) {
		t.Helper()
		led, err := ledger.OpenScratch(t.Context(), filepath.Join(t.TempDir(), "ledger.db"))
		if err != nil {
			t.Fatal(err)
		}
		defer led.Close()
		days := map[string]bool{}
		var now func() time.Time
		f := Filling{Studio: settings.Demo(), Commissions: n, Seed: seed, Until: until, Ledger: led, Door: "browser",
			Listen: func(_ *shop.Shop, at func() time.Time) error {
				now = at
				return nil
			},
			Daily: func(context.Context) error {
				days[now().Format(time.DateOnly)] = true
				return nil
			}}
		if err := Fill(t.Context(), f); err != nil {
			t.Fatal(err)
		}
		if n > 20 && len(days) < 10 || !now().Equal(until) {
			t.Errorf("it was played on %d days until %s", len(days), now())
		}
		var b strings.Builder
		states = map[ledger.State]int{}
		open, danger := 0, 0
		if err := led.Tx(t.Context(), func(t *ledger.Tx) error {
			cs, err := t.Commissions()
			if err != nil {
				return err
			}
			for _, c := range cs {
				states[c.State]++
				es, err := t.Events(c.ID)
				if err != nil {
					return err
				}
				for _, e := range es {
					if e.At.After(until) {
						return fmt.Errorf("%s: %s at %s", c.ID, e.What, e.At)
					}
					if !strings.HasPrefix(e.What, "quote") { // which say how long the engine took
						fmt.Fprintln(&b, e.At, e.Commission, e.Name, e.What, e.Detail)
					}
				}
			}
			counts, err := t.OpenCounts()
			for _, c := range counts {
				danger += c.Danger
			}
			if err == nil {
				open, err = t.OpenMessageCount()
			}
			return err
		}); err != nil {
			t.Fatal(err)
		}
		if n > 20 && (open == 0 || danger == 0 || !strings.Contains(b.String(), " answered ")) {
			t.Errorf("%d messages are open, %d dates are in danger", open, danger)
		}
		return b.String(), states
	}
	one, states := fill(26, 1)
	sum := 0
	for _, n := range states {
		sum += n
	}
	if sum != 26 {
		t.Errorf("%d commissions were made: %v", sum, states)
	}
	for _, s := range []ledger.State{ledger.Choosing, ledger.Measuring, ledger.Checking, ledger.Failed, ledger.Quoted, ledger.Expired, ledger.Working, ledger.Delivered,
		ledger.Declined, ledger.Cancelled} {
		if states[s] == 0 {
			t.Errorf("none is %s: %v", s, states)
		}
	}
	small, _ := fill(4, 7)
	if again, _ := fill(4, 7); again != small {
		t.Error("the same seed gives another shop")
	}
	if len(one) < len(small) {
		t.Error("fewer commissions have more of a trail")
	}
	for _, n := range []int{0, MaxFilled + 1} {
		if err := Fill(t.Context(), Filling{Studio: quote.Studio{}, Commissions: n}); err == nil || !strings.Contains(err.Error(), "a shop is filled with 1 to 2000") {
			t.Errorf("%d commissions: %v", n, err)
		}
	}
}
