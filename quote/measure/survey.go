package measure

import (
	"math"
	"slices"
)

// massKey is the body mass among the survey's quantities; it is not a length, so All does not list it.
const massKey = "body-mass"

// sex is one half of the survey as a multivariate normal distribution: means and standard deviations in the order of
// surveyKeys, in mm and kg, and the lower triangle of the correlation matrix, row by row.
//
// Every linear regression of one quantity on others follows from these; on stature and mass they are the ordinary
// least-squares lines of the survey (up to n−1 versus n−3 in the residual).
type sex struct {
	mean, sd []float64
	corr     [][]float64
}

// known is quantities with their values, by index into surveyKeys.
type known struct {
	at    []int
	value []float64
}

func (k *known) add(i int, v float64) { k.at, k.value = append(k.at, i), append(k.value, v) }

func (k *known) names() []string {
	out := make([]string, len(k.at))
	for i, at := range k.at {
		out[i] = surveyKeys[at]
	}
	return out
}

// regression is one sex's linear prediction of a quantity.
type regression struct {
	mean, sd float64
	// like is the log-likelihood of the known values for this sex, up to a constant.
	like float64
}

// given is the distribution of quantity i given the known ones, by Cholesky factorisation of their correlations.
func (s *sex) given(i int, k known) regression {
	n := len(k.at)
	l := make([][]float64, n+1) // the last row is that of the wanted quantity
	at := append(slices.Clone(k.at), i)
	for r := range l {
		l[r] = make([]float64, r+1)
		for c := range l[r] {
			sum := s.correlation(at[r], at[c])
			for j := range c {
				sum -= l[r][j] * l[c][j]
			}
			if r == c {
				l[r][c] = math.Sqrt(math.Max(sum, leastShare))
			} else {
				l[r][c] = sum / l[c][c]
			}
		}
	}
	var out regression
	var z float64
	w := make([]float64, n) // the known values, without what the ones before them explain
	for r := range n {
		w[r] = (k.value[r] - s.mean[k.at[r]]) / s.sd[k.at[r]]
		for j := range r {
			w[r] -= l[r][j] * w[j]
		}
		w[r] /= l[r][r]
		z += l[n][r] * w[r]
		out.like -= w[r]*w[r]/2 + math.Log(l[r][r]*s.sd[k.at[r]])
	}
	out.mean = s.mean[i] + z*s.sd[i]
	out.sd = l[n][n] * s.sd[i]
	return out
}

// leastShare of a variance left unexplained: what is below it is only rounding in the table.
const leastShare = 1e-4

func (s *sex) correlation(i, j int) float64 {
	if i == j {
		return 1
	}
	return s.corr[max(i, j)][min(i, j)]
}

// indexOf is the index of a measurement in the survey, or -1 if the survey does not have it.
func indexOf(key string) int { return slices.Index(surveyKeys, key) }

// covers reports whether the value lies in the survey's range: from the smaller sex's P0.1 to the larger's P99.9.
func covers(i int, v float64) bool { return v >= surveyLow[i] && v <= surveyHigh[i] }
