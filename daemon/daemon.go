// Package daemon puts the parts together: configuration, the loop that feeds
// the engine and journals what it says, live messages and recorded ones, and
// the followers that carry entries outward. It is the only package that knows
// all others.
package daemon

import (
	"maps"
	"slices"
	"time"

	"conditiond/alerts"
	"conditiond/daemon/engine"
	"conditiond/daemon/intake"
	"conditiond/model"
)

// closet is the configuration as the engine needs it.
func closet(c *Config, every time.Duration) engine.Config {
	out := engine.Config{
		Site:    c.Site.Name,
		Station: model.StationPressure(c.Site.Altitude),
		Spaces:  map[string]string{},
		Every:   every,
		Alerts: alerts.Config{
			TooColdC: c.Alerts.TooCold, ColdFor: c.Alerts.ColdFor,
			TooWarmC: c.Alerts.TooWarm, WarmFor: c.Alerts.WarmFor,
			SilentAfter: c.Alerts.SilentAfter, SilentIntervals: c.Alerts.SilentIntervals,
		},
	}
	out.Alerts.Quiet, out.Alerts.Digest = quietHours(c), digest(c)
	space := map[string]string{}
	for name, s := range c.Spaces {
		out.Spaces[name] = s.Temperature
		space[s.Temperature] = name
	}
	for _, name := range slices.Sorted(maps.Keys(c.Sensors)) {
		s := c.Sensors[name]
		if s.Quantity != model.Pressure {
			s.Reference = ""
		}
		out.Sensors = append(out.Sensors, intake.Sensor{
			Name: name, Topic: s.Topic, Pointer: s.Pointer, Quantity: s.Quantity,
			Unit: intake.Unit(s.Unit), Reference: intake.Reference(s.Reference), FullScale: s.FullScale,
			Scale: s.Calibration.Scale, Offset: s.Calibration.Offset,
			Station: out.Station, Interval: s.Interval, Space: space[name],
		})
	}
	for _, n := range c.Notify {
		out.Recipients = append(out.Recipients, alerts.Recipient{Name: n.Name, Least: n.Least})
	}
	return out
}

// digest of a configuration that was checked.
func digest(c *Config) alerts.Digest {
	d := c.Alerts.Digest
	zone, err := c.Site.Location()
	if d == nil || err != nil {
		return alerts.Digest{}
	}
	at, _ := sinceMidnight(d.At)
	return alerts.Digest{At: at, Weekly: d.Every == "week", Zone: zone}
}

// quietHours of a configuration that was checked.
func quietHours(c *Config) alerts.Quiet {
	q := c.Alerts.Quiet
	zone, err := c.Site.Location()
	if q == nil || err != nil {
		return alerts.Quiet{}
	}
	from, _ := sinceMidnight(q.From)
	to, _ := sinceMidnight(q.To)
	return alerts.Quiet{From: from, To: to, Zone: zone}
}
