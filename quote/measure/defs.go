package measure

import "slices"

// Where the plausible ranges come from. The survey range is the lower sex's mean minus four standard deviations to the
// higher sex's mean plus four, in whole millimetres. The survey measured soldiers, lightly dressed; civilians vary more,
// which is why a value outside asks for confirmation and is not refused.
const (
	ansur        = "ANSUR II (2012), US Army, public"
	ansurFlexed  = ansur + "; taken flexed there"
	ansurNavel   = ansur + "; waist taken at the navel there"
	ansurSitting = ansur + "; taken sitting, waist at the navel there"
	habit        = "common practice, no source"
)

// defs is in the order of the form: arm, trunk, head, whole body, leg, extremities.
//
// Terms are from memory of the standards, without clause numbers. Min and Max are common practice, no source: wide enough
// for a small child and for the largest adult.
var defs = []Def{
	{Key: "wrist-girth", Label: "Wrist girth", Paired: true,
		How:  "Lay the tape round the wrist over the two wrist bones, snug but not pressing.",
		Term: `ISO 8559-1 and ISO 7250-1 "wrist girth" (from memory)`,
		Low:  123, High: 212, Min: 60, Max: 350, Source: ansur},
	{Key: "forearm-girth", Label: "Forearm girth", Paired: true,
		How:  "Bend the elbow to a right angle, make a fist, and lay the tape round the fullest part of the forearm.",
		Term: `close to ISO 8559-1 "forearm girth", which is taken relaxed (from memory)`,
		Low:  190, High: 398, Min: 80, Max: 600, Source: ansurFlexed},
	{Key: "elbow-wrist-length", Label: "Elbow to wrist length", Paired: true,
		How:  "With the arm hanging, measure from the top of the forearm bone at the outside of the elbow to the wrist bone on the thumb side.",
		Term: `close to ISO 8559-1 "lower arm length" (from memory)`,
		Low:  180, High: 330, Min: 70, Max: 450, Source: ansur},
	{Key: "upper-arm-girth", Label: "Upper arm girth", Paired: true,
		How:  "Bend the elbow, tense the arm, and lay the tape round the fullest part of the upper arm.",
		Term: `close to ISO 8559-1 "upper arm girth", which is taken relaxed (from memory)`,
		Low:  183, High: 497, Min: 80, Max: 800, Source: ansurFlexed},
	{Key: "shoulder-elbow-length", Label: "Shoulder to elbow length", Paired: true,
		How:  "Bend the elbow to a right angle and measure from the bone at the point of the shoulder to the underside of the elbow.",
		Term: `ISO 7250-1 "shoulder-elbow length" (from memory)`,
		Low:  265, High: 437, Min: 100, Max: 600, Source: ansur},
	{Key: "biacromial-breadth", Label: "Shoulder breadth, bone to bone",
		How:  "Stand relaxed and measure straight across between the bones at the points of the two shoulders, not over the curve of the back.",
		Term: `ISO 7250-1 "shoulder (biacromial) breadth" (from memory)`,
		Low:  292, High: 492, Min: 130, Max: 650, Source: ansur},
	{Key: "chest-girth", Label: "Chest girth",
		How:  "Lay the tape level round the fullest part of the chest, under the arms, and breathe normally.",
		Term: `ISO 8559-1 "chest girth", "bust girth" for women (from memory)`,
		Low:  616, High: 1408, Min: 300, Max: 2200, Source: ansur},
	{Key: "waist-girth", Label: "Waist girth",
		How:  "Lay the tape level midway between the lowest rib and the top of the hip bone, belly relaxed.",
		Term: `ISO 8559-1 "waist girth" (from memory)`,
		Low:  461, High: 1387, Min: 280, Max: 2400, Source: ansurNavel},
	{Key: "hip-girth", Label: "Hip girth",
		How:  "With the feet together, lay the tape level round the fullest part of the seat.",
		Term: `ISO 8559-1 "hip girth" (from memory)`,
		Low:  713, High: 1326, Min: 300, Max: 2400, Source: ansur},
	{Key: "neck-girth", Label: "Neck girth",
		How:  "Lay the tape round the neck just below the larynx, with room for one finger.",
		Term: `ISO 8559-1 "neck girth" (from memory)`,
		Low:  253, High: 501, Min: 150, Max: 800, Source: ansur},
	{Key: "head-girth", Label: "Head girth",
		How:  "Lay the tape round the widest part of the head, just above the brows and over the bump at the back.",
		Term: `ISO 8559-1 "head girth" (from memory)`,
		Low:  484, High: 639, Min: 300, Max: 800, Source: ansur},
	{Key: "stature", Label: "Height",
		How:  "Stand barefoot against a wall, look straight ahead, and measure from the floor to the top of the head.",
		Term: `ISO 7250-1 "stature (body height)" (from memory)`,
		Low:  1372, High: 2030, Min: 450, Max: 2800, Source: ansur},
	{Key: "back-waist-length", Label: "Back length to the waist",
		How:  "Bend the head to find the knob at the base of the neck, straighten up, and follow the spine down to the waist.",
		Term: `ISO 8559-1 "back waist length" (from memory)`,
		Low:  320, High: 589, Min: 120, Max: 750, Source: ansurNavel},
	{Key: "front-waist-length", Label: "Front length to the waist",
		How:  "Measure from the pit of the neck straight down the front to the waist.",
		Term: `close to ISO 8559-1 "front waist length", here from the pit of the neck (from memory)`,
		Low:  259, High: 505, Min: 100, Max: 750, Source: ansurSitting},
	{Key: "knee-girth", Label: "Knee girth", Paired: true,
		How:  "Stand straight and lay the tape level round the middle of the kneecap.",
		Term: `ISO 8559-1 "knee girth" (from memory)`,
		Low:  270, High: 540, Min: 120, Max: 900, Source: habit},
	{Key: "calf-girth", Label: "Calf girth", Paired: true,
		How:  "Stand with the weight on both feet and lay the tape level round the fullest part of the calf.",
		Term: `ISO 8559-1 and ISO 7250-1 "calf girth" (from memory)`,
		Low:  259, High: 511, Min: 100, Max: 800, Source: ansur},
	{Key: "ankle-girth", Label: "Ankle girth", Paired: true,
		How:  "Lay the tape level round the thinnest part of the leg, just above the ankle bones.",
		Term: `ISO 8559-1 "minimum leg girth" (from memory)`,
		Low:  156, High: 288, Min: 70, Max: 500, Source: ansur},
	{Key: "thigh-girth", Label: "Thigh girth", Paired: true,
		How:  "Stand with the feet a little apart and lay the tape level round the thigh just below the fold of the seat.",
		Term: `ISO 8559-1 "thigh girth" (from memory)`,
		Low:  391, High: 859, Min: 150, Max: 1300, Source: ansur},
	{Key: "knee-floor-height", Label: "Knee height", Paired: true,
		How:  "Stand barefoot and measure from the floor to the middle of the kneecap.",
		Term: `close to ISO 8559-1 "knee height" (from memory)`,
		Low:  345, High: 601, Min: 100, Max: 850, Source: ansur},
	{Key: "hand-girth", Label: "Hand girth", Paired: true,
		How:  "Hold the hand flat with the fingers together and lay the tape round the knuckles, without the thumb.",
		Term: `ISO 8559-1 "hand girth" (from memory)`,
		Low:  151, High: 253, Min: 70, Max: 400, Source: ansur},
	{Key: "foot-length", Label: "Foot length", Paired: true,
		How:  "Stand on a sheet of paper with the heel against a wall and measure to the tip of the longest toe.",
		Term: `ISO 7250-1 and ISO 8559-1 "foot length" (from memory)`,
		Low:  197, High: 324, Min: 70, Max: 480, Source: ansur},
	{Key: "head-breadth", Label: "Head breadth",
		How:  "Hold two books flat against the sides of the head above the ears and measure straight between them.",
		Term: `ISO 7250-1 "head breadth" (from memory)`,
		Low:  127, High: 176, Min: 80, Max: 250, Source: ansur},
	{Key: "head-length", Label: "Head length",
		How:  "Measure straight from between the brows to the furthest point at the back of the head, between two books.",
		Term: `ISO 7250-1 "head length" (from memory)`,
		Low:  160, High: 228, Min: 100, Max: 320, Source: ansur},
	{Key: "arm-length", Label: "Arm length", Paired: true,
		How:  "With the arm hanging, measure from the bone at the point of the shoulder down the outside to the wrist bone.",
		Term: `close to ISO 8559-1 "arm length" (from memory)`,
		Low:  426, High: 716, Min: 150, Max: 1000, Source: ansur},
	{Key: "waist-floor-height", Label: "Waist height",
		How:  "Stand barefoot and measure straight down from the waist to the floor.",
		Term: `ISO 8559-1 "waist height" (from memory)`,
		Low:  780, High: 1265, Min: 200, Max: 1700, Source: ansurNavel},
}

// All is every measurement in the order of the form; the caller may change the copy.
func All() []Def { return slices.Clone(defs) }

// Lookup finds the measurement with a key.
func Lookup(key string) (Def, bool) {
	for _, d := range defs {
		if d.Key == key {
			return d, true
		}
	}
	return Def{}, false
}
