package desk

import (
	"context"
	"errors"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/jobs"
	"benchbell/jobs/jobstest"
	"benchbell/quote"
	"benchbell/quote/measure"
)

// TestRun has the machinery work by itself, with several clients at once and a transport that fails now and then.
func TestRun(t *testing.T) {
	led, err := ledger.Open(t.Context(), filepath.Join(t.TempDir(), "ledger.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer led.Close()
	quoted := make(chan string, 100)
	tr := &stageTransport{threads: map[string]chat.ThreadID{}, posts: map[string]chat.Post{}, times: map[string]int{},
		fail: errors.New("down"), failing: 3}
	tr.show = func(p chat.Post, _ bool) {
		if strings.Contains(p.Key, "/quote/") && len(p.Buttons) > 0 {
			quoted <- p.Key
		}
	}
	q := jobstest.NewMemory()
	// A clock of its own that runs ten times as fast keeps the waits after failures short.
	began := time.Now()
	c := newCast()
	cfg := c.open(led, q, tr, func() time.Time { return began.Add(10 * time.Since(began)) })
	cfg.Boards = []chat.PersonID{boss.ID}
	d := New(cfg)
	ctx, cancel := context.WithCancel(t.Context())
	var wg sync.WaitGroup
	wg.Go(func() { d.Run(ctx) })
	wg.Go(func() {
		q.Work(ctx, func(_ context.Context, r jobs.Request, progress quote.Progress) (quote.Quote, error) {
			for _, s := range quote.Stages {
				progress.At(s, 0.5)
			}
			return testQuote(r.Snapshot), nil
		})
	})
	const clients = 4
	for i := range clients {
		who := chat.Person{ID: chat.PersonID("stage:client" + string(rune('a'+i))), Name: "Client"}
		wg.Go(func() {
			do := func(in chat.Incoming) chat.Reply {
				in.Person = who
				rep, err := d.Handle(ctx, in)
				if err != nil {
					t.Error(err)
				}
				return rep
			}
			rep := do(chat.Incoming{ID: "1", Command: "commission", Values: map[string]string{"set": "sword"}})
			id := strings.Fields(rep.Text)[1]
			do(chat.Incoming{ID: "2", Pick: "finish/" + id, Picked: []string{"plain"}})
			do(chat.Incoming{ID: "3", Press: "measure/" + id})
			do(chat.Incoming{ID: "4", Press: "right/" + id})
		})
	}
	seen := map[string]bool{}
	for len(seen) < clients {
		select {
		case k := <-quoted:
			seen[k] = true
		case <-time.After(30 * time.Second):
			t.Error("the quotes did not come")
			seen = map[string]bool{"1": true, "2": true, "3": true, "4": true}
		}
	}
	cancel()
	wg.Wait()
}

// A queue that ends with the process has lost what was asked of it; nobody waits for the deadline.
func TestEmbeddedQueue(t *testing.T) {
	p := newPlay(t)
	p.toChecking()
	p.ok(p.press(mara, "right/C0001"))
	for attempt := 2; attempt <= shop.MaxAttempts; attempt++ {
		p.restart()
		p.d.cfg.QueueEmbedded = true
		ctx, cancel := context.WithCancel(t.Context())
		ended := make(chan error, 1)
		go func() { ended <- p.d.Run(ctx) }()
		for p.q.last().Attempt != attempt {
			time.Sleep(time.Millisecond) // the test's own time limit bounds this
		}
		cancel()
		if err := <-ended; err != nil {
			t.Fatal(err)
		}
		p.want(ledger.Computing)
	}
	q := testQuote(p.q.last().Snapshot)
	p.answer(jobs.Answer{ID: p.q.last().ID, Attempt: shop.MaxAttempts, Kind: jobs.Done, Quote: &q})
	p.want(ledger.Quoted)
}

func TestLibraryNeedsOnlyKnownMeasurements(t *testing.T) {
	lib, err := shop.Library()
	if err != nil {
		t.Fatal(err)
	}
	if len(lib) < 4 {
		t.Errorf("%d sets, want at least 4", len(lib))
	}
	for _, s := range lib {
		for _, k := range s.Measures {
			if _, ok := measure.Lookup(k); !ok {
				t.Errorf("%s needs %q, which is not defined", s.Name, k)
			}
		}
		if len("count/C0000/"+s.Name) > chat.Cautious.Action || s.Title == "" || s.Summary == "" || s.Source.Drawing == "" {
			t.Errorf("%s is not fit to be offered: %+v", s.Name, s)
		}
	}
}
