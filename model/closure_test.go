package model

import "testing"

// Crown caps 8–12 bar well crimped, 3–6 poorly; swing-tops 6–10; PET screw caps
// above 10: from memory.
func TestClosures(t *testing.T) {
	for c, want := range map[Closure][2]BarGauge{CrownCap: {8, 12}, PoorlyCrimped: {3, 6}, SwingStopper: {6, 10}, PETScrewCap: {10, 0}, "cork": {0, 0}} {
		if from, to := c.Holds(); from != want[0] || to != want[1] {
			t.Errorf("%s holds %v to %v, want %v", c, from, to, want)
		}
	}
	// A closure protects nothing: a rating is the same with any of them.
	weak := Lot{Bottles: []Bottles{{Kind: StandardGlass, VolumeML: 330, HeadspaceML: 14, Count: 1}}}
	limit, _ := weak.Limit(Atmosphere)
	if from, _ := CrownCap.Holds(); limit >= from {
		t.Errorf("glass is taken to bear %v, as much as its cap", limit)
	}
}
