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
}

func lucks(seed uint64, n int) []luck {
	rng := rand.New(rand.NewPCG(seed, 0xfa7e))
	out := make([]luck, n)
	for i := range out {
		l := &out[i]
		for j := range l.straight {
			l.straight[j] = rng.NormFloat64()
		}
		for _, v := range []*float64{&l.room, &l.heat, &l.air, &l.strength, &l.shape, &l.days} {
			*v = rng.NormFloat64()
		}
	}
	return out
}

// kind is one of the lot's bottles as far as pressure goes.
type kind struct {
	gas    float64 // g per litre of beer and bar at 20 °C
	rating float64 // bar
	primed float64 // priming against the followed bottle's
}

func (e *Estimator) kinds() []kind {
	l := e.setup.Lot
	base := math.Max(1e-6, float64(l.PrimingIn(e.belief.vessel)))
	var out []kind
	for _, b := range l.Bottles {
		k := kind{gas: gasGrams(b.Bottle(), 20), rating: float64(b.Rating(model.Bar(e.belief.station))), primed: 1}
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

// gaugeAt is the pressure of a bottle at rest.
func gaugeAt(volumes, t float64, l *law, gas, hold, air, station float64) float64 {
	beer := model.VolumeGrams * l.share / l.gain
	p := volumes * model.VolumeGrams / (beer*hold + gas/l.warm)
	p *= 1 + 0.0065*math.Max(0, p-3) // real gas beyond what the factor was fitted to
	return p + 0.88*air*l.warm + l.vapour - station
}

// holdsAt is the inverse of gaugeAt.
func holdsAt(gauge float64, l *law, gas, hold, air, station float64) float64 {
	p := gauge + station - l.vapour - 0.88*air*l.warm
	if p > 3 {
		p /= 1 + 0.0065*(p-3)
	}
	beer := model.VolumeGrams * l.share / l.gain
	return math.Max(0, p) * (beer*hold + gas/l.warm) / model.VolumeGrams
}

// fate of a member.
func (e *Estimator) fate(m *member, o *outlook, k []kind, lu *luck) fate {
	b, s := e.belief, m.course
	x := m.bottle.untold(&s)
	z := s.sums.draw(&lu.straight)
	c0 := math.Max(0.05, b.mean[residual]+z[residual])
	air := math.Max(0, b.mean[airBar]+z[airBar])
	hold := 1 + b.mean[holding] + z[holding]
	f := fate{co2: math.Max(0, c0+s.made-s.lost), ready: math.Inf(1), crosses: math.Inf(1)}
	f.progress = 1 - (s.sugar+s.slow)/math.Max(1e-6, x.sugar+x.slow)
	room := o.mean + o.dev*lu.room
	if x.regime == away && s.age > x.begins {
		room = x.placeC
	}
	days := watched * (0.04 + share(lu.days)) // how long it will be watched isn't known
	if s.ready > 0 {
		days += math.Max(0, s.ready+watched-s.age)
	} else {
		days += watched
	}
	hot := math.Min(hottest, math.Max(o.lately+(1.3*o.rising+0.6*o.wander)*share(lu.heat), room+o.warmest(days, lu.heat)))
	if x.regime == away && s.age > x.begins {
		hot = room + 0.5
	}
	need := e.need(k, hot, c0, hold, air, lu)
	f.pace = m.bottle.ratio(&m.course)
	f.progress = 1 - (1-f.progress)*math.Exp(shape*f.progress*f.progress*lu.shape)
	made, peakMade := e.ahead(x, s, room, need, &f)
	all := s.made + s.sugar + s.slow + s.extra // also what dead yeast will leave
	f.ready = blur(f.ready, s.age, lu.shape)
	f.final = c0 + made
	law := e.laws.at(hot)
	gas := gasGrams(b.vessel, 20)
	f.peak = math.Max(s.shows(b, e.laws, &z), gaugeAt(c0+peakMade, hot, law, gas, hold, air, b.station))
	e.strength(&f, k, c0, all, peakMade, hot, hold, air, lu)
	return f
}

// shows is the gauge pressure now, without the sensor's errors.
func (s *course) shows(b *belief, c climate, z *linear) float64 {
	bar, h := s.terms(b, c.at(s.beerC), airShows(s.age))
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
	out := ready + math.Hypot(0.05*ready, 0.15)*by
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
		p += x.slowly * v * s.slow / (halfSlow + s.slow)
	}
	if s.extra > 0 {
		p += x.quick * s.grown
	}
	return p
}

// need is the gas that must be made until an average bottle of some kind passes
// its rating.
func (e *Estimator) need(k []kind, hot, c0, hold, air float64, lu *luck) float64 {
	least := math.Inf(1)
	l := e.laws.at(hot)
	for i := range k {
		c := holdsAt(k[i].rating, l, k[i].gas, hold, air, e.belief.station)
		least = math.Min(least, (c-c0)/math.Max(0.05, k[i].primed))
	}
	return least
}

// ahead runs a bottle forward at a temperature, in steps that grow; says what
// it will have made in all, and up to the horizon of the peak.
func (e *Estimator) ahead(x *bottle, s course, room, need float64, f *fate) (made, peak float64) {
	l := e.laws.at(room)
	feels := x.feels(l)
	peak = -1
	horizon := farthest
	if s.ready > 0 {
		f.ready = s.ready
		horizon = math.Min(farthest, math.Max(s.ready+watched, s.age+3))
	}
	if s.made >= need {
		f.crosses = s.age
	}
	start := s.age
	for s.age < start+year {
		dt := math.Min(3, hour+0.08*(s.age-start))
		was := s.made
		s.age += dt
		s.forward(x, feels*e.belief.pressed(l, s.made), dt)
		if math.IsInf(f.ready, 1) && s.ready > 0 {
			f.ready = s.age - 0.5*dt
			horizon = math.Min(farthest, math.Max(f.ready+watched, start+3))
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

// strength sets the pressures that the lot's bottles come to.
func (e *Estimator) strength(f *fate, k []kind, c0, made, peakMade, hot, hold, air float64, lu *luck) {
	worstC := float64(e.setup.Lot.WorstCaseC)
	worstLaw, hotLaw := e.laws.at(worstC), e.laws.at(hot)
	st := e.belief.station
	air = math.Max(0, air+0.05*lu.air)
	hold *= 1 + 0.012*lu.strength
	rich := 1 + richest*bottleSpread
	for i := range k {
		q := &k[i]
		f.worst = math.Max(f.worst, gaugeAt(c0+made*q.primed, worstC, worstLaw, q.gas, hold, air, st))
		w := gaugeAt(c0+made*q.primed*rich, worstC, worstLaw, q.gas, hold*cautious, air, st)
		p := gaugeAt(c0+peakMade*q.primed*rich, hot, hotLaw, q.gas, hold*cautious, air, st)
		f.richWorst = math.Max(f.richWorst, w/q.rating)
		f.richPeak = math.Max(f.richPeak, p/q.rating)
	}
	if len(k) == 0 {
		f.worst = gaugeAt(c0+made, worstC, worstLaw, gasGrams(e.belief.vessel, 20), hold, air, st)
	}
}
