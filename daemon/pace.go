package daemon

import (
	"sync/atomic"
	"time"
)

// Pace is what the daemon takes the time from: the clock under watch, or, in
// the demo, a hand that is moved as fast as the invented readings are taken in.
// It is the only place that reads the clock for the engine.
type Pace struct {
	hand  *atomic.Int64 // nanoseconds since 1970; nil = the clock
	clock *clock
}

// hand is a Pace that stands at an instant until it is moved.
func handAt(at time.Time) Pace {
	p := Pace{hand: new(atomic.Int64)}
	p.move(at)
	return p
}

func (p Pace) move(to time.Time) { p.hand.Store(to.UnixNano()) }

// Now by the daemon's time. It never goes back.
func (p Pace) Now() time.Time {
	if p.hand == nil {
		return p.clock.now()
	}
	return time.Unix(0, p.hand.Load()).UTC()
}

// stamp is Now, with how far the clock's time has been moved since the start.
func (p Pace) stamp() (time.Time, time.Duration) {
	if p.hand != nil {
		return p.Now(), 0
	}
	return p.clock.stamp()
}

// found is how far the clock's time has been moved since the start, and whether
// it may yet be.
func (p Pace) found() (moved time.Duration, unsure bool) {
	if p.hand != nil {
		return 0, false
	}
	return p.clock.found()
}

// jumped tells once of a jump ahead, to whoever has come to where it led.
func (p Pace) jumped(at time.Time) bool { return p.hand == nil && p.clock.jumped(at) }

// glance is how often a hand is looked at.
const glance = 5 * time.Millisecond

// Until is how long to wait for an instant of the daemon's time before looking
// again.
func (p Pace) Until(at time.Time) time.Duration {
	left := max(0, at.Sub(p.Now()))
	if p.hand == nil {
		return left
	}
	return min(left, glance)
}
