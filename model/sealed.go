package model

// Sealed is a bottle after capping, with all that its balance depends on.
type Sealed struct {
	Bottle           // as filled
	CappedAt Celsius // the beer's temperature at capping
	Residual Volumes // CO2 in the beer then
	ABV      float64 // %
	Air      Air     // in the headspace then
	Station  Bar
	Factor   float64 // of solubility: BeerSolubility

	strength bool
}

// Strength is the same bottle as warnings about its strength see it: beer that
// holds the least gas, and the real gas's excess pressure above 3 bar.
func (s Sealed) Strength() Sealed {
	s.Factor, s.strength = SafetySolubility, true
	return s
}

// swelling is the volume that beer gains per g of dissolved CO2, in L/g: 34
// cm³/mol (literature 32 to 37, from memory).
const swelling = 0.034 / MolarMassCO2

// squeeze is the share of its volume by which full beer gives way and its
// bottle grows per bar: 46e-6 for water (Kell 1975) and about 5e-6 for glass
// (thin-walled cylinder).
const squeeze = 51e-6

// state of a bottle at one pressure of CO2.
type state struct {
	total     Volumes
	headspace Litres // negative when the bottle is too small for its beer
	gauge     BarGauge
}

// at says how the bottle stands when CO2 presses with p at t:
//
//	c         = k(t) p                       what the beer holds, g/L
//	headspace = bottle(t) − beer(t, c)       shrinks as beer warms and swells
//	total     = c + p M headspace/(Z R T)/V_beer
//	gauge     = p + p_air + p_water − station
//
// A bottle without headspace is pressed by the beer itself, some 20 bar for
// each 0.1 % of volume that is missing.
func (s Sealed) at(p Bar, t Celsius) state {
	c := Solubility(t, s.Factor) * float64(p)
	if s.strength {
		c /= RealGasExcess(p, t)
	}
	gas := s.headspaceAt(GramsPerLitre(c), t)
	room := max(gas, 0)
	inGas := MolarMassCO2 * float64(room) / MolarVolume(max(p, 1e-9), t)
	full := p + s.Air.Pressure(s.Beer, s.Headspace, room, s.CappedAt, t) + WaterVapour(t)
	full += Bar(max(-gas, 0) / s.Beer / squeeze)
	return state{GramsPerLitre(c + inGas/float64(s.Beer)).Volumes(), gas, full.Gauge(s.Station)}
}

func (s Sealed) headspaceAt(c GramsPerLitre, t Celsius) Litres {
	bottle := float64(s.Beer+s.Headspace) * (1 + glassExpansion*float64(t-s.CappedAt))
	warm := (1 + Expansion(t, s.ABV)) / (1 + Expansion(s.CappedAt, s.ABV))
	swollen := warm + swelling*float64(c-s.Residual.GramsPerLitre())
	return Litres(bottle - float64(s.Beer)*swollen)
}

// Gauge is what the bottle's gauge shows in balance at t, 0 to 40 °C, when it
// holds `total` CO2 per volume of beer, in beer and headspace.
func (s Sealed) Gauge(total Volumes, t Celsius) BarGauge {
	return s.at(s.solve(t, func(x state) bool { return x.total < total }), t).gauge
}

// CO2 is the inverse of Gauge: all CO2 per volume of beer, in beer and
// headspace. 0 when the air alone presses more.
func (s Sealed) CO2(gauge BarGauge, t Celsius) Volumes {
	return s.at(s.solve(t, func(x state) bool { return x.gauge < gauge }), t).total
}

// HeadspaceAt is the gas space at t with `total` CO2. Nothing is left when it
// is negative: the beer then presses on the glass like a jack.
func (s Sealed) HeadspaceAt(total Volumes, t Celsius) Litres {
	return s.at(s.solve(t, func(x state) bool { return x.total < total }), t).headspace
}

// solve halves its way to the pressure of CO2 where `below` turns false: total
// and gauge both rise with it.
func (s Sealed) solve(t Celsius, below func(state) bool) Bar {
	low, high := Bar(0), Bar(64)
	for range 64 {
		if p := (low + high) / 2; below(s.at(p, t)) {
			low = p
		} else {
			high = p
		}
	}
	return (low + high) / 2
}

// fillingAt is the temperature at which bottles are taken to be filled and
// their volumes to hold.
const fillingAt Celsius = 20

// Sealed is a bottle of the lot after capping, filled at 20 °C, its oxygen
// still there.
func (l Lot) Sealed(b Bottle, station Bar) Sealed {
	return Sealed{
		Bottle: b, CappedAt: fillingAt, Residual: l.Residual(station), ABV: l.ABV(),
		Air: AirAtCapping(l.Capped, fillingAt, station), Station: station, Factor: BeerSolubility,
	}
}
