package estimate

import (
	"math"
	"testing"
	"time"
)

// What a spell at another temperature would do, by the direction that nobody
// doubts: warmth hurries yeast and raises pressure, cold does the opposite, and
// nothing of it changes what is so already.
func TestWhatIf(t *testing.T) {
	_, r, s := lot(0, 4)
	e := New(s)
	feed(e, r.Readings, day(-1), day(4))
	before := said(t, e)
	p, now := e.Prospect(), e.Estimate()
	warm, cold := p.WhatIf(Spell{AtC: 28}), p.WhatIf(Spell{AtC: 6})
	if !warm.ReadyAt.P50.Before(*now.ReadyAt.P50) || warm.PeakBar.P50 <= now.PeakBar.P50 {
		t.Errorf("at 28 °C ready %v with %v bar, as it is %v with %v", warm.ReadyAt.P50, warm.PeakBar, now.ReadyAt.P50, now.PeakBar)
	}
	if w := cold.ReadyAt.P50; w != nil && !w.After(*now.ReadyAt.P50) || cold.PeakBar.P50 >= now.PeakBar.P50 {
		t.Errorf("at 6 °C ready %v with %v bar, as it is %v with %v", w, cold.PeakBar, now.ReadyAt.P50, now.PeakBar)
	}
	if *warm.CO2Volumes != *now.CO2Volumes || *cold.Progress != *now.Progress {
		t.Error("a temperature to come changes what is so already")
	}
	hot := p.WhatIf(Spell{AtC: 34, From: day(20), Until: day(21)})
	if d := hot.ReadyAt.P50.Sub(*now.ReadyAt.P50); d < -12*time.Hour || d > 12*time.Hour || hot.PeakBar.P50 < now.PeakBar.P50+0.5 {
		t.Errorf("a hot day when it is done makes it ready %v later, with %v bar", d, hot.PeakBar)
	}
	if none := p.WhatIf(Spell{AtC: 34, From: day(20), Until: day(20)}); math.Abs(none.PeakBar.P95-now.PeakBar.P95) > 0.01 {
		t.Errorf("a spell of no length makes %v bar of %v", none.PeakBar, now.PeakBar)
	}
	feed(e, r.Readings, day(4), day(4.5))
	if p.WhatIf(Spell{AtC: 28}).PeakBar.P50 != warm.PeakBar.P50 || before == said(t, e) {
		t.Error("a prospect goes on with its estimator")
	}
}
