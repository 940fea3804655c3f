package shop

import (
	"errors"
	"slices"
	"time"

	"benchbell/bot/ledger"
	"benchbell/quote"
)

// TakeBack undoes what was last said of an operation: that it was done, put down or begun. It is refused as RestsOn once something
// rests on that it was done: a later operation was begun, an appointment was kept, its rest is on the rack, or the client has picked
// a time to collect the finished work.
type TakeBack struct{ OfOperation }

// What can be taken back.
const (
	wasDone   = "done"
	wasPaused = "paused"
	wasBegun  = "begun"
)

// TakenBack is an operation that is as it was before.
type TakenBack struct {
	Commission ledger.Commission
	Operation  ledger.Operation
	Was        string       // what is taken back: that it was done, paused or begun
	Bell       *ledger.Bell // that rings no more, or should not have; nil: nothing cured
	Unfinished bool         // the commission was finished, and is not any more
	Bench      Bench        // as it is now
}

func takeBack(j *job, c ledger.Commission, a TakeBack) (o TakenBack, err error) {
	o.Commission = c
	b, err := j.bench(c)
	if err != nil {
		return o, err
	}
	op, ok := b.numbered(a.Operation)
	switch {
	case !ok:
		return o, &Refusal{Kind: NoOperation, Commission: c, Count: a.Operation}
	case op.State == ledger.Planned:
		return o, &Refusal{Kind: NotInHand, Commission: c, Operation: op}
	}
	if no, err := j.restsOn(b, op); err != nil || no != nil {
		return o, errors.Join(err, no.orNil())
	}
	spells, err := j.spells(op)
	if err != nil {
		return o, err
	}
	var last ledger.Spell
	if len(spells) > 0 {
		last = spells[len(spells)-1]
	}
	switch {
	case op.State == ledger.Done:
		o.Was = wasDone
		err = j.undone(&o, b, &op, last)
	case !op.PausedAt.IsZero():
		o.Was, op.PausedAt = wasPaused, time.Time{}
		err = errors.Join(j.reopen(last), j.t.MoveOperation(op))
	case len(spells) < 2:
		o.Was = wasBegun
		err = j.unbegun(&op)
	default: // it lies at pause again
		o.Was, op.PausedAt = wasBegun, spells[len(spells)-2].Until
		op.Rested = max(0, op.Rested-j.rested(op.PausedAt, last.From))
		err = errors.Join(j.t.DropSpell(last), j.t.MoveOperation(op))
	}
	if err != nil {
		return o, err
	}
	o.Operation = op
	if err := errors.Join(j.record(o.Commission, "taken back", o.Was+" "+op.Op), j.planChanged()); err != nil {
		return o, err
	}
	o.Bench, err = j.today()
	return o, err
}

// undone has an operation not done any more, and what it started with it.
func (j *job) undone(o *TakenBack, b bench, op *ledger.Operation, last ledger.Spell) error {
	done := op.DoneAt
	if x, ok := b.bell(op.Seq); ok {
		o.Bell = &x
		if err := j.t.DropBell(x.ID); err != nil {
			return err
		}
	}
	if o.Commission.State == ledger.Ready {
		o.Unfinished = true
		if err := j.unfinish(&o.Commission); err != nil {
			return err
		}
	}
	if op.StartedAt.IsZero() {
		return j.unbegun(op)
	}
	op.State, op.DoneAt, op.DoneBy = ledger.Running, time.Time{}, ""
	if last.Until.Equal(done) {
		return errors.Join(j.reopen(last), j.t.MoveOperation(*op))
	}
	op.PausedAt = last.Until // it was done while it lay at pause
	return j.t.MoveOperation(*op)
}

// reopen goes on with a spell as if it had not ended.
func (j *job) reopen(x ledger.Spell) error {
	x.Until, x.Minutes, x.CorrectedAt, x.CorrectedBy = time.Time{}, 0, time.Time{}, ""
	return j.t.SaveSpell(x)
}

// unfinish has a finished commission at work again: its promise stands as it did, and nobody is to collect it.
func (j *job) unfinish(c *ledger.Commission) error {
	c.State = ledger.Working
	if err := errors.Join(j.t.ReopenPromise(c.ID), j.save(c, "not finished after all", "")); err != nil {
		return err
	}
	a, err := j.standing(c.ID, ledger.HandingOver)
	if errors.Is(err, ledger.ErrNone) {
		return nil
	}
	if err != nil {
		return err
	}
	a.State, a.EndedAt = ledger.ApptVoid, j.now
	return j.t.SaveAppointment(a)
}

// restsOn is what rests on an operation, as a refusal; nil: nothing.
func (j *job) restsOn(b bench, op ledger.Operation) (*Refusal, error) {
	if op.State != ledger.Done {
		return nil, nil
	}
	no := &Refusal{Kind: RestsOn, Commission: b.c, Operation: op}
	i := slices.IndexFunc(b.ops, func(o ledger.Operation) bool {
		return o.State != ledger.Planned && slices.Contains(o.After, op.Op) && !begunAt(o).Before(op.DoneAt)
	})
	if i >= 0 {
		no.Wait = &Wait{For: b.ops[i]}
		return no, nil
	}
	if met := appointed(op.Op); met != "" || b.c.State == ledger.Ready {
		all, err := j.t.Appointments(b.c.ID)
		if err != nil {
			return nil, err
		}
		for _, a := range all {
			kept := met == a.Which && a.State == ledger.ApptKept && !a.EndedAt.Before(op.DoneAt)
			comes := b.c.State == ledger.Ready && a.Which == ledger.HandingOver && a.State == ledger.ApptPicked && a.PickedBy != ""
			if kept || comes {
				no.Appointment = a
				return no, nil
			}
		}
	}
	if op.Kind == CutKind {
		racked, err := j.t.RackedFrom(string(b.c.ID))
		if err != nil {
			return nil, err
		}
		for _, x := range racked {
			if quote.CutOperation(x.Thickness) == op.Op && !x.At.Before(op.DoneAt) {
				no.Names = append(no.Names, x.ID)
			}
		}
		if len(no.Names) > 0 {
			return no, nil
		}
	}
	return nil, nil
}

// begunAt is when an operation was begun, as far as that is known.
func begunAt(o ledger.Operation) time.Time {
	if o.StartedAt.IsZero() {
		return o.DoneAt
	}
	return o.StartedAt
}

// orNil is the refusal as an error, where there is one.
func (r *Refusal) orNil() error {
	if r == nil {
		return nil
	}
	return r
}
