package measure

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"go/format"
	"math"
	"os"
	"sort"
	"strconv"
	"strings"
	"testing"

	"benchbell/quote/gaugetest"
	"benchbell/quote/geom"
)

// columns of the survey by our keys. Mass is in 0.1 kg there, whatever the column's name says.
var columns = map[string]string{
	"stature": "stature", massKey: "weightkg",
	"wrist-girth": "wristcircumference", "forearm-girth": "forearmcircumferenceflexed",
	"elbow-wrist-length": "radialestylionlength", "upper-arm-girth": "bicepscircumferenceflexed",
	"shoulder-elbow-length": "shoulderelbowlength", "biacromial-breadth": "biacromialbreadth",
	"chest-girth": "chestcircumference", "waist-girth": "waistcircumference", "hip-girth": "buttockcircumference",
	"neck-girth": "neckcircumference", "head-girth": "headcircumference",
	"back-waist-length": "waistbacklength", "front-waist-length": "waistfrontlengthsitting",
	"calf-girth": "calfcircumference", "ankle-girth": "anklecircumference", "thigh-girth": "thighcircumference",
	"knee-floor-height": "kneeheightmidpatella", "hand-girth": "handcircumference", "foot-length": "footlength",
	"head-breadth": "headbreadth", "head-length": "headlength", "arm-length": "sleeveoutseam",
	"waist-floor-height": "waistheightomphalion",
}

// people are the survey's, each as values in the order of surveyKeys.
func people(t *testing.T) (women, men [][]float64) {
	t.Helper()
	read := func(name string) [][]float64 {
		f, err := os.Open(gaugetest.Reference(t, "facts", "ansur", name))
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		rows, err := csv.NewReader(f).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		head := map[string]int{}
		for i, h := range rows[0] {
			head[h] = i
		}
		out := make([][]float64, len(rows)-1)
		for r, row := range rows[1:] {
			for _, k := range surveyKeys {
				v, err := strconv.ParseFloat(row[head[columns[k]]], 64)
				if err != nil {
					t.Fatalf("%s line %d: %v", name, r+2, err)
				}
				if k == massKey {
					v /= 10
				}
				out[r] = append(out[r], v)
			}
		}
		return out
	}
	return read("ANSUR_II_FEMALE_Public.csv"), read("ANSUR_II_MALE_Public.csv")
}

func describe(rows [][]float64) sex {
	n := len(surveyKeys)
	s := sex{mean: make([]float64, n), sd: make([]float64, n), corr: make([][]float64, n)}
	for i := range n {
		for _, r := range rows {
			s.mean[i] += r[i] / float64(len(rows))
		}
	}
	cov := func(i, j int) (c float64) {
		for _, r := range rows {
			c += (r[i] - s.mean[i]) * (r[j] - s.mean[j])
		}
		return c / float64(len(rows)-1)
	}
	for i := range n {
		s.sd[i] = math.Sqrt(cov(i, i))
		for j := range i + 1 {
			s.corr[i] = append(s.corr[i], cov(i, j)/(s.sd[i]*s.sd[j]))
		}
	}
	return s
}

// quantile by linear interpolation between order statistics (type 7 of Hyndman and Fan 1996).
func quantile(rows [][]float64, i int, p float64) float64 {
	v := make([]float64, len(rows))
	for j, r := range rows {
		v[j] = r[i]
	}
	sort.Float64s(v)
	h := p * float64(len(v)-1)
	lo := int(h)
	hi := min(lo+1, len(v)-1)
	return v[lo] + (v[hi]-v[lo])*(h-float64(lo))
}

// The table is what the raw survey gives. Source: the US Army's public files of ANSUR II (2012).
func TestTableIsTheSurveys(t *testing.T) {
	women, men := people(t)
	f, m := describe(women), describe(men)
	var low, high []float64
	for i := range surveyKeys {
		low = append(low, math.Min(quantile(women, i, .001), quantile(men, i, .001)))
		high = append(high, math.Max(quantile(women, i, .999), quantile(men, i, .999)))
	}
	if gaugetest.Update() {
		writeTable(t, f, m, low, high)
		return
	}
	same := func(what string, got, want, slack float64) {
		if !(math.Abs(got-want) <= slack) {
			t.Errorf("%s is %v, the survey gives %v", what, got, want)
		}
	}
	for i, k := range surveyKeys {
		same(k+" low", surveyLow[i], low[i], .05+1e-9)
		same(k+" high", surveyHigh[i], high[i], .05+1e-9)
		for _, s := range []struct {
			name      string
			got, want *sex
		}{{"women", &female, &f}, {"men", &male, &m}} {
			same(k+" mean of "+s.name, s.got.mean[i], s.want.mean[i], .0005+1e-9)
			same(k+" sd of "+s.name, s.got.sd[i], s.want.sd[i], .0005+1e-9)
			for j := range i {
				same(k+" with "+surveyKeys[j]+" of "+s.name, s.got.corr[i][j], s.want.corr[i][j], .000005+1e-9)
			}
		}
	}
}

func writeTable(t *testing.T, f, m sex, low, high []float64) {
	var b bytes.Buffer
	b.WriteString(`package measure

// The survey: ANSUR II (2012), US Army, public files (Gordon et al. 2014, NATICK/TR-15/007), 1986 women and 4082 men,
// soldiers of 17 and over, lightly dressed; own computation, written by this package's test with -update. Lengths in
// mm, mass in kg. surveyLow is the lower of the two sexes' P0.1, surveyHigh the higher P99.9.

var surveyKeys = []string{
`)
	for _, k := range surveyKeys {
		fmt.Fprintf(&b, "%q,\n", k)
	}
	b.WriteString("}\n\n")
	row := func(v []float64, digits int) string {
		s := ""
		for i, x := range v {
			if i > 0 {
				s += ", "
			}
			s += strconv.FormatFloat(x, 'f', digits, 64)
		}
		return s
	}
	fmt.Fprintf(&b, "var surveyLow = []float64{%s}\n\nvar surveyHigh = []float64{%s}\n", row(low, 1), row(high, 1))
	for _, s := range []struct {
		name string
		sex
	}{{"female", f}, {"male", m}} {
		fmt.Fprintf(&b, "\nvar %s = sex{\nmean: []float64{%s},\nsd: []float64{%s},\ncorr: [][]float64{\n", s.name, row(s.mean, 3), row(s.sd, 3))
		for i, r := range s.corr {
			fmt.Fprintf(&b, "// %s\n{%s},\n", surveyKeys[i], row(r, 5))
		}
		b.WriteString("},\n}\n")
	}
	src, err := format.Source(b.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile("survey_table.go", src, 0o644); err != nil {
		t.Fatal(err)
	}
}

// The regressions that follow from the table are the summary's, which were fitted by ordinary least squares.
// Source: ansur_summary.json, computed apart from the same survey.
func TestRegressions(t *testing.T) {
	data, err := os.ReadFile(gaugetest.Reference(t, "facts", "ansur_summary.json"))
	if err != nil {
		t.Fatal(err)
	}
	type line struct {
		Intercept float64
		Stature   float64 `json:"per_mm_stature"`
		Weight    float64 `json:"per_kg_weight"`
		SD        float64 `json:"residual_sd_mm"`
	}
	var summary struct {
		Stats map[string]map[string]struct {
			Both line `json:"regression_on_stature_weight"`
			One  line `json:"regression_on_stature_only"`
		}
	}
	if err := json.Unmarshal(data, &summary); err != nil {
		t.Fatal(err)
	}
	n := 0
	for name, s := range map[string]*sex{"female": &female, "male": &male} {
		for i, k := range surveyKeys {
			r, ok := summary.Stats[name][columns[k]]
			if !ok || k == "stature" || k == massKey {
				continue
			}
			n++
			for _, p := range [][2]float64{{1500, 50}, {1700, 70}, {1900, 110}} {
				only := s.given(i, known{[]int{0}, p[:1]})
				both := s.given(i, known{[]int{0, 1}, p[:]})
				for _, c := range []struct {
					got  regression
					want line
				}{{only, r.One}, {both, r.Both}} {
					if want := c.want.Intercept + c.want.Stature*p[0] + c.want.Weight*p[1]; math.Abs(c.got.mean-want) > .1 {
						t.Errorf("%s, %s at %v: %.2f, the summary gives %.2f", name, k, p, c.got.mean, want)
					}
					if math.Abs(c.got.sd/c.want.SD-1) > .002 {
						t.Errorf("%s, %s: residual SD %.3f, the summary gives %.3f", name, k, c.got.sd, c.want.SD)
					}
				}
			}
		}
	}
	if n != 46 {
		t.Errorf("%d regressions compared, want 46", n)
	}
}

// asBody is a person of the survey as a client would be given, in whole millimetres and tenths of a kilogram.
func asBody(p []float64) (map[string]geom.MM, Mass) {
	b := map[string]geom.MM{}
	var m Mass
	for i, k := range surveyKeys {
		if k == massKey {
			m = Mass(p[i])
		} else {
			b[k] = geom.MM(p[i])
		}
	}
	return b, m
}

// The plausible ranges are the survey's. Source: ANSUR II (2012), means and standard deviations of the summary.
func TestRanges(t *testing.T) {
	data, err := os.ReadFile(gaugetest.Reference(t, "facts", "ansur_summary.json"))
	if err != nil {
		t.Fatal(err)
	}
	var survey struct {
		Stats map[string]map[string]struct{ Mean, SD float64 }
	}
	if err := json.Unmarshal(data, &survey); err != nil {
		t.Fatal(err)
	}
	for _, d := range defs {
		column, ok := columns[d.Key]
		if ok != strings.HasPrefix(d.Source, "ANSUR II") {
			t.Errorf("%s: source %q", d.Key, d.Source)
		}
		if !ok {
			continue
		}
		f, m := survey.Stats["female"][column], survey.Stats["male"][column]
		low, high := min(f.Mean-4*f.SD, m.Mean-4*m.SD), max(f.Mean+4*f.SD, m.Mean+4*m.SD)
		if math.Round(low) != float64(d.Low) || math.Round(high) != float64(d.High) {
			t.Errorf("%s: %v to %v, the survey gives %.0f to %.0f", d.Key, d.Low, d.High, low, high)
		}
	}
}

// rates are the shares of people whose worst finding is at least of each level.
func rates(group [][]float64, body func(p []float64) (map[string]geom.MM, Mass)) (at [4]float64) {
	for _, p := range group {
		worst := Level(0)
		for _, f := range Check(body(p)) {
			worst = max(worst, f.Level)
		}
		for l := Note; l <= worst; l++ {
			at[l] += 1 / float64(len(group))
		}
	}
	return at
}

// False alarms over everybody of the survey, all 24 measurements at once. The bounds are what was measured, rounded up:
// the summary gives 7 %, 0.45 % and 0.05 % for 21 measurements against one's own sex's lines.
func TestFalseAlarms(t *testing.T) {
	women, men := people(t)
	most := [4]float64{Note: .085, Warn: .007, Ask: .001}
	for _, c := range []struct {
		name string
		body func(p []float64) (map[string]geom.MM, Mass)
	}{
		{"with mass", asBody},
		{"without mass", func(p []float64) (map[string]geom.MM, Mass) { b, _ := asBody(p); return b, 0 }},
		{"without height", func(p []float64) (map[string]geom.MM, Mass) {
			b, _ := asBody(p)
			delete(b, "stature")
			return b, 0
		}},
	} {
		for _, g := range []struct {
			name string
			rows [][]float64
		}{{"women", women}, {"men", men}} {
			at := rates(g.rows, c.body)
			t.Logf("%s, %s: note or more %.2f %%, warn or more %.2f %%, ask %.3f %%", g.name, c.name, 100*at[Note], 100*at[Warn], 100*at[Ask])
			for l, share := range at {
				if share > most[l] && l > 0 {
					t.Errorf("%s, %s: level %d in %.2f %%", g.name, c.name, l, 100*share)
				}
			}
		}
	}
	for _, p := range append(women, men...) {
		for _, o := range order {
			i, j := indexOf(o[0]), indexOf(o[1])
			if i >= 0 && j >= 0 && p[i] >= p[j] {
				t.Errorf("somebody's %s of %v is not smaller than the %s of %v", o[0], p[i], o[1], p[j])
			}
		}
	}
}

// A slipped unit is found: one measurement of each thirtieth person taken as inches where centimetres were meant and the
// other way round, by Judge or Check together.
func TestSlipsAreFound(t *testing.T) {
	women, men := people(t)
	for _, factor := range []geom.MM{2.54, 1 / 2.54} {
		n, warned, asked := 0, 0, 0
		for i, p := range append(women, men...) {
			if i%30 != 0 {
				continue
			}
			for _, d := range defs {
				b, _ := asBody(p)
				if _, ok := b[d.Key]; !ok || d.Key == "stature" {
					continue
				}
				b[d.Key] *= factor
				worst := Level(0)
				if g, _ := d.Judge(b[d.Key]); g != Plausible {
					worst = Ask
				}
				for _, f := range Check(b, 0) {
					if f.Key == d.Key || f.Other == d.Key {
						worst = max(worst, f.Level)
					}
				}
				n++
				if worst >= Warn {
					warned++
				}
				if worst >= Ask {
					asked++
				}
			}
		}
		w, a := float64(warned)/float64(n), float64(asked)/float64(n)
		t.Logf("×%.2f: %d slips, %.2f %% warned of or more, %.2f %% asked about", float64(factor), n, 100*w, 100*a)
		if w < .995 || a < .98 {
			t.Error("too many slips pass")
		}
	}
}

// Estimates hold what they say over everybody of the survey: 1.96 standard deviations hold nineteen in twenty, women
// and men weighing the same, and there is no bias over both.
func TestEstimatesHold(t *testing.T) {
	women, men := people(t)
	for _, c := range []struct {
		name string
		keep func(target, other int) bool
		mass bool
	}{
		{"from the height", func(_, _ int) bool { return false }, false},
		{"from height and mass", func(_, _ int) bool { return false }, true},
		{"from height and three others", func(i, j int) bool { return (i+j)%8 == 0 }, false},
		{"from everything else", func(_, _ int) bool { return true }, true},
	} {
		all, allIn, worst, worstBias := 0., 0., 1., 0.
		worstKey, biasKey := "", ""
		for i, key := range surveyKeys {
			if i == indexOf("stature") || i == indexOf(massKey) {
				continue
			}
			n, in, bias := 0., 0., 0.
			for _, g := range [][][]float64{women, men} {
				w := 1 / float64(len(g))
				for at, p := range g {
					if at%3 != 0 { // a third is enough for the bounds below, and quick
						continue
					}
					b, m := asBody(p)
					for j, k := range surveyKeys {
						if j != indexOf("stature") && !c.keep(i, j) {
							delete(b, k)
						}
					}
					if !c.mass {
						m = 0
					}
					v, sd, _, err := Estimate(key, b, m)
					if err != nil {
						continue // outside the survey's P0.1 to P99.9
					}
					off := float64(v) - p[i]
					n += w
					bias += w * off / float64(sd)
					if math.Abs(off) <= 1.96*float64(sd) {
						in += w
					}
				}
			}
			all, allIn = all+n, allIn+in
			if in/n < worst {
				worst, worstKey = in/n, key
			}
			if math.Abs(bias/n) > math.Abs(worstBias) {
				worstBias, biasKey = bias/n, key
			}
		}
		t.Logf("%s: %.1f %% within 1.96 SD, least %.1f %% (%s), largest bias %.3f SD (%s)", c.name, 100*allIn/all, 100*worst, worstKey, worstBias, biasKey)
		if r := allIn / all; r < .94 || r > .96 || worst < .93 || math.Abs(worstBias) > .08 {
			t.Errorf("%s: the estimates do not hold what they say", c.name)
		}
	}
}
