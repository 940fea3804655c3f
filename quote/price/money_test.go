package price_test

import (
	"math"
	"math/big"
	"strings"
	"testing"

	"benchbell/quote/price"

	"pgregory.net/rapid"
)

// TestDigits: source ISO 4217 via datasets/currency-codes, 1 Feb 2026.
func TestDigits(t *testing.T) {
	for digits, codes := range map[int]string{
		0: "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF",
		2: "EUR USD GBP CHF SEK PLN HUF CZK AUD CAD NZD MXN BRL INR CNY",
		3: "BHD IQD JOD KWD LYD OMR TND",
		4: "CLF UYW",
	} {
		for code := range strings.FieldsSeq(codes) {
			if got, err := price.Digits(code); err != nil || got != digits {
				t.Errorf("%s has %d digits, %v, want %d", code, got, err, digits)
			}
		}
	}
	for code, says := range map[string]string{"eur": `"EUR"`, "": "ISO 4217", "EURO": "ISO 4217", "XAU": "ISO 4217", "€": "ISO 4217"} {
		if _, err := price.Digits(code); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: %v does not say %q", code, err, says)
		}
	}
}

func TestFormat(t *testing.T) {
	for _, c := range []struct {
		m        price.Money
		currency string
		want     string
	}{
		{123450, "EUR", "EUR 1,234.50"},
		{-5, "EUR", "EUR -0.05"},
		{0, "EUR", "EUR 0.00"},
		{100, "EUR", "EUR 1.00"},
		{123456789, "GBP", "GBP 1,234,567.89"},
		{1235, "JPY", "JPY 1,235"},
		{-999, "JPY", "JPY -999"},
		{1234500, "KWD", "KWD 1,234.500"},
		{7, "CLF", "CLF 0.0007"},
		{math.MaxInt64, "EUR", "EUR 92,233,720,368,547,758.07"},
		{math.MinInt64, "EUR", "EUR -92,233,720,368,547,758.08"},
		{12, "???", "??? 12 minor units"},
	} {
		if got := c.m.Format(c.currency); got != c.want {
			t.Errorf("%d %s: %q, want %q", int64(c.m), c.currency, got, c.want)
		}
	}
}

func TestPercent(t *testing.T) {
	for p, want := range map[price.Percent]string{2100: "21 %", 750: "7.5 %", 25: "0.25 %", 1: "0.01 %", 0: "0 %", -1050: "-10.5 %"} {
		if got := p.String(); got != want {
			t.Errorf("%d: %q, want %q", int64(p), got, want)
		}
	}
	for _, c := range []struct {
		p    price.Percent
		m    price.Money
		want price.Money
	}{
		{5000, 1, 1}, {5000, -1, -1}, {5000, 3, 2}, {-5000, 3, -2}, {4999, 1, 0}, {10000, 77, 77}, {0, 77, 0},
		{10000, math.MaxInt64, math.MaxInt64}, {10000, math.MinInt64, math.MinInt64},
		{20000, math.MaxInt64, math.MaxInt64}, {20000, math.MinInt64, math.MinInt64}, {-20000, math.MinInt64, math.MaxInt64},
		{math.MaxInt64, math.MaxInt64, math.MaxInt64}, {math.MinInt64, math.MaxInt64, math.MinInt64},
	} {
		if got := c.p.Of(c.m); got != c.want {
			t.Errorf("%d of %d is %d, want %d", int64(c.p), int64(c.m), int64(got), int64(c.want))
		}
	}
}

// TestOfAgainstBig: the rounded percentage equals the one of unbounded integers, held at Money's limits.
func TestOfAgainstBig(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, m := rapid.Int64().Draw(t, "p"), rapid.Int64().Draw(t, "m")
		if rapid.Bool().Draw(t, "small") {
			p %= 20000
		}
		x := new(big.Int).Mul(big.NewInt(p), big.NewInt(m))
		sign := x.Sign()
		x.Abs(x).Add(x, big.NewInt(5000)).Quo(x, big.NewInt(10000))
		if sign < 0 {
			x.Neg(x)
		}
		want := int64(math.MaxInt64)
		if x.IsInt64() {
			want = x.Int64()
		} else if x.Sign() < 0 {
			want = math.MinInt64
		}
		if got := price.Percent(p).Of(price.Money(m)); int64(got) != want {
			t.Fatalf("%d of %d is %d, want %d", p, m, int64(got), want)
		}
	})
}

func TestParseMoney(t *testing.T) {
	for _, c := range []struct {
		s, currency string
		want        price.Money
	}{
		{"1234.5", "EUR", 123450}, {"1,234.50", "EUR", 123450}, {"1.234,50", "EUR", 123450}, {"1 234,50", "EUR", 123450},
		{"1\u202f234,50", "EUR", 123450}, {"EUR 12", "EUR", 1200}, {"12 EUR", "EUR", 1200}, {"12,5", "EUR", 1250},
		{"1,234", "EUR", 123400}, {"1,234,567", "EUR", 123456700}, {"1.234.567", "EUR", 123456700}, {"-0.05", "EUR", -5},
		{"\u22125", "EUR", -500}, {"EUR -5", "EUR", -500}, {".5", "EUR", 0}, {"0.125", "KWD", 125}, {"1.234", "KWD", 1234},
		{"1,235", "JPY", 1235}, {"0.500", "EUR", 50}, {"1234.500", "EUR", 123450}, {"92,233,720,368,547,757.99", "EUR", 9223372036854775799},
	} {
		got, err := price.ParseMoney(c.s, c.currency)
		if c.s == ".5" {
			if err == nil {
				t.Errorf("%q is read as %d", c.s, int64(got))
			}
			continue
		}
		if err != nil || got != c.want {
			t.Errorf("%q %s is %d, %v, want %d", c.s, c.currency, int64(got), err, int64(c.want))
		}
	}
	for _, c := range []struct{ s, currency, says string }{
		{"", "EUR", "no digits"}, {"EUR", "EUR", "no digits"}, {"12 USD", "EUR", "EUR 1,234.50"}, {"1.234", "EUR", "1234 or 1.234"},
		{"1,234", "KWD", "1234 or 1.234"}, {"12.345", "JPY", "12345 or 12.345"}, {"0.125", "EUR", "3 decimals"},
		{"1,23,456", "EUR", "threes"}, {"1e5", "EUR", "not understood"}, {"NaN", "EUR", "not understood"}, {"5.", "EUR", "decimal sign"},
		{"1.2.3,4,5", "EUR", "two decimal signs"}, {"99999999999999999999", "EUR", "too large"}, {"٥", "EUR", "not understood"},
		{"5", "EUX", "ISO 4217"}, {"--5", "EUR", "not understood"},
	} {
		if got, err := price.ParseMoney(c.s, c.currency); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%q %s: %d, %v does not say %q", c.s, c.currency, int64(got), err, c.says)
		}
	}
}

// TestMoneyRoundTrip: what Format prints, ParseMoney reads back.
func TestMoneyRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := price.Money(rapid.Int64Range(-9e18, 9e18).Draw(t, "m"))
		c := rapid.SampledFrom([]string{"EUR", "JPY", "KWD", "CLF"}).Draw(t, "currency")
		got, err := price.ParseMoney(m.Format(c), c)
		if err != nil || got != m {
			t.Fatalf("%d: %q is read as %d, %v", int64(m), m.Format(c), int64(got), err)
		}
	})
}

func FuzzParseMoney(f *testing.F) {
	for _, s := range []string{"1,234.50", "EUR -5", "1 234,5", "1.234", "", "9223372036854775807", "\xff", "0.0.0", "-,5"} {
		for i := range 4 {
			f.Add(s, i)
		}
	}
	f.Fuzz(func(t *testing.T, s string, i int) {
		c := []string{"EUR", "JPY", "KWD", "CLF"}[uint(i)%4]
		m, err := price.ParseMoney(s, c)
		if err != nil {
			if m != 0 {
				t.Fatalf("%q: %d with %v", s, int64(m), err)
			}
			return
		}
		if back, err := price.ParseMoney(m.Format(c), c); err != nil || back != m {
			t.Fatalf("%q is %d, printed %q, read as %d, %v", s, int64(m), m.Format(c), int64(back), err)
		}
	})
}
