package desk

import (
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"benchbell/bot/browser"
	"benchbell/bot/browser/browsertest"
	"benchbell/bot/chat"
	"benchbell/bot/chat/chattest"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/quote"
	"benchbell/quote/floor"
	"benchbell/quote/measure"
	"benchbell/quote/plan"
	"benchbell/quote/settings"
)

// bodySet needs twelve measurements, more than some forms hold.
func bodySet() shop.Set {
	s := shop.Set{Name: "suit", Title: "Suit", Summary: "All of it.", Source: quote.PatternSource{Drawing: "<svg/>", TOML: "suit"}}
	for _, d := range measure.All() {
		if len(s.Measures) < 12 {
			s.Measures = append(s.Measures, d.Key)
		}
	}
	return s
}

// A form asks for as many measurements as the person's transport shows, and the buttons of pages lead to every one; buttons
// posted before still work.
func TestFormsAreAsLongAsTheTransportAllows(t *testing.T) {
	few := chat.Cautious
	few.Buttons, few.Rows, few.InRow, few.Fields = 2, 2, 2, 4
	for what, c := range map[string]struct {
		limits chat.Limits
		page   int
	}{"no limit": {chat.Limits{}, 12}, "five fields": {chat.Cautious, 5}, "two buttons": {few, 4}} {
		p := newPlay(t)
		p.tr.show, p.tr.limits = nil, c.limits
		p.offer(bodySet())
		p.ok(p.command(mara, "commission", "set", "suit"))
		p.ok(p.pick(mara, "finish/C0001", "plain"))
		form := func(in chat.Incoming) []string {
			t.Helper()
			in.Person, in.Thread = mara, "stage:C0001"
			rep, err := p.do(in)
			p.ok(err)
			if err := c.limits.CheckReply(rep); err != nil {
				t.Fatalf("%s: %v", what, err)
			}
			if rep.Form == nil {
				t.Fatalf("%s: %+v opens no form", what, in)
			}
			var keys []string
			for _, f := range rep.Form.Fields {
				keys = append(keys, f.Key)
			}
			return keys
		}
		all := bodySet().Measures
		if got := form(chat.Incoming{Press: "measure/C0001"}); !slices.Equal(got, all[:c.page]) {
			t.Errorf("%s: asked are %v", what, got)
		}
		typed := func(keys []string) (kv []string) {
			for _, k := range keys {
				d, _ := measure.Lookup(k)
				kv = append(kv, k, fmt.Sprintf("%.0f mm", float64(d.Low+d.High)/2))
			}
			return kv
		}
		p.ok(p.form(mara, "rest/C0001", typed(all[:c.page])...))
		for from := c.page; from < len(all); from += c.page {
			rest := form(chat.Incoming{Press: "rest/C0001"})
			if want := all[from:min(from+c.page, len(all))]; !slices.Equal(rest, want) {
				t.Errorf("%s: asked next are %v, want %v", what, rest, want)
			}
			p.ok(p.form(mara, "rest/C0001", typed(rest)...))
		}
		p.want(ledger.Checking)
		var seen []string
		rep, err := p.do(chat.Incoming{Person: mara, Press: "correct/C0001"})
		p.ok(err)
		if err := c.limits.CheckReply(rep); err != nil {
			t.Fatalf("%s: %v", what, err)
		}
		if rep.Form != nil {
			seen = form(chat.Incoming{Press: "correct/C0001"})
		}
		for _, b := range rep.Buttons {
			seen = append(seen, form(chat.Incoming{Press: b.Action})...)
		}
		for _, m := range rep.Menus {
			for _, o := range m.Options {
				seen = append(seen, form(chat.Incoming{Pick: m.Action, Picked: []string{o.Value}})...)
			}
		}
		if !slices.Equal(seen, all) {
			t.Errorf("%s: what can be corrected is %v", what, seen)
		}
		// Posted when forms had five fields; where they have any number, all are asked.
		second := form(chat.Incoming{Press: "correct/C0001/2"})
		if want := all[c.page%len(all):][:min(c.page, len(all))]; !slices.Equal(second, want) {
			t.Errorf("%s: the second page has %v, want %v", what, second, want)
		}
	}
}

// manySets are more than one menu holds on some transports.
func manySets(n int) (all []shop.Set) {
	for i := range n {
		all = append(all, shop.Set{Name: fmt.Sprintf("set-%02d", i), Title: fmt.Sprintf("Set %02d", i), Summary: "A piece of armour with a summary of some length. And more of it.",
			Source: quote.PatternSource{Drawing: "<svg/>", TOML: "set"}})
	}
	return all
}

// Every set can be picked on every transport, in one menu or several, and picking on one page forgets nothing that was picked
// on another, also where the library has grown since the menu was posted.
func TestManySets(t *testing.T) {
	for what, limits := range map[string]chat.Limits{"no limit": {}, "25 options": chat.Cautious} {
		p := newPlay(t)
		p.tr.show, p.tr.limits = nil, limits
		p.offer(manySets(40)...)
		p.ok(p.command(mara, "commission"))
		card := func() chat.Post { return p.tr.posts["C0001/card"] }
		offered := 0
		var pages []chat.Menu
		for _, m := range card().Menus {
			if strings.HasPrefix(m.Action, "sets/") {
				pages = append(pages, m)
				offered += len(m.Options)
			}
		}
		if offered != 40 || limits.Options == 0 && len(pages) != 1 {
			t.Fatalf("%s: %d sets are offered in %d menus", what, offered, len(pages))
		}
		if !strings.Contains(pages[0].Options[0].Note, "And more of it.") {
			t.Errorf("%s: the menu says %q", what, pages[0].Options[0].Note)
		}
		ordered := func() (names []string) {
			t.Helper()
			p.ok(p.led.Tx(t.Context(), func(tx *ledger.Tx) error {
				items, err := tx.Items("C0001")
				for _, it := range items {
					names = append(names, it.Set)
				}
				return err
			}))
			return names
		}
		chosen := func() (names []string) {
			for _, m := range card().Menus {
				if strings.HasPrefix(m.Action, "sets/") {
					names = append(names, m.Chosen()...)
				}
			}
			return names
		}
		want := func(names ...string) {
			t.Helper()
			if got := ordered(); !slices.Equal(got, names) || !slices.Equal(chosen(), names) {
				t.Errorf("%s: ordered is %v, the card shows %v, want %v", what, got, chosen(), names)
			}
		}
		first, last := pages[0].Action, pages[len(pages)-1].Action
		if first == last {
			p.ok(p.pick(mara, first, "set-03", "set-19", "set-39"))
			want("set-03", "set-19", "set-39")
			p.ok(p.pick(mara, first, "set-19"))
			want("set-19")
			continue
		}
		p.ok(p.pick(mara, first, "set-03", "set-19"))
		p.ok(p.pick(mara, last, "set-39", "set-21"))
		want("set-03", "set-19", "set-21", "set-39")
		p.ok(p.pick(mara, last, "set-21"))
		want("set-03", "set-19", "set-21")
		p.ok(p.pick(mara, first)) // nothing of the first page
		want("set-21")
		p.refused(p.pick(mara, last), "at least one")
		p.ok(p.pick(mara, first, "set-19"))

		// The library grows: the pages of the card that is shown are not those it would have now.
		grown := append(manySets(40), shop.Set{Name: "apron", Title: "Apron", Summary: "New.", Source: quote.PatternSource{Drawing: "<svg/>", TOML: "apron"}})
		p.offer(grown...)
		p.ok(p.command(ivo, "commission", "set", "apron"))
		p.ok(p.pick(mara, last, "set-39", "set-20"))
		want("set-19", "set-20", "set-39")
		p.ok(p.pick(mara, "sets/C0001/1", "apron")) // a page without its ends: it only adds
		want("apron", "set-19", "set-20", "set-39")
		p.ok(p.pick(mara, "sets/C0001", "set-01")) // a menu of all
		want("set-01")
	}
}

// A set that was taken out of the library stays with those who have it, and can be taken off.
func TestWithdrawnSetStays(t *testing.T) {
	p := newPlay(t)
	p.tr.show = nil
	studio := settings.Demo()
	p.studio = func() quote.Studio { return studio }
	_, err := p.do(chat.Incoming{Person: boss, Command: "pattern", Files: []chat.File{drawingFile(t)}})
	p.ok(err)
	p.ok(p.press(boss, "shelve/knee-plate/1"))
	p.ok(p.command(mara, "commission", "set", "knee-plate"))
	p.ok(p.command(boss, "pattern", "withdraw", "knee-plate"))
	p.ok(p.pick(mara, "sets/C0001", "knee-plate", "sword"))
	if got := p.tr.posts["C0001/card"].Menus[0].Chosen(); !slices.Equal(got, []string{"knee-plate", "sword"}) {
		t.Errorf("chosen is %v", got)
	}
	p.ok(p.pick(mara, "sets/C0001", "sword"))
	p.refused(p.pick(mara, "sets/C0001", "sword", "knee-plate"), "no pattern set")
}

// atPage is a desk behind the page that people see in a browser.
type atPage struct {
	t *testing.T
	*play
	page *browser.Desk
}

func newPage(t *testing.T) *atPage {
	t.Helper()
	page, err := browser.New(browser.Options{Listen: "127.0.0.1:0", Studio: "Studio"})
	if err != nil {
		t.Fatal(err)
	}
	led, err := ledger.Open(t.Context(), filepath.Join(t.TempDir(), "ledger.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { led.Close() })
	p := &atPage{t: t, page: page, play: &play{t: t, led: led, now: time.Date(2026, 11, 2, 9, 0, 0, 0, time.UTC), cast: newCast(), q: &stageQueue{seen: map[string]bool{}}}}
	if _, err := led.Pages().Secret(t.Context(), shop.RequestTag, []byte("test")); err != nil {
		t.Fatal(err)
	}
	p.d = New(p.cast.open(led, p.q, page, func() time.Time { return p.now }))
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() {
		done <- page.Run(ctx, p.d.Commands(), func(ctx context.Context, in chat.Incoming) (chat.Reply, error) {
			rep, err := p.d.Handle(ctx, in)
			if e := p.d.Tick(ctx); err == nil && e != nil {
				err = e
			}
			return rep, err
		})
	}()
	t.Cleanup(func() {
		cancel()
		if err := <-done; err != nil {
			t.Error(err)
		}
	})
	return p
}

// taken fails the test where an act on the page was refused.
func (p *atPage) taken(a chattest.Answer, err error) chattest.Answer {
	p.t.Helper()
	if err != nil || a.Refused != "" {
		p.t.Fatalf("%+v, %v", a, err)
	}
	return a
}

// What was ticked and not sent goes along with Go on, what was chosen before stays, and one form asks for all.
func TestTicksGoAlongWithGoOn(t *testing.T) {
	p := newPage(t)
	mara, err := browsertest.Client(t.Context(), p.page.URL(), "Mara")
	if err != nil {
		t.Fatal(err)
	}
	a := p.taken(mara.Do(t.Context(), "", "commission", map[string]string{"set": "cuff"}))
	th := a.Thread
	p.taken(mara.Pick(t.Context(), th, "finish/C0001", "plain"))
	mara.Tick("sets/C0001", "cuff", "chest")
	mara.Tick("finish/C0001", "weathered")
	a = p.taken(mara.Press(t.Context(), th, "measure/C0001"))
	if a.Form == nil || len(a.Form.Fields) != 6 {
		t.Fatalf("Go on beside a second set opens %+v", a)
	}
	p.ok(p.led.Tx(t.Context(), func(tx *ledger.Tx) error {
		c, err := tx.Commission("C0001")
		if err != nil {
			return err
		}
		items, err := tx.Items("C0001")
		if c.Finish != "weathered" || len(items) != 2 {
			t.Errorf("ordered is %v in %s", items, c.Finish)
		}
		return err
	}))
	posts, _, err := mara.Posts(t.Context(), th)
	if err != nil {
		t.Fatal(err)
	}
	for _, post := range posts {
		for _, m := range post.Menus {
			if m.Answer && len(m.Chosen()) == 0 {
				t.Errorf("%s shows nothing chosen in %s", post.Key, m.Label)
			}
		}
	}
}

// Every operation that some answer on the page offers can be started from it, the answers before the last one too.
func TestOlderBenchStillWorks(t *testing.T) {
	p := newPage(t)
	p.replan = func(_ context.Context, _ quote.Snapshot, _ quote.Quote, from time.Time, _ []plan.Busy) (plan.Solution, error) {
		var s plan.Solution
		for i := range 12 {
			s.Operations = append(s.Operations, plan.Scheduled{ID: fmt.Sprint("op", i), Title: fmt.Sprint("Cut ", i, " mm foam"), Kind: "cut", Start: from, End: from.Add(time.Hour)})
		}
		return s, nil
	}
	p.plan = func(_ context.Context, _ []floor.Open, _ quote.Studio, now time.Time, _ func(float64)) (floor.Shop, error) {
		return floor.Shop{At: now}, nil
	}
	ctx := t.Context()
	mara, err := browsertest.Client(ctx, p.page.URL(), "Mara")
	if err != nil {
		t.Fatal(err)
	}
	studio, err := browsertest.Studio(ctx, p.page.URL())
	if err != nil {
		t.Fatal(err)
	}
	th := p.taken(mara.Do(ctx, "", "commission", map[string]string{"set": "sword"})).Thread
	p.taken(mara.Pick(ctx, th, "finish/C0001", "plain"))
	p.taken(mara.Press(ctx, th, "measure/C0001"))
	p.taken(mara.Press(ctx, th, "right/C0001"))
	p.compute()
	p.taken(mara.Press(ctx, th, "approve/C0001/1"))
	p.taken(studio.Do(ctx, "", "deposit", map[string]string{"number": "C0001"}))
	older := p.taken(studio.Do(ctx, "", "bench", nil))
	if len(older.Menus) != 1 || len(older.Menus[0].Options) != 12-inReach {
		t.Fatalf("the bench offers %+v", older)
	}
	p.taken(studio.Press(ctx, "", older.Buttons[0].Action)) // another answer, with another menu of that name
	for _, o := range older.Menus[0].Options {
		if a := p.taken(studio.Pick(ctx, "", "bench", o.Value)); !strings.Contains(a.Text, "Started: ") {
			t.Errorf("%s is answered %q", o.Value, a.Text)
		}
	}
}
