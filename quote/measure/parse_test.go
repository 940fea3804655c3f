package measure_test

import (
	"errors"
	"math"
	"strings"
	"testing"

	"benchbell/quote/geom"
	"benchbell/quote/measure"

	"pgregory.net/rapid"
)

// exactly allows for the rounding of a sum of two products, far less than a tape can show.
const exactly = 1e-9

// TestFormats is how people write lengths. mm 0 means refused, with a message that contains every part of says.
//
// Source of the values: inch and foot by the international yard and pound agreement of 1959 (NIST SP 811, app. B; CLDR
// units.xml agrees); the collection of spellings is our own.
func TestFormats(t *testing.T) {
	for _, c := range []struct {
		text string
		mm   geom.MM
		says []string
	}{
		{"5'11\"", 1803.4, nil},
		{"5′11″", 1803.4, nil},
		{"5’11”", 1803.4, nil},
		{"5' 11 1/2\"", 1816.1, nil},
		{"5ft 11in", 1803.4, nil},
		{"5-11", 0, []string{"5-11", "5 ft 11 in", "from 5 to 11"}},
		{"6'", 1828.8, nil},
		{"71\"", 1803.4, nil},
		{"38 1/2 in", 977.9, nil},
		{"38-1/2\"", 977.9, nil},
		{"38½\"", 977.9, nil},
		{"38.5in", 977.9, nil},
		{"3/8\"", 9.525, nil},
		{"1 3/16in", 30.1625, nil},
		{"97,5 cm", 975, nil},
		{"97.5cm", 975, nil},
		{"1,75 m", 1750, nil},
		{"1.75m", 1750, nil},
		{"1m75", 1750, nil},
		{"1 m 75", 1750, nil},
		{"1750 mm", 1750, nil},
		{"1\u202f750 mm", 1750, nil},
		{"1,750 mm", 0, []string{"1.75 mm", "1750 mm"}},
		{"1.750 mm", 0, []string{"1.75 mm", "1750 mm"}},
		{"97", 0, []string{"no unit", "97 cm", "97 in"}},
		{"2 yd", 1828.8, nil},
		{"20 thou", 0.508, nil},
		{"1/0 in", 0, []string{"1/0", "zero"}},
		{"-5 cm", 0, []string{"-5 cm", "negative"}},
		{"5'13\"", 0, []string{"“5'13\"”", "13 in after ft", "less than 12"}},
		{"NaN cm", 0, []string{"NaN cm", "is not a length"}},
		{"12 abc", 0, []string{"abc", "not a unit"}},
		{"1e3 mm", 0, []string{"“e”", "not a unit"}},
		{"٩٧ cm", 0, []string{"٩", "another script", "0 to 9"}},

		{"5’ 11’’", 1803.4, nil},
		{"5'-11\"", 1803.4, nil},
		{"5'11", 1803.4, nil},
		{"5 ft. 11 in.", 1803.4, nil},
		{"6 feet", 1828.8, nil},
		{"38 ½ inches", 977.9, nil},
		{"38⅝ in", 981.075, nil},
		{"½\"", 12.7, nil},
		{"3⁄8 in", 9.525, nil},
		{".5 in", 12.7, nil},
		{"0.375 in", 9.525, nil},
		{"38.125 in", 968.375, nil},
		{"1.750 m", 1750, nil},
		{"1,750.5 mm", 1750.5, nil},
		{"1.750,5 mm", 1750.5, nil},
		{"1 m 75 cm", 1750, nil},
		{"1m750", 1750, nil},
		{"97 cm 5 mm", 975, nil},
		{"97.5 CM", 975, nil},
		{"1 yd 2 ft 11 in", 914.4 + 609.6 + 279.4, nil},
		{"1m5", 0, []string{"1.05 m", "1.5 m"}},
		{"5 mil", 0, []string{"millimetres", "thou"}},
		{"5 11", 0, []string{"5 ft 11 in"}},
		{"5/11", 0, []string{"5 ft 11 in", "5/11 in"}},
		{"38-40 cm", 0, []string{"38-40", "range"}},
		{"38 5/4 in", 0, []string{"5/4", "less than one"}},
		{"38.5 1/2 in", 0, []string{"38.5", "whole"}},
		{"1 m 6 in", 0, []string{"in", "does not go with"}},
		{"5 in 3 ft", 0, []string{"ft", "does not go with"}},
		{"1.5 m 20 cm", 0, []string{"whole number"}},
		{"97 98 cm", 0, []string{"two numbers"}},
		{"97 cm 5", 0, []string{"no unit after cm"}},
		{"cm 97", 0, []string{"cm", "no number before"}},
		{"97 cm!", 0, []string{"!", "not understood"}},
		{"0 cm", 0, []string{"too short", "more than zero"}},
		{"97 m", 0, []string{"10 m", "check the unit"}},
		{"", 0, []string{"empty"}},
		{"1,2,3 cm", 0, []string{"1,2,3", "separators"}},
		{strings.Repeat("9", 200), 0, []string{"too long"}},
		{"2 m 0", 2000, nil},
		{"12,345.5 thou", 12.3455 * 25.4, nil},
		{"9,750.5.2 mm", 0, []string{"9,750.5.2", "separators"}},
		{"9,7.50,5 mm", 0, []string{"9,7.50,5", "separators"}},
		{"12,5,3", 0, []string{"12,5,3", "separators"}},
		{"1.5/2 in", 0, []string{"1.5/2", "whole numbers"}},
		{"1 75 mm", 0, []string{"two numbers"}},
		{"1/2/3 in", 0, []string{"not one number"}},
		{"97\ncm", 0, []string{"“97 cm”", "not understood"}},
		{"９７ cm", 0, []string{"another script"}},
	} {
		got, err := measure.Parse(c.text, measure.NoUnit)
		if c.mm != 0 {
			if err != nil {
				t.Errorf("%q: %v", c.text, err)
			} else if math.Abs(float64(got-c.mm)) > exactly {
				t.Errorf("%q is %v, want %v", c.text, got, c.mm)
			}
			continue
		}
		if err == nil {
			t.Errorf("%q is read as %v, want a refusal", c.text, got)
			continue
		}
		for _, s := range c.says {
			if !strings.Contains(err.Error(), s) {
				t.Errorf("%q: %q does not say %q", c.text, err, s)
			}
		}
	}
}

func TestDefaultUnit(t *testing.T) {
	for _, c := range []struct {
		text string
		def  measure.Unit
		mm   geom.MM
	}{
		{"97", measure.CM, 970},
		{"97,5", measure.CM, 975},
		{"975", measure.MM, 975},
		{"38 1/2", measure.In, 977.9},
		{"38½", measure.In, 977.9},
		{"3/8", measure.In, 9.525},
		{"97 cm", measure.In, 970},
		{"1 750", measure.MM, 1750},
	} {
		got, err := measure.Parse(c.text, c.def)
		if err != nil || math.Abs(float64(got-c.mm)) > exactly {
			t.Errorf("%q in %q is %v, %v, want %v", c.text, c.def, got, err, c.mm)
		}
	}
	if _, err := measure.Parse("97", "ell"); err == nil || !strings.Contains(err.Error(), "ell") {
		t.Errorf("an unknown default unit: %v", err)
	}
}

func TestErrorTypes(t *testing.T) {
	var (
		amb  *measure.Ambiguous
		unit *measure.MissingUnit
		not  *measure.NotUnderstood
		out  *measure.OutOfRange
	)
	for text, target := range map[string]any{"1,750 mm": &amb, "97": &unit, "about 97 cm": &not, "-5 cm": &out} {
		if _, err := measure.Parse(text, measure.NoUnit); !errors.As(err, target) {
			t.Errorf("%q: %T", text, err)
		}
	}
	if len(amb.Readings) != 2 || not.Part != "about" || unit.Text != "97" {
		t.Errorf("%+v, %+v, %+v", amb, not, unit)
	}
	// Each reading of an ambiguous length can be given back.
	for _, r := range amb.Readings {
		if _, err := measure.Parse(r, measure.NoUnit); err != nil {
			t.Errorf("reading %q: %v", r, err)
		}
	}
}

// TestUnitsAgree: the same length in centimetres, millimetres, metres and inches is read as the same.
func TestUnitsAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		eighths := rapid.IntRange(1, 8*12*9).Draw(t, "eighths")
		want := geom.MM(eighths) * geom.Inch / 8
		ft, rest := eighths/96, eighths%96
		for _, text := range []string{
			strings.Join([]string{itoa(eighths), "/8 in"}, ""),
			itoa(ft) + "' " + itoa(rest/8) + " " + itoa(rest%8) + "/8\"",
			itoa(eighths*125/1000) + "." + itoa(1000 + eighths*125%1000)[1:] + " in",
		} {
			got, err := measure.Parse(text, measure.NoUnit)
			if err != nil {
				t.Fatalf("%q: %v", text, err)
			}
			if math.Abs(float64(got-want)) > exactly {
				t.Fatalf("%q is %v, want %v", text, got, want)
			}
		}
	})
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"5'11\"", "38½\"", "1\u202f750 mm", "1m75", "5-11", "٩٧ cm", "1/0 in", "97,5 cm", "1.234,5 mm", "’’", "\xff", "- - -", "1 / / 2"} {
		for i := range 5 {
			f.Add(s, i)
		}
	}
	f.Fuzz(func(t *testing.T, text string, def int) {
		u := []measure.Unit{measure.NoUnit, measure.MM, measure.CM, measure.In, "ell"}[uint(def)%5]
		l, err := measure.Parse(text, u)
		if err != nil {
			if l != 0 || err.Error() == "" || strings.ContainsAny(err.Error(), "\n") {
				t.Fatalf("%q: %v, %q", text, l, err)
			}
			return
		}
		if !(l > 0) || math.IsInf(float64(l), 0) || l > 10_000 {
			t.Fatalf("%q is %v", text, l)
		}
		measure.Format(l)
	})
}

// A fraction after a whole number is less than one; where it is not, one of the figures is mistyped.
func TestFractionsAfterWholeNumbers(t *testing.T) {
	for text, inches := range map[string]float64{"10 7/8 in": 10.875, "10 1/2 in": 10.5} {
		if got, err := measure.Parse(text, measure.In); err != nil || math.Abs(float64(got)-inches*25.4) > 1e-9 {
			t.Errorf("%q is %v, %v, want %v in", text, got, err, inches)
		}
	}
	for _, text := range []string{"10 8/8 in", "10 9/8 in", "10 16/8 in"} {
		var not *measure.NotUnderstood
		if _, err := measure.Parse(text, measure.In); !errors.As(err, &not) || !strings.Contains(err.Error(), "less than one") {
			t.Errorf("%q: %v", text, err)
		}
	}
}
