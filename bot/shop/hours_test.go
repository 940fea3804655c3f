package shop

import (
	"errors"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"benchbell/bot/ledger"
	"benchbell/quote"
)

// cutOp is the first operation of a house's commission, primeOp the second.
var cutOp, primeOp = OnOperation("C0001", 1), OnOperation("C0001", 2)

func (h *house) spells(op string) []Log {
	h.t.Helper()
	o, err := h.s.See(h.t.Context(), boss, Step{OnOperation("C0001", h.op("C0001", op).Seq)})
	if err != nil {
		h.t.Fatal(err)
	}
	return o.(StepSeen).Logs
}

// refused does an act that must be refused.
func (h *house) refused(a Act, want Kind) {
	h.t.Helper()
	if no := h.why(a, want); no.Error() == "" {
		h.t.Errorf("the refusal of %T says nothing", a)
	}
}

// why is what refuses an act, which must be of a kind.
func (h *house) why(a Act, want Kind) *Refusal {
	h.t.Helper()
	_, err := h.s.Do(h.t.Context(), Call{Person: boss, Act: a})
	var no *Refusal
	if !errors.As(err, &no) || no.Kind != want {
		h.t.Fatalf("%T is answered with %v, not refused as %q", a, err, want)
	}
	return no
}

// What lies at pause is not work, each spell is whose it is, and typed minutes count in place of the clock's; the trail has both.
func TestHoursAreLogged(t *testing.T) {
	h := newHouse(t)
	h.to(ledger.Working)
	cut := quote.CutOperation(5)
	h.refused(Pause{cutOp}, NotInHand)
	h.do(boss, Start{OfOperation: cutOp})
	h.now = h.now.Add(20 * time.Minute)
	h.do(boss, Pause{cutOp})
	h.refused(Pause{cutOp}, OpPaused)
	h.now = h.now.Add(2 * time.Hour)
	h.do(boss, Start{OfOperation: cutOp})
	h.refused(Start{OfOperation: cutOp}, OpRunning)
	if o := h.op("C0001", cut); o.Rested != 2*time.Hour || !o.PausedAt.IsZero() || o.State != ledger.Running {
		t.Errorf("taken up again it is %+v", o)
	}
	h.refused(CorrectHours{cutOp, 2, "20"}, OpRunning)
	h.now = h.now.Add(15 * time.Minute)
	h.do(boss, Done{cutOp})
	all := h.spells(cut)
	if len(all) != 2 || all[0].Took != 20*time.Minute || all[1].Took != 15*time.Minute || all[0].By != boss.ID {
		t.Fatalf("logged are %+v", all)
	}
	h.refused(CorrectHours{cutOp, 1, "soon"}, BadMinutes)
	h.refused(CorrectHours{cutOp, 1, "25:00"}, BadMinutes)
	h.refused(CorrectHours{cutOp, 3, "20"}, NoSpell)
	h.do(boss, CorrectHours{cutOp, 1, "1:05"})
	h.do(boss, CorrectHours{cutOp, 1, "1 h 10"})
	if l := h.spells(cut)[0]; l.Took != 70*time.Minute || l.CorrectedBy != boss.ID || !l.Until.Equal(all[0].Until) {
		t.Errorf("corrected it is %+v", l)
	}
	var trail []string
	h.in(func(t *ledger.Tx) error {
		es, err := t.Events("C0001")
		for _, e := range es {
			if e.What == "hours corrected" {
				trail = append(trail, e.Detail)
			}
		}
		return err
	})
	if got := strings.Join(trail, "; "); got != cut+", spell 1: 65 min, was 20 min; "+cut+", spell 1: 70 min, was 65 min" {
		t.Errorf("the trail has %s", got)
	}
}

// Of what was done without having been started nobody knows how long it took, until somebody types it.
func TestDoneWithoutStart(t *testing.T) {
	h := newHouse(t)
	h.to(ledger.Working)
	h.do(boss, Done{cutOp})
	l := h.spells(quote.CutOperation(5))
	if len(l) != 1 || l[0].Took != 0 || l[0].Until.IsZero() {
		t.Fatalf("logged are %+v", l)
	}
	h.do(boss, CorrectHours{cutOp, 1, "40 min"})
	if l := h.spells(quote.CutOperation(5)); l[0].Took != 40*time.Minute {
		t.Errorf("typed, it is %v", l[0].Took)
	}
}

// Nobody worked all night: a spell from one day into another counts the hours in which the shop was open.
func TestForgottenOvernight(t *testing.T) {
	h := newHouse(t)
	h.to(ledger.Working)
	h.do(boss, Start{OfOperation: cutOp})
	h.now = h.now.AddDate(0, 0, 1)
	h.do(boss, Done{cutOp})
	l := h.spells(quote.CutOperation(5))[0]
	if open := testStudio().Calendar.OpenTime(h.s.zone0(l.From), l.Until); l.Took != open || open >= 24*time.Hour || open < time.Hour {
		t.Errorf("it took %s, and the shop was open for %s", l.Took, open)
	}
}

func (s *Shop) zone0(t time.Time) time.Time { return t.In(s.zone()) }

func TestMinutesTyped(t *testing.T) {
	for typed, want := range map[string]int{"35": 35, "35 min": 35, "1:20": 80, "1 h": 60, "1h20": 80, "1 H 20 min": 80, "1.5 h": 90, "1,5 h": 90, " 0:45 ": 45,
		"": 0, "h": 0, "1:2": 0, "-5": 0, "1 h 20 s": 0, "12345": 0, "soon": 0} {
		if got := minutesTyped(typed); got != want {
			t.Errorf("%q is read as %d minutes, want %d", typed, got, want)
		}
	}
}

// Whatever is pressed in whatever order: an operation in hand has one spell open and no other has any, spells follow each other, and
// taking back all that was said leaves nothing logged.
func TestSpellsLaw(t *testing.T) {
	h := newHouse(t)
	h.to(ledger.Working)
	cut := quote.CutOperation(5)
	rapid.Check(t, func(rt *rapid.T) {
		for range rapid.IntRange(1, 12).Draw(rt, "acts") {
			h.now = h.now.Add(time.Duration(rapid.IntRange(1, 90).Draw(rt, "minutes")) * time.Minute)
			a := rapid.SampledFrom([]Act{Start{OfOperation: cutOp}, Pause{cutOp}, Done{cutOp}, TakeBack{cutOp}}).Draw(rt, "act")
			if _, err := h.s.Do(t.Context(), Call{Person: boss, Act: a}); err != nil && refusal(err) == "" {
				rt.Fatal(err)
			}
			op, all := h.op("C0001", cut), h.spells(cut)
			open := 0
			for i, x := range all {
				if x.Until.IsZero() {
					open++
				}
				if i > 0 && (all[i-1].Until.IsZero() || x.From.Before(all[i-1].Until)) {
					rt.Fatalf("spell %d begins before the one before it ends: %+v", i+1, all)
				}
			}
			inHand := op.State == ledger.Running && op.PausedAt.IsZero()
			if inHand != (open == 1) || open > 1 || (op.State == ledger.Planned) != (len(all) == 0) {
				rt.Fatalf("the operation is %+v with spells %+v", op, all)
			}
			if op.State == ledger.Running && !op.StartedAt.Equal(all[0].From) {
				rt.Fatalf("begun %s, its first spell is of %s", op.StartedAt, all[0].From)
			}
		}
		for k := 0; h.op("C0001", cut).State != ledger.Planned; k++ {
			if k > 50 {
				rt.Fatal("taking back never comes to an end")
			}
			h.do(boss, TakeBack{cutOp})
		}
		if l := h.spells(cut); len(l) != 0 {
			rt.Fatalf("all was taken back, and logged are %+v", l)
		}
	})
}
