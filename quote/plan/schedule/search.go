package schedule

import (
	"math/rand/v2"
	"slices"
	"sync"
)

// The search's shape. Islands depend on the budget alone, never on the machine, so that the result doesn't either.
const (
	oneIsland  = 20_000 // up to this budget
	islandsOf  = 2      // beyond it
	rounds     = 10     // after each, islands tell each other their best
	elites     = 4      // schedules whose dates are simulated
	elitesOf   = 4000   // operations of all of them together: of larger plans fewer are simulated
	mostElites = 8      // schedules remembered
)

// individual is an activity list with what else decides its schedule.
type individual struct {
	list   []int // order of placing
	wanted []int
	urged  slot
	keep   bool // nothing before its planned start
	score  score
	placed *placement // where it is no list's schedule
}

// island searches on its own: two populations of schedules, its random stream and its generator.
type island struct {
	m        *model
	g        *generator
	q        *queue
	j        *justifier
	rng      *rand.Rand
	all      []int
	priority []float64
	scratch  []int
	people   []individual // the best, best first
	genetic
	seeds int // rules tried so far
	drawn int // lists drawn around rules so far
	done  int
	until int  // of done: the budget of this round
	floor slot // no schedule ends earlier
	err   error
	*settler
}

func newIsland(m *model, number, budget int, floor slot) *island {
	s := &island{m: m, g: newGenerator(m), q: newQueue(m), j: newJustifier(m), rng: rand.New(rand.NewPCG(m.p.Seed, searchStream+uint64(number))),
		all: m.allWindows(), priority: make([]float64, len(m.tasks)), floor: floor}
	s.genetic = newGenetic(m, budget)
	s.settler = newSettler(m, number, budget)
	if number > 0 {
		s.seeds = seedRules // the first island has the rules' own lists
	}
	return s
}

// run generates about n schedules.
func (s *island) run(n int, t *meter) {
	for s.until = s.done + n; s.done < s.until && s.err == nil && (s.done == 0 || !t.stopped()); {
		if s.err = t.ended(); s.err != nil {
			return
		}
		if len(s.people) > 0 && s.perfect() {
			return
		}
		switch {
		case s.filled < s.size:
			s.err = s.fill(s.until - s.done)
		case s.stale > staleChildren*s.size:
			s.size, s.filled, s.stale = s.size*3/2, 0, 0
		default:
			s.err = s.breed()
		}
	}
}

// perfect says that nothing can be better in anything but how early things start.
func (s *island) perfect() bool {
	if len(s.people[0].list) == 0 { // all has begun
		return true
	}
	c := s.people[0].score
	if s.plain != nil && c.finish <= s.floor && len(s.m.projects) == 1 {
		return true
	}
	return s.seeds >= seedRules && s.done > 3*s.size && c.broken == 0 && c.late == 0 && c.wish == 0 && c.finish <= s.floor &&
		!s.m.plans && len(s.m.projects) == 1 && c.changes == 0
}

// seedRules is how many lists come from rules before any from other lists.
const seedRules = 6

// next is a list to begin with: a rule's, or one drawn around a rule.
func (s *island) next() individual {
	m := s.m
	x := individual{wanted: slices.Clone(s.all), urged: -beginning}
	if m.known != nil && s.done == 0 && s.seeds == 0 {
		x.list, x.urged = m.known, -1
		return x
	}
	if s.seeds < seedRules {
		s.seeds++
		return s.rule(s.seeds-1, x)
	}
	if s.plain != nil && len(m.tasks) > sampledFrom {
		x.list = s.sample()
		return x
	}
	// the wilder the later: mild disturbances keep the rule's sense, wild ones reach the rest
	noise := 0.1 + 0.9*min(1, float64(s.drawn)/float64(s.size))
	s.drawn++
	for i := range s.priority {
		s.priority[i] = m.rank[i] * (1 + noise*(2*s.rng.Float64()-1))
	}
	switch kind := s.rng.IntN(4); {
	case len(m.projects) > 1 && kind == 0:
		s.byProject(s.rng.Perm(len(m.projects)))
	case m.dues && kind < 3:
		s.byDue(noise)
	}
	s.drawWindows(&x, 1)
	if s.rng.IntN(2) == 0 {
		x.urged = -1
	}
	return s.listed(x)
}

func (s *island) rule(k int, x individual) individual {
	m := s.m
	copy(s.priority, m.rank)
	switch k {
	case 1:
		if m.plans { // as planned so far
			x.keep = true
			for i := range m.tasks {
				if t := &m.tasks[i]; t.planned != never {
					s.priority[i] = -float64(t.planned - m.start)
				} else {
					s.priority[i] = -float64(t.head-m.start) - 1e6
				}
			}
		}
	case 2:
		for _, id := range m.choices { // first windows only
			x.wanted[id] = 1
		}
	case 3:
		if m.dues {
			s.byDue(0)
		} else {
			x.urged = -1
		}
	case 4: // one project after the other: promises first, then by date
		order := make([]int, len(m.projects))
		for k := range order {
			order[k] = k
		}
		slices.SortStableFunc(order, func(a, b int) int { return m.projects[a].compare(&m.projects[b]) })
		s.byProject(order)
	case 5:
		copy(s.g.wanted, x.wanted)
		s.g.keep = false
		if list, err := s.g.parallel(s.scratch[:0], s.priority); err == nil {
			s.scratch = list
			s.order(list)
		}
	}
	return s.listed(x)
}

// byDue sets priorities by latest start: what must go first to keep the projects' dates.
func (s *island) byDue(noise float64) {
	m := s.m
	for i := range m.tasks {
		p := &m.projects[m.tasks[i].project]
		due := float64(horizonDays * daySlots)
		if p.due != never {
			due = float64(p.due - m.start)
		}
		s.priority[i] = m.rank[i]*(1+noise*(2*s.rng.Float64()-1)) - due
	}
}

// byProject puts projects one after the other, on top of the priorities there are.
func (s *island) byProject(order []int) {
	for place, k := range order {
		for i := range s.m.tasks {
			if s.m.tasks[i].project == k {
				s.priority[i] -= float64(place) * float64(horizonDays*daySlots)
			}
		}
	}
}

// compare orders projects by urgency: promises, wishes, the rest, each by date.
func (p *project) compare(q *project) int {
	kind := func(p *project) int {
		switch {
		case p.due != never && p.promised:
			return 0
		case p.due != never:
			return 1
		}
		return 2
	}
	if a, b := kind(p), kind(q); a != b {
		return a - b
	}
	return int(p.due - q.due)
}

// drawWindows draws how many of their windows lags may use, each with the given chance in mostWindows.
func (s *island) drawWindows(x *individual, share float64) {
	for _, id := range s.m.choices {
		if s.rng.Float64() < share {
			x.wanted[id] = 1 + s.rng.IntN(s.all[id])
		}
	}
	if s.rng.IntN(4) == 0 {
		x.urged = slot(s.rng.IntN(4)) * 48 // windows of up to 0, 4, 8, 12 h are kept whole
	}
}

// order sets priorities by place in a list.
func (s *island) order(list []int) {
	for k, i := range list {
		s.priority[i] = -float64(k)
	}
}

// listed gives x the list of the priorities.
func (s *island) listed(x individual) individual {
	s.q.urged = x.urged
	x.list = s.q.list(make([]int, 0, len(s.m.tasks)), s.priority)
	return x
}

// decode generates an individual's schedule.
func (g *generator) decode(x *individual) error {
	if x.placed != nil {
		g.load(x.placed)
		return nil
	}
	copy(g.wanted, x.wanted)
	g.keep = x.keep
	return g.run(x.list)
}

// admit remembers a good schedule.
func (s *island) admit(x individual) {
	if n := len(s.people); n == mostElites && s.people[n-1].score.better(x.score) {
		return
	}
	at, found := slices.BinarySearchFunc(s.people, x.score, func(p individual, c score) int {
		switch {
		case p.score.better(c):
			return -1
		case c.better(p.score):
			return 1
		}
		return 0
	})
	if found || at >= mostElites {
		return // known, or worse than all
	}
	x.list, x.wanted = slices.Clone(x.list), slices.Clone(x.wanted)
	if len(s.people) >= mostElites {
		s.people = s.people[:mostElites-1]
	}
	s.people = slices.Insert(s.people, at, x)
}

// search runs the islands in rounds and returns the best individuals, best first.
func search(m *model, budget int, floor slot, t *meter) ([]individual, error) {
	n := 1
	if budget > oneIsland && m.plain == nil {
		n = islandsOf
	}
	if m.islands > 0 {
		n = m.islands
	}
	if t.o.Endless {
		n, budget = t.workers, t.workers*endlessBudget
	}
	islands := make([]*island, n)
	for k := range islands {
		islands[k] = newIsland(m, k, budget/n, floor)
		islands[k].g.ended = t.ended
	}
	turns := rounds
	if m.plain != nil {
		turns = plainRounds
	}
	share := max(1, budget/(n*turns))
	for r := 0; r < turns || t.o.Endless; r++ {
		part := share
		if r == turns-1 {
			part = budget / n
		}
		var group sync.WaitGroup
		turn := make(chan struct{}, max(1, t.workers))
		for _, s := range islands {
			most := budget / n
			if s == islands[0] {
				most = budget - (n-1)*(budget/n)
			}
			step := min(part, most-s.done)
			if t.o.Endless {
				step = endlessStep
			}
			if step <= 0 {
				continue
			}
			group.Add(1)
			go func() {
				defer group.Done()
				turn <- struct{}{}
				defer func() { <-turn }()
				s.turn(r, step, t)
			}()
		}
		group.Wait()
		done, perfect := 0, true
		for _, s := range islands {
			if s.err != nil {
				return nil, s.err
			}
			done += s.done
			floor = max(floor, s.floor)
			perfect = perfect && len(s.people) > 0 && s.perfect()
		}
		t.tells(min(done, budget))
		if t.stopped() || perfect {
			break
		}
		if n > 1 { // a ring: everyone's best goes to the next
			bests := make([]individual, n)
			for k, s := range islands {
				if len(s.people) > 0 {
					bests[k] = s.people[0]
				}
			}
			for k, s := range islands {
				s.floor = floor
				if from := bests[(k+1)%n]; from.list != nil {
					if s.err = s.invite(from); s.err != nil {
						return nil, s.err
					}
				}
			}
		}
	}
	merged := islands[0]
	for _, s := range islands[1:] {
		for _, x := range s.people {
			merged.admit(x)
		}
		merged.done += s.done
	}
	merged.floor = floor
	if err := merged.prove(budget-merged.done, t); err != nil {
		return nil, err
	}
	t.schedules = merged.done
	return merged.people, nil
}
