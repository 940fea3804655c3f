package cure

import (
	"fmt"
	"math"
	"strings"
)

// Reason is why a room is refused.
type Reason string

// Reasons.
const (
	TooCold Reason = "too cold"
	TooWarm Reason = "too warm"
	TooDry  Reason = "too dry"
	TooDamp Reason = "too damp"
	NearDew Reason = "near its dew point"
	Shut    Reason = "a window closes before it opens"
	NoRoom  Reason = "no workshop's air"
)

// Refusal says why a material cannot be worked in a room: Error in the studio's words, Client in words that can be
// shown to whoever commissioned the work.
type Refusal struct {
	Material string // key
	Room     Room
	Reasons  []Reason // all that hold, in the order of the material's limits
	sentence string
}

// Error says what is wrong with the room and what would be right.
func (e *Refusal) Error() string { return e.sentence }

// Client says no more than the client needs: figures and settings are the studio's matter.
func (e *Refusal) Client() string {
	what := map[Reason]string{
		TooCold: "the workshop is too cold for this material today",
		TooWarm: "the workshop is too warm for this material today",
		TooDry:  "the air in the workshop is too dry for this material today",
		TooDamp: "the air in the workshop is too damp for this material today",
		NearDew: "the air in the workshop is too damp for this material today",
		Shut:    "the workshop is too cold or too damp for this material today",
		NoRoom:  "the workshop's temperature and humidity are not set rightly, so that no date can be given yet",
	}[e.Reasons[0]]
	return what + "; the studio has been told"
}

// Admit refuses, with a *Refusal, rooms that no workshop has and those that the material's limits exclude.
func (m Material) Admit(r Room) error {
	refuse := func(reason Reason, format string, args ...any) error {
		return &Refusal{m.Key, r, []Reason{reason}, fmt.Sprintf(format, args...)}
	}
	switch {
	case math.IsNaN(r.Celsius) || r.Celsius < -20 || r.Celsius > 60:
		return refuse(NoRoom, "room temperature %g °C is no workshop's, give one between -20 and 60 °C", r.Celsius)
	case math.IsNaN(r.Humidity) || r.Humidity <= 0 || r.Humidity >= 100:
		return refuse(NoRoom, "relative humidity %g %% is no workshop's, give one above 0 and below 100 %%", r.Humidity)
	}
	var reasons []Reason
	var words []string
	for _, l := range m.Limits {
		if reason, word := l.breach(r); reason != "" {
			reasons, words = append(reasons, reason), append(words, word)
		}
	}
	if len(reasons) == 0 {
		return nil
	}
	return &Refusal{m.Key, r, reasons, m.Key + ": " + strings.Join(words, "; and ")}
}

// breach says which way and by how much the room breaks the limit; nothing where it keeps it.
func (l Limit) breach(r Room) (Reason, string) {
	switch {
	case l.What == "min temperature" && r.Celsius < l.Value:
		return TooCold, fmt.Sprintf("the room has %g °C, work at %g °C or warmer", r.Celsius, l.Value)
	case l.What == "max temperature" && r.Celsius > l.Value:
		return TooWarm, fmt.Sprintf("the room has %g °C, work at %g °C or cooler", r.Celsius, l.Value)
	case l.What == "min humidity" && r.Humidity < l.Value:
		return TooDry, fmt.Sprintf("the room has %g %% humidity, work at %g %% or more", r.Humidity, l.Value)
	case l.What == "max humidity" && r.Humidity > l.Value:
		return TooDamp, fmt.Sprintf("the room has %g %% humidity, work at %g %% or less", r.Humidity, l.Value)
	case l.What == "dew margin" && r.Celsius-DewPoint(r) < l.Value:
		// The air must hold no more vapour than would saturate it at the margin below.
		dry := math.Floor(100 * SaturationPressure(r.Celsius-l.Value) / SaturationPressure(r.Celsius))
		return NearDew, fmt.Sprintf("the room is %.1f °C above its dew point of %.1f °C, keep surfaces at least %g °C above it, at this temperature with %g %% humidity or less",
			r.Celsius-DewPoint(r), DewPoint(r), l.Value, dry)
	}
	return "", ""
}

// shut refuses a room in which none of the windows opens before it closes, and looks for the nearest rooms in which one
// would: warmer at the same humidity and, for water-borne materials, drier at the same temperature, in whole steps.
func (m Material) shut(what string, list []Allowed, r Room, w Window) error {
	works := func(r Room) bool {
		if m.Admit(r) != nil {
			return false
		}
		for _, a := range list {
			if _, open := m.moved(a, r); open {
				return true
			}
		}
		return false
	}
	const warmest, driest = 40, 10 // °C and % that a shop may be brought to
	var ways []string
	for c := math.Floor(r.Celsius) + 1; c <= warmest; c++ {
		if works(Room{c, r.Humidity}) {
			ways = append(ways, fmt.Sprintf("at %g °C or warmer", c))
			break
		}
	}
	for h := math.Ceil(r.Humidity) - 1; m.WaterBorne && h >= driest; h-- {
		if works(Room{r.Celsius, h}) {
			ways = append(ways, fmt.Sprintf("at %g %% humidity or less", h))
			break
		}
	}
	right := "take another material"
	if len(ways) > 0 {
		right = "work " + strings.Join(ways, " or ")
	}
	return &Refusal{m.Key, r, []Reason{Shut}, fmt.Sprintf("%s: at %g °C and %g %% humidity its %s window would open after %.0f min but close after %.0f min, %s",
		m.Key, r.Celsius, r.Humidity, what, w.Earliest, w.Latest, right)}
}
