package schedule

import (
	"fmt"
	"math"
	"slices"
	"time"

	"benchbell/quote/plan"
)

// Limits of a problem: far above a shop's, low enough that no input can hold a machine up for long.
const (
	maxOperations = 10_000
	maxResources  = 200
	maxProjects   = 200
	maxCapacity   = 1000
	maxBusy       = 20000
	maxLags       = 1200    // of one operation, and so many offsets
	maxOffsets    = 200_000 // of all together
	maxWindows    = 20      // of one lag
	maxNeeds      = 40      // of one operation, each capacity a unit
	maxSkills     = 40      // of one resource
	maxClosed     = 5000
	maxShifts     = 200
	maxText       = 400 // bytes of an ID or title
	maxWeight     = 1000
	maxMinutes    = plan.Minutes(2 * 366 * 24 * 60)
	maxBudget     = 1_000_000                // schedules or runs
	maxDates      = 20_000_000               // runs times projects
	maxHistory    = 2 * 366 * 24 * time.Hour // before the start, of real clocks
)

// earlierDays is how far before the start the calendar reaches: schedules generated backward may be longer than what there is.
const earlierDays = 28

// never marks a moment that is not given.
const never = slot(-1 << 59)

// need is how many units of the listed resources an operation occupies.
type need struct {
	count     int32
	resources []int // those with the fewest skills first, so that the rest stay free for what only they can do
}

// rack is where an operation's cures lie: a unit of one of the resources for length after its end.
type rack struct {
	resources []int
	length    slot
	water     bool
}

// task is a compiled operation.
type task struct {
	dur   slot
	whole bool
	needs []need
	mixed bool // two needs may want the same resource
	rack  rack
	lags  []lag
	next  []int // operations that wait for this one
	held  []int // lags whose earlier operation this is and whose first window closes
	tail  slot
	wet   bool // the tail depends on the day's air
	class int  // alike in what must be free for them, or -1 where more than that decides the start

	project int
	head    slot // no schedule has it earlier
	release slot
	pin     slot // never without one
	planned slot // never without one; where the search begins
	arrange slot // what people have arranged themselves with, which moves are counted from; never without one
	setup   int  // 0: none
	hurry   slot // width of the narrowest closing window it must start in, or -1

	fixed  bool // begun or done: start, end, spans and resources are given
	start  slot
	end    slot
	late   int64 // seconds that the real end lies before end
	spans  []span
	taken  []int
	onRack int // resource, or -1
}

// project is a compiled project.
type project struct {
	id       string
	release  slot
	due      slot // never without one
	promised bool
	weight   int64
	buffer   slot // working time that a date is usually later than planned
	open     bool // its quote may come to nothing
	latest   slot // by which it is let go; never: at its release
}

// model is a validated problem on the grid.
type model struct {
	p         *plan.Problem
	cal       *calendar
	start     slot
	frozen    slot // what starts later and is planned later moves as it likes
	tasks     []task
	projects  []project
	order     []int // a topological order
	capacity  []int32
	promises  []profile
	base      []profile // promises, and what is begun and done
	choices   []int     // ids of lags with several windows
	offsets   []offset  // between starts
	plain     *plain    // nil where more than precedence and resources rules
	lagOwner  []int     // lag id → operation that waits
	lagPlace  []int     // lag id → its place in that operation's After
	rank      []float64 // longest way to the end, in elapsed slots
	nClasses  int
	resources map[string]int
	setups    bool  // some operation has one
	dues      bool  // some project has one
	plans     bool  // some operation has a planned start
	islands   int   // of the search; 0: as many as the budget is for
	known     []int // a list to begin the search with
	floor     slot  // proved: no plan ends earlier; beginning where nothing is
	bounded   bool  // the critical path and that are lower bound enough: no other need be looked for

	objectives *order // nil: the usual one
	extra      []span // extra shifts
}

// name says which operation is meant.
func nameOf(o plan.Operation) string {
	if o.Title == "" || o.Title == o.ID {
		return fmt.Sprintf("%q", o.ID)
	}
	return fmt.Sprintf("%q (%s)", o.Title, o.ID)
}

// compile validates the problem and puts it on the grid.
func compile(p *plan.Problem) (*model, error) {
	if err := limits(p); err != nil {
		return nil, err
	}
	earliest := p.Start
	for _, o := range p.Operations {
		if !o.Started.IsZero() && o.Started.Before(earliest) {
			earliest = o.Started
		}
	}
	if p.Start.Sub(earliest) > maxHistory {
		return nil, fmt.Errorf("an operation was started at %s, over two years before the plan's start, leave out what is long done", earliest.Format(time.RFC3339))
	}
	cal, err := newCalendar(p.Calendar, earliest.AddDate(0, 0, -earlierDays))
	if err != nil {
		return nil, err
	}
	m := &model{p: p, cal: cal, start: slotUp(p.Start), floor: beginning, extra: extraSpans(p.Calendar, cal.zone)}
	if m.objectives, err = orderOf(p); err != nil {
		return nil, err
	}
	if m.frozen, err = onGrid(p.Frozen); err != nil {
		return nil, fmt.Errorf("the moment until which the plan is frozen %w", err)
	} else if m.frozen == never {
		m.frozen = math.MaxInt64
	}
	for _, add := range []func() error{m.addResources, m.addProjects, m.addOperations, m.addClocks, m.addLags, m.addOffsets, m.sort, m.contradictions, m.heads} {
		if err := add(); err != nil {
			return nil, err
		}
	}
	if p.Runs*len(m.projects) > maxDates {
		return nil, fmt.Errorf("%d runs of %d projects are too many dates, give at most %d together", p.Runs, len(m.projects), maxDates)
	}
	m.ranks()
	if m.plain = newPlain(m); m.plain == nil && len(m.offsets) > 0 {
		return nil, fmt.Errorf("starts are tied by offsets, which is planned where the shop is open day and night and nothing has begun, is pinned, promised, due, set up or cures on a rack; leave the offsets or these out")
	}
	return m, nil
}

// limits refuses sizes and times that no shop has.
func limits(p *plan.Problem) error {
	for _, c := range []struct {
		what    string
		n, most int
	}{
		{"operations", len(p.Operations), maxOperations}, {"resources", len(p.Resources), maxResources}, {"projects", len(p.Projects), maxProjects},
		{"promised intervals", len(p.Busy), maxBusy}, {"shifts", len(p.Calendar.Shifts), maxShifts}, {"extra shifts", len(p.Calendar.Extra), maxClosed},
		{"closed days", len(p.Calendar.Closed), maxClosed}, {"schedules", p.Schedules, maxBudget}, {"runs", p.Runs, maxBudget},
	} {
		if c.n > c.most {
			return &plan.TooMany{What: c.what, N: c.n, Most: c.most}
		}
		if c.n < 0 {
			return fmt.Errorf("the problem asks for %d %s, give 0 or more", c.n, c.what)
		}
	}
	if len(p.Operations) == 0 {
		return fmt.Errorf("the problem has no operations, give at least one")
	}
	if y := p.Start.Year(); y < 2000 || y > 2200 {
		return fmt.Errorf("the start lies in the year %d, give a moment between 2000 and 2200", y)
	}
	if p.Law != plan.BetaPERT && p.Law != plan.Lognormal {
		return fmt.Errorf("durations follow the law %q, give none for beta-PERT, or %q", p.Law, plan.Lognormal)
	}
	if a := p.Air; a != nil && !(a.Low >= 0.1 && a.Low <= 1 && a.High >= 1 && a.High <= 10) {
		return fmt.Errorf("the day's air makes cures %g to %g times as long, give factors of 0.1 to 1 and 1 to 10", a.Low, a.High)
	}
	return nil
}

// checkID looks at the ID of one of a list, counted from 0.
func checkID(what string, i int, id string) error {
	if id == "" {
		return fmt.Errorf("%s %d has no id, give each its own", what, i+1)
	}
	if len(id) > maxText {
		return fmt.Errorf("the id of %s %d has %d bytes, give at most %d", what, i+1, len(id), maxText)
	}
	return nil
}

func (m *model) addResources() error {
	m.resources = make(map[string]int, len(m.p.Resources))
	for i, r := range m.p.Resources {
		if err := checkID("resource", i, r.ID); err != nil {
			return err
		}
		if _, double := m.resources[r.ID]; double {
			return fmt.Errorf("two resources have the id %q, give each its own", r.ID)
		}
		if r.Capacity < 1 || r.Capacity > maxCapacity {
			return fmt.Errorf("resource %q has capacity %d, give 1 to %d", r.ID, r.Capacity, maxCapacity)
		}
		if len(r.Skills) > maxSkills {
			return fmt.Errorf("resource %q has %d skills, give at most %d", r.ID, len(r.Skills), maxSkills)
		}
		m.resources[r.ID] = i
		m.capacity = append(m.capacity, int32(r.Capacity))
		m.promises = append(m.promises, newProfile())
		m.base = append(m.base, newProfile())
	}
	for _, b := range m.p.Busy {
		i, ok := m.resources[b.Resource]
		if !ok {
			return fmt.Errorf("promised time %q is on resource %q, which the studio does not list", b.Label, b.Resource)
		}
		if !b.From.Before(b.To) {
			return fmt.Errorf("promised time %q on %q ends at %s, not after it begins at %s",
				b.Label, b.Resource, b.To.Format(time.RFC3339), b.From.Format(time.RFC3339))
		}
		if b.From.Year() < 1970 || b.To.Year() > 2300 {
			return fmt.Errorf("promised time %q on %q lies outside the years 1970 to 2300", b.Label, b.Resource)
		}
		m.promises[i].add(slotDown(b.From), slotUp(b.To), 1)
	}
	for i := range m.base {
		m.base[i].copyFrom(&m.promises[i])
	}
	return nil
}

// onGrid is an optional time of the problem on the grid.
func onGrid(t time.Time) (slot, error) {
	if t.IsZero() {
		return never, nil
	}
	if y := t.Year(); y < 1990 || y > 2300 {
		return never, fmt.Errorf("lies in the year %d, give a moment between 1990 and 2300", y)
	}
	return slotUp(t), nil
}

func (m *model) addProjects() error {
	if err := checkChance(m.p.Chance); err != nil {
		return err
	}
	if err := checkSpread(m.p.Spread); err != nil {
		return err
	}
	for i, x := range m.p.Projects {
		if len(x.ID) > maxText {
			return fmt.Errorf("the id of project %d has %d bytes, give at most %d", i+1, len(x.ID), maxText)
		}
		if m.projectOf(x.ID) >= 0 {
			return fmt.Errorf("two projects have the id %q, give each its own", x.ID)
		}
		if x.Weight < 0 || x.Weight > maxWeight {
			return fmt.Errorf("project %q has weight %d, give 1 to %d", x.ID, x.Weight, maxWeight)
		}
		c := project{id: x.ID, promised: x.Promised, weight: int64(max(1, x.Weight)), open: x.Open}
		var err error
		if c.latest, err = latestStart(x); err != nil {
			return err
		}
		if c.release, err = onGrid(x.Release); err != nil {
			return fmt.Errorf("the release of project %q %w", x.ID, err)
		}
		if c.due, err = onGrid(x.Due); err != nil {
			return fmt.Errorf("the due date of project %q %w", x.ID, err)
		}
		if c.due != never {
			c.due = slotDown(x.Due)
			m.dues = true
		}
		m.projects = append(m.projects, c)
	}
	return nil
}

func (m *model) projectOf(id string) int {
	return slices.IndexFunc(m.projects, func(p project) bool { return p.id == id })
}

func (m *model) addOperations() error {
	index := make(map[string]bool, len(m.p.Operations))
	setups := map[string]int{"": 0}
	projects := make(map[string]int, len(m.projects))
	for k := range m.projects {
		projects[m.projects[k].id] = k
	}
	m.tasks = make([]task, len(m.p.Operations))
	for i, o := range m.p.Operations {
		if err := checkID("operation", i, o.ID); err != nil {
			return err
		}
		if len(o.Title) > maxText || len(o.Project) > maxText {
			return fmt.Errorf("the title or project of operation %q has over %d bytes, shorten it", o.ID, maxText)
		}
		if index[o.ID] {
			return fmt.Errorf("two operations have the id %q, give each its own", o.ID)
		}
		index[o.ID] = true
		t := &m.tasks[i]
		if o.Duration < 0 || o.Duration > maxMinutes || o.Tail < 0 || o.Tail > maxMinutes {
			return fmt.Errorf("operation %s takes %d minutes and cures %d, give 0 to %d for each", nameOf(o), o.Duration, o.Tail, maxMinutes)
		}
		if (o.Low != 0 || o.High != 0) && (o.Low < 0 || o.Low > o.Duration || o.Duration > o.High || o.High > maxMinutes) {
			return fmt.Errorf("operation %s has the durations %d, %d, %d, give low ≤ expected ≤ high or leave low and high out",
				nameOf(o), o.Low, o.Duration, o.High)
		}
		t.dur, t.whole, t.tail, t.wet, t.onRack, t.hurry = slotsUp(o.Duration), o.Whole, slotsUp(o.Tail), o.TailWater, -1, -1
		if o.Whole && t.dur > m.cal.longest && o.Started.IsZero() {
			return fmt.Errorf("operation %s takes %d minutes in one go, longer than the longest shift of %d, split it or allow it to go on next morning",
				nameOf(o), o.Duration, plan.Minutes(m.cal.longest)*plan.Grid)
		}
		if k, known := projects[o.Project]; known {
			t.project = k
		} else {
			if len(m.projects) >= maxProjects {
				return fmt.Errorf("the operations belong to more than %d projects, give fewer", maxProjects)
			}
			t.project = len(m.projects)
			projects[o.Project] = t.project
			m.projects = append(m.projects, project{id: o.Project, weight: 1, due: never, release: never, latest: never})
		}
		for _, x := range []struct {
			to   *slot
			t    time.Time
			what string
		}{{&t.release, o.Release, "release"}, {&t.pin, o.Pinned, "pinned start"}, {&t.planned, o.Planned, "planned start"}} {
			var err error
			if *x.to, err = onGrid(x.t); err != nil {
				return fmt.Errorf("the %s of operation %s %w", x.what, nameOf(o), err)
			}
		}
		t.arrange = t.planned
		m.plans = m.plans || t.planned != never
		n, ok := setups[o.Setup]
		if !ok {
			n = len(setups)
			setups[o.Setup] = n
		}
		t.setup = n
		m.setups = m.setups || n > 0
		if err := m.addNeeds(t, o); err != nil {
			return err
		}
	}
	m.dropIdle()
	return nil
}

// dropIdle forgets projects without operations: they have no dates.
func (m *model) dropIdle() {
	to := make([]int, len(m.projects))
	used := make([]bool, len(m.projects))
	for i := range m.tasks {
		used[m.tasks[i].project] = true
	}
	var kept []project
	for k := range m.projects {
		if used[k] {
			to[k] = len(kept)
			kept = append(kept, m.projects[k])
		}
	}
	for i := range m.tasks {
		m.tasks[i].project = to[m.tasks[i].project]
	}
	m.projects = kept
}

// able lists the resources of a kind with a skill.
func (m *model) able(kind, skill string) []int {
	var out []int
	for i, r := range m.p.Resources {
		if r.Kind == kind && (skill == "" || slices.Contains(r.Skills, skill)) {
			out = append(out, i)
		}
	}
	slices.SortStableFunc(out, func(a, b int) int { return len(m.p.Resources[a].Skills) - len(m.p.Resources[b].Skills) })
	return out
}

func needWords(n plan.Need) string {
	if n.Skill == "" {
		return fmt.Sprintf("%q", n.Kind)
	}
	return fmt.Sprintf("%q who can %q", n.Kind, n.Skill)
}

func (m *model) addNeeds(t *task, o plan.Operation) error {
	var asked []plan.Need
	if len(o.Needs) > maxNeeds*maxCapacity {
		return fmt.Errorf("operation %s needs %d units, give at most %d", nameOf(o), len(o.Needs), maxNeeds*maxCapacity)
	}
	for _, n := range o.Needs {
		if k := slices.Index(asked, n); k >= 0 {
			t.needs[k].count++
			continue
		}
		if len(asked) == maxNeeds {
			return fmt.Errorf("operation %s needs more than %d different things, give fewer", nameOf(o), maxNeeds)
		}
		asked = append(asked, n)
		c := need{count: 1, resources: m.able(n.Kind, n.Skill)}
		if len(c.resources) == 0 {
			return impossible("operation %s needs a %s, the studio has none, add one to its resources", nameOf(o), needWords(n))
		}
		t.needs = append(t.needs, c)
	}
	for k, n := range t.needs {
		var units, all int32
		for _, r := range n.resources {
			units += m.capacity[r]
		}
		all = n.count
		for j := range t.needs { // what asks for less than this also takes from it
			if j != k && asked[j].Kind == asked[k].Kind {
				t.mixed = true
				if asked[k].Skill == "" {
					all += t.needs[j].count
				}
			}
		}
		if all > units {
			return impossible("operation %s needs %d of %s at once, the studio has %d", nameOf(o), all, needWords(asked[k]), units)
		}
	}
	if t.mixed && !m.assignable(t) {
		return fmt.Errorf("operation %s needs more makers with its skills at once than the studio has, split it or add one", nameOf(o))
	}
	return nil
}

// assignable says whether an empty shop could do the task.
func (m *model) assignable(t *task) bool {
	free := slices.Clone(m.capacity)
	_, ok := match(t.needs, free, nil)
	return ok
}

// addLags compiles precedence, once real clocks are known, and what an operation's cures lie on.
func (m *model) addLags() error {
	index := make(map[string]int, len(m.p.Operations))
	for i, o := range m.p.Operations {
		index[o.ID] = i
	}
	kinds := make([]string, len(m.tasks))
	onRack := func(i int, kind string, length slot, water bool) error {
		t := &m.tasks[i]
		o := m.p.Operations[i]
		if kind == "" || length == 0 {
			return nil
		}
		if kinds[i] != "" && kinds[i] != kind {
			return fmt.Errorf("what follows operation %s cures on a %q and on a %q, name one of them", nameOf(o), kinds[i], kind)
		}
		if kinds[i] = kind; t.rack.resources == nil {
			if t.rack.resources = m.able(kind, ""); t.rack.resources == nil {
				return fmt.Errorf("what follows operation %s cures on a %q, the studio has none, add one to its resources", nameOf(o), kind)
			}
		}
		t.rack.length = max(t.rack.length, length)
		t.rack.water = t.rack.water || water
		return nil
	}
	for i, o := range m.p.Operations {
		t := &m.tasks[i]
		if len(o.After) > maxLags {
			return fmt.Errorf("operation %s waits for %d others, give at most %d", nameOf(o), len(o.After), maxLags)
		}
		for k, l := range o.After {
			pred, ok := index[l.After]
			if !ok {
				return fmt.Errorf("operation %s comes after %q, which is not among the operations", nameOf(o), l.After)
			}
			if pred == i {
				return fmt.Errorf("operation %s comes after itself, remove that", nameOf(o))
			}
			p := &m.tasks[pred]
			if t.fixed && !p.fixed {
				return fmt.Errorf("operation %s has begun and comes after %s, which has not, give its real start", nameOf(o), nameOf(m.p.Operations[pred]))
			}
			c := lag{pred: pred, id: len(m.lagOwner), water: l.Water, cure: l.Cure != ""}
			var err error
			if c.windows, err = compileWindows(l, p.late); err != nil {
				return fmt.Errorf("operation %s after %s: %w", nameOf(o), nameOf(m.p.Operations[pred]), err)
			}
			if err := onRack(pred, l.Rack, c.windows[0].from, l.Water); err != nil {
				return err
			}
			if len(c.windows) > 1 && !t.fixed {
				m.choices = append(m.choices, c.id)
			}
			m.lagOwner = append(m.lagOwner, i)
			m.lagPlace = append(m.lagPlace, k)
			t.lags = append(t.lags, c)
			p.next = append(p.next, i)
			if w := c.windows[0]; w.to >= 0 {
				p.held = append(p.held, c.id)
				if width := w.to - w.from; t.hurry < 0 || width < t.hurry {
					t.hurry = width
				}
			}
		}
	}
	for i, o := range m.p.Operations {
		if err := onRack(i, o.TailRack, m.tasks[i].tail, o.TailWater); err != nil {
			return err
		}
	}
	m.classes()
	m.occupyFixed()
	return nil
}

// classes finds operations alike in needs and in how they lie in a shift. What has a closing window before or after it, a cure on
// a rack or needs that share resources is in none.
func (m *model) classes() {
	known := map[string]int{}
	for i := range m.tasks {
		t := &m.tasks[i]
		if t.class = -1; t.mixed || t.rack.length > 0 || t.dur == 0 || len(t.needs) == 0 || len(t.held) > 0 ||
			slices.ContainsFunc(t.lags, func(l lag) bool { return len(l.windows) > 1 || l.last() >= 0 }) {
			continue
		}
		key := fmt.Sprint(t.whole, t.needs)
		k, ok := known[key]
		if !ok {
			k = len(known)
			known[key] = k
		}
		t.class = k
	}
	m.nClasses = len(known)
}

// allWindows is the number of windows of every lag, by id.
func (m *model) allWindows() []int {
	out := make([]int, len(m.lagOwner))
	for _, t := range m.tasks {
		for _, l := range t.lags {
			out[l.id] = len(l.windows)
		}
	}
	return out
}
