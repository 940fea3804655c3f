package cure

import "math"

// Magnus's formula over water in the coefficients of Sonntag (Z. Meteorol. 70, 1990) that WMO-No. 8 gives for −45 to
// 60 °C (from memory); against IAPWS steam tables it errs by less than 0.4 % in a workshop.
const (
	magnusPressure = 6.112 // hPa at 0 °C
	magnusSlope    = 17.62
	magnusOffset   = 243.12 // °C
)

// gasConstant is R in kJ/(mol K) (CODATA 2018, exact product of the SI's constants, shortened).
const gasConstant = 8.314462618e-3

// iceKelvin is 0 °C in kelvin, by definition.
const iceKelvin = 273.15

// SaturationPressure is the pressure of saturated water vapour over water in hPa at a temperature in °C, by Magnus's
// formula.
func SaturationPressure(celsius float64) float64 {
	return magnusPressure * math.Exp(magnusSlope*celsius/(magnusOffset+celsius))
}

// VapourDeficit is by how many hPa the room's vapour falls short of saturation: what drives water out of a film.
func VapourDeficit(r Room) float64 { return SaturationPressure(r.Celsius) * (1 - r.Humidity/100) }

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

// ArrheniusFactor is by how much a reaction of an activation energy in kJ/mol takes longer in a room than at the
// reference temperature, by Arrhenius's law: 48.8 kJ/mol doubles the time between 23 and 13 °C.
func ArrheniusFactor(celsius, reference, energy float64) float64 {
	return math.Exp(energy / gasConstant * (1/(celsius+iceKelvin) - 1/(reference+iceKelvin)))
}

// EvaporationFactor is by how much water takes longer to leave a film than in the reference room: Dalton's law,
// inverse to the vapour pressure deficit. At 100 % humidity it is infinite.
func EvaporationFactor(r, reference Room) float64 { return VapourDeficit(reference) / VapourDeficit(r) }
