package cure

import "math"

// Magnus's formula over water, in Sonntag's coefficients (Z. Meteorol. 70, 1990) as WMO-No. 8 gives them for −45 to 60 °C
// (from memory); in a workshop it is within 0.4 % of the IAPWS steam tables.
const (
	magnusPressure = 6.112 // hPa at 0 °C
	magnusSlope    = 17.62
	magnusOffset   = 243.12 // °C
)

// gasConstant is R in kJ/(mol K) (CODATA 2018, the exact product of SI constants, shortened).
const gasConstant = 8.314462618e-3

// iceKelvin is 0 °C in kelvin, by definition.
const iceKelvin = 273.15

// saturationPressure is the pressure in hPa of saturated water vapour over water at a temperature in °C, by Magnus's
// formula.
func saturationPressure(celsius float64) float64 {
	return magnusPressure * math.Exp(magnusSlope*celsius/(magnusOffset+celsius))
}

// vapourDeficit is how far, in hPa, the vapour in the room falls short of saturation: it drives water out of a film.
func vapourDeficit(r Room) float64 { return saturationPressure(r.Celsius) * (1 - r.Humidity/100) }

// dewPoint is the temperature in °C at which the room's air starts to condense on a surface, by Magnus's formula. The
// humidity must be above 0.
func dewPoint(r Room) float64 {
	g := math.Log(r.Humidity/100) + magnusSlope*r.Celsius/(magnusOffset+r.Celsius)
	return magnusOffset * g / (magnusSlope - g)
}

// reactionFactor is how many times longer a reaction or solvent loss takes in a room than at the reference temperature:
// twice as long for every 10 °C colder (rule of thumb; UFGS 09971's recoat table halves every 9.7 to 11.2 °C).
func reactionFactor(celsius, reference float64) float64 {
	return math.Exp2((reference - celsius) / 10)
}

// arrheniusFactor is how many times longer a reaction with an activation energy in kJ/mol takes in a room than at the
// reference temperature, by Arrhenius's law: 48.8 kJ/mol doubles the time between 23 and 13 °C.
func arrheniusFactor(celsius, reference, energy float64) float64 {
	return math.Exp(energy / gasConstant * (1/(celsius+iceKelvin) - 1/(reference+iceKelvin)))
}

// evaporationFactor is how many times longer water takes to leave a film than in the reference room: Dalton's law,
// inversely proportional to the vapour pressure deficit. At 100 % humidity it is infinite.
func evaporationFactor(r, reference Room) float64 { return vapourDeficit(reference) / vapourDeficit(r) }
