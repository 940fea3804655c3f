package ledger

import (
	"time"

	"benchbell/bot/chat"
	"benchbell/quote"
)

// PromiseState says what became of a promise.
type PromiseState string

// Promise states.
const (
	Offered PromiseState = "offered" // with a quote
	Given   PromiseState = "given"   // the quote was approved, or the client was told another date
	Kept    PromiseState = "kept"    // the work was ready by the date
	Missed  PromiseState = "missed"  // it was not
	Void    PromiseState = "void"    // another date was told since, or nothing came of the quote
)

// UnknownOdds are those of a date told before odds were kept.
const UnknownOdds = -1

// Promise is a date that a client was told.
type Promise struct {
	Commission quote.CommissionID
	N          int // 1-based, of the commission
	Date       string
	Odds       float64 // share of the simulated runs that kept it when it was told, or UnknownOdds
	Revision   int
	HeldUntil  time.Time // of one offered: until then approving keeps the date; zero: no longer
	ToldAt     time.Time
	ToldBy     chat.PersonID // empty: by the quote itself
	Message    string        // key of the post that told it
	State      PromiseState
	EndedAt    time.Time // zero: it stands
}

const promiseColumns = `commission, n, date, odds, revision, held_until, told_at, told_by, message, state, ended_at`

func scanPromise(s scanner) (p Promise, err error) {
	return p, s.Scan(&p.Commission, &p.N, &p.Date, &p.Odds, &p.Revision, moment{&p.HeldUntil}, moment{&p.ToldAt}, &p.ToldBy, &p.Message, &p.State, moment{&p.EndedAt})
}

// Promise files a date told; it numbers it, and the date told before is void. It is the commission's promise from now on.
func (t *Tx) Promise(p Promise) error {
	if err := t.EndPromise(p.Commission, Void, p.ToldAt); err != nil {
		return err
	}
	err := t.exec(`insert into promises (`+promiseColumns+`)
		select ?, coalesce(max(n), 0) + 1, ?, ?, ?, ?, ?, ?, ?, ?, '' from promises where commission = ?`,
		string(p.Commission), p.Date, p.Odds, p.Revision, stamp(p.HeldUntil), stamp(p.ToldAt), string(p.ToldBy), p.Message, string(p.State), string(p.Commission))
	if err != nil {
		return err
	}
	return t.exec(`update commissions set promise = ? where id = ?`, p.Date, string(p.Commission))
}

// EndPromise ends the one that stands, if any.
func (t *Tx) EndPromise(id quote.CommissionID, s PromiseState, at time.Time) error {
	return t.exec(`update promises set state = ?, ended_at = ?, held_until = '' where commission = ? and state in ('offered', 'given')`,
		string(s), stamp(at), string(id))
}

// ReopenPromise has the last promise stand again of a commission that was finished and is not any more.
func (t *Tx) ReopenPromise(id quote.CommissionID) error {
	return t.exec(`update promises set state = 'given', ended_at = '' where commission = ? and state in ('kept', 'missed')
		and n = (select max(n) from promises where commission = ?)`, string(id), string(id))
}

// GivePromise turns the one offered into one given, which stands as long as the work does.
func (t *Tx) GivePromise(id quote.CommissionID) error {
	return t.exec(`update promises set state = 'given', held_until = '' where commission = ? and state = 'offered'`, string(id))
}

// LetGo no longer holds the date offered.
func (t *Tx) LetGo(id quote.CommissionID) error {
	return t.exec(`update promises set held_until = '' where commission = ? and state = 'offered'`, string(id))
}

// StandingPromise is the one that stands, or ErrNone.
func (t *Tx) StandingPromise(id quote.CommissionID) (Promise, error) {
	return one(t, scanPromise, `select `+promiseColumns+` from promises where commission = ? and state in ('offered', 'given')`, string(id))
}

// Promises of a commission in the order told.
func (t *Tx) Promises(id quote.CommissionID) ([]Promise, error) {
	return all(t, scanPromise, `select `+promiseColumns+` from promises where commission = ? order by n`, string(id))
}

// DueHolds are the promises offered whose date is held no longer.
func (t *Tx) DueHolds(now time.Time) ([]Promise, error) {
	return all(t, scanPromise, `select `+promiseColumns+` from promises where state = 'offered' and held_until <> '' and held_until <= ? order by commission`, stamp(now))
}

// QuotesSoFar counts the commissions whose quote was accepted, and those of which nothing came. One that is still open counts
// in neither.
func (t *Tx) QuotesSoFar() (accepted, lapsed int, err error) {
	_, err = one(t, func(s scanner) (struct{}, error) { return struct{}{}, s.Scan(&accepted, &lapsed) },
		`select count(*) filter (where exists (select 1 from approvals a where a.commission = c.id)),
			count(*) filter (where state in ('declined', 'expired', 'cancelled') and not exists (select 1 from approvals a where a.commission = c.id))
			from commissions c where exists (select 1 from revisions r where r.commission = c.id and r.issued_at <> '')`)
	return accepted, lapsed, err
}
