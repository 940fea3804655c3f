package cure

import "math"

// Magnus coefficients over water, −45 to 60 °C, as used by WMO-No. 8 and by Alduchov and Eskridge's comparison
// (from memory); the saturation pressure errs by less than 0.4 % in a workshop.
const (
	magnusPressure = 6.112 // hPa at 0 °C
	magnusSlope    = 17.62
	magnusOffset   = 243.12 // °C
)

// SaturationPressure is the pressure of saturated water vapour over water in hPa at a temperature in °C, by Magnus's
// formula.
func SaturationPressure(celsius float64) float64 {
	return magnusPressure * math.Exp(magnusSlope*celsius/(magnusOffset+celsius))
}

// DewPoint is the temperature in °C at which the room's air would begin to wet a surface, by Magnus's formula.
// The humidity must be above 0.
func DewPoint(r Room) float64 {
	g := math.Log(r.Humidity/100) + magnusSlope*r.Celsius/(magnusOffset+r.Celsius)
	return magnusOffset * g / (magnusSlope - g)
}

// ReactionFactor is by how much a reaction or solvent loss takes longer in a room than at the reference temperature:
// doubled for every 10 °C colder (rule of thumb; UFGS 09971's recoat table halves every 9.7 to 11.2 °C).
func ReactionFactor(celsius, reference float64) float64 {
	return math.Exp2((reference - celsius) / 10)
}

// EvaporationFactor is by how much water takes longer to leave a film than in the reference room: Dalton's law,
// saturation pressure times the air's unsaturated share. At 100 % humidity it is infinite.
func EvaporationFactor(r, reference Room) float64 {
	return dryingPower(reference) / dryingPower(r)
}

func dryingPower(r Room) float64 { return SaturationPressure(r.Celsius) * (1 - r.Humidity/100) }
