// Package day reads a day as people write it. It refuses, in a sentence for the person, what is no day, what can be read as
// two, and what lies behind or too far ahead of today; what it returns is always a day of the calendar, as "2027-03-01".
package day

import (
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode"
)

// maxAhead is how far ahead a date may lie before it is taken for a slip of the pen.
const maxAhead = 5 // years

// Parse reads a day as people write it and returns it as "2027-03-01". Accepted are 2027-03-01, 1 March 2027,
// March 1st, 2027, 1.3.2027 and, where only one reading is a date, 25/12/2027. A day that can be read two ways is
// refused with both readings, as is one before today.
func Parse(text string, today time.Time) (string, error) {
	day, err := readDate(strings.ToLower(strings.TrimSpace(text)), text)
	if err != nil {
		return "", err
	}
	now := time.Date(today.Year(), today.Month(), today.Day(), 0, 0, 0, 0, time.UTC)
	if day.Before(now) {
		return "", fmt.Errorf("%s has passed; give a day from today on", day.Format("2 January 2006"))
	}
	if day.After(now.AddDate(maxAhead, 0, 0)) {
		return "", fmt.Errorf("%s is more than %d years away; check the year", day.Format("2 January 2006"), maxAhead)
	}
	return day.Format(time.DateOnly), nil
}

func readDate(s, typed string) (time.Time, error) {
	unknown := fmt.Errorf("“%s” is not a day; write it like 2027-03-01 or 1 March 2027", typed)
	for _, sep := range []string{"-", "/", "."} {
		f := strings.Split(s, sep)
		if len(f) != 3 {
			continue
		}
		var n [3]int
		for i := range f {
			v, err := strconv.Atoi(strings.TrimSpace(f[i]))
			if err != nil || v < 0 {
				return time.Time{}, unknown
			}
			n[i] = v
		}
		switch {
		case len(strings.TrimSpace(f[0])) == 4:
			return calendarDay(n[0], n[1], n[2], unknown)
		case len(strings.TrimSpace(f[2])) != 4:
			return time.Time{}, fmt.Errorf("“%s” has no full year; write it like 2027-03-01", typed)
		case sep == ".": // points stand between day, month and year wherever they are used
			return calendarDay(n[2], n[1], n[0], unknown)
		case n[0] != n[1] && n[0] >= 1 && n[0] <= 12 && n[1] >= 1 && n[1] <= 12:
			return time.Time{}, fmt.Errorf("“%s” can be %d %s or %d %s; write the month as a word", typed,
				n[0], time.Month(n[1]), n[1], time.Month(n[0]))
		case n[1] > 12:
			return calendarDay(n[2], n[0], n[1], unknown)
		default:
			return calendarDay(n[2], n[1], n[0], unknown)
		}
	}
	var day, year int
	var month time.Month
	for _, f := range strings.FieldsFunc(s, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }) {
		if m := monthNamed(f); m != 0 {
			if month != 0 {
				return time.Time{}, unknown
			}
			month = m
			continue
		}
		digits := strings.TrimRight(f, "abcdefghijklmnopqrstuvwxyz")
		switch f[len(digits):] {
		case "", "st", "nd", "rd", "th":
		case "of":
			if digits == "" {
				continue
			}
			return time.Time{}, unknown
		default:
			return time.Time{}, unknown
		}
		v, err := strconv.Atoi(digits)
		switch {
		case err != nil:
			return time.Time{}, unknown
		case len(digits) == 4 && year == 0:
			year = v
		case len(digits) <= 2 && day == 0:
			day = v
		default:
			return time.Time{}, unknown
		}
	}
	if month != 0 && day != 0 && year == 0 {
		return time.Time{}, fmt.Errorf("“%s” has no year; write it like 1 March 2027", typed)
	}
	return calendarDay(year, int(month), day, unknown)
}

func monthNamed(s string) time.Month {
	if len(s) < 3 {
		return 0
	}
	for m := time.January; m <= time.December; m++ {
		if name := strings.ToLower(m.String()); strings.HasPrefix(name, s) || s == "sept" && m == time.September {
			return m
		}
	}
	return 0
}

// calendarDay refuses the 31st of November.
func calendarDay(y, m, d int, unknown error) (time.Time, error) {
	t := time.Date(y, time.Month(m), d, 0, 0, 0, 0, time.UTC)
	if y < 1000 || m < 1 || m > 12 || t.Day() != d || t.Month() != time.Month(m) {
		return time.Time{}, unknown
	}
	return t, nil
}

// Next is Parse of a day to come: one without a year is the next such day.
func Next(text string, today time.Time) (string, error) {
	by, err := Parse(text, today)
	for y := today.Year(); err != nil && y <= today.Year()+1; y++ {
		if next, other := Parse(fmt.Sprintf("%s %d", text, y), today); other == nil {
			by, err = next, nil
		}
	}
	return by, err
}
