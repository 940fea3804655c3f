package shop

import (
	"errors"
	"slices"
	"testing"
	"time"

	"benchbell/bot/ledger"
	"benchbell/quote"
)

// Done is taken back with the bell of its cure, and done again it has another; once the next is begun it stays done, and the refusal
// says by what.
func TestTakenBack(t *testing.T) {
	h := newHouse(t)
	h.to(ledger.Working)
	h.refused(TakeBack{cutOp}, NotInHand)
	h.do(boss, Start{OfOperation: cutOp})
	started := h.now
	h.now = h.now.Add(30 * time.Minute)
	h.do(boss, Done{cutOp})
	h.now = h.now.Add(10 * time.Minute)
	if o := h.do(boss, TakeBack{cutOp}).(TakenBack); o.Was != wasDone || o.Operation.State != ledger.Running || !o.Operation.StartedAt.Equal(started) {
		t.Errorf("taken back it is %+v", o)
	}
	h.do(boss, Done{cutOp})
	if l := h.spells(quote.CutOperation(5)); len(l) != 1 || l[0].Took != 40*time.Minute {
		t.Errorf("it took %+v", l)
	}
	h.do(boss, Done{primeOp})
	if no := h.why(TakeBack{cutOp}, RestsOn); no.Wait == nil || no.Wait.For.Op != "prime" {
		t.Errorf("the refusal says %+v", no)
	}
	bells := func() (out []ledger.Bell) {
		h.in(func(t *ledger.Tx) (err error) {
			out, err = t.Bells("C0001")
			return err
		})
		return out
	}
	first := bells()
	h.do(boss, TakeBack{primeOp})
	if len(first) != 1 || len(bells()) != 0 {
		t.Fatalf("the bell of what was taken back is still there: %+v", bells())
	}
	h.now = h.now.Add(5 * time.Hour)
	h.due()
	if h.commission().State != ledger.Working || len(tellings[Rung](h)) != 0 {
		t.Error("a bell that was taken back has rung")
	}
	h.do(boss, TakeBack{cutOp})
	h.do(boss, TakeBack{cutOp})
	if o := h.op("C0001", quote.CutOperation(5)); o.State != ledger.Planned || !o.StartedAt.IsZero() {
		t.Errorf("twice taken back it is %+v", o)
	}
	h.do(boss, Done{cutOp})
	h.do(boss, Done{primeOp})
	if b := bells(); len(b) != 1 || b[0].ID == first[0].ID {
		t.Errorf("done again it has the bells %+v", b)
	}
}

// What finished a commission can be taken back: its promise stands again, and nobody is to collect it; unless the client has picked a time.
func TestFinishedTooSoon(t *testing.T) {
	h := newHouse(t)
	h.to(ledger.Ready)
	promise := func() (p ledger.Promise, err error) {
		h.in(func(t *ledger.Tx) error {
			p, err = t.StandingPromise("C0001")
			return nil
		})
		return p, err
	}
	if _, err := promise(); !errors.Is(err, ledger.ErrNone) {
		t.Fatalf("before, the promise stands: %v", err)
	}
	o := h.do(boss, TakeBack{primeOp}).(TakenBack)
	p, err := promise()
	if !o.Unfinished || h.commission().State != ledger.Working || err != nil || p.State != ledger.Given || h.commission().Promise != p.Date {
		t.Errorf("taken back it is %+v with the promise %+v, %v", h.commission().State, p, err)
	}
	h.do(boss, Done{primeOp})
	h.now = h.now.Add(5 * time.Hour)
	h.due()
	if h.commission().State != ledger.Ready {
		t.Fatalf("done again it is %s", h.commission().State)
	}
	var a ledger.Appointment
	h.in(func(t *ledger.Tx) error {
		all, err := t.Standing("C0001")
		if len(all) == 1 {
			a = all[0]
		}
		return err
	})
	if a.Which != ledger.HandingOver || len(a.Slots) == 0 {
		t.Fatalf("to be collected it has %+v", a)
	}
	h.do(mara, PickSlot{OfAppointment: onAppointment("C0001", a.N), At: a.Slots[0]})
	if no := h.why(TakeBack{primeOp}, RestsOn); no.Appointment.N != a.N {
		t.Errorf("the refusal says %+v", no)
	}
	h.refused(Rework{OfOperation: primeOp, Why: "lifted"}, RestsOn)
	h.do(boss, HandOver{On("C0001")})
	h.refused(TakeBack{primeOp}, Closed)
}

// A fitting that took place stays done, and so does cutting once its rest is on the rack.
func TestRestsOnMore(t *testing.T) {
	h := fittingHouse(t)
	h.work(mara, "C0001")
	h.workUntil("C0001", quote.FirstFitting)
	cut := h.op("C0001", quote.CutOperation(5))
	first := h.op("C0001", quote.FirstFitting)
	h.do(boss, Done{OnOperation("C0001", first.Seq)})
	if no := h.why(TakeBack{OnOperation("C0001", first.Seq)}, RestsOn); no.Appointment.State != ledger.ApptKept {
		t.Errorf("the refusal says %+v", no)
	}
	g := fittingHouse(t)
	g.work(mara, "C0001")
	g.do(boss, Done{OnOperation("C0001", cut.Seq)})
	if len(g.do(boss, RackRest{OnOperation("C0001", cut.Seq)}).(RestRacked).Racked) == 0 {
		t.Fatal("nothing is left of the sheets; the test shows nothing")
	}
	if no := g.why(TakeBack{OnOperation("C0001", cut.Seq)}, RestsOn); len(no.Names) == 0 {
		t.Errorf("the refusal says %+v", no)
	}
}

// A piece goes back: the operation and what was begun after it of that piece are in the plan again, with what is planned waiting for
// them across the fitting, which is not held again; the shop's plan can be made, and what is done again takes the piece's share.
func TestWentBack(t *testing.T) {
	h := fittingHouse(t)
	h.work(mara, "C0001")
	h.workUntil("C0001", quote.FirstFitting)
	fit := h.op("C0001", quote.FirstFitting)
	h.do(boss, Done{OnOperation("C0001", fit.Seq)})
	var ops []ledger.Operation
	h.in(func(t *ledger.Tx) (err error) {
		ops, err = t.Operations("C0001")
		return err
	})
	work := func() (w map[string]quote.Operation) {
		h.in(func(t *ledger.Tx) error {
			r, err := t.Revision("C0001", 1)
			w = map[string]quote.Operation{}
			for _, o := range r.Quote.Work.Operations {
				w[o.ID] = o
			}
			return err
		})
		return w
	}()
	i := slices.IndexFunc(ops, func(o ledger.Operation) bool {
		return o.State == ledger.Done && o.Kind != CutKind && len(work[o.Op].Pieces) > 1 && slices.Contains(fit.After, o.Op)
	})
	if i < 0 {
		t.Fatal("nothing was done before the fitting")
	}
	op := ops[i]
	of := OnOperation("C0001", op.Seq)
	h.refused(Rework{OfOperation: of}, NoReason)
	h.refused(Rework{OfOperation: of, Why: "lifted", Pieces: []string{"9Z"}}, NoPiece)
	h.refused(Rework{OfOperation: OnOperation("C0001", fit.Seq), Why: "tight"}, NotAgain)
	next := slices.IndexFunc(ops, func(o ledger.Operation) bool {
		return o.State == ledger.Planned && slices.Contains(o.After, quote.FirstFitting)
	})
	h.refused(Rework{OfOperation: OnOperation("C0001", ops[next].Seq), Why: "lifted"}, NotDone)
	spells := len(h.spells(op.Op))
	pieces := work[op.Op].Pieces[:1]
	a := Rework{OfOperation: of, Pieces: pieces, Why: "  lifted\nat the edge "}
	o, err := h.s.Do(t.Context(), Call{ID: "back", Person: boss, Act: a})
	var no *Refusal
	if errors.As(err, &no) && no.Kind == Hurts { // this shop is slow
		a.Seen = no.Seen
		o, err = h.s.Do(t.Context(), Call{ID: "back", Person: boss, Act: a})
	}
	if err != nil {
		t.Fatal(err)
	}
	back := o.(WentBack)
	got := h.op("C0001", op.Op)
	if got.State != ledger.Planned || got.Round != 2 || got.Why != "lifted at the edge: 1L-shell" || got.Share >= 1 || got.Share <= 0 || !got.DoneAt.IsZero() || got.Start.Before(h.now.Add(-time.Hour)) {
		t.Errorf("gone back it is %+v", got)
	}
	if len(back.Again) == 0 || h.op("C0001", quote.FirstFitting).State != ledger.Done {
		t.Errorf("to be done again are %+v", back.Again)
	}
	if len(h.spells(op.Op)) != spells {
		t.Error("the hours of the first time are gone")
	}
	if no := h.why(Start{OfOperation: OnOperation("C0001", ops[next].Seq)}, OpWaits); no.Wait.For.Op != op.Op {
		t.Errorf("what comes after the fitting waits for %+v", no.Wait)
	}
	if n := h.op("C0001", ops[next].Op); n.Start.Before(got.End) {
		t.Errorf("it is planned for %s, before what it waits for ends at %s", n.Start, got.End)
	}
	if _, err := h.s.See(t.Context(), boss, WholePlan{}); err != nil {
		t.Fatalf("no plan can be made: %v", err)
	}
	h.now = got.End
	h.do(boss, Done{of})
	h.workUntil("C0001", ops[next].Op)
	if x := h.spells(op.Op); len(x) != spells+1 || x[len(x)-1].Round != 2 {
		t.Errorf("done again, logged are %+v", x)
	}
}

// Sending back shows first what it does to every promise, and does nothing before.
func TestReworkThatHurts(t *testing.T) {
	h := newHouse(t)
	h.to(ledger.Working)
	h.do(boss, Done{cutOp})
	h.do(boss, Done{primeOp})
	// The house's plan keeps no promise once anything is left.
	no := h.why(Rework{OfOperation: primeOp, Why: "lifted"}, Hurts)
	if no.Seen == "" || len(no.Effects) == 0 || no.Operation.Op != "prime" || h.op("C0001", "prime").State != ledger.Done {
		t.Fatalf("it is asked %+v, and the operation is %s", no, h.op("C0001", "prime").State)
	}
	o := h.do(boss, Rework{OfOperation: primeOp, Why: "lifted", Seen: no.Seen}).(WentBack)
	if len(o.Again) != 1 || h.op("C0001", "prime").State != ledger.Planned {
		t.Errorf("it went back as %+v", o)
	}
	h.in(func(t *ledger.Tx) error {
		bells, err := t.Bells("C0001")
		if len(bells) != 0 {
			return errors.New("the bell is still there")
		}
		return err
	})
}
