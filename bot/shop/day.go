package shop

import (
	"errors"
	"slices"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/quote"
)

// Person, File, Operation and Revision are what doors call them that know neither conversation nor ledger.
type (
	Person    = chat.Person
	File      = chat.File
	Operation = ledger.Operation
	Revision  = ledger.Revision
)

// States of an operation, for the same doors.
const (
	ToDo   = ledger.Planned
	AtWork = ledger.Running
	IsDone = ledger.Done
)

// Day looks at the bench as Today does, and at what is done already and all that dries.
type Day struct{}

// BenchDay is a day at the bench.
type BenchDay struct {
	Bench
	Done   []Operation // today, in the order it was done
	Drying []Drying    // soonest ready first

	Air    Air
	Back   []Operation                            // in hand, or done today, and can be taken back
	Rests  []Operation                            // cut today, and what it left is not on the rack
	Logs   map[quote.CommissionID][]Log           // of those at work, and of those finished today
	Quotes map[quote.CommissionID]ledger.Revision // by which they are made; not to be changed
}

// Drying is what was put on and what it waits for: until it has cured, and from then on until the step after it is begun.
type Drying struct {
	Operation Operation // that was done
	Ready     time.Time
	Closes    time.Time  // the recoat window; zero: it has none
	Next      *Operation // the first that waits for it and is not begun; nil: none
	Wait      *Wait      // what Next waits for besides; nil: nothing
	Closing   bool       // the window closes soon
	Missed    bool       // the window has closed

	Remedy *Remedy       // for a window that was missed; nil: none is needed, or it is planned
	Slower time.Duration // that it dries longer than planned in this air
}

func dayAtBench(j *job, _ Day) (BenchDay, error) {
	o := BenchDay{Logs: map[quote.CommissionID][]Log{}, Quotes: map[quote.CommissionID]ledger.Revision{}}
	var err error
	if o.Bench, err = j.today(); err != nil {
		return o, err
	}
	if o.Air, err = j.airNow(); err != nil {
		return o, err
	}
	cs, err := j.t.Commissions(ledger.Working, ledger.Ready)
	if err != nil {
		return o, err
	}
	for _, c := range cs {
		b, err := j.bench(c)
		if err != nil {
			return o, err
		}
		seen := false
		for _, op := range b.ops {
			done := op.State == ledger.Done && sameDay(op.DoneAt, j.now, j.s.zone())
			if done {
				o.Done = append(o.Done, op)
				left, err := j.leftOver(c, op)
				if err != nil {
					return o, err
				}
				if left {
					o.Rests = append(o.Rests, op)
				}
			}
			if done || op.State == ledger.Running {
				seen = true
				no, err := j.restsOn(b, op)
				if err != nil {
					return o, err
				}
				if no == nil {
					o.Back = append(o.Back, op)
				}
			}
		}
		if seen {
			if o.Logs[c.ID], err = j.logs(c.ID); err != nil {
				return o, err
			}
		}
		rev, err := j.atBenchAs(c.ID, c.Revision)
		if err != nil && !errors.Is(err, ledger.ErrNone) {
			return o, err
		}
		o.Quotes[c.ID], b.work = rev, workOf(rev)
		b.hourly = j.s.cfg.Studio().Prices.Rate
		for _, x := range b.bells {
			if d, ok := b.drying(x, j.now); ok {
				o.Drying = append(o.Drying, d)
			}
		}
	}
	slices.SortStableFunc(o.Done, func(a, b Operation) int { return a.DoneAt.Compare(b.DoneAt) })
	slices.SortStableFunc(o.Drying, func(a, b Drying) int { return a.Ready.Compare(b.Ready) })
	return o, nil
}

// leftOver reports whether what an operation cut from can go on the rack and is not there yet.
func (j *job) leftOver(c ledger.Commission, op ledger.Operation) (bool, error) {
	if op.Kind != CutKind {
		return false, nil
	}
	if _, err := j.t.CuttingOf(c.ID); !errors.Is(err, ledger.ErrNone) {
		return false, err
	}
	racked, err := j.t.RackedFrom(string(c.ID))
	return !slices.ContainsFunc(racked, func(x ledger.Offcut) bool { return quote.CutOperation(x.Thickness) == op.Op }), err
}

// Step asks of one operation what it is done to and with, and how long it took so far.
type Step struct{ OfOperation }

// StepSeen is one operation of a commission.
type StepSeen struct {
	At         time.Time
	Commission ledger.Commission
	Operation  Operation
	Work       quote.Operation // as quoted; no pieces where the quote does not say
	Revision   ledger.Revision // not to be changed
	Logs       []Log           // of all times it was done
	Waits      []Wait          // what it waits for
	Back       bool            // it can be taken back
}

func step(j *job, c ledger.Commission, a Step) (StepSeen, error) {
	o := StepSeen{At: j.now, Commission: c}
	b, err := j.bench(c)
	if err != nil {
		return o, err
	}
	var ok bool
	if o.Operation, ok = b.numbered(a.Operation); !ok {
		return o, &Refusal{Kind: NoOperation, Commission: c, Count: a.Operation}
	}
	if o.Revision, err = j.atBenchAs(c.ID, c.Revision); err != nil && !errors.Is(err, ledger.ErrNone) {
		return o, err
	}
	o.Work = workOf(o.Revision)[o.Operation.Op]
	if o.Logs, err = j.logs(c.ID); err != nil {
		return o, err
	}
	o.Logs = slices.DeleteFunc(o.Logs, func(l Log) bool { return l.Seq != o.Operation.Seq })
	if o.Operation.State == ledger.Planned {
		o.Waits = b.waits(o.Operation, j.now)
		return o, nil
	}
	no, err := j.restsOn(b, o.Operation)
	o.Back = no == nil
	return o, err
}

// drying is what a bell rings for; false where it has cured and the next step is begun, or there is none.
func (b bench) drying(x ledger.Bell, now time.Time) (Drying, bool) {
	op, ok := b.numbered(x.Seq)
	if !ok {
		return Drying{}, false
	}
	d := Drying{Operation: op, Ready: x.Due, Closes: x.Latest, Slower: op.Slower}
	if a, ok := b.abrading(op); ok {
		if a.State == ledger.Done { // the surface is keyed, and takes the coat at any time
			x.Latest, d.Closes = time.Time{}, time.Time{}
		} else if a.State == ledger.Planned {
			d.Next, d.Closes = &a, time.Time{}
			return d, true
		}
	}
	i := slices.IndexFunc(b.ops, func(n Operation) bool { return n.State == ledger.Planned && slices.Contains(n.After, op.Op) })
	if i < 0 {
		return d, x.Due.After(now)
	}
	d.Next = &b.ops[i]
	if w := b.wait(b.ops[i], now); w != nil && w.For.Seq != op.Seq {
		d.Wait = w
	}
	if !x.Latest.IsZero() {
		d.Missed = now.After(x.Latest)
		d.Closing = !d.Missed && x.Latest.Sub(now) <= closingWarning
		if d.Missed && x.Due.Before(now) {
			d.Remedy = b.remedy(b.ops[i])
		}
	}
	return d, true
}
