package model

import "math"

// Gas is one whose solubility in water is known from IAPWS G7-04.
type Gas int

const (
	CarbonDioxide Gas = iota
	Nitrogen
	Oxygen
)

// henryIAPWS holds A, B and C of IAPWS G7-04 (Fernández-Prini and others 2003).
var henryIAPWS = [...][3]float64{
	CarbonDioxide: {-8.55445, 4.01195, 9.52345},
	Nitrogen:      {-9.67578, 4.72162, 11.70585},
	Oxygen:        {-9.44833, 4.43822, 11.42005},
}

// Henry is the pressure over water for a mole fraction of 1, 1 to 90 °C, with
// Tr = T/647.096 K and τ = 1 − Tr (IAPWS G7-04):
//
//	ln(kH/p_s) = A/Tr + B τ^0.355/Tr + C Tr^−0.41 exp(τ)
//
// A wide fit: for CO2 between 0 and 40 °C the model uses Weiss instead.
func (g Gas) Henry(t Celsius) Bar {
	k := henryIAPWS[g]
	r := t.Kelvin() / waterCritical
	tau := 1 - r
	ln := k[0]/r + k[1]*math.Pow(tau, 0.355)/r + k[2]*math.Pow(r, -0.41)*math.Exp(tau)
	return WaterVapour(t) * Bar(math.Exp(ln))
}

// Ostwald is the ratio of what a litre of water and a litre of gas hold of it.
func (g Gas) Ostwald(t Celsius) float64 {
	const molarMassWater = 18.015 // g/mol
	water := WaterDensity(t) / molarMassWater * 1e3
	return water * GasConstant * t.Kelvin() / (float64(g.Henry(t)) * 1e5)
}

// Air is what is in a headspace beside CO2 and water vapour, as partial
// pressures.
type Air struct{ N2, O2 Bar }

// Shares of nitrogen, with argon, and oxygen in dry air.
const (
	nitrogenShare = 0.7905
	oxygenShare   = 0.2095
)

// AirAtCapping is the air shut in at t under a station pressure, by how the
// bottle was capped: all of the headspace over air, a tenth on foam or after a
// purge. Half when it isn't known, between the two (judgement, no source).
func AirAtCapping(c Capped, t Celsius, station Bar) Air {
	share := Bar(0.5)
	switch c {
	case OverAir:
		share = 1
	case OnFoam, Purged:
		share = 0.1
	}
	dry := share * (station - WaterVapour(t))
	return Air{N2: dry * nitrogenShare, O2: dry * oxygenShare}
}

// Spent is the air after yeast has taken up its oxygen: hours to a few days
// (common practice, no source).
func (a Air) Spent() Air { return Air{N2: a.N2} }

// Pressure of the air that was shut in over beer free of it, when it stands in
// balance at t: beer takes up a part, and the headspace may have changed from
// what it was at capping.
func (a Air) Pressure(beer, capped, headspace Litres, cappedAt, t Celsius) Bar {
	share := func(p Bar, g Gas) Bar {
		amount := float64(p) * float64(capped) / cappedAt.Kelvin()
		room := float64(headspace) + g.Ostwald(t)*float64(beer)
		return Bar(amount * t.Kelvin() / room)
	}
	return share(a.N2, Nitrogen) + share(a.O2, Oxygen)
}
