package engine

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"benchbell/quote"
	"benchbell/quote/plan"
	"benchbell/quote/plan/schedule"
)

const (
	// spared is by how much less likely a promise to another client may become through new work: less is the draws of the
	// simulation (400 runs have a standard error of 2 points at 80 %).
	spared = 0.03
	// firstPause is by how many days the work is put off where it would take more than that from somebody; each further time
	// by twice as many.
	firstPause = 2
	// mostPauses is how often it is put off: a month in all.
	mostPauses = 4
	// nearEnough is how much less likely than the studio's confidence a day may be kept that is promised all the same. Days are
	// coarse: with the first on which it is reached in full, promises are kept far more often than the studio asks for. It is the
	// standard error of 400 runs at 80 %.
	nearEnough = 0.02
)

// plan fits the work into the shop and finds the day that can be promised, and its odds. What others were promised comes first: work
// that would make a promise to somebody else less likely than the studio's confidence begins later.
func (m *making) plan(ctx context.Context) error {
	s, q := m.snapshot, &m.quote
	zone, err := time.LoadLocation(s.Studio.Calendar.Zone)
	if err != nil {
		return fmt.Errorf("time zone %q is not known: %w", s.Studio.Calendar.Zone, err)
	}
	at := s.At.In(zone)
	q.Expires, q.Held = quote.EndOf(at, s.Studio.Validity), quote.EndOf(at, s.Studio.Hold)
	before, err := m.others(ctx)
	if err != nil {
		return err
	}
	start := s.Studio.FirstDay(at)
	var own, whole plan.Problem
	var all plan.Solution
	for k := 0; ; k++ {
		own = s.Problem(q.Work.Plan(), start, s.Promised)
		if q.Held.After(start) {
			own.Projects = []plan.Project{{Latest: q.Held}}
		}
		q.Plan, err = schedule.Solve(ctx, own, func(done, budget int) {
			if budget > 0 {
				m.progress.At(quote.Planning, math.Min(1, float64(done)/float64(budget)))
			}
		})
		if err != nil {
			return err
		}
		if whole = m.among(own); len(own.Operations) == 0 {
			break
		}
		if all, err = schedule.Settle(ctx, whole); err != nil {
			return err
		}
		if k == mostPauses || !m.takes(before, all) {
			break
		}
		local := start.In(zone)
		start = time.Date(local.Year(), local.Month(), local.Day()+firstPause<<k, 0, 0, 0, 0, zone).UTC()
	}
	if err := m.promise(ctx, whole, all, zone); err != nil {
		return err
	}
	q.Late = late(q.Promise, s.Wanted)
	m.remark()
	return nil
}

// others are the dates of the shop's other work without this. Where there is more than can be planned together, the work is looked at by itself.
func (m *making) others(ctx context.Context) ([]plan.Dates, error) {
	if m.snapshot.Beside == nil {
		return nil, nil
	}
	p := m.snapshot.Problem(m.snapshot.Beside.Operations, m.snapshot.At, nil)
	p.Projects = m.snapshot.Beside.Projects
	s, err := schedule.Settle(ctx, p)
	var many *plan.TooMany
	if errors.As(err, &many) {
		m.snapshot.Beside, err = nil, nil
	}
	return s.Dates, err
}

// takes says that a promise to somebody else becomes less likely than the studio's confidence.
func (m *making) takes(before []plan.Dates, all plan.Solution) bool {
	for _, was := range before {
		i := slices.IndexFunc(all.Dates, func(d plan.Dates) bool { return d.Project == was.Project })
		if i >= 0 && all.Dates[i].Kept < min(was.Kept, float64(m.snapshot.Studio.Confidence)/100)-spared {
			return true
		}
	}
	return false
}

// promise finds the day that can be promised in the plan of all the shop's work, and its odds.
func (m *making) promise(ctx context.Context, whole plan.Problem, all plan.Solution, zone *time.Location) error {
	s, q := m.snapshot, &m.quote
	mine := len(whole.Projects) - 1
	if len(all.Dates) > 0 {
		d := all.Dates[len(all.Dates)-1]
		q.Plan.P50, q.Plan.P80, q.Plan.P95 = d.P50, d.P80, d.P95
		for k := range q.Plan.Dates {
			d.Project = q.Plan.Dates[k].Project
			q.Plan.Dates[k] = d
		}
		q.HoursLow, q.HoursHigh = float64(d.WorkLow)/60, float64(d.WorkHigh)/60
	}
	q.Confidence = s.Studio.Confidence
	q.Promise = s.Studio.PromiseDay(q.Plan, zone).Format(time.DateOnly)
	day, err := time.ParseInLocation(time.DateOnly, q.Promise, zone)
	if err != nil {
		return fmt.Errorf("the promised date %q is not a date: %w", q.Promise, err)
	}
	if q.Odds = 1; len(all.Dates) == 0 {
		return nil
	}
	kept := func(by time.Time) (float64, error) {
		whole.Projects[mine].Due = by.UTC()
		all, err := schedule.Settle(ctx, whole)
		if err != nil {
			return 0, err
		}
		return all.Dates[len(all.Dates)-1].Kept, nil
	}
	own := s.Studio.Calendar.Handover(q.Plan.End.In(zone))
	for d := day; ; {
		d = time.Date(d.Year(), d.Month(), d.Day()-1, 0, 0, 0, 0, zone)
		closing := s.Studio.Calendar.Closing(d)
		if d.Format(time.DateOnly) < own.Format(time.DateOnly) {
			break
		}
		if closing.IsZero() {
			continue
		}
		odds, err := kept(closing)
		if err != nil {
			return err
		}
		if odds < float64(s.Studio.Confidence)/100-nearEnough {
			break
		}
		day = d
	}
	q.Promise = day.Format(time.DateOnly)
	q.Odds, err = kept(time.Date(day.Year(), day.Month(), day.Day()+1, 0, 0, 0, 0, zone))
	return err
}

// among is the planned work of the commission, the last project, among all the shop's.
func (m *making) among(own plan.Problem) plan.Problem {
	p := schedule.PlannedAs(own, m.quote.Plan)
	mine := plan.Project{Release: own.Start, Latest: m.quote.Held} // the deposit may come on any day for which the date is held
	if own.Start.After(mine.Latest) {
		mine.Latest = time.Time{}
	}
	p.Start, p.Projects = m.snapshot.At, []plan.Project{mine}
	b := m.snapshot.Beside
	if b == nil {
		return p
	}
	mine.ID = string(m.snapshot.Commission)
	// Its dates are those of the runs in which it comes true itself: then others are likelier to do so, too.
	mine.Open = slices.ContainsFunc(b.Projects, func(x plan.Project) bool { return x.Open })
	for i := range p.Operations {
		o := &p.Operations[i]
		o.ID, o.Project = mine.ID+"/"+o.ID, mine.ID
		o.After = slices.Clone(o.After)
		for k := range o.After {
			o.After[k].After = mine.ID + "/" + o.After[k].After
		}
	}
	p.Busy = m.snapshot.Studio.NotThere()
	p.Operations = slices.Concat(b.Operations, p.Operations)
	p.Projects = append(slices.Clone(b.Projects), mine)
	return p
}
