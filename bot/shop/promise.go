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
	"benchbell/quote"
	"benchbell/quote/floor"
	"benchbell/quote/plan"
	"benchbell/quote/plan/schedule"
)

// Keys of the posts that tell a client a date.
func QuoteMessage(id quote.CommissionID, revision int) string {
	return fmt.Sprintf("%s/quote/%d", id, revision)
}

// DateMessage is the key of the post that tells a date instead of the one promised.
func DateMessage(id quote.CommissionID, date string) string {
	return fmt.Sprintf("%s/date/%s", id, date)
}

// studio is the studio as it is now, with what became of its quotes counted and who is away.
func (j *job) studio() (quote.Studio, error) {
	accepted, lapsed, err := j.t.QuotesSoFar()
	if err != nil {
		return quote.Studio{}, err
	}
	st := j.s.cfg.Studio().Counting(accepted, lapsed)
	st.Away, err = j.t.Away(j.now)
	return st, err
}

// hold keeps the place of a quote in the shop plan.
func (j *job) hold(id quote.CommissionID, s plan.Solution, after map[string][]string) error {
	if err := j.t.GiveUpPlace(id); err != nil {
		return err
	}
	ops := slices.Clone(s.Operations)
	slices.SortStableFunc(ops, func(a, b plan.Scheduled) int {
		if n := a.Start.Compare(b.Start); n != 0 {
			return n
		}
		return strings.Compare(a.ID, b.ID)
	})
	for i, x := range ops {
		op := ledger.Operation{Commission: id, Seq: i + 1, Op: x.ID, Title: x.Title, Group: x.Group, Kind: x.Kind, Start: x.Start, End: x.End,
			Resources: x.Resources, Spans: x.Spans, After: after[x.ID]}
		if x.Cure != nil {
			op.Cure, op.CureFor, op.Window = x.Cure.Material, x.Cure.Ready.Sub(x.Cure.From), window(*x.Cure)
		}
		if err := j.t.AddOperation(op); err != nil {
			return err
		}
	}
	return nil
}

// letGo ends a promise and gives up the place that was held for it.
func (j *job) letGo(id quote.CommissionID, how ledger.PromiseState) error {
	return errors.Join(j.t.GiveUpPlace(id), j.t.EndPromise(id, how, j.now), j.planChanged())
}

// planChanged has the promises looked at again: something was done that may change what is kept of them.
func (j *job) planChanged() error {
	_, err := j.t.Next(changeCounter)
	return err
}

// Effect is what an act does to a promise.
type Effect struct {
	Commission quote.CommissionID
	Client     string
	Promise    string
	Before     float64 // share of the simulated runs that keep it; ledger.UnknownOdds where it was not in the plan
	After      float64
	Hurt       bool
	Undecided  bool   // its quote is not accepted yet
	Ask        string // the date that could be told instead
}

// Of100 is a share as so many of 100, never more than it is: a promise kept in fewer than a limit must not read as kept in as many.
func Of100(share float64) int {
	const way = 1e-9 // of a share through the ledger
	return int(100*share + way)
}

// leastWorse is how much less likely a promise that is in danger anyway must be kept for it to be hurt: smaller differences
// come from the draws of the simulation (400 runs have a standard error of 2.5 points at even odds).
const leastWorse = 0.05

// effects are what becomes of the promises in the plan after, against the plan before.
func effects(is present, before, after floor.Shop) []Effect {
	var out []Effect
	limit := float64(is.studio.Danger) / 100
	for _, l := range after.Outlooks {
		if l.Promise == "" {
			continue
		}
		e := Effect{Commission: l.Commission, Promise: l.Promise, Before: ledger.UnknownOdds, After: l.Kept, Undecided: l.Undecided, Ask: l.Sure}
		for _, o := range is.open {
			if o.Snapshot.Commission == l.Commission {
				e.Client = o.Snapshot.Client
			}
		}
		was := 1.0
		if i := slices.IndexFunc(before.Outlooks, func(x floor.Outlook) bool { return x.Commission == l.Commission }); i >= 0 {
			e.Before = before.Outlooks[i].KeptNow
			was = e.Before
		}
		e.Hurt = e.After < limit && (was >= limit || e.After < was-leastWorse)
		out = append(out, e)
	}
	return out
}

// Broken is something else that an act would break, besides promises: a time that a client picked, or a recoat window.
type Broken struct {
	Commission quote.CommissionID
	Client     string
	Which      ledger.Which // the appointment; empty: a recoat window
	Picked     time.Time
	Now        time.Time // when it would be instead
	Missed     float64   // share of the simulated runs in which a window closes before its coat is on
}

// likelyMissed is the share of the runs in which a recoat window must close for it to be told before an act: as likely as not. The
// part is abraded and coated again then, an hour or so, and no promise need be hurt by it (common practice, no source).
const likelyMissed = 0.5

// broken are the times picked and the recoat windows that the plan after does not keep and the plan before does.
func broken(is present, before, after floor.Shop) (out []Broken) {
	for _, l := range after.Outlooks {
		b := Broken{Commission: l.Commission}
		var was floor.Outlook
		if i := slices.IndexFunc(before.Outlooks, func(x floor.Outlook) bool { return x.Commission == l.Commission }); i >= 0 {
			was = before.Outlooks[i]
		}
		for _, o := range is.open {
			if o.Snapshot.Commission == l.Commission {
				b.Client = o.Snapshot.Client
			}
		}
		for _, u := range l.Unmet {
			if !slices.ContainsFunc(was.Unmet, func(x floor.Unkept) bool { return x.Op == u.Op && x.Picked.Equal(u.Picked) }) {
				x := b
				for w, op := range fittingOps {
					if op == u.Op {
						x.Which = w
					}
				}
				x.Picked, x.Now = u.Picked, u.Now
				out = append(out, x)
			}
		}
		if l.Missed >= likelyMissed && was.Missed < likelyMissed {
			b.Missed = l.Missed
			out = append(out, b)
		}
	}
	return out
}

// hurts is how many promises are hurt.
func hurts(list []Effect) int {
	n := 0
	for _, e := range list {
		if e.Hurt {
			n++
		}
	}
	return n
}

// hurt reports whether a promise is.
func hurt(list []Effect) bool { return hurts(list) > 0 }

// Others reports whether promises of other commissions are hurt, or something else of theirs is broken.
func (r *Refusal) Others(id quote.CommissionID) bool {
	return slices.ContainsFunc(r.Effects, func(e Effect) bool { return e.Hurt && e.Commission != id }) ||
		slices.ContainsFunc(r.Broken, func(b Broken) bool { return b.Commission != id })
}

// mark is a short text that differs once other promises are hurt, or something else is broken.
func (r *Refusal) mark() string {
	h := fnv.New32a()
	for _, e := range r.Effects {
		if e.Hurt {
			fmt.Fprintln(h, e.Commission, e.Promise)
		}
	}
	for _, b := range r.Broken {
		fmt.Fprintln(h, b.Commission, b.Which, b.Picked)
	}
	return fmt.Sprintf("%08x", h.Sum32())
}

// change is what an act does to the shop plan.
type change struct {
	plan    floor.Shop
	effects []Effect // on promises
	anew    bool     // work is moved; else each keeps its place as far as it can
	date    string   // that the client of the act goes on with, and its odds; empty: as promised
	odds    float64
	hurts   *Refusal // nil: no promise is hurt, and nothing else is broken
}

// change works out what becomes of the shop plan, which was before and is to be made of what is now: as planned so far, or anew
// where that hurts fewer promises. With all, everything is given the places of it, and what becomes of promises is what is said of them
// then; else only where it is made anew. Where promises are hurt all the same it says how they could be kept, unless that was seen.
func (s *Shop) change(ctx context.Context, before floor.Shop, is present, seen string, all bool) (c change, err error) {
	if c.plan, err = s.look(ctx, is); err != nil {
		return c, err
	}
	then := c.plan
	if all {
		if then, err = s.asPlaced(ctx, is, c.plan); err != nil {
			return c, err
		}
	}
	if c.effects = effects(is, before, then); hurt(c.effects) {
		anew, err := s.plan(ctx, is)
		if err != nil {
			return c, err
		}
		placed, err := s.asPlaced(ctx, is, anew)
		if err != nil {
			return c, err
		}
		if e := effects(is, before, placed); hurts(e) < hurts(c.effects) {
			c.plan, c.anew, c.effects, then = anew, true, e, placed
		}
	}
	also := broken(is, before, then)
	if !hurt(c.effects) && len(also) == 0 {
		return c, nil
	}
	c.hurts = &Refusal{Kind: Hurts, Effects: c.effects, Broken: also, Count: c.plan.Moved}
	c.hurts.Seen = c.hurts.mark()
	if seen != c.hurts.Seen && hurt(c.effects) {
		c.hurts.Ways = s.ways(ctx, is, c.effects)
	}
	return c, nil
}

// mostWays is how many ways of keeping a promise are shown.
const mostWays = 4

// ways are how the promise that is hurt most could be kept; none where they cannot be worked out.
func (s *Shop) ways(ctx context.Context, is present, list []Effect) []floor.Choice {
	worst := Effect{After: 2}
	for _, e := range list {
		if e.Hurt && e.After < worst.After {
			worst = e
		}
	}
	all, err := s.cfg.WhatIf(ctx, is.open, is.studio, is.now, worst.Commission, worst.Promise)
	if err != nil {
		s.log.Error("no ways to keep a promise are shown", "commission", worst.Commission, "err", err)
		return nil
	}
	all = slices.DeleteFunc(all, func(c floor.Choice) bool { return !c.Kept || c.Way == schedule.AsPlanned }) // that is what hurts it, or others
	return all[:min(len(all), mostWays)]
}

// crossed reports whether a plan uses time that was given away after its snapshot was taken: quotes that are worked out side
// by side know nothing of each other.
func (j *job) crossed(s quote.Snapshot, p plan.Solution) (bool, error) {
	now, err := j.t.Taken(s.Commission)
	if err != nil {
		return false, err
	}
	for _, b := range now {
		if slices.ContainsFunc(s.Promised, func(x plan.Busy) bool {
			return x.Resource == b.Resource && x.Label == b.Label && x.From.Equal(b.From) && x.To.Equal(b.To)
		}) {
			continue
		}
		for _, o := range p.Operations {
			if !slices.Contains(o.Resources, b.Resource) {
				continue
			}
			spans := o.Spans
			if len(spans) == 0 {
				spans = []plan.Span{{From: o.Start, To: o.End}}
			}
			if slices.ContainsFunc(spans, func(x plan.Span) bool { return x.From.Before(b.To) && b.From.Before(x.To) }) {
				return true, nil
			}
		}
	}
	return false, nil
}

// around asks for a revision again, around what was given away meanwhile.
func (j *job) around(c ledger.Commission, r ledger.Request, was ledger.Revision) error {
	if err := j.t.SettleRequest(r.ID, ledger.ReqDropped, 0, "the time it planned was given away meanwhile", j.now); err != nil {
		return err
	}
	snap, err := j.snapshot(c, was.Snapshot.Changes)
	if err != nil {
		return err
	}
	if err := j.t.SetSnapshot(c.ID, c.Revision, snap); err != nil {
		return err
	}
	if err := j.t.Record(ledger.Event{At: j.now, Commission: c.ID, What: "quote asked for again", Detail: fmt.Sprintf("revision %d, around what was promised meanwhile", c.Revision)}); err != nil {
		return err
	}
	_, err = j.send(c)
	return err
}

// HoldOver is a quote whose date is no longer held.
type HoldOver struct {
	Commission ledger.Commission
	Revision   int
	Until      time.Time
}

// endHolds gives up the places of quotes that were held long enough.
func (s *Shop) endHolds(ctx context.Context, now time.Time) error {
	return s.inTx(ctx, now, chat.Person{}, func(j *job) error {
		due, err := j.t.DueHolds(now)
		if err != nil {
			return err
		}
		for _, p := range due {
			if err := j.endHold(p); err != nil {
				return err
			}
		}
		return nil
	})
}

func (j *job) endHold(p ledger.Promise) error {
	c, err := j.t.Commission(p.Commission)
	if err != nil {
		return err
	}
	if err := errors.Join(j.t.LetGo(c.ID), j.t.GiveUpPlace(c.ID)); err != nil {
		return err
	}
	if c.State != ledger.Quoted {
		return nil
	}
	if err := j.record(c, "date no longer held", p.Date); err != nil {
		return err
	}
	return j.tell(HoldOver{c, p.Revision, p.HeldUntil})
}
