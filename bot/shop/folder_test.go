package shop

import (
	"slices"
	"testing"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/quote/engine"
	"benchbell/quote/plan"
	"benchbell/quote/quotetest"
	"benchbell/quote/settings"
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

// What was worked is counted while the shop is open, and what was forgotten overnight is not a night's work.
func TestHoursWorked(t *testing.T) {
	s := &Shop{cfg: Config{Studio: settings.Demo}}
	j := &job{s: s}
	at := func(day, hour int) time.Time { return time.Date(2026, 11, day, hour, 0, 0, 0, s.zone()).UTC() }
	open := 0 * time.Hour // from Monday at three to Tuesday at ten, minute by minute
	for x := at(2, 15); x.Before(at(3, 10)); x = x.Add(time.Minute) {
		l := x.In(s.zone())
		if slices.ContainsFunc(settings.Demo().Calendar.Shifts, func(s plan.Shift) bool {
			m := l.Hour()*60 + l.Minute()
			return s.Weekday == l.Weekday() && s.From <= m && m < s.To
		}) {
			open += time.Minute
		}
	}
	for _, x := range []struct {
		from, to time.Time
		want     time.Duration
		known    int
	}{{at(2, 10), at(2, 11), time.Hour, 1}, {at(2, 15), at(3, 10), open, 1}, {time.Time{}, at(2, 11), 0, 0}, {at(2, 10), at(28, 10), 0, 0}} {
		b := bench{ops: []ledger.Operation{{State: ledger.Done, StartedAt: x.from, DoneAt: x.to}, {State: ledger.Planned, Start: at(5, 9), End: at(5, 10)}}}
		if got := j.hours(b); got.Worked != x.want || got.Known != x.known || got.Done != 1 || got.All != 2 || got.Planned != time.Hour {
			t.Errorf("from %s to %s: %+v, want %s", x.from, x.to, got, x.want)
		}
	}
	if open <= time.Hour || open >= 10*time.Hour {
		t.Fatalf("overnight the shop is open for %s; the test shows nothing", open)
	}
}
