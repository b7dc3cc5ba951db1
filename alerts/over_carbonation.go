package alerts

import "time"

// overCarbonation says that the lot ends well above what was wanted. Where more
// gas than planned is being made, that is the cause, and is told alone.
func overCarbonation(c Config, s Situation, open func(Name, string) Severity) []Finding {
	if !s.live() || s.Estimate.FinalVolumes == nil {
		return nil
	}
	p := 0.8
	switch {
	case open(OverCarbonation, "") != "":
		p = 0.5
	case open(UnexpectedFermentation, "") != "":
		return nil
	}
	if s.signs().Over < p {
		return nil
	}
	f := Finding{Name: OverCarbonation, Severity: Warning, After: 12 * time.Hour}
	f.Summary, f.Advice = overTarget(s)
	return one(f)
}
