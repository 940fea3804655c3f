package discord

import (
	"context"
	"errors"
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/chat/chattest"
	"benchbell/bot/discord/discordtest"
)

// says is a handler with one reply.
func says(r chat.Reply) chat.Handler {
	return func(context.Context, chat.Incoming) (chat.Reply, error) { return r, nil }
}

// impatient makes the transport's patience end when the returned channel gets a value.
func impatient(tr *Transport) chan<- time.Time {
	late := make(chan time.Time)
	tr.patience = func() (<-chan time.Time, func() bool) { return late, func() bool { return true } }
	return late
}

func TestSlowHandlerIsAcknowledgedInTime(t *testing.T) {
	t.Parallel()
	form := chat.Form{Action: "late", Title: "Late", Fields: []chat.Field{{Key: "a", Label: "A"}}}
	for name, reply := range map[string]chat.Reply{
		"text":  {Text: "took a while", Buttons: []chat.Button{{Action: "x", Label: "X"}}},
		"files": {Files: []chat.File{{Name: "a.png", MIME: "image/png", Data: chattest.PNG(2, 2)}}},
		"form":  {Form: &form},
		"empty": {},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			g := newStage(t)
			late := impatient(g.tr)
			free := make(chan struct{})
			g.run(t, g.tr, func(context.Context, chat.Incoming) (chat.Reply, error) { <-free; return reply, nil })
			ctx, cancel := within(t.Context())
			defer cancel()
			go func() { late <- time.Time{} }()
			o, err := g.client.Command(ctx, g.s.Channel(), "ping", nil)
			if err != nil {
				t.Fatal(err)
			}
			if len(o.Messages) != 1 || !o.Messages[0].Thinking || o.Messages[0].For != g.client.ID() {
				t.Fatalf("the acknowledgement shows %+v", o.Messages)
			}
			g.s.Advance(4 * time.Second) // beyond the three seconds in which an act is to be acknowledged
			close(free)
			a, err := g.client.Peer().Answer(ctx, "", o)
			if err != nil {
				t.Fatal(err)
			}
			if name == "form" {
				if a.Form == nil || a.Form.Action != "late" {
					t.Fatalf("the late form shows as %+v", a)
				}
				return
			}
			if a.Text != reply.Text || len(a.Files) != len(reply.Files) || len(a.Buttons) != len(reply.Buttons) {
				t.Errorf("the late answer is %+v", a)
			}
			if left, err := g.client.Messages(g.s.Channel()); err != nil || name == "empty" && len(left) != 0 {
				t.Errorf("an empty answer leaves %+v, %v", left, err)
			}
		})
	}
}

func TestActNotAcknowledgedIsLost(t *testing.T) {
	t.Parallel()
	s := discordtest.New(t)
	g := &stage{s: s, client: s.AddPerson("Ilka")}
	g.tr = g.transport(t)
	impatient(g.tr) // never ends
	free := make(chan struct{})
	entered := make(chan struct{})
	g.run(t, g.tr, func(context.Context, chat.Incoming) (chat.Reply, error) {
		close(entered)
		<-free
		return chat.Reply{Text: "x"}, nil
	})
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { _, err := g.client.Command(ctx, s.Channel(), "ping", nil); done <- err }()
	<-entered
	s.Advance(4 * time.Second)
	close(free)
	for len(s.Problems()) == 0 {
		time.Sleep(time.Millisecond)
	}
	cancel()
	if err := <-done; err == nil || !strings.Contains(s.Problems()[0], "4s") {
		t.Errorf("the stand-in lets an act be acknowledged late: %v, %v", err, s.Problems())
	}
}

func TestFormWithPicturesOpensFromAButton(t *testing.T) {
	t.Parallel()
	g := newStage(t)
	pic := chat.File{Name: "where.png", MIME: "image/png", Alt: "where to measure", Data: chattest.PNG(4, 4)}
	form := chat.Form{Action: "measure/1", Title: "Helm", Files: []chat.File{pic}, Fields: []chat.Field{{Key: "head", Label: "Head", Hint: "57 cm"}, {Key: "notes", Label: "Notes", Long: true, Optional: true}}}
	var got []chat.Incoming
	var calls = make(chan chat.Incoming, 8)
	g.run(t, g.tr, func(_ context.Context, in chat.Incoming) (chat.Reply, error) {
		calls <- in
		if in.Form != "" {
			return chat.Reply{Text: "thanks"}, nil
		}
		return chat.Reply{Form: &form}, nil
	})
	ctx, cancel := within(t.Context())
	defer cancel()
	o, err := g.client.Command(ctx, g.s.Channel(), "ping", nil)
	if err != nil || o.Form != nil || len(o.Messages) != 1 {
		t.Fatalf("%+v, %v", o, err)
	}
	m := o.Messages[0]
	if m.For != g.client.ID() || len(m.Attachments) != 1 || m.Attachments[0].Description != pic.Alt || len(m.Components) != 1 {
		t.Fatalf("beside the form stands %+v", m)
	}
	opened, err := g.client.Press(ctx, g.s.Channel(), m.Components[0].Components[0].CustomID)
	if err != nil || opened.Form == nil {
		t.Fatalf("%+v, %v", opened, err)
	}
	typed := map[string]string{"head": "  57,5 *cm* \\ <@1>", "notes": "a\n\n b\t"}
	done, err := g.client.Submit(ctx, "measure/1", typed)
	if err != nil || done.Messages[0].Content != "thanks" {
		t.Fatalf("%+v, %v", done, err)
	}
	close(calls)
	for in := range calls {
		got = append(got, in)
	}
	if len(got) != 2 || !maps.Equal(got[1].Values, typed) {
		t.Errorf("the handler was asked %d times, last with %q", len(got), got[len(got)-1].Values)
	}
}

func TestFormsAreTheirReadersOnly(t *testing.T) {
	t.Parallel()
	var shelf formShelf
	shelf.keep("1", "x", &chat.Form{Action: "a"})
	if shelf.find("2", "x") != nil || shelf.find("1", "x") == nil {
		t.Error("a form was found by another, or not by its own")
	}
	for i := range formsKept + 5 {
		shelf.keep("1", string(rune('a'+i)), &chat.Form{})
	}
	if len(shelf.forms) != formsKept || len(shelf.order) != formsKept {
		t.Errorf("%d forms are kept", len(shelf.forms))
	}
}

func TestFormAfterARestart(t *testing.T) {
	t.Parallel()
	g := newStage(t)
	form := chat.Form{Action: "f", Title: "F", Fields: []chat.Field{{Key: "a", Label: "A"}}}
	stop := g.run(t, g.tr, says(chat.Reply{Text: "with a word", Form: &form}))
	ctx, cancel := within(t.Context())
	defer cancel()
	o, err := g.client.Command(ctx, g.s.Channel(), "ping", nil)
	if err != nil {
		t.Fatal(err)
	}
	button := o.Messages[0].Components[0].Components[0].CustomID
	if _, err := g.client.Press(ctx, g.s.Channel(), button); err != nil {
		t.Fatal(err)
	}
	stop()
	g.s.Forget()
	g.run(t, g.transport(t), func(context.Context, chat.Incoming) (chat.Reply, error) {
		return chat.Reply{}, &chat.Refusal{Say: "give it in cm"}
	})
	o, err = g.client.Submit(ctx, "f", map[string]string{"a": "kept"})
	if err != nil || !strings.Contains(o.Messages[0].Content, "kept") || !strings.Contains(o.Messages[0].Content, "Give it in cm.") {
		t.Errorf("a form refused after a restart shows %+v, %v", o.Messages, err)
	}
	o, err = g.client.Press(ctx, g.s.Channel(), button)
	if err != nil || len(o.Messages) != 1 || !strings.Contains(o.Messages[0].Content, "start again") {
		t.Errorf("a form lost shows %+v, %v", o.Messages, err)
	}
}

func TestPanicsEndNothing(t *testing.T) {
	t.Parallel()
	g := newStage(t)
	g.run(t, g.tr, func(_ context.Context, in chat.Incoming) (chat.Reply, error) {
		if in.Command == "ping" || len(in.Files) > 0 {
			panic("the roof")
		}
		return chat.Reply{Text: "fine"}, nil
	})
	th, err := g.tr.OpenThread(t.Context(), "C0001", "Ilka", g.Client.ID())
	if err != nil {
		t.Fatal(err)
	}
	if a, err := g.Client.Do(t.Context(), th, "ping", nil); err != nil || !a.Sorry {
		t.Errorf("%+v, %v", a, err)
	}
	if a, err := g.Client.Send(t.Context(), th, chat.File{Name: "a.png", Data: []byte("x")}); err != nil || !a.Sorry {
		t.Errorf("%+v, %v", a, err)
	}
	if a, err := g.Studio.Do(t.Context(), th, "bench", nil); err != nil || a.Text != "fine" {
		t.Errorf("%+v, %v", a, err)
	}
}

func TestFilesTooLargeAreRefused(t *testing.T) {
	t.Parallel()
	g := newStage(t)
	g.run(t, g.tr, func(context.Context, chat.Incoming) (chat.Reply, error) {
		return chat.Reply{}, errors.New("must not be asked")
	})
	a, err := g.Client.Do(t.Context(), "", "show", nil, chat.File{Name: "big.png", Data: make([]byte, limits.Upload+1)})
	if err != nil || !strings.Contains(a.Refused, "larger than 8 MB") {
		t.Errorf("%+v, %v", a, err)
	}
}

func TestStudioRole(t *testing.T) {
	t.Parallel()
	g := newStage(t)
	role := g.s.AddRole(0)
	member := g.s.AddPerson("Journeywoman", role)
	tr := g.transport(t, func(o *Options) { o.StudioRole = role })
	seats := make(chan bool, 4)
	g.run(t, tr, func(_ context.Context, in chat.Incoming) (chat.Reply, error) {
		seats <- in.Person.Studio
		return chat.Reply{Text: "ok"}, nil
	})
	ctx, cancel := within(t.Context())
	defer cancel()
	if a, err := member.Peer().Do(ctx, "", "bench", nil); err != nil || a.Text != "ok" || !<-seats {
		t.Errorf("the role's holder: %+v, %v", a, err)
	}
	if a, err := g.Client.Do(ctx, "", "bench", nil); err != nil || !strings.Contains(a.Refused, "only the studio") {
		t.Errorf("a client: %+v, %v", a, err)
	}
	// In direct messages, where an act names no roles, the server is asked.
	for who, want := range map[*discordtest.Person]bool{member: true, g.client: false} {
		id, err := who.Send(ctx, who.Direct(), "", discordtest.File{Name: "a.png", Data: []byte("x")})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := who.Answered(ctx, who.Direct(), id); err != nil {
			t.Fatal(err)
		}
		if got := <-seats; got != want {
			t.Errorf("in direct messages %s sits in the studio's seat: %v", who.ID(), got)
		}
	}
}

func TestLongRepliesAreSplit(t *testing.T) {
	t.Parallel()
	g := newStage(t)
	text := strings.Repeat("sixteen letters_ ", 300)
	g.run(t, g.tr, says(chat.Reply{Text: text, Buttons: []chat.Button{{Action: "b", Label: "B"}}}))
	ctx, cancel := within(t.Context())
	defer cancel()
	if _, err := g.client.Command(ctx, g.s.Channel(), "ping", nil); err != nil {
		t.Fatal(err)
	}
	var a chattest.Answer
	err := g.client.Await(ctx, g.s.Channel(), func(ms []discordtest.Message) bool {
		return len(ms) > 0 && len(ms[len(ms)-1].Components) > 0
	})
	if err != nil {
		t.Fatal(err)
	}
	ms, err := g.client.Messages(g.s.Channel())
	if err != nil {
		t.Fatal(err)
	}
	a = g.client.Peer().Read(ms...)
	if got := strings.Fields(a.Text); !slices.Equal(got, strings.Fields(text)) {
		t.Errorf("%d words arrived of %d, in %d messages", len(got), len(strings.Fields(text)), len(ms))
	}
	for _, m := range ms {
		if m.For != g.client.ID() {
			t.Error("a piece of a private answer is for everybody")
		}
	}
}

func TestGatewayLost(t *testing.T) {
	t.Parallel()
	for _, forgotten := range []bool{false, true} {
		g := newStage(t)
		g.run(t, g.tr, says(chat.Reply{Text: "here"}))
		ctx, cancel := within(t.Context())
		defer cancel()
		if _, err := g.client.Command(ctx, g.s.Channel(), "ping", nil); err != nil {
			t.Fatal(err)
		}
		if forgotten {
			g.s.Forget()
		}
		g.s.DropGateway()
		o, err := g.client.Command(ctx, g.s.Channel(), "ping", nil)
		if err != nil || o.Messages[0].Content != "here" {
			t.Errorf("after the gateway was lost (session forgotten: %v): %+v, %v", forgotten, o, err)
		}
	}
}

// Words in a commission's thread are heard, once, and not answered; what people say elsewhere is their own.
func TestWordsInAThread(t *testing.T) {
	t.Parallel()
	g := newStage(t)
	heard := make(chan chat.Incoming, 9)
	g.run(t, g.tr, func(_ context.Context, in chat.Incoming) (chat.Reply, error) {
		heard <- in
		return chat.Reply{}, nil
	})
	ctx, cancel := within(t.Context())
	defer cancel()
	th, err := g.tr.OpenThread(ctx, "C0007", "C0007 · Ilka", g.client.Peer().ID())
	if err != nil {
		t.Fatal(err)
	}
	channel := strings.TrimPrefix(string(th), "discord:")
	if _, err := g.client.Send(ctx, g.s.Channel(), "nobody's business"); err != nil {
		t.Fatal(err)
	}
	if _, err := g.client.Send(ctx, channel, "Can it be posted? <@1>"); err != nil {
		t.Fatal(err)
	}
	select {
	case in := <-heard:
		if in.Said != "Can it be posted? <@1>" || in.Thread != th || in.Person.Studio || len(in.Files) > 0 || in.ID == "" {
			t.Errorf("heard is %+v", in)
		}
	case <-ctx.Done():
		t.Fatal("words in a thread are not heard")
	}
	id, err := g.client.Send(ctx, channel, "like this", discordtest.File{Name: "a.png", Data: []byte("x")})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := g.client.Answered(ctx, channel, id); err != nil {
		t.Fatal(err)
	}
	if in := <-heard; in.Said != "like this" || len(in.Files) != 1 {
		t.Errorf("with a picture heard is %+v", in)
	}
	if n := len(heard); n > 0 {
		t.Errorf("%d more are heard: %+v", n, <-heard)
	}
}

func TestWithoutMessageContent(t *testing.T) {
	t.Parallel()
	g := newStage(t)
	g.s.Deny("message content")
	g.run(t, g.tr, says(chat.Reply{Text: "here"}))
	if a, err := g.Client.Do(t.Context(), "", "ping", nil); err != nil || a.Text != "here" {
		t.Errorf("%+v, %v", a, err)
	}
}

func TestWrongToken(t *testing.T) {
	t.Parallel()
	g := newStage(t)
	tr := g.transport(t, func(o *Options) { o.Token = "wrong" })
	if err := tr.Run(t.Context(), nil, says(chat.Reply{})); err == nil || !strings.Contains(err.Error(), "token is not valid") {
		t.Errorf("a wrong token: %v", err)
	}
	for _, o := range []Options{{}, {Token: "x", API: "no address"}, {Token: "x", API: "ftp://x"}} {
		if _, err := New(o); err == nil {
			t.Errorf("%+v was taken", o)
		}
	}
}

// TestEndingAnswersWhatIsUnderWay: an act taken before the end is answered, though the handler's context is over.
func TestEndingAnswersWhatIsUnderWay(t *testing.T) {
	t.Parallel()
	g := newStage(t)
	entered := make(chan struct{})
	stop := g.run(t, g.tr, func(ctx context.Context, _ chat.Incoming) (chat.Reply, error) {
		close(entered)
		<-ctx.Done()
		return chat.Reply{Text: "just in time"}, nil
	})
	ctx, cancel := within(t.Context())
	defer cancel()
	done := make(chan discordtest.Outcome, 1)
	go func() {
		o, err := g.client.Command(ctx, g.s.Channel(), "ping", nil)
		if err != nil {
			t.Error(err)
		}
		done <- o
	}()
	<-entered
	stop()
	if o := <-done; len(o.Messages) != 1 || o.Messages[0].Content != "just in time" {
		t.Errorf("%+v", o.Messages)
	}
}

// TestDirectMessages: who writes in direct messages has the commission there.
func TestDirectMessages(t *testing.T) {
	t.Parallel()
	g := newStage(t)
	tr := g.transport(t, func(o *Options) { o.Guild = "" })
	threads := make(chan chat.ThreadID, 2)
	g.run(t, tr, func(_ context.Context, in chat.Incoming) (chat.Reply, error) {
		threads <- in.Thread
		return chat.Reply{Text: "ok"}, nil
	})
	ctx, cancel := within(t.Context())
	defer cancel()
	dm := g.client.Direct()
	if _, err := g.client.Command(ctx, dm, "ping", nil); err != nil {
		t.Fatal(err)
	}
	if th := <-threads; th != "" {
		t.Errorf("before any commission the thread is %q", th)
	}
	th, err := tr.OpenThread(ctx, "C0009", "Ilka", g.Client.ID())
	if err != nil || th != threadID(dm) {
		t.Fatalf("the thread is %s, %v", th, err)
	}
	if _, err := g.client.Command(ctx, dm, "ping", nil); err != nil {
		t.Fatal(err)
	}
	if got := <-threads; got != th {
		t.Errorf("in the commission's direct messages the thread is %q", got)
	}
	if _, err := g.client.Command(ctx, dm, "bench", nil); err == nil {
		t.Error("a studio command is offered in direct messages")
	}
}
