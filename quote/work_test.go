package quote

import (
	"math"
	"slices"
	"testing"

	"benchbell/quote/cure"
	"benchbell/quote/labour"
	"benchbell/quote/plan"
)

// Planned time is whole steps of the plan's grid, never less than the work takes and never a step more.
func TestOnGrid(t *testing.T) {
	for minutes, want := range map[float64]plan.Minutes{
		0: 5, 0.2: 5, 4.99: 5, 5: 5, 5 + 1e-12: 5, 5.01: 10, 7.5: 10, 9.99: 10, 10: 10, 10.001: 15, 61: 65, 480: 480,
	} {
		if got := onGrid(minutes); got != want {
			t.Errorf("%v minutes are planned as %d, want %d", minutes, got, want)
		}
	}
}

// Planned operations take no less than what is charged for them says, and less than a step more.
func TestOperationsTakeTheirTime(t *testing.T) {
	b := &jobBuilder{studio: shopStudio()}
	for _, likely := range []float64{1, 4.2, 17, 31.3, 90} {
		time := labour.Time{Low: likely * 0.7, Likely: likely, High: likely * 1.6}
		o := b.operation("x", "X", "g", "cut", time, "maker")
		for what, c := range map[string][2]float64{"likely": {float64(o.Duration), time.Likely}, "low": {float64(o.Low), time.Low}, "high": {float64(o.High), time.High}} {
			if c[0] < c[1] || c[0] >= c[1]+float64(plan.Grid) {
				t.Errorf("%v minutes, %s: planned as %v", c[1], what, c[0])
			}
		}
	}
}

// A glued joint is left alone until it can be handled and until the time is over in which its faces are left open.
func TestGlueIsLeftUntilItHolds(t *testing.T) {
	open := opened(t, 1)[0]
	handles, opens := 0, 0
	for _, m := range cure.Materials() {
		s := open.Snapshot
		s.Studio.Adhesive = m.Key
		bond, err := m.Times(s.Studio.Room)
		if err != nil {
			continue // not in this room
		}
		j, err := open.Quote.work(s)
		if err != nil {
			t.Fatalf("%s: %v", m.Key, err)
		}
		if bond.Handle > bond.Place.Earliest+float64(plan.Grid) {
			handles++
		} else if bond.Place.Earliest > bond.Handle+float64(plan.Grid) {
			opens++
		}
		rests := 0
		for _, o := range j.operations {
			for _, l := range o.After {
				i := slices.IndexFunc(j.operations, func(x plan.Operation) bool { return x.ID == l.After })
				if kind := j.operations[i].Kind; kind != "glue" && kind != "layer" {
					continue
				}
				rests++
				least := math.Max(bond.Handle, bond.Place.Earliest)
				if float64(l.Min) < least || float64(l.Min) >= least+float64(plan.Grid) && l.Min > plan.Grid {
					t.Errorf("%s: %s begins %d min after gluing, the joint holds after %v and is left open for %v", m.Key, o.ID, l.Min, bond.Handle, bond.Place.Earliest)
				}
			}
		}
		if rests == 0 {
			t.Errorf("%s: nothing follows gluing", m.Key)
		}
	}
	if handles == 0 {
		t.Errorf("%d materials are held up by handling and %d by being left open, so little is shown", handles, opens)
	}
}
