// Package alerts decides when a person is needed: rules, the book of open
// alerts, who is told what and when. It is pure. Delivery is notify's.
package alerts

import "time"

// Name of an alert.
type Name string

const (
	OverPressure           Name = "over-pressure"
	OverCarbonation        Name = "over-carbonation"
	Leak                   Name = "leak"
	Stalled                Name = "stalled"
	TooCold                Name = "too-cold"
	TooWarm                Name = "too-warm"
	UnexpectedFermentation Name = "unexpected-fermentation"
	SensorSilent           Name = "sensor-silent"
	SensorFault            Name = "sensor-fault"
	Ready                  Name = "ready"
	WatchImpaired          Name = "watch-impaired" // of the daemon itself, live only
	DigestName             Name = "digest"         // nothing happened: a word at a set time
	Several                Name = "several"        // notices that waited, merged into one
)

// Severity says how much a person is needed.
type Severity string

const (
	Notice  Severity = "notice"
	Warning Severity = "warning"
	Danger  Severity = "danger"
)

// Rank orders severities; an unknown one is 0.
func (s Severity) Rank() int {
	switch s {
	case Notice:
		return 1
	case Warning:
		return 2
	case Danger:
		return 3
	}
	return 0
}

// State of an alert.
type State string

const (
	Raised       State = "raised"
	Acknowledged State = "acknowledged" // a person has seen it
	Shelved      State = "shelved"      // put away until a time
	Returned     State = "returned"     // a danger whose cause is gone, and nobody has acknowledged it
	Cleared      State = "cleared"
)

// Alert is one cause that a person should know of, as it stands after a
// change. Its id is the same from raised to cleared.
type Alert struct {
	ID       string     `json:"id"`
	Time     time.Time  `json:"time"` // of the change
	Since    time.Time  `json:"since"`
	Lot      string     `json:"lot,omitempty"`
	Sensor   string     `json:"sensor,omitempty"`
	Name     Name       `json:"alert"`
	Severity Severity   `json:"severity"`
	Grade    int        `json:"grade,omitempty"` // within the severity
	State    State      `json:"state"`
	Summary  string     `json:"summary"`
	Advice   string     `json:"advice"`
	By       string     `json:"by,omitempty"`    // who acknowledged or shelved it
	Until    *time.Time `json:"until,omitempty"` // of a shelved one
}

// Message is one notice to one recipient, as it goes out to a webhook. The id
// stays the same over retries.
type Message struct {
	ID       string    `json:"id"`
	To       string    `json:"to,omitempty"` // the recipient, in the journal only
	Time     time.Time `json:"time"`
	Lot      string    `json:"lot,omitempty"`
	Sensor   string    `json:"sensor,omitempty"`
	Alert    Name      `json:"alert"`
	Severity Severity  `json:"severity"`
	State    State     `json:"state"`
	Summary  string    `json:"summary"`
	Advice   string    `json:"advice"`
	DelayedS int64     `json:"delayed_s"` // since it happened; 0 = told in time
	// Merged are the notices in one of several, the last of each alert.
	Merged []Message `json:"merged,omitempty"`
}
