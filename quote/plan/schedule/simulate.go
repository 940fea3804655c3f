package schedule

import (
	"slices"
	"sync"
)

// horizonSlots is how far beyond the planned end the simulation's calendar reaches, besides half the plan's own length;
// runs that get even further go on as if the shop never closed.
const horizonSlots = 60 * daySlots

// chances is what the runs gave.
type chances struct {
	finish []int32   // by run, slots after the start, sorted
	ends   [][]int32 // by project and run, sorted
	missed []float64 // share of runs by project
	worked [][]int32 // by project and run, sorted: makers' time
}

// policy is a plan as the shop follows it: the order of work on every unit and the windows that the plan uses. Moments
// are slots after base.
type policy struct {
	m       *model
	base    slot
	clock   clock
	steps   []step // in order of planned end
	lags    []simLag
	windows []simWindow
	units   []int32 // of all steps
	ahead   lookahead
	nUnits  int
	busy    [][]promise32 // by unit
	seed    uint64
	air     []float64 // quantiles of a day's factor; nil: as planned
	quotes  openQuotes
	common  common
	letGo   []letGo // by project
	gaps    gaps

	drawn      []int32 // by step, durations of the run
	end, start []int32 // by step, of the run
	free       []int32 // by unit
	ran        []int32 // by step: last run that it is done in, counted from 1
	cursor     []int32 // by unit, into busy
	factors    []float64
	factorRun  []int32
	came       []bool  // by open quote: it comes true in the run
	begins     []int32 // by project: when it may begin in the run
	worked     []int32 // by project: makers' time in the run
	run        int32
}

type span32 struct{ from, to int32 }

type simWindow struct{ from, to int32 }

// simLag is a precedence: of the windows, the first is the one that the plan uses.
type simLag struct {
	pred, first, last int32
	water             bool
}

// step is an operation of the policy.
type step struct {
	table                       []int32
	dur, head                   int32
	lagFrom, lagTo              int32
	unitFrom, unitTo            int32
	lookFrom, lookTo            int32 // what is looked at before it is begun
	holdFrom, holdTo            int32 // windows that it begins, and those after them
	mean                        int32 // duration expected
	rack, rackLength            int32 // unit or -1
	tail, project               int32
	makers                      int32
	whole, wet, rackWet, pinned bool
	fixed, promised, any        bool // done; some unit has promises; some lag has a closing window
	begun                       bool // and not done
	seed                        uint64
}

// newPolicy reads the policy off a generated schedule.
func newPolicy(m *model, g *generator) (*policy, error) {
	p := &policy{m: m, base: m.start, seed: mix(m.p.Seed ^ runStream)}
	var err error
	if p.clock, err = newClock(g.cal, m.start, g.finish+(g.finish-m.start)/2+horizonSlots); err != nil {
		return nil, err
	}
	if a := m.p.Air; a != nil {
		for _, x := range beta(1 + 4*(1-a.Low)/max(1e-9, a.High-a.Low)) {
			p.air = append(p.air, a.Low+(a.High-a.Low)*x)
		}
	}
	order := byEnd(m, g)
	at := make([]int32, len(m.tasks))
	for k, i := range order {
		at[i] = int32(k)
	}
	units := assignUnits(m, g, order)
	p.nUnits, p.busy = units.n, units.busy
	for _, i := range order {
		t := &m.tasks[i]
		o := m.p.Operations[i]
		s := step{table: durationsOf(m.p.Law, o), dur: int32(t.dur), tail: int32(t.tail), project: int32(t.project), whole: t.whole, wet: t.wet && p.air != nil,
			fixed: t.fixed && t.end <= m.start, pinned: t.pin != never, rack: -1, seed: stream(m.p.Seed, o.ID), head: p.after(max(m.start, t.release, m.projects[t.project].release, t.pin))}
		s.mean = s.dur
		if s.table != nil {
			s.mean = mean(s.table)
		}
		s.lagFrom, s.unitFrom = int32(len(p.lags)), int32(len(p.units))
		switch {
		case s.fixed:
			s.head = p.after(t.end) // its end
		case t.fixed:
			if err := p.running(&s, t, g); err != nil {
				return nil, err
			}
		default:
			p.addLags(&s, t, g, i, at)
		}
		if !s.fixed {
			p.units = append(p.units, units.of[i]...)
			for _, u := range units.of[i] {
				s.promised = s.promised || (len(p.busy[u]) > 0 || m.p.Spread.Away > 0) && !t.fixed // what is running goes on all the same
				if m.p.Resources[units.owner[u]].Kind == "maker" {
					s.makers++
				}
			}
		}
		if t.rack.length > 0 && units.rack[i] >= 0 {
			s.rack, s.rackLength, s.rackWet = units.rack[i], int32(t.rack.length), t.rack.water && p.air != nil
			s.promised = s.promised || len(p.busy[s.rack]) > 0
		}
		s.lagTo, s.unitTo = int32(len(p.lags)), int32(len(p.units))
		p.steps = append(p.steps, s)
	}
	p.addAhead()
	n := len(p.steps)
	p.end, p.start, p.free, p.cursor = make([]int32, n), make([]int32, n), make([]int32, p.nUnits), make([]int32, p.nUnits)
	p.ran, p.drawn = make([]int32, n), make([]int32, n)
	p.quotes = m.openQuotes()
	p.addGaps(g)
	p.addCommon(m, units.owner)
	p.came, p.begins, p.worked = make([]bool, p.quotes.n), make([]int32, len(m.projects)), make([]int32, len(m.projects))
	for _, x := range m.projects {
		l := letGo{from: p.after(m.start), seed: stream(m.p.Seed^depositStream, x.id)}
		if x.latest != never {
			l.more = max(0, p.after(x.latest)-l.from)
		}
		p.letGo = append(p.letGo, l)
	}
	days := len(p.clock.worked)/int(daySlots) + 2
	p.factors, p.factorRun = make([]float64, days), make([]int32, days)
	return p, nil
}

// byEnd orders operations by planned end, so that each comes after what it waits for: its predecessors, and what has its
// units and places for cures before it.
func byEnd(m *model, g *generator) []int {
	order := slices.Clone(m.order)
	slices.SortStableFunc(order, func(a, b int) int {
		x, y := g.end[a] > g.start[a], g.end[b] > g.start[b]
		switch {
		case g.end[a] != g.end[b]:
			return int(g.end[a] - g.end[b])
		case x != y: // a milestone last
			if x {
				return -1
			}
			return 1
		case x && (m.tasks[a].rack.length > 0) != (m.tasks[b].rack.length > 0): // a place is left before a cure takes it
			if m.tasks[b].rack.length > 0 {
				return -1
			}
			return 1
		case x:
			return int(g.start[a] - g.start[b])
		}
		return 0 // topological
	})
	return order
}

func (p *policy) after(t slot) int32 { return int32(t - p.base) }

// running makes what has begun go on for what is left of its duration, given that it has taken so long already.
func (p *policy) running(s *step, t *task, g *generator) error {
	a, err := g.cal.worked(t.start)
	if err != nil {
		return err
	}
	b, err := g.cal.worked(p.m.start)
	if err != nil {
		return err
	}
	spent := int32(b - a)
	var left []int32
	for _, d := range s.table {
		if d > spent {
			left = append(left, d-spent)
		}
	}
	if s.table != nil && left == nil {
		left = []int32{1}
	}
	s.table, s.dur, s.head, s.whole = left, max(min(1, s.dur), s.dur-spent), 0, false
	s.begun = true
	if s.mean = s.dur; left != nil {
		s.mean = mean(left)
	}
	return nil
}

func (p *policy) addLags(s *step, t *task, g *generator, i int, at []int32) {
	for k := range t.lags {
		l := &t.lags[k]
		x := simLag{pred: at[l.pred], first: int32(len(p.windows)), water: l.water && p.air != nil}
		for _, w := range l.windows[max(0, l.hit(g.start[i]-g.end[l.pred])):] {
			to := int32(-1)
			if w.to >= 0 {
				to = int32(w.to)
				s.any = true
			}
			p.windows = append(p.windows, simWindow{int32(w.from), to})
		}
		x.last = int32(len(p.windows))
		p.lags = append(p.lags, x)
	}
}

// factor is how much longer a water-borne cure takes that begins at t in the run.
func (p *policy) factor(t int32) float64 {
	day := min(max(0, (t+int32(p.base%daySlots))/int32(daySlots)), int32(len(p.factors)-1))
	if p.factorRun[day] != p.run+1 {
		p.factorRun[day] = p.run + 1
		h := mix(p.seed + uint64(p.run)*golden + mix(uint64(int64(day)+int64(p.base/daySlots))))
		p.factors[day] = p.air[h%quantiles]
	}
	return p.factors[day]
}

// longer is a cure on the grid, never shorter than the factor makes it.
func longer(cure int32, factor float64) int32 {
	x := float64(cure) * factor
	n := int32(x)
	if float64(n) < x-1e-9 {
		n++
	}
	return n
}

// twoCores is how many steps are worth a second goroutine.
const twoCores = 200_000

// simulate runs the policy so many times. The runs draw by their numbers, so it does not matter who does which.
func (p *policy) simulate(runs int, t *meter) (chances, error) {
	c := chances{finish: make([]int32, runs), missed: make([]float64, len(p.m.projects))}
	for range p.m.projects {
		c.ends, c.worked = append(c.ends, make([]int32, runs)), append(c.worked, make([]int32, runs))
	}
	n := 1
	if runs*len(p.steps) > twoCores {
		n = 2
	}
	missed := make([][]int, n)
	var group sync.WaitGroup
	for k := range n {
		q := p.fork() // p itself is copied while others run
		missed[k] = make([]int, len(p.m.projects))
		group.Go(func() { q.someRuns(k*runs/n, (k+1)*runs/n, &c, missed[k], t) })
	}
	group.Wait()
	if err := t.ended(); err != nil {
		return c, err
	}
	c.finish = cameTrue(c.finish)
	for k := range c.ends {
		c.ends[k] = cameTrue(c.ends[k])
		slices.Sort(c.worked[k])
		for _, m := range missed {
			c.missed[k] += float64(m[k])
		}
		c.missed[k] /= float64(max(1, len(c.ends[k])))
	}
	return c, nil
}

// fork is the policy for another goroutine.
func (p *policy) fork() *policy {
	q := *p
	n := len(p.steps)
	q.drawn, q.end, q.start, q.ran = make([]int32, n), make([]int32, n), make([]int32, n), make([]int32, n)
	q.free, q.cursor = make([]int32, p.nUnits), make([]int32, p.nUnits)
	q.factors, q.factorRun = make([]float64, len(p.factors)), make([]int32, len(p.factors))
	q.came, q.begins, q.worked = make([]bool, len(p.came)), make([]int32, len(p.begins)), make([]int32, len(p.worked))
	q.common.factor = slices.Clone(p.common.factor)
	if p.common.away != nil {
		q.common.away = make([][]span32, len(p.common.away))
	}
	q.gaps.taken = make([][]span32, p.nUnits)
	q.ahead = lookahead{looks: p.ahead.looks, holds: p.ahead.holds}
	q.ahead.alloc(n, p.nUnits)
	return &q
}

// someRuns does some of the runs, until the context ends.
func (p *policy) someRuns(from, to int, c *chances, missed []int, t *meter) {
	ends := make([]int32, len(p.m.projects))
	late := make([]bool, len(p.m.projects))
	for r := from; r < to; r++ {
		if r%16 == 0 && t.ended() != nil {
			return
		}
		p.run = int32(r)
		p.draw()
		p.drawCommon()
		p.lookForGaps()
		p.once(ends, late)
		c.finish[r] = slices.Max(ends)
		for k, e := range ends {
			c.ends[k][r] = e
			c.worked[k][r] = p.worked[k]
			if late[k] {
				missed[k]++
			}
		}
	}
}

// once is one run: every step in the policy's order as soon as its predecessors, units and the hours allow. A step whose window
// is about to close overtakes, and what comes before work that is let go late is done before it.
func (p *policy) once(ends []int32, missed []bool) {
	for k := range ends {
		ends[k] = notAccepted
	}
	clear(missed)
	clear(p.worked)
	clear(p.free)
	clear(p.cursor)
	p.ahead.pending = p.ahead.pending[:0]
	for i := range p.steps { // apart from what follows, so that many tables are waited for at once
		s := &p.steps[i]
		if s.fixed {
			continue
		}
		p.drawn[i] = s.dur
		if s.table != nil {
			h := mix(s.seed + uint64(p.run)*golden)
			p.drawn[i] = p.common.scaled(s.table[h%uint64(len(s.table))], s.project)
		}
		p.worked[s.project] += p.drawn[i] * s.makers
	}
	for i := range p.steps {
		if p.ran[i] != p.run+1 {
			p.step(int32(i), ends, missed)
		}
	}
}

// step is one step of the run.
func (p *policy) step(i int32, ends []int32, missed []bool) {
	s := &p.steps[i]
	p.ran[i] = p.run + 1
	if q := p.quotes.of[s.project]; q >= 0 && !p.came[q] { // nothing of it happens
		p.end[i], p.start[i] = 0, 0
		return
	}
	if s.fixed {
		p.end[i], p.start[i] = s.head, s.head
		if s.rack >= 0 {
			p.free[s.rack] = max(p.free[s.rack], s.head+p.rackLength(s, s.head))
		}
		ends[s.project] = max(ends[s.project], s.head+p.tail(s, s.head))
		return
	}
	dur := p.drawn[i]
	at := p.ready(s)
	if s.holdTo > s.holdFrom && !s.pinned {
		at = p.wait(i, at)
	}
	if len(p.ahead.pending) > 0 {
		if first := p.overtakes(i, at); first >= 0 {
			p.step(first, ends, missed)
			p.ran[i] = 0
			p.step(i, ends, missed)
			return
		}
	}
	start, end := p.lay(s, at, dur)
	if s.any {
		start, end = p.inWindows(s, start, end, dur, missed)
	}
	p.start[i], p.end[i] = start, end
	for _, u := range p.units[s.unitFrom:s.unitTo] {
		if p.gaps.open {
			p.gaps.take(u, start, end)
			continue
		}
		p.free[u] = end
		for k := p.cursor[u]; int(k) < len(p.busy[u]) && p.busy[u][k].to <= start; k++ {
			p.cursor[u] = k + 1 // nothing on the unit starts earlier from here on
		}
	}
	if s.rack >= 0 {
		if until := end + p.rackLength(s, end); p.gaps.open {
			p.gaps.take(s.rack, end, until)
		} else {
			p.free[s.rack] = until
		}
	}
	ends[s.project] = max(ends[s.project], end+p.tail(s, end))
	for _, h := range p.ahead.holds[s.holdFrom:s.holdTo] {
		if h.pred == i {
			p.ahead.pending = append(p.ahead.pending, h)
		}
	}
}

// ready is when a step's predecessors, their cures and its units are ready.
func (p *policy) ready(s *step) int32 {
	at := s.head
	if !s.begun {
		at = max(at, p.begins[s.project])
	}
	for k := s.lagFrom; k < s.lagTo; k++ {
		at = max(at, p.end[p.lags[k].pred]+p.opening(&p.lags[k]))
	}
	for _, u := range p.units[s.unitFrom:s.unitTo] {
		at = max(at, p.free[u])
	}
	return at
}

func (p *policy) opening(l *simLag) int32 {
	from := p.windows[l.first].from
	if l.water {
		from = longer(from, p.factor(p.end[l.pred]))
	}
	return from
}

func (p *policy) rackLength(s *step, end int32) int32 {
	if s.rackWet {
		return longer(s.rackLength, p.factor(end))
	}
	return s.rackLength
}

func (p *policy) tail(s *step, end int32) int32 {
	if s.wet {
		return longer(s.tail, p.factor(end))
	}
	return s.tail
}

// lay finds the first time from at in which the step's units keep their promises and there is a place for its cures.
func (p *policy) lay(s *step, at, dur int32) (int32, int32) {
	whole := s.whole && dur <= p.clock.longest // what no longer fits any shift goes on next morning
	for {
		start, end := p.clock.lay(at, dur, whole)
		if s.rack >= 0 && end < p.free[s.rack] {
			at = p.clock.later(start, end, p.free[s.rack])
			continue
		}
		if !s.promised && !p.gaps.open {
			return start, end
		}
		next := at
		for _, u := range p.units[s.unitFrom:s.unitTo] {
			next = max(next, p.clear(u, start, end, false), p.common.back(u, start, end), p.gaps.until(u, start, end))
		}
		if next <= at && s.rack >= 0 {
			left := end + p.rackLength(s, end)
			if until := max(p.clear(s.rack, end, left, true), p.gaps.until(s.rack, end, left)); until > 0 {
				next = max(at+1, p.clock.later(start, end, until))
			}
		}
		if next <= at {
			return start, end
		}
		at = next
	}
}

// clear is the end of the last promise of a unit that overlaps the interval, or 0. Work meets promises only while the shop
// is open, a cure at any time.
func (p *policy) clear(u, from, to int32, cure bool) int32 {
	list := p.busy[u]
	k := p.cursor[u]
	for int(k) < len(list) && list[k].to <= from {
		k++
	}
	until := int32(0)
	for ; int(k) < len(list) && list[k].from < to; k++ {
		if list[k].whose >= 0 && !p.came[list[k].whose] {
			continue
		}
		if !cure && !p.clock.anyOpen(max(from, list[k].from), min(to, list[k].to)) {
			continue
		}
		until = list[k].to
	}
	return until
}

// inWindows moves a start that missed its window to the next one, or counts it as missed.
func (p *policy) inWindows(s *step, start, end, dur int32, missed []bool) (int32, int32) {
	for again := true; again; {
		again = false
		for _, l := range p.lags[s.lagFrom:s.lagTo] {
			e := p.end[l.pred]
			f := 1.0
			if l.water {
				f = p.factor(e)
			}
			ok := false
			for _, w := range p.windows[l.first:l.last] {
				to := w.to
				if to >= 0 && f < 1 {
					to = int32(float64(to) * f)
				}
				if to >= 0 && start > e+to {
					continue
				}
				ok = true
				from := w.from
				if f != 1 {
					from = longer(from, f)
				}
				if start < e+from {
					start, end = p.lay(s, e+from, dur)
					again = true
				}
				break
			}
			if !ok {
				missed[s.project] = true
			}
		}
	}
	return start, end
}
