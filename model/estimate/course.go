package estimate

import "math"

// course is where a possible bottle has come to, an hour at a time.
type course struct {
	age          float64 // days since packaging
	beerC        float64
	usualC       float64 // beerC's mean of about a day
	waking, live float64 // the two stages of the lag, 0 to 1
	pace         float64 // volumes a day at 20 °C; follows the bends
	sugar, slow  float64 // volumes left
	extra        float64 // volumes left of the extra fermentation
	grown        float64 // share of the extra fermentation's full pace
	dead         float64 // logarithm of what is left of the yeast
	made, lost   float64 // volumes
	ready        float64 // age in days at which progress passed 0.95; 0 = not yet
	airLeft      float64 // share of the air that hasn't leaked
	strayed      float64 // days of a good sensor's creep that its reading is off by

	made0  float64     // headspace CO2 by what was made, bar
	lagged linear      // what the gauge shows per unit of each straight term
	last   observation // of the gauge
	sums   balance
}

// observation is what the gauge said, less what is known of it, and how it
// follows from the straight terms.
type observation struct {
	age   float64 // days; negative = none yet
	y     float64
	terms linear
}

// begin is a bottle just capped, its gauge at nothing.
func (b *belief) begin(x *bottle, c climate, beerC, open float64, opens bool) course {
	l := c.at(beerC)
	s := course{beerC: beerC, usualC: beerC, airLeft: 1, sugar: x.sugar, slow: x.slow, pace: x.pace, sums: newBalance(b.dev)}
	if x.regime == extra {
		s.extra = x.size
	}
	s.made0 = b.station - l.vapour
	s.lagged[airBar] = -1.27 * l.warm
	s.last.age = -1
	if opens {
		h := linear{zero: 1}
		s.sums.add(&h, open, 1/(openDev*openDev))
	}
	return s
}

// openDev is how far an average of an open gauge may be off what its offset
// will be: the weather, mostly.
const openDev = 0.012

const hour = 1.0 / 24

// step moves a bottle through an hour of a room's temperature.
func (s *course) step(b *belief, x *bottle, c climate, room float64) {
	s.age += hour
	begun := s.age > x.begins
	if begun && x.regime == away {
		room = x.placeC
	}
	s.strayed = x.strays(s.age)
	s.beerC = room + (s.beerC-room)*x.beer
	s.usualC += (s.beerC - s.usualC) * hour
	l := c.at(s.beerC)
	s.ferment(b, x, l, begun)
	sinks := 0.0
	if begun && x.regime == leaking {
		sinks = s.leak(b, x, math.Min(hour, s.age-x.begins))
	}
	s.breathe(x, l, sinks)
}

// How far a sensor is off that isn't good: drifting since it was built in, or
// knocked once; in days of a good one's creep (0.012 bar a day and 0.25 bar;
// judgement).
const (
	drifts  = 6
	knocked = 125
)

// strays is how far the bottle's gauge is off at an age, in days of a good
// one's creep.
func (x *bottle) strays(age float64) float64 {
	switch {
	case x.regime != astray || age <= x.begins:
		return x.creeps * age
	case x.begins == 0:
		return drifts * age
	}
	return x.creeps*age + knocked
}

// ferment turns sugar into gas.
func (s *course) ferment(b *belief, x *bottle, l *law, begun bool) {
	f := x.feels(l)
	s.wake(x, f)
	v := s.pace * f * s.live * hour * b.pressed(l, s.made)
	if n := int(s.age*24 + 0.5); n%6 == 0 {
		s.pace = x.paceAt(s.age)
	}
	if begun && x.regime == dying {
		s.dead -= x.size * hour
		v *= math.Exp(math.Max(-30, s.dead))
	}
	s.made += s.eat(x, v)
	if begun && x.regime == extra {
		s.made += s.eatMore(x, f*hour)
	}
}

// feels is the pace of a bottle's yeast by temperature.
func (x *bottle) feels(l *law) float64 {
	d := (x.warmth - 1) * l.slope
	return l.pace * (1 + d*(1+0.5*d))
}

// pressed is how CO2 slows a yeast: model.PressureFactor at the balance.
func (b *belief) pressed(l *law, made float64) float64 {
	return 1.275 / (1 + l.gain*(b.mean[residual]+made)/8)
}

func (s *course) wake(x *bottle, f float64) {
	if s.live > 0.9995 {
		return
	}
	r := 2 * f * hour / x.lag
	r = r / (1 + 0.5*r)
	r = math.Min(r, 1)
	w := s.waking
	s.waking += (1 - w) * r
	s.live += (w - s.live) * r
}

// eat takes what a pace of v volumes with sugar in plenty takes; v may be
// large, it never takes more than there is.
func (s *course) eat(x *bottle, v float64) float64 {
	left := taken(s.sugar, x.half, v)
	eaten := s.sugar - left
	s.sugar = left
	if s.slow > 0 {
		left = taken(s.slow, halfSlow, x.slowlyAt(s.slow)*v)
		eaten += s.slow - left
		s.slow = left
	}
	if s.ready == 0 && s.sugar+s.slow <= 0.05*(x.sugar+x.slow) {
		s.ready = s.age
	}
	return eaten
}

// slowlyAt is the pace of the slow pool against the pace of sugar with so much
// left of it: the sugars that are taken last are taken slowest (maltotriose after
// maltose; common practice, no source).
func (x *bottle) slowlyAt(left float64) float64 {
	return x.slowly * (1 - x.tiring*(1-left/x.slow))
}

// taken is what is left of a pool after an uptake of v at most, half of it at a
// level: a midpoint step, or a cautious one where that would take too much.
func taken(pool, half, v float64) float64 {
	mid := pool / (1 + 0.5*v/(half+pool))
	if left := pool - v*mid/(half+mid); left > 0.2*pool {
		return left
	}
	return pool / (1 + v/(half+pool))
}

// halfSlow is the slow pool at which it is taken at half its pace, in volumes
// (2 g/L; judgement).
const halfSlow = 0.47

// eatMore is the extra fermentation through d days at 20 °C.
func (s *course) eatMore(x *bottle, d float64) float64 {
	s.grown += (1 - s.grown) * math.Min(1, d/8)
	more := math.Min(s.extra, x.quick*s.grown*d)
	s.extra -= more
	return more
}

// paceAt is a yeast's pace at an age.
func (x *bottle) paceAt(age float64) float64 {
	if last := len(bends) - 1; age > bends[last] {
		return x.pace * x.settled / (1 + x.fade*age)
	}
	i := 1
	for i < len(bends)-1 && age > bends[i] {
		i++
	}
	at := math.Min(1, (age-bends[i-1])/(bends[i]-bends[i-1]))
	return x.pace * math.Exp(x.drift[i-1]+(x.drift[i]-x.drift[i-1])*at) / (1 + x.fade*age)
}

// leak lets gas out of the headspace through some days, in proportion to the
// gauge pressure; says by how much its CO2 sinks. The straight terms are taken at
// what was thought of them at first, which is near enough for a leak whose size
// is unknown.
func (s *course) leak(b *belief, x *bottle, days float64) (sinks float64) {
	co2 := s.made0 + s.lagged[residual]*b.mean[residual] + s.lagged[airBar]*b.mean[airBar]
	air := b.mean[airBar] * s.airLeft
	over := co2 + air + 0.02 - b.station
	if over <= 0 {
		return 0
	}
	all := b.holds * (co2 + air) // g, as if all were CO2
	share := 1 - math.Exp(-x.size*over*days/all)
	s.airLeft *= 1 - share
	s.lost += share * b.holds * co2 * b.leak
	return share * co2
}

// breathe lets the headspace follow the beer; sinks is what it lost.
func (s *course) breathe(x *bottle, l *law, sinks float64) {
	keep := x.gauge
	gain := (1 - keep) * l.gain
	s.made0 = keep*(s.made0-sinks) + gain*(s.made-s.lost)
	s.lagged[residual] = keep*s.lagged[residual] + gain
	s.lagged[airBar] *= keep // what the lag still holds of the capping
}

// terms of the gauge now.
func (s *course) terms(b *belief, l *law, air float64) (known float64, h linear) {
	h[residual] = s.lagged[residual]
	h[airBar] = s.lagged[airBar] + air*s.airLeft*l.warm*squeeze(b.head, l.room(b.head, s.made-s.lost))
	h[zero] = 1
	h[holding] = -l.share * (s.lagged[residual]*b.mean[residual] + s.made0)
	h[creep] = s.strayed
	known = s.made0 + l.vapour - b.station
	for i, m := range b.mean {
		known += h[i] * m
	}
	return known, h
}

// Noise of the gauge about the model: what lasts about half a day (weather,
// temperatures inside the case, the surface of the beer), and what doesn't.
const (
	lasting  = 0.03 // bar
	lastDays = 0.5
	passing  = 0.012 // bar
	swings   = 0.005 // bar an hour for each kelvin off the day's mean, where the model follows less well
)

// surprise is what an observation says beyond the one before it: noise that
// lasts is taken off by the difference.
func (s *course) surprise(now *observation) (terms linear, y, variance float64) {
	terms, y = now.terms, now.y
	keep := 0.0
	if s.last.age >= 0 {
		keep = lasts(now.age - s.last.age)
		y -= keep * s.last.y
		for i := range terms {
			terms[i] -= keep * s.last.terms[i]
		}
	}
	off := swings * (s.beerC - s.usualC)
	variance = lasting*lasting*(1-keep*keep) + passing*passing*(1+keep*keep) + off*off
	if now.age < 1.5 {
		variance *= 1 + 6*(1.5-now.age)
	}
	return terms, y, variance
}

// lasts is the share of the lasting noise that is left after some days.
func lasts(days float64) float64 {
	if days < 1.5*hour {
		return anHour // nearly always
	}
	return math.Exp(-days / lastDays)
}

const anHour = 0.9200444146293233 // exp(−1/24/lastDays)

func (s *course) observe(b *belief, c climate, gauge, air float64) observation {
	known, h := s.terms(b, c.at(s.beerC), air)
	return observation{s.age, gauge - known, h}
}

// weigh takes in what the gauge said at the end of an hour. Doubt multiplies
// the variance.
func (s *course) weigh(b *belief, c climate, gauge, doubt, air float64) {
	now := s.observe(b, c, gauge, air)
	terms, y, variance := s.surprise(&now)
	s.sums.add(&terms, y, 1/(variance*doubt))
	s.last = now
}

// misses is how many standard deviations the gauge is from what the bottle
// makes expected.
func (s *course) misses(b *belief, c climate, gauge, air float64) float64 {
	now := s.observe(b, c, gauge, air)
	terms, y, variance := s.surprise(&now)
	z := s.sums.draw(&linear{})
	for i, h := range terms {
		y -= h * z[i]
	}
	return math.Abs(y) / math.Sqrt(variance)
}
