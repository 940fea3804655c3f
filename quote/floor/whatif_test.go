package floor

import (
	"slices"
	"strings"
	"testing"
	"time"

	"benchbell/quote/plan"
	"benchbell/quote/plan/schedule"
	"benchbell/quote/settings"
)

// A commission asked for too early is offered every possible way, those that meet the date first and the cheapest of those
// at the top; one asked for late enough can have it as planned. Asking twice gives the same.
func TestWhatIf(t *testing.T) {
	open := opened(t, 4)
	st := shopStudio()
	first := planned(t, open, shopNow)
	open = promise(take(open, first), first, func(int) int { return 3 })
	now := shopNow.Add(7 * time.Hour)
	open = worked(open, now, punctual)
	last := 0
	for i, l := range first.Outlooks {
		if l.P80 > first.Outlooks[last].P80 {
			last = i
		}
	}
	id, sure := first.Outlooks[last].Commission, first.Outlooks[last].P80
	at, err := time.Parse(time.DateOnly, sure)
	if err != nil {
		t.Fatal(err)
	}
	ask := func(by string) []Choice {
		c, err := WhatIf(t.Context(), open, st, now, id, by)
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	if c := ask(at.AddDate(0, 0, 20).Format(time.DateOnly)); len(c) != 1 || !c[0].Kept || c[0].Way != schedule.AsPlanned || c[0].Cost != 0 {
		t.Errorf("three weeks later it can be ready by %+v", c)
	}
	by := at.AddDate(0, 0, -2).Format(time.DateOnly)
	choices := ask(by)
	ways := map[string]bool{}
	for i, c := range choices {
		ways[c.Way] = true
		if c.Way != schedule.ByParts && c.Kept != (c.P80 <= by) {
			t.Errorf("%s is sure by %s, wished is %s, and is said to keep it: %t", c.Way, c.P80, by, c.Kept)
		}
		if i > 0 && c.Kept && (!choices[i-1].Kept || choices[i-1].Cost > c.Cost) {
			t.Errorf("choice %d, %s, is out of order", i, c.Way)
		}
		if c.Way != schedule.AsPlanned && !c.Kept && c.P80 > sure {
			t.Errorf("%s is ready by %s, later than as planned, %s", c.Way, c.P80, sure)
		}
		for _, e := range c.Others {
			if e.Commission == id || e.From == e.To {
				t.Errorf("%s has the effect %+v", c.Way, e)
			}
		}
		t.Logf("%+v", c)
	}
	for _, w := range []string{schedule.AsPlanned, schedule.ByOvertime} {
		if !ways[w] && !(len(choices) == 1 && choices[0].Kept) {
			t.Errorf("%s is not among the choices", w)
		}
	}
	again := ask(by)
	for i := range choices {
		if choices[i].P80 != again[i].P80 || choices[i].Cost != again[i].Cost || choices[i].Way != again[i].Way {
			t.Errorf("asked again, choice %d is %+v and was %+v", i, again[i], choices[i])
		}
	}
	for want, f := range map[string]func() error{
		"not in the shop plan": func() error { _, err := WhatIf(t.Context(), open, st, now, "C9999", by); return err },
		"not a date":           func() error { _, err := WhatIf(t.Context(), open, st, now, id, "soon"); return err },
	} {
		if err := f(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want an error with %q", err, want)
		}
	}
}

// Evenings follow closing time on open days; there are none on closed days and none in the past.
func TestEvenings(t *testing.T) {
	st := settings.Demo()
	zone, err := time.LoadLocation(st.Calendar.Zone)
	if err != nil {
		t.Fatal(err)
	}
	at := func(day, hour int) time.Time { return time.Date(2026, 12, day, hour, 0, 0, 0, zone) }
	sh := &shop{studio: st, zone: zone, now: at(22, 18)} // a Tuesday, after closing time; the shop closes on the 24th
	got := sh.evenings(at(27, 0))
	if want := (plan.Extra{Date: "2026-12-23", From: 17*60 + 30, To: 19*60 + 30}); len(got) != 1 || got[0] != want {
		t.Errorf("evenings are %+v, want %+v alone", got, want)
	}
	sh.now = at(1, 9)
	if n := len(sh.evenings(at(31, 0))); n != mostEvenings {
		t.Errorf("a month has %d evenings, want %d", n, mostEvenings)
	}
}

// Saturdays are worked from the hour at which the shop opens; there are none that it closes, none in the past, and none where it
// works on Saturdays anyway.
func TestSaturdays(t *testing.T) {
	st := settings.Demo()
	zone, err := time.LoadLocation(st.Calendar.Zone)
	if err != nil {
		t.Fatal(err)
	}
	at := func(day, hour int) time.Time { return time.Date(2026, 12, day, hour, 0, 0, 0, zone) }
	sh := &shop{studio: st, zone: zone, now: at(12, 10)} // a Saturday, after the hour of opening; the shop closes on the 26th
	got := sh.saturdays(at(31, 0))
	if want := (plan.Extra{Date: "2026-12-19", From: 9 * 60, To: 15 * 60}); len(got) != 1 || got[0] != want {
		t.Errorf("Saturdays are %+v, want %+v alone", got, want)
	}
	sh.now = at(1, 9)
	if n := len(sh.saturdays(at(19, 0))); n != 2 {
		t.Errorf("from the 1st to the 18th there are %d Saturdays, want 2", n)
	}
	sh.studio.Calendar.Shifts = append(slices.Clone(st.Calendar.Shifts), plan.Shift{Weekday: time.Saturday, From: 600, To: 900})
	if got := sh.saturdays(at(31, 0)); len(got) > 0 {
		t.Errorf("a shop that works on Saturdays is offered %+v", got)
	}
}

func BenchmarkWhatIf(b *testing.B) {
	open := opened(b, 12)
	st := settings.Demo()
	first, err := Plan(b.Context(), open, st, shopNow, nil)
	if err != nil {
		b.Fatal(err)
	}
	open = promise(take(open, first), first, func(i int) int { return 2 })
	for b.Loop() {
		if _, err := WhatIf(b.Context(), open, st, shopNow, "C0010", "2026-11-17"); err != nil {
			b.Fatal(err)
		}
	}
}
