package daemon

import (
	"testing"
	"time"

	"conditiond/daemon/intake"
	"conditiond/model"
)

// The pointers are RFC 6901's own, with its escapes.
func TestNumbers(t *testing.T) {
	for payload, want := range map[string][]numberAt{
		"18.4":                          {{"", 18.4}},
		" -3 \n":                        {{"", -3}},
		"18,4":                          nil,
		"online":                        nil,
		"":                              nil,
		`{"a/b":1,"m~n":2,"":3}`:        {{"/", 3}, {"/a~1b", 1}, {"/m~0n", 2}},
		`{"t":"18.4","id":"0x1f"}`:      {{"/t", 18.4}},
		`[{"v":1},{"v":true},null]`:     {{"/0/v", 1}},
		`{"t":NaN}`:                     nil,
		`{"value":null,"error":"x"}`:    nil,
		`{"deep":{"er":[[7]]},"n":1e3}`: {{"/deep/er/0/0", 7}, {"/n", 1000}},
	} {
		got := numbers([]byte(payload))
		if len(got) != len(want) {
			t.Errorf("%s: %v, want %v", payload, got, want)
			continue
		}
		for i := range want {
			if got[i] != want[i] {
				t.Errorf("%s: %v, want %v", payload, got, want)
			}
		}
	}
}

// FuzzNumbers: what setup offers as a number, the daemon finds at the same
// place.
func FuzzNumbers(f *testing.F) {
	f.Add([]byte(`{"bme":{"temperature":18.4}}`))
	f.Add([]byte(`{"a/b":[1,"2"],"~":"-3.5"}`))
	f.Fuzz(func(t *testing.T, payload []byte) {
		for _, n := range numbers(payload) {
			d, err := intake.NewDecoder(intake.Sensor{Name: "x", Topic: "x", Pointer: n.pointer, Quantity: model.Temperature, Unit: "degC", Scale: 1})
			if err != nil {
				t.Errorf("%q: pointer %q: %v", payload, n.pointer, err)
				continue
			}
			if v, err := d.Decode(payload); err == nil && v.Number != n.value {
				t.Errorf("%q at %q: %v offered, %v read", payload, n.pointer, n.value, v.Number)
			}
		}
	})
}

func TestInterval(t *testing.T) {
	for every, want := range map[time.Duration]time.Duration{
		0: 5 * time.Minute, 900 * time.Millisecond: time.Second, 61 * time.Second: time.Minute,
		70 * time.Second: 2 * time.Minute, 3 * time.Hour: 24 * time.Hour,
	} {
		if got := (candidate{every: every}).interval(); got != want {
			t.Errorf("seen every %s: %s, want %s", every, got, want)
		}
	}
}

// A guess is shown and never taken; these are what it says.
func TestGuess(t *testing.T) {
	for _, c := range []struct {
		topic, pointer string
		number         float64
		want           string
	}{
		{"stairs/climate", "/temperature", 19.6, "a temperature in degC"},
		{"stairs/climate", "/temperature", 67.3, "a temperature in degF"},
		{"stairs/climate", "/temperature", 292.8, "a temperature in K"},
		{"stairs/climate", "/battery", 19.6, ""},
		{"stairs/climate", "/pressure", 1003, "the air's pressure in hPa"},
		{"stairs/gauge", "", 1.2, "a pressure in bar"},
		{"stairs/gauge", "/psi", 12, "a pressure in psi"},
		{"lamp", "/brightness", 20, ""},
	} {
		if got := (candidate{topic: c.topic, pointer: c.pointer, number: c.number}).guess(); got != c.want {
			t.Errorf("%s %s %v: %q, want %q", c.topic, c.pointer, c.number, got, c.want)
		}
	}
}
