package daemon

import (
	"context"
	"time"

	"conditiond/daemon/engine"
	"conditiond/daemon/mqtt"
)

// arrival is a message with the instant at which it came.
type arrival struct {
	at time.Time
	mqtt.Delivery
}

// source stamps messages as they come, so that the loop may be late without
// their times being late too. It ends with the context; what is not handed over
// then was not acknowledged and comes again.
func source(ctx context.Context, from <-chan mqtt.Delivery, pace Pace, to chan<- arrival) error {
	var last time.Time
	for {
		select {
		case <-ctx.Done():
			return nil
		case m := <-from:
			at := pace.Now()
			if at.Equal(last) { // two readings of a sensor must not share an instant
				at = at.Add(time.Nanosecond)
			}
			last = at
			select {
			case to <- arrival{at, m}:
			case <-ctx.Done():
				return nil
			}
		}
	}
}

// setBack is how far the clock must be behind the engine before it is taken to
// have gone back: less is a loop that was busy.
const setBack = time.Minute

// input of an arrival for an engine that has come to an instant. Its own stamp
// stands even where the engine is a little further. But where the clock went
// back, as on a machine that starts without a network, what comes is still the
// newest: time then stands until the clock has overtaken it, and the order is
// that of arrival.
func (a arrival) input(now time.Time) engine.Input {
	at := a.at
	if now.Sub(at) > setBack {
		at = now.Add(time.Nanosecond)
	}
	return engine.Input{At: at, Stamped: at, Message: &a.Message}
}
