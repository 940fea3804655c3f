package desk

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/jobs"
	"benchbell/quote"
)

// maxTitle is how much of a thread's title a list shows; transports cut it to what they can.
const maxTitle = 90

// sender carries what the outbox holds to transports and queue. It is safe for concurrent use.
type sender struct {
	ledger     *ledger.Ledger
	queue      jobs.Queue
	transports []chat.Transport
	now        func() time.Time
	log        *slog.Logger

	opening sync.Mutex // a thread at a time: act and outbox may want the same one
	lanes   sync.Mutex
	busy    map[string]bool // outbox lanes being sent
}

// The wait after a failure to send doubles from the first to the most.
const (
	retryFirst = time.Second
	retryMost  = time.Minute
)

// delay is the wait after so many failures before this one.
func delay(tries int) time.Duration { return min(retryFirst<<min(tries, 10), retryMost) }

// pump sends pending rows of lanes that nobody else is sending until none is left that can be sent now.
func (x *sender) pump(ctx context.Context) error {
	for ctx.Err() == nil {
		o, err := x.claim(ctx)
		if errors.Is(err, ledger.ErrNone) {
			return nil
		}
		if err != nil {
			return err
		}
		err = x.sendOut(ctx, o)
		now := x.now()
		// Remembering must not be cut short by the end of ctx: what was sent would be sent again.
		keep, cancel := context.WithTimeout(context.WithoutCancel(ctx), 10*time.Second)
		done := x.ledger.Tx(keep, func(t *ledger.Tx) error {
			if err != nil {
				return t.Unsent(o, err.Error(), now.Add(delay(o.Tries)))
			}
			return t.Sent(o, now)
		})
		cancel()
		x.release(o.Lane)
		if done != nil {
			return done
		}
		if err != nil {
			x.log.Warn("not sent; trying again", "kind", o.Kind, "key", o.Key, "tries", o.Tries+1, "err", err)
		}
	}
	return ctx.Err()
}

func (x *sender) claim(ctx context.Context) (ledger.Out, error) {
	x.lanes.Lock()
	defer x.lanes.Unlock()
	var o ledger.Out
	err := x.ledger.Tx(ctx, func(t *ledger.Tx) (err error) {
		o, err = t.NextOut(x.now(), x.busy)
		return err
	})
	if err == nil {
		x.busy[o.Lane] = true
	}
	return o, err
}

func (x *sender) release(lane string) {
	x.lanes.Lock()
	defer x.lanes.Unlock()
	delete(x.busy, lane)
}

func (x *sender) sendOut(ctx context.Context, o ledger.Out) error {
	switch o.Kind {
	case ledger.OutThread:
		_, err := x.openThread(ctx, o.Commission)
		return err
	case ledger.OutPost:
		var p chat.Post
		if err := json.Unmarshal(o.Payload, &p); err != nil {
			return fmt.Errorf("post %s: %w", o.Key, err)
		}
		if p.Thread == "" {
			th, err := x.openThread(ctx, o.Commission)
			if err != nil {
				return err
			}
			p.Thread = th
		}
		tr, err := x.transport(string(p.Thread))
		if err != nil {
			return err
		}
		return tr.Put(ctx, p)
	case ledger.OutRequest:
		return x.sendRequest(ctx, o)
	}
	return fmt.Errorf("the outbox holds %q, which is not known", o.Kind)
}

// sendRequest hands a request to the queue unless it has been settled or overtaken meanwhile.
func (x *sender) sendRequest(ctx context.Context, o ledger.Out) error {
	var r jobs.Request
	if err := json.Unmarshal(o.Payload, &r); err != nil {
		return fmt.Errorf("request %s: %w", o.Key, err)
	}
	wantedStill := false
	err := x.ledger.Tx(ctx, func(t *ledger.Tx) error {
		q, err := t.Request(r.ID)
		if err != nil || q.State != ledger.ReqOpen || q.Attempt != r.Attempt {
			return err
		}
		rev, err := t.Revision(q.Commission, q.Revision)
		if err != nil {
			return err
		}
		wantedStill, r.Snapshot = true, rev.Snapshot
		return nil
	})
	if err != nil || !wantedStill {
		return err
	}
	return x.queue.Send(ctx, r)
}

// transport finds who carries a thread or a person by the ID's prefix.
func (x *sender) transport(id string) (chat.Transport, error) {
	scheme := chat.Scheme(id)
	for _, t := range x.transports {
		if t.Scheme() == scheme {
			return t, nil
		}
	}
	return nil, fmt.Errorf("%s is on %q, which this desk is not connected to", id, scheme)
}

// openThread opens a commission's thread, or returns the one there is.
func (x *sender) openThread(ctx context.Context, id quote.CommissionID) (chat.ThreadID, error) {
	var c ledger.Commission
	err := x.ledger.Tx(ctx, func(t *ledger.Tx) (err error) {
		c, err = t.Commission(id)
		return err
	})
	if err != nil || c.Thread != "" {
		return c.Thread, err
	}
	x.opening.Lock()
	defer x.opening.Unlock()
	tr, err := x.transport(string(c.Client))
	if err != nil {
		return "", err
	}
	th, err := tr.OpenThread(ctx, string(id), chat.Clip(fmt.Sprintf("%s · %s", id, c.ClientName), maxTitle), c.Client)
	if err != nil {
		return "", err
	}
	err = x.ledger.Tx(ctx, func(t *ledger.Tx) error {
		c, err := t.Commission(id)
		if err != nil || c.Thread != "" {
			th = c.Thread
			return err
		}
		c.Thread = th
		return t.SaveCommission(c)
	})
	return th, err
}

// openBoards opens the notice boards asked for in the configuration.
func (x *sender) openBoards(ctx context.Context, people []chat.PersonID) error {
	for _, p := range people {
		tr, err := x.transport(string(p))
		if err != nil {
			return err
		}
		th, err := tr.OpenThread(ctx, "studio", "Studio notice board", p)
		if err != nil {
			return err
		}
		if err := x.ledger.Tx(ctx, func(t *ledger.Tx) error { return t.SetBoard(tr.Scheme(), th) }); err != nil {
			return err
		}
	}
	return nil
}
