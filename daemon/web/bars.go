package web

import (
	"fmt"
	"math"

	"conditiond/model/estimate"
)

// gaugeBar is a level bar, in hundredths of a percent of its width, so that
// the drawing needs no arithmetic.
type gaugeBar struct {
	Shown       bool
	Fill        string // width of what there is
	BandX, Band string // from, width: what may be
	Mark        string // the target, or the limit
	Label       string // for who can't see it
}

// volumesBar shows the band of what there is now against the target.
func (t teller) volumesBar(now estimate.Interval, target float64) gaugeBar {
	full := 1.15 * math.Max(target, now.P95)
	return scaled(full, now.P05, now.P05, now.P95, target,
		fmt.Sprintf("%s, 90 %% band %s, target %s", t.gas().words(now.P50), between(now, t.volumes), t.volumes(target)))
}

// pressureBar shows pressure now, the highest still to come, and the limit.
func (t teller) pressureBar(e *estimate.Estimate, limit float64) gaugeBar {
	var now float64
	var peak estimate.Interval
	if e.GaugeBar != nil {
		now = *e.GaugeBar
	}
	if e.PeakBar != nil {
		peak = *e.PeakBar
	}
	if e.GaugeBar == nil && e.PeakBar == nil || limit <= 0 {
		return gaugeBar{}
	}
	full := 1.15 * math.Max(limit, math.Max(now, peak.P95))
	return scaled(full, now, peak.P05, peak.P95, limit,
		fmt.Sprintf("%s now, highest to come %s, limit %s", t.bar(now), between(peak, t.bar), t.bar(limit)))
}

// scaled draws shares of full on a line of 1000 units.
func scaled(full, fill, from, to, mark float64, label string) gaugeBar {
	at := func(v float64) float64 {
		if !(full > 0) || !(v > 0) { // NaN too
			return 0
		}
		return 1000 * math.Min(v/full, 1)
	}
	return gaugeBar{Shown: true, Fill: coord(at(fill)), BandX: coord(at(from)), Band: coord(math.Max(at(to)-at(from), 0)),
		Mark: coord(at(mark)), Label: label}
}

// coord is a number as SVG wants it, short.
func coord(v float64) string { return fmt.Sprintf("%.1f", v) }
