package check_test

import (
	"context"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"benchbell/quote/gaugetest"
	"benchbell/quote/plan"
	"benchbell/quote/plan/check"
	"benchbell/quote/plan/schedule"
)

// spoiler has a problem and a valid plan of it at hand, copies that it may spoil.
type spoiler struct {
	p   plan.Problem
	s   plan.Solution
	rng *rand.Rand
}

// some is one of a plan's operations that fit, or none.
func (k *spoiler) some(fits func(o *plan.Operation, x *plan.Scheduled) bool) (*plan.Operation, *plan.Scheduled) {
	var list []int
	for i := range k.s.Operations {
		if x := &k.s.Operations[i]; fits(k.ask(x.ID), x) {
			list = append(list, i)
		}
	}
	if len(list) == 0 {
		return nil, nil
	}
	x := &k.s.Operations[list[k.rng.IntN(len(list))]]
	return k.ask(x.ID), x
}

// planned is one that has not begun and fits.
func (k *spoiler) planned(fits func(o *plan.Operation, x *plan.Scheduled) bool) (*plan.Operation, *plan.Scheduled) {
	return k.some(func(o *plan.Operation, x *plan.Scheduled) bool { return o.Started.IsZero() && fits(o, x) })
}

// worked is one that has not begun and takes time.
func (k *spoiler) worked() (*plan.Operation, *plan.Scheduled) {
	return k.planned(func(o *plan.Operation, x *plan.Scheduled) bool { return o.Duration > 0 })
}

func (k *spoiler) ask(id string) *plan.Operation {
	for i := range k.p.Operations {
		if o := &k.p.Operations[i]; o.ID == id {
			return o
		}
	}
	return nil
}

func (k *spoiler) got(id string) *plan.Scheduled {
	for i := range k.s.Operations {
		if x := &k.s.Operations[i]; x.ID == id {
			return x
		}
	}
	return nil
}

func (k *spoiler) resource(id string) *plan.Resource {
	for i := range k.p.Resources {
		if k.p.Resources[i].ID == id {
			return &k.p.Resources[i]
		}
	}
	return nil
}

func (k *spoiler) history() bool {
	return slices.ContainsFunc(k.p.Operations, func(o plan.Operation) bool { return !o.Started.IsZero() })
}

// promise takes all units of a resource for a second.
func (k *spoiler) promise(id string, at time.Time) {
	for range k.resource(id).Capacity {
		k.p.Busy = append(k.p.Busy, plan.Busy{Resource: id, From: at, To: at.Add(time.Second)})
	}
}

func (k *spoiler) inOrder() {
	slices.SortStableFunc(k.s.Operations, func(a, b plan.Scheduled) int { return a.Start.Compare(b.Start) })
}

func shift(x *plan.Scheduled, d time.Duration) {
	x.Start, x.End = x.Start.Add(d), x.End.Add(d)
	for i := range x.Spans {
		x.Spans[i].From, x.Spans[i].To = x.Spans[i].From.Add(d), x.Spans[i].To.Add(d)
	}
}

const grid = 5 * time.Minute

// asked adapts a spoiling of an operation that begins when one is found.
func asked(find func(*spoiler) (*plan.Operation, *plan.Scheduled), spoil func(*spoiler, *plan.Operation, *plan.Scheduled)) func(*spoiler) bool {
	return func(k *spoiler) bool {
		o, x := find(k)
		if o == nil {
			return false
		}
		spoil(k, o, x)
		return true
	}
}

func fits(f func(o *plan.Operation, x *plan.Scheduled) bool) func(*spoiler) (*plan.Operation, *plan.Scheduled) {
	return func(k *spoiler) (*plan.Operation, *plan.Scheduled) { return k.planned(f) }
}

func begun(f func(o *plan.Operation) bool) func(*spoiler) (*plan.Operation, *plan.Scheduled) {
	return func(k *spoiler) (*plan.Operation, *plan.Scheduled) {
		return k.some(func(o *plan.Operation, x *plan.Scheduled) bool { return !o.Started.IsZero() && f(o) })
	}
}

func anyBegun(*plan.Operation) bool { return true }

// dated makes a spoiling of one project's dates.
func dated(spoil func(*plan.Dates)) func(*spoiler) bool {
	return func(k *spoiler) bool { spoil(&k.s.Dates[k.rng.IntN(len(k.s.Dates))]); return true }
}

// winter is a zone that has another's winter time all year.
var winter = map[string]string{"Europe/Berlin": "Etc/GMT-1", "America/New_York": "Etc/GMT+5"}

// spoilings are the ways in which a plan can be wrong: each breaks one rule, in the problem or in the plan, and the refusal
// must say one of the words. They report whether they had something to spoil.
var spoilings = []struct {
	name  string
	words string // alternatives, parted by |
	spoil func(*spoiler) bool
}{
	{"one left out", "operations, the problem", func(k *spoiler) bool {
		i := k.rng.IntN(len(k.s.Operations))
		k.s.Operations = slices.Delete(k.s.Operations, i, i+1)
		return true
	}},
	{"one twice", "twice", func(k *spoiler) bool { k.s.Operations[1] = k.s.Operations[0]; return true }},
	{"a stranger", "lacks", func(k *spoiler) bool { k.s.Operations[0].ID = "x"; return true }},
	{"of another project", "not as what it is", func(k *spoiler) bool { k.s.Operations[0].Project += "x"; return true }},
	{"of another title", "not as what it is", func(k *spoiler) bool { k.s.Operations[0].Title += "x"; return true }},
	{"listed in another order", "listed before", func(k *spoiler) bool {
		for i := 1; i < len(k.s.Operations); i++ {
			if a, b := &k.s.Operations[i-1], &k.s.Operations[i]; a.Start.Before(b.Start) {
				*a, *b = *b, *a
				return true
			}
		}
		return false
	}},

	{"off the grid", "off the grid", asked((*spoiler).worked, func(k *spoiler, o *plan.Operation, x *plan.Scheduled) { shift(x, time.Minute); k.inOrder() })},
	{"a step short", "worked on for|is empty", asked((*spoiler).worked, func(k *spoiler, o *plan.Operation, x *plan.Scheduled) {
		x.End = x.End.Add(-grid)
		x.Spans[len(x.Spans)-1].To = x.End
	})},
	{"a minute more is asked for", "worked on for", asked(fits(func(o *plan.Operation, x *plan.Scheduled) bool { return o.Duration > 0 && o.Duration%plan.Grid == 0 }),
		func(k *spoiler, o *plan.Operation, x *plan.Scheduled) { o.Duration++ })},
	{"a step less is asked for", "worked on for", asked(fits(func(o *plan.Operation, x *plan.Scheduled) bool { return o.Duration > plan.Grid }),
		func(k *spoiler, o *plan.Operation, x *plan.Scheduled) { o.Duration -= plan.Grid })},
	{"no spans", "spans do not run", asked((*spoiler).worked, func(k *spoiler, o *plan.Operation, x *plan.Scheduled) { x.Spans = nil })},
	{"before dawn", "closed hours", asked((*spoiler).worked, func(k *spoiler, o *plan.Operation, x *plan.Scheduled) {
		zone, _ := time.LoadLocation(k.p.Calendar.Zone)
		y, m, d := x.Start.In(zone).Date()
		x.Start = time.Date(y, m, d+1, 6, 30, 0, 0, zone)
		x.End = x.Start.Add(time.Duration((o.Duration+4)/5) * grid)
		x.Spans = []plan.Span{{From: x.Start, To: x.End}}
		k.inOrder()
	})},
	{"the day is closed", "closed hours|in truth|goes on", asked(func(k *spoiler) (*plan.Operation, *plan.Scheduled) {
		zone, _ := time.LoadLocation(k.p.Calendar.Zone)
		return k.planned(func(o *plan.Operation, x *plan.Scheduled) bool {
			return x.Start.In(zone).Hour() < 18 && x.Start.In(zone).Hour() > 6
		})
	}, func(k *spoiler, o *plan.Operation, x *plan.Scheduled) {
		zone, _ := time.LoadLocation(k.p.Calendar.Zone)
		k.p.Calendar.Closed = append(k.p.Calendar.Closed, x.Start.In(zone).Format(time.DateOnly))
	})},
	{"no overtime", "closed hours|pauses|in truth", asked(func(k *spoiler) (*plan.Operation, *plan.Scheduled) {
		zone, _ := time.LoadLocation(k.p.Calendar.Zone)
		return k.planned(func(o *plan.Operation, x *plan.Scheduled) bool {
			return x.Start.In(zone).Hour() >= 19 && x.Start.In(zone).Hour() < 21
		})
	}, func(k *spoiler, o *plan.Operation, x *plan.Scheduled) { k.p.Calendar.Extra = nil })},
	{"as if clocks never changed", "closed hours|pauses|in truth", asked(func(k *spoiler) (*plan.Operation, *plan.Scheduled) {
		zone, _ := time.LoadLocation(k.p.Calendar.Zone)
		return k.planned(func(o *plan.Operation, x *plan.Scheduled) bool { // summer's first hour is closed in winter
			return winter[zone.String()] != "" && slices.ContainsFunc(x.Spans, func(s plan.Span) bool {
				at := s.From.In(zone)
				return at.IsDST() && at.Hour() == 9 && at.Minute() < 55
			})
		})
	}, func(k *spoiler, o *plan.Operation, x *plan.Scheduled) { k.p.Calendar.Zone = winter[k.p.Calendar.Zone] })},
	{"the shop opens later", "the plan's start", func(k *spoiler) bool {
		i := slices.IndexFunc(k.s.Operations, func(x plan.Scheduled) bool { return k.ask(x.ID).Started.IsZero() })
		if i < 0 || k.history() {
			return false
		}
		k.p.Start = k.s.Operations[i].Start.Add(time.Second)
		return true
	}},
	{"released later", "its release", asked(fits(func(o *plan.Operation, x *plan.Scheduled) bool { return true }),
		func(k *spoiler, o *plan.Operation, x *plan.Scheduled) { o.Release = x.Start.Add(time.Second) })},
	{"its project released later", "release of its project", asked(fits(func(o *plan.Operation, x *plan.Scheduled) bool { return o.Project != "C" }),
		func(k *spoiler, o *plan.Operation, x *plan.Scheduled) {
			for i := range k.p.Projects {
				if k.p.Projects[i].ID == o.Project {
					k.p.Projects[i].Release = x.Start.Add(time.Second)
				}
			}
			for i := range k.p.Operations {
				k.p.Operations[i].Release = time.Time{}
			}
		})},
	{"in one go", "must be done in one go", asked(fits(func(o *plan.Operation, x *plan.Scheduled) bool { return len(x.Spans) > 1 }),
		func(k *spoiler, o *plan.Operation, x *plan.Scheduled) { o.Whole = true })},
	{"parted within a shift", "not from closing time", asked(fits(func(o *plan.Operation, x *plan.Scheduled) bool {
		return !o.Whole && x.Spans[0].To.Sub(x.Spans[0].From) > grid
	}), func(k *spoiler, o *plan.Operation, x *plan.Scheduled) {
		mid := x.Spans[0].From.Add(grid)
		x.Spans = slices.Insert(x.Spans, 1, plan.Span{From: mid, To: x.Spans[0].To})
		x.Spans[0].To = mid
	})},
	{"goes on a step late", "not from closing time|closed hours", asked(fits(func(o *plan.Operation, x *plan.Scheduled) bool { return len(x.Spans) > 1 }),
		func(k *spoiler, o *plan.Operation, x *plan.Scheduled) {
			last := &x.Spans[len(x.Spans)-1]
			last.From, last.To = last.From.Add(grid), last.To.Add(grid)
			x.End = last.To
		})},
	{"stops a step early", "not from closing time", asked(fits(func(o *plan.Operation, x *plan.Scheduled) bool {
		return len(x.Spans) > 1 && x.Spans[0].To.Sub(x.Spans[0].From) > grid
	}), func(k *spoiler, o *plan.Operation, x *plan.Scheduled) { x.Spans[0].To = x.Spans[0].To.Add(-grid) })},

	{"begun work lasts a step longer", "in truth", asked(begun(anyBegun), func(k *spoiler, o *plan.Operation, x *plan.Scheduled) {
		x.End = x.End.Add(grid)
		x.Spans[len(x.Spans)-1].To = x.End
	})},
	{"begun work moved", "in truth", asked(begun(anyBegun), func(k *spoiler, o *plan.Operation, x *plan.Scheduled) { shift(x, -grid); k.inOrder() })},
	{"begun work was another", "in truth", asked(begun(func(o *plan.Operation) bool { return !o.Finished.IsZero() }),
		func(k *spoiler, o *plan.Operation, x *plan.Scheduled) { o.Finished = o.Finished.Add(grid) })},
	{"history in two spans", "spans", asked(begun(func(o *plan.Operation) bool { return !o.Finished.IsZero() }),
		func(k *spoiler, o *plan.Operation, x *plan.Scheduled) {
			x.Spans = append(x.Spans, plan.Span{From: x.End, To: x.End})
		})},
	{"running work takes longer", "in truth|goes on", asked(begun(func(o *plan.Operation) bool { return o.Finished.IsZero() && o.Duration > 0 }),
		func(k *spoiler, o *plan.Operation, x *plan.Scheduled) { o.Duration += 6000 })},
	{"begun by another", "has begun with", asked(begun(func(o *plan.Operation) bool { return len(o.By) > 0 }),
		func(k *spoiler, o *plan.Operation, x *plan.Scheduled) { x.Resources = []string{"maker1"} })},
	{"begun work waits", "has begun and is said to wait", asked(begun(anyBegun),
		func(k *spoiler, o *plan.Operation, x *plan.Scheduled) { x.Wait = &plan.Wait{Why: plan.WaitRelease} })},

	{"nobody", "kinds", asked((*spoiler).worked, func(k *spoiler, o *plan.Operation, x *plan.Scheduled) { x.Resources = nil })},
	{"one too many", "kinds", asked((*spoiler).worked, func(k *spoiler, o *plan.Operation, x *plan.Scheduled) { x.Resources = append(x.Resources, "maker1") })},
	{"another kind", "kinds", asked((*spoiler).worked, func(k *spoiler, o *plan.Operation, x *plan.Scheduled) { x.Resources[0] = "shelf" })},
	{"someone else's", "none of the studio's", asked((*spoiler).worked, func(k *spoiler, o *plan.Operation, x *plan.Scheduled) { x.Resources[0] = "maker9" })},
	{"without the skill", "skill", asked(fits(func(o *plan.Operation, x *plan.Scheduled) bool { return o.Needs[0].Skill != "" }),
		func(k *spoiler, o *plan.Operation, x *plan.Scheduled) {
			for i := range k.p.Resources {
				k.p.Resources[i].Skills = nil
			}
		})},
	{"a skill for one of two", "skill", asked(fits(func(o *plan.Operation, x *plan.Scheduled) bool {
		return len(o.Needs) == 2 && o.Needs[1].Kind == "maker"
	}), func(k *spoiler, o *plan.Operation, x *plan.Scheduled) {
		o.Needs[0].Skill, o.Needs[1].Skill = "spray", "spray"
	})},
	{"promised for a second", "capacity", asked((*spoiler).worked, func(k *spoiler, o *plan.Operation, x *plan.Scheduled) { k.promise(x.Resources[0], x.Start) })},
	{"promised for its last second", "capacity", asked((*spoiler).worked, func(k *spoiler, o *plan.Operation, x *plan.Scheduled) {
		k.promise(x.Resources[len(x.Resources)-1], x.End.Add(-time.Second))
	})},
	{"two at once", "capacity", func(k *spoiler) bool {
		anybody := func(x *plan.Scheduled) int { // whoever does it alone, without a skill of theirs
			o := k.ask(x.ID)
			if !o.Started.IsZero() || o.Needs[0].Skill != "" || len(o.Needs) > 1 && o.Needs[1].Kind == "maker" {
				return -1
			}
			return slices.IndexFunc(x.Resources, func(r string) bool { return strings.HasPrefix(r, "maker") })
		}
		for i := range k.s.Operations {
			for j := range i {
				x, y := &k.s.Operations[i], &k.s.Operations[j]
				a, b := anybody(x), anybody(y)
				if a >= 0 && b >= 0 && slices.ContainsFunc(y.Spans, func(s plan.Span) bool {
					return slices.ContainsFunc(x.Spans, func(r plan.Span) bool { return r.From.Before(s.To) && s.From.Before(r.To) })
				}) {
					y.Resources[b] = x.Resources[a]
					return true
				}
			}
		}
		return false
	}},
	{"one place fewer", "capacity", func(k *spoiler) bool { // where all places of a bench are used at once
		i := slices.IndexFunc(k.p.Resources, func(r plan.Resource) bool { return r.ID == "bench" })
		used := func(at time.Time) (n int) {
			for _, x := range k.s.Operations {
				if slices.Contains(x.Resources, "bench") && slices.ContainsFunc(x.Spans, func(s plan.Span) bool { return !at.Before(s.From) && at.Before(s.To) }) {
					n++
				}
			}
			return n
		}
		c := k.p.Resources[i].Capacity
		if o, _ := k.planned(func(o *plan.Operation, x *plan.Scheduled) bool {
			return c > 1 && slices.ContainsFunc(x.Spans, func(s plan.Span) bool { return used(s.From) == c })
		}); o == nil {
			return false
		}
		k.p.Resources[i].Capacity--
		return true
	}},
	{"nowhere to cure", "need a place", asked(fits(func(o *plan.Operation, x *plan.Scheduled) bool { return x.Rack != "" }),
		func(k *spoiler, o *plan.Operation, x *plan.Scheduled) { x.Rack = "" })},
	{"curing in the booth", "need a place", asked(fits(func(o *plan.Operation, x *plan.Scheduled) bool { return x.Rack != "" }),
		func(k *spoiler, o *plan.Operation, x *plan.Scheduled) { x.Rack = "booth" })},
	{"a place for nothing", "needs none", asked(fits(func(o *plan.Operation, x *plan.Scheduled) bool { return x.Rack == "" }),
		func(k *spoiler, o *plan.Operation, x *plan.Scheduled) { x.Rack = "line" })},
	{"the rack is promised", "capacity", asked(fits(func(o *plan.Operation, x *plan.Scheduled) bool { return x.Rack != "" }),
		func(k *spoiler, o *plan.Operation, x *plan.Scheduled) { k.promise(x.Rack, x.End) })},

	{"least lag a minute longer", "at the earliest", lagged(func(k *spoiler, x *plan.Scheduled, l *plan.Lag) bool {
		end := k.got(l.After).End
		if f := k.ask(l.After).Finished; !f.IsZero() {
			end = f
		}
		*l = plan.Lag{After: l.After, Min: plan.Minutes(x.Start.Sub(end)/time.Minute) + 1}
		return true
	})},
	{"a new predecessor", "at the earliest", func(k *spoiler) bool {
		o, x := k.worked()
		if o == nil {
			return false
		}
		_, y := k.planned(func(q *plan.Operation, y *plan.Scheduled) bool { return q != o && x.Start.Before(y.End) })
		if y == nil {
			return false
		}
		o.After = append(o.After, plan.Lag{After: y.ID})
		return true
	}},
	{"a window closes before", "does not say|not that", lagged(func(k *spoiler, x *plan.Scheduled, l *plan.Lag) bool {
		l.Windows = []plan.LagWindow{{To: 1}}
		return x.Start.After(k.got(l.After).End)
	})},
	{"a minute past the window", "does not say|not that", lagged(func(k *spoiler, x *plan.Scheduled, l *plan.Lag) bool {
		at := x.Start.Sub(k.got(l.After).End)
		l.Windows = []plan.LagWindow{{From: 5, To: plan.Minutes(at/time.Minute) - 1}}
		return at >= 3*grid && k.ask(l.After).Started.IsZero()
	})},
	{"between two windows", "does not say|not that", lagged(func(k *spoiler, x *plan.Scheduled, l *plan.Lag) bool {
		at := plan.Minutes(x.Start.Sub(k.got(l.After).End) / time.Minute)
		l.Windows = []plan.LagWindow{{From: at + 1}, {To: at - 1}}
		return at > 0 && k.ask(l.After).Started.IsZero()
	})},
	{"pinned a step later", "does not say|not that", asked(fits(func(o *plan.Operation, x *plan.Scheduled) bool { return o.Pinned.IsZero() }),
		func(k *spoiler, o *plan.Operation, x *plan.Scheduled) { o.Pinned = x.Start.Add(time.Second) })},
	{"a breach invented", "which none is", func(k *spoiler) bool { k.s.Broken = append(k.s.Broken, `"op0" waits`); return true }},
	{"a breach kept quiet", "does not say", func(k *spoiler) bool {
		if len(k.s.Broken) == 0 {
			return false
		}
		k.s.Broken = nil
		return true
	}},
	{"another breach", "not that", func(k *spoiler) bool {
		if len(k.s.Broken) == 0 {
			return false
		}
		k.s.Broken[0] = strings.ReplaceAll(k.s.Broken[0], "op", "po")
		return true
	}},

	{"the cure is gone", "the cure after", asked(cured, func(k *spoiler, o *plan.Operation, x *plan.Scheduled) { x.Cure = nil })},
	{"ready a step early", "the cure after", asked(cured, func(k *spoiler, o *plan.Operation, x *plan.Scheduled) { x.Cure.Ready = x.Cure.Ready.Add(-grid) })},
	{"cures from a step later", "the cure after", asked(cured, func(k *spoiler, o *plan.Operation, x *plan.Scheduled) { x.Cure.From = x.Cure.From.Add(grid) })},
	{"open a step longer", "the cure after", asked(cured, func(k *spoiler, o *plan.Operation, x *plan.Scheduled) {
		x.Cure.Latest = latestOr(x.Cure.Latest, x.Cure.Ready).Add(grid)
	})},
	{"another substance", "the cure after", asked(cured, func(k *spoiler, o *plan.Operation, x *plan.Scheduled) { x.Cure.Material += "x" })},
	{"a cure of nothing", "though nothing does", func(k *spoiler) bool {
		_, x := k.some(func(o *plan.Operation, x *plan.Scheduled) bool { return x.Cure == nil })
		if x == nil {
			return false
		}
		x.Cure = &plan.Cure{Material: "glue", From: x.End, Ready: x.End}
		return true
	}},

	{"an earlier end", "the plan ends", func(k *spoiler) bool { k.s.End = k.s.End.Add(-grid); return true }},
	{"a longer tail", "the plan ends|ends at|the cure after", func(k *spoiler) bool {
		o, _ := k.some(func(o *plan.Operation, x *plan.Scheduled) bool {
			return o.Tail > 0 && o.TailRack == "" && x.Cure.Material == "varnish"
		})
		if o == nil {
			return false
		}
		o.Tail += 5
		return true
	}},
	{"ends before it can", "lower bound", func(k *spoiler) bool { k.s.LowerBound = k.s.End.Add(time.Second); return true }},
	{"percents out of order", "not in order", func(k *spoiler) bool { k.s.P50 = k.s.P95.Add(time.Hour); return true }},
	{"handed over before dawn", "first time somebody is there", func(k *spoiler) bool {
		zone, _ := time.LoadLocation(k.p.Calendar.Zone)
		y, m, d := k.s.P95.In(zone).Date()
		k.s.P95 = time.Date(y, m, d+1, 6, 30, 0, 0, zone)
		return true
	}},
	{"a project ends earlier", "by its times at", dated(func(d *plan.Dates) { d.End = d.End.Add(-grid) })},
	{"a project's percents out of order", "not in order", dated(func(d *plan.Dates) { d.P80 = d.P50.Add(-time.Hour) })},
	{"a project after all of them", "later than everything", dated(func(d *plan.Dates) { d.P95 = d.P95.AddDate(1, 0, 0) })},
	{"no share missed", "no shares", dated(func(d *plan.Dates) { d.Missed = 1.01 })},
	{"no share kept", "no shares", dated(func(d *plan.Dates) { d.Kept = -0.01 })},
	{"kept without a date", "no date to keep", func(k *spoiler) bool {
		for i := range k.p.Projects {
			k.p.Projects[i].Due = time.Time{}
		}
		k.s.Dates[0].Kept = 0.5
		return true
	}},
	{"dates of another", "in the place of", dated(func(d *plan.Dates) { d.Project += "x" })},
	{"dates of one too few", "has dates of", func(k *spoiler) bool { k.s.Dates = k.s.Dates[1:]; return true }},
	{"an objective better than it is", "objective", func(k *spoiler) bool {
		i := slices.IndexFunc(k.s.Objectives, func(x plan.Objective) bool { return x.Name == plan.Moves })
		if i >= 0 {
			k.s.Objectives = slices.Clone(k.s.Objectives)
			k.s.Objectives[i].Value--
		}
		return i >= 0
	}},
	{"an objective left out", "objective", func(k *spoiler) bool {
		k.s.Objectives = k.s.Objectives[1:]
		return true
	}},
	{"one change too many", "changes of set-up", func(k *spoiler) bool { k.s.Changes++; return true }},

	{"waits for a stranger", "said to wait", asked(waiting(func(w *plan.Wait) bool { return w.For != "" }),
		func(k *spoiler, o *plan.Operation, x *plan.Scheduled) { x.Wait.For = "x" })},
	{"waits for itself", "said to wait", asked(waiting(func(w *plan.Wait) bool { return w.For != "" }),
		func(k *spoiler, o *plan.Operation, x *plan.Scheduled) { x.Wait.For = x.ID })},
	{"waits for the last", "said to wait", func(k *spoiler) bool {
		_, x := waiting(func(w *plan.Wait) bool { return w.For != "" })(k)
		if x == nil {
			return false
		}
		last := slices.MaxFunc(k.s.Operations, func(a, b plan.Scheduled) int { return a.End.Compare(b.End) })
		if !last.End.After(x.End) {
			return false
		}
		x.Wait.For = last.ID
		return true
	}},
	{"waits for what was over before", "did not wait for last", func(k *spoiler) bool {
		opens := func(l plan.Lag) time.Time { return k.got(l.After).End.Add(time.Duration((l.Min+4)/5) * grid) }
		before := func(o *plan.Operation) int { // a lag that was over before another
			return slices.IndexFunc(o.After, func(a plan.Lag) bool {
				return a.Windows == nil && k.ask(a.After).Started.IsZero() && slices.ContainsFunc(o.After, func(b plan.Lag) bool {
					return b.Windows == nil && k.ask(b.After).Started.IsZero() && opens(a).Before(opens(b))
				})
			})
		}
		o, x := k.planned(func(o *plan.Operation, x *plan.Scheduled) bool { return before(o) >= 0 })
		if o == nil {
			return false
		}
		l := o.After[before(o)]
		x.Wait = &plan.Wait{For: l.After, Why: plan.WaitOrder}
		if l.Min > 0 {
			x.Wait.Why = plan.WaitCure
		}
		return true
	}},
	{"waits for a cure that is none", "said to wait", asked(waiting(func(w *plan.Wait) bool { return w.Why == plan.WaitOrder }),
		func(k *spoiler, o *plan.Operation, x *plan.Scheduled) { x.Wait.Why = plan.WaitCure })},
	{"waits for no cure", "said to wait", asked(waiting(func(w *plan.Wait) bool { return w.Why == plan.WaitCure }),
		func(k *spoiler, o *plan.Operation, x *plan.Scheduled) { x.Wait.Why = plan.WaitOrder })},
	{"waits for no release", "said to wait", asked(fits(func(o *plan.Operation, x *plan.Scheduled) bool {
		return o.Release.IsZero() && o.Pinned.IsZero() && o.Project == "C"
	}), func(k *spoiler, o *plan.Operation, x *plan.Scheduled) { x.Wait = &plan.Wait{Why: plan.WaitRelease} })},
	{"waits for what it lacks", "said to wait", asked((*spoiler).worked,
		func(k *spoiler, o *plan.Operation, x *plan.Scheduled) {
			x.Wait = &plan.Wait{Why: "maker9", For: k.s.Operations[0].ID}
		})},
	{"waits for no promise", "said to wait", asked((*spoiler).worked, func(k *spoiler, o *plan.Operation, x *plan.Scheduled) {
		k.p.Busy = slices.DeleteFunc(k.p.Busy, func(b plan.Busy) bool { return b.Resource == x.Resources[0] })
		for i := range k.s.Operations {
			k.s.Operations[i].Wait = nil
		}
		x.Wait = &plan.Wait{Why: x.Resources[0]}
	})},
	{"an offset is broken", "starts when it does", func(k *spoiler) bool {
		o, x := k.worked()
		if o == nil || len(k.s.Operations) < 2 {
			return false
		}
		other := k.s.Operations[0]
		for _, y := range k.s.Operations {
			if y.ID != x.ID {
				other = y
			}
		}
		o.Offsets = append(o.Offsets, plan.Offset{From: other.ID, Least: plan.Minutes(x.Start.Sub(other.Start)/time.Minute) + 1})
		return true
	}},
	{"an offset from nothing", "tied to", asked((*spoiler).worked, func(k *spoiler, o *plan.Operation, x *plan.Scheduled) {
		o.Offsets = append(o.Offsets, plan.Offset{From: "x"})
	})},
	{"waits for the earlier of two offsets", "said to wait", func(k *spoiler) bool {
		o, x := k.worked()
		if o == nil {
			return false
		}
		before := plan.Minutes(10) // its start
		for _, y := range k.s.Operations {
			if y.ID != x.ID && len(o.Offsets) < 2 && !slices.ContainsFunc(o.After, func(l plan.Lag) bool { return l.After == y.ID }) {
				o.Offsets = append(o.Offsets, plan.Offset{From: y.ID, Least: plan.Minutes(x.Start.Sub(y.Start)/time.Minute) - before})
				before = 0
			}
		}
		if len(o.Offsets) < 2 {
			return false
		}
		x.Wait = &plan.Wait{For: o.Offsets[0].From, Why: plan.WaitOrder}
		return true
	}},
	{"the last is not critical", "critical", func(k *spoiler) bool {
		n := 0
		for i := range k.s.Operations {
			if x := &k.s.Operations[i]; x.Critical && x.End.After(k.p.Start) {
				x.Critical = false
				n++
			}
		}
		return n > 0
	}},
}

// lagged makes a spoiling of a lag that occupies no rack.
func lagged(spoil func(*spoiler, *plan.Scheduled, *plan.Lag) bool) func(*spoiler) bool {
	free := func(l plan.Lag) bool { return l.Rack == "" }
	return func(k *spoiler) bool {
		o, x := k.planned(func(o *plan.Operation, x *plan.Scheduled) bool { return slices.ContainsFunc(o.After, free) })
		return o != nil && len(k.s.Broken) == 0 && spoil(k, x, &o.After[slices.IndexFunc(o.After, free)])
	}
}

func cured(k *spoiler) (*plan.Operation, *plan.Scheduled) {
	return k.some(func(o *plan.Operation, x *plan.Scheduled) bool { return x.Cure != nil })
}

func waiting(f func(*plan.Wait) bool) func(*spoiler) (*plan.Operation, *plan.Scheduled) {
	return func(k *spoiler) (*plan.Operation, *plan.Scheduled) {
		return k.planned(func(o *plan.Operation, x *plan.Scheduled) bool { return x.Wait != nil && f(x.Wait) })
	}
}

func latestOr(t, or time.Time) time.Time {
	if t.IsZero() {
		return or
	}
	return t
}

// Every way to spoil a plan is refused, for its own reason, in plans of many shops.
func TestSpoiledPlansAreRefused(t *testing.T) {
	const shops, least = 160, 3
	var ways []gaugetest.Spoiling[both]
	for _, c := range spoilings {
		ways = append(ways, gaugetest.Spoiling[both]{Name: c.name, Words: c.words, Spoil: func(rng *rand.Rand, b *both) bool {
			k := &spoiler{p: b.P, s: b.S, rng: rng}
			done := c.spoil(k)
			b.P, b.S = k.p, k.s
			return done
		}})
	}
	times := map[string]int{}
	drawn := rapid.Custom(shop)
	for seed := range shops {
		p := drawn.Example(seed)
		s, err := schedule.Solve(context.Background(), p, nil)
		if err != nil {
			continue // TestWhatThePlannerMakes says which may be refused
		}
		gaugetest.Spoiled(t, both{P: p, S: s}, uint64(seed), ways, func(b both) error { return check.Plan(b.P, b.S) }, times)
	}
	gaugetest.Often(t, ways, times, least)
}
