package model

import "math"

// WaterVapour is the pressure of saturated water vapour, 0 to 100 °C, with
// τ = 1 − T/647.096 K (IAPWS SR1-86, the Wagner equation):
//
//	ln(p/220.64 bar) = 647.096/T (−7.85951783 τ + 1.84408259 τ^1.5 − 11.7866497 τ³
//	                   + 22.6807411 τ^3.5 − 15.9618719 τ⁴ + 1.80122502 τ^7.5)
//
// Over beer of 5 % it is 2 % less, and ethanol adds 0.005 bar at 20 °C: left out.
func WaterVapour(t Celsius) Bar {
	x := 1 - t.Kelvin()/waterCritical
	s := math.Sqrt(x)
	x3 := x * x * x
	return Bar(220.64 * math.Exp(waterCritical/t.Kelvin()*(-7.85951783*x+1.84408259*x*s-
		11.7866497*x3+22.6807411*x3*s-15.9618719*x3*x+1.80122502*x3*x3*x*s)))
}

// waterCritical is water's critical temperature in kelvin.
const waterCritical = 647.096
