package daemon

import (
	"context"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"gopkg.in/yaml.v3"

	"conditiond/alerts"
	"conditiond/daemon/engine"
	"conditiond/daemon/journal"
	"conditiond/daemon/mqtt"
	"conditiond/model"
	"conditiond/model/estimate"
)

// scraped are the names of all that a daemon with everything says, and whether
// each is a counter.
func scraped(t *testing.T) map[string]bool {
	t.Helper()
	d := ailing(t, mqtt.State{Connected: true})
	d.add("influxdb", false, func(context.Context, []journal.Entry) error { return nil })
	now, c, i := time.Now(), 20.0, &estimate.Interval{P50: 1}
	d.board.show(&engine.View{
		Sensors: []engine.SensorView{{Name: "air", At: &now, Value: &c}},
		Lots: []engine.LotView{{Document: model.Lot{ID: "a"}, Estimate: &estimate.Estimate{Time: now, BeerC: &c, GaugeBar: &c, CO2Volumes: i,
			FinalVolumes: i, Progress: i, PeakBar: i, WorstCaseBar: i, ReadyAt: &estimate.When{P50: &now}}}},
		Alerts: []alerts.Alert{{Severity: alerts.Danger}},
	}, nil)
	families, err := d.metrics().Gather()
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]bool{}
	for _, f := range families {
		if f.GetHelp() == "" {
			t.Errorf("%s has no help", f.GetName())
		}
		out[f.GetName()] = f.GetType().String() == "COUNTER"
	}
	return out
}

// Names keep Prometheus' and OpenMetrics' customs (prometheus.io/docs/practices/naming):
// counters end in _total and nothing else does, instants in _timestamp_seconds.
func TestMetricNames(t *testing.T) {
	names := scraped(t)
	for name, counts := range names {
		if !strings.HasPrefix(name, "conditiond_") {
			continue // of the library
		}
		if counts != strings.HasSuffix(name, "_total") {
			t.Errorf("%s, a counter: %v", name, counts)
		}
		if strings.HasSuffix(name, "_seconds") && !strings.HasSuffix(name, "_timestamp_seconds") {
			t.Errorf("%s", name)
		}
	}
	for _, want := range []string{"lot_co2_volumes", "lot_progress_ratio", "lot_pressure_bar", "lot_beer_celsius", "lot_ready_timestamp_seconds", "sensor_readings_total", "alerts"} {
		if _, ok := names["conditiond_"+want]; !ok {
			t.Errorf("there is no %s", want)
		}
	}
}

// The rules ask only for what is there.
func TestPrometheusRules(t *testing.T) {
	b, err := os.ReadFile("../deploy/prometheus/conditiond.rules.yaml")
	if err != nil {
		t.Fatal(err)
	}
	var file struct {
		Groups []struct {
			Rules []struct {
				Alert, Expr string
				Annotations map[string]string
			}
		}
	}
	if err := yaml.Unmarshal(b, &file); err != nil || len(file.Groups) != 1 {
		t.Fatal(err, file)
	}
	names := scraped(t)
	var asked []string
	for _, r := range file.Groups[0].Rules {
		for _, name := range regexp.MustCompile(`conditiond_[a-z_]+`).FindAllString(r.Expr, -1) {
			asked = append(asked, name)
			if _, ok := names[name]; !ok {
				t.Errorf("%s asks for %s", r.Alert, name)
			}
		}
		if r.Annotations["summary"] == "" {
			t.Errorf("%s says nothing", r.Alert)
		}
		if strings.Contains(r.Alert, "Danger") && !strings.HasPrefix(r.Annotations["summary"], "Do not touch") {
			t.Errorf("%s begins %q", r.Alert, r.Annotations["summary"])
		}
	}
	if !slices.Contains(asked, "conditiond_alerts") || len(asked) < 8 {
		t.Errorf("they ask for %q", asked)
	}
}
