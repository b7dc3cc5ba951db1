package synth

import (
	"math"
	"time"
)

// Room is the air of a space and the weather outside.
type Room struct {
	Mean    float64 // °C
	Trend   float64 // K per 30 days
	Wander  float64 // K, s.d. of slow changes
	Swing   float64 // K, half the daily swing
	SetBack float64 // K, heating turned down from 23 to 6 h
	Weather float64 // bar, s.d. of the air's pressure
	Zone    int     // hours east of UTC
}

// EventKind is something that befalls a lot and is no fault.
type EventKind string

// Kinds of events.
const (
	HeatWave EventKind = "heat-wave" // the room is Size K warmer
	ColdSnap EventKind = "cold-snap" // Size K colder
	Moved    EventKind = "moved"     // to a room that is Size K warmer, thermometer and all
	Shaken   EventKind = "shaken"
	Chilled  EventKind = "chilled" // the bottles go to Size °C, the thermometer stays behind
)

// Event befalls a lot.
type Event struct {
	Kind     EventKind
	From, To time.Time // To zero = for good
	Size     float64
}

// over says how much of the event is there at an instant: the air of a room
// takes six hours to follow.
func (e Event) over(at time.Time) float64 {
	if at.Before(e.From) {
		return 0
	}
	part := math.Min(1, at.Sub(e.From).Hours()/6)
	if !e.To.IsZero() && at.After(e.To) {
		part = math.Max(0, 1-at.Sub(e.To).Hours()/6)
	}
	return part
}

const (
	step     = 10 * time.Minute
	stepDays = 1.0 / 144
)

// climate is what the air did, step by step.
type climate struct {
	start     time.Time
	room      []float64 // °C at the thermometer
	there     []float64 // °C at the bottles
	barometer []float64 // bar
	shaken    []bool
}

func (s *Scenario) climate(from time.Time, n int) *climate {
	d := cast(s.Seed, s.Index, forRoom)
	c := &climate{start: from, room: make([]float64, n), there: make([]float64, n), barometer: make([]float64, n), shaken: make([]bool, n)}
	slow, quick, low := s.Room.Wander*d.NormFloat64(), 0.0, s.Room.Weather*d.NormFloat64()
	for i := range n {
		at := from.Add(time.Duration(i) * step)
		slow = drift(d, slow, 6, s.Room.Wander)
		quick = drift(d, quick, 0.06, 0.12)
		low = drift(d, low, 2.5, s.Room.Weather)
		c.room[i] = s.Room.at(at, at.Sub(s.Lot.PackagedAt)) + slow + quick
		tide := 0.0012 * math.Sin(4*math.Pi*hourOf(at)/24)
		c.barometer[i] = float64(s.Station) + low + tide
		c.befall(s.Events, i, at)
	}
	return c
}

// drift moves a value that forgets itself within days and spreads by sd.
func drift(d dice, x, days, sd float64) float64 {
	keep := math.Exp(-stepDays / days)
	return keep*x + sd*math.Sqrt(1-keep*keep)*d.NormFloat64()
}

func hourOf(at time.Time) float64 { return float64(at.Hour()) + float64(at.Minute())/60 }

// at is the room without its whims: the afternoon is warmest.
func (r Room) at(at time.Time, since time.Duration) float64 {
	local := at.Add(time.Duration(r.Zone) * time.Hour)
	h := hourOf(local)
	t := r.Mean + r.Trend*since.Hours()/720 + r.Swing*math.Sin((h-9)*math.Pi/12)
	night := math.Mod(h+1, 24) // from 23 h
	if night < 7 {
		return t - r.SetBack*(1-math.Exp(-night/2))
	}
	return t - r.SetBack*(1-math.Exp(-3.5))*math.Exp(-(night-7)/1.2)
}

func (c *climate) befall(events []Event, i int, at time.Time) {
	c.there[i] = c.room[i]
	for _, e := range events {
		part := e.over(at)
		switch e.Kind {
		case HeatWave, Moved:
			c.room[i] += e.Size * part
			c.there[i] += e.Size * part
		case ColdSnap:
			c.room[i] -= e.Size * part
			c.there[i] -= e.Size * part
		case Chilled:
			if part > 0 && (e.To.IsZero() || at.Before(e.To)) {
				c.there[i] = e.Size + 0.4*math.Sin(hourOf(at)*2*math.Pi) // the compressor
			}
		case Shaken:
			c.shaken[i] = c.shaken[i] || at.After(e.From.Add(-step)) && !at.After(e.To)
		}
	}
}

// index of the step at or before an instant.
func (c *climate) index(at time.Time) int {
	return int(within(float64(at.Sub(c.start)/step), 0, float64(len(c.room)-1)))
}
