package web

import (
	"context"
	"errors"
	"time"

	"conditiond/daemon/engine"
	"conditiond/model"
	"conditiond/model/estimate"
)

// Daemon is what the page and the API need of the running program. All of it
// may be called at the same time from many goroutines.
type Daemon interface {
	// View is the latest; nobody changes it.
	View() *engine.View
	// Changed is closed at the next change. Take it before View, so that no
	// change falls between.
	Changed() <-chan struct{}
	// Do hands in Open, Note, Chill, Close or Acknowledge and waits until it
	// is journalled; the daemon stamps At. It returns a *LotFault for a
	// document that can't be taken, an *engine.Unfit for such a note,
	// ErrNotFound and ErrConflict.
	Do(ctx context.Context, in engine.Input) error
	// Readings of a sensor in [from, to), oldest first. A zero bound is open.
	// Of more than limit they are the first, or without a from the last. An
	// unknown sensor is ErrNotFound.
	Readings(ctx context.Context, sensor string, from, to time.Time, limit int) ([]model.Reading, error)
	// Series of a lot in [from, to), each list thinned to about `points`. A
	// zero from is the lot's beginning, a zero to is now. An unknown lot is
	// ErrNotFound.
	Series(ctx context.Context, lot string, from, to time.Time, points int) (Series, error)
	Health() Health
}

var (
	// ErrNotFound: no lot, alert or sensor of that name.
	ErrNotFound = errors.New("not found")
	// ErrConflict: as things stand it can't be done, such as opening a lot
	// whose id is taken. Wrap it with what is in the way.
	ErrConflict = errors.New("conflict")
)

// LotFault says all that is wrong with a lot document.
type LotFault struct{ Faults []model.Fault }

func (e *LotFault) Error() string {
	if len(e.Faults) == 0 {
		return "the lot document is at fault"
	}
	return e.Faults[0].Path + ": " + e.Faults[0].Problem
}

// Series is what happened to a lot over a time, oldest first.
type Series struct {
	Lot         string    `json:"lot"`
	From        time.Time `json:"from"`
	To          time.Time `json:"to"`
	Estimates   []Point   `json:"estimates"`
	Temperature []Sample  `json:"temperature_c"` // the thermometer's readings, thinned
	Pressure    []Sample  `json:"pressure_bar"`  // the gauge's readings, bar gauge, thinned
}

// Point is an estimate as a chart needs it.
type Point struct {
	Time       time.Time          `json:"time"`
	BeerC      *float64           `json:"beer_c"`
	GaugeBar   *float64           `json:"gauge_bar"`
	CO2Volumes *estimate.Interval `json:"co2_volumes"`
}

// Sample is a reading without its names.
type Sample struct {
	Time  time.Time `json:"time"`
	Value float64   `json:"value"`
}

// Health is how the daemon itself is.
type Health struct {
	Now       time.Time // by the daemon's clock: ages are counted from it
	Version   string
	Ready     bool // subscribed, taking in and journalling
	Broker    Part
	Watch     Part // whether what comes is taken in: the loop turns
	Journal   Part
	Clock     Part       // whether the host's clock can be trusted
	Followers []Follower // by name: InfluxDB, each recipient of notices
}

// Part is something that the daemon leans on.
type Part struct {
	OK      bool
	Since   time.Time // since when it is so; zero = not known
	Problem string    // what is wrong and what would be right; without secrets
}

// Follower is a sink that reads the journal.
type Follower struct {
	Name    string
	Behind  int64  // entries that it has not carried yet
	Problem string // its last error while it stands; empty when well
	Since   time.Time
	Aside   int64  // what it left out since the start, being refused for good
	Refusal string // of the last of those
}
