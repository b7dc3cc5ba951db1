package model

import "math"

// Cardinals are the temperatures that bound a yeast's work: none below Lowest
// or above Highest, most at Best.
type Cardinals struct{ Lowest, Best, Highest Celsius }

// CardinalsOf a yeast. Growth of Saccharomyces cerevisiae has 2.8/32.3/45.4 °C
// (Salvadó et al. 2011); brewing strains end at 34 (lager) to 40 °C (ale)
// (Walsh and Martin 1977, from memory). Uptake without growth is less steep,
// so the lower ends are set lower than growth's (judgement).
func CardinalsOf(y Yeast) Cardinals {
	switch y {
	case Lager:
		return Cardinals{-4, 28, 34.5}
	case Wine, Mixed:
		return Cardinals{-3, 31, 41}
	}
	return Cardinals{0, 31, 39}
}

// Pace is how fast yeast with these cardinals works at t, 1 at Best: the
// cardinal temperature model with inflection (Rosso et al. 1993, form from
// memory).
func (c Cardinals) Pace(t Celsius) float64 {
	if t <= c.Lowest || t >= c.Highest {
		return 0
	}
	lo, hi := float64(t-c.Lowest), float64(t-c.Highest)
	span := float64(c.Best - c.Lowest)
	return hi * lo * lo / (span * (span*float64(t-c.Best) - float64(c.Best-c.Highest)*float64(c.Best+c.Lowest-2*t)))
}

// leastPace stays even in the cold: nothing alive stops altogether.
const leastPace = 0.01

// TemperatureFactor is a yeast's pace at t against 20 °C, at least 0.01.
func TemperatureFactor(y Yeast, t Celsius) float64 {
	c := CardinalsOf(y)
	return math.Max(leastPace, c.Pace(t)/c.Pace(20))
}

// EthanolFactor is a yeast's pace at an alcohol content in percent by volume
// against 5 %, falling in a straight line to nothing at 13 (ale), 11.5 (lager),
// 15 (mixed) or 17 % (wine), but never below 0.02. That alcohol slows refermentation most
// of all in the beer: Dekoninck et al. 2013, J ASBC 71:23, abstract; the ends
// are judgement.
func EthanolFactor(y Yeast, abv float64) float64 {
	end := 13.0
	switch y {
	case Lager:
		end = 11.5
	case Wine:
		end = 17
	case Mixed:
		end = 15 // much of what is alive in old mixed cultures bears more
	}
	return math.Max(0.02, (1-abv/end)/(1-5/end))
}

// PressureFactor is the pace of the uptake of simple sugars under a CO2
// pressure against 2.2 bar: a minor effect (Vanbeneden et al. 2006, J ASBC
// 64:206, abstract); half at 8 bar, since sparkling wine finishes at 6
// (judgement).
func PressureFactor(co2 Bar) float64 {
	const half = 8.0
	return (1 + 2.2/half) / (1 + math.Max(0, float64(co2))/half)
}

// Vigour is what to expect of a yeast before it has been seen: medians at
// 20 °C and 5 % alcohol with their geometric standard deviations. The lag is
// that of the whole gas, so it holds what yeast that must grow first loses. All
// figures are judgement, consistent with "one to three weeks at room
// temperature" (common practice), and wide for that reason.
type Vigour struct {
	Activity       float64 // g of hexose per litre and day
	ActivitySpread float64
	LagDays        float64
	LagSpread      float64
	DeathPerDay    float64 // of the activity
}

// VigourOf a yeast in a state; no state means fresh or settled.
func VigourOf(s YeastState) Vigour {
	switch s {
	case Fresh:
		return Vigour{1.3, 2.0, 1.2, 1.8, 0.004}
	case Settled:
		return Vigour{0.8, 2.0, 1.8, 1.8, 0.005}
	case Aged:
		return Vigour{0.5, 2.7, 2.6, 2.0, 0.008}
	case Added:
		return Vigour{1.1, 1.7, 0.9, 1.7, 0.003}
	}
	return Vigour{1.35, 2.1, 1.3, 1.8, 0.004}
}

// HalfUptake is the concentration of simple sugar at which yeast works at half
// its pace, in g/L (judgement; transporters' own figures span 0.2 to 15 g/L).
const HalfUptake GramsPerLitre = 1.0

// HexoseYield is the CO2 from a gram of hexose in a bottle: 0.489 by
// stoichiometry, less what becomes yeast and by-products (from memory: 2 to
// 6 % less).
const HexoseYield = 0.468
