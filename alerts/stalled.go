package alerts

import "time"

// stalled says that far less gas is made than the temperature explains, which
// only a gauge in order can tell. Nobody minds that of a live drink.
func stalled(c Config, s Situation, open func(Name, string) Severity) []Finding {
	p := 0.4
	if open(Stalled, "") != "" {
		p = 0.25
	}
	g := s.signs()
	blind := s.Gauge == nil || g.GaugeFault != "" || g.Leak > 0.3
	if !s.live() || s.Lot.StopAtVolumes > 0 || blind && open(Stalled, "") == "" || g.Stalled < p {
		return nil
	}
	f := Finding{Name: Stalled, Severity: Warning, After: 12 * time.Hour}
	f.Summary, f.Advice = standsStill(s)
	return one(f)
}
