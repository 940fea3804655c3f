package schedule

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"
	"time"

	"benchbell/quote/labour"
	"benchbell/quote/plan"
)

// Dates come true as often as they say: simulated shops with queues, cures on racks, damp days, promises and closed days
// do the work of a plan with durations of their own, drawn by another sampler from another stream and executed slot by
// slot by code that shares nothing with the simulation. BENCHBELL_CALIBRATION=full runs a thousand shops ten times each
// and asks for the bars of 2.5 and 1.4 points; the quick test has fewer and asks for four standard errors.
func TestCalibration(t *testing.T) {
	t.Parallel()
	shops, times, tolerance := 160, 5, [2]float64{5.7, 3.1}
	if os.Getenv("BENCHBELL_CALIBRATION") == "full" {
		shops, times, tolerance = 1000, 10, [2]float64{2.5, 1.4}
	}
	var kept, handed [2]int
	n := 0
	rng := rand.New(rand.NewPCG(11, 12))
	for k := range shops {
		p := drawShop(rng)
		p.Schedules, p.Runs, p.Seed = 12, 1000, uint64(k)
		m, c, s := solved(t, p)
		project := rng.IntN(len(m.projects))
		for range times {
			ready := execute(p, s, rng)[m.projects[project].id]
			n++
			for j, percent := range []int{80, 95} {
				runs := c.ends[project]
				if !ready.After((m.start + slot(runs[(percent*len(runs)+99)/100-1])).time()) {
					kept[j]++
				}
				if !ready.After([]time.Time{s.Dates[project].P80, s.Dates[project].P95}[j]) {
					handed[j]++
				}
			}
		}
	}
	for j, percent := range []float64{80, 95} {
		share := 100 * float64(kept[j]) / float64(n)
		t.Logf("P%g: %.2f %% of %d ready by the date itself, %.2f %% by its handover", percent, share, n, 100*float64(handed[j])/float64(n))
		if math.Abs(share-percent) > tolerance[j] {
			t.Errorf("P%g dates cover %.2f %%, want %g ± %g", percent, share, percent, tolerance[j])
		}
		if handed[j] < kept[j] {
			t.Errorf("P%g: a handover lies before its date", percent)
		}
	}
}

// truth is a shop whose real rates are not the book's. The executed durations carry it; the planner knows only the spread
// that it assumes.
type truth struct {
	low, high float64 // the studio's factor, evenly between
	project   float64 // standard deviation of the logarithm of a commission's
	away      float64 // chance that a maker is away on a day of the plan
	accepted  float64 // share of open quotes that come true
}

// TestCalibrationWithWrongRates: the stated 50, 80 and 95 % hold within 2.5 points in shops whose factor lies evenly between 0.75
// and 1.35 of the book, whose commissions differ, whose makers fall ill and whose clients accept as they like, and a handover
// date is kept at most 6 points more often than stated. The quick test has fewer shops and asks for what they can tell.
// So with nothing logged, with 10 and with 50 finished commissions.
func TestCalibrationWithWrongRates(t *testing.T) {
	t.Parallel()
	for _, finished := range []int{0, 10, 50} {
		t.Run(fmt.Sprint(finished, " finished"), func(t *testing.T) {
			t.Parallel()
			calibrate(t, finished)
		})
	}
}

func calibrate(t *testing.T, finished int) {
	shops, times, slack := 100, 3, 7.0
	if os.Getenv("BENCHBELL_CALIBRATION") == "full" {
		shops, times, slack = 4000, 3, 0
	}
	rng := rand.New(rand.NewPCG(21, uint64(22+finished)))
	is := truth{0.75, 1.35, 0.1, 0.02, 0.6}
	percents := []int{50, 80, 95}
	var kept, handed [3]int
	var sharp time.Duration
	n := 0
	for k := range shops {
		p := drawShop(rng)
		p.Schedules, p.Runs, p.Seed = 12, 1000, uint64(k)
		factor := is.low + (is.high-is.low)*rng.Float64()
		var took []float64
		for range finished {
			took = append(took, factor*math.Exp(is.project*rng.NormFloat64()))
		}
		b := labour.Belief{Bias: 0.03, Rates: 0.17, Project: 0.1}.Learn(took)
		p.Spread = plan.Spread{Bias: b.Bias, Rates: b.Rates, Project: b.Project, Away: 7.3}
		p.Chance = &plan.Chance{Accepted: 6, Lapsed: 4}
		for i := range p.Busy {
			p.Busy[i].Open, p.Busy[i].Label = true, fmt.Sprint("Q", i)
		}
		m, c, s := solved(t, p)
		project := rng.IntN(len(m.projects))
		runs := c.ends[project]
		sharp += s.Dates[project].P80.Sub(s.Dates[project].P50)
		for range times {
			q := p
			q.Busy = nil
			for _, b := range p.Busy {
				if rng.Float64() < is.accepted {
					q.Busy = append(q.Busy, b)
				}
			}
			for _, r := range p.Resources {
				for day := -5; day < 40; day++ { // ill for one to five days
					if r.Kind == "maker" && rng.Float64() < is.away/3 {
						from := p.Start.Truncate(24*time.Hour).AddDate(0, 0, day)
						q.Busy = append(q.Busy, plan.Busy{Resource: r.ID, From: from, To: from.AddDate(0, 0, 1+rng.IntN(5))})
					}
				}
			}
			factors := map[string]float64{}
			for _, pr := range m.projects {
				factors[pr.id] = factor * math.Exp(is.project*rng.NormFloat64())
			}
			ready := executeSlower(q, s, factors, rng)[m.projects[project].id]
			n++
			for j, percent := range percents {
				if !ready.After((m.start + slot(runs[(percent*len(runs)+99)/100-1])).time()) {
					kept[j]++
				}
				if !ready.After([]time.Time{s.Dates[project].P50, s.Dates[project].P80, s.Dates[project].P95}[j]) {
					handed[j]++
				}
			}
		}
	}
	t.Logf("from P50 to P80: %.2f days on average", sharp.Hours()/24/float64(shops))
	for j, percent := range percents {
		share, by := 100*float64(kept[j])/float64(n), 100*float64(handed[j])/float64(n)
		t.Logf("P%d: %.2f %% of %d ready by the date itself, %.2f %% by its handover", percent, share, n, by)
		if math.Abs(share-float64(percent)) > 2.5+slack {
			t.Errorf("P%d dates cover %.2f %%, want %d ± 2.5", percent, share, percent)
		}
		// Half of the work ends within the same few hours of a day, which a handover cannot tell apart: 6 points are missed by up to
		// 1.3 at 50 %, which nobody promises unless they ask for it.
		most := float64(percent) + 6
		if percent == 50 {
			most += 1.5
		}
		if by < float64(percent)-2.5-slack || by > most+slack {
			t.Errorf("P%d handovers cover %.2f %%, want %.1f to %.1f", percent, by, float64(percent)-2.5, most)
		}
	}
}

// solved plans with the plan's parts at hand.
func solved(t *testing.T, p plan.Problem) (*model, *chances, plan.Solution) {
	t.Helper()
	m, err := compile(&p)
	if err != nil {
		t.Fatal(err)
	}
	meter := newMeter(context.Background(), Options{}, p.Schedules, p.Runs)
	g := newGenerator(m)
	people, err := search(m, p.Schedules, m.start, meter)
	if err != nil {
		t.Fatal(err)
	}
	copy(g.wanted, people[0].wanted)
	if err := g.run(people[0].list); err != nil {
		t.Fatal(err)
	}
	c, err := m.simulated(g, meter)
	if err != nil {
		t.Fatal(err)
	}
	s, err := m.finish(g, &people[0], c, meter)
	if err != nil {
		t.Fatal(err)
	}
	return m, c, s
}

// drawShop is two to four commissions of one to three assemblies on few makers, one booth and small racks.
func drawShop(rng *rand.Rand) plan.Problem {
	between := func(a, b int) int { return a + rng.IntN(b-a+1) }
	p := plan.Problem{Start: time.Date(2026, 9, 7+between(0, 6), between(6, 15), 0, 0, 0, time.UTC), Calendar: weekdays("UTC"),
		Resources: append(maker(between(2, 3)), plan.Resource{ID: "booth", Kind: "booth", Capacity: 1}, plan.Resource{ID: "bench", Kind: "bench", Capacity: 2},
			plan.Resource{ID: "line", Kind: "rack", Capacity: 2}),
		Air: &plan.Air{Low: 0.8, High: 1.8}}
	for range between(0, 3) {
		p.Calendar.Closed = append(p.Calendar.Closed, p.Start.AddDate(0, 0, between(1, 14)).Format(time.DateOnly))
	}
	if rng.IntN(2) == 0 {
		p.Law = plan.Lognormal
	}
	for range between(0, 4) {
		from := p.Start.Add(time.Duration(between(0, 8*24)) * time.Hour)
		p.Busy = append(p.Busy, plan.Busy{Resource: p.Resources[rng.IntN(3)].ID, From: from, To: from.Add(time.Duration(between(1, 10)) * time.Hour), Label: "B"})
	}
	for c := range between(2, 4) {
		project := fmt.Sprint("C", c+1)
		var ends []plan.Lag
		for a := range between(1, 3) {
			last := ""
			add := func(kind string, likely int, whole bool, cure plan.Minutes, needs ...plan.Need) {
				o := plan.Operation{ID: fmt.Sprintf("%s.%d.%s", project, a+1, kind), Project: project, Kind: kind, Duration: plan.Minutes(likely), Whole: whole, Needs: needs}
				o.Low, o.High = o.Duration*plan.Minutes(between(50, 90))/100, o.Duration*plan.Minutes(between(120, 260))/100
				if last != "" {
					o.After = []plan.Lag{{After: last, Min: cure}}
					if cure > 0 {
						o.After[0].Cure, o.After[0].Water = "paint", true
						if rng.IntN(2) == 0 {
							o.After[0].Rack = "rack"
						}
					}
				}
				last = o.ID
				p.Operations = append(p.Operations, o)
			}
			add("cut", between(60, 300), false, 0, plan.Need{Kind: "maker"}, plan.Need{Kind: "bench"})
			add("glue", between(60, 240), false, 0, plan.Need{Kind: "maker"}, plan.Need{Kind: "bench"})
			add("prime", between(20, 60), true, plan.Minutes(between(0, 3)*60), plan.Need{Kind: "maker"}, plan.Need{Kind: "booth"})
			add("paint", between(30, 90), true, plan.Minutes(between(60, 1500)), plan.Need{Kind: "maker"}, plan.Need{Kind: "booth"})
			ends = append(ends, plan.Lag{After: last, Min: plan.Minutes(between(0, 2000)), Water: true, Cure: "paint"})
		}
		pack := plan.Operation{ID: project + ".pack", Project: project, Kind: "pack", Duration: 30, Low: 20, High: 80, Needs: byMaker, After: ends}
		if rng.IntN(3) == 0 {
			pack.Tail, pack.TailWater = plan.Minutes(between(60, 2000)), true
		}
		p.Operations = append(p.Operations, pack)
	}
	return p
}

// execute does the plan's work in a shop that goes through its slots of five minutes one by one, and returns when each
// project is ready.
func execute(p plan.Problem, s plan.Solution, rng *rand.Rand) map[string]time.Time {
	return executeSlower(p, s, nil, rng)
}

// executeSlower is execute with a factor on the durations of each project; nil: the book's.
func executeSlower(p plan.Problem, s plan.Solution, factors map[string]float64, rng *rand.Rand) map[string]time.Time {
	const step = 5 * time.Minute
	work := slices.Clone(s.Operations)
	slices.SortStableFunc(work, func(a, b plan.Scheduled) int { return a.End.Compare(b.End) })
	operation := map[string]plan.Operation{}
	took := map[string]int{} // slots
	for _, o := range p.Operations {
		operation[o.ID] = o
		var minutes float64
		if p.Law == plan.Lognormal {
			sigma := math.Log(float64(o.High)/float64(o.Duration)) / 1.64485
			minutes = max(float64(o.Low), float64(o.Duration)*math.Exp(sigma*rng.NormFloat64()))
		} else {
			minutes = pertDraw(rng, float64(o.Low), float64(o.Duration), float64(o.High))
		}
		if f, ok := factors[o.Project]; ok {
			minutes *= f
		}
		took[o.ID] = max(1, int(math.Round(minutes/5)))
	}
	air := map[string]float64{}
	cured := func(from time.Time, minutes plan.Minutes, water bool) time.Time {
		if !water {
			return from.Add(time.Duration(minutes) * time.Minute)
		}
		day := from.UTC().Format(time.DateOnly)
		if _, ok := air[day]; !ok {
			air[day] = pertDraw(rng, p.Air.Low, 1, p.Air.High)
		}
		return from.Add(time.Duration(math.Ceil(float64(minutes)/5*air[day]-1e-9)) * step)
	}
	open := func(at time.Time) bool {
		m := at.Hour()*60 + at.Minute()
		return at.Weekday() != time.Saturday && at.Weekday() != time.Sunday && (m >= 540 && m < 780 || m >= 840 && m < 1080) &&
			!slices.Contains(p.Calendar.Closed, at.Format(time.DateOnly))
	}
	// places: each claim of the plan in order of its beginning goes to the place that has been free longest
	type claim struct {
		from, to time.Time
		id       string
		cure     bool
	}
	type place struct {
		planned time.Time
		queue   []claim
	}
	places := map[string][]*place{}
	mine := map[string][]*place{}
	cureAt := map[string]*place{}
	for _, r := range p.Resources {
		for range r.Capacity {
			places[r.ID] = append(places[r.ID], &place{})
		}
		var claims []claim
		for _, x := range work {
			if slices.Contains(x.Resources, r.ID) {
				claims = append(claims, claim{x.Start, x.End, x.ID, false})
			}
			if x.Rack == r.ID {
				until := x.End
				for _, o := range p.Operations {
					for _, l := range o.After {
						if l.After == x.ID && l.Rack != "" {
							until = x.End.Add(time.Duration((l.Min+4)/5*5) * time.Minute)
						}
					}
				}
				claims = append(claims, claim{x.End, until, x.ID, true})
			}
		}
		slices.SortStableFunc(claims, func(a, b claim) int { return a.from.Compare(b.from) })
		for _, c := range claims {
			best := places[r.ID][0]
			for _, q := range places[r.ID] {
				if q.planned.Before(best.planned) {
					best = q
				}
			}
			best.planned = c.to
			best.queue = append(best.queue, c)
			if c.cure {
				cureAt[c.id] = best
			} else {
				mine[c.id] = append(mine[c.id], best)
			}
		}
	}
	start, end, off := map[string]time.Time{}, map[string]time.Time{}, map[string]time.Time{}
	// free says whether everything before a claim on its place is over by then
	free := func(q *place, id string, cure bool, at time.Time) bool {
		for _, c := range q.queue {
			if c.id == id && c.cure == cure {
				return true
			}
			over, ok := end[c.id]
			if c.cure {
				over, ok = off[c.id]
			}
			if !ok || over.After(at) {
				return false
			}
		}
		return true
	}
	tryStart := func(x plan.Scheduled, at time.Time) bool {
		o := operation[x.ID]
		for _, l := range o.After {
			e, ok := end[l.After]
			if !ok || at.Before(cured(e, l.Min, l.Water)) {
				return false
			}
		}
		for _, q := range mine[x.ID] {
			if !free(q, x.ID, false, at) {
				return false
			}
		}
		// what no longer fits any shift goes on next morning
		whole := o.Whole && took[x.ID] <= 48
		left, now := took[x.ID], at
		for ; left > 0; now = now.Add(step) {
			if !open(now) {
				if whole {
					return false
				}
				continue
			}
			for _, b := range p.Busy {
				if slices.Contains(x.Resources, b.Resource) && now.Before(b.To) && b.From.Before(now.Add(step)) {
					return false
				}
			}
			left--
		}
		if q := cureAt[x.ID]; q != nil && !free(q, x.ID, true, now) {
			return false
		}
		start[x.ID], end[x.ID] = at, now
		if cureAt[x.ID] != nil {
			for _, n := range p.Operations {
				for _, l := range n.After {
					if l.After == x.ID && l.Rack != "" {
						off[x.ID] = cured(now, l.Min, l.Water)
					}
				}
			}
		}
		return true
	}
	at := p.Start
	for at.Minute()%5 != 0 {
		at = at.Add(time.Minute)
	}
	for ; len(end) < len(work); at = at.Add(step) {
		if !open(at) {
			continue
		}
		for _, x := range work {
			if _, begun := start[x.ID]; !begun {
				tryStart(x, at)
			}
		}
	}
	ready := map[string]time.Time{}
	for id, e := range end {
		o := operation[id]
		if e = cured(e, o.Tail, o.TailWater); e.After(ready[o.Project]) {
			ready[o.Project] = e
		}
	}
	return ready
}
