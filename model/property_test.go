package model_test

import (
	"math"
	"testing"

	"conditiond/model"

	"pgregory.net/rapid"
)

// anySealed bottle within what the laws are for.
func anySealed(t *rapid.T) model.Sealed {
	f := func(name string, low, high float64) float64 { return rapid.Float64Range(low, high).Draw(t, name) }
	beer := f("beer", 0.2, 20)
	s := model.Sealed{
		Bottle:   model.Bottle{Beer: model.Litres(beer), Headspace: model.Litres(beer * f("headspace", 0.02, 0.2))},
		CappedAt: model.Celsius(f("capped at", 2, 25)),
		ABV:      f("abv", 0, 10), Residual: model.Volumes(f("residual", 0.5, 1.5)),
		Station: model.StationPressure(f("altitude", -100, 3000)),
		Factor:  f("factor", 0.88, 1),
	}
	s.Air = model.AirAtCapping(rapid.SampledFrom([]model.Capped{"", "over-air", "on-foam", "purged"}).Draw(t, "capped"), s.CappedAt, s.Station)
	if rapid.Bool().Draw(t, "strength") {
		s = s.Strength()
	}
	return s
}

func anyTemperature(t *rapid.T, name string) model.Celsius {
	return model.Celsius(rapid.Float64Range(0, 40).Draw(t, name))
}

func anyVolumes(t *rapid.T) model.Volumes {
	return model.Volumes(rapid.Float64Range(0.8, 6).Draw(t, "volumes"))
}

func TestGaugeInverts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, c, v := anySealed(t), anyTemperature(t, "t"), anyVolumes(t)
		if got := s.CO2(s.Gauge(v, c), c); math.Abs(float64(got-v)) > 1e-9 {
			t.Fatalf("%v, want %v", got, v)
		}
	})
}

// The other way round, from the gauge, wherever CO2 adds to what air and vapour
// press.
func TestCO2Inverts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, c := anySealed(t), anyTemperature(t, "t")
		g := s.Gauge(0.3, c) + model.BarGauge(rapid.Float64Range(0, 6).Draw(t, "above"))
		if got := s.Gauge(s.CO2(g, c), c); math.Abs(float64(got-g)) > 1e-9 {
			t.Fatalf("%v, want %v", got, g)
		}
	})
}

func TestRigidBottleInverts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b, c, v := anySealed(t).Bottle, anyTemperature(t, "t"), anyVolumes(t)
		p := b.CO2Pressure(v, c, model.BeerSolubility)
		if got := b.CO2(p, c, model.BeerSolubility); math.Abs(float64(got-v)) > 1e-6 {
			t.Fatalf("%v, want %v", got, v)
		}
	})
}

// Warmer, more gas, more air, less solubility: more pressure.
func TestPressureRises(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, c, v := anySealed(t), anyTemperature(t, "t"), anyVolumes(t)
		base := s.Gauge(v, c)
		airy, rich := s, v+0.01
		airy.Air.N2 += 0.1
		for what, more := range map[string]model.BarGauge{
			"temperature": s.Gauge(v, c+0.1), "sugar": s.Gauge(rich, c), "air": airy.Gauge(v, c), "strength": s.Strength().Gauge(v, c) + 1e-9,
		} {
			if more <= base {
				t.Fatalf("%s: %v, not above %v", what, more, base)
			}
		}
	})
}

// Less headspace, more pressure: the same gas has less room, and when none is
// left the beer itself presses. Without air, of which beer swallows more the less
// headspace there is.
func TestShrinkingHeadspacePresses(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, c, v := anySealed(t), anyTemperature(t, "t"), anyVolumes(t)
		s.Air = model.Air{}
		tight := s
		tight.Headspace = s.Headspace * model.Litres(rapid.Float64Range(0.01, 0.99).Draw(t, "less"))
		if loose, more := s.Gauge(v, c), tight.Gauge(v, c); more <= loose {
			t.Fatalf("%v with %v L of headspace, %v with %v", more, tight.Headspace, loose, s.Headspace)
		}
	})
}

// Units survive every conversion and its way back.
func TestUnitsSurvive(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v, c := anyVolumes(t), anyTemperature(t, "t")
		station := model.StationPressure(rapid.Float64Range(-500, 5000).Draw(t, "altitude"))
		p := model.Bar(rapid.Float64Range(0, 12).Draw(t, "bar"))
		for what, d := range map[string]float64{
			"volumes": float64(v.GramsPerLitre().Volumes() - v),
			"bar":     float64(p.Gauge(station).Absolute(station) - p),
			"kelvin":  c.Kelvin() - 273.15 - float64(c),
			"gauge":   float64(p.Gauge(station)) + float64(station) - float64(p),
		} {
			if !(math.Abs(d) <= 1e-12) {
				t.Fatalf("%s: off by %g", what, d)
			}
		}
	})
}

// Warmer, stronger, fuller: beer holds less.
func TestSolubilityFalls(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		abv, re := rapid.Float64Range(0, 12).Draw(t, "abv"), model.GramsPerLitre(rapid.Float64Range(20, 80).Draw(t, "re"))
		if f := model.Composition(abv, re); model.Composition(abv+0.5, re) > f || model.Composition(abv, re+5) > f {
			t.Fatalf("%v %% and %v g/L hold %v, more hold more", abv, re, f)
		}
		c := anyTemperature(t, "t")
		if model.Henry(c+0.1) >= model.Henry(c) || model.WaterVapour(c+0.1) <= model.WaterVapour(c) ||
			model.Residual(c+0.1, model.Atmosphere) >= model.Residual(c, model.Atmosphere) {
			t.Fatal("solubility or residual rises, or vapour falls")
		}
	})
}

// CO2 is conserved: warming and cooling a sealed bottle ends where it began,
// and the average over bottles is what went into the lot.
func TestCO2IsConserved(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, v := anySealed(t), anyVolumes(t)
		c, d := anyTemperature(t, "from"), anyTemperature(t, "to")
		there := s.CO2(s.Gauge(v, d), d)
		if back := s.Gauge(there, c); math.Abs(float64(back-s.Gauge(v, c))) > 1e-8 {
			t.Fatalf("came back to %v", back)
		}
	})
}

func TestPrimingIsConserved(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		count := func(name string) int { return rapid.IntRange(1, 100).Draw(t, name) }
		l := model.Lot{
			Beer: model.Beer{OriginalGravity: 1.05, FinalGravity: 1.012},
			Priming: []model.Priming{
				{Sugar: model.Sucrose, MassG: model.Grams(rapid.Float64Range(0, 200).Draw(t, "sugar"))},
				{Sugar: model.Drops, PerBottle: float64(count("drops")) / 50, MassG: 3},
			},
			Bottles: []model.Bottles{{VolumeML: 330, HeadspaceML: 14, Count: count("small")}, {VolumeML: 750, HeadspaceML: 30, Count: count("large")}},
		}
		l.Beer.VolumeL = l.Filled()
		sum := 0.0
		for _, b := range l.Bottles {
			sum += float64(l.PrimingIn(b.Bottle())) * float64(b.Bottle().Beer) * float64(b.Count)
		}
		if mean := sum / float64(l.Filled()); math.Abs(mean-float64(l.PrimingVolumes())) > 1e-9 {
			t.Fatalf("%v in the bottles, %v in the lot", mean, l.PrimingVolumes())
		}
	})
}

func TestGravityInverts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := rapid.Float64Range(0.98, 1.13).Draw(t, "gravity")
		if got := model.PlatoOf(g).Gravity(); math.Abs(got-g) > 1e-9 {
			t.Fatalf("%v, want %v", got, g)
		}
	})
}
