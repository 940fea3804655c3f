// Package price turns quantities into money.
//
// Amounts are integer minor units of one currency with the digits ISO 4217 gives it; no float ever holds money.
// Rounding is half away from zero and happens once per line, and for tax per line or per invoice as the studio's law
// wants. Whole sheets are bought and the share a commission uses can be charged. Markup is on material, not on labour.
//
// It refuses quantities without a price, by name and with the key that is missing from the price book. What always
// holds: the lines add up to the subtotal, subtotal − discount + tax to the total, deposit + balance to the total; prices
// are without tax, which is on what is left after the discount.
//
// Nothing here looks at an estimate once it is made: its tests work every line and sum out again in rational numbers, from
// book and bill alone. That check shares with what it checks: the words of book, bill and estimate, and no reckoning.
package price

import "benchbell/quote/geom"

// Money is an amount in minor units (cents, pence, yen); the currency is the price book's.
type Money int64

// Percent in hundredths of a percent: 2100 is 21 %.
type Percent int64

// TaxRule says where tax is rounded.
type TaxRule string

// Tax rules.
const (
	TaxPerLine    TaxRule = "line"
	TaxPerInvoice TaxRule = "invoice"
)

// Book is the studio's price book. Keys are the names used by patterns and finishes.
type Book struct {
	Currency  string     `json:"currency" toml:"currency"` // ISO 4217 code
	Rate      Money      `json:"rate" toml:"rate"`         // per labour hour
	Markup    Percent    `json:"markup" toml:"markup"`     // on material
	Waste     Percent    `json:"waste" toml:"waste"`       // added to adhesives, coats and webbing
	Discount  Percent    `json:"discount" toml:"discount"` // on the whole
	Tax       Percent    `json:"tax" toml:"tax"`
	TaxName   string     `json:"tax_name" toml:"tax_name"`
	TaxRule   TaxRule    `json:"tax_rule" toml:"tax_rule"`
	Deposit   Percent    `json:"deposit" toml:"deposit"`
	SheetRule SheetRule  `json:"sheet_rule" toml:"sheet_rule"`
	Sheets    []Sheet    `json:"sheets" toml:"sheets"`
	Liquids   []Liquid   `json:"liquids" toml:"liquids"`
	Hardware  []Hardware `json:"hardware" toml:"hardware"`
}

// SheetRule says what of a bought sheet the client pays.
type SheetRule string

// Sheet rules: every sheet bought in full, or the share used and the rest to the shelf.
const (
	WholeSheets SheetRule = "whole"
	SharedSheet SheetRule = "share"
)

// Sheet is foam as bought.
type Sheet struct {
	Key       string  `json:"key" toml:"key"` // "eva-5-1000x500"
	Thickness geom.MM `json:"thickness" toml:"thickness"`
	Width     geom.MM `json:"width" toml:"width"`
	Height    geom.MM `json:"height" toml:"height"`
	Density   float64 `json:"density" toml:"density"` // kg/m³
	Price     Money   `json:"price" toml:"price"`
}

// Liquid is an adhesive or coating, bought by the litre and used by the square metre.
type Liquid struct {
	Key      string  `json:"key" toml:"key"`     // cure table key: "solvent contact cement"
	Title    string  `json:"title" toml:"title"` // as printed
	PerLitre Money   `json:"per_litre" toml:"per_litre"`
	Spread   float64 `json:"spread" toml:"spread"` // m² per litre and coat (one face)
	Faces    int     `json:"faces" toml:"faces"`   // 2 for a contact adhesive, else 1
}

// Hardware is priced by the piece, or per metre where PerMetre is set.
type Hardware struct {
	Key      string  `json:"key" toml:"key"`
	Title    string  `json:"title" toml:"title"`
	Each     Money   `json:"each,omitempty" toml:"each"`
	PerMetre Money   `json:"per_metre,omitempty" toml:"per_metre"`
	Grams    float64 `json:"grams,omitempty" toml:"grams"` // each, or per metre
}

// Bill is everything a commission uses.
type Bill struct {
	Sheets   []SheetUse    `json:"sheets"`
	Liquids  []LiquidUse   `json:"liquids"`
	Hardware []HardwareUse `json:"hardware"`
	Labour   []LabourUse   `json:"labour"`
}

// SheetUse is a number of bought sheets and the share of each that becomes pieces.
type SheetUse struct {
	Key    string    `json:"key"`
	Shares []float64 `json:"shares"` // one per sheet, 0..1
}

// LiquidUse is an area covered by a number of coats; area is one face, the glued joint for an adhesive.
type LiquidUse struct {
	Key   string   `json:"key"`
	Area  geom.MM2 `json:"area"`
	Coats int      `json:"coats"`
}

// HardwareUse is a count or a length.
type HardwareUse struct {
	Key    string  `json:"key"`
	Count  int     `json:"count,omitempty"`
	Length geom.MM `json:"length,omitempty"`
}

// LabourUse is time at the bench, expected minutes.
type LabourUse struct {
	Title   string  `json:"title"`
	Minutes float64 `json:"minutes"`
}

// Section groups lines as printed.
type Section string

// Sections in printing order.
const (
	Foam        Section = "foam"
	Consumables Section = "consumables"
	Fittings    Section = "fittings"
	Labour      Section = "labour"
)

// Line is one line of the quote; Amount is after markup, before discount and tax.
type Line struct {
	Section  Section `json:"section"`
	Title    string  `json:"title"`
	Quantity string  `json:"quantity"` // formatted with its unit: "2 sheets, 71 % used"
	Amount   Money   `json:"amount"`
	Tax      Money   `json:"tax"` // only where tax is rounded per line
}

// Estimate is the priced bill.
type Estimate struct {
	Currency string  `json:"currency"`
	Lines    []Line  `json:"lines"`
	Subtotal Money   `json:"subtotal"`
	Discount Money   `json:"discount"` // subtracted
	Net      Money   `json:"net"`
	TaxName  string  `json:"tax_name"`
	TaxRate  Percent `json:"tax_rate"`
	Tax      Money   `json:"tax"`
	Total    Money   `json:"total"`
	Deposit  Money   `json:"deposit"`
	Balance  Money   `json:"balance"`
}
