package measure_test

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"benchbell/quote/measure"
)

// Whatever is asked for and however it is separated, a list with the labels is read whole.
func TestListReadsItsOwnLabels(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		all := measure.All()
		var lines []string
		var want []measure.Listed
		for _, d := range all {
			if !rapid.Bool().Draw(t, d.Key) {
				continue
			}
			side := ""
			if d.Paired {
				side = rapid.SampledFrom([]string{"", "left", "right"}).Draw(t, "side")
			}
			text := rapid.SampledFrom([]string{"17", "17,5 cm", "6 3/4 in", "5'11\""}).Draw(t, "length")
			name := rapid.SampledFrom([]string{d.Label, strings.ToUpper(d.Label), strings.ReplaceAll(d.Label, "girth", "circumference")}).Draw(t, "name")
			lines = append(lines, side+" "+name+rapid.SampledFrom([]string{": ", " = ", " ", "\t"}).Draw(t, "between")+text)
			want = append(want, measure.Listed{Key: d.Key, Side: side, Text: text})
		}
		got, rest := measure.List(strings.Join(lines, rapid.SampledFrom([]string{"\n", "; ", "\r\n"}).Draw(t, "lines")), all)
		if !slices.Equal(got, want) || len(rest) > 0 {
			t.Fatalf("read %v and left %q, want %v", got, rest, want)
		}
	})
}

func TestListAsPeopleWrite(t *testing.T) {
	for _, c := range []struct{ line, key, side, text string }{
		{"wrist 17", "wrist-girth", "", "17"}, {"R wrist: 17cm", "wrist-girth", "right", "17cm"}, {"waist 80", "waist-girth", "", "80"}, {"waist height 101", "waist-floor-height", "", "101"},
		{"bust = 92", "chest-girth", "", "92"}, {"biceps 31", "upper-arm-girth", "", "31"}, {"elbow to wrist 26", "elbow-wrist-length", "", "26"}, {"head width 15", "head-breadth", "", "15"},
		{"Height: 5'8 1/2\"", "stature", "", "5'8 1/2\""}, {"knee height 48", "knee-floor-height", "", "48"},
		{"dog 40", "", "", ""}, {"wrist", "", "", ""}, {"17", "", "", ""}, {"head 57 ", "head-girth", "", "57"},
	} {
		got, rest := measure.List(c.line, measure.All())
		if c.key == "" {
			if len(got) > 0 || len(rest) != 1 {
				t.Errorf("%q is read as %v", c.line, got)
			}
			continue
		}
		if len(got) != 1 || got[0] != (measure.Listed{Key: c.key, Side: c.side, Text: c.text}) {
			t.Errorf("%q is read as %v, and %q is left", c.line, got, rest)
		}
	}
}

func TestUnitless(t *testing.T) {
	for text, want := range map[string]bool{"17": true, "17,5": true, "17 cm": false, "6 1/2 in": false, "x": false, "": false} {
		if got := measure.Unitless(text); got != want {
			t.Errorf("%q: %t", text, got)
		}
	}
}
