package desk

import (
	"context"
	"testing"
	"time"

	"benchbell/bot/ledger"
	"benchbell/quote"
	"benchbell/quote/floor"
	"benchbell/quote/plan"
)

// The studio asks why a commission is ready when it is: what holds the date first, others' work named as such, then the rest; and
// the plan says what it is worth and what moves against the one that people have. Asking changes nothing.
func TestWhy(t *testing.T) {
	p := newPlay(t)
	p.refused(p.command(mara, "why", "number", "C0001"), "for the studio")
	s := &stageShop{}
	p.toWorking(s)
	at := func(d, h int) time.Time { return time.Date(2026, 11, d, h, 0, 0, 0, time.UTC) }
	p.look = func(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time) (floor.Shop, error) {
		out, err := s.look(ctx, open, st, now)
		if err != nil || len(out.Outlooks) == 0 {
			return out, err
		}
		cut := floor.Reason{Commission: "C0009", Op: "cut-5", Title: "“Cut 5 mm foam”", Start: at(3, 8), End: at(3, 11), Who: []string{"Ben"}, Waits: "in hand since Tue 3 Nov, 09:00"}
		prime := floor.Reason{Commission: "C0001", Op: "prime", Title: "“Primer”, Cuff", Start: at(3, 11), End: at(3, 13), Who: []string{"Ben", "Spray booth"},
			Waits: "waits for Ben, busy with “Cut 5 mm foam” of C0009 until Tue 3 Nov, 12:00"}
		strap := floor.Reason{Commission: "C0001", Op: "strap", Title: "“Straps”, Cuff", Start: at(3, 8), End: at(3, 9), Who: []string{"Ana"}}
		l := &out.Outlooks[0]
		l.Chain, l.Reasons = []floor.Reason{cut, prime}, []floor.Reason{strap, prime}
		l.Shift = floor.Shift{Moved: 2, Later: 26 * time.Hour, First: "“Primer”, Cuff (Ben, Spray booth) at Tue 3 Nov, 12:00 instead of Mon 2 Nov, 10:00"}
		out.Together = []floor.Pair{{First: cut, Then: floor.Reason{Commission: "C0001", Op: "cut-5", Title: "“Cut 5 mm foam”"}, Saved: 10}}
		out.Now = []plan.Objective{{Name: plan.Promises, Value: 1}, {Name: plan.Lateness, Value: 180}, {Name: plan.Wishes}, {Name: plan.Windows, Value: 4},
			{Name: plan.Whole, Value: 12 * 24 * 60}, {Name: plan.Moves, Value: 2}, {Name: plan.Setups}, {Name: plan.Evenings, Value: 60}}
		return out, nil
	}
	p.plan = func(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time, _ func(float64)) (floor.Shop, error) {
		return p.look(ctx, open, st, now)
	}
	var before, after int
	count := func(n *int) {
		p.ok(p.led.Tx(t.Context(), func(tx *ledger.Tx) error {
			e, err := tx.Events("C0001")
			*n = len(e)
			return err
		}))
	}
	count(&before)
	p.ok(p.command(boss, "plan"))
	p.ok(p.command(boss, "why", "number", "c0001"))
	p.refused(p.command(boss, "why", "number", "C0007"), "no commission")
	if count(&after); after != before {
		t.Errorf("asking left %d events", after-before)
	}
	p.look = s.look // as where its last cure runs
	p.ok(p.command(boss, "why", "number", "C0001"))
	p.golden()
}
