package estimate

import (
	"math"

	"conditiond/model"
)

// A possible bottle is a point in a space of independent standard normals; each
// axis is one thing that isn't known, told apart by the names below. So the
// prior is the same for all of them, and a move through the cloud needs to know
// nothing of units.
const (
	activity = iota // of the yeast, at 20 °C
	lagTime
	priming   // what the sugar gives, against the document
	halfway   // sugar at which the yeast works at half its pace
	warmth    // how strongly the pace follows temperature
	slowPool  // sugar left that is taken late
	slowPace  // of that
	slowEnd   // how far its last part is slower still
	gaugeLag  // of the headspace behind the beer
	beerLag   // of the beer behind the thermometer
	drift1    // of the activity, at the ages of bends
	drift2    //
	drift3    //
	drift4    //
	size      // of a fault: leak, extra fermentation, how fast yeast dies
	onset     // of it
	quickness // of an extra fermentation; temperature of another place
	restless  // how far the gauge creeps, against a good one
	axes
)

// point is a possible bottle.
type point [axes]float64

// regime is what kind of story a possible bottle lives.
type regime int

const (
	sound   regime = iota
	leaking        // the gauge bottle loses gas from its onset
	extra          // something ferments on from its onset
	dying          // the yeast dies from its onset
	away           // the bottle stands elsewhere from its onset, the thermometer doesn't
	astray         // the gauge itself drifts all along, or was knocked at its onset
	regimes
)

// chance of each in a gauged bottle before anything is seen, and how many bottles
// stand for it. Its fittings leak far more often than crown caps (common
// practice, no source); the rest is judgement.
var chance = [regimes]float64{0.755, 0.11, 0.05, 0.045, 0.005, 0.035}

var crowd = [regimes]int{384, 96, 96, 96, 64, 64}

// crown is how much less often a crown cap leaks than a gauge's fittings
// (judgement).
const crown = 0.1

// chance of a regime in the bottle that is followed.
func (b *belief) chance(r regime) float64 {
	tighter := (1 - crown) * chance[leaking]
	switch {
	case r == sound && !b.gauged:
		return chance[sound] + tighter
	case r == leaking && !b.gauged:
		return chance[leaking] - tighter
	}
	return chance[r]
}

// bends are the ages in days at which a yeast's activity may turn.
var bends = [...]float64{0, 1.5, 4, 8, 16}

// strays are how far, in the logarithm, an activity strays up to each bend. It
// moves most at first, while yeast may grow.
var strays = [len(bends) - 1]float64{0.25, 0.20, 0.15, 0.15}

// bottle is a point in natural units: volumes, days, bar.
type bottle struct {
	regime  regime
	pace    float64             // volumes a day at 20 °C with sugar in plenty
	fade    float64             // of the pace, per day
	drift   [len(bends)]float64 // logarithm, at the bends
	settled float64             // factor after the last of them
	lag     float64
	sugar   float64 // volumes it will give
	half    float64 // volumes
	slow    float64 // volumes in the slow pool
	slowly  float64 // pace of the slow pool against the pace of sugar
	tiring  float64 // how much of that pace is lost as the pool empties, 0 to 1
	warmth  float64
	gauge   float64 // share of a difference that the headspace keeps over an hour
	beer    float64 // the same for the beer's temperature
	begins  float64 // days; when the regime's story begins
	size    float64 // volumes of extra, g/(d bar) of leak, 1/d of death
	quick   float64 // volumes a day of extra fermentation
	placeC  float64 // °C of the other place
	creeps  float64 // how far its gauge does, against a good one's
}

// belief is what is thought of a lot before anything is seen, and the bottle
// that is followed.
type belief struct {
	vessel      model.Bottle
	gauged      bool
	station     float64
	pace        float64 // median, volumes a day
	paceGSD     float64
	vigour      model.Vigour
	planned     float64 // volumes of simple sugar by the document
	malt        float64 // volumes of malt sugar by the document
	maltShare   float64 // of all the priming gives
	spread      float64 // of what the priming gives, relative
	left        float64 // volumes in the beer above its limit gravity
	leftOdds    float64 // that there is more than that
	leftMean    float64 // of the more
	stands      model.Stands
	leak        float64 // volumes per gram of CO2 in the followed bottle
	holds       float64 // g of CO2 per bar in its headspace
	head        float64 // headspace against beer
	undissolved float64 // share of the air's nitrogen that stays in it
	mean, dev   linear  // of what enters the gauge in a straight line
}

// yield in a bottle against stoichiometry, and its spread together with errors
// of volume and mass (0.95 to 1.00 is common practice, no source).
const (
	bottleYield = 0.965
	yieldSpread = 0.045
)

// keen is how much less sugar than model.HalfUptake slows a yeast that has come
// as far as its last sugar (judgement, by trials on invented lots).
const keen = 0.8

func newBelief(s Setup) *belief {
	l := s.Lot
	b := &belief{vessel: model.Bottle{Beer: 0.5, Headspace: 0.02}, station: float64(s.Station), vigour: model.VigourOf(l.YeastState)}
	if b.station <= 0 {
		b.station = float64(model.Atmosphere)
	}
	if len(l.Bottles) > 0 {
		b.vessel, b.stands = l.Bottles[0].Bottle(), model.InCase
	}
	if g := l.GaugeBottle; g != nil {
		b.vessel, b.stands, b.gauged = g.Bottle(), g.Stands, true
	}
	b.leak = 1 / (float64(b.vessel.Beer) * model.VolumeGrams)
	b.holds = math.Max(0.003, gasGrams(b.vessel, 20)*float64(b.vessel.Beer))
	b.sugars(l)
	toVolumes := model.HexoseYield / model.VolumeGrams
	b.pace = b.vigour.Activity * toVolumes * model.EthanolFactor(l.Yeast, l.ABV())
	b.paceGSD = b.vigour.ActivitySpread
	b.straight(l)
	return b
}

func (b *belief) sugars(l model.Lot) {
	all := bottleYield * float64(l.PrimingIn(b.vessel))
	b.spread = yieldSpread
	if len(l.Priming) == 0 {
		all, b.spread = math.Max(0.1, float64(l.TargetVolumes-l.Residual(model.Bar(b.station)))), 0.12
	}
	share, spread := maltShare(l)
	b.spread = math.Hypot(b.spread, spread)
	b.maltShare, b.malt, b.planned = share, share*all, math.Max(0.02, (1-share)*all)
	b.left = float64(l.Unfinished())
	b.leftOdds, b.leftMean = 0.15, 1.3
	if l.Beer.LimitGravity > 0 {
		b.leftOdds, b.leftMean = 0.05, 0.4
	}
	if l.StopAtVolumes > 0 { // a live drink: what is left is what it lives on
		b.planned, b.left, b.leftOdds = b.planned+b.left, 0, 0
	}
}

// maltShare of what the priming gives, and the spread of its yield.
func maltShare(l model.Lot) (share, spread float64) {
	var malt, all, vary float64
	for _, p := range l.Priming {
		kind, ok := model.SugarOf(p.Sugar)
		g := float64(p.MassG) * math.Max(1, p.PerBottle) * p.CO2()
		if !ok {
			g, kind.Malt, kind.Spread = float64(p.PerLitre(l.Beer))*float64(p.VolumeL), 0.8, 0.08
		}
		malt, all, vary = malt+kind.Malt*g, all+g, vary+kind.Spread*g
	}
	if all == 0 {
		return 0, 0
	}
	return malt / all, vary / all
}

// straight sets what is thought of the terms that enter the gauge in a straight
// line. Of the air, a purge leaves a tenth (model.AirAtCapping), and so does
// foam at its best; often it doesn't push all of it out, and brewers that don't
// say how they capped did one or the other (judgement).
func (b *belief) straight(l model.Lot) {
	air, airDev := 0.47, 0.26
	switch l.Capped {
	case model.OverAir:
		air, airDev = 0.69, 0.10
	case model.OnFoam:
		air, airDev = 0.28, 0.16
	case model.Purged:
		air, airDev = 0.12, 0.09
	}
	air *= b.station / float64(model.Atmosphere)
	b.mean = linear{float64(l.Residual(model.Bar(b.station))), air, 0, realGas, 0}
	b.dev = linear{0.07, airDev, 0.05, 0.036, 0.002}
	b.head = headspace(b.vessel)
	b.undissolved = undissolved(b.head)
}

// headspace of a bottle against its beer.
func headspace(v model.Bottle) float64 {
	return math.Max(0.005, float64(v.Headspace/max(v.Beer, 0.01)))
}

// realGas is by how much a beer seems to hold less at two to three bar, since
// the gas above it isn't ideal (fugacity by the second virial coefficient).
const realGas = -0.012

// share is the part of a standard normal below u.
func share(u float64) float64 { return 0.5 * math.Erfc(-u/math.Sqrt2) }

// wait turns u into an exponential with a mean.
func wait(mean, u float64) float64 { return -mean * math.Log(math.Max(1e-12, 1-share(u))) }

// sometime is 0 with a chance, or else an exponential with a mean.
func sometime(chance, mean, u float64) float64 {
	x := share(u)
	if x <= chance {
		return 0
	}
	return -mean * math.Log(math.Max(1e-12, (1-x)/(1-chance)))
}

// bottleAt is the bottle that a point stands for.
func (b *belief) bottleAt(r regime, p *point) bottle {
	v := b.vigour
	out := bottle{
		regime: r,
		pace:   b.pace * math.Exp(math.Log(b.paceGSD)*p[activity]),
		fade:   v.DeathPerDay,
		lag:    v.LagDays * math.Exp(math.Log(v.LagSpread)*p[lagTime]),
		sugar:  b.planned * b.gives(p[priming]),
		half:   keen * float64(model.HalfUptake) * model.HexoseYield / model.VolumeGrams * math.Exp(0.6*p[halfway]),
		warmth: 1 + 0.12*p[warmth],
		gauge:  math.Exp(-1 / math.Min(48, math.Max(0.2, 5*math.Exp(0.75*p[gaugeLag])))),
		beer:   math.Exp(-1 / b.beerLag(p[beerLag])),
		creeps: math.Exp(p[restless]),
	}
	for i, u := range p[drift1 : drift4+1] {
		out.drift[i+1] = out.drift[i] + strays[i]*u
	}
	out.settled = math.Exp(out.drift[len(bends)-1])
	b.slow(p, &out)
	b.story(p, &out)
	return out
}

// gives is what the priming gives against the document: near it nearly always,
// but a forgotten stir makes a long tail, and now and then sugar was weighed for
// another batch, or twice.
func (b *belief) gives(u float64) float64 {
	if u < 0 {
		far := math.Max(0, -u-1.9)
		return math.Exp(b.spread*u - 0.10*far*far)
	}
	return math.Exp(b.spread*u + twice*math.Max(0, 1-(1-share(u))/misdosed))
}

// One batch in forty is given more sugar than the document says, up to about
// twice as much (judgement).
const (
	misdosed = 0.025
	twice    = 0.75 // logarithm
)

// slow fills the pool of malt sugars: from the priming, and what the beer
// itself still had.
func (b *belief) slow(p *point, out *bottle) {
	more := 0.006 * b.planned * math.Exp(1.2*p[slowPool]) // there is always a little
	if tail := 1 - share(p[slowPool]); tail < b.leftOdds {
		more += b.leftMean * math.Pow(-math.Log(math.Max(1e-12, tail)/b.leftOdds), 0.6)
	}
	fromMalt := b.malt * 0.85 * b.gives(p[priming])
	fromBeer := b.left*math.Exp(0.25*p[slowPool]) + more
	out.slow, out.tiring = fromMalt+fromBeer, share(p[slowEnd])
	quick := math.Exp(0.7 * p[slowPace])
	if out.slow > 0 {
		out.slowly = math.Min(1, quick*(0.4*fromMalt+0.22*fromBeer)/out.slow)
	}
}

// beerLag in hours: 1.5 for a bottle alone, 3 to 8 in a case; less where the
// thermometer stands in liquid itself.
func (b *belief) beerLag(u float64) float64 {
	switch b.stands {
	case model.Alone:
		return math.Exp(math.Log(1.2) + 0.6*u)
	case model.InCase:
		return math.Exp(math.Log(3.5) + 0.7*u)
	}
	return math.Exp(math.Log(2) + 0.8*u)
}

// A leak's usual size in g/(d bar), and the spread of its logarithm (judgement).
const (
	usualLeak  = 0.05
	leakSpread = 1.3
)

// usualExtra is how much an extra fermentation gives, in volumes: hops on the dry
// side a half to one, a culture that splits dextrins as much for every point of
// gravity it finds (half a volume a point is common practice, no source; the
// middle is judgement).
const usualExtra = 1.2

// leakAxis is the place of a leak's size on its axis; NaN of none.
func leakAxis(size float64) float64 { return math.Log(size/usualLeak) / leakSpread }

// story is what the regime does.
func (b *belief) story(p *point, out *bottle) {
	out.begins = math.Inf(1)
	switch out.regime {
	case leaking:
		out.size = math.Min(2, math.Max(0.004, usualLeak*math.Exp(leakSpread*p[size])))
		out.begins = sometime(0.5, 12, p[onset])
	case extra:
		out.size = usualExtra * math.Exp(0.6*p[size])
		out.begins = 17 * math.Exp(0.7*p[onset])
		out.quick = 0.04 * math.Exp(0.8*p[quickness])
	case dying:
		out.size = math.Exp(0.8 * p[size])
		out.begins = 6 * math.Exp(0.7*p[onset])
	case away:
		out.placeC = 5 + 3*p[quickness]
		out.begins = wait(14, p[onset])
	case astray:
		out.begins = sometime(0.7, 14, p[onset])
	}
}
