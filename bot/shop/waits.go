package shop

import (
	"slices"
	"time"

	"benchbell/bot/ledger"
	"benchbell/quote"
	"benchbell/quote/price"
)

// bench is a commission at work.
type bench struct {
	c     ledger.Commission
	ops   []ledger.Operation
	bells []ledger.Bell

	pieces map[string][]string        // of each operation, where something is done again that others were begun after; else nil
	work   map[string]quote.Operation // where it was read
	hourly price.Money                // what an hour of work costs
}

func (j *job) bench(c ledger.Commission) (bench, error) {
	b := bench{c: c}
	var err error
	if b.ops, err = j.t.Operations(c.ID); err != nil {
		return b, err
	}
	if b.bells, err = j.t.Bells(c.ID); err != nil || !slices.ContainsFunc(b.ops, func(o ledger.Operation) bool { return o.Round > 1 }) {
		return b, err
	}
	work, err := j.work(c)
	b.pieces = map[string][]string{}
	for id, o := range work {
		b.pieces[id] = o.Pieces
	}
	return b, err
}

func (b bench) op(id string) (ledger.Operation, bool) {
	i := slices.IndexFunc(b.ops, func(o ledger.Operation) bool { return o.Op == id })
	if i < 0 {
		return ledger.Operation{}, false
	}
	return b.ops[i], true
}

func (b bench) numbered(seq int) (ledger.Operation, bool) {
	i := slices.IndexFunc(b.ops, func(o ledger.Operation) bool { return o.Seq == seq })
	if i < 0 {
		return ledger.Operation{}, false
	}
	return b.ops[i], true
}

func (b bench) bell(seq int) (ledger.Bell, bool) {
	i := slices.IndexFunc(b.bells, func(x ledger.Bell) bool { return x.Seq == seq })
	if i < 0 {
		return ledger.Bell{}, false
	}
	return b.bells[i], true
}

// Wait is what an operation waits for: that another is done, or that it has cured.
type Wait struct {
	For   ledger.Operation
	Until time.Time     // end of the cure; zero: it is not done yet
	Left  time.Duration // of the cure
}

// wait is what an operation still waits for first; nil where it can be started.
func (b bench) wait(o ledger.Operation, now time.Time) *Wait {
	if all := b.waits(o, now); len(all) > 0 {
		return &all[0]
	}
	return nil
}

// waits is all that an operation still waits for.
func (b bench) waits(o ledger.Operation, now time.Time) (out []Wait) {
	for _, id := range o.After {
		e, ok := b.op(id)
		if !ok {
			continue
		}
		var w *Wait
		if e.State != ledger.Done {
			w = &Wait{For: e}
		} else if w = b.cure(e, now); w == nil {
			w = b.waitBehind(o, e, now)
		}
		if w != nil {
			out = append(out, *w)
		}
	}
	return out
}

// waitBehind is what an operation waits for that lies before one that is done and has gone back since, such as a seam glued again
// after the first fitting; nil: nothing.
func (b bench) waitBehind(o, done ledger.Operation, now time.Time) *Wait {
	if b.pieces == nil {
		return nil
	}
	for _, id := range done.After {
		e, ok := b.op(id)
		if !ok || common(b.pieces[e.Op], b.pieces[o.Op]) == 0 {
			continue
		}
		if e.State != ledger.Done {
			return &Wait{For: e}
		}
		if w := b.cure(e, now); w != nil {
			return w
		}
		if w := b.waitBehind(o, e, now); w != nil {
			return w
		}
	}
	return nil
}

// cure is the wait for an operation that is done to cure; nil where it has.
func (b bench) cure(e ledger.Operation, now time.Time) *Wait {
	if x, ok := b.bell(e.Seq); ok && x.Due.After(now) {
		return &Wait{For: e, Until: x.Due, Left: x.Due.Sub(now)}
	}
	return nil
}
