package shop

import (
	"context"
	"errors"
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"benchbell/bot/ledger"
	"benchbell/jobs"
	"benchbell/quote"
)

// The rules know nothing of messages: of package chat they use the names of people and threads, and files.
func TestNoChat(t *testing.T) {
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	day, err := filepath.Glob("day/*.go")
	if err != nil {
		t.Fatal(err)
	}
	used := 0
	for _, path := range append(files, day...) {
		if strings.HasSuffix(path, "_test.go") {
			continue
		}
		f, err := parser.ParseFile(token.NewFileSet(), path, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(f, func(n ast.Node) bool {
			sel, ok := n.(*ast.SelectorExpr)
			if !ok {
				return true
			}
			if x, ok := sel.X.(*ast.Ident); ok && x.Name == "chat" {
				used++
				if !slices.Contains([]string{"Person", "PersonID", "ThreadID", "File"}, sel.Sel.Name) {
					t.Errorf("%s uses chat.%s: what is said and shown is the door's", path, sel.Sel.Name)
				}
			}
			return true
		})
	}
	if used < 10 {
		t.Errorf("only %d uses of package chat were seen; the walk is broken", used)
	}
}

// Every row has a name of its own and types of its own, and refusals for states it knows.
func TestTable(t *testing.T) {
	names, types := map[string]bool{}, map[reflect.Type]bool{}
	for _, r := range Table() {
		if r.Name == "" || names[r.Name] || types[r.Act] {
			t.Errorf("the row %q of %s is there twice", r.Name, r.Act)
		}
		names[r.Name], types[r.Act] = true, true
		if !slices.Contains([]Who{Anybody, Comers, Owner, Shown, Studio, Makers, FrontDesk, Head, Self}, r.Who) {
			t.Errorf("%s: who may do it is %q", r.Name, r.Who)
		}
		for s, kind := range r.Else {
			if !slices.Contains(states, s) || kind == "" {
				t.Errorf("%s: in the state %q it is refused as %q", r.Name, s, kind)
			}
		}
	}
}

// The same act delivered twice is done once and gives the same outcome, to nobody but the one who did it; the ID of one act
// does nothing for another.
func TestTwice(t *testing.T) {
	h := newHouse(t)
	h.to(ledger.Quoted)
	call := Call{ID: "click", Person: mara, Act: Approve{OfRevision: OnRevision("C0001", 1)}}
	first, err := h.s.Do(t.Context(), call)
	if err != nil {
		t.Fatal(err)
	}
	told := len(h.told)
	h.now = h.now.AddDate(0, 0, 1)
	again, err := h.s.Do(t.Context(), call)
	if err != nil || !reflect.DeepEqual(first, again) {
		t.Errorf("delivered again it gives %+v, %v; first %+v", again, err, first)
	}
	if len(h.told) != told {
		t.Error("what was delivered again is told again")
	}
	call.Person = boss
	if _, err := h.s.Do(t.Context(), call); refusal(err) != DecidedAlready {
		t.Errorf("the studio, with the client's ID, gets %v", err)
	}
	if _, err := h.s.Do(t.Context(), Call{ID: "click", Person: mara, Act: Cancel{Of: On("C0001")}}); refusal(err) != DoneBefore {
		t.Errorf("another act with the same ID gets %v", err)
	}
}

// An act that was prepared is not prepared anew when it is delivered again: by then its state would refuse it.
func TestPreparedTwice(t *testing.T) {
	h := newHouse(t)
	h.to(ledger.Approved)
	planned := 0
	h.plan = func() { planned++ }
	call := Call{ID: "click", Person: boss, Act: Pay{Of: On("C0001")}}
	var first int
	for i := range 2 {
		if _, err := h.s.Do(t.Context(), call); err != nil {
			t.Fatal(err)
		}
		if i == 0 {
			first = planned
		}
	}
	if first == 0 || planned != first {
		t.Errorf("the work was planned %d times, then %d more", first, planned-first)
	}
}

// A teller that fails undoes the act with all that it changed.
func TestUndone(t *testing.T) {
	h := newHouse(t)
	h.to(ledger.Quoted)
	h.undo = true
	if _, err := h.s.Do(t.Context(), Call{ID: "1", Person: mara, Act: Approve{OfRevision: OnRevision("C0001", 1)}}); !errors.Is(err, errUndone) {
		t.Errorf("the act gives %v", err)
	}
	h.in(func(tx *ledger.Tx) error {
		if _, err := tx.Approval("C0001"); !errors.Is(err, ledger.ErrNone) {
			t.Errorf("the approval of an act that was undone: %v", err)
		}
		return nil
	})
	h.undo = false
	h.do(mara, Approve{OfRevision: OnRevision("C0001", 1)})
}

// What was computed for a world that has moved since is refused, for each act that computes before its transaction.
func TestMoved(t *testing.T) {
	change := func(h *house, f func(*ledger.Tx, *ledger.Commission) error) func() {
		return func() {
			h.plan = func() {}
			h.in(func(tx *ledger.Tx) error {
				c, err := tx.Commission("C0001")
				if err != nil {
					return err
				}
				if err := f(tx, &c); err != nil {
					return err
				}
				return tx.SaveCommission(c)
			})
		}
	}
	for _, c := range []struct {
		act   Act
		in    ledger.State
		moves func(*ledger.Tx, *ledger.Commission) error
	}{
		{Pay{Of: On("C0001")}, ledger.Approved, func(_ *ledger.Tx, c *ledger.Commission) error { c.Revision = 2; return nil }},
		{TellDate{Of: On("C0001")}, ledger.Working, func(_ *ledger.Tx, c *ledger.Commission) error { c.Promise = "2026-12-24"; return nil }},
		{TakeOver{}, ledger.Working, func(tx *ledger.Tx, c *ledger.Commission) error {
			ops, err := tx.Operations("C0001")
			if err != nil {
				return err
			}
			ops[0].State, ops[0].StartedAt = ledger.Running, c.ChangedAt
			return tx.MoveOperation(ops[0])
		}},
	} {
		h := newHouse(t)
		h.to(c.in)
		before := h.commission().State
		h.plan = change(h, c.moves)
		if _, err := h.s.Do(t.Context(), Call{ID: "1", Person: boss, Act: c.act}); refusal(err) != Moved {
			t.Errorf("%T: %v, want a refusal", c.act, err)
		}
		if after := h.commission().State; after != before {
			t.Errorf("%T was refused and moved the commission from %s to %s", c.act, before, after)
		}
	}
}

// A quote for another revision, another commission, or without its document is not taken: it would be approved for what was
// not asked for.
func TestUnfit(t *testing.T) {
	for what, change := range map[string]func(*jobs.Answer){
		"another revision":   func(a *jobs.Answer) { a.Quote.Revision = 2 },
		"another commission": func(a *jobs.Answer) { a.Quote.Commission = "C0002" },
		"no document":        func(a *jobs.Answer) { a.Quote.PDF = nil },
		"no quote":           func(a *jobs.Answer) { a.Quote = nil },
	} {
		h := newHouse(t)
		h.to(ledger.Computing)
		h.answer("C0001", change)
		if got := h.commission().State; got != ledger.Failed {
			t.Errorf("%s: C0001 is %s, want failed", what, got)
		}
		o, ok := h.told[len(h.told)-1].Outcome.(QuoteFailed)
		if !ok || !o.Unfit || o.Cause == "" {
			t.Errorf("%s: %T %+v is told", what, h.told[len(h.told)-1].Outcome, o)
		}
	}
}

// What remains is racked once the foam is cut and not before, and once.
func TestRackRest(t *testing.T) {
	h := newHouse(t)
	h.to(ledger.Working)
	try := func(n int) (RestRacked, error) {
		o, err := h.s.Do(t.Context(), Call{Person: boss, Act: RackRest{OnOperation("C0001", n)}})
		r, _ := o.(RestRacked)
		return r, err
	}
	onRack := func() (n int) {
		h.in(func(tx *ledger.Tx) error {
			all, err := tx.Rack()
			n = len(all)
			return err
		})
		return n
	}
	for _, step := range []func(){func() {}, func() { h.do(boss, Start{OfOperation: OnOperation("C0001", 1)}) }} {
		step()
		if _, err := try(1); refusal(err) != NothingLeft || onRack() != 0 {
			t.Errorf("before cutting is done: %v, %d on the rack", err, onRack())
		}
	}
	h.do(boss, Done{OnOperation("C0001", 1)})
	h.do(boss, Done{OnOperation("C0001", 2)})
	if _, err := try(2); refusal(err) != NothingLeft { // priming
		t.Errorf("an operation that does not cut: %v", err)
	}
	if _, err := try(9); refusal(err) != NothingLeft {
		t.Errorf("an operation that there is not: %v", err)
	}
	r, err := try(1)
	if err != nil || r.Before || len(r.Racked) == 0 || onRack() != len(r.Racked) {
		t.Fatalf("%+v, %v, %d on the rack", r, err, onRack())
	}
	if r, err = try(1); err != nil || !r.Before || onRack() != len(r.Racked) {
		t.Errorf("again: %+v, %v, %d on the rack", r, err, onRack())
	}
}

// An unknown act is a fault and no refusal, and a question is no act.
func TestNoRow(t *testing.T) {
	h := newHouse(t)
	for _, a := range []Act{nil, 7, Today{}} {
		if _, err := h.s.Do(context.Background(), Call{Person: boss, Act: a}); err == nil || refusal(err) != "" {
			t.Errorf("%T gives %v", a, err)
		}
	}
	if _, err := h.s.See(t.Context(), boss, Ask{}); err == nil {
		t.Error("an act was done as a question")
	}
	var id quote.CommissionID
	h.in(func(tx *ledger.Tx) error {
		cs, err := tx.Commissions()
		if len(cs) > 0 {
			id = cs[0].ID
		}
		return err
	})
	if id != "" {
		t.Errorf("%s was opened by it", id)
	}
}

// TestTakenAsShown takes over just the plan that was looked at, also a while later, and refuses once something has happened since.
func TestTakenAsShown(t *testing.T) {
	h := newHouse(t)
	h.to(ledger.Working)
	look := func() Plan {
		t.Helper()
		p, err := h.s.See(t.Context(), boss, WholePlan{})
		if err != nil {
			t.Fatal(err)
		}
		return p.(Plan)
	}
	was := look()
	plans := 0
	h.plan = func() { plans++ }
	h.now = h.now.Add(20 * time.Minute)
	h.do(boss, TakeOver{Plan: was.Number, Seen: was.Seen})
	if plans > 0 {
		t.Error("it was planned again, and the plan that was shown is not the one taken over")
	}
	now := look()
	for _, seen := range []string{"00000000", now.Seen} {
		if seen == now.Seen {
			h.do(boss, Start{OfOperation: OnOperation("C0001", 1)})
		}
		_, err := h.s.Do(t.Context(), Call{Person: boss, Act: TakeOver{Plan: now.Number, Seen: seen}})
		if refusal(err) != PlanReplaced {
			t.Errorf("a plan of before: %v", err)
		}
	}
}

// TestDateAsShown tells a client only the date that the studio was shown.
func TestDateAsShown(t *testing.T) {
	h := newHouse(t)
	h.to(ledger.Working)
	_, err := h.s.Do(t.Context(), Call{Person: boss, Act: TellDate{Of: On("C0001"), Date: "2027-11-30"}})
	var no *Refusal
	if !errors.As(err, &no) || no.Kind != DateToTell || no.Name != "2027-12-01" {
		t.Fatalf("another date than can be kept: %v", err)
	}
	if o := h.do(boss, TellDate{Of: On("C0001"), Date: no.Name, Sure: true}).(DateTold); o.Commission.Promise != no.Name {
		t.Errorf("%s was told", o.Commission.Promise)
	}
}
