package alerts

import (
	"time"

	"conditiond/model/estimate"
)

const (
	// likely and remote are the probabilities that an average bottle passes its
	// rating at which a warning is raised and let go. When in doubt, tell.
	likely = 0.25
	remote = 0.10
	// soon makes a likely crossing a danger.
	soon = 48 * time.Hour
)

// overPressure warns by the forecast, days ahead, and calls danger by the gauge
// and by what a person saw.
// A leak of the gauge bottle never lowers it: the forecast is that of a tight
// bottle.
func overPressure(c Config, s Situation, open func(Name, string) Severity) []Finding {
	if s.Phase == estimate.Closed {
		return nil
	}
	f := Finding{Name: OverPressure, After: 0}
	was := open(OverPressure, "")
	grave, seen := s.graveSeen()
	switch {
	case s.gaugeOver():
		f.Severity, f.Grade = Danger, 2
		f.Summary, f.Advice = overNow(s)
	case seen:
		f.Severity, f.Grade = Danger, 1
		f.Summary, f.Advice = overSeen(s, grave)
	case s.overCeiling(was):
		f.Severity = Danger
		f.Summary, f.Advice = overCeiling(s)
	case s.richestOver():
		f.Severity = Danger
		f.Summary, f.Advice = overMeasured(s)
	case s.crossingSoon():
		f.Severity = Danger
		f.Summary, f.Advice = overSoon(s)
	case s.mayCross(was):
		f.Severity = Warning
		f.Summary, f.Advice = overAhead(s)
	case s.richestMayPass():
		f.Severity = Warning
		f.Summary, f.Advice = overInTheWarm(s)
	default:
		return nil
	}
	return one(f)
}

// gaugeOver is measured: the gauge stands at the limit, or at its own end.
func (s Situation) gaugeOver() bool {
	g := s.Gauge
	if g == nil || g.Last.IsZero() || g.Last.Before(s.Lot.PackagedAt) {
		return false
	}
	return g.Full || g.Value >= float64(s.Limit)
}

// overCeiling says that there is more gas than the weakest bottles are taken to
// bear, where that is known in volumes.
func (s Situation) overCeiling(was Severity) bool {
	ceiling := float64(s.Ceiling)
	if ceiling == 0 || !s.live() || s.Estimate.CO2Volumes == nil {
		return false
	}
	if was == Danger {
		ceiling -= 0.1
	}
	return s.Estimate.CO2Volumes.P50 > ceiling
}

func (s Situation) crossingSoon() bool {
	e := s.Estimate
	if e == nil || s.Phase == estimate.Chilled || e.OverPressure.Probability < 0.5 {
		return false
	}
	at := e.OverPressure.CrossesAt
	return at != nil && at.P50 != nil && at.P50.Sub(s.Now) < soon
}

// mayCross is by the forecast. A live drink always would: its mark is its
// warning. A gauge that fell without the lot's doing calls no warning off.
func (s Situation) mayCross(was Severity) bool {
	if s.Estimate == nil || s.Phase == estimate.Chilled || s.Lot.StopAtVolumes > 0 {
		return false
	}
	p, g := s.Estimate.OverPressure.Probability, s.signs()
	return p >= likely || was != "" && (p >= remote || g.Leak+g.Away > 0.3)
}
