package shop

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"testing"
	"time"

	"benchbell/bot/ledger"
	"benchbell/quote"
)

// atWork is everything that a maker is planned for.
func (h *house) atWork(maker string, ids []quote.CommissionID) (out []ledger.Operation) {
	h.t.Helper()
	h.in(func(t *ledger.Tx) error {
		for _, id := range ids {
			ops, err := t.Operations(id)
			if err != nil {
				return err
			}
			out = append(out, slices.DeleteFunc(ops, func(o ledger.Operation) bool { return !slices.Contains(o.Resources, maker) })...)
		}
		return nil
	})
	return out
}

func (h *house) away() (out []quote.Away) {
	h.t.Helper()
	h.in(func(t *ledger.Tx) (err error) {
		out, err = t.Away(h.now)
		return err
	})
	return out
}

// TestAway has a maker away: for a day, which hurts no promise and moves only the plan, and for weeks when nobody else is there, which is shown before
// anything changes and done once it was looked at. No promise is moved by it, and each that is in danger is told once.
func TestAway(t *testing.T) {
	if raced {
		t.Skip("whole quotes of one goroutine; the run without the race detector has it")
	}
	h := realHouse(t)
	who, ids, _ := quotedTogether(t, h, 3)
	for i, id := range ids {
		h.do(who[i], Approve{OfRevision: OnRevision(id, 1)})
		h.do(boss, Pay{Of: On(id)})
	}
	due := func() {
		t.Helper()
		if err := h.s.Due(context.Background()); err != nil {
			t.Fatal(err)
		}
	}
	due()
	first := h.atWork("mara", ids)
	slices.SortFunc(first, func(a, b ledger.Operation) int { return a.Start.Compare(b.Start) })
	busy := first[0].Start.Format(time.DateOnly)
	o := h.do(boss, GoAway{Maker: "Mara", From: busy, Until: busy}).(WentAway)
	for _, e := range o.Effects {
		if e.Hurt {
			t.Errorf("a day without Mara puts %s in danger: %.2f of the runs keep it", e.Commission, e.After)
		}
	}
	for _, x := range h.atWork("mara", ids) {
		for _, s := range x.Spans {
			if s.From.Before(o.Away.To) && o.Away.From.Before(s.To) {
				t.Errorf("%s of %s is planned for Mara at %s, when she is away", x.Title, x.Commission, s.From)
			}
		}
	}

	day, until := h.now.Format(time.DateOnly), h.now.AddDate(0, 2, 0).Format(time.DateOnly)
	h.do(boss, GoAway{Maker: "jonas", From: day, Until: until}) // Mara can do it all
	before := fmt.Sprint(h.atWork("mara", ids), h.atWork("jonas", ids), h.away())
	long := GoAway{Maker: "mara", From: day, Until: until}
	_, err := h.s.Do(t.Context(), Call{ID: "long", Person: boss, Act: long})
	var no *Refusal
	if !errors.As(err, &no) || no.Kind != Hurts || no.Away.Maker != "mara" || !hurt(no.Effects) {
		t.Fatalf("two months without anybody: %v", err)
	}
	for _, e := range no.Effects {
		if e.Hurt && (e.After >= e.Before || e.Ask <= e.Promise) {
			t.Errorf("%s is hurt: kept in %.2f instead of %.2f, %s could be told instead of %s", e.Commission, e.After, e.Before, e.Ask, e.Promise)
		}
	}
	if now := fmt.Sprint(h.atWork("mara", ids), h.atWork("jonas", ids), h.away()); now != before {
		t.Error("something changed before anybody decided")
	}
	long.Seen = no.Seen
	h.do(boss, long)
	h.told = nil
	due()
	due()
	inDanger := map[quote.CommissionID]int{}
	for _, x := range h.told {
		if e, ok := x.Outcome.(Endangered); ok {
			inDanger[e.Commission.ID]++
		}
	}
	for _, e := range no.Effects {
		if want := map[bool]int{true: 1}[e.Hurt]; inDanger[e.Commission] != want {
			t.Errorf("%s is told to be in danger %d times, want %d", e.Commission, inDanger[e.Commission], want)
		}
		h.in(func(tx *ledger.Tx) error {
			p, err := tx.StandingPromise(e.Commission)
			if p.Date != e.Promise {
				t.Errorf("the promise of %s was moved from %s to %s", e.Commission, e.Promise, p.Date)
			}
			return err
		})
	}

	// Quotes know of it too.
	h.begin(ivo, "C0004")
	h.do(ivo, Measure{On("C0004")})
	h.do(ivo, GiveMeasurements{On("C0004"), arm})
	h.do(ivo, Confirm{On("C0004")})
	h.in(func(tx *ledger.Tx) error {
		rev, err := tx.Revision("C0004", 1)
		if len(rev.Snapshot.Studio.Away) != 3 {
			t.Errorf("a new quote is asked for as if %v were all who are away", rev.Snapshot.Studio.Away)
		}
		return err
	})

	h.now = h.now.Add(time.Hour)
	h.do(boss, ComeBack{"Mara"})
	if left := h.away(); len(left) != 1 || left[0].Maker != "jonas" {
		t.Errorf("Mara is back and still away %v", left)
	}
	_, err = h.s.Do(t.Context(), Call{ID: "twice", Person: boss, Act: ComeBack{"Mara"}})
	if refusal(err) != NobodyAway {
		t.Errorf("back twice: %v", err)
	}
	due()
	if n := h.do(boss, TakeOver{Plan: h.planNumber()}).(TakenOver); n.Moved == 0 {
		t.Error("with Mara back, nothing moves")
	}
	h.told = nil
	due()
	safe := 0
	for _, x := range h.told {
		if _, ok := x.Outcome.(Safe); ok {
			safe++
		}
	}
	if safe != len(inDanger) {
		t.Errorf("%d promises were in danger, %d are safe again", len(inDanger), safe)
	}
}

func (h *house) planNumber() int64 {
	h.t.Helper()
	p, err := h.s.See(h.t.Context(), boss, WholePlan{})
	if err != nil {
		h.t.Fatal(err)
	}
	return p.(Plan).Number
}

// TestAwayRefuses has days and makers that are none.
func TestAwayRefuses(t *testing.T) {
	h := newHouse(t)
	for _, x := range []struct {
		act  GoAway
		want Kind
	}{
		{GoAway{}, NoMaker}, {GoAway{Maker: "booth"}, NoMaker}, {GoAway{Maker: "mara", From: "yesterday"}, BadDays},
		{GoAway{Maker: "mara", From: "12 December", Until: "11 December"}, DaysBackwards}, {GoAway{Maker: "mara", Until: "1.2.2020"}, BadDays},
	} {
		_, err := h.s.Do(t.Context(), Call{Person: boss, Act: x.act})
		if refusal(err) != x.want {
			t.Errorf("%+v: %v, want %s", x.act, err, x.want)
		}
	}
}
