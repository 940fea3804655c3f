package desk

import (
	"slices"
	"strings"
	"testing"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/quote"
)

// appointmentOf reads an appointment of C0001.
func (p *play) appointmentOf(n int) (a ledger.Appointment) {
	p.t.Helper()
	p.ok(p.led.Tx(p.t.Context(), func(tx *ledger.Tx) (err error) {
		a, err = tx.Appointment("C0001", n)
		return err
	}))
	return a
}

// workTo does what the bench offers until it offers a button with these words.
func (p *play) workTo(say string) chat.Button {
	p.t.Helper()
	for range 2000 {
		rep, err := p.do(chat.Incoming{Person: boss, Command: "bench"})
		p.ok(err)
		if i := slices.IndexFunc(rep.Buttons, func(b chat.Button) bool { return strings.Contains(b.Label, say) }); i >= 0 {
			return rep.Buttons[i]
		}
		if p.state() == ledger.Ready {
			break
		}
		if len(rep.Buttons) == 0 {
			p.wait(30 * time.Minute)
			continue
		}
		p.ok(p.press(boss, rep.Buttons[0].Action))
	}
	p.t.Fatalf("the bench never offers %q", say)
	return chat.Button{}
}

// bench is what the studio sees of the bench now.
func bench(p *play) chat.Reply {
	p.t.Helper()
	rep, err := p.do(chat.Incoming{Person: boss, Command: "bench"})
	p.ok(err)
	return rep
}

// The whole way of both fittings and of collecting, as client and studio read it: times offered, one picked, other times, one that
// nobody came to, one that is kept, pictures instead, a parcel, and a time to collect.
func TestAppointments(t *testing.T) {
	p := realPlay(t)
	_, err := p.do(chat.Incoming{Person: boss, Command: "studio", Thread: "stage:board"})
	p.ok(err)
	p.ok(p.press(mara, "approve/C0001/1"))
	told := func(f func()) { // only this is kept
		p.tr.show = p.show
		f()
		p.tr.show = nil
	}
	quiet := func(f func()) {
		so := p.out.Len()
		f()
		kept := p.out.String()[:so]
		p.out.Reset()
		p.out.WriteString(kept)
	}
	p.out.Reset()
	told(func() { p.ok(p.press(boss, "deposit/C0001")) })
	first := p.appointmentOf(1)
	press := func(who chat.Person, b chat.Button) {
		p.t.Helper()
		told(func() { p.ok(p.press(who, b.Action)) })
	}
	slot := func(a ledger.Appointment, n int) chat.Button {
		return onAppointment("slot", a, a.Slots[n].UTC().Format(slotLayout), "", chat.Plain)
	}
	told(func() { p.refused(p.press(ivo, slot(first, 0).Action), "not one of your commissions") })
	told(func() { p.refused(p.press(mara, "slot/C0001/1/soon"), "no longer works") })
	rep, err := p.do(chat.Incoming{Person: mara, Press: "slot/C0001/1/202611030200"}) // at night
	if err != nil || !strings.Contains(rep.Text, "is not among the times offered now") || len(rep.Buttons) == 0 {
		t.Errorf("picked at night: %q, %v", rep.Text, err)
	}
	press(mara, slot(first, 0))
	told(func() { p.ok(p.command(mara, "where", "number", "C0001")) })
	press(mara, slot(first, 0)) // again
	press(mara, slot(first, 1)) // an old button
	press(mara, chat.Button{Action: "slots/C0001/1"})
	press(mara, chat.Button{Action: "slots/C0001/1"})
	press(mara, chat.Button{Action: "slots/C0001/1/first"})
	if a := p.appointmentOf(1); a.State != ledger.ApptPicked || !a.At.Equal(first.Slots[0]) {
		t.Errorf("old buttons have moved it to %v", a.At)
	}
	quiet(func() {
		for !strings.Contains(bench(p).Text, "C0001 First fitting, planned") { // on its day it is listed
			if b := bench(p).Buttons; len(b) > 0 {
				p.ok(p.press(boss, b[0].Action))
			} else {
				p.wait(30 * time.Minute)
			}
		}
		if b := bench(p).Buttons; !p.now.Before(p.appointmentOf(1).At.Add(-time.Hour)) || len(b) > 0 { // and cannot be begun hours before
			t.Errorf("at %v, %v is agreed and the bench offers %v", p.now, p.appointmentOf(1).At, b)
		}
		p.workTo("First fitting")
	})
	p.now = p.appointmentOf(1).At
	told(func() { p.ok(p.command(boss, "bench")) })
	told(func() { p.refused(p.press(mara, "missed/C0001/1"), "only the studio") })
	p.now = p.now.Add(40 * time.Minute)
	press(boss, p.workTo("Nobody came"))
	told(func() { p.refused(p.press(mara, slot(first, 1).Action), "is over") })
	again := p.appointmentOf(3)
	press(mara, slot(again, 0))
	p.now = again.Slots[0]
	quiet(func() { p.ok(p.press(boss, p.workTo("First fitting").Action)) })
	press(boss, p.workTo("Done: C0001 First fitting"))
	told(func() { p.wait(time.Minute) })
	final := p.appointmentOf(2)
	if final.State != ledger.ApptOffered {
		t.Fatalf("once the first fitting is over, the final one is %+v", final)
	}
	press(mara, onAppointment("hold", final, "pictures", "", chat.Plain)) // asked first: it takes days longer
	if now := p.appointmentOf(2); now.How != quote.InPerson {
		t.Errorf("before anybody has read what it does it is %+v", now)
	}
	rep, err = p.do(chat.Incoming{Person: mara, Press: onAppointment("hold", final, "pictures", "", chat.Plain).Action})
	p.ok(err)
	press(mara, rep.Buttons[0])
	told(func() { p.refused(p.press(mara, "hold/C0001/2/pictures"), "is by pictures already") })
	told(func() { p.refused(p.press(mara, "hold/C0001/2/pigeon"), "in the workshop or by pictures") })
	final = p.appointmentOf(2)
	if final.How != quote.ByPictures || len(final.Slots) == 0 {
		t.Fatalf("by pictures it is %+v", final)
	}
	press(mara, slot(final, len(final.Slots)-1))
	quiet(func() {
		for p.state() == ledger.Working {
			rep, err := p.do(chat.Incoming{Person: boss, Command: "bench"})
			p.ok(err)
			if len(rep.Buttons) == 0 {
				p.wait(30 * time.Minute)
				continue
			}
			p.tr.show = p.show
			p.ok(p.press(boss, rep.Buttons[0].Action))
			p.tr.show = nil
		}
	})
	text := p.tr.posts["C0001/ready"].Text
	if !strings.Contains(text, "The parcel is about ") || !strings.Contains(text, "Pick a time to collect it.") {
		t.Errorf("finished, the client reads %q", text)
	}
	var n int
	p.ok(p.led.Tx(t.Context(), func(tx *ledger.Tx) error {
		all, err := tx.Standing("C0001")
		if len(all) == 1 && all[0].Which == ledger.HandingOver {
			n = all[0].N
		}
		return err
	}))
	over := p.appointmentOf(n)
	press(mara, onAppointment("hold", over, "ship", "", chat.Plain))
	press(mara, onAppointment("hold", over, "collect", "", chat.Plain))
	press(mara, slot(p.appointmentOf(n), 1))
	told(func() { p.ok(p.command(mara, "where", "number", "C0001")) })
	press(boss, chat.Button{Action: "handed/C0001"})
	if got := p.appointmentOf(n); got.State != ledger.ApptKept {
		t.Errorf("handed over, it is %+v", got)
	}
	p.golden()
}

// A time that cannot be kept is said to the studio alone, until somebody of the studio tells the client.
func TestATimeIsCalledOff(t *testing.T) {
	p := realPlay(t)
	_, err := p.do(chat.Incoming{Person: boss, Command: "studio", Thread: "stage:board"})
	p.ok(err)
	p.ok(p.press(mara, "approve/C0001/1"))
	p.ok(p.press(boss, "deposit/C0001"))
	a := p.appointmentOf(1)
	p.ok(p.press(mara, onAppointment("slot", a, a.Slots[0].UTC().Format(slotLayout), "", chat.Plain).Action))
	key, late := "C0001/appointment/1", "C0001/note/appointment/1/late/stage"
	before := p.tr.times[key]
	p.now = a.Slots[0].Add(-3 * time.Hour)
	p.tick()
	p.tick()
	if p.tr.times[late] != 1 || !strings.Contains(p.tr.posts[late].Text, "cannot be kept") || p.tr.times[key] != before {
		t.Fatalf("the studio is told %d times, %q; the client's post is shown %d times more", p.tr.times[late], p.tr.posts[late].Text, p.tr.times[key]-before)
	}
	p.refused(p.press(mara, "calloff/C0001/1"), "only the studio")
	rep, err := p.do(chat.Incoming{Person: boss, Press: p.tr.posts[late].Buttons[0].Action})
	p.ok(err)
	if strings.Contains(rep.Text, "Nothing has changed yet") { // what it does to the promise is asked first
		if !strings.Contains(rep.Text, "With the first fitting of C0001 at another time, its own date would be in danger:") || rep.Buttons[0].Label != "Tell the client all the same" {
			t.Errorf("it is asked: %q", rep.Text)
		}
		p.ok(p.press(boss, rep.Buttons[0].Action))
	}
	p.tick()
	if text := p.tr.posts[key].Text; !strings.Contains(text, "called off") || len(p.tr.posts[key].Buttons) > 0 {
		t.Errorf("the client reads %q with %d buttons", text, len(p.tr.posts[key].Buttons))
	}
	p.wait(12 * time.Hour) // after the quiet hours
	if next := p.tr.posts["C0001/appointment/3"]; !strings.Contains(next.Text, "pick a time") || len(next.Buttons) < 3 || !slices.Contains(next.Mention, mara.ID) {
		t.Errorf("instead the client reads %q", next.Text)
	}
}

// What was to be agreed with the client of a cancelled commission is over: nothing is offered any more.
func TestCancelledAppointments(t *testing.T) {
	p := realPlay(t)
	p.ok(p.press(mara, "approve/C0001/1"))
	p.ok(p.press(boss, "deposit/C0001"))
	p.tick()
	first := p.appointmentOf(1)
	if post := p.tr.posts[first.Message]; !strings.Contains(post.Text, "pick a time") {
		t.Fatalf("the client is offered no times: %q", post.Text)
	}
	asked, err := p.do(chat.Incoming{Person: boss, Press: "cancel/C0001"})
	p.ok(err)
	for _, part := range []string{"Nothing has changed yet", "The deposit for C0001, EUR ", "no work on it is done yet", "cannot be taken up again"} {
		if !strings.Contains(asked.Text, part) {
			t.Errorf("before what is paid for is cancelled, %q is not said: %s", part, asked.Text)
		}
	}
	p.want(ledger.Working)
	p.ok(p.press(boss, asked.Buttons[0].Action))
	p.want(ledger.Cancelled)
	p.ok(p.led.Tx(t.Context(), func(tx *ledger.Tx) error {
		left, err := tx.Standing("C0001")
		if len(left) > 0 {
			t.Errorf("%d appointments stand", len(left))
		}
		return err
	}))
	if post := p.tr.posts[first.Message]; len(post.Buttons)+len(post.Menus) > 0 || !strings.Contains(post.Text, "cancelled") {
		t.Errorf("the client still reads %q", post.Text)
	}
}

// A client who picks a time with which the work cannot be ready as promised reads so first, and may take it all the same.
func TestSlotThatHurts(t *testing.T) {
	p := realPlay(t)
	p.ok(p.press(mara, "approve/C0001/1"))
	p.ok(p.press(boss, "deposit/C0001"))
	p.tick()
	promise := p.standing("C0001").Date
	var late time.Time
	for range 12 {
		a := p.appointmentOf(1)
		for _, at := range a.Slots {
			if at.Format(time.DateOnly) >= promise {
				late = at
			}
		}
		if !late.IsZero() {
			break
		}
		p.ok(p.press(mara, onAppointment("slots", a, "", "", chat.Plain).Action))
	}
	if late.IsZero() {
		t.Fatal("no time so late is offered")
	}
	first := p.appointmentOf(1)
	rep, err := p.do(chat.Incoming{Person: mara, Press: onAppointment("slot", first, late.UTC().Format(slotLayout), "", chat.Plain).Action})
	p.ok(err)
	if now := p.appointmentOf(1); now.State == ledger.ApptPicked || !strings.Contains(rep.Text, "Nothing has changed yet") || !strings.Contains(rep.Text, "not by "+quote.DateWords(promise)+" as promised") {
		t.Fatalf("the client reads %q; the appointment is %s", rep.Text, now.State)
	}
	p.ok(p.press(mara, rep.Buttons[0].Action))
	if now := p.appointmentOf(1); now.State != ledger.ApptPicked || !now.At.Equal(late) {
		t.Errorf("taken all the same, the appointment is %s at %s", now.State, now.At)
	}
}
