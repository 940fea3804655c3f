package templates_test

import (
	"math"
	"math/rand/v2"
	"slices"

	"benchbell/quote/geom"
)

// line is one measurement of one sex in the survey: percentiles and the regression on stature (mm) and body mass (kg)
// with the standard deviation of what it leaves; all in mm.
type line struct {
	p1, p5, p50, p95, p99         float64
	base, perStature, perKg, left float64
}

// survey is ANSUR II (2012), US Army, public files (Gordon et al. 2014, NATICK/TR-15/007), 1986 women and 4082 men; own
// computation. Index 0 is the women, 1 the men. The survey has no knee girth: here it is 0.95
// of the girth just above the knee (common practice, no source).
var survey = map[string][2]line{
	"wrist-girth": {
		{138, 142.2, 154, 168, 174, 80.862, 0.0279, 0.4194, 5.295},
		{156, 162, 176, 191, 198, 97.5001, 0.0253, 0.3984, 5.993},
	},
	"forearm-girth": {
		{225, 235, 263, 296, 312.1, 215.8828, -0.0318, 1.4768, 10.54},
		{263, 275, 310, 347.9, 365, 252.7366, -0.0315, 1.3172, 12.888},
	},
	"elbow-wrist-length": {
		{209.8, 218, 240.5, 268, 279, -14.9286, 0.1525, 0.118, 11.021},
		{235, 244, 267, 295, 308, -13.0281, 0.1592, 0.0165, 10.783},
	},
	"upper-arm-girth": {
		{244, 259, 304, 360, 388, 341.4078, -0.1399, 2.8331, 13.972},
		{280, 303, 357, 418, 448, 380.2987, -0.1223, 2.2531, 18.806},
	},
	"shoulder-elbow-length": {
		{292, 307, 334, 363, 376, -20.0299, 0.2152, 0.0563, 9.861},
		{322.8, 334, 363, 394, 408, -17.4886, 0.2172, -0.0035, 10.501},
	},
	"biacromial-breadth": {
		{322, 335, 365, 396, 406, 131.9891, 0.1283, 0.3607, 14.721},
		{371, 384, 415, 447, 463, 204.5891, 0.0917, 0.5855, 14.469},
	},
	"chest-girth": {
		{784, 824.2, 940, 1094, 1160.2, 990.3412, -0.3292, 7.2692, 42.647},
		{872.8, 922, 1056, 1207, 1276.2, 1036.4342, -0.2909, 6.2349, 32.322},
	},
	"waist-girth": {
		{665, 710, 852, 1040, 1115, 1014.1237, -0.4717, 9.0758, 48.516},
		{724.8, 768, 937, 1131, 1214, 1024.9061, -0.4358, 7.9624, 44.02},
	},
	"hip-girth": {
		{867, 901.2, 1018.5, 1155.8, 1206.3, 846.892, -0.1784, 6.8609, 29.51},
		{861.8, 899, 1017, 1149, 1218, 808.4111, -0.1401, 5.3462, 26.324},
	},
	"neck-girth": {
		{291, 302, 328, 363, 384.1, 305.8164, -0.0469, 1.4799, 12.184},
		{346, 360, 395, 443, 467.2, 407.756, -0.0851, 1.629, 14.853},
	},
	"head-girth": {
		{521, 532, 560, 597, 611, 446.9467, 0.0494, 0.498, 17.795},
		{538, 548, 574, 601, 614.2, 475.8952, 0.0319, 0.4966, 13.73},
	},
	"head-breadth": {
		{136, 140, 147, 156, 160, 135.1243, 0.0037, 0.0981, 5.049},
		{142, 146, 154, 163, 168, 156.5575, -0.0086, 0.1508, 5.182},
	},
	"head-length": {
		{171.8, 178, 190, 202, 208, 134.295, 0.0279, 0.1496, 6.819},
		{182, 188, 200, 211, 215, 144.7313, 0.0245, 0.1366, 6.301},
	},
	"back-waist-length": {
		{364.9, 384, 424.5, 470, 494.1, 169.7196, 0.1151, 1.0075, 20.797},
		{415, 433, 477, 524, 548.2, 171.421, 0.1321, 0.867, 20.744},
	},
	"front-waist-length": {
		{304, 317, 355, 396, 413, 167.3245, 0.0735, 1.0061, 19.332},
		{324, 342, 386, 438, 459.2, 134.0542, 0.0982, 0.9495, 23.427},
	},
	"thigh-girth": {
		{495, 527, 613, 711, 757, 584.0136, -0.1942, 5.1423, 22.817},
		{497, 532, 624, 723, 774, 594.7446, -0.1836, 4.1254, 22.566},
	},
	"knee-girth": {
		{312.6, 329.6, 378.1, 441.5, 476.1, 332.655, -0.0866, 2.789, 18.1232},
		{325.8, 341.1, 387.6, 439.8, 466.8, 326.9804, -0.0625, 2.006, 14.1217},
	},
	"calf-girth": {
		{312.7, 328, 372, 423, 452, 305.8544, -0.0514, 2.2304, 16.986},
		{329.8, 346, 392, 443, 467, 350.9623, -0.0684, 1.8884, 16.053},
	},
	"ankle-girth": {
		{185, 193, 215, 242, 255, 139.8667, 0.0141, 0.7815, 11.795},
		{198, 206, 228, 254, 268, 153.0913, 0.0079, 0.7291, 10.078},
	},
	"knee-floor-height": {
		{390, 408, 448, 493, 513.1, -101.0164, 0.3347, 0.0733, 13.959},
		{428, 443.1, 487, 536, 556.2, -113.0319, 0.343, -0.0105, 15.548},
	},
	"waist-floor-height": {
		{868.7, 900, 977.5, 1064, 1099.3, -223.598, 0.7652, -0.6244, 20.05},
		{943, 972, 1055, 1145, 1186, -204.3703, 0.7448, -0.551, 20.676},
	},
	"foot-length": {
		{219, 226, 246, 267.8, 276, 37.8549, 0.118, 0.2393, 8.314},
		{242, 250, 271, 293, 302, 44.9306, 0.1204, 0.1735, 8.857},
	},
	"hand-girth": {
		{167, 173, 187, 202, 207, 108.1625, 0.0342, 0.3351, 7.131},
		{189, 195, 212, 230, 237, 120.0144, 0.0356, 0.3488, 7.942},
	},
}

// size is stature in mm and body mass in kg of one sex: mean, standard deviation, first and last percentile, and how the
// two go together; the survey's, as above.
type size struct {
	stature, statureSD, statureLow, statureHigh float64
	mass, massSD, massLow, massHigh             float64
	together                                    float64
}

var sizes = [2]size{
	{1628.5, 64.2, 1482.6, 1777.6, 67.8, 11.0, 46.7, 97.5, 0.53},
	{1756.2, 68.6, 1601.6, 1927.0, 85.5, 14.2, 57.8, 124.2, 0.47},
}

// adult is the range from the smaller first percentile to the larger last one.
func adult(key string) (low, high float64, ok bool) {
	l, ok := survey[key]
	return min(l[0].p1, l[1].p1), max(l[0].p99, l[1].p99), ok
}

// person is a body with every measurement of the survey and what to call it in a message.
type person struct {
	name string
	body map[string]geom.MM
}

func people(name string, of func(key string, l line) float64) []person {
	out := make([]person, 2)
	for sex, title := range []string{"woman", "man"} {
		out[sex] = person{name + " " + title, map[string]geom.MM{}}
		for k, l := range survey {
			out[sex].body[k] = geom.MM(of(k, l[sex]))
		}
	}
	return out
}

// isGirth tells what grows with a body's mass from what grows with its stature.
func isGirth(key string) bool { return len(key) > 6 && key[len(key)-6:] == "-girth" }

// percentiles are the bodies that are all of one percentile, and those whose girths and lengths lie at opposite ends.
func percentiles() []person {
	var out []person
	out = append(out, people("P1", func(_ string, l line) float64 { return l.p1 })...)
	out = append(out, people("P5", func(_ string, l line) float64 { return l.p5 })...)
	out = append(out, people("P50", func(_ string, l line) float64 { return l.p50 })...)
	out = append(out, people("P95", func(_ string, l line) float64 { return l.p95 })...)
	out = append(out, people("P99", func(_ string, l line) float64 { return l.p99 })...)
	out = append(out, people("tall thin", func(k string, l line) float64 {
		if isGirth(k) {
			return l.p1
		}
		return l.p99
	})...)
	return append(out, people("short wide", func(k string, l line) float64 {
		if isGirth(k) {
			return l.p99
		}
		return l.p1
	})...)
}

// crowd is n women and n men as the survey's regressions make them: stature and mass drawn together, everything else by
// its regression and a draw of what that leaves, all within the first and last percentile.
func crowd(n int, seed uint64) []person {
	r := rand.New(rand.NewPCG(seed, 0))
	var out []person
	for range n {
		for sex, title := range []string{"woman", "man"} {
			z := sizes[sex]
			a, b := r.NormFloat64(), r.NormFloat64()
			stature := within(z.stature+z.statureSD*a, z.statureLow, z.statureHigh)
			mass := within(z.mass+z.massSD*(z.together*a+math.Sqrt(1-z.together*z.together)*b), z.massLow, z.massHigh)
			p := person{"drawn " + title, map[string]geom.MM{}}
			for _, k := range keys {
				l := survey[k][sex]
				p.body[k] = geom.MM(within(l.base+l.perStature*stature+l.perKg*mass+l.left*r.NormFloat64(), l.p1, l.p99))
			}
			out = append(out, p)
		}
	}
	return out
}

func within(x, low, high float64) float64 { return math.Max(low, math.Min(high, x)) }

// keys is the survey's measurements in a fixed order, so that a seed draws the same crowd every time.
var keys = func() []string {
	var out []string
	for k := range survey {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}()
