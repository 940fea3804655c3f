package measure

import (
	"fmt"
	"math"

	"benchbell/quote/geom"
)

// Estimate is the expected value of a measurement an adult did not give, its standard deviation, and the measurements it is
// based on (including "body-mass" if the mass is given; a mass of zero is not).
//
// It is the survey's linear prediction for each sex, the two weighted by how well each explains what is given. The standard
// deviation covers both the spread within a sex and the doubt between them, but not mistakes in what is given: call Check
// first. The survey took some measurements in a different place than a client does; see Caveat.
//
// It refuses if there is no height, if the survey lacks the measurement, and if anything given lies outside the survey's
// adults. It cannot tell a tall child from an adult: never use it for a child.
func Estimate(key string, body map[string]geom.MM, mass Mass) (value, sd geom.MM, from []string, err error) {
	d, ok := Lookup(key)
	if !ok {
		return 0, 0, nil, fmt.Errorf("there is no measurement %s to estimate", quoted(key))
	}
	i := indexOf(key)
	switch height, ok := body["stature"]; {
	case i < 0:
		return 0, 0, nil, fmt.Errorf("the %s cannot be estimated, since the survey of adults that estimates come from lacks it; please measure it", lower(d.Label))
	case key == "stature":
		return 0, 0, nil, fmt.Errorf("the height cannot be estimated, since every estimate is based on it; please measure it")
	case !ok:
		return 0, 0, nil, fmt.Errorf("the %s cannot be estimated without the height; give the height, or measure the %[1]s", lower(d.Label))
	case !covers(0, float64(height)):
		return 0, 0, nil, fmt.Errorf("the %s cannot be estimated for a height of %s, since only adults from %s to %s were surveyed, and nothing is estimated for children; please measure it",
			lower(d.Label), Format(height), Format(geom.MM(surveyLow[0])), Format(geom.MM(surveyHigh[0])))
	}
	var on known
	for j, k := range surveyKeys {
		v, ok := float64(body[k]), k != key && body[k] != 0
		label := ""
		if k == massKey {
			v, ok, label = float64(mass), mass != 0, "weight of "+mass.String()
		}
		if !ok {
			continue
		}
		if !covers(j, v) {
			if label == "" {
				e, _ := Lookup(k)
				label = lower(e.Label) + " of " + Format(geom.MM(v))
			}
			return 0, 0, nil, fmt.Errorf("the %s cannot be estimated, since the %s is outside the range of the adults surveyed; please measure it", lower(d.Label), label)
		}
		on.add(j, v)
	}
	mean, dev := mix(female.given(i, on), male.given(i, on))
	return geom.MM(mean), geom.MM(dev), on.names(), nil
}

// mix is the mean and standard deviation of the two sexes' predictions together, each weighted by its likelihood; before
// anything is known they weigh the same.
func mix(f, m regression) (mean, sd float64) {
	w := 1 / (1 + math.Exp(m.like-f.like)) // of the women
	mean = w*f.mean + (1-w)*m.mean
	d := f.mean - m.mean
	return mean, math.Sqrt(w*f.sd*f.sd + (1-w)*m.sd*m.sd + w*(1-w)*d*d)
}

// Estimable reports whether a measurement can be estimated for anybody: the survey has it, and it is not the height.
func Estimable(key string) bool { return indexOf(key) >= 0 && key != "stature" }

// Caveat says how the survey took a measurement if a client takes it differently; it is empty if both are taken alike.
// Comparisons and estimates of such a measurement are a little off, by an unknown amount.
func Caveat(key string) string {
	switch key {
	case "waist-girth", "back-waist-length", "waist-floor-height":
		return "estimates come from a survey of adults that took the waist at the navel, not midway between the lowest rib and the hip bone"
	case "front-waist-length":
		return "the survey of adults that estimates come from took the front length sitting"
	case "knee-girth":
		return "the survey of adults that estimates come from lacks the knee girth"
	}
	return ""
}
