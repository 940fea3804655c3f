package rehearsal

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"benchbell/bot/ledger"
	"benchbell/bot/shop"
	"benchbell/quote"
	"benchbell/quote/floor"
)

// Ways in which what is said may contradict itself.
const (
	wrongPromise = "a promise in the ledger is not the last date told"
	wrongOdds    = "odds shown are not those worked out again"
	disagree     = "messages of one moment disagree"
	falseDanger  = "in danger is what the plan just taken over keeps"
	saidTwice    = "a danger is on the board a second time"
	unsaid       = "a danger is not on the board"
)

// sameOdds is how far two odds of the same promise may differ: they are shares of the same runs and must be the same number, but
// for its way through a ledger.
const sameOdds = 1e-9

// law holds what the shop says against the ledger and against what it said before.
type law struct {
	broken   map[string]int
	examples []string // of what was broken, a few

	dates   map[quote.CommissionID]string // the last date told
	board   map[quote.CommissionID]string // the promise that is in danger there
	said    map[quote.CommissionID]saying // in this moment
	over    map[quote.CommissionID]floor.Outlook
	limit   float64
	lookups map[revKey]ledger.Revision
	looks   int       // of the shop in this moment
	seen    int       // moments in which it looked
	checked time.Time // when the board was last held against the plan
	acted   bool      // since then
	unsaid  map[quote.CommissionID]string
	quiet   int // dangers that the board did not say, found by the hour
}

type revKey struct {
	id quote.CommissionID
	n  int
}

// saying is what a message says of a promise.
type saying struct {
	promise string
	odds    float64
	in      string
}

func (l *law) init() {
	*l = law{limit: l.limit, broken: map[string]int{}, unsaid: map[quote.CommissionID]string{}, dates: map[quote.CommissionID]string{}, board: map[quote.CommissionID]string{}, lookups: map[revKey]ledger.Revision{}}
}

// mostExamples are kept of what was broken.
const mostExamples = 20

func (l *law) breaks(what, format string, args ...any) {
	l.broken[what]++
	if len(l.examples) < mostExamples {
		l.examples = append(l.examples, what+": "+fmt.Sprintf(format, args...))
	}
}

// moment begins one: an act, and what happens by itself right after it.
func (q *quarter) moment() {
	q.law.said, q.law.over = map[quote.CommissionID]saying{}, map[quote.CommissionID]floor.Outlook{}
	q.law.acted, q.law.looks = true, 0
}

// says holds a saying against the others of the moment.
func (l *law) says(id quote.CommissionID, promise string, odds float64, in string) {
	if promise == "" || odds < 0 {
		return
	}
	was, ok := l.said[id]
	if ok && (was.promise != promise || math.Abs(was.odds-odds) > sameOdds) {
		l.breaks(disagree, "%s is promised for %s with odds of %.4f (%s) and for %s with odds of %.4f (%s)", id, was.promise, was.odds, was.in, promise, odds, in)
	}
	l.said[id] = saying{promise, odds, in}
}

// heard takes in what was told.
func (l *law) heard(t shop.Told) error {
	switch o := t.Outcome.(type) {
	case shop.Quoted:
		l.dates[o.Commission.ID] = o.Promise
	case shop.Approved:
		l.dates[o.Commission.ID] = o.Commission.Promise
	case shop.DateTold:
		l.dates[o.Commission.ID] = o.Commission.Promise
		delete(l.board, o.Commission.ID)
		l.said[o.Commission.ID] = saying{o.Commission.Promise, o.Odds, "date told"}
	case shop.Paid:
		for _, e := range o.Effects {
			l.says(e.Commission, e.Promise, e.After, "deposit")
		}
	case shop.WentAway:
		for _, e := range o.Effects {
			l.says(e.Commission, e.Promise, e.After, "maker away")
		}
	case shop.TakenOver:
		for _, x := range o.Plan.Outlooks {
			l.says(x.Commission, x.Promise, x.Kept, "plan taken over")
			l.over[x.Commission] = x.Outlook
		}
	case shop.Endangered:
		id := o.Commission.ID
		l.says(id, o.Outlook.Promise, o.Outlook.KeptNow, "danger")
		if l.board[id] == o.Outlook.Promise {
			l.breaks(saidTwice, "%s, promised for %s", id, o.Outlook.Promise)
		}
		if x, ok := l.over[id]; ok && x.Promise == o.Outlook.Promise && x.Kept >= l.limit {
			l.breaks(falseDanger, "%s, promised for %s, is kept in %.3f of the runs of the plan taken over and is in danger with %.3f", id, x.Promise, x.Kept, o.Outlook.KeptNow)
		}
		l.board[id] = o.Outlook.Promise
	case shop.Safe:
		l.says(o.Commission.ID, o.Outlook.Promise, o.Outlook.KeptNow, "danger over")
		delete(l.board, o.Commission.ID)
	case shop.Finishing:
		l.ends(o.Commission.ID)
	case shop.Cancelled:
		l.ends(o.Commission.ID)
	case shop.Declined:
		l.ends(o.Commission.ID)
	case shop.Expired:
		l.ends(o.Commission.ID)
	}
	return nil
}

func (l *law) ends(id quote.CommissionID) {
	delete(l.board, id)
	delete(l.dates, id)
}

// endangered are the commissions that are in danger on the board, in order.
func (q *quarter) endangered() []quote.CommissionID {
	var out []quote.CommissionID
	for _, id := range q.ids() {
		if q.board[id] != "" {
			out = append(out, id)
		}
	}
	return out
}

// afterAct holds the ledger's promises against what was told.
func (q *quarter) afterAct(ctx context.Context) error {
	return q.led.Tx(ctx, func(t *ledger.Tx) error {
		cs, err := t.Commissions(ledger.Quoted, ledger.Approved, ledger.Working)
		if err != nil {
			return err
		}
		for _, c := range cs {
			p, err := t.StandingPromise(c.ID)
			if err != nil && !errors.Is(err, ledger.ErrNone) {
				return err
			}
			if told := q.dates[c.ID]; p.Date != told || c.Promise != told {
				q.breaks(wrongPromise, "%s was told %q; the ledger has %q and %q", c.ID, told, p.Date, c.Promise)
			}
		}
		return nil
	})
}

// looking is the shop's look at its plan so far; that it looked is noted.
func (q *quarter) looking(ctx context.Context, open []floor.Open, st quote.Studio, now time.Time) (floor.Shop, error) {
	q.looks++
	p, err := floor.Look(ctx, open, st, now)
	if q.bent != nil {
		q.bent(&p)
	}
	return p, err
}

// oneIn is how many moments in which the shop looked at its promises there are to one in which what it said is worked out again.
const oneIn = 5

// recheck works out again what the shop has just said of its promises, in some of the moments in which it looked at them: the odds
// that it shows are those, and what is in danger by them is on the board.
func (q *quarter) recheck(ctx context.Context) error {
	if q.looks == 0 {
		return nil
	}
	q.looks = 0
	if q.seen++; q.seen%oneIn != 0 {
		return nil
	}
	return q.again(ctx, func(l floor.Outlook, shown ledger.Outlook) {
		if shown.Promise == l.Promise && math.Abs(shown.Odds-l.KeptNow) > sameOdds {
			q.breaks(wrongOdds, "%s, promised for %s, is shown with %.4f on %s and is kept in %.4f of the runs", l.Commission, l.Promise, shown.Odds, q.day(), l.KeptNow)
		}
		if l.Danger && q.board[l.Commission] != l.Promise {
			q.breaks(unsaid, "%s, promised for %s, is kept in %.3f of the runs on %s", l.Commission, l.Promise, l.KeptNow, q.day())
		}
	})
}

func (q *quarter) day() string { return q.now.In(q.zone).Format("2 Jan 15:04") }

// betweenLooks is how often the board is held against the plan where nothing made the shop look.
const betweenLooks = 12 * time.Hour

// hourly counts the promises that have come into danger while nothing made the shop look: time passes, and makers begin later or
// otherwise than planned. No act of the shop says so, so that it contradicts nothing; the board does not say it either.
func (q *quarter) hourly(ctx context.Context) error {
	if q.fill != nil || !q.acted || q.now.Sub(q.checked) < betweenLooks {
		return nil
	}
	q.acted, q.checked = false, q.now
	return q.again(ctx, func(l floor.Outlook, _ ledger.Outlook) {
		switch {
		case !l.Danger || q.board[l.Commission] == l.Promise:
			delete(q.law.unsaid, l.Commission)
		case q.law.unsaid[l.Commission] != l.Promise:
			q.law.unsaid[l.Commission] = l.Promise
			q.quiet++
		}
	})
}

// again looks at the shop as its plan so far stands, read from the ledger by other eyes than the shop's, and hands on what it finds
// of every promise given.
func (q *quarter) again(ctx context.Context, found func(floor.Outlook, ledger.Outlook)) error {
	var open []floor.Open
	var st quote.Studio
	shown := map[quote.CommissionID]ledger.Outlook{}
	state := map[quote.CommissionID]ledger.State{}
	err := q.led.Tx(ctx, func(t *ledger.Tx) error {
		accepted, lapsed, err := t.QuotesSoFar()
		if err != nil {
			return err
		}
		st = q.studio.Counting(accepted, lapsed)
		if st.Away, err = t.Away(q.now); err != nil {
			return err
		}
		cs, err := t.Commissions(ledger.Working, ledger.Approved, ledger.Quoted)
		if err != nil {
			return err
		}
		for _, c := range cs {
			x, ok, err := q.stands(t, c)
			if err != nil {
				return err
			}
			if ok {
				open = append(open, x)
			}
			state[c.ID] = c.State
			if shown[c.ID], err = t.Outlook(c.ID); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil || len(open) == 0 {
		return err
	}
	p, err := floor.Look(ctx, open, st, q.now)
	if err != nil {
		return err
	}
	for _, l := range p.Outlooks {
		if s := state[l.Commission]; (s == ledger.Working || s == ledger.Approved) && l.Promise != "" {
			found(l, shown[l.Commission])
		}
	}
	return nil
}

// stands is a commission as the shop's plan has it, read from the ledger by other eyes than the shop's; ok is false where it has no
// work left in the plan.
func (q *quarter) stands(t *ledger.Tx, c ledger.Commission) (x floor.Open, ok bool, err error) {
	ops, err := t.Operations(c.ID)
	if err != nil || !slices.ContainsFunc(ops, func(o ledger.Operation) bool { return o.State != ledger.Done }) {
		return x, false, err
	}
	rev, known := q.lookups[revKey{c.ID, c.Revision}]
	if !known || rev.Quote.Work.Version == 0 {
		if rev, err = t.Revision(c.ID, c.Revision); err != nil {
			return x, false, err
		}
		rev.Snapshot.Patterns = nil
		q.lookups[revKey{c.ID, c.Revision}] = rev
	}
	x = floor.Open{Snapshot: rev.Snapshot, Quote: rev.Quote, Promise: c.Promise, Undecided: c.State == ledger.Quoted}
	switch c.State {
	case ledger.Quoted:
		p, err := t.StandingPromise(c.ID)
		if err != nil && !errors.Is(err, ledger.ErrNone) {
			return x, false, err
		}
		x.Until = p.HeldUntil
	case ledger.Approved:
		a, err := t.Approval(c.ID)
		if err != nil {
			return x, false, err
		}
		x.Until = quote.EndOf(a.At.In(q.zone), q.studio.DepositDays)
		if held := rev.Quote.Held; a.At.Before(held) && held.Before(x.Until) {
			x.Until = held // its date counts on that
		}
	}
	met, err := t.Standing(c.ID)
	if err != nil {
		return x, false, err
	}
	for _, a := range met {
		op := fittings[a.Which]
		if op == "" {
			continue
		}
		m := floor.Meeting{Op: op, How: a.How, At: a.At}
		if a.At.IsZero() && a.How == quote.InPerson {
			m.NotBefore = q.now.Add(time.Duration(q.studio.Appointments.Ahead()) * time.Minute)
		}
		x.Meetings = append(x.Meetings, m)
	}
	for _, o := range ops {
		x.Actual = append(x.Actual, floor.Actual{Op: o.Op, Title: o.Title, Start: o.Start, End: o.End, Spans: o.Spans, Resources: o.Resources,
			Started: o.StartedAt, Finished: o.DoneAt})
	}
	return x, true, nil
}
