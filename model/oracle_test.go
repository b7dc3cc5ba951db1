package model_test

import (
	"math"

	"conditiond/model"
)

// Other people's laws, to hold the model against. None of them is used by it.

// carroll is the Henry constant of CO2 in water in MPa (Carroll, Slupsky and
// Mather 1991).
func carroll(t model.Celsius) float64 {
	k := t.Kelvin()
	return math.Exp(-6.8346 + 1.2817e4/k - 3.7668e6/(k*k) + 2.997e8/(k*k*k))
}

// exponential is the solubility in beer in g/(L bar) that meters and tables in
// German-speaking countries use (a practitioners' reference page).
func exponential(t model.Celsius) float64 {
	return 10 * math.Exp(-10.73797+2617.25/t.Kelvin())
}

// polynomial is the trade's gauge pressure in psi from °F and volumes (a
// brewers' library table, 32 to 80 °F, 2 to 3 volumes).
func polynomial(f, v float64) float64 {
	return -16.6999 - 0.0101059*f + 0.00116512*f*f + 0.173354*f*v + 4.24267*v - 0.0684226*v*v
}

// wineLaw is dissolved CO2 in g/L from Pa absolute, % alcohol and g/L sugar at
// 20 °C (Regulation (EEC) 2676/90, annex, chapter 37).
func wineLaw(pa, alcohol, sugar float64) float64 {
	return 1.951e-5 * pa * (0.86 - 0.01*alcohol) * (1 - 0.00144*sugar)
}

// kayeLaby is B of CO2 in cm³/mol (Kaye and Laby, table A9).
func kayeLaby(t model.Celsius) float64 { return 137.6 - 87.7*math.Exp(325.7/t.Kelvin()) }

// crc is B of CO2 in cm³/mol (CRC Handbook, Kehiaian's form).
func crc(t model.Celsius) float64 {
	x := 298.15/t.Kelvin() - 1
	return -127 - 288*x - 118*x*x
}

func celsius(f float64) model.Celsius { return model.Celsius((f - 32) / 1.8) }

func bar(psig float64) model.Bar { return model.BarGauge(psig * 0.0689476).Absolute(model.Atmosphere) }

// charted is the model's volumes at a cell of the trade's chart.
func charted(f, psig float64) float64 {
	c := model.Solubility(celsius(f), model.BeerSolubility) * float64(bar(psig))
	return float64(model.GramsPerLitre(c).Volumes())
}

// gaugeOf pure CO2 over beer that holds v volumes, in bar.
func gaugeOf(t model.Celsius, v model.Volumes, factor float64) float64 {
	p := model.Bar(float64(v.GramsPerLitre()) / model.Solubility(t, factor))
	return float64(p.Gauge(model.Atmosphere))
}

// ethanolWater is the density in kg/m³ of a mixture with a share p of ethanol by
// mass (Directive 76/766/EEC, which is OIML R22).
func ethanolWater(p float64, t model.Celsius) float64 {
	a := []float64{998.20123, -192.9769495, 389.1238958, -1668.103923, 13522.15441, -88292.78388,
		306287.4042, -613838.1234, 747017.2998, -547846.1354, 223446.0334, -39032.85426}
	b := []float64{-0.20618513, -0.0052682542, 3.6130013e-5, -3.8957702e-7, 7.169354e-9, -9.9739231e-11}
	c := [][]float64{
		{0.1693443461530087, -10.46914743455169, 71.96353469546523, -704.7478054272792, 3924.090430035045,
			-12101.64659068747, 22486.46550400788, -26055.62982188164, 18522.26373922069, -7420.201433430137, 1285.617841998974},
		{-0.01193013005057010, 0.2517399633803461, -2.170575700536993, 13.53034988843029, -50.29988758547014,
			109.6355666577570, -142.2753946421155, 108.0435942856230, -44.14153236817392, 7.442971530188783},
		{-0.0006802995733503803, 0.01876837790289664, -0.2002561813734156, 1.022992966719220, -2.895696483903638,
			4.810060584300675, -4.672147440794683, 2.458043105903461, -0.5411227621436812},
		{4.075376675622027e-6, -8.763058573471110e-6, 6.515031360099368e-6, -1.515784836987210e-6},
		{-2.788074354782409e-8, 1.345612883493354e-8},
	}
	x := float64(t - 20)
	rho := 0.0
	for k, v := range a {
		rho += v * math.Pow(p, float64(k))
	}
	for k, v := range b {
		rho += v * math.Pow(x, float64(k+1))
	}
	for i, row := range c {
		for k, v := range row {
			rho += v * math.Pow(p, float64(k+1)) * math.Pow(x, float64(i+1))
		}
	}
	return rho
}
