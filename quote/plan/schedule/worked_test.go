package schedule

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"benchbell/quote/plan"
)

// network builds operations without resources for a shop that never closes, so that the plan is the network's
// earliest schedule. unit is minutes per unit of the source.
func network(acts []string, estimate map[string][3]float64, pred map[string]string, unit float64) plan.Problem {
	p := plan.Problem{Start: time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC), Calendar: always()}
	for _, a := range acts {
		e := estimate[a]
		o := plan.Operation{ID: a, Low: plan.Minutes(math.Round(e[0] * unit)), Duration: plan.Minutes(math.Round(e[1] * unit)), High: plan.Minutes(math.Round(e[2] * unit))}
		for _, c := range pred[a] {
			o.After = append(o.After, plan.Lag{After: string(c)})
		}
		p.Operations = append(p.Operations, o)
	}
	return p
}

// exact leaves the estimates out and takes d as the durations.
func exact(p plan.Problem, d map[string]float64, unit float64) plan.Problem {
	for i := range p.Operations {
		o := &p.Operations[i]
		o.Low, o.High, o.Duration = 0, 0, plan.Minutes(math.Round(d[o.ID]*unit))
	}
	return p
}

func units(p plan.Problem, at time.Time, unit float64) float64 {
	return at.Sub(p.Start).Minutes() / unit
}

func checkTimes(t *testing.T, p plan.Problem, s plan.Solution, unit float64, want map[string][2]float64, tolerance float64) {
	t.Helper()
	for id, w := range want {
		x := operationOf(s, id)
		if es, ef := units(p, x.Start, unit), units(p, x.End, unit); math.Abs(es-w[0]) > tolerance || math.Abs(ef-w[1]) > tolerance {
			t.Errorf("%s: %.2f to %.2f, want %.2f to %.2f", id, es, ef, w[0], w[1])
		}
	}
}

// Source: Heizer & Render, Operations Management, Milwaukee Paper: earliest starts and finishes.
func TestMilwaukeePaper(t *testing.T) {
	d := map[string]float64{"A": 2, "B": 3, "C": 2, "D": 4, "E": 4, "F": 3, "G": 5, "H": 2}
	pred := map[string]string{"C": "A", "D": "B", "E": "C", "F": "C", "G": "DE", "H": "FG"}
	p := exact(network([]string{"A", "B", "C", "D", "E", "F", "G", "H"}, nil, pred, 60), d, 60)
	s := solve(t, p)
	checkTimes(t, p, s, 60, map[string][2]float64{"A": {0, 2}, "B": {0, 3}, "C": {2, 4}, "D": {3, 7}, "E": {4, 8}, "F": {4, 7}, "G": {8, 13}, "H": {13, 15}}, 0)
	if got := units(p, s.End, 60); got != 15 {
		t.Errorf("end %v, want 15", got)
	}
	checkCritical(t, s, "ACEGH")
	// latest starts and finishes of the same table
	latest(t, p, 60, 15, map[string][2]float64{"A": {0, 2}, "B": {1, 4}, "C": {2, 4}, "D": {4, 8}, "E": {4, 8}, "F": {10, 13}, "G": {8, 13}, "H": {13, 15}}, 0)
}

// checkCritical compares the operations marked as critical.
func checkCritical(t *testing.T, s plan.Solution, want string) {
	t.Helper()
	var got []string
	for _, x := range s.Operations {
		if x.Critical {
			got = append(got, x.ID)
		}
	}
	slices.Sort(got)
	if strings.Join(got, "") != want {
		t.Errorf("critical are %v, want %s", got, want)
	}
}

// latest compares latest starts and finishes for a given end.
func latest(t *testing.T, p plan.Problem, unit, end float64, want map[string][2]float64, tolerance float64) {
	t.Helper()
	m, err := compile(&p)
	if err != nil {
		t.Fatal(err)
	}
	b := &bounds{m: m, cal: m.cal}
	b.network()
	finish := m.start + slot(math.Round(end*unit/float64(plan.Grid)))
	if !b.backward(finish) || b.backward(finish-1) {
		t.Errorf("the network's end is not %v", end)
	}
	b.backward(finish)
	for i, o := range p.Operations {
		w, ok := want[o.ID]
		if !ok {
			continue
		}
		if ls, lf := units(p, b.start[i].time(), unit), units(p, b.last[i].time(), unit); math.Abs(ls-w[0]) > tolerance || math.Abs(lf-w[1]) > tolerance {
			t.Errorf("%s: latest %.2f to %.2f, want %.2f to %.2f", o.ID, ls, lf, w[0], w[1])
		}
	}
}

// Source: Taylor, Introduction to Management Science, chapter 8, solution to problem 1: activities on arcs.
func TestTaylorArcs(t *testing.T) {
	d := map[string]float64{"a": 7, "b": 10, "c": 6, "d": 5, "e": 4, "f": 3, "g": 2} // 1-2, 1-3, 2-4, 3-4, 3-5, 4-5, 5-6
	pred := map[string]string{"c": "a", "d": "b", "e": "b", "f": "cd", "g": "ef"}
	p := exact(network([]string{"a", "b", "c", "d", "e", "f", "g"}, nil, pred, 60), d, 60)
	s := solve(t, p)
	checkTimes(t, p, s, 60, map[string][2]float64{"a": {0, 7}, "b": {0, 10}, "c": {7, 13}, "d": {10, 15}, "e": {10, 14}, "f": {15, 18}, "g": {18, 20}}, 0)
	checkCritical(t, s, "bdfg")
	latest(t, p, 60, 20, map[string][2]float64{"a": {2, 9}, "b": {0, 10}, "c": {9, 15}, "d": {10, 15}, "e": {14, 18}, "f": {15, 18}, "g": {18, 20}}, 0)
}

// Source: Taylor's PERT example (flylib.com/books/en/3.287.1.117): critical activities in a row 1-3-5-7, length 24,
// variance 5.
func TestTaylorPERT(t *testing.T) {
	abm := map[string][3]float64{"a": {5, 8, 17}, "b": {3, 5, 7}, "c": {4, 6, 8}, "d": {3, 4, 5}}
	mean, variance := map[string]float64{}, 0.0
	for a, e := range abm {
		mean[a] = (e[0] + 4*e[1] + e[2]) / 6
		variance += (e[2] - e[0]) * (e[2] - e[0]) / 36
	}
	p := network([]string{"a", "b", "c", "d"}, abm, map[string]string{"b": "a", "c": "b", "d": "c"}, 600)
	m, err := compile(&p)
	if err != nil {
		t.Fatal(err)
	}
	// the quick estimate of lateness is PERT's: most likely 23, mean 24, and z80 standard deviations of the way
	if got, want := float64(m.projects[0].buffer)*float64(plan.Grid)/600, 24-23+z80*math.Sqrt(variance); math.Abs(got-want) > 0.01 || math.Abs(variance-5) > 1e-9 {
		t.Errorf("buffer %v with variance %v, want %v and 5", got, variance, want)
	}
	if got := units(p, solve(t, exact(p, mean, 600)).End, 600); got != 24 {
		t.Errorf("end %v, want 24", got)
	}
}

// Source: Render, Stair & Hanna, Quantitative Analysis for Management, problem with activities A to N: rows of the
// published table for A to F, and the project's length, at PERT means (a+4m+b)/6.
func TestRenderStairMeans(t *testing.T) {
	abm := map[string][3]float64{"A": {5, 5, 7}, "B": {1, 2, 5}, "C": {5, 5, 5}, "D": {4, 8, 13}, "E": {1, 10, 17}, "F": {1, 5, 7},
		"G": {2, 6, 9}, "H": {4, 4, 6}, "I": {2, 7, 10}, "J": {2, 4, 7}, "K": {6, 10, 13}, "L": {2, 6, 6}, "M": {2, 2, 3}, "N": {7, 7, 12}}
	pred := map[string]string{"C": "A", "D": "A", "E": "BC", "F": "D", "G": "D", "H": "EF", "I": "GH", "J": "I", "K": "I", "L": "J", "M": "K", "N": "LM"}
	acts := []string{"A", "B", "C", "D", "E", "F", "G", "H", "I", "J", "K", "L", "M", "N"}
	mean := map[string]float64{}
	for a, e := range abm {
		mean[a] = (e[0] + 4*e[1] + e[2]) / 6
	}
	p := exact(network(acts, nil, pred, 60), mean, 60) // sixths of 60 are on the grid
	s := solve(t, p)
	const printed = 0.006 // two places
	checkTimes(t, p, s, 60, map[string][2]float64{"A": {0, 5.33}, "B": {0, 2.33}, "C": {5.33, 10.33}, "D": {5.33, 13.5}, "E": {10.33, 20}, "F": {13.5, 18.17}}, printed)
	if got := units(p, s.End, 60); math.Abs(got-50.8333) > printed {
		t.Errorf("end %v, want 50.8333", got)
	}
	checkCritical(t, s, "ACEHIKMN")
	latest(t, p, 60, 50.8333, map[string][2]float64{"A": {0, 5.33}, "B": {8, 10.33}, "C": {5.33, 10.33}, "D": {7.17, 15.33}, "E": {10.33, 20}, "F": {15.33, 20}}, printed)
}

// Source: Hillier & Lieberman, Introduction to Operations Research, Reliable Construction (inputs from memory): length
// 44 at the PERT means. The percentiles are from an independent simulation of 400 000 runs with beta-PERT durations
// among the project's facts: P80 46.8, P95 49.37, 81.73 % within 47.
func TestReliableConstruction(t *testing.T) {
	abm := map[string][3]float64{"A": {1, 2, 3}, "B": {2, 3.5, 8}, "C": {6, 9, 18}, "D": {4, 5.5, 10}, "E": {1, 4.5, 5}, "F": {4, 4, 10}, "G": {5, 6.5, 11},
		"H": {5, 8, 17}, "I": {3, 7.5, 9}, "J": {3, 9, 9}, "K": {4, 4, 4}, "L": {1, 5.5, 7}, "M": {1, 2, 3}, "N": {5, 5.5, 9}}
	pred := map[string]string{"B": "A", "C": "B", "D": "C", "E": "C", "F": "E", "G": "D", "H": "EG", "I": "C", "J": "FI", "K": "J", "L": "J", "M": "H", "N": "KL"}
	acts := []string{"A", "B", "C", "D", "E", "F", "G", "H", "I", "J", "K", "L", "M", "N"}
	mean := map[string]float64{}
	for a, e := range abm {
		mean[a] = (e[0] + 4*e[1] + e[2]) / 6
	}
	p := exact(network(acts, nil, pred, 60), mean, 60)
	exactly := solve(t, p)
	if got := units(p, exactly.End, 60); got != 44 {
		t.Errorf("end %v, want 44", got)
	}
	checkCritical(t, exactly, "ABCEFJLN")
	const unit = 600 // minutes a week: the grid is then fine beside the spread
	p = network(acts, abm, pred, unit)
	p.Runs, p.Seed = 4000, 3
	s := solve(t, p)
	m, g := policyOf(t, p)
	c, err := m.simulated(g, newMeter(context.Background(), Options{}, 0, p.Runs))
	if err != nil {
		t.Fatal(err)
	}
	within, _ := slices.BinarySearch(c.finish, int32(47*unit/int(plan.Grid)+1))
	if share := float64(within) / float64(p.Runs); math.Abs(share-0.8173) > 0.02 { // three standard errors
		t.Errorf("%.4f of the runs within 47 weeks, want 0.8173", share)
	}
	// three standard errors of the percentiles of 5000 runs, and the grid
	for _, c := range []struct {
		what            string
		got, want, tole float64
	}{{"P80", units(p, s.P80, unit), 46.8, 0.2}, {"P95", units(p, s.P95, unit), 49.37, 0.3}} {
		if math.Abs(c.got-c.want) > c.tole {
			t.Errorf("%s: %.3f, want %.2f ± %.2f", c.what, c.got, c.want, c.tole)
		}
	}
}

// Source: PERT closed forms: optimistic 2, likely 4, pessimistic 9 give mean 4.5; the beta-PERT variance is
// (mean−low)(high−mean)/7, the classic one ((9−2)/6)² = 1.3611 is near it. The table is in slots, so that the figures are
// taken times a thousand slots.
func TestBetaPERTMoments(t *testing.T) {
	const unit = 5000 // minutes: a thousand slots
	table := durations(plan.BetaPERT, plan.Operation{Low: 2 * unit, Duration: 4 * unit, High: 9 * unit})
	var sum, squares float64
	for _, d := range table {
		x := float64(d) / 1000
		if x < 2 || x > 9 {
			t.Fatalf("%v outside 2 to 9", x)
		}
		sum += x
		squares += x * x
	}
	mean := sum / quantiles
	variance := squares/quantiles - mean*mean
	// the shape is on a lattice and the tails are at the middle of a thousandth
	if math.Abs(mean-4.5) > 0.01 {
		t.Errorf("mean %v, want 4.5", mean)
	}
	if want := (4.5 - 2) * (9 - 4.5) / 7; math.Abs(variance-want) > 0.02 {
		t.Errorf("variance %v, want %v", variance, want)
	}
	if got := durations(plan.BetaPERT, plan.Operation{Low: 5, Duration: 5, High: 5}); got != nil {
		t.Errorf("an exact duration became %v", got)
	}
	// against an independent sampler
	rng := rand.New(rand.NewPCG(1, 2))
	drawn := make([]float64, 100_000)
	for i := range drawn {
		drawn[i] = pertDraw(rng, 2, 4, 9)
	}
	slices.Sort(drawn)
	for _, k := range []int{51, 256, 512, 768, 972} { // P5 to P95
		want := drawn[int((float64(k)+0.5)/quantiles*float64(len(drawn)))]
		if got := float64(table[k]) / 1000; math.Abs(got-want) > 0.03 { // three standard errors of the sample's quantiles
			t.Errorf("quantile %d: %v, drawn %v", k, got, want)
		}
	}
}

// Source: the lognormal distribution's quantiles exp(mu + z sigma), z80 = 0.84162, z95 = 1.64485.
func TestLognormalQuantiles(t *testing.T) {
	table := durations(plan.Lognormal, plan.Operation{Low: 100, Duration: 5000, High: 10000})
	sigma := math.Log(2) / 1.64485
	for _, c := range []struct {
		percent int
		z       float64
	}{{50, 0}, {80, 0.84162}, {95, 1.64485}} {
		got, want := float64(table[c.percent*quantiles/100]), 1000*math.Exp(c.z*sigma)
		if math.Abs(got/want-1) > 0.005 { // one of the thousand steps
			t.Errorf("P%d: %v slots, want %v", c.percent, got, want)
		}
	}
}

// pertDraw draws from beta-PERT by two gamma variates.
func pertDraw(rng *rand.Rand, low, likely, high float64) float64 {
	a, b := 1+4*(likely-low)/(high-low), 1+4*(high-likely)/(high-low)
	x, y := gammaDraw(rng, a), gammaDraw(rng, b)
	return low + (high-low)*x/(x+y)
}

// gammaDraw draws from the gamma distribution with a shape of at least 1, by Marsaglia and Tsang's method (ACM TOMS 26,
// 2000; from memory).
func gammaDraw(rng *rand.Rand, shape float64) float64 {
	d := shape - 1.0/3
	c := 1 / math.Sqrt(9*d)
	for {
		x := rng.NormFloat64()
		v := 1 + c*x
		if v <= 0 {
			continue
		}
		v = v * v * v
		if u := rng.Float64(); u < 1-0.0331*x*x*x*x || math.Log(u) < x*x/2+d*(1-v+math.Log(v)) {
			return d * v
		}
	}
}

// Source: documented results of the spreadsheet functions NETWORKDAYS and WORKDAY among the project's calendar facts.
func TestWorkingDays(t *testing.T) {
	shop := func(closed ...string) plan.Calendar {
		c := plan.Calendar{Zone: "UTC", Closed: closed}
		for d := time.Monday; d <= time.Friday; d++ {
			c.Shifts = append(c.Shifts, plan.Shift{Weekday: d, From: 540, To: 1020})
		}
		return c
	}
	for _, c := range []struct {
		from, to string // both counted
		closed   []string
		days     slot
	}{
		{"2012-10-01", "2013-03-01", nil, 110},
		{"2012-10-01", "2013-03-01", []string{"2012-11-22"}, 109},
		{"2012-10-01", "2013-03-01", []string{"2012-11-22", "2012-12-04", "2013-01-21"}, 107},
		{"2001-12-15", "2002-01-15", []string{"2001-12-24", "2001-12-25", "2001-12-26", "2001-12-31", "2002-01-01"}, 17},
		{"2006-01-01", "2006-01-31", nil, 22},
	} {
		from, to := moment(t, c.from+"T00:00:00Z"), moment(t, c.to+"T00:00:00Z").AddDate(0, 0, 1)
		k, err := newCalendar(shop(c.closed...), from)
		if err != nil {
			t.Fatal(err)
		}
		a, _ := k.worked(slotDown(from))
		b, _ := k.worked(slotDown(to))
		if got := (b - a) / 96; got != c.days {
			t.Errorf("%s to %s: %d working days, want %d", c.from, c.to, got, c.days)
		}
	}
	p := plan.Problem{Start: moment(t, "2001-12-01T00:00:00Z"), Calendar: shop("2001-12-24", "2001-12-25", "2001-12-26", "2001-12-31", "2002-01-01"),
		Operations: []plan.Operation{{ID: "a", Duration: 17 * 480}}}
	at(t, "17 working days after 1 December 2001", solve(t, p).End, "2001-12-28T17:00:00Z")
}

// Two props through cut, prime and two coats of paint with one maker and one booth, 9 to 17 on weekdays, 2 to 8 h
// between primer and paint and 48 h before the last coat. Source: optimum of 212 half hours found and proved by a
// constraint solver on a model among the project's scheduling references; no schedule can be earlier, and so small a
// problem must reach it.
func TestTwoPropsReachTheOptimum(t *testing.T) {
	p := plan.Problem{Start: time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC), Calendar: plan.Calendar{Zone: "UTC"},
		Resources: append(maker(1), plan.Resource{ID: "booth", Kind: "booth", Capacity: 1}), Schedules: 200, Seed: 1}
	for d := time.Monday; d <= time.Friday; d++ {
		p.Calendar.Shifts = append(p.Calendar.Shifts, plan.Shift{Weekday: d, From: 540, To: 1020})
	}
	both := []plan.Need{{Kind: "maker"}, {Kind: "booth"}}
	for k, d := range [][4]plan.Minutes{{6, 4, 3, 2}, {5, 4, 3, 2}} {
		id := func(s string) string { return s + string(rune('1'+k)) }
		p.Operations = append(p.Operations,
			plan.Operation{ID: id("cut"), Duration: d[0] * 30, Needs: byMaker, Whole: true},
			plan.Operation{ID: id("prime"), Duration: d[1] * 30, Needs: both, Whole: true, After: []plan.Lag{{After: id("cut")}}},
			plan.Operation{ID: id("paint"), Duration: d[2] * 30, Needs: both, Whole: true, After: []plan.Lag{{After: id("prime"), Min: 120, Max: 480}}},
			plan.Operation{ID: id("second"), Duration: d[3] * 30, Needs: both, Whole: true, After: []plan.Lag{{After: id("paint"), Min: 48 * 60}}})
	}
	s := solve(t, p)
	if got := units(p, s.End, 30); got != 212 || len(s.Broken) > 0 {
		t.Errorf("ends after %v half hours with broken windows %q, want 212 and none", got, s.Broken)
	}
}
