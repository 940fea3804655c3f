package discord

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"benchbell/bot/chat"
	"benchbell/bot/discord/discordtest"
)

func open(t *testing.T, g *stage, tr *Transport, key string) chat.ThreadID {
	t.Helper()
	th, err := tr.OpenThread(t.Context(), key, key+" · Ilka", g.Client.ID())
	if err != nil {
		t.Fatal(err)
	}
	return th
}

func put(t *testing.T, tr *Transport, p chat.Post) {
	t.Helper()
	if err := tr.Put(t.Context(), p); err != nil {
		t.Fatal(err)
	}
}

func messages(t *testing.T, g *stage, th chat.ThreadID) []discordtest.Message {
	t.Helper()
	ms, err := g.client.Messages(strings.TrimPrefix(string(th), "discord:"))
	if err != nil {
		t.Fatal(err)
	}
	return ms
}

func TestThreadHoldsClientAndBotAlone(t *testing.T) {
	t.Parallel()
	g := newStage(t)
	th := open(t, g, g.tr, "C0007")
	id := strings.TrimPrefix(string(th), "discord:")
	in := g.s.Members(id)
	slices.Sort(in)
	want := []string{g.s.Bot(), g.client.ID()}
	slices.Sort(want)
	if !slices.Equal(in, want) {
		t.Errorf("in the thread are %v, want %v", in, want)
	}
	if name, private := g.s.ThreadName(id); name != "C0007 · Ilka" || !private {
		t.Errorf("the thread is %q, private %v", name, private)
	}
}

func TestPublicThreadWhereNoPrivateOne(t *testing.T) {
	t.Parallel()
	g := newStage(t)
	g.s.Deny("private threads")
	th := open(t, g, g.tr, "C0007")
	if _, private := g.s.ThreadName(strings.TrimPrefix(string(th), "discord:")); private {
		t.Error("a private thread in spite of permissions")
	}
}

func TestDirectMessagesWhereNoThread(t *testing.T) {
	t.Parallel()
	g := newStage(t)
	g.s.Deny("private threads", "public threads")
	if th := open(t, g, g.tr, "C0007"); th != threadID(g.client.Direct()) {
		t.Errorf("the thread is %s", th)
	}
}

// TestRestart goes on with an empty Memory, as after the loss of it: threads and posts are found at the service.
func TestRestart(t *testing.T) {
	t.Parallel()
	g := newStage(t)
	th := open(t, g, g.tr, "C0007")
	put(t, g.tr, chat.Post{Key: "C0007/card", Thread: th, Text: "first"})
	for i := range 120 { // beyond one page
		put(t, g.tr, chat.Post{Key: fmt.Sprint("C0007/n", i), Thread: th, Text: "later"})
	}
	g.s.Advance(time.Hour) // beyond the service's own memory of nonces
	again := g.transport(t)
	if same := open(t, g, again, "C0007"); same != th {
		t.Errorf("after a restart the thread is %s, was %s", same, th)
	}
	if other := open(t, g, again, "C000"); other == th {
		t.Error("a key that begins another's gives its thread")
	}
	put(t, again, chat.Post{Key: "C0007/card", Thread: th, Text: "second"})
	ms := messages(t, g, th)
	if len(ms) != 121 || discordtest.Shown(ms[0].Content) != "second" {
		t.Errorf("after a restart there are %d messages, the first %q", len(ms), ms[0].Content)
	}
	g.s.Archive(strings.TrimPrefix(string(th), "discord:"))
	third := g.transport(t)
	if same := open(t, g, third, "C0007"); same != th {
		t.Errorf("a thread at rest is not found: %s, was %s", same, th)
	}
	put(t, third, chat.Post{Key: "C0007/card", Thread: th, Text: "third"})
	if ms := messages(t, g, th); discordtest.Shown(ms[0].Content) != "third" {
		t.Errorf("a thread at rest shows %q", ms[0].Content)
	}
}

// TestLostAnswers: the service did what it was asked and the answer was lost; nothing is doubled.
func TestLostAnswers(t *testing.T) {
	t.Parallel()
	g := newStage(t)
	th := open(t, g, g.tr, "C0007")
	g.s.Fail(discordtest.Failure{Method: "POST", Path: "/messages", Times: 1, Status: 502, Lost: true})
	put(t, g.tr, chat.Post{Key: "a", Thread: th, Text: "once"})
	if ms := messages(t, g, th); len(ms) != 1 {
		t.Errorf("%d messages of one post", len(ms))
	}
}

func TestDeletedPostComesAgain(t *testing.T) {
	t.Parallel()
	g := newStage(t)
	th := open(t, g, g.tr, "C0007")
	put(t, g.tr, chat.Post{Key: "a", Thread: th, Text: "one"})
	g.s.Delete(strings.TrimPrefix(string(th), "discord:"), messages(t, g, th)[0].ID)
	put(t, g.tr, chat.Post{Key: "a", Thread: th, Text: "two"})
	put(t, g.tr, chat.Post{Key: "a", Thread: th, Text: "three"})
	if ms := messages(t, g, th); len(ms) != 1 || discordtest.Shown(ms[0].Content) != "three" {
		t.Errorf("after a deletion: %+v", ms)
	}
}

func TestFailuresAndLimitsAreWaitedOut(t *testing.T) {
	t.Parallel()
	g := newStage(t)
	th := open(t, g, g.tr, "C0007")
	g.s.Fail(discordtest.Failure{Method: "POST", Path: "/messages", Times: 6, Status: 429, RetryAfter: 2 * time.Millisecond})
	g.s.Fail(discordtest.Failure{Method: "POST", Path: "/messages", Times: 1, Status: 500})
	put(t, g.tr, chat.Post{Key: "a", Thread: th, Text: "at last"})
	if ms := messages(t, g, th); len(ms) != 1 {
		t.Errorf("%d messages", len(ms))
	}
	if n := g.s.Requests("POST", "/messages"); n != 8 {
		t.Errorf("the post was tried %d times, want 8", n)
	}
	g.s.Fail(discordtest.Failure{Method: "POST", Path: "/messages", Times: 1, Status: 429, RetryAfter: time.Hour})
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- g.tr.Put(ctx, chat.Post{Key: "b", Thread: th, Text: "never"}) }()
	for g.s.Requests("POST", "/messages") < 9 {
		time.Sleep(time.Millisecond)
	}
	cancel()
	if err := <-done; !errors.Is(err, context.Canceled) {
		t.Errorf("a wait of an hour, cancelled: %v", err)
	}
}

func TestMentionsTellOnlyThoseMeant(t *testing.T) {
	t.Parallel()
	g := newStage(t)
	th := open(t, g, g.tr, "C0007")
	evil := "@everyone @here <@" + g.other.ID() + "> <@&" + g.role + ">"
	put(t, g.tr, chat.Post{Key: "a", Thread: th, Text: evil, Mention: []chat.PersonID{g.Client.ID(), "browser:mara", "discord:1> @everyone"}})
	put(t, g.tr, chat.Post{Key: "b", Thread: th, Text: evil})
	ms := messages(t, g, th)
	if !slices.Equal(ms[0].Pings, []string{g.client.ID()}) || len(ms[1].Pings) != 0 {
		t.Errorf("told were %v and %v", ms[0].Pings, ms[1].Pings)
	}
	g.run(t, g.tr, says(chat.Reply{Text: evil}))
	if a, err := g.Client.Do(t.Context(), th, "ping", nil); err != nil || a.Text != evil {
		t.Errorf("%q, %v", a.Text, err)
	}
}

func TestPostsBeyondLimitsAreRefused(t *testing.T) {
	t.Parallel()
	g := newStage(t)
	th := open(t, g, g.tr, "C0007")
	b := chat.Button{Action: "a", Label: "A"}
	var many []chat.Option
	for i := range limits.Options + 1 {
		many = append(many, chat.Option{Value: fmt.Sprint(i), Label: "x"})
	}
	for what, p := range map[string]chat.Post{
		"twice the action": {Buttons: []chat.Button{b, b}},
		"no action":        {Buttons: []chat.Button{{Label: "A"}}},
		"a long action":    {Buttons: []chat.Button{{Action: strings.Repeat("a", limits.Action+1), Label: "A"}}},
		"no label":         {Buttons: []chat.Button{{Action: "a"}}},
		"many options":     {Menus: []chat.Menu{{Action: "m", Options: many}}},
		"many chosen":      {Menus: []chat.Menu{{Action: "m", Max: 1, Options: []chat.Option{{Value: "a", Label: "A", Chosen: true}, {Value: "b", Label: "B", Chosen: true}}}}},
		"a large file":     {Files: []chat.File{{Name: "a.pdf", Data: make([]byte, limits.File+1)}}},
		"no options":       {Menus: []chat.Menu{{Action: "m"}}},
		"many files":       {Files: make([]chat.File, limits.Files+1)},
		"no key":           {},
	} {
		p.Thread, p.Text = th, "x"
		if what != "no key" {
			p.Key = what
		}
		if err := g.tr.Put(t.Context(), p); err == nil {
			t.Errorf("%s was taken", what)
		}
	}
	if n := len(messages(t, g, th)); n != 0 {
		t.Errorf("%d messages were posted", n)
	}
}

// TestAnyPostFits: whatever text, labels and progress a post has, the service takes it.
func TestAnyPostFits(t *testing.T) {
	t.Parallel()
	g := newStage(t)
	th := open(t, g, g.tr, "C0007")
	n := 0
	rapid.Check(t, func(r *rapid.T) {
		n++
		p := chat.Post{Key: fmt.Sprint(n), Thread: th, Text: rapid.StringOfN(rapid.RuneFrom([]rune("ab *_<>@`\n\\木é[#-|~")), 1, 2500, -1).Draw(r, "text")}
		if rapid.Bool().Draw(r, "bar") {
			p.Bar = &chat.Bar{Stages: rapid.SliceOfN(rapid.StringN(1, 40, -1), 0, 12).Draw(r, "stages"), At: rapid.IntRange(-1, 13).Draw(r, "at"), Share: rapid.Float64().Draw(r, "share"), Failed: rapid.Bool().Draw(r, "failed")}
		}
		for i := range rapid.IntRange(0, 5).Draw(r, "buttons") {
			p.Buttons = append(p.Buttons, chat.Button{Action: fmt.Sprint(i), Label: "x" + rapid.StringN(0, 200, -1).Draw(r, "label")})
		}
		if err := g.tr.Put(context.Background(), p); err != nil {
			r.Fatalf("%v", err)
		}
	})
}

func TestMarkdownShowsWhatWasWritten(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(r *rapid.T) {
		s := rapid.StringOf(rapid.RuneFrom([]rune("ab *_<>@`\n\\é[#-|~"))).Draw(r, "s")
		if got := discordtest.Shown(markdown(s)); got != s {
			r.Fatalf("%q is written %q and shows as %q", s, markdown(s), got)
		}
	})
	for in, want := range map[string]string{
		"*Graded* at 2*3*4":          `**Graded** at 2\*3\*4`,
		"see https://a.example/b_c_": `see https://a.example/b_c_`,
		"# no heading":               `\# no heading`,
		"<@1> ~~x~~":                 `\<@1> \~\~x\~\~`,
	} {
		if got := markdown(in); got != want {
			t.Errorf("%q is written %q, want %q", in, got, want)
		}
	}
}

func TestBar(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		bar  chat.Bar
		want string
	}{
		{chat.Bar{Stages: []string{"grade", "nest"}, At: 1, Share: 0.5}, "✓ grade · ▸ **nest**\n▰▰▰▰▰▰▰▱▱▱ 75 %"},
		{chat.Bar{Stages: []string{"grade", "nest"}, At: 2}, "✓ grade · ✓ nest\n▰▰▰▰▰▰▰▰▰▰ 100 %"},
		{chat.Bar{Stages: []string{"grade", "nest"}, At: 0, Failed: true}, "✗ **grade** · nest\n▱▱▱▱▱▱▱▱▱▱ 0 % · stopped"},
	} {
		stages, blocks := barText(c.bar)
		if got := stages + "\n" + blocks; got != c.want {
			t.Errorf("%+v shows as %q, want %q", c.bar, got, c.want)
		}
		if n := length(blocks) + 1; n > barRoom {
			t.Errorf("%+v takes %d characters without its stages, more than the %d kept for it", c.bar, n, barRoom)
		}
	}
}

func TestThreadName(t *testing.T) {
	t.Parallel()
	for _, c := range [][3]string{
		{"C0007", "C0007 · Ilka", "C0007 · Ilka"}, {"C0007", "Ilka", "C0007 · Ilka"}, {"C0007", "", "C0007"}, {"C0007", "C0007", "C0007"},
	} {
		if got := threadName(c[0], c[1]); got != c[2] {
			t.Errorf("%q, %q names %q, want %q", c[0], c[1], got, c[2])
		}
	}
	if n := len([]rune(threadName(strings.Repeat("k", 99), strings.Repeat("t", 200)))); n > threadNameSize {
		t.Errorf("a name of %d characters", n)
	}
}
