package plan

import (
	"math"
	"math/rand/v2"
	"slices"
)

// chances generates the list's schedule with drawn durations and reads the percentiles of the end.
func (m *model) chances(g *generator, list []int, s *Solution, t *meter) error {
	s.P50, s.P80, s.P95 = s.End, s.End, s.End
	if m.p.Runs == 0 {
		return nil
	}
	rng := rand.New(rand.NewPCG(m.p.Seed, runStream))
	ends := make([]slot, m.p.Runs)
	for r := range ends {
		if err := t.step(); err != nil {
			return err
		}
		for i, o := range m.p.Operations {
			if o.High <= o.Low { // exact
				continue
			}
			minutes := duration(rng, float64(o.Low), float64(o.Duration), float64(o.High))
			// to the nearest slot, so that many short operations do not add up to a bias; work is never nothing
			g.dur[i] = max(1, slot(minutes/float64(Grid)+0.5))
			// what no longer fits any shift goes on next morning
			g.whole[i] = o.Whole && g.dur[i] <= m.cal.longest
		}
		if err := g.run(list); err != nil {
			return err
		}
		ends[r] = g.finish
	}
	slices.Sort(ends)
	at := func(percent int) slot { return ends[(percent*len(ends)+99)/100-1] }
	s.P50, s.P80, s.P95 = at(50).time(), at(80).time(), at(95).time()
	return nil
}

// duration draws minutes from the beta-PERT distribution with the given minimum, most likely value and maximum:
// a beta distribution on [low, high] with mean (low + 4·likely + high)/6 and variance (mean−low)(high−mean)/7
// (Vose, Risk Analysis; from memory). The classic PERT variance ((high−low)/6)² is near it.
func duration(rng *rand.Rand, low, likely, high float64) float64 {
	if high <= low {
		return likely
	}
	a := 1 + 4*(likely-low)/(high-low)
	b := 1 + 4*(high-likely)/(high-low)
	x, y := gamma(rng, a), gamma(rng, b)
	return low + (high-low)*x/(x+y)
}

// gamma draws from the gamma distribution with the given shape, at least 1, and scale 1, by Marsaglia and Tsang's
// method (ACM TOMS 26, 2000; from memory).
func gamma(rng *rand.Rand, shape float64) float64 {
	d := shape - 1.0/3
	c := 1 / math.Sqrt(9*d)
	for {
		x := rng.NormFloat64()
		v := 1 + c*x
		if v <= 0 {
			continue
		}
		v = v * v * v
		u := rng.Float64()
		if u < 1-0.0331*x*x*x*x || math.Log(u) < x*x/2+d*(1-v+math.Log(v)) {
			return d * v
		}
	}
}
