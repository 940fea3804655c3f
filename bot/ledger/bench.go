package ledger

import (
	"fmt"
	"strings"
	"time"

	"benchbell/bot/chat"
	"benchbell/quote"
	"benchbell/quote/plan"
)

// OpState of an operation at the bench.
type OpState string

// Operation states.
const (
	Planned OpState = "planned"
	Running OpState = "running"
	Done    OpState = "done"
)

// Operation is one batch of work of the live plan.
type Operation struct {
	Commission quote.CommissionID
	Seq        int
	Op         string
	Title      string
	Group      string
	Kind       string
	Start, End time.Time // planned
	Resources  []string
	Spans      []plan.Span
	After      []string      // operations that must be done and cured before
	Cure       string        // material that cures afterwards; empty for none
	CureFor    time.Duration // from done to ready
	Window     time.Duration // from done to the end of the recoat window; 0: no end
	State      OpState
	StartedAt  time.Time
	StartedBy  chat.PersonID
	DoneAt     time.Time
	DoneBy     chat.PersonID

	PausedAt time.Time     // put down since; zero: it is not
	Rested   time.Duration // opening hours at pause before that, while it is in hand
	Round    int           // how often it is done, counting this time: 1, or more where it went back
	Share    float64       // of its pieces that are done this time; 1 but for what went back
	Why      string        // it is done again

	Added  *quote.Operation // the work of one that is not in the quote; nil: it is
	Slower time.Duration    // that what it put on dries longer than planned
}

// Words are what an operation is called: its title, with its piece where the title does not say it.
func (o Operation) Words() string {
	if o.Group == "" || strings.Contains(strings.ToLower(o.Title), strings.ToLower(o.Group)) {
		return o.Title
	}
	return o.Title + " · " + o.Group
}

const opColumns = `commission, seq, op, title, grp, kind, start_at, end_at, resources, spans, after, cure, cure_ms, window_ms,
	state, started_at, started_by, done_at, done_by, paused_at, rested_ms, round, share, why,
	added, slower_ms`

func scanOp(s scanner) (o Operation, err error) {
	var cure, window, rested, slower int64
	err = s.Scan(&o.Commission, &o.Seq, &o.Op, &o.Title, &o.Group, &o.Kind, moment{&o.Start}, moment{&o.End}, encoded{&o.Resources},
		encoded{&o.Spans}, encoded{&o.After}, &o.Cure, &cure, &window, &o.State, moment{&o.StartedAt}, &o.StartedBy, moment{&o.DoneAt}, &o.DoneBy,
		moment{&o.PausedAt}, &rested, &o.Round, &o.Share, &o.Why,
		encoded{&o.Added}, &slower)
	o.Slower = time.Duration(slower) * time.Millisecond
	o.Rested = time.Duration(rested) * time.Millisecond
	o.CureFor, o.Window = time.Duration(cure)*time.Millisecond, time.Duration(window)*time.Millisecond
	return o, err
}

// AddOperation stores one operation of a commission that enters the shop plan.
func (t *Tx) AddOperation(o Operation) error {
	res, err := encode(o.Resources)
	if err != nil {
		return err
	}
	spans, err := encode(o.Spans)
	if err != nil {
		return err
	}
	after, err := encode(o.After)
	if err != nil {
		return err
	}
	added := ""
	if o.Added != nil {
		if added, err = encode(o.Added); err != nil {
			return err
		}
	}
	return t.execOps(o.Commission, `insert into operations (`+opColumns+`) values (?,?,?,?,?,?,?,?,?,?,?,?,?,?,'planned','','','','','',0,1,1,'',?,0)`,
		string(o.Commission), o.Seq, o.Op, o.Title, o.Group, o.Kind, stamp(o.Start), stamp(o.End), res, spans, after,
		o.Cure, o.CureFor.Milliseconds(), o.Window.Milliseconds(), added)
}

// WaitFor stores what an operation waits for.
func (t *Tx) WaitFor(o Operation) error {
	after, err := encode(o.After)
	if err != nil {
		return err
	}
	return t.execOps(o.Commission, `update operations set after = ? where commission = ? and seq = ?`, after, string(o.Commission), o.Seq)
}

// GiveUpPlace forgets the operations of a commission of which none has begun.
func (t *Tx) GiveUpPlace(id quote.CommissionID) error {
	return t.execOps(id, `delete from operations where commission = ? and not exists (select 1 from operations where commission = ? and state <> 'planned')`,
		string(id), string(id))
}

// MoveOperation stores the state and actual times of an operation, and why it is done again. The effect of one that is not done, or
// not any more, is looked at once it is.
func (t *Tx) MoveOperation(o Operation) error {
	return t.execOps(o.Commission, `update operations set state=?, started_at=?, started_by=?, done_at=?, done_by=?, paused_at=?, rested_ms=?,
		round=?, share=?, why=?, slower_ms=?, looked = case when ? = 'done' then looked else 0 end where commission=? and seq=?`,
		string(o.State), stamp(o.StartedAt), string(o.StartedBy), stamp(o.DoneAt), string(o.DoneBy), stamp(o.PausedAt), o.Rested.Milliseconds(),
		o.Round, o.Share, o.Why, o.Slower.Milliseconds(), string(o.State), string(o.Commission), o.Seq)
}

// Bell rings when a cure ends.
type Bell struct {
	ID         string
	Commission quote.CommissionID
	Seq        int
	Due        time.Time
	Latest     time.Time // end of the recoat window; zero: no end
	RungAt     time.Time // zero: not yet
}

const bellColumns = `id, commission, seq, due_at, latest_at, rung_at`

func scanBell(s scanner) (b Bell, err error) {
	return b, s.Scan(&b.ID, &b.Commission, &b.Seq, moment{&b.Due}, moment{&b.Latest}, moment{&b.RungAt})
}

// AddBell sets a bell; the same ID again changes nothing.
func (t *Tx) AddBell(b Bell) error {
	return t.exec(`insert into bells (id, commission, seq, due_at, latest_at) values (?, ?, ?, ?, ?) on conflict (id) do nothing`,
		b.ID, string(b.Commission), b.Seq, stamp(b.Due), stamp(b.Latest))
}

// DropBell takes a bell away whose cure is not any more.
func (t *Tx) DropBell(id string) error { return t.exec(`delete from bells where id = ?`, id) }

// MoveBell has a bell ring at another time; one that has rung stays.
func (t *Tx) MoveBell(id string, due time.Time) error {
	return t.exec(`update bells set due_at = ? where id = ? and rung_at = ''`, stamp(due), id)
}

// OpenBells are those that have not rung.
func (t *Tx) OpenBells() ([]Bell, error) {
	return all(t, scanBell, `select `+bellColumns+` from bells where rung_at = '' order by due_at, id`)
}

const bellsOfSQL = `select ` + bellColumns + ` from bells where commission = ? order by seq`

// Bells of a commission.
func (t *Tx) Bells(id quote.CommissionID) ([]Bell, error) {
	return all(t, scanBell, bellsOfSQL, string(id))
}

// DueBells are those not rung whose time has come.
func (t *Tx) DueBells(now time.Time) ([]Bell, error) {
	return all(t, scanBell, `select `+bellColumns+` from bells where rung_at = '' and due_at <= ? order by due_at, id`, stamp(now))
}

// Rung marks a bell as rung.
func (t *Tx) Rung(id string, at time.Time) error {
	return t.exec(`update bells set rung_at = ? where id = ? and rung_at = ''`, stamp(at), id)
}

// NextDue is the earliest time at which something falls due by itself: a bell, a deadline, an expiry, a notice, a
// delayed sending, times to be offered for a fitting; zero where nothing does.
func (t *Tx) NextDue() (time.Time, error) {
	return one(t, func(s scanner) (at time.Time, err error) { return at, s.Scan(moment{&at}) }, `select coalesce(min(d), '') from (
		select min(due_at) as d from bells where rung_at = ''
		union all select min(deadline) from requests where state = 'open'
		union all select min(expires_at) from revisions where state = 'quoted' and expires_at <> ''
		union all select min(held_until) from promises where state = 'offered' and held_until <> ''
		union all select min(max(due_at, hold_until)) from outbox where sent < version and (due_at <> '' or hold_until <> '')
		union all select min(due_at) from notices where said_at = ''
		union all select min(max(strftime('%Y-%m-%dT%H:%M:%fZ', o.start_at, ?), case a.state when 'wanted' then '' else strftime('%Y-%m-%dT%H:%M:%fZ', a.told_at, ?) end))
			from appointments a join operations o on o.commission = a.commission
			and o.state = 'planned' and (a.which = 'first fitting' and o.op = ? or a.which = 'final fitting' and o.op = ?
				and not exists (select 1 from appointments f where f.commission = a.commission and f.which = 'first fitting' and f.ended_at = ''))
			join commissions c on c.id = a.commission and c.state = 'working'
			where a.state = 'wanted' or a.state = 'offered' and a.ended_at = '' and json_array_length(a.slots) = 0)`,
		fmt.Sprintf("-%d seconds", int(AskAhead.Seconds())), fmt.Sprintf("+%d seconds", int(LookAgain.Seconds())), quote.FirstFitting, quote.FinalFitting)
}

// Taken is the shop's time given away: what is not done yet of every commission at work, and the places held for quotes that
// are approved or open.
func (t *Tx) Taken(except quote.CommissionID) ([]plan.Busy, error) {
	ops, err := all(t, scanOp, `select `+opColumns+` from operations where state <> 'done' and commission <> ?
		and commission in (select id from commissions where state in ('working', 'approved', 'quoted')) order by commission, seq`, string(except))
	if err != nil {
		return nil, err
	}
	cs, err := t.Commissions(Quoted)
	if err != nil {
		return nil, err
	}
	open := map[quote.CommissionID]bool{}
	for _, c := range cs {
		open[c.ID] = true
	}
	var out []plan.Busy
	for _, o := range ops {
		spans := o.Spans
		if len(spans) == 0 {
			spans = []plan.Span{{From: o.Start, To: o.End}}
		}
		for _, r := range o.Resources {
			for _, s := range spans {
				out = append(out, plan.Busy{Resource: r, From: s.From, To: s.To, Label: string(o.Commission), Open: open[o.Commission]})
			}
		}
	}
	return out, nil
}
