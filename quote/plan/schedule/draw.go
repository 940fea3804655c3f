package schedule

import (
	"math"
	"sync"

	"benchbell/quote/plan"
)

// quantiles is how finely a duration's distribution is kept: equally likely steps, each at its middle.
const quantiles = 1024

// shapeSteps is how finely the standard beta-PERT distribution's shape is kept; a shape is off by at most a 128th.
const shapeSteps = 64

// mix is the finalizer of splitmix64 (Steele, Lea and Flood, OOPSLA 2014): a random function of what is put in. Draws are
// functions of seed, operation and run, so that every plan of the same operations meets the same durations (common random
// numbers).
func mix(x uint64) uint64 {
	x ^= x >> 30
	x *= 0xbf58476d1ce4e5b9
	x ^= x >> 27
	x *= 0x94d049bb133111eb
	return x ^ x>>31
}

const golden = 0x9e3779b97f4a7c15

// stream is the start of an operation's draws: it depends on the ID, not on the place in the problem.
func stream(seed uint64, id string) uint64 {
	h := uint64(0xcbf29ce484222325) // FNV-1a
	for i := range len(id) {
		h = (h ^ uint64(id[i])) * 0x100000001b3
	}
	return mix(h ^ mix(seed^runStream))
}

// shapes are the standard distributions by their shape, each worked out once: they depend on nothing else.
var shapes [4*shapeSteps + 1]struct {
	once      sync.Once
	quantiles []float64
}

// beta is the quantiles of the beta distribution on [0, 1] with parameters a and 6−a, rounded to the nearest shape: that
// of beta-PERT with its most likely value at (a−1)/4. Mean (low + 4·likely + high)/6, variance (mean−low)(high−mean)/7
// (Vose, Risk Analysis; from memory).
func beta(a float64) []float64 {
	key := min(max(0, int(math.Round((a-1)*shapeSteps))), len(shapes)-1)
	s := &shapes[key]
	s.once.Do(func() { s.quantiles = betaQuantiles(1 + float64(key)/shapeSteps) })
	return s.quantiles
}

func betaQuantiles(a float64) []float64 {
	b := 6 - a
	const cells = 4096
	// the density at the middle of each cell, summed up
	total := 0.0
	var sum [cells + 1]float64
	for i := range cells {
		x := (float64(i) + 0.5) / cells
		total += math.Exp((a-1)*math.Log(x) + (b-1)*math.Log1p(-x))
		sum[i+1] = total
	}
	q := make([]float64, quantiles)
	i := 0
	for k := range q {
		want := (float64(k) + 0.5) / quantiles * total
		for sum[i+1] < want {
			i++
		}
		q[k] = (float64(i) + (want-sum[i])/(sum[i+1]-sum[i])) / cells
	}
	return q
}

// drawn are the durations of operations, which many problems have in common.
var drawn struct {
	sync.Mutex
	of map[durationKey][]int32
}

type durationKey struct {
	law               string
	low, likely, high plan.Minutes
}

// mostDrawn bounds what is kept, at 4 kB each; past it, all are worked out again.
const mostDrawn = 4096

// durationsOf are an operation's durations, not to be changed.
func durationsOf(law string, o plan.Operation) []int32 {
	key := durationKey{law, o.Low, o.Duration, o.High}
	drawn.Lock()
	defer drawn.Unlock()
	t, ok := drawn.of[key]
	if !ok {
		if t = durations(law, o); drawn.of == nil || len(drawn.of) >= mostDrawn {
			drawn.of = map[durationKey][]int32{}
		}
		drawn.of[key] = t
	}
	return t
}

// durations are an operation's durations in slots at equally likely steps; nil for an exact one. Durations go to the nearest
// slot, so that many short operations do not add up to a bias; work is never nothing.
func durations(law string, o plan.Operation) []int32 {
	if o.High <= o.Low {
		return nil
	}
	low, likely, high := float64(o.Low), float64(o.Duration), float64(o.High)
	out := make([]int32, quantiles)
	if law == plan.Lognormal {
		if likely <= 0 {
			return nil
		}
		// High is the 95th percentile of a distribution with median Duration
		sigma := math.Log(high/likely) / z95
		for k := range out {
			u := (float64(k) + 0.5) / quantiles
			out[k] = slots(max(low, likely*math.Exp(sigma*math.Sqrt2*math.Erfinv(2*u-1))))
		}
		return out
	}
	for k, x := range beta(1 + 4*(likely-low)/(high-low)) {
		out[k] = slots(low + (high-low)*x)
	}
	return out
}

// z95 is the standard normal distribution's 95th percentile.
const z95 = 1.64485

// slots is the nearest duration on the grid to so many minutes, at least one.
func slots(minutes float64) int32 {
	return max(1, int32(min(minutes, float64(maxMinutes))/float64(plan.Grid)+0.5))
}

// mean is a table's mean, to the nearest slot.
func mean(table []int32) int32 {
	sum := 0
	for _, d := range table {
		sum += int(d)
	}
	return int32((sum + len(table)/2) / len(table))
}
