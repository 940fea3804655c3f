package shop

import (
	"context"
	"errors"
	"slices"
	"time"

	"benchbell/bot/ledger"
	"benchbell/quote"
	"benchbell/quote/floor"
	"benchbell/quote/plan"
	"benchbell/quote/price"
)

// abradeKind is the kind of the operations that key a surface whose recoat window was missed.
const abradeKind = "abrade"

// Remedy is what makes good a missed recoat window: the surface is abraded, and then takes the coat.
type Remedy struct {
	Coat  ledger.Operation // before which it is done
	Takes time.Duration
	Cost  price.Money
}

// atBenchAs is a quote with the work that was added to it at the bench. Nothing of what it returns may be changed.
func (j *job) atBenchAs(id quote.CommissionID, n int) (ledger.Revision, error) {
	rev, err := j.issued(id, n)
	if err != nil {
		return rev, err
	}
	ops, err := j.t.Operations(id)
	if err != nil || !slices.ContainsFunc(ops, func(o ledger.Operation) bool { return o.Added != nil }) {
		return rev, err
	}
	rev.Quote.Work = withAdded(rev.Quote.Work, ops)
	return rev, nil
}

// withAdded is a breakdown with what was added at the bench, each before what waits for it there.
func withAdded(b quote.Breakdown, ops []ledger.Operation) quote.Breakdown {
	b.Operations = slices.Clone(b.Operations)
	for _, a := range ops {
		if a.Added == nil {
			continue
		}
		for i := range b.Operations {
			o := &b.Operations[i]
			if slices.ContainsFunc(ops, func(x ledger.Operation) bool { return x.Op == o.ID && slices.Contains(x.After, a.Op) }) {
				o.After = append(slices.Clone(o.After), plan.Lag{After: a.Op})
			}
		}
		b.Operations = append(b.Operations, *a.Added)
	}
	return b
}

// abrading is the operation that keys the surface of a coat.
func (b bench) abrading(coat ledger.Operation) (ledger.Operation, bool) {
	i := slices.IndexFunc(b.ops, func(o ledger.Operation) bool {
		return o.Kind == abradeKind && o.Round >= 1 && slices.Contains(o.After, coat.Op)
	})
	if i < 0 {
		return ledger.Operation{}, false
	}
	return b.ops[i], true
}

// remedy is how a coat that came too late is made good; nil where its work is not known. Keying a surface takes about as long as a coat
// on it and uses a pad, which is not counted (common practice, no source).
func (b bench) remedy(coat ledger.Operation) *Remedy {
	w, ok := b.work[coat.Op]
	if !ok {
		return nil
	}
	minutes := w.Time.Expected()
	return &Remedy{Coat: coat, Takes: time.Duration(minutes * float64(time.Minute)), Cost: price.Money(float64(b.hourly)*minutes/60 + 0.5)}
}

// Abrade plans that the surface before a coat is keyed, whose recoat window was missed. Where that hurts promises, it is refused
// as Hurts until it is done with the mark of what was shown.
type Abrade struct {
	OfOperation        // the coat
	Seen        string // Refusal.Seen of the effects that were looked at
}

// AbradePlanned is a surface that is keyed before its coat.
type AbradePlanned struct {
	Commission ledger.Commission
	Operation  ledger.Operation // that keys it
	Coat       ledger.Operation
	Moved      int // operations that were moved
	Effects    []Effect
}

// toAbrade is the operation that keys the surface before a coat, and the commission's operations with it.
func (j *job) toAbrade(c ledger.Commission, seq int) (added ledger.Operation, ops []ledger.Operation, err error) {
	b, err := j.bench(c)
	if err != nil {
		return added, nil, err
	}
	coat, ok := b.numbered(seq)
	switch {
	case !ok:
		return added, nil, &Refusal{Kind: NoOperation, Commission: c, Count: seq}
	case coat.State != ledger.Planned:
		return added, nil, &Refusal{Kind: OpRunning, Commission: c, Operation: coat}
	}
	var under *ledger.Operation // the coat below it
	for _, id := range coat.After {
		e, ok := b.op(id)
		if x, rung := b.bell(e.Seq); ok && rung && !x.Latest.IsZero() && j.now.After(x.Latest) {
			under = &e
			break
		}
	}
	if under == nil {
		return added, nil, &Refusal{Kind: NotMissed, Commission: c, Operation: coat}
	}
	if a, ok := b.abrading(*under); ok {
		return added, nil, &Refusal{Kind: AbradedAlready, Commission: c, Operation: a}
	}
	work, err := j.work(c)
	if err != nil {
		return added, nil, err
	}
	w, ok := work[coat.Op]
	if !ok {
		return added, nil, &Refusal{Kind: NotMissed, Commission: c, Operation: coat}
	}
	w.Operation = plan.Operation{ID: abradeKind + "-" + coat.Op, Title: "Abrading before “" + coat.Title + "”", Group: w.Group,
		Kind: abradeKind, Duration: w.Duration, Low: w.Low, High: w.High, After: []plan.Lag{{After: under.Op}}}
	for _, n := range work[coat.Op].Needs {
		if n.Kind == "maker" {
			w.Needs = append(w.Needs, n)
		}
	}
	w.Materials = nil
	added = ledger.Operation{Commission: c.ID, Op: w.ID, Title: w.Title, Group: w.Group, Kind: w.Kind,
		After: []string{under.Op}, State: ledger.Planned, Round: 1, Share: 1,
		Start: j.now, End: j.now.Add(time.Duration(w.Duration) * time.Minute), Added: &w}
	for _, r := range coat.Resources {
		if slices.ContainsFunc(j.s.cfg.Studio().Resources, func(x plan.Resource) bool { return x.ID == r && x.Kind == "maker" }) {
			added.Resources = append(added.Resources, r)
		}
	}
	for _, o := range b.ops {
		added.Seq = max(added.Seq, o.Seq+1)
		if o.Seq == coat.Seq {
			o.After = append(slices.Clone(o.After), added.Op)
		}
		ops = append(ops, o)
	}
	return added, append(ops, added), nil
}

// canAbrade looks at what becomes of the promises with a surface to be keyed first.
func canAbrade(ctx context.Context, s *Shop, _ Call, a Abrade, read reading) (m change, err error) {
	var is present
	var then floor.Open
	var op ledger.Operation
	err = read(func(j *job, c ledger.Commission) error {
		added, ops, err := j.toAbrade(c, a.Operation)
		if err != nil {
			return err
		}
		op = added
		if is, err = j.present(); err != nil {
			return err
		}
		then, err = j.openWith(c, ops)
		return err
	})
	if err != nil {
		return m, err
	}
	return s.changeOf(ctx, is, then, op, a.Seen)
}

func abrade(j *job, c ledger.Commission, a Abrade, m change) (o AbradePlanned, err error) {
	if m.hurts != nil && a.Seen != m.hurts.Seen {
		m.hurts.Commission = c
		return o, m.hurts
	}
	added, ops, err := j.toAbrade(c, a.Operation)
	if err != nil {
		return o, err
	}
	o = AbradePlanned{Commission: c, Operation: added, Effects: m.effects}
	for _, x := range ops {
		if x.Seq == a.Operation {
			o.Coat = x
		}
	}
	if err := errors.Join(j.t.AddOperation(added), j.t.WaitFor(o.Coat), j.record(c, "abrading planned", o.Coat.Op)); err != nil {
		return o, err
	}
	if o.Moved, err = j.placeAll(m.plan); err != nil {
		return o, err
	}
	return o, j.planChanged()
}
