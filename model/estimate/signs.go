package estimate

import "math"

// signs are read off the cloud and the last days of the gauge.
func (e *Estimator) signs(all []fate, q *quantiles) Signs {
	var s Signs
	p := e.now.cloud.chances()
	age := float64(e.next) * hour
	plan := float64(e.setup.Lot.PrimingIn(e.belief.vessel)) + e.belief.left
	s.Ready = q.chance(func(f *fate) bool { return f.progress >= 0.95 })
	s.Leak = p[leaking] * chanceIn(e.now.cloud.members[leaking], func(m *member) bool { return age > m.bottle.begins+someDays })
	if e.now.history.rests() {
		s.Leak = math.Min(s.Leak, 0.45)
	}
	s.Away = p[away] * chanceIn(e.now.cloud.members[away], func(m *member) bool { return age > m.bottle.begins })
	s.Astray = p[astray] * chanceIn(e.now.cloud.members[astray], func(m *member) bool { return age > m.bottle.begins })
	begun := func(m *member) bool { return m.bottle.size-m.course.extra > 0.06 }
	s.Unexpected = p[extra] * chanceIn(e.now.cloud.members[extra], begun)
	for r := range e.now.cloud.members {
		if regime(r) == extra {
			continue
		}
		s.Unexpected += p[r] * chanceIn(e.now.cloud.members[r], func(m *member) bool { return m.course.made > plan+0.15 })
	}
	target := float64(e.setup.Lot.TargetVolumes)
	s.Over = q.chance(func(f *fate) bool { return f.final > target+0.4 })
	s.RichPeakShare = *orNothing(q.of(func(f *fate) float64 { return f.richPeak }))
	s.RichWorstShare = *orNothing(q.of(func(f *fate) float64 { return f.richWorst }))
	s.GasPerDay = q.of(func(f *fate) float64 { return f.pace })
	s.GaugeFault = e.now.gauge.fault()
	byGauge := e.belief.gauged && s.Leak <= 0.45
	s.Flat = e.flat(q, age, byGauge)
	s.Due = e.belief.mean[residual] + plan
	short := math.Inf(-1)
	if byGauge && s.Flat {
		short = s.Due - shortBy
	}
	s.Stalled = q.chance(func(f *fate) bool { return f.pace < stopped && (f.progress < 0.9 || f.co2 < short) })
	s.Done = s.Ready >= readyEnough && s.Stalled < mayHaveStopped &&
		(!byGauge || q.chance(func(f *fate) bool { return f.progress >= 0.90 }) >= nearlySure)
	return s
}

// When a lot may be called done. By temperature alone it never gets surer than
// what a beer may hide; a gauge shows what is hidden, and where it still leaves
// a twentieth for less than 0.90, that is a reason to wait (judgement, by trials
// on invented lots).
const (
	readyEnough = 0.85 // probability of 0.95
	nearlySure  = 0.95 // probability of 0.90, by a gauge that can be trusted
)

// What has stopped. Far short of what its sugar gives it is the yeast's doing or
// the scale's, and nobody can tell which from outside (judgement).
const (
	stopped        = 0.012 // volumes a day
	shortBy        = 0.35  // volumes, by a gauge that stands still
	mayHaveStopped = 0.25  // probability of it at which nothing is called done
)

// What is put in the cold falls as fast as what leaks, but not for long: some
// days must pass before a fall is called a leak, and the gauge mustn't stand
// still by then.
const (
	someDays = 2.5
	stands   = 0.006 // bar, from one day's mean to the next
	empty    = 0.3   // bar; below, there is little left to fall
)

// rests says whether the gauge has stood still for two days, above nothing.
func (h *history) rests() bool {
	n := h.hours()
	day := func(from int) float64 {
		sum, k := 0.0, 0.0
		for _, g := range h.gauge[max(0, from) : from+24] {
			if g == g {
				sum, k = sum+float64(g), k+1
			}
		}
		return sum / k // NaN without data, and then nothing is known
	}
	if n < 48 {
		return false
	}
	last, before := day(n-24), day(n-48)
	return last > empty && math.Abs(last-before) < stands
}

func orNothing(i *Interval) *Interval {
	if i == nil {
		return new(Interval)
	}
	return i
}

// chanceIn a regime of something.
func chanceIn(list []member, is func(*member) bool) float64 {
	all, p := total(list), 0.0
	for i := range list {
		if is(&list[i]) {
			p += math.Exp(list[i].weight - all)
		}
	}
	return p
}

const (
	flatVolumes = 0.04 // between the means of a day and of the day two before
	flatCover   = 12   // hours of data a day
)

// flat says whether the volumes by the gauge, corrected for temperature, have
// stood still for three days. Without a gauge that can be trusted, whether the
// model has been sure for a day.
func (e *Estimator) flat(q *quantiles, age float64, byGauge bool) bool {
	if !byGauge {
		return age > 3 && q.chance(func(f *fate) bool { return f.ready < age-1 }) >= readyEnough
	}
	h := &e.now.history
	n := h.hours()
	if n < 72 {
		return false
	}
	last, ok1 := e.volumes(n-24, n)
	first, ok2 := e.volumes(n-72, n-48)
	return ok1 && ok2 && math.Abs(last-first) < flatVolumes
}

// volumes by the gauge in the mean of some hours, as at rest.
func (e *Estimator) volumes(from, to int) (float64, bool) {
	h := &e.now.history
	t := float64(h.room[max(0, from-48)])
	sum, k := 0.0, 0.0
	for i := max(0, from-48); i < to; i++ {
		t += (float64(h.room[i]) - t) / 7 // beer and headspace together lag by some hours
		g := float64(h.gauge[i])
		if i < from || g != g {
			continue
		}
		l := e.laws.at(t)
		sum += (g + e.belief.station - l.vapour - e.belief.mean[airBar]*l.warm) / l.gain
		k++
	}
	return sum / math.Max(1, k), k >= flatCover
}
