package rehearsal

import (
	"fmt"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"time"

	"benchbell/bot/shop"
	"benchbell/quote"
	"benchbell/quote/geom"
	"benchbell/quote/pattern"
	"benchbell/quote/plan"
)

// How people and work really are, as far as the settings do not say (assumptions).
const (
	acceptShare  = 0.65 // of the quotes are accepted; the shop begins with its own belief and counts
	declineShare = 0.5  // of the other clients say so; the rest let the quote run out
	lateDeposits = 0.12 // come after their last day
	neverPaid    = 0.03 // of the approved commissions; the studio cancels them
	// reworkShare of the operations go wrong and are done again in part, which takes reworkTime of them once more.
	reworkShare = 0.02
	reworkTime  = 0.6

	// longestSpell is the longest that a maker is away at a time, in days; a spell takes one to so many, each as often.
	longestSpell = 5
	daysInYear   = 365.25
)

// dampAir is how the days' humidity changes water-borne cures in a shop whose settings say that it is always the same.
var dampAir = plan.Air{Low: 0.9, High: 1.15}

// world is how things really go. The shop never sees it: it sees acts. Each thing is drawn from a stream of its own, named by what
// it is, so that it is the same in every arm of a seed.
type world struct {
	seed   uint64
	studio quote.Studio
	air    plan.Air
	rates  float64 // real time over the book's, of all work
}

func newWorld(seed uint64, st quote.Studio) *world {
	w := &world{seed: seed, studio: st, air: dampAir}
	if st.Air != nil {
		w.air = *st.Air
	}
	// The studio's factor is one number for a whole quarter. By the golden ratio the factors of seeds in a row are spread evenly
	// over the distribution (a Weyl sequence), so that twenty of them stand for it without luck.
	u := math.Mod(0.5+float64(seed%(1<<20))*(math.Sqrt(5)-1)/2, 1)
	w.rates = math.Exp(st.Spread.Bias + st.Spread.Rates*normalAt(u))
	return w
}

// normalAt is the standard normal number below which a share u lies.
func normalAt(u float64) float64 {
	const least = 1e-6
	return math.Sqrt2 * math.Erfinv(2*min(max(u, least), 1-least)-1)
}

// of is the stream of the thing with that name.
func (w *world) of(name ...any) *rand.Rand {
	h := fnv.New64a()
	fmt.Fprintln(h, name...)
	return rand.New(rand.NewPCG(w.seed, h.Sum64()))
}

// commission is how much longer than others the work on one takes.
func (w *world) commission(id quote.CommissionID) float64 {
	return math.Exp(w.studio.Spread.Project * w.of("commission", id).NormFloat64())
}

// takes is the real time of an operation, in whole minutes, and whether it was done again.
func (w *world) takes(id quote.CommissionID, o plan.Operation) (minutes int, again bool) {
	r := w.of("work", id, o.ID)
	m := pert(r, float64(o.Low), float64(o.Duration), float64(o.High)) * w.rates * w.commission(id)
	if r.Float64() < reworkShare {
		m *= 1 + reworkTime
		again = true
	}
	return max(1, int(math.Round(m))), again
}

// pert draws from beta-PERT by two gamma variates (J. H. Ahrens, U. Dieter, Computing 12, 1974, have the beta so; the gammas are by
// G. Marsaglia and W. W. Tsang, ACM TOMS 26, 2000).
func pert(r *rand.Rand, low, likely, high float64) float64 {
	if high <= low {
		return likely
	}
	a, b := 1+4*(likely-low)/(high-low), 1+4*(high-likely)/(high-low)
	x, y := gamma(r, a), gamma(r, b)
	return low + (high-low)*x/(x+y)
}

// gamma draws with a shape of at least 1.
func gamma(r *rand.Rand, shape float64) float64 {
	d := shape - 1.0/3
	c := 1 / math.Sqrt(9*d)
	for {
		x := r.NormFloat64()
		v := 1 + c*x
		if v <= 0 {
			continue
		}
		v *= v * v
		if math.Log(1-r.Float64()) < x*x/2+d-d*v+d*math.Log(v) {
			return d * v
		}
	}
}

// damp is how much longer a water-borne cure takes that begins at a time.
func (w *world) damp(at time.Time) float64 {
	return pert(w.of("air", at.UTC().Format(time.DateOnly)), w.air.Low, 1, w.air.High)
}

// absences of a maker between two times.
func (w *world) absences(maker string, from, to time.Time, zone *time.Location) []plan.Span {
	if w.studio.Spread.Away <= 0 {
		return nil
	}
	r := w.of("away", maker)
	const mean = (longestSpell + 1) / 2.0
	gap := daysInYear*mean/w.studio.Spread.Away - mean
	l := from.In(zone)
	midnight := time.Date(l.Year(), l.Month(), l.Day(), 0, 0, 0, 0, zone)
	var out []plan.Span
	for day := -longestSpell; ; {
		day += int(r.ExpFloat64() * gap)
		long := 1 + r.IntN(longestSpell)
		s := plan.Span{From: midnight.AddDate(0, 0, day), To: midnight.AddDate(0, 0, day+long)}
		if !s.From.Before(to) {
			return out
		}
		if s.To.After(from) {
			out = append(out, s)
		}
		day += long
	}
}

// client is somebody who asks, and what they will do.
type client struct {
	number   int
	at       time.Time // asks
	items    []quote.Item
	finish   string
	typed    map[string]string // measurements
	measures time.Duration     // how long measuring takes them
	decides  time.Duration     // how long they look at a quote
	accepts  bool
	declines bool          // says so if not
	pays     time.Duration // after approving
	never    bool          // pays
	stops    stop          // before all of that; empty: they go on
}

// wares is what clients order from: sets with their bases, and finishes.
type wares struct {
	sets     []shop.Set
	base     map[string]geom.MM // by measurement
	finishes []quote.Finish
}

func newWares(sets []shop.Set, st quote.Studio) (wares, error) {
	x := wares{sets: sets, base: map[string]geom.MM{}, finishes: st.Finishes}
	for _, s := range sets {
		p, err := pattern.Parse([]byte(s.Source.Drawing), []byte(s.Source.TOML))
		if err != nil {
			return x, fmt.Errorf("pattern set %q: %w", s.Name, err)
		}
		for k, v := range p.Base {
			if _, ok := x.base[k]; !ok {
				x.base[k] = v
			}
		}
	}
	return x, nil
}

// order draws one to three sets with a finish that suits them all, and a body.
func (x wares) order(r *rand.Rand) (items []quote.Item, finish string, typed map[string]string) {
	n := 1 + r.IntN(3)
	var suits []quote.Finish
	for len(suits) == 0 {
		items = nil
		var chosen []shop.Set
		for _, k := range r.Perm(len(x.sets))[:min(n, len(x.sets))] {
			chosen = append(chosen, x.sets[k])
		}
		slices.SortFunc(chosen, func(a, b shop.Set) int { return strings.Compare(a.Name, b.Name) })
		suits = nil
		for _, f := range x.finishes {
			if !slices.ContainsFunc(chosen, func(s shop.Set) bool { return len(s.Finishes) > 0 && !slices.Contains(s.Finishes, f.Key) }) {
				suits = append(suits, f)
			}
		}
		for _, s := range chosen {
			it := quote.Item{Set: s.Name, Count: 1}
			if s.Sided {
				it.Sides = quote.Pair
			}
			items = append(items, it)
		}
		n = 1 // sets that share no finish are ordered one at a time
	}
	finish = suits[r.IntN(len(suits))].Key
	const spread = 0.05 // of bodies in scale, less than between people, so that nobody is outside of what a set can be made to
	scale := 1 + spread*(2*r.Float64()-1)
	typed = map[string]string{}
	for k, v := range x.base {
		typed[k] = fmt.Sprintf("%.1f", float64(v)*scale/10)
	}
	return items, finish, typed
}

// clients between two times, so many a week on average, each at a time of their own (a Poisson process).
func (w *world) clients(x wares, from, to time.Time, aWeek float64) []client {
	var out []client
	arrivals := w.of("arrivals")
	const week = 7 * 24 * time.Hour
	at := from
	for {
		at = at.Add(time.Duration(arrivals.ExpFloat64() / aWeek * float64(week))).Truncate(time.Minute)
		if !at.Before(to) {
			return out
		}
		n := len(out) + 1
		r := w.of("client", n)
		c := client{number: n, at: at}
		c.items, c.finish, c.typed = x.order(r)
		c.measures = days(r.ExpFloat64())
		c.decides = days(2.5 * math.Exp(0.7*r.NormFloat64())) // half within two and a half days
		c.accepts, c.declines = r.Float64() < acceptShare, r.Float64() < declineShare
		c.pays = days(float64(w.studio.DepositDays) * 0.85 * r.Float64())
		switch u := r.Float64(); {
		case u < neverPaid:
			c.never = true
		case u < neverPaid+lateDeposits:
			c.pays = days(float64(w.studio.DepositDays) + 1 + 6*r.Float64())
		}
		out = append(out, c)
	}
}

func days(d float64) time.Duration {
	return max(5*time.Minute, time.Duration(d*24*float64(time.Hour)).Truncate(time.Minute))
}
