package measure

import (
	"fmt"
	"math"
	"slices"

	"benchbell/quote/geom"
)

// Level says how much a finding matters; higher matters more.
type Level int

// Levels. Nothing is refused at any of them: what the client confirms is kept.
const (
	Note Level = iota + 1 // for the maker to see
	Warn                  // the client is told
	Ask                   // the client must confirm it
)

// Standard deviations from the value expected by the survey at which a finding reaches each level.
const (
	noteZ = 3.0
	warnZ = 4.0
	askZ  = 5.0
)

func levelOf(z float64) Level {
	switch z = math.Abs(z); {
	case z >= askZ:
		return Ask
	case z >= warnZ:
		return Warn
	case z >= noteZ:
		return Note
	}
	return 0
}

// Finding is something about a body's measurements that deserves a second look.
type Finding struct {
	Key   string  // the measurement, or "body-mass"
	Other string  // the measurement it does not match, if it is about a pair
	Z     float64 // standard deviations from the expected value; 0 if the finding is not statistical
	Level Level
	Say   string // plain sentences for the person who measured
}

// largestCommon is how far beyond expectation a girth may be explained by the other girths being large as well: a heavy
// person is not a mistake. Nobody in the survey was further out, and a wrong unit for all of them is more likely.
const largestCommon = 8.0

// order lists pairs in which the first is smaller on every body: no person in the survey breaks one (checked where the
// survey is at hand). Pairs with the knee girth, which the survey lacks, are common practice, no source.
var order = [][2]string{
	{"wrist-girth", "forearm-girth"}, {"wrist-girth", "hand-girth"}, {"wrist-girth", "upper-arm-girth"},
	{"ankle-girth", "calf-girth"}, {"calf-girth", "thigh-girth"}, {"ankle-girth", "knee-girth"}, {"knee-girth", "thigh-girth"},
	{"upper-arm-girth", "chest-girth"}, {"thigh-girth", "hip-girth"}, {"neck-girth", "chest-girth"}, {"neck-girth", "head-girth"},
	{"head-breadth", "head-length"},
	{"elbow-wrist-length", "shoulder-elbow-length"}, {"shoulder-elbow-length", "arm-length"}, {"arm-length", "waist-floor-height"},
	{"foot-length", "knee-floor-height"}, {"knee-floor-height", "waist-floor-height"}, {"waist-floor-height", "stature"},
	{"biacromial-breadth", "chest-girth"},
}

// neighbours lists pairs of measurements of which the second predicts the first; they are compared if neither stands out by
// itself.
var neighbours = [][2]string{
	{"wrist-girth", "forearm-girth"}, {"forearm-girth", "upper-arm-girth"}, {"wrist-girth", "hand-girth"},
	{"ankle-girth", "calf-girth"}, {"calf-girth", "thigh-girth"}, {"waist-girth", "hip-girth"}, {"neck-girth", "chest-girth"},
	{"elbow-wrist-length", "shoulder-elbow-length"}, {"shoulder-elbow-length", "arm-length"},
	{"knee-floor-height", "waist-floor-height"}, {"front-waist-length", "back-waist-length"}, {"head-length", "head-girth"},
}

// Check looks for values of an adult's body that do not fit together, in the order of the form. A mass of zero means not
// given. Values that Judge calls impossible are left to Judge.
//
// Each value is compared with people in the survey of that height, and of that mass if it is given, for the sex that
// explains it better: that flags fewer of the survey's own people than one sex's lines alone or one line through both.
// Without a height, or with one outside the survey, only neighbouring measurements are compared.
func Check(body map[string]geom.MM, mass Mass) []Finding {
	c := checker{body: map[string]geom.MM{}, flagged: map[string]bool{}}
	for _, d := range defs {
		if v, ok := body[d.Key]; ok && v >= d.Min && v <= d.Max {
			c.body[d.Key] = v
		}
	}
	c.size(mass)
	for _, d := range defs {
		c.one(d)
	}
	for _, p := range order {
		c.order(p[0], p[1])
	}
	for _, p := range neighbours {
		c.compareNeighbours(p[0], p[1])
	}
	slices.SortStableFunc(c.out, func(a, b Finding) int { return rank(a.Key) - rank(b.Key) })
	return c.out
}

// rank is a key's place in the form; the mass comes after the lengths.
func rank(key string) int {
	if i := slices.IndexFunc(defs, func(d Def) bool { return d.Key == key }); i >= 0 {
		return i
	}
	return len(defs)
}

type checker struct {
	body    map[string]geom.MM
	flagged map[string]bool
	on      known // what the others are compared against: height and mass, if usable
	what    string
	mass    bool // the mass is usable
	out     []Finding
}

func (c *checker) add(f Finding) {
	c.flagged[f.Key] = true
	c.out = append(c.out, f)
}

// size judges height and mass by themselves and keeps those the rest can be compared with.
func (c *checker) size(mass Mass) {
	height, ok := c.body["stature"]
	i, j := indexOf("stature"), indexOf(massKey)
	if !ok {
		return
	}
	if !covers(i, float64(height)) {
		z := milder(i, known{}, float64(height))
		d, _ := Lookup("stature")
		c.add(Finding{Key: "stature", Z: z, Level: max(Note, levelOf(z)), Say: fmt.Sprintf(
			"A height of %s is outside the range of the adults surveyed, %s to %s, so the other measurements are only compared with each other.%s Please check it.",
			Format(height), Format(geom.MM(surveyLow[i])), Format(geom.MM(surveyHigh[i])), d.slip(height))})
		return
	}
	c.on.add(i, float64(height))
	c.what = "a height of " + Format(height)
	if !(mass >= leastMass && mass <= mostMass) {
		return
	}
	z := milder(j, c.on, float64(mass))
	if levelOf(z) > 0 {
		c.add(Finding{Key: massKey, Z: z, Level: levelOf(z), Say: fmt.Sprintf(
			"A body mass of %v is unusually %s for %s. Please check the unit, kilograms or pounds, and the number.", mass, sign(z, "high", "low"), c.what)})
	}
	if levelOf(z) < Warn {
		c.on.add(j, float64(mass))
		c.what += " and a mass of " + mass.String()
		c.mass = true
	}
}

// one compares a measurement with the height and mass.
func (c *checker) one(d Def) {
	v, ok := c.body[d.Key]
	i := indexOf(d.Key)
	if !ok || i < 0 || d.Key == "stature" || len(c.on.at) == 0 {
		return
	}
	z := milder(i, c.on, float64(v))
	if z >= noteZ && z <= largestCommon && !c.mass && girth(d.Key) {
		if others := c.girthsBut(d.Key); len(others.at) > len(c.on.at)+1 { // at least two agree
			if y := milder(i, others, float64(v)); y < z {
				z = math.Max(y, 0)
			}
		}
	}
	if levelOf(z) == 0 {
		return
	}
	low, high := most(i, c.on)
	c.add(Finding{Key: d.Key, Z: z, Level: levelOf(z), Say: fmt.Sprintf(
		"%s of %s is unusually %s for %s, where most are between %s and %s.%s Please check the unit and the place: %s",
		d.Label, Format(v), sign(z, "large", "small"), c.what, Format(geom.MM(low)), Format(geom.MM(high)), slipInto(v, low, high), lower(d.How))})
}

// girthsBut are the known quantities and all girths of the body except one.
func (c *checker) girthsBut(key string) known {
	k := known{slices.Clone(c.on.at), slices.Clone(c.on.value)}
	for _, d := range defs {
		if v, ok := c.body[d.Key]; ok && d.Key != key && girth(d.Key) && indexOf(d.Key) >= 0 {
			k.add(indexOf(d.Key), float64(v))
		}
	}
	return k
}

// girth reports whether the measurement grows with the body's mass: all girths except the head's.
func girth(key string) bool {
	return len(key) > 6 && key[len(key)-6:] == "-girth" && key != "head-girth"
}

// order finds a pair in the wrong order.
func (c *checker) order(small, large string) {
	a, ok := c.body[small]
	b, ok2 := c.body[large]
	if !ok || !ok2 || a < b {
		return
	}
	d, _ := Lookup(small)
	e, _ := Lookup(large)
	c.flagged[large] = true
	c.add(Finding{Key: small, Other: large, Level: Ask, Say: fmt.Sprintf(
		"%s of %s is not smaller than the %s of %s, as it is on every body. Please check both: they may be swapped, or one may be in the wrong unit.",
		d.Label, Format(a), lower(e.Label), Format(b))})
}

// compareNeighbours compares a measurement with its neighbour.
func (c *checker) compareNeighbours(key, by string) {
	a, ok := c.body[key]
	b, ok2 := c.body[by]
	if !ok || !ok2 || c.flagged[key] || c.flagged[by] {
		return
	}
	var on known
	on.add(indexOf(by), float64(b))
	z := milder(indexOf(key), on, float64(a))
	if levelOf(z) == 0 {
		return
	}
	low, high := most(indexOf(key), on)
	d, _ := Lookup(key)
	e, _ := Lookup(by)
	c.add(Finding{Key: key, Other: by, Z: z, Level: levelOf(z), Say: fmt.Sprintf(
		"%s of %s is unusually %s next to the %s of %s, where most are between %s and %s. Please check both.",
		d.Label, Format(a), sign(z, "large", "small"), lower(e.Label), Format(b),
		Format(geom.MM(low)), Format(geom.MM(high)))})
}

// milder is the deviation of a value for the sex that explains it better.
func milder(i int, on known, v float64) float64 {
	f, m := female.given(i, on), male.given(i, on)
	zf, zm := (v-f.mean)/f.sd, (v-m.mean)/m.sd
	if math.Abs(zf) < math.Abs(zm) {
		return zf
	}
	return zm
}

// most is the range that holds nineteen out of twenty people of either sex.
func most(i int, on known) (low, high float64) {
	f, m := female.given(i, on), male.given(i, on)
	return math.Max(0, math.Min(f.mean-2*f.sd, m.mean-2*m.sd)), math.Max(f.mean+2*f.sd, m.mean+2*m.sd)
}

func sign(z float64, more, less string) string {
	if z < 0 {
		return less
	}
	return more
}

// lower puts a phrase in lower case to continue a sentence.
func lower(s string) string {
	if s == "" {
		return s
	}
	return string(s[0]|0x20) + s[1:]
}
