package schedule

import (
	"fmt"
	"slices"

	"benchbell/quote/plan"
)

const (
	// WholeOperations is the most operations that are searched at once: a larger problem is planned in windows of some
	// commissions each.
	WholeOperations = 1000
	// windowOperations is about how many operations are searched at once; half of them stand then, the others are searched again
	// with the next ones.
	windowOperations = 240
	// windowIslands search one window, whatever the budget, and againIslands one of a plan that there is already: people wait for it.
	windowIslands = 1
	againIslands  = 2
	// bufferRuns tell how much later than planned a date of the plan so far is likely to be.
	bufferRuns = 60
	// mostAgain is the most windows that are searched again in a plan that there is already.
	mostAgain = 6
)

// roller plans a large problem. Its unit is what hangs together by lags or is delivered together, usually a commission. Units
// are taken in the order of their promises, those that meet in time together: a window of them is searched as a small problem
// of its own, in which everything else that is placed stands. So the effort grows with the number of operations and no
// faster (the rolling horizon of production planning; Ovacik and Uzsoy, "Rolling horizon procedures for dynamic parallel
// machine scheduling with sequence-dependent setup times", Int. J. Production Research 33, 1995, from memory).
type roller struct {
	m     *model
	g     *generator // holds what is placed
	t     *meter
	units []unit
	done  int // schedules
}

// unit is operations that are planned together.
type unit struct {
	tasks    []int // in the problem's order, those that have begun too
	open     int   // not begun
	projects []int
	from, to slot // in the first plan
}

// roll plans a problem that is too large to be searched as a whole.
func (m *model) roll(t *meter) (*generator, *individual, *chances, error) {
	r := &roller{m: m, g: newGenerator(m), t: t}
	r.g.ended = t.ended
	x := &individual{}
	if err := r.first(x); err != nil {
		return nil, nil, nil, err
	}
	r.gather()
	var err error
	if m.plans {
		if err = r.buffers(); err == nil {
			err = r.again()
		}
	} else {
		err = r.fromScratch()
	}
	if err != nil {
		return nil, nil, nil, err
	}
	r.measure()
	x.score = r.g.score()
	c, err := m.simulated(r.g, t)
	if err != nil {
		return nil, nil, nil, err
	}
	t.schedules = r.done
	return r.g, x, c, nil
}

// first places everything: as the plan so far has it, or one project after the other, promises first.
func (r *roller) first(x *individual) (err error) {
	if r.done = 1; r.m.plans {
		if err = r.m.windowsSoFar(r.g); err == nil {
			err = r.m.follow(r.g, x, r.t)
		}
		if err == nil {
			r.occupyAll()
		}
		return err
	}
	return r.g.run(r.m.byPromise())
}

// buffers are how much later than planned dates are likely to be in the plan so far. In a full shop what comes late delays what
// comes after it, whosever it is, and a project's own work tells nothing of that.
func (r *roller) buffers() error {
	m := r.m
	if !m.dues {
		return nil
	}
	p, err := newPolicy(m, r.g)
	if err != nil {
		return err
	}
	c, err := p.simulate(bufferRuns, &meter{ctx: r.t.ctx})
	if err != nil {
		return err
	}
	for k := range m.projects {
		end, err := r.g.cal.worked(r.g.ends[k])
		if err != nil {
			continue // beyond the calendar
		}
		runs := c.ends[k]
		if len(runs) == 0 {
			continue // an open quote that came true in none
		}
		if likely, err := r.g.cal.worked(m.start + slot(percentile(runs, 80))); err == nil {
			m.projects[k].buffer = max(0, likely-end)
		}
	}
	return nil
}

// byPromise is a list of one project after the other, promises first, then by date, then as they come.
func (m *model) byPromise() []int {
	order := make([]int, len(m.projects))
	for k := range order {
		order[k] = k
	}
	slices.SortStableFunc(order, func(a, b int) int { return m.projects[a].compare(&m.projects[b]) })
	place := make([]float64, len(m.projects))
	for n, k := range order {
		place[k] = float64(n)
	}
	priority := make([]float64, len(m.tasks))
	for i := range m.tasks {
		priority[i] = m.rank[i] - place[m.tasks[i].project]*float64(horizonDays*daySlots)
	}
	return newQueue(m).list(nil, priority)
}

// occupyAll takes everything's resources from scratch.
func (r *roller) occupyAll() {
	for k := range r.g.use {
		r.g.use[k].copyFrom(&r.m.base[k])
	}
	for i := range r.m.tasks {
		if !r.m.tasks[i].fixed {
			r.g.occupy(i, 1)
		}
	}
}

// measure finds ends and what is broken of what is placed now.
func (r *roller) measure() {
	for id := range r.g.given { // every window that it misses counts
		r.g.given[id] = true
	}
	r.g.measure()
}

// gather makes the units, those that meet in time next to each other, within that by promise.
func (r *roller) gather() {
	m := r.m
	r.measure()
	group := make([]int, len(m.tasks)) // a forest of operations
	for i := range group {
		group[i] = i
	}
	root := func(i int) int {
		for group[i] != i {
			group[i] = group[group[i]]
			i = group[i]
		}
		return i
	}
	join := func(a, b int) { // the first of them leads
		if a, b = root(a), root(b); a != b {
			group[max(a, b)] = min(a, b)
		}
	}
	of := make([]int, len(m.projects))
	for k := range of {
		of[k] = -1
	}
	for i := range m.tasks {
		t := &m.tasks[i]
		if of[t.project] < 0 {
			of[t.project] = i
		}
		join(i, of[t.project])
		for _, l := range t.lags {
			join(i, l.pred)
		}
	}
	at := map[int]int{}
	for i := range m.tasks {
		k, ok := at[root(i)]
		if !ok {
			k = len(r.units)
			at[root(i)] = k
			r.units = append(r.units, unit{from: -beginning, to: beginning})
		}
		u := &r.units[k]
		u.tasks = append(u.tasks, i)
		if !slices.Contains(u.projects, m.tasks[i].project) {
			u.projects = append(u.projects, m.tasks[i].project)
		}
		if !m.tasks[i].fixed {
			u.open++
			u.from = min(u.from, r.g.start[i])
			u.to = max(u.to, r.g.end[i]+m.tasks[i].rack.length)
		}
	}
	r.units = slices.DeleteFunc(r.units, func(u unit) bool { return u.open == 0 })
}

// urgent orders units by promise: the first of each.
func (r *roller) urgent(a, b *unit) int {
	first := func(u *unit) *project {
		k := slices.MinFunc(u.projects, func(a, b int) int { return r.m.projects[a].compare(&r.m.projects[b]) })
		return &r.m.projects[k]
	}
	return first(a).compare(first(b))
}

// apart splits units, by promise, into sets that do not meet in time: none of them has anything to do while another does.
func (r *roller) apart(units []unit) [][]unit {
	list := slices.Clone(units)
	slices.SortStableFunc(list, func(a, b unit) int { return int(a.from - b.from) })
	var out [][]unit
	until := beginning
	for _, u := range list {
		if len(out) == 0 || u.from >= until {
			out = append(out, nil)
		}
		out[len(out)-1] = append(out[len(out)-1], u)
		until = max(until, u.to)
	}
	for _, set := range out {
		slices.SortStableFunc(set, func(a, b unit) int { return a.tasks[0] - b.tasks[0] })
		slices.SortStableFunc(set, func(a, b unit) int { return r.urgent(&a, &b) })
	}
	return out
}

// windowOf is how many of the units have no more than so many operations, at least one.
func windowOf(units []unit, most int) int {
	n := 0
	for k, u := range units {
		if n += u.open; n > most {
			return max(1, k)
		}
	}
	return len(units)
}

// fromScratch places everything anew: of each window what comes first stands, the rest is placed again with the next.
func (r *roller) fromScratch() error {
	for k := range r.g.use {
		r.g.use[k].copyFrom(&r.m.base[k])
	}
	for _, set := range r.apart(r.units) {
		for len(set) > 0 {
			n := windowOf(set, windowOperations)
			if err := r.search(set[:n], false); err != nil {
				return err
			}
			stands := n
			if n < len(set) {
				stands = (n + 1) / 2
			}
			for _, u := range set[:stands] {
				r.occupy(&u, 1)
			}
			set = set[stands:]
		}
	}
	return nil
}

// again looks again at what the plan so far has no place for, or too late or otherwise than planned, together with what is in
// its way; the rest stands as it is.
func (r *roller) again() error {
	var list []unit
	for _, u := range r.units {
		if r.ails(&u) {
			list = append(list, u)
		}
	}
	windows := 0
	for _, set := range r.apart(list) {
		for ; len(set) > 0 && windows < mostAgain; windows++ {
			n := windowOf(set, windowOperations/2)
			some := r.around(set[:n])
			for _, u := range some {
				r.occupy(&u, -1)
			}
			if err := r.search(some, true); err != nil {
				return err
			}
			for _, u := range some {
				r.occupy(&u, 1)
			}
			set = set[n:]
		}
	}
	return nil
}

// around adds to units those that meet them in time longest, until the window is full.
func (r *roller) around(units []unit) []unit {
	from, to, room := -beginning, beginning, windowOperations
	in := map[int]bool{}
	for _, u := range units {
		from, to, room = min(from, u.from), max(to, u.to), room-u.open
		in[u.tasks[0]] = true
	}
	var others []unit
	for _, u := range r.units {
		if !in[u.tasks[0]] && min(to, u.to) > max(from, u.from) {
			others = append(others, u)
		}
	}
	slices.SortStableFunc(others, func(a, b unit) int {
		return int(min(to, b.to) - max(from, b.from) - min(to, a.to) + max(from, a.from))
	})
	out := slices.Clone(units)
	for _, u := range others {
		if u.open <= room {
			room -= u.open
			out = append(out, u)
		}
	}
	return out
}

// ails says that a unit is not where the plan so far has it, or that it is late or breaks a window.
func (r *roller) ails(u *unit) bool {
	m, g := r.m, r.g
	for _, i := range u.tasks {
		t := &m.tasks[i]
		if t.fixed {
			continue
		}
		if t.planned != g.start[i] || t.pin != never && t.pin != g.start[i] {
			return true
		}
		for k := range t.lags {
			if l := &t.lags[k]; l.hit(g.start[i]-g.end[l.pred]) < 0 {
				return true
			}
		}
	}
	return slices.ContainsFunc(u.projects, func(k int) bool { return m.projects[k].due != never && r.late(k, g.ends[k]) })
}

// late says that a project that ends then is likely to miss its date.
func (r *roller) late(k int, end slot) bool {
	p := &r.m.projects[k]
	return r.g.handover(end, p.buffer) > p.due
}

func (r *roller) occupy(u *unit, delta int32) {
	for _, i := range u.tasks {
		if !r.m.tasks[i].fixed {
			r.g.occupy(i, delta)
		}
	}
}

// search places a window's units anew while all that occupies resources in r.g stands. Where they have places already, they
// move only to better ones, and no promise that is kept is lost.
func (r *roller) search(units []unit, placed bool) error {
	var tasks []int
	open := 0
	for _, u := range units {
		tasks = append(tasks, u.tasks...)
		open += u.open
	}
	slices.Sort(tasks)
	m, err := r.m.part(tasks, r.g.use)
	if err != nil {
		return err
	}
	// Units beyond the window's size have fewer schedules, so that the time stays that of a window.
	budget := min(r.t.schedules, max(seedRules, r.t.schedules*windowOperations/max(1, open)))
	if m.islands = windowIslands; placed {
		m.islands = againIslands
	}
	t := &meter{ctx: r.t.ctx, o: Options{Stop: r.t.o.Stop}, workers: max(m.islands, r.t.workers), schedules: budget, budget: budget}
	m.known = r.list(m, tasks)
	people, err := search(m, budget, beginning, t)
	if err != nil {
		return err
	}
	r.done += t.schedules
	g := newGenerator(m)
	var was score
	if placed {
		g.load(r.placement(tasks))
		was = g.score()
	}
	ends := slices.Clone(g.ends)
	for k := range people {
		if placed && !people[k].score.better(was) {
			break
		}
		if err := g.decode(&people[k]); err != nil {
			return err
		}
		if placed && m.loses(g, ends) {
			continue
		}
		for k, i := range tasks {
			if !m.tasks[k].fixed {
				r.g.start[i], r.g.end[i], r.g.onRack[i] = g.start[k], g.end[k], g.onRack[k]
				r.g.spans[i], r.g.taken[i] = slices.Clone(g.spans[k]), slices.Clone(g.taken[k])
			}
		}
		break
	}
	return nil
}

// loses says that a promise is missed in g which is kept with these ends of the projects: as planned, or as is likely.
func (m *model) loses(g *generator, ends []slot) bool {
	for k, p := range m.projects {
		if p.due == never || !p.promised {
			continue
		}
		for _, buffer := range []slot{0, p.buffer} {
			if g.handover(ends[k], buffer) <= p.due && g.handover(g.ends[k], buffer) > p.due {
				return true
			}
		}
	}
	return false
}

// placement is where r has these operations.
func (r *roller) placement(tasks []int) *placement {
	p := &placement{}
	for _, i := range tasks {
		p.start, p.end, p.onRack = append(p.start, r.g.start[i]), append(p.end, r.g.end[i]), append(p.onRack, r.g.onRack[i])
		p.spans, p.taken = append(p.spans, r.g.spans[i]), append(p.taken, r.g.taken[i])
	}
	return p
}

// list is a window's operations in the order in which r has them.
func (r *roller) list(m *model, tasks []int) []int {
	priority := make([]float64, len(tasks))
	for k, i := range tasks {
		priority[k] = -float64(r.g.start[i] - r.m.start)
	}
	q := newQueue(m)
	q.urged = -1
	return q.list(nil, priority)
}

// part is the model of some operations alone, with everything that they hang together with, on resources that are occupied as in
// use.
func (m *model) part(tasks []int, use []profile) (*model, error) {
	p := *m.p
	p.Busy, p.Operations = nil, make([]plan.Operation, 0, len(tasks))
	for _, i := range tasks {
		p.Operations = append(p.Operations, m.p.Operations[i])
	}
	s := &model{p: &p, cal: m.cal.clone(), start: m.start, floor: beginning, objectives: m.objectives, extra: m.extra}
	for _, add := range []func() error{s.addResources, s.addProjects, s.addOperations, s.addClocks, s.addLags, s.sort, s.heads} {
		if err := add(); err != nil {
			return nil, fmt.Errorf("a part of the shop's plan: %w", err)
		}
	}
	s.ranks()
	for k, i := range tasks {
		s.projects[s.tasks[k].project].buffer = m.projects[m.tasks[i].project].buffer
		if t := &m.tasks[i]; t.fixed {
			s.tasks[k].taken, s.tasks[k].onRack = t.taken, t.onRack
		}
	}
	for k := range s.base {
		s.base[k].copyFrom(&use[k])
	}
	return s, nil
}
