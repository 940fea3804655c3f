package schedule

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"benchbell/quote/plan"
)

// openQuotes are the quotes of a problem that may come true or not, projects and places alike.
type openQuotes struct {
	n      int
	of     []int // by project: its place among them, or -1
	chance plan.Chance
	seeds  []uint64
}

// letGo is when a project may begin: evenly between from and more later.
type letGo struct {
	from, more int32
	seed       uint64
}

// notAccepted is what stands for a run in which a quote comes to nothing.
const notAccepted = -1 << 30

// even is the chance where none is given: every share of accepted quotes is as likely as any other (a uniform prior).
var even = plan.Chance{Accepted: 1, Lapsed: 1}

// checkChance refuses what is no distribution.
func checkChance(c *plan.Chance) error {
	const most = 1e6
	if c != nil && !(c.Accepted > 0 && c.Accepted <= most && c.Lapsed > 0 && c.Lapsed <= most) {
		return fmt.Errorf("the chance of open quotes counts %g accepted and %g that came to nothing; give numbers above 0, at most %d", c.Accepted, c.Lapsed, int(most))
	}
	return nil
}

// latestStart reads the moment by which a project is let go ahead.
func latestStart(x plan.Project) (slot, error) {
	at, err := onGrid(x.Latest)
	if err != nil {
		return at, fmt.Errorf("the latest start of project %q %w", x.ID, err)
	}
	if !x.Latest.IsZero() && x.Latest.Before(x.Release) {
		err = errors.New("project " + x.ID + " is to be let go by " + x.Latest.Format(time.RFC3339) + ", before its release; give a later moment")
	}
	return at, err
}

// openLabels are whose places may come to nothing, in the order of their first, and the place of each in that order.
func (m *model) openLabels() (names []string, at map[string]int32) {
	at = map[string]int32{}
	for _, b := range m.p.Busy {
		if _, known := at[b.Label]; b.Open && !known {
			at[b.Label] = int32(len(names))
			names = append(names, b.Label)
		}
	}
	return names, at
}

func (m *model) openQuotes() openQuotes {
	q := openQuotes{chance: even}
	if m.p.Chance != nil {
		q.chance = *m.p.Chance
	}
	add := func(name string) {
		q.n++
		q.seeds = append(q.seeds, stream(m.p.Seed^quoteStream, name))
	}
	names, _ := m.openLabels()
	for _, l := range names {
		add(l)
	}
	for _, p := range m.projects {
		if !p.open {
			q.of = append(q.of, -1)
			continue
		}
		q.of = append(q.of, q.n)
		add(p.id)
	}
	return q
}

// draw settles for the run which open quotes come true and when each project may begin. The share of quotes accepted is
// uncertain and the same for all: drawn one after the other, each is as likely as the share of those accepted among all so
// far, what was known before counted in (Pólya's urn, which draws from the beta-binomial distribution exactly; Johnson and
// Kotz, Urn Models and Their Application, 1977, from memory).
func (p *policy) draw() {
	yes, no := p.quotes.chance.Accepted, p.quotes.chance.Lapsed
	for k := range p.came {
		if p.came[k] = p.uniform(p.quotes.seeds[k])*(yes+no) < yes; p.came[k] {
			yes++
		} else {
			no++
		}
	}
	for k, l := range p.letGo {
		p.begins[k] = l.from
		if l.more > 0 {
			p.begins[k] += int32(p.uniform(l.seed) * float64(l.more+1))
		}
	}
}

// uniform is a number of the run in [0, 1) from a stream of its own.
func (p *policy) uniform(seed uint64) float64 {
	const bits = 53
	return float64(mix(seed+uint64(p.run)*golden)>>(64-bits)) / (1 << bits)
}

// percentile is what so many percent of sorted runs, of which there are some, do not exceed.
func percentile(runs []int32, percent int) int32 { return runs[(percent*len(runs)+99)/100-1] }

// cameTrue sorts the ends of the runs in which there was one.
func cameTrue(ends []int32) []int32 {
	ends = slices.DeleteFunc(ends, func(e int32) bool { return e == notAccepted })
	slices.Sort(ends)
	return ends
}
