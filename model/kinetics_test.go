package model

import (
	"math"
	"testing"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	t.Logf("%s: %.4f, want %.4f ± %.4f", what, got, want, tol)
	if math.IsNaN(got) || math.Abs(got-want) > tol {
		t.Errorf("%s is off", what)
	}
}

func TestPaceIsTheCardinalTemperatureModel(t *testing.T) {
	// Salvadó et al. 2011, growth of S. cerevisiae; the ratio computed from it.
	growth := Cardinals{2.84, 32.27, 45.39}
	near(t, "25/15 °C", growth.Pace(25)/growth.Pace(15), 2.40, 0.02)
	for _, c := range []Cardinals{growth, CardinalsOf(Ale), CardinalsOf(Lager), CardinalsOf(Wine)} {
		near(t, "at the best temperature", c.Pace(c.Best), 1, 1e-9)
		near(t, "at the lowest", c.Pace(c.Lowest), 0, 0)
		near(t, "at the highest", c.Pace(c.Highest), 0, 0)
	}
}

func TestTemperatureFactor(t *testing.T) {
	f := TemperatureFactor
	near(t, "ale 25/15 °C", f(Ale, 25)/f(Ale, 15), 2.34, 0.45) // computed; 1.9–2.8
	near(t, "lager 25/15 °C", f(Lager, 25)/f(Lager, 15), 1.95, 0.4)
	near(t, "ale at 10 °C", f(Ale, 10), 0.28, 0.01)
	if got := f(Ale, 4); got > 0.08 { // "effectively stopped": common practice, no source
		t.Errorf("ale at 4 °C works at %.3f of its pace", got)
	}
	mean := (f(Ale, 15) + 2*f(Ale, 18) + f(Ale, 21)) / 4 // a swing of ±3 K, coarsely
	near(t, "ale, mean pace under a swing at 18 °C", mean/f(Ale, 18), 1.005, 0.005)
}

func TestEthanolFactor(t *testing.T) {
	near(t, "at 5 %", EthanolFactor(Ale, 5), 1, 1e-12)
	near(t, "time at 10 % over 5 %", 1/EthanolFactor(Ale, 10), 2.7, 1.1) // 1.8–4, judgement
	near(t, "beyond bearing", EthanolFactor(Lager, 14), 0.02, 0)
}

// monod is the time to take up a share of a sugar at a constant pace.
func monod(sugar, left, pace float64) float64 {
	ks := float64(HalfUptake)
	return (sugar*(1-left) + ks*math.Log(1/left)) / pace
}

func TestMedianFreshAle(t *testing.T) {
	v := VigourOf(Fresh)
	// 7 g/L at 20 °C and 5 %: half after 3–7 days, 95 % after 8–14, which is
	// the trade's "one to three weeks" (common practice, no source).
	near(t, "half-time", v.LagDays+monod(7, 0.5, v.Activity), 4.9, 2)
	near(t, "95 %", v.LagDays+monod(7, 0.05, v.Activity), 10.8, 3)
	cold := TemperatureFactor(Ale, 10)
	near(t, "10 °C over 20 °C", 1/cold, 3.9, 1.3)
}

func TestSparklingWineTakesOneToThreeMonths(t *testing.T) {
	// 24 g/L, 11 %, 12 °C, one to two million cells per millilitre: 30–90 days
	// (Comité Champagne, "La réussite de la prise de mousse").
	pace := 1.5 * VigourOf(Added).Activity * TemperatureFactor(Wine, 12) * EthanolFactor(Wine, 11) * PressureFactor(5)
	near(t, "95 % of a sparkling wine, days", monod(24, 0.05, pace), 60, 35)
}

func TestPressureHardlySlowsSimpleSugar(t *testing.T) {
	near(t, "at 2.2 bar", PressureFactor(2.2), 1, 1e-12)
	if got := PressureFactor(6); got < 0.6 || got > 0.9 {
		t.Errorf("at 6 bar pace is %.2f", got)
	}
}
