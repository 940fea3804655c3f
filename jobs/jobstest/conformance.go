package jobstest

import (
	"context"
	"errors"
	"fmt"
	"reflect"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"benchbell/jobs"
	"benchbell/quote"
)

const (
	// patience bounds every wait; a healthy queue needs a fraction of it, a loaded machine may need most.
	patience = 30 * time.Second
	// quiet is how long to watch that nothing more arrives when nothing more may.
	quiet = 250 * time.Millisecond
)

// Conformance tests a queue. open returns an empty one, which the test closes.
func Conformance(t *testing.T, open func(t *testing.T) jobs.Queue) {
	t.Helper()
	for _, c := range []struct {
		name string
		run  func(*testing.T, *bench)
	}{
		{"a request is answered once, whole", answeredOnce},
		{"a request sent twice is one task", sentTwice},
		{"attempts are tasks of their own", attempts},
		{"an answer refused comes again", refusedAgain},
		{"progress comes before done", progressFirst},
		{"an error is a failure, told once", failure},
		{"a panic is a failure", panics},
		{"a missed deadline is a failure", deadline},
		{"a result that cannot be sent is a failure", oversizeResult},
		{"an oversize request is refused", oversizeRequest},
		{"a request of another version is refused", otherVersion},
		{"what is not finished is handed back", handedBack},
		{"answers wait until someone takes them", answersWait},
		{"answers are taken one at a time, in order", oneAtATime},
	} {
		t.Run(c.name, func(t *testing.T) {
			q := open(t)
			b := &bench{t: t, q: q}
			t.Cleanup(func() {
				b.end()
				if err := q.Close(); err != nil {
					t.Errorf("close: %v", err)
				}
			})
			c.run(t, b)
		})
	}
}

// bench runs both sides of a queue and stops them with the test.
type bench struct {
	t    *testing.T
	q    jobs.Queue
	stop []func()
}

func (b *bench) end() {
	for _, f := range b.stop {
		f()
	}
	b.stop = nil
}

// run runs one side until the returned function is called or the test ends.
func (b *bench) run(what string, side func(context.Context) error) (stop func()) {
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- side(ctx) }()
	var once sync.Once
	stop = func() {
		once.Do(func() {
			cancel()
			select {
			case err := <-done:
				if err != nil {
					b.t.Errorf("%s: %v", what, err)
				}
			case <-time.After(patience):
				b.t.Errorf("%s did not end with its context", what)
			}
		})
	}
	b.stop = append(b.stop, stop)
	return stop
}

func (b *bench) work(c jobs.Computer) (stop func()) {
	return b.run("work", func(ctx context.Context) error { return b.q.Work(ctx, c) })
}

func (b *bench) take() <-chan jobs.Answer {
	got := make(chan jobs.Answer, 1000)
	b.run("answers", func(ctx context.Context) error {
		return b.q.Answers(ctx, func(_ context.Context, a jobs.Answer) error {
			got <- a
			return nil
		})
	})
	return got
}

func (b *bench) send(r jobs.Request) {
	b.t.Helper()
	if err := b.q.Send(context.Background(), r); err != nil {
		b.t.Fatalf("send: %v", err)
	}
}

// last waits for an answer other than progress.
func (b *bench) last(got <-chan jobs.Answer) jobs.Answer {
	b.t.Helper()
	for end := time.After(patience); ; {
		select {
		case a := <-got:
			if a.Kind != jobs.Progress {
				return a
			}
		case <-end:
			b.t.Fatal("no answer came")
		}
	}
}

func (b *bench) nothingMore(got <-chan jobs.Answer) {
	b.t.Helper()
	select {
	case a := <-got:
		b.t.Fatalf("another answer came: %s of %s.%d", a.Kind, a.ID, a.Attempt)
	case <-time.After(quiet):
	}
}

// Request is a small request for tests, with a deadline a minute away.
func Request(id string) jobs.Request {
	return jobs.Request{
		Version: jobs.Version, ID: jobs.RequestID(id), Attempt: 1,
		Deadline: time.Now().Add(time.Minute).UTC().Round(time.Second),
		Snapshot: quote.Snapshot{
			Version: quote.Version, Commission: "C0007", Revision: 2, Client: "Zoë Ωμέγα <z>",
			Items: []quote.Item{{Set: "cuff", Count: 1, Sides: quote.Pair}}, Finish: "painted",
			Body: []quote.Taken{{Key: "wrist", Value: 171.5, Typed: "17,15 cm"}}, Seed: 1<<64 - 1,
		},
	}
}

// Echo is a Computer that answers at once with the requested commission.
func Echo(_ context.Context, r jobs.Request, _ quote.Progress) (quote.Quote, error) {
	return quote.Quote{Commission: r.Snapshot.Commission, Revision: r.Snapshot.Revision, PDF: []byte("%PDF-" + r.TaskID())}, nil
}

func answeredOnce(t *testing.T, b *bench) {
	r := Request("whole")
	seen := make(chan jobs.Request, 10)
	b.work(func(ctx context.Context, r jobs.Request, p quote.Progress) (quote.Quote, error) {
		seen <- r
		return Echo(ctx, r, p)
	})
	got := b.take()
	b.send(r)
	a := b.last(got)
	if s := <-seen; !reflect.DeepEqual(s, r) {
		t.Errorf("the worker got\n%+v\nbut sent was\n%+v", s, r)
	}
	if a.Kind != jobs.Done || a.ID != r.ID || a.Attempt != 1 || a.Quote.Commission != "C0007" || string(a.Quote.PDF) != "%PDF-whole.1" {
		t.Errorf("answer: %+v", a)
	}
	b.nothingMore(got)
}

func sentTwice(t *testing.T, b *bench) {
	started, release := make(chan struct{}, 10), make(chan struct{})
	r := Request("twice")
	b.send(r)
	b.send(r)
	b.work(func(ctx context.Context, r jobs.Request, p quote.Progress) (quote.Quote, error) {
		started <- struct{}{}
		<-release
		return Echo(ctx, r, p)
	})
	got := b.take()
	<-started
	b.send(r) // known even while it runs
	close(release)
	if a := b.last(got); a.Kind != jobs.Done {
		t.Errorf("answer: %+v", a)
	}
	b.nothingMore(got)
}

func attempts(t *testing.T, b *bench) {
	r := Request("again")
	b.send(r)
	r.Attempt = 2
	b.send(r)
	b.work(Echo)
	got := b.take()
	sum := b.last(got).Attempt + b.last(got).Attempt
	if sum != 3 {
		t.Errorf("attempts answered add up to %d, want 1 + 2", sum)
	}
	b.nothingMore(got)
}

func refusedAgain(t *testing.T, b *bench) {
	got := make(chan int, 10)
	n := 0
	b.run("answers", func(ctx context.Context) error {
		return b.q.Answers(ctx, func(context.Context, jobs.Answer) error {
			n++
			if n < 3 {
				return errors.New("the ledger is busy")
			}
			got <- n
			return nil
		})
	})
	b.work(Echo)
	b.send(Request("refused"))
	select {
	case n := <-got:
		if n != 3 {
			t.Errorf("taken at delivery %d, want 3", n)
		}
	case <-time.After(patience):
		t.Fatal("the refused answer did not come again")
	}
	select {
	case <-got:
		t.Error("the answer came again after it was taken")
	case <-time.After(quiet):
	}
}

func progressFirst(t *testing.T, b *bench) {
	got := b.take()
	stored := make(chan struct{})
	b.work(func(ctx context.Context, r jobs.Request, p quote.Progress) (quote.Quote, error) {
		for _, s := range quote.Stages {
			p.At(s, 0)
			for i := range 10000 { // many times faster than any chat can show
				p.At(s, float64(i)/10000)
			}
			p.At(s, 1)
		}
		<-stored
		return Echo(ctx, r, p)
	})
	b.send(Request("progress"))
	count := 0
	for end := time.After(patience); ; {
		select {
		case a := <-got:
			switch {
			case a.Kind == jobs.Progress:
				count++
				if count == 1 {
					close(stored)
				}
				continue
			case count == 0:
				t.Error("done came without progress")
			case count > 50:
				t.Errorf("%d progress answers for a moment's work", count)
			}
			b.nothingMore(got)
			return
		case <-end:
			t.Fatal("no answer came")
		}
	}
}

func failure(t *testing.T, b *bench) {
	got := b.take()
	b.work(func(context.Context, jobs.Request, quote.Progress) (quote.Quote, error) {
		return quote.Quote{}, fmt.Errorf("measurement %q is missing", "wrist")
	})
	b.send(Request("failure"))
	a := b.last(got)
	if a.Kind != jobs.Failed || !strings.Contains(a.Cause, `measurement "wrist" is missing`) || a.Say == "" {
		t.Errorf("answer: %+v", a)
	}
	b.nothingMore(got)
}

func panics(t *testing.T, b *bench) {
	got := b.take()
	b.work(func(_ context.Context, r jobs.Request, _ quote.Progress) (quote.Quote, error) {
		return quote.Quote{Revision: r.Snapshot.Items[7].Count}, nil
	})
	b.send(Request("panic"))
	a := b.last(got)
	if a.Kind != jobs.Failed || !strings.Contains(a.Cause, "out of range") || strings.Contains(a.Say, "out of range") {
		t.Errorf("answer: %+v", a)
	}
	b.nothingMore(got)
}

func deadline(t *testing.T, b *bench) {
	got := b.take()
	b.work(func(ctx context.Context, _ jobs.Request, _ quote.Progress) (quote.Quote, error) {
		<-ctx.Done()
		return quote.Quote{}, ctx.Err()
	})
	for id, d := range map[string]time.Duration{"late": 200 * time.Millisecond, "past": -time.Hour} {
		r := Request(id)
		r.Deadline = time.Now().Add(d)
		b.send(r)
		if a := b.last(got); a.Kind != jobs.Failed || a.ID != r.ID || !strings.Contains(a.Say, "in time") {
			t.Errorf("answer: %+v", a)
		}
	}
	b.nothingMore(got)
}

func oversizeResult(t *testing.T, b *bench) {
	got := b.take()
	b.work(func(context.Context, jobs.Request, quote.Progress) (quote.Quote, error) {
		return quote.Quote{PDF: make([]byte, jobs.MaxMessage)}, nil
	})
	b.send(Request("large"))
	if a := b.last(got); a.Kind != jobs.Failed || !strings.Contains(a.Cause, "at most 24 MB") {
		t.Errorf("answer: %s %q", a.Kind, a.Cause)
	}
}

func oversizeRequest(t *testing.T, b *bench) {
	r := Request("oversize")
	r.Snapshot.Notes = strings.Repeat("x", jobs.MaxMessage)
	if err := b.q.Send(context.Background(), r); !errors.Is(err, jobs.ErrTooLarge) {
		t.Errorf("error is %v, want %v", err, jobs.ErrTooLarge)
	}
	b.work(Echo)
	b.nothingMore(b.take())
}

func otherVersion(t *testing.T, b *bench) {
	r := Request("version")
	r.Version = jobs.Version + 1
	if err := b.q.Send(context.Background(), r); err == nil {
		t.Error("a request of the next version was sent")
	}
}

func handedBack(t *testing.T, b *bench) {
	started := make(chan struct{}, 10)
	stop := b.work(func(ctx context.Context, _ jobs.Request, _ quote.Progress) (quote.Quote, error) {
		started <- struct{}{}
		<-ctx.Done()
		return quote.Quote{}, ctx.Err()
	})
	got := b.take()
	b.send(Request("back"))
	select {
	case <-started:
	case <-time.After(patience):
		t.Fatal("no work began")
	}
	stop()
	b.nothingMore(got)
	b.work(Echo)
	if a := b.last(got); a.Kind != jobs.Done || a.ID != "back" {
		t.Errorf("answer: %+v", a)
	}
	b.nothingMore(got)
}

func answersWait(t *testing.T, b *bench) {
	worked := make(chan struct{}, 1)
	stop := b.work(func(ctx context.Context, r jobs.Request, p quote.Progress) (quote.Quote, error) {
		worked <- struct{}{}
		return Echo(ctx, r, p)
	})
	b.send(Request("wait"))
	select {
	case <-worked:
	case <-time.After(patience):
		t.Fatal("no work began")
	}
	stop()
	got := b.take()
	if a := b.last(got); a.Kind != jobs.Done || a.ID != "wait" {
		t.Errorf("answer: %+v", a)
	}
	b.nothingMore(got)
}

// oneAtATime lets answers pile up and takes them slowly: were two taken at once, a bar could run backwards in the thread,
// or a quote be followed by its own progress.
func oneAtATime(t *testing.T, b *bench) {
	const tells = 5
	worked := make(chan struct{}, 1)
	stop := b.work(func(ctx context.Context, r jobs.Request, p quote.Progress) (quote.Quote, error) {
		for i := range tells {
			p.At(quote.Nesting, float64(i+1)/10)
			time.Sleep(250 * time.Millisecond) // progress is told five times a second at most
		}
		worked <- struct{}{}
		return Echo(ctx, r, p)
	})
	b.send(Request("order"))
	select {
	case <-worked:
	case <-time.After(patience):
		t.Fatal("the work does not end")
	}
	stop()
	var inside atomic.Int32
	got := make(chan jobs.Answer, 100)
	b.run("answers", func(ctx context.Context) error {
		return b.q.Answers(ctx, func(_ context.Context, a jobs.Answer) error {
			if n := inside.Add(1); n > 1 {
				t.Errorf("%d answers are taken at once", n)
			}
			time.Sleep(50 * time.Millisecond)
			got <- a
			inside.Add(-1)
			return nil
		})
	})
	last, progress := 0.0, 0
	for end := time.After(patience); ; {
		select {
		case a := <-got:
			if a.Kind != jobs.Progress {
				if progress < 2 {
					t.Errorf("%d progress answers came before the last, too few to be out of order", progress)
				}
				b.nothingMore(got)
				return
			}
			progress++
			if a.Share < last {
				t.Errorf("progress of %g came after %g", a.Share, last)
			}
			last = a.Share
		case <-end:
			t.Fatal("no answer came")
		}
	}
}
