package queue

import (
	"context"
	"log/slog"
	"strings"
	"testing"
	"time"

	"github.com/hibiken/asynq"
	"github.com/redis/go-redis/v9"

	"benchbell/jobs"
	"benchbell/jobs/jobstest"
)

func TestMajorOf(t *testing.T) {
	for v, want := range map[string]int{"5.0.14": 5, "6.0.0": 6, "7.2.4": 7, "10.1": 10, "8": 8} {
		if n, err := majorOf(v); n != want || err != nil {
			t.Errorf("majorOf(%q) = %d, %v", v, n, err)
		}
	}
	for _, v := range []string{"", "unstable", ".1"} {
		if _, err := majorOf(v); err == nil {
			t.Errorf("majorOf(%q) is no error", v)
		}
	}
}

// TestParseInfo uses the format given in the documentation of INFO: sections, comments, CRLF. Source: Redis documentation
// of the INFO command (from memory).
func TestParseInfo(t *testing.T) {
	got := parseInfo("# Server\r\nredis_version:7.0.15\r\nexecutable:/usr/bin/x:y\r\n\r\n# Persistence\r\naof_enabled:0\r\n")
	for k, want := range map[string]string{"redis_version": "7.0.15", "executable": "/usr/bin/x:y", "aof_enabled": "0"} {
		if got[k] != want {
			t.Errorf("%s is %q, want %q", k, got[k], want)
		}
	}
}

// TestWeaknesses misconfigures a real server in each way.
func TestWeaknesses(t *testing.T) {
	t.Parallel()
	url := jobstest.Redis(t)
	opt, err := redis.ParseURL(url)
	if err != nil {
		t.Fatal(err)
	}
	quietRedis()
	rdb := redis.NewClient(opt)
	defer func() { _ = rdb.Close() }()
	ctx := context.Background()
	for _, c := range []struct {
		set  [][2]string
		want string // empty: no warning
	}{
		{[][2]string{{"appendonly", "no"}}, "keeps nothing on disk"},
		{[][2]string{{"appendonly", "no"}, {"save", "3600 1"}}, ""},
		{[][2]string{{"appendonly", "yes"}, {"save", ""}}, ""},
		{[][2]string{{"maxmemory", "100mb"}, {"maxmemory-policy", "allkeys-lru"}}, "may evict"},
		{[][2]string{{"maxmemory-policy", "noeviction"}}, ""},
	} {
		for _, kv := range c.set {
			if err := rdb.ConfigSet(ctx, kv[0], kv[1]).Err(); err != nil {
				t.Fatal(err)
			}
		}
		var log strings.Builder
		if err := checkServer(ctx, rdb, slog.New(slog.NewTextHandler(&log, nil))); err != nil {
			t.Fatal(err)
		}
		if c.want == "" && log.Len() > 0 || !strings.Contains(log.String(), c.want) {
			t.Errorf("%v: logged %q, want %q", c.set, log.String(), c.want)
		}
	}
}

// TestNothingStaysBehind: after its answer is taken, a request leaves no payload in Redis.
func TestNothingStaysBehind(t *testing.T) {
	t.Parallel()
	url := jobstest.Redis(t)
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	q, err := Open(ctx, url, Options{Grace: 50 * time.Millisecond, Log: slog.New(slog.DiscardHandler)})
	if err != nil {
		t.Fatal(err)
	}
	ended := make(chan error, 2)
	taken := make(chan struct{})
	go func() { ended <- q.Work(ctx, jobstest.Echo) }()
	go func() {
		ended <- q.Answers(ctx, func(_ context.Context, a jobs.Answer) error { close(taken); return nil })
	}()
	if err := q.Send(ctx, jobstest.Request("gone")); err != nil {
		t.Fatal(err)
	}
	<-taken
	cancel()
	for range 2 {
		if err := <-ended; err != nil {
			t.Fatal(err)
		}
	}
	keys, err := q.rdb.Keys(context.Background(), "asynq:*:t:*").Result()
	if err != nil {
		t.Fatal(err)
	}
	if len(keys) != 0 {
		t.Errorf("left in Redis: %q", keys)
	}
	if err := q.Close(); err != nil {
		t.Fatal(err)
	}
}

// TestUnreadableHoldsNothingUp: a message in no known version keeps being refused, and at its last try is dropped, not
// archived; what comes after it is served in the meantime.
func TestUnreadableHoldsNothingUp(t *testing.T) {
	t.Parallel()
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	q, err := Open(ctx, jobstest.Redis(t), Options{Grace: 50 * time.Millisecond, Log: slog.New(slog.DiscardHandler)})
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{q.requests(), q.answers()} {
		if err := q.enqueue(ctx, asynq.NewTask("x", []byte("{")), asynq.Queue(name), asynq.MaxRetry(1)); err != nil {
			t.Fatal(err)
		}
	}
	ended := make(chan error, 2)
	go func() { ended <- q.Work(ctx, jobstest.Echo) }()
	taken := make(chan jobs.Answer, 10)
	go func() {
		ended <- q.Answers(ctx, func(_ context.Context, a jobs.Answer) error { taken <- a; return nil })
	}()
	if err := q.Send(ctx, jobstest.Request("after")); err != nil {
		t.Fatal(err)
	}
	if a := <-taken; a.Kind != jobs.Done || a.ID != "after" {
		t.Errorf("answer: %+v", a)
	}
	for end := time.Now().Add(30 * time.Second); ; time.Sleep(20 * time.Millisecond) {
		keys, err := q.rdb.Keys(ctx, "asynq:*:t:*").Result()
		if err != nil {
			t.Fatal(err)
		}
		if len(keys) == 0 {
			break
		}
		if time.Now().After(end) {
			t.Fatalf("still in Redis: %q", keys)
		}
	}
	cancel()
	for range 2 {
		if err := <-ended; err != nil {
			t.Fatal(err)
		}
	}
	if err := q.Close(); err != nil {
		t.Fatal(err)
	}
}

// Delays double from what a moment's trouble takes to a minute, and stay there.
func TestDelaysGrowAndEnd(t *testing.T) {
	for _, c := range []struct {
		name  string
		delay func(int) time.Duration
		first time.Duration
	}{{"request", requestDelay, 2 * time.Second}, {"answer", answerDelay, 200 * time.Millisecond}} {
		want := c.first
		for n := range 100 {
			if got := c.delay(n); got != want {
				t.Fatalf("%s: delay %d is %v, want %v", c.name, n, got, want)
			}
			want = min(2*want, time.Minute)
		}
	}
}
