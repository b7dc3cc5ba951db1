package alerts

import (
	"time"

	"conditiond/model"
	"conditiond/model/estimate"
)

// Situation is all that the rules look at: one lot, its sensors and what is
// estimated of it, at an instant.
type Situation struct {
	Now      time.Time
	Lot      model.Lot
	Limit    model.BarGauge // the lowest rating among its bottles
	Weakest  string         // which those are
	Ceiling  model.Volumes  // of those; 0 = they are limited by pressure
	Opened   time.Time      // watching began
	Phase    estimate.Phase
	Estimate *estimate.Estimate // nil before the first
	Seen     []Seen             // by people, in the order in which it was written down
	// What 98 in a hundred bottles end with, by chance; 0 = not known.
	Poorest, Richest model.Volumes
	Weak             model.Sealed // one of the weakest bottles, its oxygen spent

	Thermometer Sensor
	Gauge       *Sensor // nil without a gauge bottle
	YeastAsIn   string  // the lot whose gauge tells of this one's yeast, by name; empty = none
	Kin         string  // for a lot without a gauge, the part of its batch that makes more gas than was entered; empty = none
}

// Sensor as a rule sees it.
type Sensor struct {
	Name     string
	Topic    string
	Last     time.Time // of the last good reading; zero = none
	Value    float64   // middle of the last three, °C or bar gauge
	Full     bool      // at or above full scale
	Silent   bool
	Out      bool   // out of service: a person works on it
	Rejected int    // refused in a row
	Reason   string // of the last refusal
}

// days since packaging.
func (s Situation) days() float64 { return s.Now.Sub(s.Lot.PackagedAt).Hours() / 24 }

// signs of the estimate; zero without one.
func (s Situation) signs() estimate.Signs {
	if s.Estimate == nil {
		return estimate.Signs{}
	}
	return s.Estimate.Signs
}

// live says that the lot makes gas and is watched for it.
func (s Situation) live() bool {
	return s.Estimate != nil && s.Phase != estimate.Closed && s.Phase != estimate.Chilled
}
