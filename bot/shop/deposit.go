package shop

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"benchbell/bot/chat"
	"benchbell/bot/ledger"
	"benchbell/quote"
	"benchbell/quote/floor"
	"benchbell/quote/plan"
	"benchbell/quote/price"
)

// Pay confirms that a deposit is in; the commission's work can begin. Where that hurts promises, it is refused as Hurts until
// it is done with the mark of what was shown.
type Pay struct {
	Of
	Seen string // Refusal.Seen of the effects that were looked at
}

// Paid is a commission whose work can begin.
type Paid struct {
	Commission ledger.Commission
	Operations int               // how many there are
	First      *ledger.Operation // nil where there is none
	Broken     []string          // what the plan cannot keep
	Moved      int               // operations of others that were moved for it
	Effects    []Effect          // on promises
	Due        time.Time         // by which the deposit was awaited, where it came later; zero: it came in time
	Overdue    bool              // DepositOverdue was told of it
}

// planned is the shop plan with a commission in it, computed before the deposit's transaction.
type planned struct {
	change
	after map[string][]string
	how   quote.How     // fittings are held, as quoted
	alone plan.Solution // its work by itself, where more is open than can be planned together
}

// mostPlacings is how often a commission is placed among the others until it stays where it is: its places push others back, which
// may push it. Usually it takes two.
const mostPlacings = 5

// planIn plans the shop with a commission whose deposit is in: as it is planned so far where that hurts nobody, otherwise anew.
func planIn(ctx context.Context, s *Shop, _ Call, a Pay, read reading) (p planned, err error) {
	var rev ledger.Revision
	var is present
	var c ledger.Commission
	var taken []plan.Busy
	err = read(func(j *job, com ledger.Commission) error {
		c = com
		if rev, err = j.issued(c.ID, c.Revision); err != nil {
			return err
		}
		if taken, err = j.t.Taken(c.ID); err != nil {
			return err
		}
		is, err = j.present()
		return err
	})
	if err != nil {
		return p, err
	}
	p.after, p.how = rev.Quote.Work.After(), rev.Snapshot.Studio.Appointments.Fittings
	i := slices.IndexFunc(is.open, func(o floor.Open) bool { return o.Snapshot.Commission == c.ID })
	if i < 0 {
		is.open, i = append(is.open, floor.Open{Snapshot: rev.Snapshot, Quote: rev.Quote, Promise: c.Promise}), len(is.open)
	}
	was := is // what it does is told against the shop in which it was not decided yet: the client was not asked about others
	was.open = slices.Clone(is.open)
	was.open[i].Undecided = true
	before, err := s.look(ctx, was)
	var no *Refusal
	switch {
	case errors.As(err, &no) && no.Kind == TooMuchOpen: // money that came is confirmed all the same
		p.alone, err = s.cfg.Place(ctx, rev.Snapshot, rev.Quote, is.now, taken)
		return p, err
	case err != nil:
		return p, err
	}
	is.open[i].Undecided, is.open[i].Until, is.open[i].Meetings = false, time.Time{}, nil
	for _, a := range firstWanted(c.ID, p.how, func(op string) bool {
		return slices.ContainsFunc(rev.Quote.Work.Operations, func(o quote.Operation) bool { return o.ID == op })
	}) { // of which the client has notice from then on
		is.open[i].Meetings = append(is.open[i].Meetings, meeting(is.studio, a, is.now))
	}
	// Its work gets the places that the plan so far gives it without the wait for a deposit; what comes of the others is looked at
	// from there, as it will be once it is paid.
	settled := false
	for n := 0; n < mostPlacings && !settled; n++ {
		from, err := s.look(ctx, is)
		if err != nil {
			return p, err
		}
		was := is.open[i].Actual
		for _, l := range from.Outlooks {
			if l.Commission == c.ID {
				is.open[i].Actual = placed(was, l.Left)
			}
		}
		settled = slices.EqualFunc(was, is.open[i].Actual, func(x, y floor.Actual) bool { return x.Op == y.Op && x.Start.Equal(y.Start) })
	}
	p.change, err = s.change(ctx, before, is, a.Seen, !settled)
	p.anew = p.anew || !settled // then all have the places of the plan that is told
	if p.hurts != nil {
		p.hurts.Commission = c
	}
	return p, err
}

// placed is what is at the bench with the places of a plan.
func placed(was []floor.Actual, left []plan.Scheduled) []floor.Actual {
	out := slices.Clone(was)
	for _, x := range left {
		i := slices.IndexFunc(out, func(a floor.Actual) bool { return a.Op == x.ID })
		if i < 0 {
			i, out = len(out), append(out, floor.Actual{Op: x.ID, Title: x.Title})
		}
		if a := &out[i]; a.Started.IsZero() {
			a.Start, a.End, a.Spans, a.Resources = x.Start, x.End, x.Spans, x.Resources
		}
	}
	return out
}

func pay(j *job, c ledger.Commission, a Pay, p planned) (Paid, error) {
	if p.hurts != nil && a.Seen != p.hurts.Seen {
		return Paid{}, p.hurts
	}
	o := Paid{Effects: p.effects}
	due, err := j.awaited(c)
	if err != nil {
		return o, err
	}
	if !j.now.Before(due) {
		o.Due = due
	}
	if o.Overdue, err = j.t.Happened(c.ID, depositOverdue); err != nil {
		return o, err
	}
	c.State = ledger.Working
	c.DepositAt, c.DepositBy = j.now, string(j.by.ID)
	if len(p.alone.Operations) > 0 {
		if err := j.hold(c.ID, p.alone, p.after); err != nil {
			return o, err
		}
	}
	for _, l := range p.plan.Outlooks {
		switch {
		case l.Commission == c.ID:
		case !p.anew: // what is late is pushed back whenever the plan is looked at
			continue
		default:
			o.Moved += l.Moved
		}
		if err := j.place(l, p.after); err != nil {
			return o, err
		}
	}
	for _, x := range p.plan.Plan.Broken {
		if strings.Contains(x, string(c.ID)+"/") {
			o.Broken = append(o.Broken, strings.ReplaceAll(x, string(c.ID)+"/", ""))
		}
	}
	ops, err := j.t.Operations(c.ID)
	if err != nil {
		return o, err
	}
	for i := range ops {
		if o.First == nil || ops[i].Start.Before(o.First.Start) {
			o.First = &ops[i]
		}
	}
	o.Operations = len(ops)
	if err := j.appoint(c, ops, p.how); err != nil {
		return o, err
	}
	if err := j.planChanged(); err != nil {
		return o, err
	}
	err = j.save(&c, "deposit confirmed", fmt.Sprintf("%d operations", len(ops)))
	o.Commission = c
	return o, err
}

// DepositOverdue is a commission whose deposit has not come by its last day. It is told once; nothing else happens by itself.
type DepositOverdue struct {
	Commission ledger.Commission
	Estimate   price.Estimate
	Due        time.Time
}

// depositOverdue is the event that records it.
const depositOverdue = "deposit overdue"

// remind tells of deposits that have not come by their last day.
func (s *Shop) remind(ctx context.Context, now time.Time) error {
	return s.inTx(ctx, now, chat.Person{}, func(j *job) error {
		cs, err := j.t.Commissions(ledger.Approved)
		if err != nil {
			return err
		}
		for _, c := range cs {
			due, err := j.awaited(c)
			if err != nil {
				return err
			}
			if j.now.Before(due) {
				continue
			}
			if said, err := j.t.Happened(c.ID, depositOverdue); err != nil || said {
				if err != nil {
					return err
				}
				continue
			}
			rev, err := j.issued(c.ID, c.Revision)
			if err != nil {
				return err
			}
			if err := errors.Join(j.record(c, depositOverdue, ""), j.tell(DepositOverdue{c, rev.Quote.Estimate, due})); err != nil {
				return err
			}
		}
		return nil
	})
}
