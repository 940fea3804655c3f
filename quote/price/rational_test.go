package price_test

import (
	"fmt"
	"math/big"
	"slices"
	"strconv"
	"testing"

	"benchbell/quote/geom"
	"benchbell/quote/price"

	"pgregory.net/rapid"
)

// The sums are worked out here a second time, in rational numbers from book and bill alone: no rounding, percentage or sum of
// the package is called, so that a mistake in one of them is not made twice.

// number is the decimal that a float is written as.
func number(f float64) *big.Rat {
	r, ok := new(big.Rat).SetString(fmt.Sprint(f))
	if !ok {
		panic(f)
	}
	return r
}

func times(list ...*big.Rat) *big.Rat {
	out := big.NewRat(1, 1)
	for _, r := range list {
		out.Mul(out, r)
	}
	return out
}

// share is a percentage as a factor, more is one and that.
func share(p price.Percent) *big.Rat { return big.NewRat(int64(p), 10000) }
func more(p price.Percent) *big.Rat  { return new(big.Rat).Add(big.NewRat(1, 1), share(p)) }

func units(m price.Money) *big.Rat { return big.NewRat(int64(m), 1) }

// worked is a bill priced in rational numbers. halves counts the amounts of which exactly half a unit had to be rounded.
type worked struct{ halves int }

// whole is the nearest whole number of minor units, a half up; amounts here are not negative. big.Rat prints that.
func (w *worked) whole(r *big.Rat) price.Money {
	if new(big.Rat).Mul(r, big.NewRat(2, 1)).IsInt() && !r.IsInt() {
		w.halves++
	}
	n, err := strconv.ParseInt(r.FloatString(0), 10, 64)
	if err != nil {
		panic(err)
	}
	return price.Money(n)
}

// amounts is what each line of an estimate costs, in the order in which they are printed.
func (w *worked) amounts(b price.Book, u price.Bill) []price.Money {
	var out []price.Money
	line := func(quantity *big.Rat, each price.Money, markup price.Percent) {
		if quantity.Sign() > 0 {
			out = append(out, w.whole(times(units(each), quantity, more(markup))))
		}
	}
	var seen []string
	first := func(key string) bool {
		if slices.Contains(seen, key) {
			return false
		}
		seen = append(seen, key)
		return true
	}
	for _, x := range u.Sheets {
		if !first(x.Key) {
			continue
		}
		n, used := 0, new(big.Rat)
		for _, y := range u.Sheets {
			if y.Key == x.Key {
				for _, s := range y.Shares {
					n++
					used.Add(used, number(s))
				}
			}
		}
		for _, s := range b.Sheets {
			switch {
			case s.Key != x.Key || n == 0:
			case b.SheetRule == price.WholeSheets:
				line(big.NewRat(int64(n), 1), s.Price, b.Markup)
			default: // a sheet of which nothing is used makes a line all the same
				out = append(out, w.whole(times(units(s.Price), used, more(b.Markup))))
			}
		}
	}
	for _, x := range u.Liquids {
		if !first(x.Key) {
			continue
		}
		area := new(big.Rat) // in square metres, coat by coat
		for _, y := range u.Liquids {
			if y.Key == x.Key {
				area.Add(area, times(number(float64(y.Area)), big.NewRat(1, 1000), big.NewRat(1, 1000), big.NewRat(int64(y.Coats), 1)))
			}
		}
		for _, l := range b.Liquids {
			if l.Key == x.Key {
				line(new(big.Rat).Quo(times(area, big.NewRat(int64(l.Faces), 1), more(b.Waste)), number(l.Spread)), l.PerLitre, b.Markup)
			}
		}
	}
	for _, x := range u.Hardware {
		if !first(x.Key) {
			continue
		}
		count, metres := new(big.Rat), new(big.Rat)
		for _, y := range u.Hardware {
			if y.Key == x.Key {
				count.Add(count, big.NewRat(int64(y.Count), 1))
				metres.Add(metres, times(number(float64(y.Length)), big.NewRat(1, 1000)))
			}
		}
		for _, h := range b.Hardware {
			if h.Key == x.Key {
				line(count, h.Each, b.Markup)
				line(times(metres, more(b.Waste)), h.PerMetre, b.Markup)
			}
		}
	}
	for _, x := range u.Labour { // each entry is a line, also one of no time
		out = append(out, w.whole(times(units(b.Rate), number(x.Minutes), big.NewRat(1, 60))))
	}
	return out
}

// discounts splits a discount over amounts: to each what its share has whole, and one more to those that are left the most of
// a unit short, the earlier first.
func discounts(all price.Money, amounts []price.Money) []price.Money {
	out := make([]price.Money, len(amounts))
	var sum price.Money
	for _, a := range amounts {
		sum += a
	}
	if sum == 0 {
		return out
	}
	short := make([]*big.Rat, len(amounts))
	left := all
	for i, a := range amounts {
		exact := new(big.Rat).Quo(times(units(all), units(a)), units(sum))
		whole := new(big.Int).Div(exact.Num(), exact.Denom()) // Euclid's: down
		out[i] = price.Money(whole.Int64())
		short[i] = new(big.Rat).Sub(exact, new(big.Rat).SetInt(whole))
		left -= out[i]
	}
	for ; left > 0; left-- {
		most := 0
		for i := range short {
			if short[i].Cmp(short[most]) > 0 {
				most = i
			}
		}
		out[most]++
		short[most] = big.NewRat(-1, 1)
	}
	return out
}

// againstRationals holds an estimate against what is worked out here.
func againstRationals(b price.Book, u price.Bill, e price.Estimate) (halves int, err error) {
	var w worked
	amounts := w.amounts(b, u)
	if len(amounts) != len(e.Lines) {
		return 0, fmt.Errorf("%d lines, want %d", len(e.Lines), len(amounts))
	}
	var want price.Estimate
	for i, a := range amounts {
		if e.Lines[i].Amount != a {
			return 0, fmt.Errorf("line %d costs %d, want %d", i+1, e.Lines[i].Amount, a)
		}
		want.Subtotal += a
	}
	want.Discount = w.whole(times(units(want.Subtotal), share(b.Discount)))
	want.Net = want.Subtotal - want.Discount
	if b.TaxRule == price.TaxPerLine {
		for i, d := range discounts(want.Discount, amounts) {
			tax := w.whole(times(units(amounts[i]-d), share(b.Tax)))
			if e.Lines[i].Tax != tax {
				return 0, fmt.Errorf("line %d of %d less %d is taxed %d, want %d", i+1, amounts[i], d, e.Lines[i].Tax, tax)
			}
			want.Tax += tax
		}
	} else {
		want.Tax = w.whole(times(units(want.Net), share(b.Tax)))
	}
	want.Total = want.Net + want.Tax
	want.Deposit = w.whole(times(units(want.Total), share(b.Deposit)))
	want.Balance = want.Total - want.Deposit
	got := price.Estimate{Subtotal: e.Subtotal, Discount: e.Discount, Net: e.Net, Tax: e.Tax, Total: e.Total, Deposit: e.Deposit, Balance: e.Balance}
	if fmt.Sprintf("%+v", got) != fmt.Sprintf("%+v", want) {
		return 0, fmt.Errorf("got %+v, want %+v", got, want)
	}
	return w.halves, nil
}

// TestAgainstRationals: every line, discount, tax, deposit and sum is the one worked out in rational numbers, among them amounts
// of which exactly half a unit is rounded.
func TestAgainstRationals(t *testing.T) {
	halves := 0
	rapid.Check(t, func(t *rapid.T) {
		b, u := draw(t)
		if rapid.Bool().Draw(t, "round figures") {
			b, u = roundFigures(t, b)
		}
		e, err := b.Estimate(u)
		if err != nil {
			t.Fatal(err)
		}
		n, err := againstRationals(b, u, e)
		if err != nil {
			t.Fatalf("%v\n%+v\n%+v", err, b, u)
		}
		halves += n
	})
	if halves < 50 {
		t.Errorf("half a unit was rounded only %d times, which shows little", halves)
	}
}

// roundFigures are prices, rates and quantities as people set them, of which halves of a unit come.
func roundFigures(t *rapid.T, b price.Book) (price.Book, price.Bill) {
	of := func(name string, list ...price.Percent) price.Percent { return rapid.SampledFrom(list).Draw(t, name) }
	b.Rate = price.Money(5 * rapid.Int64Range(1, 2000).Draw(t, "rate"))
	b.Markup, b.Waste = of("markup", 0, 2000, 2500, 5000), of("waste", 0, 1000)
	b.Discount, b.Tax, b.Deposit = of("discount", 0, 250, 500, 5000), of("tax", 0, 500, 750, 2000, 2100), of("deposit", 2500, 5000, 3000)
	u := price.Bill{Hardware: []price.HardwareUse{{Key: "webbing-25", Length: geom.MM(25 * rapid.IntRange(0, 200).Draw(t, "length"))}, {Key: "buckle-25", Count: rapid.IntRange(0, 9).Draw(t, "count")}}}
	for range rapid.IntRange(1, 5).Draw(t, "labour") {
		u.Labour = append(u.Labour, price.LabourUse{Title: "Work", Minutes: float64(rapid.IntRange(0, 400).Draw(t, "minutes")) * 1.5})
	}
	for range rapid.IntRange(0, 2).Draw(t, "sheets") {
		u.Sheets = append(u.Sheets, price.SheetUse{Key: "eva-5", Shares: []float64{float64(rapid.IntRange(0, 100).Draw(t, "share")) / 100}})
	}
	if rapid.Bool().Draw(t, "liquid") {
		u.Liquids = []price.LiquidUse{{Key: "flexible primer", Area: geom.MM2(12500 * rapid.IntRange(0, 90).Draw(t, "area")), Coats: rapid.IntRange(1, 4).Draw(t, "coats")}}
	}
	return b, u
}

// TestHalfAUnit is worked out by hand: the half is rounded up in a line, in the discount, in both kinds of tax and in the
// deposit, and tax is on what is left after the discount.
func TestHalfAUnit(t *testing.T) {
	for _, c := range []struct {
		name string
		book price.Book
		work []float64 // minutes of labour
		want price.Estimate
	}{
		{"lines", price.Book{Rate: 15}, []float64{2, 6, 10}, // 0.5, 1.5, 2.5
			price.Estimate{Subtotal: 6, Net: 6, Total: 6, Balance: 6}},
		{"discount", price.Book{Rate: 50, Discount: 500}, []float64{60}, // 2.5
			price.Estimate{Subtotal: 50, Discount: 3, Net: 47, Total: 47, Balance: 47}},
		{"tax of the invoice, on the net", price.Book{Rate: 100, Discount: 5000, Tax: 500, TaxRule: price.TaxPerInvoice}, []float64{60}, // 5 % of 50 are 2.5
			price.Estimate{Subtotal: 100, Discount: 50, Net: 50, Tax: 3, Total: 53, Balance: 53}},
		{"tax by line, on the net", price.Book{Rate: 100, Discount: 5000, Tax: 500, TaxRule: price.TaxPerLine}, []float64{60, 60}, // twice 2.5
			price.Estimate{Subtotal: 200, Discount: 100, Net: 100, Tax: 6, Total: 106, Balance: 106}},
		{"deposit", price.Book{Rate: 101, Deposit: 5000}, []float64{60}, // 50.5
			price.Estimate{Subtotal: 101, Net: 101, Total: 101, Deposit: 51, Balance: 50}},
		{"deposit, less than half", price.Book{Rate: 101, Deposit: 3000}, []float64{60}, // 30.3
			price.Estimate{Subtotal: 101, Net: 101, Total: 101, Deposit: 30, Balance: 71}},
	} {
		b := c.book
		b.Currency, b.SheetRule, b.TaxName = "EUR", price.WholeSheets, "VAT"
		var u price.Bill
		for _, m := range c.work {
			u.Labour = append(u.Labour, price.LabourUse{Title: "Work", Minutes: m})
		}
		got, err := b.Estimate(u)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		got = price.Estimate{Subtotal: got.Subtotal, Discount: got.Discount, Net: got.Net, Tax: got.Tax, Total: got.Total, Deposit: got.Deposit, Balance: got.Balance}
		if fmt.Sprintf("%+v", got) != fmt.Sprintf("%+v", c.want) {
			t.Errorf("%s: got %+v, want %+v", c.name, got, c.want)
		}
	}
}
