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
	NoRoom  Reason = "not plausible for a workshop"
)

// Refusal says why a material cannot be used in a room: Error in words for the studio, Client in words fit for the person
// who commissioned the work.
type Refusal struct {
	Material string // key
	Room     Room
	Reasons  []Reason // all that apply, in the order of the material's limits
	sentence string
}

// Error says what is wrong with the room and what would be right.
func (e *Refusal) Error() string { return e.sentence }

// Client says only what the client needs; figures and settings are for the studio.
func (e *Refusal) Client() string {
	what := map[Reason]string{
		TooCold: "the workshop is too cold for this material today",
		TooWarm: "the workshop is too warm for this material today",
		TooDry:  "the air in the workshop is too dry for this material today",
		TooDamp: "the air in the workshop is too damp for this material today",
		NearDew: "the air in the workshop is too damp for this material today",
		Shut:    "the workshop is too cold or too damp for this material today",
		NoRoom:  "the workshop's temperature and humidity are not set correctly, so we cannot give a date yet",
	}[e.Reasons[0]]
	return what + "; the studio has been told"
}

// Admit refuses, with a *Refusal, rooms outside the material's limits and values that no workshop has.
func (m Material) Admit(r Room) error {
	refuse := func(reason Reason, format string, args ...any) error {
		return &Refusal{m.Key, r, []Reason{reason}, fmt.Sprintf(format, args...)}
	}
	switch {
	case math.IsNaN(r.Celsius) || r.Celsius < -20 || r.Celsius > 60:
		return refuse(NoRoom, "a room temperature of %g °C is not plausible for a workshop; use one from -20 to 60 °C", r.Celsius)
	case math.IsNaN(r.Humidity) || r.Humidity <= 0 || r.Humidity >= 100:
		return refuse(NoRoom, "a relative humidity of %g %% is not plausible for a workshop; use one above 0 and below 100 %%", r.Humidity)
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

// breach says which way and by how much the room breaks the limit; it returns nothing if the room keeps it.
func (l Limit) breach(r Room) (Reason, string) {
	switch {
	case l.What == "min temperature" && r.Celsius < l.Value:
		return TooCold, fmt.Sprintf("the room is at %g °C; it must be %g °C or warmer", r.Celsius, l.Value)
	case l.What == "max temperature" && r.Celsius > l.Value:
		return TooWarm, fmt.Sprintf("the room is at %g °C; it must be %g °C or cooler", r.Celsius, l.Value)
	case l.What == "min humidity" && r.Humidity < l.Value:
		return TooDry, fmt.Sprintf("the humidity is %g %%; it must be %g %% or more", r.Humidity, l.Value)
	case l.What == "max humidity" && r.Humidity > l.Value:
		return TooDamp, fmt.Sprintf("the humidity is %g %%; it must be %g %% or less", r.Humidity, l.Value)
	case l.What == "dew margin" && r.Celsius-dewPoint(r) < l.Value:
		// The air must hold no more vapour than would saturate it at the margin below the room's temperature.
		dry := math.Floor(100 * saturationPressure(r.Celsius-l.Value) / saturationPressure(r.Celsius))
		return NearDew, fmt.Sprintf("the room is %.1f °C above its dew point of %.1f °C; surfaces must be at least %g °C above it, which at this temperature means %g %% humidity or less",
			r.Celsius-dewPoint(r), dewPoint(r), l.Value, dry)
	}
	return "", ""
}

// shut refuses a room in which none of the windows opens before it closes. It looks for the nearest rooms in which one
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
	const warmest, driest = 40, 10 // °C and %: the most a shop can be heated or dried to
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
	right := "use another material"
	if len(ways) > 0 {
		right = "work " + strings.Join(ways, " or ")
	}
	return &Refusal{m.Key, r, []Reason{Shut}, fmt.Sprintf("%s: at %g °C and %g %% humidity its %s window would open after %.0f min but close after %.0f min; %s",
		m.Key, r.Celsius, r.Humidity, what, w.Earliest, w.Latest, right)}
}
