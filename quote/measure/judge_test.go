package measure_test

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"benchbell/quote/geom"
	"benchbell/quote/measure"

	"pgregory.net/rapid"
)

func itoa(n int) string { return strconv.Itoa(n) }

func TestFormat(t *testing.T) {
	for _, c := range []struct {
		mm   geom.MM
		want string
	}{
		{975, "97.5 cm (38 3/8 in)"},
		{977.9, "97.8 cm (38 1/2 in)"},
		{254, "25.4 cm (10 in)"},
		{1803.4, "180.3 cm (71 in)"},
		{20, "2 cm (3/4 in)"},
		{9.525, "9.5 mm (3/8 in)"},
		{1, "1 mm (under 1/8 in)"},
		{0, "0 mm (0 in)"},
		{geom.MM(math.NaN()), "no length"},
		{-1, "no length"},
	} {
		if got := measure.Format(c.mm); got != c.want {
			t.Errorf("%v: %q, want %q", float64(c.mm), got, c.want)
		}
	}
}

// TestFormatRoundTrip: the metric part reads back within half a millimetre and the inch part within a sixteenth.
func TestFormatRoundTrip(t *testing.T) {
	const slack = 1e-6 // the decimals are exact, their binary fractions are not
	rapid.Check(t, func(t *rapid.T) {
		l := geom.MM(rapid.Float64Range(1, 9999).Draw(t, "mm"))
		m, in, ok := strings.Cut(strings.TrimSuffix(measure.Format(l), ")"), " (")
		if !ok {
			t.Fatalf("%q", measure.Format(l))
		}
		got, err := measure.Parse(m, measure.NoUnit)
		if err != nil || math.Abs(float64(got-l)) > 0.5+slack {
			t.Fatalf("%v: %q is read as %v, %v", float64(l), m, got, err)
		}
		if strings.HasPrefix(in, "under") {
			return
		}
		got, err = measure.Parse(in, measure.NoUnit)
		if err != nil || math.Abs(float64(got-l)) > 25.4/16+slack {
			t.Fatalf("%v: %q is read as %v, %v", float64(l), in, got, err)
		}
	})
}

func TestDefs(t *testing.T) {
	want := strings.Fields(`wrist-girth forearm-girth elbow-wrist-length upper-arm-girth shoulder-elbow-length
		biacromial-breadth chest-girth waist-girth hip-girth neck-girth head-girth stature back-waist-length
		front-waist-length knee-girth calf-girth ankle-girth thigh-girth knee-floor-height hand-girth foot-length
		head-breadth head-length arm-length waist-floor-height`)
	all := measure.All()
	if len(all) != len(want) {
		t.Fatalf("%d definitions, want %d", len(all), len(want))
	}
	for i, d := range all {
		if d.Key != want[i] {
			t.Errorf("definition %d is %q, want %q", i, d.Key, want[i])
		}
		if d.Label == "" || !strings.HasSuffix(d.How, ".") || d.Term == "" || d.Source == "" {
			t.Errorf("%s is incomplete: %+v", d.Key, d)
		}
		if !(0 < d.Min && d.Min < d.Low && d.Low < d.High && d.High < d.Max) {
			t.Errorf("%s: %v < %v < %v < %v does not hold", d.Key, d.Min, d.Low, d.High, d.Max)
		}
		if got, ok := measure.Lookup(d.Key); !ok || got != d {
			t.Errorf("looking %s up gives %+v, %v", d.Key, got, ok)
		}
	}
	if _, ok := measure.Lookup("tail-length"); ok {
		t.Error("a measurement nobody has is defined")
	}
	all[0].Key = "changed"
	if measure.All()[0].Key != want[0] {
		t.Error("the caller can change the table")
	}
}

func TestJudge(t *testing.T) {
	wrist, _ := measure.Lookup("wrist-girth")
	for _, c := range []struct {
		mm    geom.MM
		grade measure.Grade
		says  []string
	}{
		{170, measure.Plausible, []string{"Wrist girth", "17 cm"}},
		{66, measure.Unusual, []string{"6.6 cm", "12.3 cm", "21.2 cm", "Did you mean 16.8 cm", "16.8 cm"}},
		{320, measure.Unusual, []string{"32 cm"}},
		{17, measure.Impossible, []string{"cannot", "Did you mean 17 cm", "17 cm"}},
		{1700, measure.Impossible, []string{"Did you mean 17 cm", "17 cm"}},
		{geom.MM(math.NaN()), measure.Impossible, []string{"cannot"}},
	} {
		g, s := wrist.Judge(c.mm)
		if g != c.grade || !strings.HasSuffix(s, ".") {
			t.Errorf("%v: grade %d, %q", c.mm, g, s)
		}
		for _, part := range c.says {
			if !strings.Contains(s, part) {
				t.Errorf("%v: %q does not say %q", c.mm, s, part)
			}
		}
	}
	stature, _ := measure.Lookup("stature")
	if _, say := stature.Judge(17.2); !strings.Contains(say, "Did you mean 172 cm") {
		t.Errorf("metres read as centimetres: %q", say)
	}
}
