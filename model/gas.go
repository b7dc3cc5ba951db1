package model

import "math"

// SecondVirial is B of CO2 in cm³/mol, 0 to 40 °C (Weiss 1974, the same paper
// as the solubility; nearest of the simple forms to the reference equation of
// Span and Wagner 1996).
func SecondVirial(t Celsius) float64 {
	k := t.Kelvin()
	return -1636.75 + 12.0408*k - 3.27957e-2*k*k + 3.16528e-5*k*k*k
}

// Compressibility is Z = pV/(nRT) of CO2 at an absolute pressure up to 10 bar:
// 1 + B p/(R T).
func Compressibility(p Bar, t Celsius) float64 {
	return 1 + SecondVirial(t)*1e-6*float64(p)*1e5/(GasConstant*t.Kelvin())
}

// WaterVapour is the pressure of saturated water vapour, 0 to 100 °C
// (IAPWS SR1-86, the Wagner equation).
func WaterVapour(t Celsius) Bar {
	const tc, pc = 647.096, 220.64 // K, bar
	x := 1 - t.Kelvin()/tc
	return Bar(pc * math.Exp(tc/t.Kelvin()*(-7.85951783*x+1.84408259*math.Pow(x, 1.5)-
		11.7866497*x*x*x+22.6807411*math.Pow(x, 3.5)-15.9618719*x*x*x*x+1.80122502*math.Pow(x, 7.5))))
}

// StationPressure is the air's pressure at an altitude in metres, −500 to
// 5,000 (ISO 2533, troposphere).
func StationPressure(altitude float64) Bar {
	return Bar(1.01325 * math.Pow(1-0.0065*altitude/288.15, 5.25588))
}
