package intake

import "conditiond/model"

// Unit that a sensor's numbers are in.
type Unit string

const (
	DegC Unit = "degC"
	DegF Unit = "degF"
	K    Unit = "K"
	Bar  Unit = "bar"
	KPa  Unit = "kPa"
	HPa  Unit = "hPa"
	MPa  Unit = "MPa"
	PSI  Unit = "psi"
)

// measure is what a unit's numbers are worth: in °C or bar, number·per + zero.
type measure struct {
	unit     Unit
	quantity model.Quantity
	per      float64
	zero     float64
	words    []string // for it in payloads
}

// A psi is 6894.757 Pa (NIST SP 811, from memory).
var measures = [...]measure{
	{DegC, model.Temperature, 1, 0, []string{"C", "°C", "Celsius"}},
	{DegF, model.Temperature, 1 / 1.8, -32 / 1.8, []string{"F", "°F", "Fahrenheit"}},
	{K, model.Temperature, 1, -273.15, []string{"K", "Kelvin"}},
	{Bar, model.Pressure, 1, 0, []string{"bar"}},
	{KPa, model.Pressure, 0.01, 0, []string{"kPa"}},
	{HPa, model.Pressure, 0.001, 0, []string{"hPa", "mbar"}},
	{MPa, model.Pressure, 10, 0, []string{"MPa"}},
	{PSI, model.Pressure, 0.06894757, 0, []string{"psi"}},
}

// Quantity that the unit measures; false when the unit isn't known.
func (u Unit) Quantity() (model.Quantity, bool) {
	m, ok := measureOf(u)
	return m.quantity, ok
}

func measureOf(u Unit) (measure, bool) {
	for _, m := range measures {
		if m.unit == u {
			return m, true
		}
	}
	return measure{}, false
}

// in °C or bar. The conversion keeps a product from being fused with a sum, so
// that every machine gives the same bits.
func (m measure) in(number float64) float64 { return float64(number*m.per) + m.zero }

// of °C or bar, the number.
func (m measure) of(v float64) float64 { return (v - m.zero) / m.per }
