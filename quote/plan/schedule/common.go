package schedule

import (
	"fmt"
	"math"

	"benchbell/quote/plan"
)

// What the operations of a run have in common: the studio is slower or faster than its rates, a commission is easier or
// harder than most, somebody falls ill. Operations that vary each by itself even out; these do not, and dates that ignore
// them are too early (common causes in PERT networks: R. M. Van Slyke, Operations Research 11, 1963, from memory; that the
// factors multiply and are lognormal is an assumption).

const (
	mostBias   = 1.0 // of the logarithm: work takes at most about three times as long
	mostSpread = 1.0
	mostAway   = 120.0 // days a year
	// Spells away last one to longestSpell days, each length as often (an assumption): three on average.
	longestSpell = 5
	daysInYear   = 365.25
)

// checkSpread refuses what is no spread.
func checkSpread(s plan.Spread) error {
	switch {
	case !(math.Abs(s.Bias) <= mostBias):
		return fmt.Errorf("the bias of all durations is %g; give -1 to 1", s.Bias)
	case !(s.Rates >= 0 && s.Rates <= mostSpread && s.Project >= 0 && s.Project <= mostSpread):
		return fmt.Errorf("the spreads of durations are %g and %g; give 0 to 1", s.Rates, s.Project)
	case !(s.Away >= 0 && s.Away <= mostAway):
		return fmt.Errorf("makers are away %g days a year; give 0 to %g", s.Away, mostAway)
	}
	return nil
}

// common is what the steps of a run have in common.
type common struct {
	spread plan.Spread
	rates  uint64    // seed of the studio's factor
	seeds  []uint64  // of the projects'
	factor []float64 // by project, of the run; nil: none

	makers []uint64   // seeds, by unit; 0: no maker
	away   [][]span32 // by unit, of the run; nil: nobody is ever away
	days   int32      // after the start, until which spells begin
	first  int32      // slot of the first midnight after the start, where the shop is
}

func (p *policy) addCommon(m *model, owner []int) {
	c := common{spread: m.p.Spread, rates: stream(m.p.Seed^spreadStream, "rates")}
	if c.spread.Bias != 0 || c.spread.Rates > 0 || c.spread.Project > 0 {
		c.factor = make([]float64, len(m.projects))
	}
	for _, x := range m.projects {
		c.seeds = append(c.seeds, stream(m.p.Seed^spreadStream, "of "+x.id))
	}
	if c.spread.Away > 0 {
		c.away = make([][]span32, p.nUnits)
		c.days = int32(len(p.clock.worked))/int32(daySlots) + 1
		c.first = p.after(m.cal.midnight(m.start))
		for u, r := range owner {
			seed := uint64(0)
			if m.p.Resources[r].Kind == "maker" {
				seed = stream(m.p.Seed^spreadStream, fmt.Sprint("maker ", m.p.Resources[r].ID, " ", u)) | 1
			}
			c.makers = append(c.makers, seed)
		}
	}
	p.common = c
}

// drawCommon draws what the steps of the run have in common.
func (p *policy) drawCommon() {
	c := &p.common
	if c.factor != nil {
		// A studio knows its rates within bounds rather than with tails: evenly, with that standard deviation (an assumption).
		all := c.spread.Bias + c.spread.Rates*math.Sqrt(3)*(2*p.uniform(c.rates)-1)
		for k := range c.factor {
			c.factor[k] = math.Exp(all + c.spread.Project*p.normal(c.seeds[k]))
		}
	}
	if c.away == nil {
		return
	}
	// Days between the ends of spells: so many begin that the days away of a year come out.
	const mean = (longestSpell + 1) / 2.0
	gap := daysInYear*mean/c.spread.Away - mean
	for u, seed := range c.makers {
		c.away[u] = c.away[u][:0]
		if seed == 0 {
			continue
		}
		for day := int32(-longestSpell); ; {
			seed = mix(seed)
			day += int32(-gap * math.Log(1-p.uniform(seed)))
			if day >= c.days {
				break
			}
			seed = mix(seed)
			long := 1 + int32(longestSpell*p.uniform(seed))
			if to := day + long; to > 0 {
				c.away[u] = append(c.away[u], span32{c.first + (day-1)*int32(daySlots), c.first + (to-1)*int32(daySlots)})
			}
			day += long
		}
	}
}

// normal is a standard normal number of the run.
func (p *policy) normal(seed uint64) float64 {
	const least = 1e-12
	return math.Sqrt2 * math.Erfinv(2*max(least, p.uniform(seed))-1)
}

// scaled is a duration of the run with what its project has in common, on the grid.
func (c *common) scaled(d int32, project int32) int32 {
	if c.factor == nil || d == 0 {
		return d
	}
	return max(1, int32(math.Round(float64(d)*c.factor[project])))
}

// back is when the one on a unit who is away in the interval is back; 0 where nobody is away.
func (c *common) back(u, from, to int32) int32 {
	if c.away == nil {
		return 0
	}
	for _, s := range c.away[u] {
		if s.from < to && from < s.to {
			return s.to
		}
	}
	return 0
}
