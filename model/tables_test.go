package model_test

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"conditiond/model"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	t.Logf("%s: %.6g, want %.6g ± %.2g", what, got, want, tolerance)
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s is off", what)
	}
}

// Another implementation of the IAPWS standards, by testdata/physics/water.py.
func TestWaterByIAPWS(t *testing.T) {
	f, err := os.Open("../testdata/physics/water.tsv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comma, r.Comment = '\t', '#'
	rows, err := r.ReadAll()
	if err != nil || len(rows) < 10 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	for _, row := range rows[1:] {
		var x [6]float64
		for i, s := range row {
			if x[i], err = strconv.ParseFloat(s, 64); err != nil {
				t.Fatal(err)
			}
		}
		c := model.Celsius(x[0])
		near(t, row[0]+" °C vapour", float64(model.WaterVapour(c)), x[1], 3e-4*x[1])
		near(t, row[0]+" °C density", model.WaterDensity(c), x[2], 0.02)
		near(t, row[0]+" °C CO2", float64(model.CarbonDioxide.Henry(c)), x[3], 1e-3*x[3])
		near(t, row[0]+" °C N2", float64(model.Nitrogen.Henry(c)), x[4], 1e-3*x[4])
		near(t, row[0]+" °C O2", float64(model.Oxygen.Henry(c)), x[5], 1e-3*x[5])
		// Weiss against the wide fit: published correlations differ by 2 to 5 %.
		iapws := model.MolarMassCO2 * model.WaterDensity(c) / 18.015 / x[3]
		near(t, row[0]+" °C solubility", model.Solubility(c, 1)/iapws, 1, 0.05)
	}
}

// Reference equation of Span and Wagner 1996, evaluated from its published
// coefficients: Z and φ at 3 and 10 bar.
func TestRealGasBySpanAndWagner(t *testing.T) {
	for _, x := range []struct {
		t                  model.Celsius
		z3, z10, phi3, f10 float64
	}{
		{0, 0.97983, 0.93000, 0.98019, 0.93425},
		{10, 0.98212, 0.93835, 0.98240, 0.94160},
		{20, 0.98408, 0.94542, 0.98430, 0.94791},
		{30, 0.98577, 0.95144, 0.98594, 0.95338},
		{40, 0.98724, 0.95663, 0.98738, 0.95814},
	} {
		near(t, "Z at 3 bar", model.Compressibility(3, x.t), x.z3, 0.0005)
		near(t, "Z at 10 bar", model.Compressibility(10, x.t), x.z10, 0.0042)
		near(t, "φ at 3 bar", model.Fugacity(3, x.t), x.phi3, 0.0004)
		near(t, "φ at 10 bar", model.Fugacity(10, x.t), x.f10, 0.0042)
	}
	// Multipliers computed from Weiss's B; his v is from memory.
	for _, x := range []struct {
		p            model.Bar
		c5, c20, c40 float64
	}{{2, 1.014, 1.012, 1.010}, {4, 1.030, 1.025, 1.021}, {10, 1.078, 1.067, 1.055}} {
		near(t, "real gas at 5 °C", model.RealGas(x.p, 5), x.c5, 0.001)
		near(t, "real gas at 20 °C", model.RealGas(x.p, 20), x.c20, 0.001)
		near(t, "real gas at 40 °C", model.RealGas(x.p, 40), x.c40, 0.001)
	}
}

// The path for strength: beer that holds 0.88 of what water does instead of
// 0.96, and of the multipliers above what is beyond 3 bar. Almost no headspace,
// so the ratios show as they are.
func TestStrength(t *testing.T) {
	near(t, "excess at 3 bar", model.RealGasExcess(3, 20), 1, 0)
	near(t, "excess at 6 bar", model.RealGasExcess(6, 20), 1.039/1.019, 0.001)
	s := half()
	s.Headspace = 0.006
	absolute := func(s model.Sealed, v model.Volumes) float64 {
		return float64(s.Gauge(v, 20).Absolute(s.Station) - model.WaterVapour(20))
	}
	near(t, "2 volumes", absolute(s.Strength(), 2)/absolute(s, 2), 0.96/0.88, 0.002)
	near(t, "5 volumes", absolute(s.Strength(), 5)/absolute(s, 5), 0.96/0.88*1.044/1.019, 0.004)
}

// Expansion of ethanol and water by OIML R22, 0 to 40 °C, % by volume and the
// same % by mass.
func TestExpansionByOIML(t *testing.T) {
	for _, x := range []struct{ volume, mass float64 }{{0, 0}, {3, 0.02378}, {5, 0.03982}, {8, 0.06400}, {10, 0.08020}} {
		for c := model.Celsius(0); c <= 40; c += 5 {
			near(t, "expansion", model.Expansion(c, x.volume), ethanolWater(x.mass, 20)/ethanolWater(x.mass, c)-1, 4e-5)
		}
	}
}

// Gauge of the worked bottle and its headspace in mL, worked by hand; the
// solubility factor and the 34 cm³/mol are from memory.
func TestWorkedBottle(t *testing.T) {
	total := model.GramsPerLitre(2.572 / 0.5).Volumes()
	for _, x := range []struct{ t, gauge, headspace float64 }{
		{0, 0.548, 18.7}, {5, 0.870, 18.8}, {10, 1.227, 18.7}, {15, 1.618, 18.5}, {20, 2.041, 18.1},
		{25, 2.493, 17.6}, {30, 2.973, 17.0}, {35, 3.475, 16.2}, {40, 3.999, 15.3},
	} {
		s := half()
		near(t, "gauge", float64(s.Gauge(total, model.Celsius(x.t))), x.gauge, 0.005)
		near(t, "headspace", float64(s.HeadspaceAt(total, model.Celsius(x.t)))*1000, x.headspace, 0.15)
	}
}

// The same gas, 2.5 volumes, under headspaces of 1 to 20 %; worked by hand.
func TestHeadspaces(t *testing.T) {
	for _, x := range []struct{ head, c5, c20, c30, c40, left float64 }{
		{1, 0.83, 2.02, 2.98, 4.05, 0.3}, {2, 0.82, 1.99, 2.92, 3.97, 5.3}, {4, 0.80, 1.92, 2.82, 3.80, 15.4},
		{10, 0.72, 1.74, 2.53, 3.37, 45.6}, {20, 0.61, 1.49, 2.14, 2.81, 95.8},
	} {
		s := half()
		s.Headspace = model.Litres(x.head / 100 * 0.5)
		for c, want := range map[model.Celsius]float64{5: x.c5, 20: x.c20, 30: x.c30, 40: x.c40} {
			near(t, "gauge", float64(s.Gauge(2.5, c)), want, 0.012)
		}
		near(t, "headspace at 40 °C", float64(s.HeadspaceAt(2.5, 40))*1000, x.left, 0.2)
	}
}

// Half a litre capped at 20 °C over air, half air and foam: gauge before any
// sugar ferments, once the oxygen is used up, and when 1.7 volumes have come.
// Worked by hand; the factor is from memory, the solubilities of N2 and O2 are
// IAPWS G7-04.
func TestAir(t *testing.T) {
	for _, x := range []struct {
		capped              model.Capped
		first, spent, after float64
	}{{model.OverAir, 0.64, 0.53, 2.54}, {"", 0.32, 0.26, 2.26}, {model.OnFoam, 0.07, 0.05, 2.04}, {model.Purged, 0.07, 0.05, 2.04}} {
		s := half()
		s.Residual = model.GramsPerLitre(model.Solubility(20, model.BeerSolubility) * float64(model.Atmosphere)).Volumes()
		air := model.AirAtCapping(x.capped, 20, model.Atmosphere)
		s.Air = air
		near(t, string(x.capped)+" first", float64(s.Gauge(s.Residual, 20)), x.first, 0.03)
		s.Air = air.Spent()
		near(t, string(x.capped)+" spent", float64(s.Gauge(s.Residual, 20)), x.spent, 0.03)
		near(t, string(x.capped)+" after", float64(s.Gauge(s.Residual+1.7, 20)), x.after, 0.03)
	}
	// Solubilities at 20 °C by IAPWS G7-04: 0.0170 and 0.0337.
	near(t, "Ostwald of N2", model.Nitrogen.Ostwald(20), 0.0170, 0.0001)
	near(t, "Ostwald of O2", model.Oxygen.Ostwald(20), 0.0337, 0.0001)
}

// With 1 % of headspace 4 volumes leave no room at 40 °C: the beer itself
// presses, about 20 bar for each 0.1 % (water's compressibility, Kell 1975).
func TestNoRoom(t *testing.T) {
	s := half()
	s.Headspace = 0.005
	if left := s.HeadspaceAt(4, 40); left >= 0 {
		t.Fatalf("%g mL left", float64(left)*1000)
	}
	roomy := half()
	if press := s.Gauge(4, 40) - roomy.Gauge(4, 40); press < 5 {
		t.Errorf("a bottle without room presses only %.1f bar more", float64(press))
	}
	tight := s
	tight.Headspace -= 0.0005 // 0.1 % of the beer
	near(t, "0.1 %", float64(tight.Gauge(4, 40)-s.Gauge(4, 40)), 20, 1)
}
