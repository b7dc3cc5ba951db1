package estimate

import "math"

// airShows is what the gauge shows per bar of nitrogen at capping: some of it
// dissolves within weeks, and the oxygen that came with it is gone within a day
// or two (plain fractions, since they are asked for often).
func (b *belief) airShows(age float64) float64 {
	return 1 - (1-b.undissolved)*age/(age+dissolves) + 0.27/(1+3*age*age)
}

// dissolves is the age in days at which half of the nitrogen that will has gone
// into the beer (a surface that carbon dioxide takes 5 h to pass lets as much
// nitrogen through, of which the beer takes a fiftieth; judgement).
const dissolves = 4.0

// A volume of water holds 0.017 of nitrogen at 20 °C (Ostwald coefficient, IAPWS
// G7-04), beer a little less, and it lacks this share of it when it is filled
// (judgement).
const (
	ostwald = 0.0165
	lacks   = 0.75
)

// undissolved is the share of the nitrogen that stays in a headspace of so much of
// the beer's volume.
func undissolved(head float64) float64 {
	return 1 - lacks*ostwald/(ostwald+head)
}

// squeeze is how much the beer, swollen by the gas it took up, presses the air:
// 34 cm³ a mole (from memory), 0.15 % of the beer's volume per volume of CO2.
func (s *course) squeeze(b *belief) float64 {
	return 1 / (1 - math.Min(0.5, 0.0015*math.Max(0, s.made-s.lost)/b.head))
}
