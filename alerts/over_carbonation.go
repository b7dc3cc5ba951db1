package alerts

import (
	"time"

	"conditiond/model/estimate"
)

// overCarbonation says that the lot ends well above what was wanted. Where more
// gas than planned is being made, that is the cause, and is told alone.
func overCarbonation(c Config, s Situation, open func(Name, string) Severity) []Finding {
	if !s.live() || s.Estimate.FinalVolumes == nil || s.Lot.StopAtVolumes > 0 {
		return nil
	}
	p := 0.8
	switch {
	case open(OverCarbonation, "") == Warning: // a notice is of bottles, not of the lot
		p = 0.5
	case open(UnexpectedFermentation, "") != "" || s.signs().Unexpected >= 0.5:
		return nil
	}
	if s.signs().Over < p {
		return nil
	}
	f := Finding{Name: OverCarbonation, Severity: Warning, After: 12 * time.Hour}
	f.Summary, f.Advice = overTarget(s)
	return one(f)
}

// gushing says of several gushers in a lot that ends as planned that there are
// other reasons for it than gas.
func gushing(c Config, s Situation, open func(Name, string) Severity) []Finding {
	if s.Phase == estimate.Closed || s.gushers() < 2 || s.signs().Over >= 0.5 {
		return nil
	}
	f := Finding{Name: OverCarbonation, Severity: Notice}
	f.Summary, f.Advice = gushed(s)
	return one(f)
}
