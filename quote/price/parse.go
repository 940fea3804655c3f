package price

import (
	"fmt"
	"math"
	"strings"
)

// ParseMoney reads an amount of the currency as people write it: "1234.5", "1,234.50", "1 234,50", "EUR 12", "12 EUR".
//
// With both comma and point, the later one is the decimal sign. A single one with three digits after it is read as Format
// would have written it: a comma groups, a point is the decimal sign; if the currency's decimals allow both readings or
// neither, it is refused. More decimals than the currency has are refused, never rounded.
func ParseMoney(s, currency string) (Money, error) {
	digits, err := Digits(currency)
	if err != nil {
		return 0, err
	}
	bad := func(format string, args ...any) (Money, error) {
		return 0, fmt.Errorf("amount %q %s", s, fmt.Sprintf(format, args...))
	}
	t := strings.TrimSpace(s)
	if rest, ok := strings.CutPrefix(t, currency); ok {
		t = strings.TrimSpace(rest)
	} else if rest, ok := strings.CutSuffix(t, currency); ok {
		t = strings.TrimSpace(rest)
	}
	t, negative := strings.CutPrefix(strings.Replace(t, "\u2212", "-", 1), "-")
	whole, part, why := splitDecimals(spacer.Replace(t), digits)
	if why != "" {
		return bad("%s", why)
	}
	whole, why = ungroup(whole)
	if why != "" {
		return bad("%s", why)
	}
	if part = strings.TrimRight(part, "0"); len(part) > digits {
		return bad("has %d decimals, %s has %d", len(part), currency, digits)
	}
	var u uint64
	for _, c := range whole + part + strings.Repeat("0", digits-len(part)) {
		if c < '0' || c > '9' {
			return bad("is not understood at %q; it must be a number such as %s", c, Money(123450).Format(currency))
		}
		if u > (math.MaxInt64-9)/10 {
			return bad("is too large")
		}
		u = u*10 + uint64(c-'0')
	}
	if negative {
		return -Money(u), nil
	}
	return Money(u), nil
}

// spacer replaces the spaces that group digits with one kind: no-break, narrow no-break, thin and figure space.
var spacer = strings.NewReplacer("\u00a0", " ", "\u202f", " ", "\u2009", " ", "\u2007", " ")

// splitDecimals splits the text at its decimal sign; the groups in whole keep their one kind of separator.
func splitDecimals(t string, digits int) (whole, part, why string) {
	comma, point := strings.LastIndexByte(t, ','), strings.LastIndexByte(t, '.')
	at := max(comma, point)
	switch {
	case at < 0:
		return t, "", ""
	case comma >= 0 && point >= 0: // the later one is the decimal sign
		if strings.Count(t, t[at:at+1]) > 1 {
			return "", "", "has two decimal signs"
		}
	case strings.Count(t, t[at:at+1]) > 1: // one kind, repeated: it separates groups
		return t, "", ""
	case len(t)-at-1 == 3 && at >= 1 && at <= 3 && t[0] != '0' && !strings.Contains(t[:at], " "):
		if t[at] == ',' && digits < 3 {
			return t, "", ""
		}
		if t[at] == ',' || digits < 3 {
			return "", "", fmt.Sprintf("could be %s or %s; write it without separators",
				t[:at]+t[at+1:], t[:at]+"."+t[at+1:])
		}
	}
	if at == len(t)-1 {
		return "", "", "ends in a decimal sign; write the decimals or leave it out"
	}
	return t[:at], t[at+1:], ""
}

// ungroup removes the group separators of a whole number, which must be three digits apart and all the same.
func ungroup(t string) (plain, why string) {
	if t == "" {
		return "", "has no digits before the decimal sign"
	}
	sep := ""
	for _, c := range []string{" ", ",", "."} {
		if strings.Contains(t, c) {
			if sep != "" {
				return "", "mixes group separators"
			}
			sep = c
		}
	}
	if sep == "" {
		return t, ""
	}
	groups := strings.Split(t, sep)
	for i, g := range groups {
		if i > 0 && len(g) != 3 || i == 0 && (len(g) == 0 || len(g) > 3) {
			return "", "is not grouped in threes"
		}
	}
	return strings.Join(groups, ""), ""
}
