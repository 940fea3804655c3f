package price_test

import (
	"errors"
	"math"
	"reflect"
	"strings"
	"testing"

	"benchbell/quote/geom"
	"benchbell/quote/price"

	"pgregory.net/rapid"
)

// book is an invented studio's.
func book() price.Book {
	return price.Book{
		Currency: "EUR", Rate: 4000, Markup: 2000, Waste: 1000, Discount: 500, Tax: 2100, TaxName: "VAT",
		TaxRule: price.TaxPerInvoice, Deposit: 4000, SheetRule: price.SharedSheet,
		Sheets: []price.Sheet{
			{Key: "eva-5", Thickness: 5, Width: 1000, Height: 500, Density: 100, Price: 1250},
			{Key: "eva-10", Thickness: 10, Width: 1000, Height: 500, Density: 100, Price: 2100},
		},
		Liquids: []price.Liquid{
			{Key: "solvent contact cement", Title: "Solvent contact cement", PerLitre: 1890, Spread: 7.5, Faces: 2},
			{Key: "flexible primer", Title: "Flexible primer", PerLitre: 3200, Spread: 8, Faces: 1},
		},
		Hardware: []price.Hardware{
			{Key: "buckle-25", Title: "Side-release buckle, 25 mm", Each: 95, Grams: 9},
			{Key: "webbing-25", Title: "Webbing, 25 mm", PerMetre: 140, Grams: 24},
		},
	}
}

func bill() price.Bill {
	return price.Bill{
		Sheets: []price.SheetUse{{Key: "eva-5", Shares: []float64{0.8, 0.62}}, {Key: "eva-10", Shares: []float64{0.5}}},
		Liquids: []price.LiquidUse{{Key: "solvent contact cement", Area: 120_000, Coats: 1},
			{Key: "flexible primer", Area: 1_000_000, Coats: 3}, {Key: "solvent contact cement", Area: 30_000, Coats: 1}},
		Hardware: []price.HardwareUse{{Key: "buckle-25", Count: 4}, {Key: "webbing-25", Length: 1455}},
		Labour:   []price.LabourUse{{Title: "Cutting foam", Minutes: 390}, {Title: "Packing", Minutes: 25}},
	}
}

// TestEstimate is worked out by hand from the book above.
func TestEstimate(t *testing.T) {
	e, err := book().Estimate(bill())
	if err != nil {
		t.Fatal(err)
	}
	want := price.Estimate{
		Currency: "EUR", TaxName: "VAT", TaxRate: 2100,
		Lines: []price.Line{
			{Section: price.Foam, Title: "Foam 5 mm, 1000 × 500 mm", Quantity: "2 sheets, 71 % used", Amount: 2130}, // 12.50 · 1.42 · 1.2
			{Section: price.Foam, Title: "Foam 10 mm, 1000 × 500 mm", Quantity: "1 sheet, 50 % used", Amount: 1260}, // 21 · 0.5 · 1.2
			{Section: price.Consumables, Title: "Solvent contact cement", Quantity: "44 ml", Amount: 100},           // 0.15 m² · 2 / 7.5 · 1.1 = 0.044 l · 18.90 · 1.2 = 0.99792
			{Section: price.Consumables, Title: "Flexible primer", Quantity: "0.41 l", Amount: 1584},                // 3/8 · 1.1 = 0.4125 l · 32 · 1.2
			{Section: price.Fittings, Title: "Side-release buckle, 25 mm", Quantity: "4 pieces", Amount: 456},       // 3.80 · 1.2
			{Section: price.Fittings, Title: "Webbing, 25 mm", Quantity: "1.6 m", Amount: 269},                      // 1.6005 · 1.40 · 1.2 = 2.68884
			{Section: price.Labour, Title: "Cutting foam", Quantity: "6.5 h", Amount: 26000},                        // 6.5 · 40
			{Section: price.Labour, Title: "Packing", Quantity: "25 min", Amount: 1667},                             // 16.666…
		},
		Subtotal: 33466, Discount: 1673, Net: 31793, Tax: 6677, Total: 38470, Deposit: 15388, Balance: 23082,
	}
	if !reflect.DeepEqual(e, want) {
		t.Errorf("got  %+v\nwant %+v", e, want)
	}
	whole := book()
	whole.SheetRule = price.WholeSheets
	if e, err = whole.Estimate(bill()); err != nil || e.Lines[0].Amount != 3000 || e.Lines[0].Quantity != "2 sheets, 71 % used" {
		t.Errorf("whole sheets: %+v, %v", e, err)
	}
}

// TestTaxRounding is three lines of 0.99 at 21 %.
//
// Source: arithmetic, 3 · round(0.2079) = 0.63 against round(0.6237) = 0.62. That tax may be rounded per line or for the
// invoice: HMRC Notice 700, paragraph 17.5.
func TestTaxRounding(t *testing.T) {
	for rule, tax := range map[price.TaxRule]price.Money{price.TaxPerLine: 63, price.TaxPerInvoice: 62} {
		b := price.Book{Currency: "GBP", Rate: 99, Tax: 2100, TaxName: "VAT", TaxRule: rule, SheetRule: price.WholeSheets}
		e, err := b.Estimate(price.Bill{Labour: []price.LabourUse{{"a", 60}, {"b", 60}, {"c", 60}}})
		if err != nil {
			t.Fatal(err)
		}
		if e.Subtotal != 297 || e.Tax != tax || e.Total != 297+tax {
			t.Errorf("by %s: %+v, want tax %d", rule, e, tax)
		}
		if perLine := e.Lines[0].Tax; rule == price.TaxPerLine && perLine != 21 || rule == price.TaxPerInvoice && perLine != 0 {
			t.Errorf("by %s: line tax %d", rule, perLine)
		}
	}
}

// TestDiscountShares: 10 % of three lines of 0.99 is 0.30, ten each; of 0.98 it is 0.29, of which the first two bear ten.
func TestDiscountShares(t *testing.T) {
	b := price.Book{Currency: "GBP", Rate: 98, Discount: 1000, Tax: 10000, TaxName: "VAT", TaxRule: price.TaxPerLine, SheetRule: price.WholeSheets}
	e, err := b.Estimate(price.Bill{Labour: []price.LabourUse{{"a", 60}, {"b", 60}, {"c", 60}}})
	if err != nil {
		t.Fatal(err)
	}
	// At 100 % a line's tax is its amount net of discount.
	got := []price.Money{e.Lines[0].Tax, e.Lines[1].Tax, e.Lines[2].Tax}
	if want := []price.Money{88, 88, 89}; e.Discount != 29 || !reflect.DeepEqual(got, want) {
		t.Errorf("discount %d, nets %v, want 29, %v", e.Discount, got, want)
	}
}

func TestRefusals(t *testing.T) {
	var missing *price.Missing
	_, err := book().Estimate(price.Bill{
		Sheets:   []price.SheetUse{{Key: "eva-3", Shares: []float64{1}}, {Key: "eva-3"}},
		Liquids:  []price.LiquidUse{{Key: "varnish", Area: 1, Coats: 1}},
		Hardware: []price.HardwareUse{{Key: "snap", Count: 1}},
	})
	if !errors.As(err, &missing) || !reflect.DeepEqual(missing.Items, []string{`sheet "eva-3"`, `liquid "varnish"`, `hardware "snap"`}) {
		t.Fatalf("missing prices: %v", err)
	}
	if want := `no price for sheet "eva-3", liquid "varnish" and hardware "snap", add it`; !strings.Contains(err.Error(), want) {
		t.Errorf("%q does not say %q", err, want)
	}
	b := book()
	if e, err := b.Estimate(price.Bill{Sheets: []price.SheetUse{{Key: "eva-5"}}, Liquids: []price.LiquidUse{{Key: "flexible primer"}}, Hardware: []price.HardwareUse{{Key: "buckle-25"}}}); err != nil || len(e.Lines) != 0 || e.Total != 0 {
		t.Errorf("uses of nothing: %+v, %v", e, err)
	}
	for _, c := range []struct {
		bill price.Bill
		says []string
	}{
		{price.Bill{Sheets: []price.SheetUse{{"eva-5", []float64{1.2}}}}, []string{"eva-5", "1.2", "0 to 1"}},
		{price.Bill{Sheets: []price.SheetUse{{"eva-5", []float64{math.NaN()}}}}, []string{"eva-5", "NaN"}},
		{price.Bill{Liquids: []price.LiquidUse{{"flexible primer", -1, 1}}}, []string{"flexible primer", "area"}},
		{price.Bill{Liquids: []price.LiquidUse{{"flexible primer", 1, 0}}}, []string{"flexible primer", "coats is 0"}},
		{price.Bill{Liquids: []price.LiquidUse{{"flexible primer", geom.MM2(math.Inf(1)), 1}}}, []string{"area"}},
		{price.Bill{Hardware: []price.HardwareUse{{"buckle-25", -1, 0}}}, []string{"buckle-25", "count"}},
		{price.Bill{Hardware: []price.HardwareUse{{"buckle-25", 0, 5}}}, []string{"buckle-25", "by the piece"}},
		{price.Bill{Hardware: []price.HardwareUse{{"webbing-25", 1, 0}}}, []string{"webbing-25", "by the metre"}},
		{price.Bill{Labour: []price.LabourUse{{"Cutting", math.NaN()}}}, []string{"Cutting", "NaN"}},
	} {
		_, err := book().Estimate(c.bill)
		if err == nil {
			t.Errorf("%+v is priced", c.bill)
			continue
		}
		for _, s := range c.says {
			if !strings.Contains(err.Error(), s) {
				t.Errorf("%q does not say %q", err, s)
			}
		}
	}
	b.Rate = 1e12
	if _, err := b.Estimate(price.Bill{Labour: []price.LabourUse{{"Cutting", 1e7}}}); err == nil || !strings.Contains(err.Error(), "out of range") {
		t.Errorf("an absurd total: %v", err)
	}
}

func TestValidate(t *testing.T) {
	if err := book().Validate(); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		change func(*price.Book)
		says   string
	}{
		{func(b *price.Book) { b.Currency = "eur" }, `"EUR"`},
		{func(b *price.Book) { b.Rate = -1 }, "rate is -1"},
		{func(b *price.Book) { b.Markup = -1 }, "markup is -0.01 %"},
		{func(b *price.Book) { b.Discount = 10001 }, "discount is 100.01 %, it must be from 0 % to 100 %"},
		{func(b *price.Book) { b.TaxName = "" }, "tax_name"},
		{func(b *price.Book) { b.TaxRule = "total" }, `tax_rule is "total", it must be "line" or "invoice"`},
		{func(b *price.Book) { b.SheetRule = "" }, "sheet_rule"},
		{func(b *price.Book) { b.Sheets[0].Price = 0 }, `sheet "eva-5": price is 0`},
		{func(b *price.Book) { b.Sheets[1].Width = geom.MM(math.NaN()) }, `sheet "eva-10": width is NaN`},
		{func(b *price.Book) { b.Sheets[1].Key = "eva-5" }, `sheet "eva-5": key is given twice`},
		{func(b *price.Book) { b.Sheets[1].Key = "" }, `sheet 2: key is empty`},
		{func(b *price.Book) { b.Liquids[0].Faces = 0 }, `liquid "solvent contact cement": faces is 0`},
		{func(b *price.Book) { b.Liquids[1].Spread = 0 }, `liquid "flexible primer": spread is 0`},
		{func(b *price.Book) { b.Liquids[1].Title = "" }, `liquid "flexible primer": title`},
		{func(b *price.Book) { b.Hardware[0].PerMetre = 3 }, `hardware "buckle-25": each is 95 and per_metre is 3`},
		{func(b *price.Book) { b.Hardware[1].PerMetre = 0 }, `hardware "webbing-25": each is 0`},
		{func(b *price.Book) { b.Hardware[1].Grams = -1 }, `hardware "webbing-25": grams`},
	} {
		b := book()
		c.change(&b)
		err := b.Validate()
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%v does not say %q", err, c.says)
		}
		if _, err := b.Estimate(bill()); err == nil {
			t.Errorf("a book that is wrong prices: %s", c.says)
		}
	}
	free := book()
	free.Tax, free.TaxName, free.TaxRule = 0, "", ""
	if err := free.Validate(); err != nil {
		t.Errorf("a studio without tax: %v", err)
	}
}

// draw makes a book and a bill at random.
func draw(t *rapid.T) (price.Book, price.Bill) {
	percent := func(name string, top int64) price.Percent {
		return price.Percent(rapid.Int64Range(0, top).Draw(t, name))
	}
	b := book()
	b.Rate = price.Money(rapid.Int64Range(0, 20000).Draw(t, "rate"))
	b.Markup, b.Waste = percent("markup", 20000), percent("waste", 10000)
	b.Discount, b.Tax, b.Deposit = percent("discount", 10000), percent("tax", 10000), percent("deposit", 10000)
	b.TaxRule = rapid.SampledFrom([]price.TaxRule{price.TaxPerLine, price.TaxPerInvoice}).Draw(t, "tax rule")
	b.SheetRule = rapid.SampledFrom([]price.SheetRule{price.WholeSheets, price.SharedSheet}).Draw(t, "sheet rule")
	var u price.Bill
	for range rapid.IntRange(0, 3).Draw(t, "sheets") {
		u.Sheets = append(u.Sheets, price.SheetUse{Key: rapid.SampledFrom([]string{"eva-5", "eva-10"}).Draw(t, "sheet"),
			Shares: rapid.SliceOfN(rapid.Float64Range(0, 1), 0, 4).Draw(t, "shares")})
	}
	for range rapid.IntRange(0, 3).Draw(t, "liquids") {
		u.Liquids = append(u.Liquids, price.LiquidUse{Key: rapid.SampledFrom([]string{"flexible primer", "solvent contact cement"}).Draw(t, "liquid"),
			Area: geom.MM2(rapid.Float64Range(0, 1e7).Draw(t, "area")), Coats: rapid.IntRange(1, 5).Draw(t, "coats")})
	}
	if rapid.Bool().Draw(t, "hardware") {
		u.Hardware = []price.HardwareUse{{Key: "buckle-25", Count: rapid.IntRange(0, 30).Draw(t, "count")},
			{Key: "webbing-25", Length: geom.MM(rapid.Float64Range(0, 1e4).Draw(t, "length"))}}
	}
	for range rapid.IntRange(0, 4).Draw(t, "labour") {
		u.Labour = append(u.Labour, price.LabourUse{Title: "Work", Minutes: rapid.Float64Range(0, 3000).Draw(t, "minutes")})
	}
	return b, u
}

// TestSums: the lines add up to the subtotal, subtotal − discount + tax to the total, deposit + balance to the total.
func TestSums(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b, u := draw(t)
		e, err := b.Estimate(u)
		if err != nil {
			t.Fatal(err)
		}
		var amounts, taxes price.Money
		for _, l := range e.Lines {
			if l.Amount < 0 || l.Tax < 0 || l.Quantity == "" || l.Title == "" {
				t.Fatalf("line %+v", l)
			}
			amounts += l.Amount
			taxes += l.Tax
		}
		if amounts != e.Subtotal || e.Subtotal-e.Discount != e.Net || e.Net+e.Tax != e.Total || e.Deposit+e.Balance != e.Total {
			t.Fatalf("sums do not hold: %+v", e)
		}
		if e.Discount < 0 || e.Net < 0 || e.Tax < 0 || e.Deposit < 0 || e.Balance < 0 {
			t.Fatalf("a negative amount: %+v", e)
		}
		if b.TaxRule == price.TaxPerLine && taxes != e.Tax || b.TaxRule == price.TaxPerInvoice && taxes != 0 {
			t.Fatalf("tax does not hold: %+v", e)
		}
		// Rounding per line moves the tax by at most a half per line, and the spread of the discount by one unit per line.
		if d := e.Tax - e.Net*price.Money(b.Tax)/10000; d > price.Money(2*len(e.Lines)+2) || -d > price.Money(2*len(e.Lines)+2) {
			t.Fatalf("tax per line is %d away from tax per invoice with %d lines", d, len(e.Lines))
		}
		again, err := b.Estimate(u)
		if err != nil || !reflect.DeepEqual(e, again) {
			t.Fatal("the same input gives another estimate")
		}
	})
}

// TestMonotone: more of anything never costs less. With tax per line and a discount, the units of the discount that go
// to the largest remainders may go elsewhere; the total then keeps to within a unit per line.
func TestMonotone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b, u := draw(t)
		before, err := b.Estimate(u)
		if err != nil {
			t.Fatal(err)
		}
		more := price.Bill{Sheets: append([]price.SheetUse(nil), u.Sheets...), Liquids: append([]price.LiquidUse(nil), u.Liquids...),
			Hardware: append([]price.HardwareUse(nil), u.Hardware...), Labour: append([]price.LabourUse(nil), u.Labour...)}
		for i, s := range more.Sheets {
			more.Sheets[i].Shares = append(append([]float64(nil), s.Shares...), rapid.Float64Range(0, 1).Draw(t, "more sheet"))
		}
		for i := range more.Liquids {
			more.Liquids[i].Area += geom.MM2(rapid.Float64Range(0, 1e5).Draw(t, "more area"))
			more.Liquids[i].Coats += rapid.IntRange(0, 1).Draw(t, "more coats")
		}
		for i := range more.Hardware {
			if more.Hardware[i].Key == "buckle-25" {
				more.Hardware[i].Count += rapid.IntRange(0, 2).Draw(t, "more count")
			} else {
				more.Hardware[i].Length += geom.MM(rapid.Float64Range(0, 100).Draw(t, "more length"))
			}
		}
		for i := range more.Labour {
			more.Labour[i].Minutes += rapid.Float64Range(0, 5).Draw(t, "more minutes")
		}
		after, err := b.Estimate(more)
		if err != nil {
			t.Fatal(err)
		}
		if after.Subtotal < before.Subtotal || after.Net < before.Net {
			t.Fatalf("more costs less: %+v, then %+v", before, after)
		}
		var slack price.Money
		if b.TaxRule == price.TaxPerLine && b.Discount > 0 {
			slack = price.Money(len(after.Lines))
		}
		if after.Total+slack < before.Total {
			t.Fatalf("more costs less: %d, then %d", before.Total, after.Total)
		}
	})
}

func BenchmarkEstimate(b *testing.B) {
	bk, u := book(), bill()
	for b.Loop() {
		if _, err := bk.Estimate(u); err != nil {
			b.Fatal(err)
		}
	}
}
