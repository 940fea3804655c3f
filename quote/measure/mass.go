package measure

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Mass of a body in kilograms; zero means not given.
type Mass float64

// pound and stone in kilograms; exact by the international yard and pound agreement of 1959 (NIST SP 811, app. B).
const (
	pound Mass = 0.45359237
	stone      = 14 * pound
)

// Range of masses of bodies of any age; common practice, no source.
const (
	leastMass Mass = 2
	mostMass  Mass = 400
)

var massUnits = map[string]Mass{
	"kg": 1, "kgs": 1, "kilo": 1, "kilos": 1, "kilogram": 1, "kilograms": 1, "kilogramme": 1, "kilogrammes": 1,
	"lb": pound, "lbs": pound, "pound": pound, "pounds": pound,
	"st": stone, "stone": stone, "stones": stone,
}

// String shows a mass in both unit systems, as in "72.5 kg (160 lb)".
func (m Mass) String() string {
	if !(m > 0) || math.IsInf(float64(m), 0) {
		return "no mass"
	}
	return strconv.FormatFloat(math.Round(float64(m)*10)/10, 'f', -1, 64) + " kg (" +
		strconv.FormatFloat(math.Round(float64(m/pound)), 'f', -1, 64) + " lb)"
}

// ParseMass reads a body mass as people write it: "72.5 kg", "72,5kg", "160 lb", "11 st 6 lb". A number without a unit
// is refused. Errors are *NotUnderstood or *OutOfRange.
func ParseMass(text string) (Mass, error) {
	text = strings.TrimSpace(strings.ToValidUTF8(text, "\ufffd"))
	if text == "" || len(text) > longestText {
		return 0, &NotUnderstood{string([]rune(text)[:min(12, len([]rune(text)))]), "", "is not a weight; write it like 72.5 kg or 160 lb"}
	}
	s := strings.ToLower(typed.Replace(text))
	var sum, before Mass
	for s = strings.TrimSpace(s); s != ""; s = strings.TrimSpace(s) {
		n := 0
		for n < len(s) && (digit(s[n]) || s[n] == '.' || s[n] == ',') {
			n++
		}
		num := strings.TrimRight(s[:n], ".,")
		rest := strings.TrimSpace(s[n:])
		w := 0
		for w < len(rest) && rest[w] >= 'a' && rest[w] <= 'z' {
			w++
		}
		word := rest[:w]
		s = strings.TrimPrefix(rest[w:], ".")
		size, ok := massUnits[word]
		v, err := strconv.ParseFloat(strings.Replace(num, ",", ".", 1), 64)
		switch {
		case err != nil:
			return 0, &NotUnderstood{text, "", "is not a weight; write it like 72.5 kg or 160 lb"}
		case word == "" && before == stone:
			return 0, &NotUnderstood{text, "", fmt.Sprintf("has no unit after %s; write “%s lb”", num, text)}
		case word == "":
			return 0, &NotUnderstood{text, "", fmt.Sprintf("has no unit; write “%s kg” or “%s lb”", num, num)}
		case !ok:
			return 0, &NotUnderstood{text, word, "is not a unit of weight; write kg or lb"}
		case before != 0 && (before != stone || size != pound || v >= 14):
			return 0, &NotUnderstood{text, "", "is more than one weight; write it like 72.5 kg or 160 lb"}
		}
		sum += Mass(v) * size
		before = size
	}
	if !(sum >= leastMass && sum <= mostMass) {
		return 0, &OutOfRange{text, fmt.Sprintf("cannot be right; a weight is between %v and %v", leastMass, mostMass)}
	}
	return sum, nil
}
