package shop

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"benchbell/bot/ledger"
	"benchbell/bot/shop/day"
	"benchbell/quote"
	"benchbell/quote/plan"
)

// GoAway files the days on which a maker is not at work, as typed: from today where none is said, and until the end of that day
// where nothing else is. Where that hurts promises, it is refused as Hurts until it is done with the mark of what was shown.
type GoAway struct {
	Maker string // ID or name
	From  string
	Until string // the last day
	Seen  string // Refusal.Seen of the effects that were looked at
}

// WentAway is a maker who will not be there.
type WentAway struct {
	Maker   string // the name
	Away    quote.Away
	Moved   int // operations that were moved
	Effects []Effect
}

// absence is what a maker's days away do to the shop plan.
type absence struct {
	change
	name string
	away quote.Away
}

// maker finds one of the studio's by ID or name.
func (j *job) maker(typed string) (plan.Resource, error) {
	no := &Refusal{Kind: NoMaker, Name: OneLine(typed)}
	for _, r := range j.s.cfg.Studio().Resources {
		if r.Kind != "maker" {
			continue
		}
		if strings.EqualFold(r.ID, no.Name) || strings.EqualFold(r.Title, no.Name) {
			return r, nil
		}
		no.Names = append(no.Names, r.Title)
	}
	return plan.Resource{}, no
}

// days reads when a maker is away. A day that has begun counts from now on.
func (j *job) days(a GoAway) (from, to time.Time, err error) {
	today := j.local(j.now)
	read := func(typed string) (time.Time, error) {
		d, err := day.Next(OneLine(typed), today)
		if err != nil {
			return time.Time{}, &Refusal{Kind: BadDays, Name: OneLine(typed), Cause: err}
		}
		return time.ParseInLocation(time.DateOnly, d, today.Location())
	}
	from = today
	if OneLine(a.From) != "" {
		if from, err = read(a.From); err != nil {
			return from, to, err
		}
	}
	last := from
	if OneLine(a.Until) != "" {
		if last, err = read(a.Until); err != nil {
			return from, to, err
		}
	}
	if to = quote.EndOf(last, 0); !to.After(from) {
		return from, to, &Refusal{Kind: DaysBackwards, Name: from.Format(time.DateOnly), Until: last}
	}
	if from.Before(j.now) {
		from = j.now
	}
	return from.UTC().Truncate(time.Minute), to, nil
}

// without is the shop plan without a maker.
func without(ctx context.Context, s *Shop, _ Call, a GoAway, read reading) (p absence, err error) {
	var is present
	err = read(func(j *job, _ ledger.Commission) error {
		r, err := j.maker(a.Maker)
		if err != nil {
			return err
		}
		p.name, p.away.Maker = r.Title, r.ID
		if p.away.From, p.away.To, err = j.days(a); err != nil {
			return err
		}
		is, err = j.present()
		return err
	})
	if err != nil {
		return p, err
	}
	before, err := s.look(ctx, is)
	var no *Refusal
	switch {
	case errors.As(err, &no) && no.Kind == TooMuchOpen: // who is ill is ill all the same
		return p, nil
	case err != nil:
		return p, err
	}
	is.studio.Away = append(slices.Clone(is.studio.Away), p.away)
	if p.change, err = s.change(ctx, before, is, a.Seen, true); err == nil && p.hurts != nil {
		p.hurts.Name, p.hurts.Away = p.name, p.away
	}
	return p, err
}

// worldWithout is the world of a plan without a maker: the shop's work, and who else is away.
func worldWithout(j *job, _ ledger.Commission, _ GoAway) (string, error) {
	world, err := j.world()
	if err != nil {
		return "", err
	}
	others, err := j.t.Away(j.now)
	return fmt.Sprintln(world, others), err
}

func goAway(j *job, _ ledger.Commission, a GoAway, p absence) (WentAway, error) {
	if p.hurts != nil && a.Seen != p.hurts.Seen {
		return WentAway{}, p.hurts
	}
	o := WentAway{Maker: p.name, Away: p.away, Effects: p.effects}
	if err := j.t.AddAway(p.away, j.by.ID, j.now); err != nil {
		return o, err
	}
	var err error
	if o.Moved, err = j.placeAll(p.plan); err != nil {
		return o, err
	}
	if err := j.planChanged(); err != nil {
		return o, err
	}
	return o, j.record(ledger.Commission{}, "maker away", fmt.Sprintf("%s from %s until %s", p.away.Maker, p.away.From.Format(time.DateOnly),
		j.local(p.away.To.Add(-time.Second)).Format(time.DateOnly)))
}

// ComeBack has a maker at work from now on.
type ComeBack struct{ Maker string }

// CameBack is a maker who is there again. The plan stays until it is made anew.
type CameBack struct{ Maker string }

func comeBack(j *job, a ComeBack) (CameBack, error) {
	r, err := j.maker(a.Maker)
	if err != nil {
		return CameBack{}, err
	}
	away, err := j.t.Away(j.now)
	if err != nil {
		return CameBack{}, err
	}
	if !slices.ContainsFunc(away, func(x quote.Away) bool { return x.Maker == r.ID }) {
		return CameBack{}, &Refusal{Kind: NobodyAway, Name: r.Title}
	}
	if err := j.t.EndAway(r.ID, j.now); err != nil {
		return CameBack{}, err
	}
	if err := j.planChanged(); err != nil {
		return CameBack{}, err
	}
	return CameBack{r.Title}, j.record(ledger.Commission{}, "maker back", r.ID)
}
