package alerts

import (
	"math"
	"time"

	"conditiond/model"
)

// A live drink is stopped at a mark, not finished.
const (
	// Near the mark a person is told to get ready: so many volumes below it, or
	// so long before it (common practice, no source).
	nearVolumes = 0.3
	nearTime    = 24 * time.Hour
)

// stopMark tells of a live drink twice: that the mark comes near, and that it
// is reached. There is no ready for it.
func stopMark(c Config, s Situation, open func(Name, string) Severity) []Finding {
	if s.Lot.StopAtVolumes == 0 || !s.live() || s.Estimate.CO2Volumes == nil || s.days() < 0 {
		return nil
	}
	left := s.toMark()
	within, early := nearVolumes, nearTime
	if open(OverCarbonation, "") != "" {
		within, early = 2*nearVolumes, 2*nearTime
	}
	f := Finding{Name: OverCarbonation, Severity: Warning}
	switch {
	case left.volumes <= 0:
		f.Grade = 1
		f.Summary, f.Advice = markReached(s)
	case left.volumes <= within || left.p50 <= early:
		f.Summary, f.Advice = markNear(s, left)
	default:
		return nil
	}
	return one(f)
}

// way is what is left to the mark, with the 90 % interval of the time.
type way struct {
	volumes       float64
	p05, p50, p95 time.Duration
}

// toMark at the pace of now and the temperature of now. A mark that is passed
// unseen is worse than one that is told some hours early, so the volumes are
// taken at their upper quartile.
func (s Situation) toMark() way {
	v, pace := s.Estimate.CO2Volumes, s.signs().GasPerDay
	mark := float64(s.Lot.StopAtVolumes)
	out := way{volumes: mark - v.P50 - 0.41*(v.P95-v.P50), p05: longTime, p50: longTime, p95: longTime}
	if pace == nil || s.Estimate.BeerC == nil {
		return out
	}
	feels := model.TemperatureFactor(s.Lot.Yeast, model.Celsius(*s.Estimate.BeerC))
	out.p05 = daysOf((mark - v.P95) / (pace.P95 * feels))
	out.p50 = daysOf((mark - v.P50) / (pace.P50 * feels))
	out.p95 = daysOf((mark - v.P05) / (pace.P05 * feels))
	return out
}

// longTime is longer than a live drink is kept.
const longTime = 365 * 24 * time.Hour

func daysOf(d float64) time.Duration {
	if !(d < longTime.Hours()/24) {
		return longTime
	}
	return time.Duration(math.Max(0, d) * 24 * float64(time.Hour))
}
