package model

// WaterDensity in g/L at one atmosphere, 0 to 100 °C (Kell 1975; reprints with
// 16.897850e-3 in the denominator are misprinted).
func WaterDensity(t Celsius) float64 {
	x := float64(t)
	return (999.83952 + x*(16.945176+x*(-7.9870401e-3+x*(-46.170461e-6+x*(105.56302e-9-x*280.54253e-12))))) /
		(1 + 16.879850e-3*x)
}

// Expansion is the growth of beer's volume from 20 °C to t, as a share, 0 to
// 40 °C and 0 to 10 % alcohol: water's by Kell, and for the alcohol, with
// x = t − 20,
//
//	ABV x (2.55e-7 + 3.72e-7 ABV + (6.86e-8 − 6.64e-9 ABV) x)
//
// fitted to Directive 76/766/EEC (OIML R22) within 0.003 %. Extract adds less
// than 0.03 % at 40 °C and is left out.
func Expansion(t Celsius, abv float64) float64 {
	x := float64(t - 20)
	alcohol := abv * x * (2.55e-7 + 3.72e-7*abv + (6.86e-8-6.64e-9*abv)*x)
	return waterDensity/WaterDensity(t) - 1 + alcohol
}

// glassExpansion is the growth of a glass bottle's volume per kelvin: three
// times 9e-6 (handbook value for container glass).
const glassExpansion = 27e-6

// Outgrows is by how much more beer grows from 20 °C to t than its glass does, as
// a share of the beer's volume, 0 to 40 °C and 0 to 10 % alcohol: what its
// headspace loses.
func Outgrows(t Celsius, abv float64) float64 {
	return Expansion(t, abv) - glassExpansion*float64(t-20)
}
