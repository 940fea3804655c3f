package shop

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"benchbell/bot/ledger"
	"benchbell/quote"
	"benchbell/quote/floor"
)

// Rework sends pieces back at an operation that was done: it is done again, and so is what was begun after it of the same pieces, but
// for fittings. Where that hurts promises, it is refused as Hurts until it is done with the mark of what was shown.
type Rework struct {
	OfOperation
	Pieces []string // labels of the cut list; none: all of the operation
	Why    string
	Seen   string // Refusal.Seen of the effects that were looked at
}

// WentBack are pieces that went back.
type WentBack struct {
	Commission ledger.Commission
	Operation  ledger.Operation
	Why        string
	Again      []ledger.Operation // what is in the plan again, in its order
	Unfinished bool               // the commission was finished, and is not any more
	Moved      int                // operations that were moved
	Effects    []Effect
}

// work is what a commission's operations are done to and with, by their IDs.
func (j *job) work(c ledger.Commission) (map[string]quote.Operation, error) {
	rev, err := j.atBenchAs(c.ID, c.Revision)
	if errors.Is(err, ledger.ErrNone) {
		err = nil
	}
	return workOf(rev), err
}

// workOf is what the operations of a revision are done to and with, by their IDs.
func workOf(rev ledger.Revision) map[string]quote.Operation {
	out := make(map[string]quote.Operation, len(rev.Quote.Work.Operations))
	for _, o := range rev.Quote.Work.Operations {
		out[o.ID] = o
	}
	return out
}

// common is how many of some pieces are among others.
func common(some, others []string) (n int) {
	for _, p := range some {
		if slices.Contains(others, p) {
			n++
		}
	}
	return n
}

// again is a commission's operations once pieces have gone back, and those of them that are in the plan again.
func (j *job) again(c ledger.Commission, a Rework) (ops, back []ledger.Operation, err error) {
	b, err := j.bench(c)
	if err != nil {
		return nil, nil, err
	}
	op, ok := b.numbered(a.Operation)
	why := OneLine(a.Why)
	switch {
	case !ok:
		return nil, nil, &Refusal{Kind: NoOperation, Commission: c, Count: a.Operation}
	case op.State != ledger.Done:
		return nil, nil, &Refusal{Kind: NotDone, Commission: c, Operation: op}
	case appointed(op.Op) != "":
		return nil, nil, &Refusal{Kind: NotAgain, Commission: c, Operation: op}
	case why == "":
		return nil, nil, &Refusal{Kind: NoReason, Commission: c, Operation: op}
	}
	if c.State == ledger.Ready {
		x, err := j.standing(c.ID, ledger.HandingOver)
		if err == nil && x.State == ledger.ApptPicked && x.PickedBy != "" {
			return nil, nil, &Refusal{Kind: RestsOn, Commission: c, Operation: op, Appointment: x}
		}
		if err != nil && !errors.Is(err, ledger.ErrNone) {
			return nil, nil, err
		}
	}
	work, err := j.work(c)
	if err != nil {
		return nil, nil, err
	}
	pieces := a.Pieces
	if len(pieces) == 0 {
		pieces = work[op.Op].Pieces
	}
	for _, p := range pieces {
		if !slices.Contains(work[op.Op].Pieces, p) {
			return nil, nil, &Refusal{Kind: NoPiece, Commission: c, Operation: op, Name: OneLine(p)}
		}
	}
	after := map[string]bool{op.Op: true}
	for grown := true; grown; {
		grown = false
		for _, o := range b.ops {
			if !after[o.Op] && slices.ContainsFunc(o.After, func(id string) bool { return after[id] }) {
				after[o.Op], grown = true, true
			}
		}
	}
	for _, o := range b.ops {
		all := work[o.Op].Pieces
		n := common(pieces, all)
		if !after[o.Op] || n == 0 && o.Op != op.Op || appointed(o.Op) != "" {
			ops = append(ops, o)
			continue
		}
		share := 1.0
		if n > 0 {
			share = float64(n) / float64(len(all))
		}
		switch {
		case o.State != ledger.Planned:
			o = backToPlan(o)
			o.Share, o.Why = share, why+only(pieces, all)
			back = append(back, o)
		case o.Round > 1: // other pieces wait for it already
			o.Share = min(1, o.Share+share)
		}
		ops = append(ops, o)
	}
	return ops, back, nil
}

// mostNamed is how many pieces that go back are named: more are found by what they have in common.
const mostNamed = 6

// only names those of the pieces that an operation has, where they are not all of it: ": 1L-plate, 1R-plate".
func only(pieces, all []string) string {
	var here []string
	for _, p := range pieces {
		if slices.Contains(all, p) {
			here = append(here, p)
		}
	}
	if n := len(here); n == 0 || n == len(all) {
		return ""
	} else if n > mostNamed {
		here = append(here[:mostNamed:mostNamed], fmt.Sprintf("%d more", n-mostNamed))
	}
	return ": " + strings.Join(here, ", ")
}

// backToPlan is an operation that is to be done once more.
func backToPlan(o ledger.Operation) ledger.Operation {
	return ledger.Operation{Commission: o.Commission, Seq: o.Seq, Op: o.Op, Title: o.Title, Group: o.Group, Kind: o.Kind, Start: o.Start, End: o.End,
		Resources: o.Resources, Spans: o.Spans, After: o.After, Cure: o.Cure, CureFor: o.CureFor, Window: o.Window, State: ledger.Planned, Round: o.Round + 1, Added: o.Added}
}

// canRework looks at what becomes of the promises once pieces have gone back.
func canRework(ctx context.Context, s *Shop, _ Call, a Rework, read reading) (m change, err error) {
	var is present
	var then floor.Open
	var op ledger.Operation
	err = read(func(j *job, c ledger.Commission) error {
		ops, back, err := j.again(c, a)
		if err != nil {
			return err
		}
		op = back[slices.IndexFunc(back, func(o ledger.Operation) bool { return o.Seq == a.Operation })]
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

// openWith is a commission in the shop plan with these operations at the bench, and with its quote.
func (j *job) openWith(c ledger.Commission, ops []ledger.Operation) (floor.Open, error) {
	x, err := j.openOf(c, ops)
	if err != nil {
		return x, err
	}
	rev, err := j.issued(c.ID, c.Revision)
	x.Snapshot, x.Quote = rev.Snapshot, rev.Quote
	x.Quote.Work = withAdded(rev.Quote.Work, ops)
	return x, err
}

// changeOf is what becomes of the shop plan with a commission as it would be, because of one of its operations.
func (s *Shop) changeOf(ctx context.Context, is present, then floor.Open, op ledger.Operation, seen string) (m change, err error) {
	before, err := s.look(ctx, is)
	if err != nil {
		return m, err
	}
	is.open = slices.Clone(is.open)
	if i := slices.IndexFunc(is.open, func(o floor.Open) bool { return o.Snapshot.Commission == op.Commission }); i >= 0 {
		is.open[i] = then
	} else { // all of its work was done
		is.open = append(is.open, then)
	}
	if m, err = s.change(ctx, before, is, seen, true); m.hurts != nil {
		m.hurts.Operation = op
	}
	return m, err
}

// worldOfRework is the world of a plan with pieces gone back: of a commission all of whose work is done, the plan has nothing.
func worldOfRework(j *job, c ledger.Commission, a Rework) (string, error) {
	world, err := worldInPlan(j, c, a)
	if err != nil {
		return "", err
	}
	ops, err := j.t.Operations(c.ID)
	return fmt.Sprintln(world, ops), err
}

func rework(j *job, c ledger.Commission, a Rework, m change) (o WentBack, err error) {
	if m.hurts != nil && a.Seen != m.hurts.Seen {
		m.hurts.Commission = c
		return o, m.hurts
	}
	b, err := j.bench(c)
	if err != nil {
		return o, err
	}
	ops, back, err := j.again(c, a)
	if err != nil {
		return o, err
	}
	o = WentBack{Commission: c, Why: OneLine(a.Why), Again: back, Effects: m.effects}
	for _, x := range ops {
		was, _ := b.op(x.Op)
		if x.State != was.State && was.State == ledger.Running {
			err = errors.Join(err, j.endSpell(was))
		}
		if bell, ok := b.bell(x.Seq); ok && x.State != was.State {
			err = errors.Join(err, j.t.DropBell(bell.ID))
		}
		if x.State != was.State || x.Share != was.Share {
			err = errors.Join(err, j.t.MoveOperation(x))
		}
		if x.Seq == a.Operation {
			o.Operation, o.Why = x, x.Why
		}
	}
	if err != nil {
		return o, err
	}
	if c.State == ledger.Ready {
		o.Unfinished = true
		if err := j.unfinish(&o.Commission); err != nil {
			return o, err
		}
	}
	which := "all of it"
	if len(a.Pieces) > 0 {
		which = strings.Join(a.Pieces, ", ")
	}
	err = j.record(o.Commission, "went back", fmt.Sprintf("%s: %s (%s); to be done again: %d", o.Operation.Op, OneLine(a.Why), which, len(back)))
	if err != nil {
		return o, err
	}
	if o.Moved, err = j.placeAll(m.plan); err != nil {
		return o, err
	}
	return o, j.planChanged()
}
