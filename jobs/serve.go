package jobs

import (
	"context"
	"errors"
	"fmt"
	"runtime/debug"
	"sync"
	"time"

	"benchbell/quote"
)

const (
	// DefaultTime is the time for a request without a deadline; a quote takes seconds.
	DefaultTime = 10 * time.Minute
	// progressEvery is the interval between progress answers: five a second look live, and chat transports cannot edit
	// faster.
	progressEvery = 200 * time.Millisecond
	// stopWithin is how long to wait for a computer that was told to stop before abandoning it.
	stopWithin = 5 * time.Second
)

// PanicError is a panic caught in a Computer.
type PanicError struct {
	Value any
	Stack []byte
}

func (e *PanicError) Error() string {
	return fmt.Sprintf("the computation panicked: %v\n%s", e.Value, e.Stack)
}

// Serve is one attempt at a request, the same for every queue: it runs c until r's deadline, sends progress now and then
// (best effort, at most five a second, only the newest) and then exactly one Done or Failed.
//
// A panic, an error and a missed deadline become a Failed answer and Serve returns nil: computing the same snapshot again
// would fail again, and whether to retry is for the ledger to decide. If ctx ends before c has a result, Serve sends
// nothing and returns ctx's error: the request must be handed back. It also returns an error of send for the last answer.
func Serve(ctx context.Context, r Request, worker string, c Computer, send func(context.Context, Answer) error) error {
	began := time.Now()
	deadline := r.Deadline
	if deadline.IsZero() {
		deadline = began.Add(DefaultTime)
	}
	timed, cancel := context.WithDeadline(ctx, deadline)
	defer cancel()

	base := Answer{Version: Version, ID: r.ID, Attempt: r.Attempt, Worker: worker}
	p := startProgress(timed, base, send)
	q, err := guard(timed, r, c, p.tell)
	p.stop()

	if err != nil && ctx.Err() != nil {
		return fmt.Errorf("request %s was not finished: %w", r.TaskID(), ctx.Err())
	}
	ctx = context.WithoutCancel(ctx) // a finished result is not thrown away for being late
	a := base
	a.Took = time.Since(began)
	if err != nil {
		a.Kind, a.Say, a.Cause = Failed, sayOf(err), err.Error()
		return send(ctx, a)
	}
	a.Kind, a.Quote = Done, &q
	err = send(ctx, a)
	if err == nil {
		return nil
	}
	if _, cause := EncodeAnswer(a); cause != nil { // it would fail again; it is checked only now because encoding takes time
		a.Kind, a.Quote = Failed, nil
		a.Say = "the quote was computed but could not be sent; the studio has been told why"
		a.Cause = cause.Error()
		return send(ctx, a)
	}
	return err
}

// forClient is an error with a message of its own for the client.
type forClient interface {
	error
	Client() string
}

func sayOf(err error) string {
	var p *PanicError
	var told forClient
	switch {
	case errors.As(err, &told):
		return "the quote could not be computed: " + told.Client()
	case errors.As(err, &p):
		return "the quote could not be computed because of an error in the program; the studio has been told"
	case errors.Is(err, context.DeadlineExceeded):
		return "the quote was not ready in time; please ask for it again, and if that does not help the studio can lower the budgets in its settings"
	default:
		return "the quote could not be computed: " + err.Error()
	}
}

// guard runs c, turns a panic into an error, and does not wait for ever for a computer that ignores ctx.
func guard(ctx context.Context, r Request, c Computer, tell quote.Progress) (quote.Quote, error) {
	if err := ctx.Err(); err != nil {
		return quote.Quote{}, fmt.Errorf("no worker was free before the deadline: %w", err)
	}
	type result struct {
		q   quote.Quote
		err error
	}
	done := make(chan result, 1)
	go func() {
		var res result
		defer func() {
			if v := recover(); v != nil {
				res = result{err: &PanicError{Value: v, Stack: debug.Stack()}}
			}
			done <- res
		}()
		res.q, res.err = c(ctx, r, tell)
	}()
	select {
	case res := <-done:
		return res.q, res.err
	case <-ctx.Done():
	}
	select {
	case res := <-done:
		return res.q, res.err
	case <-time.After(stopWithin):
		return quote.Quote{}, fmt.Errorf("the computation did not stop when told to: %w", ctx.Err())
	}
}

// teller sends the newest progress and drops older ones, so that a slow queue never slows the computation.
type teller struct {
	mu     sync.Mutex
	next   *Answer
	closed bool
	wake   chan struct{}
	quit   chan struct{}
	gone   chan struct{}
}

func startProgress(ctx context.Context, base Answer, send func(context.Context, Answer) error) *teller {
	t := &teller{wake: make(chan struct{}, 1), quit: make(chan struct{}), gone: make(chan struct{})}
	go func() {
		defer close(t.gone)
		for {
			select {
			case <-t.quit:
				return
			case <-t.wake:
			}
			t.mu.Lock()
			next := t.next
			t.next = nil
			t.mu.Unlock()
			if next == nil {
				continue
			}
			a := base
			a.Kind, a.Stage, a.Share, a.Used = Progress, next.Stage, next.Share, next.Used
			// Best effort: a lost progress message is replaced by the next one, so the error is of no interest.
			_ = send(ctx, a)
			select {
			case <-t.quit:
				return
			case <-time.After(progressEvery):
			}
		}
	}()
	return t
}

// tell never blocks; it may be called from any goroutine, even after stop.
func (t *teller) tell(s quote.Step) {
	part := func(x float64) float64 { // keeps shares within 0..1; NaN counts as 0
		if !(x >= 0) {
			return 0
		}
		return min(x, 1)
	}
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.closed {
		return
	}
	t.next = &Answer{Stage: s.Stage, Share: part(s.Share), Used: part(s.Used)}
	select {
	case t.wake <- struct{}{}:
	default:
	}
}

// stop returns once no more progress will be sent, so that the last answer comes after it.
func (t *teller) stop() {
	t.mu.Lock()
	t.closed = true
	t.mu.Unlock()
	close(t.quit)
	<-t.gone
}
