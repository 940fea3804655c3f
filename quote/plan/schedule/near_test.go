package schedule

import (
	"testing"
	"time"

	"benchbell/quote/plan"
)

// What rolls is near what is searched as a whole where both can be: in late promises, and in the end of all within two in a hundred.
func TestRollingIsNearTheWhole(t *testing.T) {
	p := full(25)
	p.Schedules, p.Runs = 30, 0
	for k := range p.Projects {
		p.Projects[k].Due = p.Start.AddDate(0, 0, 7+k*3/2)
	}
	plans := func(roll bool) (score, time.Duration) {
		m, err := compile(&p)
		if err != nil {
			t.Fatal(err)
		}
		at := time.Now()
		budget := p.Schedules
		if roll {
			budget *= 2 // about the same time
		}
		meter := newMeter(t.Context(), Options{}, budget, 0)
		solve := m.solve
		if roll {
			solve = m.roll
		}
		s, err := solve(meter)
		if err != nil {
			t.Fatal(err)
		}
		g := newGenerator(m)
		if err := m.loadPlan(g, s); err != nil {
			t.Fatal(err)
		}
		return g.score(), time.Since(at)
	}
	whole, a := plans(false)
	rolled, b := plans(true)
	t.Logf("whole %+v in %s, rolling %+v in %s", whole, a, rolled, b)
	m, _ := compile(&p)
	if rolled.broken > whole.broken || float64(rolled.late) > 1.02*float64(whole.late) ||
		float64(rolled.finish-m.start) > 1.02*float64(whole.finish-m.start) && rolled.late >= whole.late {
		t.Errorf("rolling %+v, whole %+v", rolled, whole)
	}
}

// loadPlan puts a plan's times into g.
func (m *model) loadPlan(g *generator, s plan.Solution) error {
	at := map[string]plan.Scheduled{}
	for _, x := range s.Operations {
		at[x.ID] = x
	}
	for i, o := range m.p.Operations {
		g.start[i], g.end[i] = slotDown(at[o.ID].Start), slotDown(at[o.ID].End)
	}
	for id := range g.given {
		g.given[id] = true
	}
	g.measure()
	return nil
}
