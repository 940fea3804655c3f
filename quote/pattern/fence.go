package pattern

import (
	"errors"
	"math"

	"benchbell/quote/geom"
)

// fence is a closed ring with a grid over it, so that crossing and nearness are tested against the few edges nearby instead
// of all. Cells are as wide and as high as the ring's edges on average, which suits a comb as well as a circle.
type fence struct {
	ring   geom.Ring
	box    geom.Box
	w, h   float64 // of a cell
	nx, ny int
	start  []int32 // of each cell in item, one more than cells
	item   []int32 // edges by their first vertex
}

// maxCrossWork bounds the comparisons of one ring's edges. A ring of 20 000 points from a real drawing needs a tenth of
// that; only a drawing made to be slow reaches it.
const maxCrossWork = 4_000_000

var errIntricate = errors.New("its line is too intricate to check for crossings; simplify it")

func newFence(r geom.Ring) *fence {
	f := &fence{ring: r, box: r.Bounds()}
	n := len(r)
	var dx, dy float64
	for i, a := range r {
		b := r[(i+1)%n]
		dx += math.Abs(b.X - a.X)
		dy += math.Abs(b.Y - a.Y)
	}
	// Twice the mean keeps most edges in one or two cells.
	f.nx, f.w = cells(float64(f.box.Width()), 2*dx/float64(n), n)
	f.ny, f.h = cells(float64(f.box.Height()), 2*dy/float64(n), n)
	for f.nx*f.ny > 4*n+16 { // coarser both ways until the grid is no larger than the ring
		f.nx, f.w = (f.nx+1)/2, f.w*2
		f.ny, f.h = (f.ny+1)/2, f.h*2
	}
	f.start = make([]int32, f.nx*f.ny+1)
	f.each(func(c, _ int) { f.start[c+1]++ })
	for c := 1; c < len(f.start); c++ {
		f.start[c] += f.start[c-1]
	}
	f.item = make([]int32, f.start[len(f.start)-1])
	fill := append([]int32(nil), f.start[:len(f.start)-1]...)
	f.each(func(c, i int) {
		f.item[fill[c]] = int32(i)
		fill[c]++
	})
	return f
}

func cells(size, cell float64, n int) (int, float64) {
	if !(cell > size/float64(n+1)) {
		cell = size / float64(n+1)
	}
	if !(cell > 0) {
		return 1, 1
	}
	return max(1, int(math.Ceil(size/cell))), cell
}

func (f *fence) col(x float64) int {
	return max(0, min(f.nx-1, int((x-f.box.Min.X)/f.w)))
}

func (f *fence) row(y float64) int {
	return max(0, min(f.ny-1, int((y-f.box.Min.Y)/f.h)))
}

// each calls do for every cell an edge may touch: row by row, for the part of the edge in that row.
func (f *fence) each(do func(cell, edge int)) {
	for i, a := range f.ring {
		b := f.ring[(i+1)%len(f.ring)]
		if a.Y > b.Y {
			a, b = b, a
		}
		r0, r1 := f.row(a.Y), f.row(b.Y)
		for r := r0; r <= r1; r++ {
			xa, xb := a.X, b.X
			if r0 < r1 && b.Y > a.Y {
				// Slightly more than the row, so that rounding cannot miss a cell.
				lo, hi := f.box.Min.Y+(float64(r)-1e-6)*f.h, f.box.Min.Y+(float64(r)+1+1e-6)*f.h
				slope := (b.X - a.X) / (b.Y - a.Y)
				if lo > a.Y {
					xa = a.X + (lo-a.Y)*slope
				}
				if hi < b.Y {
					xb = a.X + (hi-a.Y)*slope
				}
			}
			if xa > xb {
				xa, xb = xb, xa
			}
			for c := f.col(xa - 1e-6*f.w); c <= f.col(xb+1e-6*f.w); c++ {
				do(r*f.nx+c, i)
			}
		}
	}
}

// crossing finds two edges that cross or touch without being neighbours, or neighbours that fold back on each other.
func (f *fence) crossing() (at geom.Point, crosses bool, err error) {
	r, n, work := f.ring, len(f.ring), 0
	for c := 0; c+1 < len(f.start); c++ {
		items := f.item[f.start[c]:f.start[c+1]]
		if work += len(items) * (len(items) - 1) / 2; work > maxCrossWork {
			return geom.Point{}, false, errIntricate
		}
		for x, i32 := range items {
			i := int(i32)
			a, b := r[i], r[(i+1)%n]
			for _, j32 := range items[x+1:] { // edges are listed in a cell in rising order
				j := int(j32)
				p, q := r[j], r[(j+1)%n]
				if math.Max(a.X, b.X) < math.Min(p.X, q.X) || math.Max(p.X, q.X) < math.Min(a.X, b.X) ||
					math.Max(a.Y, b.Y) < math.Min(p.Y, q.Y) || math.Max(p.Y, q.Y) < math.Min(a.Y, b.Y) {
					continue
				}
				switch {
				case j == i+1:
					if folds(a, b, q) {
						return b, true, nil
					}
				case i == 0 && j == n-1:
					if folds(p, a, b) {
						return a, true, nil
					}
				default:
					if hit, ok := geom.SegmentsMeet(a, b, p, q); ok {
						return hit, true, nil
					}
				}
			}
		}
	}
	return geom.Point{}, false, nil
}

// folds reports whether the way a → b → c turns straight back, or does not move.
func folds(a, b, c geom.Point) bool {
	u, v := a.Sub(b), c.Sub(b)
	return u.Cross(v) == 0 && u.Dot(v) >= 0
}

// meeting is the place nearest to q where the ring crosses the other one; q itself if they do not cross.
func (f *fence) meeting(other geom.Ring, q geom.Point) geom.Point {
	n, at, best := len(f.ring), q, math.Inf(1)
	for j, a := range other {
		b := other[(j+1)%len(other)]
		for r := f.row(math.Min(a.Y, b.Y)); r <= f.row(math.Max(a.Y, b.Y)); r++ {
			for c := f.col(math.Min(a.X, b.X)); c <= f.col(math.Max(a.X, b.X)); c++ {
				cell := r*f.nx + c
				for _, i := range f.item[f.start[cell]:f.start[cell+1]] {
					hit, ok := geom.SegmentsMeet(f.ring[i], f.ring[(int(i)+1)%n], a, b)
					if d := hit.Dist(q); ok && d < best {
						at, best = hit, d
					}
				}
			}
		}
	}
	return at
}

// near reports whether an edge of the ring comes closer than d to the segment pq.
func (f *fence) near(p, q geom.Point, d float64) bool {
	n := len(f.ring)
	c0, c1 := f.col(math.Min(p.X, q.X)-d), f.col(math.Max(p.X, q.X)+d)
	r0, r1 := f.row(math.Min(p.Y, q.Y)-d), f.row(math.Max(p.Y, q.Y)+d)
	for r := r0; r <= r1; r++ {
		for c := c0; c <= c1; c++ {
			cell := r*f.nx + c
			for _, i := range f.item[f.start[cell]:f.start[cell+1]] {
				a, b := f.ring[i], f.ring[(int(i)+1)%n]
				if math.Max(a.X, b.X) < math.Min(p.X, q.X)-d || math.Min(a.X, b.X) > math.Max(p.X, q.X)+d ||
					math.Max(a.Y, b.Y) < math.Min(p.Y, q.Y)-d || math.Min(a.Y, b.Y) > math.Max(p.Y, q.Y)+d {
					continue
				}
				if float64(geom.SegmentDistance(a, b, p, q)) < d {
					return true
				}
			}
		}
	}
	return false
}

// contains reports whether p lies inside the ring, by counting the edges to its right (a point on the border may count as
// either). An edge that lies in several cells is counted in the one where it passes the level of p.
func (f *fence) contains(p geom.Point) bool {
	if !f.box.Contains(p) {
		return false
	}
	in, n := false, len(f.ring)
	r := f.row(p.Y)
	for c := f.col(p.X); c < f.nx; c++ {
		cell := r*f.nx + c
		for _, i := range f.item[f.start[cell]:f.start[cell+1]] {
			a, b := f.ring[i], f.ring[(int(i)+1)%n]
			if (a.Y > p.Y) == (b.Y > p.Y) {
				continue
			}
			if x := (b.X-a.X)*(p.Y-a.Y)/(b.Y-a.Y) + a.X; p.X < x && f.col(x) == c {
				in = !in
			}
		}
	}
	return in
}
