package day

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

var today = time.Date(2026, 11, 2, 23, 0, 0, 0, time.UTC)

func TestParse(t *testing.T) {
	for typed, want := range map[string]string{
		"2027-03-01": "2027-03-01", "1 March 2027": "2027-03-01", "1. March 2027": "2027-03-01", "March 1st, 2027": "2027-03-01",
		"the 1st": "!", "1st of March 2027": "2027-03-01", "1.3.2027": "2027-03-01", "01.03.2027": "2027-03-01", "1 mar 2027": "2027-03-01",
		"3 Sept 2027": "2027-09-03", "25/12/2026": "2026-12-25", "12/25/2026": "2026-12-25", "5/5/2027": "2027-05-05",
		"2026-11-02": "2026-11-02", "2028-02-29": "2028-02-29",
		"3/4/2027": "!3 April or 4 March", "3-4-2027": "!3 April or 4 March", "2027-02-29": "!is not a day", "31 November 2027": "!is not a day",
		"1 March": "!has no year", "1.3.27": "!no full year", "2026-11-01": "!has passed", "2126-11-02": "!check the year",
		"soon": "!is not a day", "": "!is not a day", "1 March April 2027": "!is not a day", "2027-03": "!is not a day",
		"13/13/2027": "!is not a day", "-1.3.2027": "!is not a day", "March 2027": "!is not a day", "1 ma 2027": "!is not a day",
	} {
		got, err := Parse(typed, today)
		if part, no := strings.CutPrefix(want, "!"); no {
			if err == nil || !strings.Contains(err.Error(), part) {
				t.Errorf("%q gives %q, %v; want an error with %q", typed, got, err, part)
			}
			continue
		}
		if err != nil || got != want {
			t.Errorf("%q gives %q, %v; want %q", typed, got, err, want)
		}
	}
}

// Every way of writing that is not ambiguous gives back the day that was meant.
func TestDatesReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		day := today.Truncate(24*time.Hour).AddDate(0, 0, rapid.IntRange(0, 1500).Draw(t, "days"))
		layout := rapid.SampledFrom([]string{"2006-01-02", "2 January 2006", "January 2, 2006", "2.1.2006", "02.01.2006", "Jan 2 2006"}).Draw(t, "layout")
		got, err := Parse(day.Format(layout), today)
		if want := day.Format(time.DateOnly); err != nil || got != want {
			t.Fatalf("%q gives %q, %v", day.Format(layout), got, err)
		}
	})
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"2027-03-01", "1 March 2027", "3/4/2027", "1.3.2027", "//", "1st of of"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		got, err := Parse(s, today)
		if err != nil {
			return
		}
		if back, err := Parse(got, today); err != nil || back != got {
			t.Errorf("%q gives %q, which reads back as %q, %v", s, got, back, err)
		}
	})
}
