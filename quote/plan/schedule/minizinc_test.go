package schedule

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"benchbell/quote/gaugetest"
	"benchbell/quote/plan"
)

// half is the constraint models' unit. Where all figures are multiples of it, so is some best schedule, as long as no
// window or rack asks for an end no earlier than some moment of what may go on next morning.
const half = 30

// prove runs a model to its proved optimum: mk, or false where nothing satisfies it.
func prove(t *testing.T, tool, file string) (int, bool) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 2*time.Minute)
	defer cancel()
	out, err := exec.CommandContext(ctx, tool, "--solver", "gecode", file).CombinedOutput()
	if err != nil {
		t.Fatalf("minizinc: %v\n%s", err, out)
	}
	text := string(out)
	if strings.Contains(text, "UNSATISFIABLE") {
		return 0, false
	}
	_, rest, ok := strings.Cut(text[strings.LastIndex(text, "mk="):], "mk=")
	if !ok || !strings.Contains(text, "==========") {
		t.Fatalf("minizinc proved nothing:\n%s", out)
	}
	n, err := strconv.Atoi(strings.FieldsFunc(rest, func(r rune) bool { return r < '0' || r > '9' })[0])
	if err != nil {
		t.Fatal(err)
	}
	return n, true
}

// Small shops with nights, weekends, places held for other work, decided and undecided, cures on a rack, recoat windows with a
// forbidden middle, skills, promises, releases and work that goes on next morning: the plan ends when a constraint solver proves
// that it can at the earliest, and the lower bound lies no later. Source: MiniZinc 2 with Gecode 6, on models written here.
func TestAgainstConstraintSolver(t *testing.T) {
	t.Parallel()
	tool := gaugetest.Tool(t, "minizinc")
	rng := rand.New(rand.NewPCG(5, 8))
	gaps, kept, ends := 0.0, 0, 0
	instances := 12
	if gaugetest.Strict() {
		instances = 24
	}
	for k := range instances {
		p := smallShop(rng)
		p.Schedules, p.Seed = 10, 1 // the exact search does the rest
		file := filepath.Join(t.TempDir(), "shop.mzn")
		if err := os.WriteFile(file, []byte(constraintModel(p)), 0o644); err != nil {
			t.Fatal(err)
		}
		want, ok := prove(t, tool, file)
		s := solve(t, p)
		got := lateness(p, s)*lateUnit + int(s.End.Sub(p.Start)/(half*time.Minute))
		if !ok {
			if len(s.Broken) == 0 {
				t.Errorf("shop %d: planned to %s, a constraint solver finds nothing", k, s.End)
			}
			continue
		}
		kept++
		if len(s.Broken) > 0 || got != want {
			t.Errorf("shop %d: lateness and end are %d half hours with broken %q, the optimum is %d", k, got, s.Broken, want)
		}
		low := int(s.LowerBound.Sub(p.Start) / (half * time.Minute))
		if end := want % lateUnit; low > end {
			t.Errorf("shop %d: the lower bound is %d half hours, the optimum %d", k, low, end)
		} else if len(p.Projects) == 0 {
			ends++
			gaps += float64(end-low) / float64(end)
		}
	}
	if kept < instances/2 {
		t.Errorf("only %d of %d shops can keep their windows, the check says little", kept, instances)
	}
	t.Logf("%d shops with a plan, %d of them without dates, whose lower bounds have a mean gap of %.1f %%", kept, ends, 100*gaps/float64(ends))
}

// lateUnit puts lateness before the end in one figure.
const lateUnit = 10_000

// lateness is that of promised dates in weighted half hours, from the dates the plan tells.
func lateness(p plan.Problem, s plan.Solution) int {
	sum := 0
	for _, x := range p.Projects {
		if at := p80Of(&s, x.ID); at.After(x.Due) {
			sum += x.Weight * int(at.Sub(x.Due)/(half*time.Minute))
		}
	}
	return sum
}

// The example among the project's scheduling references, solved by the solver itself; TestTwoPropsReachTheOptimum has
// the same shop here.
func TestShopModelOptimum(t *testing.T) {
	model := gaugetest.Reference(t, "sched", "worked", "shop.mzn")
	if got, ok := prove(t, gaugetest.Tool(t, "minizinc"), model); !ok || got != 212 {
		t.Errorf("the model's optimum is %d, want 212 half hours as planned here", got)
	}
}

// smallShop draws five to eight operations on two makers, of whom one sprays, a booth and a rack for one.
func smallShop(rng *rand.Rand) plan.Problem {
	between := func(a, b int) int { return a + rng.IntN(b-a+1) }
	p := plan.Problem{Start: time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC), Calendar: plan.Calendar{Zone: "UTC"},
		Resources: []plan.Resource{{ID: "ana", Kind: "maker", Capacity: 1, Skills: []string{"spray"}}, {ID: "ben", Kind: "maker", Capacity: 1},
			{ID: "booth", Kind: "booth", Capacity: 1}, {ID: "line", Kind: "rack", Capacity: 1}}}
	for d := time.Monday; d <= time.Friday; d++ {
		p.Calendar.Shifts = append(p.Calendar.Shifts, plan.Shift{Weekday: d, From: 9 * 60, To: 17 * 60})
	}
	for k := range between(0, 2) {
		from := p.Start.Add(time.Duration(between(18, 120)) * half * time.Minute)
		p.Busy = append(p.Busy, plan.Busy{Resource: p.Resources[rng.IntN(3)].ID, From: from, To: from.Add(time.Duration(between(2, 10)) * half * time.Minute),
			Label: fmt.Sprint("C", k), Open: k == 0})
	}
	n := between(5, 8)
	for i := range n {
		o := plan.Operation{ID: fmt.Sprint("op", i+1), Duration: plan.Minutes(between(1, 10)) * half, Whole: rng.IntN(4) > 0, Needs: []plan.Need{{Kind: "maker"}}}
		if rng.IntN(3) == 0 {
			o.Needs[0].Skill = "spray"
		}
		if rng.IntN(2) == 0 {
			o.Needs = append(o.Needs, plan.Need{Kind: "booth"})
		}
		if rng.IntN(5) == 0 {
			o.Release = p.Start.Add(time.Duration(between(10, 100)) * half * time.Minute)
		}
		if i >= 2 {
			l := plan.Lag{After: fmt.Sprint("op", between(max(1, i-2), i)), Min: plan.Minutes(between(0, 12)+rng.IntN(2)*38) * half} // the same day or next morning
			switch rng.IntN(4) {
			case 0:
				l.Max = l.Min + plan.Minutes(between(8, 30))*half
			case 1:
				l.Min, l.Windows = 0, []plan.LagWindow{{From: 0, To: plan.Minutes(between(1, 6)) * half}, {From: plan.Minutes(between(40, 96)) * half}}
			case 2:
				if l.Min > 0 && l.Min < 24*60 {
					l.Rack = "rack"
				}
			}
			if l.After != o.ID {
				o.After = append(o.After, l)
				if before := &p.Operations[slices.IndexFunc(p.Operations, func(x plan.Operation) bool { return x.ID == l.After })]; l.Max > 0 || l.Windows != nil || l.Rack != "" {
					before.Whole = true // a few minutes over closing time would end it next morning, which half hours do not see
				}
			}
		}
		if rng.IntN(4) == 0 {
			o.Tail = plan.Minutes(between(1, 40)) * half
		}
		o.Project = string(rune('A' + i%2))
		p.Operations = append(p.Operations, o)
	}
	if rng.IntN(3) > 0 {
		for k, id := range []string{"A", "B"} {
			p.Projects = append(p.Projects, plan.Project{ID: id, Promised: true, Weight: k + 1, Due: p.Start.Add(time.Duration(between(20, 120)) * half * time.Minute)})
		}
	}
	return p
}

// tradeShop draws a shop of about n operations: commissions of four to seven, cut, formed and glued, then coats in the booth by the
// one who sprays, with cures, recoat windows that close and some places on the rack; some are released later, and half of the shops
// have promises.
func tradeShop(rng *rand.Rand, n int) plan.Problem {
	between := func(a, b int) int { return a + rng.IntN(b-a+1) }
	p := plan.Problem{Start: time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC), Calendar: plan.Calendar{Zone: "UTC"},
		Resources: []plan.Resource{{ID: "ana", Kind: "maker", Capacity: 1, Skills: []string{"spray"}}, {ID: "ben", Kind: "maker", Capacity: 1},
			{ID: "booth", Kind: "booth", Capacity: 1}, {ID: "line", Kind: "rack", Capacity: 1}}}
	for d := time.Monday; d <= time.Friday; d++ {
		p.Calendar.Shifts = append(p.Calendar.Shifts, plan.Shift{Weekday: d, From: 9 * 60, To: 17 * 60})
	}
	promised := rng.IntN(2) == 0
	for c := 0; len(p.Operations) < n; c++ {
		x := plan.Project{ID: string(rune('A' + c)), Weight: between(1, 3)}
		if promised {
			x.Promised, x.Due = true, p.Start.Add(time.Duration(between(60, 150)+c*24)*half*time.Minute)
		}
		if rng.IntN(3) == 0 {
			x.Release = p.Start.Add(time.Duration(between(18, 40+c*24)) * half * time.Minute)
		}
		steps := min(between(4, 7), max(2, n-len(p.Operations)))
		for k := range steps {
			o := plan.Operation{ID: fmt.Sprintf("%s%d", x.ID, k+1), Project: x.ID, Release: x.Release, Duration: plan.Minutes(between(1, 4)) * half, Needs: []plan.Need{{Kind: "maker"}}}
			coat := k >= steps-3 && k > 0
			if coat {
				o.Whole, o.Duration = true, plan.Minutes(between(1, 3))*half
				o.Needs = []plan.Need{{Kind: "maker", Skill: "spray"}, {Kind: "booth"}}
			}
			if k > 0 {
				l := plan.Lag{After: fmt.Sprintf("%s%d", x.ID, k)}
				before := &p.Operations[len(p.Operations)-1]
				if coat {
					l.Min = plan.Minutes(between(0, 6)) * half
					switch rng.IntN(4) {
					case 0:
						l.Max = l.Min + plan.Minutes(between(6, 30))*half
					case 1:
						l.Min, l.Windows = 0, []plan.LagWindow{{From: 30, To: plan.Minutes(between(3, 6)) * half}, {From: plan.Minutes(between(40, 60)) * half}}
					case 2:
						if l.Min > 0 {
							l.Rack = "rack"
						}
					}
					before.Whole = true // as in smallShop
				}
				o.After = []plan.Lag{l}
			}
			if k == steps-1 {
				o.Tail = plan.Minutes(between(0, 30)) * half
			}
			p.Operations = append(p.Operations, o)
		}
		p.Projects = append(p.Projects, x)
	}
	if !promised {
		p.Projects = nil
		for i := range p.Operations { // releases stand at the operations
			p.Operations[i].Project = "A"
		}
	}
	return p
}

// verdict is what a constraint solver says of a plan.
type verdict int

const (
	optimal verdict = iota // it proves that there is no better one
	beaten                 // it has a better one
	unknown                // neither, within its time
)

var verdicts = [...]string{"optimal", "beaten", "unknown"}

// judge asks a constraint solver for a plan with an aim less than so much.
func judge(t *testing.T, tool, model string, aim int, seconds int) verdict {
	t.Helper()
	file := filepath.Join(t.TempDir(), "shop.mzn")
	model = strings.Replace(model, "minimize aim;", "satisfy;", 1) + fmt.Sprintf("constraint aim < %d;\n", aim)
	if err := os.WriteFile(file, []byte(model), 0o644); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), time.Duration(seconds+60)*time.Second)
	defer cancel()
	out, err := exec.CommandContext(ctx, tool, "--solver", "gecode", "--time-limit", strconv.Itoa(seconds*1000), file).CombinedOutput()
	switch text := string(out); {
	case strings.Contains(text, "UNSATISFIABLE"):
		return optimal
	case strings.Contains(text, "mk="):
		return beaten
	case strings.Contains(text, "UNKNOWN"):
		return unknown
	default:
		t.Fatalf("minizinc: %v\n%s", err, out)
		return unknown
	}
}

// Shops of ten to sixty operations with nights, weekends, skills, racks and closing windows: in at least 95 of 100 of those of which
// a constraint solver can say it, it proves that no plan is better than ours. BENCHBELL_SHOPS=60 takes so many, and as many seconds
// for each as BENCHBELL_SHOPSECONDS says; the sample that always runs is smaller.
func TestTradeShopsAgainstConstraintSolver(t *testing.T) {
	t.Parallel()
	tool := gaugetest.Tool(t, "minizinc")
	shops, seconds := 4, 3
	full := false
	if n, err := strconv.Atoi(os.Getenv("BENCHBELL_SHOPS")); err == nil {
		shops, full = n, true
	}
	if n, err := strconv.Atoi(os.Getenv("BENCHBELL_SHOPSECONDS")); err == nil {
		seconds = n
	}
	rng := rand.New(rand.NewPCG(60, 10))
	var count [3]int
	var gaps float64
	ends, impossible, longer := 0, 0, 0
	for k := range shops {
		n := 10 + k*51/shops
		p := tradeShop(rng, n)
		p.Schedules, p.Seed = tradeSchedules, 1
		s := solve(t, p)
		if len(s.Broken) > 0 { // then nobody must find a plan that keeps all windows
			v := judge(t, tool, constraintModel(p), lateUnit*lateUnit, seconds)
			if v == optimal {
				impossible++
			} else {
				count[v]++
			}
			t.Logf("shop %d of %d operations: %q: %s", k, len(p.Operations), s.Broken, verdicts[v])
			continue
		}
		end := int(s.End.Sub(p.Start) / (half * time.Minute))
		late := lateness(p, s)
		v := judge(t, tool, constraintModel(p), late*lateUnit+end, seconds)
		low := int((s.LowerBound.Sub(p.Start) + half*time.Minute - 1) / (half * time.Minute))
		if v == unknown && late == 0 && low == end {
			v = optimal // by the bound, which the solver holds for true where it knows (TestAgainstConstraintSolver)
		}
		count[v]++
		if v == unknown && full {
			p.Schedules *= 12
			if s := solve(t, p); lateness(p, s)*lateUnit+int(s.End.Sub(p.Start)/(half*time.Minute)) < late*lateUnit+end {
				longer++
			}
		}
		if late == 0 {
			ends++
			gaps += float64(end-low) / float64(low)
		}
		t.Logf("shop %d of %d operations, %d promised: late %d, end %d, bound %d: %s", k, len(p.Operations), len(p.Projects), late, end, low, verdicts[v])
	}
	t.Logf("%d shops: %d proved optimal, %d beaten, %d unknown (%d of them bettered by a search twelve times as long), %d with windows that nobody can keep; mean gap of the end to the bound where nothing is late %.2f %%",
		shops, count[optimal], count[beaten], count[unknown], longer, impossible, 100*gaps/float64(max(1, ends)))
	if said := count[optimal] + count[beaten]; 100*count[optimal] < 95*said || said == 0 {
		t.Errorf("%d of %d plans are optimal", count[optimal], said)
	}
}

// tradeSchedules is a budget that a quote's planning allows: about 0.3 s at the most for these shops.
const tradeSchedules = 5000

// constraintModel writes the shop as a constraint model over nineteen days of half hours.
func constraintModel(p plan.Problem) string {
	const days = 19
	H := days * 48
	open := func(t int) bool { return t/48%7 < 5 && t%48 >= 18 && t%48 < 34 }
	n := len(p.Operations)
	at := map[string]int{}
	for i, o := range p.Operations {
		at[o.ID] = i + 1
	}
	var b strings.Builder
	put := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	put("include \"cumulative.mzn\";\narray[1..%d] of var 0..%d: S;\narray[1..%d] of var 0..%d: E;\narray[1..%d] of var 0..%d: D;\nvar 0..%d: mk;", n, H, n, H, n, H, 2*H)
	for i, o := range p.Operations {
		d := int(o.Duration / half)
		ends := make([]string, H+1)
		var starts []string
		for t := range H + 1 {
			ends[t] = "0"
			if t >= H || !open(t) || p.Start.Add(time.Duration(t)*half*time.Minute).Before(o.Release) {
				continue
			}
			e, left := t, d
			for ; left > 0 && e < H; e++ {
				if open(e) {
					left--
				}
			}
			if left == 0 && (!o.Whole || e-t == d) {
				ends[t] = strconv.Itoa(e)
				starts = append(starts, strconv.Itoa(t))
			}
		}
		put("array[0..%d] of int: end%d = array1d(0..%d, [%s]);", H, i+1, H, strings.Join(ends, ","))
		put("constraint S[%d] in {%s} /\\ E[%d] = end%d[S[%d]] /\\ D[%d] = E[%d]-S[%d];", i+1, strings.Join(starts, ","), i+1, i+1, i+1, i+1, i+1, i+1)
		put("constraint mk >= E[%d]+%d;", i+1, int(o.Tail/half))
		for _, l := range o.After {
			windows := l.Windows
			if windows == nil {
				windows = []plan.LagWindow{{From: l.Min, To: l.Max}}
			}
			var any []string
			for _, w := range windows {
				s := fmt.Sprintf("S[%d]-E[%d] >= %d", i+1, at[l.After], int(w.From/half))
				if w.To > 0 {
					s += fmt.Sprintf(" /\\ S[%d]-E[%d] <= %d", i+1, at[l.After], int(w.To/half))
				}
				any = append(any, "("+s+")")
			}
			put("constraint %s;", strings.Join(any, " \\/ "))
		}
	}
	// who does it
	put("array[1..2,1..%d] of var 0..1: by;", n)
	for i, o := range p.Operations {
		put("constraint by[1,%d]+by[2,%d] = 1;", i+1, i+1)
		if o.Needs[0].Skill != "" {
			put("constraint by[1,%d] = 1;", i+1)
		}
	}
	promises := func(r string) (from, length, ones string) {
		seen := map[int]bool{} // promises may overlap
		for _, x := range p.Busy {
			if x.Resource == r {
				for t := int(x.From.Sub(p.Start) / (half * time.Minute)); t < int(x.To.Sub(p.Start)/(half*time.Minute)); t++ {
					if open(t) && !seen[t] { // at night nobody misses what is promised
						seen[t] = true
						from, length, ones = from+fmt.Sprint(t, ","), length+"1,", ones+"1,"
					}
				}
			}
		}
		return from, length, ones
	}
	for k, r := range []string{"ana", "ben"} {
		from, length, ones := promises(r)
		put("constraint cumulative(S ++ [%s], D ++ [%s], [by[%d,i] | i in 1..%d] ++ [%s], 1);", from, length, k+1, n, ones)
	}
	var booth []string
	var rack [2][]string
	for i, o := range p.Operations {
		if len(o.Needs) > 1 {
			booth = append(booth, strconv.Itoa(i+1))
		}
		longest := 0
		for _, x := range p.Operations {
			for _, l := range x.After {
				if l.After == o.ID && l.Rack != "" {
					longest = max(longest, int(l.Min/half))
				}
			}
		}
		if longest > 0 {
			rack[0] = append(rack[0], fmt.Sprintf("E[%d]", i+1))
			rack[1] = append(rack[1], strconv.Itoa(longest))
		}
	}
	from, length, ones := promises("booth")
	if len(booth) > 0 {
		put("constraint cumulative([S[i] | i in [%s]] ++ [%s], [D[i] | i in [%s]] ++ [%s], [1 | i in [%s]] ++ [%s], 1);",
			strings.Join(booth, ","), from, strings.Join(booth, ","), length, strings.Join(booth, ","), ones)
	}
	if len(rack[0]) > 0 {
		put("constraint cumulative([%s], [%s], [1 | i in 1..%d], 1);", strings.Join(rack[0], ","), strings.Join(rack[1], ","), len(rack[0]))
	}
	// late by the first moment of handover, closing time included
	hand := make([]string, 2*H+1)
	for t, next := 2*H, 2*H; t >= 0; t-- {
		if open(t) || t > 0 && open(t-1) {
			next = t
		}
		hand[t] = strconv.Itoa(next)
	}
	put("array[0..%d] of int: hand = array1d(0..%d, [%s]);", 2*H, 2*H, strings.Join(hand, ","))
	late := "0"
	for _, x := range p.Projects {
		var ends []string
		for i, o := range p.Operations {
			if o.Project == x.ID {
				ends = append(ends, fmt.Sprintf("E[%d]+%d", i+1, int(o.Tail/half)))
			}
		}
		put("var 0..%d: end%s = max([%s]);", 2*H, x.ID, strings.Join(ends, ","))
		late += fmt.Sprintf(" + %d*max(0, hand[end%s]-%d)", x.Weight, x.ID, int(x.Due.Sub(p.Start)/(half*time.Minute)))
	}
	put("var int: aim = %d*(%s) + mk;", lateUnit, late)
	put("solve :: int_search(S, smallest, indomain_min) minimize aim;\noutput [\"mk=\\(aim)\\n\"];")
	return b.String()
}
