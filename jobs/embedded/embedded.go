// Package embedded is the embedded queue: a Redis inside this process, so that a studio on one machine has nothing to
// install.
//
// Package queue talks to it as to any other Redis. It listens on loopback only, keeps nothing on disk and forgets
// everything when the process ends: the ledger sends open requests again. Its clock moves only with its own ticker.
package embedded

import (
	"context"
	"crypto/rand"
	"fmt"
	"sync"
	"time"

	"github.com/alicebob/miniredis/v2"
)

// tick is how often keys age; asynq's shortest expiry is several seconds. (miniredis does not age keys by itself, and its
// option to do so scans all keys on each access.)
const tick = time.Second

// Embedded is a running server.
type Embedded struct {
	mr       *miniredis.Miniredis
	password string
	stop     context.CancelFunc
	wg       sync.WaitGroup
}

// Start starts a server on a free loopback port; its URL contains a random password. It runs until Close, even after ctx
// ends, because a stopping queue hands its tasks back to it.
func Start(ctx context.Context) (*Embedded, error) {
	mr := miniredis.NewMiniRedis()
	password := rand.Text()
	mr.RequireAuth(password)
	if err := mr.StartAddr("127.0.0.1:0"); err != nil {
		return nil, fmt.Errorf("the embedded queue could not listen on loopback: %w", err)
	}
	ctx, stop := context.WithCancel(context.WithoutCancel(ctx))
	e := &Embedded{mr: mr, password: password, stop: stop}
	e.wg.Go(func() {
		defer mr.Close()
		t := time.NewTicker(tick)
		defer t.Stop()
		last := time.Now()
		for {
			select {
			case <-ctx.Done():
				return
			case now := <-t.C:
				mr.FastForward(now.Sub(last))
				last = now
			}
		}
	})
	return e, nil
}

// URL is the server's address as queue.Open takes it.
func (e *Embedded) URL() string { return "redis://:" + e.password + "@" + e.mr.Addr() + "/0" }

// Close stops the server; everything in it is lost.
func (e *Embedded) Close() error {
	e.stop()
	e.wg.Wait()
	return nil
}
