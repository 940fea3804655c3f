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

// TestOddsInAFullShop has many clients ask one after the other. Once all have their dates, the shop plan
// gives each of them the odds that the studio promises: what others' work may delay was counted, and who asked later took no more
// away than was to spare.
func TestOddsInAFullShop(t *testing.T) {
	if raced {
		t.Skip("whole quotes of one goroutine; the run without the race detector has it")
	}
	h := realHouse(t)
	lib, err := Library()
	if err != nil {
		t.Fatal(err)
	}
	cfg := h.s.cfg
	cfg.Library = lib
	cfg.Studio = func() quote.Studio {
		st := testStudio()
		st.Runs = 400
		return st
	}
	h.s = New(cfg)
	h.s.Listen(h)
	const clients = 8
	const drawn = 0.09 // what is spared, and two standard errors of some 200 runs in which a quote comes true
	odds := map[quote.CommissionID]float64{}
	for i := range clients {
		p, id := chat.Person{ID: chat.PersonID(fmt.Sprint("stage:", i)), Name: fmt.Sprint("Client ", i)}, quote.CommissionID(fmt.Sprintf("C%04d", i+1))
		yes, finishes := true, testStudio().Finishes
		h.do(p, Ask{Set: []string{"forearm-cuff", "breastplate", "shoulder-cap"}[i%3]})
		h.do(p, ChooseFinish{On(id), finishes[len(finishes)-1].Key})
		h.do(p, Measure{On(id)})
		h.do(p, Estimate{Of: On(id), Adult: &yes, Height: "174", Mass: "75 kg"})
		h.do(p, Confirm{On(id)})
		odds[id] = h.compute(id).Odds
	}
	p, err := h.s.See(t.Context(), boss, WholePlan{})
	if err != nil {
		t.Fatal(err)
	}
	told, now := 0.0, 0.0
	for _, l := range p.(Plan).Outlooks {
		t.Logf("%s for %s was offered with odds of %.2f and has %.2f", l.Commission, l.Promise, odds[l.Commission], l.KeptNow)
		if l.KeptNow < min(odds[l.Commission], float64(testStudio().Confidence)/100)-drawn || l.Danger {
			t.Errorf("%s was offered for %s with odds of %.2f, the shop plan gives it %.2f", l.Commission, l.Promise, odds[l.Commission], l.KeptNow)
		}
		told, now = told+odds[l.Commission]/clients, now+l.KeptNow/clients
	}
	if now < float64(testStudio().Confidence)/100 {
		t.Errorf("all together were offered with odds of %.2f and have %.2f", told, now)
	}
}

// compute answers the request for a commission's quote with the engine's own.
func (h *house) compute(id quote.CommissionID) quote.Quote {
	h.t.Helper()
	var open []ledger.Request
	h.in(func(t *ledger.Tx) (err error) {
		open, err = t.OverdueRequests(h.now.AddDate(1, 0, 0))
		return err
	})
	for _, r := range open {
		if r.Commission != id {
			continue
		}
		var rev ledger.Revision
		h.in(func(t *ledger.Tx) (err error) {
			rev, err = t.Revision(r.Commission, r.Revision)
			return err
		})
		q, err := engine.Compute(h.t.Context(), rev.Snapshot, nil)
		if err != nil {
			h.t.Fatal(err)
		}
		if err := h.s.Take(h.t.Context(), jobs.Answer{Version: jobs.Version, ID: r.ID, Attempt: r.Attempt, Kind: jobs.Done, Quote: &q}); err != nil {
			h.t.Fatal(err)
		}
		return q
	}
	h.t.Fatalf("no quote is asked for %s", id)
	return quote.Quote{}
}
