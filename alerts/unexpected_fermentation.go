package alerts

import "time"

// unexpectedFermentation says that more gas is being made than the sugar in the
// lot document can give: unfinished beer, wild yeast, hops.
func unexpectedFermentation(c Config, s Situation, open func(Name, string) Severity) []Finding {
	p := 0.9
	if open(UnexpectedFermentation, "") != "" {
		p = 0.5
	}
	if !s.live() || s.signs().Unexpected < p {
		return nil
	}
	f := Finding{Name: UnexpectedFermentation, Severity: Warning, After: 12 * time.Hour}
	f.Summary, f.Advice = moreGas(s)
	return one(f)
}
