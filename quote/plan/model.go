package plan

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// Limits of a problem: far above a commission, low enough that no input can hold a machine up for long.
const (
	maxOperations = 1000
	maxResources  = 200
	maxCapacity   = 1000
	maxBusy       = 20000
	maxLags       = 40 // of one operation
	maxWindows    = 20 // of one lag
	maxClosed     = 5000
	maxShifts     = 200
	maxText       = 400 // bytes of an ID or title
	maxMinutes    = Minutes(2 * 366 * 24 * 60)
	maxBudget     = 1_000_000 // schedules or runs
)

// window is an allowed interval of starts after the earlier operation's end, both ends included; to < 0 means no end.
type window struct{ from, to slot }

// lag is a compiled precedence.
type lag struct {
	pred    int
	windows []window // ascending
	id      int      // over all operations
}

// last is the latest allowed distance, or -1 without one.
func (l *lag) last() slot { return l.windows[len(l.windows)-1].to }

// hit is the window that a distance from the earlier operation's end falls in, or -1.
func (l *lag) hit(distance slot) int {
	for i, w := range l.windows {
		if distance >= w.from && (w.to < 0 || distance <= w.to) {
			return i
		}
	}
	return -1
}

// need is how many units of the listed resources an operation occupies.
type need struct {
	count     int32
	resources []int
}

// task is a compiled operation.
type task struct {
	dur   slot
	whole bool
	needs []need
	lags  []lag
	next  []int // operations that wait for this one
	held  []int // lags whose earlier operation this is and whose first window closes
	tail  slot

	hurried bool // must start within a time after another
}

// model is a validated problem on the grid.
type model struct {
	p         *Problem
	cal       *calendar
	start     slot
	tasks     []task
	order     []int // a topological order
	capacity  []int32
	base      []profile // promises
	choices   []int     // ids of lags with several windows
	lagOwner  []int     // lag id → operation that waits
	lagPlace  []int     // lag id → its place in that operation's After
	rank      []float64 // longest way to the end, in elapsed slots
	resources map[string]int
}

// name says which operation is meant.
func (o Operation) name() string {
	if o.Title == "" || o.Title == o.ID {
		return fmt.Sprintf("%q", o.ID)
	}
	return fmt.Sprintf("%q (%s)", o.Title, o.ID)
}

// compile validates the problem and puts it on the grid.
func compile(p *Problem) (*model, error) {
	if err := limits(p); err != nil {
		return nil, err
	}
	cal, err := newCalendar(p.Calendar, p.Start)
	if err != nil {
		return nil, err
	}
	m := &model{p: p, cal: cal, start: slotUp(p.Start)}
	if err := m.addResources(); err != nil {
		return nil, err
	}
	if err := m.addOperations(); err != nil {
		return nil, err
	}
	if err := m.sort(); err != nil {
		return nil, err
	}
	if err := m.contradictions(); err != nil {
		return nil, err
	}
	m.ranks()
	return m, nil
}

// limits refuses sizes and times that no shop has.
func limits(p *Problem) error {
	for _, c := range []struct {
		what    string
		n, most int
	}{
		{"operations", len(p.Operations), maxOperations}, {"resources", len(p.Resources), maxResources},
		{"promised intervals", len(p.Busy), maxBusy}, {"shifts", len(p.Calendar.Shifts), maxShifts},
		{"closed days", len(p.Calendar.Closed), maxClosed}, {"schedules", p.Schedules, maxBudget}, {"runs", p.Runs, maxBudget},
	} {
		if c.n > c.most {
			return fmt.Errorf("the problem has %d %s, give at most %d", c.n, c.what, c.most)
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
	return nil
}

func checkID(what, id string) error {
	if id == "" {
		return fmt.Errorf("%s has no id, give each its own", what)
	}
	if len(id) > maxText {
		return fmt.Errorf("the id of %s has %d bytes, give at most %d", what, len(id), maxText)
	}
	return nil
}

func (m *model) addResources() error {
	m.resources = make(map[string]int, len(m.p.Resources))
	for i, r := range m.p.Resources {
		if err := checkID(fmt.Sprintf("resource %d", i+1), r.ID); err != nil {
			return err
		}
		if _, double := m.resources[r.ID]; double {
			return fmt.Errorf("two resources have the id %q, give each its own", r.ID)
		}
		if r.Capacity < 1 || r.Capacity > maxCapacity {
			return fmt.Errorf("resource %q has capacity %d, give 1 to %d", r.ID, r.Capacity, maxCapacity)
		}
		m.resources[r.ID] = i
		m.capacity = append(m.capacity, int32(r.Capacity))
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
		m.base[i].add(slotDown(b.From), slotUp(b.To), 1)
	}
	return nil
}

func (m *model) addOperations() error {
	index := make(map[string]int, len(m.p.Operations))
	for i, o := range m.p.Operations {
		if err := checkID(fmt.Sprintf("operation %d", i+1), o.ID); err != nil {
			return err
		}
		if len(o.Title) > maxText {
			return fmt.Errorf("the title of operation %q has %d bytes, give at most %d", o.ID, len(o.Title), maxText)
		}
		if _, double := index[o.ID]; double {
			return fmt.Errorf("two operations have the id %q, give each its own", o.ID)
		}
		index[o.ID] = i
	}
	m.tasks = make([]task, len(m.p.Operations))
	for i, o := range m.p.Operations {
		t := &m.tasks[i]
		if o.Duration < 0 || o.Duration > maxMinutes || o.Tail < 0 || o.Tail > maxMinutes {
			return fmt.Errorf("operation %s takes %d minutes and cures %d, give 0 to %d for each", o.name(), o.Duration, o.Tail, maxMinutes)
		}
		if (o.Low != 0 || o.High != 0) && (o.Low < 0 || o.Low > o.Duration || o.Duration > o.High || o.High > maxMinutes) {
			return fmt.Errorf("operation %s has the durations %d, %d, %d, give low ≤ expected ≤ high or leave low and high out",
				o.name(), o.Low, o.Duration, o.High)
		}
		t.dur, t.whole, t.tail = slotsUp(o.Duration), o.Whole, slotsUp(o.Tail)
		if o.Whole && t.dur > m.cal.longest {
			return fmt.Errorf("operation %s takes %d minutes in one go, longer than the longest shift of %d, split it or allow it to go on next morning",
				o.name(), o.Duration, Minutes(m.cal.longest)*Grid)
		}
		if err := m.addNeeds(t, o); err != nil {
			return err
		}
		if len(o.After) > maxLags {
			return fmt.Errorf("operation %s waits for %d others, give at most %d", o.name(), len(o.After), maxLags)
		}
		for k, l := range o.After {
			pred, ok := index[l.After]
			if !ok {
				return fmt.Errorf("operation %s comes after %q, which is not among the operations", o.name(), l.After)
			}
			if pred == i {
				return fmt.Errorf("operation %s comes after itself, remove that", o.name())
			}
			c := lag{pred: pred, id: len(m.lagOwner)}
			var err error
			if c.windows, err = compileWindows(l); err != nil {
				return fmt.Errorf("operation %s after %s: %w", o.name(), m.p.Operations[pred].name(), err)
			}
			if len(c.windows) > 1 {
				m.choices = append(m.choices, c.id)
			}
			m.lagOwner = append(m.lagOwner, i)
			m.lagPlace = append(m.lagPlace, k)
			t.lags = append(t.lags, c)
			m.tasks[pred].next = append(m.tasks[pred].next, i)
			if c.windows[0].to >= 0 {
				m.tasks[pred].held = append(m.tasks[pred].held, c.id)
				t.hurried = true
			}
		}
	}
	return nil
}

func (m *model) addNeeds(t *task, o Operation) error {
	var kinds []string
	for _, n := range o.Needs {
		if k := slices.Index(kinds, n.Kind); k >= 0 {
			t.needs[k].count++
			continue
		}
		kinds = append(kinds, n.Kind)
		c := need{count: 1}
		for i, r := range m.p.Resources {
			if r.Kind == n.Kind {
				c.resources = append(c.resources, i)
			}
		}
		if len(c.resources) == 0 {
			return fmt.Errorf("operation %s needs a %q, the studio has none, add one to its resources", o.name(), n.Kind)
		}
		t.needs = append(t.needs, c)
	}
	for k, n := range t.needs {
		var units int32
		for _, r := range n.resources {
			units += m.capacity[r]
		}
		if n.count > units {
			return fmt.Errorf("operation %s needs %d of %q at once, the studio has %d", o.name(), n.count, kinds[k], units)
		}
	}
	return nil
}

// compileWindows rounds openings up and closings down to the grid, so that what is kept on the grid is kept in truth.
func compileWindows(l Lag) ([]window, error) {
	list := l.Windows
	if len(list) > maxWindows {
		return nil, fmt.Errorf("%d windows, give at most %d", len(list), maxWindows)
	}
	if len(list) == 0 {
		list = []LagWindow{{From: l.Min, To: l.Max}}
	}
	var out []window
	for _, w := range list {
		if w.From < 0 || w.From > maxMinutes || w.To < 0 || w.To > maxMinutes {
			return nil, fmt.Errorf("the window %d to %d minutes is out of range, give 0 to %d", w.From, w.To, maxMinutes)
		}
		c := window{from: slotsUp(w.From), to: -1}
		if w.To > 0 {
			c.to = slotsDown(w.To)
			if w.To < w.From {
				return nil, fmt.Errorf("its window opens after %d minutes but closes after %d, which contradict each other", w.From, w.To)
			}
			if c.to < c.from {
				return nil, fmt.Errorf("its window of %d to %d minutes holds no multiple of %d minutes, widen it", w.From, w.To, Grid)
			}
		}
		out = append(out, c)
	}
	slices.SortStableFunc(out, func(a, b window) int { return int(a.from - b.from) })
	// overlapping windows are one
	merged := out[:1]
	for _, w := range out[1:] {
		last := &merged[len(merged)-1]
		switch {
		case last.to < 0 || w.from <= last.to && w.to >= 0 && w.to <= last.to:
		case w.from <= last.to:
			last.to = w.to
		default:
			merged = append(merged, w)
		}
	}
	return merged, nil
}

// sort finds a topological order or names a cycle.
func (m *model) sort() error {
	waits := make([]int, len(m.tasks))
	for i := range m.tasks {
		waits[i] = len(m.tasks[i].lags)
		if waits[i] == 0 {
			m.order = append(m.order, i)
		}
	}
	for k := 0; k < len(m.order); k++ {
		for _, n := range m.tasks[m.order[k]].next {
			if waits[n]--; waits[n] == 0 {
				m.order = append(m.order, n)
			}
		}
	}
	if len(m.order) == len(m.tasks) {
		return nil
	}
	// walk backwards among what is left until an operation comes again
	at := slices.IndexFunc(waits, func(w int) bool { return w > 0 })
	seen := map[int]int{}
	var path []int
	for {
		if k, again := seen[at]; again {
			path = path[k:]
			break
		}
		seen[at] = len(path)
		path = append(path, at)
		for _, l := range m.tasks[at].lags {
			if waits[l.pred] > 0 {
				at = l.pred
				break
			}
		}
	}
	slices.Reverse(path)
	return fmt.Errorf("the operations %s wait for each other in a circle, remove one of these precedences", m.names(path))
}

func (m *model) names(list []int) string {
	words := make([]string, len(list))
	for i, o := range list {
		words[i] = m.p.Operations[o].name()
	}
	return strings.Join(words, ", ")
}

// contradictions refuses windows that no calendar could keep: a circle of minimum and maximum distances that adds up
// to more than nothing. Nodes are the starts (even) and ends (odd) of operations.
func (m *model) contradictions() error {
	type edge struct {
		from, to int
		w        slot
	}
	var edges []edge
	bounded := false
	for i, t := range m.tasks {
		edges = append(edges, edge{2 * i, 2*i + 1, t.dur})
		if t.whole {
			edges = append(edges, edge{2*i + 1, 2 * i, -t.dur})
		}
		for _, l := range t.lags {
			edges = append(edges, edge{2*l.pred + 1, 2 * i, l.windows[0].from})
			if last := l.last(); last >= 0 {
				edges = append(edges, edge{2 * i, 2*l.pred + 1, -last})
				bounded = true
			}
		}
	}
	if !bounded {
		return nil
	}
	n := 2 * len(m.tasks)
	dist := make([]slot, n)
	parent := make([]int, n)
	for i := range parent {
		parent[i] = -1
	}
	at := -1
	for range n + 1 {
		at = -1
		for _, e := range edges {
			if dist[e.from]+e.w > dist[e.to] {
				dist[e.to], parent[e.to], at = dist[e.from]+e.w, e.from, e.to
			}
		}
		if at < 0 {
			return nil
		}
	}
	for range n { // into the circle
		at = parent[at]
	}
	var list []int
	for v := at; ; v = parent[v] {
		if !slices.Contains(list, v/2) {
			list = append(list, v/2)
		}
		if parent[v] == at {
			break
		}
	}
	slices.Reverse(list)
	return fmt.Errorf("the minimum times and windows between %s contradict each other, widen a window or shorten a cure", m.names(list))
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

// ranks estimates for every operation the longest way to the end, work stretched over the week.
func (m *model) ranks() {
	stretched := float64(7*288) / float64(m.cal.weekly)
	m.rank = make([]float64, len(m.tasks))
	for k := len(m.order) - 1; k >= 0; k-- {
		i := m.order[k]
		t := &m.tasks[i]
		best := max(m.rank[i], float64(t.tail)) // rank holds the longest way behind it so far
		m.rank[i] = best + float64(t.dur)*stretched
		for _, l := range t.lags {
			m.rank[l.pred] = max(m.rank[l.pred], m.rank[i]+float64(l.windows[0].from))
		}
	}
}
