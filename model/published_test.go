package model_test

import (
	"math"
	"testing"
	"time"

	"conditiond/model"
)

// TestPublished holds the model against figures of others. Beside each stands
// where it comes from; "read" was a number in the source, the rest is computed
// from the source's own equation.
func TestPublished(t *testing.T) {
	const atm = model.Atmosphere
	k := func(c model.Celsius) float64 { return model.Solubility(c, model.BeerSolubility) }
	yield := func(s model.Sugar) float64 { x, _ := model.SugarOf(s); return x.CO2 }
	bunsen := func(c model.Celsius) float64 { return model.Henry(c) * 22.2605 }
	half, grams48 := model.Bottle{Beer: 0.5, Headspace: 0.022}, model.GramsPerLitre(4.8).Volumes()
	share := func(p float64) float64 { return p / 100 } // of the wanted value
	for _, c := range []struct {
		what           string
		got, want, tol float64
		source         string
	}{
		{"K0 R T at 25 °C", model.Henry(25) * 0.0820574 * 298.15, 0.831005, 0.0002, "read in public code that cites Weiss 1974"},
		{"K0 at 0 °C", model.Henry(0), 0.077580, 1e-5, "Weiss 1974"},
		{"K0 at 20 °C", model.Henry(20), 0.039099, 1e-5, "Weiss 1974"},
		{"K0 at 25 °C", model.Henry(25), 0.033967, 1e-5, "Weiss 1974"},
		{"K0 at 40 °C", model.Henry(40), 0.023703, 1e-5, "Weiss 1974"},
		{"K0 per kg at 25 °C", model.Henry(25) / model.WaterDensity(25) * 1000, 0.034061, 1e-5, "Weiss 1974, his second row of coefficients"},
		{"Bunsen at 24.8 °C", bunsen(24.8), 0.758, 0.758 * share(1), "Van Slyke 1939, read"},
		{"Bunsen at 25.4 °C", bunsen(25.4), 0.752, 0.752 * share(1), "Van Slyke 1939, read"},
		{"Bunsen at 22.8 °C", bunsen(22.8), 0.806, 0.806 * share(1), "Van Slyke 1939, read"},
		{"Ostwald at 25 °C", model.Henry(25) * 24.340, 0.825, 0.825 * share(0.5), "Findlay and Shen 1912, read"},
		{"linearity 36 to 132 kPa", linear(0.36, 25) / linear(1.32, 25), 1, 0.005, "Findlay and Howell 1915, read"},
		{"K0 at 25 °C", model.Henry(25), 0.03372, 0.03372 * share(1), "Shedlovsky and MacInnes 1935, read"},
		{"Ostwald at 37 °C", model.Henry(37) * model.MolarVolume(atm, 37), 0.6282, 0.6282 * share(3), "Yeh and Peterson 1964, read"},
		{"Carroll at 0 °C, MPa", carroll(0), 74.295, 0.02, "Carroll, Slupsky and Mather 1991"},
		{"Carroll at 25 °C, MPa", carroll(25), 161.968, 0.02, "Carroll, Slupsky and Mather 1991"},
		{"Carroll at 40 °C, MPa", carroll(40), 230.936, 0.02, "Carroll, Slupsky and Mather 1991"},
		{"ln(kH/GPa) of CO2 at 300 K", math.Log(float64(model.CarbonDioxide.Henry(26.85)) / 1e4), -1.7508, 1e-4, "IAPWS G7-04"},
		{"ln(kH/GPa) of N2 at 300 K", math.Log(float64(model.Nitrogen.Henry(26.85)) / 1e4), 2.1716, 1e-4, "IAPWS G7-04"},
		{"ln(kH/GPa) of O2 at 300 K", math.Log(float64(model.Oxygen.Henry(26.85)) / 1e4), 1.5024, 1e-4, "IAPWS G7-04"},
		{"d ln H/d(1/T) at 25 °C, K", slope(25), 2350, 50 + 60, "Sander's compilation, 2300 to 2400, read"},
		{"beer at 6 °C, g/(L bar)", k(6), 2.4, 2.4 * share(9), "Liger-Belair and Cilindre 2021, read"},
		{"p(293 K)/p(279 K), same content", k(5.85) / k(19.85), 7.5 / 4.7, 1.596 * share(2), "Liger-Belair and others 2017, read"},
		{"beer at 5 °C and 1 atm, g/L", k(5) * float64(atm), 2.8, 2.8 * share(6), "Physics World 1989, read"},
		// A bottle of 500 mL with 22 mL above, 4.8 g/L in all, without air; computed
		// with 1.68 g/L per bar at 20 °C where ours has 1.63, hence the tolerance.
		{"bar per kelvin at 20 °C", float64(half.CO2Pressure(grams48, 20.5, model.BeerSolubility) - half.CO2Pressure(grams48, 19.5, model.BeerSolubility)), 0.073, 0.006, "an independent computation, from memory"},
		{"share that moves into beer on chilling to 4 °C", dissolved(half, grams48, 4)/dissolved(half, grams48, 20) - 1, 0.015, 0.005, "an independent computation, from memory"},
		// The trade's table at 15 and 20 °C implies 2.00 and 1.74 g/L per bar; our
		// factor, fitted to brewers' charts, is 5 and 7 % below.
		{"6 g/L at 0 °C, bar absolute", 6 / k(0), 0.883 + 1.013, 0.05 * 1.9, "common practice, no source"},
		{"6 g/L at 15 °C, bar absolute", 6 / k(15), 1.98 + 1.013, 0.08 * 3, "common practice, no source"},
		{"6 g/L at 20 °C, bar absolute", 6 / k(20), 2.43 + 1.013, 0.08 * 3.4, "common practice, no source"},
		{"gauge when the weather falls by 30 hPa", float64(model.Bar(3).Gauge(atm-0.03) - model.Bar(3).Gauge(atm)), 0.03, 1e-12, "by definition"},
		{"usual beer's composition", model.Composition(5, 42), 0.96, 1e-12, "by definition"},
		{"wine at 12.5 % and 10 g/L over usual beer, law against ours", wineLaw(1e5, 12.5, 10) / wineLaw(1e5, 5, 42), model.Composition(12.5, 10) / model.Composition(5, 42), 0.07, "Regulation 2676/90"},
		{"exponential at 0 °C", exponential(0), 3.1467, 0.001, "a practitioners' reference page"},
		{"exponential at 10 °C", exponential(10), 2.2433, 0.001, "a practitioners' reference page"},
		{"exponential at 20 °C", exponential(20), 1.6366, 0.001, "a practitioners' reference page"},
		{"exponential at 30 °C", exponential(30), 1.2191, 0.001, "a practitioners' reference page"},
		{"beer/exponential at 10 °C", k(10) / exponential(10), 1, 0.015, "cross-check; the factor is from memory"},
		{"beer/exponential at 15 °C", k(15) / exponential(15), 1, 0.015, "cross-check; the factor is from memory"},
		{"beer/exponential at 20 °C", k(20) / exponential(20), 1, 0.015, "cross-check; the factor is from memory"},
		{"beer/exponential at 25 °C", k(25) / exponential(25), 1, 0.015, "cross-check; the factor is from memory"},
		{"chart 38 °F 12 psi", charted(38, 12), 2.57, 2.57 * share(5.5), "the trade's chart, read in a reprint"},
		{"chart 40 °F 12 psi", charted(40, 12), 2.47, 2.47 * share(5.5), "the trade's chart, read in a reprint"},
		{"chart 32 °F 10 psi", charted(32, 10), 2.70, 2.70 * share(5.5), "the trade's chart, read in a reprint"},
		{"chart 46 °F 20 psi", charted(46, 20), 2.89, 2.89 * share(3), "the trade's chart, read in a reprint"},
		{"chart 44 °F 15 psi", charted(44, 15), 2.56, 2.56 * share(3), "the trade's chart, read in a reprint"},
		{"polynomial 40 °F 2.5", polynomial(40, 2.5), 12.3, 0.06, "a brewers' library table, read"},
		{"polynomial 68 °F 2.5", polynomial(68, 2.5), 27.6, 0.06, "a brewers' library table, read"},
		{"polynomial 80 °F 3.0", polynomial(80, 3), 43.7, 0.06, "a brewers' library table, read"},
		{"residual at 10 °C", float64(model.Residual(10, atm)), 1.2, 1.2 * share(7), "a practitioner's article, read"},
		{"residual at 20 °C", float64(model.Residual(20, atm)), 0.88, 0.88 * share(9), "a practitioner's article, read"},
		{"residual at 20 °C", float64(model.Residual(20, atm)), 0.816, 0.001, "worked by hand; the factor is from memory"},
		{"wine law at 6e5 Pa, 12 %, 10 g/L", wineLaw(6e5, 12, 10), 8.538, 0.005, "Regulation (EEC) 2676/90, chapter 37"},
		{"beer/wine law at 5 %, 20 °C", k(20) / wineLaw(1e5, 5, 20), 1, 0.08, "Regulation (EEC) 2676/90, chapter 37: 5 to 8 % lower"},
		{"grams per volume", model.VolumeGrams, 1.951 / 0.987, 0.001, "Regulation (EEC) 2676/90, read"},
		{"molar volume at 0 °C", model.MolarVolume(atm, 0), 22.2605, 0.005, "IUPAC-NIST compiler's note, read"},
		{"molar volume at 25 °C", model.MolarVolume(atm, 25), 24.340, 0.005, "IUPAC-NIST compiler's note, read"},
		{"4.5 volumes in g/L", float64(model.Volumes(4.5).GramsPerLitre()), 9, 9 * share(2), "BS 6119-1, read"},
		{"B at 0 °C", model.SecondVirial(0), -149.64, 0.05, "Weiss 1974"},
		{"B at 25 °C", model.SecondVirial(25), -123.20, 0.05, "Weiss 1974"},
		{"B at 0 °C by Kaye and Laby", kayeLaby(0), -151.37, 0.05, "Kaye and Laby, table A9"},
		{"B at 25 °C by Kaye and Laby", kayeLaby(25), -123.87, 0.05, "Kaye and Laby, table A9"},
		{"B at 25 °C by CRC", crc(25), -127, 0.5, "CRC Handbook, read"},
		{"B at 20 °C", model.SecondVirial(20), -127.88, 127.88 * share(3.5), "Span and Wagner 1996"},
		{"B at 20 °C by Kaye and Laby", kayeLaby(20), -127.88, 127.88 * share(3.5), "Span and Wagner 1996"},
		{"B at 20 °C by CRC", crc(20), -127.88, 127.88 * share(3.5), "Span and Wagner 1996"},
		{"Z at 20 °C, 5 bar", model.Compressibility(5, 20), 0.97326, 0.001, "Span and Wagner 1996"},
		{"φ at 25 °C, 10 bar", model.Fugacity(10, 25), 0.95074, 0.001, "Span and Wagner 1996"},
		{"density at 0 °C, 1 atm, g/L", model.MolarMassCO2 / model.MolarVolume(atm, 0), 1.9768, 0.001, "Span and Wagner 1996"},
		{"water vapour at 275 K, Pa", pascal(model.WaterVapour(1.85)), 698.451, 0.1, "IAPWS-95, table 8, read"},
		{"water vapour at 273.16 K, Pa", pascal(model.WaterVapour(0.01)), 611.657, 0.01, "IAPWS SR1-86, read"},
		{"water vapour at 279 K, bar", float64(model.WaterVapour(5.85)), 0.0093, 0.0002, "Liger-Belair and others 2017, read"},
		{"water vapour at 293 K, bar", float64(model.WaterVapour(19.85)), 0.0233, 0.0002, "Liger-Belair and others 2017, read"},
		{"station at 1000 m, Pa", pascal(model.StationPressure(1000)), 89875, 2, "ISO 2533"},
		{"station at 2000 m, Pa", pascal(model.StationPressure(2000)), 79495, 2, "ISO 2533"},
		{"water at 20 °C, g/L", model.WaterDensity(20), 998.204, 0.005, "Kell 1975"},
		{"water at 5 °C, g/L", model.WaterDensity(5), 999.967, 0.01, "IAPWS-95"},
		{"water at 25 °C, g/L", model.WaterDensity(25), 997.048, 0.01, "IAPWS-95"},
		{"water at 40 °C, g/L", model.WaterDensity(40), 992.216, 0.01, "IAPWS-95"},
		{"4 % ethanol at 20 °C, g/L", ethanolWater(0.04, 20), 991.03, 0.03, "Perry's handbook, read"},
		{"10 % ethanol at 20 °C, g/L", ethanolWater(0.10, 20), 981.87, 0.03, "Perry's handbook, read"},
		{"5 % ABV from 20 to 40 °C, %", 100 * model.Expansion(40, 5), 0.633, 0.003, "OIML R22"},
		{"O2 in water under air at 20 °C, mg/L", oxygenInWater(20), 9.09, 9.09 * share(2), "usual water tables, from memory"},
		{"headspace's share at 20 °C, 4 %", headspaceShare(20), 4.24, 0.05, "algebra; the factor is from memory"},
		{"worked bottle at 5 °C, bar", worked(5), 0.870, 0.03, "worked by hand; the factor is from memory"},
		{"worked bottle at 20 °C, bar", worked(20), 2.041, 0.03, "worked by hand; the factor is from memory"},
		{"worked bottle at 30 °C, bar", worked(30), 2.973, 0.03, "worked by hand; the factor is from memory"},
		{"worked bottle at 40 °C, bar", worked(40), 3.999, 0.03, "worked by hand; the factor is from memory"},
		{"air's part at the end, bar", airs(model.OverAir), 0.59, 0.05, "worked by hand; the factor is from memory"},
		{"CO2 of glucose, L/g", yield(model.DextroseAnhydrous) / model.VolumeGrams, 0.247, 0.001, "a wine encyclopaedia, read"},
		{"CO2 of glucose, g/g", yield(model.DextroseAnhydrous), 0.4886, 0.0002, "stoichiometry; atomic weights from memory"},
		{"CO2 of dextrose, g/g", yield(model.Dextrose), 0.4442, 0.0002, "stoichiometry; atomic weights from memory"},
		{"CO2 of sucrose, g/g", yield(model.Sucrose), 0.5143, 0.0002, "stoichiometry; atomic weights from memory"},
		{"°P at 1.04003", float64(model.PlatoOf(1.04003)), 10, 0.02, "Plato's table, read"},
		{"original extract of A 5.14, RE 4.88", original(5.14, 4.88), 14.54, 14.54 * share(1.5), "Cutaia, Reid and Speers 2009, read"},
		{"original extract of A 4.21, RE 4.74", original(4.21, 4.74), 12.75, 12.75 * share(1.5), "Cutaia, Reid and Speers 2009, read"},
		{"original extract of A 3.82, RE 3.80", original(3.82, 3.80), 11.34, 11.34 * share(1.5), "Cutaia, Reid and Speers 2009, read"},
		{"alcohol factor at 12 °P", model.AlcoholByWeight(12, model.RealExtract(12, 3)) / 9, 0.4187, 0.4187 * share(1.5), "Balling's table, read"},
		{"volumes per 0.001 at 1.010", float64(model.Fermented(1.048, 1.010, 1.009).Volumes()), 0.53, 0.03, "Balling to maltose; the extract's formula from memory"},
		{"CO2 of 24 g/L of sugar, g/L", 24 * yield(model.DextroseAnhydrous), 12, 0.3, "a wine reference book, 11.7 to 12.3"},
		{"strength left of a minute in a month", model.Sustained(time.Minute, 30*24*time.Hour), 1 / 2.09, 0.01, "Texas Tech thesis, n = 14.5"},
	} {
		t.Logf("%s: %.6g, want %.6g ± %.2g (%s)", c.what, c.got, c.want, c.tol, c.source)
		if !(math.Abs(c.got-c.want) <= c.tol) {
			t.Errorf("%s is off", c.what)
		}
	}
}

// dissolved is what of all the CO2 is in the beer, in g/L.
func dissolved(b model.Bottle, total model.Volumes, t model.Celsius) float64 {
	return model.Solubility(t, model.BeerSolubility) * float64(b.CO2Pressure(total, t, model.BeerSolubility))
}

func pascal(p model.Bar) float64 { return float64(p) * 1e5 }

// linear is the content over the pressure, as the path for strength takes it.
func linear(p model.Bar, t model.Celsius) float64 {
	return model.Solubility(t, 1) / model.RealGasExcess(p, t)
}

// slope is d ln K0/d(1/T).
func slope(t model.Celsius) float64 {
	a, b := t-0.01, t+0.01
	return math.Log(model.Henry(a)/model.Henry(b)) / (1/a.Kelvin() - 1/b.Kelvin())
}

// oxygenInWater under air of one atmosphere, in mg/L.
func oxygenInWater(t model.Celsius) float64 {
	p := 0.2095 * float64(model.Atmosphere-model.WaterVapour(t))
	gas := p * 1e5 / (model.GasConstant * t.Kelvin()) // mol/m³
	return gas * model.Oxygen.Ostwald(t) * 31.998
}

// headspaceShare of the CO2 in %, for a headspace of 4 %.
func headspaceShare(t model.Celsius) float64 {
	b := model.Bottle{Beer: 1, Headspace: 0.04}
	all := b.CO2(2, t, model.BeerSolubility).GramsPerLitre()
	return 100 * (1 - 2*model.Solubility(t, model.BeerSolubility)/float64(all))
}

// half a litre of beer of 5 % with 20 mL of headspace, filled flat.
func half() model.Sealed {
	return model.Sealed{
		Bottle: model.Bottle{Beer: 0.5, Headspace: 0.02}, CappedAt: 20, ABV: 5,
		Station: model.Atmosphere, Factor: model.BeerSolubility,
	}
}

// worked is that bottle with 2.572 g of CO2.
func worked(t model.Celsius) float64 {
	return float64(half().Gauge(model.GramsPerLitre(2.572/0.5).Volumes(), t))
}

// airs is what the air adds at 20 °C when 1.7 volumes have been made.
func airs(c model.Capped) float64 {
	s := half()
	s.Residual = model.Residual(20, model.Atmosphere)
	without := s.Gauge(s.Residual+1.7, 20)
	s.Air = model.AirAtCapping(c, 20, model.Atmosphere).Spent()
	return float64(s.Gauge(s.Residual+1.7, 20) - without)
}

// original extract from alcohol and real extract: the model's law the other way
// round.
func original(alcohol, real float64) float64 {
	low, high := real, 40.0
	for range 60 {
		if oe := (low + high) / 2; model.AlcoholByWeight(model.Plato(oe), model.Plato(real)) < alcohol {
			low = oe
		} else {
			high = oe
		}
	}
	return low
}

// Beer holds no more than water, so it presses no less; the trade's polynomial
// does when it is warm, which is why nothing here uses it.
func TestNoLessThanWater(t *testing.T) {
	for c := model.Celsius(0); c <= 40; c += 5 {
		for v := model.Volumes(1.5); v <= 5; v += 0.5 {
			if gaugeOf(c, v, model.BeerSolubility) < gaugeOf(c, v, 1) {
				t.Errorf("%g °C, %g volumes: beer presses less than water", float64(c), float64(v))
			}
		}
	}
	if p := polynomial(77, 4) * 0.0689476; p >= gaugeOf(25, 4, 1) {
		t.Errorf("the polynomial gives %.2f bar at 25 °C and 4 volumes, not below water's", p)
	}
}

// The law of a sparkling wine asks for 3 bar at 20 °C (EU definition): what is
// taken for its bottle must hold more.
func TestSparklingGlassHoldsSparklingWine(t *testing.T) {
	if r := (model.Bottles{Kind: model.SparklingGlass}).Rating(model.Atmosphere); r <= 3 {
		t.Errorf("%g bar", float64(r))
	}
}
