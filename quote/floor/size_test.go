package floor

import (
	"testing"

	"benchbell/quote/plan/check"
)

// A shop with more work than can be searched at once has a plan all the same.
func TestPlanOfAFullShop(t *testing.T) {
	for _, n := range []int{40, 100} {
		open := opened(t, n)
		first := planned(t, open, shopNow)
		p, _, err := shopProblem(open, shopStudio(), shopNow)
		if err != nil {
			t.Fatal(err)
		}
		if err := check.Plan(p, first.Plan); err != nil {
			t.Error(err)
		}
	}
}
