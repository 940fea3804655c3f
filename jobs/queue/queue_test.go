package queue_test

import (
	"bytes"
	"context"
	"log/slog"
	"strings"
	"testing"
	"time"

	"benchbell/jobs"
	"benchbell/jobs/embedded"
	"benchbell/jobs/jobstest"
	"benchbell/jobs/queue"
	"benchbell/quote"
)

// grace is short so that tests of stopping do not have to wait.
const grace = 150 * time.Millisecond

func openEmbedded(t testing.TB, opts queue.Options) *queue.Queue {
	t.Helper()
	e, err := embedded.Start(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = e.Close() })
	opts.Embedded = true
	return open(t, e.URL(), opts)
}

func open(t testing.TB, url string, opts queue.Options) *queue.Queue {
	t.Helper()
	opts.Grace = grace
	if opts.Log == nil {
		opts.Log = slog.New(slog.DiscardHandler)
	}
	q, err := queue.Open(context.Background(), url, opts)
	if err != nil {
		t.Fatal(err)
	}
	return q
}

func TestEmbedded(t *testing.T) {
	t.Parallel()
	jobstest.Conformance(t, func(t *testing.T) jobs.Queue { t.Parallel(); return openEmbedded(t, queue.Options{}) })
}

func TestRedis(t *testing.T) {
	t.Parallel()
	url := jobstest.Redis(t)
	jobstest.Conformance(t, func(t *testing.T) jobs.Queue {
		t.Parallel()
		return open(t, url, queue.Options{Poll: 20 * time.Millisecond, Space: strings.ReplaceAll(t.Name(), " ", "-") + "-"})
	})
}

func TestOpenRefuses(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ url, want string }{
		{"mailto:studio", "is not valid"},
		{"redis://:s3cret@127.0.0.1:1/notanumber", "is not valid"},
		{"redis://:s3cret@127.0.0.1:1/0", "does not answer"},
	} {
		_, err := queue.Open(context.Background(), c.url, queue.Options{Log: slog.New(slog.DiscardHandler)})
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error is %v, want %q", c.url, err, c.want)
		}
		if err != nil && strings.Contains(err.Error(), "s3cret") {
			t.Errorf("%s: the error tells the password: %v", c.url, err)
		}
	}
}

func TestRedisWithPersistenceIsNotWarnedOf(t *testing.T) {
	t.Parallel()
	var log bytes.Buffer
	q := open(t, jobstest.Redis(t), queue.Options{Log: slog.New(slog.NewTextHandler(&log, nil))})
	if err := q.Close(); err != nil {
		t.Fatal(err)
	}
	if log.Len() != 0 {
		t.Errorf("warned: %s", &log)
	}
}

// TestSentinel: a request is answered through a server that a real sentinel names.
func TestSentinel(t *testing.T) {
	t.Parallel()
	url := jobstest.Sentinel(t, jobstest.Redis(t))
	q := open(t, url, queue.Options{Poll: 20 * time.Millisecond})
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	ended := make(chan error, 2)
	taken := make(chan jobs.Answer, 10)
	go func() { ended <- q.Work(ctx, jobstest.Echo) }()
	go func() {
		ended <- q.Answers(ctx, func(_ context.Context, a jobs.Answer) error { taken <- a; return nil })
	}()
	if err := q.Send(ctx, jobstest.Request("sentinel")); err != nil {
		t.Fatal(err)
	}
	if a := <-taken; a.Kind != jobs.Done || a.ID != "sentinel" {
		t.Errorf("answer: %+v", a)
	}
	cancel()
	for range 2 {
		if err := <-ended; err != nil {
			t.Error(err)
		}
	}
	if err := q.Close(); err != nil {
		t.Error(err)
	}
}

// TestServerRestarts kills the server while one request waits and another is computed, whose result is ready before the
// server is back; both are answered.
func TestServerRestarts(t *testing.T) {
	t.Parallel()
	// With "everysec" a killed server may lose its last second, including what it has confirmed.
	url, kill := jobstest.Outage(t, "--appendfsync", "always")
	q := open(t, url, queue.Options{Poll: 20 * time.Millisecond})
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	started, finish := make(chan struct{}, 10), make(chan struct{})
	ended := make(chan error, 2)
	go func() {
		ended <- q.Work(ctx, func(ctx context.Context, r jobs.Request, p quote.Progress) (quote.Quote, error) {
			started <- struct{}{}
			<-finish
			return jobstest.Echo(ctx, r, p)
		})
	}()
	taken := make(chan jobs.Answer, 10)
	go func() {
		ended <- q.Answers(ctx, func(_ context.Context, a jobs.Answer) error { taken <- a; return nil })
	}()
	for _, id := range []string{"running", "waiting"} {
		if err := q.Send(ctx, jobstest.Request(id)); err != nil {
			t.Fatal(err)
		}
	}
	<-started
	restart := kill()
	close(finish)
	time.Sleep(500 * time.Millisecond) // the outage
	restart()
	got := map[jobs.RequestID]bool{}
	for end := time.After(time.Minute); len(got) < 2; {
		select {
		case a := <-taken:
			if a.Kind != jobs.Done {
				t.Fatalf("answer: %+v", a)
			}
			got[a.ID] = true
		case <-end:
			t.Fatalf("answered: %v", got)
		}
	}
	cancel()
	for range 2 {
		if err := <-ended; err != nil {
			t.Error(err)
		}
	}
	if err := q.Close(); err != nil {
		t.Error(err)
	}
}
