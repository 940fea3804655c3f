package desk

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/jobs"
	"benchbell/quote"
	"benchbell/quote/plan"
)

// inOrder fails the test unless a text has the parts, in that order.
func inOrder(t *testing.T, text string, parts ...string) {
	t.Helper()
	rest := text
	for _, x := range parts {
		_, after, ok := strings.Cut(rest, x)
		if !ok {
			t.Fatalf("%q is not said, or not in its place: %s", x, text)
		}
		rest = after
	}
}

// TestBenchNearby begins the bench with what waits, names the makers, and leaves out what is planned for a later week.
func TestBenchNearby(t *testing.T) {
	p := newPlay(t)
	p.studio = func() quote.Studio {
		st := testStudio()
		st.Calendar.Shifts = []plan.Shift{}
		for d := time.Monday; d <= time.Friday; d++ {
			st.Calendar.Shifts = append(st.Calendar.Shifts, plan.Shift{Weekday: d, From: 9 * 60, To: 17 * 60})
		}
		st.Resources = []plan.Resource{{ID: "ana", Title: "Ana", Kind: "maker", Capacity: 1}, {ID: "booth", Title: "Booth", Kind: "booth", Capacity: 1}}
		return st
	}
	p.replan = func(_ context.Context, _ quote.Snapshot, _ quote.Quote, _ time.Time, _ []plan.Busy) (plan.Solution, error) {
		var s plan.Solution
		for i := range 12 { // two a day from Thursday 5 November to Tuesday 10 November
			at := time.Date(2026, 11, 5+i/2, 9, 0, 0, 0, time.UTC)
			s.Operations = append(s.Operations, plan.Scheduled{ID: fmt.Sprint("op", i), Title: fmt.Sprint("Cut ", i, " mm foam"), Kind: "cut",
				Start: at, End: at.Add(time.Hour), Resources: []string{"booth", "ana"}})
			s.End = at.Add(time.Hour)
		}
		return s, nil
	}
	p.toQuoted()
	p.ok(p.press(mara, "approve/C0001/1"))
	p.ok(p.press(boss, "deposit/C0001"))
	bench := func() string {
		t.Helper()
		rep, err := p.do(chat.Incoming{Person: boss, Command: "bench"})
		p.ok(err)
		return rep.Text
	}
	// On Monday nothing is planned before Thursday: that day's work is what to begin with.
	text := bench()
	inOrder(t, text, "Could be brought forward", "Cut 0 mm foam, planned Thu 5 Nov 10:00 to 11:00, Ana\n", "Cut 1 mm foam")
	if strings.Contains(text, "Cut 2 mm") || strings.Contains(text, "Booth") {
		t.Errorf("too much is offered: %s", text)
	}
	// On Thursday work of Friday and Monday is near, work of Tuesday is not; of the near work a few operations are named.
	p.wait(3 * 24 * time.Hour)
	text = bench()
	inOrder(t, text, "*Today*", "Cut 0 mm", "Cut 1 mm", "Could be brought forward", "Cut 2 mm", "Cut 3 mm", "Cut 4 mm", "Cut 5 mm", "and 4 more")
	p.wait(2 * time.Hour)
	p.ok(p.press(boss, "start/C0001/1"))
	text = bench()
	inOrder(t, text, "*In hand*", "Cut 0 mm", "*Today*", "Cut 1 mm")
}

// TestBenchWaitsFirst has what cures and what waits stand above what can be begun.
func TestBenchWaitsFirst(t *testing.T) {
	p := newPlay(t)
	p.toQuoted()
	p.ok(p.press(mara, "approve/C0001/1"))
	p.ok(p.press(boss, "deposit/C0001"))
	p.ok(p.press(boss, "done/C0001/1"))
	p.ok(p.press(boss, "done/C0001/2"))
	p.another()
	p.ok(p.press(ivo, "approve/C0002/1"))
	p.ok(p.press(boss, "deposit/C0002"))
	rep, err := p.do(chat.Incoming{Person: boss, Command: "bench"})
	p.ok(err)
	inOrder(t, rep.Text, "*Curing*", "C0001", "*Waiting*", "C0001", "*Today*", "C0002")
}

// TestDateGivenUp tells the client that a change gives up the date that is held, before it is asked for and after.
func TestDateGivenUp(t *testing.T) {
	p := newPlay(t)
	p.toQuoted()
	rep, err := p.do(chat.Incoming{Person: mara, Press: "change/C0001/1"})
	p.ok(err)
	inOrder(t, rep.Text, "gives up the date of this quote, *Mon 23 Nov 2026*")
	p.wait(8 * 24 * time.Hour)
	rep, err = p.do(chat.Incoming{Person: mara, Press: "change/C0001/1"})
	p.ok(err)
	if strings.Contains(rep.Text, "gives up") {
		t.Errorf("a date that is not held is said to be given up: %s", rep.Text)
	}
}

// TestLateDeposit takes a deposit after its last day, and says so.
func TestLateDeposit(t *testing.T) {
	for days, late := range map[int]bool{7: false, 8: true} {
		p := newPlay(t)
		p.toQuoted()
		p.ok(p.press(mara, "approve/C0001/1"))
		p.wait(time.Duration(days) * 24 * time.Hour)
		rep, err := p.do(chat.Incoming{Person: boss, Press: "deposit/C0001"})
		p.ok(err)
		if strings.Contains(rep.Text, "It was due by the end of Mon 9 Nov 2026 and came later.") != late {
			t.Errorf("after %d days: %s", days, rep.Text)
		}
	}
}

// TestDateOfQuoteGone leaves the date out of a quote's post once it does not hold any more.
func TestDateOfQuoteGone(t *testing.T) {
	p := newPlay(t)
	p.toChecking()
	p.ok(p.press(mara, "right/C0001"))
	r := p.q.last()
	q := testQuote(r.Snapshot)
	q.Summary += "\n" + quote.ReadyBy + "*Mon 23 Nov 2026*."
	p.answer(jobs.Answer{ID: r.ID, Attempt: r.Attempt, Kind: jobs.Done, Quote: &q})
	inOrder(t, p.tr.posts["C0001/quote/1"].Text, "EUR 200.00", "Ready by *Mon 23 Nov", "is held until")
	p.wait(8 * 24 * time.Hour)
	text := p.tr.posts["C0001/quote/1"].Text
	inOrder(t, text, "EUR 200.00", "no longer held")
	if strings.Contains(text, "Ready by") {
		t.Errorf("a date that is no longer held is told: %s", text)
	}
	p.wait(8 * 24 * time.Hour)
	text = p.tr.posts["C0001/quote/1"].Text
	inOrder(t, text, "Expired")
	if strings.Contains(text, "Ready by") {
		t.Errorf("the date of an expired quote is told: %s", text)
	}
}

// TestMeasurementsNamedOnce says a measurement's name once, and offers an estimate only where one can be had.
func TestMeasurementsNamedOnce(t *testing.T) {
	for _, x := range []struct{ label, say, want string }{
		{"Front length to the waist", "Front length to the waist of 420 cm cannot be right", "420 cm cannot be right"},
		{"Knee girth, left", "the knee girth cannot be estimated", "cannot be estimated"},
		{"Knee girth", "“x” is not a length", "“x” is not a length"},
	} {
		if got := unnamed(x.label, x.say); got != x.want {
			t.Errorf("%s: %q, want %q", x.label, got, x.want)
		}
	}
	want := func(keys ...string) (all []shop.Wanted) {
		for _, k := range keys {
			all = append(all, shop.Wanted{Measurement: ledger.Measurement{Taken: quote.Taken{Key: k, Value: 400, Deviation: 10}, Known: true}})
		}
		return all
	}
	if estimable(want("knee-girth")) || !estimable(want("knee-girth", "waist-girth")) {
		t.Error("the knee girth alone can be estimated, or nothing beside it")
	}
	a := &answer{words: words{}, limits: chat.Limits{}}
	c := ledger.Commission{ID: "C0001"}
	all := want("knee-girth")
	all[0].Known = false
	rep := sayBody(a, shop.Body{Commission: c, All: append(all, want("waist-girth")...), Problems: []shop.Problem{{What: "Knee girth", Cause: "the knee girth cannot be estimated"}}})
	if len(rep.Buttons) != 2 || strings.Contains(fmt.Sprint(rep.Buttons), "Estimate") {
		t.Errorf("offered: %v", rep.Buttons)
	}
	inOrder(t, rep.Text, "These could not be estimated:", "• Knee girth: cannot be estimated.")
	say := caveats(want("waist-girth", "back-waist-length", "waist-floor-height", "chest-girth"))
	if strings.Count(say, "navel") != 1 || !strings.HasPrefix(say, "Estimates come from a survey of adults") {
		t.Errorf("the caveats are %q", say)
	}
}

// TestOrdersSayDanger marks what is in danger among the studio's orders, and tells no client.
func TestOrdersSayDanger(t *testing.T) {
	p := newPlay(t)
	p.toQuoted()
	p.ok(p.press(mara, "approve/C0001/1"))
	p.ok(p.press(boss, "deposit/C0001"))
	p.ok(p.led.Tx(t.Context(), func(tx *ledger.Tx) error {
		return tx.SetOutlook(ledger.Outlook{Commission: "C0001", Promise: "2026-11-23", Odds: 0.18, Danger: true}, p.now)
	}))
	rep, err := p.do(chat.Incoming{Person: boss, Command: "orders"})
	p.ok(err)
	inOrder(t, rep.Text, "C0001", "Promised for Mon 23 Nov 2026", "*In danger*: kept in 18 of 100 simulated runs.")
	rep, err = p.do(chat.Incoming{Person: mara, Command: "where"})
	p.ok(err)
	if strings.Contains(rep.Text, "danger") {
		t.Errorf("the client reads %s", rep.Text)
	}
}

// TestSetByTitle takes a set by the title that people read, too.
func TestSetByTitle(t *testing.T) {
	p := newPlay(t)
	p.ok(p.command(mara, "commission", "set", "forearm CUFF"))
	inOrder(t, p.tr.posts["C0001/card"].Text, "Forearm cuff: 1 pair")
}
