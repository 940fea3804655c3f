package desk

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/jobs"
	"benchbell/quote"
	"benchbell/quote/engine"
	"benchbell/quote/floor"
	"benchbell/quote/settings"
)

// realPlay is a play on the built-in library and the demo studio, with the program's own quotes and plans, in which a commission is
// quoted.
func realPlay(t *testing.T) *play {
	t.Helper()
	p := newPlay(t)
	p.tr.show = nil
	lib, err := shop.Library()
	if err != nil {
		t.Fatal(err)
	}
	p.offer(lib...)
	studio := settings.Demo()
	studio.Evaluations, studio.Schedules, studio.Runs = 200, 20, 100 // a small budget: what is tested is the work's order
	p.studio = func() quote.Studio { return studio }
	p.replan, p.plan, p.look = floor.Place, floor.Plan, floor.Look
	p.ok(p.command(mara, "commission", "set", lib[0].Name))
	_, err = p.do(chat.Incoming{Person: boss, Command: "studio", Thread: "stage:board"})
	p.ok(err)
	finish := studio.Finishes[len(studio.Finishes)-1].Key
	if f := lib[0].Finishes; len(f) > 0 {
		finish = f[len(f)-1]
	}
	p.ok(p.pick(mara, "finish/C0001", finish))
	p.ok(p.press(mara, "measure/C0001"))
	set, err := baseOf(lib[0])
	if err != nil {
		t.Fatal(err)
	}
	var kv []string
	for _, k := range lib[0].Measures {
		kv = append(kv, k, fmt.Sprintf("%.0f mm", float64(set[k])))
	}
	for i := 0; i < len(kv); i += 2 * chat.Cautious.Fields {
		p.ok(p.form(mara, "rest/C0001", kv[i:min(i+2*chat.Cautious.Fields, len(kv))]...))
	}
	p.ok(p.press(mara, "right/C0001"))
	r := p.q.last()
	q, err := engine.Compute(t.Context(), r.Snapshot, func(quote.Step) {})
	if err != nil {
		t.Fatal(err)
	}
	p.answer(jobs.Answer{ID: r.ID, Attempt: r.Attempt, Kind: jobs.Done, Quote: &q})
	p.want(ledger.Quoted)
	return p
}

// TestRealQuote runs a commission on the built-in library and the demo studio with the real engine, to the end of its
// work: every operation of the real plan can be done, in an order that the desk allows, and paint is announced.
func TestRealQuote(t *testing.T) {
	p := realPlay(t)
	t.Log(p.tr.posts["C0001/quote/1"].Text)
	p.refused(p.command(mara, "cutting", "number", "C0001"), "for the studio")
	p.refused(p.command(boss, "cutting", "number", "C0001", "paper", "napkin"), "there is no paper")
	rep, err := p.do(chat.Incoming{Person: boss, Command: "cutting", Values: map[string]string{"number": "C0001", "paper": "a3"}})
	p.ok(err)
	if got := strings.Join(names(rep.Files), " "); got != "C0001-r1-pattern-a3.pdf C0001-r1-cut-files.zip" || !strings.Contains(rep.Text, "not approved yet") {
		t.Errorf("cutting gives %s: %s", got, rep.Text)
	}
	again, err := p.do(chat.Incoming{Person: boss, Command: "cutting", Thread: "stage:C0001", Values: map[string]string{"paper": "A3"}})
	p.ok(err)
	for i := range again.Files {
		if !bytes.Equal(again.Files[i].Data, rep.Files[i].Data) {
			t.Errorf("%s is not the same the second time", again.Files[i].Name)
		}
	}
	p.ok(p.press(mara, "approve/C0001/1"))
	p.ok(p.press(boss, "deposit/C0001"))
	p.want(ledger.Working)
	rep, err = p.do(chat.Incoming{Person: boss, Command: "plan"})
	p.ok(err)
	if !strings.Contains(rep.Text, "promised") || len(rep.Files) == 0 {
		t.Errorf("the shop's plan has %d pictures and says %q", len(rep.Files), rep.Text)
	}
	p.wait(30 * time.Hour) // nobody comes: what was to begin begins later
	rep, err = p.do(chat.Incoming{Person: boss, Command: "plan"})
	p.ok(err)
	p.ok(p.press(boss, "replan/0"))
	rep, err = p.do(chat.Incoming{Person: boss, Command: "plan"})
	p.ok(err)
	if !strings.Contains(rep.Text, "nothing moves") {
		t.Errorf("planned anew and asked again, the plan says %q", rep.Text)
	}
	t.Log(rep.Text)
	for range 2000 {
		if p.state() != ledger.Working {
			break
		}
		rep, err := p.do(chat.Incoming{Person: boss, Command: "bench"})
		p.ok(err)
		if len(rep.Buttons) == 0 {
			p.wait(30 * time.Minute)
			continue
		}
		p.ok(p.press(boss, rep.Buttons[0].Action))
	}
	p.want(ledger.Ready)
	paint := 0
	for k, m := range p.tr.posts {
		if strings.HasPrefix(k, "told/") {
			t.Log(m.Text)
			if strings.Contains(m.Text, "ready for paint: ") {
				paint++
			}
		}
	}
	if paint == 0 {
		t.Error("nobody was told that something is ready for paint")
	}
}
