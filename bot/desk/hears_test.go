package desk

import (
	"bytes"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/jobs"
	"benchbell/quote"
	"benchbell/quote/floor"
	"benchbell/quote/gaugetest"
	"benchbell/quote/plan"
)

// Edda is at the front desk, Ana at the bench.
var (
	edda = chat.Person{ID: "stage:edda", Name: "Edda", Studio: true}
	ana  = chat.Person{ID: "stage:ana", Name: "Ana", Studio: true}
)

// staff names the owner, somebody at the front desk and somebody at the bench, with a notice board.
func (p *play) staff() {
	p.t.Helper()
	p.ok(p.led.Tx(p.t.Context(), func(t *ledger.Tx) error {
		if err := t.SetBoard("stage", "stage:board"); err != nil {
			return err
		}
		for _, m := range []struct {
			ledger.Member
			as chat.PersonID
		}{{ledger.Member{Name: "Studio", Roles: ledger.Owner}, boss.ID}, {ledger.Member{Name: "Edda", Roles: ledger.FrontDesk}, edda.ID},
			{ledger.Member{Name: "Ana", Roles: ledger.Maker, Bench: "ana"}, ana.ID}} {
			m.AddedAt, m.AddedBy = p.now, boss.ID
			x, err := t.AddMember(m.Member)
			if err != nil {
				return err
			}
			if err := t.Identify(m.as, x.ID, boss.ID, p.now); err != nil {
				return err
			}
		}
		return nil
	}))
}

// in posts what comes of an outcome as it stands here, as if time had brought it about.
func (p *play) comes(o shop.Outcome) {
	p.t.Helper()
	p.ok(p.led.Tx(p.t.Context(), func(t *ledger.Tx) error { return p.d.Tell(t, shop.Told{At: p.now, Outcome: o}) }))
	p.tick()
}

func (p *play) commission() (c ledger.Commission) {
	p.t.Helper()
	p.ok(p.led.Tx(p.t.Context(), func(t *ledger.Tx) (err error) {
		c, err = t.Commission("C0001")
		return err
	}))
	return c
}

func (p *play) operation(seq int) (o ledger.Operation) {
	p.t.Helper()
	p.ok(p.led.Tx(p.t.Context(), func(t *ledger.Tx) error {
		ops, err := t.Operations("C0001")
		o = ops[seq-1]
		return err
	}))
	return o
}

// fitting is one as it stands, for words alone.
func (p *play) fitting(state ledger.AppointmentState, slots ...time.Time) ledger.Appointment {
	a := ledger.Appointment{Commission: "C0001", N: 1, Which: ledger.FirstFitting, How: quote.InPerson, State: state, Slots: slots, MadeAt: p.now}
	if state != ledger.ApptOffered && len(slots) > 0 {
		a.At = slots[0]
	}
	return a
}

// happening brings an event about: what has been before, and the event itself.
type happening struct{ before, then func(p *play) }

func approvedBy(p *play) { p.toQuoted(); p.ok(p.press(mara, "approve/C0001/1")) }
func paid(p *play)       { approvedBy(p); p.ok(p.press(edda, "deposit/C0001")) }
func primed(p *play) {
	paid(p)
	p.ok(p.press(ana, "done/C0001/1"))
	p.ok(p.press(ana, "done/C0001/2"))
}
func computing(p *play) { p.toChecking(); p.ok(p.press(mara, "right/C0001")) }

// rung is the first coat's cure as it ends, with its bell.
func rung(p *play, next *ledger.Operation, w *shop.Wait) {
	o := p.operation(2)
	p.ok(p.led.Tx(p.t.Context(), func(t *ledger.Tx) error { return t.Rung("C0001/2", p.now) }))
	p.comes(shop.Rung{Commission: p.commission(), Bell: ledger.Bell{ID: "C0001/2", Commission: "C0001", Seq: 2}, Operation: o, Next: next, Wait: w})
}

var tomorrow = time.Date(2026, 11, 4, 9, 0, 0, 0, time.UTC)

// happenings has one for each row of the table.
var happenings = map[event]happening{
	asked:      {func(*play) {}, func(p *play) { p.ok(p.command(mara, "commission", "set", "cuff")) }},
	quoteReady: {computing, func(p *play) { p.compute() }},
	quoteFailed: {computing, func(p *play) {
		r := p.q.last()
		p.answer(jobs.Answer{ID: r.ID, Attempt: r.Attempt, Kind: jobs.Failed, Cause: "no room"})
	}},
	holdOver: {(*play).toQuoted, func(p *play) { p.wait(7*24*time.Hour + time.Hour) }},
	lapsed:   {func(p *play) { p.toQuoted(); p.wait(8 * 24 * time.Hour) }, func(p *play) { p.wait(7 * 24 * time.Hour) }},
	approved: {(*play).toQuoted, func(p *play) { p.ok(p.press(mara, "approve/C0001/1")) }},
	overdue:  {approvedBy, func(p *play) { p.wait(8 * 24 * time.Hour) }},
	declined: {(*play).toQuoted, func(p *play) { p.ok(p.press(mara, "decline/C0001/1")) }},
	changeAsked: {(*play).toQuoted, func(p *play) {
		p.ok(p.form(mara, "change/C0001/1", "what", "darker"))
	}},
	cancelled: {approvedBy, func(p *play) { p.ok(p.press(boss, "cancel/C0001")) }},
	clientWrote: {(*play).toQuoted, func(p *play) {
		_, err := p.do(chat.Incoming{Person: mara, Said: "Can it be posted?", Thread: "stage:C0001"})
		p.ok(err)
	}},
	inPlan:    {approvedBy, func(p *play) { p.ok(p.press(boss, "deposit/C0001")) }},
	cuttingOn: {paid, func(p *play) { p.ok(p.press(ana, "start/C0001/1")) }},
	stepDone:  {func(p *play) { paid(p); p.ok(p.press(ana, "start/C0001/1")) }, func(p *play) { p.ok(p.press(ana, "done/C0001/1")) }},
	cured:     {primed, func(p *play) { p.wait(4 * time.Hour) }},
	readyPaint: {func(p *play) { primed(p); p.wait(4 * time.Hour); p.ok(p.press(ana, "done/C0001/3")) },
		func(p *play) { p.wait(4 * time.Hour) }},
	curedWaits: {primed, func(p *play) {
		next := p.operation(3)
		rung(p, &next, &shop.Wait{For: p.operation(1)})
	}},
	curedLast:   {primed, func(p *play) { rung(p, nil, nil) }},
	closingSoon: {func(p *play) { primed(p); p.wait(23 * time.Hour) }, func(p *play) { p.wait(35 * time.Minute) }},
	offered:     {paid, offerTimes},
	noTime: {paid, func(p *play) {
		p.comes(shop.SlotsOffered{Commission: p.commission(), Appointment: p.fitting(ledger.ApptOffered)})
	}},
	picked: {func(p *play) { paid(p); offerTimes(p) }, pickTime},
	missedIt: {picks, func(p *play) {
		p.comes(shop.SlotMissed{Commission: p.commission(), Missed: p.fitting(ledger.ApptMissed, tomorrow)})
	}},
	calledOff: {picks, func(p *play) {
		p.comes(shop.CalledOff{Commission: p.commission(), Off: p.fitting(ledger.ApptVoid, tomorrow)})
	}},
	unkept: {picks, func(p *play) {
		p.comes(shop.SlotUnkept{Commission: p.commission(), Appointment: p.fitting(ledger.ApptPicked, tomorrow), Now: tomorrow.Add(time.Hour)})
	}},
	dateTold: {dangerSaid, func(p *play) {
		p.comes(shop.DateTold{Commission: p.commission(), Was: "2026-11-20", Note: dangerNote})
	}},
	endangered: {paid, sayDanger},
	safeAgain: {dangerSaid, func(p *play) {
		p.comes(shop.Safe{Commission: p.commission(), Outlook: floor.Outlook{Promise: "2026-11-23", KeptNow: 0.9}, Note: dangerNote})
	}},
	awayOrBack: {func(*play) {}, func(p *play) {
		p.comes(shop.WentAway{Maker: "Ana", Away: quote.Away{Maker: "ana", From: p.now, To: p.now.Add(24 * time.Hour)}})
	}},
	finished:   {paid, finishes},
	handedOver: {func(p *play) { paid(p); finishes(p) }, func(p *play) { p.comes(shop.HandedOver{Commission: p.commission()}) }},
}

const dangerNote = "C0001/note/danger/1"

func offerTimes(p *play) {
	p.comes(shop.SlotsOffered{Commission: p.commission(), Appointment: p.fitting(ledger.ApptOffered, tomorrow)})
}
func pickTime(p *play) {
	p.comes(shop.SlotPicked{Commission: p.commission(), Appointment: p.fitting(ledger.ApptPicked, tomorrow)})
}
func picks(p *play) { paid(p); offerTimes(p); pickTime(p) }
func sayDanger(p *play) {
	p.comes(shop.Endangered{Commission: p.commission(), Outlook: floor.Outlook{Promise: "2026-11-23", KeptNow: 0.3, SureNow: "2026-12-01", WhyNow: "it waits"}, Note: dangerNote})
}
func dangerSaid(p *play) { paid(p); sayDanger(p) }
func finishes(p *play) {
	c := p.commission()
	p.comes(shop.Finishing{Commission: c, Handing: shop.SlotsOffered{Commission: c, Appointment: ledger.Appointment{Commission: c.ID, N: 2, Which: ledger.HandingOver,
		How: quote.Collect, State: ledger.ApptOffered, Slots: []time.Time{tomorrow}}}})
}

// seenAt is what is shown at a moment: how often each post was, and its words.
type seenAt struct {
	times map[string]int
	text  map[string]string
}

func (p *play) seen() seenAt {
	s := seenAt{map[string]int{}, map[string]string{}}
	for k, post := range p.tr.posts {
		s.times[k], s.text[k] = p.tr.times[k], post.Text
	}
	return s
}

// since says in what form somebody heard since then, by the posts that are theirs, and whether they were pinged.
func (p *play) since(was seenAt, theirs func(key string, post chat.Post) bool, who chat.PersonID) as {
	h := mute
	for k, post := range p.tr.posts {
		switch {
		case !theirs(k, post) || p.tr.times[k] == was.times[k]:
		case was.times[k] > 0:
			h = max(h, edited)
		case who != "" && slices.Contains(post.Mention, who):
			h = max(h, pinged)
		default:
			h = max(h, posted)
		}
	}
	return h
}

// Every row of the table holds: each event is heard by those it says, in the form that it says, at a decent hour.
func TestEveryRowIsHeard(t *testing.T) {
	for _, r := range whoHears {
		t.Run(strings.ReplaceAll(string(r.event), " ", "-"), func(t *testing.T) {
			h, ok := happenings[r.event]
			if !ok {
				t.Fatal("nothing brings it about")
			}
			p := newPlay(t)
			p.tr.show = nil
			p.staff()
			h.before(p)
			p.wait(time.Minute)
			was := p.seen()
			h.then(p)
			thread := func(_ string, post chat.Post) bool { return post.Thread == "stage:C0001" }
			board := func(_ string, post chat.Post) bool { return post.Thread == "stage:board" }
			wall := func(k string, post chat.Post) bool { return board(k, post) && !strings.HasPrefix(k, "told/") }
			client := p.since(was, thread, mara.ID)
			if client != r.client.as {
				t.Errorf("the client hears in form %d, want %d", client, r.client.as)
			}
			pings := func(who chat.PersonID) bool { return p.since(was, board, who) == pinged }
			if pings(ana.ID) != (r.next.as == pinged) {
				t.Errorf("who does the next step is pinged: %t", pings(ana.ID))
			}
			if pings(edda.ID) != (r.desk.as == pinged) {
				t.Errorf("the front desk is pinged: %t", pings(edda.ID))
			}
			if pings(boss.ID) {
				t.Error("the owner is pinged")
			}
			if r.event == clientWrote { // said together with what comes within minutes
				wall = board
			}
			if got := min(p.since(was, wall, ""), posted); got != r.wall.as {
				t.Errorf("the notice board shows it in form %d, want %d", got, r.wall.as)
			}
		})
	}
}

// The table has a row for each event there is, once, and DEVELOPERS.md shows it; -update writes it there anew.
func TestWhoHears(t *testing.T) {
	f, err := parser.ParseFile(token.NewFileSet(), "hears.go", nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	events := 0
	ast.Inspect(f, func(n ast.Node) bool {
		if v, ok := n.(*ast.ValueSpec); ok {
			if typ, ok := v.Type.(*ast.Ident); ok && typ.Name == "event" {
				events++
				name, err := strconv.Unquote(v.Values[0].(*ast.BasicLit).Value)
				if n := len(slices.DeleteFunc(slices.Clone(whoHears), func(r row) bool { return string(r.event) != name })); err != nil || n != 1 {
					t.Errorf("%q has %d rows, %v", name, n, err)
				}
			}
		}
		return true
	})
	if events != len(whoHears) {
		t.Errorf("%d events, %d rows", events, len(whoHears))
	}
	var b bytes.Buffer
	b.WriteString("| event | client | who does the next step | front desk | notice board |\n|---|---|---|---|---|\n")
	forms := map[as]string{mute: "", edited: "edit", posted: "post", pinged: "ping"}
	times := map[when]string{soon: ", with the rest", decent: ", at a decent hour", inHours: ", in working hours"}
	for _, r := range whoHears {
		fmt.Fprintf(&b, "| %s |", r.event)
		for _, h := range []hears{r.client, r.next, r.desk, r.wall} {
			at := times[h.when]
			if h.as == pinged && h.when == atOnce {
				at = ", at any hour"
			}
			fmt.Fprintf(&b, " %s |", forms[h.as]+at)
		}
		b.WriteByte('\n')
	}
	const developers = "../../DEVELOPERS.md"
	doc, err := os.ReadFile(developers)
	if err != nil {
		t.Fatal(err)
	}
	before, rest, ok := bytes.Cut(doc, []byte("<!-- who hears -->\n"))
	_, after, ok2 := bytes.Cut(rest, []byte("<!-- end of who hears -->\n"))
	if !ok || !ok2 {
		t.Fatal("DEVELOPERS.md has no place for the table of who hears what")
	}
	gaugetest.Golden(t, developers, slices.Concat(before, []byte("<!-- who hears -->\n"), b.Bytes(), []byte("<!-- end of who hears -->\n"), after))
}

// quiet gives the shop quiet hours and the like. It works from nine to five on any day.
func (p *play) quiet(n quote.Notices) {
	p.tr.show = func(m chat.Post, edited bool) {
		if !edited {
			p.order = append(p.order, m.Key)
		}
	}
	p.studio = func() quote.Studio {
		s := testStudio()
		s.Notices = n
		s.Resources = []plan.Resource{{ID: "ana", Title: "Ana", Kind: "maker", Capacity: 1}}
		return s
	}
}

// told are the posts that tell somebody of the studio something, as they came.
func (p *play) told() (out []chat.Post) {
	for _, k := range p.order {
		if strings.HasPrefix(k, "told/") {
			out = append(out, p.tr.posts[k])
		}
	}
	return out
}

// dries has the cure of a made-up step end, after which another can begin.
func (p *play) dries(id, kind string) {
	p.t.Helper()
	c := p.commission()
	next := ledger.Operation{Commission: "C0001", Seq: 3, Title: "Step after " + id, Kind: kind, Resources: []string{"ana"}}
	p.comes(shop.Rung{Commission: c, Bell: ledger.Bell{ID: id, Commission: "C0001", Seq: 2}, Operation: ledger.Operation{Title: id, Cure: "primer"}, Next: &next})
}

// What dries within minutes is told together, once, at the last of it; what dries later by itself.
func TestCuresAreToldTogether(t *testing.T) {
	p := newPlay(t)
	p.quiet(quote.Notices{Batch: 10})
	p.staff()
	paid(p)
	start := len(p.told())
	p.ok(p.led.Tx(t.Context(), func(tx *ledger.Tx) error {
		return tx.AddBell(ledger.Bell{ID: "C0001/1", Commission: "C0001", Seq: 1, Due: p.now.Add(6 * time.Minute)})
	}))
	p.dries("C0001/7", "prime")
	p.wait(5 * time.Minute)
	if n := len(p.told()) - start; n != 0 {
		t.Fatalf("told %d times while another cure ends within minutes", n)
	}
	p.restart()
	p.now = p.now.Add(time.Minute)
	p.dries("C0001/8", "prime")
	all := p.told()[start:]
	if len(all) != 1 || strings.Count(all[0].Text, "• ") != 2 || !slices.Equal(all[0].Mention, []chat.PersonID{ana.ID}) {
		t.Fatalf("two cures are told as %+v", all)
	}
	p.wait(34 * time.Minute)
	p.dries("C0001/9", "prime")
	p.dries("C0001/9", "prime") // a bell rings once
	p.wait(24 * time.Hour)
	if all = p.told()[start:]; len(all) != 2 || strings.Contains(all[1].Text, "• ") {
		t.Errorf("then %+v", all)
	}
}

// In the quiet hours nobody is told but who paints; the rest comes once, when work begins, across a restart.
func TestQuietHours(t *testing.T) {
	for _, waits := range []bool{false, true} {
		p := newPlay(t)
		p.quiet(quote.Notices{QuietFrom: 20 * 60, QuietUntil: 7*60 + 30, Batch: 10, PaintWaits: waits})
		p.staff()
		paid(p)
		p.wait(10 * time.Minute)
		start := len(p.told())
		p.now = time.Date(2026, 11, 2, 22, 0, 0, 0, time.UTC) // eleven in the evening
		p.dries("C0001/7", "prime")
		p.dries("C0001/8", "paint")
		p.wait(2 * time.Hour)
		want := 1
		if waits {
			want = 0
		}
		all := p.told()[start:]
		if len(all) != want || !waits && (!strings.Contains(all[0].Text, "ready for paint") || strings.Contains(all[0].Text, "• ")) {
			t.Fatalf("at night (paint waits: %t) %+v is told", waits, all)
		}
		p.restart()
		p.now = time.Date(2026, 11, 3, 7, 59, 0, 0, time.UTC)
		p.tick()
		if n := len(p.told()) - start; n != want {
			t.Fatalf("told %d times before work begins", n)
		}
		p.wait(time.Minute)
		p.wait(48 * time.Hour)
		all = p.told()[start:]
		if last := all[len(all)-1]; len(all) != want+1 || !slices.Equal(last.Mention, []chat.PersonID{ana.ID}) || !strings.Contains(last.Text, "ready for the next coat") ||
			strings.Contains(last.Text, "ready for paint") != waits {
			t.Errorf("when work begins (paint waits: %t) %+v is told", waits, all)
		}
	}
}

// Nobody is told more often a day than the studio says, but of paint; the rest comes when work begins on the next day.
func TestMostADay(t *testing.T) {
	p := newPlay(t)
	p.quiet(quote.Notices{MostADay: 2})
	p.staff()
	paid(p) // which tells Ana of new work: the first time today
	start := len(p.told())
	for i := range 4 {
		p.now = p.now.Add(time.Hour)
		p.dries(fmt.Sprint("C0001/", 7+i), "prime")
	}
	p.dries("C0001/20", "paint")
	if all := p.told()[start:]; len(all) != 2 || !strings.Contains(all[1].Text, "ready for paint") {
		t.Fatalf("today %+v", all)
	}
	p.now = time.Date(2026, 11, 3, 8, 0, 0, 0, time.UTC)
	p.tick()
	p.wait(24 * time.Hour)
	if all := p.told()[start:]; len(all) != 3 || strings.Count(all[2].Text, "• ") != 3 || !strings.Contains(all[2].Text, "3 things since Mon 2 Nov") {
		t.Errorf("on the next day %+v", all[2:])
	}
}

// What a client is told by night waits for a decent hour, as it is by then, and holds up nothing else in their thread.
func TestClientsSleep(t *testing.T) {
	p := newPlay(t)
	p.quiet(quote.Notices{QuietFrom: 20 * 60, QuietUntil: 7*60 + 30})
	p.staff()
	paid(p)
	p.now = time.Date(2026, 11, 3, 1, 0, 0, 0, time.UTC)
	p.comes(shop.SlotsOffered{Commission: p.commission(), Appointment: p.fitting(ledger.ApptOffered, tomorrow)})
	p.comes(shop.SlotsOffered{Commission: p.commission(), Appointment: p.fitting(ledger.ApptOffered, tomorrow.Add(time.Hour)), Again: true})
	p.ok(p.press(ana, "start/C0001/1")) // somebody works late
	card := p.tr.posts["C0001/card"].Text
	if n := p.tr.times["C0001/appointment/1"] + p.tr.times["C0001/begun"]; n != 0 || !strings.Contains(card, "Being made") {
		t.Fatalf("by night the client is shown %d posts; their status is %q", n, card)
	}
	p.now = time.Date(2026, 11, 3, 6, 30, 0, 0, time.UTC)
	p.tick()
	post := p.tr.posts["C0001/appointment/1"]
	if p.tr.times["C0001/appointment/1"] != 1 || !slices.Equal(post.Mention, []chat.PersonID{mara.ID}) || !strings.HasPrefix(post.Buttons[0].Label, "Wed 4 Nov, 11:00") {
		t.Errorf("in the morning it is shown %d times: %+v", p.tr.times["C0001/appointment/1"], post)
	}
	if p.tr.times["C0001/begun"] != 1 {
		t.Error("that cutting has begun is not told")
	}
}

// What one message does not hold comes in several, of which one pings, and nothing of it is lost.
func TestLongDigest(t *testing.T) {
	p := newPlay(t)
	p.quiet(quote.Notices{QuietFrom: 20 * 60, QuietUntil: 7*60 + 30})
	p.staff()
	paid(p)
	start := len(p.told())
	p.now = time.Date(2026, 11, 2, 22, 0, 0, 0, time.UTC)
	const cures = 30
	for i := range cures {
		p.dries(fmt.Sprintf("C0001/%d", 100+i), "prime")
	}
	p.now = time.Date(2026, 11, 3, 8, 0, 0, 0, time.UTC)
	p.tick()
	pings, text := 0, ""
	for _, post := range p.told()[start:] {
		if err := p.tr.limits.CheckPost(post); err != nil {
			t.Error(err)
		}
		pings += len(post.Mention)
		text += post.Text + "\n"
	}
	for i := range cures {
		if n := strings.Count(text, fmt.Sprintf("Next: Step after C0001/%d.", 100+i)); n != 1 {
			t.Errorf("cure %d is told %d times", i, n)
		}
	}
	if pings != 1 {
		t.Errorf("it pings %d times", pings)
	}
}

// Who is up and asks is answered: a quote comes at any hour.
func TestQuoteByNight(t *testing.T) {
	p := newPlay(t)
	p.quiet(quote.Notices{QuietFrom: 20 * 60, QuietUntil: 7*60 + 30})
	p.now = time.Date(2026, 11, 2, 22, 0, 0, 0, time.UTC)
	p.toQuoted()
	if p.tr.times["C0001/quote/1"] != 1 {
		t.Error("a client who asks by night waits for the quote until the morning")
	}
}

// A danger stands on the notice board at once; by night it pings nobody until work begins, and then once.
func TestDangerByNight(t *testing.T) {
	p := newPlay(t)
	p.quiet(quote.Notices{QuietFrom: 20 * 60, QuietUntil: 7*60 + 30})
	p.staff()
	paid(p)
	p.now = time.Date(2026, 11, 2, 18, 0, 0, 0, time.UTC) // seven in the evening: no quiet hour, but nobody works
	start := len(p.told())
	sayDanger(p)
	if post := p.tr.posts[dangerNote+"/stage"]; !strings.Contains(post.Text, "in danger") || len(post.Mention) > 0 || len(p.told()) != start {
		t.Fatalf("in the evening %+v", post)
	}
	p.now = time.Date(2026, 11, 3, 8, 0, 0, 0, time.UTC)
	p.tick()
	sayDanger(p)
	p.wait(24 * time.Hour)
	if all := p.told()[start:]; len(all) != 1 || !slices.Equal(all[0].Mention, []chat.PersonID{edda.ID}) || !strings.Contains(all[0].Text, "in danger") {
		t.Errorf("when work begins %+v", all)
	}
}

// What a client writes reaches the front desk once, with the way to it, and can call nobody.
func TestClientsWordsReachTheStudio(t *testing.T) {
	p := newPlay(t)
	p.quiet(quote.Notices{Batch: 10, QuietFrom: 20 * 60, QuietUntil: 7*60 + 30})
	p.staff()
	p.toQuoted()
	p.wait(time.Hour)
	start := len(p.told())
	say := func(who chat.Person, id, text string, thread chat.ThreadID) {
		t.Helper()
		rep, err := p.d.Handle(t.Context(), chat.Incoming{ID: id, Person: who, Said: text, Thread: thread})
		if p.ok(err); rep.Text != "" {
			t.Errorf("words are answered with %q", rep.Text)
		}
		p.tick()
	}
	say(mara, "w1", "@everyone <@123> *Can* it\nbe posted? "+strings.Repeat("Please answer. ", 40), "stage:C0001")
	say(mara, "w1", "@everyone again", "stage:C0001") // delivered twice
	p.wait(4 * time.Minute)
	say(mara, "w2", "And how heavy is it?", "stage:C0001")
	say(edda, "w3", "It can be posted.", "stage:C0001")
	say(ivo, "w4", "Nobody reads this.", "stage:elsewhere")
	if n := len(p.told()) - start; n != 0 {
		t.Fatalf("told %d times while they write", n)
	}
	p.wait(6 * time.Minute)
	p.wait(24 * time.Hour)
	all := p.told()[start:]
	if len(all) != 1 || !slices.Equal(all[0].Mention, []chat.PersonID{edda.ID}) {
		t.Fatalf("told is %+v", all)
	}
	lines := strings.Split(all[0].Text, "\n")
	if len(lines) != 3 || strings.Contains(all[0].Text, "@everyone") || strings.Contains(all[0].Text, "<@123>") || strings.Contains(lines[1], "*") ||
		!strings.HasPrefix(lines[1], "• C0001 · Mara Öz: “") || len([]rune(lines[1])) > quotedText+40 || !strings.Contains(lines[2], "how heavy") {
		t.Errorf("the front desk reads\n%s", all[0].Text)
	}
	if b := all[0].Buttons; len(b) != 1 || b[0].Action != "thread/C0001" {
		t.Fatalf("the way to the thread: %+v", b)
	}
	if rep, err := p.do(chat.Incoming{Person: edda, Press: "thread/C0001"}); err != nil || rep.Thread != "stage:C0001" {
		t.Errorf("the way leads to %q, %v", rep.Thread, err)
	}
}
