package chattest

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"benchbell/bot/chat"
)

// patience is how long a transport may take to begin or to end; it only bounds a failing test.
const patience = 30 * time.Second

// Conformance runs the laws. Open returns a transport that nobody has used and isn't running, with its people; it is
// called once for each law. A Peer's first use comes after Run has begun.
func Conformance(t *testing.T, open func(t *testing.T) Bench) {
	t.Helper()
	for _, law := range []struct {
		name string
		run  func(*testing.T, *bench)
	}{
		{"threads by key", threads},
		{"posts by key", posts},
		{"commands", commands},
		{"buttons", buttons},
		{"menus", menus},
		{"chosen options", chosen},
		{"messages at the limits", atLimits},
		{"messages beyond the limits", beyondLimits},
		{"words beyond the limits", longWords},
		{"forms at the limits and beyond", formLimits},
		{"uploads", uploads},
		{"forms", forms},
		{"files", files},
		{"refusals", refusals},
		{"private answers", private},
		{"the same act again", again},
		{"failing handlers", failing},
		{"people at once", atOnce},
	} {
		t.Run(law.name, func(t *testing.T) {
			b := &bench{Bench: open(t), t: t}
			ctx, cancel := context.WithCancel(t.Context())
			ended := make(chan error, 1)
			go func() { ended <- b.Transport.Run(ctx, offered, b.handle) }()
			defer func() {
				cancel()
				select {
				case err := <-ended:
					if err != nil {
						t.Errorf("run ended with %v", err)
					}
				case <-time.After(patience):
					t.Error("run doesn't end with its context")
				}
			}()
			law.run(t, b)
		})
	}
}

var offered = []chat.Command{
	{Name: "echo", Summary: "say something", Options: []chat.CommandOption{
		{Name: "text", Summary: "what to say", Required: true}, {Name: "more", Summary: "what else"}}},
	{Name: "show", Summary: "show a picture", Options: []chat.CommandOption{{Name: "picture", Summary: "a PNG picture", Required: true, File: true}}},
	{Name: "ping", Summary: "answer"},
	{Name: "studio-only", Summary: "for the studio", Studio: true},
}

// bench records what arrives and answers by script.
type bench struct {
	Bench
	t      *testing.T
	mu     sync.Mutex
	got    []chat.Incoming
	answer chat.Handler
}

func (b *bench) handle(ctx context.Context, in chat.Incoming) (chat.Reply, error) {
	b.mu.Lock()
	b.got = append(b.got, in)
	answer := b.answer
	b.mu.Unlock()
	if answer == nil {
		return chat.Reply{}, nil
	}
	return answer(ctx, in)
}

func (b *bench) answers(h chat.Handler) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.answer, b.got = h, nil
}

func (b *bench) replies(r chat.Reply) {
	b.answers(func(context.Context, chat.Incoming) (chat.Reply, error) { return r, nil })
}

// last is the one act that arrived since answers was called.
func (b *bench) last() chat.Incoming {
	b.t.Helper()
	b.mu.Lock()
	defer b.mu.Unlock()
	if len(b.got) != 1 {
		b.t.Fatalf("%d acts arrived, want 1: %+v", len(b.got), b.got)
	}
	in := b.got[0]
	if in.ID == "" {
		b.t.Error("an act arrived without an ID")
	}
	said := 0
	for _, s := range []string{in.Command, in.Press, in.Pick, in.Form} {
		if s != "" {
			said++
		}
	}
	if said > 1 || said == 0 && len(in.Files) == 0 && in.Said == "" {
		b.t.Errorf("an act says %d things: %+v", said, in)
	}
	return in
}

func (b *bench) thread(key string, with Peer) chat.ThreadID {
	b.t.Helper()
	id, err := b.Transport.OpenThread(b.t.Context(), key, "Thread "+key, with.ID())
	if err != nil {
		b.t.Fatalf("open thread: %v", err)
	}
	return id
}

func (b *bench) put(p chat.Post) {
	b.t.Helper()
	if err := b.Transport.Put(b.t.Context(), p); err != nil {
		b.t.Fatalf("put %s: %v", p.Key, err)
	}
}

func (b *bench) posts(who Peer, th chat.ThreadID) []chat.Post {
	b.t.Helper()
	ps, by, err := who.Posts(b.t.Context(), th)
	if err != nil {
		b.t.Fatalf("posts: %v", err)
	}
	if len(ps) != len(by) {
		b.t.Fatalf("%d posts by %d people", len(ps), len(by))
	}
	return ps
}

// must takes the results of a Peer's act.
func (b *bench) must(a Answer, err error) Answer {
	b.t.Helper()
	if err != nil {
		b.t.Fatal(err)
	}
	return a
}

// well is must for an act that isn't to be refused.
func (b *bench) well(a Answer, err error) Answer {
	b.t.Helper()
	if a = b.must(a, err); a.Refused != "" || a.Sorry {
		b.t.Fatalf("the act was refused: %q (sorry %v)", a.Refused, a.Sorry)
	}
	return a
}

func threads(t *testing.T, b *bench) {
	if s := b.Transport.Scheme(); !strings.HasPrefix(string(b.Client.ID()), s+":") {
		t.Errorf("person %q isn't of scheme %q", b.Client.ID(), s)
	}
	one := b.thread("one", b.Client)
	if !strings.HasPrefix(string(one), b.Transport.Scheme()+":") {
		t.Errorf("thread %q isn't of scheme %q", one, b.Transport.Scheme())
	}
	if same := b.thread("one", b.Client); same != one {
		t.Errorf("the same key gave %q, then %q", one, same)
	}
	if two := b.thread("two", b.Client); two == one {
		t.Error("two keys gave one thread")
	}
	for _, c := range []struct {
		who  string
		peer Peer
		n    int
	}{{"client", b.Client, 2}, {"other", b.Other, 0}, {"studio", b.Studio, 2}} {
		got, err := c.peer.Threads(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if len(got) != c.n {
			t.Errorf("%s sees threads %v, want %d of them", c.who, got, c.n)
		}
	}
	if _, _, err := b.Other.Posts(t.Context(), one); err == nil {
		t.Error("another client reads a private thread")
	}
	if err := b.Transport.Put(t.Context(), chat.Post{Key: "lost", Thread: chat.ThreadID(b.Transport.Scheme() + ":999"), Text: "x"}); err == nil {
		t.Error("a post to a thread that isn't there gave no error")
	}
}

func posts(t *testing.T, b *bench) {
	th := b.thread("posts", b.Client)
	first := chat.Post{
		Key: "p1", Thread: th, Text: "*Graded* at 97,5 cm & <more>\nline two",
		Bar: &chat.Bar{Stages: []string{"grade", "nest", "draw"}, At: 1, Share: 0.5},
	}
	b.put(first)
	b.put(chat.Post{Key: "p2", Thread: th, Text: "second"})
	b.put(first) // told twice, shown once
	for _, who := range []Peer{b.Client, b.Studio} {
		ps := b.posts(who, th)
		if len(ps) != 2 {
			t.Fatalf("%s sees %d posts, want 2", who.ID(), len(ps))
		}
		if ps[0].Text != first.Text || ps[1].Text != "second" {
			t.Errorf("texts %q and %q", ps[0].Text, ps[1].Text)
		}
	}
	b.put(chat.Post{Key: "p1", Thread: th, Text: "edited", Buttons: []chat.Button{{Action: "go/1", Label: "Go", Tone: chat.Good}}})
	ps := b.posts(b.Client, th)
	if len(ps) != 2 || ps[0].Text != "edited" || ps[1].Text != "second" {
		t.Fatalf("after an edit: %+v", ps)
	}
	if len(ps[0].Buttons) != 1 || ps[0].Buttons[0].Action != "go/1" || ps[0].Buttons[0].Label != "Go" {
		t.Errorf("buttons %+v", ps[0].Buttons)
	}
	b.put(chat.Post{Key: "p1", Thread: th, Text: "closed"})
	if ps := b.posts(b.Client, th); len(ps[0].Buttons) != 0 {
		t.Errorf("an edit without buttons left %+v", ps[0].Buttons)
	}
}

func commands(t *testing.T, b *bench) {
	offer := func(p Peer) string {
		names, err := p.Commands(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		return fmt.Sprint(slices.Sorted(slices.Values(names)))
	}
	if got := offer(b.Client); got != "[echo ping show]" {
		t.Errorf("a client is offered %s", got)
	}
	if got := offer(b.Studio); got != "[echo ping show studio-only]" {
		t.Errorf("the studio is offered %s", got)
	}
	th := b.thread("commands", b.Client)
	b.replies(chat.Reply{Text: "heard *you*", Thread: th})
	text := `97,5 cm "<b>" & 'x' *y* – 38 1/2 in`
	a := b.well(b.Client.Do(t.Context(), "", "echo", map[string]string{"text": text}))
	if a.Text != "heard *you*" || a.Thread != th {
		t.Errorf("answer %+v", a)
	}
	in := b.last()
	if in.Command != "echo" || in.Thread != "" || in.Person.ID != b.Client.ID() || in.Person.Studio || in.Person.Name == "" {
		t.Errorf("arrived as %+v", in)
	}
	if !maps.Equal(in.Values, map[string]string{"text": text}) {
		t.Errorf("options arrived as %q", in.Values)
	}
	b.replies(chat.Reply{})
	a = b.well(b.Studio.Do(t.Context(), th, "studio-only", nil))
	if a.Text != "" {
		t.Errorf("an empty reply showed %q", a.Text)
	}
	if in := b.last(); !in.Person.Studio || in.Person.ID != b.Studio.ID() || in.Thread != th {
		t.Errorf("the studio's command arrived as %+v", in)
	}
}

func buttons(t *testing.T, b *bench) {
	th := b.thread("buttons", b.Client)
	b.put(chat.Post{Key: "b", Thread: th, Text: "ready", Buttons: []chat.Button{
		{Action: "approve/C0001/2", Label: "Approve", Tone: chat.Good}, {Action: "decline/C0001/2", Label: "Decline", Tone: chat.Grave}}})
	b.replies(chat.Reply{Text: "sure?", Buttons: []chat.Button{{Action: "sure/C0001", Label: "Yes", Tone: chat.Grave}}})
	a := b.well(b.Client.Press(t.Context(), th, "decline/C0001/2"))
	if in := b.last(); in.Press != "decline/C0001/2" || in.Thread != th || in.Person.ID != b.Client.ID() {
		t.Errorf("arrived as %+v", in)
	}
	if a.Text != "sure?" || len(a.Buttons) != 1 || a.Buttons[0].Action != "sure/C0001" {
		t.Fatalf("answer %+v", a)
	}
	b.replies(chat.Reply{Text: "done"})
	b.well(b.Client.Press(t.Context(), th, "sure/C0001"))
	if in := b.last(); in.Press != "sure/C0001" {
		t.Errorf("a private button arrived as %+v", in)
	}
}

func menus(t *testing.T, b *bench) {
	th := b.thread("menus", b.Client)
	var many []chat.Option
	n := most(b.Transport.Limits().Options, 60)
	for i := range n {
		many = append(many, chat.Option{Value: fmt.Sprintf("v%d", i), Label: fmt.Sprintf("Option %d", i), Note: "a note"})
	}
	b.put(chat.Post{Key: "m", Thread: th, Text: "choose", Menus: []chat.Menu{
		{Action: "one", Label: "Which foam?", Min: 1, Max: 1, Options: many},
		{Action: "some", Label: "Which pieces?", Min: 1, Max: 3, Options: many}}})
	b.answers(nil)
	b.well(b.Client.Pick(t.Context(), th, "one", "v7"))
	if in := b.last(); in.Pick != "one" || !slices.Equal(in.Picked, []string{"v7"}) {
		t.Errorf("arrived as %+v", in)
	}
	b.answers(nil)
	b.well(b.Client.Pick(t.Context(), th, "some", "v3", "v24"))
	if in := b.last(); in.Pick != "some" || !slices.Equal(slices.Sorted(slices.Values(in.Picked)), []string{"v24", "v3"}) {
		t.Errorf("arrived as %+v", in)
	}
	ps := b.posts(b.Studio, th)
	if len(ps[0].Menus) != 2 || len(ps[0].Menus[1].Options) != n || ps[0].Menus[0].Options[3].Label != "Option 3" {
		t.Errorf("menus are shown as %+v", ps[0].Menus)
	}
}

var measure = chat.Form{
	Action: "measure/C0001", Title: "Helm",
	Fields: []chat.Field{
		{Key: "head", Label: "Head, around", Hint: "57,5 cm", Value: "57"},
		{Key: "chin", Label: "Chin to crown", Optional: true},
		{Key: "notes", Label: "Anything else", Long: true, Optional: true},
	},
}

func forms(t *testing.T, b *bench) {
	th := b.thread("forms", b.Client)
	form := measure
	b.replies(chat.Reply{Form: &form})
	a := b.well(b.Client.Do(t.Context(), th, "ping", nil))
	if a.Form == nil || a.Form.Title != measure.Title || len(a.Form.Fields) != 3 || a.Form.Fields[0].Value != "57" {
		t.Fatalf("the form opened as %+v", a.Form)
	}
	want := map[string]string{"head": ` 22 1/2" <in> & 'so' `, "chin": "", "notes": "first line\n\n  second: ½ é 木 *x*\n"}
	b.replies(chat.Reply{Text: "thank you"})
	a = b.well(b.Client.Submit(t.Context(), th, measure.Action, want))
	if a.Text != "thank you" {
		t.Errorf("answer %+v", a)
	}
	in := b.last()
	if in.Form != measure.Action || !maps.Equal(in.Values, want) {
		t.Errorf("typed %q, arrived %q", want, in.Values)
	}
}

func files(t *testing.T, b *bench) {
	th := b.thread("files", b.Client)
	pdf := chat.File{Name: "quote-C0001-r1.pdf", MIME: "application/pdf", Alt: "the quote", Data: []byte("%PDF-1.7\n\x00\xff\xfe\n%%EOF\n")}
	pic := chat.File{Name: "nest.png", MIME: "image/png", Alt: "sheet 1", Data: PNG(40, 20)}
	b.put(chat.Post{Key: "f", Thread: th, Text: "here", Files: []chat.File{pdf, pic}})
	check := func(what string, got []chat.File, want ...chat.File) {
		t.Helper()
		if len(got) != len(want) {
			t.Fatalf("%s: %d files, want %d", what, len(got), len(want))
		}
		for i := range want {
			if got[i].Name != want[i].Name || !bytes.Equal(got[i].Data, want[i].Data) {
				t.Errorf("%s: file %d is %q with %d bytes, want %q with %d", what, i, got[i].Name, len(got[i].Data), want[i].Name, len(want[i].Data))
			}
		}
	}
	check("posted", b.posts(b.Client, th)[0].Files, pdf, pic)
	b.put(chat.Post{Key: "f", Thread: th, Text: "edited"})
	check("kept on an edit", b.posts(b.Client, th)[0].Files, pdf, pic)
	b.put(chat.Post{Key: "f", Thread: th, Text: "edited", Files: []chat.File{pic}})
	check("replaced", b.posts(b.Client, th)[0].Files, pic)

	b.replies(chat.Reply{Text: "yours alone", Files: []chat.File{pic}})
	a := b.well(b.Client.Do(t.Context(), th, "show", nil, pic))
	check("in a private answer", a.Files, pic)
	check("with a command", b.last().Files, pic)

	b.answers(nil)
	b.well(b.Client.Send(t.Context(), th, pic, chat.File{Name: "two.png", MIME: "image/png", Data: PNG(3, 3)}))
	in := b.last()
	check("sent", in.Files, pic, chat.File{Name: "two.png", Data: PNG(3, 3)})
	if in.Files[0].MIME != "image/png" || in.Thread != th {
		t.Errorf("sent files arrived as %q in %q", in.Files[0].MIME, in.Thread)
	}
	seen, by, err := b.Studio.Posts(t.Context(), th)
	if err != nil {
		t.Fatal(err)
	}
	if n := len(seen) - 1; n < 1 || len(seen[n].Files) != 2 || by[n] != b.Client.ID() {
		t.Errorf("the studio doesn't see what the client sent: %d posts by %v", len(seen), by)
	}
}

func refusals(t *testing.T, b *bench) {
	th := b.thread("refusals", b.Client)
	no := func(context.Context, chat.Incoming) (chat.Reply, error) {
		return chat.Reply{}, fmt.Errorf("measure: %w", &chat.Refusal{Say: `head is 22 <m>, so give it in cm, such as "57,5 cm"`})
	}
	const say = `head is 22 <m>, so give it in cm, such as "57,5 cm"`
	b.answers(no)
	if a := b.must(b.Client.Do(t.Context(), th, "ping", nil)); a.Refused != say || a.Sorry {
		t.Errorf("a refused command shows %q (sorry %v)", a.Refused, a.Sorry)
	}
	b.put(chat.Post{Key: "r", Thread: th, Text: "x", Buttons: []chat.Button{{Action: "go", Label: "Go"}}})
	if a := b.must(b.Client.Press(t.Context(), th, "go")); a.Refused != say {
		t.Errorf("a refused press shows %q", a.Refused)
	}
	form := measure
	b.replies(chat.Reply{Form: &form})
	b.well(b.Client.Do(t.Context(), th, "ping", nil))
	b.answers(no)
	typed := map[string]string{"head": "22 m", "chin": "30", "notes": "kept\nlines"}
	if a := b.must(b.Client.Submit(t.Context(), th, measure.Action, typed)); a.Refused != say {
		t.Errorf("a refused form shows %q", a.Refused)
	}
	// Nothing already given is lost: only the wrong field is typed again.
	b.answers(nil)
	b.well(b.Client.Submit(t.Context(), th, measure.Action, map[string]string{"head": "57,5 cm"}))
	if in := b.last(); in.Values["chin"] != "30" || in.Values["notes"] != "kept\nlines" || in.Values["head"] != "57,5 cm" {
		t.Errorf("after a refusal the form was sent with %q", in.Values)
	}
}

func private(t *testing.T, b *bench) {
	th := b.thread("private", b.Client)
	b.replies(chat.Reply{Text: "a word in your ear"})
	b.well(b.Client.Do(t.Context(), th, "ping", nil))
	if got, err := b.Client.Private(t.Context(), th); err != nil || !strings.Contains(got, "a word in your ear") {
		t.Errorf("the person sees %q, %v", got, err)
	}
	if got, err := b.Studio.Private(t.Context(), th); err != nil || strings.Contains(got, "a word in your ear") {
		t.Errorf("the studio sees %q, %v", got, err)
	}
	for _, p := range b.posts(b.Studio, th) {
		if strings.Contains(p.Text, "a word in your ear") {
			t.Error("a private answer was posted")
		}
	}
}

func again(t *testing.T, b *bench) {
	th := b.thread("again", b.Client)
	b.put(chat.Post{Key: "a", Thread: th, Text: "x", Buttons: []chat.Button{{Action: "go", Label: "Go"}}})
	b.answers(nil)
	b.well(b.Client.Press(t.Context(), th, "go"))
	b.must(b.Client.Again(t.Context()))
	b.must(b.Client.Press(t.Context(), th, "go"))
	b.mu.Lock()
	got := slices.Clone(b.got)
	b.mu.Unlock()
	// A transport may also drop the repeated delivery itself.
	ids := map[string]bool{}
	for _, in := range got {
		ids[in.ID] = true
	}
	if len(got) < 2 || len(got) > 3 || len(ids) != 2 {
		t.Errorf("one act delivered twice and another arrived as %d acts with %d IDs", len(got), len(ids))
	}
}

func failing(t *testing.T, b *bench) {
	th := b.thread("failing", b.Client)
	b.answers(func(context.Context, chat.Incoming) (chat.Reply, error) { panic("the roof") })
	if a := b.must(b.Client.Do(t.Context(), th, "ping", nil)); !a.Sorry || strings.Contains(a.Text+a.Refused, "roof") {
		t.Errorf("a panic shows as %+v", a)
	}
	b.answers(func(context.Context, chat.Incoming) (chat.Reply, error) {
		return chat.Reply{}, errors.New("secret path")
	})
	if a := b.must(b.Client.Do(t.Context(), th, "echo", map[string]string{"text": "x"})); !a.Sorry || strings.Contains(a.Text+a.Refused, "secret") {
		t.Errorf("a failure shows as %+v", a)
	}
	b.replies(chat.Reply{Text: "still here"})
	if a := b.well(b.Client.Do(t.Context(), th, "ping", nil)); a.Text != "still here" {
		t.Errorf("after failures: %+v", a)
	}
}

func atOnce(t *testing.T, b *bench) {
	th := b.thread("at once", b.Client)
	b.answers(func(_ context.Context, in chat.Incoming) (chat.Reply, error) {
		return chat.Reply{Text: "for " + string(in.Person.ID)}, nil
	})
	var wg sync.WaitGroup
	for _, who := range []Peer{b.Client, b.Studio} {
		wg.Go(func() {
			for range 5 {
				a, err := who.Do(t.Context(), th, "ping", nil)
				if err != nil || a.Text != "for "+string(who.ID()) {
					t.Errorf("%s got %q, %v", who.ID(), a.Text, err)
				}
			}
		})
	}
	for i := range 5 {
		wg.Go(func() {
			if err := b.Transport.Put(t.Context(), chat.Post{Key: "one", Thread: th, Text: fmt.Sprint("edit ", i)}); err != nil {
				t.Errorf("put: %v", err)
			}
		})
	}
	wg.Wait()
	if ps := b.posts(b.Client, th); len(ps) != 1 {
		t.Errorf("%d posts of one key", len(ps))
	}
}
