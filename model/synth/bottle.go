package synth

import (
	"math"

	"conditiond/model"
)

// Vessel is a bottle as it really is.
type Vessel struct {
	Beer, Head float64 // L, at the temperature of capping
	Neck       float64 // dm², the beer's surface
	Film       float64 // dm/d: how fast CO2 passes the surface of beer at rest
	Slow       float64 // days to follow the air's temperature
	Rich       float64 // its share of the priming, 1 = the mean
	Leak       Leak
}

// Leak of a bottle.
type Leak struct {
	Size float64 // g CO2 per day and bar
	From float64 // days after packaging
}

// Filling is what was really filled.
type Filling struct {
	Sugars             // from the priming, g/L; Drops come on top
	Drop       Sugars  // g in each bottle
	Left       Sugars  // what fermentation left, g/L
	CO2        float64 // g/L
	Beer       float64 // °C when filled
	Air        float64 // share of air in the headspace
	ABV        float64
	Solubility float64 // beside water
	Steep      float64 // K, of solubility over 1/T
}

// gas is one kind in one bottle: mol in the headspace, mol per litre of beer.
type gas struct{ head, beer float64 }

const gasBar = 0.0831446 // R in L bar/(mol K)

// settle lets it pass the surface for a step: film theory, both ways.
// holds is mol/(L bar), k the kelvin over the compressibility.
func (g *gas) settle(v *Vessel, head, holds, k, film float64) {
	perMol := holds * gasBar * k
	all := g.head + g.beer*v.Beer
	rest := perMol * all / (head + perMol*v.Beer)
	rate := v.Neck * film * (1/v.Beer + perMol/head)
	g.beer = rest + (g.beer-rest)*math.Exp(-rate*stepDays)
	g.head = all - g.beer*v.Beer
}

// bottle is a vessel in time.
type bottle struct {
	*Vessel
	fill                      *Filling
	co2, n2, o2               gas
	celsius, cappedAt, first  float64
	made, lost                float64 // g/L
	guests, dextrin, guestGas float64
	culture
}

// water vapour over beer, bar (Magnus' form, from memory).
func vapour(c float64) float64 { return 0.0061094 * math.Exp(17.625*c/(c+243.04)) }

// holds is how much CO2 the beer takes up, mol/(L bar): van 't Hoff's line
// through water's value at 20 °C (Weiss 1974), less in beer. Real gas presses
// less hard than its pressure says, so a rich beer holds a little less.
func (f *Filling) holds(c, pressure float64) float64 {
	k := 1.698 / model.MolarMassCO2 * f.Solubility * math.Exp(f.Steep*(1/(c+273.15)-1/293.15))
	return k * (1 - 0.004*(pressure-2.5))
}

// Nitrogen and oxygen, mol/(L bar) (usual Henry constants, from memory).
func holdsN2(c float64) float64 { return 6.5e-4 * math.Exp(1300*(1/(c+273.15)-1/298.15)) }
func holdsO2(c float64) float64 { return 1.3e-3 * math.Exp(1700*(1/(c+273.15)-1/298.15)) }

// squash is Z of CO2 near room temperature.
func squash(p, c float64) float64 { return 1 - (0.00545-0.00004*(c-15))*p }

// space is the headspace: beer swells with warmth and with gas, glass a little.
func (b *bottle) space() float64 {
	warm := 6e-6 * (math.Pow(b.celsius-2, 2) - math.Pow(b.cappedAt-2, 2))
	glass := 2.6e-5 * (b.celsius - b.cappedAt)
	gas := 0.034 * (b.co2.beer - b.first)
	return math.Max(0.001, b.Head+b.Beer*(glass-warm-gas))
}

func (b *bottle) pressureCO2() float64 {
	ideal := b.co2.head * gasBar * (b.celsius + 273.15) / b.space()
	return ideal * squash(ideal, b.celsius)
}

// inside is the absolute pressure, bar.
func (b *bottle) inside() float64 {
	rt := gasBar * (b.celsius + 273.15) / b.space()
	return b.pressureCO2() + (b.n2.head+b.o2.head)*rt + vapour(b.celsius)
}

// close caps a bottle of beer.
func (s *Scenario) close(v Vessel, n Nature, air float64) *bottle {
	f := &s.Filling
	b := &bottle{Vessel: &v, fill: f, celsius: f.Beer, cappedAt: f.Beer, guests: s.Guest.Number, dextrin: s.Guest.Sugar}
	b.co2.beer = f.CO2 / model.MolarMassCO2
	b.first = b.co2.beer
	perBar := v.Head / (gasBar * (f.Beer + 273.15))
	dry := air - vapour(f.Beer)
	b.n2 = gas{0.79 * f.Air * dry * perBar, 0.1 * 0.79 * holdsN2(f.Beer)}
	b.o2.head = 0.21 * f.Air * dry * perBar
	b.co2.head = (1 - f.Air) * dry * perBar
	sweet := f.Sugars.plus(f.Drop.times(1 / v.Beer)).times(v.Rich).plus(f.Left)
	b.culture = n.pitch(sweet)
	return b
}

// live for a step.
func (b *bottle) live(s *Scenario, n Nature, day, air, outside float64, shaken bool) {
	b.celsius += (air - b.celsius) * (1 - math.Exp(-stepDays/b.Slow))
	if s.Dies > 0 && day >= s.Dies {
		n.Dies += 3
	}
	p := b.pressureCO2()
	fresh := b.culture.work(n, b.celsius, p, b.fill.ABV)
	guest := n.Yield * s.Guest.eat(day, n.warmth(b.celsius), &b.guests, &b.dextrin)
	b.made += fresh
	b.guestGas += guest
	b.co2.beer += (fresh + guest) / model.MolarMassCO2
	b.breathe(p, shaken)
	if b.Leak.Size > 0 && day >= b.Leak.From {
		b.escape(outside)
	}
}

func (b *bottle) breathe(p float64, shaken bool) {
	film := b.Film
	if shaken {
		film *= 60
		b.afloat = 1
	}
	head, k := b.space(), b.celsius+273.15
	b.co2.settle(b.Vessel, head, b.fill.holds(b.celsius, p), k*squash(p, b.celsius), film)
	b.n2.settle(b.Vessel, head, holdsN2(b.celsius), k, film)
	b.o2.settle(b.Vessel, head, holdsO2(b.celsius), k, 1.1*film)
	b.o2.beer *= math.Exp(-1.5 * math.Min(3, b.awake+0.2) * stepDays) // yeast breathes it
}

// escape through the leak, all gases alike.
func (b *bottle) escape(outside float64) {
	over := math.Max(0, b.inside()-outside)
	all := b.co2.head + b.n2.head + b.o2.head
	share := math.Min(0.5, b.Leak.Size/model.MolarMassCO2*over*stepDays/all)
	b.lost += share * b.co2.head * model.MolarMassCO2 / b.Beer
	b.co2.head *= 1 - share
	b.n2.head *= 1 - share
	b.o2.head *= 1 - share
}

// holding is all CO2 per litre of beer, g.
func (b *bottle) holding() float64 {
	return model.MolarMassCO2 * (b.co2.beer + b.co2.head/b.Beer)
}

// sweetness is the CO2 that all its sugar would give, g/L.
func (b *bottle) sweetness(n Nature) float64 { return n.Yield * (b.simple() + b.malt()) }

// atRest is the gauge pressure when `total` g/L has found its balance.
func (b bottle) atRest(total, c, outside float64) float64 {
	b.celsius = c
	for range 40 {
		p := b.pressureCO2()
		mol := total / model.MolarMassCO2 * b.Beer
		perBar := b.space() / (gasBar * (c + 273.15) * squash(p, c))
		want := mol / (perBar + b.fill.holds(c, p)*b.Beer)
		b.co2.head += 0.5 * (want*perBar - b.co2.head)
		b.co2.beer = (mol - b.co2.head) / b.Beer
	}
	for range 400 {
		b.n2.settle(b.Vessel, b.space(), holdsN2(c), c+273.15, 100)
	}
	b.o2 = gas{}
	return b.inside() - outside
}
