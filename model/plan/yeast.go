package plan

import "conditiond/model"

// strong beer tires its yeast from this alcohol on, % (common practice, no
// source).
const strong = 9

// yeast that may not do the work by itself.
func (d desk) yeast() []caution {
	if d.lot.YeastState == model.Added || d.live() {
		return nil
	}
	switch abv := d.lot.ABV(); {
	case abv > strong:
		return warn("At %.1f %% alcohol the yeast is tired. Add fresh, actively fermenting yeast at bottling, and expect weeks to months.", abv)
	case d.lot.YeastState == model.Aged:
		return warn("After more than three months little yeast is alive. Add fresh yeast at bottling.")
	case d.lot.Yeast == model.Lager && d.lot.YeastState != model.Fresh:
		return warn("After long cold storage little yeast is left in a lager. Add fresh yeast, keep the bottles at 18 to 20 °C for two to three weeks, then store them cool.")
	case d.lot.YeastState == model.Settled:
		return warn("The yeast has settled: expect one to two weeks more than usual, or add fresh yeast.")
	}
	return nil
}
