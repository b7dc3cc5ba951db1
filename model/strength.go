package model

import (
	"math"
	"time"
)

// FatigueExponent n of soda-lime glass under a steady load, t σⁿ = const
// (353 specimens of window glass, a thesis on static fatigue, Texas Tech).
const FatigueExponent = 14.5

// Sustained is what of a strength that glass showed for a test's time is left
// for a longer time under load: (test/service)^(1/n).
func Sustained(test, service time.Duration) float64 {
	return math.Pow(test.Seconds()/service.Seconds(), 1/FatigueExponent)
}

// BottleSpread is one standard deviation of the priming between the bottles of
// a lot, relative (judgement, no source).
const BottleSpread = 0.06

// Richest is the priming in the richest bottle of a hundred, when it is `mean`
// on average: 2.33 standard deviations above.
func Richest(mean Volumes) Volumes { return mean * (1 + 2.326*BottleSpread) }

// Poorest is the same of the poorest bottle of a hundred.
func Poorest(mean Volumes) Volumes { return mean * (1 - 2.326*BottleSpread) }

// ByChance is between which volumes 98 in a hundred of its bottles end, when the
// priming of the document was well mixed: one has less, and one has more. Both
// are 0 for a live drink, which has no end that was planned.
func (l Lot) ByChance(station Bar) (poorest, richest Volumes) {
	if l.StopAtVolumes > 0 {
		return 0, 0
	}
	l = l.Primed(station)
	rest, priming := l.Residual(station)+l.Unfinished(), l.PrimingVolumes()
	return rest + Poorest(priming), rest + Richest(priming)
}
