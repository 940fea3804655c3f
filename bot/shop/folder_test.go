package shop

import (
	"slices"
	"testing"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/quote/engine"
	"benchbell/quote/quotetest"
)

// A folder has all there is of a commission in every state, and the client's body for makers and the owner alone.
func TestFolder(t *testing.T) {
	for _, state := range states {
		h := newHouse(t)
		h.to(state)
		h.do(mara, Say{On("C0001"), "hello"})
		o, err := h.s.See(t.Context(), boss, Folder{Of: On("C0001")})
		if err != nil {
			t.Fatalf("%s: %v", state, err)
		}
		x := o.(Whole)
		quotedOnce := slices.ContainsFunc(x.Revisions, func(r ledger.RevisionHead) bool { return !r.IssuedAt.IsZero() })
		if x.ID != "C0001" || x.State != state || len(x.Messages) != 1 || len(x.Trail) == 0 || x.Trail[0].What != "wrote" || x.Body == nil || len(x.Body.Taken) == 0 ||
			(x.Money != nil) != quotedOnce || (len(x.Promises) > 0) != quotedOnce {
			t.Errorf("%s: %+v", state, x)
		}
		if quotedOnce {
			f, err := h.s.See(t.Context(), boss, Document{Of: On("C0001"), Revision: 1})
			if err != nil || f.(File).Name != "C0001-1.pdf" || len(f.(File).Data) == 0 {
				t.Errorf("%s: its paper: %v", state, err)
			}
		}
		if _, err := h.s.See(t.Context(), boss, Document{Of: On("C0001"), Revision: 9}); refusal(err) != NoDocument {
			t.Errorf("%s: a paper that there is not: %v", state, err)
		}
		if _, err := h.s.See(t.Context(), boss, Document{Of: On("C0001"), Sent: 1}); refusal(err) != NoDocument {
			t.Errorf("%s: a picture that there is not: %v", state, err)
		}
	}
	h := newHouse(t)
	h.to(ledger.Quoted)
	h.do(mara, AddPictures{Of: On("C0001"), Files: []chat.File{{Name: "a.png", MIME: "image/png", Data: []byte("x")}}})
	if f, err := h.s.See(t.Context(), boss, Document{Of: On("C0001"), Sent: 1}); err != nil || string(f.(File).Data) != "x" {
		t.Errorf("what the client sent: %+v, %v", f, err)
	}
	owner, maker, front := h.staffed()
	for _, x := range []struct {
		who  chat.Person
		body bool
	}{{owner, true}, {maker, true}, {front, false}} {
		o, err := h.s.See(t.Context(), x.who, Folder{Of: On("C0001")})
		if err != nil || (o.(Whole).Body != nil) != x.body {
			t.Errorf("%s is shown the body: %t, %v", x.who.Name, !x.body, err)
		}
	}
	if _, err := h.s.See(t.Context(), mara, Folder{Of: On("C0001")}); refusal(err) != OnlyStudio {
		t.Errorf("a client sees the folder: %v", err)
	}
}

// As work is done in its order, no piece goes back to an earlier state, every state of the trade that it has work for is reached, and
// primer makes ready for paint once it has dried, not before.
func TestPieceStates(t *testing.T) {
	q, err := engine.Compute(t.Context(), quotetest.Snapshot(t, "forearm-cuff"), nil)
	if err != nil {
		t.Fatal(err)
	}
	now := time.Date(2026, 11, 2, 9, 0, 0, 0, time.UTC)
	var b bench
	for i, p := range q.Plan.Operations {
		b.ops = append(b.ops, ledger.Operation{Seq: i + 1, Op: p.ID, Kind: p.Kind, State: ledger.Planned})
	}
	order := PieceStates()
	if want := []PieceState{Uncut, Cut, Bevelled, Formed, Glued, Sealed, Primed, ReadyForPaint, Painted, Weathered, FinishedPiece, Fitted, Packed}; !slices.Equal(order, want) {
		t.Errorf("the trade's order is %v, want %v", order, want)
	}
	far := map[string]int{}
	seen := map[PieceState]bool{}
	look := func(at time.Time, after string) {
		t.Helper()
		n := 0
		for _, a := range assemblies(q, b, at) {
			for _, g := range a.Pieces {
				for _, label := range g.Labels {
					n++
					i := slices.Index(order, g.State)
					if i < far[label] {
						t.Errorf("after %s, %s went back from %s to %s", after, label, order[far[label]], g.State)
					}
					far[label] = i
					seen[g.State] = true
				}
			}
		}
		if n != len(q.Pieces) {
			t.Fatalf("%d pieces have a state; there are %d", n, len(q.Pieces))
		}
	}
	look(now, "nothing")
	for i := range b.ops {
		o := &b.ops[i]
		o.State = ledger.Done
		if o.Kind == "prime" {
			b.bells = append(b.bells, ledger.Bell{Seq: o.Seq, Due: now.Add(time.Hour)})
		}
		look(now, o.Op)
		now = now.Add(2 * time.Hour)
		look(now, "drying of "+o.Op)
	}
	for label, i := range far {
		if order[i] != Packed {
			t.Errorf("with all done, %s is %s", label, order[i])
		}
	}
	for _, s := range []PieceState{Uncut, Cut, Sealed, Primed, ReadyForPaint, Painted, Fitted, Packed} {
		if !seen[s] {
			t.Errorf("no piece was ever %s", s)
		}
	}
}

// Work is summed up by its spells; a step that was done without a start counts as done, and not as known.
func TestHoursWorked(t *testing.T) {
	at := time.Date(2026, 11, 2, 9, 0, 0, 0, time.UTC)
	b := bench{ops: []ledger.Operation{{Seq: 1, State: ledger.Done, Start: at, End: at.Add(time.Hour)}, {Seq: 2, State: ledger.Done}, {Seq: 3, State: ledger.Running}, {Seq: 4, State: ledger.Planned}}}
	spell := func(seq int, took time.Duration) Log { return Log{Spell: ledger.Spell{Seq: seq}, Took: took} }
	got := hours(b, []Log{spell(1, 20*time.Minute), spell(1, 25*time.Minute), spell(2, 0), spell(3, 10*time.Minute)})
	if want := (Hours{Planned: time.Hour, Worked: 55 * time.Minute, Known: 1, Done: 2, All: 4}); got != want {
		t.Errorf("summed up is %+v, want %+v", got, want)
	}
}
