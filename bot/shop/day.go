package shop

import (
	"slices"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
)

// Person and Operation are what doors call them that know neither conversation nor ledger.
type (
	Person    = chat.Person
	File      = chat.File
	Operation = ledger.Operation
)

// Day looks at the bench as Today does, and at what is done already and all that dries.
type Day struct{}

// BenchDay is a day at the bench.
type BenchDay struct {
	Bench
	Done   []Operation // today, in the order it was done
	Drying []Drying    // soonest ready first
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
}

func dayAtBench(j *job, _ Day) (BenchDay, error) {
	var o BenchDay
	var err error
	if o.Bench, err = j.today(); err != nil {
		return o, err
	}
	cs, err := j.t.Commissions(ledger.Working, ledger.Ready)
	if err != nil {
		return o, err
	}
	today := j.local(j.now).Format(time.DateOnly)
	for _, c := range cs {
		b, err := j.bench(c)
		if err != nil {
			return o, err
		}
		for _, op := range b.ops {
			if op.State == ledger.Done && j.local(op.DoneAt).Format(time.DateOnly) == today {
				o.Done = append(o.Done, op)
			}
		}
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

// drying is what a bell rings for; false where it has cured and the next step is begun, or there is none.
func (b bench) drying(x ledger.Bell, now time.Time) (Drying, bool) {
	op, ok := b.numbered(x.Seq)
	if !ok {
		return Drying{}, false
	}
	d := Drying{Operation: op, Ready: x.Due, Closes: x.Latest}
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
	}
	return d, true
}
