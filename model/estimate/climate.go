package estimate

import (
	"math"

	"conditiond/model"
)

// law is what physics says at one temperature, of the followed bottle.
type law struct {
	pace   float64 // of the yeast, 1 at 20 °C
	slope  float64 // its logarithm
	gain   float64 // bar of CO2 per volume
	share  float64 // of the CO2 that is in the beer
	vapour float64 // bar
	swells float64 // how much more the beer has grown than its bottle, share of its volume
	warm   float64 // absolute temperature against 20 °C
}

// climate holds the laws from coldest on in small steps.
type climate []law

const (
	coldest = -5.0
	hottest = 50.0
	fine    = 20 // steps a kelvin
)

func newClimate(y model.Yeast, v model.Bottle, abv float64) climate {
	c := make(climate, int((hottest-coldest)*fine)+1)
	for i := range c {
		t := model.Celsius(coldest + float64(i)/fine)
		k := model.Solubility(t, model.BeerSolubility)
		gas := gasGrams(v, t)
		f := model.TemperatureFactor(y, t)
		c[i] = law{
			pace: f, slope: math.Log(f),
			gain: model.VolumeGrams / (k + gas), share: k / (k + gas),
			vapour: float64(model.WaterVapour(t)), warm: t.Kelvin() / 293.15, swells: model.Outgrows(t, abv),
		}
	}
	return c
}

// gasGrams is the CO2 in g per litre of beer that the headspace holds at a bar.
func gasGrams(v model.Bottle, t model.Celsius) float64 {
	if v.Beer <= 0 {
		return 0
	}
	z := model.Compressibility(2.5, t)
	return model.MolarMassCO2 * 100 / (z * model.GasConstant * t.Kelvin()) * float64(v.Headspace/v.Beer)
}

// at the nearest temperature of the table.
func (c climate) at(t float64) *law {
	i := int((t-coldest)*fine + 0.5)
	return &c[min(max(i, 0), len(c)-1)]
}
