// Package compute is what a worker does with a request: it runs the engine within its deadline and catches its panics, so
// that a bug in one quote never ends the process that computes others.
package compute

import (
	"context"
	"fmt"
	"os"
	"runtime/debug"

	"benchbell/jobs"
	"benchbell/quote"
	"benchbell/quote/engine"
)

// Engine computes a quote from a snapshot; engine.Compute is the real one.
type Engine func(ctx context.Context, s quote.Snapshot, progress quote.Progress) (quote.Quote, error)

// New returns the Computer for serving a queue.
func New() jobs.Computer { return With(engine.Compute) }

// With is New with another engine.
func With(e Engine) jobs.Computer {
	return func(ctx context.Context, r jobs.Request, progress quote.Progress) (quote.Quote, error) {
		if !r.Deadline.IsZero() {
			var cancel context.CancelFunc
			ctx, cancel = context.WithDeadline(ctx, r.Deadline)
			defer cancel()
		}
		return Once(ctx, e, r.Snapshot, progress)
	}
}

// Once runs e and turns a panic into a *jobs.PanicError, which has the stack.
func Once(ctx context.Context, e Engine, s quote.Snapshot, progress quote.Progress) (q quote.Quote, err error) {
	defer func() {
		if v := recover(); v != nil {
			q, err = quote.Quote{}, &jobs.PanicError{Value: v, Stack: debug.Stack()}
		}
	}()
	return e(ctx, s, progress)
}

// Name tells this worker from others in answers and logs: host/pid.
func Name() string {
	host, err := os.Hostname()
	if err != nil {
		host = "worker" // the pid still tells two on one machine apart
	}
	return fmt.Sprintf("%s/%d", host, os.Getpid())
}
