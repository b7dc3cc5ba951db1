package intake

import (
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"conditiond/model"
)

func decoder(t testing.TB, s Sensor) Decoder {
	t.Helper()
	if s.Topic == "" {
		s.Topic = "closet/any"
	}
	if s.Quantity == "" {
		s.Quantity, s.Unit = model.Temperature, DegC
	}
	d, err := NewDecoder(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func kindOf(t testing.TB, err error) Kind {
	t.Helper()
	var r Reason
	if !errors.As(err, &r) {
		t.Fatalf("%v is no Reason", err)
	}
	if r.Text == "" {
		t.Error("a Reason without words")
	}
	return r.Kind
}

// What JSON takes (RFC 8259) and what plain devices print, and nothing else
// that strconv.ParseFloat would take.
func TestBareNumbers(t *testing.T) {
	d := decoder(t, Sensor{})
	for payload, want := range map[string]float64{
		"18.4": 18.4, " 18.4\r\n": 18.4, "18.40": 18.4, "  18.4": 18.4, "+21.5": 21.5, "021.5": 21.5, "-3": -3, "-0.0": 0,
		"1.84e1": 18.4, "184E-1": 18.4, `"18.4"`: 18.4, `" 18.4 "`: 18.4, "29.700001": 29.700001,
	} {
		v, err := d.Decode([]byte(payload))
		if err != nil || v.Number != want {
			t.Errorf("%q: %v, %v; want %v", payload, v.Number, err, want)
		}
	}
	for payload, want := range map[string]Kind{
		"inf": NotANumber, "+Inf": NotANumber, "nan": Unavailable, "NaN": Unavailable, "-nan": Unavailable, "Infinity": NotANumber,
		"1_000": NotANumber, "0x1p-2": NotANumber, "1e308": NotANumber, "1e400": NotANumber, "1e-400": NotANumber, "1e": NotANumber,
		"−5": NotANumber, "١٨": NotANumber, "18,4": NotANumber, "1.234,5": NotANumber, "18.4 C": NotANumber, "18.4°C": NotANumber, "T:18.4;P:2.3": NotANumber,
		".5": NotANumber, "21.": NotANumber, "-": NotANumber, "--": Unavailable, "1 8": NotANumber, strings.Repeat("1", 400): NotANumber,
		"\ufeff18.4": NotANumber, "18.4\x00": Binary, "1\x008\x00": Binary, "\x1f\x8b\x08": Binary, "\xff\xfe": Binary,
		"": Cleared, " ": NotANumber, "online": Unavailable, "Offline": Unavailable, "true": NotANumber, "null": Unavailable, "unavailable": Unavailable,
		`{"t":18.4}`: NotANumber, "[18.4]": NotANumber, `"`: NotANumber,
		strings.Repeat(" ", MaxPayload) + "1": TooBig,
	} {
		if v, err := d.Decode([]byte(payload)); err == nil {
			t.Errorf("%.40q: taken as %v", payload, v.Number)
		} else if got := kindOf(t, err); got != want {
			t.Errorf("%.40q: %s (%v), want %s", payload, got, err, want)
		}
	}
}

func TestHints(t *testing.T) {
	plain, at := decoder(t, Sensor{}), decoder(t, Sensor{Pointer: "/t"})
	gauge := decoder(t, Sensor{Quantity: model.Pressure, Unit: Bar})
	for _, x := range []struct {
		d             Decoder
		payload, want string
	}{
		{plain, "18,4", "decimal comma"},
		{plain, `{"t":18.4}`, "a pointer would say"},
		{at, `18.4 C`, "is not JSON"},
		{at, `{"t":nan}`, "is not JSON"},
		{at, `{"t":"18,4"}`, "at /t: \"18,4\" has a decimal comma"},
		{at, `{"T":18.4}`, "nothing at /t"},
		{plain, "64400", "can't be"},
		{plain, "-127.00", "disconnected"},
		{plain, "291.5", "is it K?"},
		{gauge, "1013.2", "is it hPa?"},
		{gauge, "101.3", "is it kPa?"},
		{gauge, "210", "is it kPa?"},
		{gauge, "30.5", "is it psi?"},
		{gauge, "210000", "can't be"},
	} {
		if _, err := x.d.Decode([]byte(x.payload)); err == nil || !strings.Contains(err.Error(), x.want) {
			t.Errorf("%s: %v, want …%s…", x.payload, err, x.want)
		}
	}
}

// The file's name says which firmware or gateway prints this shape; values and
// names within are invented.
func TestShapes(t *testing.T) {
	const none = ""
	for _, x := range []struct {
		file, pointer string
		unit          Unit
		want          float64
		refused       Kind
	}{
		{"tasmota-probe.json", "/DS18B20/Temperature", DegC, 18.4, none},
		{"tasmota-probes.json", "/DS18B20-2/Temperature", DegC, 19.1, none},
		{"tasmota-probe.json", "/DS18B20-1/Temperature", DegC, 0, NoValue},
		{"tasmota-air.json", "/BME280/Temperature", DegC, 18.4, none},
		{"tasmota-air.json", "/BME280/Pressure", HPa, 0.9641, none},
		{"tasmota-air.json", "/BME280/Pressure", KPa, 0.9641, none}, // it says that it is hPa
		{"tasmota-fahrenheit.json", "/DS18B20/Temperature", DegF, 18, none},
		{"tasmota-fahrenheit.json", "/DS18B20/Temperature", DegC, 18, none},
		{"tasmota-failed.json", "/DS18B20/Temperature", DegC, 0, Unavailable},
		{"tasmota-status.json", "/StatusSNS/DS18B20/Temperature", DegC, 18.4, none},
		{"esphome.txt", none, DegC, 18.4, none},
		{"zigbee2mqtt.json", "/temperature", DegC, 18.43, none},
		{"zigbee2mqtt-state.json", "/temperature", DegC, 0, NoValue},
		{"shelly-status.json", "/tC", DegC, 18.4, none},
		{"shelly-status.json", "/tF", DegF, (65.1 - 32) / 1.8, none},
		{"shelly-event.json", "/params/temperature:0/tC", DegC, 18.4, none},
		{"rtl_433.json", "/temperature_C", DegC, 18.4, none},
		{"openmqttgateway.json", "/tempc", DegC, 18.4, none},
		{"openmqttgateway-old.json", "/tempc", DegC, 18.4, none},
		{"homie.txt", none, DegC, 18.4, none},
		{"things-stack.json", "/uplink_message/decoded_payload/temperature", DegC, 18.4, none},
		{"things-stack-no-decoder.json", "/uplink_message/decoded_payload/temperature", DegC, 0, NoValue},
		{"things-stack.json", "/uplink_message/rx_metadata/0/snr", DegC, 7.2, none},
		{"things-stack.json", "/uplink_message/rx_metadata/1/snr", DegC, 0, NoValue},
		{"espurna.json", "/temperature", DegC, 18.4, none},
		{"sparkplug.bin", "/temperature", DegC, 0, Binary},
		{"unit-beside.json", "/probe/value", DegC, 18, none},
		{"unit-beside.json", "/probe/value", DegF, 18, none},
		{"escaped.json", "/a~1b/m~0n/1/ c", DegC, 18.4, none},
		{"twice.json", "/t", DegC, 0, Ambiguous},
		{"twice.json", "/p", DegC, 2, none},
		{"two-objects.json", "/t", DegC, 0, Malformed},
		{"lines.json", "/t", DegC, 0, Malformed},
	} {
		payload, err := os.ReadFile(filepath.Join("testdata", "payloads", x.file))
		if err != nil {
			t.Fatal(err)
		}
		q, _ := x.unit.Quantity()
		v, err := decoder(t, Sensor{Pointer: x.pointer, Quantity: q, Unit: x.unit}).Decode(payload)
		switch {
		case x.refused == none && (err != nil || math.Abs(v.Number-x.want) > 1e-9):
			t.Errorf("%s %s: %v, %v; want %v", x.file, x.pointer, v.Number, err, x.want)
		case x.refused != none && (err == nil || kindOf(t, err) != x.refused):
			t.Errorf("%s %s: %v, %v; want %s", x.file, x.pointer, v.Number, err, x.refused)
		}
	}
}

// Exact by definition (degF, K, kPa, hPa, MPa); a psi is 6.894757 kPa (NIST SP
// 811, appendix B.8, from memory).
func TestUnits(t *testing.T) {
	for _, x := range []struct {
		unit Unit
		raw  string
		want float64
	}{
		{DegC, "20", 20}, {DegF, "68", 20}, {K, "293.15", 20},
		{Bar, "2", 2}, {KPa, "200", 2}, {HPa, "2000", 2}, {MPa, "0.2", 2}, {PSI, "29.00755", 2},
	} {
		q, _ := x.unit.Quantity()
		v, err := decoder(t, Sensor{Quantity: q, Unit: x.unit}).Decode([]byte(x.raw))
		if err != nil || math.Abs(v.Number-x.want) > 1e-6 {
			t.Errorf("%s %s: %v, %v; want %v", x.raw, x.unit, v.Number, err, x.want)
		}
	}
}

func TestPressure(t *testing.T) {
	gauge := Sensor{Quantity: model.Pressure, Unit: PSI, FullScale: 100}
	absolute := Sensor{Quantity: model.Pressure, Unit: KPa, Reference: Absolute, FullScale: 700, Station: 1.0}
	volts := Sensor{Quantity: model.Pressure, Unit: Bar, FullScale: 10, Scale: 2.5, Offset: -1.25} // 0.5 to 4.5 V
	moved := Sensor{Quantity: model.Pressure, Unit: PSI, FullScale: 100, Offset: -1.5}
	wide := Sensor{Quantity: model.Pressure, Unit: PSI, FullScale: 500}
	bare := Sensor{Quantity: model.Pressure, Unit: Bar}
	for _, x := range []struct {
		name    string
		s       Sensor
		raw     string
		want    float64
		full    bool
		refused Kind
	}{
		{"gauge", gauge, "29.00755", 2, false, ""},
		{"a little below nothing", gauge, "-0.7", -0.0483, false, ""},
		{"broken wire", gauge, "-12.5", 0, false, OutOfRange},
		{"at full scale", gauge, "100", 6.894757, true, ""},
		{"the top code, rounded", gauge, "99.9", 6.894757, true, ""},
		{"just below", gauge, "99.5", 6.860283, false, ""},
		{"above full scale", gauge, "180", 6.894757, true, ""},
		{"a wide sensor shorted to its top", wide, "500", 34.473785, true, ""},
		{"nonsense", gauge, "50000", 0, false, OutOfRange},
		{"absolute", absolute, "300", 2, false, ""},
		{"absolute, full", absolute, "700", 6, true, ""},
		{"a vacuum at chilling", absolute, "60", -0.4, false, ""},
		{"volts", volts, "1.3", 2, false, ""},
		{"volts, broken wire", volts, "0", 0, false, OutOfRange},
		{"volts, full", volts, "4.5", 10, true, ""},
		{"calibrated below its full scale", moved, "100", 6.894757, true, ""},
		{"hPa of the air on a channel in bar", bare, "1013", 0, false, WrongUnit},
		{"kPa of the air on a channel in bar", bare, "101.3", 0, false, WrongUnit},
		{"hPa of the air on a channel in psi", gauge, "1013", 0, false, WrongUnit},
	} {
		v, err := decoder(t, x.s).Decode([]byte(x.raw))
		switch {
		case x.refused != "" && (err == nil || kindOf(t, err) != x.refused):
			t.Errorf("%s: %v, %v; want %s", x.name, v, err, x.refused)
		case x.refused == "" && (err != nil || v.AtFullScale != x.full || math.Abs(v.Number-x.want) > 1e-4):
			t.Errorf("%s: %+v, %v; want %v, %v", x.name, v, err, x.want, x.full)
		}
	}
}

func TestSensorCheck(t *testing.T) {
	good := Sensor{Topic: "stairs/climate", Quantity: model.Temperature, Unit: DegC}
	if err := good.Check(); err != nil {
		t.Error(err)
	}
	for name, bad := range map[string]func(*Sensor){
		"no topic":         func(s *Sensor) { s.Topic = "" },
		"wildcard":         func(s *Sensor) { s.Topic = "stairs/#" },
		"shared":           func(s *Sensor) { s.Topic = "$share/a/stairs" },
		"pointer":          func(s *Sensor) { s.Pointer = "bme/temperature" },
		"escape":           func(s *Sensor) { s.Pointer = "/a~2" },
		"unit":             func(s *Sensor) { s.Unit = "C" },
		"other quantity":   func(s *Sensor) { s.Unit = Bar },
		"reference":        func(s *Sensor) { s.Reference = Gauge },
		"full scale":       func(s *Sensor) { s.FullScale = -1 },
		"calibration":      func(s *Sensor) { s.Offset = math.NaN() },
		"unknown quantity": func(s *Sensor) { s.Quantity = "humidity" },
	} {
		s := good
		bad(&s)
		if s.Check() == nil {
			t.Errorf("%s: taken", name)
		}
	}
}

func FuzzDecode(f *testing.F) {
	files, _ := filepath.Glob("testdata/payloads/*")
	for _, file := range files {
		b, _ := os.ReadFile(file)
		f.Add("/DS18B20/Temperature", b)
	}
	f.Add("", []byte("18.4"))
	f.Add("/0/a~1b", []byte(`[{"a\u002fb":"18.4"}]`))
	f.Fuzz(func(t *testing.T, pointer string, payload []byte) {
		d, err := NewDecoder(Sensor{Topic: "any", Pointer: pointer, Quantity: model.Temperature, Unit: DegC})
		if err != nil {
			return
		}
		v, err := d.Decode(payload)
		if err != nil {
			kindOf(t, err)
			return
		}
		if !(v.Number >= -55 && v.Number <= 125) {
			t.Errorf("%q: %v", payload, v)
		}
	})
}

func BenchmarkDecode(b *testing.B) {
	payload, err := os.ReadFile("testdata/payloads/tasmota-air.json")
	if err != nil {
		b.Fatal(err)
	}
	d := decoder(b, Sensor{Pointer: "/BME280/Temperature"})
	for b.Loop() {
		if _, err := d.Decode(payload); err != nil {
			b.Fatal(err)
		}
	}
}
