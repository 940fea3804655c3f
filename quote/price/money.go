package price

import (
	"fmt"
	"math"
	"math/bits"
	"strconv"
	"strings"
)

// hundredPercent is 100 % as a Percent.
const hundredPercent Percent = 10000

// Of is the percentage of an amount, rounded half away from zero; a result too large for Money is clamped to its limit.
func (p Percent) Of(m Money) Money {
	hi, lo := bits.Mul64(magnitude(int64(p)), magnitude(int64(m)))
	lo, carry := bits.Add64(lo, uint64(hundredPercent)/2, 0)
	hi += carry
	negative := (p < 0) != (m < 0)
	limit := uint64(math.MaxInt64)
	if negative {
		limit++
	}
	q := limit
	if hi < uint64(hundredPercent) { // else the quotient does not fit 64 bits
		q, _ = bits.Div64(hi, lo, uint64(hundredPercent))
		q = min(q, limit)
	}
	if negative {
		return Money(-q) // two's complement, correct for 1<<63 too
	}
	return Money(q)
}

// magnitude is the absolute value, correct for the smallest int64 too.
func magnitude(v int64) uint64 {
	if v < 0 {
		return -uint64(v)
	}
	return uint64(v)
}

// String prints the percentage as a quote does: "21 %", "7.5 %", "0.25 %".
func (p Percent) String() string {
	u := magnitude(int64(p))
	s := strconv.FormatUint(u/100, 10)
	if f := u % 100; f != 0 {
		s += strings.TrimRight(fmt.Sprintf(".%02d", f), "0")
	}
	if p < 0 {
		s = "-" + s
	}
	return s + " %"
}

// Format prints the amount with the currency code in front, a comma between thousands and a point before the decimals that
// ISO 4217 gives the currency: "EUR 1,234.50", "JPY 1,235", "EUR -0.05".
//
// For a currency that Digits refuses, the amount is given in minor units.
func (m Money) Format(currency string) string {
	digits, err := Digits(currency)
	if err != nil {
		return fmt.Sprintf("%s %d minor units", currency, int64(m))
	}
	sign := ""
	if m < 0 {
		sign = "-"
	}
	s := strconv.FormatUint(magnitude(int64(m)), 10)
	if len(s) <= digits {
		s = strings.Repeat("0", digits+1-len(s)) + s
	}
	whole, part := s[:len(s)-digits], s[len(s)-digits:]
	var b strings.Builder
	b.WriteString(currency + " " + sign)
	for i := range len(whole) {
		if i > 0 && (len(whole)-i)%3 == 0 {
			b.WriteByte(',')
		}
		b.WriteByte(whole[i])
	}
	if digits > 0 {
		b.WriteString("." + part)
	}
	return b.String()
}
