package schedule

import "slices"

// farthest is how many steps ahead the shop thinks.
const farthest = 60

// waits is how often a step may wait longer for the sake of a window.
const waits = 8

// hold is a closing window of the policy: next must start at most to after pred's end.
type hold struct{ pred, next, to int32 }

// lookahead is what the shop thinks of before it begins a coat: would the next coats, with everything that comes before
// them, start within their windows if all took as long as expected? Nobody begins a coat whose next one would fall into
// the night.
type lookahead struct {
	looks []int32 // steps, by step that is begun
	holds []hold

	end, start []int32 // by step
	free       []int32 // by unit
	ofStep     []int32 // stamps
	ofUnit     []int32
	stamp      int32

	pending []hold // windows open in the run
}

func (a *lookahead) alloc(steps, units int) {
	a.end, a.start, a.ofStep = make([]int32, steps), make([]int32, steps), make([]int32, steps)
	a.free, a.ofUnit = make([]int32, units), make([]int32, units)
}

// addAhead collects for every step the chain of closing windows that it begins, and of the steps after it those that the
// chain waits for.
func (p *policy) addAhead() {
	n := len(p.steps)
	p.ahead.alloc(n, p.nUnits)
	holds := make([][]hold, n) // by pred
	for j := range p.steps {
		for _, l := range p.lags[p.steps[j].lagFrom:p.steps[j].lagTo] {
			if w := p.windows[l.first]; w.to >= 0 && !p.steps[l.pred].fixed {
				holds[l.pred] = append(holds[l.pred], hold{l.pred, int32(j), w.to})
			}
		}
	}
	in := make([]bool, n)
	for i := range p.steps {
		s := &p.steps[i]
		s.lookFrom, s.holdFrom = int32(len(p.ahead.looks)), int32(len(p.ahead.holds))
		clear(in)
		far := i
		for list := []int32{int32(i)}; len(list) > 0; list = list[1:] {
			for _, h := range holds[list[0]] {
				if int(h.next) > i+farthest {
					continue
				}
				p.ahead.holds = append(p.ahead.holds, h)
				if !in[h.next] {
					in[h.next] = true
					list = append(list, h.next)
					far = max(far, int(h.next))
				}
			}
		}
		for k := far; k > i; k-- { // backwards: what those wait for
			if !in[k] {
				continue
			}
			p.ahead.looks = append(p.ahead.looks, int32(k))
			for _, l := range p.lags[p.steps[k].lagFrom:p.steps[k].lagTo] {
				in[l.pred] = in[l.pred] || int(l.pred) > i
			}
			for j := k - 1; j > i; j-- {
				in[j] = in[j] || p.share(&p.steps[j], &p.steps[k])
			}
		}
		slices.Reverse(p.ahead.looks[s.lookFrom:])
		s.lookTo, s.holdTo = int32(len(p.ahead.looks)), int32(len(p.ahead.holds))
	}
}

// share says that two steps use a unit in common.
func (p *policy) share(a, b *step) bool {
	uses := func(s *step, u int32) bool { return s.rack == u || slices.Contains(p.units[s.unitFrom:s.unitTo], u) }
	for _, u := range p.units[a.unitFrom:a.unitTo] {
		if uses(b, u) {
			return true
		}
	}
	return a.rack >= 0 && uses(b, a.rack)
}

// wait is the first start from at that keeps the windows after step i as far as can be expected, or at where none does.
func (p *policy) wait(i, at int32) int32 {
	s := &p.steps[i]
	first := at
	for range waits {
		start, end := p.lay(s, at, s.mean)
		over := p.over(i, end)
		if over <= 0 {
			return start
		}
		at = p.clock.later(start, end, end+over)
	}
	return first
}

// over is by how much the windows after step i would be missed if it ended then.
func (p *policy) over(i, end int32) int32 {
	a := &p.ahead
	a.stamp++
	a.set(p, i, end)
	for _, k := range a.looks[p.steps[i].lookFrom:p.steps[i].lookTo] {
		s := &p.steps[k]
		at := s.head
		for _, l := range p.lags[s.lagFrom:s.lagTo] {
			e := p.end[l.pred]
			if a.ofStep[l.pred] == a.stamp {
				e = a.end[l.pred]
			}
			at = max(at, e+p.windows[l.first].from)
		}
		for _, u := range p.units[s.unitFrom:s.unitTo] {
			if a.ofUnit[u] == a.stamp {
				at = max(at, a.free[u])
			} else {
				at = max(at, p.free[u])
			}
		}
		var end int32
		a.start[k], end = p.lay(s, at, s.mean)
		a.set(p, k, end)
	}
	over := int32(0)
	for _, h := range a.holds[p.steps[i].holdFrom:p.steps[i].holdTo] {
		over = max(over, a.start[h.next]-a.end[h.pred]-h.to)
	}
	return over
}

// set notes when a step is expected to end.
func (a *lookahead) set(p *policy, k, end int32) {
	s := &p.steps[k]
	a.ofStep[k], a.end[k] = a.stamp, end
	for _, u := range p.units[s.unitFrom:s.unitTo] {
		a.ofUnit[u], a.free[u] = a.stamp, end
	}
	if s.rack >= 0 {
		a.ofUnit[s.rack], a.free[s.rack] = a.stamp, end+s.rackLength
	}
}

// overtakes is a step whose window would close if step i went first at that moment, and which can still be in time if it
// goes first itself; -1 if there is none.
func (p *policy) overtakes(i, at int32) int32 {
	s := &p.steps[i]
	_, end := p.lay(s, at, s.mean)
	keep := p.ahead.pending[:0]
	found := int32(-1)
	for _, h := range p.ahead.pending {
		if p.ran[h.next] == p.run+1 {
			continue
		}
		keep = append(keep, h)
		n := &p.steps[h.next]
		if found >= 0 || !p.share(n, s) || !p.awaited(n) {
			continue
		}
		ready := p.ready(n)
		close := p.end[h.pred] + h.to
		if now, _ := p.lay(n, ready, n.mean); now <= close {
			if then, _ := p.lay(n, max(ready, end), n.mean); then > close {
				found = h.next
			}
		}
	}
	p.ahead.pending = keep
	return found
}

// awaited says that everything before a step is done in this run.
func (p *policy) awaited(s *step) bool {
	for _, l := range p.lags[s.lagFrom:s.lagTo] {
		if p.ran[l.pred] != p.run+1 {
			return false
		}
	}
	return true
}
