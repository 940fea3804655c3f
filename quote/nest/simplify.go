package nest

import (
	"math"

	"benchbell/quote/geom"
)

// simplified is a ring with fewer points that holds r, a counter-clockwise ring, and leaves it by no more than coarse.
// A point in a hollow is dropped, which fills the hollow; an edge between two bulges is dropped by running its
// neighbours on until they meet. The smallest change goes first. The result may touch itself in a slot narrower than
// coarse, which only closes the slot.
func simplified(r geom.Ring) geom.Ring {
	type node struct {
		p    geom.Point
		over float64 // by how far r has been left here already
	}
	ns := make([]node, len(r))
	for i, p := range r {
		ns[i].p = p
	}
	for len(ns) >= coarseFrom {
		n := len(ns)
		best, at, edge := math.Inf(1), -1, false
		var tip geom.Point
		for i := range ns {
			a, b, c, d := ns[(i+n-1)%n], ns[i], ns[(i+1)%n], ns[(i+2)%n]
			ab, bc, cd := b.p.Sub(a.p), c.p.Sub(b.p), d.p.Sub(c.p)
			if ab.Cross(bc) <= 0 {
				if ab.Dot(bc) > 0 {
					over := math.Max(b.over, math.Max(a.over, c.over)) + off(a.p, c.p, b.p)
					if over < best {
						best, at, edge = over, i, false
					}
				}
				continue
			}
			// Lengthen ab and dc until they meet beyond bc.
			den := ab.Cross(cd)
			if bc.Cross(cd) <= 0 || den <= 0 || ab.Dot(cd) <= 0 {
				continue
			}
			q := b.p.Add(ab.Mul(bc.Cross(cd) / den))
			over := math.Max(b.over, c.over) + off(b.p, c.p, q)
			if over < best {
				best, at, edge, tip = over, i, true, q
			}
		}
		if at < 0 || best > coarse {
			break
		}
		if edge {
			ns[at] = node{tip, best}
			at = (at + 1) % n
		} else {
			a, c := (at+n-1)%n, (at+1)%n
			ns[a].over, ns[c].over = math.Max(ns[a].over, best), math.Max(ns[c].over, best)
		}
		ns = append(ns[:at], ns[at+1:]...)
	}
	out := make(geom.Ring, len(ns))
	for i := range ns {
		out[i] = ns[i].p
	}
	return out
}

// off is the distance of p from the line through a and b.
func off(a, b, p geom.Point) float64 {
	d := b.Sub(a)
	if l := d.Norm(); l > 0 {
		return math.Abs(d.Cross(p.Sub(a))) / l
	}
	return p.Dist(a)
}
