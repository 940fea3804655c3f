package desk

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/jobs"
	"benchbell/quote"
	"benchbell/quote/engine"
	"benchbell/quote/floor"
	"benchbell/quote/geom"
	"benchbell/quote/measure"
	"benchbell/quote/pattern"
	"benchbell/quote/settings"
)

// realQuotes has each person order one plain plate, drawn to one size, and quotes it with the real engine at little effort.
func realQuotes(t *testing.T, people ...chat.Person) *play {
	t.Helper()
	p := newPlay(t)
	show := p.tr.show
	p.tr.show = nil
	drawing := drawingFile(t).Data
	spec, _, _, err := pattern.Draft(drawing, "knee-plate")
	if err != nil {
		t.Fatal(err)
	}
	set, err := shop.SetFrom(drawing, spec)
	if err != nil {
		t.Fatal(err)
	}
	studio := settings.Demo()
	studio.Evaluations, studio.Schedules, studio.Runs = 200, 20, 20
	p.offer(set)
	p.studio = func() quote.Studio { return studio }
	p.replan = floor.Place
	for i, who := range people {
		id := fmt.Sprintf("C%04d", i+1)
		p.ok(p.command(who, "commission", "set", set.Name))
		p.ok(p.pick(who, "finish/"+id, "painted"))
		p.ok(p.press(who, "measure/"+id))
		p.ok(p.press(who, "right/"+id))
		r := p.q.last()
		q, err := engine.Compute(t.Context(), r.Snapshot, nil)
		if err != nil {
			t.Fatal(err)
		}
		p.answer(jobs.Answer{ID: r.ID, Attempt: r.Attempt, Kind: jobs.Done, Quote: &q})
	}
	p.out.Reset()
	p.tr.show = show
	return p
}

// Two clients' commissions are cut on one day, an offcut of the rack with them: planned before both are approved, refused
// while an offcut is missing, recorded once, and known afterwards. Another is cut alone and its rest is offered to the rack.
func TestTogether(t *testing.T) {
	p := realQuotes(t, mara, ivo, mara, ivo)
	_, err := p.do(chat.Incoming{Person: boss, Command: "studio", Thread: "stage:board"})
	p.ok(err)
	cutting := func(numbers string) chat.Reply {
		t.Helper()
		rep, err := p.do(chat.Incoming{Person: boss, Command: "cutting", Values: map[string]string{"number": numbers}})
		p.ok(err)
		return rep
	}
	p.refused(p.command(mara, "cutting", "number", "C0001 C0002"), "for the studio")
	p.refused(p.command(boss, "cutting", "number", "C0001 C0009"), "there is no commission")
	p.refused(p.command(mara, "rack"), "for the studio")
	approve := func(who chat.Person, id string) { // its posts are other tests' matter
		t.Helper()
		show, shown := p.tr.show, p.out.String()
		p.tr.show = nil
		p.ok(p.press(who, "approve/"+id+"/1"))
		p.tr.show = show
		p.out.Reset()
		p.out.WriteString(shown + "== " + id + " is approved\n")
	}
	approve(mara, "C0001")
	if rep := cutting("C0001 C0002"); len(rep.Buttons) > 0 || !strings.Contains(rep.Text, "C0002 is not approved yet") {
		t.Errorf("a plan with a commission that is not approved: %s %v", rep.Text, rep.Buttons)
	}
	approve(ivo, "C0002")

	p.ok(p.command(boss, "rack"))
	p.refused(p.command(boss, "rack", "thickness", "5 mm"), "thickness and its size")
	p.refused(p.command(boss, "rack", "thickness", "7 mm", "size", "40 × 30 cm"), "does not work with 7 mm foam")
	p.refused(p.command(boss, "rack", "thickness", "5", "size", "400"), "width × height")
	p.refused(p.command(boss, "rack", "thickness", "5", "size", "wide x 30 cm"), "could not be read")
	p.refused(p.command(boss, "rack", "thickness", "5", "size", "10 x 300"), "is not kept")
	p.ok(p.command(boss, "rack", "thickness", "5", "size", "900 x 500"))
	p.ok(p.command(boss, "rack", "thickness", "2 mm", "size", "50 × 40 cm"))
	p.ok(p.command(boss, "rack", "thickness", "10", "size", "12 1/2 by 10 in"))
	p.refused(p.command(boss, "rack", "throw", "R0009"), "there is no offcut")
	first := cutting("c0002, C0001")
	if len(first.Buttons) != 1 || first.Buttons[0].Action != "cut/D0001" || chat.Cautious.CheckReply(first) != nil {
		t.Fatalf("buttons %v, files %v", first.Buttons, names(first.Files))
	}
	again := cutting("C0001 C0002 C0001")
	if again.Buttons[0].Action != "cut/D0001" || !slices.EqualFunc(first.Files, again.Files, func(a, b chat.File) bool { return bytes.Equal(a.Data, b.Data) }) {
		t.Errorf("the same plan again: %v", again.Buttons)
	}
	p.refused(p.press(mara, "cut/D0001"), "only the studio")
	p.refused(p.press(boss, "cut/D0009"), "no longer")
	asked, err := p.do(chat.Incoming{Person: boss, Command: "rack", Values: map[string]string{"throw": "r0001"}})
	if p.ok(err); !strings.Contains(asked.Text, "cannot be taken back") {
		t.Errorf("before an offcut is thrown away it is said: %q", asked.Text)
	}
	p.ok(p.press(boss, asked.Buttons[0].Action))
	p.refused(p.command(boss, "rack", "throw", "R0001"), "was thrown away")
	p.refused(p.press(boss, "cut/D0001"), "offcut R0001 was thrown away")
	p.ok(p.command(boss, "rack", "thickness", "5", "size", "95 x 50 cm"))
	if rep := cutting("C0001 C0002"); rep.Buttons[0].Action != "cut/D0002" {
		t.Errorf("another rack gives the plan %v", rep.Buttons)
	}
	p.refused(p.press(boss, "cut/D0001"), "no longer")
	approve(mara, "C0003")
	approve(ivo, "C0004")
	if rep := cutting("C0003 C0004"); rep.Buttons[0].Action != "cut/D0003" || !strings.Contains(rep.Text, "R0004") {
		t.Errorf("a second plan with the same offcut: %s %v", rep.Text, rep.Buttons)
	}
	p.ok(p.press(boss, "cut/D0002"))
	p.refused(p.press(boss, "cut/D0003"), "offcut R0004 was used")
	p.ok(p.press(boss, "cut/D0002"))
	p.refused(p.command(boss, "rack", "throw", "R0004"), "was used")
	if rep := cutting("C0001"); !strings.Contains(rep.Text, "with D0002") {
		t.Errorf("alone, after the cutting day: %s", rep.Text)
	}
	if rep := cutting("C0001 C0002"); len(rep.Buttons) > 0 || !strings.Contains(rep.Text, "C0001 was cut on") {
		t.Errorf("cut twice: %s %v", rep.Text, rep.Buttons)
	}

	p.tr.show = nil
	cut := func(id string) chat.Reply {
		t.Helper()
		p.ok(p.press(boss, "deposit/"+id))
		var rep chat.Reply
		for _, seq := range cutOps(p, quote.CommissionID(id)) {
			rep, err = p.do(chat.Incoming{Person: boss, Press: fmt.Sprintf("done/%s/%d", id, seq)})
			p.ok(err)
		}
		return rep
	}
	offered := func(rep chat.Reply) bool {
		return slices.ContainsFunc(rep.Buttons, func(b chat.Button) bool { return strings.HasPrefix(b.Action, "keep/") })
	}
	p.refused(p.press(boss, "keep/C0003/1"), "has left nothing")
	if offered(cut("C0001")) {
		t.Error("the rest of what was cut on a cutting day is offered to the rack again")
	}
	if rep := cut("C0003"); !offered(rep) || chat.Cautious.CheckReply(rep) != nil {
		t.Errorf("the rest is not offered: %v", rep.Buttons)
	}
	p.refused(p.press(boss, fmt.Sprintf("keep/C0001/%d", cutOps(p, "C0001")[0])), "was cut with D0002")
	for range 2 {
		for _, seq := range cutOps(p, "C0003") {
			p.ok(p.press(boss, fmt.Sprintf("keep/C0003/%d", seq)))
		}
	}
	if rep := cutting("C0002 C0003"); !strings.Contains(rep.Text, "of C0003 is done already") {
		t.Errorf("a commission that was cut alone: %s", rep.Text)
	}
	p.ok(p.command(boss, "rack"))
	p.golden()
	p.rackAddsUp()
	if dir := os.Getenv("BENCHBELL_LOOK"); dir != "" {
		for _, f := range first.Files {
			if err := os.WriteFile(filepath.Join(dir, f.Name), f.Data, 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
}

func cutOps(p *play, id quote.CommissionID) []int {
	p.t.Helper()
	var out []int
	err := p.led.Tx(p.t.Context(), func(t *ledger.Tx) error {
		ops, err := t.Operations(id)
		for _, o := range ops {
			if o.Kind == shop.CutKind {
				out = append(out, o.Seq)
			}
		}
		return err
	})
	if err != nil || len(out) == 0 {
		p.t.Fatalf("%s has no cutting operation: %v", id, err)
	}
	return out
}

// rackAddsUp checks the ledger: what a cutting day used is off the rack because of it, what remained of it is on it or was.
func (p *play) rackAddsUp() {
	p.t.Helper()
	err := p.led.Tx(p.t.Context(), func(t *ledger.Tx) error {
		day, err := t.CuttingOf("C0001")
		if err != nil {
			return err
		}
		for _, id := range day.Used {
			if o, err := t.Offcut(id); err != nil || o.State != ledger.Used || o.UsedIn != day.ID {
				p.t.Errorf("%s used %s, which is %s in %q (%v)", day.ID, id, o.State, o.UsedIn, err)
			}
		}
		left, err := t.RackedFrom(day.ID)
		if err != nil || len(left) != len(day.Rests) {
			p.t.Errorf("%s left %d offcuts, %d came to the rack (%v)", day.ID, len(day.Rests), len(left), err)
		}
		for _, k := range day.Commissions {
			events, err := t.Events(k.ID)
			n := 0
			for _, e := range events {
				if e.What == "cut together" {
					n++
				}
			}
			if err != nil || n != 1 {
				p.t.Errorf("%s has %d events of %s (%v)", k.ID, n, day.ID, err)
			}
		}
		return nil
	})
	if err != nil {
		p.t.Fatal(err)
	}
}

func TestParseSize(t *testing.T) {
	const in = 25.4
	for text, want := range map[string][2]geom.MM{
		"400 × 300 mm": {400, 300}, "400x300": {400, 300}, "40 x 30 cm": {400, 300}, "40 cm * 300 mm": {400, 300},
		"12 1/2 by 10 in": {12.5 * in, 10 * in}, "1 m x 50 cm": {1000, 500}, "20X10 inches": {20 * in, 10 * in}, `20 x 10"`: {20 * in, 10 * in},
	} {
		w, h, err := parseSize(text)
		if err != nil || max(w-want[0], want[0]-w, h-want[1], want[1]-h) > 1e-9 {
			t.Errorf("%q is %v × %v (%v), want %v", text, w, h, err, want)
		}
	}
	for _, text := range []string{"", "400", "1 x 2 x 3", "a x b", "10 x", "x 10 mm", "-5 x 10 mm"} {
		if w, h, err := parseSize(text); err == nil {
			t.Errorf("%q is %v × %v", text, w, h)
		}
	}
}

// Whatever is typed as a size, two lengths above zero come out, or a refusal.
func FuzzParseSize(f *testing.F) {
	for _, s := range []string{"400 × 300 mm", "12 1/2 by 10 in", "1 m x", "×", "5 x 5 x 5"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		w, h, err := parseSize(text)
		if err == nil && (!(w > 0) || !(h > 0)) {
			t.Errorf("%q is %v × %v", text, w, h)
		}
		if err == nil {
			if _, err := measure.Parse(fmt.Sprintf("%g mm", float64(w)), measure.NoUnit); err != nil && float64(w) >= 1e-3 {
				t.Errorf("%q has a width of %v, which is no length", text, w)
			}
		}
	})
}
