package alerts

import "time"

// leak is about the gauge bottle and says nothing of the lot. Near freezing the
// model knows too little to blame the bottle.
func leak(c Config, s Situation, open func(Name, string) Severity) []Finding {
	p := 0.5
	if open(Leak, "") != "" {
		p = 0.3
	}
	if s.Gauge == nil || !s.live() || s.nearFreezing() && open(Leak, "") == "" || s.signs().Leak < p {
		return nil
	}
	f := Finding{Name: Leak, Severity: Warning, After: 12 * time.Hour}
	f.Summary, f.Advice = gaugeLeaks(s)
	return one(f)
}
