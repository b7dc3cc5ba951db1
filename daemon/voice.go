package daemon

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"time"

	"golang.org/x/sync/errgroup"

	"conditiond/daemon/mqtt"
	"conditiond/model"
	"conditiond/model/synth"
)

// story is an invented lot with all that its sensors will say.
type story struct {
	synth.Scenario
	recording *synth.Recording
}

// voice is one invented sensor: where it speaks, and what it has yet to say.
type voice struct {
	Sensor
	readings []model.Reading
	to       *mqtt.Publisher
}

// choir are the sensors of invented lots, each with a connection of its own as
// in life.
type choir []*voice

// assemble connects a lot's sensors with a broker.
func assemble(ctx context.Context, broker string, c *Config, stories []story) (choir, error) {
	voices := map[string]*voice{}
	for _, s := range stories {
		for _, r := range s.recording.Readings {
			if voices[r.Sensor] == nil {
				voices[r.Sensor] = &voice{Sensor: c.Sensors[r.Sensor]}
			}
			voices[r.Sensor].readings = append(voices[r.Sensor].readings, r)
		}
	}
	var out choir
	for _, name := range slices.Sorted(maps.Keys(voices)) {
		p, err := mqtt.NewPublisher(ctx, mqtt.Config{Broker: broker, ClientID: "invented-" + name})
		if err != nil {
			out.close()
			return nil, err
		}
		voices[name].to = p
		out = append(out, voices[name])
	}
	return out, nil
}

func (c choir) close() {
	for _, v := range c {
		v.to.Close()
	}
}

// sing all that was measured up to an instant, and wait until the broker has
// it.
func (c choir) sing(ctx context.Context, to time.Time) error {
	var g errgroup.Group
	for _, v := range c {
		g.Go(func() error { return v.speak(ctx, to) })
	}
	return g.Wait()
}

func (v *voice) speak(ctx context.Context, to time.Time) error {
	for len(v.readings) > 0 && !v.readings[0].At.After(to) {
		if err := v.to.Publish(ctx, v.Topic, v.payload(v.readings[0].Value)); err != nil {
			return err
		}
		v.readings = v.readings[1:]
	}
	return nil
}

// next is when the choir has something to say again; zero = never.
func (c choir) next() time.Time {
	var next time.Time
	for _, v := range c {
		if len(v.readings) > 0 && (next.IsZero() || v.readings[0].At.Before(next)) {
			next = v.readings[0].At
		}
	}
	return next
}

// payload as a small device sends it: a bare number, or one member of an
// object.
func (v voice) payload(value float64) []byte {
	number := strconv.FormatFloat(value, 'f', 3, 64)
	if v.Pointer == "" {
		return []byte(number)
	}
	return fmt.Appendf(nil, `{"%s":%s}`, v.Pointer[1:], number)
}
