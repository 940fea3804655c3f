package cure

import (
	"math"
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
		near(t, "10 °C rule", reactionFactor(c.celsius, 23), c.rule, 5e-5) // table printed to four places
		near(t, "against Arrhenius, relative", reactionFactor(c.celsius, 23)/c.arrhenius50, 1, 0.08)
	}
}

// Source: computed reference table of the project's facts, R = 8.314 J/(mol K), four places printed; and its derived
// energy at which Arrhenius's law doubles the time between 23 and 13 °C, 48.839 kJ/mol.
func TestArrheniusFactorAgainstTable(t *testing.T) {
	for _, c := range []struct{ celsius, at50, at60 float64 }{
		{5, 3.7213, 4.8398}, {10, 2.5403, 3.061}, {13, 2.0332, 2.3433}, {15, 1.7573, 1.967}, {18, 1.4173, 1.5196},
		{20, 1.231, 1.2832}, {23, 1, 1}, {25, 0.8727, 0.8492}, {28, 0.7138, 0.6673}, {30, 0.6257, 0.5697},
		{33, 0.5152, 0.4512}, {35, 0.4535, 0.3872}, {40, 0.3321, 0.2664},
	} {
		const printed = 3e-4 // four places, and R with one digit fewer
		near(t, "50 kJ/mol", arrheniusFactor(c.celsius, 23, 50), c.at50, printed)
		near(t, "60 kJ/mol", arrheniusFactor(c.celsius, 23, 60), c.at60, printed)
	}
	near(t, "doubling", arrheniusFactor(13, 23, 48.839), 2, 1e-4)
}

// Dalton's law with Magnus's pressures. Source: computed reference table of the project's facts (Magnus, WMO
// coefficients), printed to four places.
func TestEvaporationFactorAgainstTable(t *testing.T) {
	for _, c := range []struct{ celsius, humidity, factor float64 }{
		{23, 30, 0.7143}, {23, 50, 1}, {23, 65, 1.4286}, {23, 75, 2}, {23, 85, 3.3333}, {13, 50, 1.8748}, {18, 50, 1.361},
		{18, 70, 2.2684}, {28, 50, 0.7431}, {33, 50, 0.5582}, {15, 80, 4.1173},
	} {
		near(t, "evaporation", evaporationFactor(Room{c.celsius, c.humidity}, Room{23, 50}), c.factor, 1e-3)
	}
}

// Source: IAPWS steam tables (IAPWS-IF97), saturation pressure over water in hPa, from memory.
func TestSaturationPressureAgainstSteamTables(t *testing.T) {
	for _, c := range []struct{ celsius, pressure float64 }{
		{0.01, 6.1166}, {5, 8.726}, {10, 12.282}, {15, 17.058}, {20, 23.393}, {25, 31.699}, {30, 42.470}, {35, 56.29}, {40, 73.849},
	} {
		const magnus = 0.004 // the formula's own error, relative
		near(t, "saturation pressure, relative", saturationPressure(c.celsius)/c.pressure, 1, magnus)
		// Another formula, Buck's of 1981 as revised in 1996 (from memory), is as near.
		buck := 6.1121 * math.Exp((18.678-c.celsius/234.5)*c.celsius/(257.14+c.celsius))
		near(t, "against Buck's formula, relative", saturationPressure(c.celsius)/buck, 1, magnus)
	}
}

// Source: computed dew point table of the project's facts (Magnus).
func TestDewPointAgainstTable(t *testing.T) {
	for _, c := range []struct{ celsius, humidity, dew float64 }{
		{23, 50, 12.014}, {20, 60, 11.995}, {20, 85, 17.399}, {15, 80, 11.575}, {10, 85, 7.592}, {25, 70, 19.145},
	} {
		near(t, "dew point", dewPoint(Room{c.celsius, c.humidity}), c.dew, 0.02) // other Magnus coefficients differ by this
	}
}

// Source: worked examples on public pages: 25 °C and 60 % by Alduchov and Eskridge's coefficients give 16.70 °C;
// 22 °C and 78 % by older ones 17.98 °C. Tables of ISO 8502-4 have 6.7 at 10 °C and 80 %, 9.3 at 20 °C and 50 %, 16.4
// at 20 °C and 80 %, 23.9 at 30 °C and 70 % (from memory).
func TestDewPointAgainstWorkedExamples(t *testing.T) {
	for _, c := range []struct{ celsius, humidity, dew float64 }{
		{25, 60, 16.70}, {22, 78, 17.98}, {10, 80, 6.7}, {20, 50, 9.3}, {20, 80, 16.4}, {30, 70, 23.9},
	} {
		near(t, "dew point", dewPoint(Room{c.celsius, c.humidity}), c.dew, 0.06) // one place printed, other coefficients
	}
}

// Cooled to its dew point the air is saturated with the vapour it had, and no warmer than it was.
func TestDewPointLaw(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := Room{rapid.Float64Range(-20, 60).Draw(t, "celsius"), rapid.Float64Range(1, 100).Draw(t, "humidity")}
		dew := dewPoint(r)
		if had := saturationPressure(r.Celsius) * r.Humidity / 100; math.Abs(saturationPressure(dew)/had-1) > 1e-9 {
			t.Fatalf("%+v: the dew point %v holds %v hPa, the air %v", r, dew, saturationPressure(dew), had)
		}
		if dew > r.Celsius+1e-9 {
			t.Fatalf("%+v: the dew point %v is warmer than the air", r, dew)
		}
	})
}

// Source: UFGS 09971 (US DoD Unified Facilities Guide Specification), recoat window, polyurethane over polyurethane:
// minimum hours by temperature range. The 10 °C rule from the range 22–27 °C must follow it within the width of the
// ranges and the table's whole hours, and its maxima only ever shrink with heat, as here.
func TestRecoatTableUFGS09971(t *testing.T) {
	rows := []struct{ from, to, minimum, maximum float64 }{
		{16, 21, 8, 48}, {22, 27, 6, 48}, {28, 32, 4, 36}, {33, 38, 3, 24}, {39, 43, 2, 12},
	}
	for i, r := range rows {
		low := 6 * reactionFactor(r.to, 24.5)
		high := 6 * reactionFactor(r.from, 24.5)
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
