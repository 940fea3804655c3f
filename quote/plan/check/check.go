// Package check looks at a plan and says whether it is one for its problem.
//
// It reads the problem and the plan as they are written, counts the shop's hours by itself, and follows the rules that
// package plan states beside its words. It refuses the first fault that it finds, naming operation, times and what would be
// right. What always holds: it takes no plan in which something was rounded, forgotten or moved against those rules, whoever
// made it, and looks at any plan to an end, however wrong. Whether another plan would be better, it leaves alone.
//
// Shares with what it checks: the words of package plan and the time zones of the standard library, and nothing else.
package check

import (
	"fmt"
	"slices"
	"time"

	"benchbell/quote/plan"
)

const (
	step = time.Duration(plan.Grid) * time.Minute
	// farthest is how far from its start a plan is looked at: four times as far as any shop plans, and near enough that
	// the days between can be gone through.
	farthest = 20 * 366 * 24 * time.Hour
)

// down is the last moment of the grid at or before t, up the first at or after it.
func down(t time.Time) time.Time { return t.Truncate(step) }

func up(t time.Time) time.Time {
	if d := down(t); d.Before(t) {
		return d.Add(step)
	}
	return t
}

// minutes is a duration of the problem, whole is one of work or of a tail: rounded up to the grid.
func minutes(m plan.Minutes) time.Duration { return time.Duration(m) * time.Minute }

func whole(m plan.Minutes) time.Duration {
	if over := m % plan.Grid; over > 0 {
		m += plan.Grid - over
	}
	return minutes(m)
}

func clock(t time.Time) string { return t.UTC().Format("2006-01-02 15:04:05Z") }

// latest is the latest of some moments.
func latest(first time.Time, rest ...time.Time) time.Time {
	for _, t := range rest {
		if t.After(first) {
			first = t
		}
	}
	return first
}

// work is an operation as asked for and as planned.
type work struct {
	ask     plan.Operation
	got     plan.Scheduled
	began   bool      // it has real clocks
	from    time.Time // its lags count from here: its real end once it is done, in whole seconds, else its planned one
	lags    []lag     // those it waits for, as in ask.After
	offsets []offset  // as in ask.Offsets
	next    []next    // those that wait for it, in the problem's order
}

type next struct{ work, lag int }

func (w *work) name() string {
	if w.ask.Title == "" || w.ask.Title == w.ask.ID {
		return fmt.Sprintf("operation %q", w.ask.ID)
	}
	return fmt.Sprintf("operation %q (%s)", w.ask.Title, w.ask.ID)
}

// over is when everything of it is done, its tail too.
func (w *work) over() time.Time { return w.got.End.Add(whole(w.ask.Tail)) }

// checker is a problem and its plan, laid side by side.
type checker struct {
	p         plan.Problem
	s         plan.Solution
	start     time.Time
	hours     hours
	work      []work // in the problem's order
	index     map[string]int
	resources map[string]plan.Resource
	projects  map[string]plan.Project
}

// Plan says whether s is a plan for p, and if not, what is wrong with it first. Looked at are
//
//   - that every operation is there once, under its own names, in order of start;
//   - that it is worked on in open hours, on the grid, for its whole duration, from the plan's start and its releases on, in
//     one shift where it must be, and otherwise pausing only from closing time to the next opening;
//   - that what was begun or done stands as it was, and that what is running goes on for what is left of it;
//   - that it has the resources it needs, each with its skill, and a place for its cures, and that no resource has more than its
//     capacity together with what is promised, wherever something planned has it (what has begun may: it is so);
//   - that no offset is broken and no least lag shortened, and that every window and pin missed is told in Broken, and none else;
//   - that cures, ends, dates, changes of set-up, waits, what is critical and what the plan is said to be worth can follow from the
//     times.
//
// An error that begins with "the problem" says that p cannot be read.
func Plan(p plan.Problem, s plan.Solution) error {
	c := checker{p: p, s: s, start: up(p.Start)}
	for _, look := range []func() error{c.gather, c.clocks, c.tie, c.times, c.needs, c.kept, c.capacity, c.cures, c.dates, c.told, c.objectives} {
		if err := look(); err != nil {
			return err
		}
	}
	return nil
}

// gather lays problem and plan side by side: every operation once, in order of start.
func (c *checker) gather() error {
	c.index = make(map[string]int, len(c.p.Operations))
	c.work = make([]work, len(c.p.Operations))
	for i, o := range c.p.Operations {
		if _, twice := c.index[o.ID]; twice {
			return fmt.Errorf("the problem has operation %q twice", o.ID)
		}
		c.index[o.ID] = i
		c.work[i].ask = o
		c.work[i].began = !o.Started.IsZero()
	}
	c.resources = make(map[string]plan.Resource, len(c.p.Resources))
	for _, r := range c.p.Resources {
		c.resources[r.ID] = r
	}
	c.projects = make(map[string]plan.Project, len(c.p.Projects))
	for _, x := range c.p.Projects {
		c.projects[x.ID] = x
	}
	if len(c.s.Operations) != len(c.work) {
		return fmt.Errorf("the plan has %d operations, the problem %d", len(c.s.Operations), len(c.work))
	}
	seen := make([]bool, len(c.work))
	for k, x := range c.s.Operations {
		i, ok := c.index[x.ID]
		if !ok {
			return fmt.Errorf("the plan has operation %q, which the problem lacks", x.ID)
		}
		if seen[i] {
			return fmt.Errorf("the plan has operation %q twice", x.ID)
		}
		seen[i] = true
		w := &c.work[i]
		w.got = x
		if o := w.ask; x.Title != o.Title || x.Group != o.Group || x.Kind != o.Kind || x.Project != o.Project {
			return fmt.Errorf("%s is planned as %q of group %q, kind %q and project %q, not as what it is", w.name(), x.Title, x.Group, x.Kind, x.Project)
		}
		if k > 0 && x.Start.Before(c.s.Operations[k-1].Start) {
			return fmt.Errorf("%s starts at %s, before %q listed before it", w.name(), clock(x.Start), c.s.Operations[k-1].ID)
		}
	}
	return nil
}

// clocks opens the shop's calendar for all days that the plan touches.
func (c *checker) clocks() error {
	first, last := c.start, c.start
	seen := func(t time.Time) {
		if t.Before(first) {
			first = t
		}
		last = latest(last, t)
	}
	for i := range c.work {
		w := &c.work[i]
		if w.began {
			seen(w.ask.Started)
		}
		for _, x := range w.got.Spans {
			seen(x.To)
		}
	}
	seen(c.s.P95)
	for _, d := range c.s.Dates {
		seen(d.P95)
	}
	if first.IsZero() || c.start.Sub(first) > farthest || last.Sub(c.start) > farthest {
		return fmt.Errorf("the plan reaches from %s to %s, too far to be looked at", clock(first), clock(last))
	}
	var err error
	c.hours, err = open(c.p.Calendar, first, last)
	return err
}

// sorted is the operations in order of start, as numbers in the problem's order.
func (c *checker) sorted() []int {
	order := make([]int, len(c.work))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return c.work[a].got.Start.Compare(c.work[b].got.Start) })
	return order
}
