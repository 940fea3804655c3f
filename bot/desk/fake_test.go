package desk

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/jobs"
	"benchbell/quote"
	"benchbell/quote/floor"
	"benchbell/quote/gaugetest"
	"benchbell/quote/geom"
	"benchbell/quote/pattern"
	"benchbell/quote/plan"
	"benchbell/quote/price"
)

// stageTransport keeps posts in memory and writes what it shows to the transcript.
type stageTransport struct {
	mu      sync.Mutex
	threads map[string]chat.ThreadID
	posts   map[string]chat.Post
	times   map[string]int // how often a key was put
	show    func(p chat.Post, edited bool)
	fail    error
	failing int // that many puts fail
	lost    int // that many arrive and are reported as failed
	limits  chat.Limits
}

func (s *stageTransport) Scheme() string { return "stage" }

func (s *stageTransport) Limits() chat.Limits { return s.limits }

func (s *stageTransport) OpenThread(_ context.Context, key, title string, _ chat.PersonID) (chat.ThreadID, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.failing > 0 {
		s.failing--
		return "", s.fail
	}
	if s.threads[key] == "" {
		s.threads[key] = chat.ThreadID("stage:" + key)
	}
	return s.threads[key], nil
}

func (s *stageTransport) Put(_ context.Context, p chat.Post) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.failing > 0 {
		s.failing--
		return s.fail
	}
	old, edited := s.posts[p.Key]
	if s.lost > 0 { // shown, but the answer that says so is lost
		s.lost--
		s.posts[p.Key] = p
		return s.fail
	}
	if edited && p.Files == nil {
		p.Files = old.Files
	}
	s.posts[p.Key] = p
	s.times[p.Key]++
	if s.show != nil {
		s.show(p, edited)
	}
	return nil
}

func (s *stageTransport) Run(ctx context.Context, _ []chat.Command, _ chat.Handler) error {
	<-ctx.Done()
	return nil
}

// stageQueue holds what was sent until the test answers it.
type stageQueue struct {
	mu   sync.Mutex
	sent []jobs.Request
	seen map[string]bool
	down error // nothing is taken
}

func (q *stageQueue) Send(_ context.Context, r jobs.Request) error {
	q.mu.Lock()
	defer q.mu.Unlock()
	if q.down != nil {
		return q.down
	}
	if !q.seen[r.TaskID()] {
		q.seen[r.TaskID()] = true
		q.sent = append(q.sent, r)
	}
	return nil
}
func (q *stageQueue) Work(ctx context.Context, _ jobs.Computer) error { <-ctx.Done(); return nil }
func (q *stageQueue) Answers(ctx context.Context, _ func(context.Context, jobs.Answer) error) error {
	<-ctx.Done()
	return nil
}
func (q *stageQueue) Close() error { return nil }

func (q *stageQueue) last() jobs.Request {
	q.mu.Lock()
	defer q.mu.Unlock()
	if len(q.sent) == 0 {
		return jobs.Request{}
	}
	return q.sent[len(q.sent)-1]
}

// everyDay is from nine to five, on any day.
var everyDay = func() (out []plan.Shift) {
	for d := time.Sunday; d <= time.Saturday; d++ {
		out = append(out, plan.Shift{Weekday: d, From: 9 * 60, To: 17 * 60})
	}
	return out
}()

// play is a conversation under test, on a real ledger file with a clock of its own.
type play struct {
	t     *testing.T
	d     *Desk
	led   *ledger.Ledger
	path  string
	tr    *stageTransport
	q     *stageQueue
	now   time.Time
	acts  int
	out   strings.Builder
	order []string // keys of posts, as they came, where a test asks for it
	cast
}

// cast is what the shop of a play works with; a test may change it between two acts.
type cast struct {
	shop    *shop.Shop
	studio  func() quote.Studio
	library []shop.Set
	replan  func(context.Context, quote.Snapshot, quote.Quote, time.Time, []plan.Busy) (plan.Solution, error)
	plan    func(context.Context, []floor.Open, quote.Studio, time.Time, func(float64)) (floor.Shop, error)
	look    func(context.Context, []floor.Open, quote.Studio, time.Time) (floor.Shop, error)
	whatIf  func(context.Context, []floor.Open, quote.Studio, time.Time, quote.CommissionID, string) ([]floor.Choice, error)
}

func newCast() cast {
	return cast{studio: testStudio, library: testLibrary, replan: testReplan,
		plan: func(_ context.Context, _ []floor.Open, _ quote.Studio, now time.Time, _ func(float64)) (floor.Shop, error) {
			return floor.Shop{At: now}, nil
		},
		look: testLook,
		whatIf: func(context.Context, []floor.Open, quote.Studio, time.Time, quote.CommissionID, string) ([]floor.Choice, error) {
			return nil, nil
		}}
}

// open makes a shop of the cast, and a desk of it.
func (c *cast) open(led *ledger.Ledger, q jobs.Queue, tr chat.Transport, now func() time.Time) Config {
	c.shop = shop.New(shop.Config{Ledger: led, Now: now, Library: c.library, Studio: func() quote.Studio { return c.studio() },
		Place: func(ctx context.Context, s quote.Snapshot, q quote.Quote, from time.Time, busy []plan.Busy) (plan.Solution, error) {
			return c.replan(ctx, s, q, from, busy)
		},
		Plan: func(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time, f func(float64)) (floor.Shop, error) {
			return c.plan(ctx, open, st, now, f)
		},
		Look: func(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time) (floor.Shop, error) {
			return c.look(ctx, open, st, now)
		},
		WhatIf: func(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time, id quote.CommissionID, by string) ([]floor.Choice, error) {
			return c.whatIf(ctx, open, st, now, id, by)
		}})
	return Config{Shop: c.shop, Ledger: led, Queue: q, Transports: []chat.Transport{tr}, Studio: func() quote.Studio { return c.studio() }, Now: now}
}

var (
	mara = chat.Person{ID: "stage:mara", Name: "Mara Öz"}
	ivo  = chat.Person{ID: "stage:ivo", Name: "Ivo"}
	boss = chat.Person{ID: "stage:studio", Name: "Studio", Studio: true}
)

func testStudio() quote.Studio {
	return quote.Studio{
		Name: "Test bench", Validity: 14, Hold: 7, DepositDays: 7, Confidence: 80, Danger: 60,
		Calendar: plan.Calendar{Zone: "Europe/Amsterdam", Shifts: everyDay},
		Finishes: []quote.Finish{{Key: "plain", Title: "Plain", Note: "sealed and primed"}, {Key: "weathered", Title: "Weathered", Note: "painted and worn"}},
	}
}

var testLibrary = []shop.Set{
	{Name: "cuff", Title: "Forearm cuff", Kind: "armour", Summary: "A closed cuff.", Sided: true,
		Measures: []string{"wrist-girth", "forearm-girth", "elbow-wrist-length"}, Source: quote.PatternSource{Drawing: "<svg/>", TOML: "cuff"}},
	{Name: "chest", Title: "Chest plate", Kind: "armour", Summary: "A front plate.",
		Measures: []string{"chest-girth", "waist-girth", "biacromial-breadth"}, Finishes: []string{"weathered"}},
	{Name: "sword", Title: "Short sword", Kind: "prop", Summary: "A rigid prop."},
}

func newPlay(t *testing.T) *play {
	t.Helper()
	p := &play{t: t, path: filepath.Join(t.TempDir(), "ledger.db"), now: time.Date(2026, 11, 2, 9, 0, 0, 0, time.UTC),
		cast: newCast(), q: &stageQueue{seen: map[string]bool{}},
		tr: &stageTransport{threads: map[string]chat.ThreadID{}, posts: map[string]chat.Post{}, times: map[string]int{}, limits: chat.Cautious}}
	p.tr.show = p.show
	p.open()
	t.Cleanup(func() { p.led.Close() })
	return p
}

func (p *play) open() {
	p.t.Helper()
	led, err := ledger.Open(p.t.Context(), p.path)
	if err != nil {
		p.t.Fatal(err)
	}
	p.led = led
	if _, err := led.Pages().Secret(p.t.Context(), shop.RequestTag, []byte("test")); err != nil {
		p.t.Fatal(err)
	}
	cfg := p.cast.open(led, p.q, p.tr, func() time.Time { return p.now })
	cfg.SetPicture = func(s string) chat.File {
		return chat.File{Name: s + ".png", MIME: "image/png", Alt: s, Data: []byte("png of " + s)}
	}
	cfg.HowTo = func(keys []string) []chat.File {
		return []chat.File{{Name: "how-to.png", MIME: "image/png", Alt: strings.Join(keys, " "), Data: []byte("png")}}
	}
	p.d = New(cfg)
}

// restart is a kill and a new process on the same file.
func (p *play) restart() {
	p.t.Helper()
	p.led.Close()
	fmt.Fprintf(&p.out, "== restart\n")
	p.open()
}

// offer has the library be these sets.
func (p *play) offer(sets ...shop.Set) {
	p.t.Helper()
	p.library = sets
	p.led.Close()
	p.open()
}

func (p *play) show(m chat.Post, edited bool) {
	verb := "post"
	if edited {
		verb = "edit"
	}
	fmt.Fprintf(&p.out, "  [%s %s in %s] %s\n", verb, m.Key, m.Thread, strings.ReplaceAll(m.Text, "\n", "\n    "))
	if m.Bar != nil {
		fmt.Fprintf(&p.out, "    bar %d/%d %.0f%% failed=%t\n", m.Bar.At, len(m.Bar.Stages), m.Bar.Share*100, m.Bar.Failed)
	}
	for _, f := range m.Files {
		fmt.Fprintf(&p.out, "    file %s\n", f.Name)
	}
	p.controls(m.Buttons, m.Menus)
	if len(m.Mention) > 0 {
		fmt.Fprintf(&p.out, "    tells %v\n", m.Mention)
	}
}

func (p *play) controls(bs []chat.Button, ms []chat.Menu) {
	for _, m := range ms {
		fmt.Fprintf(&p.out, "    menu %s (%d options)", m.Action, len(m.Options))
		if is := m.Chosen(); len(is) > 0 {
			fmt.Fprintf(&p.out, " chosen %v", is)
		}
		p.out.WriteByte('\n')
	}
	for _, b := range bs {
		fmt.Fprintf(&p.out, "    button %q %s\n", b.Label, b.Action)
	}
}

func (p *play) do(in chat.Incoming) (chat.Reply, error) {
	p.t.Helper()
	p.acts++
	if in.ID == "" {
		in.ID = fmt.Sprintf("act-%d", p.acts)
	}
	if in.Thread == "" && in.Command == "" {
		in.Thread = "stage:C0001"
	}
	fmt.Fprintf(&p.out, "%s> %s", in.Person.Name, describe(in))
	if len(in.Picked) > 0 {
		fmt.Fprintf(&p.out, " %v", in.Picked)
	}
	for _, k := range []string{"set", "number", "wanted", "clothing", "notes", "what", "finish", "count", "again", "withdraw", "paper", "thickness", "size", "throw", "date"} {
		if v, ok := in.Values[k]; ok {
			fmt.Fprintf(&p.out, " %s=%q", k, v)
		}
	}
	for _, k := range []string{"wrist-girth", "wrist-girth/left", "wrist-girth/right", "forearm-girth", "elbow-wrist-length", "stature", "body-mass", "adult"} {
		if v, ok := in.Values[k]; ok {
			fmt.Fprintf(&p.out, " %s=%q", k, v)
		}
	}
	p.out.WriteString("\n")
	rep, err := p.d.Handle(p.t.Context(), in)
	var no *chat.Refusal
	switch {
	case errors.As(err, &no):
		fmt.Fprintf(&p.out, "  refused: %s\n", no.Say)
	case err != nil:
		fmt.Fprintf(&p.out, "  error: %v\n", err)
	default:
		fmt.Fprintf(&p.out, "  reply: %s\n", strings.ReplaceAll(rep.Text, "\n", "\n    "))
		if rep.Thread != "" {
			fmt.Fprintf(&p.out, "    to %s\n", rep.Thread)
		}
		if rep.Form != nil {
			fmt.Fprintf(&p.out, "    form %s %q\n", rep.Form.Action, rep.Form.Title)
			for _, f := range rep.Form.Fields {
				fmt.Fprintf(&p.out, "      %s %q = %q\n", f.Key, f.Label, f.Value)
			}
		}
		p.controls(rep.Buttons, rep.Menus)
	}
	p.tick()
	return rep, err
}

func (p *play) tick() {
	p.t.Helper()
	if err := p.d.Tick(p.t.Context()); err != nil {
		p.t.Fatal(err)
	}
}

func (p *play) wait(d time.Duration) {
	p.t.Helper()
	p.now = p.now.Add(d)
	fmt.Fprintf(&p.out, "== %s\n", p.now.Format("Mon 2 Jan 2006 15:04 MST"))
	p.tick()
}

func (p *play) command(who chat.Person, name string, kv ...string) error {
	p.t.Helper()
	_, err := p.do(chat.Incoming{Person: who, Command: name, Values: pairs(kv)})
	return err
}
func (p *play) press(who chat.Person, action string) error {
	p.t.Helper()
	_, err := p.do(chat.Incoming{Person: who, Press: action})
	return err
}
func (p *play) pick(who chat.Person, action string, v ...string) error {
	p.t.Helper()
	_, err := p.do(chat.Incoming{Person: who, Pick: action, Picked: v})
	return err
}
func (p *play) form(who chat.Person, action string, kv ...string) error {
	p.t.Helper()
	_, err := p.do(chat.Incoming{Person: who, Form: action, Values: pairs(kv)})
	return err
}

func pairs(kv []string) map[string]string {
	m := map[string]string{}
	for i := 0; i+1 < len(kv); i += 2 {
		m[kv[i]] = kv[i+1]
	}
	return m
}

// answer gives a worker's answer to a request.
func (p *play) answer(a jobs.Answer) {
	p.t.Helper()
	a.Version = jobs.Version
	fmt.Fprintf(&p.out, "worker> %s.%d %s %s\n", a.ID, a.Attempt, a.Kind, a.Stage)
	if err := p.shop.Take(p.t.Context(), a); err != nil {
		p.t.Fatal(err)
	}
	p.tick()
}

// compute answers the latest request as a worker would.
func (p *play) compute() {
	p.t.Helper()
	r := p.q.last()
	for _, s := range []quote.Step{{Stage: quote.Scaling, Share: 0.5}, {Stage: quote.Nesting, Share: 0.5, Used: 0.683}, {Stage: quote.Printing, Share: 0.5}} {
		p.answer(jobs.Answer{ID: r.ID, Attempt: r.Attempt, Kind: jobs.Progress, Stage: s.Stage, Share: s.Share, Used: s.Used})
	}
	q := testQuote(r.Snapshot)
	var err error
	q.Plan, err = p.replan(p.t.Context(), r.Snapshot, q, r.Snapshot.At, r.Snapshot.Promised)
	p.ok(err)
	p.answer(jobs.Answer{ID: r.ID, Attempt: r.Attempt, Kind: jobs.Done, Quote: &q})
}

// testQuote is a made-up quote whose price and date follow the number of things and the revision.
func testQuote(s quote.Snapshot) quote.Quote {
	n := 0
	for _, it := range s.Items {
		n += it.Count
	}
	total := price.Money(20000 * n)
	promise := s.At.AddDate(0, 0, 20+n)
	place, _ := testReplan(context.Background(), s, quote.Quote{}, s.At, nil) // which never fails
	return quote.Quote{
		Commission: s.Commission, Revision: s.Revision,
		Estimate: price.Estimate{Currency: "EUR", Total: total, Deposit: total / 2, Balance: total - total/2},
		Issued:   s.At, Expires: s.At.AddDate(0, 0, s.Studio.Validity), Promise: promise.Format(time.DateOnly),
		Held: s.At.AddDate(0, 0, s.Studio.Hold), Odds: 0.83,
		Summary:  fmt.Sprintf("%d things, EUR %d.00", n, total/100),
		Work:     testWork(),
		Plan:     place,
		PDF:      fmt.Appendf(nil, "%%PDF-fake %s r%d %d", s.Commission, s.Revision, n),
		Pictures: []quote.Picture{{Name: "sheet-1.png", MIME: "image/png", Alt: "sheet", Data: []byte("png")}},
	}
}

// testLook keeps the plan so far, in which every promise is kept.
func testLook(_ context.Context, open []floor.Open, _ quote.Studio, now time.Time) (floor.Shop, error) {
	out := floor.Shop{At: now}
	for _, o := range open {
		l := floor.Outlook{Commission: o.Snapshot.Commission, Promise: o.Promise, P50: o.Promise, P80: o.Promise, P95: o.Promise, Sure: o.Promise, SureNow: o.Promise, P50Now: o.Promise,
			Kept: 0.9, KeptNow: 0.9, Undecided: o.Undecided}
		for _, a := range o.Actual {
			if a.Finished.IsZero() {
				l.Left = append(l.Left, plan.Scheduled{ID: a.Op, Title: a.Title, Start: a.Start, End: a.End, Spans: a.Spans, Resources: a.Resources})
			}
		}
		out.Outlooks = append(out.Outlooks, l)
	}
	return out, nil
}

func testReplan(_ context.Context, s quote.Snapshot, _ quote.Quote, from time.Time, _ []plan.Busy) (plan.Solution, error) {
	at := from.Truncate(5 * time.Minute)
	op := func(id, title, group, kind string, after, long time.Duration, cure *plan.Cure) plan.Scheduled {
		start := at.Add(after)
		end := start.Add(long)
		if cure != nil {
			c := plan.Cure{Material: cure.Material, From: end, Ready: end.Add(4 * time.Hour), Latest: end.Add(24 * time.Hour)}
			cure = &c
		}
		return plan.Scheduled{ID: id, Title: title, Group: group, Kind: kind, Start: start, End: end,
			Spans: []plan.Span{{From: start, To: end}}, Resources: []string{"ana"}, Cure: cure}
	}
	primer := &plan.Cure{Material: "flexible primer"}
	sol := plan.Solution{Operations: []plan.Scheduled{
		op("cut5", "Cut 5 mm foam", "5 mm", "cut", 0, time.Hour, nil),
		op("p1", "First coat of primer", "Cuff", "prime", 2*time.Hour, time.Hour, primer),
		op("p2", "Second coat of primer", "Cuff", "prime", 8*time.Hour, time.Hour, primer),
		op("paint", "Base colour", "Cuff", "paint", 24*time.Hour, time.Hour, &plan.Cure{Material: "acrylic paint"}),
	}}
	sol.End = at.Add(30 * time.Hour)
	sol.P80 = at.Add(48 * time.Hour)
	return sol, nil
}

// testWork is the order of work of testReplan: within the assembly one thing after the other, and nothing before the cutting.
func testWork() quote.Breakdown {
	w := quote.Breakdown{Version: quote.BreakdownVersion}
	var before []plan.Lag
	for _, id := range []string{"cut5", "p1", "p2", "paint"} {
		w.Operations = append(w.Operations, quote.Operation{Operation: plan.Operation{ID: id, After: slices.Clone(before)}})
		before = append(before, plan.Lag{After: id})
	}
	return w
}

// golden compares the transcript with testdata.
func (p *play) golden() {
	p.t.Helper()
	gaugetest.Golden(p.t, filepath.Join("testdata", strings.TrimPrefix(p.t.Name(), "Test")+".txt"), []byte(p.out.String()))
}

func (p *play) state() ledger.State {
	p.t.Helper()
	var s ledger.State
	err := p.led.Tx(p.t.Context(), func(t *ledger.Tx) error {
		c, err := t.Commission("C0001")
		s = c.State
		return err
	})
	if err != nil {
		p.t.Fatal(err)
	}
	return s
}

func (p *play) want(s ledger.State) {
	p.t.Helper()
	if got := p.state(); got != s {
		p.t.Fatalf("state is %s, want %s\n%s", got, s, p.out.String())
	}
}

// ok fails the test where an act was refused.
func (p *play) ok(err error) {
	p.t.Helper()
	if err != nil {
		p.t.Fatalf("%v\n%s", err, p.out.String())
	}
}

// refused fails the test unless the act was refused with that in its sentence and without a change of state.
func (p *play) refused(err error, part string) {
	p.t.Helper()
	var no *chat.Refusal
	if !errors.As(err, &no) || !strings.Contains(no.Say, part) {
		p.t.Fatalf("got %v, want a refusal with %q\n%s", err, part, p.out.String())
	}
}

// toQuoted brings a cuff to its first quote.
func (p *play) toChecking() {
	p.t.Helper()
	p.ok(p.command(mara, "commission", "set", "cuff"))
	p.ok(p.pick(mara, "finish/C0001", "weathered"))
	p.ok(p.press(mara, "measure/C0001"))
	p.ok(p.form(mara, "rest/C0001", "wrist-girth", "17,2", "forearm-girth", "10 1/2 in", "elbow-wrist-length", "26 cm"))
	p.want(ledger.Checking)
}

func (p *play) toQuoted() {
	p.t.Helper()
	p.toChecking()
	p.ok(p.press(mara, "right/C0001"))
	p.want(ledger.Computing)
	p.compute()
	p.want(ledger.Quoted)
}

// baseOf is the body that a set was drawn for.
func baseOf(s shop.Set) (map[string]geom.MM, error) {
	p, err := pattern.Parse([]byte(s.Source.Drawing), []byte(s.Source.TOML))
	if err != nil {
		return nil, err
	}
	return p.Base, nil
}

// describe names what was done, for the transcript.
func describe(in chat.Incoming) string {
	for _, s := range []string{in.Command, in.Press, in.Pick, in.Form} {
		if s != "" {
			return s
		}
	}
	return "upload"
}
