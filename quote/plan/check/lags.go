package check

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"benchbell/quote/plan"
)

// window is when an operation may start, both moments included; closes is zero where there is no end.
type window struct{ opens, closes time.Time }

func (w window) holds(t time.Time) bool {
	return !t.Before(w.opens) && (w.closes.IsZero() || !t.After(w.closes))
}

// lag is a lag in moments rather than distances: the earlier operation's end is known.
type lag struct {
	pred    int
	windows []window // ascending, none empty
}

// in is the window that a start falls in, the first where it falls in none.
func (l lag) in(start time.Time) (window, bool) {
	for _, w := range l.windows {
		if w.holds(start) {
			return w, true
		}
	}
	return l.windows[0], false
}

// offset is that an operation starts no earlier than a moment, because another starts when it does.
type offset struct {
	from int
	at   time.Time
}

// tie turns every lag into windows and every offset into a moment.
func (c *checker) tie() error {
	for i := range c.work {
		w := &c.work[i]
		w.from = w.got.End
		if f := w.ask.Finished; !f.IsZero() {
			if w.from = f.Truncate(time.Second); w.from.Before(f) {
				w.from = w.from.Add(time.Second)
			}
		}
	}
	for i := range c.work {
		w := &c.work[i]
		for k, l := range w.ask.After {
			pred, ok := c.index[l.After]
			if !ok || pred == i {
				return fmt.Errorf("the problem has %s come after %q", w.name(), l.After)
			}
			w.lags = append(w.lags, lag{pred, c.windows(&c.work[pred], l)})
			c.work[pred].next = append(c.work[pred].next, next{i, k})
		}
		for _, x := range w.ask.Offsets {
			from, ok := c.index[x.From]
			if !ok {
				return fmt.Errorf("the problem has the start of %s tied to %q", w.name(), x.From)
			}
			w.offsets = append(w.offsets, offset{from, c.work[from].got.Start.Add(minutes(x.Least))})
		}
	}
	return nil
}

// windows is what a lag allows, as moments of the grid after an operation.
func (c *checker) windows(after *work, l plan.Lag) []window {
	list := l.Windows
	if len(list) == 0 {
		list = []plan.LagWindow{{From: l.Min, To: l.Max}}
	}
	var all []window
	for _, x := range list {
		w := window{opens: latest(after.got.End, up(after.from.Add(minutes(x.From))))}
		if x.To > 0 {
			w.closes = latest(w.opens, down(after.from.Add(minutes(x.To))))
		}
		all = append(all, w)
	}
	slices.SortStableFunc(all, func(a, b window) int { return a.opens.Compare(b.opens) })
	out := all[:1]
	for _, w := range all[1:] {
		before := &out[len(out)-1]
		switch {
		case !before.holds(w.opens):
			out = append(out, w)
		case before.closes.IsZero():
		case w.closes.IsZero():
			before.closes = w.closes
		default:
			before.closes = latest(before.closes, w.closes)
		}
	}
	return out
}

// kept looks at offsets, which nothing breaks, and least lags, which nothing may shorten, and compares Broken with the windows and pins that are missed. What
// has begun is history and misses nothing.
func (c *checker) kept() error {
	type miss struct{ what, id, pred string }
	var missed []miss
	for i := range c.work {
		w := &c.work[i]
		if w.began {
			continue
		}
		start := w.got.Start
		if pin := w.ask.Pinned; !pin.IsZero() && !start.Equal(up(pin)) {
			missed = append(missed, miss{fmt.Sprintf("%s, pinned to %s, starts at %s", w.name(), clock(pin), clock(start)), w.ask.ID, ""})
		}
		for _, x := range w.offsets {
			if start.Before(x.at) {
				return fmt.Errorf("%s starts at %s, while %s starts when it does it may at %s at the earliest", w.name(), clock(start), c.work[x.from].name(), clock(x.at))
			}
		}
		for _, l := range w.lags {
			pred := &c.work[l.pred]
			if start.Before(l.windows[0].opens) {
				return fmt.Errorf("%s starts at %s, after %s it may start at %s at the earliest", w.name(), clock(start), pred.name(), clock(l.windows[0].opens))
			}
			if _, ok := l.in(start); !ok {
				missed = append(missed, miss{fmt.Sprintf("%s starts at %s, in no window after %s", w.name(), clock(start), pred.name()), w.ask.ID, pred.ask.ID})
			}
		}
	}
	for k := range min(len(missed), len(c.s.Broken)) {
		if m, line := missed[k], c.s.Broken[k]; !names(line, m.id) || m.pred != "" && !names(line, m.pred) {
			return fmt.Errorf("%s; what the plan says in that place is not that: %q", m.what, line)
		}
	}
	switch n := len(c.s.Broken); {
	case n < len(missed):
		return fmt.Errorf("%s, which the plan does not say is broken", missed[n].what)
	case n > len(missed):
		return fmt.Errorf("the plan says that a window or pin is broken, which none is by its times: %q", c.s.Broken[len(missed)])
	}
	return nil
}

// names reports whether words name an operation, as "a" or (a).
func names(words, id string) bool {
	return strings.Contains(words, strconv.Quote(id)) || strings.Contains(words, "("+id+")")
}

// cures looks at what follows each operation.
func (c *checker) cures() error {
	for i := range c.work {
		w := &c.work[i]
		var all []plan.Cure
		for _, n := range w.next {
			if what := c.work[n.work].ask.After[n.lag].Cure; what != "" {
				in, _ := c.work[n.work].lags[n.lag].in(c.work[n.work].got.Start)
				all = append(all, plan.Cure{Material: what, From: w.got.End, Ready: in.opens, Latest: in.closes})
			}
		}
		if w.ask.Tail > 0 {
			all = append(all, plan.Cure{Material: w.ask.TailCure, From: w.got.End, Ready: w.over()})
		}
		got := w.got.Cure
		if len(all) == 0 {
			if got != nil {
				return fmt.Errorf("after %s cures %q, though nothing does", w.name(), got.Material)
			}
			continue
		}
		last := slices.MaxFunc(all, func(a, b plan.Cure) int { return a.Ready.Compare(b.Ready) })
		same := func(k plan.Cure) bool {
			return k.Ready.Equal(last.Ready) && got.Material == k.Material && got.From.Equal(k.From) && got.Ready.Equal(k.Ready) && got.Latest.Equal(k.Latest)
		}
		if got == nil || !slices.ContainsFunc(all, same) {
			return fmt.Errorf("the cure after %s is not the one that follows from its times: %q from %s, ready at %s", w.name(), last.Material, clock(last.From), clock(last.Ready))
		}
	}
	return nil
}
