package daemon

import (
	"context"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"conditiond/daemon/mqtt"
	"conditiond/model/synth"
)

// Simulation is invented lots, written as recordings with their truth, or
// published, or both.
type Simulation struct {
	Family   synth.Family // empty = all of them in turn
	Seed     uint64
	Lots     int
	Days     int           // longest recording; 0 = as drawn
	Out      string        // folder; empty = don't write
	Broker   string        // empty = don't publish
	Day      time.Duration // that a day takes when publishing
	Terminal bool          // somebody looks: show progress
}

// Check the family.
func (s Simulation) Check() error {
	if s.Family == "" || slices.Contains(synth.Families(), s.Family) {
		return nil
	}
	return fmt.Errorf("--family %q: one of %s would be right", s.Family, s.families())
}

func (s Simulation) families() string {
	var names []string
	for _, f := range synth.Families() {
		names = append(names, string(f))
	}
	return strings.Join(names, ", ")
}

// Run the simulation.
func (s Simulation) Run(ctx context.Context, out io.Writer) error {
	var all []synth.Message
	for i := range s.Lots {
		if err := ctx.Err(); err != nil {
			return err
		}
		s.progress(out, i)
		sc := s.draw(i)
		r := sc.Play()
		if s.Broker != "" {
			all = append(all, r.Messages...)
		}
		if s.Out == "" {
			continue
		}
		folder, err := s.write(sc, r)
		if err != nil {
			return err
		}
		if !s.Terminal || s.Lots == 1 {
			fmt.Fprintf(out, "%s: %s, %d messages\n", folder, sc.Family, len(r.Messages))
		}
	}
	s.progress(out, s.Lots)
	if s.Broker == "" {
		return nil
	}
	return s.publish(ctx, all, out)
}

func (s Simulation) draw(i int) synth.Scenario {
	sc := synth.Draw(s.Seed, i)
	if s.Family != "" {
		sc = synth.DrawFamily(s.Seed, i, s.Family)
	}
	if s.Days > 0 {
		sc.Days = min(sc.Days, s.Days)
	}
	return sc
}

// progress is one line, rewritten, and only for somebody who looks.
func (s Simulation) progress(out io.Writer, n int) {
	if !s.Terminal || s.Lots < 2 {
		return
	}
	fmt.Fprintf(out, "\rinventing lots: %d of %d", n, s.Lots)
	if n == s.Lots {
		fmt.Fprint(out, "\r\033[K")
	}
}

// publish in step with the clock, from now on as from the first lot's
// beginning. The daemon that listens dates readings by its own clock.
func (s Simulation) publish(ctx context.Context, all []synth.Message, out io.Writer) error {
	slices.SortStableFunc(all, func(a, b synth.Message) int { return a.At.Compare(b.At) })
	p, err := mqtt.NewPublisher(ctx, mqtt.Config{Broker: s.Broker, ClientID: "invented-lots"})
	if err != nil {
		return err
	}
	defer p.Close()
	fmt.Fprintf(out, "%d messages to %s\n", len(all), s.Broker)
	began := time.Now()
	for _, m := range all {
		at := time.Duration(float64(m.At.Sub(all[0].At)) * float64(s.Day) / float64(24*time.Hour))
		select {
		case <-time.After(at - time.Since(began)):
		case <-ctx.Done():
			return ctx.Err()
		}
		if m.Retain {
			continue // the broker's, not a device's
		}
		if err := p.Publish(ctx, m.Topic, []byte(m.Payload)); err != nil {
			return err
		}
	}
	return nil
}
