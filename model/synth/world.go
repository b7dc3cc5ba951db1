package synth

import (
	"math"
	"math/rand/v2"
	"time"

	"conditiond/model"
)

const (
	worldStep = 10 * time.Minute
	stepDays  = 1.0 / 144
)

// world is one bottle, the one with the gauge if there is one, in its room,
// with its instruments.
type world struct {
	s     Scenario
	start time.Time
	rng   *rand.Rand

	// The bottle: litres, g per litre of beer, g of gas, bar of air.
	beer, head             float64
	sucrose, hexose, malt  float64
	other                  float64 // what only the late guest eats
	co2                    float64 // dissolved, g/L
	gas                    float64 // CO2 in the headspace, g
	nitrogen, oxygen       float64 // partial pressures, bar
	yeast, guest           float64 // 1 = at packaging
	lag                    float64 // days of it left at 20 °C
	lost                   float64 // g/L, through a leak
	capped, sugar0, eaten0 float64 // g/L: CO2 at capping, what the sugar will give, what it gave

	// Its nature.
	vmax, growth, crop, death, km, invert, yield float64
	factor, tau, thermal                         float64
	leak                                         float64 // g/(d bar)

	// Around it.
	room, beerC, wander, weather float64
	thermo, gauge                instrument
	isOpen                       bool
}

// spread draws around 1 with a geometric standard deviation.
func (w *world) spread(gsd float64) float64 { return math.Exp(math.Log(gsd) * w.rng.NormFloat64()) }

// about draws around a mean.
func (w *world) about(mean, sd float64) float64 { return mean + sd*w.rng.NormFloat64() }

func newWorld(s Scenario) *world {
	w := &world{s: s, start: s.Lot.PackagedAt.UTC(), rng: rand.New(rand.NewPCG(s.Seed, 0x5ca1ab1e))}
	b, stands := s.Lot.Bottles[0].Bottle(), model.InCase
	if g := s.Lot.GaugeBottle; g != nil {
		b, stands = g.Bottle(), g.Stands
	}
	w.beer = float64(b.Beer)
	w.head = math.Max(0.004, float64(b.Headspace)*w.about(1, 0.08))
	w.nature()
	w.fill()
	w.tau = 5.0 / 24 * w.spread(1.6)
	w.thermal = w.about(1.5, 0.2) / 24
	if stands == model.InCase {
		w.thermal = w.about(5, 1) / 24
	}
	w.room = float64(s.Room.Mean)
	w.beerC = w.room
	w.thermo = instrument{offset: 0.2 * w.rng.NormFloat64(), scale: 1, noise: 0.05, least: 0.0625}
	w.gauge = instrument{offset: 0.03 * w.rng.NormFloat64(), scale: w.about(1, 0.008), noise: 0.006, least: 0.003}
	return w
}

func (w *world) nature() {
	l := w.s.Lot
	v := model.VigourOf(l.YeastState)
	w.vmax = v.Activity * w.spread(1.7)
	w.lag = v.LagDays * w.spread(1.5)
	if w.s.Vigour > 0 {
		w.vmax, w.lag = v.Activity*w.s.Vigour, v.LagDays
	}
	w.vmax *= model.EthanolFactor(l.Yeast, l.ABV())
	w.crop = 1 + 1.2*w.rng.Float64()
	w.growth = 0.8 * w.spread(1.4)
	w.death = v.DeathPerDay * w.spread(2)
	w.km = 0.9 * w.spread(1.6)
	w.invert = 1.5 * w.spread(1.5)
	w.yield = 0.472 + 0.006*w.rng.NormFloat64()
	w.factor = w.about(0.96, 0.02)
	w.yeast = 1
}

// fill fills the bottle with beer and sugar, a little otherwise than the
// document says.
func (w *world) fill() {
	l := w.s.Lot
	mix := w.about(1, 0.02)
	if w.s.Story == OverPrimed {
		mix *= 1.9
	}
	for _, p := range l.Priming {
		litres := float64(l.Beer.VolumeL)
		if p.PerBottle > 0 {
			litres = w.beer / p.PerBottle
		}
		g := float64(p.MassG) / litres * mix
		kind, _ := model.SugarOf(p.Sugar)
		hexose := g * kind.CO2 / 0.4886
		w.malt += hexose * kind.Malt
		if simple := hexose * (1 - kind.Malt); p.Sugar == model.Sucrose || p.Sugar == model.Drops {
			w.sucrose += simple / 1.0526
		} else {
			w.hexose += simple
		}
	}
	if w.s.Story == Unfinished {
		w.malt += 2.5 + 3*w.rng.Float64()
	}
	if w.s.Story == Late {
		w.other = 2.5 + 3*w.rng.Float64()
	}
	saturated := float64(model.Residual(l.Beer.WarmestC, w.s.Station).GramsPerLitre())
	w.co2 = saturated * w.about(1, 0.05)
	w.sugar0 = w.yield * (1.0526*w.sucrose + w.hexose + w.malt)
}

// cap closes the bottle with what is in the headspace then.
func (w *world) cap() {
	air := 0.95
	switch w.s.Lot.Capped {
	case model.OnFoam, model.Purged:
		air = 0.15
	case "":
		air = 0.7
	}
	air = math.Min(1, math.Max(0.03, w.about(air, 0.08)))
	dry := float64(w.s.Station) - water(w.beerC)
	w.nitrogen, w.oxygen = 0.79*air*dry, 0.21*air*dry
	w.gas = (1 - air) * dry * w.gasGrams()
	w.capped = w.co2 + w.gas/w.beer
	w.isOpen = false
}

func water(c float64) float64 { return float64(model.WaterVapour(model.Celsius(c))) }

// holds is the CO2 that the beer takes up, g/(L bar): van 't Hoff's line here,
// not the estimator's curve.
func (w *world) holds() float64 {
	return w.factor * 1.698 * math.Exp(2450*(1/(w.beerC+273.15)-1/293.15))
}

// gasGrams are the grams of CO2 in the headspace at one bar.
func (w *world) gasGrams() float64 {
	head := w.head - w.beer*0.00025*(w.beerC-20) // beer swells more than glass
	return model.MolarMassCO2 * math.Max(0.002, head) * 100 / (0.985 * model.GasConstant * (w.beerC + 273.15))
}

func (w *world) pressureCO2() float64 { return w.gas / w.gasGrams() }

// inside is the absolute pressure in the headspace.
func (w *world) inside() float64 {
	k := (w.beerC + 273.15) / 293.15
	return w.pressureCO2() + (w.nitrogen+w.oxygen)*k + water(w.beerC)
}

// around is the air's pressure at the time.
func (w *world) around() float64 { return float64(w.s.Station) + w.weather }

// step moves the world from at by a step.
func (w *world) step(at time.Time) {
	w.air(at)
	w.work(w.pastEvent(at))
	w.exchange()
	if w.s.Story == Leak && w.pastEvent(at) {
		w.escape()
	}
}

func (w *world) pastEvent(at time.Time) bool {
	return !at.Before(w.start.Add(daysLong(w.s.EventDay)))
}

// air moves the room, the weather and the beer's temperature.
func (w *world) air(at time.Time) {
	w.wander += -w.wander*stepDays/2 + w.s.Room.Wander*math.Sqrt(stepDays)*w.rng.NormFloat64()
	w.weather += -w.weather*stepDays/3 + 0.007*math.Sqrt(2*stepDays/3)*w.rng.NormFloat64()
	hour := float64(at.Hour()) + float64(at.Minute())/60
	w.room = float64(w.s.Room.Mean) + w.wander + w.s.Room.Swing*math.Sin((hour-9)*math.Pi/12)
	event := w.start.Add(daysLong(w.s.EventDay))
	if w.s.Story == HeatWave && !at.Before(event) && at.Before(event.Add(5*24*time.Hour)) {
		w.room += 10
	}
	there := w.room
	if w.s.Story == Chilled && w.pastEvent(at) {
		there = 5
	}
	w.beerC += (there - w.beerC) * math.Min(1, stepDays/w.thermal)
}

// work is what the living do in a step.
func (w *world) work(turned bool) {
	t := model.TemperatureFactor(w.s.Lot.Yeast, model.Celsius(w.beerC))
	if w.lag > 0 {
		w.lag -= t * stepDays
		return
	}
	if w.s.Story == Stalled && turned {
		w.yeast *= math.Exp(-3 * stepDays)
	}
	p := w.pressureCO2()
	cut := math.Min(w.sucrose, w.invert*w.yeast*t*w.sucrose*stepDays)
	w.sucrose -= cut
	w.hexose += 1.0526 * cut
	pace := w.vmax * w.yeast * t * float64(model.PressureFactor(model.Bar(p))) * stepDays
	eat := math.Min(w.hexose, pace*w.hexose/(w.km+w.hexose))
	eatMalt := math.Min(w.malt, 0.3*pace*w.malt/(2+w.malt)*0.6/(0.6+w.hexose)*2/(2+math.Max(0, p-1)))
	fed := w.hexose / (0.5 + w.hexose)
	w.yeast += w.yeast * stepDays * (w.growth*t*fed*(1-w.yeast/w.crop)/(1+p/1.5) - w.death)
	w.hexose -= eat
	w.malt -= eatMalt
	w.co2 += w.yield * (eat + eatMalt)
	w.eaten0 += w.yield * (eat + eatMalt)
	if w.s.Story == Late && turned {
		w.guest = math.Min(1, math.Max(w.guest, 0.05)*math.Exp(0.25*t*stepDays))
		more := math.Min(w.other, 0.35*w.guest*t*stepDays)
		w.other -= more
		w.co2 += w.yield * more
	}
}

// exchange moves gas across the beer's surface and lets the air dissolve.
func (w *world) exchange() {
	k := w.gasGrams()
	perLitre := w.holds()
	rate := 1 / w.tau / (1/k + 1/(perLitre*w.beer)) // g per day and bar
	flow := rate * (w.co2/perLitre - w.pressureCO2()) * stepDays
	w.gas += flow
	w.co2 -= flow / w.beer
	w.nitrogen -= w.nitrogen * 0.02 * stepDays * math.Exp(-w.nitrogen)
	w.oxygen -= w.oxygen * 0.3 * stepDays
}

// escape lets the headspace out through a leak.
func (w *world) escape() {
	if w.leak == 0 {
		w.leak = 0.08 * w.spread(2)
	}
	over := math.Max(0, w.inside()-w.around())
	grams := w.leak * over * stepDays
	share := math.Min(0.5, grams/(w.inside()*w.gasGrams()))
	w.lost += share * w.gas / w.beer
	w.gas *= 1 - share
	w.nitrogen *= 1 - share
	w.oxygen *= 1 - share
}

func (w *world) progress() float64 { return w.eaten0 / w.sugar0 }

// made is all CO2 at capping and since.
func (w *world) total() float64 { return w.co2 + w.gas/w.beer }

func (w *world) final() float64 {
	return float64(model.GramsPerLitre(w.total() + w.lost).Volumes())
}

func (w *world) truth(at time.Time) Hour {
	return Hour{at, w.beerC, w.inside() - w.around(),
		float64(model.GramsPerLitre(w.total()).Volumes()), w.progress()}
}
