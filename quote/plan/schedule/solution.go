package schedule

import (
	"fmt"
	"slices"
	"sort"
	"time"

	"benchbell/quote/plan"
)

// solution writes the generated schedule down, in order of start and, within that, of the problem.
func (m *model) solution(g *generator) plan.Solution {
	s := plan.Solution{End: g.finish.time()}
	order := make([]int, len(m.tasks))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return int(g.start[a] - g.start[b]) })
	for _, i := range order {
		o := m.p.Operations[i]
		x := plan.Scheduled{ID: o.ID, Title: o.Title, Group: o.Group, Kind: o.Kind, Project: o.Project, Start: g.start[i].time(), End: g.end[i].time()}
		for _, w := range g.spans[i] {
			x.Spans = append(x.Spans, plan.Span{From: w.from.time(), To: w.to.time()})
		}
		for _, r := range g.taken[i] {
			x.Resources = append(x.Resources, m.p.Resources[r].ID)
		}
		if r := g.onRack[i]; r >= 0 && m.tasks[i].rack.length > 0 {
			x.Rack = m.p.Resources[r].ID
		}
		x.Cure = m.cure(i, g.start, g.end)
		s.Operations = append(s.Operations, x)
	}
	s.Broken = m.broken(g.start, g.end)
	if m.setups {
		s.Changes = m.changes(g.start, g.taken)
	}
	return s
}

// shares of the runs whose ends are told.
var shares = [3]int{50, 80, 95}

// dates writes down the dates that may be promised: moments of handover not passed in those shares of the runs.
func (m *model) dates(g *generator, c *chances, s *plan.Solution) {
	read := func(end slot, runs []int32) [3]time.Time {
		var out [3]time.Time
		for k, percent := range shares {
			at := end
			if len(runs) > 0 {
				at = m.start + slot(percentile(runs, percent))
			}
			out[k] = g.handover(at, 0).time()
		}
		return out
	}
	all := read(g.finish, c.finish)
	s.P50, s.P80, s.P95 = all[0], all[1], all[2]
	for k, p := range m.projects {
		var runs []int32
		if c.ends != nil {
			runs = c.ends[k]
		}
		at := read(g.ends[k], runs)
		d := plan.Dates{Project: p.id, End: g.ends[k].time(), P50: at[0], P80: at[1], P95: at[2]}
		if c.missed != nil {
			d.Missed = c.missed[k]
		}
		if c.worked != nil {
			at := func(percent int) plan.Minutes {
				return plan.Minutes(c.worked[k][max(0, (percent*len(c.worked[k])+99)/100-1)]) * plan.Grid
			}
			d.WorkLow, d.WorkHigh = at(10), at(90)
		}
		if p.due != never {
			d.Kept, d.Late = m.kept(g, p.due, g.ends[k], runs), m.lateness(g, p.due, g.ends[k], runs)
		}
		s.Dates = append(s.Dates, d)
	}
}

// kept is the share of the runs, sorted, whose handover is not after due; without runs it is that of the planned end.
func (m *model) kept(g *generator, due, end slot, runs []int32) float64 {
	if len(runs) == 0 {
		if g.handover(end, 0) <= due {
			return 1
		}
		return 0
	}
	in := sort.Search(len(runs), func(i int) bool { return g.handover(m.start+slot(runs[i]), 0) > due })
	return float64(in) / float64(len(runs))
}

// lateness is how long after due the handover is, the mean of the runs; without runs it is that of the planned end.
func (m *model) lateness(g *generator, due, end slot, runs []int32) plan.Minutes {
	if len(runs) == 0 {
		return plan.Minutes(max(0, g.handover(end, 0)-due)) * plan.Grid
	}
	var sum slot
	for k := len(runs) - 1; k >= 0; k-- { // sorted
		over := g.handover(m.start+slot(runs[k]), 0) - due
		if over <= 0 {
			break
		}
		sum += over
	}
	return plan.Minutes(sum) * plan.Grid / plan.Minutes(len(runs))
}

// cure is what follows operation i: of the lags that name a cure, and the tail, the one that is ready last. A lag with
// several windows shows the one that the plan uses.
func (m *model) cure(i int, start, end []slot) *plan.Cure {
	var best *plan.Cure
	for _, n := range m.followers(i) {
		for k := range m.tasks[n].lags {
			l := &m.tasks[n].lags[k]
			named := m.p.Operations[n].After[m.lagPlace[l.id]].Cure
			if l.pred != i || named == "" {
				continue
			}
			w := l.windows[max(0, l.hit(start[n]-end[i]))]
			c := &plan.Cure{Material: named, From: end[i].time(), Ready: (end[i] + w.from).time()}
			if w.to >= 0 {
				c.Latest = (end[i] + w.to).time()
			}
			if best == nil || c.Ready.After(best.Ready) {
				best = c
			}
		}
	}
	if t := m.tasks[i].tail; t > 0 {
		if ready := (end[i] + t).time(); best == nil || ready.After(best.Ready) {
			best = &plan.Cure{Material: m.p.Operations[i].TailCure, From: end[i].time(), Ready: ready}
		}
	}
	return best
}

// followers are the operations that wait for i, each once, in the problem's order.
func (m *model) followers(i int) []int {
	list := slices.Clone(m.tasks[i].next)
	slices.Sort(list)
	return slices.Compact(list)
}

// broken says in words which windows and pins the starts and ends miss. What has begun is history.
func (m *model) broken(start, end []slot) []string {
	var out []string
	for i := range m.tasks {
		if m.tasks[i].fixed {
			continue
		}
		if pin := m.tasks[i].pin; pin != never && start[i] != pin {
			out = append(out, fmt.Sprintf("%s starts at %s, pinned is %s: no schedule tried could keep that",
				nameOf(m.p.Operations[i]), start[i].time().Format(time.RFC3339), pin.time().Format(time.RFC3339)))
		}
		for k := range m.tasks[i].lags {
			l := &m.tasks[i].lags[k]
			if d := start[i] - end[l.pred]; l.hit(d) < 0 {
				out = append(out, fmt.Sprintf("%s starts %s after %s ends, %s: no schedule tried could keep that",
					nameOf(m.p.Operations[i]), words(d), nameOf(m.p.Operations[l.pred]), l.allowedWords()))
			}
		}
	}
	return out
}

// allowedWords says what a lag allows.
func (l *lag) allowedWords() string {
	s := "allowed is "
	for k, w := range l.windows {
		if k > 0 {
			s += " or "
		}
		if w.to < 0 {
			s += fmt.Sprintf("%s or later", words(w.from))
		} else {
			s += fmt.Sprintf("%s to %s", words(w.from), words(w.to))
		}
	}
	return s
}

// words writes a duration as "26 h 5 min".
func words(s slot) string {
	minutes := int64(s) * int64(plan.Grid)
	switch h, m := minutes/60, minutes%60; {
	case h == 0:
		return fmt.Sprintf("%d min", m)
	case m == 0:
		return fmt.Sprintf("%d h", h)
	default:
		return fmt.Sprintf("%d h %d min", h, m)
	}
}
