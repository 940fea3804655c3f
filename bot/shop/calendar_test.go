package shop

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
)

func (h *house) calendar(secret string) Calendar {
	h.t.Helper()
	c, err := h.s.Calendar(h.t.Context(), secret)
	if err != nil {
		h.t.Fatal(err)
	}
	return c
}

// atBenchAs makes M2 a maker of the plan.
func (h *house) atBenchAs(id string) {
	h.t.Helper()
	h.in(func(t *ledger.Tx) error {
		m, err := t.Member("M2")
		if err != nil {
			return err
		}
		m.Bench = id
		return t.SaveMember(m)
	})
}

// of finds the one entry of a kind.
func (c Calendar) of(t *testing.T, k EventKind) CalendarEntry {
	t.Helper()
	var out []CalendarEntry
	for _, e := range c.Entries {
		if e.Kind == k {
			out = append(out, e)
		}
	}
	if len(out) != 1 {
		t.Fatalf("%d entries are a %s: %+v", len(out), k, c.Entries)
	}
	return out[0]
}

// A maker's calendar has a spell for what they do without a longer break, and the cure that their next step waits for. It moves when
// the plan does, and what has not changed is told as it was.
func TestCalendarOfAMaker(t *testing.T) {
	h := newHouse(t)
	h.to(ledger.Working)
	h.staffed()
	h.atBenchAs("ana")
	secret := h.do(memberAs("M2"), MakeCalendarLink{}).(CalendarLinkMade).Secret
	first := h.calendar(secret)
	if len(first.Entries) != 2 || first.Name != "Rolf" { // cutting, an hour's break, a coat
		t.Fatalf("%+v", first)
	}
	cut, coat := first.Entries[0], first.Entries[1]
	if cut.Kind != Spell || len(cut.Steps) != 1 || cut.Steps[0].Commission != "C0001" || cut.Sequence != 0 || cut.To.Sub(cut.From) != time.Hour || cut.UID == coat.UID {
		t.Errorf("cutting is told as %+v", cut)
	}
	h.now = h.now.Add(10 * time.Minute)
	if again := h.calendar(secret); fmt.Sprint(again) != fmt.Sprint(first) {
		t.Errorf("nothing has happened, and it is told as %+v", again)
	}
	h.in(func(tx *ledger.Tx) error { // the plan moves the coat to right after the cutting
		ops, err := tx.Operations("C0001")
		if err != nil {
			return err
		}
		coat := ops[1]
		coat.Start, coat.End = ops[0].End.Add(spellGap), ops[0].End.Add(spellGap+time.Hour)
		return tx.PlanOperation(coat)
	})
	moved := h.calendar(secret).of(t, Spell)
	if moved.UID != cut.UID || moved.Sequence != 1 || !moved.Changed.Equal(h.now) || !moved.Made.Equal(cut.Made) || len(moved.Steps) != 2 || !moved.To.Equal(cut.From.Add(2*time.Hour+spellGap)) {
		t.Errorf("with the coat right after it, cutting is told as %+v", moved)
	}
	h.do(memberAs("M2"), Done{OnOperation("C0001", 1)})
	h.do(memberAs("M2"), Done{OnOperation("C0001", 2)})
	cured := h.calendar(secret).of(t, Cured)
	if cured.Cure != "primer" || !cured.From.Equal(h.now.Add(4*time.Hour)) || !cured.To.Equal(cured.From) || !cured.Closes.Equal(h.now.Add(24*time.Hour)) {
		t.Errorf("the cure is told as %+v", cured)
	}
	h.now = h.now.Add(48 * time.Hour)
	if err := h.s.Due(t.Context()); err != nil {
		t.Fatal(err)
	}
	if left := h.calendar(secret); len(left.Entries) != 0 {
		t.Errorf("two days later it has %+v", left.Entries)
	}
}

// A client's calendar has their appointment and the date that they were told. What is called off is told as such until it would be
// over, and what takes place after all is told as before, changed again.
func TestCalendarOfAClient(t *testing.T) {
	h := newHouse(t)
	h.to(ledger.Working)
	secret := h.do(mara, MakeClientCalendarLink{On("C0001")}).(ClientCalendarLinkMade).Secret
	date := h.calendar(secret).of(t, DueDate)
	if date.Day != h.commission().Promise || date.From.In(h.s.zone()).Format("2006-01-02 15:04") != date.Day+" 00:00" || date.To.Sub(date.From) < 23*time.Hour {
		t.Errorf("the date is told as %+v", date)
	}
	at := h.now.Add(72 * time.Hour)
	n := 0
	set := func(f func(*ledger.Appointment)) {
		t.Helper()
		h.in(func(tx *ledger.Tx) (err error) {
			var a ledger.Appointment
			if n == 0 {
				if a, err = tx.AddAppointment(ledger.Appointment{Commission: "C0001", Which: ledger.HandingOver, How: "collect", State: ledger.ApptWanted, MadeAt: h.now}); err != nil {
					return err
				}
				n = a.N
			} else if a, err = tx.Appointment("C0001", n); err != nil {
				return err
			}
			f(&a)
			return tx.SaveAppointment(a)
		})
	}
	picked := func(at time.Time) func(*ledger.Appointment) {
		return func(a *ledger.Appointment) { a.State, a.At = ledger.ApptPicked, at }
	}
	see := func(sequence int, off bool, at time.Time) {
		t.Helper()
		e := h.calendar(secret).of(t, Meet)
		if e.Sequence != sequence || e.Off != off || !e.From.Equal(at) || !e.To.Equal(at.Add(handingTakes)) || e.Which != "handing over" {
			t.Errorf("it is told as %+v, want change %d, off %t, at %s", e, sequence, off, at)
		}
	}
	set(picked(at))
	see(0, false, at)
	set(picked(at.Add(time.Hour)))
	see(1, false, at.Add(time.Hour))
	set(func(a *ledger.Appointment) { a.State, a.At = ledger.ApptOffered, time.Time{} })
	see(2, true, at.Add(time.Hour))
	see(2, true, at.Add(time.Hour))
	set(picked(at.Add(time.Hour))) // the same time after all
	see(3, false, at.Add(time.Hour))
	set(func(a *ledger.Appointment) { a.State, a.EndedAt = ledger.ApptVoid, h.now })
	see(4, true, at.Add(time.Hour))
	h.now = at.Add(time.Hour + handingTakes)
	for _, e := range h.calendar(secret).Entries {
		if e.Kind == Meet {
			t.Errorf("what was called off is still told when it would be over: %+v", e)
		}
	}
}

// A calendar is seen by its own link alone, until that is ended, by whatever ends it; it signs nobody in, and what it says has
// neither the client's name nor a measurement.
func TestCalendarLinks(t *testing.T) {
	h := newHouse(t)
	h.to(ledger.Working)
	owner, _, front := h.staffed()
	see := func(secret string) Kind {
		_, err := h.s.Calendar(t.Context(), secret)
		return refusal(err)
	}
	ofMember := func() string { return h.do(owner, MakeCalendarLink{"M2"}).(CalendarLinkMade).Secret }
	ofClient := func() string {
		return h.do(mara, MakeClientCalendarLink{On("C0001")}).(ClientCalendarLinkMade).Secret
	}
	for what, x := range map[string]struct{ got, want Kind }{
		"a calendar's secret to sign in": {refusal(h.try(chat.Person{}, SignIn{Secret: ofMember()})), LinkUnknown},
		"a client's, too":                {refusal(h.try(chat.Person{}, SignIn{Secret: ofClient()})), LinkUnknown},
		"a private link as a calendar":   {see(h.do(mara, MakeClientLink{On("C0001")}).(ClientLinkMade).Secret), LinkUnknown},
		"nothing as a calendar":          {see(""), LinkUnknown},
		"somebody else's calendar":       {refusal(h.try(front, MakeCalendarLink{"M2"})), NotYourPart},
		"a stranger's":                   {refusal(h.try(ivo, MakeClientCalendarLink{On("C0001")})), NotYours},
	} {
		if x.got != x.want {
			t.Errorf("%s: %q, want %q", what, x.got, x.want)
		}
	}
	for what, end := range map[string]func(){
		"ended by its member":          func() { h.do(memberAs("M2"), EndCalendarLinks{}) },
		"ended by the client":          func() { h.do(mara, EndClientCalendarLinks{On("C0001")}) },
		"ended with the private links": func() { h.do(mara, EndClientLinks{On("C0001")}) },
	} {
		m, c := ofMember(), ofClient()
		end()
		if see(m) == see(c) {
			t.Errorf("%s: the member's link %q, the client's %q", what, see(m), see(c))
		}
	}
	s, m := h.do(owner, MakeCalendarLink{}).(CalendarLinkMade).Secret, ofMember()
	h.do(owner, LetGo{"M2"})
	if see(m) != LinkEnded || see(s) != "" {
		t.Errorf("after M2 was let go: their calendar %q, the owner's %q", see(m), see(s))
	}
	if h.fileHolds(s) {
		t.Error("the secret is in the ledger's file")
	}
	raw, err := json.Marshal(h.calendar(s))
	if err != nil || len(h.calendar(s).Entries) == 0 {
		t.Fatalf("the owner's calendar: %s, %v", raw, err)
	}
	for _, never := range []string{"Mara", "girth", "270", "\"17\""} {
		if strings.Contains(string(raw), never) {
			t.Errorf("it says %q: %s", never, raw)
		}
	}
	for range mostLinks + 1 {
		ofClient()
	}
	h.in(func(tx *ledger.Tx) error {
		ls, err := tx.LinksOf(ledger.CalendarLink, "", "C0001")
		if len(ls) != mostLinks {
			t.Errorf("%d links show one calendar, at most %d may", len(ls), mostLinks)
		}
		return err
	})
}

// However events come, change and go: one UID each while they are told, one more in SEQUENCE for each change, none without
// (RFC 5545, 3.8.4.7, 3.8.7.3 and 3.8.7.4).
func TestEventsAreToldOnce(t *testing.T) {
	h := newHouse(t)
	h.begin(mara, "C0001")
	people := 0
	rapid.Check(t, func(rt *rapid.T) {
		people++
		whose := fmt.Sprint("X", people)
		was := map[string]CalendarEntry{} // by the facts' title
		for range rapid.IntRange(1, 8).Draw(rt, "looks") {
			h.now = h.now.Add(time.Minute)
			events := map[string]Facts{}
			for i := range 4 {
				if v := rapid.IntRange(0, 3).Draw(rt, "version"); v > 0 {
					k := []EventKind{Spell, Meet, Cured, DueDate}[i]
					events[fmt.Sprint("e", i)] = Facts{Kind: k, Commission: "C0001", Which: fmt.Sprint("e", i), From: h.now.Truncate(24 * time.Hour).Add(time.Duration(v) * 100 * time.Hour), To: h.now.Truncate(24 * time.Hour).Add(time.Duration(v)*100*time.Hour + time.Hour)}
				}
			}
			wanted := len(events)
			var out []CalendarEntry
			if err := h.s.inTx(t.Context(), h.now, chat.Person{}, func(j *job) (err error) {
				out, err = j.told(whose, events)
				return err
			}); err != nil {
				rt.Fatal(err)
			}
			is := map[string]CalendarEntry{}
			uids := map[string]bool{}
			on := 0
			for _, e := range out {
				if uids[e.UID] {
					rt.Fatalf("two events are %s", e.UID)
				}
				uids[e.UID], is[e.Which] = true, e
				if !e.Off {
					on++
				}
				b, ok := was[e.Which]
				same := ok && b.From.Equal(e.From) && b.Off == e.Off
				switch {
				case !ok && (e.Sequence != 0 || e.Off || !e.Made.Equal(h.now)):
					rt.Fatalf("told for the first time as %+v", e)
				case ok && (e.UID != b.UID || !e.Made.Equal(b.Made)):
					rt.Fatalf("told as another: %+v, was %+v", e, b)
				case same && (e.Sequence != b.Sequence || !e.Changed.Equal(b.Changed)):
					rt.Fatalf("told as changed, and is not: %+v, was %+v", e, b)
				case ok && !same && (e.Sequence != b.Sequence+1 || !e.Changed.Equal(h.now)):
					rt.Fatalf("a change is not told: %+v, was %+v", e, b)
				}
			}
			if on != wanted {
				rt.Fatalf("%d of %d events are told", on, wanted)
			}
			for name, b := range was {
				if e, ok := is[name]; !ok && (b.Kind == Meet || b.Kind == DueDate) {
					rt.Fatalf("what was agreed is gone without a word: %+v %v", b, e)
				}
			}
			was = is
		}
	})
}
