package labour

import "math"

// Expected is the PERT mean in minutes, (O + 4M + P) / 6.
//
// Source: the three-point estimate of the US Navy's Polaris programme, late 1950s, as printed at
// project-management.info (secondary).
func (t Time) Expected() float64 { return (t.Low + 4*t.Likely + t.High) / 6 }

// SD is the PERT standard deviation in minutes, (P − O) / 6; source as for Expected.
func (t Time) SD() float64 { return (t.High - t.Low) / 6 }

// Sum is the expected minutes of all the times together and their standard deviation.
//
// The times are taken as independent, so variances add. The work on one commission is not quite independent (a slow day
// slows every step), so the spread given here is a lower bound.
func Sum(times []Time) (expected, sd float64) {
	var v float64
	for _, t := range times {
		expected += t.Expected()
		v += t.SD() * t.SD()
	}
	return expected, math.Sqrt(v)
}
