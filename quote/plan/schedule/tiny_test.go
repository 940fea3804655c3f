package schedule

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"benchbell/quote/plan"
)

// merit is what a plan is judged by, first things first: broken windows and pins, weighted lateness of promises and of
// wishes, the end, changes of set-up, distance from the plan so far, the projects' ends, all starts.
type merit [8]int

// tinyDays is how many days the trial of everything looks at, tinyStep its slots in minutes.
const (
	tinyDays = 4
	tinyStep = 5
	tinyEnd  = tinyDays * 24 * 60 / tinyStep
)

// tiny tries everything: every start, every choice of resources, on plain arrays of five minutes.
type tiny struct {
	p     plan.Problem
	open  [2 * tinyEnd]bool
	hand  [2 * tinyEnd]int // first moment of handover
	use   map[string]*[2 * tinyEnd]int
	index map[string]int
	lags  [][]tinyLag
	start []int
	end   []int
	by    [][]string
	best  merit
	found bool // something better than what best was at first
}

// tinyLag is a precedence with its windows in slots; to of one that stays open is beyond everything.
type tinyLag struct {
	pred    int
	windows [][2]int
}

func (y *tiny) slot(t time.Time) int { return int(t.Sub(y.p.Start) / (tinyStep * time.Minute)) }

func newTiny(p plan.Problem) *tiny {
	y := &tiny{p: p, use: map[string]*[2 * tinyEnd]int{}, index: map[string]int{}, start: make([]int, len(p.Operations)),
		end: make([]int, len(p.Operations)), by: make([][]string, len(p.Operations))}
	for t := range y.open {
		y.open[t] = y.isOpen(p.Start.Add(time.Duration(t) * tinyStep * time.Minute))
	}
	for t := len(y.open) - 1; t >= 0; t-- {
		switch {
		case t > 0 && y.open[t-1], y.open[t]:
			y.hand[t] = t
		case t+1 < len(y.open):
			y.hand[t] = y.hand[t+1]
		}
	}
	for _, r := range p.Resources {
		y.use[r.ID] = new([2 * tinyEnd]int)
	}
	for _, b := range p.Busy {
		for t := range y.open {
			if at := p.Start.Add(time.Duration(t) * tinyStep * time.Minute); at.Before(b.To) && b.From.Before(at.Add(tinyStep*time.Minute)) {
				y.use[b.Resource][t]++
			}
		}
	}
	y.addLags()
	for i := range p.Operations {
		y.addBegun(i)
	}
	return y
}

// addBegun takes over what is done or running: what is left of its work goes on in open hours.
func (y *tiny) addBegun(i int) {
	o := y.p.Operations[i]
	if o.Started.IsZero() {
		return
	}
	y.start[i], y.end[i] = y.slot(o.Started), y.slot(o.Finished)
	if o.Finished.IsZero() {
		left := o.Duration
		for at := o.Started; at.Before(y.p.Start); at = at.Add(tinyStep * time.Minute) {
			if left > tinyStep && y.isOpen(at) {
				left -= tinyStep
			}
		}
		o.Duration, o.Whole = left, false
		first := slices.Index(y.open[:], true)
		var list []int
		list, y.end[i], _ = y.work(o, first)
		for _, t := range list {
			for _, r := range o.By {
				y.use[r][t]++
			}
		}
	}
	if kind, length := y.rack(o); kind != "" {
		for t := max(0, y.end[i]); t < y.end[i]+length; t++ {
			y.use["line"][t]++
		}
	}
}

func (y *tiny) isOpen(at time.Time) bool {
	m := at.Hour()*60 + at.Minute()
	return slices.ContainsFunc(y.p.Calendar.Shifts, func(s plan.Shift) bool { return s.Weekday == at.Weekday() && m >= s.From && m < s.To })
}

// work is the slots of an operation's work from an open start, and its end; false where it must not pause and would.
func (y *tiny) work(o plan.Operation, start int) ([]int, int, bool) {
	var list []int
	t := start
	for left := int(o.Duration) / tinyStep; left > 0; t++ {
		if t >= 2*tinyEnd-1 || !y.open[t] && o.Whole {
			return nil, 0, false
		}
		if y.open[t] {
			list = append(list, t)
			left--
		}
	}
	return list, t, true
}

// rack is the kind and the time in slots of the cures after an operation.
func (y *tiny) rack(o plan.Operation) (string, int) {
	kind, length := "", 0
	add := func(k string, slots int) {
		if k != "" && slots > 0 {
			kind, length = k, max(length, slots)
		}
	}
	add(o.TailRack, int(o.Tail)/tinyStep)
	for j, n := range y.p.Operations {
		for k, l := range n.After {
			if l.After == o.ID {
				add(l.Rack, y.lags[j][k].windows[0][0])
			}
		}
	}
	return kind, length
}

// addLags puts windows on slots.
func (y *tiny) addLags() {
	for i, o := range y.p.Operations {
		y.index[o.ID] = i
		var lags []tinyLag
		for _, l := range o.After {
			list := l.Windows
			if list == nil {
				list = []plan.LagWindow{{From: l.Min, To: l.Max}}
			}
			x := tinyLag{pred: y.index[l.After]}
			for _, w := range list {
				to := int(w.To) / tinyStep
				if w.To == 0 {
					to = 100 * tinyEnd
				}
				x.windows = append(x.windows, [2]int{int(w.From) / tinyStep, to})
			}
			lags = append(lags, x)
		}
		y.lags = append(y.lags, lags)
	}
}

// misses says whether a start misses a lag, past its last window; false for a distance that is not allowed at all.
func (y *tiny) misses(l *tinyLag, start int) (missed, allowed bool) {
	d := start - y.end[l.pred]
	for _, w := range l.windows {
		if d >= w[0] && d <= w[1] {
			return false, true
		}
	}
	return true, d > l.windows[len(l.windows)-1][1]
}

// judge is the merit of starts, ends and resources.
func (y *tiny) judge(n int) merit {
	var m merit
	ends := map[string]int{}
	plans := false
	for i, o := range y.p.Operations[:n] {
		done := y.end[i] + int(o.Tail)/tinyStep
		if e, ok := ends[o.Project]; !ok || done > e {
			ends[o.Project] = done
		}
		m[3] = max(m[3], done)
		m[7] += y.start[i]
		if !o.Started.IsZero() {
			continue
		}
		if !o.Pinned.IsZero() && y.start[i] != y.slot(o.Pinned) {
			m[0]++
		}
		for k := range y.lags[i] {
			if missed, _ := y.misses(&y.lags[i][k], y.start[i]); missed {
				m[0]++
			}
		}
		if late := func(at int) bool { return !y.p.Frozen.IsZero() && at >= y.slot(y.p.Frozen) }; !o.Planned.IsZero() && !(late(y.start[i]) && late(y.slot(o.Planned))) {
			m[5] += max(y.start[i]-y.slot(o.Planned), y.slot(o.Planned)-y.start[i])
		}
	}
	for _, o := range y.p.Operations {
		plans = plans || !o.Planned.IsZero()
	}
	if plans {
		day := 24 * 60 / tinyStep
		m[3] = (m[3] + day - 1) / day * day
	}
	for id, e := range ends {
		x := plan.Project{Weight: 1}
		for _, q := range y.p.Projects {
			if q.ID == id {
				x = q
			}
		}
		w := max(1, x.Weight)
		m[6] += w * e
		if late := y.hand[max(0, e)] - y.slot(x.Due); !x.Due.IsZero() && late > 0 {
			if x.Promised {
				m[1] += w * late
			} else {
				m[2] += w * late
			}
		}
	}
	for _, r := range y.p.Resources { // changes, by start
		if r.Kind == "maker" {
			continue
		}
		last := ""
		list := make([]int, n)
		for i := range list {
			list[i] = i
		}
		slices.SortStableFunc(list, func(a, b int) int { return y.start[a] - y.start[b] })
		for _, i := range list {
			if s := y.p.Operations[i].Setup; s != "" && slices.Contains(y.by[i], r.ID) {
				if last != "" && last != s {
					m[4]++
				}
				last = s
			}
		}
	}
	return m
}

// try places operation i and all after it.
func (y *tiny) try(i int) {
	m := y.judge(i)
	if slices.Compare(m[:], y.best[:]) >= 0 {
		return // what is still to be placed only adds to the merit, changes and all
	}
	if i == len(y.p.Operations) {
		y.best, y.found = m, true
		return
	}
	o := y.p.Operations[i]
	if !o.Started.IsZero() {
		y.by[i] = o.By
		y.try(i + 1)
		return
	}
	kind, length := y.rack(o)
	from := max(y.slot(o.Release), y.slot(o.Pinned))
	for _, x := range y.p.Projects {
		if x.ID == o.Project {
			from = max(from, y.slot(x.Release))
		}
	}
	for start := max(0, from); start < tinyEnd; start++ {
		ok := y.open[start]
		for k := range y.lags[i] {
			_, allowed := y.misses(&y.lags[i][k], start)
			ok = ok && allowed
		}
		if !ok {
			continue
		}
		list, end, ok := y.work(o, start)
		if !ok {
			continue
		}
		y.start[i], y.end[i] = start, end
		y.units(i, 0, list, func() {
			if length == 0 {
				y.try(i + 1)
				return
			}
			var cure []int
			for t := end; t < min(end+length, 2*tinyEnd); t++ {
				cure = append(cure, t)
			}
			for _, r := range y.p.Resources {
				if r.Kind == kind {
					y.with(r, cure, func() { y.try(i + 1) })
				}
			}
		})
	}
}

// with does something while r is used at these slots, if it can be.
func (y *tiny) with(r plan.Resource, at []int, do func()) {
	u := y.use[r.ID]
	for _, t := range at {
		if u[t] >= r.Capacity {
			return
		}
	}
	for _, t := range at {
		u[t]++
	}
	do()
	for _, t := range at {
		u[t]--
	}
}

// units gives operation i its needs from k on in all ways.
func (y *tiny) units(i, k int, at []int, do func()) {
	o := y.p.Operations[i]
	if k == len(o.Needs) {
		do()
		return
	}
	for _, r := range y.p.Resources {
		if n := o.Needs[k]; r.Kind == n.Kind && (n.Skill == "" || slices.Contains(r.Skills, n.Skill)) {
			y.with(r, at, func() {
				y.by[i] = append(y.by[i], r.ID)
				y.units(i, k+1, at, do)
				y.by[i] = y.by[i][:len(y.by[i])-1]
			})
		}
	}
}

// genTiny draws a shop that is open an hour or so a day, with two to four operations, some begun, and everything there is
// to plan by.
func genTiny(t *rapid.T) plan.Problem {
	some := func(a, b int, label string) plan.Minutes {
		return plan.Minutes(tinyStep * rapid.IntRange(a, b).Draw(t, label))
	}
	odds := func(n int, label string) bool { return rapid.IntRange(0, n-1).Draw(t, label) == 0 }
	p := plan.Problem{Start: time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC), Calendar: plan.Calendar{Zone: "UTC"}, Schedules: rapid.IntRange(1, 20).Draw(t, "schedules"),
		Resources: []plan.Resource{{ID: "ana", Kind: "maker", Capacity: 1, Skills: []string{"spray"}}}}
	if odds(2, "ben") {
		p.Resources = append(p.Resources, plan.Resource{ID: "ben", Kind: "maker", Capacity: 1})
		if odds(2, "sprays") {
			p.Resources[1].Skills = p.Resources[0].Skills
		}
	}
	p.Resources = append(p.Resources, plan.Resource{ID: "booth", Kind: "booth", Capacity: 1}, plan.Resource{ID: "bench", Kind: "bench", Capacity: 2},
		plan.Resource{ID: "line", Kind: "rack", Capacity: 1})
	if odds(4, "second booth") {
		p.Resources = append(p.Resources, plan.Resource{ID: "tent", Kind: "booth", Capacity: 1})
	}
	for d := time.Sunday; d <= time.Saturday; d++ {
		from := 9*60 + int(some(0, 2, "opens"))
		p.Calendar.Shifts = append(p.Calendar.Shifts, plan.Shift{Weekday: d, From: from, To: from + 30}, plan.Shift{Weekday: d, From: from + 40, To: from + 40 + int(some(2, 6, "afternoon"))})
	}
	moment := func(label string) time.Time {
		return p.Start.Add(time.Duration(24*60*rapid.IntRange(0, tinyDays-2).Draw(t, label+" day"))*time.Minute + time.Duration(9*60+some(0, 15, label))*time.Minute)
	}
	dues, plans := odds(3, "dues"), odds(3, "plans")
	if dues {
		for _, id := range []string{"A", "B"} {
			p.Projects = append(p.Projects, plan.Project{ID: id, Due: moment("due"), Promised: odds(2, "promised"), Weight: rapid.IntRange(1, 3).Draw(t, "weight")})
		}
	}
	if plans && odds(2, "frozen") {
		p.Frozen = moment("until")
	}
	setups := odds(3, "setups")
	crowd := rapid.SampledFrom([][]int{{0, 1, 2, 3, 4}, {0, 1, 2, 3, 4}, {0}, {3, 4}}).Draw(t, "crowd") // what all want
	n := rapid.SampledFrom([]int{2, 2, 3, 3, 3, 4}).Draw(t, "n")
	for i := range n {
		o := plan.Operation{ID: fmt.Sprint("op", i), Duration: some(0, 6, "duration"), Whole: odds(2, "whole"), Project: string(rune('A' + i%2))}
		switch rapid.SampledFrom(crowd).Draw(t, "needs") {
		case 0:
			o.Needs = []plan.Need{{Kind: "maker"}}
		case 1:
			o.Needs = []plan.Need{{Kind: "maker"}, {Kind: "booth"}}
		case 2:
			o.Needs = []plan.Need{{Kind: "booth"}}
		case 3:
			o.Needs = []plan.Need{{Kind: "bench"}, {Kind: "maker", Skill: "spray"}}
		case 4:
			o.Needs = []plan.Need{{Kind: "bench"}}
			if odds(2, "both") {
				o.Needs = append(o.Needs, plan.Need{Kind: "bench"})
			}
		}
		if setups {
			o.Setup = rapid.SampledFrom([]string{"", "red", "black"}).Draw(t, "setup")
		}
		if plans && !odds(4, "unplanned") {
			o.Planned = moment("planned")
		}
		switch rapid.IntRange(0, 9).Draw(t, "tied") {
		case 0:
			o.Release = moment("release")
		case 1:
			o.Pinned = moment("pin")
		case 2, 3:
			if i > 0 {
				break
			}
			o.Started, o.By = p.Start.Add(-time.Duration(some(168, 182, "started"))*time.Minute), []string{rapid.SampledFrom(p.Resources[:len(p.Resources)-1]).Draw(t, "by").ID}
			if odds(2, "done") {
				o.Finished = o.Started.Add(time.Duration(some(0, 100, "took")) * time.Minute)
			}
		}
		if odds(4, "tail") {
			o.Tail = some(1, 300, "cure")
			if odds(2, "on rack") {
				o.TailRack = "rack"
			}
		}
		for j := range i {
			if odds(2, "apart") {
				continue
			}
			l := plan.Lag{After: fmt.Sprint("op", j)}
			first := some(0, 4, "min")
			if odds(3, "overnight") {
				first += some(230, 290, "night")
			}
			switch rapid.IntRange(0, 3).Draw(t, "lag") {
			case 0:
				l.Min = first
			case 1:
				l.Min, l.Max = first, first+some(1, 12, "width")
			case 2:
				l.Windows = []plan.LagWindow{{From: first, To: first + some(1, 6, "width")}, {From: first + some(20, 300, "middle")}}
			case 3:
				second := first + some(20, 300, "middle")
				l.Windows = []plan.LagWindow{{From: first, To: first + some(1, 6, "width")}, {From: second, To: second + some(1, 6, "width")}}
			}
			if odds(2, "rack") {
				l.Rack = "rack"
			}
			o.After = append(o.After, l)
		}
		p.Operations = append(p.Operations, o)
	}
	for range rapid.IntRange(0, 2).Draw(t, "busy") {
		from := moment("busy")
		p.Busy = append(p.Busy, plan.Busy{Resource: rapid.SampledFrom(p.Resources).Draw(t, "on").ID, From: from, To: from.Add(time.Duration(some(1, 20, "length")) * time.Minute)})
	}
	return p
}

// worth is the merit of a plan by its times and resources.
func (y *tiny) worth(s plan.Solution) merit {
	for i, o := range y.p.Operations {
		x := operationOf(s, o.ID)
		y.start[i], y.end[i], y.by[i] = y.slot(x.Start), y.slot(x.End), slices.Clone(x.Resources)
	}
	return y.judge(len(y.p.Operations))
}

// provedPlan is what the exact search finds by itself, without a plan to begin with.
func provedPlan(t interface {
	Fatal(...any)
	Fatalf(string, ...any)
}, p plan.Problem) plan.Solution {
	m, err := compile(&p)
	if err != nil {
		t.Fatal(err)
	}
	g, meter := newGenerator(m), newMeter(context.Background(), Options{}, 1, 0)
	x := newProver(m, g, score{broken: 99}, meter)
	if x.run(); !x.proved || x.found == nil {
		t.Fatalf("not solved in %d steps", exactSteps)
	}
	best := individual{placed: x.found, score: x.best}
	if err := g.decode(&best); err != nil {
		t.Fatal(err)
	}
	s, err := m.finish(g, &best, &chances{}, meter)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// Against trying everything: small shops get the best plan there is by the whole measure, also where the search for a
// first one has found nothing.
func TestSmallShopsAgainstTryingEverything(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := genTiny(t)
		s, err := Solve(context.Background(), p, nil)
		if err != nil && (strings.Contains(err.Error(), "contradict") || strings.Contains(err.Error(), "longer than the longest shift")) {
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		y := newTiny(p)
		if y.slot(s.End) >= tinyEnd {
			return // beyond the days looked at
		}
		got := y.worth(s)
		if alone := y.worth(provedPlan(t, p)); alone != got {
			t.Fatalf("the plan is worth %v, without a first one %v", got, alone)
		}
		y.best = got
		clear(y.by)
		if y.try(0); y.found {
			t.Fatalf("the plan is worth %v, there is one worth %v", got, y.best)
		}
	})
}
