// Package labour turns work measured on the pattern (metres cut, area coated, holes, pieces) into time.
//
// A rate is set-up plus minutes per unit, with a low and a high factor. These give the three points of an estimate, its
// expected value (O+4M+P)/6 and its standard deviation (P−O)/6 (PERT). The package knows nothing of money or dates.
//
// It refuses work for which the studio has no rate, by name. What always holds: low ≤ likely ≤ high, and more work never
// takes less time.
package labour

// Unit is what a rate is charged by.
type Unit string

// Units.
const (
	Metre       Unit = "m"
	SquareMetre Unit = "m2"
	Each        Unit = "each"
	Job         Unit = "job"
)

// Ops of fittings; whoever can do the first can do the others.
const (
	Fit      = "fit"      // the first fitting: the raw parts on the client
	Final    = "final"    // the final fitting: the finished work on the client
	Pictures = "pictures" // looking at the pictures of a fitting elsewhere, and answering
)

// Rate is the rate for one kind of operation.
type Rate struct {
	Op      string  `json:"op"` // "cut", "bevel", "score", "form", "glue", "layer", "punch", "seal", "prime", "paint", "wash", "clear", "hardware", "fit", "final", "pictures", "pack"
	Title   string  `json:"title"`
	Unit    Unit    `json:"unit"`
	SetUp   float64 `json:"set_up"`   // minutes per batch
	PerUnit float64 `json:"per_unit"` // minutes per unit
	PerMM   float64 `json:"per_mm"`   // added to PerUnit for each millimetre of foam thickness
	Low     float64 `json:"low"`      // optimistic / likely, ≤ 1
	High    float64 `json:"high"`     // pessimistic / likely, ≥ 1
}

// Work is a quantity of one operation.
type Work struct {
	Op        string
	Quantity  float64 // in the rate's unit
	Thickness float64 // mm, if the rate has PerMM
}

// Time is a three-point estimate in minutes.
type Time struct {
	Low    float64 `json:"low"`
	Likely float64 `json:"likely"`
	High   float64 `json:"high"`
}
