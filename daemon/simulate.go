package daemon

import (
	"compress/gzip"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"time"

	"gopkg.in/yaml.v3"

	"conditiond/model/synth"
)

// Simulation is an invented lot, written as a recording or published.
type Simulation struct {
	Story  synth.Story
	Seed   uint64
	Days   int
	Out    string        // folder; empty = publish
	Broker string        // empty = write
	Day    time.Duration // that a day takes when publishing
}

// IsStory says whether synth can tell it.
func IsStory(s synth.Story) bool {
	return slices.Contains([]synth.Story{synth.Healthy, synth.OverPrimed, synth.Unfinished, synth.Leak,
		synth.Stalled, synth.Late, synth.Silent, synth.HeatWave, synth.Chilled}, s)
}

// invented is when simulated lots are packaged: no real day.
var invented = time.Date(2031, 3, 1, 14, 0, 0, 0, time.UTC)

// Run the simulation.
func (s Simulation) Run(ctx context.Context, out io.Writer) error {
	sc := synth.Demo(invented)[0]
	sc.Lot.ID = fmt.Sprintf("invented-%s-%d", s.Story, s.Seed)
	sc.Lot.Name = fmt.Sprintf("Invented lot %d (%s)", s.Seed, s.Story)
	sc.Story, sc.Seed, sc.Days, sc.Vigour, sc.Interval = s.Story, s.Seed, s.Days, 0, 5*time.Minute
	st := story{sc, sc.Play()}
	if s.Broker != "" {
		return s.publish(ctx, st, out)
	}
	return s.write(st, out)
}

func (s Simulation) config(st story) *Config {
	c := Demo{}.config("", []story{st})
	c.Site.Name = "Invented closet"
	return c
}

// publish in step with the clock, from now on as from the lot's beginning.
func (s Simulation) publish(ctx context.Context, st story, out io.Writer) error {
	c, err := assemble(ctx, s.Broker, s.config(st), []story{st})
	if err != nil {
		return err
	}
	defer c.close()
	fmt.Fprintf(out, "%s: %d readings in %s\n", st.Lot.ID, len(st.recording.Readings), time.Duration(s.Days)*s.Day)
	start, began := c.next(), time.Now()
	for next := start; !next.IsZero(); next = c.next() {
		at := time.Duration(float64(next.Sub(start)) * float64(s.Day) / float64(24*time.Hour))
		select {
		case <-time.After(at - time.Since(began)):
		case <-ctx.Done():
			return ctx.Err()
		}
		if err := c.sing(ctx, next); err != nil {
			return err
		}
	}
	return nil
}

// write the folder that replay reads.
func (s Simulation) write(st story, out io.Writer) error {
	if err := os.MkdirAll(s.Out, 0o755); err != nil {
		return err
	}
	c := s.config(st)
	err := errors.Join(
		writeYAML(filepath.Join(s.Out, "config.yaml"), outline(c)),
		writeYAML(filepath.Join(s.Out, "lot.yaml"), st.Lot),
		writeMessages(filepath.Join(s.Out, "messages.ndjson.gz"), st, c),
	)
	if err == nil {
		fmt.Fprintf(out, "%s: %d readings written to %s\n", st.Lot.ID, len(st.recording.Readings), s.Out)
	}
	return err
}

// outline of a configuration: what a recording needs of it.
func outline(c *Config) map[string]any {
	sensors := map[string]any{}
	for name, x := range c.Sensors {
		m := map[string]any{"topic": x.Topic, "quantity": x.Quantity, "unit": x.Unit, "interval": x.Interval.String()}
		if x.Pointer != "" {
			m["pointer"] = x.Pointer
		}
		if x.Reference != "" {
			m["reference"], m["full_scale"] = x.Reference, x.FullScale
		}
		sensors[name] = m
	}
	return map[string]any{"site": c.Site, "sensors": sensors, "spaces": c.Spaces}
}

func writeYAML(path string, what any) error {
	b, err := yaml.Marshal(what)
	if err != nil {
		return fmt.Errorf("write %s: %w", path, err)
	}
	return os.WriteFile(path, b, 0o644)
}

func writeMessages(path string, st story, c *Config) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	z := gzip.NewWriter(f)
	e := json.NewEncoder(z)
	for _, r := range st.recording.Readings {
		x := c.Sensors[r.Sensor]
		payload := string(voice{Sensor: x}.payload(r.Value))
		line := struct {
			Time    string `json:"tst"`
			Topic   string `json:"topic"`
			QoS     int    `json:"qos"`
			Retain  int    `json:"retain"`
			Length  int    `json:"payloadlen"`
			Payload string `json:"payload"`
		}{r.At.UTC().Format("2006-01-02T15:04:05.000000Z+0000"), x.Topic, 1, 0, len(payload), payload}
		if err := e.Encode(line); err != nil {
			return errors.Join(err, f.Close())
		}
	}
	return errors.Join(z.Close(), f.Close())
}
