// Package measure handles body measurements: their names, how people write lengths and masses, how a value is shown in both
// unit systems, which values are implausible, by themselves (Judge) or together (Check, CheckSides), and what a missing one
// is likely to be (Estimate).
//
// Keys and definitions follow ISO 8559-1 and ISO 7250-1 where those name the measurement. Parsing is strict about meaning
// and lenient about typing: comma or point, fractions, primes and curly quotes, feet with inches, metres with centimetres.
// Text with two possible meanings is refused and both readings are named; it never guesses.
//
// Comparisons and estimates are based on a survey of adult soldiers, stored as means, deviations and correlations. Outside
// the survey's adults an estimate is refused, so always for small children; callers never ask for one for a child. What
// always holds: no given value is changed or refused for being unusual; a body at either sex's means has no findings; and a
// value further from what height and mass suggest never gets a milder finding of its own.
//
// The package holds no personal body data and never logs any.
package measure

import "benchbell/quote/geom"

// Unit is the unit assumed for a bare number.
type Unit string

// Units a form can use by default; with NoUnit a bare number is ambiguous.
const (
	NoUnit Unit = ""
	MM     Unit = "mm"
	CM     Unit = "cm"
	In     Unit = "in"
)

// Def defines one measurement.
type Def struct {
	Key       string  // "wrist-girth"
	Label     string  // "Wrist girth"
	How       string  // one sentence: how to take it
	Term      string  // the standard's term and clause, if there is one
	Paired    bool    // taken left and right
	Low, High geom.MM // plausible adult range, mean ± 4 SD over both sexes if a survey has it
	Min, Max  geom.MM // impossible for a body of any age outside this: refused
	Source    string  // where Low and High come from
}

// Grade of a value compared with its plausible range.
type Grade int

// Grades.
const (
	Plausible  Grade = iota
	Unusual          // outside Low..High: marked, and needs confirmation
	Impossible       // outside Min..Max: refused
)
