package proof

import (
	"testing"

	"pgregory.net/rapid"
)

// nights are hours of a shop that is open for some of so many steps, again and again.
type nights struct {
	open, of int32
	duration []int32
	whole    []bool
}

func (h *nights) End(work, at int32) int32 {
	at = max(0, at)
	left := h.duration[work]
	for {
		switch room := h.open - at%h.of; {
		case room <= 0 || h.whole[work] && room < left && left == h.duration[work]:
			at += h.of - at%h.of
		case left <= room:
			return at + left
		default:
			at += room
			left -= room
		}
	}
}

func (h *nights) Start(work, t int32) int32 {
	if h.End(work, 0) >= t {
		return -1 << 20
	}
	at := int32(0)
	for h.End(work, at) < t {
		at++
	}
	return at
}

func never() bool { return false }

// told is everything that a search is told.
type told struct {
	low, high, duration []int32
	hours               *nights // nil: always open
	capacity            int32
	demand              []int32
	ties                []tie
}

type tie struct {
	kind      int // Least, After, Within
	x, y, lag int32
}

func drawTold(t *rapid.T) told {
	c := told{capacity: rapid.Int32Range(1, 3).Draw(t, "capacity")}
	n := rapid.IntRange(1, 6).Draw(t, "works")
	open := rapid.Bool().Draw(t, "always open")
	h := &nights{open: rapid.Int32Range(2, 4).Draw(t, "open")}
	h.of = h.open + rapid.Int32Range(1, 3).Draw(t, "closed")
	for range n {
		low := rapid.Int32Range(0, 3).Draw(t, "low")
		c.low, c.high = append(c.low, low), append(c.high, low+rapid.Int32Range(2, int32(16/n)).Draw(t, "room"))
		whole := rapid.Bool().Draw(t, "whole")
		most := int32(5)
		if whole {
			most = h.open
		}
		c.duration = append(c.duration, rapid.Int32Range(1, most).Draw(t, "duration"))
		h.whole = append(h.whole, whole)
		c.demand = append(c.demand, rapid.Int32Range(0, c.capacity).Draw(t, "demand"))
	}
	h.duration = c.duration
	if !open {
		c.hours = h
	}
	for range rapid.IntRange(0, 4).Draw(t, "ties") {
		a := tie{kind: rapid.IntRange(0, 2).Draw(t, "kind"), x: int32(rapid.IntRange(0, n-1).Draw(t, "x")), y: int32(rapid.IntRange(0, n-1).Draw(t, "y"))}
		if a.x == a.y {
			continue
		}
		if a.lag = rapid.Int32Range(0, 4).Draw(t, "lag"); a.kind == 0 {
			a.lag -= 3
		}
		c.ties = append(c.ties, a)
	}
	return c
}

func (c *told) end(i int, at int32) int32 {
	if c.hours == nil {
		return at + c.duration[i]
	}
	return c.hours.End(int32(i), at)
}

func (c *told) keeps(start []int32) bool {
	for _, a := range c.ties {
		x, y := start[a.x], start[a.y]
		switch {
		case a.kind == 0 && y < x+a.lag, a.kind == 1 && y < c.end(int(a.x), x)+a.lag, a.kind == 2 && y > c.end(int(a.x), x)+a.lag:
			return false
		}
	}
	for t := int32(0); t < 80; t++ {
		use := int32(0)
		for i, at := range start {
			if at <= t && t < c.end(i, at) {
				use += c.demand[i]
			}
		}
		if use > c.capacity {
			return false
		}
	}
	return true
}

// best tries all starts; −1 where none keep the rules.
func (c *told) best() int32 {
	start := make([]int32, len(c.low))
	best := int32(-1)
	var try func(i int)
	try = func(i int) {
		if i < len(start) {
			for at := c.low[i]; at <= c.high[i]; at++ {
				start[i] = at
				try(i + 1)
			}
			return
		}
		end := int32(0)
		for k, at := range start {
			end = max(end, c.end(k, at))
		}
		if (best < 0 || end < best) && c.keeps(start) {
			best = end
		}
	}
	try(0)
	return best
}

func (c *told) search(seed uint64) *Search {
	s := New(seed)
	for i := range c.low {
		s.Work(c.low[i], c.high[i], c.duration[i])
	}
	if c.hours != nil {
		s.Open(c.hours)
	}
	goal := s.Goal(0, 100)
	for i := range c.low {
		s.After(int32(i), goal, 0)
	}
	for _, a := range c.ties {
		[]func(x, y, lag int32){s.Least, s.After, s.Within}[a.kind](a.x, a.y, a.lag)
	}
	s.Resource(c.capacity, c.demand)
	s.Close(false)
	return s
}

// What is found keeps every rule and is the best that trying everything finds; where that finds nothing, there is proof; no lower
// bound is above it. So by either way to search, with hours and without.
func TestAgainstTryingEverything(t *testing.T) {
	found, none := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		c := drawTold(t)
		want := c.best()
		s := c.search(rapid.Uint64().Draw(t, "seed"))
		if rapid.Bool().Draw(t, "raise first") {
			s.Raise(rapid.IntRange(1, 20).Draw(t, "conflicts"), rapid.Bool().Draw(t, "growing"), never)
			if want >= 0 && s.Lower() > want {
				t.Fatalf("%+v: at least %d, want %d", c, s.Lower(), want)
			}
		}
		for turn := 0; !s.Decided(); turn++ {
			s.Round(turn, 50, never)
		}
		if want < 0 {
			if none++; s.Best() != nil {
				t.Fatalf("%+v: found %v, trying everything finds none", c, s.Best())
			}
			return
		}
		found++
		n := len(c.low)
		if s.Best() == nil || s.Best()[n] != want || !c.keeps(s.Best()[:n]) {
			t.Fatalf("%+v: found %v, want %d", c, s.Best(), want)
		}
	})
	if found == 0 || none == 0 {
		t.Errorf("one-sided: %d found, %d not", found, none)
	}
}

// What an edge needs for a bound is enough for it, and no more than what had it: explanations are true and as wide as can be.
func TestEdgesExplainThemselves(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawTold(t)
		s := c.search(1)
		for kind := range int32(mostEnd + 1) {
			d := &edge{work: int32(rapid.IntRange(0, len(c.low)-1).Draw(t, "work")), kind: kind, lag: rapid.Int32Range(-3, 4).Draw(t, "lag")}
			from := rapid.Int32Range(0, 30).Draw(t, "from")
			if kind == startEnd || kind == endMost {
				from = -from
			}
			bound := s.follows(d, from)
			if bound < -1<<19 {
				continue // nothing follows
			}
			need := s.needs(d, bound)
			if need > from || s.follows(d, need) < bound {
				t.Fatalf("%+v: from %d follows %d, for which %d is said to be needed; from that follows %d", d, from, bound, need, s.follows(d, need))
			}
			if less := s.follows(d, need-1); less >= bound && need > -40 {
				t.Fatalf("%+v: for %d is said to be needed %d, but %d does", d, bound, need, need-1)
			}
		}
	})
}
