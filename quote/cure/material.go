package cure

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"slices"
	"sync"
)

// Law says how the room changes a material's times.
type Law string

// The laws of the table.
const (
	Reaction Law = "reaction" // Arrhenius if the energy is known, else the 10 °C rule
	Solvent  Law = "solvent"  // 10 °C rule
	Water    Law = "water"    // vapour pressure deficit of the air
	Cooling  Law = "cooling"  // not changed
)

// Figure is one number of the table: its range, the planning value, and where it comes from.
type Figure struct {
	Name       string   `json:"name"`
	Low        float64  `json:"low"`
	High       float64  `json:"high"`
	Plan       float64  `json:"plan"`
	Unit       string   `json:"unit"` // "min", "h", "m2/L", "coats", "C", "%", "to 1"
	Sources    []string `json:"sources"`
	Confidence string   `json:"confidence"`        // "A" sheet seen, "B" secondary page, "C" common practice, "M" from memory
	Celsius    float64  `json:"celsius,omitempty"` // reference room of the figure
	Humidity   float64  `json:"humidity,omitempty"`
	Note       string   `json:"note,omitempty"`
}

// Allowed is a window of the table, in minutes in the reference room, and where it comes from.
type Allowed struct {
	Window
	Celsius    float64  `json:"celsius,omitempty"` // reference room
	Humidity   float64  `json:"humidity,omitempty"`
	Sources    []string `json:"sources"`
	Confidence string   `json:"confidence"`
	Note       string   `json:"note,omitempty"`
}

// Energy is the range of activation energies a source gives for a reaction, kJ/mol.
type Energy struct {
	Low        float64  `json:"low"`
	High       float64  `json:"high"`
	Sources    []string `json:"sources"`
	Confidence string   `json:"confidence"`
	Note       string   `json:"note,omitempty"`
}

// Limit excludes rooms. What is "min temperature", "max temperature" (°C), "min humidity", "max humidity" (%) or "dew
// margin" (how many °C the room must be above its dew point).
type Limit struct {
	What       string   `json:"what"`
	Value      float64  `json:"value"`
	Sources    []string `json:"sources"`
	Confidence string   `json:"confidence"`
	Note       string   `json:"note,omitempty"`
}

// Material is a generic glue or coating. Its figures hold in their reference rooms; Times converts them to another room.
type Material struct {
	Key        string    `json:"key"`
	Title      string    `json:"title"`
	Kind       string    `json:"kind"`
	Law        Law       `json:"law"`
	LawSources []string  `json:"law_sources"`
	Energy     *Energy   `json:"energy,omitempty"` // nil if no source gives one
	WaterBorne bool      `json:"-"`
	Coats      int       `json:"coats"`  // typical
	Spread     float64   `json:"spread"` // m² per litre, one coat on one face; 0 if not counted by volume
	Figures    []Figure  `json:"figures"`
	Recoat     []Allowed `json:"recoat"`
	Topcoat    []Allowed `json:"topcoat"`
	Limits     []Limit   `json:"limits"`
	Cautions   []string  `json:"cautions"`
	Sources    []string  `json:"-"` // of all its figures, in words, each listed once

	usual Room // reference room of figures that name none
}

// The table is in a format of our own; the sources and confidence marks of the figures stand beside them.
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

// load reads the embedded table once. It panics if the table does not decode, which only a broken build can cause.
var load = sync.OnceValue(func() table {
	var t table
	if err := json.Unmarshal(tableJSON, &t); err != nil {
		panic(fmt.Errorf("cure: embedded table: %w", err))
	}
	for i := range t.Materials {
		m := &t.Materials[i]
		m.WaterBorne, m.usual = m.Law == Water, Room{t.Celsius, t.Humidity}
		words := func(keys []string) {
			for k, key := range keys {
				keys[k] = t.Sources[key]
				if !slices.Contains(m.Sources, keys[k]) {
					m.Sources = append(m.Sources, keys[k])
				}
			}
		}
		room := func(celsius, humidity *float64) {
			if *celsius == 0 {
				*celsius = t.Celsius
			}
			if *humidity == 0 {
				*humidity = t.Humidity
			}
		}
		for k := range m.Figures {
			f := &m.Figures[k]
			room(&f.Celsius, &f.Humidity)
			words(f.Sources)
		}
		for _, list := range [][]Allowed{m.Recoat, m.Topcoat} {
			for k := range list {
				room(&list[k].Celsius, &list[k].Humidity)
				words(list[k].Sources)
			}
		}
		for k := range m.Limits {
			words(m.Limits[k].Sources)
		}
		words(m.LawSources)
		if m.Energy != nil {
			words(m.Energy.Sources)
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

// Figure finds one of the material's figures by name.
func (m Material) Figure(name string) (Figure, bool) {
	for _, f := range m.Figures {
		if f.Name == name {
			return f, true
		}
	}
	return Figure{}, false
}
