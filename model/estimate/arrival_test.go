package estimate

import (
	"math"
	"testing"
)

// A gauge that is first heard late may sit on a bottle from elsewhere: what it
// says then narrows nothing for some hours. One that was heard from the start
// is believed at once.
func TestArriving(t *testing.T) {
	quiet := float32(math.NaN())
	late := history{room: make([]float32, 48), gauge: make([]float32, 48)}
	for i := range late.gauge {
		late.gauge[i] = quiet
	}
	first := late.arriving()
	late.add(20, 1.2, 1, true)
	second := late.arriving()
	for range 11 {
		late.add(20, 1.2, 1, true)
	}
	if half := late.arriving(); !(first > 100 && second < first && half < 4) {
		t.Errorf("doubt of %.0f, %.0f an hour later, %.1f after half a day", first, second, half)
	}
	early := history{room: make([]float32, 48), gauge: make([]float32, 48)}
	if d := early.arriving(); d != 1 {
		t.Errorf("doubt of %.1f about a gauge that was heard from the start", d)
	}
}
