package price

import (
	"errors"
	"fmt"
	"math/big"
	"strconv"
)

// Limits of a bill; a quantity above them is a measuring mistake.
const (
	maxArea    = 1e12 // mm², one square kilometre
	maxCoats   = 1000
	maxCount   = 1e6
	maxLength  = 1e9 // mm, a thousand kilometres
	maxMinutes = 1e7 // nineteen years
	// shareSlack lets a full sheet exceed one by a rounding error; it is far less than anything that can be cut.
	shareSlack = 1e-9
)

// Estimate prices the bill: one line for each kind of sheet, liquid and hardware, in the order of first use, and one for
// each entry of labour.
//
// A line's amount is rounded once, from exact arithmetic. Waste is added to liquids and to what is sold by length, and the
// printed quantity includes it; markup is added to material, not to labour. Unused entries get no line. The error is a
// *Missing if the book lacks a price; any other error names the key and what is wrong.
func (b Book) Estimate(bill Bill) (Estimate, error) {
	if err := b.Validate(); err != nil {
		return Estimate{}, fmt.Errorf("this price book cannot be used: %w", err)
	}
	if err := b.missing(bill); err != nil {
		return Estimate{}, err
	}
	if err := bill.check(b); err != nil {
		return Estimate{}, err
	}
	e := Estimate{Currency: b.Currency, TaxName: b.TaxName, TaxRate: b.Tax}
	for _, lines := range [][]pricedLine{b.sheetLines(bill), b.liquidLines(bill), b.hardwareLines(bill), b.labourLines(bill)} {
		for _, l := range lines {
			amount, ok := round(l.exact)
			if !ok || e.Subtotal+amount > maxTotal {
				return Estimate{}, fmt.Errorf("the price of %q is out of range; a quote can be at most %s", l.Title, maxTotal.Format(b.Currency))
			}
			l.Amount = amount
			e.Subtotal += amount
			e.Lines = append(e.Lines, l.Line)
		}
	}
	e.Discount = b.Discount.Of(e.Subtotal)
	e.Net = e.Subtotal - e.Discount
	if b.TaxRule == TaxPerLine {
		shares := distribute(e.Discount, e.Lines)
		for i := range e.Lines {
			e.Lines[i].Tax = b.Tax.Of(e.Lines[i].Amount - shares[i])
			e.Tax += e.Lines[i].Tax
		}
	} else {
		e.Tax = b.Tax.Of(e.Net)
	}
	e.Total = e.Net + e.Tax
	e.Deposit = b.Deposit.Of(e.Total)
	e.Balance = e.Total - e.Deposit
	return e, nil
}

// pricedLine is a line whose amount is not yet rounded.
type pricedLine struct {
	Line
	exact *big.Rat // minor units
}

func (b Book) sheetLines(bill Bill) []pricedLine {
	var out []pricedLine
	for _, key := range firsts(bill.Sheets, func(u SheetUse) string { return u.Key }) {
		sheet, _ := b.sheet(key)
		used, n := new(big.Rat), 0
		for _, u := range bill.Sheets {
			if u.Key != key {
				continue
			}
			for _, s := range u.Shares {
				used.Add(used, exact(min(s, 1)))
				n++
			}
		}
		if n == 0 {
			continue
		}
		charged := new(big.Rat).SetInt64(int64(n))
		if b.SheetRule == SharedSheet {
			charged = used
		}
		mean, _ := new(big.Rat).Quo(used, new(big.Rat).SetInt64(int64(n))).Float64()
		out = append(out, pricedLine{
			Line: Line{
				Section: Foam,
				Title: fmt.Sprintf("Foam %s mm, %s × %s mm",
					short(float64(sheet.Thickness)), short(float64(sheet.Width)), short(float64(sheet.Height))),
				Quantity: fmt.Sprintf("%s, %.0f %% used", Counted(n, "sheet"), mean*100),
			},
			exact: product(money(sheet.Price), charged, plus(b.Markup)),
		})
	}
	return out
}

func (b Book) liquidLines(bill Bill) []pricedLine {
	var out []pricedLine
	for _, key := range firsts(bill.Liquids, func(u LiquidUse) string { return u.Key }) {
		liquid, _ := b.liquid(key)
		litres := new(big.Rat)
		for _, u := range bill.Liquids {
			if u.Key == key {
				litres.Add(litres, product(exact(float64(u.Area)), big.NewRat(int64(u.Coats), 1e6)))
			}
		}
		if litres.Sign() == 0 {
			continue
		}
		litres = product(litres, big.NewRat(int64(liquid.Faces), 1), new(big.Rat).Inv(exact(liquid.Spread)), plus(b.Waste))
		out = append(out, pricedLine{
			Line:  Line{Section: Consumables, Title: liquid.Title, Quantity: volume(litres)},
			exact: product(money(liquid.PerLitre), litres, plus(b.Markup)),
		})
	}
	return out
}

func (b Book) hardwareLines(bill Bill) []pricedLine {
	var out []pricedLine
	for _, key := range firsts(bill.Hardware, func(u HardwareUse) string { return u.Key }) {
		h, _ := b.hardware(key)
		count, metres := 0, new(big.Rat)
		for _, u := range bill.Hardware {
			if u.Key == key {
				count += u.Count
				metres.Add(metres, product(exact(float64(u.Length)), big.NewRat(1, 1000)))
			}
		}
		l := pricedLine{Line: Line{Section: Fittings, Title: h.Title}}
		switch {
		case count > 0:
			l.Quantity = Counted(count, "piece")
			l.exact = product(money(h.Each), big.NewRat(int64(count), 1), plus(b.Markup))
		case metres.Sign() > 0:
			metres.Mul(metres, plus(b.Waste))
			l.Quantity = length(metres)
			l.exact = product(money(h.PerMetre), metres, plus(b.Markup))
		default:
			continue
		}
		out = append(out, l)
	}
	return out
}

func (b Book) labourLines(bill Bill) []pricedLine {
	var out []pricedLine
	for _, u := range bill.Labour {
		out = append(out, pricedLine{
			Line:  Line{Section: Labour, Title: u.Title, Quantity: duration(u.Minutes)},
			exact: product(money(b.Rate), exact(u.Minutes), big.NewRat(1, 60)),
		})
	}
	return out
}

// Missing is the error for a bill that uses something without a price in the book.
type Missing struct {
	Items []string // "sheet \"eva-5\"", each once, in the order of the bill
}

func (m *Missing) Error() string {
	s := "the price book has no price for "
	for i, it := range m.Items {
		switch {
		case i == 0:
		case i == len(m.Items)-1:
			s += " and "
		default:
			s += ", "
		}
		s += it
	}
	return s + "; add it to the book, or change the pattern or finish that needs it"
}

func (b Book) missing(bill Bill) error {
	var m Missing
	note := func(kind string, keys []string, has func(string) bool) {
		for _, k := range keys {
			if !has(k) {
				m.Items = append(m.Items, kind+" "+strconv.Quote(k))
			}
		}
	}
	note("sheet", firsts(bill.Sheets, func(u SheetUse) string { return u.Key }),
		func(k string) bool { _, ok := b.sheet(k); return ok })
	note("liquid", firsts(bill.Liquids, func(u LiquidUse) string { return u.Key }),
		func(k string) bool { _, ok := b.liquid(k); return ok })
	note("hardware", firsts(bill.Hardware, func(u HardwareUse) string { return u.Key }),
		func(k string) bool { _, ok := b.hardware(k); return ok })
	if len(m.Items) > 0 {
		return &m
	}
	return nil
}

// check refuses invalid quantities; the keys are known to be in the book.
func (bill Bill) check(b Book) error {
	var errs []error
	bad := func(kind, key, format string, args ...any) {
		errs = append(errs, fmt.Errorf("%s %q: %s", kind, key, fmt.Sprintf(format, args...)))
	}
	within := func(v, top float64) bool { return v >= 0 && v <= top } // false for NaN
	for _, u := range bill.Sheets {
		for _, s := range u.Shares {
			if !within(s, 1+shareSlack) {
				bad("sheet", u.Key, "the share used is %g; it must be from 0 to 1", s)
			}
		}
	}
	for _, u := range bill.Liquids {
		if !within(float64(u.Area), maxArea) {
			bad("liquid", u.Key, "the area is %g mm²; it must be from 0 to %g mm²", float64(u.Area), float64(maxArea))
		}
		// A covered area without a coat is a mistake that would cost the studio the material.
		if u.Coats < 1 && u.Area != 0 || u.Coats < 0 || u.Coats > maxCoats {
			bad("liquid", u.Key, "the number of coats is %d; it must be from 1 to %d", u.Coats, maxCoats)
		}
	}
	for _, u := range bill.Hardware {
		h, _ := b.hardware(u.Key)
		if u.Count < 0 || u.Count > maxCount {
			bad("hardware", u.Key, "the count is %d; it must be from 0 to %g", u.Count, float64(maxCount))
		}
		if !within(float64(u.Length), maxLength) {
			bad("hardware", u.Key, "the length is %g mm; it must be from 0 to %g mm", float64(u.Length), float64(maxLength))
		}
		if h.PerMetre > 0 && u.Count != 0 {
			bad("hardware", u.Key, "is sold by the metre; give the total length and no count")
		}
		if h.Each > 0 && u.Length != 0 {
			bad("hardware", u.Key, "is sold by the piece; give a count and no length")
		}
	}
	for _, u := range bill.Labour {
		if !within(u.Minutes, maxMinutes) {
			bad("labour", u.Title, "takes %g minutes; it must be from 0 to %g", u.Minutes, float64(maxMinutes))
		}
	}
	return errors.Join(errs...)
}

func (b Book) sheet(key string) (Sheet, bool) {
	for _, s := range b.Sheets {
		if s.Key == key {
			return s, true
		}
	}
	return Sheet{}, false
}

func (b Book) liquid(key string) (Liquid, bool) {
	for _, l := range b.Liquids {
		if l.Key == key {
			return l, true
		}
	}
	return Liquid{}, false
}

func (b Book) hardware(key string) (Hardware, bool) {
	for _, h := range b.Hardware {
		if h.Key == key {
			return h, true
		}
	}
	return Hardware{}, false
}

// firsts lists the keys of the uses, each once, in the order of first use.
func firsts[T any](uses []T, key func(T) string) []string {
	var out []string
	seen := make(map[string]bool, len(uses))
	for _, u := range uses {
		if k := key(u); !seen[k] {
			seen[k] = true
			out = append(out, k)
		}
	}
	return out
}
