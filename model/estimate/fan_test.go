package estimate

import (
	"testing"
	"time"
)

// The fan begins where the estimate is, ends where it ends, and never comes
// back on the way.
func TestFanJoinsTheEstimate(t *testing.T) {
	_, r, s := lot(0, 4)
	e := New(s)
	if fan := e.Prospect().Fan(day(9), 9); fan != nil {
		t.Errorf("a lot that was never heard has a fan of %d", len(fan))
	}
	feed(e, r.Readings, day(-1), day(4))
	now := e.Estimate()
	fan := e.Prospect().Fan(day(180), 500)
	if len(fan) != 500 || !fan[0].Time.Equal(now.Time) || fan[499].Time.Before(day(179)) {
		t.Fatalf("%d instants, %v to %v", len(fan), fan[0].Time, fan[len(fan)-1].Time)
	}
	near := func(what string, a, b Interval, by float64) {
		t.Helper()
		for _, d := range []float64{a.P05 - b.P05, a.P50 - b.P50, a.P95 - b.P95} {
			if d > by || d < -by {
				t.Errorf("%s: %v, the estimate says %v", what, a, b)
				return
			}
		}
	}
	near("at first", fan[0].CO2Volumes, *now.CO2Volumes, 0.01)
	near("in the end", fan[499].CO2Volumes, *now.FinalVolumes, 0.03)
	for i := range fan[1:] {
		if a, b := fan[i].CO2Volumes, fan[i+1].CO2Volumes; b.P05 < a.P05 || b.P50 < a.P50 || b.P95 < a.P95 {
			t.Fatalf("after %v a bottle holds %v, before %v", fan[i+1].Time, b, a)
		}
	}
	if g := *now.GaugeBar; fan[0].GaugeBar.P05 > g || fan[0].GaugeBar.P95 < g {
		t.Errorf("the gauge reads %.2f bar, the fan begins at %v", g, fan[0].GaugeBar)
	}
}

// In invented lots the truth of days to come lies within the fan about nine
// times in ten.
func TestFanHoldsTheTruth(t *testing.T) {
	if testing.Short() {
		t.Skip("takes a while")
	}
	var all, volumes, pressures float64
	for _, s := range many(6) {
		s.Interval = 15 * time.Minute
		r := s.Play()
		e := New(Setup{Lot: s.Lot, Station: s.Station, Thermometer: s.Thermometer.Name})
		for _, from := range []int{3 * 24, 6 * 24} {
			feed(e, r.Readings, e.Estimate().Time.Add(-24*time.Hour), r.Hours[from].At)
			for i, a := range e.Prospect().Fan(r.Hours[from+5*24].At, 6) {
				h := r.Hours[from+24*i]
				all++
				if holds(&a.CO2Volumes, h.CO2Volumes) {
					volumes++
				}
				if holds(&a.GaugeBar, h.GaugeBar) {
					pressures++
				}
			}
		}
	}
	t.Logf("the fan holds %.0f %% of %.0f true volumes, %.0f %% of the pressures", 100*volumes/all, all, 100*pressures/all)
	if volumes < 0.8*all || pressures < 0.75*all {
		t.Error("too narrow")
	}
}

func BenchmarkFan(b *testing.B) {
	_, r, s := lot(0, 3)
	e := New(s)
	feed(e, r.Readings, day(-1), day(3))
	for b.Loop() {
		e.Prospect().Fan(day(20), 40)
	}
}
