package daemon

import (
	"context"
	"time"

	"conditiond/daemon/engine"
	"conditiond/daemon/mqtt"
)

// arrival is a message with the instant at which it came.
type arrival struct {
	at    time.Time
	moved time.Duration // how far the clock's time had been moved by then
	mqtt.Delivery
}

// source stamps messages as they come, so that the loop may be late without
// their times being late too. It ends with the context; what is not handed over
// then was not acknowledged and comes again. What the hub takes is no reading.
func source(ctx context.Context, from <-chan mqtt.Delivery, pace Pace, to chan<- arrival, h *hub) error {
	var last arrival
	for {
		select {
		case <-ctx.Done():
			return nil
		case m := <-from:
			if h.takes(m) {
				continue
			}
			at, moved := pace.stamp()
			if moved == last.moved && !at.After(last.at) { // two readings of a sensor must not share an instant
				at = last.at.Add(time.Nanosecond)
			}
			last = arrival{at: at, moved: moved}
			select {
			case to <- arrival{at, moved, m}:
			case <-ctx.Done():
				return nil
			}
		}
	}
}

// input of an arrival. Its own stamp stands even where the engine, which had
// other things to do, is a little further.
func (a arrival) input() engine.Input {
	return engine.Input{At: a.at, Stamped: a.at, Message: &a.Message}
}
