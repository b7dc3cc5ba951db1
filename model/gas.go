package model

import "math"

// SecondVirial is B of CO2 in cm³/mol, 0 to 40 °C (Weiss 1974, the same paper
// as the solubility; nearest of the simple forms to the reference equation of
// Span and Wagner 1996):
//
//	B = −1636.75 + 12.0408 T − 3.27957e-2 T² + 3.16528e-5 T³, T in kelvin
func SecondVirial(t Celsius) float64 {
	k := t.Kelvin()
	return -1636.75 + 12.0408*k - 3.27957e-2*k*k + 3.16528e-5*k*k*k
}

// virial is B p/(R T).
func virial(p Bar, t Celsius) float64 {
	return SecondVirial(t) * 1e-6 * float64(p) * 1e5 / (GasConstant * t.Kelvin())
}

// Compressibility is Z = pV/(nRT) of CO2 at an absolute pressure up to 10 bar:
// 1 + B p/(R T). Off by 0.004 at 10 bar.
func Compressibility(p Bar, t Celsius) float64 { return 1 + virial(p, t) }

// Fugacity is the coefficient φ of CO2 at an absolute pressure up to 10 bar:
// exp(B p/(R T)).
func Fugacity(p Bar, t Celsius) float64 { return math.Exp(virial(p, t)) }

// MolarVolume of CO2 gas in L/mol: Z R T/p.
func MolarVolume(p Bar, t Celsius) float64 {
	return Compressibility(p, t) * GasConstant * t.Kelvin() / (float64(p) * 1e5) * 1e3
}

// dissolvedMolar is the volume that dissolved CO2 takes up in water where it
// presses against its solubility, in m³/mol (Weiss 1974, from memory).
const dissolvedMolar = 32.3e-6

// RealGas is how much more pressure of CO2 a dissolved content exerts than
// Henry's law says, up to 10 bar absolute: 1/(φ exp((1 atm − p) v/(R T))).
func RealGas(p Bar, t Celsius) float64 {
	poynting := math.Exp(float64(Atmosphere-p) * 1e5 * dissolvedMolar / (GasConstant * t.Kelvin()))
	return 1 / (Fugacity(p, t) * poynting)
}

// RealGasExcess is what of RealGas isn't yet in figures that were fitted at 2
// to 3 bar, as the trade's are: the part above 3 bar (judgement, no source).
func RealGasExcess(p Bar, t Celsius) float64 {
	const fitted Bar = 3
	if p <= fitted {
		return 1
	}
	return RealGas(p, t) / RealGas(fitted, t)
}
