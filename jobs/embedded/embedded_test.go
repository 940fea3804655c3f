package embedded

import (
	"context"
	"testing"
	"time"

	"github.com/redis/go-redis/v9"
)

func client(t *testing.T, url string) *redis.Client {
	t.Helper()
	opt, err := redis.ParseURL(url)
	if err != nil {
		t.Fatal(err)
	}
	c := redis.NewClient(opt)
	t.Cleanup(func() { _ = c.Close() })
	return c
}

// TestKeysGrowOlder: asynq's locks and worker lists expire, which the server does not do by itself.
func TestKeysGrowOlder(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	e, err := Start(ctx)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = e.Close() }()
	cancel() // the server outlives the context it was started with
	c := client(t, e.URL())
	if err := c.Set(context.Background(), "short", "x", time.Second).Err(); err != nil {
		t.Fatal(err)
	}
	if err := c.Set(context.Background(), "long", "x", time.Hour).Err(); err != nil {
		t.Fatal(err)
	}
	for end := time.Now().Add(20 * time.Second); ; time.Sleep(50 * time.Millisecond) {
		n, err := c.Exists(context.Background(), "short").Result()
		if err != nil {
			t.Fatal(err)
		}
		if n == 0 {
			break
		}
		if time.Now().After(end) {
			t.Fatal("a key of one second is still there")
		}
	}
	if n, err := c.Exists(context.Background(), "long").Result(); n != 1 || err != nil {
		t.Errorf("a key of one hour is gone: %d, %v", n, err)
	}
}

func TestWithoutPasswordNobodyGetsIn(t *testing.T) {
	e, err := Start(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = e.Close() }()
	c := client(t, "redis://"+e.mr.Addr()+"/0")
	if err := c.Set(context.Background(), "k", "v", 0).Err(); err == nil {
		t.Error("a client without the password wrote a key")
	}
}

func TestCloseTwice(t *testing.T) {
	e, err := Start(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	for range 2 {
		if err := e.Close(); err != nil {
			t.Error(err)
		}
	}
}
