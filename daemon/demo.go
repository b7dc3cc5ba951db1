package daemon

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"os"
	"strconv"
	"sync"
	"syscall"
	"time"

	"golang.org/x/sync/errgroup"

	"conditiond/alerts"
	"conditiond/daemon/engine"
	"conditiond/daemon/mqtt"
	"conditiond/model"
	"conditiond/model/synth"
)

// Demo is the whole program on one machine with nothing set up: the built-in
// broker, a journal in a temporary folder, the page, and invented lots that
// publish over MQTT in quick time.
type Demo struct {
	Day      time.Duration // that a day of the demo takes
	Listen   string        // of the page
	For      time.Duration // 0 = until the context ends
	Out      io.Writer
	Terminal bool // somebody looks: show progress
}

// demoDays is how long the invented lots are played.
const demoDays = 30

// Run the demo until the context ends. Nothing is left behind.
func (m Demo) Run(ctx context.Context, log *slog.Logger) error {
	if m.For > 0 {
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeout(ctx, m.For)
		defer cancel()
	}
	dir, err := os.MkdirTemp("", "conditiond-demo-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	stories := m.invent()
	d, err := m.open(ctx, dir, stories, log)
	if err != nil {
		return err
	}
	return m.play(ctx, d, stories)
}

// story is an invented lot with all that its sensors will say.
type story struct {
	synth.Scenario
	recording *synth.Recording
}

func (m Demo) invent() []story {
	packaged := time.Now().UTC().Truncate(time.Hour)
	var out []story
	list := synth.Demo(packaged)
	for i, s := range list {
		m.progress("inventing lots", i, len(list))
		s.Interval = 15 * time.Minute
		out = append(out, story{s, s.Play()})
	}
	m.progress("inventing lots", len(list), len(list))
	return out
}

// progress is one line, rewritten, and only for somebody who looks.
func (m Demo) progress(what string, n, of int) {
	if !m.Terminal {
		return
	}
	fmt.Fprintf(m.Out, "\r%s: %d of %d", what, n, of)
	if n == of {
		fmt.Fprint(m.Out, "\r\033[K")
	}
}

func (m Demo) open(ctx context.Context, dir string, stories []story, log *slog.Logger) (*Daemon, error) {
	c := m.config(dir, stories)
	start := stories[0].Lot.PackagedAt.Add(-stories[0].Before)
	pace := Pace{Start: start, End: start.Add(demoDays * 24 * time.Hour), Began: time.Now(), Speed: float64(24*time.Hour) / float64(m.Day)}
	d, err := open(ctx, c, pace, log)
	if err != nil {
		return nil, err
	}
	err = d.outside()
	if errors.Is(err, syscall.EADDRINUSE) { // the usual port is taken
		c.Web.Listen = "127.0.0.1:0"
		err = d.serve()
	}
	if err != nil {
		return nil, errors.Join(err, d.journal.Close())
	}
	return d, nil
}

func (m Demo) config(dir string, stories []story) *Config {
	c := defaults()
	c.Site = Site{Name: "Invented closet (demo)", Timezone: "UTC", Altitude: 90}
	c.MQTT.Listen = "127.0.0.1:0"
	c.Journal = Journal{Dir: dir, Pause: 10 * time.Millisecond}
	c.Web.Listen = m.Listen
	c.Sensors, c.Spaces = map[string]Sensor{}, map[string]Space{}
	for _, s := range stories {
		air := s.Lot.Space + "-air"
		c.Spaces[s.Lot.Space] = Space{Temperature: air}
		c.Sensors[air] = Sensor{Topic: "demo/" + s.Lot.Space + "/air", Quantity: model.Temperature, Unit: "degC",
			Interval: s.Interval, Calibration: Calibration{Scale: 1}}
		g := s.Lot.GaugeBottle.Sensor
		c.Sensors[g] = Sensor{Topic: "demo/" + s.Lot.Space + "/" + g, Pointer: "/pressure", Quantity: model.Pressure, Unit: "bar",
			Reference: "gauge", FullScale: 10, Interval: s.Interval, Calibration: Calibration{Scale: 1}}
	}
	return &c
}

func (m Demo) play(ctx context.Context, d *Daemon, stories []story) error {
	broker := "mqtt://" + d.link.(*mqtt.Broker).Addr()
	d.start(ctx)
	defer d.stop()
	for _, s := range stories {
		if err := d.Do(ctx, engine.Input{Open: &engine.Open{Lot: s.Lot}}); err != nil {
			d.stop()
			return errors.Join(err, d.wait())
		}
	}
	fmt.Fprintf(m.Out, "Five invented lots live through %d days in %s.\nLook at http://%s — Ctrl-C ends it.\n\n", demoDays, m.Day*demoDays, d.Addr)
	var g errgroup.Group
	for _, s := range stories {
		for name, speak := range voices(s, d.config) {
			g.Go(func() error { return speak.publish(ctx, broker, name, d.pace) })
		}
	}
	g.Go(func() error { m.tell(ctx, d, stories); return nil })
	err := g.Wait()
	d.stop()
	return errors.Join(ignoreEnd(err), ignoreEnd(d.wait()))
}

func ignoreEnd(err error) error {
	if errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) || errors.Is(err, net.ErrClosed) {
		return nil
	}
	return err
}

// voice is one sensor and what it will say.
type voice struct {
	Sensor
	readings []model.Reading
}

func voices(s story, c *Config) map[string]voice {
	out := map[string]voice{}
	for _, r := range s.recording.Readings {
		v := out[r.Sensor]
		v.Sensor = c.Sensors[r.Sensor]
		v.readings = append(v.readings, r)
		out[r.Sensor] = v
	}
	return out
}

// publish each reading when its time has come; after the last, go on saying it,
// unless the story is that the sensor falls silent before the others do.
func (v voice) publish(ctx context.Context, broker, name string, pace Pace) error {
	p, err := mqtt.NewPublisher(ctx, mqtt.Config{Broker: broker, ClientID: "demo-" + name})
	if err != nil {
		return err
	}
	defer p.Close()
	for _, r := range v.readings {
		if err := v.say(ctx, p, r, pace); err != nil {
			return err
		}
	}
	last := v.readings[len(v.readings)-1]
	for silent := last.At.Before(pace.End.Add(-24 * time.Hour)); !silent; {
		last.At = last.At.Add(v.Interval)
		if err := v.say(ctx, p, last, pace); err != nil {
			return err
		}
	}
	return nil
}

func (v voice) say(ctx context.Context, p *mqtt.Publisher, r model.Reading, pace Pace) error {
	select {
	case <-time.After(pace.Until(r.At)):
	case <-ctx.Done():
		return ctx.Err()
	}
	return p.Publish(ctx, v.Topic, v.payload(r.Value))
}

func (v voice) payload(value float64) []byte {
	number := strconv.FormatFloat(value, 'f', 3, 64)
	if v.Pointer == "" {
		return []byte(number)
	}
	return fmt.Appendf(nil, `{"%s":%s}`, v.Pointer[1:], number)
}

// tell what happens as it happens.
func (m Demo) tell(ctx context.Context, d *Daemon, stories []story) {
	packaged := stories[0].Lot.PackagedAt
	names := map[string]string{}
	for _, s := range stories {
		names[s.Lot.ID] = s.Lot.Name
	}
	told := map[string]bool{}
	var once sync.Once
	for {
		changed := d.Changed()
		v := d.View()
		for i := len(v.Recent) - 1; i >= 0; i-- {
			a := v.Recent[i]
			if key := a.ID + string(a.Severity) + string(a.State); !told[key] {
				told[key] = true
				m.say(a, a.Time.Sub(packaged), names[a.Lot])
			}
		}
		m.progress("day", int(v.Time.Sub(packaged).Hours()/24), demoDays+1)
		if !v.Time.Before(d.pace.End) {
			once.Do(func() {
				fmt.Fprintln(m.Out, "That was all of it; from here on the time is the clock's. The page stays until Ctrl-C.")
			})
		}
		select {
		case <-ctx.Done():
			return
		case <-changed:
		}
	}
}

func (m Demo) say(a alerts.Alert, after time.Duration, lot string) {
	if m.Terminal {
		fmt.Fprint(m.Out, "\r\033[K")
	}
	about := lot
	if a.Sensor != "" {
		about += ", " + a.Sensor
	}
	fmt.Fprintf(m.Out, "day %4.1f  %-8s %s %s (%s)\n", after.Hours()/24, a.Severity, a.Name, a.State, about)
	if a.State == alerts.Raised {
		fmt.Fprintf(m.Out, "          %s\n", a.Summary)
	}
}
