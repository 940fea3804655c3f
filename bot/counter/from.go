package counter

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"slices"
	"sync"
	"time"

	"benchbell/bot/shop"
	"benchbell/quote"
	"benchbell/quote/body"
	"benchbell/quote/measure"
)

// begin is what a set begins at.
type begin struct{ price, size string }

// prices are what sets begin at, by the settings and the sets that they were worked out for. They are worked out one after the other
// once somebody chooses, and not before: no page waits for them.
type prices struct {
	mu   sync.Mutex
	of   [sha256.Size]byte
	by   map[string]begin
	busy bool
}

const (
	// fromLayouts bounds the layouts tried for such a price: a set has few pieces, and more find little.
	fromLayouts = 2000
	// fromPatience is how long one may take before it is left out; a set of the library takes well under a second.
	fromPatience = 20 * time.Second
)

// beginAt is what each set begins at, as far as it is known; what is not is worked out meanwhile.
func (c *Counter) beginAt() map[string]begin {
	if c.o.Reckon == nil {
		return nil
	}
	st, sets := c.o.Studio(), c.o.Rules.Offered()
	// What is away, and how busy the shop is, changes no price.
	st.Away, st.Evaluations, st.Schedules, st.Runs = nil, min(st.Evaluations, fromLayouts), 1, 1
	raw, err := json.Marshal([]any{st, sets})
	if err != nil {
		return nil
	}
	of := sha256.Sum256(raw)
	x := &c.from
	x.mu.Lock()
	defer x.mu.Unlock()
	if x.of != of && !x.busy {
		x.of, x.by, x.busy = of, map[string]begin{}, true
		go c.reckonAll(st, sets)
	}
	out := map[string]begin{}
	if x.of == of {
		for name, b := range x.by {
			out[name] = b
		}
	}
	return out
}

func (c *Counter) reckonAll(st quote.Studio, sets []shop.Set) {
	defer func() {
		c.from.mu.Lock()
		c.from.busy = false
		c.from.mu.Unlock()
	}()
	for _, x := range sets {
		b, ok := c.reckon(st, x)
		if !ok {
			continue
		}
		c.from.mu.Lock()
		c.from.by[x.Name] = b
		c.from.mu.Unlock()
	}
}

// reckon works out one set in the cheapest finish it can have, for a body in the middle of what is plausible.
func (c *Counter) reckon(st quote.Studio, x shop.Set) (begin, bool) {
	ctx, stop := context.WithTimeout(context.Background(), fromPatience)
	defer stop()
	it := quote.Item{Set: x.Name, Count: 1}
	if x.Sided {
		it.Sides = quote.Pair
	}
	finishes := c.o.Rules.Finishes([]quote.Item{it})
	if len(finishes) == 0 {
		return begin{}, false
	}
	plainest := slices.MinFunc(finishes, func(a, b quote.Finish) int { return a.CoatCount() - b.CoatCount() })
	s := quote.Snapshot{Version: quote.Version, Commission: "C0000", Revision: 1, Client: "nobody", Items: []quote.Item{it}, Finish: plainest.Key,
		Patterns: map[string]quote.PatternSource{x.Name: x.Source}, Studio: st, At: c.o.Now().UTC().Truncate(time.Second), Seed: 1}
	asked, err := body.Ask([]body.Ordered{{Sides: it.Sides, Measures: x.Measures}}, false)
	middle := measure.Middle()
	for _, a := range asked {
		s.Body = append(s.Body, quote.Taken{Key: a.Def.Key, Side: a.Side, Value: middle[a.Def.Key], Typed: middle[a.Def.Key].String()})
	}
	var q quote.Quote
	if err == nil {
		q, err = c.o.Reckon(ctx, s)
	}
	if err != nil {
		c.o.Log.Warn("what a set begins at cannot be worked out; it is shown without", "set", x.Name, "err", err)
		return begin{}, false
	}
	e := q.Estimate
	return begin{price: e.Total.Format(e.Currency), size: parcelWords(q.Parcel)}, true
}
