package search

import (
	"cmp"
	"slices"
)

// choice is how many sheets of each kind to use.
type choice struct {
	counts []int
	cost   int64
	need   float64 // piece area as a share of the sheets' area
	fails  int
	pool   []attempt // layouts of earlier tries, the one with the least overlap first
}

func (c choice) list() []int {
	var out []int
	for k, n := range c.counts {
		for range n {
			out = append(out, k)
		}
	}
	return out
}

const (
	// maxChoices bounds how many choices of sheets are examined in one go; with few kinds in stock it covers all.
	maxChoices = 20000
	// failDebt is how much fuller a choice counts for each time it failed, so that others get their turn.
	failDebt = 0.02
)

// cheaper is the most promising choice that costs less than the best layout: the one whose sheets need to be filled least.
// ok is false if none has enough area, so the cost cannot fall.
func (t *stock) cheaper() (best choice, ok bool) {
	if len(t.best.Left) > 0 {
		return t.complete()
	}
	order := t.perArea()
	counts := make([]int, len(t.sheets))
	left := maxChoices
	merit := 0.0
	var walk func(n int, cost int64, area float64)
	walk = func(n int, cost int64, area float64) {
		if left--; left < 0 {
			return
		}
		if area >= t.area && t.holds(counts) {
			c := choice{cost: cost, need: t.area / area}
			if at := t.failedAt(counts); at >= 0 {
				c.fails, c.pool = t.failed[at].fails, t.failed[at].pool
			}
			if m := c.need + float64(failDebt*float64(c.fails)); !ok || m < merit {
				c.counts = slices.Clone(counts)
				best, merit, ok = c, m, true
			}
		}
		if n == len(order) {
			return
		}
		k := order[n]
		most := len(t.pieces)
		if c := t.sheets[k].Count; c > 0 {
			most = min(most, c)
		}
		// As many as the cost allows, but not beyond twice the area: free sheets would never end.
		for c := 0; c <= most; c++ {
			price := cost + int64(c)*t.sheets[k].Price
			if price >= t.best.Cost || (c > 0 && area+float64(float64(c-1)*t.sheets[k].Area) > 2*t.area) {
				break
			}
			counts[k] = c
			if c > 0 || n+1 < len(order) {
				walk(n+1, price, area+float64(float64(c)*t.sheets[k].Area))
			}
		}
		counts[k] = 0
	}
	walk(0, 0, 0)
	return best, ok
}

// complete is the entire stock, for pieces that have no place yet.
func (t *stock) complete() (choice, bool) {
	c := choice{counts: make([]int, len(t.sheets))}
	area := 0.0
	for k, s := range t.sheets {
		if c.counts[k] = s.Count; s.Count == 0 {
			c.counts[k] = 1
		}
		area += float64(c.counts[k]) * s.Area
	}
	if at := t.failedAt(c.counts); at >= 0 {
		c.fails, c.pool = t.failed[at].fails, t.failed[at].pool
	}
	return c, area >= t.area
}

// holds reports whether every piece fits on one of the kinds chosen.
func (t *stock) holds(counts []int) bool {
	var last *Kind
	for _, p := range t.pieces {
		if p == last {
			continue
		}
		last = p
		fits := false
		for k, n := range counts {
			fits = fits || (n > 0 && p.Fits(t.sheets[k].Field))
		}
		if !fits {
			return false
		}
	}
	return true
}

func (t *stock) failedAt(counts []int) int {
	return slices.IndexFunc(t.failed, func(c choice) bool { return slices.Equal(c.counts, counts) })
}

func (t *stock) fail(c choice) {
	at := t.failedAt(c.counts)
	if at < 0 {
		at = len(t.failed)
		t.failed = append(t.failed, c)
	}
	t.failed[at].fails++
	t.failed[at].pool = c.pool
}

// remember adds a failure to the pool, sorted by its loss.
func remember(pool []attempt, loss float64, spots []Spot) []attempt {
	at, _ := slices.BinarySearchFunc(pool, loss, func(a attempt, l float64) int { return cmp.Compare(a.loss, l) })
	pool = slices.Insert(pool, at, attempt{loss, spots})
	return pool[:min(len(pool), poolMost)]
}
