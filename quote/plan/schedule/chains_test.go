package schedule

import (
	"fmt"
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"benchbell/quote/plan"
)

// trialDays is how far the trial of everything looks for chains of coats.
const trialDays = 8

// trial tries everything for two chains of whole operations on half hours, in the order of their starts. Where all figures
// are multiples of half an hour, so is some earliest schedule. What it knows of a state, the ends of what is done and the
// place free again, it remembers.
type trial struct {
	open   []bool
	makers [][]bool // promised, by maker
	booth  []bool   // promised
	chains [2][]trialCoat
	until  int
	known  map[trialState]int
}

// trialCoat is an operation: its windows after the one before it in its chain, and whether it needs a maker and the booth.
type trialCoat struct {
	length       int
	windows      [][2]int
	maker, booth bool
}

// trialState is how many of each chain are done, when the last of each ended, when the booth and the only maker are free
// again, and the last start.
type trialState struct {
	done, end           [2]int16
	booth, maker, start int16
}

func newTrial(p plan.Problem) *trial {
	const n = trialDays * 48
	moment := func(at time.Time) int { return int(at.Sub(p.Start) / (30 * time.Minute)) }
	t := &trial{open: make([]bool, n), booth: make([]bool, n)}
	for k := range t.open {
		at := p.Start.Add(time.Duration(k) * 30 * time.Minute)
		h := float64(at.Hour()) + float64(at.Minute())/60
		t.open[k] = at.Weekday() != time.Saturday && at.Weekday() != time.Sunday && (h >= 9 && h < 13 || h >= 14 && h < 18)
	}
	for _, r := range p.Resources {
		taken := make([]bool, n)
		for _, b := range p.Busy {
			for k := max(0, moment(b.From)); b.Resource == r.ID && k < min(n, moment(b.To)); k++ {
				taken[k] = true
			}
		}
		if r.Kind == "booth" {
			t.booth = taken
		} else {
			t.makers = append(t.makers, taken)
		}
	}
	for _, o := range p.Operations {
		c := trialCoat{length: int(o.Duration / 30)}
		for _, n := range o.Needs {
			c.maker, c.booth = c.maker || n.Kind == "maker", c.booth || n.Kind == "booth"
		}
		for _, l := range o.After {
			list := l.Windows
			if list == nil {
				list = []plan.LagWindow{{From: l.Min, To: l.Max}}
			}
			for _, w := range list {
				to := int(w.To / 30)
				if w.To == 0 {
					to = n
				}
				c.windows = append(c.windows, [2]int{int(w.From / 30), to})
			}
		}
		k := 0
		if o.ID[0] == 'b' {
			k = 1
		}
		t.chains[k] = append(t.chains[k], c)
	}
	return t
}

// earliest is the earliest end that keeps all windows, in half hours; false without one in trialDays.
func (t *trial) earliest() (int, bool) {
	for days := 1; days <= trialDays; days++ { // what ends within so many days lies in them
		t.until, t.known = days*48, map[trialState]int{}
		if end := t.from(trialState{}); end < math.MaxInt {
			return end, true
		}
	}
	return 0, false
}

func (t *trial) from(s trialState) int {
	if int(s.done[0]) == len(t.chains[0]) && int(s.done[1]) == len(t.chains[1]) {
		return int(max(s.end[0], s.end[1]))
	}
	if end, ok := t.known[s]; ok {
		return end
	}
	best := math.MaxInt
	for k, chain := range t.chains {
		if int(s.done[k]) == len(chain) {
			continue
		}
		c := &chain[s.done[k]]
		for at := int(s.start); at+c.length <= t.until; at++ {
			if !t.fits(&s, k, c, at) {
				continue
			}
			n := s
			n.done[k]++
			n.end[k], n.start = int16(at+c.length), int16(at)
			if c.booth {
				n.booth = n.end[k]
			}
			if c.maker && len(t.makers) == 1 {
				n.maker = n.end[k]
			}
			best = min(best, t.from(n))
		}
	}
	t.known[s] = best
	return best
}

// fits says whether the next of chain k can start then.
func (t *trial) fits(s *trialState, k int, c *trialCoat, at int) bool {
	if s.done[k] > 0 {
		in := false
		for _, w := range c.windows {
			in = in || at-int(s.end[k]) >= w[0] && at-int(s.end[k]) <= w[1]
		}
		if !in {
			return false
		}
	}
	if c.booth && at < int(s.booth) || c.maker && at < int(s.maker) {
		return false
	}
	free := !c.maker
	for _, taken := range t.makers {
		one := true
		for h := at; h < at+c.length; h++ {
			one = one && !taken[h]
		}
		free = free || one
	}
	for h := at; h < at+c.length; h++ {
		if !t.open[h] || c.booth && t.booth[h] {
			return false
		}
	}
	return free
}

// genChains draws two chains of coats, a and b; needs is what a coat may need.
func genChains(t *rapid.T, makers int, needs [][]plan.Need) plan.Problem {
	half := func(from, to int, label string) plan.Minutes {
		return plan.Minutes(30 * rapid.IntRange(from, to).Draw(t, label))
	}
	p := plan.Problem{Start: time.Date(2026, 6, 1, 9, 0, 0, 0, time.UTC).Add(time.Duration(half(0, 120, "start")) * time.Minute),
		Calendar: weekdays("UTC"), Resources: append(maker(makers), plan.Resource{ID: "booth", Kind: "booth", Capacity: 1}), Schedules: 60}
	for _, chain := range []string{"a", "b"} {
		for i := range rapid.IntRange(1, 3).Draw(t, chain) {
			o := plan.Operation{ID: fmt.Sprint(chain, i+1), Duration: half(1, 5, "duration"), Needs: rapid.SampledFrom(needs).Draw(t, "needs"), Whole: true}
			if i > 0 {
				l := plan.Lag{After: fmt.Sprint(chain, i), Min: half(0, 8, "min")}
				switch rapid.IntRange(0, 2).Draw(t, "kind") {
				case 0:
					l.Max = l.Min + half(1, 10, "width")
				case 1:
					first := half(1, 6, "first")
					l = plan.Lag{After: l.After, Windows: []plan.LagWindow{{From: 0, To: first}, {From: first + half(1, 96, "middle")}}}
				}
				o.After = []plan.Lag{l}
			}
			p.Operations = append(p.Operations, o)
		}
	}
	for range rapid.IntRange(0, 4).Draw(t, "busy") {
		from := p.Start.Add(time.Duration(half(0, 96, "from")) * time.Minute)
		p.Busy = append(p.Busy, plan.Busy{Resource: rapid.SampledFrom(p.Resources).Draw(t, "on").ID, From: from,
			To: from.Add(time.Duration(half(1, 8, "length")) * time.Minute)})
	}
	return p
}

// tryChains compares the plan of two chains with the best of everything tried, which the plan also knows to be the best.
func tryChains(t *rapid.T, p plan.Problem) {
	want, ok := newTrial(p).earliest()
	s := solve(t, p)
	if !ok {
		return
	}
	end := p.Start.Add(time.Duration(want) * 30 * time.Minute)
	if len(s.Broken) > 0 || !s.End.Equal(end) || !s.LowerBound.Equal(end) {
		t.Fatalf("ends %s, at least %s, with broken %q, possible is %s", s.End, s.LowerBound, s.Broken, end)
	}
}

// Against trying everything: two chains of coats on one booth get their earliest end, with windows that close, forbidden
// middles and busy stretches.
func TestTwoChainsOnOneBoothAgainstTryingEverything(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tryChains(t, genChains(t, 2, [][]plan.Need{{{Kind: "maker"}, {Kind: "booth"}}}))
	})
}

// Against trying everything: two chains that share the booth and the only maker, of coats, of work beside the booth and of
// drying in it.
func TestTwoChainsShareBoothAndMakerAgainstTryingEverything(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tryChains(t, genChains(t, 1, [][]plan.Need{{{Kind: "maker"}, {Kind: "booth"}}, {{Kind: "maker"}}, {{Kind: "booth"}}}))
	})
}
