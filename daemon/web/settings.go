package web

import (
	"net/http"
	"strings"

	"conditiond/daemon/engine"
)

// Section of the configuration, as the page shows it.
type Section struct {
	Part string // its key in the file: mqtt, sensors
	Name string // of a sensor or a recipient; empty for other parts
	Rows []Setting
}

// Setting is a line of the configuration. A secret's value is "…".
type Setting struct{ Name, Value string }

type settingsData struct {
	frame
	Choices  []field // in which units and in whose time
	Name     string  // of another zone
	Problem  string  // of that name
	Back     string
	Sections []sectionBox
	Others   []partRow // parts of the daemon that nothing is configured of
}

// sectionBox is a section with how that part of the daemon is.
type sectionBox struct {
	Title string
	Rows  []Setting
	State *partRow // nil where there is nothing to be well
}

func (s *Server) settingsPage(w http.ResponseWriter, r *http.Request) {
	s.renderSettings(w, r, http.StatusOK, "")
}

func (s *Server) renderSettings(w http.ResponseWriter, r *http.Request, status int, problem string) {
	v, t := s.daemon.View(), s.tellerTo(r)
	who, _ := s.reader(r)
	d := settingsData{frame: s.frame(settingsTitle, t, v), Problem: problem, Choices: s.choices(who), Back: ownPath(r.URL.Query().Get("back"))}
	if zoneNamed(who.zone) != nil {
		d.Name = who.zone
	}
	parts := t.parts(s.daemon.Health())
	for _, x := range s.config.Sections {
		box := sectionBox{Title: strings.TrimSpace(partTitle(x.Part) + " " + x.Name), Rows: veiled(x.Rows)}
		box.State, parts = t.stateOf(x, v, parts)
		d.Sections = append(d.Sections, box)
	}
	d.Others = parts
	s.render(w, status, "settings.html", d)
}

// choices that a reader has.
func (s *Server) choices(who reader) []field {
	zone := who.zone
	if zoneNamed(zone) != nil {
		zone = "other"
	}
	all := []field{
		unitField("pressure", "Pressure", pressures(), who.pressure().Key),
		unitField("temperature", "Temperature", temperatures(), who.temperature().Key),
		unitField("gas", "Carbonation", gases(), who.gas().Key),
		{Name: "zone", Label: "Times", Options: []option{{Value: "", Words: "of this device, where its browser tells"},
			{Value: siteZone, Words: "of the site, " + s.config.Location.String()}, {Value: "other", Words: "of another zone"}}},
	}
	for i := range all[3].Options {
		all[3].Options[i].Chosen = all[3].Options[i].Value == zone
	}
	return all
}

func unitField(name, label string, from []measure, key string) field {
	f := field{Name: name, Label: label}
	for _, m := range from {
		f.Options = append(f.Options, option{Value: m.Key, Words: m.Sign, Chosen: m.Key == key})
	}
	return f
}

// veiled says of a secret only that it is set.
func veiled(rows []Setting) []Setting {
	all := append([]Setting(nil), rows...)
	for i := range all {
		if all[i].Value == "…" {
			all[i].Value = "set; not shown"
		}
	}
	return all
}

// partTitle of a key of the file.
func partTitle(part string) string {
	switch part {
	case "mqtt":
		return "Broker"
	case "sensors":
		return "Sensor"
	case "influxdb":
		return "InfluxDB"
	case "web":
		return "This page"
	case "notify":
		return "Recipient"
	case "alerts":
		return "Alert thresholds"
	}
	return strings.ToUpper(part[:1]) + part[1:]
}

// stateOf the part that a section is about, and the parts without it.
func (t teller) stateOf(x Section, v *engine.View, parts []partRow) (*partRow, []partRow) {
	if x.Part == "sensors" {
		for _, y := range v.Sensors {
			if y.Name == x.Name {
				return t.sensorState(t.sensor(y)), parts
			}
		}
		return nil, parts
	}
	name := map[string]string{"mqtt": "broker", "journal": "journal", "influxdb": "influxdb", "notify": "notify " + x.Name}[x.Part]
	for i, p := range parts {
		if strings.EqualFold(p.Name, name) {
			return &p, append(parts[:i:i], parts[i+1:]...)
		}
	}
	return nil, parts
}

func (t teller) sensorState(s sensorRow) *partRow {
	p := partRow{Name: s.Name, OK: !s.Stale, State: "last heard " + s.Age}
	switch {
	case s.Never:
		p.State = s.Age
	case s.Value != "":
		p.State += ": " + s.Value
	}
	if s.Out != "" {
		p.State += ". " + s.Out
	}
	return &p
}
