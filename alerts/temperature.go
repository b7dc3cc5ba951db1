package alerts

import (
	"time"

	"conditiond/model"
	"conditiond/model/estimate"
)

// cold is the temperature below which a lot hardly moves, by its yeast (common
// practice, no source).
func (c Config) cold(y model.Yeast) float64 {
	switch {
	case c.TooColdC != 0:
		return c.TooColdC
	case y == model.Lager:
		return 9
	}
	return 15
}

// tooCold is told once while a lot is conditioning: slow, not failed; and
// whenever it may freeze. A live drink in the cold is where it should be.
func tooCold(c Config, s Situation, open func(Name, string) Severity) []Finding {
	if s.nearFreezing() {
		f := Finding{Name: TooCold, Severity: Warning, After: time.Hour}
		f.Summary, f.Advice = mayFreeze(s)
		return one(f)
	}
	if !s.live() || s.Phase == estimate.Ready || s.Lot.StopAtVolumes > 0 || s.Estimate.BeerC == nil || s.Now.Before(s.Lot.PackagedAt) {
		return nil
	}
	mark := c.cold(s.Lot.Yeast)
	if open(TooCold, "") != "" {
		mark += 1.5
	}
	if *s.Estimate.BeerC >= mark {
		return nil
	}
	f := Finding{Name: TooCold, Severity: Notice, After: c.ColdFor}
	f.Summary, f.Advice = coldBeer(s)
	return one(f)
}

// freezing is where the lot begins to freeze.
func (s Situation) freezing() model.Celsius { return model.Freezing(s.Lot.ABV()) }

// nearFreezing is within a kelvin of it.
func (s Situation) nearFreezing() bool {
	return s.Estimate != nil && s.Phase != estimate.Closed && s.Estimate.BeerC != nil && !s.Now.Before(s.Lot.PackagedAt) &&
		model.Celsius(*s.Estimate.BeerC) <= s.freezing()+1
}

// tooWarm is about heat without new gas: pressure rises with temperature alone.
func tooWarm(c Config, s Situation, open func(Name, string) Severity) []Finding {
	if s.Estimate == nil || s.Phase == estimate.Closed || s.Estimate.BeerC == nil || s.Now.Before(s.Lot.PackagedAt) {
		return nil
	}
	mark := c.TooWarmC
	if open(TooWarm, "") != "" {
		mark -= 1
	}
	if *s.Estimate.BeerC < mark {
		return nil
	}
	f := Finding{Name: TooWarm, Severity: Warning, After: c.WarmFor}
	f.Summary, f.Advice = warmBeer(s)
	return one(f)
}
