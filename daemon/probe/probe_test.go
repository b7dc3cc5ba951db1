package probe

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// tree of a kernel that has these files below /sys.
func tree(t *testing.T, files map[string]string) string {
	t.Helper()
	root := t.TempDir()
	for name, text := range files {
		path := filepath.Join(root, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return root
}

func only(t *testing.T, root string) Sensor {
	t.Helper()
	found := Find(root)
	if len(found) != 1 {
		t.Fatalf("found %d sensors, want 1", len(found))
	}
	return found[0]
}

// The scratchpads are of the form in the kernel's w1_therm documentation; the
// temperature is that of the data sheet's table, a sixteenth of a degree a step
// (from memory), where it isn't a fault.
func TestThermometer(t *testing.T) {
	for name, c := range map[string]struct {
		text  string
		want  float64
		fault string
	}{
		"room":           {"4b 01 4b 46 7f ff 05 10 e1 : crc=e1 YES\n4b 01 4b 46 7f ff 05 10 e1 t=20687\n", 20.687, ""},
		"frost":          {"5e ff 4b 46 7f ff 02 10 6f : crc=6f YES\n5e ff 4b 46 7f ff 02 10 6f t=-10125\n", -10.125, ""},
		"noughts really": {"00 00 4b 46 7f ff 0c 10 1c : crc=1c YES\n00 00 4b 46 7f ff 0c 10 1c t=0\n", 0, ""},
		"bad checksum":   {"4b 01 4b 46 7f ff 05 10 e1 : crc=3c NO\n4b 01 4b 46 7f ff 05 10 e1 t=20687\n", 0, "checksum"},
		"power on":       {"50 05 4b 46 7f ff 0c 10 1c : crc=1c YES\n50 05 4b 46 7f ff 0c 10 1c t=85000\n", 0, "before it has measured"},
		"gone":           {"4b 01 4b 46 7f ff 05 10 e1 : crc=e1 YES\n4b 01 4b 46 7f ff 05 10 e1 t=-127000\n", 0, "outside"},
		"nobody":         {"ff ff ff ff ff ff ff ff ff : crc=c9 NO\nff ff ff ff ff ff ff ff ff t=-62\n", 0, "nothing answers"},
		"shorted":        {"00 00 00 00 00 00 00 00 00 : crc=00 YES\n00 00 00 00 00 00 00 00 00 t=0\n", 0, "touch"},
		"half":           {"4b 01 4b 46 7f ff 05 10 e1 : crc=e1 YES\n", 0, "no temperature"},
		"odd":            {"4b 01 4b 46 7f ff 05 10 e1 : crc=e1 YES\n4b t=2O\n", 0, "no number"},
		"empty":          {"", 0, "nothing answers"},
	} {
		t.Run(name, func(t *testing.T) {
			s := only(t, tree(t, map[string]string{"bus/w1/devices/28-0000invented/w1_slave": c.text, "bus/w1/devices/w1_bus_master1/w1_master_slaves": "28-0000invented\n"}))
			got, err := s.Read()
			if c.fault != "" {
				if err == nil || !strings.Contains(err.Error(), c.fault) {
					t.Errorf("read %v, %v; want an error with %q", got, err, c.fault)
				}
				return
			}
			if err != nil || got != c.want || s.Unit != DegC || s.Name != "28-0000invented" {
				t.Errorf("%+v: %v, %v; want %v", s, got, err, c.want)
			}
		})
	}
}

func TestThermometerTaken(t *testing.T) {
	root := tree(t, map[string]string{"bus/w1/devices/28-0000invented/w1_slave": ""})
	s := only(t, root)
	if err := os.RemoveAll(filepath.Join(root, "bus/w1/devices/28-0000invented")); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Read(); err == nil || !strings.Contains(err.Error(), "nothing answers") {
		t.Errorf("a probe that was taken away: %v", err)
	}
	if n := len(Find(root)); n != 0 {
		t.Errorf("%d sensors are still found", n)
	}
}

// What the numbers mean is the kernel's ABI: testing/sysfs-bus-iio.
func TestChannels(t *testing.T) {
	const dev = "bus/iio/devices/iio:device0/"
	for name, c := range map[string]struct {
		files map[string]string
		want  map[string]float64
		unit  Unit
		fault string
	}{
		"processed pressure":    {files: map[string]string{"name": "bmp280", "in_pressure_input": "100.325000\n"}, want: map[string]float64{"bmp280/pressure": 100.325}, unit: KPa},
		"processed temperature": {files: map[string]string{"name": "bme280", "in_temp_input": "21430\n"}, want: map[string]float64{"bme280/temp": 21.43}, unit: DegC},
		"raw, own scale": {files: map[string]string{"name": "ads1115", "in_voltage0_raw": "4008\n", "in_voltage0_scale": "0.125000000\n"},
			want: map[string]float64{"ads1115/voltage0": 0.501}, unit: Volt},
		"raw, shared scale and offset": {files: map[string]string{"name": "mcp3008", "in_voltage1_raw": "100", "in_voltage2_raw": "200", "in_voltage_scale": "2", "in_voltage_offset": "-50"},
			want: map[string]float64{"mcp3008/voltage1": 0.1, "mcp3008/voltage2": 0.3}, unit: Volt},
		"a difference": {files: map[string]string{"name": "ads1115", "in_voltage0-voltage1_raw": "-8", "in_voltage0-voltage1_scale": "125"},
			want: map[string]float64{"ads1115/voltage0-voltage1": -1}, unit: Volt},
		"both forms":    {files: map[string]string{"name": "hp206c", "in_temp_input": "5000", "in_temp_raw": "17", "in_temp_scale": "10"}, want: map[string]float64{"hp206c/temp": 5}, unit: DegC},
		"no name":       {files: map[string]string{"in_temp_input": "5000"}, want: map[string]float64{"device0/temp": 5}, unit: DegC},
		"a bad name":    {files: map[string]string{"name": "a/b#", "in_temp_input": "5000"}, want: map[string]float64{"a-b-/temp": 5}, unit: DegC},
		"others":        {files: map[string]string{"name": "bme280", "in_humidityrelative_input": "51000", "in_temp_oversampling_ratio": "2", "in_voltage_scale": "2"}, want: map[string]float64{}},
		"no number":     {files: map[string]string{"name": "bmp280", "in_pressure_input": "<error>"}, want: map[string]float64{"bmp280/pressure": 0}, fault: "can't be read"},
		"not a number":  {files: map[string]string{"name": "bmp280", "in_pressure_input": "nan"}, want: map[string]float64{"bmp280/pressure": 0}, fault: "can't be read"},
		"no number raw": {files: map[string]string{"name": "x", "in_voltage0_raw": ""}, want: map[string]float64{"x/voltage0": 0}, fault: "can't be read"},
		"bad scale":     {files: map[string]string{"name": "x", "in_voltage0_raw": "1", "in_voltage_scale": "two"}, want: map[string]float64{"x/voltage0": 0}, fault: "can't be read"},
		"bad offset":    {files: map[string]string{"name": "x", "in_voltage0_raw": "1", "in_voltage_offset": "two"}, want: map[string]float64{"x/voltage0": 0}, fault: "can't be read"},
	} {
		t.Run(name, func(t *testing.T) {
			files := map[string]string{}
			for k, v := range c.files {
				files[dev+k] = v
			}
			found := Find(tree(t, files))
			if len(found) != len(c.want) {
				t.Fatalf("found %v, want %v", found, c.want)
			}
			for _, s := range found {
				want, ok := c.want[s.Name]
				got, err := s.Read()
				if c.fault != "" {
					if err == nil || !strings.Contains(err.Error(), c.fault) {
						t.Errorf("%s: read %v, %v; want an error", s.Name, got, err)
					}
					continue
				}
				if !ok || err != nil || math.Abs(got-want) > 1e-9 || s.Unit != c.unit {
					t.Errorf("%s: %v %s, %v; want %v %s", s.Name, got, s.Unit, err, want, c.unit)
				}
			}
		})
	}
}

func TestTwins(t *testing.T) {
	found := Find(tree(t, map[string]string{
		"bus/iio/devices/iio:device0/name": "bmp280", "bus/iio/devices/iio:device0/in_temp_input": "1000",
		"bus/iio/devices/iio:device3/name": "bmp280", "bus/iio/devices/iio:device3/in_temp_input": "2000",
	}))
	if len(found) != 2 || found[0].Name != "bmp280-0/temp" || found[1].Name != "bmp280-3/temp" {
		t.Errorf("found %v", found)
	}
}

// FuzzThermometer: whatever the kernel says, a reading is within what such a
// probe measures.
func FuzzThermometer(f *testing.F) {
	f.Add("4b 01 4b 46 7f ff 05 10 e1 : crc=e1 YES\n4b 01 4b 46 7f ff 05 10 e1 t=20687\n")
	f.Add("00 00 00 00 00 00 00 00 00 : crc=00 YES\nt=0")
	f.Add("YES\nt=-99999999999999999999")
	path := filepath.Join(f.TempDir(), "w1_slave")
	f.Fuzz(func(t *testing.T, text string) {
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		if v, err := scratchpad(path); err == nil && !(v >= -55 && v <= 125 && v != 85) {
			t.Errorf("%q is read as %v", text, v)
		}
	})
}
