package measure

import (
	"errors"
	"slices"
	"strings"
	"unicode"

	"benchbell/quote/geom"
)

// Listed is one measurement of a list that somebody wrote.
type Listed struct {
	Key  string
	Side string // "left" or "right" where it was said; empty: neither
	Text string // the length as written, for Parse
}

// List reads measurements that are written one to a line, or with semicolons between them: "Wrist girth: 17 cm", "left forearm 27,5".
// Of the measurements in want it takes the one that a line names, in its own words or in others that people use. Rest are the lines
// of which it cannot be said what they are, as they were written.
func List(text string, want []Def) (found []Listed, rest []string) {
	for _, line := range strings.FieldsFunc(text, func(r rune) bool { return r == '\n' || r == '\r' || r == ';' }) {
		line = strings.TrimSpace(line)
		if line == "" {
			continue
		}
		name, length := line, ""
		if i := strings.IndexFunc(line, unicode.IsDigit); i > 0 {
			name, length = line[:i], strings.TrimSpace(line[i:])
		}
		side, words := "", namesOf(name)
		words = slices.DeleteFunc(words, func(w string) bool {
			switch w {
			case "left", "l":
				side = "left"
			case "right", "r":
				side = "right"
			default:
				return false
			}
			return true
		})
		d, ok := named(words, want)
		if !ok || length == "" {
			rest = append(rest, line)
			continue
		}
		found = append(found, Listed{Key: d.Key, Side: side, Text: length})
	}
	return found, rest
}

// synonyms are other words for those in a label; what kind of length it is stands last among them.
var synonyms = map[string]string{"circumference": "girth", "round": "girth", "around": "girth", "width": "breadth", "wide": "breadth", "bust": "chest",
	"hips": "hip", "seat": "hip", "bicep": "upper arm", "biceps": "upper arm", "tall": "height", "stature": "height", "feet": "foot", "knees": "knee", "shoulders": "shoulder",
	"thighs": "thigh", "calves": "calf", "ankles": "ankle", "wrists": "wrist", "forearms": "forearm", "hands": "hand", "lower": ""}

// kinds of length are in the labels of several measurements, and often left out.
var kinds = []string{"girth", "length", "breadth", "height"}

// linking words name nothing.
var linking = []string{"to", "the", "of", "a", "and", "is", "my", "in", "bone", "at"}

// namesOf are the words of a name in the words that labels have.
func namesOf(name string) []string {
	var out []string
	for _, w := range strings.FieldsFunc(strings.ToLower(name), func(r rune) bool { return !unicode.IsLetter(r) }) {
		if s, ok := synonyms[w]; ok {
			w = s
		}
		for _, w := range strings.Fields(w) {
			if !slices.Contains(linking, w) && !slices.Contains(out, w) {
				out = append(out, w)
			}
		}
	}
	return out
}

// named is the measurement whose label has the most in common with the words: all that is its own, and none of the words foreign to it.
func named(words []string, want []Def) (best Def, ok bool) {
	most, tied := 0, false
	for _, d := range want {
		label := namesOf(d.Label)
		own, score := 0, 0
		for _, w := range label {
			is := slices.Contains(words, w)
			switch {
			case is && slices.Contains(kinds, w):
				score++
			case is:
				own++
				score += 4
			case !slices.Contains(kinds, w):
				own = -len(label) // lacks what tells it from others
			}
		}
		if onlyKinds := !slices.ContainsFunc(label, func(w string) bool { return !slices.Contains(kinds, w) }); onlyKinds {
			if len(words) != len(label) || score < len(label) {
				continue // "height" alone is how tall somebody is
			}
		} else if own <= 0 {
			continue
		}
		for _, w := range words {
			if slices.Contains(kinds, w) && !slices.Contains(label, w) {
				score -= 3 // another kind of length of the same part
			}
		}
		if slices.Contains(label, "girth") && !slices.ContainsFunc(words, func(w string) bool { return slices.Contains(kinds, w) }) {
			score++ // "waist 80" is the way round it
		}
		switch {
		case score > most:
			best, most, tied = d, score, false
		case score == most:
			tied = true
		}
	}
	return best, most > 0 && !tied
}

// Unitless reports whether a length is written without a unit, so that the one of its form has to be added.
func Unitless(text string) bool {
	_, err := Parse(text, NoUnit)
	var no *MissingUnit
	return errors.As(err, &no)
}

// Middle is a body in the middle of what is plausible for adults: for what would be, where nobody was measured yet.
func Middle() map[string]geom.MM {
	out := map[string]geom.MM{}
	for _, d := range defs {
		out[d.Key] = (d.Low + d.High) / 2
	}
	return out
}
