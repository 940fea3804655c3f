package desk

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/jobs"
	"benchbell/quote"
	"benchbell/quote/floor"
	"benchbell/quote/plan"
)

// follows is which state may come after which in one act or one tick.
var follows = map[ledger.State][]ledger.State{
	ledger.Choosing:  {ledger.Measuring, ledger.Checking, ledger.Cancelled},
	ledger.Measuring: {ledger.Choosing, ledger.Checking, ledger.Cancelled},
	ledger.Checking:  {ledger.Choosing, ledger.Measuring, ledger.Computing, ledger.Cancelled},
	ledger.Computing: {ledger.Quoted, ledger.Failed, ledger.Cancelled},
	ledger.Failed:    {ledger.Computing, ledger.Measuring, ledger.Checking, ledger.Cancelled},
	ledger.Quoted:    {ledger.Approved, ledger.Declined, ledger.Computing, ledger.Measuring, ledger.Checking, ledger.Expired, ledger.Cancelled},
	ledger.Expired:   {ledger.Computing, ledger.Measuring, ledger.Checking, ledger.Declined, ledger.Cancelled},
	ledger.Approved:  {ledger.Working, ledger.Cancelled},
	ledger.Working:   {ledger.Ready, ledger.Cancelled},
	ledger.Ready:     {ledger.Delivered},
}

// TestRandomActs lets three people do anything in any order, with the clock jumping and answers coming late, doubled
// or never, and holds the ledger against what must always hold.
func TestRandomActs(t *testing.T) {
	dir := t.TempDir()
	if mem, err := os.MkdirTemp("/dev/shm", "ledger"); err == nil { // syncing to a disk is not what is tested here
		dir = mem
		t.Cleanup(func() { os.RemoveAll(mem) })
	}
	runs, told := 0, map[string]int{}
	rapid.Check(t, func(rt *rapid.T) {
		if runs++; runs > plays {
			return
		}
		path := filepath.Join(dir, fmt.Sprintf("%d.db", runs))
		led, err := ledger.Open(context.Background(), path)
		if err != nil {
			rt.Fatal(err)
		}
		defer func() { led.Close() }()
		r := &random{rt: rt, told: told, led: led, now: time.Date(2026, 11, 2, 9, 0, 0, 0, time.UTC), q: &stageQueue{seen: map[string]bool{}},
			states: map[quote.CommissionID]ledger.State{}, approvals: map[quote.CommissionID]ledger.Approval{}, late: map[quote.CommissionID]string{},
			tr: &stageTransport{threads: map[string]chat.ThreadID{}, posts: map[string]chat.Post{}, times: map[string]int{}, fail: errors.New("down"),
				limits: rapid.SampledFrom([]chat.Limits{chat.Cautious, {}, tight}).Draw(rt, "limits")}}
		r.tr.show = r.fits
		r.open()
		r.act(mara, chat.Incoming{Command: "commission", Values: map[string]string{"set": "cuff"}})
		if rapid.Bool().Draw(rt, "board") || runs == 1 {
			r.act(boss, chat.Incoming{Command: "studio", Thread: "stage:board"})
		}
		for range rapid.IntRange(0, 25).Draw(rt, "head start") {
			r.work()
		}
		for k := 0; runs == 1 && told[string(ledger.Working)] == 0 && k < 100; k++ { // one play at least gets so far
			r.work()
		}
		for k := 0; runs == 1 && told["in danger"] == 0 && k < 100; k++ { // and is late then
			r.slow = true
			r.work()
		}
		for range rapid.IntRange(5, 40).Draw(rt, "acts") {
			switch k := rapid.IntRange(0, 19).Draw(rt, "kind"); {
			case k == 0:
				r.open() // a new process
			case k == 1:
				r.now = r.now.Add(rapid.SampledFrom([]time.Duration{time.Minute, 5 * time.Hour, 25 * time.Hour, 8 * 24 * time.Hour, 15 * 24 * time.Hour}).Draw(rt, "wait"))
				r.tick()
			case k == 2:
				r.slow = !r.slow
			case k < 5:
				r.work()
			case k < 7:
				r.tr.failing = rapid.IntRange(0, 3).Draw(rt, "failures")
				r.tr.lost = rapid.IntRange(0, 2).Draw(rt, "lost")
				r.any()
			case k < 9:
				r.any()
			default:
				r.shown()
			}
		}
	})
	// A desk that refuses everything, or nothing, keeps every law.
	for _, what := range []string{"refused", "taken", string(ledger.Quoted), string(ledger.Approved), string(ledger.Working), "promise offered", "promise given", "in danger"} {
		if told[what] == 0 {
			t.Errorf("nothing was %s in %d plays: %v", what, min(runs, plays), told)
		}
	}
}

type random struct {
	cast
	rt        *rapid.T
	told      map[string]int // of all plays: acts by how they were answered, states by how often they were come to
	led       *ledger.Ledger
	d         *Desk
	q         *stageQueue
	tr        *stageTransport
	now       time.Time
	n         int
	states    map[quote.CommissionID]ledger.State
	approvals map[quote.CommissionID]ledger.Approval
	late      map[quote.CommissionID]string // the date that a slow shop can keep
	slow      bool                          // the shop is: what is paid for is five days late in its plan
	offered   []chat.Button                 // with the last reply
}

// look is a shop whose promises come into danger once the work on them begins, while it is slow.
func (r *random) look(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time) (floor.Shop, error) {
	p, err := testLook(ctx, open, st, now)
	if err != nil {
		return p, err
	}
	for i, o := range open {
		l := &p.Outlooks[i]
		day, err := time.Parse(time.DateOnly, l.Promise)
		if err != nil {
			return p, err
		}
		if r.slow && o.Until.IsZero() && r.late[o.Snapshot.Commission] == "" {
			r.late[o.Snapshot.Commission] = day.AddDate(0, 0, 5).Format(time.DateOnly)
		}
		if late := r.late[o.Snapshot.Commission]; r.slow && o.Until.IsZero() && late > l.Promise {
			l.Kept, l.KeptNow, l.Danger, l.Sure, l.SureNow = 0.3, 0.3, true, late, late
		}
	}
	return p, nil
}

func (r *random) open() {
	r.cast = newCast()
	r.cast.look = r.look
	r.cast.studio = func() quote.Studio {
		st := testStudio()
		st.Resources = []plan.Resource{{ID: "ana", Title: "Ana", Kind: "maker", Capacity: 1}}
		return st
	}
	r.cast.replan = func(ctx context.Context, s quote.Snapshot, q quote.Quote, from time.Time, busy []plan.Busy) (plan.Solution, error) {
		p, err := testReplan(ctx, s, q, from, busy)
		if r.slow {
			p.P80 = p.P80.AddDate(0, 1, 0)
		}
		return p, err
	}
	r.cast.plan = func(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time, _ func(float64)) (floor.Shop, error) {
		return r.look(ctx, open, st, now)
	}
	r.d = New(r.cast.open(r.led, r.q, r.tr, func() time.Time { return r.now }))
}

// tight are limits that every list is beyond, so that it is paged or left out.
var tight = chat.Limits{Text: 700, Files: 1, Buttons: 4, Menus: 3, Rows: 4, InRow: 4, Options: 2, Fields: 5, Title: 45, Label: 45, Line: 60, Value: 300, Action: 60}

// fits holds a post against the transport's limits.
func (r *random) fits(p chat.Post, _ bool) {
	if err := r.tr.limits.CheckPost(p); err != nil || p.Key == "" || p.Thread == "" {
		r.rt.Fatalf("post %q does not fit its transport: %v\n%s", p.Key, err, p.Text)
	}
	r.controls(p.Buttons, p.Menus)
}

func (r *random) controls(bs []chat.Button, ms []chat.Menu) {
	for _, b := range bs {
		if b.Action == "" || b.Label == "" {
			r.rt.Fatalf("button %+v says nothing or does nothing", b)
		}
	}
	for _, m := range ms {
		if len(m.Options) == 0 || m.Min > m.Max || m.Max > len(m.Options) {
			r.rt.Fatalf("nothing can be picked from the menu %+v", m)
		}
	}
}

// dump is all that an act could change.
func (r *random) dump() string {
	var b strings.Builder
	r.in(func(t *ledger.Tx) error {
		cs, err := t.Commissions()
		if err != nil {
			return err
		}
		for _, c := range cs {
			items, _ := t.Items(c.ID)
			ms, _ := t.Measurements(c.ID)
			ev, _ := t.Events(c.ID)
			ops, _ := t.Operations(c.ID)
			bells, _ := t.Bells(c.ID)
			c.Thread = "" // opening it is tried again at every chance
			fmt.Fprintln(&b, c, items, ms, len(ev), ops, bells)
		}
		return nil
	})
	return b.String()
}

func (r *random) in(f func(*ledger.Tx) error) {
	if err := r.led.Tx(context.Background(), f); err != nil {
		r.rt.Fatal(err)
	}
}

func (r *random) act(who chat.Person, in chat.Incoming) {
	r.n++
	in.ID, in.Person = fmt.Sprint("act", r.n), who
	if in.Thread == "" {
		in.Thread = "stage:C0001"
	}
	before, told := r.dump(), r.standing()
	rep, err := r.d.Handle(context.Background(), in)
	after := r.dump()
	for id, p := range r.standing() {
		was, ok := told[id]
		if ok && was.Date != p.Date && was.Revision == p.Revision && !(who.Studio && strings.HasPrefix(in.Press, "tell/")) && !strings.Contains(in.Press, "/"+p.Date) {
			r.rt.Fatalf("%s moved the date of %s from %s to %s, which nobody was shown", describe(in), id, was.Date, p.Date)
		}
	}
	var no *chat.Refusal
	switch {
	case errors.As(err, &no):
		r.told["refused"]++
		if before != after {
			r.rt.Fatalf("%s was refused (%s) and changed something:\n%s\n%s", describe(in), no.Say, before, after)
		}
		if no.Say == "" || strings.HasSuffix(no.Say, ".") || strings.Contains(no.Say, "%!") {
			r.rt.Fatalf("refusal %q", no.Say)
		}
	case err != nil:
		r.rt.Fatalf("%s: %v", describe(in), err)
	default:
		if before != after {
			r.told["taken"]++
		}
		if len(rep.Buttons) > 0 {
			r.offered = rep.Buttons
		}
		if err := r.tr.limits.CheckReply(rep); err != nil || strings.Contains(rep.Text, "%!") {
			r.rt.Fatalf("reply to %s does not fit its transport: %v\n%s", describe(in), err, rep.Text)
		}
		if rep.Form != nil && len(rep.Form.Fields) == 0 {
			r.rt.Fatalf("form %q has no fields", rep.Form.Title)
		}
		r.controls(rep.Buttons, rep.Menus)
		again, err := r.d.Handle(context.Background(), in)
		if before != after && (err != nil || !strings.HasPrefix(rep.Text, again.Text)) {
			r.rt.Fatalf("%s delivered again was answered %q, %v; first %q", describe(in), again.Text, err, rep.Text)
		}
		if now := r.dump(); now != after {
			r.rt.Fatalf("%s delivered again changed something:\n%s\n%s", describe(in), after, now)
		}
	}
	r.check()
	r.tick()
}

func (r *random) tick() {
	if err := r.d.Tick(context.Background()); err != nil {
		r.rt.Fatal(err)
	}
	r.check()
}

// check holds the ledger against what must always hold.
func (r *random) check() {
	r.in(func(t *ledger.Tx) error {
		cs, err := t.Commissions()
		if err != nil {
			return err
		}
		for _, c := range cs {
			if was, ok := r.states[c.ID]; ok && was != c.State && !slices.Contains(follows[was], c.State) {
				r.rt.Fatalf("%s went from %s to %s", c.ID, was, c.State)
			}
			if r.states[c.ID] != c.State {
				r.told[string(c.State)]++
			}
			r.states[c.ID] = c.State
			live, approved := 0, 0
			for n := 1; n <= c.Revision; n++ {
				rev, err := t.Revision(c.ID, n)
				if err != nil {
					return err
				}
				switch rev.State {
				case ledger.RevQuoted, ledger.RevComputing:
					live++
					if n != c.Revision {
						r.rt.Fatalf("%s: revision %d of %d is %s", c.ID, n, c.Revision, rev.State)
					}
				case ledger.RevApproved:
					approved++
				}
			}
			a, err := t.Approval(c.ID)
			has := err == nil
			if live > 1 || approved > 1 || has != (approved == 1) {
				r.rt.Fatalf("%s: %d live and %d approved revisions, approval %t", c.ID, live, approved, has)
			}
			if was, ok := r.approvals[c.ID]; ok && was != a {
				r.rt.Fatalf("the approval of %s changed from %+v to %+v", c.ID, was, a)
			}
			if has {
				r.approvals[c.ID] = a
				if _, sha, err := t.PDF(c.ID, a.Revision); err != nil || sha != a.SHA256 {
					r.rt.Fatalf("approval of %s has hash %s, the PDF %s, %v", c.ID, a.SHA256, sha, err)
				}
				if ends, err := t.Expiry(c.ID, a.Revision); err != nil || !a.At.Before(ends) {
					r.rt.Fatalf("%s was approved at %v, its quote ended %v", c.ID, a.At, ends)
				}
				if a.Person != c.Client && a.Person != boss.ID {
					r.rt.Fatalf("%s was approved by %s", c.ID, a.Person)
				}
			}
			ops, err := t.Operations(c.ID)
			if err != nil {
				return err
			}
			if err := r.promises(t, c, ops); err != nil {
				return err
			}
			bells, err := t.Bells(c.ID)
			if err != nil {
				return err
			}
			for _, o := range ops {
				for _, id := range o.After {
					i := slices.IndexFunc(ops, func(e ledger.Operation) bool { return e.Op == id })
					if i < 0 || o.State == ledger.Planned {
						continue
					}
					if ops[i].State != ledger.Done {
						r.rt.Fatalf("%s: %s is %s before %s is done", c.ID, o.Op, o.State, id)
					}
					for _, b := range bells {
						began := o.StartedAt
						if began.IsZero() {
							began = o.DoneAt
						}
						if b.Seq == ops[i].Seq && began.Before(b.Due) {
							r.rt.Fatalf("%s: %s began %v, before %s had cured at %v", c.ID, o.Op, began, id, b.Due)
						}
					}
				}
			}
		}
		return nil
	})
	for k, n := range r.tr.times {
		if strings.HasPrefix(k, "told/") && n > 1 {
			r.rt.Fatalf("notice %s was said %d times", k, n)
		}
	}
}

// standing are the promises that stand.
func (r *random) standing() map[quote.CommissionID]ledger.Promise {
	out := map[quote.CommissionID]ledger.Promise{}
	r.in(func(t *ledger.Tx) error {
		cs, err := t.Commissions()
		for _, c := range cs {
			if p, err := t.StandingPromise(c.ID); err == nil {
				out[c.ID] = p
			}
		}
		return err
	})
	return out
}

// promises holds what a client was told against the ledger: the last date told is the commission's and stands in the post that
// told it, no date told moves forward, and a place is held exactly as long as the quote says.
func (r *random) promises(t *ledger.Tx, c ledger.Commission, ops []ledger.Operation) error {
	all, err := t.Promises(c.ID)
	if err != nil {
		return err
	}
	var stands *ledger.Promise
	for i, p := range all {
		if p.State == ledger.Offered || p.State == ledger.Given {
			if i+1 < len(all) {
				r.rt.Fatalf("%s: promise %d of %d stands", c.ID, i+1, len(all))
			}
			stands = &all[i]
		}
		if i > 0 && p.Revision == all[i-1].Revision && p.Date < all[i-1].Date {
			r.rt.Fatalf("%s was told %s after %s", c.ID, p.Date, all[i-1].Date)
		}
	}
	want := map[ledger.State]ledger.PromiseState{ledger.Quoted: ledger.Offered, ledger.Approved: ledger.Given, ledger.Working: ledger.Given}[c.State]
	if (want == "") != (stands == nil) || stands != nil && (stands.State != want || stands.Date != c.Promise) {
		r.rt.Fatalf("%s is %s with the promise %s; in the ledger of promises stands %+v", c.ID, c.State, c.Promise, stands)
	}
	holds := c.State == ledger.Approved || c.State == ledger.Working || c.State == ledger.Ready || c.State == ledger.Delivered || stands != nil && !stands.HeldUntil.IsZero()
	if begun := slices.ContainsFunc(ops, func(o ledger.Operation) bool { return o.State != ledger.Planned }); holds != (len(ops) > 0) && !begun {
		r.rt.Fatalf("%s is %s and has %d operations in the shop plan (held: %t)", c.ID, c.State, len(ops), holds)
	}
	if err := r.notices(t, c); err != nil {
		return err
	}
	if stands == nil {
		return nil
	}
	r.told["promise "+string(stands.State)]++
	if stands.Message != shop.QuoteMessage(c.ID, stands.Revision) { // the summary of a made-up quote has no date
		r.told["told anew"]++
		if post, sent := r.tr.posts[stands.Message]; sent && !strings.Contains(post.Text, quote.DateWords(stands.Date)) {
			r.rt.Fatalf("%s was told %s by a post that says %q", c.ID, stands.Date, post.Text)
		}
	}
	return nil
}

// notices holds what the notice board says of a promise against the ledger, once all is sent: one notice at most says that it is in
// danger, with the date that the client was told last and the odds that the ledger has.
func (r *random) notices(t *ledger.Tx, c ledger.Commission) error {
	if n, err := t.Pending(r.now); err != nil || n > 0 {
		return err
	}
	o, err := t.Outlook(c.ID)
	if err != nil {
		return err
	}
	for key, post := range r.tr.posts {
		if !strings.HasPrefix(key, string(c.ID)+"/note/danger/") || !strings.Contains(post.Text, "in danger") {
			continue
		}
		r.told["in danger"]++
		said := fmt.Sprintf("the promise of %s is in danger, kept in %d of 100 simulated runs", quote.ShortDate(c.Promise), shop.Of100(o.Odds))
		if c.State != ledger.Approved && c.State != ledger.Working || !o.Danger || !strings.HasPrefix(key, o.Note) || !strings.Contains(post.Text, said) {
			r.rt.Fatalf("%s is %s, promised for %s, and last seen with %+v; the notice board says %q", c.ID, c.State, c.Promise, o, post.Text)
		}
	}
	return nil
}

// shown has somebody press a button that is shown somewhere: the likeliest thing people do.
func (r *random) shown() {
	if len(r.offered) > 0 && rapid.IntRange(0, 3).Draw(r.rt, "answer") == 0 {
		r.act(rapid.SampledFrom([]chat.Person{mara, boss, boss}).Draw(r.rt, "who"), chat.Incoming{Press: rapid.SampledFrom(r.offered).Draw(r.rt, "button").Action})
		return
	}
	var keys []string
	for k, p := range r.tr.posts {
		if len(p.Buttons)+len(p.Menus) > 0 {
			keys = append(keys, k)
		}
	}
	if len(keys) == 0 {
		return
	}
	slices.Sort(keys)
	p := r.tr.posts[rapid.SampledFrom(keys).Draw(r.rt, "post")]
	who := rapid.SampledFrom([]chat.Person{mara, mara, mara, boss, ivo}).Draw(r.rt, "who")
	i := rapid.IntRange(0, len(p.Buttons)+len(p.Menus)-1).Draw(r.rt, "which")
	if i >= len(p.Buttons) {
		m := p.Menus[i-len(p.Buttons)]
		r.act(who, chat.Incoming{Pick: m.Action, Picked: []string{rapid.SampledFrom(m.Options).Draw(r.rt, "option").Value}})
		return
	}
	b := p.Buttons[i]
	if b.Tone == chat.Grave && rapid.IntRange(0, 3).Draw(r.rt, "mercy") > 0 {
		return
	}
	r.act(who, chat.Incoming{Press: b.Action})
}

// any does something whether or not it is offered.
func (r *random) any() {
	who := rapid.SampledFrom([]chat.Person{mara, boss, ivo}).Draw(r.rt, "who")
	verb := rapid.SampledFrom([]string{"details", "measure", "rest", "apart", "right", "correct", "again", "mend", "approve", "decline", "change",
		"requote", "deposit", "start", "done", "handed", "sets", "count", "finish", "nonsense"}).Draw(r.rt, "verb")
	action := fmt.Sprintf("%s/C000%d/%d", verb, rapid.IntRange(1, 2).Draw(r.rt, "commission"), rapid.IntRange(-1, 4).Draw(r.rt, "number"))
	text := rapid.SampledFrom([]string{"", "17", "26 cm", "10 1/2 in", "about so", "3/4/2027", "2027-03-01", "yes", "plain", "2"})
	switch rapid.IntRange(0, 3).Draw(r.rt, "how") {
	case 0:
		r.act(who, chat.Incoming{Press: action})
	case 1:
		r.act(who, chat.Incoming{Pick: action, Picked: []string{rapid.SampledFrom([]string{"cuff", "chest", "sword", "2", "plain", "left", "boots"}).Draw(r.rt, "value")}})
	case 2:
		v := map[string]string{}
		for _, k := range []string{"wrist-girth", "forearm-girth", "elbow-wrist-length", "what", "finish", "count", "wanted", "again", "clothing"} {
			v[k] = text.Draw(r.rt, k)
		}
		verb := rapid.SampledFrom([]string{"details", "rest", "correct", "change"}).Draw(r.rt, "form")
		r.act(who, chat.Incoming{Form: fmt.Sprintf("%s/C0001/%d", verb, rapid.IntRange(1, 2).Draw(r.rt, "revision")), Values: v})
	default:
		name := rapid.SampledFrom([]string{"commission", "where", "orders", "bench", "deposit", "cancel", "studio", "reference", "nothing", "away", "back", "plan"}).Draw(r.rt, "command")
		if name == "cancel" && rapid.Bool().Draw(r.rt, "mercy") {
			name = "where"
		}
		th := chat.ThreadID("stage:C0001")
		if name == "studio" {
			th = "stage:board"
		}
		r.act(who, chat.Incoming{Command: name, Values: map[string]string{"number": "C0001", "maker": "ana"}, Thread: th})
	}
}

// work pushes the job on: what a willing client, worker and studio would do next.
func (r *random) work() {
	switch r.states["C0001"] {
	case ledger.Choosing:
		r.act(mara, chat.Incoming{Pick: "finish/C0001", Picked: []string{"weathered"}})
		r.act(mara, chat.Incoming{Press: "measure/C0001"})
	case ledger.Measuring:
		v := map[string]string{}
		for _, s := range testLibrary {
			for _, k := range s.Measures {
				for _, side := range []string{"", "/left", "/right"} {
					v[k+side] = map[string]string{"wrist-girth": "17", "forearm-girth": "27", "elbow-wrist-length": "26",
						"chest-girth": "100", "waist-girth": "90", "biacromial-breadth": "40"}[k]
				}
			}
		}
		r.act(mara, chat.Incoming{Form: "rest/C0001", Values: v})
	case ledger.Checking:
		r.act(mara, chat.Incoming{Press: "right/C0001"})
	case ledger.Computing:
		if len(r.q.sent) == 0 {
			return
		}
		req := rapid.SampledFrom(r.q.sent).Draw(r.rt, "request")
		a := jobs.Answer{Version: jobs.Version, ID: req.ID, Attempt: req.Attempt, Kind: jobs.Failed, Say: "no", Cause: "because"}
		if rapid.IntRange(0, 4).Draw(r.rt, "luck") > 0 {
			q := testQuote(req.Snapshot)
			a.Kind, a.Quote = jobs.Done, &q
		}
		for range 2 {
			if err := r.shop.Take(context.Background(), a); err != nil {
				r.rt.Fatal(err)
			}
			r.check()
		}
		r.tick()
	case ledger.Quoted:
		if rapid.IntRange(0, 2).Draw(r.rt, "doubt") == 0 {
			r.act(mara, chat.Incoming{Form: fmt.Sprintf("change/C0001/%d", rapid.IntRange(1, 3).Draw(r.rt, "revision")), Values: map[string]string{
				"what": "darker", "finish": rapid.SampledFrom([]string{"plain", "weathered", "gold"}).Draw(r.rt, "finish"),
				"again": rapid.SampledFrom([]string{"no", "yes"}).Draw(r.rt, "again")}})
			return
		}
		r.act(mara, chat.Incoming{Press: fmt.Sprintf("approve/C0001/%d", rapid.IntRange(1, 2).Draw(r.rt, "revision"))})
	case ledger.Approved:
		r.act(boss, chat.Incoming{Press: "deposit/C0001"})
	case ledger.Working:
		n := rapid.IntRange(1, 4).Draw(r.rt, "operation")
		if rapid.IntRange(0, 2).Draw(r.rt, "patience") == 0 {
			r.now = r.now.Add(5 * time.Hour)
			r.tick()
		}
		r.act(boss, chat.Incoming{Press: fmt.Sprintf("%s/C0001/%d", rapid.SampledFrom([]string{"start", "done"}).Draw(r.rt, "verb"), n)})
	}
}
