package shop

import (
	"context"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"testing"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/quote"
	"benchbell/quote/floor"
	"benchbell/quote/plan"
)

// onAppointment is short for OfAppointment{On(id), n}.
func onAppointment(id quote.CommissionID, n int) OfAppointment { return OfAppointment{On(id), n} }

// fittingHouse is a house with the program's own quotes and plans, in which one maker does everything.
func fittingHouse(t *testing.T) *house {
	t.Helper()
	h := newHouse(t)
	h.real = true
	st := testStudio()
	st.Runs, st.Schedules = 40, 40
	st.Resources = slices.DeleteFunc(slices.Clone(st.Resources), func(r plan.Resource) bool { return r.ID == "jonas" })
	h.s.cfg.Studio = func() quote.Studio { return st }
	h.s.cfg.Place, h.s.cfg.Plan, h.s.cfg.Look = floor.Place, floor.Plan, floor.Look
	return h
}

// work brings a commission of somebody, a cuff, to the bench.
func (h *house) work(who chat.Person, id quote.CommissionID) {
	h.t.Helper()
	h.begin(who, id)
	h.do(who, Measure{On(id)})
	h.do(who, GiveMeasurements{On(id), arm})
	h.do(who, Confirm{On(id)})
	h.answer(id, nil)
	h.do(who, Approve{OfRevision: OnRevision(id, 1)})
	h.do(boss, Pay{Of: On(id)})
	h.due()
}

func (h *house) due() {
	h.t.Helper()
	if err := h.s.Due(h.t.Context()); err != nil {
		h.t.Fatal(err)
	}
}

func (h *house) meets(id quote.CommissionID, n int) (a ledger.Appointment) {
	h.t.Helper()
	h.in(func(t *ledger.Tx) (err error) {
		a, err = t.Appointment(id, n)
		return err
	})
	return a
}

func (h *house) op(id quote.CommissionID, op string) ledger.Operation {
	h.t.Helper()
	var out ledger.Operation
	h.in(func(t *ledger.Tx) error {
		ops, err := t.Operations(id)
		for _, o := range ops {
			if o.Op == op {
				out = o
			}
		}
		return err
	})
	return out
}

// tellings are the outcomes of a kind that were told.
func tellings[O any](h *house) []O {
	var out []O
	for _, x := range h.told {
		if o, ok := x.Outcome.(O); ok {
			out = append(out, o)
		}
	}
	return out
}

// workUntil does what comes before an operation, in order and in time.
func (h *house) workUntil(id quote.CommissionID, op string) {
	h.t.Helper()
	var ops []ledger.Operation
	h.in(func(t *ledger.Tx) (err error) {
		ops, err = t.Operations(id)
		return err
	})
	slices.SortStableFunc(ops, func(a, b ledger.Operation) int { return a.Start.Compare(b.Start) })
	for _, o := range ops {
		if o.Op == op {
			return
		}
		if o.State == ledger.Done {
			continue
		}
		if h.now.Before(o.End) {
			h.now = o.End
		}
		_, err := h.s.Do(h.t.Context(), Call{Person: boss, Act: Done{OnOperation(id, o.Seq)}})
		for refusal(err) == OpWaits { // a cure
			h.now = h.now.Add(time.Hour)
			_, err = h.s.Do(h.t.Context(), Call{Person: boss, Act: Done{OnOperation(id, o.Seq)}})
		}
		if err != nil {
			h.t.Fatal(err)
		}
	}
}

// With the deposit a first fitting is wanted, and its client is offered times: on different half-days within opening hours, not
// before the mock-up is done by the plan, and with notice.
func TestTimesAreOffered(t *testing.T) {
	h := fittingHouse(t)
	h.work(mara, "C0001")
	offers := tellings[SlotsOffered](h)
	if len(offers) != 1 || offers[0].Appointment.Which != ledger.FirstFitting || len(offers[0].Appointment.Slots) != mostSlots {
		t.Fatalf("offered is %+v", offers)
	}
	if final := h.meets("C0001", 2); final.Which != ledger.FinalFitting || final.State != ledger.ApptWanted {
		t.Errorf("the second appointment is %+v", final)
	}
	made := time.Time{} // when the mock-up is done
	h.in(func(tx *ledger.Tx) error {
		ops, err := tx.Operations("C0001")
		for _, o := range ops {
			if slices.Contains([]string{"cut", "bevel", "score", "form", "glue", "layer", "punch"}, o.Kind) && o.End.After(made) {
				made = o.End
			}
		}
		return err
	})
	halves := map[string]bool{}
	for _, at := range offers[0].Appointment.Slots {
		l := at.In(h.s.zone())
		halves[fmt.Sprint(l.Format(time.DateOnly), l.Hour() < 13)] = true
		if at.Before(made) || at.Before(h.now.AddDate(0, 0, 2)) || !openFor(testStudio().Calendar, l, 0) || l.Minute()%30 != 0 {
			t.Errorf("offered is %v; the mock-up is done at %v, it is %v", l, made, h.now)
		}
	}
	if len(halves) != mostSlots {
		t.Errorf("%d times are on %d half-days", mostSlots, len(halves))
	}
	h.due()
	if n := len(tellings[SlotsOffered](h)); n != 1 {
		t.Errorf("offered %d times", n)
	}
}

// A time that is picked stands in the plan, at the bench and in what the client is told; what waits for it waits; the same press
// delivered twice is one change, and nobody but the client and the studio can pick.
func TestAPickedTimeStands(t *testing.T) {
	h := fittingHouse(t)
	h.work(mara, "C0001")
	slots := tellings[SlotsOffered](h)[0].Appointment.Slots
	at := slots[len(slots)-1]
	call := Call{ID: "press", Person: mara, Act: PickSlot{OfAppointment: onAppointment("C0001", 1), At: at}}
	if _, err := h.s.Do(t.Context(), Call{Person: ivo, Act: call.Act}); refusal(err) != NotYours {
		t.Errorf("another client picks: %v", err)
	}
	first, err := h.s.Do(t.Context(), call)
	if err != nil {
		t.Fatal(err)
	}
	told := len(h.told)
	again, err := h.s.Do(t.Context(), call)
	if err != nil || !reflect.DeepEqual(first, again) || len(h.told) != told {
		t.Errorf("delivered again it gives %+v, %v; first %+v", again, err, first)
	}
	h.due()
	if a := h.meets("C0001", 1); a.State != ledger.ApptPicked || !a.At.Equal(at) || a.PickedBy != mara.ID || a.Message == "" {
		t.Errorf("the appointment is %+v", a)
	}
	if o := h.op("C0001", quote.FirstFitting); !o.Start.Equal(at) {
		t.Errorf("at the bench the fitting is at %v, picked is %v", o.Start, at)
	}
	h.in(func(tx *ledger.Tx) error {
		ops, err := tx.Operations("C0001")
		for _, o := range ops {
			if slices.Contains([]string{"seal", "prime", "paint", "clear"}, o.Kind) && o.Start.Before(at) {
				t.Errorf("%s is planned at %v, before the fitting at %v", o.Op, o.Start, at)
			}
		}
		return err
	})
	seen, err := h.s.See(t.Context(), boss, WholePlan{})
	if err != nil || seen.(Plan).Moved != 0 {
		t.Errorf("planned anew, %d operations move, %v", seen.(Plan).Moved, err)
	}
	where, err := h.s.See(t.Context(), mara, Where{On("C0001")})
	if x := where.(Standing).Appointments; err != nil || len(x) != 2 || !x[0].At.Equal(at) {
		t.Errorf("where is %+v, %v", x, err)
	}
	h.now = at.Add(-time.Hour)
	h.workUntil("C0001", quote.FirstFitting)
	bench, err := h.s.See(t.Context(), boss, Today{})
	if err != nil {
		t.Fatal(err)
	}
	if i := slices.IndexFunc(bench.(Bench).Lines, func(l BenchLine) bool { return l.Operation.Op == quote.FirstFitting }); i < 0 ||
		bench.(Bench).Lines[i].Meeting == nil || !bench.(Bench).Lines[i].Meeting.At.Equal(at) {
		t.Errorf("on its day the bench has %+v", bench.(Bench).Lines)
	}
	// It is kept by doing it.
	h.now = at
	h.do(boss, Done{OnOperation("C0001", h.op("C0001", quote.FirstFitting).Seq)})
	if a := h.meets("C0001", 1); a.State != ledger.ApptKept || a.EndedAt.IsZero() {
		t.Errorf("a fitting that is done is %+v", a)
	}
	if _, err := h.s.Do(t.Context(), Call{Person: mara, Act: PickSlot{OfAppointment: onAppointment("C0001", 1), At: at.AddDate(0, 0, 7)}}); refusal(err) != AppointmentOver {
		t.Errorf("picked once more after it: %v", err)
	}
}

// Time goes on while a plan is looked at, and that is not a change of the shop.
func TestTimePassesWhileItIsPlanned(t *testing.T) {
	h := fittingHouse(t)
	h.work(mara, "C0001")
	h.s.cfg.Look = func(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time) (floor.Shop, error) {
		h.now = h.now.Add(time.Second)
		return floor.Look(ctx, open, st, now)
	}
	h.do(mara, AskSlots{OfAppointment: onAppointment("C0001", 1), First: true})
	h.do(mara, PickSlot{OfAppointment: onAppointment("C0001", 1), At: h.meets("C0001", 1).Slots[0]})
	h.do(boss, CallOff{OfAppointment: onAppointment("C0001", 1)})
}

// Two clients want the same time of the only maker: the second is refused and told which are free, and one of these can be picked.
func TestATimeIsPickedOnce(t *testing.T) {
	h := fittingHouse(t)
	h.work(mara, "C0001")
	h.work(ivo, "C0002")
	h.work(chat.Person{ID: "stage:uma", Name: "Uma"}, "C0003")
	offers := tellings[SlotsOffered](h)
	if len(offers) != 3 {
		t.Fatalf("%d are offered times", len(offers))
	}
	var at time.Time
	for _, x := range offers[0].Appointment.Slots {
		if slices.ContainsFunc(offers[1].Appointment.Slots, x.Equal) {
			at = x
		}
	}
	if at.IsZero() {
		t.Fatalf("no time is offered to both: %v and %v", offers[0].Appointment.Slots, offers[1].Appointment.Slots)
	}
	h.do(mara, PickSlot{OfAppointment: onAppointment("C0001", 1), At: at})
	_, err := h.s.Do(t.Context(), Call{Person: ivo, Act: PickSlot{OfAppointment: onAppointment("C0002", 1), At: at}})
	var no *Refusal
	if !errors.As(err, &no) || no.Kind != SlotGone || len(no.Slots) == 0 || slices.ContainsFunc(no.Slots, at.Equal) {
		t.Fatalf("picked by the second: %v, %+v", err, no)
	}
	if a := h.meets("C0002", 1); a.State == ledger.ApptPicked {
		t.Errorf("refused and picked: %+v", a)
	}
	if no.Fit != NobodyFree {
		t.Errorf("the reason is %d, and the only maker is with somebody else", no.Fit)
	}
	h.do(ivo, PickSlot{OfAppointment: onAppointment("C0002", 1), At: no.Slots[0], Seen: no.Seen})
	// Who could have picked a time that is taken is offered others, in the post there is.
	taken := func(slots []time.Time) bool {
		return slices.ContainsFunc(slots, at.Equal) || slices.ContainsFunc(slots, no.Slots[0].Equal)
	}
	if !taken(offers[2].Appointment.Slots) {
		t.Fatalf("neither %v nor %v was offered to the third: %v", at, no.Slots[0], offers[2].Appointment.Slots)
	}
	h.due()
	if again := tellings[SlotsOffered](h)[3:]; len(again) != 1 || again[0].Commission.ID != "C0003" || !again[0].Again || taken(again[0].Appointment.Slots) {
		t.Errorf("the third is offered instead: %+v", again)
	}
}

// A time is refused for the reason that there is.
func TestWhyATimeDoesNotSuit(t *testing.T) {
	h := fittingHouse(t)
	h.work(mara, "C0001")
	at := h.meets("C0001", 1).Slots[0]
	ready := h.op("C0001", quote.FirstFitting).Start
	hurts := false
	h.s.cfg.Look = func(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time) (floor.Shop, error) {
		s, err := floor.Look(ctx, open, st, now)
		if hurts && slices.ContainsFunc(open, func(o floor.Open) bool {
			return o.Snapshot.Commission == "C0001" && slices.ContainsFunc(o.Meetings, func(m floor.Meeting) bool { return !m.At.IsZero() })
		}) {
			s.Outlooks[1].Kept = 0
		}
		return s, err
	}
	h.work(ivo, "C0002")
	hurts = true
	tomorrow := time.Date(h.now.Year(), h.now.Month(), h.now.Day()+1, 9, 0, 0, 0, h.s.zone()).UTC()
	if !tomorrow.Before(ready) {
		t.Fatalf("it could be ready at %v", ready)
	}
	for why, x := range map[Fit]time.Time{Shut: at.Truncate(24 * time.Hour).Add(2 * time.Hour), Passed: h.now.Add(-time.Hour), NotReady: tomorrow, HurtsOthers: at} {
		_, err := h.s.Do(t.Context(), Call{Person: mara, Act: PickSlot{OfAppointment: onAppointment("C0001", 1), At: x, Seen: "none"}})
		var no *Refusal
		if !errors.As(err, &no) || no.Kind != SlotGone || no.Fit != why {
			t.Errorf("picked for %v: %v, %+v; want reason %d", x, err, no, why)
		}
	}
}

// What is offered is judged as it is when it is picked, with as many runs: a time just offered can be had.
func TestOfferedAndPickedAreJudgedAlike(t *testing.T) {
	h := fittingHouse(t)
	st := h.s.cfg.Studio()
	st.Runs = 150
	h.s.cfg.Studio = func() quote.Studio { return st }
	runs := map[int]bool{}
	h.s.cfg.Look = func(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time) (floor.Shop, error) {
		runs[st.Runs] = true
		return floor.Look(ctx, open, st, now)
	}
	h.work(mara, "C0001")
	h.do(mara, PickSlot{OfAppointment: onAppointment("C0001", 1), At: h.meets("C0001", 1).Slots[0]})
	if len(runs) != 1 || !runs[150] {
		t.Errorf("looked at with %v runs", runs)
	}
}

// A press on a time that was offered before moves nothing: it is told what holds now, and what is offered now can be picked from
// there. Other times go on, and back to the first ones.
func TestOldOffers(t *testing.T) {
	h := fittingHouse(t)
	h.work(mara, "C0001")
	of := onAppointment("C0001", 1)
	first := h.meets("C0001", 1).Slots
	more := h.do(mara, AskSlots{OfAppointment: of}).(SlotsOffered)
	if now := more.Appointment.Slots; !more.Later || len(now) == 0 || !now[0].After(first[len(first)-1]) {
		t.Fatalf("other times than %v are %v", first, now)
	}
	stale := func(at time.Time) *Refusal {
		t.Helper()
		_, err := h.s.Do(t.Context(), Call{Person: mara, Act: PickSlot{OfAppointment: of, At: at}})
		var no *Refusal
		if !errors.As(err, &no) || no.Kind != SlotStale {
			t.Fatalf("an old offer of %v is answered with %v", at, err)
		}
		return no
	}
	if no := stale(first[0]); !slices.EqualFunc(no.Slots, more.Appointment.Slots, time.Time.Equal) {
		t.Errorf("offered now is %v, and said to be %v", more.Appointment.Slots, no.Slots)
	}
	back := h.do(mara, AskSlots{OfAppointment: of, First: true}).(SlotsOffered)
	if back.Later || !slices.EqualFunc(back.Appointment.Slots, first, time.Time.Equal) {
		t.Errorf("the first times were %v and are %v", first, back.Appointment.Slots)
	}
	h.do(mara, PickSlot{OfAppointment: of, At: first[1]})
	if no := stale(first[1]); !no.Appointment.At.Equal(first[1]) { // agreed already
		t.Errorf("picked again it is told that %v holds", no.Appointment.At)
	}
	no := stale(first[0])
	if a := h.meets("C0001", 1); !a.At.Equal(first[1]) || !no.Appointment.At.Equal(first[1]) || len(no.Slots) == 0 {
		t.Fatalf("an old button has moved it to %v; %v is said to hold, and %v to be free", a.At, no.Appointment.At, no.Slots)
	}
	h.do(mara, PickSlot{OfAppointment: of, At: no.Slots[0], Seen: no.Seen})
	if _, err := h.s.Do(t.Context(), Call{Person: mara, Act: PickSlot{OfAppointment: of, At: first[2], Seen: no.Seen}}); refusal(err) != SlotStale {
		t.Errorf("picked from what was offered beside another time that held: %v", err)
	}
	if again := h.do(mara, AskSlots{OfAppointment: of}).(SlotsOffered).Appointment; slices.ContainsFunc(again.Slots, again.At.Equal) {
		t.Errorf("instead of %v %v is offered", again.At, again.Slots)
	}
}

// Nobody came: the time is free again, the fitting is planned anew with notice, and other times are offered. It cannot be said
// before the time is over.
func TestAMissedTimeIsPlannedAnew(t *testing.T) {
	h := fittingHouse(t)
	h.work(mara, "C0001")
	at := tellings[SlotsOffered](h)[0].Appointment.Slots[0]
	h.do(mara, PickSlot{OfAppointment: onAppointment("C0001", 1), At: at})
	miss := MissSlot{onAppointment("C0001", 1)}
	if _, err := h.s.Do(t.Context(), Call{Person: boss, Act: miss}); refusal(err) != NotYet {
		t.Errorf("missed before it is: %v", err)
	}
	early := h.now
	h.now = at.Add(30 * time.Minute)
	if _, err := h.s.Do(t.Context(), Call{Person: boss, Act: miss}); refusal(err) != NothingToTryOn {
		t.Errorf("missed, and nothing was cut: %v", err)
	}
	h.now = early
	h.workUntil("C0001", quote.FirstFitting)
	h.now = at.Add(30 * time.Minute)
	if _, err := h.s.Do(t.Context(), Call{Person: mara, Act: miss}); refusal(err) != OnlyStudio {
		t.Errorf("the client says so: %v", err)
	}
	h.do(boss, Start{OfOperation: OnOperation("C0001", h.op("C0001", quote.FirstFitting).Seq)}) // in vain
	o := h.do(boss, miss).(SlotMissed)
	if o.Missed.State != ledger.ApptMissed || o.Next.Which != ledger.FirstFitting || o.Next.N == 1 {
		t.Fatalf("missed: %+v", o)
	}
	op := h.op("C0001", quote.FirstFitting)
	if notice := h.now.AddDate(0, 0, 2); op.State != ledger.Planned || op.Start.Before(notice) {
		t.Errorf("it is %s and planned at %v, notice is until %v", op.State, op.Start, notice)
	}
	if _, err := h.s.Do(t.Context(), Call{Person: mara, Act: PickSlot{OfAppointment: onAppointment("C0001", 1), At: at.AddDate(0, 0, 7)}}); refusal(err) != AppointmentOver {
		t.Errorf("picked for the one that was missed: %v", err)
	}
	h.due()
	offers := tellings[SlotsOffered](h)
	last := offers[len(offers)-1].Appointment
	if len(offers) != 2 || last.N != o.Next.N || len(last.Slots) == 0 || last.Slots[0].Before(h.now.AddDate(0, 0, 2)) {
		t.Fatalf("offered anew is %+v", last)
	}
	again := last.Slots[len(last.Slots)-1]
	h.do(mara, PickSlot{OfAppointment: onAppointment("C0001", last.N), At: again})
	if got := h.op("C0001", quote.FirstFitting).Start; !got.Equal(again) {
		t.Errorf("planned at %v, picked is %v", got, again)
	}
	h.in(func(tx *ledger.Tx) error {
		all, err := tx.Appointments("C0001")
		if len(all) != 3 || all[0].State != ledger.ApptMissed || !all[0].At.Equal(at) {
			t.Errorf("the history is %+v", all)
		}
		return err
	})
}

// Nobody begins, and the time that was picked cannot be kept: the studio is told, once, and the client by nobody but the studio.
func TestATimeThatCannotBeKept(t *testing.T) {
	h := fittingHouse(t)
	h.work(mara, "C0001")
	at := tellings[SlotsOffered](h)[0].Appointment.Slots[0]
	h.do(mara, PickSlot{OfAppointment: onAppointment("C0001", 1), At: at})
	h.due()
	if n := len(tellings[SlotUnkept](h)); n != 0 {
		t.Fatalf("said of a time that can be kept: %+v", tellings[SlotUnkept](h))
	}
	h.now = at.Add(-2 * time.Hour)
	for range 2 { // however often it is looked at
		h.due()
		h.in(func(t *ledger.Tx) error { _, err := t.Next(changeCounter); return err })
	}
	h.due()
	late := tellings[SlotUnkept](h)
	if len(late) != 1 || !late[0].Appointment.At.Equal(at) || !late[0].Now.After(at) {
		t.Fatalf("two hours before, with nothing begun, it is said: %+v", late)
	}
	if a := h.meets("C0001", 1); a.State != ledger.ApptPicked {
		t.Errorf("it is %s before anybody has said so", a.State)
	}
	early := h.now // looked at with the time there was at first
	h.now = at.AddDate(0, 0, -6)
	h.in(func(t *ledger.Tx) error { _, err := t.Next(changeCounter); return err })
	h.due()
	if again := tellings[KeptAgain](h); len(again) != 1 || !again[0].Appointment.At.Equal(at) || again[0].Appointment.Warned.IsZero() || !h.meets("C0001", 1).Warned.IsZero() {
		t.Errorf("with six days for the work before it, it is said: %+v", again)
	}
	h.now = early
	h.in(func(t *ledger.Tx) error { _, err := t.Next(changeCounter); return err })
	h.due()
	if late = tellings[SlotUnkept](h); len(late) != 2 {
		t.Errorf("too late once more, it is said: %+v", late)
	}
	off := CallOff{OfAppointment: onAppointment("C0001", 1)}
	if _, err := h.s.Do(t.Context(), Call{Person: mara, Act: off}); refusal(err) != OnlyStudio {
		t.Errorf("called off by the client: %v", err)
	}
	o := h.do(boss, off).(CalledOff)
	h.due()
	offers := tellings[SlotsOffered](h)
	if last := offers[len(offers)-1].Appointment; o.Off.State != ledger.ApptVoid || last.N != o.Next.N || len(last.Slots) == 0 || !last.Slots[0].After(late[0].Now.Add(-time.Minute)) {
		t.Errorf("called off: %+v; offered: %+v", o, last)
	}
}

// A fitting takes the time that is worked on it, not that of the lunch, night or weekend in which it is interrupted; one longer than
// any shift is asked no more than to begin with one.
func TestAFittingTakesWhatIsWorked(t *testing.T) {
	at := func(day, hour, minute int) time.Time { return time.Date(2026, 12, day, hour, minute, 0, 0, time.UTC) }
	is := present{studio: quote.Studio{Calendar: plan.Calendar{Shifts: []plan.Shift{{Weekday: time.Monday, From: 540, To: 750}, {Weekday: time.Monday, From: 810, To: 990}}}}}
	for _, c := range []struct {
		spans []plan.Span
		want  time.Duration
	}{
		{nil, 175 * time.Minute},
		{[]plan.Span{{From: at(15, 11, 35), To: at(15, 12, 30)}, {From: at(15, 13, 30), To: at(15, 14, 30)}}, 115 * time.Minute},
		{[]plan.Span{{From: at(18, 9, 0), To: at(18, 12, 30)}, {From: at(21, 9, 0), To: at(21, 9, 5)}}, 210 * time.Minute},
	} {
		if got := is.takes(plan.Scheduled{Start: at(15, 11, 35), End: at(15, 14, 30), Spans: c.spans}); got != c.want {
			t.Errorf("%v: takes %s, want %s", c.spans, got, c.want)
		}
	}
}

// The client chooses pictures: the fitting is shorter and later in the plan, and the final one goes along until something else is
// chosen for it.
func TestPicturesAreChosen(t *testing.T) {
	h := fittingHouse(t)
	h.work(mara, "C0001")
	person := h.op("C0001", quote.FirstFitting)
	choose := ChooseHow{OfAppointment: onAppointment("C0001", 1), How: quote.ByPictures}
	h.do(mara, choose)
	op := h.op("C0001", quote.FirstFitting)
	if !op.Start.After(person.Start) || op.End.Sub(op.Start) >= person.End.Sub(person.Start) {
		t.Errorf("by pictures it is %v to %v, in person %v to %v", op.Start, op.End, person.Start, person.End)
	}
	if first, final := h.meets("C0001", 1), h.meets("C0001", 2); first.How != quote.ByPictures || final.How != quote.ByPictures || first.State != ledger.ApptWanted {
		t.Errorf("chosen is %+v, and the final one is %+v", first, final)
	}
	if _, err := h.s.Do(t.Context(), Call{Person: mara, Act: choose}); refusal(err) != HeldSo {
		t.Errorf("chosen again: %v", err)
	}
	if _, err := h.s.Do(t.Context(), Call{Person: mara, Act: ChooseHow{OfAppointment: onAppointment("C0001", 1), How: quote.Ship}}); refusal(err) != NoSuchWay {
		t.Errorf("a fitting is posted: %v", err)
	}
	h.due()
	offers := tellings[SlotsOffered](h)
	if last := offers[len(offers)-1].Appointment; len(offers) != 2 || last.How != quote.ByPictures || len(last.Slots) == 0 || last.Slots[0].Before(op.Start) {
		t.Errorf("offered by pictures: %+v", last)
	}
}

// What is finished is collected at a time within opening hours, or posted on a day; handing over ends the appointment.
func TestHandingOver(t *testing.T) {
	h := newHouse(t)
	h.to(ledger.Ready)
	done := tellings[Finishing](h)
	if len(done) != 1 || done[0].Parcel.Length <= 0 || len(done[0].Handing.Appointment.Slots) != mostSlots {
		t.Fatalf("finished: %+v", done)
	}
	a := done[0].Handing.Appointment
	for _, at := range a.Slots {
		if !openFor(testStudio().Calendar, at.In(h.s.zone()), 0) || at.Before(h.now.Add(collectNotice)) {
			t.Errorf("collected at %v, and it is %v", at, h.now)
		}
	}
	if _, err := h.s.Do(t.Context(), Call{Person: mara, Act: PickSlot{OfAppointment: onAppointment("C0001", a.N), At: a.Slots[0].Truncate(24 * time.Hour), Seen: "none"}}); refusal(err) != SlotGone {
		t.Errorf("collected at night: %v", err)
	}
	more := h.do(mara, AskSlots{OfAppointment: onAppointment("C0001", a.N)}).(SlotsOffered)
	if x := more.Appointment.Slots; len(x) == 0 || !x[0].After(a.Slots[len(a.Slots)-1]) {
		t.Errorf("other times than %v are %v", a.Slots, x)
	}
	if _, err := h.s.Do(t.Context(), Call{Person: mara, Act: PickSlot{OfAppointment: onAppointment("C0001", a.N), At: a.Slots[0]}}); refusal(err) != SlotStale {
		t.Errorf("collected at a time offered before: %v", err)
	}
	h.do(mara, AskSlots{OfAppointment: onAppointment("C0001", a.N), First: true})
	h.do(mara, PickSlot{OfAppointment: onAppointment("C0001", a.N), At: a.Slots[0]})
	if got := h.meets("C0001", a.N); got.State != ledger.ApptPicked || !got.At.Equal(a.Slots[0]) {
		t.Errorf("picked: %+v", got)
	}
	h.now = a.Slots[0].Add(time.Hour)
	missed := h.do(boss, MissSlot{onAppointment("C0001", a.N)}).(SlotMissed)
	h.due()
	if a = h.meets("C0001", missed.Next.N); a.State != ledger.ApptOffered || len(a.Slots) == 0 || !a.Slots[0].After(h.now) {
		t.Errorf("nobody came for it, and offered is %+v", a)
	}
	o := h.do(mara, ChooseHow{OfAppointment: onAppointment("C0001", a.N), How: quote.Ship}).(HowChosen)
	if x := o.Appointment; x.How != quote.Ship || x.State != ledger.ApptPicked || !x.At.After(h.now) {
		t.Errorf("posted: %+v", x)
	}
	h.do(boss, HandOver{On("C0001")})
	if got := h.meets("C0001", a.N); got.State != ledger.ApptKept {
		t.Errorf("handed over, it is %+v", got)
	}
}

// One who picked nothing is offered other times once all have passed.
func TestTimesThatPassedAreOfferedAnew(t *testing.T) {
	h := fittingHouse(t)
	h.work(mara, "C0001")
	slots := tellings[SlotsOffered](h)[0].Appointment.Slots
	h.now = slots[len(slots)-1].Add(time.Hour)
	h.due()
	offers := tellings[SlotsOffered](h)
	if len(offers) != 2 || !offers[1].Again || !offers[1].Appointment.Slots[0].After(h.now) {
		t.Errorf("at %v offered is %+v", h.now, offers[1:])
	}
}

// Chosen with the details, pictures are in the quote and in both appointments; what is neither is asked again.
func TestPicturesAreOrdered(t *testing.T) {
	h := fittingHouse(t)
	h.begin(mara, "C0001")
	if o := h.do(mara, GiveDetails{Of: On("C0001"), Fittings: "by pigeon"}).(DetailsGiven); len(o.Problems) != 1 || o.Problems[0].What != "fittings" {
		t.Errorf("by pigeon: %+v", o.Problems)
	}
	h.do(mara, GiveDetails{Of: On("C0001"), Fittings: "By pictures"})
	h.do(mara, Measure{On("C0001")})
	h.do(mara, GiveMeasurements{On("C0001"), arm})
	h.do(mara, Confirm{On("C0001")})
	h.answer("C0001", nil)
	h.in(func(tx *ledger.Tx) error {
		rev, err := tx.Revision("C0001", 1)
		for _, o := range rev.Quote.Work.Operations {
			if o.ID == quote.FirstFitting && o.Title != "First fitting, by pictures" {
				t.Errorf("quoted is %q", o.Title)
			}
		}
		return err
	})
	h.do(mara, Approve{OfRevision: OnRevision("C0001", 1)})
	h.do(boss, Pay{Of: On("C0001")})
	for n := 1; n <= 2; n++ {
		if a := h.meets("C0001", n); a.How != quote.ByPictures {
			t.Errorf("the %s is %s", a.Which, a.How)
		}
	}
}

// Where there was no time for a fitting, it is looked for one again a day later, by itself; the client hears of it once there is one.
func TestNoTimeIsTriedAgain(t *testing.T) {
	h := fittingHouse(t)
	full := true
	h.s.cfg.Look = func(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time) (floor.Shop, error) {
		s, err := floor.Look(ctx, open, st, now)
		pinned := slices.ContainsFunc(open, func(o floor.Open) bool {
			return slices.ContainsFunc(o.Meetings, func(m floor.Meeting) bool { return !m.At.IsZero() })
		})
		for i := range s.Outlooks {
			if l := &s.Outlooks[i]; full && pinned && l.Commission == "C0002" {
				l.Promise, l.Kept, l.KeptNow = "2026-12-01", 0, 0
			} else if l.Commission == "C0002" {
				l.Promise, l.Kept, l.KeptNow = "2026-12-01", 1, 1
			}
		}
		return s, err
	}
	h.work(mara, "C0001")
	h.work(ivo, "C0002")
	offered := func() (out []SlotsOffered) {
		for _, o := range tellings[SlotsOffered](h) {
			if o.Commission.ID == "C0001" {
				out = append(out, o)
			}
		}
		return out
	}
	off := CallOff{OfAppointment: onAppointment("C0001", 1)}
	h.do(mara, PickSlot{OfAppointment: off.OfAppointment, At: func() time.Time { full = false; return offered()[0].Appointment.Slots[0] }()})
	full = true
	h.do(boss, off)
	h.due()
	before := offered()
	if last := before[len(before)-1].Appointment; len(last.Slots) > 0 {
		t.Fatalf("with every time hurting somebody, offered are %v", last.Slots)
	}
	aDay := func() { // from one thing that falls due to the next
		t.Helper()
		for until := h.now.Add(ledger.LookAgain); h.now.Before(until); h.due() {
			at, err := h.s.NextDue(t.Context())
			if err != nil || !at.After(h.now) {
				t.Fatalf("at %s the next thing falls due at %s: %v", h.now, at, err)
			}
			h.now = at
		}
	}
	aDay()
	if n := len(offered()); n != len(before) {
		t.Errorf("with no time still, the client is told %d times more", n-len(before))
	}
	full = false
	aDay()
	if now := offered(); len(now) != len(before)+1 || len(now[len(now)-1].Appointment.Slots) == 0 {
		t.Errorf("once there are times, offered are %+v", now[len(before):])
	}
}

// The trail says that the studio did for a client what is the client's to do, and nothing else.
func TestTrailSaysWhatWasDoneForAClient(t *testing.T) {
	h := fittingHouse(t)
	h.work(mara, "C0001")
	slot := tellings[SlotsOffered](h)[0].Appointment.Slots[0]
	h.do(boss, PickSlot{OfAppointment: onAppointment("C0001", 1), At: slot})
	h.do(boss, Start{OfOperation: OnOperation("C0001", 1)})
	got := map[string]string{}
	h.in(func(t *ledger.Tx) error {
		all, err := t.Events("C0001")
		for _, e := range all {
			got[e.What] = e.OnBehalf
		}
		return err
	})
	for what, who := range map[string]string{"slot picked": string(mara.ID), "started": "", "approved": ""} {
		if is, ok := got[what]; !ok || is != who {
			t.Errorf("%q (%t) was done for %q, want %q", what, ok, is, who)
		}
	}
}
