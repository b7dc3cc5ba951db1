package daemon

import (
	"fmt"
	"time"

	"conditiond/alerts"
	"conditiond/daemon/intake"
)

// LoadConfig reads and checks the configuration for use on this machine:
// secrets and certificates must be there. The warnings are of what works but
// may surprise. The error is Faults, all of them, or says why the file can't be
// read.
func LoadConfig(path string) (*Config, Faults, error) { return loadConfig(path, true) }

// ReadConfig is LoadConfig for whoever doesn't run the daemon: a replay, or a
// person who may not read its secrets. It looks at nothing but the file.
func ReadConfig(path string) (*Config, Faults, error) { return loadConfig(path, false) }

func loadConfig(path string, here bool) (*Config, Faults, error) {
	data, err := readDocument(path)
	if err != nil {
		return nil, nil, fmt.Errorf("read the configuration: %w", err)
	}
	return parseConfig(path, data, here)
}

func parseConfig(file string, data []byte, here bool) (*Config, Faults, error) {
	d := &document{file: file}
	c := defaults()
	d.decode(data, &c)
	c.complete(d)
	check := configCheck{document: d, Config: &c, here: here}
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
