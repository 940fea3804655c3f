package shop

import (
	"context"
	"fmt"
	"testing"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/jobs"
	"benchbell/quote"
	"benchbell/quote/engine"
	"benchbell/quote/floor"
)

// realHouse is a house whose planner is the shop's own.
func realHouse(t *testing.T) *house {
	t.Helper()
	h := newHouse(t)
	h.s = New(Config{Ledger: h.led, Now: h.s.cfg.Now, Library: testSets(), Studio: testStudio, Place: floor.Place, Plan: floor.Plan, Look: floor.Look, WhatIf: floor.WhatIf})
	h.s.Listen(h)
	return h
}

// quotedTogether has several clients ask at once, before any quote is there, and counts the quotes that were worked out.
func quotedTogether(t *testing.T, h *house, clients int) (who []chat.Person, ids []quote.CommissionID, asked int) {
	t.Helper()
	for i := range clients {
		p := chat.Person{ID: chat.PersonID(fmt.Sprint("stage:", i)), Name: fmt.Sprint("Client ", i)}
		id := quote.CommissionID(fmt.Sprintf("C%04d", i+1))
		h.begin(p, id)
		h.do(p, Measure{On(id)})
		h.do(p, GiveMeasurements{On(id), arm})
		h.do(p, Confirm{On(id)})
		who, ids = append(who, p), append(ids, id)
	}
	for {
		var open []ledger.Request
		h.in(func(t *ledger.Tx) (err error) {
			open, err = t.OverdueRequests(h.now.AddDate(1, 0, 0))
			return err
		})
		if len(open) == 0 {
			break
		}
		for _, r := range open { // all were sent before any is answered
			var rev ledger.Revision
			h.in(func(t *ledger.Tx) (err error) {
				rev, err = t.Revision(r.Commission, r.Revision)
				return err
			})
			q, err := engine.Compute(t.Context(), rev.Snapshot, nil)
			if err != nil {
				t.Fatal(err)
			}
			asked++
			if err := h.s.Take(t.Context(), jobs.Answer{Version: jobs.Version, ID: r.ID, Attempt: 1, Kind: jobs.Done, Quote: &q}); err != nil {
				t.Fatal(err)
			}
		}
	}
	return who, ids, asked
}

// TestQuotesOpenTogether has several clients ask at once, before any quote is there, and pay in the reverse order. Every date
// told is kept as told, and no promise is in danger where nothing was late.
func TestQuotesOpenTogether(t *testing.T) {
	if raced {
		t.Skip("whole quotes of one goroutine; the run without the race detector has it")
	}
	h := realHouse(t)
	const clients = 5
	who, ids, asked := quotedTogether(t, h, clients)
	told := map[quote.CommissionID]string{}
	days := map[string]bool{}
	standing := func(id quote.CommissionID) (p ledger.Promise) {
		h.in(func(t *ledger.Tx) (err error) {
			p, err = t.StandingPromise(id)
			return err
		})
		return p
	}
	for _, id := range ids {
		p := standing(id)
		told[id], days[p.Date] = p.Date, true
		t.Logf("%s is offered for %s, kept in %.2f", id, p.Date, p.Odds)
		if p.Odds < float64(testStudio().Confidence)/100 {
			t.Errorf("%s is offered with odds of %.2f", id, p.Odds)
		}
	}
	if asked == clients || len(days) < 2 {
		t.Errorf("%d quotes were worked out for %d clients, with %d dates: each as if it were alone", asked, clients, len(days))
	}
	h.now = h.now.AddDate(0, 0, 2)
	for i, id := range ids {
		h.do(who[i], Approve{OfRevision: OnRevision(id, 1)})
	}
	for i := clients - 1; i >= 0; i-- {
		h.do(boss, Pay{Of: On(ids[i])})
		if err := h.s.Due(context.Background()); err != nil {
			t.Fatal(err)
		}
	}
	for _, id := range ids {
		if p := standing(id); p.Date != told[id] || p.State != ledger.Given {
			t.Errorf("%s was told %s and is promised for %s now (%s)", id, told[id], p.Date, p.State)
		}
		h.in(func(tx *ledger.Tx) error {
			o, err := tx.Outlook(id)
			if o.Danger || o.Odds < 0 {
				t.Errorf("%s stands in danger with odds of %.2f though nothing is late", id, o.Odds)
			}
			t.Logf("%s: odds %.2f", id, o.Odds)
			return err
		})
	}
}
