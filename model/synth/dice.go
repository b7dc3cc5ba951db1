package synth

import (
	"math"
	"math/rand/v2"
)

// dice are one source of chance, the same for the same seed and purpose, so
// that a change in one part of the world doesn't shuffle the others.
type dice struct{ *rand.Rand }

func cast(seed uint64, index int, purpose uint64) dice {
	return dice{rand.New(rand.NewPCG(seed, uint64(index)<<8|purpose))}
}

// What chance is drawn for.
const (
	forLot = iota
	forRoom
	forGauge
	forThermometer
	forFeed
	forPage
)

func (d dice) normal(mean, sd float64) float64 { return mean + sd*d.NormFloat64() }

// about draws around a median with a geometric standard deviation.
func (d dice) about(median, gsd float64) float64 {
	return median * math.Exp(math.Log(gsd)*d.NormFloat64())
}

func (d dice) between(low, high float64) float64 { return low + (high-low)*d.Float64() }

func (d dice) chance(p float64) bool { return d.Float64() < p }

func pick[T any](d dice, list ...T) T { return list[d.IntN(len(list))] }

// steps rounds to a multiple.
func steps(v, step float64) float64 {
	n := math.Round(1 / step)
	if step >= 1 {
		return math.Round(v/step) * step
	}
	return math.Round(v*n) / n
}

func within(v, low, high float64) float64 { return math.Min(high, math.Max(low, v)) }
