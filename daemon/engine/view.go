package engine

import (
	"time"

	"conditiond/alerts"
	"conditiond/model"
	"conditiond/model/estimate"
)

// View is all that is known at an instant. It is never changed after it was
// made, so readers need no lock.
type View struct {
	Time    time.Time      `json:"time"`
	Site    string         `json:"site"`
	Lots    []LotView      `json:"lots"`    // by opening, newest first; closed ones last
	Sensors []SensorView   `json:"sensors"` // by name
	Alerts  []alerts.Alert `json:"alerts"`  // open ones, gravest first
	Figures alerts.Figures `json:"figures"`
	Recent  []alerts.Alert `json:"recent"` // last changes, newest first
}

// LotView is a lot as it stands.
type LotView struct {
	Document model.Lot          `json:"document"`
	Estimate *estimate.Estimate `json:"estimate"` // latest; null before the first
	// Prospect answers what would be at another temperature.
	Prospect *estimate.Prospect `json:"-"`
	Alerts   []alerts.Alert     `json:"alerts"`         // open ones
	Hold     *alerts.Hold       `json:"hold,omitempty"` // until somebody decides; nil = none
	Notes    []NoteView         `json:"notes"`
	LimitBar model.BarGauge     `json:"limit_bar"`
	Weakest  string             `json:"weakest"` // which bottles set the limit
	// Names of its sensors; Gauge is empty without a gauge bottle.
	Thermometer string     `json:"thermometer"`
	Gauge       string     `json:"gauge,omitempty"`
	YeastAsIn   string     `json:"yeast_as_in,omitempty"` // the lot whose gauge tells of its yeast; empty = none
	OpenedAt    time.Time  `json:"opened_at"`
	ChilledAt   *time.Time `json:"chilled_at,omitempty"`
	ClosedAt    *time.Time `json:"closed_at,omitempty"`
}

// NoteView is a line of the lot's record.
type NoteView struct {
	At   time.Time       `json:"at"`
	Text string          `json:"text"`
	Saw  alerts.Sighting `json:"saw,omitempty"`
	// Volumes that were measured in one bottle.
	Volumes *model.Volumes `json:"volumes,omitempty"`
}

// SensorView is a sensor as it stands. Freshness is the age of At, never of a
// message.
type SensorView struct {
	Name     string         `json:"name"`
	Topic    string         `json:"topic"`
	Quantity model.Quantity `json:"quantity"`
	Space    string         `json:"space,omitempty"`
	At       *time.Time     `json:"at"`    // of the last good reading; null = none yet
	Value    *float64       `json:"value"` // °C or bar gauge
	// LastKnown is a retained value: what the broker remembers, of unknown age.
	LastKnown *float64  `json:"last_known,omitempty"`
	Due       float64   `json:"due_s"` // how often readings are due
	Silent    bool      `json:"silent"`
	Out       *Out      `json:"out,omitempty"` // of service
	Readings  int64     `json:"readings"`      // since the start
	Rejected  int64     `json:"rejected"`
	Last      *Rejected `json:"last_rejected,omitempty"`
}
