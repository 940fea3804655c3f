package schedule

import (
	"fmt"
	"slices"

	"benchbell/quote/plan"
)

// window is an allowed interval of starts after the earlier operation's end, both ends included; to < 0 means no end.
type window struct{ from, to slot }

// lag is a compiled precedence.
type lag struct {
	pred    int
	windows []window // ascending
	id      int      // over all operations
	water   bool     // its cure depends on the day's air
	cure    bool     // something cures meanwhile
}

// last is the latest allowed distance, or -1 without one.
func (l *lag) last() slot { return l.windows[len(l.windows)-1].to }

// hit is the window that a distance from the earlier operation's end falls in, or -1.
func (l *lag) hit(distance slot) int {
	for i, w := range l.windows {
		if distance >= w.from && (w.to < 0 || distance <= w.to) {
			return i
		}
	}
	return -1
}

// compileWindows rounds openings up and closings down to the grid, so that what is kept on the grid is kept in truth. The
// windows count from a moment on the grid that lies so many seconds after the real end.
func compileWindows(l plan.Lag, seconds int64) ([]window, error) {
	list := l.Windows
	if len(list) > maxWindows {
		return nil, fmt.Errorf("%d windows, give at most %d", len(list), maxWindows)
	}
	if len(list) == 0 {
		list = []plan.LagWindow{{From: l.Min, To: l.Max}}
	}
	var out []window
	for _, w := range list {
		if w.From < 0 || w.From > maxMinutes || w.To < 0 || w.To > maxMinutes {
			return nil, fmt.Errorf("the window %d to %d minutes is out of range, give 0 to %d", w.From, w.To, maxMinutes)
		}
		c := window{from: max(0, slot((int64(w.From)*60-seconds+slotSeconds-1)/slotSeconds)), to: -1}
		if w.To > 0 {
			c.to = slot(max(0, int64(w.To)*60-seconds) / slotSeconds)
			if w.To < w.From {
				return nil, fmt.Errorf("its window opens after %d minutes but closes after %d, which contradict each other", w.From, w.To)
			}
			if seconds > 0 {
				c.to = max(c.to, c.from)
			}
			if c.to < c.from {
				return nil, fmt.Errorf("its window of %d to %d minutes holds no multiple of %d minutes, widen it", w.From, w.To, plan.Grid)
			}
		}
		out = append(out, c)
	}
	slices.SortStableFunc(out, func(a, b window) int { return int(a.from - b.from) })
	// overlapping windows are one
	merged := out[:1]
	for _, w := range out[1:] {
		last := &merged[len(merged)-1]
		switch {
		case last.to < 0 || w.from <= last.to && w.to >= 0 && w.to <= last.to:
		case w.from <= last.to:
			last.to = w.to
		default:
			merged = append(merged, w)
		}
	}
	return merged, nil
}
