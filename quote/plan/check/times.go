package check

import (
	"fmt"
	"time"

	"benchbell/quote/plan"
)

// times looks at when each operation is worked on.
func (c *checker) times() error {
	for i := range c.work {
		w := &c.work[i]
		look := c.planned
		switch {
		case !w.ask.Finished.IsZero():
			look = c.done
		case w.began:
			look = c.running
		}
		if err := look(w); err != nil {
			return fmt.Errorf("%s: %w", w.name(), err)
		}
	}
	return nil
}

// planned looks at work that has not begun.
func (c *checker) planned(w *work) error {
	x, spans := w.got, w.got.Spans
	if len(spans) == 0 || !spans[0].From.Equal(x.Start) || !spans[len(spans)-1].To.Equal(x.End) {
		return fmt.Errorf("its spans do not run from its start at %s to its end at %s", clock(x.Start), clock(x.End))
	}
	for _, r := range []struct {
		what string
		t    time.Time
	}{{"the plan's start", c.p.Start}, {"its release", w.ask.Release}, {"the release of its project", c.projects[w.ask.Project].Release}} {
		if x.Start.Before(r.t) {
			return fmt.Errorf("it starts at %s, before %s at %s", clock(x.Start), r.what, clock(r.t))
		}
	}
	if w.ask.Whole && len(spans) > 1 {
		return fmt.Errorf("it is interrupted at %s, it must be done in one go", clock(spans[0].To))
	}
	var sum time.Duration
	last := 0
	for k, s := range spans {
		if !down(s.From).Equal(s.From) || !down(s.To).Equal(s.To) {
			return fmt.Errorf("span %d, %s to %s, is off the grid of %d minutes", k+1, clock(s.From), clock(s.To), plan.Grid)
		}
		if s.To.Before(s.From) || s.To.Equal(s.From) && w.ask.Duration > 0 {
			return fmt.Errorf("span %d, %s to %s, is empty", k+1, clock(s.From), clock(s.To))
		}
		at, ok := c.hours.at(s.From)
		if !ok || s.To.After(c.hours[at].to) {
			return fmt.Errorf("span %d, %s to %s, lies in closed hours", k+1, clock(s.From), clock(s.To))
		}
		if k > 0 && (at != last+1 || !s.From.Equal(c.hours[at].from) || !spans[k-1].To.Equal(c.hours[last].to)) {
			return fmt.Errorf("it pauses from %s to %s, which is not from closing time to the next opening", clock(spans[k-1].To), clock(s.From))
		}
		last = at
		sum += s.To.Sub(s.From)
	}
	if want := whole(w.ask.Duration); sum != want {
		return fmt.Errorf("it is worked on for %s, it takes %s, which is %d minutes up to the grid", sum, want, w.ask.Duration)
	}
	return nil
}

// done looks at work that is over: one span, from its real start to its real end.
func (c *checker) done(w *work) error {
	if !w.began || w.ask.Finished.Before(w.ask.Started) {
		return fmt.Errorf("the problem has it finished at %s and started at %s", clock(w.ask.Finished), clock(w.ask.Started))
	}
	from := down(w.ask.Started)
	return c.asItWas(w, []plan.Span{{From: from, To: latest(from, up(w.ask.Finished))}})
}

// running looks at work that is going on: what it has had of open hours is taken from its duration, and what is left is worked
// from the plan's start on. What is overdue is given one step more.
func (c *checker) running(w *work) error {
	began := down(w.ask.Started)
	all := whole(w.ask.Duration)
	left := max(all-c.hours.between(began, c.start), min(step, all))
	spans, ok := c.hours.fill(c.start, left)
	if !ok {
		return fmt.Errorf("it goes on for %s more and is planned to end at %s, before that", left, clock(w.got.End))
	}
	if spans[0].From.Equal(c.start) {
		spans[0].From = began // it goes on without a break
	} else {
		spans = append([]plan.Span{{From: began, To: c.start}}, spans...)
	}
	return c.asItWas(w, spans)
}

// asItWas compares an operation that has begun with what it has had and has left.
func (c *checker) asItWas(w *work, want []plan.Span) error {
	x := w.got
	start, end := want[0].From, want[len(want)-1].To
	if !x.Start.Equal(start) || !x.End.Equal(end) {
		return fmt.Errorf("it has begun and is planned from %s to %s, in truth it is %s to %s", clock(x.Start), clock(x.End), clock(start), clock(end))
	}
	if len(x.Spans) != len(want) {
		return fmt.Errorf("it has begun and has %d spans, in truth %d", len(x.Spans), len(want))
	}
	for k, s := range x.Spans {
		if !s.From.Equal(want[k].From) || !s.To.Equal(want[k].To) {
			return fmt.Errorf("it has begun and span %d is %s to %s, in truth %s to %s", k+1, clock(s.From), clock(s.To), clock(want[k].From), clock(want[k].To))
		}
	}
	return nil
}
