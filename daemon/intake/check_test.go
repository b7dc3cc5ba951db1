package intake

import (
	"encoding/json"
	"testing"
	"time"

	"conditiond/model"
)

const ok Kind = ""

// said is one raw number of a sensor, some time after the one before, and what
// becomes of it.
type said struct {
	after time.Duration
	raw   string
	want  Kind
}

func TestCheck(t *testing.T) {
	const m, h = time.Minute, time.Hour
	celsius := Sensor{Quantity: model.Temperature, Unit: DegC}
	fahrenheit := Sensor{Quantity: model.Temperature, Unit: DegF}
	shifted := Sensor{Quantity: model.Temperature, Unit: DegC, Offset: 0.4}
	gauge := Sensor{Quantity: model.Pressure, Unit: Bar, FullScale: 10}
	for name, x := range map[string]struct {
		s    Sensor
		said []said
	}{
		"the power-on word":                {celsius, []said{{m, "18.4", ok}, {m, "85.0", PowerOn}, {m, "18.4", ok}}},
		"the power-on word first":          {celsius, []said{{m, "85", PowerOn}, {m, "18.4", ok}}},
		"the power-on word for ever":       {celsius, []said{{m, "18.4", ok}, {m, "85", PowerOn}, {m, "85", PowerOn}, {m, "85", PowerOn}, {72 * h, "85", PowerOn}}},
		"the power-on word in °F":          {fahrenheit, []said{{m, "65", ok}, {m, "185", PowerOn}}},
		"the power-on word, calibrated":    {shifted, []said{{m, "18.4", ok}, {m, "85", PowerOn}, {m, "84.6", Held}}},
		"a true ramp through 85":           {celsius, []said{{m, "79", ok}, {m, "83", ok}, {m, "84", ok}, {m, "85", ok}, {m, "86", ok}}},
		"a shorted line":                   {celsius, []said{{m, "18.4", ok}, {m, "0", Disconnected}, {m, "0", Disconnected}, {m, "0", Disconnected}, {m, "-0.0625", Disconnected}}},
		"freezing on the way":              {celsius, []said{{m, "3", ok}, {m, "0.5", ok}, {m, "0", ok}, {m, "-0.0625", ok}}},
		"chilled while nobody looked":      {celsius, []said{{m, "18.4", ok}, {8 * h, "0", ok}}},
		"one spike":                        {celsius, []said{{m, "18.4", ok}, {m, "79", Held}, {m, "18.5", ok}, {m, "79", Held}}},
		"a jump that stays":                {celsius, []said{{m, "18.4", ok}, {m, "30", Held}, {m, "30.5", Held}, {m, "30.4", ok}, {m, "30.6", ok}}},
		"spikes that don't agree":          {celsius, []said{{m, "18.4", ok}, {m, "40", Held}, {m, "60", Held}, {m, "100", Held}, {m, "50", Held}, {m, "18.4", ok}}},
		"a false first reading":            {celsius, []said{{m, "79", ok}, {m, "18.4", Held}, {m, "18.4", Held}, {m, "18.4", ok}}},
		"a device that changed to °F":      {celsius, []said{{m, "18", ok}, {m, "64.4", WrongUnit}, {m, "64.4", WrongUnit}, {m, "64.4", WrongUnit}, {2 * h, "64.5", WrongUnit}, {m, "18.1", ok}}},
		"a device that changed to °C":      {fahrenheit, []said{{m, "64.4", ok}, {m, "18", WrongUnit}, {m, "64.6", ok}}},
		"a warm day after a silent night":  {celsius, []said{{m, "18", ok}, {8 * h, "31", ok}}},
		"a pressure that jumps up":         {gauge, []said{{m, "1.2", ok}, {m, "8", ok}, {m, "1.2", ok}}},
		"a pressure at full scale":         {gauge, []said{{m, "1.2", ok}, {m, "10", ok}, {m, "11", ok}}},
		"a gauge that drops out once":      {gauge, []said{{m, "2.2", ok}, {m, "2.2", ok}, {m, "0", Held}, {m, "2.2", ok}}},
		"a bottle that is opened":          {gauge, []said{{m, "2.2", ok}, {m, "2.2", ok}, {m, "0.02", Held}, {m, "0", Held}, {m, "0", ok}, {m, "0.01", ok}}},
		"the way back from a spike upward": {gauge, []said{{m, "2.2", ok}, {m, "6", ok}, {m, "2.2", ok}}},
		"a slow loss":                      {gauge, []said{{m, "2.2", ok}, {6 * h, "0.9", ok}}},
	} {
		t.Run(name, func(t *testing.T) { hears(t, x.s, x.said) })
	}
}

func hears(t *testing.T, s Sensor, all []said) {
	d := decoder(t, s)
	at := time.Date(2026, 3, 1, 14, 0, 0, 0, time.UTC)
	var c Check
	for i, x := range all {
		at = at.Add(x.after)
		v, err := d.Decode([]byte(x.raw))
		if err != nil {
			t.Fatal(err)
		}
		c, err = again(t, c).Consider(s, at, v)
		switch {
		case x.want == ok && err != nil:
			t.Errorf("%d: %s refused: %v", i, x.raw, err)
		case x.want != ok && err == nil:
			t.Errorf("%d: %s taken, want %s", i, x.raw, x.want)
		case err != nil && kindOf(t, err) != x.want:
			t.Errorf("%d: %s is %v, want %s", i, x.raw, err, x.want)
		}
	}
}

// again is what a snapshot gives back.
func again(t *testing.T, c Check) Check {
	b, err := json.Marshal(c)
	if err != nil {
		t.Fatal(err)
	}
	var back Check
	if err := json.Unmarshal(b, &back); err != nil || back != c {
		t.Fatalf("%+v came back as %+v: %v", c, back, err)
	}
	return back
}
