package labour

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Worked by hand: believed 0 with a standard deviation of 0.2, four commissions that each took e^0.1 as long, between which 0.1 is
// believed. They do not differ, so the spread is the root of 10·0.01/13 = 0.0076923; 1/0.04 = 25 and 4/0.0076923 = 520, so the mean
// is 520·0.1/545 and the deviation the root of 1/545.
func TestLearnByHand(t *testing.T) {
	x := math.Exp(0.1)
	got := Belief{Rates: 0.2, Project: 0.1}.Learn([]float64{x, x, x, x, 0, -1, math.Inf(1)})
	want := Belief{Bias: 52. / 545, Rates: math.Sqrt(1. / 545), Project: math.Sqrt(0.1 / 13)}
	for _, c := range []struct{ got, want float64 }{{got.Bias, want.Bias}, {got.Rates, want.Rates}, {got.Project, want.Project}} {
		if math.Abs(c.got-c.want) > 1e-12 {
			t.Errorf("learnt %+v, want %+v", got, want)
		}
	}
	if b := (Belief{Bias: 0.03, Rates: 0.17, Project: 0.1}); b.Learn(nil) != b {
		t.Error("of nothing something is learnt")
	}
}

// More evidence makes surer, and the mean lies between what was believed and what was seen.
func TestLearn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := Belief{Bias: rapid.Float64Range(-0.3, 0.3).Draw(t, "bias"), Rates: rapid.Float64Range(0.01, 0.5).Draw(t, "rates"), Project: rapid.Float64Range(0.01, 0.5).Draw(t, "project")}
		took := rapid.SliceOfN(rapid.Float64Range(0.5, 2), 1, 60).Draw(t, "took")
		mean := 0.0
		for _, x := range took {
			mean += math.Log(x) / float64(len(took))
		}
		got := b.Learn(took)
		if got.Rates >= b.Rates || got.Bias < math.Min(b.Bias, mean)-1e-9 || got.Bias > math.Max(b.Bias, mean)+1e-9 || got.Project <= 0 {
			t.Fatalf("%+v becomes %+v after commissions that took %.3f on average", b, got, mean)
		}
	})
}
