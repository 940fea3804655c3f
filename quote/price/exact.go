package price

import (
	"fmt"
	"math/big"
	"math/bits"
	"slices"
	"strconv"
)

// exact is the decimal number that a float stands for: a spread typed as 7.35 is 735/100 and not the nearest binary
// fraction, so that a half cent is a half cent. The caller has checked that it is finite.
func exact(f float64) *big.Rat {
	r, ok := new(big.Rat).SetString(strconv.FormatFloat(f, 'g', -1, 64))
	if !ok {
		return new(big.Rat)
	}
	return r
}

func money(m Money) *big.Rat { return new(big.Rat).SetInt64(int64(m)) }

// plus is the factor 1 + p.
func plus(p Percent) *big.Rat { return big.NewRat(int64(hundredPercent+p), int64(hundredPercent)) }

func product(first *big.Rat, rest ...*big.Rat) *big.Rat {
	out := new(big.Rat).Set(first)
	for _, r := range rest {
		out.Mul(out, r)
	}
	return out
}

// round is the whole number nearest to r, halves away from zero, and whether it fits into Money.
func round(r *big.Rat) (Money, bool) {
	two := big.NewInt(2)
	num := new(big.Int).Mul(new(big.Int).Abs(r.Num()), two)
	num.Add(num, r.Denom())
	num.Quo(num, new(big.Int).Mul(r.Denom(), two))
	if r.Sign() < 0 {
		num.Neg(num)
	}
	return Money(num.Int64()), num.IsInt64()
}

// distribute splits a discount over the lines in proportion to their amounts, by largest remainder: each gets its share
// rounded down, and the remaining units go to the largest fractions, earlier lines first. The parts add up to the discount.
// Amounts are not negative and the discount is at most their sum.
func distribute(discount Money, lines []Line) []Money {
	parts := make([]Money, len(lines))
	var sum Money
	for _, l := range lines {
		sum += l.Amount
	}
	if sum == 0 || discount == 0 {
		return parts
	}
	left := discount
	rest := make([]uint64, len(lines))
	order := make([]int, len(lines))
	for i, l := range lines {
		hi, lo := bits.Mul64(uint64(discount), uint64(l.Amount))
		q, r := bits.Div64(hi, lo, uint64(sum)) // fits: amount ≤ sum, so the quotient is at most the discount
		parts[i], rest[i], order[i] = Money(q), r, i
		left -= Money(q)
	}
	slices.SortStableFunc(order, func(i, j int) int {
		switch {
		case rest[i] > rest[j]:
			return -1
		case rest[i] < rest[j]:
			return 1
		}
		return 0
	})
	for _, i := range order[:left] {
		parts[i]++
	}
	return parts
}

// short prints a size without unnecessary decimals.
func short(f float64) string { return strconv.FormatFloat(f, 'f', -1, 64) }

// Counted is a number of things: "1 sheet", "2 sheets".
func Counted(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// volume prints litres, or millilitres below a decilitre, where two decimals of a litre would say little.
func volume(litres *big.Rat) string {
	if litres.Cmp(big.NewRat(1, 10)) >= 0 {
		return litres.FloatString(2) + " l"
	}
	ml := product(litres, big.NewRat(1000, 1))
	if ml.Cmp(big.NewRat(1, 1)) < 0 {
		return "under 1 ml"
	}
	return ml.FloatString(0) + " ml"
}

// length prints metres, or millimetres below a decimetre.
func length(metres *big.Rat) string {
	if metres.Cmp(big.NewRat(1, 10)) >= 0 {
		return metres.FloatString(1) + " m"
	}
	mm := product(metres, big.NewRat(1000, 1))
	if mm.Cmp(big.NewRat(1, 1)) < 0 {
		return "under 1 mm"
	}
	return mm.FloatString(0) + " mm"
}

// duration prints hours, or minutes below an hour.
func duration(minutes float64) string {
	m := exact(minutes)
	if m.Cmp(big.NewRat(60, 1)) >= 0 {
		return product(m, big.NewRat(1, 60)).FloatString(1) + " h"
	}
	return m.FloatString(0) + " min"
}
