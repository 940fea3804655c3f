package check_test

import (
	"context"
	"fmt"
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

func moment(t testing.TB, s string) time.Time {
	t.Helper()
	at, err := time.Parse(time.RFC3339, s)
	if err != nil {
		t.Fatal(err)
	}
	return at
}

// berlin is open Monday to Friday, 9 to 13 and 14 to 18 on the wall.
func berlin() plan.Calendar {
	c := plan.Calendar{Zone: "Europe/Berlin"}
	for d := time.Monday; d <= time.Friday; d++ {
		c.Shifts = append(c.Shifts, plan.Shift{Weekday: d, From: 9 * 60, To: 13 * 60}, plan.Shift{Weekday: d, From: 14 * 60, To: 18 * 60})
	}
	return c
}

// placed writes an operation down with spans given as moments, two for each.
func placed(t testing.TB, id string, moments ...string) plan.Scheduled {
	t.Helper()
	x := plan.Scheduled{ID: id, Resources: []string{"ana"}}
	for k := 0; k < len(moments); k += 2 {
		x.Spans = append(x.Spans, plan.Span{From: moment(t, moments[k]), To: moment(t, moments[k+1])})
	}
	x.Start, x.End = x.Spans[0].From, x.Spans[len(x.Spans)-1].To
	return x
}

// solution completes operations to a plan that ends and is handed over at the moments given.
func solution(t testing.TB, end, handover string, ops ...plan.Scheduled) plan.Solution {
	t.Helper()
	ops[len(ops)-1].Critical = true
	e, h := moment(t, end), moment(t, handover)
	return plan.Solution{Operations: ops, End: e, P50: h, P80: h, P95: h, Dates: []plan.Dates{{End: e, P50: h, P80: h, P95: h}}}
}

func refused(t *testing.T, what string, p plan.Problem, s plan.Solution, words string) {
	t.Helper()
	if err := check.Plan(p, s); err == nil || !strings.Contains(err.Error(), words) {
		t.Errorf("%s: got %v, want words %q", what, err, words)
	}
}

func taken(t *testing.T, what string, p plan.Problem, s plan.Solution) {
	t.Helper()
	if err := check.Plan(p, s); err != nil {
		t.Errorf("%s: %v", what, err)
	}
}

var (
	ana   = []plan.Resource{{ID: "ana", Kind: "maker", Capacity: 1}}
	maker = []plan.Need{{Kind: "maker"}}
)

// Seven minutes of work are planned in ten, not in five.
func TestDurationsAreRoundedUp(t *testing.T) {
	p := plan.Problem{Start: moment(t, "2026-06-01T07:00:00Z"), Calendar: berlin(), Resources: ana, Operations: []plan.Operation{{ID: "trim", Duration: 7, Needs: maker}}}
	taken(t, "in ten", p, solution(t, "2026-06-01T07:10:00Z", "2026-06-01T07:10:00Z", placed(t, "trim", "2026-06-01T07:00:00Z", "2026-06-01T07:10:00Z")))
	refused(t, "in five", p, solution(t, "2026-06-01T07:05:00Z", "2026-06-01T07:05:00Z", placed(t, "trim", "2026-06-01T07:00:00Z", "2026-06-01T07:05:00Z")),
		"worked on for 5m0s, it takes 10m0s, which is 7 minutes up to the grid")
	refused(t, "in fifteen", p, solution(t, "2026-06-01T07:15:00Z", "2026-06-01T07:15:00Z", placed(t, "trim", "2026-06-01T07:00:00Z", "2026-06-01T07:15:00Z")), "it takes 10m0s")
	p.Operations[0].Tail = 61
	taken(t, "and an hour and a minute of tail", p, func() plan.Solution {
		s := solution(t, "2026-06-01T08:15:00Z", "2026-06-01T08:15:00Z", placed(t, "trim", "2026-06-01T07:00:00Z", "2026-06-01T07:10:00Z"))
		s.Operations[0].Cure = &plan.Cure{From: moment(t, "2026-06-01T07:10:00Z"), Ready: moment(t, "2026-06-01T08:15:00Z")}
		return s
	}())
}

// A plan written by hand over the weekend on which the clocks go back: 48 h of cure are over on Sunday at 17:00 on the wall,
// and Monday's nine o'clock is an hour later in UTC than Friday's.
func TestPlanByHand(t *testing.T) {
	p := plan.Problem{Start: moment(t, "2026-10-23T15:02:00Z"), Calendar: berlin(), Resources: ana, Operations: []plan.Operation{
		{ID: "glue", Duration: 53, Needs: maker, Whole: true},
		{ID: "sand", Duration: 300, Needs: maker, After: []plan.Lag{{After: "glue", Min: 48 * 60, Cure: "cement"}}},
	}}
	glue := placed(t, "glue", "2026-10-23T15:05:00Z", "2026-10-23T16:00:00Z")
	glue.Cure = &plan.Cure{Material: "cement", From: glue.End, Ready: moment(t, "2026-10-25T16:00:00Z")}
	sand := placed(t, "sand", "2026-10-26T08:00:00Z", "2026-10-26T12:00:00Z", "2026-10-26T13:00:00Z", "2026-10-26T14:00:00Z")
	sand.Wait = &plan.Wait{For: "glue", Why: plan.WaitCure}
	taken(t, "by hand", p, solution(t, "2026-10-26T14:00:00Z", "2026-10-26T14:00:00Z", glue, sand))

	early := placed(t, "sand", "2026-10-26T07:00:00Z", "2026-10-26T12:00:00Z")
	refused(t, "opening as on Friday", p, solution(t, "2026-10-26T12:00:00Z", "2026-10-26T12:00:00Z", glue, early), "closed hours")
	through := placed(t, "sand", "2026-10-26T08:00:00Z", "2026-10-26T13:00:00Z")
	refused(t, "through the break", p, solution(t, "2026-10-26T13:00:00Z", "2026-10-26T13:00:00Z", glue, through), "closed hours")
	late := placed(t, "sand", "2026-10-26T08:00:00Z", "2026-10-26T12:00:00Z", "2026-10-26T13:05:00Z", "2026-10-26T14:05:00Z")
	refused(t, "a step late from the break", p, solution(t, "2026-10-26T14:05:00Z", "2026-10-26T14:05:00Z", glue, late), "not from closing time to the next opening")
	idle := placed(t, "sand", "2026-10-26T08:00:00Z", "2026-10-26T12:00:00Z", "2026-10-27T08:00:00Z", "2026-10-27T09:00:00Z")
	refused(t, "an afternoon idle", p, solution(t, "2026-10-27T09:00:00Z", "2026-10-27T09:00:00Z", glue, idle), "not from closing time to the next opening")
	p.Operations[1].After[0].Min = 64*60 + 1
	refused(t, "cured a minute before", p, solution(t, "2026-10-26T14:00:00Z", "2026-10-26T14:00:00Z", glue, sand), "2026-10-26 08:05:00Z at the earliest")
	p.Operations[1].After[0].Min = 64 * 60
	glue.Cure.Ready = moment(t, "2026-10-26T08:00:00Z")
	taken(t, "cured at the minute", p, solution(t, "2026-10-26T14:00:00Z", "2026-10-26T14:00:00Z", glue, sand))
	p.Operations[1].After[0].Max = 64*60 + 4
	glue.Cure.Latest = moment(t, "2026-10-26T08:00:00Z")
	taken(t, "within four minutes", p, solution(t, "2026-10-26T14:00:00Z", "2026-10-26T14:00:00Z", glue, sand))
	glue.Cure.Latest = moment(t, "2026-10-26T08:05:00Z")
	refused(t, "a closing rounded up", p, solution(t, "2026-10-26T14:00:00Z", "2026-10-26T14:00:00Z", glue, sand), "the cure after")
}

// What is done counts from its real end, what runs goes on for what is left of it, what is overdue for one step.
func TestRealClocks(t *testing.T) {
	p := plan.Problem{Start: moment(t, "2026-06-01T09:00:00Z"), Calendar: berlin(), Resources: append(ana, plan.Resource{ID: "ben", Kind: "maker", Capacity: 1}), Operations: []plan.Operation{
		{ID: "prime", Duration: 60, Needs: maker, Started: moment(t, "2026-06-01T07:01:30Z"), Finished: moment(t, "2026-06-01T08:03:00Z"), By: []string{"ana"}},
		{ID: "cut", Duration: 240, Needs: maker, Started: moment(t, "2026-06-01T08:03:00Z"), By: []string{"ben"}},
		{ID: "paint", Duration: 60, Needs: maker, After: []plan.Lag{{After: "prime", Min: 60, Max: 119, Cure: "primer"}}},
	}}
	written := func() plan.Solution {
		prime := placed(t, "prime", "2026-06-01T07:00:00Z", "2026-06-01T08:05:00Z")
		prime.Cure = &plan.Cure{Material: "primer", From: prime.End, Ready: moment(t, "2026-06-01T09:05:00Z"), Latest: moment(t, "2026-06-01T10:00:00Z")}
		paint := placed(t, "paint", "2026-06-01T09:05:00Z", "2026-06-01T10:05:00Z")
		cut := placed(t, "cut", "2026-06-01T08:00:00Z", "2026-06-01T11:00:00Z", "2026-06-01T12:00:00Z", "2026-06-01T13:00:00Z") // 8:00 to 9:00 of 240 are had
		cut.Resources, cut.Critical = []string{"ben"}, true
		return solution(t, "2026-06-01T13:00:00Z", "2026-06-01T13:00:00Z", prime, cut, paint)
	}
	s := written()
	taken(t, "as it was", p, s)
	s.Operations[1].Resources = []string{"ana"}
	refused(t, "done by another", p, s, `has begun with ["ben"]`)
	s = written()
	s.Operations[0].End = moment(t, "2026-06-01T08:00:00Z")
	s.Operations[0].Spans[0].To = s.Operations[0].End
	refused(t, "finished earlier", p, s, "in truth")
	p.Operations[2].After[0].Min = 62
	refused(t, "62 minutes after the real end is 9:05", p, withReady(written(), "2026-06-01T09:10:00Z"), "the cure after")
	taken(t, "62 minutes after the real end", p, withReady(written(), "2026-06-01T09:05:00Z"))
	p.Operations[2].After[0].Min = 63
	refused(t, "63 minutes after the real end", p, withReady(written(), "2026-06-01T09:10:00Z"), "09:10:00Z at the earliest")
	p.Operations[2].After[0].Min = 60
	p.Operations[2].After[0].Max = 61
	taken(t, "a window without a moment of the grid is open for the next", p, func() plan.Solution {
		s := written()
		s.Operations[0].Cure.Latest = moment(t, "2026-06-01T09:05:00Z")
		return s
	}())
	p.Operations[1].Duration = 55
	s = written()
	s.Operations[1].Spans = []plan.Span{{From: s.Operations[1].Start, To: moment(t, "2026-06-01T09:05:00Z")}}
	s.Operations[1].End, s.Operations[1].Critical = moment(t, "2026-06-01T09:05:00Z"), false
	end := moment(t, "2026-06-01T10:05:00Z")
	s.End, s.P50, s.P80, s.P95, s.Dates = end, end, end, end, []plan.Dates{{End: end, P50: end, P80: end, P95: end}}
	s.Operations[0].Cure.Latest = moment(t, "2026-06-01T09:05:00Z")
	taken(t, "overdue", p, s)
}

func withReady(s plan.Solution, ready string) plan.Solution {
	at, _ := time.Parse(time.RFC3339, ready)
	s.Operations[0].Cure.Ready = at
	return s
}

// A problem that cannot be read is named as such.
func TestProblemThatCannotBeRead(t *testing.T) {
	good := plan.Problem{Start: moment(t, "2026-06-01T07:00:00Z"), Calendar: berlin(), Resources: ana, Operations: []plan.Operation{{ID: "trim", Duration: 5, Needs: maker}}}
	s := solution(t, "2026-06-01T07:05:00Z", "2026-06-01T07:05:00Z", placed(t, "trim", "2026-06-01T07:00:00Z", "2026-06-01T07:05:00Z"))
	taken(t, "good", good, s)
	p := good
	p.Calendar.Zone = "Nowhere/Here"
	refused(t, "zone", p, s, "the problem's time zone")
	p = good
	p.Calendar.Shifts = []plan.Shift{{Weekday: 9, To: 60}}
	refused(t, "weekday", p, s, "the problem has a shift on weekday 9")
	p = good
	p.Operations = slices.Repeat(p.Operations, 2)
	refused(t, "twice", p, s, "the problem has operation")
	p = good
	p.Operations = []plan.Operation{{ID: "trim", Duration: 5, Needs: maker, After: []plan.Lag{{After: "cut"}}}}
	refused(t, "after nothing", p, s, "the problem has")
	p = good
	p.Start = time.Time{}
	refused(t, "no start", p, s, "too far to be looked at")
	p = good
	p.Operations = []plan.Operation{{ID: "trim", Duration: 5, Needs: maker, Finished: good.Start}}
	refused(t, "finished, not started", p, s, "the problem has it finished")
}

// Whatever the planner makes of a shop is a plan. A shop that cannot be planned is refused with other words than those of a
// plan that is none.
func TestWhatThePlannerMakes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := shop(t)
		for _, planner := range []func(context.Context, plan.Problem) (plan.Solution, error){
			func(ctx context.Context, p plan.Problem) (plan.Solution, error) { return schedule.Solve(ctx, p, nil) }, schedule.Settle,
		} {
			s, err := planner(context.Background(), p)
			if err != nil {
				if strings.Contains(err.Error(), "contradict each other") {
					t.Skip("drawn windows may contradict each other")
				}
				t.Fatal(err)
			}
			if err := check.Plan(p, s); err != nil {
				t.Fatal(err)
			}
		}
	})
}

// Whatever is written down as problem and plan, it is looked at to an end.
func TestAnythingIsLookedAt(t *testing.T) {
	words := []string{"", "x", "op0", "op1", "maker0", "rack", "line", "cure", "release", "UTC", "2026-03-29", "2026-03-29T01:00:00Z", "0001-01-01T00:00:00Z", "9999-12-31T23:59:59Z"}
	read := 0
	for seed := range 60 {
		p := rapid.Custom(shop).Example(seed)
		s, err := schedule.Solve(context.Background(), p, nil)
		if err != nil {
			continue // drawn windows may contradict each other
		}
		read += gaugetest.Scrambled(t, both{P: p, S: s}, uint64(seed), words, func(b both) { _ = check.Plan(b.P, b.S) })
	}
	if read < 500 {
		t.Errorf("only %d could be read", read)
	}
}

type both struct {
	P plan.Problem
	S plan.Solution
}

// shop draws a problem with everything that a plan has to keep, off the grid where it may be.
func shop(t *rapid.T) plan.Problem {
	upTo := func(most int, what string) int { return rapid.IntRange(0, most).Draw(t, what) }
	one := func(in int, what string) bool { return upTo(in-1, what) == 0 }
	zone := rapid.SampledFrom([]string{"UTC", "Europe/Berlin", "America/New_York", "Asia/Kathmandu"}).Draw(t, "zone")
	p := plan.Problem{Schedules: 4, Runs: rapid.SampledFrom([]int{0, 7}).Draw(t, "runs"), Seed: 1,
		// in the days around the changes of the clocks, by the second
		Start: time.Date(2026, time.Month(rapid.SampledFrom([]int{3, 10, 11}).Draw(t, "month")), 1+upTo(30, "day"), 0, 0, upTo(24*3600, "second"), 0, time.UTC)}
	after := func(minutes int) time.Time { return p.Start.Add(time.Duration(minutes) * time.Minute) }
	local, _ := time.LoadLocation(zone)
	p.Calendar = plan.Calendar{Zone: zone}
	for d := time.Monday; d <= time.Friday; d++ {
		p.Calendar.Shifts = append(p.Calendar.Shifts, plan.Shift{Weekday: d, From: 9*60 - upTo(3, "opens"), To: 13 * 60}, plan.Shift{Weekday: d, From: 14 * 60, To: 18*60 + upTo(3, "closes")})
	}
	if one(2, "night") { // through the night in which clocks change
		p.Calendar.Shifts = append(p.Calendar.Shifts, plan.Shift{Weekday: time.Saturday, From: 22 * 60, To: 24 * 60}, plan.Shift{Weekday: time.Sunday, From: 0, To: 5 * 60})
	}
	for range upTo(2, "closed") {
		p.Calendar.Closed = append(p.Calendar.Closed, after(upTo(9000, "closed on")).In(local).Format(time.DateOnly))
	}
	for range upTo(2, "extra") {
		p.Calendar.Extra = append(p.Calendar.Extra, plan.Extra{Date: after(upTo(9000, "extra on")).In(local).Format(time.DateOnly), From: 18 * 60, To: 21*60 + 2})
	}
	for i := range 2 + upTo(2, "makers") {
		p.Resources = append(p.Resources, plan.Resource{ID: fmt.Sprint("maker", i), Kind: "maker", Capacity: 1})
	}
	p.Resources[0].Skills = []string{"spray", "sew"}
	p.Resources[1].Skills = []string{"sew"}
	p.Resources = append(p.Resources, plan.Resource{ID: "booth", Kind: "booth", Capacity: 1}, plan.Resource{ID: "bench", Kind: "bench", Capacity: 1 + upTo(2, "benches")},
		plan.Resource{ID: "line", Kind: "rack", Capacity: 1 + upTo(1, "line")}, plan.Resource{ID: "shelf", Kind: "rack", Capacity: 1})
	for range upTo(4, "busy") {
		from := after(upTo(5000, "from") - 100)
		p.Busy = append(p.Busy, plan.Busy{Resource: rapid.SampledFrom(p.Resources).Draw(t, "on").ID, From: from, To: from.Add(time.Duration(1+upTo(90000, "seconds")) * time.Second)})
	}
	for _, id := range []string{"A", "B", "idle"} {
		x := plan.Project{ID: id, Promised: one(2, "promised")}
		if one(2, "due") {
			x.Due = after(upTo(15000, "by"))
		}
		if one(4, "waits") {
			x.Release = after(upTo(3000, "released"))
		}
		p.Projects = append(p.Projects, x)
	}
	for i := range 2 + upTo(9, "operations") {
		o := plan.Operation{ID: fmt.Sprint("op", i), Project: rapid.SampledFrom([]string{"A", "B", "C"}).Draw(t, "project"), Group: "cuirass", Kind: "glue",
			Title: rapid.SampledFrom([]string{"", "glueing"}).Draw(t, "title"), Setup: rapid.SampledFrom([]string{"", "red", "black"}).Draw(t, "setup"),
			Needs: []plan.Need{{Kind: "maker", Skill: rapid.SampledFrom([]string{"", "", "sew", "spray"}).Draw(t, "skill")}}, Whole: one(2, "whole")}
		o.Duration = plan.Minutes(upTo(200, "duration"))
		if !o.Whole && one(2, "long") {
			o.Duration *= 4
		}
		switch upTo(4, "second") {
		case 0:
			o.Needs = append(o.Needs, plan.Need{Kind: "booth"})
		case 1, 4:
			o.Needs = append(o.Needs, plan.Need{Kind: "bench"})
		case 2:
			if o.Needs[0].Skill != "spray" {
				o.Needs = append(o.Needs, plan.Need{Kind: "maker"})
			}
		}
		for j := max(0, i-3); j < i; j++ {
			l := plan.Lag{After: fmt.Sprint("op", j), Min: plan.Minutes(upTo(400, "min"))}
			switch upTo(7, "lag") {
			case 0:
				l.Min = 0
			case 1:
				l.Cure = "glue"
			case 2:
				l.Cure, l.Rack, l.Water = "primer", "rack", true
			case 3:
				l.Cure, l.Max = "primer", l.Min+plan.Minutes(5+upTo(1500, "width"))
			case 4:
				l = plan.Lag{After: l.After, Cure: "enamel", Windows: []plan.LagWindow{{From: 2881}, {From: 31, To: 93}, {From: 2, To: 64}}}
			default:
				continue
			}
			o.After = append(o.After, l)
		}
		if one(2, "tail") {
			o.Tail, o.TailCure = plan.Minutes(upTo(2000, "cures")), "varnish"
			if one(2, "tail on rack") {
				o.TailRack = "rack"
			}
		}
		switch upTo(9, "tied") {
		case 0:
			o.Release = after(upTo(4000, "released"))
		case 1:
			o.Pinned = after(upTo(4000, "pinned"))
		case 2:
			o.Planned = after(upTo(4000, "planned"))
		}
		p.Operations = append(p.Operations, o)
	}
	for i := range upTo(2, "begun") { // the first operation, or the first two
		o := &p.Operations[i]
		o.Started = after(-10 - upTo(3000, "started")).Add(time.Duration(upTo(59, "seconds")) * time.Second)
		if i == 0 && len(p.Operations) > 2 || one(2, "done") {
			if end := o.Started.Add(time.Duration(upTo(14000, "took")) * time.Second); end.Before(p.Start.Add(-10 * time.Minute)) {
				o.Finished = end
			}
		}
		if one(2, "by") {
			o.By = []string{"maker0"}
		}
		if i == 1 && p.Operations[0].Started.IsZero() {
			o.After = nil
		}
	}
	return p
}

// BenchmarkPlan looks at a plan of 400 operations of twelve commissions over some months.
func BenchmarkPlan(b *testing.B) {
	p := plan.Problem{Start: moment(b, "2026-09-07T06:00:00Z"), Calendar: berlin(), Schedules: 1, Runs: 10,
		Resources: []plan.Resource{{ID: "ana", Kind: "maker", Capacity: 1}, {ID: "ben", Kind: "maker", Capacity: 1}, {ID: "booth", Kind: "booth", Capacity: 1},
			{ID: "bench", Kind: "bench", Capacity: 4}, {ID: "line", Kind: "rack", Capacity: 6}}}
	for a := range 50 {
		after := func(k int, l plan.Lag) []plan.Lag { l.After = fmt.Sprint(a, "/", k); return []plan.Lag{l} }
		for k := range 8 {
			o := plan.Operation{ID: fmt.Sprint(a, "/", k), Project: fmt.Sprint("C", a%12), Duration: plan.Minutes(30 + 17*k), Needs: maker, Whole: k%2 == 0}
			switch {
			case k == 7:
				o.Tail, o.TailCure, o.TailRack = 24*60, "varnish", "rack"
				fallthrough
			case k > 3:
				o.Needs = append(o.Needs, plan.Need{Kind: "booth"})
				o.After = after(k-1, plan.Lag{Min: 75, Cure: "primer", Rack: "rack"})
			case k > 0:
				o.Needs = append(o.Needs, plan.Need{Kind: "bench"})
				o.After = after(k-1, plan.Lag{})
			}
			p.Operations = append(p.Operations, o)
		}
	}
	s, err := schedule.Solve(context.Background(), p, nil)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if err := check.Plan(p, s); err != nil {
			b.Fatal(err)
		}
	}
}
