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
		{p1: 138, p5: 142.2, p50: 154, p95: 168, p99: 174, base: 80.862, perStature: 0.0279, perKg: 0.4194, left: 5.295},
		{p1: 156, p5: 162, p50: 176, p95: 191, p99: 198, base: 97.5001, perStature: 0.0253, perKg: 0.3984, left: 5.993},
	},
	"forearm-girth": {
		{p1: 225, p5: 235, p50: 263, p95: 296, p99: 312.1, base: 215.8828, perStature: -0.0318, perKg: 1.4768, left: 10.54},
		{p1: 263, p5: 275, p50: 310, p95: 347.9, p99: 365, base: 252.7366, perStature: -0.0315, perKg: 1.3172, left: 12.888},
	},
	"elbow-wrist-length": {
		{p1: 209.8, p5: 218, p50: 240.5, p95: 268, p99: 279, base: -14.9286, perStature: 0.1525, perKg: 0.118, left: 11.021},
		{p1: 235, p5: 244, p50: 267, p95: 295, p99: 308, base: -13.0281, perStature: 0.1592, perKg: 0.0165, left: 10.783},
	},
	"upper-arm-girth": {
		{p1: 244, p5: 259, p50: 304, p95: 360, p99: 388, base: 341.4078, perStature: -0.1399, perKg: 2.8331, left: 13.972},
		{p1: 280, p5: 303, p50: 357, p95: 418, p99: 448, base: 380.2987, perStature: -0.1223, perKg: 2.2531, left: 18.806},
	},
	"shoulder-elbow-length": {
		{p1: 292, p5: 307, p50: 334, p95: 363, p99: 376, base: -20.0299, perStature: 0.2152, perKg: 0.0563, left: 9.861},
		{p1: 322.8, p5: 334, p50: 363, p95: 394, p99: 408, base: -17.4886, perStature: 0.2172, perKg: -0.0035, left: 10.501},
	},
	"biacromial-breadth": {
		{p1: 322, p5: 335, p50: 365, p95: 396, p99: 406, base: 131.9891, perStature: 0.1283, perKg: 0.3607, left: 14.721},
		{p1: 371, p5: 384, p50: 415, p95: 447, p99: 463, base: 204.5891, perStature: 0.0917, perKg: 0.5855, left: 14.469},
	},
	"chest-girth": {
		{p1: 784, p5: 824.2, p50: 940, p95: 1094, p99: 1160.2, base: 990.3412, perStature: -0.3292, perKg: 7.2692, left: 42.647},
		{p1: 872.8, p5: 922, p50: 1056, p95: 1207, p99: 1276.2, base: 1036.4342, perStature: -0.2909, perKg: 6.2349, left: 32.322},
	},
	"waist-girth": {
		{p1: 665, p5: 710, p50: 852, p95: 1040, p99: 1115, base: 1014.1237, perStature: -0.4717, perKg: 9.0758, left: 48.516},
		{p1: 724.8, p5: 768, p50: 937, p95: 1131, p99: 1214, base: 1024.9061, perStature: -0.4358, perKg: 7.9624, left: 44.02},
	},
	"hip-girth": {
		{p1: 867, p5: 901.2, p50: 1018.5, p95: 1155.8, p99: 1206.3, base: 846.892, perStature: -0.1784, perKg: 6.8609, left: 29.51},
		{p1: 861.8, p5: 899, p50: 1017, p95: 1149, p99: 1218, base: 808.4111, perStature: -0.1401, perKg: 5.3462, left: 26.324},
	},
	"neck-girth": {
		{p1: 291, p5: 302, p50: 328, p95: 363, p99: 384.1, base: 305.8164, perStature: -0.0469, perKg: 1.4799, left: 12.184},
		{p1: 346, p5: 360, p50: 395, p95: 443, p99: 467.2, base: 407.756, perStature: -0.0851, perKg: 1.629, left: 14.853},
	},
	"head-girth": {
		{p1: 521, p5: 532, p50: 560, p95: 597, p99: 611, base: 446.9467, perStature: 0.0494, perKg: 0.498, left: 17.795},
		{p1: 538, p5: 548, p50: 574, p95: 601, p99: 614.2, base: 475.8952, perStature: 0.0319, perKg: 0.4966, left: 13.73},
	},
	"head-breadth": {
		{p1: 136, p5: 140, p50: 147, p95: 156, p99: 160, base: 135.1243, perStature: 0.0037, perKg: 0.0981, left: 5.049},
		{p1: 142, p5: 146, p50: 154, p95: 163, p99: 168, base: 156.5575, perStature: -0.0086, perKg: 0.1508, left: 5.182},
	},
	"head-length": {
		{p1: 171.8, p5: 178, p50: 190, p95: 202, p99: 208, base: 134.295, perStature: 0.0279, perKg: 0.1496, left: 6.819},
		{p1: 182, p5: 188, p50: 200, p95: 211, p99: 215, base: 144.7313, perStature: 0.0245, perKg: 0.1366, left: 6.301},
	},
	"back-waist-length": {
		{p1: 364.9, p5: 384, p50: 424.5, p95: 470, p99: 494.1, base: 169.7196, perStature: 0.1151, perKg: 1.0075, left: 20.797},
		{p1: 415, p5: 433, p50: 477, p95: 524, p99: 548.2, base: 171.421, perStature: 0.1321, perKg: 0.867, left: 20.744},
	},
	"front-waist-length": {
		{p1: 304, p5: 317, p50: 355, p95: 396, p99: 413, base: 167.3245, perStature: 0.0735, perKg: 1.0061, left: 19.332},
		{p1: 324, p5: 342, p50: 386, p95: 438, p99: 459.2, base: 134.0542, perStature: 0.0982, perKg: 0.9495, left: 23.427},
	},
	"thigh-girth": {
		{p1: 495, p5: 527, p50: 613, p95: 711, p99: 757, base: 584.0136, perStature: -0.1942, perKg: 5.1423, left: 22.817},
		{p1: 497, p5: 532, p50: 624, p95: 723, p99: 774, base: 594.7446, perStature: -0.1836, perKg: 4.1254, left: 22.566},
	},
	"knee-girth": {
		{p1: 312.6, p5: 329.6, p50: 378.1, p95: 441.5, p99: 476.1, base: 332.655, perStature: -0.0866, perKg: 2.789, left: 18.1232},
		{p1: 325.8, p5: 341.1, p50: 387.6, p95: 439.8, p99: 466.8, base: 326.9804, perStature: -0.0625, perKg: 2.006, left: 14.1217},
	},
	"calf-girth": {
		{p1: 312.7, p5: 328, p50: 372, p95: 423, p99: 452, base: 305.8544, perStature: -0.0514, perKg: 2.2304, left: 16.986},
		{p1: 329.8, p5: 346, p50: 392, p95: 443, p99: 467, base: 350.9623, perStature: -0.0684, perKg: 1.8884, left: 16.053},
	},
	"ankle-girth": {
		{p1: 185, p5: 193, p50: 215, p95: 242, p99: 255, base: 139.8667, perStature: 0.0141, perKg: 0.7815, left: 11.795},
		{p1: 198, p5: 206, p50: 228, p95: 254, p99: 268, base: 153.0913, perStature: 0.0079, perKg: 0.7291, left: 10.078},
	},
	"knee-floor-height": {
		{p1: 390, p5: 408, p50: 448, p95: 493, p99: 513.1, base: -101.0164, perStature: 0.3347, perKg: 0.0733, left: 13.959},
		{p1: 428, p5: 443.1, p50: 487, p95: 536, p99: 556.2, base: -113.0319, perStature: 0.343, perKg: -0.0105, left: 15.548},
	},
	"waist-floor-height": {
		{p1: 868.7, p5: 900, p50: 977.5, p95: 1064, p99: 1099.3, base: -223.598, perStature: 0.7652, perKg: -0.6244, left: 20.05},
		{p1: 943, p5: 972, p50: 1055, p95: 1145, p99: 1186, base: -204.3703, perStature: 0.7448, perKg: -0.551, left: 20.676},
	},
	"foot-length": {
		{p1: 219, p5: 226, p50: 246, p95: 267.8, p99: 276, base: 37.8549, perStature: 0.118, perKg: 0.2393, left: 8.314},
		{p1: 242, p5: 250, p50: 271, p95: 293, p99: 302, base: 44.9306, perStature: 0.1204, perKg: 0.1735, left: 8.857},
	},
	"hand-girth": {
		{p1: 167, p5: 173, p50: 187, p95: 202, p99: 207, base: 108.1625, perStature: 0.0342, perKg: 0.3351, left: 7.131},
		{p1: 189, p5: 195, p50: 212, p95: 230, p99: 237, base: 120.0144, perStature: 0.0356, perKg: 0.3488, left: 7.942},
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
	{stature: 1628.5, statureSD: 64.2, statureLow: 1482.6, statureHigh: 1777.6, mass: 67.8, massSD: 11.0, massLow: 46.7, massHigh: 97.5, together: 0.53},
	{stature: 1756.2, statureSD: 68.6, statureLow: 1601.6, statureHigh: 1927.0, mass: 85.5, massSD: 14.2, massLow: 57.8, massHigh: 124.2, together: 0.47},
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
		out[sex] = person{name: name + " " + title, body: map[string]geom.MM{}}
		for k, l := range survey {
			out[sex].body[k] = geom.MM(of(k, l[sex]))
		}
	}
	return out
}

// isGirth distinguishes what grows with body mass from what grows with stature.
func isGirth(key string) bool { return len(key) > 6 && key[len(key)-6:] == "-girth" }

// percentiles are bodies with everything at one percentile, and bodies with girths and lengths at opposite ends.
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
			p := person{name: "drawn " + title, body: map[string]geom.MM{}}
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
