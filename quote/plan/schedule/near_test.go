package schedule

import (
	"testing"
	"time"

	"benchbell/quote/plan"
)

// tight is a shop of a thousand operations whose promises cannot all be kept.
func tight() plan.Problem {
	p := full(25)
	p.Schedules, p.Runs = 30, 0
	for k := range p.Projects {
		p.Projects[k].Due = p.Start.AddDate(0, 0, 7+k*3/2)
	}
	return p
}

// planOf is the plan of a problem searched as a whole, or in windows: its score, with the end after the start, and its time.
func planOf(t testing.TB, p plan.Problem, roll bool) (score, time.Duration) {
	m, err := compile(&p)
	if err != nil {
		t.Fatal(err)
	}
	at := time.Now()
	meter := newMeter(t.Context(), Options{}, p.Schedules, 0)
	solve := m.best
	if roll {
		solve = m.roll
	}
	g, x, c, err := solve(meter)
	if err != nil {
		t.Fatal(err)
	}
	took := time.Since(at)
	if _, err := m.finish(g, x, c, meter); err != nil { // which looks at the plan
		t.Fatal(err)
	}
	for id := range g.given { // every window missed counts
		g.given[id] = true
	}
	g.measure()
	s := g.score()
	s.finish -= m.start
	return s, took
}

// What rolls is near what is searched as a whole where both can be, in less time: in late promises, and in the end of all within
// two in a hundred.
func TestRollingIsNearTheWhole(t *testing.T) {
	p := tight()
	whole, a := planOf(t, p, false)
	p.Schedules *= 2
	rolled, b := planOf(t, p, true)
	t.Logf("whole %+v in %s, rolling %+v in %s", whole, a, rolled, b)
	if rolled.broken > whole.broken || float64(rolled.late) > 1.02*float64(whole.late) ||
		float64(rolled.finish) > 1.02*float64(whole.finish) && rolled.late >= whole.late {
		t.Errorf("rolling %+v, whole %+v", rolled, whole)
	}
}

// BenchmarkThousand is a thousand operations searched as a whole and in windows, with schedules for about the same time; what is
// told is the lateness of promises, in hours.
func BenchmarkThousand(b *testing.B) {
	for _, c := range []struct {
		name      string
		roll      bool
		schedules int
	}{{"whole", false, 30}, {"rolling", true, 150}} {
		b.Run(c.name, func(b *testing.B) {
			p := tight()
			p.Schedules = c.schedules
			var s score
			for b.Loop() {
				s, _ = planOf(b, p, c.roll)
			}
			b.ReportMetric(float64(s.late)*float64(plan.Grid)/60, "late-hours")
			b.ReportMetric(float64(s.finish)/float64(daySlots), "days")
		})
	}
}
