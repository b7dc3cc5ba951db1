// Package model is what a capped bottle does: how much carbon dioxide beer
// holds, what pressure that makes in a headspace, how much gas sugar gives and
// how fast yeast makes it. It is pure: no clock, no files, no goroutines, and
// imports nothing but the standard library, so other programs can use it.
//
// For one bottle, start with Sealed: what its gauge shows when it holds so much
// CO2 at a temperature, and back. Bottle is the same for CO2 alone, without air,
// water vapour or warming beer. For a filling, start with Lot, its document:
// Check says what is wrong with it, Residual, PrimingVolumes and Unfinished are
// where its CO2 comes from, Sealed makes one of its bottles. Package plan works
// out a bottling day from it, package estimate how far it has come. The examples
// show each. Each law has a file of its own.
//
// Functions return no errors: outside the ranges they name they return a number
// that means nothing, and Lot.Check keeps documents within them. Temperatures are degrees Celsius. Pressures are bar; Bar is absolute and
// BarGauge is above the local atmosphere, and the two never mix by accident.
// Volumes are litres of CO2 at 0 °C and 101.325 kPa per litre of beer.
package model

// Celsius is a temperature in degrees Celsius.
type Celsius float64

// Kelvin converts to the absolute scale.
func (t Celsius) Kelvin() float64 { return float64(t) + 273.15 }

// Bar is an absolute pressure.
type Bar float64

// BarGauge is a pressure above the local atmosphere.
type BarGauge float64

// Gauge is the pressure above an atmosphere.
func (p Bar) Gauge(station Bar) BarGauge { return BarGauge(p - station) }

// Absolute is the pressure above nothing, under an atmosphere.
func (p BarGauge) Absolute(station Bar) Bar { return Bar(p) + station }

// Volumes of CO2: litres of gas at 0 °C and 101.325 kPa per litre of beer.
type Volumes float64

// GramsPerLitre is a concentration in beer.
type GramsPerLitre float64

// Grams is a mass.
type Grams float64

// Litres is a volume.
type Litres float64

const (
	// VolumeGrams is the mass of one volume of CO2, in g/L: 44.0095 g/mol over
	// the real molar volume at 0 °C and 1 atm, 22.2605 L/mol
	// (IUPAC-NIST Solubility Database, compiler's note to Van Slyke 1939).
	VolumeGrams = 1.977

	// GasConstant is R in J/(mol K) (CODATA 2018, from memory).
	GasConstant = 8.314462618

	// MolarMassCO2 in g/mol (IUPAC atomic weights, from memory).
	MolarMassCO2 = 44.0095

	// Atmosphere is the standard atmosphere.
	Atmosphere Bar = 1.01325
)

// GramsPerLitre of CO2 in this many volumes.
func (v Volumes) GramsPerLitre() GramsPerLitre { return GramsPerLitre(v * VolumeGrams) }

// Volumes of CO2 that this concentration is.
func (c GramsPerLitre) Volumes() Volumes { return Volumes(c / VolumeGrams) }
