package main

import (
	"context"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/chat/chattest"
)

// people are those of a conversation, on any transport.
type people struct {
	client, other, studio chattest.Peer
	// board is where the studio makes its notice board; empty where it has one from the start.
	board chat.ThreadID
	// unanswered says that a repeated delivery of an act shows the person nothing.
	unanswered bool
}

// holder is a Peer that can press a button later than it saw it.
type holder interface {
	Hold(ctx context.Context, thread chat.ThreadID, action string) (func(context.Context) (chattest.Answer, error), error)
}

// hand is a person who finds what to do by the labels on what is shown, and remembers what was shown before.
type hand struct {
	t      testing.TB
	name   string
	peer   chattest.Peer
	thread chat.ThreadID // the one looked at
	last   chattest.Answer
	seen   []string // posts of the thread as shown last
}

// scribe writes down what people do and see.
type scribe struct {
	t testing.TB
	b strings.Builder
	h *house
}

// What differs from run to run, or says nothing to a reader.
var sha256Hex = regexp.MustCompile(`\b[0-9a-f]{64}\b`)

func (s *scribe) act(p *hand, what string) {
	s.b.WriteByte('\n')
	s.line(0, p.name+" › "+what)
}

func (s *scribe) line(indent int, text string) {
	text = sha256Hex.ReplaceAllString(strings.TrimSpace(text), "<sha-256>")
	for l := range strings.SplitSeq(text, "\n") {
		fmt.Fprintf(&s.b, "%s%s\n", strings.Repeat(" ", indent), strings.TrimRight(l, " "))
	}
}

// did writes an act and what the person alone saw of its outcome, then lets the house come to rest.
func (s *scribe) did(p *hand, what string, a chattest.Answer) {
	s.act(p, what)
	s.answer(a)
	s.h.settle()
}

func (s *scribe) answer(a chattest.Answer) {
	if a.Sorry {
		s.t.Fatalf("the desk apologised: %+v\n%s", a, s.h.log)
	}
	if a.Refused != "" {
		s.line(4, "(refused) "+a.Refused)
	}
	if a.Text != "" {
		s.line(4, "(alone) "+a.Text)
	}
	s.things(a.Files, a.Buttons, a.Menus)
	if a.Form != nil {
		s.line(4, "form: "+a.Form.Title)
		for _, f := range a.Form.Fields {
			s.line(8, f.Label+" ["+f.Value+"]")
		}
	}
}

func (s *scribe) things(files []chat.File, buttons []chat.Button, menus []chat.Menu) {
	list := func(what string, names []string) {
		if len(names) > 0 {
			s.line(4, what+": "+strings.Join(names, " | "))
		}
	}
	var fs, bs, ms []string
	for _, f := range files {
		if len(f.Data) == 0 {
			s.t.Errorf("file %s is empty", f.Name)
		}
		fs = append(fs, f.Name)
	}
	for _, b := range buttons {
		bs = append(bs, b.Label)
	}
	for _, m := range menus {
		ms = append(ms, fmt.Sprintf("%s (%d)", m.Label, len(m.Options)))
	}
	list("files", fs)
	list("buttons", bs)
	list("menus", ms)
}

// sees writes what is new in the thread the person looks at.
func (s *scribe) sees(p *hand) []chat.Post {
	s.t.Helper()
	posts, by, err := p.peer.Posts(s.t.Context(), p.thread)
	if err != nil {
		s.t.Fatalf("%s looks at the thread: %v", p.name, err)
	}
	for i, post := range posts {
		if i >= len(p.seen) {
			p.seen = append(p.seen, post.Text)
			from := ""
			if by[i] != "" {
				from = " (sent by a person)"
			}
			s.line(2, p.name+" sees"+from+":")
			s.line(4, post.Text)
			if post.Bar != nil {
				s.line(4, fmt.Sprintf("progress: %d of %s", post.Bar.At, strings.Join(post.Bar.Stages, ", ")))
			}
			s.things(post.Files, post.Buttons, post.Menus)
			continue
		}
		if more := news(p.seen[i], post.Text); more != "" {
			s.line(2, p.name+" sees changed:")
			s.line(4, more)
			s.things(nil, post.Buttons, post.Menus)
		}
		p.seen[i] = post.Text
	}
	return posts
}

// shown is an action under a label.
type shown struct {
	action string
	menu   *chat.Menu
}

// find looks for a button or menu by its label: in the answer seen last, then in the thread, newest first.
func (p *hand) find(label string) (shown, bool) {
	p.t.Helper()
	look := func(bs []chat.Button, ms []chat.Menu) (shown, bool) {
		for _, b := range bs {
			if b.Label == label {
				return shown{action: b.Action}, true
			}
		}
		for _, m := range ms {
			if m.Label == label {
				return shown{m.Action, &m}, true
			}
		}
		return shown{}, false
	}
	if x, ok := look(p.last.Buttons, p.last.Menus); ok {
		return x, true
	}
	posts, _, err := p.peer.Posts(p.t.Context(), p.thread)
	if err != nil {
		p.t.Fatalf("%s looks for %q: %v", p.name, label, err)
	}
	for _, post := range slices.Backward(posts) {
		if x, ok := look(post.Buttons, post.Menus); ok {
			return x, true
		}
	}
	return shown{}, false
}

func (p *hand) must(label string) shown {
	p.t.Helper()
	x, ok := p.find(label)
	if !ok {
		p.t.Fatalf("%s sees no %q", p.name, label)
	}
	return x
}

// acted takes the outcome of an act of this person.
func (p *hand) acted(a chattest.Answer, err error) chattest.Answer {
	p.t.Helper()
	if err != nil {
		p.t.Fatalf("%s: %v", p.name, err)
	}
	p.last = a
	if a.Thread != "" && a.Thread != p.thread {
		p.thread, p.seen = a.Thread, nil
	}
	return a
}

func (s *scribe) command(p *hand, name string, options map[string]string) {
	s.t.Helper()
	a := p.acted(p.peer.Do(s.t.Context(), p.thread, name, options))
	what := "/" + name
	if n := options["number"]; n != "" {
		what += " " + n
	}
	s.did(p, what, a)
}

func (s *scribe) press(p *hand, label string) {
	s.t.Helper()
	a := p.acted(p.peer.Press(s.t.Context(), p.thread, p.must(label).action))
	s.did(p, "["+label+"]", a)
}

func (s *scribe) pick(p *hand, label string, options ...string) {
	s.t.Helper()
	x := p.must(label)
	if x.menu == nil {
		s.t.Fatalf("%q is no menu", label)
	}
	var values []string
	for _, want := range options {
		i := slices.IndexFunc(x.menu.Options, func(o chat.Option) bool { return o.Label == want })
		if i < 0 {
			s.t.Fatalf("menu %q offers no %q", label, want)
		}
		values = append(values, x.menu.Options[i].Value)
	}
	a := p.acted(p.peer.Pick(s.t.Context(), p.thread, x.action, values...))
	s.did(p, label+": "+strings.Join(options, ", "), a)
}

// submit fills in the open form by the beginnings of its labels; what is not named stays as it is.
func (s *scribe) submit(p *hand, typed map[string]string) {
	s.t.Helper()
	f := p.last.Form
	if f == nil {
		s.t.Fatalf("%s has no form open", p.name)
	}
	values, said := map[string]string{}, []string{"sends “" + f.Title + "”"}
	for _, field := range f.Fields {
		for label, text := range typed {
			if strings.HasPrefix(field.Label, label) {
				values[field.Key] = text
				said = append(said, "        "+field.Label+": "+text)
			}
		}
	}
	a := p.acted(p.peer.Submit(s.t.Context(), p.thread, f.Action, values))
	s.did(p, strings.Join(said, "\n"), a)
}

// outsider writes an act that the person cannot do: either there is nothing of the kind in sight, or it is refused.
func (s *scribe) outsider(p *hand, what string, a chattest.Answer, err error) {
	s.t.Helper()
	s.act(p, what)
	switch {
	case err != nil:
		s.line(4, "(not in sight)")
	case a.Refused == "":
		s.t.Errorf("%s was let through with %q: %+v", p.name, what, a)
	default:
		s.answer(a)
	}
}

// converseThrough plays the whole conversation and gives its transcript. It is the same for every transport.
func converseThrough(t *testing.T, h *house, who people) string {
	s := &scribe{t: t, h: h}
	defer func() {
		if t.Failed() {
			t.Logf("so far:\n%s", s.b.String())
		}
	}()
	ctx := t.Context()
	ilka := &hand{t: t, name: "Ilka", peer: who.client}
	jorin := &hand{t: t, name: "Jorin", peer: who.other}
	mara := &hand{t: t, name: "Mara", peer: who.studio, thread: who.board}
	if who.board != "" {
		s.command(mara, "studio", nil)
	}
	later := func(d time.Duration) { h.clock.move(d) }

	s.command(ilka, "commission", nil)
	mara.thread = noticeBoard(t, mara, ilka.thread)
	s.sees(ilka)
	s.sees(mara)
	s.press(ilka, "Go on") // too early
	s.pick(ilka, "Pattern sets", "Forearm cuff", "Shoulder cap with lames")
	s.pick(ilka, "Finish", "Painted and clear-coated")
	later(time.Minute)
	s.press(ilka, "Details")
	s.submit(ilka, map[string]string{"Wanted by": "18 December 2026", "Worn beneath": "2 mm", "Notes": "Weathered bronze. Für den Wintermarkt – Größe bitte prüfen!"})
	s.sees(ilka)
	s.press(ilka, "Go on")
	s.submit(ilka, map[string]string{"Wrist girth": "17,4", "Forearm girth": "1,265 mm", "Elbow to wrist": "25.5cm", "Upper arm": `12 3/8"`, "Shoulder breadth": "38"})
	s.sees(ilka)
	s.press(ilka, "Give the rest")
	s.submit(ilka, map[string]string{"Forearm girth": "26,5 cm", "Shoulder to elbow": "34,5 cm"})
	s.sees(ilka)
	s.command(ilka, "where", nil)
	later(3 * time.Minute)
	s.press(ilka, "These are right")
	posts := s.sees(ilka)
	s.sees(mara)
	quoteIn(t, posts, 1)
	if !slices.ContainsFunc(posts, func(p chat.Post) bool { return p.Bar != nil && p.Bar.At == len(p.Bar.Stages) }) {
		t.Error("no progress was shown")
	}

	first := ilka.must("Approve")
	var stale func(context.Context) (chattest.Answer, error)
	if p, ok := ilka.peer.(holder); ok {
		var err error
		if stale, err = p.Hold(ctx, ilka.thread, first.action); err != nil {
			t.Fatal(err)
		}
	}
	if _, _, err := jorin.peer.Posts(ctx, ilka.thread); err == nil {
		t.Error("another client reads the thread")
	}
	a, err := jorin.peer.Press(ctx, ilka.thread, first.action)
	s.outsider(jorin, "[Approve]", a, err)
	for _, c := range []string{"where", "cancel"} {
		a, err = jorin.peer.Do(ctx, "", c, map[string]string{"number": "C0001"})
		s.outsider(jorin, "/"+c+" C0001", a, err)
	}

	later(2 * time.Hour)
	s.press(ilka, "Ask for a change")
	s.submit(ilka, map[string]string{"What should change": "A dark wash in the recesses, please", "Finish": "weathered"})
	posts = s.sees(ilka)
	quoteIn(t, posts, 2)
	if stale != nil {
		a := ilka.acted(stale(ctx))
		if a.Refused == "" {
			t.Errorf("a button of revision 1 did something: %+v", a)
		}
		s.did(ilka, "[Approve] on a page left open since revision 1", a)
	}
	if second := ilka.must("Approve"); second.action == first.action {
		t.Error("revision 1 can still be approved")
	}
	later(time.Hour)
	s.press(ilka, "Approve")
	said := ilka.last.Text
	a = ilka.acted(ilka.peer.Again(ctx))
	s.did(ilka, "[Approve], the same press once more", a)
	if a.Text != said && !who.unanswered || a.Refused != "" {
		t.Errorf("the same press was answered %q, then %+v", said, a)
	}
	s.sees(ilka)
	s.sees(mara)
	s.command(ilka, "where", nil)

	later(24 * time.Hour)
	s.command(mara, "orders", nil)
	mara.last = chattest.Answer{} // Mara looks at the board again
	s.press(mara, "Deposit received")
	posts = s.sees(ilka)
	s.sees(mara)
	s.press(ilka, slotIn(t, posts))
	s.sees(ilka)
	s.sees(mara)
	workUntil(s, mara, "ready for paint", later)
	s.sees(ilka)
	s.command(ilka, "where", nil)
	s.command(mara, "orders", nil)
	return strings.TrimLeft(s.b.String(), "\n")
}

// noticeBoard is the thread the studio sees beside the client's.
func noticeBoard(t *testing.T, p *hand, not chat.ThreadID) chat.ThreadID {
	t.Helper()
	if p.thread != "" {
		return p.thread
	}
	ths, err := p.peer.Threads(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, th := range ths {
		if th != not {
			return th
		}
	}
	t.Fatal("the studio has no notice board")
	return ""
}

// quoteIn checks that the quote of a revision came with its PDF and pictures.
func quoteIn(t *testing.T, posts []chat.Post, revision int) {
	t.Helper()
	name := fmt.Sprintf("quote-C0001-r%d.pdf", revision)
	for _, p := range posts {
		for _, f := range p.Files {
			if f.Name != name {
				continue
			}
			if !strings.HasPrefix(string(f.Data), "%PDF-") || len(p.Files) < 3 {
				t.Errorf("%s is no PDF, or came with %d files alone", name, len(p.Files))
			}
			return
		}
	}
	t.Errorf("no post carries %s", name)
}

// slotIn is the first time offered for a fitting.
func slotIn(t *testing.T, posts []chat.Post) string {
	t.Helper()
	for _, p := range posts {
		if strings.Contains(p.Text, "First fitting") && len(p.Buttons) > 2 {
			return p.Buttons[0].Label
		}
	}
	t.Fatal("no time is offered for the first fitting")
	return ""
}

// workUntil does what the bench offers until a bell says the words on the notice board.
func workUntil(s *scribe, p *hand, words string, later func(time.Duration)) {
	s.t.Helper()
	const most = 400 // acts; a job has some fifty operations, some quarters of an hour and days until its fitting
	a := p.acted(p.peer.Do(s.t.Context(), p.thread, "bench", nil))
	idle := 0
	for range most {
		// The clock moves just before an act, which has the bot look at it at once.
		if len(a.Buttons) == 0 {
			idle++
			later(15 * time.Minute * time.Duration(min(idle, 8))) // the longer the less
			a = p.acted(p.peer.Do(s.t.Context(), p.thread, "bench", nil))
		} else {
			idle = 0
			label := a.Buttons[0].Label
			if strings.HasPrefix(label, "Done") {
				later(20 * time.Minute)
			}
			a = p.acted(p.peer.Press(s.t.Context(), p.thread, a.Buttons[0].Action))
			if a.Refused != "" || a.Sorry {
				s.t.Fatalf("[%s] was refused: %+v", label, a)
			}
			first, _, _ := strings.Cut(a.Text, "\n")
			s.act(p, "["+label+"]")
			s.line(4, first)
		}
		s.h.settle()
		if posts := s.sees(p); slices.ContainsFunc(posts, func(q chat.Post) bool { return strings.Contains(q.Text, words) }) {
			return
		}
	}
	s.t.Fatalf("the bell %q never rang", words)
}
