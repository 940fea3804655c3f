package shop

import (
	"context"
	"errors"
	"fmt"
	"hash/fnv"
	"slices"
	"strings"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/bot/shop/day"
	"benchbell/quote"
	"benchbell/quote/floor"
	"benchbell/quote/plan"
)

const (
	// planCounter counts how often the shop's plan was made anew: what was decided on an earlier one does nothing any more.
	planCounter = "shop plan"
	// changeCounter counts the acts that may change what is kept of the promises, lookCounter is how far they were looked at.
	changeCounter = "promises changed"
	lookCounter   = "promises looked at"
	// dangerCounter numbers the notices about promises, so that a promise in danger a second time is a new one.
	dangerCounter = "danger notices"
	// lateEnough is how much later than planned an operation must be done for the promises to be looked at: less is made
	// good within the day (common practice, no source).
	lateEnough = 30 * time.Minute
)

// whole is the shop's plan as it would be made now, computed before its act's transaction.
type whole struct {
	floor.Shop
	pictures []quote.Picture
	seen     string  // its mark, where it may be taken over
	accepted float64 // share of open quotes that come true in the simulated runs
}

// shown is a plan that somebody looks at and may take over, as long as nothing happens in the shop. It is forgotten with the
// process and after some others.
type shown struct {
	seen, world string
	plan        whole
}

// mostShown is how many plans are remembered.
const mostShown = 4

// inPlan reads the commissions that have a place in the shop plan: those at work and what has become of their operations,
// and the quotes, approved or open, for which a place is held. Of their quotes it reads nothing.
func (j *job) inPlan() (open []floor.Open, err error) {
	cs, err := j.t.Commissions(ledger.Working, ledger.Approved, ledger.Quoted)
	if err != nil {
		return nil, err
	}
	for _, c := range cs {
		ops, err := j.t.Operations(c.ID)
		if err != nil {
			return nil, err
		}
		if !slices.ContainsFunc(ops, func(o ledger.Operation) bool { return o.State != ledger.Done }) {
			continue // its last cure runs, or no place is held for it; there is nothing to plan
		}
		x, err := j.openOf(c, ops)
		if err != nil {
			return nil, err
		}
		open = append(open, x)
	}
	return open, nil
}

// openOf is a commission in the shop plan with these operations; of its quote it reads nothing.
func (j *job) openOf(c ledger.Commission, ops []ledger.Operation) (x floor.Open, err error) {
	x = floor.Open{Snapshot: quote.Snapshot{Commission: c.ID, Revision: c.Revision}, Promise: c.Promise}
	if c.State != ledger.Working && c.State != ledger.Ready {
		x.Undecided = c.State == ledger.Quoted
		if x.Until, err = j.countedOn(c); err != nil {
			return x, err
		}
	}
	for _, o := range ops {
		x.Actual = append(x.Actual, floor.Actual{Op: o.Op, Title: o.Title, Start: o.Start, End: o.End, Spans: o.Spans, Resources: o.Resources,
			Started: o.StartedAt, Finished: o.DoneAt, Rested: o.Rested, Paused: o.PausedAt, Share: o.Share, Slower: o.Slower})
	}
	x.Meetings, err = j.meetings(c)
	return x, err
}

// worldOf is a text that differs once any of what is in the plan has.
func worldOf(open []floor.Open) string {
	var world strings.Builder
	for _, x := range open {
		agreed := slices.Clone(x.Meetings)
		for i := range agreed {
			agreed[i].NotBefore = time.Time{} // always so long from now
		}
		fmt.Fprintln(&world, x.Snapshot.Commission, x.Snapshot.Revision, x.Undecided, x.Until, x.Promise, x.Actual, agreed)
	}
	return world.String()
}

// world is that of what is in the plan now.
func (j *job) world() (string, error) {
	open, err := j.inPlan()
	return worldOf(open), err
}

// awaited is until when the deposit of a commission is awaited, or an answer to its quote.
func (j *job) awaited(c ledger.Commission) (time.Time, error) {
	if c.State == ledger.Approved {
		a, err := j.t.Approval(c.ID)
		return quote.EndOf(j.local(a.At), j.s.cfg.Studio().DepositDays), err
	}
	p, err := j.t.StandingPromise(c.ID)
	if errors.Is(err, ledger.ErrNone) {
		err = nil
	}
	return p.HeldUntil, err
}

// countedOn is until when a deposit, or an answer to a quote, is counted on. The date of a quote counts on a deposit while it is
// held; one that is awaited longer and comes later delays that commission then, not what is said of it before.
func (j *job) countedOn(c ledger.Commission) (time.Time, error) {
	until, err := j.awaited(c)
	if err != nil || c.State != ledger.Approved {
		return until, err
	}
	a, err := j.t.Approval(c.ID)
	if err != nil {
		return until, err
	}
	rev, err := j.issued(c.ID, c.Revision)
	if errors.Is(err, ledger.ErrNone) { // openNow will say so
		return until, nil
	}
	if held := rev.Quote.Held; a.At.Before(held) && held.Before(until) {
		until = held
	}
	return until, err
}

// openNow reads what has a place in the shop plan with its quotes.
func (j *job) openNow() ([]floor.Open, error) {
	open, err := j.inPlan()
	for i := 0; i < len(open) && err == nil; i++ {
		var rev ledger.Revision
		rev, err = j.atBenchAs(open[i].Snapshot.Commission, open[i].Snapshot.Revision)
		open[i].Snapshot, open[i].Quote = rev.Snapshot, rev.Quote
	}
	return open, err
}

// present is the shop as it stands, for planning outside a transaction.
type present struct {
	open   []floor.Open
	studio quote.Studio
	now    time.Time
}

func (j *job) present() (p present, err error) {
	p.now = j.now
	if p.studio, err = j.studio(); err != nil {
		return p, err
	}
	p.open, err = j.openNow()
	return p, err
}

// planError words what the planner refuses.
func planError(err error) error {
	var many *plan.TooMany
	if errors.As(err, &many) {
		return &Refusal{Kind: TooMuchOpen, Name: many.What, Count: many.N, Most: many.Most, Cause: err}
	}
	return fmt.Errorf("the shop's plan: %w", err)
}

// plan makes the shop's plan of what is open anew.
func (s *Shop) plan(ctx context.Context, is present) (floor.Shop, error) {
	if len(is.open) == 0 {
		return floor.Shop{At: is.now}, nil
	}
	p, err := s.cfg.Plan(ctx, is.open, is.studio, is.now, nil)
	if err != nil {
		return p, planError(err)
	}
	return p, nil
}

// look is the shop's plan so far as it can be kept.
func (s *Shop) look(ctx context.Context, is present) (floor.Shop, error) {
	if len(is.open) == 0 {
		return floor.Shop{At: is.now}, nil
	}
	p, err := s.cfg.Look(ctx, is.open, is.studio, is.now)
	if err != nil {
		return p, planError(err)
	}
	return p, nil
}

// planAll makes the whole shop's plan, and remembers it for being taken over.
func planAll(ctx context.Context, s *Shop, read reading) (p whole, err error) {
	var is present
	world := ""
	err = read(func(j *job, _ ledger.Commission) (err error) {
		is, err = j.present()
		world = worldOf(is.open)
		return err
	})
	if err != nil {
		return p, err
	}
	if p.Shop, err = s.plan(ctx, is); err != nil {
		return p, err
	}
	then, err := s.asPlaced(ctx, is, p.Shop)
	if err != nil {
		return p, err
	}
	p.Outlooks = slices.Clone(p.Outlooks)
	for i := range p.Outlooks {
		for _, t := range then.Outlooks {
			if l := &p.Outlooks[i]; t.Commission == l.Commission {
				l.Kept, l.Sure, l.P50, l.P80, l.P95, l.Missed = t.Kept, t.Sure, t.P50, t.P80, t.P95, t.Missed
			}
		}
	}
	chance := is.studio.Chance()
	p.accepted = chance.Accepted / (chance.Accepted + chance.Lapsed)
	h := fnv.New32a()
	fmt.Fprint(h, world)
	for _, x := range p.Plan.Operations {
		fmt.Fprintln(h, x.ID, x.Start, x.Resources)
	}
	p.seen = fmt.Sprintf("%08x", h.Sum32())
	s.shown = append(s.shown, shown{p.seen, world, p})
	s.shown = s.shown[max(0, len(s.shown)-mostShown):]
	p.pictures, err = p.Draw()
	return p, err
}

func toLookAt(ctx context.Context, s *Shop, _ Call, _ WholePlan, read reading) (whole, error) {
	return planAll(ctx, s, read)
}

// plannedAs is the plan that was looked at, where it can still be had.
func plannedAs(ctx context.Context, s *Shop, _ Call, a TakeOver, read reading) (whole, error) {
	if a.Seen == "" {
		return planAll(ctx, s, read)
	}
	var p whole
	err := read(func(j *job, _ ledger.Commission) error {
		world, err := j.world()
		if err != nil {
			return err
		}
		i := slices.IndexFunc(s.shown, func(x shown) bool { return x.seen == a.Seen && x.world == world })
		if i < 0 {
			return &Refusal{Kind: PlanReplaced}
		}
		p = s.shown[i].plan
		return nil
	})
	if err != nil {
		return p, err
	}
	p.pictures, err = p.Draw()
	return p, err
}

// asItIs is the plan so far, for what explains it.
func asItIs(ctx context.Context, s *Shop, _ Call, _ Why, read reading) (p whole, err error) {
	var is present
	err = read(func(j *job, _ ledger.Commission) (err error) {
		is, err = j.present()
		return err
	})
	if err == nil {
		p.Shop, err = s.look(ctx, is)
	}
	return p, err
}

// WholePlan looks at the shop's plan as it would be made now.
type WholePlan struct{}

// Plan is the shop's plan: what of each commission was promised, what is sure, and what is in danger.
type Plan struct {
	At       time.Time
	Number   int64  // of the plan so far; TakeOver names it
	Seen     string // the mark of this plan, to take over just this one
	Moved    int    // operations that move against the plan so far
	Outlooks []Promised
	Pictures []quote.Picture `json:"-"`

	Now        []plan.Objective // what the plan so far is worth, first things first
	Objectives []plan.Objective // what this one is
	Together   []floor.Pair     // work of several commissions with one set-up
	Accepted   float64          // share of open quotes that come true in the simulated runs; the plan itself has places for all
}

// Promised is the outlook of a commission.
type Promised struct {
	floor.Outlook
	Client string
}

func wholePlan(j *job, _ ledger.Commission, _ WholePlan, p whole) (Plan, error) {
	return j.planFacts(p)
}

// planFacts has what is in danger first, then what is promised first.
func (j *job) planFacts(p whole) (Plan, error) {
	o := Plan{At: j.now, Moved: p.Moved, Pictures: p.pictures, Now: p.Now, Objectives: p.Plan.Objectives, Seen: p.seen, Together: p.Together, Accepted: p.accepted}
	var err error
	if o.Number, err = j.t.Count(planCounter); err != nil {
		return o, err
	}
	for _, l := range p.Outlooks {
		c, err := j.t.Commission(l.Commission)
		if err != nil {
			return o, err
		}
		l.Left, l.Reasons, l.Chain = nil, nil, nil // the operations are at the bench
		o.Outlooks = append(o.Outlooks, Promised{l, c.ClientName})
	}
	slices.SortStableFunc(o.Outlooks, func(a, b Promised) int {
		switch {
		case a.Danger == b.Danger && a.Promise < b.Promise, a.Danger && !b.Danger:
			return -1
		case a.Danger == b.Danger && a.Promise == b.Promise:
			return 0
		}
		return 1
	})
	return o, nil
}

// TakeOver takes the shop's plan over that was looked at, in place of the plan so far, which has the number. It is refused where
// something has happened since. With no mark of what was looked at it takes the plan as it would be made now.
type TakeOver struct {
	Plan int64
	Seen string
}

// TakenOver is the plan that holds now.
type TakenOver struct {
	Moved int // operations that were moved
	Plan  Plan
}

// worldAtWork is the world of a plan of the whole shop.
func worldAtWork(j *job, _ ledger.Commission, a TakeOver) (string, error) {
	n, err := j.t.Count(planCounter)
	if err != nil {
		return "", err
	}
	if a.Plan != n {
		return "", &Refusal{Kind: PlanReplaced}
	}
	return j.world()
}

func takeOver(j *job, _ ledger.Commission, _ TakeOver, p whole) (TakenOver, error) {
	o := TakenOver{Moved: p.Moved}
	var err error
	if p.Moved > 0 {
		if _, err := j.placeAll(p.Shop); err != nil {
			return o, err
		}
		if err := j.planChanged(); err != nil {
			return o, err
		}
		if err := j.record(ledger.Commission{}, "shop planned anew", Moves(p.Moved)); err != nil {
			return o, err
		}
	}
	p.Moved, p.seen, p.Now = 0, "", p.Plan.Objectives
	for i := range p.Outlooks {
		l := &p.Outlooks[i]
		l.Moved, l.KeptNow, l.SureNow, l.P50Now = 0, l.Kept, l.Sure, l.P50
		l.Danger = l.Promise != "" && l.Kept < float64(j.s.cfg.Studio().Danger)/100
	}
	p.Now = slices.Clone(p.Now)
	for k := range p.Now {
		if p.Now[k].Name == plan.Moves {
			p.Now[k].Value = 0 // it holds now
		}
	}
	o.Plan, err = j.planFacts(p)
	return o, err
}

// Moves counts moves, for the trail and for words.
func Moves(n int) string {
	if n == 1 {
		return "1 operation moves"
	}
	return fmt.Sprintf("%d operations move", n)
}

// placeAll gives every operation its place in a plan, and says how many it moves. Work that begins when it did may have another maker.
func (j *job) placeAll(p floor.Shop) (moved int, err error) {
	for _, l := range p.Outlooks {
		moved += l.Moved
		if err := j.place(l, nil); err != nil {
			return moved, err
		}
	}
	if moved > 0 {
		_, err = j.t.Next(planCounter)
	}
	return moved, err
}

// place gives a commission's operations their new places; after says what each waits for where the commission has none yet.
func (j *job) place(l floor.Outlook, after map[string][]string) error {
	ops, err := j.t.Operations(l.Commission)
	if err != nil {
		return err
	}
	if len(ops) == 0 {
		return j.hold(l.Commission, plan.Solution{Operations: l.Left}, after)
	}
	for _, x := range l.Left {
		i := slices.IndexFunc(ops, func(o ledger.Operation) bool { return o.Op == x.ID })
		if i < 0 {
			return fmt.Errorf("the plan has an operation %s of %s, which is not at the bench", x.ID, l.Commission)
		}
		o := ops[i]
		if o.State != ledger.Planned {
			continue
		}
		o.Start, o.End, o.Spans, o.Resources = x.Start, x.End, x.Spans, x.Resources
		if x.Cure != nil && o.Cure != "" {
			o.CureFor, o.Window = x.Cure.Ready.Sub(x.Cure.From), window(*x.Cure)
		}
		if err := j.t.PlanOperation(o); err != nil {
			return err
		}
	}
	if l.Moved == 0 {
		return nil
	}
	return j.t.Record(ledger.Event{At: j.now, Commission: l.Commission, Person: string(j.by.ID), Name: OneLine(j.by.Name), What: "planned anew",
		Detail: fmt.Sprintf("%s, sure %s", Moves(l.Moved), l.P80)})
}

// TellDate tells a client the date that can be kept instead of the one promised, which it then replaces. Where that is another date
// than the one that was shown, it is refused as DateToTell; with none shown it is told as it is.
type TellDate struct {
	Of
	Date string
	Sure bool // without it, it is refused as Grave
}

// DateTold is a promise that was moved.
type DateTold struct {
	Commission ledger.Commission
	Agreed     bool // the client was shown the date and went on with it
	Was        string
	Odds       float64 // share of the simulated runs that keep the date told
	Note       string  // the key of the notice that said it was in danger; empty: none
}

// telling is what can be told of a commission.
type telling struct {
	now  floor.Outlook // of the date promised so far
	date string
	odds float64
}

// canTell looks at the date that the shop's plan so far can keep.
func canTell(ctx context.Context, s *Shop, _ Call, a TellDate, read reading) (t telling, err error) {
	var is present
	err = read(func(j *job, _ ledger.Commission) (err error) {
		is, err = j.present()
		return err
	})
	if err != nil {
		return t, err
	}
	p, err := s.look(ctx, is)
	if err != nil {
		return t, err
	}
	of := func(p floor.Shop) floor.Outlook {
		i := slices.IndexFunc(p.Outlooks, func(l floor.Outlook) bool { return l.Commission == a.Commission })
		if i < 0 {
			return floor.Outlook{}
		}
		return p.Outlooks[i]
	}
	t.now = of(p)
	if !t.now.Danger {
		return t, nil
	}
	t.date = t.now.SureNow
	t.odds, err = s.oddsOf(ctx, is, p, a.Commission, t.date)
	return t, err
}

func tellDate(j *job, c ledger.Commission, a TellDate, t telling) (DateTold, error) {
	o := DateTold{Was: c.Promise, Odds: t.odds}
	if !t.now.Danger || t.now.Promise != c.Promise || t.date <= c.Promise {
		return o, &Refusal{Kind: NotInDanger, Commission: c}
	}
	if a.Date != "" && a.Date != t.date {
		return o, &Refusal{Kind: DateToTell, Commission: c, Name: t.date}
	}
	if !a.Sure {
		return o, &Refusal{Kind: Grave, Commission: c, Name: t.date}
	}
	err := j.promiseNow(&c, t.date, t.odds, &o)
	return o, err
}

// promiseNow puts a date in the place of the one promised.
func (j *job) promiseNow(c *ledger.Commission, date string, odds float64, o *DateTold) error {
	o.Was, o.Odds = c.Promise, odds
	c.Promise = date
	err := j.t.Promise(ledger.Promise{Commission: c.ID, Date: date, Odds: odds, Revision: c.Revision, ToldAt: j.now, ToldBy: j.by.ID,
		Message: DateMessage(c.ID, date), State: ledger.Given})
	if err != nil {
		return err
	}
	if err := j.save(c, "date moved", o.Was+" to "+c.Promise); err != nil {
		return err
	}
	o.Commission = *c
	said, err := j.t.Outlook(c.ID)
	if err != nil {
		return err
	}
	if said.Danger {
		o.Note = said.Note
	}
	said.Promise, said.Sure, said.Odds, said.Danger = date, date, odds, false
	if err := j.t.SetOutlook(said, j.now); err != nil {
		return err
	}
	return j.planChanged()
}

// goesOn has a client's promise be the date that they were shown and went on with. One who was told an earlier one keeps it.
func (j *job) goesOn(c *ledger.Commission, date string, odds float64) error {
	if j.by.Studio || date <= c.Promise {
		return nil // the studio tells dates by an act of its own
	}
	o := DateTold{Agreed: true}
	if err := j.promiseNow(c, date, odds, &o); err != nil {
		return err
	}
	return j.tell(o)
}

// asPlaced is the shop once a plan has been taken over. What is said of promises then is read off the places that the plan gives, not
// off its own runs: these follow it in another order of what begins at the same time, and a studio would read two odds of one promise.
func (s *Shop) asPlaced(ctx context.Context, is present, p floor.Shop) (floor.Shop, error) {
	return s.look(ctx, is.with(p))
}

// with is the shop with everything in the places of a plan.
func (is present) with(p floor.Shop) present {
	is.open = slices.Clone(is.open)
	for _, l := range p.Outlooks {
		if i := slices.IndexFunc(is.open, func(o floor.Open) bool { return o.Snapshot.Commission == l.Commission }); i >= 0 {
			is.open[i].Actual = placed(is.open[i].Actual, l.Left)
		}
	}
	return is
}

// oddsOf is the share of the runs of a plan in which a commission is ready by a date.
func (s *Shop) oddsOf(ctx context.Context, is present, p floor.Shop, id quote.CommissionID, date string) (float64, error) {
	is = is.with(p)
	for i := range is.open {
		if is.open[i].Snapshot.Commission == id {
			is.open[i].Promise = date
		}
	}
	then, err := s.look(ctx, is)
	if err != nil {
		return 0, err
	}
	for _, l := range then.Outlooks {
		if l.Commission == id {
			return l.KeptNow, nil
		}
	}
	return 0, nil
}

// Why looks at why a commission at work is ready when the shop's plan says, followed as closely as it can be now.
type Why struct{ Of }

// Reasons are why a commission's work has its places in the plan.
type Reasons struct {
	Commission ledger.Commission
	Outlook    floor.Outlook
}

func why(_ *job, c ledger.Commission, _ Why, p whole) (Reasons, error) {
	i := slices.IndexFunc(p.Outlooks, func(l floor.Outlook) bool { return l.Commission == c.ID })
	if i < 0 {
		return Reasons{Commission: c}, nil // its last cure runs
	}
	return Reasons{c, p.Outlooks[i]}, nil
}

// WhatIf looks at whether a commission can be ready by a day, as typed.
type WhatIf struct {
	Of
	By string
}

// Choices are the ways there are to have a commission by a day.
type Choices struct {
	Commission ledger.Commission
	By         string
	Choices    []floor.Choice
}

func whatIf(ctx context.Context, s *Shop, _ Call, a WhatIf, read reading) (o Choices, err error) {
	var is present
	err = read(func(j *job, c ledger.Commission) error {
		o.Commission = c
		typed := OneLine(a.By)
		if typed == "" {
			return &Refusal{Kind: NoDay, Commission: c}
		}
		if o.By, err = day.Next(typed, j.local(j.now)); err != nil {
			return &Refusal{Kind: BadDay, Commission: c, Cause: err}
		}
		is, err = j.present()
		return err
	})
	if err != nil {
		return o, err
	}
	if o.Choices, err = s.cfg.WhatIf(ctx, is.open, is.studio, is.now, o.Commission.ID, o.By); err != nil {
		return o, &Refusal{Kind: NotPlanned, Commission: o.Commission, Cause: err}
	}
	return o, nil
}

// Endangered is a promise that has come into danger, Safe one that is out of it again.
type (
	Endangered struct {
		Commission ledger.Commission
		Outlook    floor.Outlook
		Note       string // the key of the notice that says so
	}
	Safe struct {
		Commission ledger.Commission
		Outlook    floor.Outlook
		Note       string
	}
)

// lookAhead looks at the promises where something has happened that may change them: work was done late, a cure has begun, or
// the shop plan has changed. It tells which have come into danger, once for each time they do.
func (s *Shop) lookAhead(ctx context.Context, now time.Time) error {
	var done []ledger.Operation
	var is present
	var changed, looked int64
	look := false
	err := s.inTx(ctx, now, chat.Person{}, func(j *job) (err error) {
		if done, err = j.t.NewlyDone(); err != nil {
			return err
		}
		if changed, err = j.t.Count(changeCounter); err != nil {
			return err
		}
		if looked, err = j.t.Count(lookCounter); err != nil {
			return err
		}
		look = changed != looked || slices.ContainsFunc(done, func(o ledger.Operation) bool { return o.CureFor > 0 || o.DoneAt.Sub(o.End) > lateEnough })
		if !look {
			return nil
		}
		is, err = j.present()
		return err
	})
	if err != nil || len(done) == 0 && !look {
		return err
	}
	var p floor.Shop
	if look {
		if p, err = s.look(ctx, is); err != nil {
			if ctx.Err() != nil {
				return err
			}
			// It would fail again until something else happens; the work itself goes on.
			s.log.Error("the promises are not looked at", "err", err)
			p = floor.Shop{}
		}
	}
	return s.inTx(ctx, now, chat.Person{}, func(j *job) error {
		for _, o := range done {
			if err := j.t.LookedAt(o); err != nil {
				return err
			}
		}
		if err := j.t.SetCount(lookCounter, changed); err != nil {
			return err
		}
		for _, l := range p.Outlooks {
			if err := j.sayOutlook(l); err != nil {
				return err
			}
		}
		return nil
	})
}

// sayOutlook tells where a promise has come into danger, and where it is out of it.
func (j *job) sayOutlook(l floor.Outlook) error {
	c, err := j.t.Commission(l.Commission)
	if err != nil {
		return err
	}
	if err := j.sayUnkept(c, l); err != nil {
		return err
	}
	if c.State != ledger.Working && c.State != ledger.Approved || c.Promise != l.Promise || c.Promise == "" {
		return nil
	}
	was, err := j.t.Outlook(c.ID)
	if err != nil {
		return err
	}
	next := ledger.Outlook{Commission: c.ID, Promise: l.Promise, Sure: l.SureNow, Odds: l.KeptNow, Danger: l.Danger, Note: was.Note}
	l.Left, l.Reasons, l.Chain = nil, nil, nil
	switch {
	case next.Danger && !(was.Danger && was.Promise == l.Promise):
		n, err := j.t.Next(dangerCounter)
		if err != nil {
			return err
		}
		next.Note = fmt.Sprintf("%s/note/danger/%d", c.ID, n)
		err = j.tell(Endangered{c, l, next.Note})
		if err != nil {
			return err
		}
	case !next.Danger && was.Danger && was.Promise == l.Promise:
		if err := j.tell(Safe{c, l, was.Note}); err != nil {
			return err
		}
	case next == was:
		return nil
	}
	return j.t.SetOutlook(next, j.now)
}
