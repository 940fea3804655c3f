package search

import (
	"cmp"
	"math"
	"slices"

	"benchbell/quote/geom"
)

const (
	// maxPoles bounds the circles of an outline. More circles measure better how deep two pieces overlap but make each
	// evaluation more expensive; eight worked best on the strip instances.
	maxPoles = 8
	// poleCover is the share of an outline's area at which the search for more circles stops.
	poleCover = 0.9
	// poleLeast is the smallest circle kept, as a share of the largest.
	poleLeast = 0.08
	poleGrid  = 14    // points along a side at which circles start
	poleSteps = 24    // halvings and moves of a circle's centre
	poleFine  = 0.005 // and the share of its radius at which they stop
)

// findPoles fills a ring with circles that do not overlap, the largest first: each starts at the best point of a grid, and
// its centre is moved uphill.
func findPoles(r geom.Ring) []pole {
	b := r.Bounds()
	area := float64(r.Area())
	var seeds []pole
	for i := range poleGrid {
		for j := range poleGrid {
			p := geom.Pt(b.Min.X+float64((float64(i)+0.5)/poleGrid*float64(b.Width())), b.Min.Y+float64((float64(j)+0.5)/poleGrid*float64(b.Height())))
			if d := depth(r, p.X, p.Y); d > 0 {
				seeds = append(seeds, pole{p.X, p.Y, d})
			}
		}
	}
	seeds = append(seeds, across(r)...)
	// The room around a centre is its distance to the border and to the circles already there.
	var poles []pole
	room := func(x, y float64) float64 {
		d := depth(r, x, y)
		for _, p := range poles {
			if d <= 0 {
				return -1 // outside, or in an existing circle
			}
			px, py := p.x-x, p.y-y
			d = math.Min(d, math.Sqrt(float64(px*px)+float64(py*py))-p.r)
		}
		return d
	}
	covered := 0.0
	for len(poles) < maxPoles && covered < poleCover*area && len(seeds) > 0 {
		s := slices.MaxFunc(seeds, func(a, b pole) int { return cmp.Compare(a.r, b.r) })
		if s.r <= 0 {
			break
		}
		step := math.Max(float64(b.Width()), float64(b.Height())) / poleGrid / 2
		for range poleSteps {
			better := s
			for _, d := range [4][2]float64{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
				if v := room(s.x+float64(d[0]*step), s.y+float64(d[1]*step)); v > better.r {
					better = pole{s.x + float64(d[0]*step), s.y + float64(d[1]*step), v}
				}
			}
			if better == s {
				if step /= 2; step < poleFine*s.r {
					break
				}
			}
			s = better
		}
		if len(poles) > 0 && s.r < poleLeast*poles[0].r {
			break
		}
		p := s
		poles = append(poles, p)
		covered += float64(math.Pi * p.r * p.r)
		for i := range seeds {
			seeds[i].r = math.Min(seeds[i].r, math.Hypot(p.x-seeds[i].x, p.y-seeds[i].y)-p.r)
		}
	}
	return poles
}

// across are points halfway across the ring from the middle of each edge: a thin ring may slip between the points of a
// grid.
func across(r geom.Ring) []pole {
	var out []pole
	for i := range r {
		a, b := r[i], r[(i+1)%len(r)]
		m, n := a.Lerp(b, 0.5), b.Sub(a).Unit().Perp()
		far := math.Inf(1)
		for j := range r {
			if j == i {
				continue
			}
			c, d := r[j], r[(j+1)%len(r)]
			den := n.Cross(d.Sub(c))
			if den == 0 {
				continue
			}
			t, u := c.Sub(m).Cross(d.Sub(c))/den, c.Sub(m).Cross(n)/den
			if t > 0 && u >= 0 && u <= 1 {
				far = math.Min(far, t)
			}
		}
		if !math.IsInf(far, 1) {
			p := m.Add(n.Mul(far / 2))
			if d := depth(r, p.X, p.Y); d > 0 {
				out = append(out, pole{p.X, p.Y, d})
			}
		}
	}
	return out
}

// depth is the distance of a point from a ring's border, negative outside.
func depth(r geom.Ring, x, y float64) float64 {
	best := math.Inf(1)
	in := false
	a := r[len(r)-1]
	for _, b := range r {
		dx, dy := b.X-a.X, b.Y-a.Y
		px, py := x-a.X, y-a.Y
		if (a.Y > y) != (b.Y > y) && (float64(dx*py)-float64(dy*px) > 0) == (dy > 0) {
			in = !in
		}
		t := float64(px*dx) + float64(py*dy)
		if l2 := float64(dx*dx) + float64(dy*dy); t > 0 {
			if t >= l2 {
				t = l2
			}
			if l2 > 0 {
				t /= l2
			}
			px -= float64(t * dx)
			py -= float64(t * dy)
		}
		if d := float64(px*px) + float64(py*py); d < best {
			best = d
		}
		a = b
	}
	if !in {
		return -math.Sqrt(best)
	}
	return math.Sqrt(best)
}
