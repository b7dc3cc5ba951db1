package model

// Bottle is a closed vessel with beer in it. The headspace comes on top of the
// beer.
type Bottle struct {
	Beer      Litres
	Headspace Litres
}

// CO2Pressure is the partial pressure of CO2 when beer and headspace are in
// balance at t and hold `total` per volume of beer, all told:
//
//	total·V_beer = k(t)·p·V_beer + M·p·V_head/(Z R t)
//
// with k the solubility by its factor. The headspace is taken as rigid.
func (b Bottle) CO2Pressure(total Volumes, t Celsius, factor float64) Bar {
	c := float64(total.GramsPerLitre())
	p := Bar(c / b.capacity(1, t, factor))
	for range 4 { // Z depends on p, weakly
		p = Bar(c / b.capacity(Compressibility(p, t), t, factor))
	}
	return p
}

// CO2 is the inverse of CO2Pressure: all CO2 per volume of beer.
func (b Bottle) CO2(p Bar, t Celsius, factor float64) Volumes {
	return GramsPerLitre(float64(p) * b.capacity(Compressibility(p, t), t, factor)).Volumes()
}

// capacity in g per litre of beer and bar of CO2.
func (b Bottle) capacity(z float64, t Celsius, factor float64) float64 {
	gas := MolarMassCO2 * 1e5 / (z * GasConstant * t.Kelvin()) / 1e3 // g/(L bar)
	return Solubility(t, factor) + gas*float64(b.Headspace/b.Beer)
}
