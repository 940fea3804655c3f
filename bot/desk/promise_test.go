package desk

import (
	"context"
	"slices"
	"strings"
	"testing"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/jobs"
	"benchbell/quote"
	"benchbell/quote/floor"
	"benchbell/quote/plan"
	"benchbell/quote/price"
)

func (p *play) standing(id quote.CommissionID) ledger.Promise {
	p.t.Helper()
	var x ledger.Promise
	p.ok(p.led.Tx(p.t.Context(), func(t *ledger.Tx) (err error) {
		x, err = t.StandingPromise(id)
		return err
	}))
	return x
}

// another has a sword quoted to Ivo, C0002, which is another maker's work than the first commission.
func (p *play) another() {
	p.t.Helper()
	p.ok(p.command(ivo, "commission", "set", "sword"))
	p.ok(p.pick(ivo, "finish/C0002", "plain"))
	p.ok(p.press(ivo, "measure/C0002"))
	p.ok(p.press(ivo, "right/C0002"))
	r := p.q.last()
	q := testQuote(r.Snapshot)
	for i := range q.Plan.Operations {
		q.Plan.Operations[i].Resources = []string{"ben"}
	}
	p.answer(jobs.Answer{ID: r.ID, Attempt: r.Attempt, Kind: jobs.Done, Quote: &q})
}

// A date is held for the days that the quote says; approved within them it stays. After them the thread says so, and approving
// shows the date as it is then, before anything is agreed.
func TestDateHeld(t *testing.T) {
	p := newPlay(t)
	p.toQuoted()
	p.wait(7*24*time.Hour - time.Minute)
	p.ok(p.press(mara, "approve/C0001/1"))
	if x := p.standing("C0001"); x.Date != "2026-11-23" || x.State != ledger.Given {
		t.Errorf("approved while it was held, the date is %+v", x)
	}

	p = newPlay(t)
	p.toQuoted()
	p.replan = func(ctx context.Context, s quote.Snapshot, q quote.Quote, from time.Time, busy []plan.Busy) (plan.Solution, error) {
		sol, err := testReplan(ctx, s, q, from, busy)
		sol.P80 = sol.P80.AddDate(0, 0, 20)
		return sol, err
	}
	p.wait(7 * 24 * time.Hour)
	p.ok(p.press(mara, "approve/C0001/1")) // answered with the date
	p.want(ledger.Quoted)
	p.ok(p.press(mara, "approve/C0001/1/2026-11-24")) // an older date than shown
	p.want(ledger.Quoted)
	p.ok(p.press(mara, "approve/C0001/1/2026-12-01"))
	p.want(ledger.Approved)
	if x := p.standing("C0001"); x.Date != "2026-12-01" || x.Odds != 0.9 || x.ToldBy != mara.ID {
		t.Errorf("the promise is %+v", x)
	}
	p.ok(p.press(boss, "deposit/C0001"))
	if x := p.standing("C0001"); x.Date != "2026-12-01" {
		t.Errorf("the deposit moved the date to %s", x.Date)
	}
	p.golden()
}

// A deposit that would put another promise in danger shows that first, with what would keep it and the date to ask for; nothing
// is changed before somebody decides.
func TestDepositThatHurts(t *testing.T) {
	p := newPlay(t)
	_, err := p.do(chat.Incoming{Person: boss, Command: "studio", Thread: "stage:board"})
	p.ok(err)
	p.studio = func() quote.Studio {
		st := testStudio()
		st.Prices.Currency = "EUR"
		return st
	}
	p.toQuoted()
	// The shop is full once C0001 is begun: an offer to Ivo suffers.
	p.look = func(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time) (floor.Shop, error) {
		s, err := testLook(ctx, open, st, now)
		full := false
		for _, o := range open {
			full = full || o.Snapshot.Commission == "C0001" && o.Until.IsZero()
		}
		for i := range s.Outlooks {
			if l := &s.Outlooks[i]; l.Commission == "C0002" && full {
				l.Kept, l.KeptNow, l.Danger, l.Sure, l.SureNow = 0.31, 0.31, true, "2026-12-04", "2026-12-04"
			}
		}
		return s, err
	}
	p.plan = func(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time, _ func(float64)) (floor.Shop, error) {
		return p.look(ctx, open, st, now)
	}
	p.whatIf = func(_ context.Context, _ []floor.Open, _ quote.Studio, _ time.Time, id quote.CommissionID, by string) ([]floor.Choice, error) {
		if id != "C0002" || by != "2026-11-23" {
			t.Errorf("ways are sought to have %s by %s", id, by)
		}
		return []floor.Choice{{Way: "as planned", P80: "2026-12-04"}, {Way: "overtime", Name: "3 evenings", Kept: true, Cost: price.Money(22050), Full: price.Money(22050), P80: "2026-11-23"}}, nil
	}
	p.another()
	p.ok(p.press(mara, "approve/C0001/1"))
	rep, err := p.do(chat.Incoming{Person: boss, Press: "deposit/C0001"})
	p.ok(err)
	p.want(ledger.Approved)
	for _, part := range []string{"Nothing has changed yet", "C0002 · Ivo", "31 of 100", "instead of 90", "Fri 4 Dec could be kept", "EUR 220.50"} {
		if !strings.Contains(rep.Text, part) {
			t.Errorf("%q is not said: %s", part, rep.Text)
		}
	}
	p.ok(p.press(boss, "deposit/C0001/00000000")) // of something else that was shown
	p.want(ledger.Approved)
	p.ok(p.press(boss, rep.Buttons[0].Action))
	p.want(ledger.Working)
	p.golden()
}

// A deposit that would put the commission's own date in danger, too, names that first.
func TestDepositThatHurtsItsOwn(t *testing.T) {
	p := newPlay(t)
	p.toQuoted()
	p.another()
	p.look = func(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time) (floor.Shop, error) {
		s, err := testLook(ctx, open, st, now)
		full := slices.ContainsFunc(open, func(o floor.Open) bool { return o.Snapshot.Commission == "C0002" && o.Until.IsZero() })
		for i := range s.Outlooks {
			if l := &s.Outlooks[i]; full {
				l.Kept, l.KeptNow, l.Danger, l.Sure, l.SureNow = 0.31, 0.31, true, "2026-12-04", "2026-12-04"
			}
		}
		return s, err
	}
	p.plan = func(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time, _ func(float64)) (floor.Shop, error) {
		return p.look(ctx, open, st, now)
	}
	p.whatIf = func(context.Context, []floor.Open, quote.Studio, time.Time, quote.CommissionID, string) ([]floor.Choice, error) {
		return nil, nil
	}
	p.ok(p.press(ivo, "approve/C0002/1"))
	rep, err := p.do(chat.Incoming{Person: boss, Press: "deposit/C0002"})
	p.ok(err)
	own, other := strings.Index(rep.Text, "• C0002"), strings.Index(rep.Text, "• C0001")
	if !strings.Contains(rep.Text, "With the work on C0002 begun, its own date and another promise would be in danger:") || own < 0 || other < own {
		t.Errorf("it is said: %s", rep.Text)
	}
	if rep, err = p.do(chat.Incoming{Person: boss, Press: rep.Buttons[0].Action}); err != nil || !strings.Contains(rep.Text, "In danger because of it: C0002 itself, C0001") {
		t.Errorf("done, it is said: %q, %v", rep.Text, err)
	}
}

// Work begun ahead of its place in the plan asks first where that puts a promise in danger.
func TestStartThatHurts(t *testing.T) {
	p := newPlay(t)
	p.toQuoted()
	p.another()
	p.ok(p.press(mara, "approve/C0001/1"))
	p.ok(p.press(boss, "deposit/C0001"))
	p.ok(p.press(boss, "done/C0001/1"))
	p.look = func(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time) (floor.Shop, error) {
		s, err := testLook(ctx, open, st, now)
		begun := slices.ContainsFunc(open, func(o floor.Open) bool {
			return slices.ContainsFunc(o.Actual, func(a floor.Actual) bool { return a.Op == "p1" && !a.Started.IsZero() })
		})
		for i := range s.Outlooks {
			if l := &s.Outlooks[i]; begun && l.Commission == "C0002" {
				l.Kept, l.KeptNow, l.Danger, l.Sure, l.SureNow = 0.31, 0.31, true, "2026-12-04", "2026-12-04"
			}
		}
		return s, err
	}
	rep, err := p.do(chat.Incoming{Person: boss, Press: "start/C0001/2"})
	p.ok(err)
	if len(rep.Buttons) != 1 || !strings.Contains(rep.Text, "With “First coat of primer · Cuff” of C0001 begun now, a promise would be in danger:") || !strings.Contains(rep.Text, "• C0002 · Ivo") {
		t.Fatalf("it is said: %q", rep.Text)
	}
	if rep, err = p.do(chat.Incoming{Person: boss, Press: rep.Buttons[0].Action}); err != nil || !strings.Contains(rep.Text, "Started: C0001, First coat of primer") {
		t.Errorf("all the same, it is said: %q, %v", rep.Text, err)
	}
}

// A deposit that has not come by its last day is told to the studio, once, and taken back once it is there or is not wanted any more.
func TestDepositOverdue(t *testing.T) {
	for _, end := range []struct{ press, reads string }{{"deposit/C0001", "the deposit came after the end of Mon 9 Nov 2026"}, {"cancel/C0001", "the deposit did not come; the commission is cancelled"}} {
		p := newPlay(t)
		_, err := p.do(chat.Incoming{Person: boss, Command: "studio", Thread: "stage:board"})
		p.ok(err)
		p.toQuoted()
		p.ok(p.press(mara, "approve/C0001/1"))
		const key = "C0001/note/overdue/stage"
		p.now = time.Date(2026, 11, 9, 22, 59, 0, 0, time.UTC) // a minute before the end of the day in the shop
		p.tick()
		if n := p.tr.times[key]; n != 0 {
			t.Errorf("before its last day is over the studio reads %q", p.tr.posts[key].Text)
		}
		p.wait(time.Minute)
		p.restart()
		p.wait(24 * time.Hour)
		if n, post := p.tr.times[key], p.tr.posts[key]; n != 1 || len(post.Buttons) != 1 || !strings.Contains(post.Text, "the deposit, EUR 100.00, was due by the end of Mon 9 Nov 2026 and has not come") {
			t.Errorf("the studio is told %d times: %q", n, post.Text)
		}
		p.ok(p.press(boss, end.press))
		if post := p.tr.posts[key]; !strings.Contains(post.Text, end.reads) || len(post.Buttons) > 0 {
			t.Errorf("after %s the studio reads %q", end.press, post.Text)
		}
	}
}

// What a deposit does is told against the shop before the client approved: nobody was asked then.
func TestApprovalThatHurts(t *testing.T) {
	p := newPlay(t)
	_, err := p.do(chat.Incoming{Person: boss, Command: "studio", Thread: "stage:board"})
	p.ok(err)
	p.toQuoted()
	p.look = func(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time) (floor.Shop, error) {
		s, err := testLook(ctx, open, st, now)
		full := slices.ContainsFunc(open, func(o floor.Open) bool { return o.Snapshot.Commission == "C0001" && !o.Undecided })
		for i := range s.Outlooks {
			if l := &s.Outlooks[i]; l.Commission == "C0002" && full {
				l.Kept, l.KeptNow, l.Danger, l.Sure, l.SureNow = 0.31, 0.31, true, "2026-12-04", "2026-12-04"
			}
		}
		return s, err
	}
	p.plan = func(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time, _ func(float64)) (floor.Shop, error) {
		return p.look(ctx, open, st, now)
	}
	p.another()
	p.ok(p.press(mara, "approve/C0001/1"))
	rep, err := p.do(chat.Incoming{Person: boss, Press: "deposit/C0001"})
	p.ok(err)
	p.want(ledger.Approved)
	for _, part := range []string{"Nothing has changed yet", "C0002 · Ivo", "31 of 100", "instead of 90"} {
		if !strings.Contains(rep.Text, part) {
			t.Errorf("%q is not said: %s", part, rep.Text)
		}
	}
}

// Quotes that are worked out side by side do not take the same hours: what comes second is worked out again around what came
// first.
func TestQuotesSideBySide(t *testing.T) {
	p := newPlay(t)
	p.toChecking()
	p.ok(p.command(ivo, "commission", "set", "sword"))
	p.ok(p.pick(ivo, "finish/C0002", "plain"))
	p.ok(p.press(ivo, "measure/C0002"))
	p.ok(p.press(mara, "right/C0001"))
	p.ok(p.press(ivo, "right/C0002"))
	sent := len(p.q.sent)
	if sent != 2 {
		t.Fatalf("%d requests were sent", sent)
	}
	first, second := p.q.sent[0], p.q.sent[1]
	for _, r := range []jobs.Request{first, second} {
		q := testQuote(r.Snapshot)
		p.answer(jobs.Answer{ID: r.ID, Attempt: r.Attempt, Kind: jobs.Done, Quote: &q})
	}
	if len(p.q.sent) != 3 {
		t.Fatalf("the quote that crossed another was not asked for again: %d requests", len(p.q.sent))
	}
	again := p.q.last()
	if again.ID == second.ID || again.Snapshot.Commission != "C0002" || len(again.Snapshot.Promised) == 0 || !again.Snapshot.Promised[0].Open || again.Snapshot.Promised[0].Label != "C0001" {
		t.Fatalf("asked again was %s, around %+v", again.ID, again.Snapshot.Promised)
	}
	// The earlier answer delivered once more changes nothing.
	late := testQuote(second.Snapshot)
	p.answer(jobs.Answer{ID: second.ID, Attempt: second.Attempt, Kind: jobs.Done, Quote: &late})
	q := testQuote(again.Snapshot)
	for i := range q.Plan.Operations {
		o := &q.Plan.Operations[i]
		o.Start, o.End = o.Start.Add(72*time.Hour), o.End.Add(72*time.Hour)
		o.Spans = []plan.Span{{From: o.Start, To: o.End}}
	}
	p.answer(jobs.Answer{ID: again.ID, Attempt: again.Attempt, Kind: jobs.Done, Quote: &q})
	if len(p.q.sent) != 3 {
		t.Errorf("a quote that crosses nothing was asked for again")
	}
	if x := p.standing("C0002"); x.State != ledger.Offered || x.HeldUntil.IsZero() {
		t.Errorf("the offer is %+v", x)
	}
}

// Money that came is confirmed also where more is open than can be planned together.
func TestDepositInAFullShop(t *testing.T) {
	p := newPlay(t)
	p.toQuoted()
	p.ok(p.press(mara, "approve/C0001/1"))
	p.look = func(context.Context, []floor.Open, quote.Studio, time.Time) (floor.Shop, error) {
		return floor.Shop{}, &plan.TooMany{What: "operations", N: 10400, Most: 10000}
	}
	p.ok(p.press(boss, "deposit/C0001"))
	p.want(ledger.Working)
	if x := p.standing("C0001"); x.Date != "2026-11-23" {
		t.Errorf("the deposit moved the date to %s", x.Date)
	}
	rep, err := p.do(chat.Incoming{Person: boss, Command: "bench"})
	p.ok(err)
	if !strings.Contains(rep.Text, "Cut 5 mm foam") {
		t.Errorf("the bench shows %q", rep.Text)
	}
}

// A deposit that hurts nobody leaves everybody else's work where it is planned, also what is late and will be pushed back.
func TestDepositLeavesOthers(t *testing.T) {
	p := newPlay(t)
	p.toQuoted()
	p.another()
	ops := func() (out []ledger.Operation) {
		p.ok(p.led.Tx(t.Context(), func(tx *ledger.Tx) (err error) {
			out, err = tx.Operations("C0002")
			return err
		}))
		return out
	}
	before := ops()
	p.look = func(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time) (floor.Shop, error) {
		s, err := testLook(ctx, open, st, now)
		for i := range s.Outlooks {
			if s.Outlooks[i].Commission != "C0002" {
				continue
			}
			for k := range s.Outlooks[i].Left {
				x := &s.Outlooks[i].Left[k]
				x.Start, x.End = x.Start.Add(time.Hour), x.End.Add(time.Hour)
				s.Outlooks[i].Moved++
			}
		}
		return s, err
	}
	p.ok(p.press(mara, "approve/C0001/1"))
	rep, err := p.do(chat.Incoming{Person: boss, Press: "deposit/C0001"})
	p.ok(err)
	for i, o := range ops() {
		if !o.Start.Equal(before[i].Start) {
			t.Errorf("operation %d of C0002 moves from %s to %s by the deposit for C0001", o.Seq, before[i].Start, o.Start)
		}
	}
	if strings.Contains(rep.Text, "move") || len(before) == 0 {
		t.Errorf("with %d operations of others planned, it is said: %s", len(before), rep.Text)
	}
}

// A maker's absence that would put a promise in danger shows that first; done all the same, the board is told once, the bench says
// who is not there, and coming back is told too.
func TestAway(t *testing.T) {
	p := newPlay(t)
	_, err := p.do(chat.Incoming{Person: boss, Command: "studio", Thread: "stage:board"})
	p.ok(err)
	p.studio = func() quote.Studio {
		st := testStudio()
		st.Resources = []plan.Resource{{ID: "ana", Title: "Ana", Kind: "maker", Capacity: 1}}
		return st
	}
	p.toQuoted()
	p.ok(p.press(mara, "approve/C0001/1"))
	p.ok(p.press(boss, "deposit/C0001"))
	p.look = func(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time) (floor.Shop, error) {
		s, err := testLook(ctx, open, st, now)
		for i := range s.Outlooks {
			if l := &s.Outlooks[i]; len(st.Away) > 0 {
				l.Kept, l.KeptNow, l.Danger, l.Sure, l.SureNow, l.WhyNow = 0.12, 0.12, true, "2026-12-04", "2026-12-04", "“Primer” waits 10 days for Ana"
			}
		}
		return s, err
	}
	p.plan = func(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time, _ func(float64)) (floor.Shop, error) {
		return p.look(ctx, open, st, now)
	}
	p.whatIf = func(context.Context, []floor.Open, quote.Studio, time.Time, quote.CommissionID, string) ([]floor.Choice, error) {
		return nil, nil
	}
	p.refused(p.command(boss, "away"), "say who is away: Ana")
	p.refused(p.command(boss, "away", "maker", "Nobody"), "no maker is called")
	p.refused(p.command(boss, "away", "maker", "ana", "until", "yesterday"), "is not a day")
	p.refused(p.command(boss, "away", "maker", "ana", "from", "20 November", "until", "6 November"), "is before the first")
	p.refused(p.command(boss, "back", "maker", "ana"), "is not away")
	rep, err := p.do(chat.Incoming{Person: boss, Command: "away", Values: map[string]string{"maker": "ana", "until": "20 November"}})
	p.ok(err)
	for _, part := range []string{"Nothing has changed yet", "Without Ana from Mon 2 Nov until Fri 20 Nov", "12 of 100", "instead of 90", "Fri 4 Dec could be kept"} {
		if !strings.Contains(rep.Text, part) {
			t.Errorf("%q is not said: %s", part, rep.Text)
		}
	}
	p.ok(p.press(boss, rep.Buttons[0].Action))
	p.tick()
	p.ok(p.command(boss, "bench"))
	p.ok(p.command(boss, "back", "maker", "ana"))
	p.tick()
	p.ok(p.command(boss, "bench"))
	p.golden()
}
