package synth

import (
	"math"
	"slices"
	"time"

	"conditiond/model"
)

// What can be told apart in the mean of a day: a tenth of a bar by somebody who has the other bottle
// to compare, a quarter by anybody.
const (
	knowable = 0.10 // bar
	evident  = 0.25
)

// Of a leak it is the gas: the headspace of a bottle that has just begun to leak
// sinks within hours, as it does after a night that was cold (judgement).
const missing = 0.10 // volumes

func (r *Recording) faults(plain *life) []Fault {
	out := []Fault{}
	out = append(out, r.lotFaults(plain)...)
	for _, f := range r.scenario.Faults {
		out = append(out, r.sensorFault(f))
	}
	if f, ok := r.fullScale(); ok {
		out = append(out, f)
	}
	slices.SortStableFunc(out, func(a, b Fault) int { return a.StartsAt.Compare(b.StartsAt) })
	return out
}

func (r *Recording) lotFaults(plain *life) []Fault {
	s := r.scenario
	var out []Fault
	after := func(days float64) time.Time {
		return r.at(0).Add(time.Duration(days * 24 * float64(time.Hour))).Truncate(time.Second)
	}
	unlike := func(kind string, from time.Time, other *life) Fault {
		return Fault{Kind: kind, StartsAt: from, KnowableAt: r.apart(other, knowable), EvidentAt: r.apart(other, evident)}
	}
	switch {
	case s.Dies > 0:
		out = append(out, unlike("stalled", after(s.Dies), plain))
	case s.Guest.From > 0:
		out = append(out, unlike("late-attenuation", after(s.Guest.From), plain))
	case s.Family == Unfinished, s.Family == OverPrimed && r.hidden():
		out = append(out, Fault{Kind: string(s.Family), StartsAt: r.at(0), KnowableAt: r.recorded(r.moreGas())})
	}
	if v := s.told(); v.Leak.Size > 0 {
		out = append(out, Fault{Kind: "leak", Size: round(v.Leak.Size), StartsAt: after(v.Leak.From), KnowableAt: r.misses(r.tight), EvidentAt: r.sinks()})
	}
	return out
}

// misses is the first hour at which the bottle holds less than another by what
// a leak is known by.
func (r *Recording) misses(other *life) *time.Time {
	return r.first(func(i int) bool { return volumes(other.co2[i]-r.told.co2[i]) >= missing })
}

// sinks is the first hour at which it holds as much less than it once did.
func (r *Recording) sinks() *time.Time {
	most := 0.0
	return r.first(func(i int) bool {
		most = math.Max(most, r.told.co2[i])
		return volumes(most-r.told.co2[i]) >= missing
	})
}

// first full hour of the recording at which something is so; nil = never.
func (r *Recording) first(so func(i int) bool) *time.Time {
	for i := 0; i <= 144*r.scenario.Days; i += 6 {
		if so(i) {
			at := r.at(i)
			return &at
		}
	}
	return nil
}

// hidden says whether there is clearly more sugar than in the document.
func (r *Recording) hidden() bool {
	return volumes(r.goal) > r.planned()+0.15
}

// planned is the CO2 that the document's sugar can give, volumes.
func (r *Recording) planned() float64 {
	l := r.scenario.Lot
	b := l.Bottles[0].Bottle()
	if l.GaugeBottle != nil {
		b = l.GaugeBottle.Bottle()
	}
	return float64(l.PrimingIn(b) + l.Unfinished())
}

// moreGas is when 0.15 volumes more are made than planned; nil = never.
func (r *Recording) moreGas() *time.Time {
	for i, made := range r.tight.all {
		if volumes(made) >= r.planned()+0.15 {
			at := r.at(i)
			return &at
		}
	}
	return nil
}

func (r *Recording) recorded(at *time.Time) *time.Time {
	if at == nil || at.After(r.end()) {
		return nil
	}
	return at
}

// apart is the first hour at which the bottle and another have differed by this
// much in the mean of a day.
func (r *Recording) apart(other *life, bar float64) *time.Time {
	sum := 0.0
	for h := 0; h <= 24*r.scenario.Days; h++ {
		sum += r.told.gauge[6*h] - other.gauge[6*h]
		if h >= 24 {
			sum -= r.told.gauge[6*h-144] - other.gauge[6*h-144]
		}
		if math.Abs(sum)/24 >= bar {
			at := r.at(6 * h)
			return &at
		}
	}
	return nil
}

// naturalStall by the definition that stands at Truth.
func (r *Recording) naturalStall() *time.Time {
	const week = 7 * 144
	warm := 0
	for i := range r.until(r.end()) {
		if warm++; r.tight.celsius[i] < 16 {
			warm = 0
		}
		if warm > week && r.progress(i) < 0.9 && volumes(r.tight.all[i]-r.tight.all[i-week]) < 0.07 {
			at := r.at(i)
			return &at
		}
	}
	return nil
}

func (r *Recording) sensorFault(f SensorFault) Fault {
	out := Fault{Kind: string(f.Kind), Sensor: f.Sensor, StartsAt: f.From}
	if !f.To.IsZero() && f.To.Before(r.end()) {
		out.EndsAt = &f.To
	}
	switch f.Kind {
	case Silent:
		at := f.From.Add(3 * r.scenario.interval())
		out.KnowableAt = &at
	case GaugeError:
		out.KnowableAt = r.strayed(f.From)
	case Stuck:
		out.KnowableAt = r.held(f)
	}
	return out
}

// strayed is when the gauge's own fault has grown to a tenth of a bar.
func (r *Recording) strayed(from time.Time) *time.Time {
	e := r.scenario.Gauge.Err
	for at := from; at.Before(r.end()); at = at.Add(time.Hour) {
		day := at.Sub(r.at(0)).Hours() / 24
		off := e.PerDay * day
		if e.KnockDay > 0 && day >= e.KnockDay {
			off += e.Knock
		}
		if math.Abs(off) >= knowable {
			return &at
		}
	}
	return nil
}

// held is when a stuck gauge is a tenth of a bar off, or a day has gone by:
// none stands that still. A thermometer's limit is a kelvin.
func (r *Recording) held(f SensorFault) *time.Time {
	value, limit := r.told.gauge, knowable
	if f.Sensor == r.scenario.Thermometer.Name {
		value, limit = r.told.celsius, 1
	}
	first := r.until(f.From) - 1
	for i := first; i < r.until(r.end()); i++ {
		at := r.at(i)
		if !f.To.IsZero() && at.After(f.To) {
			return nil
		}
		if math.Abs(value[i]-value[first]) >= limit || at.Sub(f.From) >= 24*time.Hour {
			return &at
		}
	}
	return nil
}

// fullScale is a fault of a gauge whose range ends below the bottle's pressure.
func (r *Recording) fullScale() (Fault, bool) {
	d := r.scenario.Gauge
	f := Fault{Kind: string(FullScale), Sensor: d.Name}
	for _, x := range r.Readings {
		if x.Quantity != model.Pressure || !x.Full {
			continue
		}
		// A spike that hits the end of the range is a glitch, not the bottle.
		if d.toUnit(r.truthFor(&d, x.At, 0)) < 0.93*d.FullScale {
			continue
		}
		if f.StartsAt.IsZero() {
			at := x.At
			f.StartsAt, f.KnowableAt = at, &at
		}
	}
	return f, !f.StartsAt.IsZero()
}

func (s *Scenario) silences() []Silence {
	out := append([]Silence{}, s.Feed.Silences...)
	for _, f := range s.Faults {
		if f.Kind == Silent {
			to := f.To
			if to.IsZero() {
				to = s.Lot.PackagedAt.UTC().Add(time.Duration(s.Days) * 24 * time.Hour)
			}
			out = append(out, Silence{f.Sensor, f.From, to})
		}
	}
	return out
}

func (s *Scenario) happenings() []Happening {
	out := []Happening{}
	for _, e := range s.Events {
		h := Happening{Kind: e.Kind, From: e.From}
		if !e.To.IsZero() {
			h.To = &e.To
		}
		if e.Kind == Chilled {
			h.Note = "the thermometer stays behind"
		}
		out = append(out, h)
	}
	return out
}
