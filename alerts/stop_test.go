package alerts

import (
	"testing"
	"time"

	"conditiond/model"
	"conditiond/model/estimate"
)

// brew is an invented live drink at some volumes, making some a day.
func brew(volumes, perDay float64) Situation {
	s := calm()
	s.Lot.StopAtVolumes, s.Lot.TargetVolumes = 2.2, 0
	s.Estimate.CO2Volumes = &estimate.Interval{P05: volumes - 0.05, P50: volumes, P95: volumes + 0.05}
	s.Estimate.Signs.GasPerDay = &estimate.Interval{P05: 0.8 * perDay, P50: perDay, P95: 1.2 * perDay}
	s.Estimate.OverPressure.Probability = 1 // it always would
	return s
}

// Told a day ahead or close below the mark, and at the mark; else nothing.
func TestMarkOfALiveDrink(t *testing.T) {
	look(t, NewBook(), brew(1.5, 0.3), "")
	look(t, NewBook(), brew(1.95, 0.01), "over-carbonation warning raised")
	b := look(t, NewBook(), brew(1.6, 0.6), "over-carbonation warning raised")
	b = look(t, b, brew(1.7, 0.6).after(4*time.Hour), "")
	b = look(t, b, brew(2.2, 0.6).after(24*time.Hour), "over-carbonation warning raised")
	cold := brew(2.2, 0.6).after(30 * time.Hour)
	cold.Phase = estimate.Chilled
	b = look(t, b, cold, "")
	look(t, b, cold.after(24*time.Hour), "over-carbonation warning cleared")
}

// In the cold the same yeast needs longer: no hurry.
func TestMarkComesLaterInTheCold(t *testing.T) {
	s := brew(1.7, 0.6)
	*s.Estimate.BeerC = 6
	s.Lot.Yeast = model.Ale
	look(t, NewBook(), s, "")
}

// Neither a stall nor cold is a fault of what is meant to be stopped.
func TestLiveDrinkNeedNotWork(t *testing.T) {
	s := brew(1.2, 0.01)
	s.Estimate.Signs.Stalled = 1
	*s.Estimate.BeerC = 5
	b := look(t, NewBook(), s, "")
	look(t, b, s.after(30*time.Hour), "")
}

// Beer that may freeze is told soon, in any phase, and blames no gauge.
func TestFrost(t *testing.T) {
	s := calm()
	s.Lot.Beer.OriginalGravity, s.Lot.Beer.FinalGravity = 1.047, 1.010 // 4.8 %
	s.Estimate.Signs.Leak = 1
	*s.Estimate.BeerC = -0.5
	look(t, look(t, NewBook(), s, ""), s.after(20*time.Hour), "leak warning raised")
	*s.Estimate.BeerC = -1.1
	b := look(t, NewBook(), s, "")
	b = look(t, b, s.after(time.Hour), "too-cold warning raised")
	look(t, b, s.after(20*time.Hour), "")
	s.Phase = estimate.Ready
	look(t, look(t, NewBook(), s, ""), s.after(time.Hour), "too-cold warning raised")
}

// Glass that is known by its volumes is in danger above them, and stays so
// until it is clearly below.
func TestMoreThanTheGlassBears(t *testing.T) {
	s := calm()
	s.Ceiling = 3
	s.Estimate.CO2Volumes = &estimate.Interval{P05: 2.9, P50: 3.05, P95: 3.2}
	b := look(t, NewBook(), s, "over-pressure danger raised")
	s.Estimate.CO2Volumes.P50 = 2.95
	b = look(t, b, s.after(time.Hour), "")
	s.Estimate.CO2Volumes.P50 = 2.8
	b = look(t, b, s.after(2*time.Hour), "")
	look(t, b, s.after(14*time.Hour), "over-pressure danger returned")
	s.Ceiling, s.Estimate.CO2Volumes.P50 = 0, 3.05
	look(t, NewBook(), s, "")
}

// An end that a leak may have faked is not called one.
func TestGaugeThatStraysIsToldAfterHalfADay(t *testing.T) {
	s := calm()
	s.Estimate.Signs.Astray = 0.7
	b := look(t, NewBook(), s, "")
	b = look(t, b, s.after(12*time.Hour), "sensor-fault warning raised")
	s.Estimate.Signs.Astray = 0.2
	b = look(t, b, s.after(24*time.Hour), "")
	look(t, b, s.after(48*time.Hour), "sensor-fault warning cleared")
}

func TestGaugeThatMayStraySilencesNoGas(t *testing.T) {
	s := calm()
	s.Estimate.Signs.Unexpected, s.Estimate.Signs.Astray = 0.6, 0.35
	b := look(t, NewBook(), s, "")
	look(t, b, s.after(12*time.Hour), "unexpected-fermentation warning raised")
	s.Estimate.Signs.Astray = 0
	b = look(t, NewBook(), s, "")
	look(t, b, s.after(12*time.Hour), "")
}

func TestReadyWaitsForALeak(t *testing.T) {
	s := calm()
	s.Estimate.Signs = estimate.Signs{Ready: 0.99, Done: true, Flat: true, Leak: 0.5}
	look(t, NewBook(), s, "")
	s.Estimate.Signs.Leak = 0.95
	b := look(t, NewBook(), s, "")
	b = look(t, b, s.after(12*time.Hour), "leak warning raised")
	b = look(t, b, s.after(24*time.Hour), "")
	look(t, b, s.after(3*24*time.Hour), "ready notice raised")
}
