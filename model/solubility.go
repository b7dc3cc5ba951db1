package model

import "math"

// Factors from pure water to beer. Published statements on beer scatter from
// 0.89 to 0.99 of water's solubility; 0.96 agrees with the trade's charts
// between 10 and 25 °C. Alcohol and extract are within the factor, not told
// apart: between 3 and 8 % their parts are smaller than that scatter. Warnings about strength use the lower edge, since less
// solubility means more pressure (judgement, no source).
const (
	BeerSolubility   = 0.96
	SafetySolubility = 0.88
	// SolubilitySpread is one standard deviation of a lot's own factor,
	// relative (judgement, no source).
	SolubilitySpread = 0.03
)

// Henry is the CO2 that pure water holds, in mol/(L atm), at t from 0 to 40 °C
// and salinity 0: ln K0 = A1 + A2 (100/T) + A3 ln(T/100), with T in kelvin
// (Weiss 1974, Marine Chemistry 2:203).
func Henry(t Celsius) float64 {
	const a1, a2, a3 = -58.0931, 90.5069, 22.2940
	h := t.Kelvin() / 100
	return math.Exp(a1 + a2/h + a3*math.Log(h))
}

// Solubility is the CO2 that beer holds in g/(L bar of CO2) at a temperature
// from 0 to 40 °C, by Henry's law: factor · K0(t) · 44.0095/1.01325.
// BeerSolubility is the usual factor.
func Solubility(t Celsius, factor float64) float64 {
	return factor * Henry(t) * MolarMassCO2 / float64(Atmosphere)
}

// Residual is the CO2 left in beer that fermented open to the air and was
// never warmer than t since: saturated at the station's pressure, less the
// water vapour in the gas above it.
func Residual(t Celsius, station Bar) Volumes {
	p := float64(station - WaterVapour(t))
	return GramsPerLitre(Solubility(t, BeerSolubility) * p).Volumes()
}

// Composition is the factor from pure water for a beer of another strength and
// body than the usual one: 0.96 [1 − 0.012 (abv − 5)] [1 − 0.001 (re − 42)], with
// abv in % by volume, 0 to 15, and re the real extract in g/L, 0 to 120; never
// below 0.85 or above 1. Simplified from the wine law (Regulation (EEC) 2676/90,
// annex, chapter 37): the signs are certain, the sizes to about a half
// (judgement), so nothing here uses it by itself; pass it as a factor.
func Composition(abv float64, re GramsPerLitre) float64 {
	f := BeerSolubility * (1 - 0.012*(abv-5)) * (1 - 0.001*(float64(re)-42))
	return min(1, max(0.85, f))
}
