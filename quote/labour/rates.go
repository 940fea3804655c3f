package labour

import (
	"errors"
	"fmt"
	"math"
	"strings"
)

// Rates is a studio's table of rates, in the order of the work; each operation appears at most once.
type Rates []Rate

// Upper bounds on rates, so that a typing mistake is caught before it becomes a price.
const (
	maxMinutes  = 24 * 60 // a whole day for one set-up or one unit
	maxFactor   = 20      // pessimistic against likely
	maxQuantity = 1e7     // units of work, ten thousand kilometres of cut
	maxFoam     = 200     // mm; the thickest foam sold as sheet is far thinner
)

// Validate says what is wrong with the table: every mistake, with operation and field.
func (r Rates) Validate() error {
	var errs []error
	seen := make(map[string]bool, len(r))
	for i, x := range r {
		bad := func(field, format string, args ...any) {
			errs = append(errs, fmt.Errorf("labour rate %d (%q): %s %s", i+1, x.Op, field, fmt.Sprintf(format, args...)))
		}
		if strings.TrimSpace(x.Op) == "" {
			bad("op", "is empty; name the operation")
		}
		if seen[x.Op] {
			bad("op", "is listed twice; give each operation one rate")
		}
		seen[x.Op] = true
		if strings.TrimSpace(x.Title) == "" {
			bad("title", "is empty; give the text that the quote prints")
		}
		switch x.Unit {
		case Metre, SquareMetre, Each, Job:
		default:
			bad("unit", "is %q; it must be \"m\", \"m2\", \"each\" or \"job\"", x.Unit)
		}
		for _, f := range []struct {
			name     string
			v        float64
			low, top float64
		}{
			{"set_up", x.SetUp, 0, maxMinutes},
			{"per_unit", x.PerUnit, 0, maxMinutes},
			{"per_mm", x.PerMM, 0, maxMinutes},
			{"low", x.Low, 0, 1},
			{"high", x.High, 1, maxFactor},
		} {
			// Written so that NaN fails too.
			if !(f.v >= f.low && f.v <= f.top) {
				bad(f.name, "is %g; it must be from %g to %g", f.v, f.low, f.top)
			}
		}
	}
	return errors.Join(errs...)
}

// Find is the rate of an operation.
func (r Rates) Find(op string) (Rate, bool) {
	for _, x := range r {
		if x.Op == op {
			return x, true
		}
	}
	return Rate{}, false
}

// Estimate is the time for one batch of work: set-up once, then minutes per unit.
//
// A quantity of zero takes no time, not even set-up: a step with nothing to do is not set up for. The error names the
// operation without a rate, or the invalid quantity.
func (r Rates) Estimate(w Work) (Time, error) {
	x, ok := r.Find(w.Op)
	if !ok {
		return Time{}, fmt.Errorf("there is no labour rate for %q; add one to the studio's rates", w.Op)
	}
	if !(w.Quantity >= 0 && w.Quantity <= maxQuantity) {
		return Time{}, fmt.Errorf("the quantity of %q is %g %s; it must be from 0 to %g", w.Op, w.Quantity, x.Unit, float64(maxQuantity))
	}
	if !(w.Thickness >= 0 && w.Thickness <= maxFoam) {
		return Time{}, fmt.Errorf("the foam thickness of %q is %g mm; it must be from 0 to %d mm", w.Op, w.Thickness, maxFoam)
	}
	if w.Quantity == 0 {
		return Time{}, nil
	}
	likely := x.SetUp + w.Quantity*(x.PerUnit+x.PerMM*w.Thickness)
	t := Time{Low: likely * x.Low, Likely: likely, High: likely * x.High}
	if math.IsInf(t.High, 0) || math.IsNaN(t.Expected()) {
		return Time{}, fmt.Errorf("the time for %g %s of %q is out of range; check the studio's rate", w.Quantity, x.Unit, w.Op)
	}
	return t, nil
}

// DefaultRates is a starting point for a studio of two, until it has logged its own times.
//
// Every figure is common practice, no source: no published standard times for foam armour were found. Minutes are hands-on
// work; drying and curing are not labour.
func DefaultRates() Rates {
	return Rates{
		{Op: "cut", Title: "Cutting foam", Unit: Metre, SetUp: 10, PerUnit: 1.0, PerMM: 0.15, Low: 0.8, High: 1.6},
		{Op: "bevel", Title: "Bevelling and sanding edges", Unit: Metre, SetUp: 10, PerUnit: 3.0, PerMM: 0.2, Low: 0.7, High: 1.8},
		{Op: "score", Title: "Scoring and opening detail lines", Unit: Metre, SetUp: 5, PerUnit: 4.0, Low: 0.7, High: 1.7},
		{Op: "form", Title: "Heat forming", Unit: SquareMetre, SetUp: 10, PerUnit: 40, PerMM: 4, Low: 0.7, High: 2.0},
		{Op: "glue", Title: "Gluing seams and darts", Unit: Metre, SetUp: 15, PerUnit: 8, PerMM: 0.2, Low: 0.75, High: 1.9},
		{Op: "layer", Title: "Laying on plates and trim", Unit: SquareMetre, SetUp: 10, PerUnit: 75, Low: 0.7, High: 1.8},
		{Op: "punch", Title: "Punching and drilling holes", Unit: Each, SetUp: 5, PerUnit: 0.75, Low: 0.7, High: 1.5},
		{Op: "seal", Title: "Heat sealing", Unit: SquareMetre, SetUp: 5, PerUnit: 20, Low: 0.8, High: 1.5},
		{Op: "prime", Title: "Priming, per coat", Unit: SquareMetre, SetUp: 15, PerUnit: 15, Low: 0.8, High: 1.5},
		{Op: "paint", Title: "Painting, per coat", Unit: SquareMetre, SetUp: 20, PerUnit: 45, Low: 0.7, High: 2.0},
		{Op: "wash", Title: "Washes and weathering", Unit: SquareMetre, SetUp: 15, PerUnit: 60, Low: 0.6, High: 2.2},
		{Op: "clear", Title: "Clear coating, per coat", Unit: SquareMetre, SetUp: 15, PerUnit: 12, Low: 0.8, High: 1.5},
		{Op: "hardware", Title: "Fitting hardware and straps", Unit: Each, SetUp: 10, PerUnit: 3, Low: 0.7, High: 1.8},
		{Op: Fit, Title: "First fitting", Unit: Job, SetUp: 10, PerUnit: 20, Low: 0.7, High: 1.8},
		{Op: Final, Title: "Final fitting", Unit: Job, SetUp: 10, PerUnit: 10, Low: 0.7, High: 2.0},
		{Op: Pictures, Title: "Fitting by pictures", Unit: Job, SetUp: 10, PerUnit: 5, Low: 0.7, High: 2.0},
		{Op: "pack", Title: "Photographs and packing", Unit: Job, SetUp: 0, PerUnit: 30, Low: 0.8, High: 1.7},
	}
}
