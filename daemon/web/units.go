package web

import (
	"regexp"
	"strconv"
	"strings"

	"conditiond/model"
)

// measure turns a number of the program's own unit into a reader's.
type measure struct {
	Key      string // as it is chosen and kept
	Sign     string // behind a number
	Scale    float64
	Offset   float64
	Decimals int
}

func (m measure) of(v float64) float64 { return v*m.Scale + m.Offset }

// back is the number in the program's own unit.
func (m measure) back(v float64) float64 { return (v - m.Offset) / m.Scale }

func (m measure) number(v float64) string { return number(m.of(v), m.Decimals) }

// words of a number with its unit.
func (m measure) words(v float64) string { return m.number(v) + " " + m.Sign }

// pressures that can be chosen; the first is the program's own unit.
func pressures() []measure {
	return []measure{
		{Key: "bar", Sign: "bar", Scale: 1, Decimals: 2},
		{Key: "psi", Sign: "psi", Scale: 14.503774, Decimals: 1}, // 1 psi = 6894.757 Pa (NIST SP 811, from memory)
		{Key: "kPa", Sign: "kPa", Scale: 100},
	}
}

// temperatures that can be chosen.
func temperatures() []measure {
	return []measure{
		{Key: "degC", Sign: "°C", Scale: 1, Decimals: 1},
		{Key: "degF", Sign: "°F", Scale: 1.8, Offset: 32, Decimals: 1},
	}
}

// gases are measures of carbonation that can be chosen.
func gases() []measure {
	return []measure{
		{Key: "volumes", Sign: "volumes", Scale: 1, Decimals: 2},
		{Key: "g/L", Sign: "g/L", Scale: model.VolumeGrams, Decimals: 1},
	}
}

// units that a reader reads in; empty ones are the program's own.
type units struct{ Pressure, Temperature, Gas string }

func (u units) pressure() measure    { return chosen(pressures(), u.Pressure) }
func (u units) temperature() measure { return chosen(temperatures(), u.Temperature) }
func (u units) gas() measure         { return chosen(gases(), u.Gas) }

func chosen(from []measure, key string) measure {
	for _, m := range from {
		if m.Key == key {
			return m
		}
	}
	return from[0]
}

// own says that the units are the program's own.
func (u units) own() bool {
	return u.pressure().Scale == 1 && u.temperature().Scale == 1 && u.gas().Scale == 1
}

func (u units) bar(v float64) string     { return u.pressure().words(v) }
func (u units) celsius(v float64) string { return u.temperature().words(v) }
func (u units) volumes(v float64) string { return u.gas().number(v) }

// value of a sensor with its unit.
func (u units) value(q model.Quantity, v float64) string {
	if q == model.Pressure {
		return u.bar(v)
	}
	return u.celsius(v)
}

// told finds measures in a text, such as 1.9 to 2.3 bar and 2.3 (2.2 to 2.4)
// volumes. Temperatures in the program's texts are never differences.
var (
	told    = regexp.MustCompile(`([−-]?\d+(?:\.\d+)?(?:(?: to |–)[−-]?\d+(?:\.\d+)?)?(?: \(\d+(?:\.\d+)? to \d+(?:\.\d+)?\))?)[ \x{a0}](bar\b|volumes\b|°C)`)
	figures = regexp.MustCompile(`[−-]?\d+(?:\.\d+)?`)
)

// gloss puts a reader's units in brackets behind those of a text that was
// written for everybody: of an alert, or of a plan.
func (u units) gloss(text string) string {
	if u.own() {
		return text
	}
	return told.ReplaceAllStringFunc(text, func(s string) string {
		m := told.FindStringSubmatch(s)
		unit := map[string]measure{"bar": u.pressure(), "°C": u.temperature(), "volumes": u.gas()}[m[2]]
		if unit.Scale == 1 {
			return s
		}
		in := figures.ReplaceAllStringFunc(m[1], unit.converted)
		return s + " (" + strings.NewReplacer(" (", ", ", ")", "").Replace(in) + "\u00a0" + unit.Sign + ")"
	})
}

// converted digits, that a pattern found.
func (m measure) converted(digits string) string {
	v, err := strconv.ParseFloat(strings.Replace(digits, "−", "-", 1), 64)
	if err != nil {
		return digits
	}
	return m.number(v)
}
