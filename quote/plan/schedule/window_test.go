package schedule

import (
	"fmt"
	"testing"
	"time"

	"pgregory.net/rapid"

	"benchbell/quote/plan"
)

// best tries every start on half hours for a chain of whole operations with one maker and returns the earliest end
// that keeps all windows, or false without one in eight days. Where all figures are multiples of half an hour, so is
// some earliest schedule.
func best(p plan.Problem) (time.Time, bool) {
	const step = 30 * time.Minute
	open := func(from, to time.Time) bool {
		for at := from; at.Before(to); at = at.Add(step) {
			m := at.Hour()*60 + at.Minute()
			if at.Weekday() == time.Saturday || at.Weekday() == time.Sunday || m < 540 || m >= 1080 || m >= 780 && m < 840 {
				return false
			}
			if m == 840 && at.After(from) { // over the break
				return false
			}
			for _, b := range p.Busy {
				if at.Before(b.To) && b.From.Before(at.Add(step)) {
					return false
				}
			}
		}
		return true
	}
	limit := p.Start.AddDate(0, 0, 8)
	var end time.Time
	found := false
	var place func(i int, before time.Time)
	place = func(i int, before time.Time) {
		if i == len(p.Operations) {
			if !found || before.Before(end) {
				end, found = before, true
			}
			return
		}
		o := p.Operations[i]
		for at := before; at.Before(limit) && (!found || at.Before(end)); at = at.Add(step) {
			ok := i == 0
			if i > 0 {
				d := plan.Minutes(at.Sub(before) / time.Minute)
				l := o.After[0]
				for _, w := range append([]plan.LagWindow{{From: l.Min, To: l.Max}}, l.Windows...)[min(1, len(l.Windows)):] {
					ok = ok || d >= w.From && (w.To == 0 || d <= w.To)
				}
			}
			if done := at.Add(time.Duration(o.Duration) * time.Minute); ok && open(at, done) {
				place(i+1, done)
			}
		}
	}
	place(0, p.Start)
	return end, found
}

// Against trying everything: a chain of coats gets its earliest end, windows with a forbidden middle included.
func TestChainOfCoatsAgainstTryingEverything(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		half := func(from, to int, label string) plan.Minutes {
			return plan.Minutes(30 * rapid.IntRange(from, to).Draw(t, label))
		}
		p := plan.Problem{Start: time.Date(2026, 6, 1, 9, 0, 0, 0, time.UTC).Add(time.Duration(half(0, 120, "start")) * time.Minute),
			Calendar: weekdays("UTC"), Resources: maker(1), Schedules: 60}
		for i := range rapid.IntRange(1, 3).Draw(t, "n") {
			o := plan.Operation{ID: fmt.Sprint("coat", i+1), Duration: half(1, 5, "duration"), Needs: byMaker, Whole: true}
			if i > 0 {
				l := plan.Lag{After: fmt.Sprint("coat", i), Min: half(0, 8, "min")}
				switch rapid.IntRange(0, 2).Draw(t, "kind") {
				case 0:
					l.Max = l.Min + half(1, 10, "width")
				case 1:
					first := half(1, 6, "first")
					l = plan.Lag{After: l.After, Windows: []plan.LagWindow{{From: 0, To: first}, {From: first + half(1, 96, "middle")}}}
				}
				o.After = []plan.Lag{l}
			}
			p.Operations = append(p.Operations, o)
		}
		for range rapid.IntRange(0, 3).Draw(t, "busy") {
			from := p.Start.Add(time.Duration(half(0, 96, "from")) * time.Minute)
			p.Busy = append(p.Busy, plan.Busy{Resource: "maker1", From: from, To: from.Add(time.Duration(half(1, 8, "length")) * time.Minute)})
		}
		want, ok := best(p)
		s := solve(t, p)
		if !ok {
			return
		}
		if len(s.Broken) > 0 || !s.End.Equal(want) {
			t.Fatalf("ends %s with broken %q, possible is %s", s.End, s.Broken, want)
		}
	})
}

// A first window that nothing can keep gives way to the next one instead of breaking.
func TestFirstWindowGivesWay(t *testing.T) {
	p := plan.Problem{Start: time.Date(2026, 6, 1, 9, 0, 0, 0, time.UTC), Calendar: weekdays("UTC"), Resources: append(maker(1), plan.Resource{ID: "booth", Kind: "booth", Capacity: 1}),
		Operations: []plan.Operation{
			{ID: "coat1", Duration: 30, Needs: byMaker, Whole: true},
			{ID: "coat2", Duration: 30, Needs: byMaker, Whole: true, After: []plan.Lag{{After: "coat1", Windows: []plan.LagWindow{{From: 360, To: 390}, {From: 2880}}}}},
		}}
	// mornings only: six hours after a coat the shop is closed
	p.Calendar.Shifts = []plan.Shift{{Weekday: time.Monday, From: 540, To: 720}, {Weekday: time.Tuesday, From: 540, To: 720}, {Weekday: time.Wednesday, From: 540, To: 720}, {Weekday: time.Thursday, From: 540, To: 720}}
	m, err := compile(&p)
	if err != nil {
		t.Fatal(err)
	}
	g := newGenerator(m)
	g.wanted[0] = 1
	if err := g.run([]int{0, 1}); err != nil {
		t.Fatal(err)
	}
	if g.broken != 0 || !g.start[1].time().Equal(time.Date(2026, 6, 3, 9, 30, 0, 0, time.UTC)) {
		t.Errorf("%d broken, second coat at %s", g.broken, g.start[1].time())
	}
}

// Promises off the grid are kept to the minute: the step that they touch is theirs.
func TestPromisesOffTheGrid(t *testing.T) {
	p := plan.Problem{Start: time.Date(2026, 6, 1, 9, 0, 0, 0, time.UTC), Calendar: weekdays("UTC"), Resources: maker(1),
		Operations: []plan.Operation{{ID: "a", Duration: 60, Needs: byMaker, Whole: true}, {ID: "b", Duration: 60, Needs: byMaker, Whole: true}}}
	day := time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)
	p.Busy = []plan.Busy{{Resource: "maker1", From: day.Add(9*time.Hour + 59*time.Minute), To: day.Add(10*time.Hour + 31*time.Minute)}}
	s := solve(t, p)
	at(t, "no hour is left before the promise", s.Operations[0].Start, "2026-06-01T10:35:00Z")
}

// A window that cannot be kept delays nothing else: a chain of coats that takes longer than the day in which all of it would have to
// be is worked off in the first days, not once every push has been tried.
func TestHopelessWindowDelaysNothing(t *testing.T) {
	p := plan.Problem{Start: time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC), Calendar: weekdays("UTC"), Resources: append(maker(1), plan.Resource{ID: "booth", Kind: "booth", Capacity: 1})}
	add := func(id string, after ...plan.Lag) {
		p.Operations = append(p.Operations, plan.Operation{ID: id, Duration: 90, Whole: true, Needs: []plan.Need{{Kind: "maker"}, {Kind: "booth"}}, After: after})
	}
	add("a1")
	add("a2", plan.Lag{After: "a1", Min: 150, Max: 870})
	add("a3", plan.Lag{After: "a2", Max: 540})
	add("a4", plan.Lag{After: "a3", Min: 30, Max: 480})
	for i := range 14 { // other work, so that the exact search leaves it alone
		add(fmt.Sprint("b", i+1))
	}
	p.Schedules = 60
	s := solve(t, p)
	if len(s.Broken) != 1 {
		t.Errorf("broken: %q", s.Broken)
	}
	if late := s.End.Sub(p.Start); late > 8*24*time.Hour { // 27 hours of work are four days of eight
		t.Errorf("all is done after %s", late)
	}
}
