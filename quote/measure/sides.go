package measure

import (
	"fmt"
	"math"

	"benchbell/quote/geom"
)

// Usual differences between left and right, as a share of the larger side and at least leastDifference, which is how much
// two careful measurements of one limb differ. Common practice, no source: the survey measured the right side.
const (
	girthDifference  = 0.05
	lengthDifference = 0.03
	leastDifference  = 6 // mm
)

// CheckSides notes paired measurements whose sides differ more than usual. Both sides are kept; from twice the usual
// difference the client is told, from four times the client must confirm.
func CheckSides(left, right map[string]geom.MM) []Finding {
	var out []Finding
	for _, d := range defs {
		l, ok := left[d.Key]
		r, ok2 := right[d.Key]
		if !d.Paired || !ok || !ok2 || !(l > 0 && r > 0) {
			continue
		}
		share := lengthDifference
		if girth(d.Key) {
			share = girthDifference
		}
		usual := math.Max(leastDifference, share*math.Max(float64(l), float64(r)))
		times := math.Abs(float64(l-r)) / usual
		level := Note
		switch {
		case !(times > 1):
			continue
		case times >= 4:
			level = Ask
		case times >= 2:
			level = Warn
		}
		out = append(out, Finding{Key: d.Key, Level: level, Say: fmt.Sprintf(
			"%s is %s on the left and %s on the right, a larger difference than usual. Each side is cut to its own measurement; please measure again if this surprises you.",
			d.Label, Format(l), Format(r))})
	}
	return out
}
