package daemon

import "time"

// Pace is how the daemon's time runs: along with the clock, or, for the demo,
// from Start on faster, and along with the clock again from End. It is the only
// place that reads the clock for the engine.
type Pace struct {
	Start, End time.Time // zero = the clock itself
	Began      time.Time // by the clock
	Speed      float64   // seconds of the daemon's time in one of the clock's
}

// Now by the daemon's time.
func (p Pace) Now() time.Time {
	if p.Start.IsZero() {
		return time.Now().UTC()
	}
	gone := time.Since(p.Began)
	fast := p.ofClock(p.End.Sub(p.Start))
	if gone > fast {
		return p.End.Add(gone - fast).UTC()
	}
	return p.Start.Add(time.Duration(float64(gone) * p.Speed)).UTC()
}

// Until is how long the clock takes to an instant of the daemon's time.
func (p Pace) Until(at time.Time) time.Duration {
	now := p.Now()
	d := max(0, at.Sub(now))
	if p.Start.IsZero() || !now.Before(p.End) {
		return d
	}
	return p.ofClock(d)
}

// ofClock is how long a stretch of the fast time takes.
func (p Pace) ofClock(d time.Duration) time.Duration {
	return time.Duration(float64(d) / p.Speed)
}
