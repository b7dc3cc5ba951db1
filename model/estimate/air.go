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

// swelling is the share of its volume by which beer grows with a volume of CO2:
// 34 cm³ a mole (from memory).
const swelling = 0.0015

// room is the share of a headspace, which is so much of the beer's volume, that
// is left when the beer has taken up some volumes of gas.
func (l *law) room(head, taken float64) float64 {
	return 1 - math.Min(0.7, (swelling*math.Max(0, taken)+l.swells)/head)
}

// squeeze is how much a beer that leaves so much of the headspace's room presses
// the air there, some of which it takes up.
func squeeze(head, room float64) float64 {
	return (head + ostwald) / (head*room + ostwald)
}
