// Package exact decides on which side of a line a point lies, and from that whether two shapes overlap, without any
// rounding error.
//
// It first computes in floating point with a bound on the error, and in rational numbers if the bound does not settle the
// answer (Shewchuk, "Adaptive precision floating-point arithmetic and fast robust geometric predicates", 1997). It refuses
// nothing: coordinates must be finite, rings simple. What always holds: the answer is exact for the coordinates given;
// there is no tolerance, and shapes that only touch do not overlap.
package exact

import (
	"math"
	"math/big"

	"benchbell/quote/geom"
)

const (
	unit = 0x1p-53
	// side is Shewchuk's bound on the error of the determinant, as a share of the sum of its two products.
	side = (3 + 16*unit) * unit
	// small is where products may have lost digits to underflow; the bound does not hold there.
	small = 1e-280
)

// orient is 1 if c lies to the left of the line from a to b, -1 if to the right, 0 if on it.
func orient(a, b, c geom.Point) int {
	// The conversions keep a compiler from fusing product and difference, which the bound does not cover.
	l := float64((a.X - c.X) * (b.Y - c.Y))
	r := float64((a.Y - c.Y) * (b.X - c.X))
	det := l - r
	sum := math.Abs(l) + math.Abs(r)
	if sum > small && math.Abs(det) > side*sum {
		if det > 0 {
			return 1
		}
		return -1
	}
	return orientRational(a, b, c)
}

func orientRational(a, b, c geom.Point) int {
	less := func(u, v float64) *big.Rat {
		return new(big.Rat).Sub(new(big.Rat).SetFloat64(u), new(big.Rat).SetFloat64(v))
	}
	l := new(big.Rat).Mul(less(a.X, c.X), less(b.Y, c.Y))
	r := new(big.Rat).Mul(less(a.Y, c.Y), less(b.X, c.X))
	return l.Cmp(r)
}

// between reports whether c, known to lie on the line through a and b, lies strictly between them.
func between(a, b, c geom.Point) bool {
	if a.X != b.X {
		return (a.X < c.X && c.X < b.X) || (b.X < c.X && c.X < a.X)
	}
	return (a.Y < c.Y && c.Y < b.Y) || (b.Y < c.Y && c.Y < a.Y)
}

// sameWay reports whether p and q, known to lie on a line with v, lie on the same side of v.
func sameWay(v, p, q geom.Point) bool {
	if p.X != v.X && q.X != v.X {
		return (p.X > v.X) == (q.X > v.X)
	}
	return (p.Y > v.Y) == (q.Y > v.Y)
}

// sector is the open angle at v, counter-clockwise from the ray to from to the ray to to.
type sector struct{ v, from, to geom.Point }

// holds reports whether the ray from the apex to p lies in the sector or on its first ray.
func (s sector) holds(p geom.Point) bool {
	first := orient(s.v, s.from, p)
	if first == 0 && sameWay(s.v, s.from, p) {
		return true
	}
	last := orient(s.v, p, s.to)
	switch turn := orient(s.v, s.from, s.to); {
	case turn > 0:
		return first > 0 && last > 0
	case turn < 0:
		return first > 0 || last > 0
	case sameWay(s.v, s.from, s.to):
		return false // an edge that goes out and straight back encloses nothing
	}
	return first > 0
}

func (s sector) overlaps(t sector) bool { return s.holds(t.from) || t.holds(s.from) }
