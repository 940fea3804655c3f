package shop

import (
	"context"
	"errors"
	"slices"
	"testing"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/quote"
	"benchbell/quote/floor"
)

// Whoever holds a fitting another way, calls one off or begins work out of turn reads first what that does to the promises, and
// nothing is changed before; a client cannot put somebody else's promise in danger at all. What has happened is not asked: the
// board says at once what it does.
func TestActsThatHurtAreAsked(t *testing.T) {
	h := fittingHouse(t)
	h.work(mara, "C0001")
	h.work(ivo, "C0002")
	hurtsIvo := func(floor.Open) bool { return false }
	look := func(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time) (floor.Shop, error) {
		s, err := floor.Look(ctx, open, st, now)
		hurt := slices.ContainsFunc(open, func(o floor.Open) bool { return o.Snapshot.Commission == "C0001" && hurtsIvo(o) })
		for i := range s.Outlooks {
			l := &s.Outlooks[i]
			l.Kept, l.KeptNow, l.Danger = 0.9, 0.9, false
			if hurt && l.Commission == "C0002" {
				l.Kept, l.KeptNow, l.Danger = 0.1, 0.1, true
			}
		}
		return s, err
	}
	h.s.cfg.Look = look
	h.s.cfg.Plan = func(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time, _ func(float64)) (floor.Shop, error) {
		return look(ctx, open, st, now)
	}
	h.due()
	asked := func(who chat.Person, a Act) string {
		t.Helper()
		_, err := h.s.Do(t.Context(), Call{Person: who, Act: a})
		var no *Refusal
		if !errors.As(err, &no) || no.Kind != Hurts || no.Seen == "" || !no.Others("C0001") || no.Others("C0002") || no.Commission.ID != "C0001" {
			t.Fatalf("%T is not asked: %v", a, err)
		}
		return no.Seen
	}
	told := func(what string) { // the board is told that C0002 is in danger, and that it no longer is
		t.Helper()
		before := len(tellings[Endangered](h))
		h.due()
		h.due()
		if n := len(tellings[Endangered](h)) - before; n != 1 {
			t.Errorf("%s: the board is told %d times", what, n)
		}
		hurtsIvo = func(floor.Open) bool { return false }
		h.in(func(t *ledger.Tx) error { _, err := t.Next(changeCounter); return err })
		h.due()
	}
	of := onAppointment("C0001", 1)
	meeting := func(is func(floor.Meeting) bool) func(floor.Open) bool {
		return func(o floor.Open) bool {
			return slices.ContainsFunc(o.Meetings, func(m floor.Meeting) bool { return m.Op == quote.FirstFitting && is(m) })
		}
	}

	hurtsIvo = meeting(func(m floor.Meeting) bool { return m.How == quote.ByPictures })
	pictures := ChooseHow{OfAppointment: of, How: quote.ByPictures}
	pictures.Seen = asked(mara, pictures)
	asked(mara, pictures) // the client has read it, and it is not theirs to decide
	pictures.Seen = ""
	pictures.Seen = asked(boss, pictures)
	if a := h.meets("C0001", 1); a.How != quote.InPerson || a.State != ledger.ApptOffered {
		t.Fatalf("before anybody decided it is %+v", a)
	}
	h.do(boss, pictures)
	told("held by pictures")

	at := tellings[SlotsOffered](h)[len(tellings[SlotsOffered](h))-1].Appointment
	if at.Commission != "C0001" || at.How != quote.ByPictures {
		t.Fatalf("offered last is %+v", at)
	}
	h.do(mara, PickSlot{OfAppointment: of, At: at.Slots[0]})
	h.due()
	hurtsIvo = meeting(func(m floor.Meeting) bool { return m.At.IsZero() })
	off := CallOff{OfAppointment: of}
	off.Seen = asked(boss, off)
	if a := h.meets("C0001", 1); a.State != ledger.ApptPicked {
		t.Fatalf("before anybody decided it is %+v", a)
	}
	h.do(boss, off)
	told("called off")

	var first ledger.Operation
	h.in(func(t *ledger.Tx) error {
		ops, err := t.Operations("C0001")
		first = slices.MinFunc(ops, func(a, b ledger.Operation) int { return a.Start.Compare(b.Start) })
		return err
	})
	if h.now = first.Start.Add(-time.Hour); h.now.Before(time.Date(2026, 11, 2, 0, 0, 0, 0, time.UTC)) {
		t.Fatalf("the first is planned for %v", first.Start)
	}
	hurtsIvo = func(o floor.Open) bool {
		return slices.ContainsFunc(o.Actual, func(a floor.Actual) bool { return !a.Started.IsZero() && a.Finished.IsZero() })
	}
	begin := Start{OfOperation: OnOperation("C0001", first.Seq), Ask: true}
	begin.Seen = asked(boss, begin)
	if o := h.op("C0001", first.Op); o.State != ledger.Planned {
		t.Fatalf("before anybody decided it is %s", o.State)
	}
	h.do(boss, begin)
	told("begun ahead")
	h.do(boss, Done{OnOperation("C0001", first.Seq)})

	// Nobody came: that has happened.
	var again ledger.Appointment
	h.in(func(t *ledger.Tx) error {
		all, err := t.Standing("C0001")
		again = all[0]
		return err
	})
	h.due()
	again = h.meets("C0001", again.N)
	h.do(mara, PickSlot{OfAppointment: onAppointment("C0001", again.N), At: again.Slots[0]})
	h.due()
	hurtsIvo = func(floor.Open) bool { return false }
	h.workUntil("C0001", quote.FirstFitting)
	if over := again.Slots[0].Add(time.Hour); h.now.Before(over) {
		h.now = over
	}
	hurtsIvo = meeting(func(m floor.Meeting) bool { return m.At.IsZero() })
	h.do(boss, MissSlot{onAppointment("C0001", again.N)})
	told("nobody came")
}

// Whoever files a maker's absence reads first which agreed times and recoat windows it breaks, even where no promise is hurt; what was
// broken before is not said again.
func TestAbsenceSaysWhatElseItBreaks(t *testing.T) {
	h := fittingHouse(t)
	h.work(mara, "C0001")
	h.work(ivo, "C0002")
	picked, instead := h.now.Add(30*time.Hour), h.now.Add(54*time.Hour)
	before := true // of C0002, a window that closes anyway
	look := func(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time) (floor.Shop, error) {
		s, err := floor.Look(ctx, open, st, now)
		for i := range s.Outlooks {
			l := &s.Outlooks[i]
			l.Kept, l.KeptNow, l.Danger, l.Missed, l.Unmet = 0.9, 0.9, false, 0, nil
			if l.Commission == "C0002" && before {
				l.Missed = 0.8
			}
			if l.Commission == "C0001" && len(st.Away) > 0 {
				l.Missed = 0.6
				l.Unmet = []floor.Unkept{{Op: quote.FirstFitting, Picked: picked, Now: instead}}
			}
		}
		return s, err
	}
	h.s.cfg.Look = look
	h.s.cfg.WhatIf = func(context.Context, []floor.Open, quote.Studio, time.Time, quote.CommissionID, string) ([]floor.Choice, error) {
		t.Error("ways to keep a promise are looked for, and none is hurt")
		return nil, nil
	}
	away := GoAway{Maker: "mara", Until: "2026-11-20"}
	_, err := h.s.Do(t.Context(), Call{Person: boss, Act: away})
	var no *Refusal
	if !errors.As(err, &no) || no.Kind != Hurts || no.Seen == "" {
		t.Fatalf("it is not asked: %v", err)
	}
	want := []Broken{{Commission: "C0001", Client: mara.Name, Which: ledger.FirstFitting, Picked: picked, Now: instead}, {Commission: "C0001", Client: mara.Name, Missed: 0.6}}
	if !slices.Equal(no.Broken, want) {
		t.Errorf("it breaks %+v, want %+v", no.Broken, want)
	}
	if slices.ContainsFunc(no.Effects, func(e Effect) bool { return e.Hurt }) {
		t.Errorf("promises are hurt: %+v", no.Effects)
	}
	away.Seen = no.Seen
	if o := h.do(boss, away).(WentAway); o.Away.Maker == "" {
		t.Errorf("it is not done: %+v", o)
	}
}

// A time at which a fitting would close a recoat window is not offered while there are others: of somebody else not at all, of its own
// commission only where nothing else is left.
func TestSlotsLeaveRecoatWindowsOpen(t *testing.T) {
	h := fittingHouse(t)
	h.work(mara, "C0001")
	h.work(ivo, "C0002")
	closes := func(quote.CommissionID, time.Time) bool { return false }
	look := func(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time) (floor.Shop, error) {
		s, err := floor.Look(ctx, open, st, now)
		var at time.Time
		for _, o := range open {
			for _, m := range o.Meetings {
				if o.Snapshot.Commission == "C0001" && m.Op == quote.FirstFitting {
					at = m.At
				}
			}
		}
		for i := range s.Outlooks {
			l := &s.Outlooks[i]
			l.Kept, l.KeptNow, l.Danger, l.Missed = 0.9, 0.9, false, 0
			if !at.IsZero() && closes(l.Commission, at) {
				l.Missed = 0.7
			}
		}
		return s, err
	}
	h.s.cfg.Look = look
	offered := func() []time.Time {
		t.Helper()
		var is present
		var a ledger.Appointment
		h.in(func(tx *ledger.Tx) (err error) {
			j := &job{s: h.s, t: tx, now: h.now}
			if a, err = tx.Appointment("C0001", 1); err != nil {
				return err
			}
			is, err = j.present()
			return err
		})
		out, err := h.s.slots(t.Context(), is, a, h.now)
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
	free := offered()
	if len(free) < 2 {
		t.Fatalf("with nothing in the way %d times are offered", len(free))
	}
	for _, id := range []quote.CommissionID{"C0001", "C0002"} {
		closes = func(c quote.CommissionID, at time.Time) bool { return c == id && at.Equal(free[0]) }
		if got := offered(); slices.ContainsFunc(got, free[0].Equal) || len(got) < 2 {
			t.Errorf("a time that closes a window of %s: offered are %v", id, got)
		}
	}
	closes = func(c quote.CommissionID, _ time.Time) bool { return c == "C0001" }
	if got := offered(); len(got) < 2 {
		t.Errorf("where every time closes a window of its own, offered are %v", got)
	}
	closes = func(c quote.CommissionID, _ time.Time) bool { return c == "C0002" }
	if got := offered(); len(got) > 0 {
		t.Errorf("where every time closes a window of somebody else, offered are %v", got)
	}
}

// ownDateHouse is a house in which the date of C0001 is hurt while hurts says so; then later could be kept instead.
func ownDateHouse(t *testing.T, later string, hurts func(floor.Meeting) bool) (h *house, promise func() string) {
	t.Helper()
	h = fittingHouse(t)
	h.work(mara, "C0001")
	look := func(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time) (floor.Shop, error) {
		s, err := floor.Look(ctx, open, st, now)
		hurt := slices.ContainsFunc(open, func(o floor.Open) bool { return slices.ContainsFunc(o.Meetings, hurts) })
		for i := range s.Outlooks {
			l := &s.Outlooks[i]
			l.Kept, l.KeptNow, l.Danger, l.Missed, l.Unmet = 0.9, 0.9, false, 0, nil
			if l.Promise == later {
				l.Kept, l.KeptNow = 0.85, 0.85
			} else if hurt {
				l.Kept, l.KeptNow, l.Danger, l.Sure, l.SureNow = 0.1, 0.1, true, later, later
			}
		}
		return s, err
	}
	h.s.cfg.Look = look
	h.s.cfg.Plan = func(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time, _ func(float64)) (floor.Shop, error) {
		return look(ctx, open, st, now)
	}
	h.due()
	return h, func() string {
		t.Helper()
		var p ledger.Promise
		h.in(func(t *ledger.Tx) (err error) { p, err = t.StandingPromise("C0001"); return err })
		if c := h.commission(); c.Promise != p.Date {
			t.Errorf("the commission is promised for %s and the promise is %s", c.Promise, p.Date)
		}
		if p.Date == later && p.Odds != 0.85 {
			t.Errorf("the odds told are %v", p.Odds)
		}
		return p.Date
	}
}

// A client who is shown that their own work would be ready later, and goes on, has that date from then on, told with its odds; where
// the studio goes on for them, the date stays until the studio tells another.
func TestGoingOnMovesTheOwnDate(t *testing.T) {
	const later = "2026-12-20"
	how := quote.ByPictures
	h, promise := ownDateHouse(t, later, func(m floor.Meeting) bool { return m.How == how })
	first := promise()
	asked := func(who chat.Person, a ChooseHow) ChooseHow {
		t.Helper()
		_, err := h.s.Do(t.Context(), Call{Person: who, Act: a})
		var no *Refusal
		if !errors.As(err, &no) || no.Kind != Hurts {
			t.Fatalf("%s is not asked: %v", who.Name, err)
		}
		a.Seen = no.Seen
		return a
	}
	of := onAppointment("C0001", 1)
	h.do(boss, asked(boss, ChooseHow{OfAppointment: of, How: how}))
	if got := promise(); got != first || len(tellings[DateTold](h)) > 0 {
		t.Errorf("gone on with by the studio, it is promised for %s", got)
	}
	how = quote.InPerson
	h.do(mara, asked(mara, ChooseHow{OfAppointment: of, How: how}))
	if got := promise(); got != later {
		t.Errorf("gone on with by the client, it is promised for %s", got)
	}
	if all := tellings[DateTold](h); len(all) != 1 || !all[0].Agreed || all[0].Was != first || all[0].Commission.Promise != later {
		t.Errorf("told is %+v", all)
	}
}

func TestPickingATimeAnywayMovesTheOwnDate(t *testing.T) {
	const later = "2026-12-20"
	var slot time.Time
	h, promise := ownDateHouse(t, later, func(m floor.Meeting) bool { return !slot.IsZero() && m.At.Equal(slot) })
	slot = tellings[SlotsOffered](h)[0].Appointment.Slots[0]
	pick := PickSlot{OfAppointment: onAppointment("C0001", 1), At: slot}
	_, err := h.s.Do(t.Context(), Call{Person: mara, Act: pick})
	var no *Refusal
	if !errors.As(err, &no) || no.Kind != SlotHurts || no.Name != later {
		t.Fatalf("it is not asked: %v", err)
	}
	pick.Anyway, pick.Seen = true, no.Seen
	h.do(mara, pick)
	if got, all := promise(), tellings[DateTold](h); got != later || len(all) != 1 || !all[0].Agreed {
		t.Errorf("gone on with, it is promised for %s; told is %+v", got, all)
	}
}
