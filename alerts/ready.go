package alerts

import "conditiond/model/estimate"

// usual days until a lot is done, which are waited for where a leak may have
// looked like the end (common practice, no source).
const usual = 10

// ready sends a person to chill one bottle and taste it. It stays open until
// the lot is chilled or closed: it was said, and a later doubt is another
// alert's business. Only a hold takes it back.
func ready(c Config, s Situation, open func(Name, string) Severity) []Finding {
	if s.Estimate == nil || s.Phase == estimate.Closed || s.Phase == estimate.Chilled || s.Lot.StopAtVolumes > 0 {
		return nil
	}
	if s.Hold(open) != nil || open(Ready, "") == "" && s.notYet(open) != "" {
		return nil
	}
	f := Finding{Name: Ready, Severity: Notice}
	f.Summary, f.Advice = chillOne(s)
	return one(f)
}

// notYet says why ready is withheld; empty = it isn't.
func (s Situation) notYet(open func(Name, string) Severity) string {
	g := s.signs()
	switch {
	case !g.Done:
		return "not done yet"
	case g.Leak > 0.3 && (open(Leak, "") == "" || s.days() < usual):
		return "the gauge bottle may leak: what looked like the end may be that"
	case g.Unexpected > 0.3:
		return "there may be more gas than the sugar can give: something may ferment on"
	case !g.Flat:
		return "still rising, or not watched long enough"
	case s.Gauge != nil && s.Gauge.Silent || s.Thermometer.Silent:
		return "a sensor is silent"
	case open(OverPressure, "").Rank() > 1 || open(UnexpectedFermentation, "") != "" || open(OverCarbonation, "") != "":
		return "something else is wrong"
	case s.days() < 2:
		return "too early to tell"
	}
	return ""
}
