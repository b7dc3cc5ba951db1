package synth

import (
	"math"

	"conditiond/model"
)

// Nature is what the yeast of a lot is like. Cells are millions per mL, rates
// are at 20 °C.
type Nature struct {
	Kind                 model.Yeast
	Cells                float64 // living, at packaging
	Crop                 float64 // to which they may multiply
	Appetite             float64 // g sugar per L and day of a million cells, in beer of 5 %
	Rest                 float64 // days before the first wakes
	Wakes                float64 // per day after that
	Dies                 float64 // per day
	Affinity             float64 // Km of glucose, g/L
	Inverts              float64 // sucrose per day of a million cells
	Maltose, Maltotriose float64 // pace beside glucose; a weak strain has little
	Shy                  float64 // bar of CO2 that halves malt sugar's uptake
	Sinks                float64 // share of the activity that is lost as yeast settles
	Yield                float64 // g CO2 per g hexose
}

// character of a kind: where warmth sets in and where it kills, what alcohol
// ends it.
type character struct{ energy, cold, hot, alcohol float64 }

func (n Nature) character() character {
	switch n.Kind {
	case model.Lager:
		return character{50, 3.5, 35, 12.5}
	case model.Wheat, model.Farmhouse:
		return character{58, 9.5, 40, 13.5}
	case model.Wine:
		return character{50, 6, 40, 17}
	case model.Mixed:
		return character{52, 8, 39, 14}
	}
	return character{55, 9, 38, 13.5}
}

// warmth is the pace beside that at 20 °C: an enzyme with activation energy
// `energy` kJ/mol that is half lost to the cold and half unfolded in the heat
// (Sharpe and Schoolfield's form, from memory).
func (n Nature) warmth(c float64) float64 { return n.character().pace(c) / n.character().pace(20) }

func (k character) pace(c float64) float64 {
	inverse := func(t float64) float64 { return 1 / (t + 273.15) }
	arrhenius := func(kj, at float64) float64 {
		return math.Exp(kj * 1000 / model.GasConstant * (inverse(at) - inverse(c)))
	}
	return arrhenius(k.energy, 20) / (1 + 1/arrhenius(250, k.cold) + arrhenius(420, k.hot))
}

// sober is the pace beside that in beer of 5 %.
func (n Nature) sober(abv float64) float64 {
	left := func(a float64) float64 { return math.Pow(math.Max(0, 1-a/n.character().alcohol), 1.15) }
	return math.Max(0.01, left(abv)/left(5))
}

// Sugars in a litre of beer, g.
type Sugars struct{ Sucrose, Glucose, Fructose, Maltose, Maltotriose float64 }

const disaccharide = 1.0526 // g hexose of a g of sucrose or maltose; of maltotriose 1.07

func (s Sugars) simple() float64 { return s.Glucose + s.Fructose + disaccharide*s.Sucrose }
func (s Sugars) malt() float64   { return disaccharide*s.Maltose + 1.07*s.Maltotriose }

func (s Sugars) times(x float64) Sugars {
	return Sugars{s.Sucrose * x, s.Glucose * x, s.Fructose * x, s.Maltose * x, s.Maltotriose * x}
}

func (s Sugars) plus(o Sugars) Sugars {
	return Sugars{s.Sucrose + o.Sucrose, s.Glucose + o.Glucose, s.Fructose + o.Fructose, s.Maltose + o.Maltose, s.Maltotriose + o.Maltotriose}
}

// culture is the yeast of one bottle at work.
type culture struct {
	Sugars
	asleep, awake float64
	rest          float64
	induced       float64 // how ready it is for malt sugar
	afloat        float64
	maltTaken     float64 // g hexose per L
}

func (n Nature) pitch(s Sugars) culture {
	return culture{Sugars: s, asleep: n.Cells, rest: n.Rest, induced: 0.4, afloat: 1}
}

// work for a step and return the CO2 made, g/L.
func (c *culture) work(n Nature, t, co2, abv float64) float64 {
	f := n.warmth(t)
	c.wake(n, f)
	invert := c.Sucrose * (1 - math.Exp(-n.Inverts*c.awake*f*stepDays))
	c.Sucrose -= invert
	c.Glucose += invert * disaccharide / 2
	c.Fructose += invert * disaccharide / 2

	pace := n.Appetite * c.awake * c.afloat * f * n.sober(abv) * stepDays
	simple := c.simpleEaten(n, pace/(1+co2/12))
	c.grow(n, f, t, co2, abv)
	malt := c.maltEaten(n, pace, co2)
	c.maltTaken += malt
	return n.Yield * (simple + malt)
}

func (c *culture) wake(n Nature, f float64) {
	c.afloat = 1 - n.Sinks + (c.afloat-1+n.Sinks)*math.Exp(-stepDays/4)
	if c.rest > 0 {
		c.rest -= f * stepDays
		return
	}
	up := c.asleep * (1 - math.Exp(-n.Wakes*f*stepDays))
	c.asleep -= up
	c.awake += up
}

// simpleEaten is glucose and fructose, which share their way in; fructose's is
// the narrower.
func (c *culture) simpleEaten(n Nature, pace float64) float64 {
	const narrower = 0.6
	all := n.Affinity + c.Glucose + narrower*c.Fructose
	g := math.Min(c.Glucose, pace*c.Glucose/all)
	f := math.Min(c.Fructose, pace*narrower*c.Fructose/all)
	c.Glucose -= g
	c.Fructose -= f
	return g + f
}

// maltEaten: glucose keeps the yeast from malt sugars, maltose from
// maltotriose, and pressure from both.
func (c *culture) maltEaten(n Nature, pace, co2 float64) float64 {
	free := 1 / (1 + (c.Glucose+c.Fructose)/0.8)
	c.induced += (1 - c.induced) * 0.4 * free * stepDays
	bold := c.induced * free / (1 + math.Pow(co2/n.Shy, 2))
	m := math.Min(c.Maltose, pace*n.Maltose*bold*c.Maltose/(2.5+c.Maltose))
	t := math.Min(c.Maltotriose, pace*n.Maltotriose*bold*c.Maltotriose/(4+c.Maltotriose)/(1+c.Maltose/3))
	c.Maltose -= m
	c.Maltotriose -= t
	return disaccharide*m + 1.07*t
}

// grow and die: pressure keeps cells from dividing, alcohol and warmth kill.
func (c *culture) grow(n Nature, f, t, co2, abv float64) {
	fed := c.simple() / (1 + c.simple())
	divide := 0.6 * f * fed * math.Max(0, 1-c.awake/n.Crop) / (1 + co2/1.5)
	die := n.Dies * (0.7 + math.Pow(abv/9, 2)) * math.Pow(2, (t-20)/10)
	c.awake *= math.Exp((divide - die) * stepDays)
	c.asleep *= math.Exp(-die * stepDays)
}

// Guest is something else that ferments what the yeast leaves: few at first.
type Guest struct {
	From   float64 // days after packaging; 0 = none
	Sugar  float64 // g hexose per L in its reach
	Pace   float64 // g per L and day when it is many
	Grows  float64 // per day at 20 °C
	Number float64 // of 1 at the beginning
}

// eat for a step and return what sugar it took.
func (g Guest) eat(day, f float64, number, left *float64) float64 {
	if g.From == 0 || day < g.From {
		return 0
	}
	*number += *number * (1 - *number) * g.Grows * f * stepDays
	eaten := math.Min(*left, g.Pace**number*f**left/(0.5+*left)*stepDays)
	*left -= eaten
	return eaten
}
