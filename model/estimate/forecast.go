package estimate

import (
	"math"
	"math/rand/v2"

	"conditiond/model"
)

// fate is what becomes of a possible bottle: of a tight one, whatever the
// followed bottle leaks.
type fate struct {
	weight              float64
	believed            bool    // the gauge is, in this story
	co2, progress       float64 // now
	pace                float64 // volumes a day now, as if at 20 °C
	ready               float64 // age in days, +Inf = never
	final               float64
	peak, worst         float64 // bar
	crosses             float64 // age in days at which an average bottle passes its rating, +Inf = never
	richPeak, richWorst float64 // share of the rating
}

// luck is what a member's future hangs on beside its past: the same from hour
// to hour, so that the answer moves only with what is learnt.
type luck struct {
	straight linear
	room     float64
	heat     float64
	air      float64
	strength float64
	shape    float64
	days     float64
	weather  float64
	malt     float64
	own      float64
}

func lucks(seed uint64, n int) []luck {
	rng := rand.New(rand.NewPCG(seed, 0xfa7e))
	out := make([]luck, n)
	for i := range out {
		l := &out[i]
		for j := range l.straight {
			l.straight[j] = rng.NormFloat64()
		}
		for _, v := range []*float64{&l.room, &l.heat, &l.air, &l.strength, &l.shape, &l.days, &l.weather, &l.malt, &l.own} {
			*v = rng.NormFloat64()
		}
	}
	return out
}

// kind is one of the lot's bottles as far as pressure goes.
type kind struct {
	head   float64 // headspace against beer
	gas    float64 // g in it per litre of beer and bar at 20 °C
	rating float64 // bar
	primed float64 // priming against the followed bottle's
}

func (e *Estimator) kinds() []kind {
	l := e.setup.Lot
	base := math.Max(1e-6, float64(l.PrimingIn(e.belief.vessel)))
	var out []kind
	for _, b := range l.Bottles {
		k := kind{head: headspace(b.Bottle()), gas: gasGrams(b.Bottle(), 20), rating: float64(b.Rating(model.Bar(e.belief.station))), primed: 1}
		if len(l.Priming) > 0 {
			k.primed = float64(l.PrimingIn(b.Bottle())) / base
		}
		out = append(out, k)
	}
	return out
}

const (
	bottleSpread = 0.06 // of priming from bottle to bottle, relative
	richest      = 2.33 // standard deviations: one in a hundred
	cautious     = model.SafetySolubility / model.BeerSolubility
	watched      = 14.0  // days after ready that count for the peak
	farthest     = 180.0 // days after packaging that count
	year         = 365.0
)

// still is a bottle at rest: its headspace against the beer and what that holds
// at capping, how well its beer holds gas, the air in it and the air around it,
// and the volumes that the beer was capped with.
type still struct{ head, gas, hold, air, station, flat float64 }

// gauge is its pressure with so many volumes in it.
func (q still) gauge(volumes float64, l *law) float64 {
	room := l.room(q.head, volumes-q.flat)
	p := volumes * model.VolumeGrams / q.capacity(room, l)
	p *= 1 + excess*math.Max(0, p-3)
	return p + q.air*l.warm*squeeze(q.head, room) + l.vapour - q.station
}

// volumes is the inverse of gauge; a few rounds find how far they swell the beer.
func (q still) volumes(gauge float64, l *law) float64 {
	v := q.flat
	for range 6 {
		room := l.room(q.head, v-q.flat)
		p := math.Max(0, gauge+q.station-l.vapour-q.air*l.warm*squeeze(q.head, room))
		p /= 1 + excess*math.Max(0, p-3)
		v = p * q.capacity(room, l) / model.VolumeGrams
	}
	return v
}

// capacity in g per litre of beer and bar, with a share of the headspace left.
func (q still) capacity(room float64, l *law) float64 {
	return model.VolumeGrams*l.share/l.gain*q.hold + q.gas*room/l.warm
}

const excess = 0.0065 // of pressure per bar above three, since gas isn't ideal

// tight is a member's bottle as it would be if it held all its gas.
type tight struct {
	bottle    *bottle
	still     still
	z         linear
	residual  float64 // volumes at capping
	days      float64 // that it will be watched
	room, hot float64 // °C
}

// tighten tells a member's course and what its bottle holds.
func (e *Estimator) tighten(m *member, s *course, o *outlook, lu *luck) tight {
	b := e.belief
	x := tight{bottle: m.bottle.untold(s), z: s.sums.draw(&lu.straight)}
	x.residual = math.Max(0.05, b.mean[residual]+x.z[residual])
	x.still = still{b.head, gasGrams(b.vessel, 20), 1 + b.mean[holding] + x.z[holding], b.undissolved * math.Max(0, b.mean[airBar]+x.z[airBar]), b.station, x.residual}
	x.days = s.watch(x.bottle, lu)
	x.room, x.hot = o.temperatures(s, lu, x.days)
	return x
}

// fate of a member.
func (e *Estimator) fate(m *member, o *outlook, k []kind, lu *luck) fate {
	b, s := e.belief, m.course
	t := e.tighten(m, &s, o, lu)
	x, c0, q := t.bottle, t.residual, t.still
	f := fate{believed: m.bottle.regime != astray, co2: math.Max(0, c0+s.made-s.lost), pace: m.bottle.ratio(&m.course), ready: math.Inf(1), crosses: math.Inf(1)}
	done := 1 - (s.sugar+s.slow)/math.Max(1e-6, x.sugar+x.slow)
	f.progress = 1 - (1-done)*math.Exp(shape*done*done*lu.shape)
	unseen := stubborn * b.maltShare * share(lu.malt)
	f.progress /= 1 + unseen*math.Exp(-s.age/patience)
	l := e.laws.at(t.hot)
	made, peak := e.ahead(x, s, o.rooms(t.room), t.days, need(k, q, c0, l), &f)
	if unseen > enough {
		f.ready = math.Max(f.ready, patience*math.Log(unseen/enough))
	}
	f.ready = blur(f.ready, s.age, lu.shape)
	f.final = c0 + made*(1+unseen*math.Exp(-s.age/patience))
	if x.regime == leaking {
		f.final += hidden * lu.strength
	}
	f.peak = math.Max(s.shows(b, e.laws, &t.z), q.gauge(c0+peak, e.laws.at(x.own(t.hot, lu)))) + weather*lu.weather
	all := s.made + s.sugar + s.slow + s.extra // also what dead yeast will leave
	e.strength(&f, k, q, lu, c0, all, peak, l)
	return f
}

// Malt sugar that yeast takes so slowly under pressure that the gauge doesn't
// show it: up to this share of all malt sugar, and how many days it lasts (that
// malt extract finishes lower and later: Vanbeneden et al. 2006, J ASBC 64:206,
// abstract; the figures are judgement).
const (
	stubborn = 0.25
	patience = 40.0
	enough   = 0.05 // share of the sugar that is left when a lot is ready
)

// hidden is how far a gauge that leaks may mislead about what was made, in
// volumes: what it lost is never measured (judgement).
const hidden = 0.07

// weather is how far the air's pressure, and what is left of the sensor's error,
// move a peak, in bar (10 to 15 mbar from day to day at middle latitudes, from
// memory; the rest is judgement).
const weather = 0.08

// watch is for how many days more a bottle will be watched: until two weeks after
// it is ready and nothing ferments on, and nobody knows how much longer. 0 = it is
// taken away now.
func (s *course) watch(x *bottle, lu *luck) float64 {
	left, luck := watched+math.Max(0, math.Min(s.wait(x), farthest-s.age)), share(lu.days)
	if s.ready > 0 && !s.goesOn() {
		left = s.ready + watched - s.age
	}
	if left <= 0 && luck < leaves {
		return 0
	}
	return math.Max(0, left) + watched*(0.04+luck)
}

// goesOn says that an extra fermentation has begun and has something left.
func (s *course) goesOn() bool { return s.grown > 0 && s.extra > 0.05 }

// wait is about how many days a bottle is from ready, at the pace of now.
func (s *course) wait(x *bottle) float64 {
	return (s.sugar + s.slow - enough*(x.sugar+x.slow)) / math.Max(1e-6, x.ratio(s))
}

// leaves is the chance that a lot that has been ready for long is taken away
// before its room gets any warmer (judgement).
const leaves = 0.4

// stays is the chance that a bottle that was taken elsewhere stays there
// (judgement).
const stays = 0.8

// temperatures that a bottle's room will have: the mean of the days to come,
// and the hottest of those that count for the peak.
func (o *outlook) temperatures(s *course, lu *luck, days float64) (room, hot float64) {
	room, hot = o.mean+o.dev*lu.room, o.lately
	if days > 0 {
		soon := o.lately + (1.3*o.rising+0.6*o.wander)*share(lu.heat)
		hot = math.Max(soon, room+o.warmest(days, lu.heat)+season(days)*math.Max(0, lu.room))
	}
	return room, math.Min(hottest, o.spell.hottest(hot))
}

// season is how far a room may become warmer within days by the time of year, in
// K, s.d. (a kelvin a month; judgement).
func season(days float64) float64 { return math.Min(days, 90) / 30 }

// own is the hottest that the followed bottle itself will be, where the lot will
// be at most so hot: it may have been taken elsewhere, and alone.
func (x *bottle) own(hot float64, lu *luck) float64 {
	if x.regime == away && share(lu.days) < stays {
		return math.Min(hot, x.placeC-0.4+1.8*share(lu.heat))
	}
	return hot
}

// shows is the gauge pressure now, without the sensor's errors.
func (s *course) shows(b *belief, c climate, z *linear) float64 {
	bar, h := s.terms(b, c.at(s.beerC), b.airShows(s.age))
	for _, i := range []int{residual, airBar, holding} {
		bar += h[i] * z[i]
	}
	return bar
}

// untold is a bottle without the story that hasn't begun: what can't be known
// isn't foretold.
func (x *bottle) untold(s *course) *bottle {
	out := *x
	if s.age <= x.begins {
		out.regime = sound
		s.extra = 0
	}
	return &out
}

// shape is how far the real course of a fermentation strays from the model's
// near its end, relative (judgement, by trials on invented lots).
const shape = 0.35

// blur moves the age at which a lot gets or got ready, without moving it over
// the present.
func blur(ready, now, by float64) float64 {
	if math.IsInf(ready, 1) {
		return ready
	}
	out := ready + math.Hypot(0.08*ready, 0.25)*by
	if ready > now {
		return math.Max(now, out)
	}
	return math.Min(now, out)
}

// ratio is the pace of a bottle now, in volumes a day at 20 °C and with the lag
// behind it.
func (x *bottle) ratio(s *course) float64 {
	v := s.pace * math.Exp(math.Max(-30, s.dead))
	p := v * s.sugar / (x.half + s.sugar)
	if s.slow > 0 {
		p += x.slowlyAt(s.slow) * v * s.slow / (halfSlow + s.slow)
	}
	if s.extra > 0 {
		p += x.quick * s.grown
	}
	return p
}

// need is the gas that must be made until an average bottle of some kind passes
// its rating.
func need(k []kind, q still, c0 float64, l *law) float64 {
	least := math.Inf(1)
	for i := range k {
		q.head, q.gas = k[i].head, k[i].gas
		least = math.Min(least, (q.volumes(k[i].rating, l)-c0)/math.Max(0.05, k[i].primed))
	}
	return least
}

// The steps of a forecast: the first in days, and how each grows with what lies
// behind it. Finer ones move no answer by more than a tenth of its width.
const (
	firstStep = hour
	stretch   = 0.15
)

// ahead runs a bottle forward through its rooms, in steps that grow; says what
// it will have made in all, and up to the horizon of the peak.
func (e *Estimator) ahead(x *bottle, s course, rooms rooms, days, need float64, f *fate) (made, peak float64) {
	start, least := s.age, enough*(x.sugar+x.slow)
	peak = -1
	horizon := farthest
	soonest := start + math.Max(3, days)
	if s.ready > 0 {
		f.ready, horizon = s.ready, soonest
	}
	if s.made >= need {
		f.crosses = s.age
	}
	for s.age < start+year {
		dt := rooms.within(s.age, firstStep+stretch*(s.age-start))
		was, left := s.made, s.sugar+s.slow
		l := e.laws.at(rooms.at(s.age))
		s.age += dt
		s.forward(x, x.feels(l)*e.belief.pressed(l, s.made), dt)
		if math.IsInf(f.ready, 1) && s.ready > 0 {
			f.ready = s.age - dt*(least-s.sugar-s.slow)/math.Max(1e-9, left-s.sugar-s.slow)
			horizon = math.Min(farthest, math.Max(f.ready+watched, soonest))
		}
		if math.IsInf(f.crosses, 1) && s.made >= need {
			f.crosses = s.age - dt*(s.made-need)/math.Max(1e-9, s.made-was)
		}
		if peak < 0 && s.age >= horizon {
			peak = s.made
		}
		if s.spent() {
			break
		}
	}
	if peak < 0 {
		peak = s.made
	}
	if f.crosses > math.Max(horizon, start) {
		f.crosses = math.Inf(1)
	}
	return s.made, peak
}

// spent says that hardly anything will be made any more.
func (s *course) spent() bool {
	return s.sugar+s.slow+s.extra < 0.001 || s.dead < -8
}

// forward is step without the gauge, for longer stretches.
func (s *course) forward(x *bottle, feels, dt float64) {
	begun := s.age > x.begins
	if s.live < 0.9995 {
		r := math.Min(1, 2*feels*dt/x.lag/(1+feels*dt/x.lag))
		w := s.waking
		s.waking += (1 - w) * r
		s.live += (w - s.live) * r
	}
	v := x.paceAt(s.age) * feels * s.live * dt
	if begun && x.regime == dying {
		s.dead -= x.size * dt
		v *= math.Exp(math.Max(-30, s.dead+0.5*x.size*dt))
	}
	s.made += s.eat(x, v)
	if begun && x.regime == extra {
		s.made += s.eatMore(x, feels*dt)
	}
}

// ownShare is how far the priming in the bottle with the gauge is off the lot's
// mean, relative, s.d.: the half of bottleSpread, which is meant for the richest
// (judgement, by trials on invented lots).
const ownShare = 0.03

// strength sets the pressures that the lot's bottles come to: with all that can
// be made at the worst temperature, and with what the peak will have at the
// hottest that is expected.
func (e *Estimator) strength(f *fate, k []kind, q still, lu *luck, c0, all, peak float64, hot *law) {
	worst := e.laws.at(float64(e.setup.Lot.WorstCaseC))
	if len(k) == 0 {
		f.worst = q.gauge(c0+all, worst)
	}
	mean := all
	if e.belief.gauged {
		mean /= 1 + ownShare*lu.own
	}
	q.air = math.Max(0, q.air+0.05*lu.air)
	q.hold *= 1 + 0.012*lu.strength
	for i := range k {
		q.head, q.gas = k[i].head, k[i].gas
		f.worst = math.Max(f.worst, q.gauge(c0+mean*k[i].primed, worst))
		rich := k[i].primed * (1 + richest*bottleSpread)
		weak := q
		weak.hold *= cautious
		f.richWorst = math.Max(f.richWorst, weak.gauge(c0+all*rich, worst)/k[i].rating)
		f.richPeak = math.Max(f.richPeak, weak.gauge(c0+peak*rich, hot)/k[i].rating)
	}
}
