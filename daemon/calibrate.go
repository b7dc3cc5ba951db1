package daemon

import (
	"bufio"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"conditiond/daemon/intake"
	"conditiond/daemon/probe"
	"conditiond/model"
)

// Guide leads a person through calibrating a gauge on an analogue input of this
// machine, and prints the line for the configuration.
type Guide struct {
	Sysfs string // root of the kernel's tree; empty = /sys
	Name  string // of the sensor, as Probe.List says it
	Unit  intake.Unit
	Scale float64       // units to a volt, from the gauge's sheet; 0 = by a second point
	Times int           // readings to a point
	Every time.Duration // between them
	In    io.Reader
	Out   io.Writer
}

// point is what the input says at one pressure.
type point struct {
	volts, spread float64 // mean, and half of what lies between the extremes
	value         float64 // in the gauge's unit
}

// ErrCalibration wraps what a person has to put right before it can be done.
var ErrCalibration = errors.New("not calibrated")

func notCalibrated(format string, args ...any) error {
	return fmt.Errorf("%w: %s", ErrCalibration, fmt.Sprintf(format, args...))
}

// Run the guide.
func (g Guide) Run(ctx context.Context) error {
	s, err := g.find()
	if err != nil {
		return err
	}
	answers := bufio.NewScanner(g.In)
	fmt.Fprintf(g.Out, `Calibrating %s, in %s.
Step 1. Open the gauge to the air: take it off whatever it is on, upright as it
will stand. Give it ten minutes to come to the room's temperature.
Press Enter when it is so. `, g.Name, g.Unit)
	if !answers.Scan() {
		return notCalibrated("there was no answer")
	}
	zero, err := g.measure(ctx, s, 0)
	if err != nil {
		return err
	}
	scale := g.Scale
	if scale == 0 {
		if scale, err = g.second(ctx, s, answers, zero); err != nil {
			return err
		}
	}
	g.print(scale, zero)
	return nil
}

func (g Guide) find() (probe.Sensor, error) {
	if q, ok := g.Unit.Quantity(); !ok || q != model.Pressure {
		return probe.Sensor{}, notCalibrated("unit %q: bar, kPa, hPa, MPa or psi would be right", g.Unit)
	}
	if g.Scale < 0 {
		return probe.Sensor{}, notCalibrated("scale %v: above 0 would be right", g.Scale)
	}
	var names []string
	for _, s := range probe.Find(cmp.Or(g.Sysfs, probe.Sysfs)) {
		if s.Name == g.Name && s.Unit == probe.Volt {
			return s, nil
		}
		if s.Unit == probe.Volt {
			names = append(names, s.Name)
		}
	}
	if len(names) == 0 {
		return probe.Sensor{}, notCalibrated("the kernel shows no analogue input: is the converter's overlay loaded?")
	}
	return probe.Sensor{}, notCalibrated("%s is no analogue input; there are %s", g.Name, strings.Join(names, ", "))
}

// measure a point: some readings, their mean and spread.
func (g Guide) measure(ctx context.Context, s probe.Sensor, value float64) (point, error) {
	sum, low, high := 0.0, math.Inf(1), math.Inf(-1)
	for range g.Times {
		v, err := s.Read()
		if err != nil {
			return point{}, err
		}
		sum, low, high = sum+v, min(low, v), max(high, v)
		select {
		case <-time.After(g.Every):
		case <-ctx.Done():
			return point{}, ctx.Err()
		}
	}
	p := point{sum / float64(g.Times), (high - low) / 2, value}
	fmt.Fprintf(g.Out, "  %d readings: %.4f V, give or take %.4f\n\n", g.Times, p.volts, p.spread)
	return p, nil
}

// second point, at a known pressure: the scale that follows.
func (g Guide) second(ctx context.Context, s probe.Sensor, answers *bufio.Scanner, zero point) (float64, error) {
	fmt.Fprintf(g.Out, `Step 2. Put a pressure on it that another gauge shows: half of its range or
more, by a hand pump and never by a bottle. Wait a minute; it must hold still.
What does the other gauge say, in %s? `, g.Unit)
	if !answers.Scan() {
		return 0, notCalibrated("there was no answer")
	}
	text := strings.TrimSpace(answers.Text())
	value, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
	if err != nil || !(value > 0) || math.IsInf(value, 0) {
		return 0, notCalibrated("%q: a number above 0 would be right", text)
	}
	known, err := g.measure(ctx, s, value)
	if err != nil {
		return 0, err
	}
	return slope(zero, known)
}

// apart is how much further two points must lie from each other than each of
// them moves: else the slope is noise (judgement, no source).
const apart = 50

func slope(zero, known point) (float64, error) {
	span := known.volts - zero.volts
	switch {
	case span < 0:
		return 0, notCalibrated("the input falls when the pressure rises: two wires are swapped, or the gauge is")
	case span == 0 || span < apart*max(zero.spread, known.spread):
		return 0, notCalibrated("the two points are %.4f V apart, and the readings move by %.4f V: a higher pressure, held still, or better wiring would be right", span, max(zero.spread, known.spread))
	}
	return (known.value - zero.value) / span, nil
}

func (g Guide) print(scale float64, zero point) {
	offset := -scale * zero.volts
	fmt.Fprintf(g.Out, `Into the configuration, under the sensor that has the topic of %s:

    calibration: {scale: %.6g, offset: %.6g}

It was open to the air at %.4f V; by its own movement alone the zero is good to
%.2g %s. Run this again when the gauge has been knocked, and each year.
`, g.Name, scale, offset, zero.volts, scale*zero.spread, g.Unit)
}
