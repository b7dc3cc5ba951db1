package web

import (
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"
)

// TestSettingsPage shows each part of the configuration with how it is.
func TestSettingsPage(t *testing.T) {
	f := newFake()
	f.view.Sensors[0].Silent = true
	f.view.Sensors[0].At = at(-0.125)
	f.health.Journal = Part{Problem: "no space left on device"}
	f.health.Followers = append(f.health.Followers, Follower{Name: "notify phone", Behind: 2, Problem: "401 Unauthorized", Since: now.Add(-time.Hour)})
	s := Config{Sections: []Section{
		{Part: "site", Rows: []Setting{{"name", "Pantry"}}}, {Part: "mqtt", Rows: []Setting{{"broker", "mqtt://192.0.2.7:1883"}, {"password_file", "…"}}},
		{Part: "sensors", Name: "gauge-a", Rows: []Setting{{"topic", "pantry/gauge-a"}}}, {Part: "sensors", Name: "pantry-air", Rows: []Setting{{"unit", "degC"}}},
		{Part: "journal", Rows: []Setting{{"dir", "/var/lib/conditiond"}}}, {Part: "influxdb", Rows: []Setting{{"token_file", "…"}}},
		{Part: "notify", Name: "phone", Rows: []Setting{{"least", "warning"}}}}}
	_, body := ask(t, http.MethodGet, serveWith(t, s, f)+"/settings", "")
	text := regexp.MustCompile(`<[^>]*>|\n`).ReplaceAllString(body, "")
	for _, want := range []string{"BrokerWell: connected since Fri 6 Mar, 18:00brokermqtt://192.0.2.7:1883password_fileset; not shown",
		"Sensor gauge-aTrouble: last heard 3 h ago: 1.12 bartopicpantry/gauge-a", "Sensor pantry-airWell: last heard just now: 19.5 °C",
		"JournalTrouble: not written. no space left on devicedir/var/lib/conditiond", "InfluxDBWell: 3 not carried yet",
		"Recipient phoneTrouble: 2 not carried yet, since Sun 8 Mar, 19:00. 401 Unauthorizedleastwarning", "ClockWell: trusted", "Sitenamepantry"} {
		if !strings.Contains(strings.ToLower(text), strings.ToLower(want)) {
			t.Errorf("no %q in %s", want, text[strings.Index(text, "The configuration"):])
		}
	}
}
