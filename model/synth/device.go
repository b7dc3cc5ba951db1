package synth

import (
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"conditiond/model"
)

// Device is a sensor, as configured and as it is.
type Device struct {
	Name, Topic, Pointer string // RFC 6901; no pointer = a bare number
	Quantity             model.Quantity
	Unit                 string // degC, degF, K; bar, kPa, hPa, MPa, psi
	Absolute             bool
	FullScale            float64 // in its unit
	Scale, Offset        float64 // the brewer's calibration, in its unit; scale 0 = none

	Slow   float64 // days to follow what it measures
	Err    Err
	Digits int
	Text   bool   // numbers as strings
	Beside string // another member of its payload
}

// Err is how a device errs: °C or bar.
type Err struct {
	Offset, Span float64 // what it adds; what it multiplies, less 1
	PerKelvin    float64 // of a gauge's zero, from 20 °C on
	PerDay       float64 // drift since the recording began
	Noise        float64 // s.d.
	Grain        float64 // in its unit
	Glitch       float64 // chance that a reading is nonsense
	Knock        float64 // added from KnockDay on
	KnockDay     float64
}

// FaultKind of a sensor.
type FaultKind string

// Kinds of faults.
const (
	Stuck      FaultKind = "stuck"
	Silent     FaultKind = "silent"
	GaugeError FaultKind = "gauge-error"
	FullScale  FaultKind = "full-scale"
)

// SensorFault lasts from From to To; To zero = to the end.
type SensorFault struct {
	Kind     FaultKind
	Sensor   string
	From, To time.Time
}

func (f SensorFault) holds(kind FaultKind, sensor string, at time.Time) bool {
	return f.Kind == kind && f.Sensor == sensor && !at.Before(f.From) && (f.To.IsZero() || at.Before(f.To))
}

// unitOf is one unit in °C or bar, and what stands at 0 °C.
func unitOf(name string) (size, zero float64) {
	switch name {
	case "degF":
		return 5.0 / 9, 32
	case "K":
		return 1, 273.15
	case "kPa":
		return 0.01, 0
	case "hPa":
		return 0.001, 0
	case "MPa":
		return 10, 0
	case "psi":
		return 0.0689475729, 0
	}
	return 1, 0
}

func (d Device) toUnit(v float64) float64 {
	size, zero := unitOf(d.Unit)
	return v/size + zero
}

func (d Device) fromUnit(v float64) float64 {
	size, zero := unitOf(d.Unit)
	return (v - zero) * size
}

// says is what the device prints of a truth (°C, or bar as it feels it) when
// its own body is at a temperature.
func (d Device) says(dice dice, truth, body, day float64) string {
	e := d.Err
	v := truth*(1+e.Span) + e.Offset + e.PerKelvin*(body-20) + e.PerDay*day + e.Noise*dice.NormFloat64()
	if e.KnockDay > 0 && day >= e.KnockDay {
		v += e.Knock
	}
	raw := d.toUnit(v)
	if e.Grain > 0 {
		raw = math.Round(raw/e.Grain) * e.Grain
	}
	if d.FullScale > 0 {
		raw = math.Min(raw, d.FullScale)
	}
	if dice.chance(e.Glitch) {
		return d.nonsense(dice)
	}
	return d.print(raw)
}

func (d Device) print(raw float64) string { return strconv.FormatFloat(raw, 'f', d.Digits, 64) }

// nonsense that such devices say: the power-on value, the broken wire, a spike.
func (d Device) nonsense(dice dice) string {
	if d.Quantity == model.Temperature {
		return d.print(d.toUnit(pick(dice, 85.0, -127, 85, dice.between(-5, 45))))
	}
	if dice.chance(0.3) {
		return "nan"
	}
	return d.print(d.toUnit(pick(dice, 0, dice.between(0, 12))))
}

// reading that a listener makes of what it says; false when it is no number.
func (d Device) reading(said string, at time.Time, station model.Bar) (model.Reading, bool) {
	raw, err := strconv.ParseFloat(said, 64)
	if err != nil || math.IsNaN(raw) {
		return model.Reading{}, false
	}
	full := d.FullScale > 0 && raw >= d.FullScale
	if d.Scale != 0 && !full {
		raw = d.Scale*raw + d.Offset
	}
	v := d.fromUnit(raw)
	if d.Absolute {
		v -= float64(station)
	}
	return model.Reading{Sensor: d.Name, At: at, Quantity: d.Quantity, Value: v, Full: full}, true
}

// member of a payload: `"a":{"b":1.5}` for the pointer /a/b.
func (d Device) member(said string) string {
	if d.Text || !json.Valid([]byte(said)) {
		said = strconv.Quote(said)
	}
	parts := strings.Split(d.Pointer, "/")[1:]
	for i := len(parts) - 1; i > 0; i-- {
		if parts[i] == "0" {
			said = "[" + said + "]"
			continue
		}
		said = fmt.Sprintf("{%q:%s}", parts[i], said)
	}
	return fmt.Sprintf("%q:%s", parts[0], said)
}
