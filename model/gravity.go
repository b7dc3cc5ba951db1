package model

import "math"

// Plato is extract in g per 100 g.
type Plato float64

// waterDensity at 20 °C in g/L, what specific gravity 20/20 is relative to
// (Kell 1975).
const waterDensity = 998.204

// PlatoOf a specific gravity 20/20, 0.98 to 1.13:
// P = −463.37 + 668.72 SG − 205.35 SG². It gives 10.00 at 1.04003, where the
// Plato table has 10; the form is common practice, no source.
func PlatoOf(gravity float64) Plato {
	return Plato(-463.37 + 668.72*gravity - 205.35*gravity*gravity)
}

// Gravity is the inverse of PlatoOf, up to 81 °P.
func (p Plato) Gravity() float64 {
	const a, b, c = -205.35, 668.72, -463.37
	return (-b + math.Sqrt(b*b-4*a*(c-float64(p)))) / (2 * a)
}

// RealExtract of beer from its original extract OE and its apparent extract AE,
// both in °P: 0.1808 OE + 0.8192 AE (Balling; from memory).
func RealExtract(original, apparent Plato) Plato {
	return 0.1808*original + 0.8192*apparent
}

// AlcoholByWeight in g per 100 g from original and real extract:
// (OE − RE)/(2.0665 − 0.010665 OE) (Balling; from memory).
func AlcoholByWeight(original, real Plato) float64 {
	return float64((original - real) / (2.0665 - 0.010665*original))
}

// ABV is the alcohol by volume in % of beer that fell from an original to a
// final gravity: the alcohol by weight times the beer's gravity, over that of
// ethanol, 0.7907 at 20/20 (from memory). Never below 0.
func ABV(original, final float64) float64 {
	oe := PlatoOf(original)
	w := AlcoholByWeight(oe, RealExtract(oe, PlatoOf(final)))
	return math.Max(0, w*final/0.7907)
}

// CO2 in g per g of extract. Balling's closes the mass balance with 0.11 g of
// yeast per 2.0665 g of extract; maltose by stoichiometry is the most there can
// be (both from memory).
const (
	BallingCO2 = 0.9565 / 2.0665
	MaltoseCO2 = 0.5143
)

// Fermented is the CO2 in g per litre that beer of an original gravity makes
// while its apparent gravity falls: Balling's share of the real extract that
// goes. About 1.0 g/L, half a volume, for each 0.001; negative when it rises.
func Fermented(original, from, to float64) GramsPerLitre {
	return GramsPerLitre(BallingCO2 * (extract(original, from) - extract(original, to)))
}

// extract left in g/L at an apparent gravity.
func extract(original, gravity float64) float64 {
	real := RealExtract(PlatoOf(original), PlatoOf(gravity))
	return float64(real) / 100 * gravity * waterDensity
}

// Dry is the apparent gravity at which no real extract is left of an original
// gravity: where a drink ends that ferments to nothing.
func Dry(original float64) float64 {
	return (-0.1808 / 0.8192 * PlatoOf(original)).Gravity()
}
