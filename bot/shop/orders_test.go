package shop

import (
	"slices"
	"testing"

	"benchbell/bot/ledger"
	"benchbell/quote"
)

func (h *house) find(a FindOrders) (out []quote.CommissionID) {
	h.t.Helper()
	o, err := h.s.See(h.t.Context(), boss, a)
	if err != nil {
		h.t.Fatal(err)
	}
	for _, x := range o.(OrderList).Orders {
		out = append(out, x.ID)
	}
	return out
}

// A commission is found by its number, its client's name and the titles of its sets, alone or together.
func TestFindOrders(t *testing.T) {
	h := newHouse(t)
	h.to(ledger.Quoted) // C0001, Mara's cuff
	h.do(ivo, Ask{Set: "sword"})
	h.do(ivo, Ask{Set: "forearm-cuff"})
	h.do(ivo, Cancel{Of: On("C0003")})
	for _, x := range []struct {
		a    FindOrders
		want []quote.CommissionID
	}{
		{FindOrders{}, []quote.CommissionID{"C0001", "C0002"}}, // what is promised stands before what is not
		{FindOrders{Words: "c0002"}, []quote.CommissionID{"C0002"}},
		{FindOrders{Words: "2"}, []quote.CommissionID{"C0002"}},
		{FindOrders{Words: "SWO"}, []quote.CommissionID{"C0002"}},
		{FindOrders{Words: ivo.Name[:2]}, []quote.CommissionID{"C0002"}},
		{FindOrders{Words: ivo.Name + " cuff"}, nil},
		{FindOrders{Words: ivo.Name + " cuff", All: true}, []quote.CommissionID{"C0003"}},
		{FindOrders{Words: "%"}, nil},
		{FindOrders{State: ledger.Cancelled}, []quote.CommissionID{"C0003"}},
		{FindOrders{Client: ivo.ID, All: true, Sort: ledger.NewestFirst}, []quote.CommissionID{"C0003", "C0002"}},
		{FindOrders{From: "not a date"}, []quote.CommissionID{"C0001", "C0002"}},
		{FindOrders{From: "2026-01-01"}, []quote.CommissionID{"C0001"}},
		{FindOrders{Page: 1}, nil},
	} {
		if got := h.find(x.a); !slices.Equal(got, x.want) {
			t.Errorf("%+v finds %v, want %v", x.a, got, x.want)
		}
	}
}

// Each says what it waits for: a quote until when, a deposit until when, work what comes next.
func TestOrdersSayWhatTheyWaitFor(t *testing.T) {
	for _, state := range []ledger.State{ledger.Quoted, ledger.Approved, ledger.Working, ledger.Ready} {
		h := newHouse(t)
		h.to(state)
		o, err := h.s.See(t.Context(), boss, FindOrders{})
		if err != nil {
			t.Fatal(err)
		}
		x := o.(OrderList).Orders[0]
		if len(x.Sets) != 1 || x.Since.IsZero() || x.Since.After(h.now) {
			t.Errorf("%s: %+v", state, x)
		}
		for what, is := range map[string][2]bool{"when it ends": {!x.Ends.IsZero(), state == ledger.Quoted}, "until when the deposit is awaited": {!x.Due.IsZero(), state == ledger.Approved},
			"what comes next": {x.Work.First.Op != "", state == ledger.Working}, "that the client is to pick a time": {x.Picks != nil, state == ledger.Ready}} {
			if is[0] != is[1] {
				t.Errorf("%s says %s: %t", state, what, is[0])
			}
		}
		if c := o.(OrderList).Counts; len(c) != 1 || c[0].State != state || c[0].N != 1 {
			t.Errorf("%s is counted as %+v", state, c)
		}
	}
}
