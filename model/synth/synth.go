// Package synth invents lots whose truth is known: for tests, for the demo and
// for recordings that somebody else judges by. Start with Draw, which draws a
// lot from a seed, and Scenario.Play, which lets it happen.
//
// Its world is meant to be richer than an estimator's, and built otherwise:
// cells wake, divide and die, table sugar is inverted before it is eaten,
// glucose, fructose, maltose and maltotriose are taken one by one, malt sugar
// shies at pressure, three gases cross the beer's surface both ways, sensors
// err in their own units, and the brewer measures as brewers do. The figures in
// it are invented, chosen so that lots turn out as the trade says they do; none
// is a measurement. It is pure and deterministic: a seed gives the same bytes.
package synth

import (
	"time"

	"conditiond/model"
)

// Family is a kind of story.
type Family string

// Families.
const (
	HealthyGauge    Family = "healthy-gauge"
	HealthyNoGauge  Family = "healthy-no-gauge"
	ColdCloset      Family = "cold-closet"
	DailySwing      Family = "daily-swing"
	Warm            Family = "warm"
	StrongOld       Family = "strong-old"
	LagerLot        Family = "lager"
	MixedSugars     Family = "mixed-sugars"
	DropsLot        Family = "drops"
	OverPrimed      Family = "over-primed"
	Unfinished      Family = "unfinished" // malt sugar was left in the beer
	LateAttenuation Family = "late-attenuation"
	LeakStart       Family = "leak-start"
	LeakLater       Family = "leak-later"
	Stalled         Family = "stalled"
	HeatWaveLot     Family = "heat-wave"
	ChilledLot      Family = "chilled"
	MovedLot        Family = "moved"
	SensorDrift     Family = "sensor-drift"
	SensorFaults    Family = "sensor-faults"
	HighAltitude    Family = "high-altitude"
)

// Families are all of them, in the order in which Draw deals them.
func Families() []Family {
	return []Family{HealthyGauge, HealthyNoGauge, ColdCloset, DailySwing, Warm, StrongOld, LagerLot, MixedSugars,
		DropsLot, OverPrimed, Unfinished, LateAttenuation, LeakStart, LeakLater, Stalled, HeatWaveLot, ChilledLot,
		MovedLot, SensorDrift, SensorFaults, HighAltitude}
}

// Site is where the lot stands.
type Site struct {
	Name     string
	Timezone string
	Altitude float64 // m
}

// Scenario is a lot, as its brewer believes it to be and as it is.
type Scenario struct {
	Family  Family
	Seed    uint64
	Index   int
	Site    Site
	Station model.Bar     // the air's mean pressure
	Days    int           // of recording after packaging
	Before  time.Duration // of recording before packaging, with the gauge open to the air

	Lot model.Lot // the document

	Filling Filling
	Nature  Nature
	Gauged  *Vessel  // the bottle with the gauge
	Bottles []Vessel // an average one of each of the lot's kinds
	Spread  float64  // of the priming between bottles, one s.d.
	Room    Room
	Events  []Event
	Dies    float64 // the day on which the yeast starts to die; 0 = never
	Guest   Guest

	Thermometer Device
	Gauge       Device // no name = no gauge
	Interval    time.Duration
	Feed        Feed
	Faults      []SensorFault
}

// reach is how long the truth is followed.
const reach = 180 * 24 * time.Hour

// Hour is the truth at an instant. Pressures are bar above the local
// atmosphere.
type Hour struct {
	At         time.Time
	BeerC      float64
	GaugeBar   float64
	CO2Volumes float64 // in beer and headspace, per volume of beer
	Progress   float64 // of a tight bottle
}

// Recording is what was said, and what was.
type Recording struct {
	Readings     []model.Reading // in order of time
	Messages     []Message       // as a subscriber saw them
	Hours        []Hour          // from packaging to the end of the recording
	ReadyAt      *time.Time      // progress 0.95; nil = never
	FinalVolumes float64         // of a tight bottle: CO2 at capping and all that is made within 180 days

	scenario *Scenario
	climate  *climate
	told     *life // the bottle whose gauge or twin this is
	tight    *life // the same without a leak
	goal     float64
}

// Play lets the lot happen.
func (s Scenario) Play() *Recording {
	start := s.Lot.PackagedAt.UTC()
	c := s.climate(start.Add(-s.Before), int((s.Before+reach)/step)+1)
	r := &Recording{scenario: &s, climate: c}
	r.told = s.live(s.told(), c)
	r.tight = r.told
	if v := s.told(); v.Leak.Size > 0 {
		v.Leak = Leak{}
		r.tight = s.live(v, c)
	}
	r.goal = s.goal(r.tight, c)
	r.hours()
	samples := r.samples()
	r.Messages = s.post(samples)
	r.Readings = readings(samples)
	return r
}

// told is the bottle that the recording is about.
func (s *Scenario) told() Vessel {
	if s.Gauged != nil {
		return *s.Gauged
	}
	return s.Bottles[0]
}

func (r *Recording) hours() {
	s, start := r.scenario, r.scenario.Lot.PackagedAt.UTC()
	for h := 0; h <= 24*s.Days; h++ {
		i := 6 * h
		r.Hours = append(r.Hours, Hour{start.Add(time.Duration(h) * time.Hour), r.told.celsius[i], r.told.gauge[i],
			volumes(r.told.co2[i]), r.progress(i)})
	}
	for i := range r.tight.made {
		if r.progress(i) >= 0.95 {
			at := start.Add(time.Duration(i) * step)
			r.ReadyAt = &at
			break
		}
	}
	r.FinalVolumes = volumes(r.tight.final())
}

// progress of the tight bottle at a step.
func (r *Recording) progress(i int) float64 { return min(1, r.tight.made[i]/r.goal) }

func (r *Recording) end() time.Time {
	return r.scenario.Lot.PackagedAt.UTC().Add(time.Duration(r.scenario.Days) * 24 * time.Hour)
}

func volumes(g float64) float64 { return float64(model.GramsPerLitre(g).Volumes()) }
