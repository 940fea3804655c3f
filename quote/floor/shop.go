// Package floor is the shop floor: all commissions at work as one plan, what it says of each promise, what could be done to
// have one earlier, and the place of a new commission among the others.
//
// It reads the work of a commission from its quote and never works it out anew. It refuses a commission whose operations at
// the bench are not those of its quote, one that is given twice, and what the planner refuses. What always holds: what is
// done, running or curing stays with its real clocks, promised dates come first, and asked again with nothing changed it
// gives the same plan.
package floor

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"benchbell/quote"
	"benchbell/quote/plan"
	"benchbell/quote/plan/schedule"
)

const (
	// shopRounds is how often the shop's plan is searched for a better one than the one so far. Each round begins from the
	// last one's plan; a plan that two rounds agree on is the same when asked for again.
	shopRounds = 12
	// settleRounds is how often a plan is followed until it stays.
	settleRounds = 6
	// leastSooner is the least by which the commissions together must be ready earlier for a plan that keeps no promise
	// better to replace the one so far: people have arranged themselves with it (common practice, no source).
	leastSooner = 24 * time.Hour
	// leastLess is the same for the lateness of promises: below it the simulation's draws decide, not the plan.
	leastLess = time.Hour
	// longestAgo bounds the real clocks of what is done: the planner looks no further back, and nothing depends on it.
	longestAgo = 600 * 24 * time.Hour
)

// Actual is an operation of a commission at work: its place in the plan so far and what has become of it.
type Actual struct {
	Op        string
	Title     string
	Start     time.Time // planned
	End       time.Time
	Spans     []plan.Span
	Resources []string
	Started   time.Time // zero: not yet
	Finished  time.Time // zero: not yet; without Started it was done without having been started in so many words
}

// Open is a commission at work.
type Open struct {
	Snapshot quote.Snapshot
	Quote    quote.Quote
	Actual   []Actual
	Promise  string // "2026-12-18"; empty: none
}

// Shop is the plan of all open commissions.
type Shop struct {
	At       time.Time
	Plan     plan.Solution // operations are named "C0007/cut-5"
	Outlooks []Outlook     // in the order given
	Moved    int           // operations that start at another time than in the plan so far

	sh *shop // nil where nothing is left to do
}

// Outlook is what the plan says of one commission.
type Outlook struct {
	Commission quote.CommissionID
	Promise    string // as given
	P50        string // date met in half of the simulated runs
	P80        string // date met in 80 of 100
	P95        string // date met in 95 of 100
	// Kept is the share of simulated runs that are ready by the end of the promised day; 0 without a promise.
	Kept float64
	// Missed is the share of runs in which a recoat window closes before its coat is on.
	Missed float64
	// Danger is set where the sure date lies after the promise.
	Danger bool
	// SoFar is the sure date of the plan so far, kept to as well as it can be.
	P80SoFar string
	Why      string           // what holds the end up most, a clause; empty where nothing is left to do
	Closed   []string         // recoat windows that are over already, sentences
	Moved    int              // operations that start at another time than in the plan so far
	Left     []plan.Scheduled // what is not finished, under the commission's own operation IDs
}

// shopID names an operation of a commission within the shop.
func shopID(c quote.CommissionID, op string) string { return string(c) + "/" + op }

// splitID is shopID's inverse.
func splitID(id string) (quote.CommissionID, string) {
	c, op, _ := strings.Cut(id, "/")
	return quote.CommissionID(c), op
}

// Plan plans all open commissions together as things stand at now: what is finished, running or curing stays with its
// real clocks, promised dates come first, and among plans that keep them equally well the plan so far is kept unless the
// work together is done a day earlier. Where nothing has changed since a plan of it was taken over, it gives that plan
// again. It refuses commissions whose operations are not those of their quote, and what package plan refuses; progress,
// which may be nil, is told the share done.
func Plan(ctx context.Context, open []Open, st quote.Studio, now time.Time, progress func(float64)) (Shop, error) {
	if progress == nil {
		progress = func(float64) {}
	}
	p, sh, err := shopProblem(open, st, now)
	if err != nil {
		return Shop{}, err
	}
	if sh.left == 0 {
		return Shop{At: now}, nil
	}
	best, err := schedule.Follow(ctx, p)
	if err == nil {
		best, err = settled(ctx, p, best)
	}
	if err != nil {
		return Shop{}, fmt.Errorf("the shop's plan so far: %w", err)
	}
	sh.soFar = best
	for round := range shopRounds {
		part := func(done, budget int) {
			progress((float64(round) + float64(done)/float64(max(1, budget))) / shopRounds)
		}
		next, err := sh.improved(ctx, p, best, part)
		if err != nil {
			return Shop{}, err
		}
		if !sh.better(next, best) {
			break
		}
		best = next
	}
	progress(1)
	return sh.outlooks(best)
}

// improved searches from a plan and keeps to what it found, so that the result is a plan that Follow gives again.
func (sh *shop) improved(ctx context.Context, p plan.Problem, best plan.Solution, progress func(done, budget int)) (plan.Solution, error) {
	found, err := schedule.Solve(ctx, plannedAs(p, best), progress)
	if err != nil {
		return best, fmt.Errorf("the shop's plan: %w", err)
	}
	return settled(ctx, p, found)
}

// settled follows a plan until following it changes nothing, not even who does what: what was pushed back changes the
// order in which it is done. Twice is usual.
func settled(ctx context.Context, p plan.Problem, s plan.Solution) (plan.Solution, error) {
	for range settleRounds {
		next, err := schedule.Follow(ctx, plannedAs(p, s))
		if err != nil {
			return s, err
		}
		same := slices.EqualFunc(next.Operations, s.Operations, func(a, b plan.Scheduled) bool {
			return a.ID == b.ID && a.Start.Equal(b.Start) && slices.Equal(a.Resources, b.Resources)
		})
		if s = next; same {
			break
		}
	}
	return s, nil
}

// plannedAs is the problem with a solution as its plan so far.
func plannedAs(p plan.Problem, s plan.Solution) plan.Problem {
	at := make(map[string]time.Time, len(s.Operations))
	for _, o := range s.Operations {
		at[o.ID] = o.Start
	}
	p.Operations = slices.Clone(p.Operations)
	for i := range p.Operations {
		if o := &p.Operations[i]; o.Started.IsZero() {
			o.Planned = at[o.ID]
		}
	}
	return p
}

// better says whether a is worth leaving b for.
func (sh *shop) better(a, b plan.Solution) bool {
	if len(a.Broken) != len(b.Broken) {
		return len(a.Broken) < len(b.Broken)
	}
	lateA, endA := sh.lateness(a)
	lateB, endB := sh.lateness(b)
	switch {
	case lateA < lateB-leastLess:
		return true
	case lateA > lateB:
		return false
	}
	return endA < endB-leastSooner
}

// lateness adds up by how much sure dates lie after promises, and when commissions are ready after now.
func (sh *shop) lateness(s plan.Solution) (late, ends time.Duration) {
	for _, d := range s.Dates {
		ends += d.P80.Sub(sh.now)
		if due := sh.due[quote.CommissionID(d.Project)]; !due.IsZero() && d.P80.After(due) {
			late += d.P80.Sub(due)
		}
	}
	return late, ends
}

// shop is the open commissions as one problem.
type shop struct {
	open   []Open
	studio quote.Studio
	zone   *time.Location
	now    time.Time
	due    map[quote.CommissionID]time.Time // end of the promised day
	actual map[string]Actual                // by shop ID
	ops    map[string]plan.Operation        // by shop ID
	closed map[quote.CommissionID][]string
	left   int // operations not finished
	soFar  plan.Solution
}

// shopProblem puts all open commissions into one problem.
func shopProblem(open []Open, st quote.Studio, now time.Time) (plan.Problem, *shop, error) {
	zone, err := time.LoadLocation(st.Calendar.Zone)
	if err != nil {
		return plan.Problem{}, nil, fmt.Errorf("time zone %q is not known: %w", st.Calendar.Zone, err)
	}
	sh := &shop{open: open, studio: st, zone: zone, now: now, due: map[quote.CommissionID]time.Time{}, actual: map[string]Actual{},
		ops: map[string]plan.Operation{}, closed: map[quote.CommissionID][]string{}}
	// The seed is the shop's, not a commission's: it must not change when one is delivered.
	p := plan.Problem{Start: now, Calendar: st.Calendar, Resources: st.Resources, Schedules: st.Schedules, Runs: st.Runs, Seed: 1, Air: st.Air}
	for _, o := range open {
		id := o.Snapshot.Commission
		pr := plan.Project{ID: string(id), Promised: true}
		if o.Promise != "" {
			day, err := time.ParseInLocation(time.DateOnly, o.Promise, zone)
			if err != nil {
				return p, nil, fmt.Errorf("the promise of %s, %q, is no date; write it as 2026-12-24: %w", id, o.Promise, err)
			}
			pr.Due = time.Date(day.Year(), day.Month(), day.Day()+1, 0, 0, 0, 0, zone).UTC()
			sh.due[id] = pr.Due
		}
		if slices.ContainsFunc(p.Projects, func(x plan.Project) bool { return x.ID == pr.ID }) {
			return p, nil, fmt.Errorf("commission %s is given twice; give each once", id)
		}
		p.Projects = append(p.Projects, pr)
		ops, err := sh.add(o)
		if err != nil {
			return p, nil, err
		}
		p.Operations = append(p.Operations, ops...)
	}
	return p, sh, nil
}

// add makes a commission's operations with their real clocks.
func (sh *shop) add(o Open) ([]plan.Operation, error) {
	id := o.Snapshot.Commission
	if o.Quote.Work.Version == 0 {
		return nil, fmt.Errorf("the work of %s is not kept with its quote; open the ledger with this release, which works it out once", id)
	}
	ops := o.Quote.Work.Plan()
	actual := map[string]Actual{}
	for _, a := range o.Actual {
		actual[a.Op] = a
	}
	if len(o.Actual) > 0 && len(actual) != len(ops) {
		return nil, fmt.Errorf("%s has %d operations at the bench and %d in its quote; both must be the same", id, len(actual), len(ops))
	}
	known := map[string]bool{}
	for _, r := range sh.studio.Resources {
		known[r.ID] = true
	}
	for i := range ops {
		op := &ops[i]
		a, ok := actual[op.ID]
		if !ok && len(o.Actual) > 0 {
			return nil, fmt.Errorf("%q of %s is in its quote and not at the bench; both must be the same", op.ID, id)
		}
		op.Planned = a.Start
		op.Started, op.Finished = a.Started, a.Finished
		if !op.Finished.IsZero() && op.Started.IsZero() {
			op.Started = op.Finished.Add(-time.Duration(op.Duration) * time.Minute)
		}
		if !op.Started.IsZero() {
			oldest := sh.now.Add(-longestAgo)
			op.Started = latest(earliest(op.Started, sh.now), oldest)
			if !op.Finished.IsZero() {
				op.Finished = latest(earliest(op.Finished, sh.now), op.Started)
			}
			if !slices.ContainsFunc(a.Resources, func(r string) bool { return !known[r] }) {
				op.By = a.Resources
			}
		}
		if op.Finished.IsZero() {
			sh.left++
		}
		op.Project = string(id)
	}
	sh.relax(id, ops)
	for i := range ops {
		op := &ops[i]
		sh.actual[shopID(id, op.ID)] = actual[op.ID]
		op.ID = shopID(id, op.ID)
		op.After = slices.Clone(op.After)
		for k := range op.After {
			op.After[k].After = shopID(id, op.After[k].After)
		}
		sh.ops[op.ID] = *op
	}
	return ops, nil
}

// relax opens the recoat windows that have closed before their coat was begun: it can still go on once the surface is
// keyed (common practice; the data sheet says how), at any time.
func (sh *shop) relax(id quote.CommissionID, ops []plan.Operation) {
	finished := map[string]*plan.Operation{}
	for i := range ops {
		if !ops[i].Finished.IsZero() {
			finished[ops[i].ID] = &ops[i]
		}
	}
	for i := range ops {
		o := &ops[i]
		if !o.Started.IsZero() {
			continue
		}
		o.After = slices.Clone(o.After)
		for k := range o.After {
			l := &o.After[k]
			e := finished[l.After]
			if e == nil {
				continue
			}
			last, least := l.Max, l.Min
			if n := len(l.Windows); n > 0 {
				last, least = l.Windows[n-1].To, l.Windows[0].From
			}
			closes := e.Finished.Add(time.Duration(last) * time.Minute)
			// A step of the grid before it closes nothing can be planned into it any more.
			if last == 0 || closes.After(sh.now.Add(time.Duration(plan.Grid)*time.Minute)) {
				continue
			}
			l.Min, l.Max, l.Windows = least, 0, nil
			sh.closed[id] = append(sh.closed[id], fmt.Sprintf("%s: the window of %s after “%s” closed on %s; key the surface first, as the data sheet says",
				opTitle(*o), l.Cure, e.Title, closes.In(sh.zone).Format("Mon 2 Jan, 15:04")))
		}
	}
}

func opTitle(o plan.Operation) string {
	if o.Group == "" || strings.Contains(o.Title, o.Group) {
		return "“" + o.Title + "”"
	}
	return "“" + o.Title + "”, " + o.Group
}

func earliest(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}

func latest(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

// outlooks reads off the plan what it says of each commission.
func (sh *shop) outlooks(s plan.Solution) (Shop, error) {
	out := Shop{At: sh.now, Plan: s, sh: sh}
	dates := map[quote.CommissionID]plan.Dates{}
	for _, d := range s.Dates {
		dates[quote.CommissionID(d.Project)] = d
	}
	left := map[quote.CommissionID][]plan.Scheduled{}
	for _, x := range s.Operations {
		if sh.ops[x.ID].Finished.IsZero() {
			id, op := splitID(x.ID)
			x.ID = op
			left[id] = append(left[id], x)
		}
	}
	for _, o := range sh.open {
		id := o.Snapshot.Commission
		d, ok := dates[id]
		if !ok {
			return out, fmt.Errorf("the plan says nothing of %s", id)
		}
		day := func(t time.Time) string { return t.In(sh.zone).Format(time.DateOnly) }
		l := Outlook{Commission: id, Promise: o.Promise, P50: day(d.P50), P80: day(d.P80), P95: day(d.P95), Kept: d.Kept, Missed: d.Missed,
			Closed: sh.closed[id], Left: left[id]}
		for _, x := range sh.soFar.Dates {
			if x.Project == string(id) {
				l.P80SoFar = day(x.P80)
			}
		}
		l.Danger = o.Promise != "" && l.P80 > o.Promise
		for _, x := range l.Left {
			a := sh.actual[shopID(id, x.ID)]
			if a.Started.IsZero() && !a.Start.Equal(x.Start) {
				l.Moved++
			}
		}
		l.Why = sh.why(id, s)
		out.Moved += l.Moved
		out.Outlooks = append(out.Outlooks, l)
	}
	return out, nil
}

// wait is a stretch of the way to a commission's end, in words.
type wait struct {
	long time.Duration
	text string
}

// why says what holds a commission's end up most: on the way back from its last operation the longest cure or wait for
// a maker or place, or work that was or is late, else that the work itself takes so long.
func (sh *shop) why(id quote.CommissionID, s plan.Solution) string {
	at := map[string]plan.Scheduled{}
	var x plan.Scheduled
	for _, o := range s.Operations {
		at[o.ID] = o
		if o.Project == string(id) && !o.End.Before(x.End) {
			x = o
		}
	}
	if !sh.ops[x.ID].Finished.IsZero() {
		return ""
	}
	longest := wait{0, "the work left takes until then"}
	holds := func(long time.Duration, format string, args ...any) {
		if long > longest.long {
			longest = wait{long, fmt.Sprintf(format, args...)}
		}
	}
	for x.ID != "" {
		o, a := sh.ops[x.ID], sh.actual[x.ID]
		if !o.Started.IsZero() {
			switch {
			case a.End.IsZero():
			case o.Finished.IsZero():
				holds(x.End.Sub(a.End), "“%s” takes longer than planned", x.Title)
			default:
				holds(o.Finished.Sub(a.End), "“%s” was done %s later than planned", x.Title, hours(o.Finished.Sub(a.End)))
			}
			break
		}
		// What made it ready last?
		ready, cure, before := sh.now, "", plan.Scheduled{}
		for _, l := range o.After {
			least := l.Min
			if len(l.Windows) > 0 {
				least = l.Windows[0].From
			}
			e := at[l.After]
			if r := e.End.Add(time.Duration(least) * time.Minute); !r.Before(ready) {
				ready, cure, before = r, l.Cure, e
			}
		}
		if cure != "" {
			holds(ready.Sub(latest(before.End, sh.now)), "“%s” waits %s for %s to cure", x.Title, hours(ready.Sub(before.End)), cure)
		}
		if w := x.Wait; w != nil && w.Why != plan.WaitOrder && w.Why != plan.WaitCure && w.Why != plan.WaitRelease && x.Start.After(ready) {
			whose := ""
			if other, _ := splitID(w.For); other != "" && other != id {
				whose = fmt.Sprintf(", busy with %s", other)
			}
			holds(x.Start.Sub(ready), "“%s” waits %s for %s%s", x.Title, hours(x.Start.Sub(ready)), sh.resource(w.Why), whose)
		}
		x = before
	}
	return longest.text
}

func (sh *shop) resource(id string) string {
	for _, r := range sh.studio.Resources {
		if r.ID == id {
			return r.Title
		}
	}
	return id
}

// hours writes a wait as a person would say it.
func hours(d time.Duration) string {
	switch h := int(d.Round(time.Hour).Hours()); {
	case d < 90*time.Minute:
		return fmt.Sprintf("%d min", int(d.Minutes()))
	case h < 48:
		return fmt.Sprintf("%d h", h)
	default:
		return fmt.Sprintf("%d days", (h+12)/24)
	}
}

// byPromise is the commissions with a promise, the earliest first: the order of their letters.
func (sh *shop) byPromise() []quote.CommissionID {
	ids := slices.Sorted(maps.Keys(sh.due))
	slices.SortStableFunc(ids, func(a, b quote.CommissionID) int { return sh.due[a].Compare(sh.due[b]) })
	return ids
}
