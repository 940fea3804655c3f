package schedule

// clock is working time as tables, so that laying work is a look-up. Moments are slots after its base; what lies beyond
// the tables counts as open.
type clock struct {
	worked  []int32 // moment → open slots before it
	after   []int32 // open slot → its moment
	next    []int32 // open slot → first open slot of the next stretch
	longest int32
}

func newClock(k *calendar, base, until slot) (clock, error) {
	if _, err := k.find(base); err != nil {
		return clock{}, err
	}
	until = min(until, base+horizonDays*daySlots/2)
	for k.stretches[len(k.stretches)-1].to < until && k.grow() {
		continue
	}
	n := int(until - base)
	c := clock{worked: make([]int32, n+1), longest: int32(min(k.longest, 1<<30))}
	for _, s := range k.stretches {
		for t := max(s.from, base); t < min(s.to, until); t++ {
			c.worked[t-base+1] = 1
			c.after = append(c.after, int32(t-base))
		}
		for len(c.next) < len(c.after) {
			c.next = append(c.next, int32(len(c.after)))
		}
	}
	for i := range n {
		c.worked[i+1] += c.worked[i]
	}
	return c, nil
}

// lay is the start and end of so much work from at, in one stretch if whole.
func (c *clock) lay(at, dur int32, whole bool) (int32, int32) {
	if int(at) >= len(c.worked) {
		return at, at + dur
	}
	w := c.worked[at]
	if dur == 0 {
		if int(w) >= len(c.after) {
			return at, at
		}
		return c.after[w], c.after[w]
	}
	for int(w+dur) <= len(c.after) {
		start, end := c.after[w], c.after[w+dur-1]+1
		if !whole || end-start == dur {
			return start, end
		}
		w = c.next[w]
	}
	if int(w) < len(c.after) {
		at = c.after[w]
	}
	at = max(at, int32(len(c.worked)))
	return at, at + dur
}

// later is the start from which work of the same length ends at or after notBefore; at least one slot later.
func (c *clock) later(start, end, notBefore int32) int32 {
	if int(notBefore) >= len(c.worked) || int(end) >= len(c.worked) {
		return start + max(1, notBefore-end)
	}
	w := c.worked[start] + max(1, c.worked[notBefore-1]-c.worked[max(start, end-1)])
	if int(w) >= len(c.after) {
		return start + max(1, notBefore-end)
	}
	return c.after[w]
}

// anyOpen says whether the shop is open at some moment of an interval.
func (c *clock) anyOpen(from, to int32) bool {
	if int(to) >= len(c.worked) {
		return true
	}
	return c.worked[to] > c.worked[from]
}
