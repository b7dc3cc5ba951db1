package estimate

import (
	"testing"

	"conditiond/model"
	"conditiond/model/synth"
)

// A gauge that goes silent takes nothing off the risk: what it said still counts,
// and only time goes on.
func TestAMissingGaugeLowersNoRisk(t *testing.T) {
	for i := range 2 { // a healthy lot, one with too much sugar
		for _, cut := range []float64{1.5, 4, 8} {
			_, r, s := lot(i, 14)
			e := New(s)
			feed(e, r.Readings, day(-1), day(cut))
			was := e.Estimate()
			feed(e, withoutGauge(r.Readings), day(cut), day(cut+4))
			now := e.Estimate()
			t.Logf("lot %d, day %.1f and four days after: rich worst %.3f %.3f, over-pressure %.3f %.3f", i, cut,
				was.Signs.RichWorstShare.P95, now.Signs.RichWorstShare.P95, was.OverPressure.Probability, now.OverPressure.Probability)
			const slight = 0.02 // of the rating: stories that would have shown by now
			if a, b := was.Signs.RichWorstShare.P95, now.Signs.RichWorstShare.P95; b < a-slight {
				t.Errorf("lot %d: gauge lost on day %.1f, the richest bottle sinks from %.3f to %.3f of its rating", i, cut, a, b)
			}
		}
	}
}

func withoutGauge(list []model.Reading) (out []model.Reading) {
	for _, r := range list {
		if r.Quantity != model.Pressure {
			out = append(out, r)
		}
	}
	return out
}

// A leak takes the followed bottle's gas and not the lot's: the risk of an
// over-primed lot isn't called off.
func TestALeakLowersNoRisk(t *testing.T) {
	s := synth.Demo(packaged)[1]
	s.Days = 17
	s.Gauged.Leak = synth.Demo(packaged)[2].Gauged.Leak
	s.Gauged.Leak.From = 13
	final := s.Play().FinalVolumes
	was := 0.0
	watch(s, 12, func(age float64, x Estimate, _ synth.Hour) {
		if age == 13 {
			was = x.OverPressure.Probability
		}
		if age < 13 {
			return
		}
		t.Logf("day %.1f: over-pressure %.3f, final %.2f to %.2f of %.2f, leak %.2f", age, x.OverPressure.Probability, x.FinalVolumes.P05, x.FinalVolumes.P95, final, x.Signs.Leak)
		if was >= 0.25 && x.OverPressure.Probability < 0.25 {
			t.Errorf("day %.1f: over-pressure called off at %.3f, was %.3f", age, x.OverPressure.Probability, was)
		}
	})
}
