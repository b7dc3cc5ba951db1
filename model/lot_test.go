package model_test

import (
	"math"
	"testing"

	"conditiond/model"
)

// Rules of thumb among brewers (common practice, no source): 1.050 to 1.010 is
// a beer of 5.3 %, and a point is half a volume.
func TestGravities(t *testing.T) {
	near(t, "ABV", model.ABV(1.050, 1.010), 5.3, 0.1)
	near(t, "ABV of wort", model.ABV(1.050, 1.050), 0, 1e-9)
	near(t, "volumes of four points", float64(model.Fermented(1.050, 1.016, 1.012).Volumes()), 2.0, 0.05)
	near(t, "malt to the last", model.MaltoseCO2/model.BallingCO2, 1/0.9, 0.001) // stoichiometry, from memory
	if g := model.Dry(1.050); g > 0.992 || g < 0.988 {
		t.Errorf("dry at %g", g)
	}
	near(t, "nothing left when dry", float64(model.Fermented(1.05, model.Dry(1.05), model.Dry(1.05)-1e-9)), 0, 1e-5)
}

func TestUnfinished(t *testing.T) {
	l := lot(t)
	near(t, "one point", float64(l.Unfinished()), 0.5, 0.02)
	l.Beer.LimitGravity = 0
	near(t, "limit not known", float64(l.Unfinished()), 0, 0)
	l.Beer.LimitGravity = 1.013
	near(t, "below the limit", float64(l.Unfinished()), 0, 0)
	l.Beer = model.Beer{VolumeL: 8, OriginalGravity: 1.038, FinalGravity: 1.038}
	l.StopAtVolumes = 2
	near(t, "live", float64(l.Unfinished()), 22.5, 1) // 100 g/L of sugar by Balling
}

func TestPriming(t *testing.T) {
	beer := model.Beer{VolumeL: 20, OriginalGravity: 1.050, FinalGravity: 1.010, LimitGravity: 1.010, WarmestC: 20}
	small, large := model.Bottle{Beer: 0.33}, model.Bottle{Beer: 0.75}
	for _, c := range []struct {
		what         string
		p            model.Priming
		small, large float64 // volumes
		tol          float64
	}{
		// 6 g/L by stoichiometry.
		{"sucrose", model.Priming{Sugar: model.Sucrose, MassG: 120}, 6 * 0.5143 / 1.977, 6 * 0.5143 / 1.977, 1e-6},
		{"spoons", model.Priming{Sugar: model.Sucrose, MassG: 4, PerBottle: 1}, 4 * 0.5143 / 1.977 / 0.33, 4 * 0.5143 / 1.977 / 0.75, 1e-6},
		{"drops", model.Priming{Sugar: model.Drops, MassG: 3, PerBottle: 2}, 6 * 0.5143 / 1.977 / 0.33, 6 * 0.5143 / 1.977 / 0.75, 1e-6},
		{"malt, 60 % fermentable", model.Priming{Sugar: model.DryMaltExtract, MassG: 200, Fermentable: 0.6}, 10 * 0.6 * 0.5143 / 1.977, 10 * 0.6 * 0.5143 / 1.977, 1e-6},
		// 40 points, 20 volumes a litre, over 21.9 L (common practice, no source).
		{"wort", model.Priming{Sugar: model.Wort, VolumeL: 1.9}, 1.9 * 20 / 21.9, 1.9 * 20 / 21.9, 0.03},
		{"fermenting beer", model.Priming{Sugar: model.FermentingBeer, VolumeL: 2.4, Gravity: 1.040}, 2.4 * 15 / 22.4, 2.4 * 15 / 22.4, 0.03},
	} {
		l := model.Lot{Beer: beer, Priming: []model.Priming{c.p}}
		near(t, c.what, float64(l.PrimingIn(small)), c.small, c.tol)
		near(t, c.what, float64(l.PrimingIn(large)), c.large, c.tol)
	}
	var none model.Lot
	none.Beer = beer
	near(t, "none", float64(none.PrimingVolumes()), 0, 0)
}

// Wort dilutes what the beer holds; fermenting beer holds as much itself.
func TestResidualOfABlend(t *testing.T) {
	l := lot(t)
	alone := float64(l.Residual(model.Atmosphere))
	near(t, "alone", alone, float64(model.Residual(20, model.Atmosphere)), 1e-12)
	l.Priming = []model.Priming{{Sugar: model.Wort, VolumeL: 1.9}}
	near(t, "with wort", float64(l.Residual(model.Atmosphere)), alone*19/20.9, 1e-9)
	l.Priming = []model.Priming{{Sugar: model.FermentingBeer, VolumeL: 1.9, Gravity: 1.04}}
	near(t, "with fermenting beer", float64(l.Residual(model.Atmosphere)), alone, 1e-12)
}

func TestPrimedMeetsTheTarget(t *testing.T) {
	const station model.Bar = 0.95
	l := lot(t)
	near(t, "as documented", float64(l.Primed(station).PrimingVolumes()), float64(l.PrimingVolumes()), 0)
	l.Priming = nil
	p := l.Primed(station)
	near(t, "target", float64(p.Residual(station)+p.PrimingVolumes()), 2.5, 1e-9)
	l.StopAtVolumes = 2
	near(t, "live", float64(l.Primed(station).PrimingVolumes()), 0, 0)
	l.StopAtVolumes, l.TargetVolumes = 0, 0.6
	near(t, "holds more already", float64(l.Primed(station).PrimingVolumes()), 0, 0)
}

// A ceiling's rating is what that much CO2 exerts at 30 °C: 3.70 bar for 3.0
// volumes by the trade's sums, with 1.97 g/L and 0.97 of water (common practice,
// no source).
func TestRating(t *testing.T) {
	sea := model.Atmosphere
	for _, c := range []struct {
		b    model.Bottles
		want float64
	}{
		{model.Bottles{Kind: model.UnknownGlass}, 3.70},
		{model.Bottles{Kind: model.HeavyGlass}, 5.27},
		{model.Bottles{Kind: model.HeavyGlass, CeilingVolumes: 4.5}, 6.06},
		{model.Bottles{Kind: model.Can}, 6.2},
		{model.Bottles{Kind: model.Can, CeilingVolumes: 3}, 3.70},
		{model.Bottles{Kind: model.StandardGlass, RatedBar: 5, CeilingVolumes: 3}, 5},
		{model.Bottles{Kind: "a new kind"}, 3.70},
	} {
		near(t, string(c.b.Kind), float64(c.b.Rating(sea)), c.want, 0.1)
	}
	l := lot(t)
	l.Bottles = append(l.Bottles, model.Bottles{Kind: model.SwingTop, VolumeML: 500, Count: 2}, model.Bottles{Kind: model.PET})
	low, weak := l.Limit(sea)
	near(t, "limit", float64(low), 3.70, 0.1)
	if weak.Kind != model.SwingTop {
		t.Errorf("weakest is %s", weak.Kind)
	}
}

// What is limited by a pressure has no ceiling in volumes, and a maker's rating
// wins over one.
func TestCeiling(t *testing.T) {
	for _, c := range []struct {
		b    model.Bottles
		want model.Volumes
	}{
		{model.Bottles{Kind: model.UnknownGlass}, 3},
		{model.Bottles{Kind: "a new kind"}, 3},
		{model.Bottles{Kind: model.HeavyGlass, CeilingVolumes: 4.5}, 4.5},
		{model.Bottles{Kind: model.Can}, 0},
		{model.Bottles{Kind: model.StandardGlass, RatedBar: 5, CeilingVolumes: 3}, 0},
	} {
		if got := c.b.Ceiling(); got != c.want {
			t.Errorf("%+v: %g volumes, want %g", c.b, got, c.want)
		}
	}
}

// Beer of 5 % freezes at about −2 °C (common practice, no source); a water and
// ethanol mixture of 5 % by volume at −1.7 °C by Blagden's law: 0.87 mol/kg
// times 1.86 K.
func TestFreezing(t *testing.T) {
	near(t, "5 %", float64(model.Freezing(5)), -2, 0.4)
	near(t, "water", float64(model.Freezing(0)), 0, 0)
}

func TestRefused(t *testing.T) {
	for _, k := range model.Kinds() {
		c, ok := model.ContainerOf(k)
		if !ok || c.Why == "" || (c.Ceiling > 0) == (c.Rated > 0) {
			t.Errorf("%s: %+v", k, c)
		}
		if got := (model.Bottles{Kind: k}).Refused(); got != c.Refused {
			t.Errorf("%s refused: %v", k, got)
		}
		if (model.Bottles{Kind: k, RatedBar: 6}).Refused() {
			t.Errorf("%s is refused against its maker's rating", k)
		}
	}
	if _, ok := model.ContainerOf("bucket"); ok {
		t.Error("a bucket isn't a bottle")
	}
}

func TestSugars(t *testing.T) {
	for _, s := range model.Sugars() {
		p, ok := model.SugarOf(s)
		if byVolume := s == model.Wort || s == model.FermentingBeer; ok == byVolume {
			t.Errorf("%s has a yield by mass: %v", s, ok)
		} else if ok && !(p.CO2 > 0 && p.CO2 <= p.Pure && p.Pure <= model.MaltoseCO2 && p.Why != "") {
			t.Errorf("%+v", p)
		}
	}
}

// A spread of 6 % of 1.7 volumes is a quarter volume in the richest of a
// hundred bottles.
func TestRichest(t *testing.T) { near(t, "richest", float64(model.Richest(1.7)), 1.94, 0.005) }

// 2.6 volumes wanted of beer that was 18 °C warm: a residual of 0.87 leaves 1.73
// for the priming, of which the poorest and the richest of a hundred have 2.33 ×
// 6 % less and more (judgement, no source). A live drink has no such end.
func TestByChance(t *testing.T) {
	l := model.Lot{TargetVolumes: 2.6, Beer: model.Beer{VolumeL: 800, OriginalGravity: 1.048, FinalGravity: 1.012, WarmestC: 18}}
	low, high := l.ByChance(model.Atmosphere)
	near(t, "poorest", float64(low), 0.87+1.73*0.86, 0.01)
	near(t, "richest", float64(high), 0.87+1.73*1.14, 0.01)
	l.Beer.LimitGravity = 1.010 // unfinished beer is the same in all of them
	if a, b := l.ByChance(model.Atmosphere); a-low < 0.4 || math.Abs(float64(a-low-(b-high))) > 1e-9 {
		t.Errorf("unfinished: %.2f to %.2f", a, b)
	}
	l.StopAtVolumes = 2
	if low, high = l.ByChance(model.Atmosphere); low != 0 || high != 0 {
		t.Errorf("a live drink ends by chance with %.2f to %.2f", low, high)
	}
}

func TestLotsBottle(t *testing.T) {
	l := lot(t)
	s := l.Sealed(l.GaugeBottle.Bottle(), model.Atmosphere)
	near(t, "beer", float64(s.Beer), 0.33, 1e-12)
	near(t, "headspace", float64(s.Headspace), 0.014, 1e-12)
	near(t, "N2 over air", float64(s.Air.N2), 0.7905*(1.01325-0.02339), 1e-3)
	near(t, "ABV", s.ABV, 5.05, 0.05)
}
