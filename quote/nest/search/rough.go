package search

import "benchbell/quote/geom"

const (
	// roughFrom is the number of points from which an outline is simplified: with fewer there is little to gain.
	roughFrom = 16
	// roughShare is the share of its area an outline may gain: under a thousandth.
	roughShare = 0.0009
	// roughPasses is the number of doublings in which the allowance for one change reaches a tenth of the whole.
	roughPasses = 12
)

// Rough is a ring with fewer points that contains r, a counter-clockwise ring, and is larger by less than a thousandth. A
// point in a hollow is dropped, which fills the hollow; an edge between two bulges is dropped by extending its neighbours
// until they meet. Small changes go first. The result may touch itself in a slot too narrow to matter, which only closes
// the slot.
func Rough(r geom.Ring) geom.Ring {
	if len(r) < roughFrom {
		return r
	}
	budget := roughShare * float64(r.Area())
	most := budget / 10
	for range roughPasses - 1 {
		most /= 2
	}
	r = append(geom.Ring(nil), r...)
	for range roughPasses {
		for {
			var gained float64
			var n int
			r, gained, n = rougher(r, most, budget)
			budget -= gained
			if n == 0 {
				break
			}
		}
		most *= 2
	}
	return r
}

// rougher makes the changes that add at most most each and at most budget in all, never two next to each other.
func rougher(r geom.Ring, most, budget float64) (out geom.Ring, gained float64, changes int) {
	n := len(r)
	drop := make([]bool, n)
	moved := append(geom.Ring(nil), r...)
	last := -3
	for i := 0; i < n-3; i++ { // the ring's seam stays, so that no change wraps around it
		if i-last < 3 || n-changes < roughFrom {
			continue
		}
		a, b, c, d := r[i], r[i+1], r[i+2], r[i+3]
		ab, bc, cd := b.Sub(a), c.Sub(b), d.Sub(c)
		if ab.Cross(bc) <= 0 { // b lies in a hollow, or on its neighbours' line
			if ab.Dot(bc) <= 0 {
				continue
			}
			if g := -ab.Cross(bc) / 2; g <= most && gained+g <= budget {
				drop[i+1] = true
				gained += g
				changes++
				last = i
			}
			continue
		}
		// Extend ab and dc until they meet beyond bc.
		den := ab.Cross(cd)
		if bc.Cross(cd) <= 0 || den <= 0 || ab.Dot(cd) <= 0 {
			continue
		}
		q := b.Add(ab.Mul(bc.Cross(cd) / den))
		if g := q.Sub(b).Cross(c.Sub(q)) / 2; g >= 0 && g <= most && gained+g <= budget {
			moved[i+1], drop[i+2] = q, true
			gained += g
			changes++
			last = i
		}
	}
	for i, p := range moved {
		if !drop[i] {
			out = append(out, p)
		}
	}
	return out, gained, changes
}
