package estimate

import (
	"math"
	"testing"
)

func TestNitrogenDissolves(t *testing.T) {
	// Beer without any takes 28 % of it from a headspace of 4 % (by the Ostwald
	// coefficient of 0.0170 in water at 20 °C, IAPWS G7-04, and 0.92 of it in beer).
	if into := (1 - undissolved(0.04)) / lacks; math.Abs(into-0.28) > 0.02 {
		t.Errorf("%.3f of the nitrogen dissolves, want 0.28", into)
	}
	// A bottle with 0.60 bar of nitrogen and no yeast loses 0.05 to 0.20 bar of air
	// in two to three weeks (calculated by film theory for beer without any).
	b := belief{undissolved: undissolved(0.044)}
	if fell := 0.60 * (b.airShows(1) - b.airShows(18)); fell < 0.05 || fell > 0.20 {
		t.Errorf("the gauge falls by %.3f bar, want 0.05 to 0.20", fell)
	}
	// At capping the gauge shows nothing: the air has pushed out as much.
	if sum := b.airShows(0) - 1.27; math.Abs(sum) > 1e-9 {
		t.Errorf("air shows %.3f bar a bar of nitrogen at capping, want 1.27", b.airShows(0))
	}
}
