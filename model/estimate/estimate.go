// Package estimate says how far a lot has come, how sure that is, what is still
// to come, and what looks wrong. It carries a cloud of possible bottles, moves
// it by the model, weighs it by what the gauge says, and reads the answer off
// the cloud. It is pure and deterministic: the same lot and readings give the
// same bytes.
package estimate

import (
	"time"

	"conditiond/model"
)

// Interval is a median with its 90 % interval.
type Interval struct {
	P05 float64 `json:"p05"`
	P50 float64 `json:"p50"`
	P95 float64 `json:"p95"`
}

// When is an Interval of instants. A nil bound is "not within the time looked
// at" (a year).
type When struct {
	P05 *time.Time `json:"p05"`
	P50 *time.Time `json:"p50"`
	P95 *time.Time `json:"p95"`
}

// OverPressure is the lot's risk: the richest bottle in a hundred of the
// weakest kind, at the warmest that is foreseen.
type OverPressure struct {
	LimitBar    model.BarGauge `json:"limit_bar"`
	Probability float64        `json:"probability"` // that an average bottle will pass its rating
	CrossesAt   *When          `json:"crosses_at"`  // null where the median never crosses
}

// Phase of a lot's life.
type Phase string

const (
	Conditioning Phase = "conditioning"
	Ready        Phase = "ready"
	Chilled      Phase = "chilled"
	Closed       Phase = "closed"
)

// Estimate is what is said of a lot at an instant. What can't be known is nil.
type Estimate struct {
	Time         time.Time    `json:"time"`
	Lot          string       `json:"lot"`
	BeerC        *float64     `json:"beer_c"`
	GaugeBar     *float64     `json:"gauge_bar"`
	CO2Volumes   *Interval    `json:"co2_volumes"`
	Progress     *Interval    `json:"progress"`
	ReadyAt      *When        `json:"ready_at"`
	FinalVolumes *Interval    `json:"final_volumes"`
	PeakBar      *Interval    `json:"peak_bar"`
	WorstCaseBar *Interval    `json:"worst_case_bar"`
	OverPressure OverPressure `json:"over_pressure"`
	Phase        Phase        `json:"phase"`

	Signs Signs `json:"-"`
}

// Signs are what the alert rules look at beside the numbers: probabilities of
// what may be wrong, and the evidence for each.
type Signs struct {
	Ready      float64 // probability that progress has passed 0.95
	Done       bool    // it is as sure as a person who is sent to chill one may expect
	Flat       bool    // temperature-corrected volumes have been flat for three days of good data
	Leak       float64 // probability that the gauge bottle leaks
	Away       float64 // probability that the gauge bottle stands elsewhere than the thermometer
	Astray     float64 // probability that the gauge drifts or was knocked
	Due        float64 // volumes that the lot document gives in the end
	Stalled    float64 // probability that it has stopped unfinished, or far short of what is due
	Unexpected float64 // probability of more gas than the lot document can give
	Over       float64 // probability of ending more than 0.4 volumes above target
	GaugeFault string  // what contradicts the gauge, in words; empty when nothing does

	// The richest bottle in a hundred of the weakest kind, against its rating:
	// the highest pressure still to come, and at worst_case_c, as shares.
	RichPeakShare  Interval
	RichWorstShare Interval

	GasPerDay *Interval // volumes a day being made now, temperature-corrected
}

// Setup is all that an Estimator starts from.
type Setup struct {
	Lot     model.Lot
	Station model.Bar // the air's pressure at the site
	// Gauge's full scale, bar gauge; 0 = unknown.
	FullScale model.BarGauge
	// Thermometer is the sensor that tells the space's temperature.
	Thermometer string
}

// Event is something done to the bottles.
type Event struct {
	At   time.Time
	Kind EventKind
}

// EventKind is what was done.
type EventKind string

const (
	ChilledAll EventKind = "chill" // the lot was put in the cold
	LotClosed  EventKind = "close"
)
