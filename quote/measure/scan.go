package measure

import (
	"strings"
	"unicode"

	"benchbell/quote/geom"
)

// longestText bounds the text that is read, in bytes; the longest sensible entry has some twenty characters.
const longestText = 64

// kind of token.
type kind int

const (
	number kind = iota // digits with , and . inside
	unit
	slash
	dash
)

// token is part of the text; mm is the size of a unit.
type token struct {
	kind kind
	text string
	mm   geom.MM
}

// units by the words people write; exact by the international yard and pound agreement of 1959 (NIST SP 811, app. B).
var units = map[string]geom.MM{
	"mm": 1, "millimetre": 1, "millimetres": 1, "millimeter": 1, "millimeters": 1,
	"cm": 10, "cms": 10, "centimetre": 10, "centimetres": 10, "centimeter": 10, "centimeters": 10,
	"dm": 100,
	"m":  1000, "metre": 1000, "metres": 1000, "meter": 1000, "meters": 1000,
	"thou": geom.Inch / 1000,
	"in":   geom.Inch, "ins": geom.Inch, "inch": geom.Inch, "inches": geom.Inch, `"`: geom.Inch,
	"ft": geom.Foot, "foot": geom.Foot, "feet": geom.Foot, "'": geom.Foot,
	"yd": 3 * geom.Foot, "yds": 3 * geom.Foot, "yard": 3 * geom.Foot, "yards": 3 * geom.Foot,
}

// typed maps the many characters of keyboards and phones to one each: spaces, primes and quotes, dashes, fractions.
var typed = strings.NewReplacer(
	"\u00a0", " ", "\u202f", " ", "\u2009", " ", "\u2007", " ", "\t", " ",
	"''", `"`, "’’", `"`, "′′", `"`, "‘‘", `"`,
	"′", "'", "’", "'", "‘", "'", "´", "'", "`", "'", "ʹ", "'",
	"″", `"`, "”", `"`, "“", `"`, "„", `"`, "ʺ", `"`,
	"\u2212", "-", "\u2010", "-", "\u2011", "-", "–", "-", "—", "-",
	"\u2044", "/", "\u2215", "/",
	"½", " 1/2", "⅓", " 1/3", "⅔", " 2/3", "¼", " 1/4", "¾", " 3/4", "⅛", " 1/8", "⅜", " 3/8", "⅝", " 5/8", "⅞", " 7/8",
	"⅕", " 1/5", "⅖", " 2/5", "⅗", " 3/5", "⅘", " 4/5", "⅙", " 1/6", "⅚", " 5/6", "⅐", " 1/7", "⅑", " 1/9", "⅒", " 1/10",
)

// scan splits the text into tokens.
func scan(text string) ([]token, error) {
	var out []token
	for _, r := range text {
		if r > unicode.MaxASCII && unicode.IsDigit(r) {
			// Reading them would be easy; showing the value back to people who may not be able to read them, and knowing
			// which character is their decimal sign, is not.
			return nil, &NotUnderstood{text, string(r), "is a digit of another script; write the number with the digits 0 to 9"}
		}
	}
	s := strings.ToLower(strings.TrimSpace(typed.Replace(text)))
	for i := 0; i < len(s); {
		j := i + 1
		switch c := s[i]; {
		case c == ' ':
		case digit(c) || (c == '.' || c == ',') && j < len(s) && digit(s[j]):
			for j < len(s) && (digit(s[j]) || (s[j] == '.' || s[j] == ',') && j+1 < len(s) && digit(s[j+1])) {
				j++
			}
			out = append(out, token{kind: number, text: s[i:j]})
		case c == '/':
			out = append(out, token{kind: slash, text: "/"})
		case c == '-':
			out = append(out, token{kind: dash, text: "-"})
		case c == '\'' || c == '"':
			out = append(out, token{unit, s[i:j], units[s[i:j]]})
		case c >= 'a' && c <= 'z':
			for j < len(s) && s[j] >= 'a' && s[j] <= 'z' {
				j++
			}
			word := s[i:j]
			mm, ok := units[word]
			switch {
			case word == "mil" || word == "mils":
				return nil, &Ambiguous{text, []string{"millimetres (mm)", "thousandths of an inch (thou)"}}
			case !ok && !strings.ContainsAny(s, "0123456789"):
				return nil, &NotUnderstood{text, "", "is not a length; write it like 97.5 cm or 38 1/2 in"}
			case !ok:
				return nil, &NotUnderstood{text, word, "is not a unit; write mm, cm, m, in or ft"}
			}
			if j < len(s) && s[j] == '.' { // the point of an abbreviation
				j++
			}
			out = append(out, token{unit, word, mm})
		default:
			r := []rune(s[i:])[0]
			return nil, &NotUnderstood{text, string(r), "is not understood; write a length such as 97.5 cm or 38 1/2 in"}
		}
		i = j
	}
	return out, nil
}

func digit(c byte) bool { return c >= '0' && c <= '9' }
