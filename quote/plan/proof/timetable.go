package proof

import "slices"

// consumer is an activity's use of a resource while it runs.
type consumer struct {
	x      int32 // the piece of work
	demand int32
}

// cumulative says that the consumers that run at a time together demand at most the capacity.
type cumulative struct {
	capacity  int32
	consumers []consumer // largest demand first
	events    []event
	profile   []segment
}

// event is a change of the profile: its time, and in the lower half what it changes. So packed, events sort fast.
type event int64

func newEvent(at, change int32) event { return event(int64(at)<<32 | int64(uint32(change))) }
func (v event) at() int32             { return int32(v >> 32) }
func (v event) change() int32         { return int32(uint32(v)) }

// segment of the profile: from is included, to is not.
type segment struct{ from, to, height int32 }

// timetable reasons on compulsory parts: between its latest start and its earliest end an activity surely runs. Where
// the parts leave too little for an activity, it cannot run. Explanations are of single moments, as wide as possible
// (Schutt, Feydy, Stuckey & Wallace 2011).
func (e *engine) timetable(c *cumulative) bool {
	c.events = c.events[:0]
	for _, u := range c.consumers {
		if from, to := e.high(u.x), e.end(u.x, e.low(u.x)); from < to {
			c.events = append(c.events, newEvent(from, u.demand), newEvent(to, -u.demand))
		}
	}
	if len(c.events) == 0 {
		return true
	}
	slices.Sort(c.events)
	c.profile = c.profile[:0]
	height, highest := int32(0), int32(0)
	for k, v := range c.events[:len(c.events)-1] {
		height += v.change()
		at, next := v.at(), c.events[k+1].at()
		if next == at || height == 0 {
			continue
		}
		if height > c.capacity {
			e.conflict = e.running(e.conflict[:0], c, at, c.capacity, -1)
			return false
		}
		highest = max(highest, height)
		c.profile = append(c.profile, segment{at, next, height})
	}
	for _, u := range c.consumers {
		if u.demand+highest <= c.capacity {
			break // those that follow demand less
		}
		if e.fixed(u.x) {
			continue
		}
		if !e.pushLater(c, u) || !e.pushEarlier(c, u) {
			return false
		}
	}
	return true
}

func (e *engine) pushLater(c *cumulative, u consumer) bool {
	low := e.low(u.x)
	end := e.end(u.x, low)
	own, until := e.high(u.x), end // its compulsory part, of which the profile knows
	k, _ := slices.BinarySearchFunc(c.profile, low, func(s segment, t int32) int {
		if s.to <= t {
			return -1
		}
		return 1
	})
	for ; k < len(c.profile) && c.profile[k].from < end; k++ {
		s := c.profile[k]
		if s.height+u.demand <= c.capacity || s.from >= own && s.to <= until {
			continue
		}
		for low < s.to && end > s.from {
			t := min(s.to, end) - 1
			e.conflict = append(e.conflict[:0], literal{2 * u.x, e.start(u.x, t+1)})
			e.conflict = e.running(e.conflict, c, t, c.capacity-u.demand, u.x)
			if !e.set(2*u.x, t+1, because, e.explain(e.conflict...)) {
				return false
			}
			low = t + 1
			end = e.end(u.x, low)
		}
	}
	return true
}

func (e *engine) pushEarlier(c *cumulative, u consumer) bool {
	high := e.high(u.x)
	end := e.end(u.x, high)
	own, until := high, e.end(u.x, e.low(u.x))
	k, _ := slices.BinarySearchFunc(c.profile, end, func(s segment, t int32) int {
		if s.from < t {
			return -1
		}
		return 1
	})
	for k--; k >= 0 && c.profile[k].to > high; k-- {
		s := c.profile[k]
		if s.height+u.demand <= c.capacity || s.from >= own && s.to <= until {
			continue
		}
		for high < s.to && end > s.from {
			t := max(s.from, high)
			e.conflict = append(e.conflict[:0], literal{2*u.x + 1, -t})
			e.conflict = e.running(e.conflict, c, t, c.capacity-u.demand, u.x)
			high = e.start(u.x, t+1) - 1
			if !e.set(2*u.x+1, -high, because, e.explain(e.conflict...)) {
				return false
			}
			end = e.end(u.x, high)
		}
	}
	return true
}

// running appends, for a few consumers that surely run at t and together demand more than most, the literals that say
// so. The consumer not is left out.
func (e *engine) running(list []literal, c *cumulative, t, most, not int32) []literal {
	total := int32(0)
	for _, u := range c.consumers {
		if u.x == not || e.high(u.x) > t || e.end(u.x, e.low(u.x)) <= t {
			continue
		}
		list = append(list, literal{2 * u.x, e.start(u.x, t+1)}, literal{2*u.x + 1, -t})
		if total += u.demand; total > most {
			break
		}
	}
	return list
}
