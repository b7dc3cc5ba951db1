package daemon

import (
	"maps"
	"math"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"conditiond/daemon/intake"
	"conditiond/model"
)

func (c configCheck) sensors() {
	if len(c.Sensors) == 0 {
		c.fault("sensors", "missing: name at least the sensor of a space's temperature")
	}
	names := slices.Sorted(maps.Keys(c.Sensors))
	for _, name := range names {
		c.name("sensors."+name, name)
		c.sensor("sensors."+name, c.Sensors[name])
	}
	c.overlaps(names)
}

func (c configCheck) sensor(path string, s Sensor) {
	c.topic(path+".topic", s.Topic)
	c.pointer(path+".pointer", s.Pointer)
	c.between(path+".interval", s.Interval, time.Second, 24*time.Hour)
	switch s.Quantity {
	case model.Temperature:
		c.unit(path, s, intake.DegC, intake.DegF, intake.K)
		for _, key := range []string{".reference", ".full_scale"} {
			if c.given(path + key) {
				c.fault(path+key, "a temperature has none; take the line out")
			}
		}
	case model.Pressure:
		c.unit(path, s, intake.Bar, intake.KPa, intake.HPa, intake.MPa, intake.PSI)
		if s.Reference != intake.Gauge && s.Reference != intake.Absolute {
			c.fault(path+".reference", "%s: must be gauge or absolute", brief(string(s.Reference)))
		}
		c.fullScale(path, s)
	case "":
		c.fault(path+".quantity", "missing: temperature or pressure")
	default:
		c.fault(path+".quantity", "%s: must be temperature or pressure", brief(string(s.Quantity)))
	}
	if s.Calibration.Scale <= 0 {
		c.fault(path+".calibration.scale", "%v: must be above 0; 1 leaves readings as they are", s.Calibration.Scale)
	}
}

func (c configCheck) unit(path string, s Sensor, units ...intake.Unit) {
	quantity, known := s.Unit.Quantity()
	switch {
	case s.Unit == "":
		c.fault(path+".unit", "missing: %s", oneOf(units...))
	case !known || quantity != s.Quantity:
		c.fault(path+".unit", "%s: the unit of a %s must be %s", brief(string(s.Unit)), s.Quantity, oneOf(units...))
	}
}

// fullScale must be one of gauges for bottles: 1 to 35 bar.
func (c configCheck) fullScale(path string, s Sensor) {
	if !c.given(path + ".full_scale") {
		c.warn(path+".full_scale", "missing: give the end of the gauge's range, or a gauge stuck at it can't be told from a true reading")
		return
	}
	decoder, err := intake.NewDecoder(intake.Sensor{Topic: "any", Quantity: s.Quantity, Unit: s.Unit, FullScale: s.FullScale})
	if err != nil && s.FullScale >= 0 {
		return // the unit is at fault
	}
	if bar := float64(decoder.Full()); s.FullScale <= 0 || bar < 1 || bar > 35 {
		c.fault(path+".full_scale", "%v: must be 1 to 35 bar, in the sensor's unit; is %s the unit?", s.FullScale, s.Unit)
	}
}

// topic must be one that a sensor can publish to, and not one of our own.
func (c configCheck) topic(path, topic string) {
	switch {
	case topic == "":
		c.fault(path, "missing: the MQTT topic that the sensor publishes to")
	case strings.ContainsAny(topic, "+#"):
		c.fault(path, "%s: must be a single topic, without the wildcards + and #", brief(topic))
	case topic[0] == '$':
		c.fault(path, "%s: topics that begin with $ are the broker's own", brief(topic))
	case strings.HasPrefix(topic, "conditiond/"):
		c.fault(path, "%s: topics below conditiond/ are the daemon's own", brief(topic))
	case len(topic) > math.MaxUint16 || !utf8.ValidString(topic) || strings.Contains(topic, "\x00"):
		c.fault(path, "%s: must be text of at most 65535 bytes", brief(topic))
	case strings.Contains("/"+topic+"/", "//"):
		c.warn(path, "%s: has an empty level; is there a slash too many?", brief(topic))
	}
}

func (c configCheck) pointer(path, pointer string) {
	escapes := strings.NewReplacer("~0", "", "~1", "")
	if c.given(path) && (!strings.HasPrefix(pointer, "/") || strings.Contains(escapes.Replace(pointer), "~")) {
		c.fault(path, "%s: must begin with a slash and have a slash between names, such as /bme/temperature (in a name, ~ is ~0 and / is ~1)", brief(pointer))
	}
}

// overlaps are two sensors that would both take the same value; the later one
// is reported.
func (c configCheck) overlaps(names []string) {
	byLine := func(a, b string) int { return c.find("sensors."+a).line - c.find("sensors."+b).line }
	slices.SortStableFunc(names, byLine)
	for i, name := range names {
		s := c.Sensors[name]
		for _, earlier := range names[:i] {
			o := c.Sensors[earlier]
			if s.Topic == "" || s.Topic != o.Topic {
				continue
			}
			if s.Pointer == o.Pointer {
				c.fault("sensors."+name+".topic", "%s: sensor %s takes the same value; another topic or pointer would be right", brief(s.Topic), earlier)
			} else if s.Pointer == "" || o.Pointer == "" {
				c.fault("sensors."+name+".topic", "%s: sensor %s has this topic too, and only one of them has a pointer; give both one", brief(s.Topic), earlier)
			}
		}
	}
}
