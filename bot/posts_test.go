package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"golang.org/x/sync/errgroup"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/quote/pattern"
	"benchbell/quote/settings"
)

// tally is the demo's stage with somebody beside it who counts what people are shown.
type tally struct {
	*stage
	mu    sync.Mutex
	posts map[string]chat.Post
	edits map[string]int
	order []string
}

func (c *tally) Put(ctx context.Context, p chat.Post) error {
	c.mu.Lock()
	if _, ok := c.posts[p.Key]; ok {
		c.edits[p.Key]++
	} else {
		c.posts[p.Key] = p
		c.order = append(c.order, p.Key)
	}
	c.mu.Unlock()
	return c.stage.Put(ctx, p)
}

// count is what was shown of a kind of thread: posts, how often they were edited, and posts that told somebody.
type count struct{ posts, edits, pings int }

func (c *tally) count(of func(chat.Post) bool) (n count) {
	for _, p := range c.posts {
		if !of(p) {
			continue
		}
		n.posts++
		n.edits += c.edits[p.Key]
		if len(p.Mention) > 0 {
			n.pings++
		}
	}
	return n
}

// staged plays a commission on the demo's stage and counts what its client and the studio are shown.
func staged(t *testing.T, play func(ctx context.Context, s *stage, led *ledger.Ledger, mara chat.Person, out string) error) *tally {
	t.Helper()
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	led, err := ledger.Open(ctx, filepath.Join(t.TempDir(), "ledger.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer led.Close()
	g, ctx := errgroup.WithContext(ctx)
	q, err := openQueue(ctx, g, func(string) string { return "" }, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	defer q.Close()
	c := &tally{stage: newStage(io.Discard, demoStart), posts: map[string]chat.Post{}, edits: map[string]int{}}
	mara := chat.Person{ID: "demo:mara", Name: "Mara (studio)", Studio: true}
	o, err := newOffice(led, q, []chat.Transport{c}, settings.Demo())
	if err != nil {
		t.Fatal(err)
	}
	o.timed(c.now)
	o.desk.Boards = []chat.PersonID{mara.ID}
	o.shop.Patience = max(0, time.Since(demoStart)) + time.Hour
	d := o.open()
	c.desk = d
	g.Go(func() error { return converse(ctx, new(errgroup.Group), d, []chat.Transport{c}) })
	err = play(ctx, c.stage, led, mara, t.TempDir())
	stop()
	if end := g.Wait(); end != nil && !errors.Is(end, context.Canceled) && err == nil {
		err = end
	}
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// whole plays a commission of every set of the library, without a change of mind.
func whole(ctx context.Context, s *stage, led *ledger.Ledger, mara chat.Person, out string) error {
	ilka := chat.Person{ID: "demo:ilka", Name: "Ilka Brandt"}
	zone, err := time.LoadLocation(settings.Demo().Calendar.Zone)
	if err != nil {
		return err
	}
	sets, err := everySet()
	if err != nil {
		return err
	}
	if err := drawnBody(); err != nil {
		return err
	}
	for _, step := range []func() error{
		func() error { return s.command(ctx, ilka, "commission", nil) },
		func() error { return s.pick(ctx, ilka, "Pattern sets", sets...) },
		func() error { return s.pick(ctx, ilka, "Finish", "painted") },
		func() error { return s.measure(ctx, ilka, "Go on") },
		func() error { return s.press(ctx, ilka, "These are right") },
		func() error { return s.await(ctx, "Approve") },
		func() error { return s.press(ctx, ilka, "Approve") },
		func() error { return s.advance(ctx, 26*time.Hour) },
		func() error { return s.press(ctx, mara, "Deposit received") },
		func() error { return s.work(ctx, mara, ilka) },
		func() error { return s.collected(ctx, ilka, zone) },
		func() error { return s.press(ctx, mara, "Handed over") },
		func() error { return s.settle(ctx) },
	} {
		if err := step(); err != nil {
			return err
		}
	}
	return nil
}

// A client gets few posts of a commission, from the first message to handing over, and the bench is told of each thing to do once.
func TestPostsOfACommission(t *testing.T) {
	for _, of := range []struct {
		name string
		play func(context.Context, *stage, *ledger.Ledger, chat.Person, string) error
	}{{"two sets", play}, {"every set", whole}} {
		t.Run(of.name, func(t *testing.T) {
			if raceDetector && of.name == "every set" {
				t.Skip("the same runs side by side with two sets; the run without the race detector has all")
			}
			c := staged(t, of.play)
			inThread := func(p chat.Post) bool { return strings.HasPrefix(string(p.Thread), "demo:C") }
			client, board := c.count(inThread), c.count(func(p chat.Post) bool { return !inThread(p) })
			t.Logf("%s: client's thread %d posts, %d edits, %d pings; board %d posts, %d edits, %d pings",
				of.name, client.posts, client.edits, client.pings, board.posts, board.edits, board.pings)
			const mostForAClient = 8
			if client.posts > mostForAClient {
				t.Errorf("the client gets %d posts, more than %d", client.posts, mostForAClient)
			}
			told, lines := 0, map[string]int{} // things to do that somebody at the bench is told of
			for k, p := range c.posts {
				if strings.HasPrefix(k, "told/") {
					told++
					for line := range strings.SplitSeq(p.Text, "\n") {
						if line, item := strings.CutPrefix(line, "• "); item || !strings.HasSuffix(line, ":*") {
							lines[line]++
						}
					}
				}
			}
			if told == 0 || board.pings > told || told > len(lines) {
				t.Errorf("at the bench %d posts with %d pings tell %d things", told, board.pings, len(lines))
			}
			for line, n := range lines {
				if n > 1 {
					t.Errorf("told %d times: %s", n, line)
				}
			}
			for _, k := range c.order {
				p := c.posts[k]
				text, _, _ := strings.Cut(p.Text, "\n")
				t.Logf("%-24s %3d edits, pings %v: %s", k, c.edits[k], slices.Clone(p.Mention), chat.Clip(text, 90))
			}
		})
	}
}

// drawnBody has the client type the measurements that the library was drawn to.
func drawnBody() error {
	sets, err := shop.Library()
	if err != nil {
		return err
	}
	for _, s := range sets {
		p, err := pattern.Parse([]byte(s.Source.Drawing), []byte(s.Source.TOML))
		if err != nil {
			return err
		}
		for key, v := range p.Base {
			demoTyped[key] = []string{fmt.Sprintf("%.0f mm", float64(v))}
		}
	}
	return nil
}

// everySet are the names of the library's sets.
func everySet() ([]string, error) {
	sets, err := shop.Library()
	if err != nil {
		return nil, err
	}
	var names []string
	for _, s := range sets {
		names = append(names, s.Name)
	}
	return names, nil
}
