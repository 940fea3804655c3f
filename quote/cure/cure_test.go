package cure

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if math.IsNaN(got) || math.Abs(got-want) > tolerance {
		t.Errorf("%s: got %v, want %v ± %v", what, got, want, tolerance)
	}
}

// The table of the 10 °C rule is 2^((23−T)/10); 48.8 kJ/mol in Arrhenius's law doubles the time between 23 and 13 °C,
// so that 50 kJ/mol is an independent neighbour of it. Source: computed reference table of the project's facts,
// Arrhenius with R = 8.314 J/(mol K).
func TestReactionFactorAgainstTable(t *testing.T) {
	for _, c := range []struct{ celsius, rule, arrhenius50 float64 }{
		{5, 3.4822, 3.7213}, {10, 2.4623, 2.5403}, {13, 2, 2.0332}, {15, 1.7411, 1.7573}, {18, 1.4142, 1.4173},
		{20, 1.2311, 1.2310}, {23, 1, 1}, {25, 0.8706, 0.8727}, {28, 0.7071, 0.7138}, {30, 0.6156, 0.6257},
		{33, 0.5, 0.5152}, {35, 0.4353, 0.4535}, {40, 0.3078, 0.3321},
	} {
		near(t, "10 °C rule", ReactionFactor(c.celsius, 23), c.rule, 5e-5) // table printed to four places
		near(t, "against Arrhenius, relative", ReactionFactor(c.celsius, 23)/c.arrhenius50, 1, 0.08)
	}
}

// Dalton's law with Magnus's pressures. Source: computed reference table of the project's facts (Magnus, WMO
// coefficients), printed to four places.
func TestEvaporationFactorAgainstTable(t *testing.T) {
	for _, c := range []struct{ celsius, humidity, factor float64 }{
		{23, 30, 0.7143}, {23, 50, 1}, {23, 65, 1.4286}, {23, 75, 2}, {23, 85, 3.3333}, {13, 50, 1.8748}, {18, 50, 1.361},
		{18, 70, 2.2684}, {28, 50, 0.7431}, {33, 50, 0.5582}, {15, 80, 4.1173},
	} {
		near(t, "evaporation", EvaporationFactor(Room{c.celsius, c.humidity}, Room{23, 50}), c.factor, 1e-3)
	}
	// Saturation pressure at 20 °C is 23.39 hPa in steam tables (from memory).
	near(t, "saturation at 20 °C", SaturationPressure(20), 23.39, 0.1)
}

// Source: computed dew point table of the project's facts (Magnus).
func TestDewPointAgainstTable(t *testing.T) {
	for _, c := range []struct{ celsius, humidity, dew float64 }{
		{23, 50, 12.014}, {20, 60, 11.995}, {20, 85, 17.399}, {15, 80, 11.575}, {10, 85, 7.592}, {25, 70, 19.145},
	} {
		near(t, "dew point", DewPoint(Room{c.celsius, c.humidity}), c.dew, 0.02) // other Magnus coefficients differ by this
	}
}

// Source: UFGS 09971 (US DoD Unified Facilities Guide Specification), recoat window, polyurethane over polyurethane:
// minimum hours by temperature range. The 10 °C rule from the range 22–27 °C must follow it within the width of the
// ranges and the table's whole hours, and its maxima only ever shrink with heat, as here.
func TestRecoatTableUFGS09971(t *testing.T) {
	rows := []struct{ from, to, minimum, maximum float64 }{
		{16, 21, 8, 48}, {22, 27, 6, 48}, {28, 32, 4, 36}, {33, 38, 3, 24}, {39, 43, 2, 12},
	}
	for i, r := range rows {
		low := 6 * ReactionFactor(r.to, 24.5)
		high := 6 * ReactionFactor(r.from, 24.5)
		const hour = 0.5 // the table's rounding
		if r.minimum < low-hour || r.minimum > high+hour {
			t.Errorf("%g to %g °C: table %g h, rule %.2f to %.2f h", r.from, r.to, r.minimum, low, high)
		}
		if i > 0 && r.maximum > rows[i-1].maximum {
			t.Error("a maximum of the table grows with heat")
		}
	}
	// Degrees per halving over the first five rows: 11.21, over all six: 9.68 (fitted from the table).
	slope := (41.0 - 18.5) / math.Log2(8.0/2)
	near(t, "°C per halving, end points of the first five", slope, 11.21, 0.1)
}

func TestTableIsWhole(t *testing.T) {
	keys := []string{"solvent contact cement", "water-based contact adhesive", "cyanoacrylate", "hot-melt glue",
		"peelable rubber coating", "flexible primer", "acrylic paint", "acrylic wash", "polyurethane varnish, water-based",
		"solvent aerosol enamel", "epoxy resin", "polyurethane resin"}
	if len(Materials()) != len(keys) {
		t.Errorf("%d materials, want %d", len(Materials()), len(keys))
	}
	for _, key := range keys {
		m, ok := Lookup(key)
		if !ok {
			t.Errorf("%s is missing", key)
			continue
		}
		if len(m.Cautions) == 0 || len(m.Sources) == 0 || m.Coats < 1 {
			t.Errorf("%s: cautions, sources or coats missing", key)
		}
		if m.WaterBorne != (m.Law == Water) {
			t.Errorf("%s: water-borne mark", key)
		}
		marks := func(what, mark string, sources []string) {
			if Confidence(mark) == "" {
				t.Errorf("%s, %s: confidence mark %q is not explained", key, what, mark)
			}
			for _, s := range sources {
				if s == "" {
					t.Errorf("%s, %s: a source has no words", key, what)
				}
			}
			if len(sources) == 0 {
				t.Errorf("%s, %s: no source", key, what)
			}
		}
		for _, f := range m.Figures {
			marks(f.Name, f.Confidence, f.Sources)
			if f.Low > f.High || f.Plan < f.Low || f.Plan > f.High {
				t.Errorf("%s, %s: plan %g outside %g to %g", key, f.Name, f.Plan, f.Low, f.High)
			}
		}
		for _, name := range []string{"touch", "handle", "full"} {
			if _, ok := m.Figure(name); !ok {
				t.Errorf("%s has no %s time", key, name)
			}
		}
		for _, a := range append(append([]Allowed(nil), m.Recoat...), m.Topcoat...) {
			marks("window", a.Confidence, a.Sources)
		}
		for _, l := range m.Limits {
			marks(l.What, l.Confidence, l.Sources)
		}
		if _, err := m.Times(Room{23, 50}); err != nil {
			t.Errorf("refuses the reference room: %v", err)
		}
	}
	if _, ok := Lookup("mortar"); ok {
		t.Error("found an unknown material")
	}
}

func TestTimesAtReference(t *testing.T) {
	cement, _ := Lookup("solvent contact cement")
	at, err := cement.Times(Room{23, 50})
	if err != nil {
		t.Fatal(err)
	}
	if at.Place != (Window{15, 40}) || at.Full != 72*60 || at.Handle != 0 {
		t.Errorf("contact cement: %+v", at)
	}
	enamel, _ := Lookup("solvent aerosol enamel")
	at, err = enamel.Times(Room{23, 50})
	if err != nil {
		t.Fatal(err)
	}
	if len(at.Recoat) != 2 || at.Recoat[0] != (Window{0, 60}) || at.Recoat[1] != (Window{2880, 0}) {
		t.Errorf("enamel recoat: %+v", at.Recoat)
	}
}

func TestLimitsAreRefusedInWords(t *testing.T) {
	for _, c := range []struct {
		key  string
		room Room
		want string
	}{
		{"flexible primer", Room{8, 50}, "10 °C or warmer"},
		{"flexible primer", Room{20, 90}, "85 % or less"},
		{"acrylic paint", Room{38, 40}, "35 °C or cooler"},
		{"polyurethane varnish, water-based", Room{20, 20}, "30 % or more"},
		{"solvent contact cement", Room{20, 84.5}, "dew point"},
		{"polyurethane resin", Room{20, 60}, "50 % or less"},
		{"water-based contact adhesive", Room{10, 84}, "warmer or drier"},
		{"epoxy resin", Room{math.NaN(), 50}, "-20 and 60"},
		{"epoxy resin", Room{20, 100}, "below 100"},
	} {
		m, _ := Lookup(c.key)
		_, err := m.Times(c.room)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s in %+v: got %v, want words %q", c.key, c.room, err, c.want)
		}
	}
}

// minima lists every minimum of the times in a fixed order.
func minima(t Times) []float64 {
	out := []float64{t.Touch, t.Handle, t.Full, t.Place.Earliest}
	for _, w := range append(append([]Window(nil), t.Recoat...), t.Topcoat...) {
		out = append(out, w.Earliest)
	}
	return out
}

func TestColderAndDamperNeverShortenMinima(t *testing.T) {
	const rounding = 1e-9 // relative, of the exponentials
	rapid.Check(t, func(t *rapid.T) {
		m := rapid.SampledFrom(Materials()).Draw(t, "material")
		warm := Room{rapid.Float64Range(5, 40).Draw(t, "celsius"), rapid.Float64Range(5, 95).Draw(t, "humidity")}
		other := Room{warm.Celsius - rapid.Float64Range(0, 20).Draw(t, "colder"), warm.Humidity}
		if m.WaterBorne {
			other.Humidity = min(99, other.Humidity+rapid.Float64Range(0, 40).Draw(t, "damper"))
		}
		a, err := m.Times(warm)
		if err != nil {
			t.Skip("refused")
		}
		b, err := m.Times(other)
		if err != nil {
			return // refused: nothing was shortened
		}
		x, y := minima(a), minima(b)
		if len(x) != len(y) {
			t.Fatalf("%s: windows differ: %+v %+v", m.Key, a, b)
		}
		for i := range x {
			if y[i] < x[i]*(1-rounding) {
				t.Fatalf("%s: %+v gives %v, %+v gives %v", m.Key, warm, x, other, y)
			}
		}
		if b.Place.Latest < a.Place.Latest*(1-rounding) {
			t.Fatalf("%s: heat lengthened the open time from %g to %g", m.Key, b.Place.Latest, a.Place.Latest)
		}
		for _, w := range append(append([]Window{a.Place}, a.Recoat...), a.Topcoat...) {
			if w.Latest > 0 && w.Latest <= w.Earliest {
				t.Fatalf("%s: window %+v is empty", m.Key, w)
			}
		}
	})
}
