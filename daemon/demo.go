package daemon

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"os"
	"syscall"
	"time"

	"conditiond/alerts"
	"conditiond/daemon/engine"
	"conditiond/daemon/journal"
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
	pace := handAt(stories[0].Lot.PackagedAt.Add(-stories[0].Before))
	d, err := open(ctx, c, pace, journal.Open, log)
	if err != nil {
		return nil, err
	}
	err = d.outside(ctx)
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
	d.start(ctx)
	err := m.stage(ctx, d, stories)
	d.stop()
	return errors.Join(ignoreEnd(err), ignoreEnd(d.wait()))
}

func (m Demo) stage(ctx context.Context, d *Daemon, stories []story) error {
	for _, s := range stories {
		if err := d.Do(ctx, engine.Input{Open: &engine.Open{Lot: s.Lot}}); err != nil {
			return err
		}
	}
	c, err := assemble(ctx, "mqtt://"+d.link.(*mqtt.Broker).Addr(), d.config, stories)
	if err != nil {
		return err
	}
	defer c.close()
	fmt.Fprintf(m.Out, "Five invented lots live through %d days in %s.\nLook at http://%s — Ctrl-C ends it.\n\n", demoDays, m.Day*demoDays, d.Addr)
	telling := make(chan struct{})
	go func() { defer close(telling); m.tell(ctx, d, stories) }()
	defer func() { <-telling }()
	if err := m.move(ctx, d, c); err != nil {
		return err
	}
	fmt.Fprintln(m.Out, "That was all of it: the time stands still now, and the page stays until Ctrl-C.")
	<-ctx.Done()
	return nil
}

// move the daemon's time from reading to reading, at the demo's speed but no
// faster than they are taken in: on a slow machine the days are longer, and the
// same things happen in them.
func (m Demo) move(ctx context.Context, d *Daemon, c choir) error {
	start, began := d.pace.Now(), time.Now()
	for next := c.next(); !next.IsZero(); next = c.next() {
		at := time.Duration(float64(next.Sub(start)) * float64(m.Day) / float64(24*time.Hour))
		select {
		case <-time.After(at - time.Since(began)):
		case <-ctx.Done():
			return ctx.Err()
		}
		d.pace.move(next)
		if err := c.sing(ctx, next); err != nil {
			return err
		}
	}
	return nil
}

func ignoreEnd(err error) error {
	if errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) || errors.Is(err, net.ErrClosed) {
		return nil
	}
	return err
}

// tell what happens as it happens.
func (m Demo) tell(ctx context.Context, d *Daemon, stories []story) {
	packaged := stories[0].Lot.PackagedAt
	names := map[string]string{}
	for _, s := range stories {
		names[s.Lot.ID] = s.Lot.Name
	}
	told := map[string]bool{}
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
