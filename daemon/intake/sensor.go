package intake

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strings"
	"time"
	"unicode/utf8"

	"conditiond/model"
)

// MaxPayload is the longest payload that is looked at, in bytes.
const MaxPayload = 64 << 10

// Reference that a pressure sensor measures against.
type Reference string

const (
	Gauge    Reference = "gauge"
	Absolute Reference = "absolute"
)

// Sensor is where a reading comes from and what its numbers mean.
type Sensor struct {
	Name     string
	Topic    string // without wildcards
	Pointer  string // RFC 6901; empty = the payload is a bare number
	Quantity model.Quantity
	Unit     Unit
	// Reference of a pressure; empty = gauge.
	Reference Reference
	// FullScale is the end of the sensor's range, in its unit; 0 = unknown.
	FullScale float64
	// A reading is Scale·raw + Offset, in the unit. A Scale of 0 stands for 1.
	Scale, Offset float64
	// Station is the air's pressure, taken from absolute sensors' readings.
	Station model.Bar
	// Interval is how often readings are due.
	Interval time.Duration
	// Space whose temperature this is; empty for others.
	Space string
}

// Check says everything that is wrong with the configuration of a sensor.
func (s Sensor) Check() error {
	var faults []error
	fault := func(format string, args ...any) { faults = append(faults, fmt.Errorf(format, args...)) }
	if s.Topic == "" || strings.ContainsAny(s.Topic, "+#\x00") || strings.HasPrefix(s.Topic, "$share/") || len(s.Topic) > math.MaxUint16 {
		fault("topic %q: one topic without wildcards would be right", s.Topic)
	}
	if _, err := parsePointer(s.Pointer); err != nil {
		fault("pointer %q: %w", s.Pointer, err)
	}
	if q, ok := s.Unit.Quantity(); !ok || q != s.Quantity {
		fault("unit %q does not measure %s", s.Unit, s.Quantity)
	}
	switch {
	case s.Reference != "" && s.Quantity != model.Pressure:
		fault("reference %q: only a pressure has one", s.Reference)
	case s.Reference != "" && s.Reference != Gauge && s.Reference != Absolute:
		fault("reference %q: gauge or absolute would be right", s.Reference)
	}
	if s.FullScale < 0 || !finite(s.FullScale) || !finite(s.Scale) || !finite(s.Offset) {
		fault("full scale and calibration must be numbers, full scale above 0")
	}
	return errors.Join(faults...)
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// Value is what a payload says, in °C or bar gauge.
type Value struct {
	Number float64
	// AtFullScale means that the sensor can't say more: the truth is at or
	// above Number, which is the full scale.
	AtFullScale bool
	Word        Word
}

// Word is a number that the usual digital probe sends when it hasn't measured;
// Check tells it from a true one.
type Word string

const (
	PowerOnWord Word = "power-on" // 85 °C, what it holds before measuring
	ZeroWord    Word = "zero"     // 0 or −0.0625 °C, what a shorted or open line reads as
)

// Decoder turns the payloads of one sensor into values.
type Decoder struct {
	Sensor
	pointer pointer
	measure measure
}

// NewDecoder for a sensor whose configuration is sound.
func NewDecoder(s Sensor) (Decoder, error) {
	if err := s.Check(); err != nil {
		return Decoder{}, fmt.Errorf("sensor %s: %w", s.Name, err)
	}
	if s.Scale == 0 {
		s.Scale = 1
	}
	p, err := parsePointer(s.Pointer)
	m, _ := measureOf(s.Unit)
	return Decoder{s, p, m}, err
}

// Full is the end of a pressure sensor's range in bar gauge; 0 = unknown.
func (d Decoder) Full() model.BarGauge {
	if d.FullScale == 0 {
		return 0
	}
	return model.BarGauge(d.convert(d.FullScale))
}

// Decode a payload. An error is a Reason.
func (d Decoder) Decode(payload []byte) (Value, error) {
	raw, err := d.number(payload)
	if err != nil {
		return Value{}, err
	}
	v := Value{Number: d.value(raw), Word: d.word(raw)}
	if err := d.believe(raw, v.Number); err != nil {
		return Value{}, err
	}
	if d.atFullScale(raw) {
		v.Number, v.AtFullScale = d.convert(d.FullScale), true
	}
	return v, nil
}

// atFullScale by the calibrated reading; and by the raw number where that is
// in the sensor's unit too, for calibrating moves where it saturates.
func (d Decoder) atFullScale(raw float64) bool {
	end := nearly * d.FullScale
	return end > 0 && (d.reading(raw) >= end || math.Abs(d.Scale-1) < 0.1 && raw >= end)
}

// nearly full scale is full scale: sensors round what they print, and the top
// code of a converter may be just below (judgement, no source).
const nearly = 0.998

// reading in the sensor's unit.
func (d Decoder) reading(raw float64) float64 { return float64(d.Scale*raw) + d.Offset }

// value in °C or bar gauge.
func (d Decoder) value(raw float64) float64 { return d.convert(d.reading(raw)) }

// convert from the sensor's unit and reference.
func (d Decoder) convert(reading float64) float64 {
	v := d.measure.in(reading)
	if d.Reference == Absolute {
		return float64(model.Bar(v).Gauge(d.Station))
	}
	return v
}

// number that the payload holds.
func (d Decoder) number(payload []byte) (float64, error) {
	text := bytes.Trim(payload, " \t\r\n")
	switch {
	case len(payload) == 0:
		return 0, because(Cleared, "an empty payload: a retained message was deleted")
	case len(payload) > MaxPayload:
		return 0, because(TooBig, "a payload of %d bytes; at most %d are read", len(payload), MaxPayload)
	case !isText(payload):
		return 0, because(Binary, "binary, starting %s; text or JSON would be right", shown(payload))
	case d.pointer == nil:
		return number(unquoted(text))
	case !json.Valid(text):
		return 0, because(Malformed, "%s is not JSON, as the pointer %s needs", shown(text), d.Pointer)
	}
	return d.pointed(text)
}

// pointed is the number at the pointer in a valid document.
func (d Decoder) pointed(doc []byte) (float64, error) {
	found, err := d.pointer.find(doc)
	switch {
	case err != nil:
		return 0, err
	case found == nil:
		return 0, because(NoValue, "nothing at %s in %s", d.Pointer, shown(doc))
	case string(found) == "null":
		return 0, because(Unavailable, "null at %s: the device has no value", d.Pointer)
	}
	v, err := number(unquoted(found))
	if r, ok := errors.AsType[Reason](err); ok {
		return 0, because(r.Kind, "at %s: %s", d.Pointer, r.Text)
	}
	if m := d.named(doc); m.unit != d.Unit {
		v = d.measure.of(m.in(v))
	}
	return v, nil
}

// named is the unit that a document names, beside the value or at its top, or
// else the configured one: a device that is reset may change it.
func (d Decoder) named(doc []byte) measure {
	key := "TempUnit"
	if d.Quantity == model.Pressure {
		key = "PressureUnit"
	}
	beside := d.pointer[:len(d.pointer)-1]
	for _, p := range []pointer{{key}, append(beside[:len(beside):len(beside)], "unit")} {
		word, _ := p.find(doc)
		for _, m := range measures {
			if m.quantity == d.Quantity && m.means(string(unquoted(word))) {
				return m
			}
		}
	}
	return d.measure
}

// believe refuses what no such sensor says in truth.
func (d Decoder) believe(raw, v float64) error {
	low, high := d.believable()
	if v >= low && v <= high {
		return nil
	}
	if d.Quantity == model.Temperature && math.Abs(d.measure.in(raw)-gone) <= 5 {
		return because(Disconnected, "%v %s is the word of a probe that is disconnected", raw, d.Unit)
	}
	if u := d.likely(raw); u != "" {
		return because(WrongUnit, "%v %s can't be; is it %s?", raw, d.Unit, u)
	}
	return because(OutOfRange, "%v %s can't be: it is outside %.3g to %.3g in °C or bar gauge", raw, d.Unit, low, high)
}

// gone, in °C, is what drivers of the usual digital probe say without one;
// firmware may add an offset to it (common practice, no source).
const gone = -127

// believable range of values: of the usual digital probe (its data sheet, from
// memory); of a pressure up to what no bottle holds, and of a gauge down to
// well above what a broken wire reads as, an eighth of the range below nothing
// (judgement, no source).
func (d Decoder) believable() (low, high float64) {
	switch {
	case d.Quantity == model.Temperature:
		return -55, 125
	case d.Reference == Absolute:
		return 0.1 - float64(d.Station), 25
	case d.FullScale > 0:
		end := d.measure.in(d.FullScale)
		return -0.05 * end, max(25, 1.1*end)
	}
	return -0.5, 25
}

// likely is another unit in which a raw number would be the air around us, or
// else what a bottle holds: of a sensor configured in the wrong one.
func (d Decoder) likely(raw float64) Unit {
	air, bottle := [2]float64{0, 40}, [2]float64{}
	if d.Quantity == model.Pressure {
		air, bottle = [2]float64{0.8, 1.1}, [2]float64{0.5, 8}
	}
	for _, span := range [][2]float64{air, bottle} {
		for _, m := range measures {
			if v := m.in(raw); m.quantity == d.Quantity && m.unit != d.Unit && v > span[0] && v < span[1] {
				return m.unit
			}
		}
	}
	return ""
}

// word that a raw number is (common practice, no source).
func (d Decoder) word(raw float64) Word {
	c := d.measure.in(raw)
	is := func(word float64) bool { return math.Abs(c-word) < 0.001 }
	switch {
	case d.Quantity != model.Temperature:
		return ""
	case is(85):
		return PowerOnWord
	case is(0), is(-0.0625):
		return ZeroWord
	}
	return ""
}

// means tells whether a payload's word is this unit.
func (m measure) means(word string) bool {
	for _, w := range m.words {
		if strings.EqualFold(w, word) {
			return true
		}
	}
	return false
}

// isText: UTF-8 without control characters but space.
func isText(b []byte) bool {
	for _, c := range b {
		if c < ' ' && c != '\t' && c != '\r' && c != '\n' {
			return false
		}
	}
	return utf8.Valid(b)
}

// unquoted is a JSON string's text where there is no escape in it, or else the
// text as it is.
func unquoted(text []byte) []byte {
	if n := len(text); n >= 2 && text[0] == '"' && text[n-1] == '"' {
		return text[1 : n-1]
	}
	return text
}
