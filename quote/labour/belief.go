package labour

import "math"

// Belief is what is believed of how long work takes against the rates, on the scale of natural logarithms: 0.1 is about 10 %.
type Belief struct {
	Bias    float64 // by which all work takes longer than the rates say, on average
	Rates   float64 // how sure that is: the standard deviation of the studio's factor
	Project float64 // standard deviation of a commission's own factor
}

// asMany is how many commissions the spread believed at first counts for, against those that were logged (an assumption).
const asMany = 10

// Learn is the belief after commissions were finished whose work took these times the hours of their rates: 1.2 is a fifth
// longer. What is not above 0 is left out. The factor follows by Bayes' rule for a normal mean with a normal prior, the spread
// between commissions is pooled with what was believed (Gelman and others, Bayesian Data Analysis, sections 2.5 and 2.6, from
// memory).
func (b Belief) Learn(took []float64) Belief {
	var logs []float64
	sum := 0.0
	for _, x := range took {
		if x > 0 && !math.IsInf(x, 1) {
			logs = append(logs, math.Log(x))
			sum += math.Log(x)
		}
	}
	n := float64(len(logs))
	if n == 0 {
		return b
	}
	squares := 0.0
	for _, x := range logs {
		squares += (x - sum/n) * (x - sum/n)
	}
	b.Project = math.Sqrt((asMany*b.Project*b.Project + squares) / (asMany + n - 1))
	if b.Rates <= 0 || b.Project <= 0 {
		return b
	}
	before, each := 1/(b.Rates*b.Rates), 1/(b.Project*b.Project)
	b.Bias = (b.Bias*before + sum*each) / (before + n*each)
	b.Rates = math.Sqrt(1 / (before + n*each))
	return b
}
