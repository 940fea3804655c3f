// Package measure knows body measurements: their names, how people write lengths and masses, how a value is shown back
// in both unit systems, which values are implausible, by themselves (Judge) or beside each other (Check, CheckSides),
// and what a missing one is likely to be (Estimate).
//
// Keys and definitions follow ISO 8559-1 and ISO 7250-1 where those name the measurement. Parsing is strict about
// meaning and lenient about typing: comma or point, fractions, primes and curly quotes, feet with inches, metres with
// centimetres. What could mean two things is refused with the two readings named, never guessed.
//
// Comparisons and estimates rest on a survey of adult soldiers and are carried as means, deviations and correlations.
// An estimate is refused outside the survey's adults, so for small children always; the caller never asks for a child.
// What always holds: nothing that is given is changed or refused for being unusual, a body at either sex's means has no
// findings, and a value further from what height and mass lead one to expect never gets a milder finding of its own.
//
// It holds no body data of a person and never logs one.
package measure

import "benchbell/quote/geom"

// Unit is the unit assumed for a bare number.
type Unit string

// Units a form can have as its default; NoUnit makes a bare number ambiguous.
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
	Term      string  // the standard's term and clause where there is one
	Paired    bool    // taken left and right
	Low, High geom.MM // plausible adult range, mean ± 4 SD over both sexes where a survey has it
	Min, Max  geom.MM // outside this it cannot be a body of any age: refused
	Source    string  // where Low and High are from
}

// Grade of a value against its plausible range.
type Grade int

// Grades.
const (
	Plausible  Grade = iota
	Unusual          // outside Low..High: marked, and asked to be confirmed
	Impossible       // outside Min..Max: refused
)
