package shop

import (
	"errors"
	"slices"
	"testing"
	"time"

	"benchbell/bot/ledger"
)

// A missed recoat window has a remedy with its time and cost; planned, it stands before the coat, and once it is done the coat goes on
// without a word about the window.
func TestAbrade(t *testing.T) {
	h := fittingHouse(t)
	h.work(mara, "C0001")
	day := func() BenchDay {
		d, err := h.s.See(t.Context(), boss, Day{})
		if err != nil {
			t.Fatal(err)
		}
		return d.(BenchDay)
	}
	waiting := func() (Drying, bool) {
		all := day().Drying
		i := slices.IndexFunc(all, func(x Drying) bool { return x.Next != nil && !x.Closes.IsZero() })
		if i < 0 {
			return Drying{}, false
		}
		return all[i], true
	}
	var under Drying
	for k := 0; ; k++ {
		var ok bool
		if under, ok = waiting(); ok {
			break
		}
		if k > 200 {
			t.Fatal("nothing ever waits for a coat")
		}
		if lines := day().Lines; len(lines) > 0 {
			if o := lines[0].Operation; o.Kind == "prime" { // as a material whose window closes
				o.Window = o.CureFor + 6*time.Hour
				h.in(func(t *ledger.Tx) error { return t.PlanOperation(o) })
			}
			h.now = h.now.Add(10 * time.Minute)
			h.do(boss, Done{OnOperation("C0001", lines[0].Operation.Seq)})
		} else {
			h.now = h.now.Add(3 * time.Hour)
			h.due()
		}
	}
	coat := under.Next
	of := OnOperation("C0001", coat.Seq)
	h.refused(Abrade{OfOperation: of}, NotMissed)
	h.now = under.Closes.Add(time.Hour)
	h.due()
	got, _ := waiting()
	if got.Remedy == nil || got.Remedy.Takes < time.Minute || got.Remedy.Cost <= 0 || got.Remedy.Coat.Seq != coat.Seq {
		t.Fatalf("the remedy is %+v of %+v", got.Remedy, got)
	}
	a := Abrade{OfOperation: of}
	o, err := h.s.Do(t.Context(), Call{Person: boss, Act: a})
	var no *Refusal
	if errors.As(err, &no) && no.Kind == Hurts {
		a.Seen = no.Seen
		o, err = h.s.Do(t.Context(), Call{Person: boss, Act: a})
	}
	if err != nil {
		t.Fatal(err)
	}
	added := o.(AbradePlanned).Operation
	h.refused(Abrade{OfOperation: of}, AbradedAlready)
	if no := h.why(Start{OfOperation: of}, OpWaits); no.Wait.For.Op != added.Op {
		t.Errorf("the coat waits for %+v", no.Wait)
	}
	now, next := h.op("C0001", added.Op), h.op("C0001", coat.Op)
	if now.State != ledger.Planned || now.Start.Before(h.now.Add(-time.Hour)) || next.Start.Before(now.End) {
		t.Errorf("abrading is planned from %s to %s, the coat for %s", now.Start, now.End, next.Start)
	}
	if _, err := h.s.See(t.Context(), boss, WholePlan{}); err != nil {
		t.Fatalf("no plan can be made: %v", err)
	}
	if d, ok := waiting(); ok && d.Operation.Seq == under.Operation.Seq {
		t.Errorf("its window is still spoken of: %+v", d)
	}
	h.now = now.End
	h.do(boss, Done{OnOperation("C0001", added.Seq)})
	if s := h.do(boss, Start{OfOperation: of}).(Started); s.Missed != nil {
		t.Errorf("of the keyed surface it says %+v", s.Missed)
	}
}
