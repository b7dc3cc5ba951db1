package daemon

import "conditiond/daemon/mqtt"

// device is a lot as the hub's device discovery wants it.
type device struct {
	Device     deviceName           `json:"device"`
	Origin     origin               `json:"origin"`
	Components map[string]component `json:"components"`
}

type deviceName struct {
	Identifiers []string `json:"identifiers"`
	Name        string   `json:"name"`
	Model       string   `json:"model"`
	SWVersion   string   `json:"sw_version"`
}

type origin struct {
	Name      string `json:"name"`
	SWVersion string `json:"sw_version"`
}

// component is one entity of a device.
type component struct {
	Platform     string `json:"platform"`
	UniqueID     string `json:"unique_id"` // for ever: another one would be a second entity
	Name         string `json:"name"`
	DeviceClass  string `json:"device_class,omitempty"`
	StateClass   string `json:"state_class,omitempty"`
	Unit         string `json:"unit_of_measurement,omitempty"`
	Precision    int    `json:"suggested_display_precision,omitempty"`
	State        string `json:"state_topic"`
	Value        string `json:"value_template"`
	Attributes   string `json:"json_attributes_topic,omitempty"`
	Availability string `json:"availability_topic"`
	Expire       int    `json:"expire_after"` // seconds
}

// deviceOf a lot. What isn't known yet is None, which the hub shows as unknown.
func deviceOf(lot, name string) device {
	if name == "" {
		name = lot
	}
	estimate := "conditiond/lots/" + lot + "/estimate"
	d := device{
		Device:     deviceName{[]string{"conditiond_" + lot}, name, "Lot of bottles that carbonate", version()},
		Origin:     origin{"conditiond", version()},
		Components: map[string]component{},
	}
	add := func(key string, c component) {
		c.UniqueID, c.Availability, c.Expire = "conditiond_"+lot+"_"+key, mqtt.StatusTopic, int(hubExpiry.Seconds())
		d.Components[key] = c
	}
	measured := func(key, name, class, unit string, precision int, value string) {
		add(key, component{Platform: "sensor", Name: name, DeviceClass: class, StateClass: "measurement", Unit: unit, Precision: precision,
			State: estimate, Value: value})
	}
	measured("volumes", "CO2", "", "vol", 2, "{{ value_json.co2_volumes.p50 if value_json.co2_volumes else None }}")
	measured("progress", "Progress", "", "%", 0, "{{ (100 * value_json.progress.p50) | round(1) if value_json.progress else None }}")
	measured("pressure", "Gauge pressure", "pressure", "bar", 2, "{{ value_json.gauge_bar }}")
	measured("beer", "Beer", "temperature", "°C", 1, "{{ value_json.beer_c }}")
	add("ready", component{Platform: "sensor", Name: "Ready", DeviceClass: "timestamp", State: estimate,
		Value: "{{ value_json.ready_at.p50 if value_json.ready_at else None }}"})
	add("problem", component{Platform: "binary_sensor", Name: "Problem", DeviceClass: "problem", State: problemTopic(lot),
		Value: "{{ value_json.problem }}", Attributes: problemTopic(lot)})
	return d
}
