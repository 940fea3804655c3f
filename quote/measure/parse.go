package measure

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"benchbell/quote/geom"
)

// longest is the longest length accepted, in millimetres: nothing measured on a body or worn comes near ten metres. It also
// decides what is ambiguous: 1.750 mm may have a thousands separator, 38.125 in cannot, for nobody is 38125 inches around.
const longest geom.MM = 10_000

// Parse reads a length as people write it; def is the unit of a bare number, and with NoUnit a bare number is refused.
//
// The result is finite, above zero and at most ten metres. Errors are *Ambiguous, *MissingUnit, *NotUnderstood or
// *OutOfRange and say what to write instead. Digits of other scripts are refused on purpose.
func Parse(text string, def Unit) (geom.MM, error) {
	text = strings.TrimSpace(strings.ToValidUTF8(text, "\ufffd"))
	if text == "" {
		return 0, &NotUnderstood{text, "", "is empty; write a length such as 97.5 cm or 38 1/2 in"}
	}
	if len(text) > longestText {
		return 0, &NotUnderstood{string([]rune(text)[:12]) + "…", "", "is too long for one length; write it like 97.5 cm or 38 1/2 in"}
	}
	tokens, err := scan(text)
	if err != nil {
		return 0, err
	}
	parts, err := split(text, tokens)
	if err != nil {
		return 0, err
	}
	l, err := add(text, parts, def)
	if err != nil {
		return 0, err
	}
	switch {
	case math.IsNaN(float64(l)) || l <= 0:
		return 0, &OutOfRange{text, "is too short; a length must be more than zero"}
	case l > longest:
		return 0, &OutOfRange{text, fmt.Sprintf("is longer than %g m; check the unit", longest.M())}
	}
	return l, nil
}

// part is a run of number tokens and the unit after it, if any.
type part struct {
	run  []token
	unit token // text is empty if there is none
}

// split groups the tokens into runs that each end with a unit; only the last may lack one.
func split(text string, tokens []token) ([]part, error) {
	if len(tokens) > 0 && tokens[0].kind == dash {
		return nil, &OutOfRange{text, "is negative; a length must be more than zero"}
	}
	var out []part
	var run []token
	for _, t := range tokens {
		switch {
		case t.kind != unit:
			if t.kind == dash && len(run) == 0 { // 5'-11"
				continue
			}
			run = append(run, t)
		case len(run) == 0:
			return nil, &NotUnderstood{text, t.text, "has no number before it; write the number and then its unit"}
		default:
			out = append(out, part{run, t})
			run = nil
		}
	}
	if len(run) > 0 {
		out = append(out, part{run: run})
	}
	return out, nil
}

// add is the sum of the parts, checked to be one length: units of one system, each smaller than the one before.
func add(text string, parts []part, def Unit) (geom.MM, error) {
	var sum geom.MM
	for i, p := range parts {
		size := p.unit.mm
		if p.unit.text == "" {
			var err error
			if i == 0 {
				size, err = bare(text, p.run, def)
			} else {
				size, err = implied(text, parts[i-1].unit, p.run)
			}
			if err != nil {
				return 0, err
			}
		}
		v, whole, err := value(text, p.run, size, p.unit.text)
		if err != nil {
			return 0, err
		}
		if i > 0 {
			before := parts[i-1].unit
			last := geom.MM(v) * size
			switch {
			case size >= before.mm || imperial(size) != imperial(before.mm):
				return 0, &NotUnderstood{text, p.unit.text, fmt.Sprintf("does not go with the %s before it; write one length in one unit", name(before.mm))}
			case last >= before.mm:
				return 0, &OutOfRange{text, fmt.Sprintf("has %g %s after %s; it must be less than %g",
					v, name(size), name(before.mm), math.Round(float64(before.mm/size)))}
			}
		}
		if i < len(parts)-1 && !whole {
			return 0, &NotUnderstood{text, p.run[0].text, fmt.Sprintf("must be a whole number of %s because another part follows", name(p.unit.mm))}
		}
		sum += geom.MM(v) * size
	}
	return sum, nil
}

// bare is the size of the unit of a bare number.
func bare(text string, run []token, def Unit) (geom.MM, error) {
	if a, b, ok := pair(run); ok {
		return 0, &Ambiguous{text, []string{fmt.Sprintf("%s ft %s in", a, b), fmt.Sprintf("something from %s to %s", a, b)}}
	}
	if len(run) == 3 && run[1].kind == slash && run[0].kind == number && run[2].kind == number {
		// On a ruler only halves of halves occur; anything else is more likely feet and inches, or a mistake.
		if d, err := strconv.Atoi(run[2].text); err == nil && d > 0 && d&(d-1) != 0 {
			return 0, &Ambiguous{text, []string{text + " in", fmt.Sprintf("%s ft %s in", run[0].text, run[2].text)}}
		}
	}
	switch def {
	case MM:
		return 1, nil
	case CM:
		return 10, nil
	case In:
		return geom.Inch, nil
	case NoUnit:
		// A unit would not help if this is not a number.
		if _, _, err := value(text, run, geom.Inch, ""); errors.As(err, new(*NotUnderstood)) {
			return 0, err
		}
		return 0, &MissingUnit{text}
	}
	return 0, fmt.Errorf("the default unit is %q; it must be %q, %q, %q or none", def, MM, CM, In)
}

// pair is two numbers with a dash or a space between them that may be feet and inches.
func pair(run []token) (a, b string, ok bool) {
	n := len(run)
	if n != 2 && !(n == 3 && run[1].kind == dash) || run[0].kind != number || run[n-1].kind != number {
		return "", "", false
	}
	a, b = run[0].text, run[n-1].text
	in, err := strconv.Atoi(b)
	return a, b, err == nil && in < 12 && len(a) == 1
}

// implied is the unit of a number without one that follows another part: 5'11 and 1m75.
func implied(text string, before token, run []token) (geom.MM, error) {
	switch {
	case before.mm == geom.Foot:
		return geom.Inch, nil
	case before.mm == 1000 && len(run) == 1:
		switch d := run[0].text; {
		case strings.ContainsAny(d, ".,"):
		case len(d) == 2 || d == "0":
			return 10, nil
		case len(d) == 3:
			return 1, nil
		case len(d) == 1:
			head, _, _ := strings.Cut(strings.ToLower(text), "m")
			head = strings.TrimSpace(head)
			return 0, &Ambiguous{text, []string{head + ".0" + d + " m", head + "." + d + " m"}}
		}
	}
	return 0, &NotUnderstood{text, run[0].text, fmt.Sprintf("has no unit after %s; write its unit", name(before.mm))}
}

// value of a run of number tokens, and whether it is written as a whole number.
func value(text string, run []token, size geom.MM, unitText string) (v float64, whole bool, err error) {
	shape := make([]byte, len(run))
	for i, t := range run {
		shape[i] = "nu/-"[t.kind]
	}
	switch s := string(shape); {
	case s == "n":
		v, err = decimal(text, run[0].text, size, unitText)
		return v, plain(run[0].text), err
	case s == "n/n":
		v, err = fraction(text, run[0].text, run[2].text)
		return v, false, err
	case s == "nn/n" || s == "n-n/n":
		n := len(run)
		if !plain(run[0].text) {
			return 0, false, &NotUnderstood{text, run[0].text, "must be a whole number before a fraction"}
		}
		w, err := strconv.ParseFloat(run[0].text, 64)
		if err != nil {
			return 0, false, &NotUnderstood{text, run[0].text, "is too large"}
		}
		f, err := fraction(text, run[n-3].text, run[n-1].text)
		if err != nil {
			return 0, false, err
		}
		if f >= 1 {
			return 0, false, &NotUnderstood{text, run[n-3].text + "/" + run[n-1].text, "must be less than one after a whole number"}
		}
		return w + f, false, nil
	case strings.Trim(s, "n") == "":
		return grouped(text, run)
	case s == "n-n":
		return 0, false, &NotUnderstood{text, run[0].text + "-" + run[2].text, "is a range; write one length"}
	}
	return 0, false, &NotUnderstood{text, "", "is not one number; write a length such as 97.5 cm or 38 1/2 in"}
}

// grouped is a number whose thousands are separated by spaces, as in the SI brochure.
func grouped(text string, run []token) (float64, bool, error) {
	joined := ""
	for i, t := range run {
		digits, _, _ := strings.Cut(strings.ReplaceAll(t.text, ",", "."), ".")
		last := i == len(run)-1
		if i == 0 && len(digits) > 3 || i > 0 && len(digits) != 3 || !last && !plain(t.text) || strings.Count(t.text, ".")+strings.Count(t.text, ",") > 1 {
			return 0, false, &NotUnderstood{text, run[0].text + " " + run[1].text, "are two numbers; write one length with its unit"}
		}
		joined += t.text
	}
	v, err := strconv.ParseFloat(strings.ReplaceAll(joined, ",", "."), 64)
	if err != nil {
		return 0, false, &NotUnderstood{text, joined, "is not a number"}
	}
	return v, plain(joined), nil
}

// decimal reads a number with comma or point, grouped or not, and refuses one that could be read either way.
func decimal(text, s string, size geom.MM, unitText string) (float64, error) {
	comma, point := strings.LastIndexByte(s, ','), strings.LastIndexByte(s, '.')
	at := max(comma, point)
	bad := &NotUnderstood{text, s, "is not a number; write it without separators"}
	whole, frac := s, ""
	switch {
	case at < 0:
	case comma >= 0 && point >= 0:
		if strings.Count(s, s[at:at+1]) > 1 {
			return 0, bad
		}
		whole, frac = s[:at], s[at+1:]
	case strings.Count(s, s[at:at+1]) == 1:
		whole, frac = s[:at], s[at+1:]
		if len(frac) == 3 && len(whole) >= 1 && len(whole) <= 3 && whole[0] != '0' {
			g, err := strconv.ParseFloat(whole+frac, 64)
			if err == nil && geom.MM(g)*size <= longest {
				if unitText == "" {
					unitText = name(size)
				}
				v, err := strconv.ParseFloat(whole+"."+frac, 64)
				if err != nil {
					return 0, bad
				}
				return 0, &Ambiguous{text, []string{
					strconv.FormatFloat(v, 'f', -1, 64) + " " + unitText, whole + frac + " " + unitText}}
			}
		}
	}
	groups := strings.FieldsFunc(whole, func(r rune) bool { return r == ',' || r == '.' })
	for i, g := range groups {
		if len(groups) > 1 && (i == 0 && len(g) > 3 || i > 0 && len(g) != 3) {
			return 0, bad
		}
	}
	if strings.Contains(whole, ",") && strings.Contains(whole, ".") {
		return 0, bad
	}
	v, err := strconv.ParseFloat("0"+strings.Join(groups, "")+"."+frac+"0", 64)
	if err != nil {
		return 0, bad
	}
	return v, nil
}

func fraction(text, num, den string) (float64, error) {
	bad := &NotUnderstood{text, num + "/" + den, "is not a fraction; write whole numbers above and below"}
	if !plain(num) || !plain(den) {
		return 0, bad
	}
	n, err := strconv.ParseFloat(num, 64)
	if err != nil {
		return 0, bad
	}
	d, err := strconv.ParseFloat(den, 64)
	if err != nil {
		return 0, bad
	}
	if d == 0 {
		return 0, &NotUnderstood{text, num + "/" + den, "divides by zero; write a fraction such as 1/2"}
	}
	return n / d, nil
}

// plain reports whether the number is digits only.
func plain(s string) bool { return !strings.ContainsAny(s, ".,") }

// imperial reports whether a unit of that size is of the inch family; no metric unit's size is a multiple of an inch.
func imperial(size geom.MM) bool {
	switch size {
	case geom.Inch / 1000, geom.Inch, geom.Foot, 3 * geom.Foot:
		return true
	}
	return false
}

// name is the short word for a unit of that size.
func name(size geom.MM) string {
	for _, w := range []string{"mm", "cm", "dm", "m", "thou", "in", "ft", "yd"} {
		if units[w] == size {
			return w
		}
	}
	return ""
}
