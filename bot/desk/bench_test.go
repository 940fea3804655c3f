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
	"benchbell/quote/plan"
)

// TestBusyBench has more to do than there is room for buttons: the rest is in a menu.
func TestBusyBench(t *testing.T) {
	p := newPlay(t)
	p.replan = func(_ context.Context, _ quote.Snapshot, _ quote.Quote, from time.Time, _ []plan.Busy) (plan.Solution, error) {
		var s plan.Solution
		for i := range 9 {
			s.Operations = append(s.Operations, plan.Scheduled{ID: fmt.Sprint("op", i), Title: fmt.Sprint("Cut ", i, " mm foam"), Kind: "cut",
				Start: from, End: from.Add(time.Hour)})
		}
		s.End = from.Add(time.Hour)
		return s, nil
	}
	p.toQuoted()
	p.ok(p.press(mara, "approve/C0001/1"))
	p.ok(p.press(boss, "deposit/C0001"))
	rep, err := p.do(chat.Incoming{Person: boss, Command: "bench"})
	p.ok(err)
	if len(rep.Buttons) != inReach || len(rep.Menus) != 1 || len(rep.Menus[0].Options) != 9-inReach {
		t.Fatalf("bench has %d buttons and menus %+v", len(rep.Buttons), rep.Menus)
	}
	last := rep.Menus[0].Options[3].Value
	p.refused(p.pick(mara, "bench", last), "only the studio")
	p.refused(p.pick(boss, "bench", "approve/C0001/1"), "pick one operation")
	p.ok(p.pick(boss, "bench", last))
	p.refused(p.pick(boss, "bench", last), "was started on")
	p.golden()
}

// TestPromisedWorkIsKept hands the planner what earlier commissions have been promised and not yet got.
func TestPromisedWorkIsKept(t *testing.T) {
	p := newPlay(t)
	p.toQuoted()
	p.ok(p.press(mara, "approve/C0001/1"))
	p.ok(p.press(boss, "deposit/C0001"))
	p.ok(p.press(boss, "done/C0001/1"))
	var busy []plan.Busy
	err := p.led.Tx(t.Context(), func(tx *ledger.Tx) (err error) {
		busy, err = tx.Taken("C0002")
		return err
	})
	if err != nil || len(busy) != 3 {
		t.Fatalf("%d stretches are promised, %v; want the 3 operations not done yet", len(busy), err)
	}
	for _, b := range busy {
		if b.Resource != "ana" || b.Label != "C0001" || !b.To.After(b.From) {
			t.Errorf("promised %+v", b)
		}
	}
	// What is left of the shop's time goes to whoever asks next, in the snapshot that the workers get.
	p.ok(p.command(ivo, "commission", "set", "sword"))
	p.ok(p.pick(ivo, "finish/C0002", "plain"))
	p.ok(p.press(ivo, "measure/C0002"))
	p.ok(p.press(ivo, "right/C0002"))
	if s := p.q.last().Snapshot; s.Commission != "C0002" || len(s.Promised) != 3 {
		t.Errorf("the snapshot of %s has %d promised stretches, want 3", s.Commission, len(s.Promised))
	}
}

// TestLateBell rings after the window has closed, as after days without power.
func TestLateBell(t *testing.T) {
	p := newPlay(t)
	p.toQuoted()
	p.ok(p.press(mara, "approve/C0001/1"))
	p.ok(p.press(boss, "deposit/C0001"))
	p.ok(p.press(boss, "done/C0001/1"))
	p.ok(p.press(boss, "done/C0001/2"))
	p.restart()
	p.wait(72 * time.Hour)
	if text := p.tr.posts["told/1/C0001"].Text; !strings.Contains(text, "closed on") {
		t.Errorf("the bell says %q", text)
	}
	rep, err := p.do(chat.Incoming{Person: boss, Press: "start/C0001/3"})
	p.ok(err)
	if !strings.Contains(rep.Text, "key the surface first") {
		t.Errorf("starting outside the window is answered %q", rep.Text)
	}
	p.wait(24 * time.Hour)
	if n := p.tr.times["told/1/C0001"]; n != 1 {
		t.Errorf("the bell rang %d times", n)
	}
}
