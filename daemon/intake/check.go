package intake

import (
	"math"
	"time"

	"conditiond/model"
)

// Check remembers what a sensor said, to hold what a single reading can't
// prove. The zero value has seen nothing. It is a value: Consider returns what
// to keep, so that looking changes nothing.
//
// A jump is held until three readings agree on it; then the first two are
// lost and the third counts. A pressure that rises is never held: the danger
// path must see it, and what follows takes medians. Words of a probe that
// hasn't measured are no proof of anything, however often they come.
type Check struct {
	At     time.Time  `json:"at"`     // of the last accepted value
	Seen   int        `json:"seen"`   // how many of Recent there are
	Recent [2]float64 `json:"recent"` // last accepted, newest first
	Held   float64    `json:"held"`   // where a jump went to
	Agree  int        `json:"agree"`  // how many readings in a row agree on it
}

// agreement is how many readings in a row prove a jump (judgement, no source).
const agreement = 3

// Consider a value that a sensor measured at an instant. An error is a Reason,
// and the value is no reading.
func (c Check) Consider(s Sensor, at time.Time, v Value) (Check, error) {
	step := stepOf(s.Quantity)
	gap := max(0, at.Sub(c.At))
	switch {
	case v.AtFullScale || c.near(s, v.Number, step.sudden) || c.Seen == 0 && v.Word != PowerOnWord:
		return c.Accept(at, v.Number), nil
	case v.Word == PowerOnWord:
		return c, because(PowerOn, "%.4g °C is the word of a probe that hasn't measured, and its last reading was not near", v.Number)
	case gap < 24*time.Hour && c.flipped(s, v.Number):
		return c, because(WrongUnit, "%.3g °C after %.3g °C is what a device says that changed between °C and °F", v.Number, c.Recent[0])
	case c.near(s, v.Number, step.sudden+step.perHour*gap.Hours()):
		return c.Accept(at, v.Number), nil
	case v.Word == ZeroWord:
		return c, because(Disconnected, "exactly %.4g °C after %.4g °C is what a shorted or open line reads as", v.Number, c.Recent[0])
	}
	c = c.hold(s, v.Number)
	if c.Agree >= agreement {
		return c.Accept(at, v.Number), nil
	}
	return c, because(Held, "%.4g after %.4g: a jump; it counts when %d readings in a row agree", v.Number, c.Recent[0], agreement)
}

// Accept a value without looking, as on reading back what was kept.
func (c Check) Accept(at time.Time, number float64) Check {
	return Check{At: at, Seen: min(c.Seen+1, 2), Recent: [2]float64{number, c.Recent[0]}}
}

// hold a jump, counting those that agree with the one before.
func (c Check) hold(s Sensor, number float64) Check {
	if c.Agree == 0 || math.Abs(number-c.Held) > stepOf(s.Quantity).sudden {
		c.Agree = 0
	}
	c.Held = number
	c.Agree++
	return c
}

// near tells whether a value is within most of one of the last two accepted
// ones. Two, so that the way back from a false one is open.
func (c Check) near(s Sensor, number, most float64) bool {
	for _, last := range c.Recent[:c.Seen] {
		if moved := number - last; moved >= -most && (moved <= most || s.Quantity == model.Pressure) {
			return true
		}
	}
	return false
}

// step is how far a value goes between readings: at once, and with time. Air
// by an opened door, a probe that is moved; a bottle that cools (judgement, no
// source).
type step struct{ sudden, perHour float64 }

func stepOf(q model.Quantity) step {
	if q == model.Pressure {
		return step{0.3, 2}
	}
	return step{5, 30}
}

// flipped tells whether a device seems to have changed between °C and °F since
// its last reading.
func (c Check) flipped(s Sensor, number float64) bool {
	const near = 2
	last := c.Recent[0]
	switch {
	case c.Seen == 0:
		return false
	case s.Unit == DegC:
		return math.Abs(number-(last*1.8+32)) < near
	case s.Unit == DegF:
		return math.Abs(number-(last-32)/1.8) < near
	}
	return false
}
