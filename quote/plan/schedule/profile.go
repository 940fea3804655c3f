package schedule

import "slices"

// profile is how many operations and promises use a resource over time: use[i] from at[i] to at[i+1].
type profile struct {
	at  []slot
	use []int32

	hint int // step found last
}

const beginning = slot(-1 << 60)

func newProfile() profile { return profile{at: []slot{beginning}, use: []int32{0}} }

// copyFrom makes p equal to q, keeping p's memory.
func (p *profile) copyFrom(q *profile) {
	p.at = append(p.at[:0], q.at...)
	p.use = append(p.use[:0], q.use...)
}

// index is the last step that begins at or before t.
func (p *profile) index(t slot) int {
	lo, hi := 0, len(p.at)-1
	// moments are looked for near each other: the step found last or one of the next is often right
	if h := p.hint; h <= hi && p.at[h] <= t {
		lo = h
		for n := 0; n < 4; n++ {
			if lo == hi || p.at[lo+1] > t {
				p.hint = lo
				return lo
			}
			lo++
		}
	}
	for lo < hi {
		mid := (lo + hi + 1) / 2
		if p.at[mid] <= t {
			lo = mid
		} else {
			hi = mid - 1
		}
	}
	p.hint = lo
	return lo
}

// cut makes t a step and returns its index.
func (p *profile) cut(t slot) int {
	i := p.index(t)
	if p.at[i] == t {
		return i
	}
	p.at = slices.Insert(p.at, i+1, t)
	p.use = slices.Insert(p.use, i+1, p.use[i])
	return i + 1
}

// add changes the use in [from, to) by delta.
func (p *profile) add(from, to slot, delta int32) {
	if from >= to {
		return
	}
	a := p.cut(from)
	b := p.cut(to)
	for i := a; i < b; i++ {
		p.use[i] += delta
	}
	p.join(b)
	p.join(a)
}

// join removes step i if it changes nothing.
func (p *profile) join(i int) {
	if i > 0 && p.use[i] == p.use[i-1] {
		p.at = slices.Delete(p.at, i, i+1)
		p.use = slices.Delete(p.use, i, i+1)
	}
}

// peak is the highest use in the spans, and the end of the last time it is reached there. Work through the same
// working time that begins before that end meets the peak again, so a search may go on from there.
func (p *profile) peak(spans []span) (int32, slot) {
	var top int32
	var last slot
	for k := len(spans) - 1; k >= 0; k-- {
		s := spans[k]
		if s.from >= s.to {
			continue
		}
		for i := p.index(s.to - 1); ; i-- {
			if p.use[i] > top {
				top = p.use[i]
				j := i + 1
				for j < len(p.at) && p.use[j] >= top {
					j++
				}
				if j < len(p.at) {
					last = p.at[j]
				} else {
					last = -beginning
				}
			}
			if p.at[i] <= s.from {
				break
			}
		}
	}
	return top, last
}

// front is peak from the other side: the highest use in the spans, in any order, and the beginning of the first time it
// is reached there, so that work that ends no later than that meets less of it.
func (p *profile) front(spans []span) (int32, slot) {
	var top int32
	first := -beginning
	for _, s := range spans {
		if s.from >= s.to {
			continue
		}
		for i := p.index(s.from); i < len(p.at) && p.at[i] < s.to; i++ {
			if p.use[i] > top {
				top, first = p.use[i], -beginning
			}
			if p.use[i] == top && top > 0 && p.at[i] < first {
				j := i
				for j > 0 && p.use[j-1] >= top {
					j--
				}
				first = p.at[j]
			}
		}
	}
	return top, first
}
