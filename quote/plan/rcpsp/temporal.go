package rcpsp

import (
	"fmt"
	"slices"
	"strings"
)

// CycleError is a contradiction of time lags: around a circle of activities they add up to more than nothing, so each
// would have to start after itself.
type CycleError struct {
	Activities []int // in the order of the circle, numbered from 0
	Excess     int   // what the lags add up to
}

func (e *CycleError) Error() string {
	words := make([]string, len(e.Activities))
	for i, a := range e.Activities {
		words[i] = fmt.Sprint(a + 1)
	}
	return fmt.Sprintf("the time lags between the jobs %s contradict each other by %d, widen one of their windows", strings.Join(words, ", "), e.Excess)
}

// positiveCycle finds a contradiction of time lags (Bellman 1958; Ford 1956), or nil.
func (in *Instance) positiveCycle() *CycleError {
	n := len(in.Duration)
	dist, via := make([]int, n), make([]int, n)
	for i := range via {
		via[i] = -1
	}
	at := -1
	for range n + 1 {
		at = -1
		for k, a := range in.Arcs {
			if d := dist[a.From] + a.Lag; d > dist[a.To] {
				dist[a.To], via[a.To], at = d, k, a.To
			}
		}
		if at < 0 {
			return nil
		}
	}
	for range n { // into the circle
		at = in.Arcs[via[at]].From
	}
	e := &CycleError{}
	for v := at; ; {
		a := in.Arcs[via[v]]
		e.Activities = append(e.Activities, v)
		e.Excess += a.Lag
		if v = a.From; v == at {
			break
		}
	}
	slices.Reverse(e.Activities)
	return e
}

// never is the distance between activities that no lag ties.
const never = -1 << 30

// closure computes the longest ways between all activities (Floyd 1962; Warshall 1962): d[i][j] is the least distance
// from the start of i to the start of j. The instance must have no positive cycle. Row and column n stand for the end
// of the project, which comes after everything; everything starts at or after the start of the project, which is no
// activity: head(j) is the row's maximum over activities that may start at 0.
func (in *Instance) closure() [][]int32 {
	n := len(in.Duration)
	d := make([][]int32, n+1)
	for i := range d {
		d[i] = make([]int32, n+1)
		for j := range d[i] {
			d[i][j] = never
		}
		d[i][i] = 0
		if i < n {
			d[i][n] = int32(in.Duration[i])
		}
	}
	for _, a := range in.Arcs {
		d[a.From][a.To] = max(d[a.From][a.To], int32(a.Lag))
	}
	for k := range d {
		for i := range d {
			ik := d[i][k]
			if ik == never {
				continue
			}
			row, via := d[i], d[k]
			for j, kj := range via {
				if kj != never && ik+kj > row[j] {
					row[j] = ik + kj
				}
			}
		}
	}
	return d
}
