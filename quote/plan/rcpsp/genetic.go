package rcpsp

import (
	"math/bits"
	"math/rand/v2"
)

// Settings of the genetic algorithm, found on PSPLIB's instances.
const (
	windowLeast   = 0.1  // of the makespan: the shortest stretch that a child has from its father
	windowMost    = 0.5  // and the longest
	candidates    = 16   // fathers and windows looked at for a child
	swapShare     = 0.02 // of a list's neighbours that mutation swaps
	loserRounds   = 3    // of the tournament for whom a child replaces
	staleChildren = 40   // times the population: so many children without a place end an epoch
)

// individual is a schedule in the time of its side: side 0 holds schedules generated forward, side 1 backward.
type individual struct {
	start    []int32
	makespan int32
	work     []int32 // before each time
	spread   int     // sum of the starts: of two with one makespan, the denser is the better parent
}

func (a *individual) better(b *individual) bool {
	return a.makespan < b.makespan || a.makespan == b.makespan && a.spread < b.spread
}

// genetic is a bi-population genetic algorithm (Debels & Vanhoucke 2005, 2007): one population of schedules generated
// forward and one of schedules generated backward. A child of two schedules of the one is generated in the direction of
// the other, by the order in which they run read from the other end, so every generation is also a justification
// (Valls, Ballestín & Quintanilla 2005). Crossover keeps a stretch of the father together, after the peak crossover of
// Valls, Ballestín & Quintanilla (2008): here that in which he is busier than the mother.
type genetic struct {
	p    *project
	size int
	net  [2]*network
	gen  [2]*generator
	rng  *rand.PCG

	people [2][]individual
	filled int // pairs of individuals made in this epoch
	side   int // that children are born to
	at     int // next mother
	stale  int // children without a place in a row
	child  individual

	best     []int32 // starts, forward
	makespan int32
	placed   int // activities placed; as many as the project has are one schedule

	list   []int32
	key    []int32
	bucket []int32
	load   []int32 // how much of the resources an activity takes, summed over them, in some unit
	waits  []int32
	ready  []int32
	weight []float64
}

func newGenetic(p *project, size int, seed, stream uint64) *genetic {
	g := &genetic{p: p, size: size, makespan: 1<<31 - 1, rng: rand.NewPCG(seed, stream)}
	g.net = [2]*network{&p.forward, &p.backward}
	g.gen = [2]*generator{newGenerator(&p.forward), newGenerator(&p.backward)}
	for _, s := range []*[]int32{&g.best, &g.list, &g.key, &g.load, &g.waits, &g.ready, &g.child.start} {
		*s = make([]int32, p.n)
	}
	g.weight = make([]float64, p.n)
	g.bucket = make([]int32, p.forward.horizon+2)
	total := 0.0
	share := make([]float64, p.n)
	for i, o := range p.original {
		for r, c := range p.in.Capacity {
			if c > 0 {
				share[i] += float64(p.in.Demand[o][r]) / float64(c)
			}
		}
		total += share[i] * float64(p.in.Duration[o])
	}
	for i := range share { // so that all work together fits a number of 32 bits
		g.load[i] = int32(share[i] * min(1000, (1<<30)/max(total, 1)))
	}
	return g
}

func (g *genetic) below(n int) int { hi, _ := bits.Mul64(g.rng.Uint64(), uint64(n)); return int(hi) }
func (g *genetic) unit() float64   { return float64(g.rng.Uint64()>>11) / (1 << 53) }

// advance goes on until so many activities are placed in all, the makespan is at most lower, or stop says so.
func (g *genetic) advance(placements int, lower int32, stop func() bool) {
	for k := 1; g.placed+2*g.p.n <= placements && g.makespan > lower; k++ {
		switch {
		case g.filled < g.size:
			g.fill()
		case g.stale > staleChildren*g.size:
			g.size, g.filled, g.stale = g.size*3/2, 0, 0
		default:
			g.breed()
		}
		if k&15 == 0 && stop() {
			return
		}
	}
}

// first generates one schedule by each scheme, serial and parallel, the longest way to the end first. The parallel one
// is not taken into the population, which it would narrow: its kind is good early, but seldom the best.
func (g *genetic) first(parallel bool) {
	longest := g.net[0].criticalPath()
	for i, t := range g.net[0].tail {
		g.key[i] = longest - t
	}
	g.sort(0)
	g.generate(0, &g.child, unlimited)
	if parallel {
		g.child.makespan = g.gen[0].parallel(g.list, g.child.start)
		g.placed += g.p.n
		g.note(0, &g.child)
	}
}

// fill makes one individual of each side: a sampled one, and the same from the other end.
func (g *genetic) fill() {
	for side := range 2 {
		if len(g.people[side]) <= g.filled {
			g.people[side] = append(g.people[side], individual{start: make([]int32, g.p.n)})
		}
	}
	x, y := &g.people[0][g.filled], &g.people[1][g.filled]
	g.sample()
	g.generate(0, x, unlimited)
	g.keys(x)
	g.sort(1)
	g.generate(1, y, unlimited)
	g.filled++
	g.side, g.at = 0, 0
}

const unlimited = 1<<31 - 1

// generate makes the schedule of the list. It gives up, and says false, where the makespan would exceed limit.
func (g *genetic) generate(side int, x *individual, limit int32) bool {
	x.makespan = g.gen[side].serial(g.list, x.start, limit)
	if g.placed += g.p.n; x.makespan > limit {
		return false
	}
	g.note(side, x)
	return true
}

// note measures a schedule and remembers the best.
func (g *genetic) note(side int, x *individual) {
	g.measure(x)
	if x.makespan < g.makespan {
		g.makespan = x.makespan
		copy(g.best, x.start)
		if side == 1 {
			g.p.mirror(g.best, x.makespan)
		}
	}
}

// breed makes one child.
func (g *genetic) breed() {
	side, m := g.side, g.at
	parents, people := g.people[1-side][:g.size], g.people[side][:g.size]
	if g.at++; g.at == g.size {
		g.at, g.side = 0, 1-g.side
	}
	g.cross(&parents[m], parents)
	g.sort(side)
	g.swap(side)
	loser := g.below(g.size)
	for range loserRounds {
		if o := g.below(g.size); people[loser].better(&people[o]) {
			loser = o
		}
	}
	old := &people[loser]
	if !g.generate(side, &g.child, old.makespan) || old.better(&g.child) {
		g.stale++
		return
	}
	if g.child.better(old) {
		g.stale = 0
	}
	*old, g.child = g.child, *old
}

// invite takes a schedule from elsewhere in.
func (g *genetic) invite(start []int32, makespan int32) {
	if makespan < g.makespan {
		g.makespan = makespan
		copy(g.best, start)
	}
	if g.filled < g.size {
		return
	}
	x := &g.people[0][g.below(g.size)]
	copy(x.start, start)
	x.makespan = makespan
	g.measure(x)
}

// mirror turns starts of one direction into starts of the other.
func (p *project) mirror(start []int32, makespan int32) {
	for i, d := range p.forward.duration {
		start[i] = makespan - start[i] - d
	}
}
