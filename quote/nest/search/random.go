package search

import (
	"cmp"
	"math/bits"
	"math/rand/v2"
	"slices"

	"benchbell/quote/geom"
)

// pcg is a generator without the cost of interface calls.
type pcg struct{ src rand.PCG }

func newPCG(seed, stream uint64) *pcg {
	p := &pcg{}
	p.src.Seed(seed, stream)
	return p
}

// float is uniform on 0 to 1, 1 excluded.
func (p *pcg) float() float64 { return float64(p.src.Uint64()>>11) / (1 << 53) }

// intn is uniform on 0 to n-1, with a bias of n in 2 to the 64.
func (p *pcg) intn(n int) int {
	hi, _ := bits.Mul64(p.src.Uint64(), uint64(n))
	return int(hi)
}

func (p *pcg) shuffle(v []int) {
	for i := len(v) - 1; i > 0; i-- {
		j := p.intn(i + 1)
		v[i], v[j] = v[j], v[i]
	}
}

func sortPoints(ps []geom.Point) {
	slices.SortFunc(ps, func(a, b geom.Point) int { return cmp.Or(cmp.Compare(a.X, b.X), cmp.Compare(a.Y, b.Y)) })
}
