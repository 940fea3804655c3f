package discord

import (
	"context"
	"log/slog"
	"testing"

	"benchbell/bot/chat"
	"benchbell/bot/chat/chattest"
	"benchbell/bot/discord/discordtest"
)

func within(ctx context.Context) (context.Context, context.CancelFunc) {
	return context.WithTimeout(ctx, discordtest.Patience)
}

// stage is a stand-in with a transport that isn't running yet and three people.
type stage struct {
	chattest.Bench
	s                     *discordtest.Server
	tr                    *Transport
	client, other, studio *discordtest.Person
	role                  string
}

// newStage makes one; the stand-in must have found nothing wrong at the end.
func newStage(t *testing.T, change ...func(*Options)) *stage {
	t.Helper()
	s := discordtest.New(t)
	g := &stage{s: s}
	g.role = s.AddRole(discordtest.ManageServer | discordtest.ManageThreads)
	g.client, g.other, g.studio = s.AddPerson("Ilka"), s.AddPerson("Bo"), s.AddPerson("Studio", g.role)
	g.tr = g.transport(t, change...)
	g.Bench = chattest.Bench{Transport: g.tr, Client: g.client.Peer(), Other: g.other.Peer(), Studio: g.studio.Peer()}
	t.Cleanup(func() {
		for _, p := range s.Problems() {
			t.Error("the service refuses: ", p)
		}
	})
	return g
}

// transport is another one for the same bot, as after a restart.
func (g *stage) transport(t *testing.T, change ...func(*Options)) *Transport {
	t.Helper()
	o := Options{Token: g.s.Token(), Guild: g.s.Guild(), Channel: g.s.Channel(), API: g.s.URL(), Log: slog.New(slog.DiscardHandler)}
	for _, c := range change {
		c(&o)
	}
	tr, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

// run serves with h until the test ends or stop is called.
func (g *stage) run(t *testing.T, tr *Transport, h chat.Handler) (stop func()) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- tr.Run(ctx, offered, h) }()
	once := false
	stop = func() {
		if once {
			return
		}
		once = true
		cancel()
		if err := <-ended; err != nil {
			t.Errorf("run ended with %v", err)
		}
		wait, done := within(context.Background())
		defer done()
		if err := g.s.Down(wait); err != nil {
			t.Error(err)
		}
	}
	t.Cleanup(stop)
	wait, done := within(t.Context())
	defer done()
	if err := g.s.Connected(wait); err != nil {
		t.Fatal(err)
	}
	return stop
}

var offered = []chat.Command{
	{Name: "ping", Summary: "answer"},
	{Name: "show", Summary: "show a picture", Options: []chat.CommandOption{{Name: "note", Summary: "what it is"}, {Name: "picture", Summary: "a picture", Required: true, File: true}}},
	{Name: "bench", Summary: "the bench", Studio: true},
}

func TestConformance(t *testing.T) {
	t.Parallel()
	chattest.Conformance(t, func(t *testing.T) chattest.Bench { return newStage(t).Bench })
}
