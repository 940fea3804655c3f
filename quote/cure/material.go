package cure

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"sync"
)

// Law says how the room changes a material's times.
type Law string

// The laws of the table.
const (
	Reaction Law = "reaction" // 10 °C rule
	Solvent  Law = "solvent"  // 10 °C rule
	Water    Law = "water"    // drying power of the air
	Cooling  Law = "cooling"  // not changed
)

// Figure is one number of the table with its range, what is planned with, and where it comes from.
type Figure struct {
	Name       string   `json:"name"`
	Low        float64  `json:"low"`
	High       float64  `json:"high"`
	Plan       float64  `json:"plan"`
	Unit       string   `json:"unit"` // "min", "h", "m2/L", "coats", "C", "%", "to 1"
	Sources    []string `json:"sources"`
	Confidence string   `json:"confidence"`        // "A" sheet seen, "B" secondary page, "C" common practice, "M" from memory
	Celsius    float64  `json:"celsius,omitempty"` // reference temperature of the figure
	Note       string   `json:"note,omitempty"`
}

// Allowed is a window of the table, minutes in the reference room, with where it comes from.
type Allowed struct {
	Window
	Celsius    float64  `json:"celsius,omitempty"` // reference temperature
	Sources    []string `json:"sources"`
	Confidence string   `json:"confidence"`
	Note       string   `json:"note,omitempty"`
}

// Limit excludes rooms: What is one of "min temperature", "max temperature" (°C), "min humidity", "max humidity" (%)
// or "dew margin" (°C that the room must be above its dew point).
type Limit struct {
	What       string   `json:"what"`
	Value      float64  `json:"value"`
	Sources    []string `json:"sources"`
	Confidence string   `json:"confidence"`
	Note       string   `json:"note,omitempty"`
}

// Material is a generic glue or coating. Times are those of the reference room until Times puts it in another.
type Material struct {
	Key        string    `json:"key"`
	Title      string    `json:"title"`
	Kind       string    `json:"kind"`
	Law        Law       `json:"law"`
	WaterBorne bool      `json:"-"`
	Coats      int       `json:"coats"`  // typical
	Spread     float64   `json:"spread"` // m² per litre, one coat on one face; 0 where not counted by volume
	Figures    []Figure  `json:"figures"`
	Recoat     []Allowed `json:"recoat"`
	Topcoat    []Allowed `json:"topcoat"`
	Limits     []Limit   `json:"limits"`
	Cautions   []string  `json:"cautions"`
	Sources    []string  `json:"-"` // of all its figures, in words, each once

	humidity float64 // reference
}

// tableJSON is our own layout; the figures' sources and confidence marks stand beside them.
//
//go:embed materials.json
var tableJSON []byte

type table struct {
	Celsius    float64           `json:"celsius"`
	Humidity   float64           `json:"humidity"`
	Confidence map[string]string `json:"confidence"`
	Sources    map[string]string `json:"sources"`
	Materials  []Material        `json:"materials"`
}

// load reads the embedded table once. It panics on a table that does not decode, which only a broken build can have.
var load = sync.OnceValue(func() table {
	var t table
	if err := json.Unmarshal(tableJSON, &t); err != nil {
		panic(fmt.Errorf("cure: embedded table: %w", err))
	}
	for i := range t.Materials {
		m := &t.Materials[i]
		m.WaterBorne, m.humidity = m.Law == Water, t.Humidity
		words := func(keys []string) {
			for k, key := range keys {
				keys[k] = t.Sources[key]
				if !slices.Contains(m.Sources, keys[k]) {
					m.Sources = append(m.Sources, keys[k])
				}
			}
		}
		for k := range m.Figures {
			f := &m.Figures[k]
			if f.Celsius == 0 {
				f.Celsius = t.Celsius
			}
			words(f.Sources)
		}
		for _, list := range [][]Allowed{m.Recoat, m.Topcoat} {
			for k := range list {
				if list[k].Celsius == 0 {
					list[k].Celsius = t.Celsius
				}
				words(list[k].Sources)
			}
		}
		for k := range m.Limits {
			words(m.Limits[k].Sources)
		}
	}
	return t
})

// Materials is the whole table in its own order. The slices inside are shared: do not write to them.
func Materials() []Material { return slices.Clone(load().Materials) }

// Lookup finds a material by its key.
func Lookup(key string) (Material, bool) {
	for _, m := range load().Materials {
		if m.Key == key {
			return m, true
		}
	}
	return Material{}, false
}

// Confidence says in words what a confidence mark means.
func Confidence(mark string) string { return load().Confidence[mark] }

// Figure finds one of the material's figures by name.
func (m Material) Figure(name string) (Figure, bool) {
	for _, f := range m.Figures {
		if f.Name == name {
			return f, true
		}
	}
	return Figure{}, false
}

// Times puts the material's planning times into a room. It refuses a room outside the material's limits, naming the
// limit, and one in which a window would close before it opens.
func (m Material) Times(r Room) (Times, error) {
	if err := m.admit(r); err != nil {
		return Times{}, err
	}
	t := Times{Touch: m.minutes("touch", r), Handle: m.minutes("handle", r), Full: m.minutes("full", r)}
	// Full cure never comes before handling, even where the two figures have different reference rooms.
	t.Full = max(t.Full, t.Handle)
	var err error
	if t.Recoat, err = m.windows("recoat", m.Recoat, r); err != nil {
		return Times{}, err
	}
	if t.Topcoat, err = m.windows("topcoat", m.Topcoat, r); err != nil {
		return Times{}, err
	}
	if open, ok := m.Figure("open"); ok {
		place := Allowed{Window: Window{Earliest: m.reference("touch"), Latest: open.Plan}, Celsius: open.Celsius}
		if place.Earliest > place.Latest { // one-face adhesives are joined wet, there is nothing to wait for
			place.Earliest = 0
		}
		w, err := m.windows("placing", []Allowed{place}, r)
		if err != nil {
			return Times{}, err
		}
		t.Place = w[0]
	}
	return t, nil
}

// factor is by how much the material takes longer in r than in the reference room at the given temperature.
func (m Material) factor(r Room, reference float64) float64 {
	switch m.Law {
	case Water:
		return EvaporationFactor(r, Room{Celsius: reference, Humidity: m.humidity})
	case Cooling:
		return 1
	default:
		return ReactionFactor(r.Celsius, reference)
	}
}

// reference is a figure's planning value in minutes, in its reference room.
func (m Material) reference(name string) float64 {
	f, _ := m.Figure(name)
	if f.Unit == "h" {
		return f.Plan * 60
	}
	return f.Plan
}

func (m Material) minutes(name string, r Room) float64 {
	f, _ := m.Figure(name)
	return m.reference(name) * m.factor(r, f.Celsius)
}

// windows scales allowed intervals: their openings both ways, their closings only towards earlier.
func (m Material) windows(what string, list []Allowed, r Room) ([]Window, error) {
	out := make([]Window, 0, len(list))
	var shut Window // one that closes before it opens; an error only if no other remains
	for _, a := range list {
		f := m.factor(r, a.Celsius)
		w := Window{Earliest: a.Earliest * f, Latest: a.Latest * min(f, 1)}
		if a.Latest > 0 && w.Earliest >= w.Latest {
			shut = w
			continue
		}
		out = append(out, w)
	}
	if len(out) == 0 && len(list) > 0 {
		return nil, fmt.Errorf("%s: at %g °C and %g %% humidity its %s window would open after %.0f min but close after %.0f min, work in a warmer or drier room",
			m.Key, r.Celsius, r.Humidity, what, shut.Earliest, shut.Latest)
	}
	return out, nil
}

// admit refuses rooms no workshop has and those that the material's limits exclude.
func (m Material) admit(r Room) error {
	switch {
	case math.IsNaN(r.Celsius) || r.Celsius < -20 || r.Celsius > 60:
		return fmt.Errorf("room temperature %g °C is no workshop's, give one between -20 and 60 °C", r.Celsius)
	case math.IsNaN(r.Humidity) || r.Humidity <= 0 || r.Humidity >= 100:
		return fmt.Errorf("relative humidity %g %% is no workshop's, give one above 0 and below 100 %%", r.Humidity)
	}
	for _, l := range m.Limits {
		switch l.What {
		case "min temperature":
			if r.Celsius < l.Value {
				return fmt.Errorf("%s: the room has %g °C, work at %g °C or warmer", m.Key, r.Celsius, l.Value)
			}
		case "max temperature":
			if r.Celsius > l.Value {
				return fmt.Errorf("%s: the room has %g °C, work at %g °C or cooler", m.Key, r.Celsius, l.Value)
			}
		case "min humidity":
			if r.Humidity < l.Value {
				return fmt.Errorf("%s: the room has %g %% humidity, work at %g %% or more", m.Key, r.Humidity, l.Value)
			}
		case "max humidity":
			if r.Humidity > l.Value {
				return fmt.Errorf("%s: the room has %g %% humidity, work at %g %% or less", m.Key, r.Humidity, l.Value)
			}
		case "dew margin":
			if dew := DewPoint(r); r.Celsius-dew < l.Value {
				return fmt.Errorf("%s: the room is %.1f °C above its dew point of %.1f °C, keep surfaces at least %g °C above it",
					m.Key, r.Celsius-dew, dew, l.Value)
			}
		}
	}
	return nil
}
