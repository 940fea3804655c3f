// Package floor plans the shop floor: all commissions at work in one plan, what that plan means for each promised date,
// what could be done to finish one earlier, and where a new commission fits in.
//
// It reads the work of a commission from its quote and never recomputes it. It refuses a commission whose operations at the
// bench differ from those of its quote, one given twice, and what the planner refuses. What always holds: work that is
// done, running or curing keeps its real times, no plan is given up for a worse one by the studio's order, and asking again
// with nothing changed gives the same plan, but for a shop of so much work that each asking looks at a part of it.
package floor

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"
	"time"

	"benchbell/quote"
	"benchbell/quote/plan"
	"benchbell/quote/plan/schedule"
)

const (
	// shopSchedules is the most schedules of one search for the shop plan. There are up to a dozen such searches, each from a good
	// plan already, and somebody waits for them; a quote's budget is for one search from nothing.
	shopSchedules = 150
	// shopRounds is the most rounds of search for a better shop plan. Each round starts from the plan of the last; once two
	// rounds agree on a plan, asking again gives the same one.
	shopRounds = 12
	// togetherRounds is how often work is put together and a better plan looked for around it.
	togetherRounds = 3
	// longestAgo bounds the real times of finished work: the planner looks no further back, and nothing depends on it.
	longestAgo = 600 * 24 * time.Hour
)

// Actual is an operation of a commission at work: its place in the current plan and what has happened to it.
type Actual struct {
	Op        string
	Title     string
	Start     time.Time // planned
	End       time.Time
	Spans     []plan.Span
	Resources []string
	Started   time.Time // zero: not yet
	Finished  time.Time // zero: not yet; without Started it was reported done without being started first

	Rested time.Duration // opening hours at pause since it was started
	Paused time.Time     // and at pause again since; zero: it is not
	Share  float64       // of its pieces that are done again; 0 or 1: all
	Slower time.Duration // that what it put on dries longer than planned
}

// Open is a commission in the shop plan: at work, or quoted and holding a place.
type Open struct {
	Snapshot quote.Snapshot
	Quote    quote.Quote
	Actual   []Actual
	Promise  string // "2026-12-18"; empty: none

	Undecided bool      // its quote may come to nothing
	Until     time.Time // the last moment at which its deposit is awaited; zero: it is paid

	Meetings []Meeting // operations at which its client is met
}

// Meeting is an operation as it was agreed with a client.
type Meeting struct {
	Op  string
	How quote.How // as the client chose; empty: as quoted
	At  time.Time // the time picked; zero: the plan's own

	NotBefore time.Time // where none is picked: the client has notice until then
}

// Shop is the plan of all open commissions.
type Shop struct {
	At       time.Time
	Plan     plan.Solution // operations are named "C0007/cut-5"
	Outlooks []Outlook     // in the order given
	Moved    int           // operations that start at a different time than in the current plan
	Together []Pair        // work of several commissions that the plan does with one set-up

	Now []plan.Objective // what the current plan is worth, followed as closely as it can be

	sh *shop // nil if no work is left
}

// Outlook is what the plan means for one commission.
type Outlook struct {
	Commission quote.CommissionID
	Promise    string // as given
	P50        string // date met in half of the simulated runs
	P80        string // date met in 80 of 100
	P95        string // date met in 95 of 100
	P50Now     string // the first of these in the current plan
	// Kept is the share of simulated runs finished by the end of the promised day; 0 without a promise.
	Kept float64
	// KeptNow is the same of the current plan, followed as closely as it can be.
	KeptNow float64
	// Missed is the share of runs in which a recoat window closes before its coat is on.
	Missed float64
	// Danger: in the current plan the promise is kept in fewer runs than the studio's limit.
	Danger bool
	// Sure is the date that could be told of this plan: met in the studio's share of the runs, never before its planned end.
	Sure string
	// SureNow is the date that could be told of the current plan: met in the studio's share of the runs, never before its
	// planned end.
	SureNow   string
	Undecided bool             // its quote may come to nothing
	Unkept    []Unkept         // times picked by the client that the current plan does not keep
	Unmet     []Unkept         // the same of this plan
	Why       string           // what delays the end most, a clause; empty if no work is left
	WhyNow    string           // in danger: the same of the plan so far
	Closed    []string         // recoat windows that have already closed, as sentences
	Moved     int              // operations that start at a different time than in the current plan
	Left      []plan.Scheduled // unfinished operations, under the commission's own operation IDs
	Reasons   []Reason         // of each of these, in order of start
	Chain     []Reason         // what holds the commission's date, from the first to the last; others' operations too
	Shift     Shift            // against the current plan
}

// shopID names an operation of a commission within the shop plan.
func shopID(c quote.CommissionID, op string) string { return string(c) + "/" + op }

// splitID is shopID's inverse.
func splitID(id string) (quote.CommissionID, string) {
	c, op, _ := strings.Cut(id, "/")
	return quote.CommissionID(c), op
}

// Plan plans all open commissions together as things stand at now. Work that is finished, running or curing keeps its real
// times, and the studio's order says what comes first. The current plan stays unless another is worth changing it for: as a rule
// fewer promises missed, an hour less of lateness, or all the work ready a day earlier. If nothing has changed since one of its
// plans was adopted, it gives that plan again; only in a shop too large to be searched as a whole may it find a better one, since
// each asking looks again at what ails most. It refuses commissions whose operations differ from those of their quote, and what
// package plan refuses; progress, which may be nil, receives the share done.
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
	best, err := sh.follow(ctx, &p)
	if err != nil {
		return Shop{}, err
	}
	for range togetherRounds {
		if best, err = sh.improved(ctx, p, best, progress); err != nil {
			return Shop{}, err
		}
		joined := len(sh.joined)
		if p, best, err = sh.together(ctx, p, best); err != nil {
			return Shop{}, err
		}
		if len(sh.joined) == joined {
			break // else there may be a better plan around what is together now
		}
	}
	if best, err = sh.drawnForward(ctx, p, best, progress); err != nil {
		return Shop{}, err
	}
	progress(1)
	return sh.outlooks(best)
}

// improved searches for a plan that is worth changing the best so far for, in rounds from one to the next.
func (sh *shop) improved(ctx context.Context, p plan.Problem, best plan.Solution, progress func(float64)) (plan.Solution, error) {
	large := len(p.Operations) > schedule.WholeOperations // searched once: people wait for it, and may ask again
	arranged, adopted := p, false                         // what moves, moves against the plan that people have
	for round := range shopRounds {
		part := func(done, budget int) {
			progress((float64(round) + float64(done)/float64(max(1, budget))) / shopRounds)
		}
		from := best
		if large { // from what people have, which says what ails, or from nothing
			from = plan.Solution{}
		}
		next, other, err := schedule.Improve(ctx, arranged, from, part)
		if err != nil {
			return best, fmt.Errorf("the shop plan: %w", err)
		}
		if other {
			if next.Objectives, err = schedule.Objectives(p, next); err != nil {
				return best, fmt.Errorf("the shop plan: %w", err)
			}
		}
		better := other && sh.allTogether(&p, next) && schedule.Better(next, best)
		switch {
		case better:
			best, arranged, adopted = next, p, false
		case adopted:
			return best, nil
		default: // what would be found once people have this plan is found now
			arranged, adopted = schedule.PlannedAs(p, best), true
		}
		if large {
			break
		}
	}
	return best, nil
}

// Look is what the current plan means as things stand at now, followed as closely as it can be: nothing is rearranged. It
// refuses what Plan refuses.
func Look(ctx context.Context, open []Open, st quote.Studio, now time.Time) (Shop, error) {
	p, sh, err := shopProblem(open, st, now)
	if err != nil || sh.left == 0 {
		return Shop{At: now}, err
	}
	s, err := sh.follow(ctx, &p)
	if err != nil {
		return Shop{}, err
	}
	return sh.outlooks(s)
}

// follow is the current plan as it can be kept. What no longer comes to be together in it is apart in the problem.
func (sh *shop) follow(ctx context.Context, p *plan.Problem) (plan.Solution, error) {
	s, err := schedule.Settle(ctx, *p)
	for err == nil && !sh.allTogether(p, s) {
		*p = sh.withJoined(sh.apart, slices.DeleteFunc(sh.joined, func(x pair) bool { return !heldTogether(p, x, s) }))
		s, err = schedule.Settle(ctx, *p)
	}
	if err != nil {
		return s, fmt.Errorf("the current shop plan: %w", err)
	}
	sh.soFar = s
	return s, nil
}

// Order is what the shop's plan is to be good in where the studio gives no order: promises first, then the plan by which people have
// arranged their next days, then what is ready a day earlier altogether.
func Order() []string {
	return []string{plan.Promises, plan.Lateness, plan.Wishes, plan.Windows, plan.Moves, plan.Whole, plan.Setups, plan.Evenings}
}

// shop is the open commissions as one planning problem.
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

	joined         []pair       // with one set-up
	apart, problem plan.Problem // without these and with them
}

// shopProblem combines all open commissions into one planning problem.
func shopProblem(open []Open, st quote.Studio, now time.Time) (plan.Problem, *shop, error) {
	zone, err := time.LoadLocation(st.Calendar.Zone)
	if err != nil {
		return plan.Problem{}, nil, fmt.Errorf("time zone %q is not known: %w", st.Calendar.Zone, err)
	}
	sh := &shop{open: open, studio: st, zone: zone, now: now, due: map[quote.CommissionID]time.Time{}, actual: map[string]Actual{},
		ops: map[string]plan.Operation{}, closed: map[quote.CommissionID][]string{}}
	// The seed belongs to the shop, not to a commission: it must not change when one is delivered.
	p := plan.Problem{Start: now, Calendar: st.Calendar, Resources: st.Resources, Schedules: min(st.Schedules, shopSchedules), Runs: st.Runs, Seed: 1, Busy: st.NotThere(), Air: st.Air, Chance: st.Chance(), Spread: st.Spread}
	p.Frozen = quote.EndOf(now.In(zone), st.Frozen)
	p.Order = slices.Clone(st.Order)
	for _, x := range Order() {
		if !slices.Contains(p.Order, x) {
			p.Order = append(p.Order, x)
		}
	}
	for _, o := range open {
		id := o.Snapshot.Commission
		pr := plan.Project{ID: string(id), Promised: true, Open: o.Undecided}
		if o.Until.After(now) { // nobody begins what is not paid for, nor sooner than its quote says
			pr.Latest = o.Until
			if first := st.FirstDay(o.Snapshot.At.In(zone)); first.After(now) {
				if pr.Release = first; first.After(o.Until) {
					pr.Latest = time.Time{}
				}
			}
		}
		if o.Promise != "" {
			day, err := time.ParseInLocation(time.DateOnly, o.Promise, zone)
			if err != nil {
				return p, nil, fmt.Errorf("the promised date of %s, %q, is not a date; write it as 2026-12-24: %w", id, o.Promise, err)
			}
			pr.Due = time.Date(day.Year(), day.Month(), day.Day()+1, 0, 0, 0, 0, zone).UTC()
			sh.due[id] = pr.Due
		}
		if slices.ContainsFunc(p.Projects, func(x plan.Project) bool { return x.ID == pr.ID }) {
			return p, nil, fmt.Errorf("commission %s is listed twice; list each once", id)
		}
		p.Projects = append(p.Projects, pr)
		ops, err := sh.add(o)
		if err != nil {
			return p, nil, err
		}
		p.Operations = append(p.Operations, ops...)
	}
	return sh.withJoined(p, sh.joinedSoFar(&p)), sh, nil
}

// add makes a commission's operations with their real times.
func (sh *shop) add(o Open) ([]plan.Operation, error) {
	id := o.Snapshot.Commission
	if o.Quote.Work.Version == 0 {
		return nil, fmt.Errorf("the quote of %s has no work breakdown stored with it; open the ledger with this release, which adds it", id)
	}
	ops, err := sh.operations(o)
	if err != nil {
		return nil, err
	}
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
			if op.Finished.IsZero() { // what it rests is not work
				sh.longer(op, sh.rested(a))
			}
		}
		if op.Finished.IsZero() {
			sh.left++
		}
		if a.Share > 0 && a.Share < 1 && op.Started.IsZero() {
			part(op, a.Share)
		}
		op.Project = string(id)
	}
	behind(ops, o.Quote.Work.Operations)
	slower(ops, actual)
	sh.relax(id, ops)
	sh.agreed(o, ops)
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

// relax opens the recoat windows that closed before their coat was started: the coat can still go on at any time once the
// surface is keyed (common practice; the data sheet says how).
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
			// Within one grid step of closing, nothing can be planned into the window any more.
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
	if o.Group == "" || strings.Contains(strings.ToLower(o.Title), strings.ToLower(o.Group)) {
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

// outlooks reads off the plan what it means for each commission.
func (sh *shop) outlooks(s plan.Solution) (Shop, error) {
	out := Shop{At: sh.now, Plan: s, Now: sh.soFar.Objectives, sh: sh}
	byID := func(list []plan.Dates) map[quote.CommissionID]plan.Dates {
		out := map[quote.CommissionID]plan.Dates{}
		for _, d := range list {
			out[quote.CommissionID(d.Project)] = d
		}
		return out
	}
	dates, soFar := byID(s.Dates), byID(sh.soFar.Dates)
	left := map[quote.CommissionID][]plan.Scheduled{}
	last := map[quote.CommissionID]plan.Scheduled{} // what ends last
	endangered := sync.OnceValues(func() (map[string]plan.Scheduled, map[quote.CommissionID]plan.Scheduled) {
		at, last := make(map[string]plan.Scheduled, len(s.Operations)), map[quote.CommissionID]plan.Scheduled{}
		for _, x := range sh.soFar.Operations {
			at[x.ID] = x
			if id := quote.CommissionID(x.Project); !x.End.Before(last[id].End) {
				last[id] = x
			}
		}
		return at, last
	})
	at := make(map[string]plan.Scheduled, len(s.Operations))
	for _, x := range s.Operations {
		at[x.ID] = x
		if id := quote.CommissionID(x.Project); !x.End.Before(last[id].End) {
			last[id] = x
		}
		if sh.ops[x.ID].Finished.IsZero() {
			id, op := splitID(x.ID)
			x.ID = op
			left[id] = append(left[id], x)
		}
	}
	r := &reasoned{sh, at}
	out.Together = r.pairs()
	for _, o := range sh.open {
		id := o.Snapshot.Commission
		d, ok := dates[id]
		if !ok {
			return out, fmt.Errorf("the plan has nothing about %s", id)
		}
		day := func(t time.Time) string { return t.In(sh.zone).Format(time.DateOnly) }
		l := Outlook{Commission: id, Promise: o.Promise, P50: day(d.P50), P80: day(d.P80), P95: day(d.P95), Kept: d.Kept, Missed: d.Missed,
			Sure: sh.sure(d), Closed: sh.closed[id], Left: left[id], Undecided: o.Undecided}
		l.KeptNow, l.SureNow, l.P50Now = soFar[id].Kept, sh.sure(soFar[id]), day(soFar[id].P50)
		l.Danger = o.Promise != "" && l.KeptNow < float64(sh.studio.Danger)/100
		for _, x := range l.Left {
			a := sh.actual[shopID(id, x.ID)]
			if a.Started.IsZero() && !a.Start.Equal(x.Start) {
				l.Moved++
			}
		}
		l.Unkept, l.Unmet = sh.unkept(o, sh.soFar), sh.unkept(o, s)
		l.Why = sh.why(last[id], at)
		if l.Danger {
			atNow, lastNow := endangered()
			l.WhyNow = sh.why(lastNow[id], atNow)
		}
		if len(l.Left) > 0 {
			sh.explain(&l, r, last[id])
		}
		out.Moved += l.Moved
		out.Outlooks = append(out.Outlooks, l)
	}
	return out, nil
}

// sure is the day that can be promised of the dates.
func (sh *shop) sure(d plan.Dates) string {
	return sh.studio.PromiseDay(plan.Solution{End: d.End, P50: d.P50, P80: d.P80, P95: d.P95}, sh.zone).Format(time.DateOnly)
}

// explain says why a commission's work has its place, and how that differs from the current plan.
func (sh *shop) explain(l *Outlook, r *reasoned, last plan.Scheduled) {
	var left []plan.Scheduled
	for _, x := range l.Left {
		x = r.at[shopID(l.Commission, x.ID)]
		left = append(left, x)
		l.Reasons = append(l.Reasons, r.reason(x, l.Commission))
	}
	chain := r.chain(last)
	for k := len(chain) - 1; k >= 0; k-- {
		l.Chain = append(l.Chain, r.reason(chain[k], l.Commission))
	}
	l.Shift = r.shift(l.Commission, chain, left, func(id string) (start, end time.Time) { return sh.actual[id].Start, sh.actual[id].End })
}

// idle is how late work must be begun for that to be a reason by itself.
const idle = 2 * time.Hour

// wait is part of what delays a commission's end, in words.
type wait struct {
	long time.Duration
	text string
}

// why says what delays a commission's end most. Going back from its last operation, that is the longest cure or wait for a
// maker or place, or work that was or is late; if there is none, the work itself takes that long.
func (sh *shop) why(last plan.Scheduled, at map[string]plan.Scheduled) string {
	x := last
	id := quote.CommissionID(x.Project)
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
		// What did it wait for last?
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
		} else if ready.After(before.End) && before.ID != "" {
			holds(ready.Sub(latest(before.End, sh.now)), "“%s” waits %s for the client", x.Title, hours(ready.Sub(before.End)))
		}
		if late := sh.now.Sub(a.Start); !a.Start.IsZero() && late > idle {
			holds(late, "“%s” was planned for %s and has not begun", x.Title, a.Start.In(sh.zone).Format("Mon 2 Jan, 15:04"))
		}
		agreed, _ := sh.agreedOn(x)
		switch w := x.Wait; {
		case !x.Start.After(ready):
		case agreed != "":
			holds(x.Start.Sub(ready), "the work waits for %s", agreed)
		case w == nil || w.Why == plan.WaitOrder || w.Why == plan.WaitCure || w.Why == plan.WaitRelease:
			if sh.shut(ready, x.Start) > weekend {
				holds(x.Start.Sub(ready), "“%s” waits %s until the shop opens on %s", x.Title, hours(x.Start.Sub(ready)), x.Start.In(sh.zone).Format("Mon 2 Jan"))
			}
		default:
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

// weekend is how many days the shop may be shut without that being a reason by itself.
const weekend = 2

// shut is on how many days between two moments the shop does not open; 0 where it opens on any.
func (sh *shop) shut(from, to time.Time) int {
	n := 0
	first, last := from.In(sh.zone), to.In(sh.zone).Format(time.DateOnly)
	for d := first.AddDate(0, 0, 1); d.Format(time.DateOnly) < last; d = d.AddDate(0, 0, 1) {
		if sh.studio.Calendar.Open(d) {
			return 0
		}
		n++
	}
	return n
}

func (sh *shop) resource(id string) string {
	for _, r := range sh.studio.Resources {
		if r.ID == id {
			return r.Title
		}
	}
	return id
}

// hours writes a duration as a person would say it.
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

// byPromise lists the commissions with a promise, the earliest first: the order of their letters.
func (sh *shop) byPromise() []quote.CommissionID {
	ids := slices.Sorted(maps.Keys(sh.due))
	slices.SortStableFunc(ids, func(a, b quote.CommissionID) int { return sh.due[a].Compare(sh.due[b]) })
	return ids
}
