package schedule

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"benchbell/quote/plan"
	"benchbell/quote/plan/check"
)

// weekdays is Monday to Friday, 9 to 13 and 14 to 18 on the wall.
func weekdays(zone string, closed ...string) plan.Calendar {
	c := plan.Calendar{Zone: zone, Closed: closed}
	for d := time.Monday; d <= time.Friday; d++ {
		c.Shifts = append(c.Shifts, plan.Shift{Weekday: d, From: 9 * 60, To: 13 * 60}, plan.Shift{Weekday: d, From: 14 * 60, To: 18 * 60})
	}
	return c
}

// always is a shop that never closes.
func always() plan.Calendar {
	c := plan.Calendar{Zone: "UTC"}
	for d := time.Sunday; d <= time.Saturday; d++ {
		c.Shifts = append(c.Shifts, plan.Shift{Weekday: d, From: 0, To: 24 * 60})
	}
	return c
}

func moment(t testing.TB, s string) time.Time {
	t.Helper()
	at, err := time.Parse(time.RFC3339, s)
	if err != nil {
		t.Fatal(err)
	}
	return at
}

func solve(t interface {
	Helper()
	Fatal(...any)
}, p plan.Problem) plan.Solution {
	t.Helper()
	s, err := Solve(context.Background(), p, nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := check.Plan(p, s); err != nil {
		t.Fatal(err)
	}
	return s
}

func operationOf(s plan.Solution, id string) plan.Scheduled {
	for _, x := range s.Operations {
		if x.ID == id {
			return x
		}
	}
	return plan.Scheduled{}
}

func at(t *testing.T, what string, got time.Time, want string) {
	t.Helper()
	if !got.Equal(moment(t, want)) {
		t.Errorf("%s: got %s, want %s", what, got.Format(time.RFC3339), want)
	}
}

func maker(n int) []plan.Resource {
	var out []plan.Resource
	for i := range n {
		out = append(out, plan.Resource{ID: fmt.Sprintf("maker%d", i+1), Kind: "maker", Capacity: 1})
	}
	return out
}

var byMaker = []plan.Need{{Kind: "maker"}}

// genProblem draws shops and commissions, windows included.
func genProblem(t *rapid.T) plan.Problem {
	p := plan.Problem{
		Start:    time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC).Add(time.Duration(rapid.IntRange(0, 365*24*60).Draw(t, "start")) * time.Minute),
		Calendar: weekdays(rapid.SampledFrom([]string{"UTC", "Europe/Berlin", "America/New_York", "Asia/Kathmandu"}).Draw(t, "zone")),
		Resources: append(maker(rapid.IntRange(1, 3).Draw(t, "makers")),
			plan.Resource{ID: "booth", Kind: "booth", Capacity: 1},
			plan.Resource{ID: "rack", Kind: "bench", Capacity: rapid.IntRange(1, 3).Draw(t, "benches")}),
		Schedules: 6, Runs: 5, Seed: rapid.Uint64().Draw(t, "seed"),
	}
	n := rapid.IntRange(1, 12).Draw(t, "n")
	for i := range n {
		o := plan.Operation{ID: fmt.Sprint("op", i), Needs: []plan.Need{{Kind: "maker"}}, Whole: rapid.Bool().Draw(t, "whole")}
		most := 900
		if o.Whole {
			most = 240
		}
		o.Duration = plan.Minutes(rapid.IntRange(0, most).Draw(t, "duration"))
		if rapid.Bool().Draw(t, "uncertain") {
			o.Low = o.Duration / 2
			o.High = o.Duration*2 + 1
		}
		if rapid.Bool().Draw(t, "second") {
			o.Needs = append(o.Needs, plan.Need{Kind: rapid.SampledFrom([]string{"booth", "bench"}).Draw(t, "kind")})
		}
		for j := max(0, i-4); j < i; j++ {
			switch rapid.IntRange(0, 5).Draw(t, "lag") {
			case 0:
				o.After = append(o.After, plan.Lag{After: fmt.Sprint("op", j), Min: plan.Minutes(rapid.IntRange(0, 600).Draw(t, "min")), Cure: "glue"})
			case 1:
				from := plan.Minutes(rapid.IntRange(0, 200).Draw(t, "min"))
				o.After = append(o.After, plan.Lag{After: fmt.Sprint("op", j), Min: from, Max: from + plan.Minutes(rapid.IntRange(5, 1500).Draw(t, "width"))})
			case 2:
				o.After = append(o.After, plan.Lag{After: fmt.Sprint("op", j), Windows: []plan.LagWindow{{From: 0, To: 60}, {From: 2880}}, Cure: "enamel"})
			}
		}
		if rapid.Bool().Draw(t, "cures") {
			o.Tail, o.TailCure = plan.Minutes(rapid.IntRange(0, 3000).Draw(t, "tail")), "varnish"
		}
		p.Operations = append(p.Operations, o)
	}
	for range rapid.IntRange(0, 5).Draw(t, "busy") {
		from := p.Start.Add(time.Duration(rapid.IntRange(-100, 5000).Draw(t, "from")) * time.Minute)
		p.Busy = append(p.Busy, plan.Busy{Resource: rapid.SampledFrom(p.Resources).Draw(t, "on").ID, From: from,
			To: from.Add(time.Duration(rapid.IntRange(1, 2000).Draw(t, "length")) * time.Minute)})
	}
	if rapid.Bool().Draw(t, "shop") {
		genShop(t, &p)
	}
	return p
}

// genShop adds what a shop with several commissions at work has: skills, racks, projects with dates, overtime, set-ups,
// pins, releases, damp days and real clocks.
func genShop(t *rapid.T, p *plan.Problem) {
	p.Resources = append(p.Resources, plan.Resource{ID: "line", Kind: "rack", Capacity: rapid.IntRange(1, 2).Draw(t, "line")},
		plan.Resource{ID: "shelf", Kind: "rack", Capacity: 1})
	p.Resources[0].Skills = []string{"spray", "sew"}
	after := func(minutes int) time.Time { return p.Start.Add(time.Duration(minutes) * time.Minute) }
	for _, id := range []string{"A", "B"} {
		x := plan.Project{ID: id, Promised: rapid.Bool().Draw(t, "promised"), Weight: rapid.IntRange(0, 3).Draw(t, "weight")}
		if rapid.Bool().Draw(t, "due") {
			x.Due = after(rapid.IntRange(-1000, 20000).Draw(t, "by"))
		}
		if rapid.IntRange(0, 3).Draw(t, "waits") == 0 {
			x.Release = after(rapid.IntRange(0, 5000).Draw(t, "release"))
		}
		if rapid.IntRange(0, 3).Draw(t, "deposit") == 0 {
			x.Latest = after(rapid.IntRange(5000, 9000).Draw(t, "latest"))
		}
		x.Open = rapid.IntRange(0, 3).Draw(t, "open") == 0
		p.Projects = append(p.Projects, x)
	}
	for i := range p.Busy {
		if rapid.Bool().Draw(t, "quoted") {
			p.Busy[i].Open, p.Busy[i].Label = true, rapid.SampledFrom([]string{"Q1", "Q2"}).Draw(t, "whose")
		}
	}
	if rapid.Bool().Draw(t, "chance") {
		p.Chance = &plan.Chance{Accepted: rapid.Float64Range(0.5, 20).Draw(t, "accepted"), Lapsed: rapid.Float64Range(0.5, 20).Draw(t, "lapsed")}
	}
	if rapid.Bool().Draw(t, "air") {
		p.Air = &plan.Air{Low: 0.8, High: 1.7}
	}
	if rapid.Bool().Draw(t, "overtime") {
		zone, _ := time.LoadLocation(p.Calendar.Zone)
		p.Calendar.Extra = []plan.Extra{{Date: after(rapid.IntRange(0, 10000).Draw(t, "extra")).In(zone).Format(time.DateOnly), From: 19 * 60, To: 21 * 60}}
	}
	begun := rapid.IntRange(0, min(2, len(p.Operations))).Draw(t, "begun")
	for i := range p.Operations {
		o := &p.Operations[i]
		o.Project = rapid.SampledFrom([]string{"A", "B", "C"}).Draw(t, "project")
		o.Setup = rapid.SampledFrom([]string{"", "red", "black"}).Draw(t, "setup")
		if rapid.IntRange(0, 3).Draw(t, "skilled") == 0 {
			o.Needs[0].Skill = "spray"
			if len(p.Resources) > 4 && rapid.Bool().Draw(t, "two") && p.Resources[1].Kind == "maker" {
				o.Needs = append(o.Needs, plan.Need{Kind: "maker"})
			}
		}
		if o.Tail > 0 && rapid.Bool().Draw(t, "tail on rack") {
			o.TailRack, o.TailWater = "rack", true
		}
		for k := range o.After {
			if rapid.IntRange(0, 2).Draw(t, "on rack") == 0 {
				o.After[k].Rack, o.After[k].Water = "rack", rapid.Bool().Draw(t, "water")
			}
		}
		switch rapid.IntRange(0, 9).Draw(t, "tied") {
		case 0:
			o.Release = after(rapid.IntRange(-500, 4000).Draw(t, "released"))
		case 1:
			o.Pinned = after(rapid.IntRange(0, 4000).Draw(t, "pinned"))
		case 2:
			o.Planned = after(rapid.IntRange(-500, 4000).Draw(t, "planned"))
		}
		if i < begun {
			o.Started = after(-rapid.IntRange(10, 3000).Draw(t, "started"))
			if i == 0 || rapid.Bool().Draw(t, "done") {
				o.Finished = o.Started.Add(time.Duration(rapid.IntRange(0, int(p.Start.Sub(o.Started)/time.Minute)-6).Draw(t, "took")) * time.Minute)
			} else if rapid.Bool().Draw(t, "by") {
				o.By = []string{"maker1"}
			}
			if i == 1 && p.Operations[0].Finished.IsZero() {
				o.After = nil
			}
		}
	}
}

func TestEverySolutionIsAPlan(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := genProblem(t)
		s, err := Solve(context.Background(), p, nil)
		if err != nil {
			if strings.Contains(err.Error(), "contradict each other") { // drawn windows may
				t.Skip("contradiction")
			}
			t.Fatal(err)
		}
		if err := check.Plan(p, s); err != nil {
			t.Fatal(err)
		}
		again, err := Solve(context.Background(), p, func(int, int) {})
		if err != nil || flat(s) != flat(again) {
			t.Fatalf("the same problem gave two solutions: %v", err)
		}
		zone, _ := time.LoadLocation(p.Calendar.Zone)
		for _, x := range s.Operations {
			for _, w := range x.Spans {
				for at := w.From; at.Before(w.To); at = at.Add(5 * time.Minute) { // by the wall, without the index
					l := at.In(zone)
					m := l.Hour()*60 + l.Minute()
					if len(p.Calendar.Extra) > 0 && l.Format(time.DateOnly) == p.Calendar.Extra[0].Date && m >= 19*60 && m < 21*60 || at.Before(p.Start) {
						continue
					}
					if l.Weekday() == time.Sunday || l.Weekday() == time.Saturday || m < 540 || m >= 1080 || m >= 780 && m < 840 {
						t.Fatalf("%s works at %s", x.ID, l)
					}
				}
			}
		}
	})
}

// flat is a solution for comparison.
func flat(s plan.Solution) string {
	out, err := json.Marshal(s)
	if err != nil {
		panic(err)
	}
	return string(out)
}

// chain draws operations that wait for each other in a row, without maximum lags. Serial generation has no anomalies
// there; with several chains on one maker a longer cure can let another chain go first and end earlier.
func chain(t *rapid.T) plan.Problem {
	p := plan.Problem{Start: time.Date(2026, 3, 20, 7, 0, 0, 0, time.UTC), Calendar: weekdays("Europe/Berlin"), Resources: maker(2)}
	for i := range rapid.IntRange(1, 8).Draw(t, "n") {
		o := plan.Operation{ID: fmt.Sprint("op", i), Duration: plan.Minutes(rapid.IntRange(1, 240).Draw(t, "duration")), Needs: byMaker,
			Whole: rapid.Bool().Draw(t, "whole"), Tail: plan.Minutes(rapid.IntRange(0, 600).Draw(t, "tail"))}
		if i > 0 {
			o.After = []plan.Lag{{After: fmt.Sprint("op", i-1), Min: plan.Minutes(rapid.IntRange(0, 3000).Draw(t, "cure"))}}
		}
		p.Operations = append(p.Operations, o)
	}
	return p
}

func TestLongerCureNeverEndsEarlierInAChain(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := chain(t)
		short := solve(t, p)
		i := rapid.IntRange(0, len(p.Operations)-1).Draw(t, "which")
		more := plan.Minutes(rapid.IntRange(0, 3000).Draw(t, "more"))
		if i > 0 && rapid.Bool().Draw(t, "lag") {
			p.Operations[i].After[0].Min += more
		} else {
			p.Operations[i].Tail += more
		}
		if long := solve(t, p); long.End.Before(short.End) {
			t.Fatalf("a cure longer by %d min ends at %s instead of %s", more, long.End, short.End)
		}
	})
}

func TestMoreBusyNeverEndsEarlierInAChain(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := chain(t)
		free := solve(t, p)
		for range rapid.IntRange(1, 6).Draw(t, "busy") {
			from := p.Start.Add(time.Duration(rapid.IntRange(0, 9000).Draw(t, "from")) * time.Minute)
			p.Busy = append(p.Busy, plan.Busy{Resource: rapid.SampledFrom([]string{"maker1", "maker2"}).Draw(t, "who"), From: from,
				To: from.Add(time.Duration(rapid.IntRange(5, 4000).Draw(t, "length")) * time.Minute)})
		}
		if taken := solve(t, p); taken.End.Before(free.End) {
			t.Fatalf("with promises it ends at %s, without at %s", taken.End, free.End)
		}
	})
}

func TestNothingMissesItsEarliest(t *testing.T) {
	p := plan.Problem{Start: time.Date(2026, 11, 27, 15, 2, 0, 0, time.UTC), Calendar: weekdays("Europe/Berlin", "2026-11-30"),
		Resources: maker(1), Operations: []plan.Operation{
			{ID: "prime", Duration: 60, Needs: byMaker, Whole: true},
			{ID: "paint", Duration: 300, Needs: byMaker, After: []plan.Lag{{After: "prime", Min: 16 * 60, Cure: "flexible primer"}}},
			{ID: "varnish", Duration: 30, Needs: byMaker, Whole: true, After: []plan.Lag{{After: "paint", Min: 120}}, Tail: 24 * 60, TailCure: "varnish"},
		}}
	s := solve(t, p)
	at(t, "priming on Friday afternoon", operationOf(s, "prime").Start, "2026-11-27T15:05:00Z")
	// the cure runs on through the weekend and the closed Monday; painting begins Tuesday at 9 in Berlin and pauses at noon
	at(t, "primer ready in the night", operationOf(s, "prime").Cure.Ready, "2026-11-28T08:05:00Z")
	at(t, "painting", operationOf(s, "paint").Start, "2026-12-01T08:00:00Z")
	at(t, "painted, an hour of it after the break", operationOf(s, "paint").End, "2026-12-01T14:00:00Z")
	if n := len(operationOf(s, "paint").Spans); n != 2 {
		t.Errorf("painting has %d spans, want 2", n)
	}
	at(t, "varnishing", operationOf(s, "varnish").Start, "2026-12-01T16:00:00Z")
	at(t, "the end, with the last cure through the night", s.End, "2026-12-02T16:30:00Z")
	at(t, "without runs", s.P95, "2026-12-02T16:30:00Z")
}

func TestClocksChange(t *testing.T) {
	for _, c := range []struct{ name, start, ready, next string }{
		// Friday 17:00 in Berlin is 15:00 UTC in summer; Monday 9:00 is 8:00 UTC in winter: the night is 25 h long
		{"October", "2026-10-23T15:00:00Z", "2026-10-25T16:00:00Z", "2026-10-26T08:00:00Z"},
		{"March", "2026-03-27T16:00:00Z", "2026-03-29T17:00:00Z", "2026-03-30T07:00:00Z"},
	} {
		p := plan.Problem{Start: moment(t, c.start), Calendar: weekdays("Europe/Berlin"), Resources: maker(1), Operations: []plan.Operation{
			{ID: "a", Duration: 60, Needs: byMaker, Whole: true},
			{ID: "b", Duration: 60, Needs: byMaker, Whole: true, After: []plan.Lag{{After: "a", Min: 48 * 60, Cure: "glue"}}},
		}}
		s := solve(t, p)
		at(t, c.name+", 48 h elapsed", operationOf(s, "a").Cure.Ready, c.ready)
		at(t, c.name+", opening on the wall", operationOf(s, "b").Start, c.next)
	}
	// A shop that is open on the Sunday from 0 to 6 works 7 h in October and 5 in March.
	for _, c := range []struct{ name, start, end string }{
		{"October", "2026-10-24T22:00:00Z", "2026-10-25T05:00:00Z"},
		{"March", "2026-03-28T23:00:00Z", "2026-03-29T04:00:00Z"},
	} {
		night := plan.Calendar{Zone: "Europe/Berlin", Shifts: []plan.Shift{{Weekday: time.Sunday, From: 0, To: 360}}}
		begin, end := moment(t, c.start), moment(t, c.end)
		p := plan.Problem{Start: begin, Calendar: night, Resources: maker(1), Operations: []plan.Operation{
			{ID: "a", Duration: plan.Minutes(end.Sub(begin) / time.Minute), Needs: byMaker}}}
		s := solve(t, p)
		if len(s.Operations[0].Spans) != 1 || !s.End.Equal(end) {
			t.Errorf("%s: night shift ends at %s, want %s", c.name, s.End, end)
		}
	}
	// Elapsed time over the change, London: Source: calendar facts of the project, "elapsed 24 h".
	for _, c := range []struct{ from, to string }{
		{"2026-03-28T18:00:00Z", "2026-03-29T19:00:00+01:00"}, {"2026-10-24T18:00:00+01:00", "2026-10-25T17:00:00Z"},
	} {
		if !moment(t, c.from).Add(24 * time.Hour).Equal(moment(t, c.to)) {
			t.Errorf("24 h after %s is not %s", c.from, c.to)
		}
	}
}

func TestWindowMovesTheEarlierCoat(t *testing.T) {
	// The first coat could go on at 17:00, but its window of 1 to 4 h would close in the night.
	p := plan.Problem{Start: time.Date(2026, 6, 1, 16, 30, 0, 0, time.UTC), Calendar: weekdays("UTC"), Resources: maker(1), Operations: []plan.Operation{
		{ID: "coat1", Duration: 30, Needs: byMaker, Whole: true},
		{ID: "coat2", Duration: 30, Needs: byMaker, Whole: true, After: []plan.Lag{{After: "coat1", Min: 60, Max: 240, Cure: "primer"}}},
		{ID: "coat3", Duration: 30, Needs: byMaker, Whole: true, After: []plan.Lag{{After: "coat2", Min: 60, Max: 240, Cure: "primer"}}},
	}}
	s := solve(t, p)
	at(t, "first coat next morning", operationOf(s, "coat1").Start, "2026-06-02T09:00:00Z")
	at(t, "window closes", operationOf(s, "coat1").Cure.Latest, "2026-06-02T13:30:00Z")
	if len(s.Broken) > 0 {
		t.Errorf("broken: %q", s.Broken)
	}
	// Six hours to wait and at most seven, in a day of 9 to 13: no schedule can keep it, and it says so.
	p.Calendar.Shifts = []plan.Shift{{Weekday: time.Monday, From: 540, To: 780}, {Weekday: time.Tuesday, From: 540, To: 780}}
	p.Operations = p.Operations[:2]
	p.Operations[1].After[0].Min, p.Operations[1].After[0].Max = 360, 420
	p.Operations[0].Title, p.Operations[1].Title = "first coat", "second coat"
	s = solve(t, p)
	if len(s.Broken) != 1 || !strings.Contains(s.Broken[0], "first coat") || !strings.Contains(s.Broken[0], "second coat") ||
		!strings.Contains(s.Broken[0], "6 h to 7 h") {
		t.Errorf("broken: %q", s.Broken)
	}
	hidden := s
	hidden.Broken = nil
	if check.Plan(p, hidden) == nil {
		t.Error("a broken window went unnamed")
	}
}

func TestForbiddenMiddle(t *testing.T) {
	p := plan.Problem{Start: time.Date(2026, 6, 1, 9, 0, 0, 0, time.UTC), Calendar: weekdays("UTC"), Resources: maker(1), Operations: []plan.Operation{
		{ID: "coat1", Duration: 30, Needs: byMaker, Whole: true},
		{ID: "coat2", Duration: 30, Needs: byMaker, Whole: true, After: []plan.Lag{{After: "coat1", Windows: []plan.LagWindow{{From: 0, To: 60}, {From: 2880}}, Cure: "enamel"}}},
	}}
	s := solve(t, p)
	at(t, "wet on wet", operationOf(s, "coat2").Start, "2026-06-01T09:30:00Z")
	// the first coat is on and the maker is away while the first window is open
	p.Operations[0].Started, p.Operations[0].Finished = p.Start, p.Start.Add(30*time.Minute)
	p.Start = p.Operations[0].Finished
	p.Busy = []plan.Busy{{Resource: "maker1", From: time.Date(2026, 6, 1, 9, 30, 0, 0, time.UTC), To: time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC), Label: "B-7"}}
	s = solve(t, p)
	at(t, "after two days", operationOf(s, "coat2").Start, "2026-06-03T09:30:00Z")
	at(t, "the window the plan uses", operationOf(s, "coat1").Cure.Ready, "2026-06-03T09:30:00Z")
}

func TestResources(t *testing.T) {
	p := plan.Problem{Start: time.Date(2026, 6, 1, 9, 0, 0, 0, time.UTC), Calendar: weekdays("UTC"),
		Resources: append(maker(2), plan.Resource{ID: "rack", Kind: "bench", Capacity: 2}), Operations: []plan.Operation{
			{ID: "lift", Duration: 60, Needs: []plan.Need{{Kind: "maker"}, {Kind: "maker"}}},
			{ID: "a", Duration: 60, Needs: []plan.Need{{Kind: "maker"}, {Kind: "bench"}}}, {ID: "b", Duration: 60, Needs: []plan.Need{{Kind: "maker"}, {Kind: "bench"}}},
			{ID: "c", Duration: 60, Needs: []plan.Need{{Kind: "bench"}}},
		}, Schedules: 30}
	s := solve(t, p)
	at(t, "two makers lift, two work, a third place is not on the rack at once", s.End, "2026-06-01T11:00:00Z")
	if got := strings.Join(operationOf(s, "lift").Resources, " "); got != "maker1 maker2" {
		t.Errorf("lifting: %s", got)
	}
}

func TestErrorsNameWhatIsWrong(t *testing.T) {
	base := func() plan.Problem {
		return plan.Problem{Start: time.Date(2026, 6, 1, 9, 0, 0, 0, time.UTC), Calendar: weekdays("UTC"), Resources: maker(1), Operations: []plan.Operation{
			{ID: "a", Title: "cut", Duration: 60, Needs: byMaker}, {ID: "b", Title: "glue", Duration: 60, Needs: byMaker, After: []plan.Lag{{After: "a"}}},
			{ID: "c", Title: "paint", Duration: 60, Needs: byMaker, After: []plan.Lag{{After: "b", Min: 300}, {After: "a"}}},
		}}
	}
	for _, c := range []struct {
		name   string
		change func(*plan.Problem)
		words  []string
	}{
		{"kind", func(p *plan.Problem) { p.Operations[1].Needs = []plan.Need{{Kind: "oven"}} }, []string{"glue", `"oven"`}},
		{"units", func(p *plan.Problem) { p.Operations[1].Needs = []plan.Need{{Kind: "maker"}, {Kind: "maker"}} }, []string{"glue", "needs 2", "has 1"}},
		{"after", func(p *plan.Problem) { p.Operations[1].After[0].After = "x" }, []string{"glue", `"x"`}},
		{"self", func(p *plan.Problem) { p.Operations[1].After[0].After = "b" }, []string{"glue", "itself"}},
		{"cycle", func(p *plan.Problem) { p.Operations[0].After = []plan.Lag{{After: "c"}} }, []string{"cut", "paint", "circle"}},
		{"whole", func(p *plan.Problem) { p.Operations[0].Whole = true; p.Operations[0].Duration = 245 }, []string{"cut", "245", "240"}},
		{"window", func(p *plan.Problem) { p.Operations[2].After[0].Max = 200 }, []string{"paint", "glue", "contradict"}},
		{"windows", func(p *plan.Problem) { p.Operations[2].After[1].Max = 100 }, []string{"cut", "glue", "paint", "contradict"}},
		{"grid", func(p *plan.Problem) { p.Operations[2].After[0] = plan.Lag{After: "b", Min: 1, Max: 4} }, []string{"multiple of 5"}},
		{"shifts", func(p *plan.Problem) { p.Calendar.Shifts = nil }, []string{"no shifts"}},
		{"shift", func(p *plan.Problem) { p.Calendar.Shifts[0].To = 1500 }, []string{"Monday", "1440"}},
		{"zone", func(p *plan.Problem) { p.Calendar.Zone = "Local" }, []string{"IANA"}},
		{"zone name", func(p *plan.Problem) { p.Calendar.Zone = "Mars/Base" }, []string{"Mars/Base"}},
		{"closed", func(p *plan.Problem) { p.Calendar.Closed = []string{"24.12."} }, []string{"24.12.", "2026-12-24"}},
		{"busy", func(p *plan.Problem) { p.Busy = []plan.Busy{{Resource: "y", From: p.Start, To: p.Start.Add(1)}} }, []string{`"y"`}},
		{"busy order", func(p *plan.Problem) { p.Busy = []plan.Busy{{Resource: "maker1", From: p.Start, To: p.Start}} }, []string{"not after"}},
		{"double", func(p *plan.Problem) { p.Operations[1].ID = "a" }, []string{`"a"`, "two"}},
		{"estimate", func(p *plan.Problem) { p.Operations[1].Low = 70; p.Operations[1].High = 80 }, []string{"70, 60, 80"}},
		{"start", func(p *plan.Problem) { p.Start = time.Time{} }, []string{"2000"}},
		{"none", func(p *plan.Problem) { p.Operations = nil }, []string{"no operations"}},
		{"horizon", func(p *plan.Problem) {
			p.Busy = []plan.Busy{{Resource: "maker1", From: p.Start, To: p.Start.AddDate(20, 0, 0)}}
		}, []string{"five years", "cut"}},
	} {
		p := base()
		c.change(&p)
		_, err := Solve(context.Background(), p, nil)
		if err == nil {
			t.Errorf("%s: no error", c.name)
			continue
		}
		for _, w := range c.words {
			if !strings.Contains(err.Error(), w) {
				t.Errorf("%s: %q does not say %q", c.name, err, w)
			}
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Solve(ctx, base(), nil); err == nil || !strings.Contains(err.Error(), "canceled") {
		t.Errorf("cancelled: %v", err)
	}
}
