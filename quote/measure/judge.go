package measure

import (
	"fmt"
	"math"
	"strconv"

	"benchbell/quote/geom"
)

// Judge grades a value of the measurement and says so in plain words to the person who gave it.
//
// If the value would be ordinary in another unit, the sentence says which: the wrong unit is the most common mistake.
// Nothing is corrected.
func (d Def) Judge(l geom.MM) (Grade, string) {
	switch {
	case !(l >= d.Min && l <= d.Max): // NaN too
		return Impossible, fmt.Sprintf("%s of %s cannot be right; it must be between %s and %s.%s Please measure again.",
			d.Label, Format(l), Format(d.Min), Format(d.Max), d.slip(l))
	case l < d.Low || l > d.High:
		return Unusual, fmt.Sprintf("%s of %s is unusual for an adult; most are between %s and %s.%s Please check it or confirm it.",
			d.Label, Format(l), Format(d.Low), Format(d.High), d.slip(l))
	}
	return Plausible, fmt.Sprintf("%s of %s is within the usual range.", d.Label, Format(l))
}

// slip names the value that a mistaken unit or decimal place would explain, if there is one.
func (d Def) slip(l geom.MM) string { return slipInto(l, float64(d.Low), float64(d.High)) }

// slipInto names the value within the range that a mistaken unit or decimal place would explain, if there is one.
func slipInto(l geom.MM, low, high float64) string {
	for _, factor := range []geom.MM{
		2.54,     // inches read as centimetres
		1 / 2.54, // centimetres read as inches
		10,       // centimetres read as millimetres, or a decimal place too few
		0.1,      // millimetres read as centimetres, or a decimal place too many
		25.4,     // inches read as millimetres
		100,      // metres read as centimetres
	} {
		if x := l * factor; float64(x) >= low && float64(x) <= high {
			return fmt.Sprintf(" Did you mean %s?", Format(x))
		}
	}
	return ""
}

// inchParts is the fraction of an inch shown: an eighth is what a sewing tape has, and anything finer would claim more
// precision than a tape around a limb can give.
const inchParts = 8

// Format shows a length in both unit systems: centimetres to a millimetre, and inches to the nearest eighth, as in
// "97.5 cm (38 3/8 in)". Below a centimetre it shows millimetres to a tenth.
//
// Parse reads the metric part back to within half a millimetre.
func Format(l geom.MM) string {
	if !(l >= 0) || math.IsInf(float64(l), 0) {
		return "no length"
	}
	return metric(l) + " (" + inches(l) + ")"
}

func metric(l geom.MM) string {
	if l < 10 {
		return l.String()
	}
	return strconv.FormatFloat(math.Round(float64(l))/10, 'f', -1, 64) + " cm"
}

func inches(l geom.MM) string {
	n := math.Round(float64(l/geom.Inch) * inchParts)
	if n >= 1<<53 { // beyond exact whole numbers an eighth means nothing
		return strconv.FormatFloat(float64(l/geom.Inch), 'g', 6, 64) + " in"
	}
	if n == 0 && l > 0 {
		return fmt.Sprintf("under 1/%d in", inchParts)
	}
	whole, num, den := int64(n)/inchParts, int64(n)%inchParts, int64(inchParts)
	for num > 0 && num%2 == 0 {
		num, den = num/2, den/2
	}
	switch {
	case num == 0:
		return fmt.Sprintf("%d in", whole)
	case whole == 0:
		return fmt.Sprintf("%d/%d in", num, den)
	}
	return fmt.Sprintf("%d %d/%d in", whole, num, den)
}
