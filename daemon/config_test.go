package daemon

import (
	"errors"
	"flag"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"conditiond/alerts"
	"conditiond/daemon/intake"
	"conditiond/model"
)

// Every bad configuration has a file beside it that says what must be said.
func TestBadConfigs(t *testing.T) {
	t.Setenv("CONDITIOND_TEST_SECRET", "invented")
	t.Setenv("CONDITIOND_TEST_URL", "https://hook.example.net/invented")
	everyFile(t, "../testdata/config/bad/*.yaml", func(t *testing.T, path string) {
		_, _, err := LoadConfig(path)
		compareFaults(t, path, err)
	})
}

func everyFile(t *testing.T, pattern string, check func(*testing.T, string)) {
	paths, err := filepath.Glob(pattern)
	if err != nil || len(paths) == 0 {
		t.Fatalf("no files %s: %v", pattern, err)
	}
	for _, path := range paths {
		t.Run(filepath.Base(path), func(t *testing.T) { check(t, path) })
	}
}

var update = flag.Bool("update", false, "write the expected output in testdata anew, to be read before it is kept")

// compareFaults with the file beside the document.
func compareFaults(t *testing.T, path string, err error) {
	var faults Faults
	if !errors.As(err, &faults) {
		t.Fatalf("not refused with faults: %v", err)
	}
	got := strings.ReplaceAll(faults.Error(), filepath.Dir(path)+"/", "") + "\n"
	want := strings.TrimSuffix(path, filepath.Ext(path)) + ".want"
	if *update {
		if err := os.WriteFile(want, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	text, err := os.ReadFile(want)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(text) {
		t.Errorf("faults differ from %s, got:\n%s", want, got)
	}
	if strings.Contains(got, "hunter2") {
		t.Error("a fault quotes a secret")
	}
}

func TestExampleConfig(t *testing.T) {
	c, warnings, err := ReadConfig("../config.example.yaml")
	if err != nil || len(warnings) > 0 {
		t.Fatalf("error %v, warnings %v", err, warnings)
	}
	if got := c.Sensors["gauge-a"]; got.Calibration.Scale != 1 || got.FullScale != 100 || got.Interval != 5*time.Minute {
		t.Errorf("gauge-a is %+v", got)
	}
	if len(c.Notify) != 3 || len(c.Notify[2].SMTP.To) != 1 || c.Notify[1].Least != alerts.Notice {
		t.Errorf("notify is %+v", c.Notify)
	}
}

// A secret that systemd hands to the service is missed by the service, not by a
// person who checks the configuration beside it.
func TestSecretsOfTheService(t *testing.T) {
	t.Setenv("CREDENTIALS_DIRECTORY", "")
	_, warnings, err := LoadConfig("../config.example.yaml")
	if err != nil || len(warnings) != 6 || !strings.Contains(warnings.Error(), "only while the service runs") {
		t.Errorf("beside the service: error %v, warnings %v", err, warnings)
	}
	t.Setenv("CREDENTIALS_DIRECTORY", "/run/credentials/conditiond.service")
	if _, _, err = LoadConfig("../config.example.yaml"); err == nil || !strings.Contains(err.Error(), "no such file") {
		t.Errorf("in the service: %v", err)
	}
}

func TestGoodConfigs(t *testing.T) {
	everyFile(t, "../testdata/config/good/*.yaml", func(t *testing.T, path string) {
		if _, _, err := LoadConfig(path); err != nil {
			t.Error(err)
		}
	})
}

func TestDefaults(t *testing.T) {
	c, _, err := LoadConfig("../testdata/config/good/names.yaml")
	if err != nil {
		t.Fatal(err)
	}
	bench, gauge := c.Sensors["kjøkken.benk"], c.Sensors["måler-1"]
	want := Sensor{Topic: "kjøkken/benk", Pointer: "/t", Quantity: model.Temperature, Unit: intake.DegF,
		Interval: 5 * time.Minute, Reference: intake.Gauge, Calibration: Calibration{Scale: 1, Offset: -0.5}}
	if bench != want {
		t.Errorf("got %+v, want %+v", bench, want)
	}
	if gauge.Calibration.Scale != 1 || gauge.Reference != intake.Absolute {
		t.Errorf("got %+v", gauge)
	}
	if c.Web.Listen != "127.0.0.1:8080" || c.Journal.Dir != "/var/lib/conditiond" || c.MQTT.Broker != "" || c.InfluxDB != nil {
		t.Errorf("got %+v", c)
	}
}

func TestWarnings(t *testing.T) {
	secret := filepath.Join(t.TempDir(), "password")
	if err := os.WriteFile(secret, []byte("invented\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	const rest = `
sensors:
  air: {topic: /a, quantity: temperature, unit: degC, interval: 10s}
  gauge: {topic: b, quantity: pressure, unit: bar}
spaces: {stairs: {temperature: air}}
`
	for _, test := range []struct{ name, text, want string }{
		{"nobody told", rest, "c.yaml:1:1: notify: nobody is told"},
		{"empty level", rest, `c.yaml:3:16: sensors.air.topic: "/a": has an empty level`},
		{"no full scale", rest, "c.yaml:4:3: sensors.gauge.full_scale: missing: give the end of the gauge's range"},
		{"open broker", "mqtt: {listen: 0.0.0.0:1883}" + rest, "c.yaml:1:16: mqtt.listen: \"0.0.0.0:1883\": without username"},
		{"stock queue", "mqtt: {broker: mqtt://192.0.2.1:1883}" + rest, "an hour, and a broker with stock limits keeps 1000 of them: 3 h of absence"},
		{"clear password", "mqtt: {broker: mqtt://192.0.2.1:1883, username: a, password_file: " + secret + "}" + rest,
			"c.yaml:1:16: mqtt.broker: \"mqtt://192.0.2.1:1883\": the password crosses the network in the clear"},
		{"exposed", "web: {password_file: " + secret + "}" + rest, "/password\": every user of this machine can read the file"},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, warnings, err := parseConfig("c.yaml", []byte(test.text), toRun)
			if err != nil || !strings.Contains(warnings.Error(), test.want) {
				t.Errorf("error %v, warnings:\n%v", err, warnings)
			}
		})
	}
}

func FuzzConfig(f *testing.F) {
	for _, pattern := range []string{"../testdata/config/*/*.yaml", "../config.example.yaml"} {
		paths, _ := filepath.Glob(pattern)
		for _, path := range paths {
			data, err := os.ReadFile(path)
			if err != nil {
				f.Fatal(err)
			}
			f.Add(data)
		}
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		c, _, err := parseConfig("config", data, asWritten)
		checkFaults(t, data, err)
		if err == nil && (len(c.Sensors) == 0 || math.IsNaN(c.Site.Altitude)) {
			t.Errorf("accepted: %+v", c)
		}
	})
}
