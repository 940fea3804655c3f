package measure

import (
	"math"
	"slices"
	"strings"
	"testing"

	"benchbell/quote/geom"

	"pgregory.net/rapid"
)

// meanOf is a body at a sex's means.
func meanOf(s *sex) (map[string]geom.MM, Mass) { return asBody(s.mean) }

var sexes = map[string]*sex{"women": &female, "men": &male}

func TestMeansAreNotFlagged(t *testing.T) {
	for name, s := range sexes {
		b, m := meanOf(s)
		for _, mass := range []Mass{0, m} {
			if f := Check(b, mass); len(f) > 0 {
				t.Errorf("the mean of %s: %+v", name, f)
			}
		}
		if f := CheckSides(b, b); len(f) > 0 {
			t.Errorf("equal sides of %s: %+v", name, f)
		}
	}
}

// Any part of an average body is as plausible as the whole.
func TestPartOfAMeanIsNotFlagged(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b, m := meanOf(sexes[rapid.SampledFrom([]string{"women", "men"}).Draw(t, "sex")])
		for _, k := range surveyKeys {
			if rapid.Bool().Draw(t, k) {
				delete(b, k)
			}
		}
		if rapid.Bool().Draw(t, "mass") {
			m = 0
		}
		if f := Check(b, m); len(f) > 0 {
			t.Fatalf("%+v", f)
		}
	})
}

// levelFor is the highest level of a finding that names the key.
func levelFor(fs []Finding, key string) Level {
	worst := Level(0)
	for _, f := range fs {
		if f.Key == key || f.Other == key {
			worst = max(worst, f.Level)
		}
	}
	return worst
}

// The further a value is from what height and mass suggest, the higher its own level, whatever the others are.
func TestCheckIsMonotone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b, m := meanOf(sexes[rapid.SampledFrom([]string{"women", "men"}).Draw(t, "sex")])
		for k := range b {
			b[k] *= geom.MM(rapid.Float64Range(.95, 1.05).Draw(t, k))
		}
		if rapid.Bool().Draw(t, "no mass") {
			m = 0
		}
		d := rapid.SampledFrom(defs[:14]).Draw(t, "measurement")
		if d.Key == "stature" {
			return // the others are compared with it
		}
		from := [2]geom.MM{b[d.Key], b[d.Key]}
		i := indexOf(d.Key)
		from[0] = min(from[0], geom.MM(math.Min(female.mean[i]-female.sd[i], male.mean[i]-male.sd[i])))
		from[1] = max(from[1], geom.MM(math.Max(female.mean[i]+female.sd[i], male.mean[i]+male.sd[i])))
		for side, end := range []geom.MM{d.Min, d.Max} {
			last := Level(0)
			for step := range 40 {
				b[d.Key] = from[side] + (end-from[side])*geom.MM(step)/40
				own := slices.DeleteFunc(Check(b, m), func(f Finding) bool { return f.Other != "" })
				l := levelFor(own, d.Key)
				if l < last {
					t.Fatalf("%s of %v: level %d after %d", d.Key, b[d.Key], l, last)
				}
				last = max(last, l)
			}
		}
	})
}

func TestCheckSays(t *testing.T) {
	b, _ := meanOf(&female)
	b["wrist-girth"] = 340
	b["knee-girth"] = 200
	fs := Check(b, 0)
	if len(fs) < 2 || fs[0].Key != "wrist-girth" || fs[0].Level != Ask {
		t.Fatalf("%+v", fs)
	}
	for _, f := range Check(map[string]geom.MM{"stature": 1700, "wrist-girth": 400}, 0) {
		t.Errorf("impossible values are Judge's: %+v", f)
	}
	fs = Check(map[string]geom.MM{"stature": 1700, "wrist-girth": 210}, 0)
	if len(fs) != 1 || !strings.Contains(fs[0].Say, "unusually large for a height of 170 cm") || !strings.Contains(fs[0].Say, "lay the tape round the wrist") {
		t.Errorf("%+v", fs)
	}
	fs = Check(map[string]geom.MM{"stature": 1700, "chest-girth": 400}, 0)
	if len(fs) != 1 || !strings.Contains(fs[0].Say, "Did you mean") {
		t.Errorf("%+v", fs)
	}
	fs = Check(map[string]geom.MM{"wrist-girth": 280, "forearm-girth": 170}, 0)
	if len(fs) != 1 || fs[0].Other != "forearm-girth" || fs[0].Level != Ask {
		t.Errorf("swapped: %+v", fs)
	}
	fs = Check(map[string]geom.MM{"stature": 1100, "wrist-girth": 120}, 0)
	if len(fs) != 1 || fs[0].Key != "stature" || !strings.Contains(fs[0].Say, "only compared with each other") {
		t.Errorf("a child's height: %+v", fs)
	}
	fs = Check(map[string]geom.MM{"stature": 1700}, 180)
	if len(fs) != 1 || fs[0].Key != massKey || fs[0].Level != Ask {
		t.Errorf("pounds as kilograms: %+v", fs)
	}
}

// A heavy body is not a mistake: girths that are all large explain each other, within what bodies can be.
func TestLargeBodiesAreNotMistakes(t *testing.T) {
	b := map[string]geom.MM{"stature": 1750, "chest-girth": 1420, "waist-girth": 1430, "hip-girth": 1370, "upper-arm-girth": 470, "thigh-girth": 810}
	for _, f := range Check(b, 0) {
		if f.Level >= Warn {
			t.Errorf("%+v", f)
		}
	}
	delete(b, "waist-girth")
	delete(b, "hip-girth")
	delete(b, "upper-arm-girth")
	delete(b, "thigh-girth")
	if fs := Check(b, 0); levelFor(fs, "chest-girth") == 0 {
		t.Error("such a chest alone passes")
	}
}

// No input makes a finding that is not finite, empty or out of order.
func TestCheckAnything(t *testing.T) {
	odd := []float64{math.NaN(), math.Inf(1), math.Inf(-1), 0, -5, 1e300}
	rapid.Check(t, func(t *rapid.T) {
		b := map[string]geom.MM{"tail-length": 5}
		for _, d := range defs {
			switch rapid.IntRange(0, 3).Draw(t, d.Key) {
			case 0:
				b[d.Key] = geom.MM(rapid.Float64Range(float64(d.Min), float64(d.Max)).Draw(t, "value"))
			case 1:
				b[d.Key] = geom.MM(rapid.SampledFrom(odd).Draw(t, "odd"))
			}
		}
		mass := Mass(rapid.SampledFrom(append(odd, 70)).Draw(t, "mass"))
		fs := append(Check(b, mass), CheckSides(b, map[string]geom.MM{"wrist-girth": 170})...)
		for _, f := range fs {
			if math.IsNaN(f.Z) || math.IsInf(f.Z, 0) || f.Level < Note || f.Level > Ask || !strings.HasSuffix(f.Say, ".") || strings.Contains(f.Say, "no length") {
				t.Fatalf("%+v", f)
			}
		}
		if again := append(Check(b, mass), CheckSides(b, map[string]geom.MM{"wrist-girth": 170})...); !slices.Equal(again, fs) {
			t.Fatal("two checks of one body differ")
		}
		for _, d := range defs {
			v, sd, from, err := Estimate(d.Key, b, mass)
			if err == nil && !(v > 0 && sd > 0 && !math.IsInf(float64(v+sd), 0) && slices.Contains(from, "stature")) {
				t.Fatalf("%s: %v ± %v from %v", d.Key, v, sd, from)
			}
		}
	})
}

func TestSides(t *testing.T) {
	for _, c := range []struct {
		l, r geom.MM
		want Level
	}{{280, 285, 0}, {280, 300, Note}, {280, 320, Warn}, {280, 400, Ask}, {160, 166, 0}, {0, 170, 0}} {
		fs := CheckSides(map[string]geom.MM{"forearm-girth": c.l, "chest-girth": 900}, map[string]geom.MM{"forearm-girth": c.r, "chest-girth": 1200})
		if levelFor(fs, "forearm-girth") != c.want || len(fs) > 1 {
			t.Errorf("%v and %v: %+v", c.l, c.r, fs)
		}
	}
}

// At a sex's means every regression gives the mean, and a body at the means is estimated at the mean.
func TestEstimateOfTheMean(t *testing.T) {
	for name, s := range sexes {
		for i, key := range surveyKeys {
			var on known
			for j := range surveyKeys {
				if j != i {
					on.add(j, s.mean[j])
				}
				if r := s.given(i, on); math.Abs(r.mean-s.mean[i]) > 1e-9 || r.sd > s.sd[i]+1e-9 {
					t.Fatalf("%s of %s given %v: %v ± %v", key, name, on.names(), r.mean, r.sd)
				}
			}
			if key == "stature" || key == massKey {
				continue
			}
			b, m := meanOf(s)
			delete(b, key)
			v, sd, from, err := Estimate(key, b, m)
			if err != nil || math.Abs(float64(v)-s.mean[i]) > .02*float64(sd) || len(from) != len(surveyKeys)-1 {
				t.Errorf("%s of %s: %v ± %v from %v, %v; the mean is %v", key, name, v, sd, from, err, s.mean[i])
			}
		}
	}
}

// What is known can only narrow the estimate within a sex, and an estimate lies between the two sexes'.
func TestEstimateLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		i := rapid.IntRange(2, len(surveyKeys)-1).Draw(t, "target")
		stature := rapid.Float64Range(surveyLow[0], surveyHigh[0]).Draw(t, "stature")
		v, sd, from, err := Estimate(surveyKeys[i], map[string]geom.MM{"stature": geom.MM(stature)}, 0)
		if err != nil || len(from) != 1 {
			t.Fatal(from, err)
		}
		on := known{[]int{0}, []float64{stature}}
		f, m := female.given(i, on), male.given(i, on)
		if float64(v) < math.Min(f.mean, m.mean)-1e-9 || float64(v) > math.Max(f.mean, m.mean)+1e-9 || float64(sd) < math.Min(f.sd, m.sd)-1e-9 {
			t.Fatalf("%v ± %v is not between %+v and %+v", v, sd, f, m)
		}
		on.add(1, 70)
		if i > 1 && female.given(i, on).sd > f.sd+1e-9 {
			t.Fatal("knowing more widens")
		}
	})
}

func TestEstimateRefuses(t *testing.T) {
	for _, c := range []struct {
		key  string
		body map[string]geom.MM
		mass Mass
		says string
	}{
		{"tail-length", map[string]geom.MM{"stature": 1700}, 0, "no measurement"},
		{"knee-girth", map[string]geom.MM{"stature": 1700}, 0, "lacks it"},
		{"stature", map[string]geom.MM{"wrist-girth": 170}, 0, "is based on it"},
		{"wrist-girth", nil, 0, "without the height"},
		{"wrist-girth", map[string]geom.MM{"forearm-girth": 270}, 70, "without the height"},
		{"wrist-girth", map[string]geom.MM{"stature": 1250}, 0, "for children"},
		{"wrist-girth", map[string]geom.MM{"stature": 2150}, 0, "only adults"},
		{"wrist-girth", map[string]geom.MM{"stature": geom.MM(math.NaN())}, 0, "only adults"},
		{"wrist-girth", map[string]geom.MM{"stature": 1700}, 30, "weight of 30 kg"},
		{"wrist-girth", map[string]geom.MM{"stature": 1700, "forearm-girth": 150}, 0, "forearm girth of 15 cm"},
	} {
		_, _, _, err := Estimate(c.key, c.body, c.mass)
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s from %v, %v: %v, want %q", c.key, c.body, c.mass, err, c.says)
		}
	}
}

// Where the survey measured differently, both say so: the source of the range and the caveat agree.
func TestCaveats(t *testing.T) {
	for _, d := range defs {
		if elsewhere := d.Source != ansur && d.Source != ansurFlexed; elsewhere != (Caveat(d.Key) != "") {
			t.Errorf("%s: source %q, caveat %q", d.Key, d.Source, Caveat(d.Key))
		}
	}
}

// Conversions are exact: 1 lb = 0.45359237 kg (NIST SP 811, app. B; CLDR units.xml).
func TestParseMass(t *testing.T) {
	for text, want := range map[string]Mass{
		"72 kg": 72, "72.5kg": 72.5, "72,5 kg": 72.5, "160 lb": 72.5747792, "160lbs.": 72.5747792,
		"11 st 6 lb": 72.5747792, "11st": 69.85322498, " 80 Kilograms ": 80,
	} {
		if got, err := ParseMass(text); err != nil || math.Abs(float64(got-want)) > 1e-9 {
			t.Errorf("%q: %v, %v, want %v", text, float64(got), err, float64(want))
		}
	}
	for text, says := range map[string]string{
		"": "not a weight", "72": "no unit", "11 st 4": "write “11 st 4 lb”", "72 cm": "not a unit of weight", "kg": "not a weight", "1 kg": "cannot be", "900 kg": "cannot be",
		"-70 kg": "not a weight", "70 kg 5 lb": "more than one", "11 st 15 lb": "more than one", "1.234.5 kg": "not a weight", "1e2 kg": "not a unit",
		"٧٠ kg": "not a weight", "NaN kg": "not a weight",
	} {
		if got, err := ParseMass(text); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: %v, %v, want %q", text, got, err, says)
		}
	}
	if s := Mass(72.5747792).String(); s != "72.6 kg (160 lb)" {
		t.Error(s)
	}
	if s := Mass(math.NaN()).String(); s != "no mass" {
		t.Error(s)
	}
}

func FuzzParseMass(f *testing.F) {
	for _, s := range []string{"72 kg", "11 st 6 lb", "72,5", "1.2.3kg", "st st", "5'kg", "½ kg"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		m, err := ParseMass(s)
		if err == nil && !(m >= leastMass && m <= mostMass) {
			t.Fatalf("%q: %v", s, float64(m))
		}
		if err != nil && strings.ContainsAny(err.Error(), "\n") {
			t.Fatalf("%q: %q", s, err)
		}
	})
}
