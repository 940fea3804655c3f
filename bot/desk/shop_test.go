package desk

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/quote"
	"benchbell/quote/floor"
	"benchbell/quote/plan"
)

// stageShop is a planner that begins what is left after a delay, one operation an hour, and is sure of a date so many
// days after the promise.
type stageShop struct {
	delay time.Duration
	late  int // days after the promise
	soFar int // the same of the plan so far
	calls int
	first map[quote.CommissionID]string // the promise that these count from
}

func (s *stageShop) plan(_ context.Context, open []floor.Open, _ quote.Studio, now time.Time, _ func(float64)) (floor.Shop, error) {
	return s.shop(open, now, s.delay, s.late)
}

// look is the plan so far.
func (s *stageShop) look(_ context.Context, open []floor.Open, _ quote.Studio, now time.Time) (floor.Shop, error) {
	s.calls++
	return s.shop(open, now, 0, s.soFar)
}

// odds of a promise in a plan that is sure of a date.
func odds(sure, promise string) float64 {
	if sure > promise {
		return 0.42
	}
	return 0.9
}

func (s *stageShop) shop(open []floor.Open, now time.Time, delay time.Duration, late int) (floor.Shop, error) {
	out := floor.Shop{At: now}
	for _, o := range open {
		if s.first == nil {
			s.first = map[quote.CommissionID]string{}
		}
		id := o.Snapshot.Commission
		if s.first[id] == "" {
			s.first[id] = o.Promise
		}
		at, err := time.Parse(time.DateOnly, s.first[id])
		if err != nil {
			return out, err
		}
		day := func(n int) string { return at.AddDate(0, 0, n).Format(time.DateOnly) }
		l := floor.Outlook{Commission: o.Snapshot.Commission, Promise: o.Promise, P50: day(late - 1), P80: day(late), P95: day(late + 1),
			Sure: day(late), SureNow: day(s.soFar), P50Now: day(s.soFar - 1), Kept: odds(day(late), o.Promise), KeptNow: odds(day(s.soFar), o.Promise), Danger: day(s.soFar) > o.Promise, Undecided: o.Undecided, Why: "“Base colour” waits 20 h for flexible primer to cure", WhyNow: "“Base colour” waits 20 h for flexible primer to cure"}
		for _, a := range o.Actual {
			if !a.Finished.IsZero() {
				continue
			}
			x := plan.Scheduled{ID: a.Op, Start: a.Start.Add(delay), End: a.End.Add(delay), Resources: []string{"ben"}}
			if delay == 0 {
				x.Resources = a.Resources
			}
			x.Spans = []plan.Span{{From: x.Start, To: x.End}}
			if a.Started.IsZero() && delay != 0 {
				l.Moved++
			}
			l.Left = append(l.Left, x)
		}
		out.Moved += l.Moved
		out.Outlooks = append(out.Outlooks, l)
	}
	return out, nil
}

// toWorking brings a cuff to the bench, with a notice board and a planner.
func (p *play) toWorking(s *stageShop) {
	p.t.Helper()
	p.plan, p.look = s.plan, s.look
	_, err := p.do(chat.Incoming{Person: boss, Command: "studio", Thread: "stage:board"})
	p.ok(err)
	p.toQuoted()
	p.ok(p.press(mara, "approve/C0001/1"))
	p.ok(p.press(boss, "deposit/C0001"))
	p.want(ledger.Working)
}

// A shop with more open than can be planned is told so; its bench goes on.
func TestTooMuchToPlan(t *testing.T) {
	p := newPlay(t)
	s := &stageShop{}
	p.toWorking(s)
	p.plan = func(context.Context, []floor.Open, quote.Studio, time.Time, func(float64)) (floor.Shop, error) {
		return floor.Shop{}, fmt.Errorf("the shop: %w", &plan.TooMany{What: "operations", N: 10400, Most: 10000})
	}
	p.refused(p.command(boss, "plan"), "10400 operations are open, and at most 10000 can be planned together")
	p.ok(p.press(boss, "start/C0001/1"))
	p.ok(p.press(boss, "done/C0001/1"))
	p.wait(time.Minute)
	p.ok(p.command(boss, "bench"))
}

// The studio looks at the shop's plan, makes it anew, once however often the button is pressed, and tells the client.
func TestShopPlan(t *testing.T) {
	p := newPlay(t)
	p.refused(p.command(mara, "plan"), "for the studio")
	s := &stageShop{}
	p.plan, p.look = s.plan, s.look
	p.ok(p.command(boss, "plan"))
	p.toWorking(s)
	p.ok(p.command(boss, "plan"))
	p.refused(p.press(boss, "tell/C0001"), "not in danger")
	p.ok(p.press(boss, "start/C0001/1"))

	s.delay, s.late, s.soFar = 26*time.Hour, 4, 6
	p.ok(p.command(boss, "plan"))
	p.refused(p.press(mara, "replan/0"), "only the studio")
	p.refused(p.press(mara, "tell/C0001"), "only the studio")
	p.refused(p.press(boss, "replan/7"), "changed since")
	p.ok(p.press(boss, "replan/0"))
	p.refused(p.press(boss, "replan/0"), "changed since")
	err := p.led.Tx(t.Context(), func(tx *ledger.Tx) error {
		ops, err := tx.Operations("C0001")
		if err != nil {
			return err
		}
		for i, o := range ops {
			want := "ben"
			if i == 0 { // in hand: stays where it is
				want = "ana"
			}
			if len(o.Resources) != 1 || o.Resources[0] != want {
				t.Errorf("operation %d is with %v, want %s", o.Seq, o.Resources, want)
			}
		}
		return nil
	})
	p.ok(err)
	p.once(boss, "tell/C0001", "cannot be taken back")
	s.late, s.soFar, s.delay = 0, 0, 0
	p.refused(p.press(boss, "tell/C0001"), "not in danger")
	p.ok(p.command(mara, "where"))
	p.ok(p.command(boss, "plan"))
	p.golden()
}

// The same press delivered twice is one change; a press that saw an older bench is refused.
func TestReplanOnce(t *testing.T) {
	p := newPlay(t)
	s := &stageShop{}
	p.toWorking(s)
	s.delay = time.Hour
	press := chat.Incoming{ID: "twice", Person: boss, Press: "replan/0"}
	for range 2 {
		if rep, err := p.do(press); err != nil || !strings.Contains(rep.Text, "new plan") {
			t.Fatalf("%q, %v", rep.Text, err)
		}
	}
	var ops []ledger.Operation
	p.ok(p.led.Tx(t.Context(), func(tx *ledger.Tx) (err error) {
		ops, err = tx.Operations("C0001")
		return err
	}))
	if want := p.now.Add(time.Hour).Truncate(5 * time.Minute); !ops[0].Start.Equal(want) {
		t.Errorf("the first operation begins at %s, want %s", ops[0].Start, want)
	}
	// Between the computation and the transaction somebody starts an operation.
	plain := p.plan
	p.plan = func(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time, f func(float64)) (floor.Shop, error) {
		err := p.led.Tx(ctx, func(tx *ledger.Tx) error {
			o := ops[0]
			o.State, o.StartedAt, o.StartedBy = ledger.Running, now, boss.ID
			return tx.MoveOperation(o)
		})
		if err != nil {
			return floor.Shop{}, err
		}
		return plain(ctx, open, st, now, f)
	}
	p.refused(p.press(boss, "replan/1"), "has just moved on")
}

// A promise that comes into danger is said once on the notice board, each time it does.
func TestDangerNotice(t *testing.T) {
	p := newPlay(t)
	s := &stageShop{}
	p.toWorking(s)
	s.soFar = 2
	p.wait(3 * time.Hour)
	p.ok(p.press(boss, "done/C0001/1")) // two hours late
	s.soFar = -1
	p.ok(p.press(boss, "done/C0001/2")) // a cure begins
	s.late, s.soFar = 3, 3
	p.wait(5 * time.Hour)
	p.ok(p.press(boss, "done/C0001/3"))
	p.restart()
	p.tick()
	p.ok(p.press(boss, "tell/C0001"))
	calls := s.calls
	p.tick()
	if s.calls != calls {
		t.Error("what was looked at is looked at again")
	}
	p.golden()
}

// A notice that a promise is in danger ends with the work: where it is cancelled or finished there is nothing left to do about it.
func TestDangerEnds(t *testing.T) {
	for _, end := range []string{"cancelled", "finished"} {
		p := newPlay(t)
		s := &stageShop{}
		p.toWorking(s)
		s.late, s.soFar = 3, 3
		p.wait(3 * time.Hour)
		p.ok(p.press(boss, "done/C0001/1"))
		p.ok(p.press(boss, "done/C0001/2"))
		note := func() (text string) {
			for k, x := range p.tr.posts {
				if strings.Contains(k, "/note/danger/") {
					text += x.Text
				}
			}
			return text
		}
		if !strings.Contains(note(), "in danger") {
			t.Fatalf("the notice board says %q", note())
		}
		if end == "cancelled" {
			p.ok(p.press(boss, "cancel/C0001/sure"))
		} else {
			for seq := 3; seq <= 4; seq++ {
				p.wait(30 * time.Hour)
				p.ok(p.press(boss, fmt.Sprint("done/C0001/", seq)))
			}
			p.wait(30 * time.Hour)
		}
		if strings.Contains(note(), "in danger") || !strings.Contains(note(), end) {
			t.Errorf("%s: the notice board says %q", end, note())
		}
	}
}

// A planner that fails holds nothing up.
func TestDangerNotLooked(t *testing.T) {
	p := newPlay(t)
	p.toWorking(&stageShop{})
	calls := 0
	p.plan = func(context.Context, []floor.Open, quote.Studio, time.Time, func(float64)) (floor.Shop, error) {
		return floor.Shop{}, fmt.Errorf("no room")
	}
	p.look = func(context.Context, []floor.Open, quote.Studio, time.Time) (floor.Shop, error) {
		calls++
		return floor.Shop{}, fmt.Errorf("no room")
	}
	p.ok(p.press(boss, "done/C0001/1")) // in time and without a cure: nothing to look at
	if calls != 0 {
		t.Errorf("the planner was asked %d times after an operation done in time", calls)
	}
	p.ok(p.press(boss, "done/C0001/2"))
	p.tick()
	if calls != 1 {
		t.Errorf("the planner was asked %d times, want once", calls)
	}
	if _, err := p.do(chat.Incoming{Person: boss, Command: "plan"}); err == nil || !strings.Contains(err.Error(), "no room") {
		t.Errorf("plan is answered with %v", err)
	}
}

// closing is how often it was said that a window closes, and what.
func (p *play) closing() (n int, text string) {
	for k, post := range p.tr.posts {
		if strings.Contains(post.Text, "window of flexible primer closes then") {
			n, text = n+p.tr.times[k], post.Text
		}
	}
	return n, text
}

// The bench is told in time before a recoat window closes, once, also across a restart, and not where the coat is begun.
func TestClosingBell(t *testing.T) {
	for _, begun := range []bool{false, true} {
		p := newPlay(t)
		p.toWorking(&stageShop{})
		p.ok(p.press(boss, "done/C0001/1"))
		p.ok(p.press(boss, "done/C0001/2")) // its window is 24 h
		p.wait(23 * time.Hour)
		if begun {
			p.ok(p.press(boss, "start/C0001/3"))
		}
		if n, _ := p.closing(); n > 0 {
			t.Fatal("told an hour before")
		}
		p.restart()
		p.wait(30 * time.Minute)
		p.wait(10 * time.Minute)
		want := 1
		if begun {
			want = 0
		}
		n, text := p.closing()
		if n != want {
			t.Errorf("told %d times, want %d (begun: %t)", n, want, begun)
		}
		if !begun && text != "*C0001: Second coat of primer · Cuff must be on by 10:00.* The recoat window of flexible primer closes then." {
			t.Errorf("the notice says %q", text)
		}
	}
	// Nobody was there until it was too late: nothing about the time left is said.
	p := newPlay(t)
	p.toWorking(&stageShop{})
	p.ok(p.press(boss, "done/C0001/1"))
	p.ok(p.press(boss, "done/C0001/2"))
	p.wait(72 * time.Hour)
	if n, _ := p.closing(); n != 0 {
		t.Error("a window that is closed is said to close")
	}
}

// A shop of twenty has more to say than a message holds: what is in danger comes first, and every client can be told.
func TestLongPlan(t *testing.T) {
	p := newPlay(t)
	p.toWorking(&stageShop{})
	p.plan = func(_ context.Context, open []floor.Open, _ quote.Studio, now time.Time, _ func(float64)) (floor.Shop, error) {
		out := floor.Shop{At: now, Moved: 1}
		for i := range 20 {
			l := floor.Outlook{Commission: "C0001", Promise: "2026-11-04", P50: "2026-11-04", P80: "2026-11-04", Sure: "2026-11-04", SureNow: "2026-11-04", Kept: 1, KeptNow: 1}
			if l.Danger = i >= 12; l.Danger {
				l.Sure, l.KeptNow, l.WhyNow = "2026-11-06", 0.3, "“Base colour” waits 20 h for flexible primer to cure"
			}
			if i == 19 { // what moves is worth it
				l.Moved = 1
			}
			out.Outlooks = append(out.Outlooks, l)
		}
		return out, nil
	}
	rep, err := p.do(chat.Incoming{Person: boss, Command: "plan"})
	p.ok(err)
	if n := strings.Count(rep.Text, "*In danger*"); n != 8 || chat.Cautious.CheckReply(rep) != nil || !strings.Contains(rep.Text, " more\n") {
		t.Errorf("%d of 8 dangers are said in %d characters:\n%s", n, len([]rune(rep.Text)), rep.Text)
	}
	if len(rep.Buttons) != inReach || len(rep.Menus) != 1 || len(rep.Menus[0].Options) != 8-(inReach-1) {
		t.Fatalf("there are %d buttons and menus %+v", len(rep.Buttons), rep.Menus)
	}
	p.refused(p.pick(mara, "shop", "tell/C0001"), "only the studio")
	p.refused(p.pick(boss, "shop", "replan/0"), "pick one commission")
	p.refused(p.pick(boss, "shop", "tell/C0001"), "not in danger") // as the first of these plans of one commission says
}

// The plan's head says that open quotes have places in it, and how often they come true in the simulated runs.
func TestPlanCountsOpenQuotes(t *testing.T) {
	p := newPlay(t)
	p.toQuoted()
	p.plan = func(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time, _ func(float64)) (floor.Shop, error) {
		return testLook(ctx, open, st, now)
	}
	says := func(want string) {
		t.Helper()
		rep, err := p.do(chat.Incoming{Person: boss, Command: "plan"})
		p.ok(err)
		if !strings.Contains(rep.Text, want) {
			t.Errorf("the plan says %q, want %q", rep.Text, want)
		}
	}
	says("\nThe open quote has its place in this plan as if it were accepted; in the simulated runs it is in about 50 of 100, ")
	p.another()
	says("\nThe 2 open quotes have their places in this plan as if all were accepted; in the simulated runs each is in about 50 of 100, ")
	p.ok(p.press(mara, "approve/C0001/1"))
	says("\nThe open quote has its place in this plan as if it were accepted; in the simulated runs it is in about 66 of 100, ") // one of one was accepted
	p.ok(p.press(ivo, "decline/C0002/1"))
	if rep, err := p.do(chat.Incoming{Person: boss, Command: "plan"}); err != nil || strings.Contains(rep.Text, "open quote") {
		t.Errorf("with none open the plan says %q, %v", rep.Text, err)
	}
}
