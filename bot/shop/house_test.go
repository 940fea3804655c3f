package shop

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/jobs"
	"benchbell/quote"
	"benchbell/quote/engine"
	"benchbell/quote/floor"
	"benchbell/quote/geom"
	"benchbell/quote/plan"
	"benchbell/quote/plan/schedule"
	"benchbell/quote/settings"
)

// People of the tests: a client, another one, and the studio.
var (
	mara = chat.Person{ID: "stage:mara", Name: "Mara"}
	ivo  = chat.Person{ID: "stage:ivo", Name: "Ivo"}
	boss = chat.Person{ID: "stage:studio", Name: "Studio", Studio: true}
)

// errUndone is a teller's, which undoes what was done: an act that comes so far is allowed, and nothing has changed.
var errUndone = errors.New("undone")

// house is a shop on a real ledger file with a clock of its own. It hears what is told, and may undo it.
type house struct {
	t    *testing.T
	s    *Shop
	led  *ledger.Ledger
	dir  string // of its file
	now  time.Time
	told []Told
	undo bool
	acts int
	plan func() // called while something is planned or computed
	real bool   // quotes and plans are the program's own
}

func (h *house) Tell(_ *ledger.Tx, told Told) error {
	if h.undo {
		return errUndone
	}
	h.told = append(h.told, told)
	return nil
}

func (h *house) Wake() {}

// testSets are a real set, so that there is something to cut, and a prop that needs no measuring.
var testSets = sync.OnceValue(func() []Set {
	lib, err := Library()
	if err != nil {
		panic(err)
	}
	cuff := lib[slices.IndexFunc(lib, func(x Set) bool { return x.Name == "forearm-cuff" })]
	return []Set{cuff, {Name: "sword", Title: "Short sword", Kind: "prop", Summary: "A rigid prop."}}
})

// testStudio is the demo studio at little effort, with a finish that drafted patterns have.
var testStudio = sync.OnceValue(func() quote.Studio {
	st := settings.Demo()
	st.Evaluations, st.Schedules, st.Runs, st.Validity = 200, 20, 20, 14
	return st
})

// quotes keeps what the engine made of a snapshot: every house's first commission is the same.
var quotes sync.Map

func quoteOf(t *testing.T, s quote.Snapshot, real bool) quote.Quote {
	t.Helper()
	key := fmt.Sprint(s.Commission, s.Revision, s.At, s.Items, s.Finish, real)
	if real {
		key += fmt.Sprint(s.Promised, s.Studio.Appointments)
	}
	if q, ok := quotes.Load(key); ok {
		return q.(quote.Quote)
	}
	q, err := engine.Compute(t.Context(), s, nil)
	if err != nil {
		t.Fatal(err)
	}
	if real {
		quotes.Store(key, q)
		return q
	}
	// The plan of a house has one coat of its own, after cutting.
	q.Work.Operations = append(q.Work.Operations, quote.Operation{Operation: plan.Operation{ID: "prime", After: []plan.Lag{{After: quote.CutOperation(5)}}}})
	q.Plan = twoSteps(s.At)
	quotes.Store(key, q)
	return q
}

// twoSteps is the plan of a house's commission: cutting, and a coat.
func twoSteps(from time.Time) plan.Solution {
	cut := plan.Scheduled{ID: quote.CutOperation(5), Title: "Cut 5 mm foam", Kind: CutKind, Start: from, End: from.Add(time.Hour), Resources: []string{"ana"}}
	coat := plan.Scheduled{ID: "prime", Title: "Primer", Group: "Cuff", Kind: "prime", Start: from.Add(2 * time.Hour), End: from.Add(3 * time.Hour), Resources: []string{"ana"},
		Cure: &plan.Cure{Material: "primer", From: from.Add(3 * time.Hour), Ready: from.Add(7 * time.Hour), Latest: from.Add(27 * time.Hour)}}
	return plan.Solution{Operations: []plan.Scheduled{cut, coat}, End: coat.End, P80: from.Add(48 * time.Hour)}
}

func newHouse(t *testing.T) *house {
	t.Helper()
	dir := t.TempDir()
	led, err := ledger.Open(t.Context(), filepath.Join(dir, "ledger.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { led.Close() })
	h := &house{t: t, led: led, dir: dir, now: time.Date(2026, 11, 2, 9, 0, 0, 0, time.UTC), plan: func() {}}
	h.s = New(Config{Ledger: led, Now: func() time.Time { return h.now }, Library: testSets(),
		Studio: testStudio,
		Place: func(_ context.Context, _ quote.Snapshot, _ quote.Quote, from time.Time, _ []plan.Busy) (plan.Solution, error) {
			h.plan()
			return twoSteps(from), nil
		},
		Plan: func(_ context.Context, open []floor.Open, _ quote.Studio, now time.Time, _ func(float64)) (floor.Shop, error) {
			h.plan()
			out := floor.Shop{At: now, Moved: 1}
			for _, o := range open {
				out.Outlooks = append(out.Outlooks, floor.Outlook{Commission: o.Snapshot.Commission, Promise: o.Promise, P80: "2026-12-01", P95: "2026-12-02", Sure: "2026-12-01", SureNow: "2026-12-01", Danger: true})
			}
			return out, nil
		},
		Look: func(_ context.Context, open []floor.Open, _ quote.Studio, now time.Time) (floor.Shop, error) {
			h.plan()
			out := floor.Shop{At: now}
			for _, o := range open {
				l := floor.Outlook{Commission: o.Snapshot.Commission, Promise: o.Promise, P80: "2027-12-01", P95: "2027-12-02", Sure: "2027-12-01", SureNow: "2027-12-01", Danger: true, Undecided: o.Undecided}
				for _, a := range o.Actual {
					if a.Finished.IsZero() {
						l.Left = append(l.Left, plan.Scheduled{ID: a.Op, Title: a.Title, Start: a.Start, End: a.End, Spans: a.Spans, Resources: a.Resources})
					}
				}
				out.Outlooks = append(out.Outlooks, l)
			}
			return out, nil
		},
		WhatIf: func(_ context.Context, _ []floor.Open, _ quote.Studio, _ time.Time, _ quote.CommissionID, by string) ([]floor.Choice, error) {
			return []floor.Choice{{Way: schedule.AsPlanned, P80: by}}, nil
		}})
	h.s.Listen(h)
	return h
}

// do does an act that must be allowed.
func (h *house) do(who chat.Person, a Act) Outcome {
	h.t.Helper()
	h.acts++
	o, err := h.s.Do(h.t.Context(), Call{ID: fmt.Sprint("act ", h.acts), Person: who, Act: a})
	if err != nil {
		h.t.Fatalf("%T: %v", a, err)
	}
	return o
}

func (h *house) in(f func(*ledger.Tx) error) {
	h.t.Helper()
	if err := h.led.Tx(h.t.Context(), f); err != nil {
		h.t.Fatal(err)
	}
}

func (h *house) commission() (c ledger.Commission) {
	h.t.Helper()
	h.in(func(t *ledger.Tx) (err error) {
		c, err = t.Commission("C0001")
		return err
	})
	return c
}

// answer gives a worker's answer to the open request of a commission.
func (h *house) answer(id quote.CommissionID, change func(*jobs.Answer)) {
	h.t.Helper()
	var r ledger.Request
	h.in(func(t *ledger.Tx) error {
		open, err := t.OverdueRequests(h.now.AddDate(1, 0, 0))
		i := slices.IndexFunc(open, func(r ledger.Request) bool { return r.Commission == id })
		if err != nil || i < 0 {
			return fmt.Errorf("%s waits for no answer (%w)", id, err)
		}
		r = open[i]
		return nil
	})
	var rev ledger.Revision
	h.in(func(t *ledger.Tx) (err error) {
		rev, err = t.Revision(r.Commission, r.Revision)
		return err
	})
	q := quoteOf(h.t, rev.Snapshot, h.real)
	a := jobs.Answer{Version: jobs.Version, ID: r.ID, Attempt: r.Attempt, Kind: jobs.Done, Quote: &q}
	if change != nil {
		change(&a)
	}
	if err := h.s.Take(h.t.Context(), a); err != nil {
		h.t.Fatal(err)
	}
}

var arm = map[string]string{"wrist-girth": "17", "forearm-girth": "27", "elbow-wrist-length": "26"}

// begin has somebody choose a cuff.
func (h *house) begin(who chat.Person, id quote.CommissionID) {
	h.t.Helper()
	h.do(who, Ask{Set: "forearm-cuff"})
	h.do(who, ChooseFinish{On(id), testStudio().Finishes[0].Key})
}

// another has ivo's C0002 quoted.
func (h *house) another() {
	h.t.Helper()
	h.begin(ivo, "C0002")
	h.do(ivo, Measure{On("C0002")})
	h.do(ivo, GiveMeasurements{On("C0002"), arm})
	h.do(ivo, Confirm{On("C0002")})
	h.answer("C0002", nil)
}

// to brings C0001 of mara, a cuff, to a state.
func (h *house) to(want ledger.State) {
	h.t.Helper()
	of, rev := On("C0001"), OnRevision("C0001", 1)
	h.begin(mara, "C0001")
	steps := map[ledger.State][]func(){ // the way to each state, from the one before it
		ledger.Measuring: {func() { h.do(mara, Measure{of}) }},
		ledger.Checking: {func() {
			h.do(mara, GiveMeasurements{of, arm})
		}},
		ledger.Computing: {func() { h.do(mara, Confirm{of}) }},
		ledger.Failed:    {func() { h.answer("C0001", func(a *jobs.Answer) { a.Kind, a.Cause = jobs.Failed, "no" }) }},
		ledger.Quoted:    {func() { h.answer("C0001", nil) }},
		ledger.Expired: {func() {
			h.now = h.now.AddDate(0, 0, 15)
			if err := h.s.Due(h.t.Context()); err != nil {
				h.t.Fatal(err)
			}
		}},
		ledger.Declined:  {func() { h.do(mara, Decline{rev}) }},
		ledger.Approved:  {func() { h.do(mara, Approve{OfRevision: rev}) }},
		ledger.Cancelled: {func() { h.do(mara, Cancel{Of: of}) }},
		ledger.Working:   {func() { h.do(boss, Pay{Of: of}) }},
		ledger.Ready: {func() {
			h.do(boss, Done{OnOperation("C0001", 1)})
			h.do(boss, Done{OnOperation("C0001", 2)})
			h.now = h.now.Add(5 * time.Hour)
			if err := h.s.Due(h.t.Context()); err != nil {
				h.t.Fatal(err)
			}
		}},
		ledger.Delivered: {func() { h.do(boss, HandOver{of}) }},
	}
	before := map[ledger.State]ledger.State{ledger.Measuring: ledger.Choosing, ledger.Checking: ledger.Measuring, ledger.Computing: ledger.Checking,
		ledger.Failed: ledger.Computing, ledger.Quoted: ledger.Computing, ledger.Expired: ledger.Quoted, ledger.Declined: ledger.Quoted,
		ledger.Approved: ledger.Quoted, ledger.Cancelled: ledger.Quoted, ledger.Working: ledger.Approved, ledger.Ready: ledger.Working, ledger.Delivered: ledger.Ready}
	var way []ledger.State
	for s := want; s != ledger.Choosing; s = before[s] {
		way = append(way, s)
	}
	for i := len(way) - 1; i >= 0; i-- {
		for _, step := range steps[way[i]] {
			step()
		}
	}
	if got := h.commission().State; got != want {
		h.t.Fatalf("C0001 is %s, want %s", got, want)
	}
}

// refusal is the kind of the refusal in err; empty where there is none.
func refusal(err error) Kind {
	var no *Refusal
	if errors.As(err, &no) {
		return no.Kind
	}
	return ""
}

// plateSize is an offcut that can be racked.
const plateSize geom.MM = 300
