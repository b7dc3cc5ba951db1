package daemon

import (
	"context"
	"log/slog"

	"conditiond/alerts"
	"conditiond/daemon/engine"
	"conditiond/daemon/influx"
	"conditiond/daemon/journal"
	"conditiond/model"
	"conditiond/model/estimate"
)

// mirror carries the journal into InfluxDB.
type mirror struct {
	sink  *influx.Sink
	space map[string]string // sensor → space
	log   *slog.Logger
}

func (m mirror) deliver(ctx context.Context, entries []journal.Entry) error {
	var points []influx.Point
	for _, en := range recallAll(entries, m.log) {
		points = append(points, m.points(en)...)
	}
	return m.sink.Write(ctx, points)
}

func (m mirror) points(en engine.Entry) []influx.Point {
	var out []influx.Point
	for _, r := range en.Readings {
		out = append(out, m.reading(r))
	}
	for _, e := range en.Estimates {
		out = append(out, estimatePoint(e))
	}
	for _, a := range en.Alerts {
		out = append(out, alertPoint(a))
	}
	return out
}

func (m mirror) reading(r model.Reading) influx.Point {
	field := "temperature_c"
	if r.Quantity == model.Pressure {
		field = "pressure_bar"
	}
	tags := map[string]string{"sensor": r.Sensor, "quantity": string(r.Quantity)}
	if s := m.space[r.Sensor]; s != "" {
		tags["space"] = s
	}
	return influx.Point{Measurement: "reading", Tags: tags, Fields: map[string]any{field: r.Value}, At: r.At}
}

func estimatePoint(e estimate.Estimate) influx.Point {
	f := map[string]any{
		"limit_bar":                 float64(e.OverPressure.LimitBar),
		"over_pressure_probability": e.OverPressure.Probability,
		"phase":                     string(e.Phase),
	}
	number := func(name string, v *float64) {
		if v != nil {
			f[name] = *v
		}
	}
	interval := func(name string, v *estimate.Interval) {
		if v != nil {
			f[name+"_p05"], f[name+"_p50"], f[name+"_p95"] = v.P05, v.P50, v.P95
		}
	}
	number("beer_c", e.BeerC)
	number("gauge_bar", e.GaugeBar)
	interval("co2_volumes", e.CO2Volumes)
	interval("progress", e.Progress)
	interval("final_volumes", e.FinalVolumes)
	interval("peak_bar", e.PeakBar)
	interval("worst_case_bar", e.WorstCaseBar)
	if w := e.ReadyAt; w != nil && w.P50 != nil {
		f["ready_in_days_p50"] = w.P50.Sub(e.Time).Hours() / 24
	}
	return influx.Point{Measurement: "estimate", Tags: map[string]string{"lot": e.Lot}, Fields: f, At: e.Time}
}

func alertPoint(a alerts.Alert) influx.Point {
	tags := map[string]string{"alert": string(a.Name), "severity": string(a.Severity)}
	if a.Lot != "" {
		tags["lot"] = a.Lot
	}
	if a.Sensor != "" {
		tags["sensor"] = a.Sensor
	}
	return influx.Point{Measurement: "alert", Tags: tags, Fields: map[string]any{"state": string(a.State), "summary": a.Summary}, At: a.Time}
}
