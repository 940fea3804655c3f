package schedule

import (
	"errors"
	"fmt"
	"slices"
	"sync"

	"benchbell/quote/plan"
	"benchbell/quote/plan/proof"
)

// Impossible is the error where a problem has no plan, however long one looks.
type Impossible struct{ Why error }

func (e *Impossible) Error() string { return e.Why.Error() }

func (e *Impossible) Unwrap() error { return e.Why }

func impossible(format string, args ...any) error { return &Impossible{fmt.Errorf(format, args...)} }

// ErrNotFound is the error where a search ended without a plan and without proof that there is none. It happens only where starts
// are tied by offsets.
var ErrNotFound = errors.New("no plan was found that keeps all offsets, nor proof that there is none, allow more schedules")

// offset is that one operation starts at least so long after the start of another.
type offset struct {
	from, to int
	least    slot
}

const (
	firstConflicts = 50   // of a first round
	mostConflicts  = 4000 // of a round
)

// addOffsets compiles the ties between starts.
func (m *model) addOffsets() error {
	index := make(map[string]int, len(m.p.Operations))
	for i, o := range m.p.Operations {
		index[o.ID] = i
	}
	for i, o := range m.p.Operations {
		if len(o.Offsets) > maxLags || len(m.offsets) > maxOffsets {
			return fmt.Errorf("the start of operation %s is tied to %d others, give at most %d, and %d of all together", nameOf(o), len(o.Offsets), maxLags, maxOffsets)
		}
		for _, x := range o.Offsets {
			from, ok := index[x.From]
			if !ok {
				return fmt.Errorf("the start of operation %s is tied to that of %q, which is not among the operations", nameOf(o), x.From)
			}
			if x.Least < -maxMinutes || x.Least > maxMinutes {
				return fmt.Errorf("operation %s starts %d minutes after %q, give -%d to %d", nameOf(o), x.Least, x.From, maxMinutes, maxMinutes)
			}
			least := slot(x.Least / plan.Grid) // towards 0, which is up where it is below
			if x.Least > 0 {
				least = slotsUp(x.Least)
			}
			m.offsets = append(m.offsets, offset{from, i, least})
		}
	}
	if len(m.offsets) > 0 && m.p.Runs > 0 {
		return fmt.Errorf("starts are tied by offsets, which no run of drawn durations is sure to keep, give 0 runs")
	}
	return nil
}

// tied plans a problem with offsets: no list of operations is sure to give a schedule that keeps them, so all of it is done by
// propagation with learning.
func (m *model) tied(t *meter) (plan.Solution, error) {
	p := m.plain
	n := len(p.dur)
	islands := 1
	if t.schedules > oneIsland {
		islands = islandsOf
	}
	if t.o.Endless {
		islands = t.workers
	}
	searches := make([]*proof.Search, islands)
	for k := range searches {
		searches[k] = p.search(m.p.Seed+uint64(k)*searchStream, p.horizon)
		if !t.o.Endless {
			searches[k].Allow(max(2, t.schedules/islands) * n)
		}
	}
	var best []int32
	var lower int32
	var placed int
	decided := false
	conflicts := firstConflicts
	turn := make(chan struct{}, t.workers)
	for round := 0; ; round++ {
		var group sync.WaitGroup
		for k, x := range searches {
			group.Go(func() {
				turn <- struct{}{}
				defer func() { <-turn }()
				x.Round(round+k, conflicts, t.interrupted)
			})
		}
		group.Wait()
		if err := t.ended(); err != nil {
			return plan.Solution{}, err
		}
		placed = 0
		full := !t.o.Endless
		for _, x := range searches {
			placed += x.Placements()
			full = full && x.Placements() >= max(2, t.schedules/islands)*n-2*n
			decided = decided || x.Decided()
			lower = max(lower, x.Lower())
			if b := x.Best(); b != nil && (best == nil || b[n] < best[n]) {
				best = slices.Clone(b)
			}
		}
		t.tells(min(placed/n, t.schedules))
		if decided || full || t.stopped() {
			break
		}
		for _, x := range searches {
			ok := x.From(lower)
			if ok && best != nil {
				x.Hint(best)
				ok = x.Before(best[n])
			}
			decided = decided || !ok
		}
		if decided {
			break
		}
		conflicts = min(mostConflicts, conflicts*3/2)
	}
	switch {
	case best == nil && decided:
		return plan.Solution{}, impossible("the resources cannot serve all operations within their offsets, add capacity or widen an offset")
	case best == nil:
		return plan.Solution{}, ErrNotFound
	case decided:
		lower = best[n]
	}
	t.schedules = max(1, (placed+n-1)/n)
	m.floor = m.start + slot(min(lower, best[n]))
	g := newGenerator(m)
	g.load(p.placement(best))
	c, err := m.simulated(g, t)
	if err != nil {
		return plan.Solution{}, err
	}
	return m.finish(g, &individual{score: g.score()}, c, t)
}

// placement is the schedule of these starts.
func (p *plain) placement(start []int32) *placement {
	n := len(p.dur)
	x := &placement{start: make([]slot, n), end: make([]slot, n), spans: make([][]span, n), taken: make([][]int, n), onRack: make([]int, n)}
	for i := range n {
		t := &p.m.tasks[i]
		x.start[i] = p.m.start + slot(start[i])
		x.end[i] = x.start[i] + t.dur
		x.spans[i], x.onRack[i] = []span{{x.start[i], x.end[i]}}, -1
		for _, need := range t.needs {
			for range need.count {
				x.taken[i] = append(x.taken[i], need.resources[0])
			}
		}
	}
	return x
}
