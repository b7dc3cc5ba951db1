package daemon

import (
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"

	"conditiond/alerts"
	"conditiond/daemon/engine"
	"conditiond/daemon/web"
	"conditiond/model/estimate"
)

// metrics are gathered when somebody asks for them.
func (d *Daemon) metrics() prometheus.Gatherer {
	r := prometheus.NewRegistry()
	r.MustRegister(collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}), figures{d})
	return r
}

// figures are the daemon's and each lot's numbers for /metrics.
type figures struct{ d *Daemon }

// Describe leaves the collector unchecked: which lots there are changes.
func (figures) Describe(chan<- *prometheus.Desc) {}

// Collect says the figures of now. What isn't known isn't there.
func (f figures) Collect(out chan<- prometheus.Metric) {
	s, v := scrape{out}, f.d.View()
	s.health(f.d.Health())
	for _, x := range v.Sensors {
		s.sensor(x)
	}
	for _, severity := range []alerts.Severity{alerts.Notice, alerts.Warning, alerts.Danger} {
		n := 0
		for _, a := range v.Alerts {
			if a.Severity == severity {
				n++
			}
		}
		s.gauge("alerts", "Open alerts.", float64(n), "severity", string(severity))
	}
	for _, l := range v.Lots {
		if l.ClosedAt == nil {
			s.lot(l)
		}
	}
}

// scrape is one answer. Labels are given in pairs.
type scrape struct{ out chan<- prometheus.Metric }

func (s scrape) gauge(name, help string, value float64, labels ...string) {
	s.say(prometheus.GaugeValue, name, help, value, labels)
}

// counter of what happened since the start.
func (s scrape) counter(name, help string, value float64, labels ...string) {
	s.say(prometheus.CounterValue, name+"_total", help, value, labels)
}

func (s scrape) say(kind prometheus.ValueType, name, help string, value float64, labels []string) {
	var names, values []string
	for i := 0; i+1 < len(labels); i += 2 {
		names, values = append(names, labels[i]), append(values, labels[i+1])
	}
	s.out <- prometheus.MustNewConstMetric(prometheus.NewDesc("conditiond_"+name, help, names, nil), kind, value, values...)
}

func (s scrape) health(h web.Health) {
	s.gauge("build_info", "Always 1; the version is a label.", 1, "version", h.Version)
	s.gauge("broker_connected", "1 while the broker is connected.", truth(h.Broker.OK))
	s.gauge("journal_ok", "1 while the journal can be written.", truth(h.Journal.OK))
	s.gauge("watch_ok", "1 while readings are taken in.", truth(h.Watch.OK))
	s.gauge("clock_ok", "1 while the machine's clock is trusted.", truth(h.Clock.Problem == ""))
	for _, x := range h.Followers {
		s.gauge("follower_ok", "1 while a follower of the journal can deliver.", truth(x.Problem == ""), "follower", x.Name)
		s.gauge("follower_behind_entries", "Entries of the journal that a follower has not carried yet.", float64(x.Behind), "follower", x.Name)
		s.counter("follower_left_out", "What a follower left out since the start, being refused for good.", float64(x.Aside), "follower", x.Name)
	}
}

func (s scrape) sensor(x engine.SensorView) {
	if x.At != nil {
		s.gauge("sensor_last_reading_timestamp_seconds", "When the sensor's last good reading was taken.", unix(*x.At), "sensor", x.Name)
	}
	s.gauge("sensor_silent", "1 while readings of the sensor are overdue.", truth(x.Silent), "sensor", x.Name)
	s.counter("sensor_readings", "Good readings of the sensor.", float64(x.Readings), "sensor", x.Name)
	s.counter("sensor_rejected", "Payloads of the sensor that were refused.", float64(x.Rejected), "sensor", x.Name)
}

func (s scrape) lot(l engine.LotView) {
	e, id := l.Estimate, l.Document.ID
	s.gauge("lot_alerts", "Open alerts of the lot.", float64(len(l.Alerts)), "lot", id)
	s.gauge("lot_limit_bar", "Lowest rating among the lot's bottles, gauge pressure.", float64(l.LimitBar), "lot", id)
	if e == nil {
		return
	}
	s.gauge("lot_estimate_timestamp_seconds", "When the lot was last estimated.", unix(e.Time), "lot", id)
	s.gauge("lot_over_pressure_probability", "Probability that an average bottle passes its rating.", e.OverPressure.Probability, "lot", id)
	s.known("lot_beer_celsius", "Temperature of the beer.", e.BeerC, id)
	s.known("lot_pressure_bar", "Gauge pressure in the gauge bottle.", e.GaugeBar, id)
	s.median("lot_co2_volumes", "Volumes of CO2, median.", e.CO2Volumes, id)
	s.median("lot_final_volumes", "Volumes of CO2 at the end, median.", e.FinalVolumes, id)
	s.median("lot_progress_ratio", "Share of the lot's gas that has been made, median.", e.Progress, id)
	s.median("lot_peak_bar", "Highest pressure still to come, median.", e.PeakBar, id)
	s.median("lot_worst_case_bar", "Pressure with all sugar gone at the warmest, median.", e.WorstCaseBar, id)
	if w := e.ReadyAt; w != nil && w.P50 != nil {
		s.gauge("lot_ready_timestamp_seconds", "When the lot is ready, or was, median.", unix(*w.P50), "lot", id)
	}
}

func (s scrape) known(name, help string, v *float64, lot string) {
	if v != nil {
		s.gauge(name, help, *v, "lot", lot)
	}
}

func (s scrape) median(name, help string, i *estimate.Interval, lot string) {
	if i != nil {
		s.known(name, help, &i.P50, lot)
	}
}

func unix(t time.Time) float64 { return float64(t.UnixMilli()) / 1000 }

func truth(b bool) float64 {
	if b {
		return 1
	}
	return 0
}
