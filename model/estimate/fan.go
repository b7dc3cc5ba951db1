package estimate

import (
	"math"
	"time"
)

// Ahead is what is to be expected of a tight bottle at an instant to come.
type Ahead struct {
	Time       time.Time `json:"time"`
	CO2Volumes Interval  `json:"co2_volumes"`
	GaugeBar   Interval  `json:"gauge_bar"` // at the temperature that it is likely to have then
}

// Fan is the forecast at n instants, evenly spaced from the estimate's own to
// `until`: of the bottle that CO2Volumes is about, if it holds all its gas, in
// the room that is expected. Of an estimator that has heard nothing, and for
// less than two instants, there is none.
func (p *Prospect) Fan(until time.Time, n int) []Ahead {
	e := p.e.asTaught()
	from := e.setup.Lot.PackagedAt.UTC().Add(time.Duration(e.next) * window)
	if e.now.cloud == nil || e.deaf() || n < 2 || !until.After(from) {
		return nil
	}
	step := until.Sub(from) / time.Duration(n-1)
	rays := e.rays()
	all := make([]fate, len(rays))
	for i := range rays {
		all[i].weight = rays[i].weight
	}
	q := newQuantiles(all)
	out := make([]Ahead, 0, n)
	for k := range n {
		after := time.Duration(k) * step
		for i := range rays {
			all[i].co2, all[i].peak = e.along(&rays[i], float64(e.next)*hour+after.Hours()/24)
		}
		volumes, bar := q.of(func(f *fate) float64 { return f.co2 }), q.of(func(f *fate) float64 { return f.peak })
		if volumes == nil || bar == nil {
			return nil
		}
		out = append(out, Ahead{from.Add(after), *volumes, *bar})
	}
	return out
}

// ray is a possible bottle on its way.
type ray struct {
	tight
	course course
	start  float64 // age in days
	luck   *luck
	strays float64 // K, from the mean of its room, at an instant
	weight float64
}

func (e *Estimator) rays() []ray {
	o := e.expected(nil)
	var out []ray
	e.likely(func(m *member, lu *luck, weight float64) {
		r := ray{course: m.course, luck: lu, weight: weight}
		r.tight = e.tighten(m, &r.course, &o, lu)
		r.start = r.course.age
		r.strays = math.Hypot(o.swing/math.Sqrt2, o.wander) * lu.heat // a swing's r.m.s. is its half over √2
		out = append(out, r)
	})
	return out
}

// along brings a bottle to an age, in the steps of a forecast: its volumes, and
// its pressure in bar.
func (e *Estimator) along(r *ray, age float64) (volumes, bar float64) {
	s := &r.course
	for s.age < age {
		dt := math.Min(age-s.age, firstStep+stretch*(s.age-r.start))
		l := e.laws.at(r.room)
		s.age += dt
		s.forward(r.bottle, r.bottle.feels(l)*e.belief.pressed(l, s.made), dt)
	}
	volumes = r.residual + s.made
	if r.bottle.regime == leaking {
		volumes += hidden * r.luck.strength
	}
	return volumes, r.still.gauge(volumes, e.laws.at(r.warmth(age))) + weather*r.luck.weather
}

// settles is how many days bottles take to their room's mean, from where they
// stand now (a tenth part is left after a day).
const settles = 0.43

// warmth of a bottle at an age, in °C: as it is now, and by and by as its room.
func (r *ray) warmth(age float64) float64 {
	left := math.Exp(-(age - r.start) / settles)
	return r.room + left*(r.course.beerC-r.room) + (1-left)*r.strays
}
