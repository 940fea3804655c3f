package rehearsal

import (
	"context"
	"math"
	"slices"
	"time"

	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/quote"
	"benchbell/quote/price"
)

// record is what a quarter knows of a commission.
type record struct {
	client client
	asked  time.Time
	quotes int
	anew   bool // approved for another date than quoted, which was shown

	estimate price.Estimate // of what was approved

	promised string // the first date given: what counts
	odds     float64
	approved time.Time
	late     bool // the deposit came after its last day
	paid     time.Time
	told     []string  // dates told instead, in order
	cause    cause     // whose the first of these is
	held     time.Time // until when the date of its quote was held
	again    bool      // some of its work was done again
	ready    time.Time
	closed   bool // cancelled, declined or handed over
	danger   int  // notices
}

// count is what is counted in a quarter.
type count struct {
	commissions map[quote.CommissionID]*record
	used        map[string]time.Duration // by place, within the weeks
	hurts       int                      // deposits that put promises in danger
	replanned   int                      // acts that may move starts
	moved       int                      // starts moved by them
	reworked    int
	bells       map[opKey]time.Time // set, and when due
	rung        int
	early       int
}

func (c *count) init() {
	c.commissions, c.used, c.bells = map[quote.CommissionID]*record{}, map[string]time.Duration{}, map[opKey]time.Time{}
}

// hear takes in what was told.
func (q *quarter) hear(ctx context.Context) error {
	told := q.told
	q.told = nil
	for _, t := range told {
		if err := q.law.heard(t); err != nil {
			return err
		}
		switch o := t.Outcome.(type) {
		case shop.Quoted:
			q.commissions[o.Commission.ID].held = o.Held
			q.quoted(o)
		case shop.Approved:
			if err := q.promise(ctx, o); err != nil {
				return err
			}
			q.approved(o)
		case shop.Paid:
			q.commissions[o.Commission.ID].paid = q.now
			q.shown, q.stirred = shop.Bench{}, true
			q.replanned++
			q.moved += o.Moved
			if _, err := q.book(ctx, o.Commission.ID); err != nil {
				return err
			}
		case shop.TakenOver:
			q.plan = o.Plan.Number
			q.shown, q.stirred = shop.Bench{}, true
			q.replanned++
			q.moved += o.Moved
		case shop.WentAway:
			q.replanned++
			q.moved += o.Moved
			q.shown, q.stirred = shop.Bench{}, true
		case shop.SlotPicked:
			q.shown, q.stirred = shop.Bench{}, true
		case shop.SlotsOffered:
			q.offered(o)
		case shop.DateTold:
			r := q.commissions[o.Commission.ID]
			r.told = append(r.told, o.Commission.Promise)
			if len(r.told) == 1 {
				r.cause = q.cause(r)
			}
		case shop.Endangered:
			q.commissions[o.Commission.ID].danger++
		case shop.Started:
			q.shown, q.stirred = o.Bench, true
		case shop.Ended:
			q.shown, q.stirred = o.Bench, true
			if !o.Cures.IsZero() {
				q.bells[keyOf(o.Operation)] = o.Cures
			}
		case shop.Rung:
			q.rings(o)
		case shop.Closing:
			q.urgent[keyOf(o.Next)], q.stirred = true, true
		case shop.Finishing:
			q.commissions[o.Commission.ID].ready = q.now
			q.finishing(o)
		case shop.Cancelled:
			q.closes(o.Commission.ID)
			q.shown, q.stirred = shop.Bench{}, true
		case shop.Declined:
			q.closes(o.Commission.ID)
		case shop.HandedOver:
			q.closes(o.Commission.ID)
		}
	}
	return nil
}

// cause says whose it is that a client is told another date.
type cause string

// Causes.
const (
	clients cause = "client"  // paid after the date of the quote was held no longer, though within the days for the deposit
	studios cause = "studio"  // slower than its rates, away, or did work again
	nobodys cause = "neither" // the dates, the plan or luck
)

// slow is how much slower than it believes a studio is that is told apart from luck: the book's bias and half of its spread.
func (q *quarter) slow() bool {
	s := q.studio.Spread
	return q.world.rates > math.Exp(s.Bias+s.Rates/2)
}

// cause of another date told now.
func (q *quarter) cause(r *record) cause {
	switch {
	case r.paid.After(r.held):
		return clients
	case r.again || q.slow() || slices.ContainsFunc(q.makers, func(m *maker) bool { return q.hours.between(r.approved, q.now)-m.hours.between(r.approved, q.now) > 0 }):
		return studios
	}
	return nobodys
}

func (q *quarter) closes(id quote.CommissionID) {
	q.commissions[id].closed = true
	for k := range q.bells {
		if k.id == id {
			delete(q.bells, k)
		}
	}
}

// rings takes in a bell: it must not come before its coat may be touched by what the ledger has of it.
func (q *quarter) rings(o shop.Rung) {
	q.shown, q.stirred = shop.Bench{}, true
	delete(q.bells, keyOf(o.Operation))
	q.rung++
	if o.Operation.DoneAt.IsZero() || q.now.Before(o.Operation.DoneAt.Add(o.Operation.CureFor)) {
		q.early++
	}
}

// lost are the bells that should have come by now and have not.
func (q *quarter) lost() (n int) {
	for _, due := range q.bells {
		if !due.After(q.now) {
			n++
		}
	}
	return n
}

// promise takes down the date that counts.
func (q *quarter) promise(ctx context.Context, o shop.Approved) error {
	r := q.commissions[o.Commission.ID]
	r.promised, r.approved, r.estimate = o.Commission.Promise, q.now, o.Estimate
	return q.led.Tx(ctx, func(t *ledger.Tx) error {
		p, err := t.StandingPromise(o.Commission.ID)
		r.odds = p.Odds
		return err
	})
}

// decided reports whether nothing that was promised is open any more, and nothing that may be promised.
func (q *quarter) decided() bool {
	for _, r := range q.commissions {
		if !r.closed && r.ready.IsZero() && (r.promised != "" || r.client.accepts) {
			return false
		}
	}
	return true
}

// ids of the commissions, in order.
func (q *quarter) ids() []quote.CommissionID {
	var out []quote.CommissionID
	for id := range q.commissions {
		out = append(out, id)
	}
	slices.Sort(out)
	return out
}
