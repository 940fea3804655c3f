package rehearsal

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/jobs"
	"benchbell/quote"
	"benchbell/quote/engine"
	"benchbell/worker/compute"
)

// Everything that people do in a quarter, as acts of the shop. Nothing else in this package acts.

// How long things take people and the engine (assumptions).
const (
	computing  = 2 * time.Minute
	wakesUp    = 24 * time.Hour // after a quote that was asked for again
	collected  = 24 * time.Hour // after a client was told that it is ready
	remindDays = 7              // after the last day of a deposit the studio gives the commission up
	mostTries  = 5              // of an act that the shop's plan overtakes
	// hopeless are the odds of a promise below which the studio tells its client another date.
	hopeless = 0.2
)

// do does one act, and lets happen what is due right after it.
func (q *quarter) do(ctx context.Context, who chat.Person, a shop.Act) (shop.Outcome, error) {
	q.moment()
	for try := 1; ; try++ {
		q.acts++
		o, err := q.shop.Do(ctx, shop.Call{ID: fmt.Sprint("act ", q.acts), Person: who, Act: a})
		if refusal(err) == shop.Moved && try < mostTries {
			continue
		}
		if err != nil {
			q.told = nil // undone with it
			return nil, err
		}
		return o, q.settle(ctx)
	}
}

// settle lets happen what is due by now, and looks at what was told.
func (q *quarter) settle(ctx context.Context) error {
	if err := q.hear(ctx); err != nil {
		return err
	}
	q.looks = 0 // those of the act itself
	if err := q.shop.Due(ctx); err != nil {
		return err
	}
	q.settled = q.now
	if err := q.hear(ctx); err != nil || q.fill != nil { // what is counted of a quarter is held against laws
		return err
	}
	if err := q.afterAct(ctx); err != nil {
		return err
	}
	return q.recheck(ctx)
}

// refusal is the kind of the refusal in err; empty where there is none.
func refusal(err error) shop.Kind {
	if no, ok := refused(err); ok {
		return no.Kind
	}
	return ""
}

func refused(err error) (no *shop.Refusal, ok bool) { return no, errors.As(err, &no) }

// asks has a client open a commission, choose and begin to measure.
func (q *quarter) asks(ctx context.Context, c client) error {
	who := q.person(c.number)
	o, err := q.do(ctx, who, shop.Ask{})
	if err != nil {
		return err
	}
	q.fill.asked(q, c, o.(shop.Asked).Commission.ID)
	id := o.(shop.Asked).Commission.ID
	q.commissions[id] = &record{client: c, asked: q.now}
	if c.stops == stopsChoosing {
		return nil
	}
	var names []string
	for _, it := range c.items {
		names = append(names, it.Set)
	}
	if _, err := q.do(ctx, who, shop.ChooseSets{Of: shop.On(id), Sets: names}); err != nil {
		return err
	}
	if _, err := q.do(ctx, who, shop.ChooseFinish{Of: shop.On(id), Finish: c.finish}); err != nil {
		return err
	}
	if o, err = q.do(ctx, who, shop.Measure{Of: shop.On(id)}); err != nil {
		return err
	}
	if q.fill != nil && c.number%inPerson != 0 {
		if _, err := q.do(ctx, who, shop.GiveDetails{Of: shop.On(id), Fittings: shop.FittingsByPictures}); err != nil {
			return err
		}
	}
	if c.stops == stopsMeasuring {
		return nil
	}
	typed := map[string]string{}
	for _, w := range o.(shop.Body).All {
		typed[w.Field()] = c.typed[w.Key]
	}
	q.arrange(q.now.Add(c.measures), func(ctx context.Context) error { return q.measures(ctx, who, id, typed) })
	return nil
}

func (q *quarter) measures(ctx context.Context, who chat.Person, id quote.CommissionID, typed map[string]string) error {
	if len(typed) > 0 {
		if _, err := q.do(ctx, who, shop.GiveMeasurements{Of: shop.On(id), Typed: typed}); err != nil {
			return err
		}
	}
	if q.commissions[id].client.stops == stopsChecking {
		return nil
	}
	_, err := q.do(ctx, who, shop.Confirm{Of: shop.On(id)})
	if refusal(err) == shop.Misfit { // not for this body; the client goes away
		_, err = q.do(ctx, who, shop.Cancel{Of: shop.On(id)})
		return err
	}
	q.awaits()
	return err
}

// awaits has the engine answer soon.
func (q *quarter) awaits() { q.arrange(q.now.Add(computing), q.answers) }

// answers has the engine answer what the ledger asks for, with all that a worker does between taking a request and giving its answer
// but pressing the paper.
func (q *quarter) answers(ctx context.Context) error {
	var open []ledger.Request
	var snaps []quote.Snapshot
	err := q.led.Tx(ctx, func(t *ledger.Tx) (err error) {
		if open, err = t.OverdueRequests(q.now.AddDate(1, 0, 0)); err != nil {
			return err
		}
		for _, r := range open {
			rev, err := t.Revision(r.Commission, r.Revision)
			if err != nil {
				return err
			}
			snaps = append(snaps, rev.Snapshot)
		}
		return nil
	})
	if err != nil {
		return err
	}
	for i, r := range open {
		if q.alone {
			snaps[i].Promised, snaps[i].Beside = nil, nil
		}
		wire, err := jobs.EncodeRequest(jobs.Request{ID: r.ID, Attempt: r.Attempt, Snapshot: snaps[i]})
		if err != nil {
			return err
		}
		a, err := q.known.answer(ctx, wire)
		if err != nil {
			return err
		}
		if q.commissions[r.Commission].client.stops == stopsFailing {
			a = jobs.Answer{Version: jobs.Version, ID: r.ID, Attempt: r.Attempt, Worker: a.Worker, Kind: jobs.Failed, Say: tooLong, Cause: tooLong}
		}
		q.moment()
		if err := q.shop.Take(ctx, a); err != nil {
			return err
		}
		if err := q.settle(ctx); err != nil {
			return err
		}
	}
	open = nil
	err = q.led.Tx(ctx, func(t *ledger.Tx) (err error) {
		open, err = t.OverdueRequests(q.now.AddDate(1, 0, 0))
		return err
	})
	if len(open) > 0 { // again, around what was promised meanwhile
		q.awaits()
	}
	return err
}

// noPaper stands for a quote's document.
var noPaper = []byte("A rehearsed quote has no paper.\n")

// reckoned are the quotes that were worked out for the arms of a seed. They order the same, so that each is nested and priced once.
type reckoned struct{ quotes sync.Map }

// answer is what a worker makes of a request.
func (k *reckoned) answer(ctx context.Context, wire []byte) (jobs.Answer, error) {
	r, err := jobs.DecodeRequest(wire)
	if err != nil {
		return jobs.Answer{}, err
	}
	a := jobs.Answer{ID: r.ID, Attempt: r.Attempt, Worker: "rehearsal", Kind: jobs.Done}
	made, err := compute.Once(ctx, k.reckon, r.Snapshot, nil)
	if err != nil {
		return a, err
	}
	made.PDF = noPaper
	a.Quote = &made
	if wire, err = jobs.EncodeAnswer(a); err != nil {
		return a, err
	}
	return jobs.DecodeAnswer(wire)
}

// reckon is the engine, which nests and prices each order once.
func (k *reckoned) reckon(ctx context.Context, s quote.Snapshot, _ quote.Progress) (quote.Quote, error) {
	type reckoning struct {
		once sync.Once
		q    quote.Quote
		err  error
	}
	order := fmt.Sprint(s.Commission, s.Revision, s.Items, s.Finish, s.Body, s.Seed)
	x, _ := k.quotes.LoadOrStore(order, &reckoning{})
	r, first := x.(*reckoning), false
	r.once.Do(func() {
		first = true
		r.q, r.err = engine.Reckon(ctx, s)
	})
	if first || r.err != nil {
		return r.q, r.err
	}
	return engine.Dated(ctx, s, r.q)
}

// quoted has a client think about a quote.
func (q *quarter) quoted(o shop.Quoted) {
	r := q.commissions[o.Commission.ID]
	wait := r.client.decides
	if r.quotes++; r.quotes > 1 {
		wait = wakesUp
	}
	id, n := o.Commission.ID, o.Commission.Revision
	q.arrange(q.now.Add(wait), func(ctx context.Context) error { return q.decides(ctx, id, n) })
}

// decides has a client accept a quote, turn it down, or let it run out.
func (q *quarter) decides(ctx context.Context, id quote.CommissionID, n int) error {
	r := q.commissions[id]
	who := q.person(r.client.number)
	if r.client.stops == stopsCancelling {
		_, err := q.do(ctx, who, shop.Cancel{Of: shop.On(id)})
		return err
	}
	if !r.client.accepts {
		if !r.client.declines {
			return nil
		}
		_, err := q.do(ctx, who, shop.Decline{OfRevision: shop.OnRevision(id, n)})
		return err
	}
	_, err := q.do(ctx, who, shop.Approve{OfRevision: shop.OnRevision(id, n)})
	if no, ok := refused(err); ok && no.Kind == shop.DateMoved { // held no longer: the date as it is now is shown, and taken
		r.anew = true
		_, err = q.do(ctx, who, shop.Approve{OfRevision: shop.OnRevision(id, n), Date: no.Name})
	}
	switch refusal(err) {
	case shop.RunOut:
		_, err = q.do(ctx, who, shop.Requote{OfRevision: shop.OnRevision(id, n)})
		q.awaits()
		return err
	case shop.DateMoved, shop.Moved: // it moved again under the client's hand; another look tomorrow
		q.arrange(q.now.Add(wakesUp), func(ctx context.Context) error { return q.decides(ctx, id, n) })
		return nil
	}
	return err
}

// approved has a client pay, or not.
func (q *quarter) approved(o shop.Approved) {
	r := q.commissions[o.Commission.ID]
	id := o.Commission.ID
	if r.client.never {
		q.arrange(o.Due.AddDate(0, 0, remindDays), func(ctx context.Context) error {
			_, err := q.do(ctx, studio, shop.Cancel{Of: shop.On(id)})
			return err
		})
		return
	}
	at := q.now.Add(r.client.pays)
	r.late = at.After(o.Due)
	q.arrange(q.hours.opens(at), func(ctx context.Context) error { return q.pays(ctx, id) })
}

// pays has the studio confirm a deposit. Where that puts promises in danger, it reads which and goes ahead: the money is there.
func (q *quarter) pays(ctx context.Context, id quote.CommissionID) error {
	_, err := q.do(ctx, studio, shop.Pay{Of: shop.On(id)})
	for try := 1; try < mostTries; try++ {
		no, ok := refused(err)
		if !ok || no.Kind != shop.Hurts {
			break
		}
		q.hurts++
		_, err = q.do(ctx, studio, shop.Pay{Of: shop.On(id), Seen: no.Seen})
	}
	return err
}

// monday has the studio take the plan over as it would be made now, and tell other dates where a promise is hopeless. Whoever has not
// paid yet is told nothing: their date is not the studio's to keep until they have.
func (q *quarter) monday(ctx context.Context) error {
	err := q.led.Tx(ctx, func(t *ledger.Tx) (err error) {
		q.plan, err = t.Count(planCounter)
		return err
	})
	if err != nil {
		return err
	}
	if _, err := q.do(ctx, studio, shop.TakeOver{Plan: q.plan}); err != nil {
		return err
	}
	for _, id := range q.endangered() {
		var odds float64
		var c ledger.Commission
		err := q.led.Tx(ctx, func(t *ledger.Tx) error {
			o, err := t.Outlook(id)
			if err != nil {
				return err
			}
			odds = o.Odds
			c, err = t.Commission(id)
			return err
		})
		if err != nil {
			return err
		}
		if odds >= hopeless || c.State != ledger.Working {
			continue
		}
		if _, err := q.do(ctx, studio, shop.TellDate{Of: shop.On(id), Sure: true}); err != nil && refusal(err) != shop.NotInDanger {
			return err
		}
	}
	return nil
}

// planCounter is the ledger's counter of the shop's plans, which the studio reads off the plan that it looks at.
const planCounter = "shop plan"

// offered has a client pick the first time that is left once they have read of it.
func (q *quarter) offered(o shop.SlotsOffered) {
	r := q.commissions[o.Commission.ID]
	id, n, slots := o.Commission.ID, o.Appointment.N, o.Appointment.Slots
	q.arrange(q.now.Add(reads), func(ctx context.Context) error {
		for _, at := range slots {
			if !at.After(q.now) {
				continue
			}
			_, err := q.do(ctx, q.person(r.client.number), shop.PickSlot{OfAppointment: shop.OfAppointment{Of: shop.On(id), N: n}, At: at})
			if _, no := refused(err); no { // gone meanwhile, or no longer needed; the plan has a time of its own
				continue
			}
			return err
		}
		return nil
	})
}

// reads is how long it takes until a client has read of a time that is offered.
const reads = 3 * time.Hour

// falls has the studio file that a maker is away, on the first morning, until the last day.
func (q *quarter) falls(ctx context.Context, maker string, until time.Time) error {
	a := shop.GoAway{Maker: maker, Until: until.In(q.zone).Format(time.DateOnly)}
	_, err := q.do(ctx, studio, a)
	for try := 1; try < mostTries; try++ {
		no, ok := refused(err)
		if !ok || no.Kind != shop.Hurts {
			break
		}
		q.hurts++
		a.Seen = no.Seen
		_, err = q.do(ctx, studio, a)
	}
	return err
}

// finishing has a client come for what is ready.
func (q *quarter) finishing(o shop.Finishing) {
	id := o.Commission.ID
	if q.fill != nil && q.end.Sub(q.now) < leftToCollect && q.commissions[id].client.number%2 == 0 {
		return // it stands ready in the shop that is left
	}
	q.arrange(q.hours.opens(q.now.Add(collected)), func(ctx context.Context) error {
		_, err := q.do(ctx, studio, shop.HandOver{Of: shop.On(id)})
		return err
	})
}

// bench is what the makers see.
func (q *quarter) bench(ctx context.Context) (shop.Bench, error) {
	o, err := q.shop.See(ctx, studio, shop.Today{})
	if err != nil {
		return shop.Bench{}, err
	}
	return o.(shop.Bench), nil
}

func (q *quarter) start(ctx context.Context, o ledger.Operation) error {
	_, err := q.do(ctx, studio, shop.Start{OfOperation: shop.OnOperation(o.Commission, o.Seq)})
	return err
}

func (q *quarter) done(ctx context.Context, o ledger.Operation) error {
	_, err := q.do(ctx, studio, shop.Done{OfOperation: shop.OnOperation(o.Commission, o.Seq)})
	return err
}
