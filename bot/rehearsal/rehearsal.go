// Package rehearsal plays a quarter of a studio before it happens: clients who are made up ask, measure, accept or not and pay late,
// makers are away and work faster or slower than the book, days are damp, work is done again. What they do are the shop's own acts,
// on a real ledger, with the real engine and planners, on a clock that does not wait. It answers what no plan can say of itself:
// whether dates are kept as often as they say, and what the shop does to people on the way there.
//
// The real times are drawn here and never shown to the shop; it sees what people do. The same quarter is played twice, with the same
// clients and the same real times: once as the shop is, and once with each quote's date worked out as if it were alone in the shop.
//
// It refuses settings that nothing can be rehearsed with. What always holds: the same settings and seed give the same bytes;
// everything that is counted was read off the shop's outcomes or its ledger.
package rehearsal

import (
	"context"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"runtime"
	"time"

	"golang.org/x/sync/errgroup"

	"benchbell/bot/shop"
	"benchbell/quote"
	"benchbell/quote/engine"
	"benchbell/quote/plan"
)

// Settings say what is rehearsed.
type Settings struct {
	Studio quote.Studio
	Weeks  int    // in which clients ask, 1 to MaxWeeks; what was promised by then is worked off after them
	Seed   uint64 // of the first quarter
	Seeds  int    // how many quarters, each with the next seed; 1 to MaxSeeds
	// Load is the share of the makers' hours, in percent, that the work of the clients who accept is to take; 10 to 150.
	Load int
	// AnotherMaker has the quarter played once more with one more maker, for the same clients.
	AnotherMaker bool
	// Scratch is a folder for the ledgers of the quarters; they are not needed afterwards.
	Scratch string
}

// Limits of what is rehearsed.
const (
	MaxWeeks = 104
	MaxSeeds = 200
	minLoad  = 10
	maxLoad  = 150
	// DefaultLoad is of a studio with enough to do that still keeps its dates (an assumption).
	DefaultLoad = 80
)

// Names of the arms.
const (
	asPromised = "as promised"
	asIfAlone  = "as if alone"
	oneMore    = "one more maker"
)

// firstMonday is when every quarter begins, so that every run has the same dates; the demo's week.
var firstMonday = time.Date(2026, 11, 2, 0, 0, 0, 0, time.UTC)

// effort is how many nestings are tried for a rehearsed quote. Sheets bought depend on it a little, the work and its dates do not.
const effort = 300

// draws is how many runs stand behind rehearsed odds: at 80 % they then have a standard error of 2.8 points, in place of the 2
// points of the studio's 400, and a quarter takes half the time.
const draws = 200

// Run plays the quarters. It returns ctx's error if ctx ends first.
func Run(ctx context.Context, s Settings) (*Report, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	s.Studio.Evaluations, s.Studio.Runs = min(s.Studio.Evaluations, effort), min(s.Studio.Runs, draws)
	sets, err := shop.Library()
	if err != nil {
		return nil, err
	}
	x, err := newWares(sets, s.Studio)
	if err != nil {
		return nil, err
	}
	aWeek, err := s.arrivals(ctx, x)
	if err != nil {
		return nil, err
	}
	arms := []arm{{name: asPromised, studio: s.Studio}, {name: asIfAlone, studio: s.Studio, alone: true}}
	if s.AnotherMaker {
		arms = append(arms, arm{name: oneMore, studio: anotherMaker(s.Studio)})
	}
	r := &Report{settings: s, aWeek: aWeek, zone: s.zone()}
	for range s.Seeds {
		r.quarters = append(r.quarters, make([]*quarter, len(arms)))
	}
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(runtime.GOMAXPROCS(0))
	for n := range s.Seeds {
		known := &reckoned{}
		for k, a := range arms {
			g.Go(func() error {
				seed := s.Seed + uint64(n)
				q := &quarter{arm: a, world: newWorld(seed, s.Studio), weeks: s.Weeks, zone: s.zone(), sets: sets, known: known}
				q.clients = q.world.clients(x, firstMonday, firstMonday.AddDate(0, 0, 7*s.Weeks), aWeek)
				r.quarters[n][k] = q
				defer q.forget()
				if err := q.play(ctx, filepath.Join(s.Scratch, fmt.Sprintf("quarter-%d-%d.db", seed, k))); err != nil {
					return fmt.Errorf("the quarter of seed %d, %s, on %s: %w", seed, a.name, q.now.In(q.zone).Format("2 Jan 2006, 15:04"), err)
				}
				return nil
			})
		}
	}
	if err := g.Wait(); err != nil {
		return nil, err
	}
	return r, nil
}

// arm is a way to run the studio.
type arm struct {
	name   string
	studio quote.Studio
	alone  bool // each quote's date is worked out on an empty shop
}

func (s Settings) check() error {
	switch {
	case s.Weeks < 1 || s.Weeks > MaxWeeks:
		return fmt.Errorf("%d weeks cannot be rehearsed; give 1 to %d", s.Weeks, MaxWeeks)
	case s.Seeds < 1 || s.Seeds > MaxSeeds:
		return fmt.Errorf("%d seeds cannot be rehearsed; give 1 to %d", s.Seeds, MaxSeeds)
	case s.Load < minLoad || s.Load > maxLoad:
		return fmt.Errorf("a load of %d %% cannot be rehearsed; give %d to %d", s.Load, minLoad, maxLoad)
	}
	if _, err := time.LoadLocation(s.Studio.Calendar.Zone); err != nil {
		return fmt.Errorf("the studio's time zone %q is not known: %w", s.Studio.Calendar.Zone, err)
	}
	if len(makersOf(s.Studio)) == 0 {
		return errors.New("the studio has no maker; add a [[place]] of kind \"maker\" to its settings")
	}
	return nil
}

func (s Settings) zone() *time.Location {
	zone, err := time.LoadLocation(s.Studio.Calendar.Zone)
	if err != nil {
		return time.UTC // check has refused it
	}
	return zone
}

func makersOf(st quote.Studio) (out []plan.Resource) {
	for _, r := range st.Resources {
		if r.Kind == "maker" {
			out = append(out, r)
		}
	}
	return out
}

func anotherMaker(st quote.Studio) quote.Studio {
	m := plan.Resource{ID: "one-more-maker", Title: "One more maker", Kind: "maker", Capacity: 1}
	for _, r := range makersOf(st) {
		m.Skills = append(m.Skills, r.Skills...)
		if len(r.Skills) == 0 {
			m.Skills = nil
			break
		}
	}
	st.Resources = append([]plan.Resource{m}, st.Resources...)
	return st
}

// sampled is how many orders the mean work of an order is taken from.
const sampled = 60

// arrivals is how many clients ask in a week on average for the load that is wanted.
func (s Settings) arrivals(ctx context.Context, x wares) (float64, error) {
	w := &world{seed: s.Seed} // of the whole run
	minutes := 0.0
	for n := range sampled {
		q := quote.Snapshot{Version: quote.Version, Commission: "C0001", Revision: 1, Studio: s.Studio, At: firstMonday, Patterns: map[string]quote.PatternSource{}}
		var typed map[string]string
		q.Items, q.Finish, typed = x.order(w.of("sample", n))
		for k := range typed {
			q.Body = append(q.Body, quote.Taken{Key: k, Value: x.base[k]})
		}
		for _, it := range q.Items {
			for _, set := range x.sets {
				if set.Name == it.Set {
					q.Patterns[it.Set] = set.Source
				}
			}
		}
		work, err := engine.Work(ctx, q)
		if err != nil {
			return 0, fmt.Errorf("what clients order cannot be worked out with these settings: %w", err)
		}
		minutes += work.Minutes()
	}
	mean := minutes / sampled * math.Exp(s.Studio.Spread.Bias)
	h := openHours(s.Studio.Calendar, s.zone(), firstMonday, firstMonday.AddDate(0, 0, 7*s.Weeks))
	open := h.between(firstMonday, firstMonday.AddDate(0, 0, 7*s.Weeks)).Minutes() / float64(s.Weeks) * float64(len(makersOf(s.Studio)))
	if open <= 0 {
		return 0, errors.New("the studio is never open in these weeks; give it hours under [shop]")
	}
	return open * float64(s.Load) / 100 / (mean * acceptShare * (1 - neverPaid)), nil
}
