package alerts

import "time"

// unexpectedFermentation says that more gas is being made than the sugar in the
// lot document can give: unfinished beer, wild yeast, hops. It goes by what the
// gauge shows if it is right: that it may drift silences nobody. A lot without one
// is taken to do what another part of its batch does.
func unexpectedFermentation(c Config, s Situation, open func(Name, string) Severity) []Finding {
	p := 0.8
	if open(UnexpectedFermentation, "") != "" {
		p = 0.5
	}
	g := s.signs()
	if !s.live() || s.Kin == "" && g.Unexpected < p*(1-min(g.Astray, 0.5)) {
		return nil
	}
	f := Finding{Name: UnexpectedFermentation, Severity: Warning, After: 12 * time.Hour}
	f.Summary, f.Advice = moreGas(s)
	return one(f)
}
