package breakdown

import (
	"testing"

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
	for _, likely := range []float64{1, 4.2, 17, 31.3, 90} {
		b := &builder{rates: labour.Rates{{Op: "cut", Title: "Cutting", Unit: labour.Metre, PerUnit: likely, Low: 0.7, High: 1.6}}, titles: map[string]int{}}
		o, err := b.add(step{id: "x", kind: "cut", quantity: 1})
		if err != nil {
			t.Fatal(err)
		}
		for what, c := range map[string][2]float64{"likely": {float64(o.Duration), likely}, "low": {float64(o.Low), likely * 0.7}, "high": {float64(o.High), likely * 1.6}} {
			if c[0] < c[1] || c[0] >= c[1]+float64(plan.Grid) {
				t.Errorf("%v minutes, %s: planned as %v", c[1], what, c[0])
			}
		}
	}
}
