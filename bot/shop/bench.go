package shop

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/quote"
	"benchbell/quote/floor"
	"benchbell/quote/plan"
)

var (
	approvedElse = map[ledger.State]Kind{ledger.Working: PaidAlready, ledger.Ready: PaidAlready, ledger.Delivered: PaidAlready}
	workingElse  = map[ledger.State]Kind{ledger.Approved: NotPaid}
	working      = []ledger.State{ledger.Working}
)

// window of a cure; 0 where it has no end.
func window(c plan.Cure) time.Duration {
	if c.Latest.IsZero() {
		return 0
	}
	return c.Latest.Sub(c.From)
}

// Missed is a recoat window that has closed.
type Missed struct {
	Cure   string
	Closed time.Time
}

// missed is the recoat window that an operation begun now misses; nil: none.
func (b bench) missed(o ledger.Operation, now time.Time) *Missed {
	for _, id := range o.After {
		if e, ok := b.op(id); ok {
			if a, ok := b.abrading(e); ok && a.State == ledger.Done {
				continue
			}
			if x, ok := b.bell(e.Seq); ok && !x.Latest.IsZero() && now.After(x.Latest) {
				return &Missed{e.Cure, x.Latest}
			}
		}
	}
	return nil
}

// OfOperation says which operation of whose commission an act is about.
type OfOperation struct {
	Of
	Operation int // its number
}

// OnOperation is short for OfOperation{On(id), n}.
func OnOperation(id quote.CommissionID, n int) OfOperation { return OfOperation{On(id), n} }

// workable finds an operation that can be worked on now.
func (j *job) workable(c ledger.Commission, seq int) (bench, ledger.Operation, error) {
	b, err := j.bench(c)
	if err != nil {
		return b, ledger.Operation{}, err
	}
	o, ok := b.numbered(seq)
	switch {
	case !ok:
		return b, o, &Refusal{Kind: NoOperation, Commission: c, Count: seq}
	case o.State == ledger.Done:
		return b, o, &Refusal{Kind: OpDone, Commission: c, Operation: o}
	}
	if all := b.waits(o, j.now); len(all) > 0 {
		return b, o, &Refusal{Kind: OpWaits, Commission: c, Operation: o, Wait: &all[0], Waits: all}
	}
	return b, o, nil
}

// Start begins an operation at the bench, or takes one up again that was put down. With Ask, one that is begun ahead of its place in the plan and hurts promises by it is
// refused as Hurts until it is begun with the mark of what was shown.
type Start struct {
	OfOperation
	Ask  bool
	Seen string // Refusal.Seen of the effects that were looked at
}

// Started is an operation that was begun.
type Started struct {
	Operation ledger.Operation
	Missed    *Missed // the recoat window that it came too late for
	Bench     Bench   // as it is now
}

// earlyEnough is how much sooner than planned an operation must be begun for what it does to the promises to be asked: less is the
// day as it comes (common practice, no source).
const earlyEnough = 30 * time.Minute

// canStart looks at what becomes of the promises with an operation begun ahead of its place in the plan.
func canStart(ctx context.Context, s *Shop, _ Call, a Start, read reading) (m change, err error) {
	var is present
	var op ledger.Operation
	err = read(func(j *job, c ledger.Commission) (err error) {
		if _, op, err = j.workable(c, a.Operation); err != nil || !a.Ask || op.State == ledger.Running || op.Start.Sub(j.now) <= earlyEnough {
			return err
		}
		is, err = j.present()
		return err
	})
	if err != nil || len(is.open) == 0 {
		return m, err
	}
	then := is
	then.open = slices.Clone(is.open)
	for i := range then.open {
		o := &then.open[i]
		k := slices.IndexFunc(o.Actual, func(x floor.Actual) bool { return o.Snapshot.Commission == a.Commission && x.Op == op.Op })
		if k >= 0 {
			o.Actual = slices.Clone(o.Actual)
			o.Actual[k].Started = is.now
		}
	}
	before, err := s.look(ctx, is)
	if err == nil {
		m.plan, err = s.look(ctx, then)
	}
	if err != nil {
		if ctx.Err() != nil {
			return m, err
		}
		s.log.Error("what is begun is not looked at", "commission", a.Commission, "operation", op.Op, "err", err) // work goes on
		return change{}, nil
	}
	if m.effects = effects(is, before, m.plan); hurt(m.effects) {
		m.hurts = &Refusal{Kind: Hurts, Operation: op, Effects: m.effects}
		m.hurts.Seen = m.hurts.mark()
	}
	return m, nil
}

func start(j *job, c ledger.Commission, a Start, m change) (Started, error) {
	b, op, err := j.workable(c, a.Operation)
	if err != nil {
		return Started{}, err
	}
	if op.State == ledger.Running && op.PausedAt.IsZero() {
		return Started{}, &Refusal{Kind: OpRunning, Commission: c, Operation: op}
	}
	if m.hurts != nil {
		if a.Seen != m.hurts.Seen {
			m.hurts.Commission = c
			return Started{}, m.hurts
		}
		if err := j.planChanged(); err != nil {
			return Started{}, err
		}
	}
	what := "started"
	if op.State == ledger.Running {
		what = "taken up again"
	}
	if err := errors.Join(j.takeUp(&op), j.record(c, what, op.Op)); err != nil {
		return Started{}, err
	}
	o := Started{Operation: op, Missed: b.missed(op, j.now)}
	o.Bench, err = j.today()
	return o, err
}

// Done ends an operation, which a maker may do without having pressed Start, and starts its cure.
type Done struct{ OfOperation }

// Ended is an operation that is done.
type Ended struct {
	Operation ledger.Operation
	Cures     time.Time // until when; zero: nothing cures
	MayRack   bool      // what its sheets left can be put on the rack
	Bench     Bench     // as it is now
}

func done(j *job, c ledger.Commission, a Done) (Ended, error) {
	_, op, err := j.workable(c, a.Operation)
	if err != nil {
		return Ended{}, err
	}
	op.State, op.DoneAt, op.DoneBy = ledger.Done, j.now, j.by.ID
	if op.StartedAt.IsZero() {
		op.StartedBy = op.DoneBy
	}
	if err := j.endSpell(op); err != nil {
		return Ended{}, err
	}
	op.PausedAt = time.Time{}
	if err := j.t.MoveOperation(op); err != nil {
		return Ended{}, err
	}
	if err := j.record(c, "done", op.Op); err != nil {
		return Ended{}, err
	}
	o := Ended{Operation: op}
	if op.Cure != "" && op.CureFor > 0 {
		id, err := j.bellID(op)
		if err != nil {
			return o, err
		}
		b := ledger.Bell{ID: id, Commission: c.ID, Seq: op.Seq, Due: j.now.Add(op.CureFor)}
		if op.Window > 0 {
			b.Latest = j.now.Add(op.Window)
		}
		if err := j.t.AddBell(b); err != nil {
			return o, err
		}
		o.Cures = b.Due
	}
	if w := appointed(op.Op); w != "" {
		if err := j.keep(c, w); err != nil {
			return o, err
		}
	}
	if err := j.finish(c); err != nil {
		return o, err
	}
	if op.Kind == CutKind { // what was cut on a cutting day is on the rack already
		_, err := j.t.CuttingOf(c.ID)
		if o.MayRack = errors.Is(err, ledger.ErrNone); err != nil && !o.MayRack {
			return o, err
		}
	}
	o.Bench, err = j.today()
	return o, err
}

// bellID names the bell of an operation; the cure of one that was taken back or done again has a bell of its own.
func (j *job) bellID(op ledger.Operation) (string, error) {
	id := fmt.Sprintf("%s/%d", op.Commission, op.Seq)
	n, err := j.t.Next("bells of " + id)
	if n > 1 {
		id = fmt.Sprintf("%s/%d", id, n)
	}
	return id, err
}

// Finishing is a commission whose work is all done and cured.
type Finishing struct {
	Commission ledger.Commission
	Parcel     quote.Parcel
	Handing    SlotsOffered // when it can be collected, or is posted
}

// finish moves a commission on once every operation is done and cured.
func (j *job) finish(c ledger.Commission) error {
	b, err := j.bench(c)
	if err != nil {
		return err
	}
	if c.State != ledger.Working || slices.ContainsFunc(b.ops, func(o ledger.Operation) bool { return o.State != ledger.Done }) ||
		slices.ContainsFunc(b.bells, func(x ledger.Bell) bool { return x.RungAt.IsZero() }) {
		return nil
	}
	c.State = ledger.Ready
	how := ledger.Kept
	if c.Promise != "" && j.local(j.now).Format(time.DateOnly) > c.Promise {
		how = ledger.Missed
	}
	if err := j.t.EndPromise(c.ID, how, j.now); err != nil {
		return err
	}
	if err := j.save(&c, "finished", ""); err != nil {
		return err
	}
	o := Finishing{Commission: c}
	rev, err := j.issued(c.ID, c.Revision)
	if err != nil {
		return err
	}
	o.Parcel = rev.Quote.Parcel
	a, err := j.standing(c.ID, ledger.HandingOver)
	if errors.Is(err, ledger.ErrNone) {
		a, err = j.want(c, ledger.HandingOver, cmp.Or(j.s.cfg.Studio().Appointments.HandingOver, quote.Collect))
	}
	if err != nil {
		return err
	}
	if o.Handing, err = j.handOn(c, a); err != nil {
		return err
	}
	return j.tell(o)
}

// HandOver gives a finished commission to its client.
type HandOver struct{ Of }

// HandedOver is a commission that its client has.
type HandedOver struct{ Commission ledger.Commission }

func handOver(j *job, c ledger.Commission, _ HandOver) (HandedOver, error) {
	if err := j.keep(c, ledger.HandingOver); err != nil {
		return HandedOver{}, err
	}
	c.State = ledger.Delivered
	err := j.save(&c, "handed over", "")
	return HandedOver{c}, err
}

// Today looks at what there is to do at the bench.
type Today struct{}

// Rank says how near an operation at the bench is.
type Rank int

// Ranks.
const (
	InHand     Rank = iota
	DueToday        // can be started, and is planned for today or before
	CouldBegin      // can be started, and is planned for the next working days
)

// BenchLine is an operation that is in hand or can be started.
type BenchLine struct {
	Operation ledger.Operation
	Rank      Rank

	Meeting *ledger.Appointment // with the client, where it is one; nil: none
}

// Waiting is an operation planned for today that cannot be started.
type Waiting struct {
	Operation ledger.Operation
	Wait      Wait
}

// Bench is what there is to do: what is in hand, what can be started, what of today waits, what cures.
type Bench struct {
	At      time.Time
	Away    []quote.Away // who is not there today
	Lines   []BenchLine  // by rank, then as planned
	Waiting []Waiting
	Curing  []Wait
}

func today(j *job, _ Today) (Bench, error) { return j.today() }

func (j *job) today() (Bench, error) {
	o := Bench{At: j.now}
	cs, err := j.t.Commissions(ledger.Working)
	if err != nil {
		return o, err
	}
	l := j.local(j.now)
	tomorrow := time.Date(l.Year(), l.Month(), l.Day()+1, 0, 0, 0, 0, l.Location())
	away, err := j.t.Away(j.now)
	if err != nil {
		return o, err
	}
	o.Away = slices.DeleteFunc(away, func(a quote.Away) bool { return !a.From.Before(tomorrow) })
	for _, c := range cs {
		b, err := j.bench(c)
		if err != nil {
			return o, err
		}
		standing, err := j.t.Standing(c.ID)
		if err != nil {
			return o, err
		}
		for _, op := range b.ops {
			var met *ledger.Appointment
			if i := slices.IndexFunc(standing, func(a ledger.Appointment) bool { return fittingOps[a.Which] == op.Op }); i >= 0 {
				met = &standing[i]
			}
			if op.State == ledger.Done {
				if w := b.cure(op, j.now); w != nil {
					o.Curing = append(o.Curing, *w)
				}
				continue
			}
			wait := b.wait(op, j.now)
			switch {
			case op.State == ledger.Running:
				o.Lines = append(o.Lines, BenchLine{op, InHand, met})
			case wait == nil && op.Start.Before(tomorrow):
				o.Lines = append(o.Lines, BenchLine{op, DueToday, met})
			case wait == nil && met != nil: // nobody is there yet to try it on
			case wait == nil:
				o.Lines = append(o.Lines, BenchLine{op, CouldBegin, nil})
			case op.Start.Before(tomorrow):
				o.Waiting = append(o.Waiting, Waiting{op, *wait})
			}
		}
	}
	slices.SortStableFunc(o.Lines, func(a, b BenchLine) int {
		if a.Rank != b.Rank {
			return int(a.Rank - b.Rank)
		}
		if x, y := a.Meeting != nil && a.Meeting.State == ledger.ApptPicked, b.Meeting != nil && b.Meeting.State == ledger.ApptPicked; x != y {
			if x { // somebody comes
				return -1
			}
			return 1
		}
		return a.Operation.Start.Compare(b.Operation.Start)
	})
	// What is planned for later is far from today's work: it would only bury it. Where there is nothing nearer, the first of it
	// is what to begin with.
	ahead := tomorrow
	for range aheadDays {
		d := j.s.cfg.Studio().Calendar.Handover(ahead)
		ahead = time.Date(d.Year(), d.Month(), d.Day()+1, 0, 0, 0, 0, d.Location())
	}
	far := slices.IndexFunc(o.Lines, func(l BenchLine) bool { return l.Rank == CouldBegin && !l.Operation.Start.Before(ahead) })
	if far == 0 {
		first := j.local(o.Lines[0].Operation.Start).Format(time.DateOnly)
		far = slices.IndexFunc(o.Lines, func(l BenchLine) bool { return j.local(l.Operation.Start).Format(time.DateOnly) != first })
	}
	if far > 0 {
		o.Lines = o.Lines[:far]
	}
	return o, nil
}

// aheadDays is how many working days after today the bench looks ahead.
const aheadDays = 2

// AtBench is how far the work on one commission is.
type AtBench struct {
	Done, Of int
	Next     *ledger.Operation // nil: all are done
	Cure     *Wait             // what must cure before Next, or the last cure
}

func (j *job) atBench(c ledger.Commission) (AtBench, error) {
	b, err := j.bench(c)
	o := AtBench{Of: len(b.ops)}
	if err != nil {
		return o, err
	}
	for i, op := range b.ops {
		switch {
		case op.State == ledger.Done:
			o.Done++
		case o.Next == nil || op.State == ledger.Running && o.Next.State != ledger.Running:
			o.Next = &b.ops[i]
		}
	}
	if o.Next == nil {
		for _, x := range b.bells {
			if x.RungAt.IsZero() {
				e, _ := b.numbered(x.Seq)
				o.Cure = &Wait{For: e, Until: x.Due, Left: x.Due.Sub(j.now)}
				break
			}
		}
		return o, nil
	}
	for _, id := range o.Next.After {
		if e, ok := b.op(id); ok && o.Cure == nil {
			o.Cure = b.cure(e, j.now)
		}
	}
	return o, nil
}

// Rung is a cure that has ended.
type Rung struct {
	Commission ledger.Commission
	Bell       ledger.Bell
	Operation  ledger.Operation  // that has cured
	Next       *ledger.Operation // the first that waits for it; nil: none
	Wait       *Wait             // what Next waits for besides
}

// ring tells that a cure has ended. A bell rings once: its row and what is told are one transaction.
func (s *Shop) ring(ctx context.Context, now time.Time) error {
	return s.inTx(ctx, now, chat.Person{}, func(j *job) error {
		due, err := j.t.DueBells(now)
		if err != nil {
			return err
		}
		for _, b := range due {
			if err := j.ringOne(b); err != nil {
				return err
			}
		}
		return nil
	})
}

func (j *job) ringOne(x ledger.Bell) error {
	c, err := j.t.Commission(x.Commission)
	if err != nil {
		return err
	}
	if err := j.t.Rung(x.ID, j.now); err != nil {
		return err
	}
	if c.State != ledger.Working {
		return nil
	}
	b, op, err := j.belled(c, x)
	if err != nil {
		return err
	}
	if err := j.t.Record(ledger.Event{At: j.now, Commission: c.ID, What: "bell rung", Detail: op.Op}); err != nil {
		return err
	}
	o := Rung{Commission: c, Bell: x, Operation: op}
	i := slices.IndexFunc(b.ops, func(n ledger.Operation) bool { return n.State != ledger.Done && slices.Contains(n.After, op.Op) })
	if i >= 0 {
		o.Next, o.Wait = &b.ops[i], b.wait(b.ops[i], j.now)
	}
	if err := j.tell(o); err != nil {
		return err
	}
	return j.finish(c)
}

// belled finds the operation that a bell rings for.
func (j *job) belled(c ledger.Commission, x ledger.Bell) (bench, ledger.Operation, error) {
	b, err := j.bench(c)
	if err != nil {
		return b, ledger.Operation{}, err
	}
	op, ok := b.numbered(x.Seq)
	if !ok {
		err = fmt.Errorf("bell %s belongs to no operation", x.ID)
	}
	return b, op, err
}

// closingWarning is how long before a recoat window closes the bench is told: long enough to stir, mask and begin, short
// enough not to be forgotten again (common practice, no source).
const closingWarning = 30 * time.Minute

// Closing is a recoat window that closes soon and whose coat has not been begun.
type Closing struct {
	Commission ledger.Commission
	Bell       ledger.Bell
	Operation  ledger.Operation // that cured
	Next       ledger.Operation // the coat
	CanStart   bool
}

// warnClosing tells of recoat windows that close soon. The bell's row says that it was dealt with, in the transaction of what
// is told, so that it is told once, also across a restart.
func (s *Shop) warnClosing(ctx context.Context, now time.Time) error {
	return s.inTx(ctx, now, chat.Person{}, func(j *job) error {
		bells, err := j.t.ClosingBells(now.Add(closingWarning))
		if err != nil {
			return err
		}
		for _, x := range bells {
			if err := j.warnOne(x); err != nil {
				return err
			}
		}
		return nil
	})
}

func (j *job) warnOne(x ledger.Bell) error {
	if err := j.t.Warned(x.ID, j.now); err != nil {
		return err
	}
	c, err := j.t.Commission(x.Commission)
	if err != nil {
		return err
	}
	// A window that closed while nobody looked is told of when its coat is begun.
	if c.State != ledger.Working || !x.Latest.After(j.now) {
		return nil
	}
	b, op, err := j.belled(c, x)
	if err != nil {
		return err
	}
	// The first that waits for it is the next coat.
	n := slices.IndexFunc(b.ops, func(o ledger.Operation) bool { return slices.Contains(o.After, op.Op) })
	if n < 0 || b.ops[n].State != ledger.Planned {
		return nil
	}
	if err := j.t.Record(ledger.Event{At: j.now, Commission: c.ID, What: "window closes", Detail: b.ops[n].Op}); err != nil {
		return err
	}
	return j.tell(Closing{c, x, op, b.ops[n], b.wait(b.ops[n], j.now) == nil})
}
