package schedule

import (
	"math"
	"slices"

	"benchbell/quote/plan/proof"
)

// Shares of a budget that propagation with learning has of a plain model's search.
const (
	plainRounds      = 20   // of the search
	settleShare      = 7    // one part in so many of a round is kept for it
	conflictEvery    = 4    // schedules that a conflict stands for
	raiseShare       = 50   // one part in so many of a budget is kept for raising the lower bound
	raiseConflicts   = 40   // to refute one end
	raiseOperations  = 400  // up to here the lower bound is raised: above, setting up takes too long
	settleOperations = 40   // up to here it takes the whole problem instead of windows
	windowSize       = 28   // operations that a window frees: about as many as are settled in a few dozen conflicts
	windowTries      = 10   // windows of a round at most
	windowCosts      = 35   // schedules of the share that there must be for each
	windowConflicts  = 50   // end an attempt at a window
	sampledFrom      = 80   // operations: lists of more are sampled, of fewer drawn around rules, which is better for either
	endlessBudget    = 2200 // schedules that populations are sized for, where only time counts
	endlessStep      = 3000 // schedules of a round then
)

// settler is what an island has for a plain model; nothing is set for another one.
type settler struct {
	plain *plain
	sorter
	placers  [2]*placer
	begin    []int32 // starts, of the schedule at work
	release  []int32
	backList []int
	whole    *proof.Search
	seed     uint64
	known    *justified
	share    int // of a round's schedules that settling has
	work     int // operations placed by settling that are not counted as schedules yet
}

// justified is a schedule on the left and on the right.
type justified struct {
	score       score
	left, right []int32
	length      int32
}

func newSettler(m *model, number, budget int) *settler {
	x := &settler{plain: m.plain, share: budget / plainRounds / settleShare, seed: m.p.Seed + uint64(number)}
	if p := m.plain; p != nil {
		n := len(m.tasks)
		x.begin, x.release, x.backList = make([]int32, n), make([]int32, n), make([]int, n)
		for side := range x.placers {
			x.placers[side] = newPlacer(p.sides[side])
		}
	}
	return x
}

// forwardPlain is forward in a plain model.
func (s *island) forwardPlain(x *parent, limit slot) {
	p, m := s.plain, s.m
	most := int32(math.MaxInt32 - 1)
	if limit < far {
		most = int32(limit - m.start)
	}
	s.done++
	end := s.placers[0].serial(x.list, s.begin, p.head, most)
	if end > most {
		x.score = score{finish: far}
		return
	}
	x.ends = sized(x.ends, len(m.projects))
	x.score = score{finish: m.start + slot(end)}
	for k := range x.ends {
		x.ends[k] = x.score.finish
	}
	if len(m.projects) > 1 {
		for k := range x.ends {
			x.ends[k] = beginning
		}
		for i := range m.tasks {
			t := &m.tasks[i]
			x.ends[t.project] = max(x.ends[t.project], m.start+slot(s.begin[i]+p.dur[i])+t.tail)
		}
	}
	for k := range m.projects {
		x.score.ends += m.projects[k].weight * int64(x.ends[k]-m.start)
	}
	x.key = sized(x.key, len(p.dur))
	last := int32(0)
	for i, at := range s.begin {
		x.score.sum += slot(at)
		last = max(last, at+p.dur[i])
	}
	for i, at := range s.begin {
		x.key[i] = last - at - p.dur[i]
	}
	s.admit(x.individual)
	s.measure(x, m.order)
}

// backwardPlain is backward in a plain model. What ends earlier than the best is at once generated forward too.
func (s *island) backwardPlain(x, from *parent, limit slot) error {
	p, m := s.plain, s.m
	x.ends = append(x.ends[:0], from.ends...)
	end := slices.Max(x.ends)
	for i := range m.tasks {
		t := &m.tasks[i]
		s.release[i] = int32(end - x.ends[t.project] + t.tail)
	}
	most := int32(math.MaxInt32 - 1)
	if limit < far {
		most = int32(limit)
	}
	s.sort(p.sides[1], x.key, s.backList)
	s.done++
	length := s.placers[1].serial(s.backList, s.begin, s.release, most)
	if length > most {
		x.score = score{finish: far}
		return nil
	}
	x.score = score{finish: slot(length)}
	last := int32(0)
	for i, at := range s.begin {
		x.score.sum += slot(at)
		last = max(last, at+p.dur[i])
	}
	for i, at := range s.begin {
		x.key[i] = last - at - p.dur[i]
	}
	s.measure(x, m.order)
	if len(s.people) == 0 || m.start+slot(length) >= s.people[0].score.finish || s.done >= s.until {
		return nil
	}
	z := &parent{individual: individual{wanted: x.wanted, urged: x.urged}, key: slices.Clone(x.key)}
	s.byKey(z)
	return s.forward(z, far)
}

// sample makes a list by regret-based biased random sampling (Drexl, Management Science 37, 1991) with the rule of latest finish
// times: of what may come next, what has the longest way to the end is the likeliest.
func (s *island) sample() []int {
	w := s.plain.sides[0]
	waits := s.q.waits
	clear(waits)
	for _, j := range w.next {
		waits[j]++
	}
	var ready, list []int
	var weight []float64
	for _, i := range w.order {
		if waits[i] == 0 {
			ready = append(ready, i)
		}
	}
	for len(ready) > 0 {
		least := w.tail[ready[0]]
		for _, j := range ready {
			least = min(least, w.tail[j])
		}
		sum := 0.0
		weight = weight[:0]
		for _, j := range ready {
			regret := float64(w.tail[j]-least) + 1
			weight = append(weight, regret*regret)
			sum += regret * regret
		}
		r, e := s.rng.Float64()*sum, 0
		for ; e < len(ready)-1; e++ {
			if r -= weight[e]; r < 0 {
				break
			}
		}
		j := ready[e]
		ready[e] = ready[len(ready)-1]
		ready = ready[:len(ready)-1]
		list = append(list, j)
		for _, i := range w.next[w.first[j]:w.first[j+1]] {
			if waits[i]--; waits[i] == 0 {
				ready = append(ready, int(i))
			}
		}
	}
	return list
}

// turn lets an island search for a round: breeding first, then settling of what it came to.
func (s *island) turn(round, step int, t *meter) {
	until := s.done + step
	if s.plain == nil || !s.plenty || len(s.m.projects) > 1 {
		s.run(step, t)
		return
	}
	share := s.share
	if t.o.Endless {
		share = endlessStep / settleShare
	} else {
		step -= step / raiseShare
	}
	s.run(step-share, t)
	s.until = until
	n := len(s.plain.dur)
	if s.err != nil || len(s.people) == 0 || s.perfect() || t.stopped() || s.done >= until {
		return
	}
	if n <= settleOperations {
		s.settle((until-s.done-1)*n, max(1, share*settleShare/conflictEvery), t)
		return
	}
	tries := max(1, min(windowTries, share/windowCosts))
	if t.o.Endless {
		tries = windowTries
		if round%8 == 7 && n <= raiseOperations {
			s.raise(math.MaxInt/2, t)
		}
	}
	for range tries {
		if s.err != nil || s.perfect() || t.stopped() || s.done+5 >= until {
			return
		}
		s.shorten(t)
	}
}

// count counts operations placed otherwise than by generation.
func (s *island) count(placed int) {
	s.work += placed
	n := len(s.plain.dur)
	s.done += s.work / n
	s.work %= n
}

// prover is the whole problem, to be ended before the best there is.
func (s *island) prover() *proof.Search {
	best := s.people[0].score.finish - s.m.start
	if s.whole == nil {
		s.whole = s.plain.search(s.seed, int32(best)-1)
		s.whole.From(int32(max(0, s.floor-s.m.start)))
	}
	s.whole.Before(int32(best))
	s.placers[0].serial(s.people[0].list, s.begin, s.plain.head, math.MaxInt32-1)
	s.whole.Hint(append(slices.Clone(s.begin), int32(best)))
	return s.whole
}

// settle lets the whole problem be searched by propagation.
func (s *island) settle(quota, conflicts int, t *meter) {
	x := s.prover()
	before := x.Placements()
	x.Allow(before + quota)
	x.Run(conflicts, t.interrupted)
	s.absorb(x, before)
}

// raise raises the lower bound.
func (s *island) raise(quota int, t *meter) {
	x := s.prover()
	before := x.Placements()
	x.Allow(before + quota)
	x.Raise(raiseConflicts, false, t.interrupted)
	s.absorb(x, before)
}

// absorb takes over what was found and proved.
func (s *island) absorb(x *proof.Search, before int) {
	s.count(x.Placements() - before)
	if best := x.Best(); best != nil && s.m.start+slot(best[len(best)-1]) < s.people[0].score.finish {
		s.take(best)
	}
	s.floor = max(s.floor, s.m.start+slot(x.Lower()))
	if x.Decided() {
		s.floor = s.people[0].score.finish
	}
}

// take generates what starts in the order of these.
func (s *island) take(starts []int32) {
	x := &parent{individual: individual{wanted: slices.Clone(s.all), urged: -beginning}, key: slices.Clone(starts[:len(s.plain.dur)])}
	s.byKey(x)
	if s.err = s.forward(x, far); s.err == nil && s.filled >= s.size {
		s.pairs[0][s.rng.IntN(s.size)] = *x
	}
}

// prove spends what is left of a budget on the lower bound, and tells the model what is proved.
func (s *island) prove(left int, t *meter) error {
	if s.plain == nil || len(s.m.projects) > 1 {
		return nil
	}
	n := len(s.plain.dur)
	if left > 2 && n > settleOperations && n <= raiseOperations && s.people[0].score.finish > s.floor && !t.stopped() {
		s.raise((left-1)*n, t)
	}
	s.m.floor = max(s.m.floor, s.floor)
	return s.err
}

// search is the plain problem as work to be placed, all of it done by an end.
func (p *plain) search(seed uint64, end int32) *proof.Search {
	s := proof.New(seed)
	for i, d := range p.dur {
		s.Work(p.head[i], end-p.tail[i], d)
	}
	goal := s.Goal(0, end)
	for i := range p.m.tasks {
		t := &p.m.tasks[i]
		for k := range t.lags {
			l := &t.lags[k]
			s.Least(int32(l.pred), int32(i), p.dur[l.pred]+int32(l.windows[0].from))
		}
		s.Least(int32(i), goal, p.dur[i]+int32(t.tail))
	}
	for _, o := range p.m.offsets {
		s.Least(int32(o.from), int32(o.to), int32(o.least))
	}
	for r, c := range p.single {
		s.Resource(c, p.demand[r])
	}
	s.Close(true)
	return s
}

// shorten tries to end the best schedule one slot earlier (time-window LNS, Palpant, Artigues & Michelon 2004). It has it
// twice, justified to the left and to the right. What ends before a random window stays on the left, what starts after it
// comes one slot earlier than on the right, and the rest is placed anew by propagation.
func (s *island) shorten(t *meter) {
	p := s.plain
	n := len(p.dur)
	if s.known == nil || s.people[0].score.better(s.known.score) {
		s.known = &justified{score: s.people[0].score}
		s.known.left, s.known.right, s.known.length = s.justified()
	}
	left, right, length := s.known.left, s.known.right, s.known.length
	if left == nil {
		return
	}
	from := s.rng.Int32N(length)
	to := from + 1
	before := func(i int) bool { return left[i]+p.dur[i] <= from }
	after := func(i int) bool { return right[i] >= to }
	free := func() (k int) {
		for i := range n {
			if !before(i) && !after(i) {
				k++
			}
		}
		return k
	}
	for to < length && free() < windowSize {
		to++
	}
	for from > 0 && free() < windowSize {
		from--
	}
	next := slices.Clone(left)
	place := make([]int32, n) // operation → its number in the window, from 1
	var members []int
	var low, high []int32
	add := func(i int, from, to int32) {
		members, low, high = append(members, i), append(low, from), append(high, to)
		place[i] = int32(len(members))
	}
	for i := range n {
		switch {
		case before(i):
		case after(i):
			next[i] = right[i] - 1
		default:
			add(i, max(p.head[i], min(left[i], from)), length-1-p.tail[i])
		}
	}
	type tie struct{ x, y, lag int32 }
	var ties []tie
	w := p.sides[0]
	for i := range n {
		if next[i] < p.head[i] {
			return
		}
		for a := w.first[i]; a < w.first[i+1]; a++ {
			j := w.next[a]
			switch x, y := place[i]-1, place[j]-1; {
			case x >= 0 && y >= 0:
				ties = append(ties, tie{x, y, w.lag[a]})
			case x >= 0:
				high[x] = min(high[x], next[j]-w.lag[a])
			case y >= 0:
				low[y] = max(low[y], next[i]+w.lag[a])
			case next[j] < next[i]+w.lag[a]:
				return
			}
		}
	}
	end := int32(0)
	for x, i := range members {
		if low[x] > high[x] {
			return
		}
		end = max(end, high[x]+p.dur[i])
	}
	if len(members) == 0 {
		return
	}
	least := slices.Min(low)
	free2 := len(members)
	for i := range n {
		if place[i] == 0 && next[i] < end && next[i]+p.dur[i] > least {
			add(i, next[i], next[i])
		}
	}
	x := proof.New(s.rng.Uint64())
	for k, i := range members {
		x.Work(low[k], high[k], p.dur[i])
	}
	goal := x.Goal(0, end)
	for _, a := range ties {
		x.Least(a.x, a.y, a.lag)
	}
	for k, i := range members {
		x.Least(int32(k), goal, p.dur[i])
	}
	for r, c := range p.single {
		demand := make([]int32, len(members))
		for k, i := range members {
			demand[k] = p.demand[r][i]
		}
		x.Resource(c, demand)
	}
	x.Close(false)
	x.Allow((s.until - s.done - 1) * n)
	hint := make([]int32, 0, len(members)+1)
	for _, i := range members {
		hint = append(hint, next[i])
	}
	x.Hint(append(hint, end))
	o := x.Once(windowConflicts, t.interrupted)
	s.count(x.Placements())
	if best := x.Best(); best != nil && (o == proof.Improved || o == proof.Settled) {
		for k, i := range members[:free2] {
			next[i] = best[k]
		}
		s.take(next)
	}
}

// justified is the best schedule on the left and on the right, and its length from the start of the plan.
func (s *island) justified() (left, right []int32, length int32) {
	x := &parent{individual: individual{list: slices.Clone(s.people[0].list), wanted: slices.Clone(s.all), urged: -beginning}}
	if s.err = s.forward(x, far); s.err != nil {
		return nil, nil, 0
	}
	s.toTheRight(x)
	s.byKey(x)
	if s.err = s.forward(x, far); s.err != nil {
		return nil, nil, 0
	}
	left, length = slices.Clone(s.begin), int32(x.ends[0]-s.m.start)
	s.toTheRight(x)
	return left, slices.Clone(x.key), length
}

// toTheRight makes the keys of x its starts as late as its end allows.
func (s *island) toTheRight(x *parent) {
	p := s.plain
	end := int32(x.ends[0] - s.m.start)
	for i := range s.release {
		s.release[i] = int32(s.m.tasks[i].tail)
	}
	s.sort(p.sides[1], x.key, s.backList)
	s.done++
	s.placers[1].serial(s.backList, s.begin, s.release, math.MaxInt32-1)
	for i, at := range s.begin {
		x.key[i] = end - at - p.dur[i]
	}
}

func (t *meter) interrupted() bool { return t.ctx.Err() != nil || t.stopped() }
