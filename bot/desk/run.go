package desk

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"sync"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/jobs"
	"benchbell/quote"
)

const (
	senders = 4 // lanes served at once, so that a slow upload does not hold up the others
	// idle bounds the sleep between looks at the ledger: other programs may have moved the clock or the file.
	idle = 5 * time.Second
	// retryMost bounds the wait after repeated failures to send.
	retryMost = time.Minute
)

// Wake has Run look at the ledger at once.
func (d *Desk) Wake() {
	select {
	case d.wake <- struct{}{}:
	default:
	}
}

// Run does what happens without anybody acting, until ctx ends: it sends what the outbox holds, takes the workers'
// answers, sends lost requests again, rings bells, warns of closing windows and endangered promises, and lets quotes expire.
func (d *Desk) Run(ctx context.Context) error {
	if err := d.withShelf(ctx); err != nil {
		return err
	}
	if d.cfg.Forgetful {
		// Every deadline of an open request is at most the patience away.
		now := d.cfg.Now()
		if err := d.overdue(ctx, now, now.Add(d.cfg.Patience)); err != nil {
			return fmt.Errorf("the open requests cannot be sent again: %w", err)
		}
	}
	var wg sync.WaitGroup
	wg.Go(func() {
		for {
			err := d.openBoards(ctx)
			if err == nil || ctx.Err() != nil {
				return
			}
			d.log.Warn("notice board not opened; trying again", "cause", err)
			pause(ctx, idle)
		}
	})
	wg.Go(func() {
		for ctx.Err() == nil {
			if err := d.cfg.Queue.Answers(ctx, d.take); err != nil && ctx.Err() == nil {
				d.log.Error("answers cannot be received; trying again", "cause", err)
				pause(ctx, time.Second)
			}
		}
	})
	work := make(chan struct{}, senders)
	for range senders {
		wg.Go(func() {
			for {
				select {
				case <-ctx.Done():
					return
				case <-work:
				}
				if err := d.pump(ctx); err != nil && ctx.Err() == nil {
					d.log.Error("outbox", "cause", err)
				}
			}
		})
	}
	for ctx.Err() == nil {
		if err := d.due(ctx); err != nil && ctx.Err() == nil {
			d.log.Error("what is due", "cause", err)
		}
		for range senders {
			select {
			case work <- struct{}{}:
			default:
			}
		}
		select {
		case <-ctx.Done():
		case <-d.wake:
		case <-time.After(d.sleep(ctx)):
		}
	}
	wg.Wait()
	return nil
}

func pause(ctx context.Context, t time.Duration) {
	select {
	case <-ctx.Done():
	case <-time.After(t):
	}
}

// sleep is the time until something falls due.
func (d *Desk) sleep(ctx context.Context) time.Duration {
	var at time.Time
	err := d.ledger.Tx(ctx, func(t *ledger.Tx) (err error) {
		at, err = t.NextDue()
		return err
	})
	if err != nil || at.IsZero() {
		return idle
	}
	return min(max(at.Sub(d.cfg.Now()), 50*time.Millisecond), idle)
}

// Tick does everything that is due by now and sends what can be sent, and then returns. Run does the same by itself;
// Tick is for those who move the clock.
func (d *Desk) Tick(ctx context.Context) error {
	if err := d.due(ctx); err != nil {
		return err
	}
	return d.pump(ctx)
}

func (d *Desk) due(ctx context.Context) error {
	now := d.cfg.Now()
	return errors.Join(d.overdue(ctx, now, now), d.expire(ctx, now), d.ring(ctx, now), d.warnClosing(ctx, now), d.lookAhead(ctx, now))
}

// expire ends quotes whose validity has passed.
func (d *Desk) expire(ctx context.Context, now time.Time) error {
	return d.ledger.Tx(ctx, func(t *ledger.Tx) error {
		cs, err := t.DueQuotes(now)
		if err != nil {
			return err
		}
		w := &work{d: d, t: t, now: now}
		for _, c := range cs {
			ended, err := t.Expiry(c.ID, c.Revision)
			if err != nil {
				return err
			}
			c.State = ledger.Expired
			if err := w.save(&c, "expired", fmt.Sprintf("revision %d", c.Revision)); err != nil {
				return err
			}
			at := fmt.Sprintf("/%s/%d", c.ID, c.Revision)
			err = w.retire(c, ledger.RevExpired, fmt.Sprintf("Expired: it was valid until %s.", d.until(ended)),
				chat.Button{Action: "requote" + at, Label: "Quote again", Tone: chat.Good},
				chat.Button{Action: "change" + at, Label: "Ask for a change"},
				chat.Button{Action: "decline" + at, Label: "Decline", Tone: chat.Grave})
			if err != nil {
				return err
			}
			if err := w.note(fmt.Sprintf("%s/note/expired/%d", c.ID, c.Revision), fmt.Sprintf("%s · %s: revision %d has expired.", c.ID, c.ClientName, c.Revision), nil, nil); err != nil {
				return err
			}
		}
		return nil
	})
}

// pump sends pending rows of lanes that nobody else is sending until none is left that can be sent now.
func (d *Desk) pump(ctx context.Context) error {
	for ctx.Err() == nil {
		o, err := d.claim(ctx)
		if errors.Is(err, ledger.ErrNone) {
			return nil
		}
		if err != nil {
			return err
		}
		err = d.sendOut(ctx, o)
		now := d.cfg.Now()
		// Remembering must not be cut short by the end of ctx: what was sent would be sent again.
		keep, cancel := context.WithTimeout(context.WithoutCancel(ctx), 10*time.Second)
		done := d.ledger.Tx(keep, func(t *ledger.Tx) error {
			if err != nil {
				return t.Unsent(o, err.Error(), now.Add(min(time.Second<<min(o.Tries, 10), retryMost)))
			}
			return t.Sent(o, now)
		})
		cancel()
		d.release(o.Lane)
		if done != nil {
			return done
		}
		if err != nil {
			d.log.Warn("not sent; trying again", "kind", o.Kind, "key", o.Key, "tries", o.Tries+1, "cause", err)
		}
	}
	return ctx.Err()
}

func (d *Desk) claim(ctx context.Context) (ledger.Out, error) {
	d.lanes.Lock()
	defer d.lanes.Unlock()
	var o ledger.Out
	err := d.ledger.Tx(ctx, func(t *ledger.Tx) (err error) {
		o, err = t.NextOut(d.cfg.Now(), d.busy)
		return err
	})
	if err == nil {
		d.busy[o.Lane] = true
	}
	return o, err
}

func (d *Desk) release(lane string) {
	d.lanes.Lock()
	defer d.lanes.Unlock()
	delete(d.busy, lane)
}

func (d *Desk) sendOut(ctx context.Context, o ledger.Out) error {
	switch o.Kind {
	case ledger.OutThread:
		_, err := d.openThread(ctx, o.Commission)
		return err
	case ledger.OutPost:
		var p chat.Post
		if err := json.Unmarshal(o.Payload, &p); err != nil {
			return fmt.Errorf("post %s: %w", o.Key, err)
		}
		if p.Thread == "" {
			th, err := d.openThread(ctx, o.Commission)
			if err != nil {
				return err
			}
			p.Thread = th
		}
		tr, err := d.transport(string(p.Thread))
		if err != nil {
			return err
		}
		return tr.Put(ctx, p)
	case ledger.OutRequest:
		return d.sendRequest(ctx, o)
	}
	return fmt.Errorf("the outbox holds %q, which is not known", o.Kind)
}

// sendRequest hands a request to the queue unless it has been settled or overtaken meanwhile.
func (d *Desk) sendRequest(ctx context.Context, o ledger.Out) error {
	var r jobs.Request
	if err := json.Unmarshal(o.Payload, &r); err != nil {
		return fmt.Errorf("request %s: %w", o.Key, err)
	}
	wantedStill := false
	err := d.ledger.Tx(ctx, func(t *ledger.Tx) error {
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
	return d.cfg.Queue.Send(ctx, r)
}

// transport finds who carries a thread or a person by the ID's prefix.
func (d *Desk) transport(id string) (chat.Transport, error) {
	scheme, _, _ := strings.Cut(id, ":")
	for _, t := range d.cfg.Transports {
		if t.Scheme() == scheme {
			return t, nil
		}
	}
	return nil, fmt.Errorf("%s is on %q, which this desk is not connected to", id, scheme)
}

// openThread opens a commission's thread, or returns the one there is.
func (d *Desk) openThread(ctx context.Context, id quote.CommissionID) (chat.ThreadID, error) {
	var c ledger.Commission
	err := d.ledger.Tx(ctx, func(t *ledger.Tx) (err error) {
		c, err = t.Commission(id)
		return err
	})
	if err != nil || c.Thread != "" {
		return c.Thread, err
	}
	d.opening.Lock()
	defer d.opening.Unlock()
	tr, err := d.transport(string(c.Client))
	if err != nil {
		return "", err
	}
	th, err := tr.OpenThread(ctx, string(id), clip(fmt.Sprintf("%s · %s", id, c.ClientName), 90), c.Client)
	if err != nil {
		return "", err
	}
	err = d.ledger.Tx(ctx, func(t *ledger.Tx) error {
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
func (d *Desk) openBoards(ctx context.Context) error {
	for _, p := range d.cfg.Boards {
		tr, err := d.transport(string(p))
		if err != nil {
			return err
		}
		th, err := tr.OpenThread(ctx, "studio", "Studio notice board", p)
		if err != nil {
			return err
		}
		if err := d.ledger.Tx(ctx, func(t *ledger.Tx) error { return t.SetBoard(tr.Scheme(), th) }); err != nil {
			return err
		}
	}
	return nil
}
