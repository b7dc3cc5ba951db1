// Package synth invents lots whose truth is known: for tests, for the demo and
// for simulated recordings. Its world is meant to be richer than the
// estimator's, and built otherwise: yeast grows and dies, table sugar is
// inverted before it is eaten, malt sugar waits for the simple ones and shies
// at pressure, gas crosses the surface of the beer both ways, the air above it
// dissolves, and the instruments err. The figures in it are invented; none is
// a measurement. It is pure and deterministic: a seed gives the same bytes.
package synth

import (
	"time"

	"conditiond/model"
)

// Story is what happens to a lot.
type Story string

const (
	Healthy    Story = "healthy"
	OverPrimed Story = "over-primed" // nearly twice the sugar of the document
	Unfinished Story = "unfinished"  // malt sugar was left in the beer
	Leak       Story = "leak"        // of the gauge bottle, from EventDay
	Stalled    Story = "stalled"     // the yeast dies on EventDay
	Late       Story = "late"        // something else ferments on from EventDay
	Silent     Story = "silent"      // the gauge says nothing after EventDay
	HeatWave   Story = "heat-wave"   // 10 K warmer for five days from EventDay
	Chilled    Story = "chilled"     // the bottles go to 5 °C on EventDay, the thermometer stays
)

// Room is the air of a space.
type Room struct {
	Mean   model.Celsius
	Swing  float64 // K, half the daily swing
	Wander float64 // K, s.d. of the days' means
}

// Scenario is a lot and its fate.
type Scenario struct {
	Lot         model.Lot
	Station     model.Bar // 0 = the standard atmosphere
	Thermometer string    // sensor's name; "" = the space's name with "-air"
	Days        int       // of recording after packaging
	Seed        uint64
	Story       Story
	EventDay    float64       // when the story turns; 0 = day 5
	Vigour      float64       // of the yeast, 1 = usual; 0 = drawn from the seed
	Room        Room          // zero = 20 °C with a little life
	Interval    time.Duration // between readings; 0 = five minutes
	Before      time.Duration // of recording before packaging, with the gauge open to the air
}

// Hour is the truth at an instant. Pressures are bar above the local
// atmosphere.
type Hour struct {
	At         time.Time
	BeerC      float64
	GaugeBar   float64
	CO2Volumes float64 // in beer and headspace, per volume of beer
	Progress   float64 // of the yeast's own sugar
}

// Recording is what was said, and what was.
type Recording struct {
	Readings     []model.Reading // in order of time
	Hours        []Hour          // from packaging to the end of the recording
	ReadyAt      *time.Time      // progress 0.95; nil = never
	FinalVolumes float64         // CO2 at capping and all that is made within 180 days
	EventAt      time.Time       // when the story turned
}

func (s Scenario) filled() Scenario {
	if s.Station == 0 {
		s.Station = model.Atmosphere
	}
	if s.Thermometer == "" {
		s.Thermometer = s.Lot.Space + "-air"
	}
	if s.EventDay == 0 {
		s.EventDay = 5
	}
	if s.Room == (Room{}) {
		s.Room = Room{Mean: 20, Swing: 0.8, Wander: 0.5}
	}
	if s.Interval == 0 {
		s.Interval = 5 * time.Minute
	}
	return s
}

// readyWithin is how long the truth is followed past the recording.
const readyWithin = 180 * 24 * time.Hour

// Play lets the lot happen.
func (s Scenario) Play() *Recording {
	s = s.filled()
	w := newWorld(s)
	out := &Recording{EventAt: s.Lot.PackagedAt.Add(daysLong(s.EventDay)).UTC()}
	start := s.Lot.PackagedAt.UTC()
	end := start.Add(time.Duration(s.Days) * 24 * time.Hour)
	for at := start.Add(-s.Before); at.Before(start); at = at.Add(s.Interval) {
		w.open(at)
		out.Readings = w.read(out.Readings, at)
	}
	w.cap()
	nextHour, nextReading := start, start
	for at := start; at.Before(start.Add(readyWithin)); at = at.Add(worldStep) {
		if !at.Before(nextHour) {
			if !at.After(end) {
				out.Hours = append(out.Hours, w.truth(at))
			}
			nextHour = nextHour.Add(time.Hour)
			if out.ReadyAt == nil && w.progress() >= 0.95 {
				ready := at
				out.ReadyAt = &ready
			}
		}
		for ; !nextReading.After(at) && !nextReading.After(end); nextReading = nextReading.Add(s.Interval) {
			out.Readings = w.read(out.Readings, nextReading)
		}
		w.step(at)
	}
	out.FinalVolumes = w.final()
	return out
}

func daysLong(d float64) time.Duration { return time.Duration(d * 24 * float64(time.Hour)) }
