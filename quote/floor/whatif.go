package floor

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"benchbell/quote"
	"benchbell/quote/breakdown"
	"benchbell/quote/plan"
	"benchbell/quote/plan/schedule"
	"benchbell/quote/price"
)

// What a studio can do to meet a date (common practice, no source).
const (
	// eveningMinutes is how long an evening shift lasts after closing time.
	eveningMinutes = 120
	// mostEvenings is how many evenings are considered; nobody commits to more than three weeks of them.
	mostEvenings = 15
	// saturdayMinutes is how long a Saturday is worked (common practice, no source).
	saturdayMinutes = 360
	// mostSaturdays is how many are considered, for the reason of the evenings.
	mostSaturdays = 3
	// whatIfShare: each of the dozen plans compared gets the planning budget divided by this, at least leastSchedules.
	whatIfShare    = 3
	leastSchedules = 40
	// mostParts is how many assemblies are considered for delivery ahead of the others.
	mostParts = 4
)

// extraMaker is the resource that stands for an additional maker.
const extraMaker = "another maker"

// ByEarlierFitting is the way of a choice in which the client comes sooner than agreed; it costs nothing, and they must agree.
const ByEarlierFitting = "earlier fitting"

// Choice is one way to have a commission ready by a day.
type Choice struct {
	Way    string // of package schedule: AsPlanned, Anew, ByOvertime, ByHire, ByParts, ByVariation; or ByEarlierFitting
	Name   string // evenings worked, the finish instead, the fitting and its time, …
	Kept   bool   // P80 is no later than the day asked for
	Cost   price.Money
	Full   price.Money // of overtime: for each maker who stays for all of it
	P80    string      // date met in 80 of 100 simulated runs
	First  []string    // assemblies ready by then, for delivery in parts
	Others []Effect
}

// Effect is what a choice does to another commission's P80 date.
type Effect struct {
	Commission quote.CommissionID
	From, To   string
	Danger     bool // its promise is kept in fewer runs than the studio's limit, and is not so far
}

// WhatIf answers whether a commission at work can be ready by a day, and what would make it so: evenings or Saturdays at the hourly
// rate plus the overtime surcharge, an additional maker at the hourly rate, some assemblies delivered first, a finish with fewer
// coats, a fitting sooner than agreed. Promises to others come first. Asking changes nothing. It refuses a commission that is not open or has no work
// left, and what Plan refuses.
func WhatIf(ctx context.Context, open []Open, st quote.Studio, now time.Time, id quote.CommissionID, by string) ([]Choice, error) {
	p, sh, err := shopProblem(open, st, now)
	if err != nil {
		return nil, err
	}
	p.Schedules = min(p.Schedules, max(p.Schedules/whatIfShare, leastSchedules))
	k := slices.IndexFunc(open, func(o Open) bool { return o.Snapshot.Commission == id })
	if k < 0 {
		return nil, fmt.Errorf("%s is not in the shop plan; ask about one that is being worked on", id)
	}
	day, err := time.ParseInLocation(time.DateOnly, by, sh.zone)
	if err != nil {
		return nil, fmt.Errorf("%q is not a date; write it as 2026-12-24: %w", by, err)
	}
	end := time.Date(day.Year(), day.Month(), day.Day()+1, 0, 0, 0, 0, sh.zone)
	rate := int64(st.Prices.Rate)
	w := schedule.Wish{Project: string(id), By: end.UTC(),
		Overtime: []schedule.Overtime{{Name: "evening", Shifts: sh.evenings(end), PerHour: rate * int64(100+st.Overtime) / 100},
			{Name: "Saturday", Shifts: sh.saturdays(end), PerHour: rate * int64(100+st.Overtime) / 100}},
		Hire: &schedule.Hire{Resource: plan.Resource{ID: extraMaker, Title: extraMaker, Kind: "maker", Capacity: 1, Skills: skills(st)}, PerHour: rate}}
	if groups := sh.parts(id); len(groups) > 1 {
		w.Parts = &schedule.Parts{Groups: groups}
	}
	if w.Variants, err = sh.variants(open[k]); err != nil {
		return nil, err
	}
	sooner, err := sh.sooner(open[k])
	if err != nil {
		return nil, err
	}
	w.Variants = append(w.Variants, sooner...)
	options, err := schedule.WhatIf(ctx, p, w)
	if err != nil {
		return nil, fmt.Errorf("whether %s can be ready by %s: %w", id, quote.LongDate(by), err)
	}
	var out []Choice
	date := func(t time.Time) string { return t.In(sh.zone).Format(time.DateOnly) }
	for _, o := range options {
		c := Choice{Way: o.Way, Name: o.Name, Kept: o.Kept, Cost: price.Money(o.Cost), Full: price.Money(o.Full), P80: date(o.Date), First: o.First}
		if op, ok := strings.CutPrefix(o.Name, fittingVariant); ok {
			if c.Way, c.Name = ByEarlierFitting, sh.heldSooner(o.Solution, shopID(id, op)); c.Name == "" {
				continue // no sooner than agreed
			}
		}
		for _, m := range o.Moved {
			e := Effect{Commission: quote.CommissionID(m.Project), From: date(m.From), To: date(m.To)}
			limit := float64(st.Danger) / 100
			if e.Danger = !sh.due[e.Commission].IsZero() && m.Kept < limit && m.Was >= limit; e.From != e.To {
				c.Others = append(c.Others, e)
			}
		}
		out = append(out, c)
	}
	return out, nil
}

// evenings are the extra shifts after closing time on open days up to the end of the day asked for.
func (sh *shop) evenings(end time.Time) []plan.Extra {
	var out []plan.Extra
	now := sh.now.In(sh.zone)
	for i := 0; len(out) < mostEvenings; i++ {
		day := time.Date(now.Year(), now.Month(), now.Day()+i, 0, 0, 0, 0, sh.zone)
		if !day.Before(end) {
			break
		}
		if !sh.studio.Calendar.Open(day) {
			continue
		}
		closes := 0
		for _, s := range sh.studio.Calendar.Shifts {
			if s.Weekday == day.Weekday() {
				closes = max(closes, s.To)
			}
		}
		x := plan.Extra{Date: day.Format(time.DateOnly), From: closes, To: min(closes+eveningMinutes, 24*60)}
		if closes > 0 && x.From < x.To && now.Before(day.Add(time.Duration(closes)*time.Minute)) {
			out = append(out, x)
		}
	}
	return out
}

// saturdays are the extra shifts on Saturdays on which the shop does not work, up to the end of the day asked for, from the hour at
// which it opens on other days.
func (sh *shop) saturdays(end time.Time) []plan.Extra {
	opens := 24 * 60
	for _, s := range sh.studio.Calendar.Shifts {
		if opens = min(opens, s.From); s.Weekday == time.Saturday {
			return nil
		}
	}
	var out []plan.Extra
	now := sh.now.In(sh.zone)
	for i := 0; len(out) < mostSaturdays; i++ {
		day := time.Date(now.Year(), now.Month(), now.Day()+i, 0, 0, 0, 0, sh.zone)
		if !day.Before(end) {
			break
		}
		x := plan.Extra{Date: day.Format(time.DateOnly), From: opens, To: min(opens+saturdayMinutes, 24*60)}
		if day.Weekday() == time.Saturday && x.From < x.To && !slices.Contains(sh.studio.Calendar.Closed, x.Date) && now.Before(day.Add(time.Duration(opens)*time.Minute)) {
			out = append(out, x)
		}
	}
	return out
}

// skills are all those of the studio's makers: the additional maker is hired to help with anything.
func skills(st quote.Studio) []string {
	var out []string
	for _, r := range st.Resources {
		for _, s := range r.Skills {
			if r.Kind == "maker" && !slices.Contains(out, s) {
				out = append(out, s)
			}
		}
	}
	return out
}

// parts are a commission's assemblies with work left, up to mostParts.
func (sh *shop) parts(id quote.CommissionID) []string {
	var out []string
	for _, o := range sh.open {
		if o.Snapshot.Commission != id {
			continue
		}
		for _, x := range o.Quote.Work.Operations {
			if x.Assembly > 0 && !slices.Contains(out, x.Group) && sh.ops[shopID(id, x.ID)].Finished.IsZero() {
				out = append(out, x.Group)
			}
		}
	}
	return out[:min(len(out), mostParts)]
}

// variants are the finishes with fewer coats that the sets allow and the work begun still permits.
func (sh *shop) variants(o Open) ([]schedule.Variant, error) {
	now, err := o.Snapshot.FinishOrdered()
	if err != nil {
		return nil, err
	}
	var out []schedule.Variant
	for _, f := range o.Snapshot.Studio.Finishes {
		if f.CoatCount() >= now.CoatCount() || slices.ContainsFunc(o.Quote.Work.Assemblies, func(a quote.Assembly) bool {
			return len(a.Finishes) > 0 && !slices.Contains(a.Finishes, f.Key)
		}) {
			continue
		}
		smaller := o
		if smaller.Quote.Work, _, err = breakdown.Make(o.Snapshot.Studio, f, o.Quote.Work.Assemblies); err != nil {
			return nil, err
		}
		smaller.Actual = nil
		for _, x := range smaller.Quote.Work.Operations {
			a := Actual{Op: x.ID, Title: x.Title}
			if i := slices.IndexFunc(o.Actual, func(a Actual) bool { return a.Op == x.ID }); i >= 0 {
				a = o.Actual[i]
			}
			smaller.Actual = append(smaller.Actual, a)
		}
		if slices.ContainsFunc(o.Actual, func(a Actual) bool {
			begun := !a.Started.IsZero() || !a.Finished.IsZero()
			return begun && !slices.ContainsFunc(smaller.Actual, func(b Actual) bool { return a.Op == b.Op })
		}) {
			continue // a coat of what would be left out is on already
		}
		ops, err := sh.instead(smaller)
		if err != nil {
			return nil, err
		}
		saved := o.Quote.Work.Minutes() - smaller.Quote.Work.Minutes()
		out = append(out, schedule.Variant{Name: f.Title, Cost: -int64(saved * float64(o.Snapshot.Studio.Prices.Rate) / 60), Operations: ops})
	}
	return out, nil
}

// instead are the operations of a commission as it would be; the shop stays as it is.
func (sh *shop) instead(o Open) ([]plan.Operation, error) {
	own := &shop{studio: sh.studio, zone: sh.zone, now: sh.now, actual: map[string]Actual{}, ops: map[string]plan.Operation{}, closed: map[quote.CommissionID][]string{}}
	return own.add(o)
}

// fittingVariant begins the name of a variant in which a fitting is not at the time that was agreed.
const fittingVariant = "fitting/"

// sooner are the operations of a commission with each of the fittings that a time is agreed for as soon as it can be, of which the
// client has notice.
func (sh *shop) sooner(o Open) ([]schedule.Variant, error) {
	var out []schedule.Variant
	for i, m := range o.Meetings {
		x, ok := sh.ops[shopID(o.Snapshot.Commission, m.Op)]
		if !ok || !x.Started.IsZero() || !m.At.After(sh.now) {
			continue
		}
		if m.At = (time.Time{}); m.How != quote.ByPictures {
			m.NotBefore = sh.now.Add(time.Duration(sh.studio.Appointments.Ahead()) * time.Minute)
		}
		free := o
		free.Meetings = slices.Clone(o.Meetings)
		free.Meetings[i] = m
		ops, err := sh.instead(free)
		if err != nil {
			return nil, err
		}
		out = append(out, schedule.Variant{Name: fittingVariant + m.Op, Operations: ops})
	}
	return out, nil
}

// heldSooner names a fitting and when it would be; empty where that is no sooner than agreed.
func (sh *shop) heldSooner(s plan.Solution, id string) string {
	m, _ := sh.meeting(id)
	i := slices.IndexFunc(s.Operations, func(x plan.Scheduled) bool { return x.ID == id })
	if i < 0 || !s.Operations[i].Start.Before(m.At) {
		return ""
	}
	what, _, _ := strings.Cut(strings.ToLower(s.Operations[i].Title), ",")
	return fmt.Sprintf("%s (%s)", what, s.Operations[i].Start.In(sh.zone).Format("Mon 2 Jan, 15:04"))
}
