package alerts

import (
	"time"

	"conditiond/model/estimate"
)

// sensorSilent: a silent closet must not look like a calm one.
func sensorSilent(c Config, s Situation, open func(Name, string) Severity) []Finding {
	if s.Phase == estimate.Closed || s.Now.Before(s.Lot.PackagedAt) {
		return nil
	}
	var out []Finding
	for _, x := range s.sensors() {
		if !x.Silent || x.Out {
			continue
		}
		f := Finding{Name: SensorSilent, Sensor: x.Name, Severity: Warning}
		f.Summary, f.Advice = nothingHeard(s, x)
		out = append(out, f)
	}
	return out
}

// refusedInARow is when refused readings are more than glitches.
const refusedInARow = 10

// sensorFault: it speaks, but what it says can't be so.
func sensorFault(c Config, s Situation, open func(Name, string) Severity) []Finding {
	if s.Phase == estimate.Closed || s.Now.Before(s.Lot.PackagedAt) {
		return nil
	}
	var out []Finding
	for _, x := range s.sensors() {
		f := Finding{Name: SensorFault, Sensor: x.Name, Severity: Warning}
		switch {
		case x.Out:
			continue
		case x.Full:
			f.Summary, f.Advice = atFullScale(s, x)
		case x.Rejected >= refusedInARow:
			f.Summary, f.Advice = keepsBeingRefused(x)
		case s.Gauge != nil && x.Name == s.Gauge.Name && s.signs().GaugeFault != "":
			f.After = 6 * time.Hour
			f.Summary, f.Advice = gaugeContradicted(s, x)
		case s.gaugeAstray(x, open(SensorFault, x.Name)):
			f.After = 12 * time.Hour
			f.Summary, f.Advice = gaugeAstray(s, x)
		default:
			continue
		}
		out = append(out, f)
	}
	return out
}

func (s Situation) sensors() []Sensor {
	out := []Sensor{s.Thermometer}
	if s.Gauge != nil {
		out = append(out, *s.Gauge)
	}
	return out
}

// gaugeAstray says that a gauge probably drifts or was knocked.
func (s Situation) gaugeAstray(x Sensor, was Severity) bool {
	p := 0.6
	if was != "" {
		p = 0.3
	}
	return s.Gauge != nil && x.Name == s.Gauge.Name && s.live() && s.signs().Astray >= p
}
