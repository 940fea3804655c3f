package engine

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"benchbell/quote/plan"
	"benchbell/quote/plan/schedule"
)

// promise finds the day that can be promised for the work as it is planned, and its odds: among all the shop's work, as long as
// that can be simulated together, else by itself.
func (m *making) promise(ctx context.Context, own plan.Problem, zone *time.Location) error {
	s, q := m.snapshot, &m.quote
	dates := func(p plan.Problem) (plan.Dates, error) {
		if len(own.Operations) == 0 {
			return plan.Dates{Kept: 1}, nil
		}
		same, err := schedule.Settle(ctx, p)
		if err != nil {
			return plan.Dates{}, err
		}
		return same.Dates[len(same.Dates)-1], nil
	}
	whole := m.among(own)
	d, err := dates(whole)
	var many *plan.TooMany
	if errors.As(err, &many) && s.Beside != nil {
		m.snapshot.Beside = nil
		whole = m.among(own)
		d, err = dates(whole)
	}
	if err != nil {
		return err
	}
	q.Plan.P50, q.Plan.P80, q.Plan.P95 = d.P50, d.P80, d.P95
	q.HoursLow, q.HoursHigh = float64(d.WorkLow)/60, float64(d.WorkHigh)/60
	q.Confidence = s.Studio.Confidence
	q.Promise = s.Studio.PromiseDay(q.Plan, zone).Format(time.DateOnly)
	day, err := time.ParseInLocation(time.DateOnly, q.Promise, zone)
	if err != nil {
		return fmt.Errorf("the promised date %q is not a date: %w", q.Promise, err)
	}
	whole.Projects[len(whole.Projects)-1].Due = time.Date(day.Year(), day.Month(), day.Day()+1, 0, 0, 0, 0, zone).UTC()
	d, err = dates(whole)
	q.Odds = d.Kept
	return err
}

// among is the planned work of the commission, the last project, among all the shop's.
func (m *making) among(own plan.Problem) plan.Problem {
	p := own
	at := map[string]time.Time{}
	for _, x := range m.quote.Plan.Operations {
		at[x.ID] = x.Start
	}
	p.Operations = slices.Clone(own.Operations)
	for i := range p.Operations {
		p.Operations[i].Planned = at[p.Operations[i].ID]
	}
	var mine plan.Project
	if len(own.Projects) > 0 {
		mine = own.Projects[0]
	}
	p.Projects = []plan.Project{mine}
	b := m.snapshot.Beside
	if b == nil {
		return p
	}
	mine.ID, mine.Release = string(m.snapshot.Commission), own.Start
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
	p.Start, p.Busy = m.snapshot.At, m.snapshot.Studio.NotThere()
	p.Operations = slices.Concat(b.Operations, p.Operations)
	p.Projects = append(slices.Clone(b.Projects), mine)
	return p
}
