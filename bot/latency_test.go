package main

import (
	"context"
	"fmt"
	"log/slog"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"golang.org/x/sync/errgroup"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/jobs/jobstest"
	"benchbell/quote/settings"
)

// lobby is a transport that only notices when a PDF is posted.
type lobby struct {
	handler chan chat.Handler
	posted  chan time.Time
}

func (l *lobby) Scheme() string { return "lobby" }

func (l *lobby) Limits() chat.Limits { return chat.Limits{} }

func (l *lobby) OpenThread(_ context.Context, key, _ string, _ chat.PersonID) (chat.ThreadID, error) {
	return chat.ThreadID("lobby:" + key), nil
}

func (l *lobby) Put(_ context.Context, p chat.Post) error {
	if slices.ContainsFunc(p.Files, func(f chat.File) bool { return f.MIME == "application/pdf" }) {
		l.posted <- time.Now()
	}
	return nil
}

func (l *lobby) Run(ctx context.Context, _ []chat.Command, h chat.Handler) error {
	l.handler <- h
	<-ctx.Done()
	return nil
}

// BenchmarkQuoteLatency takes the time from "These are right" to the quote's PDF in the thread, at the demo studio's
// full effort: real ledger, real queue, real engine; only the people are missing.
func BenchmarkQuoteLatency(b *testing.B) {
	b.Run("embedded", func(b *testing.B) { quoteLatency(b, "") })
	b.Run("redis", func(b *testing.B) {
		redis := jobstest.Redis(b)
		workers(b, redis, 2)
		quoteLatency(b, redis)
	})
}

func quoteLatency(b *testing.B, redis string) {
	led, err := ledger.Open(b.Context(), filepath.Join(b.TempDir(), "ledger.db"))
	if err != nil {
		b.Fatal(err)
	}
	defer led.Close()
	ctx, stop := context.WithCancel(b.Context())
	g, ctx := errgroup.WithContext(ctx)
	q, err := openQueue(ctx, g, func(string) string { return redis /* the one setting asked for */ }, slog.New(slog.DiscardHandler))
	if err != nil {
		b.Fatal(err)
	}
	l := &lobby{handler: make(chan chat.Handler, 1), posted: make(chan time.Time, 1)}
	o, err := newOffice(led, q, []chat.Transport{l}, settings.Demo())
	if err != nil {
		b.Fatal(err)
	}
	g.Go(func() error { return converse(ctx, new(errgroup.Group), o.open(), o.desk.Transports) })
	h := <-l.handler
	acts := 0
	act := func(in chat.Incoming) chat.Reply {
		acts++
		in.ID, in.Person = fmt.Sprint(acts), chat.Person{ID: "lobby:ilka", Name: "Ilka"}
		r, err := h(ctx, in)
		if err != nil {
			b.Fatal(err)
		}
		return r
	}
	var took []time.Duration
	n := 0
	for b.Loop() {
		b.StopTimer()
		n++
		id := fmt.Sprintf("C%04d", n)
		act(chat.Incoming{Command: "commission"})
		act(chat.Incoming{Pick: "sets/" + id, Picked: []string{"forearm-cuff", "shoulder-cap"}})
		act(chat.Incoming{Pick: "finish/" + id, Picked: []string{"painted"}})
		r := act(chat.Incoming{Press: "measure/" + id})
		for r.Form != nil {
			values := map[string]string{}
			for _, f := range r.Form.Fields {
				values[f.Key] = robotTypes[f.Key]
			}
			if r = act(chat.Incoming{Form: r.Form.Action, Values: values}); len(r.Buttons) > 0 {
				r = act(chat.Incoming{Press: r.Buttons[0].Action})
			}
		}
		b.StartTimer()
		began := time.Now()
		act(chat.Incoming{Press: "right/" + id})
		took = append(took, (<-l.posted).Sub(began))
	}
	slices.Sort(took)
	at := func(percent int) float64 { return float64(took[(len(took)*percent+99)/100-1].Milliseconds()) } // nearest rank
	b.ReportMetric(at(50), "p50-ms")
	b.ReportMetric(at(99), "p99-ms")
	stop()
	if err := g.Wait(); err != nil && ctx.Err() == nil {
		b.Error(err)
	}
	if err := q.Close(); err != nil {
		b.Error(err)
	}
}
