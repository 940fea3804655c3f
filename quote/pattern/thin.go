package pattern

import (
	"benchbell/quote/drawing"
	"benchbell/quote/geom"
)

// thin in mm is how far dropped points may lie from a line's course: the flattening tolerance again.
const thin = float64(drawing.Flatness)

// thinWork is how often each point may be examined: repeated halving of a smooth line takes some twenty rounds.
const thinWork = 64

// thinned drops points of a line that lie within thin of the chord between the neighbours that stay (Douglas and Peucker
// 1973), by halves on a stack. It gives up on a line that would need too much work or keeps too many corners.
func thinned(p geom.Path, closed bool) geom.Path {
	n := len(p)
	keep := make([]bool, n)
	keep[0], keep[n-1] = true, true
	type span struct{ a, b int }
	stack := []span{{0, n - 1}}
	if closed { // from the farthest point around, so that start and end may be neighbours
		far := 0
		for i := range p {
			if p[i].Dist(p[0]) > p[far].Dist(p[0]) {
				far = i
			}
		}
		keep[far] = true
		stack = []span{{0, far}, {far, n - 1}}
	}
	work := 0
	for kept := 3; len(stack) > 0; {
		s := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		if work += s.b - s.a; kept > maxCorners || work > thinWork*n {
			return p
		}
		worst, at := thin, -1
		for i := s.a + 1; i < s.b; i++ {
			if d := float64(geom.SegmentDistance(p[i], p[i], p[s.a], p[s.b])); d > worst {
				worst, at = d, i
			}
		}
		if at < 0 {
			continue
		}
		keep[at] = true
		kept++
		stack = append(stack, span{s.a, at}, span{at, s.b})
	}
	var out geom.Path
	for i, k := range keep {
		if k {
			out = append(out, p[i])
		}
	}
	return out
}
