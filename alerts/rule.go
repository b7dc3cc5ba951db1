package alerts

import "time"

// Finding is what a rule has to say now.
type Finding struct {
	Name     Name
	Sensor   string // set when it is about a sensor
	Severity Severity
	// Grade tells steps of one severity apart: a higher one is told anew.
	Grade   int
	Summary string
	Advice  string
	// After is how long it must hold before anybody is told.
	After time.Duration
}

// Rule looks at a situation. `open` is the severity at which its alert already
// stands, empty if it doesn't: a rule keeps hold of an open alert a little
// longer than it takes to raise it.
type Rule func(c Config, s Situation, open func(Name, string) Severity) []Finding

// Rules are all of them; a new one is a file and a line here.
func Rules() []Rule {
	return []Rule{
		overPressure,
		unexpectedFermentation,
		overCarbonation,
		gushing,
		unlike,
		stopMark,
		leak,
		stalled,
		tooCold,
		tooWarm,
		sensorSilent,
		sensorFault,
		ready,
	}
}

// one wraps a finding.
func one(f Finding) []Finding { return []Finding{f} }
