package ledger

import (
	"errors"
	"time"

	"benchbell/quote"
)

// PlanOperation stores the planned times, resources and cure of an operation that has not begun; of others it changes nothing.
func (t *Tx) PlanOperation(o Operation) error {
	res, err := encode(o.Resources)
	if err != nil {
		return err
	}
	spans, err := encode(o.Spans)
	if err != nil {
		return err
	}
	return t.execOps(o.Commission, `update operations set start_at=?, end_at=?, resources=?, spans=?, cure_ms=?, window_ms=? where commission=? and seq=? and state='planned'`,
		stamp(o.Start), stamp(o.End), res, spans, o.CureFor.Milliseconds(), o.Window.Milliseconds(), string(o.Commission), o.Seq)
}

// NewlyDone are the operations done whose effect on the promises has not been looked at.
func (t *Tx) NewlyDone() ([]Operation, error) {
	return all(t, scanOp, `select `+opColumns+` from operations where state = 'done' and looked = 0 order by commission, seq`)
}

// LookedAt remembers that the effect of an operation was looked at.
func (t *Tx) LookedAt(o Operation) error {
	return t.exec(`update operations set looked = 1 where commission = ? and seq = ?`, string(o.Commission), o.Seq)
}

// ClosingBells are those whose recoat window closes by then and of which nobody was warned.
func (t *Tx) ClosingBells(by time.Time) ([]Bell, error) {
	return all(t, scanBell, `select `+bellColumns+` from bells where warned_at = '' and latest_at <> '' and latest_at <= ? order by latest_at, id`, stamp(by))
}

// Warned marks that the closing of a bell's window was dealt with.
func (t *Tx) Warned(id string, at time.Time) error {
	return t.exec(`update bells set warned_at = ? where id = ? and warned_at = ''`, stamp(at), id)
}

// Outlook is what was last said of a commission's promise.
type Outlook struct {
	Commission    quote.CommissionID
	Promise, Sure string  // dates
	Odds          float64 // share of the simulated runs that keep the promise, or UnknownOdds
	Danger        bool
	Note          string // key of the notice that says so
}

// Outlook of a commission; one without any is safe.
func (t *Tx) Outlook(id quote.CommissionID) (Outlook, error) {
	o, err := one(t, func(s scanner) (o Outlook, err error) {
		return o, s.Scan(&o.Promise, &o.Sure, &o.Odds, &o.Danger, &o.Note)
	},
		`select promise, sure, odds, danger, note from outlooks where commission = ?`, string(id))
	if errors.Is(err, ErrNone) {
		err, o.Odds = nil, UnknownOdds
	}
	o.Commission = id
	return o, err
}

// SetOutlook remembers what was said of a commission's promise.
func (t *Tx) SetOutlook(o Outlook, at time.Time) error {
	danger := 0
	if o.Danger {
		danger = 1
	}
	return t.exec(`insert into outlooks (commission, promise, sure, odds, danger, note, at) values (?, ?, ?, ?, ?, ?, ?)
		on conflict (commission) do update set promise = excluded.promise, sure = excluded.sure, odds = excluded.odds, danger = excluded.danger, note = excluded.note, at = excluded.at`,
		string(o.Commission), o.Promise, o.Sure, o.Odds, danger, o.Note, stamp(at))
}

// SetCount sets a counter.
func (t *Tx) SetCount(counter string, n int64) error {
	return t.exec(`insert into counters (name, value) values (?, ?) on conflict (name) do update set value = excluded.value`, counter, n)
}

// Count is where a counter of Next stands; 0 where it never counted.
func (t *Tx) Count(counter string) (int64, error) {
	n, err := one(t, func(s scanner) (n int64, err error) { return n, s.Scan(&n) }, `select value from counters where name = ?`, counter)
	if errors.Is(err, ErrNone) {
		err = nil
	}
	return n, err
}
