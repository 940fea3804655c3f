package schedule

import (
	"context"
	"fmt"
	"slices"
	"sync"
	"time"

	"benchbell/quote/plan"
)

// Wish asks whether a project can be ready by a moment, and what the shop could do for it. Costs are in the caller's minor
// units of money.
type Wish struct {
	Project  string
	By       time.Time
	Overtime []Overtime // each tried alone
	Hire     *Hire
	Parts    *Parts
	Variants []Variant
}

// Overtime is extra shifts that could be worked, in the order in which they would be.
type Overtime struct {
	Name    string // of one of them: "evening"
	Shifts  []plan.Extra
	PerHour int64 // of each maker at work in them
}

// Hire is another maker, or another place, paid by the hour at work.
type Hire struct {
	Resource plan.Resource
	PerHour  int64
}

// Parts is delivery of some groups of the project ahead of the rest.
type Parts struct {
	Groups []string // that make sense alone
	Cost   int64    // of the second delivery
}

// Variant is other operations in place of the project's: a smaller finish, say.
type Variant struct {
	Name       string
	Cost       int64 // may be less than nothing
	Operations []plan.Operation
}

// Ways of an option.
const (
	AsPlanned   = "as planned" // the plan so far
	Anew        = "planned anew"
	ByOvertime  = "overtime"
	ByHire      = "another maker"
	ByParts     = "delivery in parts"
	ByVariation = "variant"
)

// Option is one answer to a wish.
type Option struct {
	Way      string
	Name     string // of the variant or the resource; for overtime how many shifts: "3 evenings"
	Kept     bool   // the wish is: P80 is not later
	Cost     int64
	Full     int64     // of overtime: what it costs for each maker who stays for all of it, as they do where work is late
	Date     time.Time // P80 of the project, or of the rest of it
	First    []string  // groups delivered by the wished moment, for delivery in parts
	Moved    []Move    // what it does to the others
	Solution plan.Solution
}

// Move is the effect on another project: its P80 in the plan so far and with the option.
type Move struct {
	Project  string
	From, To time.Time
	Was      float64 // share of the runs that keep its date so far; 0 without one
	Kept     float64 // the same with the option
}

// WhatIf answers a wish. Where the project is ready by then in the plan so far, that is the only option; otherwise those that
// keep the wish come first, the cheapest first, then the others by date. What neither keeps it nor brings it nearer than the plan
// so far is none. Promises to other projects go before the wish.
func WhatIf(ctx context.Context, p plan.Problem, w Wish) ([]Option, error) {
	if !slices.ContainsFunc(p.Operations, func(o plan.Operation) bool { return o.Project == w.Project }) {
		return nil, fmt.Errorf("no operation belongs to project %q, name one that is planned", w.Project)
	}
	before, err := soFar(ctx, p)
	if err != nil {
		return nil, err
	}
	a := asker{ctx: ctx, p: p, w: w, before: before}
	plain := Option{Way: AsPlanned, Solution: before, Date: p80Of(&before, w.Project)}
	if plain.Kept = !plain.Date.After(w.By); plain.Kept {
		return []Option{plain}, nil
	}
	options := []Option{plain}
	asks := []func() ([]Option, error){a.anew, a.overtime, a.hire, a.parts, a.variants}
	answers, errs := make([][]Option, len(asks)), make([]error, len(asks))
	var group sync.WaitGroup
	for k, ask := range asks {
		group.Go(func() { answers[k], errs[k] = ask() })
	}
	group.Wait()
	for k, err := range errs {
		if err != nil {
			return nil, err
		}
		for _, o := range answers[k] {
			if o.Kept || o.Date.Before(plain.Date) {
				options = append(options, o)
			}
		}
	}
	slices.SortStableFunc(options, func(x, y Option) int {
		switch {
		case x.Kept != y.Kept:
			if x.Kept {
				return -1
			}
			return 1
		case x.Kept && x.Cost != y.Cost:
			if x.Cost < y.Cost {
				return -1
			}
			return 1
		}
		return x.Date.Compare(y.Date)
	})
	return options, nil
}

// soFar is the plan so far; where there is none, one that is made.
func soFar(ctx context.Context, p plan.Problem) (plan.Solution, error) {
	if slices.ContainsFunc(p.Operations, func(o plan.Operation) bool { return !o.Planned.IsZero() }) {
		return Settle(ctx, p)
	}
	return Solve(ctx, p, nil)
}

// asker tries changes of one problem.
type asker struct {
	ctx    context.Context
	p      plan.Problem
	w      Wish
	before plan.Solution
}

// wished is a copy of the problem in which the project is wanted by the wished moment.
func (a *asker) wished() plan.Problem {
	p := a.p
	p.Projects = slices.Clone(p.Projects)
	p.Operations = slices.Clone(p.Operations)
	p.Resources = slices.Clone(p.Resources)
	p.Calendar.Extra = slices.Clone(p.Calendar.Extra)
	k := slices.IndexFunc(p.Projects, func(x plan.Project) bool { return x.ID == a.w.Project })
	if k < 0 {
		k = len(p.Projects)
		p.Projects = append(p.Projects, plan.Project{ID: a.w.Project})
	}
	p.Projects[k].Due, p.Projects[k].Promised = a.w.By, false
	return p
}

// try solves the changed problem.
func (a *asker) try(way, name string, cost int64, change func(*plan.Problem)) (Option, error) {
	p := a.wished()
	change(&p)
	s, err := Solve(a.ctx, p, nil)
	if err != nil {
		return Option{}, fmt.Errorf("%s: %w", way, err)
	}
	o := Option{Way: way, Name: name, Cost: cost, Solution: s, Date: p80Of(&s, a.w.Project)}
	o.Kept = !o.Date.After(a.w.By)
	for _, d := range a.before.Dates {
		if now := datesOf(&s, d.Project); d.Project != a.w.Project && !now.P80.Equal(d.P80) {
			o.Moved = append(o.Moved, Move{d.Project, d.P80, now.P80, d.Kept, now.Kept})
		}
	}
	return o, nil
}

func datesOf(s *plan.Solution, project string) plan.Dates {
	for _, d := range s.Dates {
		if d.Project == project {
			return d
		}
	}
	return plan.Dates{}
}

func p80Of(s *plan.Solution, project string) time.Time { return datesOf(s, project).P80 }

// anew plans everything again with the wish, with what the shop has.
func (a *asker) anew() ([]Option, error) {
	o, err := a.try(Anew, "", 0, func(*plan.Problem) {})
	if err != nil {
		return nil, err
	}
	return []Option{o}, nil
}

// overtime finds of each kind of shift how few keep the wish, or tries them all.
func (a *asker) overtime() ([]Option, error) {
	var out []Option
	for _, w := range a.w.Overtime {
		if len(w.Shifts) == 0 {
			continue
		}
		o, err := a.shifts(w)
		if err != nil {
			return nil, err
		}
		out = append(out, o)
	}
	return out, nil
}

func (a *asker) shifts(w Overtime) (Option, error) {
	with := func(n int) (Option, error) {
		name := fmt.Sprintf("%d %ss", n, w.Name)
		if n == 1 {
			name = "1 " + w.Name
		}
		o, err := a.try(ByOvertime, name, 0, func(p *plan.Problem) {
			p.Calendar.Extra = append(p.Calendar.Extra, w.Shifts[:n]...)
		})
		if err == nil {
			for _, s := range w.Shifts[:n] {
				o.Full += int64(s.To-s.From) * w.PerHour / 60
			}
			o.Cost, err = a.overtimeCost(&o.Solution, w.Shifts[:n], w.PerHour)
		}
		return o, err
	}
	best, err := with(len(w.Shifts))
	if err != nil || !best.Kept {
		return best, err
	}
	for low, high := 1, len(w.Shifts); low < high; { // as if more never hurt; what is found is kept in any case
		mid := (low + high) / 2
		o, err := with(mid)
		if err != nil {
			return o, err
		}
		if o.Kept {
			best, high = o, mid
		} else {
			low = mid + 1
		}
	}
	return best, nil
}

// overtimeCost is what makers' work within the extra shifts costs, shift by shift, a started minute not counted.
func (a *asker) overtimeCost(s *plan.Solution, shifts []plan.Extra, perHour int64) (int64, error) {
	zone, err := time.LoadLocation(a.p.Calendar.Zone)
	if err != nil {
		return 0, fmt.Errorf("the calendar's time zone %q is unknown: %w", a.p.Calendar.Zone, err)
	}
	makers := a.kind("maker")
	var worked time.Duration
	for _, e := range shifts {
		day, err := time.ParseInLocation(time.DateOnly, e.Date, zone)
		if err != nil {
			return 0, fmt.Errorf("extra shift on %q has no date, write it as 2026-12-24: %w", e.Date, err)
		}
		y, m, d := day.Date()
		from, to := time.Date(y, m, d, e.From/60, e.From%60, 0, 0, zone), time.Date(y, m, d, e.To/60, e.To%60, 0, 0, zone)
		for _, x := range s.Operations {
			for _, id := range x.Resources {
				if !makers[id] {
					continue
				}
				for _, w := range x.Spans {
					worked += max(0, min(w.To.Sub(from), to.Sub(from))-max(w.From.Sub(from), 0))
				}
			}
		}
	}
	return int64(worked/time.Minute) * perHour / 60, nil
}

func (a *asker) kind(kind string) map[string]bool {
	out := map[string]bool{}
	for _, r := range a.p.Resources {
		out[r.ID] = r.Kind == kind
	}
	return out
}

func (a *asker) hire() ([]Option, error) {
	w := a.w.Hire
	if w == nil {
		return nil, nil
	}
	name := w.Resource.Title
	if name == "" {
		name = w.Resource.ID
	}
	o, err := a.try(ByHire, name, 0, func(p *plan.Problem) { p.Resources = append(p.Resources, w.Resource) })
	if err != nil {
		return nil, err
	}
	var worked time.Duration
	for _, x := range o.Solution.Operations {
		for _, id := range x.Resources {
			if id == w.Resource.ID {
				for _, s := range x.Spans {
					worked += s.To.Sub(s.From)
				}
			}
		}
	}
	o.Cost = int64(worked/time.Minute) * w.PerHour / 60
	return []Option{o}, nil
}

// parts makes each group that may go ahead a project of its own. It tries to have all of them by the wished moment, and
// each alone whatever becomes of the others, and takes what has most ready by then and, of that, the rest first.
func (a *asker) parts() ([]Option, error) {
	w := a.w.Parts
	if w == nil || len(w.Groups) == 0 {
		return nil, nil
	}
	best, err := a.part(w.Groups)
	if err != nil {
		return nil, err
	}
	for _, g := range w.Groups {
		o, err := a.part([]string{g})
		if err != nil {
			return nil, err
		}
		if len(o.First) > len(best.First) || len(o.First) == len(best.First) && o.Date.Before(best.Date) {
			best = o
		}
	}
	return []Option{best}, nil
}

// part solves with these groups wished for.
func (a *asker) part(wished []string) (Option, error) {
	w := a.w.Parts
	name := func(group string) string { return a.w.Project + ": " + group }
	o, err := a.try(ByParts, "", w.Cost, func(p *plan.Problem) {
		for k := range p.Projects {
			if p.Projects[k].ID == a.w.Project {
				p.Projects[k].Due = time.Time{}
			}
		}
		for _, g := range w.Groups {
			x := plan.Project{ID: name(g)}
			if slices.Contains(wished, g) {
				x.Due = a.w.By
			}
			p.Projects = append(p.Projects, x)
		}
		for i := range p.Operations {
			if x := &p.Operations[i]; x.Project == a.w.Project && slices.Contains(w.Groups, x.Group) {
				x.Project = name(x.Group)
			}
		}
	})
	if err != nil {
		return o, err
	}
	for _, g := range w.Groups {
		at := p80Of(&o.Solution, name(g))
		if !at.After(a.w.By) {
			o.First = append(o.First, g)
		}
		if at.After(o.Date) {
			o.Date = at
		}
	}
	o.Kept = len(o.First) > 0
	return o, nil
}

func (a *asker) variants() ([]Option, error) {
	var out []Option
	for _, v := range a.w.Variants {
		o, err := a.try(ByVariation, v.Name, v.Cost, func(p *plan.Problem) {
			p.Operations = slices.DeleteFunc(p.Operations, func(x plan.Operation) bool { return x.Project == a.w.Project })
			for _, x := range v.Operations {
				x.Project = a.w.Project
				p.Operations = append(p.Operations, x)
			}
		})
		if err != nil {
			return nil, fmt.Errorf("variant %q: %w", v.Name, err)
		}
		out = append(out, o)
	}
	return out, nil
}
