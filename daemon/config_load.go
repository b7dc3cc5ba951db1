package daemon

import (
	"fmt"
	"time"

	"conditiond/alerts"
	"conditiond/daemon/intake"
)

// scrutiny is how closely a configuration is looked at.
type scrutiny int

const (
	asWritten scrutiny = iota // nothing but the file
	toRun                     // secrets and certificates must be there
	toTell                    // and be such that they will do tomorrow
)

// LoadConfig reads and checks the configuration for use on this machine:
// secrets and certificates must be there. The warnings are of what works but
// may surprise. The error is Faults, all of them, or says why the file can't be
// read.
func LoadConfig(path string) (*Config, Faults, error) { return loadConfig(path, toRun) }

// CheckConfig is LoadConfig for a person who asks: what the daemon would rather
// live with than not watch, as a certificate that has run out, is a fault too.
func CheckConfig(path string) (*Config, Faults, error) { return loadConfig(path, toTell) }

// ReadConfig is LoadConfig for whoever doesn't run the daemon: a replay, or a
// person who may not read its secrets. It looks at nothing but the file.
func ReadConfig(path string) (*Config, Faults, error) { return loadConfig(path, asWritten) }

func loadConfig(path string, how scrutiny) (*Config, Faults, error) {
	data, err := readDocument(path)
	if err != nil {
		return nil, nil, fmt.Errorf("read the configuration: %w", err)
	}
	return parseConfig(path, data, how)
}

func parseConfig(file string, data []byte, how scrutiny) (*Config, Faults, error) {
	d := &document{file: file}
	c := defaults()
	d.decode(data, &c)
	c.complete(d)
	check := configCheck{document: d, Config: &c, here: how >= toRun, strict: how == toTell}
	check.all()
	warnings, err := d.result()
	if err != nil {
		return nil, warnings, err
	}
	return &c, warnings, nil
}

// complete the defaults inside lists and maps, where decoding starts from
// nothing.
func (c *Config) complete(d *document) {
	for name, s := range c.Sensors {
		path := "sensors." + name
		if !d.given(path + ".interval") {
			s.Interval = 5 * time.Minute
		}
		if !d.given(path + ".reference") {
			s.Reference = intake.Gauge
		}
		if !d.given(path + ".calibration.scale") {
			s.Calibration.Scale = 1
		}
		c.Sensors[name] = s
	}
	for i := range c.Notify {
		if !d.given(fmt.Sprintf("notify[%d].least", i)) {
			c.Notify[i].Least = alerts.Warning
		}
	}
	if c.Heartbeat != nil && !d.given("heartbeat.every") {
		c.Heartbeat.Every = 5 * time.Minute
	}
}
