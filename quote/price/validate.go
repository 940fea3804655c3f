package price

import (
	"errors"
	"fmt"
	"math"
	"strings"
)

// Limits of a price book and of what it prices, so that typing mistakes are caught and no sum can overflow.
const (
	maxPrice  Money   = 1e12 // minor units for one sheet, litre, piece, metre or hour
	maxTotal  Money   = 1e15 // minor units for a whole quote, far below Money's limit
	maxMarkup Percent = 10 * hundredPercent
	maxSize           = 1e5 // mm, a sheet of a hundred metres
)

// Validate says what is wrong with the book: every mistake, with key, field and what would be right.
func (b Book) Validate() error {
	var c checker
	if _, err := Digits(b.Currency); err != nil {
		c.errs = append(c.errs, fmt.Errorf("price book: %w", err))
	}
	c.where = "price book"
	c.money("rate", b.Rate, 0)
	c.percent("markup", b.Markup, maxMarkup)
	c.percent("waste", b.Waste, hundredPercent)
	c.percent("discount", b.Discount, hundredPercent)
	c.percent("tax", b.Tax, hundredPercent)
	c.percent("deposit", b.Deposit, hundredPercent)
	if b.Tax > 0 && strings.TrimSpace(b.TaxName) == "" {
		c.bad("tax_name is empty; give the name that the quote uses for the tax")
	}
	// Without tax there is nothing to round.
	if b.TaxRule != TaxPerLine && b.TaxRule != TaxPerInvoice && (b.TaxRule != "" || b.Tax != 0) {
		c.bad("tax_rule is %q; it must be %q or %q", b.TaxRule, TaxPerLine, TaxPerInvoice)
	}
	if b.SheetRule != WholeSheets && b.SheetRule != SharedSheet {
		c.bad("sheet_rule is %q; it must be %q or %q", b.SheetRule, WholeSheets, SharedSheet)
	}
	for i, s := range b.Sheets {
		c.entry("sheet", i, s.Key)
		c.number("thickness", float64(s.Thickness), maxSize, "mm")
		c.number("width", float64(s.Width), maxSize, "mm")
		c.number("height", float64(s.Height), maxSize, "mm")
		c.number("density", s.Density, 1e4, "kg/m³")
		c.money("price", s.Price, 1)
	}
	c.seen = nil
	for i, l := range b.Liquids {
		c.entry("liquid", i, l.Key)
		c.title(l.Title)
		c.money("per_litre", l.PerLitre, 1)
		c.number("spread", l.Spread, 1e3, "m² per litre")
		if l.Faces != 1 && l.Faces != 2 {
			c.bad("faces is %d; it must be 2 for a contact adhesive and 1 for anything else", l.Faces)
		}
	}
	c.seen = nil
	for i, h := range b.Hardware {
		c.entry("hardware", i, h.Key)
		c.title(h.Title)
		c.money("each", h.Each, 0)
		c.money("per_metre", h.PerMetre, 0)
		if (h.Each > 0) == (h.PerMetre > 0) {
			c.bad("each is %d and per_metre is %d; give the price in one of them and leave the other out", h.Each, h.PerMetre)
		}
		if !(h.Grams >= 0 && h.Grams <= 1e6) {
			c.bad("grams is %g; it must be from 0 to %g", h.Grams, 1e6)
		}
	}
	return errors.Join(c.errs...)
}

// checker collects mistakes under the name of the current entry.
type checker struct {
	where string
	seen  map[string]bool
	errs  []error
}

func (c *checker) bad(format string, args ...any) {
	c.errs = append(c.errs, fmt.Errorf("%s: %s", c.where, fmt.Sprintf(format, args...)))
}

func (c *checker) entry(kind string, i int, key string) {
	c.where = fmt.Sprintf("price book: %s %q", kind, key)
	if strings.TrimSpace(key) == "" {
		c.where = fmt.Sprintf("price book: %s %d", kind, i+1)
		c.bad("key is empty; give the name that patterns and finishes use")
		return
	}
	if c.seen[key] {
		c.bad("key is used twice; give each entry its own")
	}
	if c.seen == nil {
		c.seen = make(map[string]bool)
	}
	c.seen[key] = true
}

func (c *checker) title(s string) {
	if strings.TrimSpace(s) == "" {
		c.bad("title is empty; give the text that the quote prints")
	}
}

func (c *checker) money(field string, m, low Money) {
	if m < low || m > maxPrice {
		c.bad("%s is %d minor units; it must be from %d to %d", field, m, low, maxPrice)
	}
}

func (c *checker) percent(field string, p, top Percent) {
	if p < 0 || p > top {
		c.bad("%s is %v; it must be from 0 %% to %v", field, p, top)
	}
}

// number refuses zero, negative, infinite and NaN.
func (c *checker) number(field string, v, top float64, unit string) {
	if !(v > 0 && v <= top) || math.IsNaN(v) {
		c.bad("%s is %g %s; it must be above 0 and at most %g %s", field, v, unit, top, unit)
	}
}
