// Package engine holds all state of the daemon: it says what follows from each
// input, makes it so, and shows the whole as a view. It is pure; the daemon
// feeds it, journals what it says and carries that outward.
package engine

import (
	"time"

	"conditiond/alerts"
	"conditiond/daemon/intake"
	"conditiond/model"
	"conditiond/model/estimate"
)

// Input is one thing that happens, at an instant that never goes back. Exactly
// one of its parts is set.
type Input struct {
	At time.Time
	// Stamped is when a recorded or late message was taken down; zero = At.
	Stamped time.Time

	Message *intake.Message
	Tick    bool // something is due
	Start   *Start
	Stop    bool

	Open        *Open
	Note        *Note
	Chill       *Deed
	Close       *Deed
	Acknowledge *Acknowledge
	Shelve      *Shelve
	Service     *Service
	Parts       *[]alerts.Part // all of the watch itself that is out of order
	Mend        *Mend
}

// Start is the program's beginning, in this life.
type Start struct {
	Version string
	Lost    string `json:",omitempty"` // what the journal no longer holds, and why; empty = nothing
}

// Open begins a lot. Past holds what the journal knows of its sensors from
// before it was opened.
type Open struct {
	Lot  model.Lot       `json:"lot"`
	Past []model.Reading `json:"past,omitempty"`
}

// Note is something a person saw, did or measured, in their words.
type Note struct {
	Lot  string          `json:"lot"`
	Text string          `json:"text"`
	Saw  alerts.Sighting `json:"saw,omitempty"`
	Seen time.Time       `json:"seen"` // when, by the person's word; zero = now
	// Volumes that one bottle of the lot held, 0 to 10; nil = none was measured.
	// Or its pressure at rest, 0 to 12 bar, and its beer's temperature, 0 to 40 °C:
	// Step reckons the volumes from them.
	Volumes *model.Volumes  `json:"volumes,omitempty"`
	Bar     *model.BarGauge `json:"bar,omitempty"`
	BeerC   *model.Celsius  `json:"beer_c,omitempty"`
}

// Deed is a thing done to a lot.
type Deed struct {
	Lot  string `json:"lot"`
	Text string `json:"text,omitempty"`
}

// Acknowledge says that a person has seen an alert.
type Acknowledge struct {
	Alert string `json:"alert"` // its id
	By    string `json:"by"`
}

// Shelve puts an alert away until a time.
type Shelve struct {
	Alert string    `json:"alert"` // its id
	By    string    `json:"by"`
	Until time.Time `json:"until"`
}

// Service takes a sensor out of service, or puts it back: while somebody works
// on it, nobody is told that it is silent or at fault.
type Service struct {
	Sensor string `json:"sensor"`
	Out    bool   `json:"out"`
	By     string `json:"by"`
}

// Out says since when, and by whom, a sensor is out of service.
type Out struct {
	Since time.Time `json:"since"`
	By    string    `json:"by"`
}

// Entry is an input with what followed from it: what the journal keeps and
// followers read. What isn't there didn't happen.
type Entry struct {
	Seq int64     `json:"-"`
	At  time.Time `json:"-"`

	Readings  []model.Reading `json:"-"` // kept apart, compactly
	Mark      *Mark           `json:"-"` // of the message, to know it again
	LastKnown []model.Reading `json:"-"` // retained values: shown, never used
	Rejected  []Rejected      `json:"rejected,omitempty"`
	Tick      bool            `json:"tick,omitempty"`
	Start     *Start          `json:"start,omitempty"`
	Stop      bool            `json:"stop,omitempty"`
	Open      *Open           `json:"open,omitempty"`
	Note      *Note           `json:"note,omitempty"`
	Chill     *Deed           `json:"chill,omitempty"`
	Close     *Deed           `json:"close,omitempty"`

	Lessons   []Learnt            `json:"lessons,omitempty"`
	Taught    *estimate.Lesson    `json:"taught,omitempty"` // by the lot that was closed
	Estimates []estimate.Estimate `json:"estimates,omitempty"`
	Alerts    []alerts.Alert      `json:"alerts,omitempty"`
	Messages  []alerts.Message    `json:"messages,omitempty"`

	Acknowledge *Acknowledge   `json:"acknowledge,omitempty"`
	Shelve      *Shelve        `json:"shelve,omitempty"`
	Service     *Service       `json:"service,omitempty"`
	Parts       *[]alerts.Part `json:"parts,omitempty"`
	Mend        *Mend          `json:"mend,omitempty"`

	// next is what Step worked out beside the entry and Apply takes over; nil
	// in an entry read back from the journal, where Apply works it out again.
	next *next
}

// Empty says that nothing followed, so nothing need be kept.
func (e Entry) Empty() bool {
	return len(e.Readings)+len(e.Rejected)+len(e.Estimates)+len(e.Lessons)+len(e.Alerts)+len(e.Messages) == 0 && !e.command()
}

// Bare says that there is nothing in it beside readings.
func (e Entry) Bare() bool {
	return len(e.Rejected)+len(e.Estimates)+len(e.Lessons)+len(e.Alerts)+len(e.Messages) == 0 && !e.Tick && !e.command()
}

// Urgent says that somebody waits for it: a person is to be told, or asked.
func (e Entry) Urgent() bool { return len(e.Messages) > 0 || e.command() }

func (e Entry) command() bool {
	return e.Start != nil || e.Stop || e.Open != nil || e.Note != nil || e.Chill != nil || e.Close != nil || e.Acknowledge != nil || e.Shelve != nil || e.Service != nil || e.Parts != nil || e.Mend != nil
}

// Rejected is a payload that is no reading, and why.
type Rejected struct {
	At      time.Time `json:"at"`
	Topic   string    `json:"topic"`
	Sensor  string    `json:"sensor,omitempty"`
	Payload string    `json:"payload"` // its first bytes, printable
	Reason  string    `json:"reason"`
}
