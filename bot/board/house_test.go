package board_test

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"benchbell/bot/board"
	"benchbell/bot/browser"
	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/jobs"
	"benchbell/quote"
	"benchbell/quote/engine"
	"benchbell/quote/floor"
	"benchbell/quote/plan"
	"benchbell/quote/settings"
)

var boss = chat.Person{ID: browser.StudioID, Name: "Studio", Studio: true}

// house is a real shop on a ledger file, with its board in a browser desk, on a clock of its own.
type house struct {
	t    testing.TB
	path string // of the ledger
	s    *shop.Shop
	led  *ledger.Ledger
	desk *browser.Desk
	acts int

	mu   sync.Mutex
	at   time.Time
	look func(context.Context, []floor.Open, quote.Studio, time.Time) (floor.Shop, error)
}

func (h *house) now() time.Time {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.at
}

// wait lets time pass, and what is due happens.
func (h *house) wait(d time.Duration) {
	h.t.Helper()
	h.mu.Lock()
	h.at = h.at.Add(d)
	h.mu.Unlock()
	if err := h.s.Due(h.t.Context()); err != nil {
		h.t.Fatal(err)
	}
	h.desk.Changed()
}

func (h *house) Tell(*ledger.Tx, shop.Told) error { return nil }
func (h *house) Wake()                            { h.desk.Changed() }

// studio is the demo's at little effort.
var studio = sync.OnceValue(func() quote.Studio {
	st := settings.Demo()
	st.Evaluations, st.Schedules, st.Runs, st.Validity = 200, 8, 20, 60
	return st
})

func newHouse(t testing.TB) *house {
	t.Helper()
	path := filepath.Join(t.TempDir(), "ledger.db")
	led, err := ledger.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { led.Close() })
	lib, err := shop.Library()
	if err != nil {
		t.Fatal(err)
	}
	h := &house{t: t, path: path, led: led, at: time.Date(2026, 11, 2, 8, 30, 0, 0, time.UTC), look: floor.Look}
	h.s = shop.New(shop.Config{Ledger: led, Studio: studio, Library: lib, Now: h.now, Place: floor.Place, Plan: floor.Plan, WhatIf: floor.WhatIf,
		Look: func(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time) (floor.Shop, error) {
			s, err := h.look(ctx, open, st, now)
			for _, l := range s.Outlooks {
				windowed(plan.Solution{Operations: l.Left})
			}
			return s, err
		}})
	b := board.New(h.s, studio)
	page := func(name, title string, serve func(http.ResponseWriter, *http.Request, board.Visit) error) browser.Page {
		return browser.Page{Name: name, Title: title, Serve: func(w http.ResponseWriter, r *http.Request, v browser.Visitor) error {
			return serve(w, r, board.Visit(v))
		}}
	}
	zone, err := time.LoadLocation(studio().Calendar.Zone)
	if err != nil {
		t.Fatal(err)
	}
	if h.desk, err = browser.New(browser.Options{Listen: "127.0.0.1:0", Zone: zone, Log: slog.New(slog.DiscardHandler), Studio: "The Yew Lane Studio",
		Further: []browser.Page{page("today", "Today", b.Today), page("curing", "Curing", b.Curing), page("days", "Days", b.Days), page("rack", "Rack", b.Rack), page("step", "", b.Step), page("orders", "Orders", b.Orders), page("messages", "Messages", b.Messages),
			page("commission", "", b.Commission), page("document", "", b.Document),
			page("board.css", "", b.Style)}}); err != nil {
		t.Fatal(err)
	}
	h.s.Listen(h)
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() {
		ended <- h.desk.Run(ctx, nil, func(context.Context, chat.Incoming) (chat.Reply, error) { return chat.Reply{}, nil })
	}()
	t.Cleanup(func() {
		stop()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
	return h
}

// do does an act that must be allowed; a question before it is answered with yes.
func (h *house) do(who chat.Person, a shop.Act) {
	h.t.Helper()
	h.acts++
	if _, err := h.s.Do(h.t.Context(), shop.Call{ID: fmt.Sprint("act ", h.acts), Person: who, Act: a}); err != nil {
		h.t.Fatalf("%T: %v", a, err)
	}
}

// windowed has coats of primer, which have no recoat window, close theirs some hours after they are ready.
func windowed(s plan.Solution) {
	for i := range s.Operations {
		if o := &s.Operations[i]; o.Kind == "prime" && o.Cure != nil {
			o.Cure.Latest = o.Cure.Ready.Add(6 * time.Hour)
		}
	}
}

// Measurements of the sets that the tests order.
var body = map[string]string{"wrist-girth": "17", "forearm-girth": "27", "elbow-wrist-length": "26"}

// fill has that many commissions of a cuff paid for, each of a client of its own.
func (h *house) fill(n int) {
	h.t.Helper()
	for i := range n {
		who := chat.Person{ID: chat.PersonID(fmt.Sprintf("browser:client-%d", i+1)), Name: fmt.Sprintf("Client %d", i+1)}
		id := quote.CommissionID(fmt.Sprintf("C%04d", i+1))
		of := shop.On(id)
		h.do(who, shop.Ask{Set: "forearm-cuff"})
		h.do(who, shop.ChooseFinish{Of: of, Finish: studio().Finishes[(i+1)%3].Key})
		h.do(who, shop.Measure{Of: of})
		h.do(who, shop.GiveMeasurements{Of: of, Typed: body})
		h.do(who, shop.Confirm{Of: of})
		h.answer(id)
		h.do(who, shop.Approve{OfRevision: shop.OnRevision(id, 1)})
		h.pay(id)
	}
}

// pay confirms a deposit, also where it hurts somebody.
func (h *house) pay(id quote.CommissionID) {
	h.t.Helper()
	h.acts++
	call := shop.Call{ID: fmt.Sprint("act ", h.acts), Person: boss, Act: shop.Pay{Of: shop.On(id)}}
	_, err := h.s.Do(h.t.Context(), call)
	var no *shop.Refusal
	if errors.As(err, &no) && no.Kind == shop.Hurts {
		call.Act = shop.Pay{Of: shop.On(id), Seen: no.Seen}
		_, err = h.s.Do(h.t.Context(), call)
	}
	if err != nil {
		h.t.Fatal(err)
	}
}

// answer gives a worker's answer to the open request of a commission.
func (h *house) answer(id quote.CommissionID) {
	h.t.Helper()
	var r ledger.Request
	var rev ledger.Revision
	if err := h.led.Tx(h.t.Context(), func(t *ledger.Tx) error {
		open, err := t.OverdueRequests(h.now().AddDate(1, 0, 0))
		i := slices.IndexFunc(open, func(r ledger.Request) bool { return r.Commission == id })
		if err != nil || i < 0 {
			return fmt.Errorf("%s waits for no answer (%w)", id, err)
		}
		r = open[i]
		rev, err = t.Revision(id, r.Revision)
		return err
	}); err != nil {
		h.t.Fatal(err)
	}
	q, err := engine.Compute(h.t.Context(), rev.Snapshot, nil)
	if err != nil {
		h.t.Fatal(err)
	}
	windowed(q.Plan)
	if err := h.s.Take(h.t.Context(), jobs.Answer{Version: jobs.Version, ID: r.ID, Attempt: r.Attempt, Kind: jobs.Done, Quote: &q}); err != nil {
		h.t.Fatal(err)
	}
}

// day is the day at the bench.
func (h *house) day() shop.BenchDay {
	h.t.Helper()
	o, err := h.s.See(h.t.Context(), boss, shop.Day{})
	if err != nil {
		h.t.Fatal(err)
	}
	return o.(shop.BenchDay)
}

// work does what comes first until so many operations are done, each taking a quarter of an hour.
func (h *house) work(n int) {
	h.t.Helper()
	for range n {
		d := h.day()
		i := slices.IndexFunc(d.Lines, func(l shop.BenchLine) bool { return l.Meeting == nil })
		if i < 0 {
			h.t.Fatal("there is nothing to do")
		}
		o := d.Lines[i].Operation
		h.wait(15 * time.Minute)
		h.do(boss, shop.Done{OfOperation: shop.OnOperation(o.Commission, o.Seq)})
	}
}

// goOn does what there is to do, fittings among it, and lets time pass where there is nothing, until what is to be seen is there.
func (h *house) goOn(seen func(shop.BenchDay) bool) shop.BenchDay {
	h.t.Helper()
	for range 400 {
		d := h.day()
		if seen(d) {
			return d
		}
		if len(d.Lines) == 0 {
			h.wait(6 * time.Hour)
			continue
		}
		o := d.Lines[0].Operation
		h.wait(15 * time.Minute)
		h.do(boss, shop.Done{OfOperation: shop.OnOperation(o.Commission, o.Seq)})
	}
	h.t.Fatal("it never comes")
	return shop.BenchDay{}
}
