package daemon

import (
	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"

	"conditiond/daemon/web"
)

// Health is how the daemon itself is.
func (d *Daemon) Health() web.Health {
	_, _, trouble := d.board.look()
	h := web.Health{Now: d.pace.Now(), Version: version(), Clock: web.Part{OK: true}, Journal: web.Part{OK: trouble == nil}}
	switch {
	case trouble != nil:
		h.Journal.Problem = trouble.Error()
	case d.aside != "":
		h.Journal.Problem = "the old journal couldn't be used and was set aside as " + d.aside + "; open the lots again, or restore a backup"
	}
	if d.link != nil {
		s := d.link.State()
		h.Broker = web.Part{OK: s.Connected, Since: s.Since, Problem: s.Problem}
	} else {
		h.Broker.Problem = "no daemon runs: these are the journal's own words"
	}
	for _, f := range d.followers {
		s := f.State()
		w := web.Follower{Name: f.Name, Behind: s.Behind, Since: s.Since}
		if s.Err != nil {
			w.Problem = s.Err.Error()
		}
		h.Followers = append(h.Followers, w)
	}
	h.Ready = h.Broker.OK && h.Journal.OK
	return h
}

// metrics are gathered when somebody asks for them.
func (d *Daemon) metrics() prometheus.Gatherer {
	r := prometheus.NewRegistry()
	r.MustRegister(collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}), figures{d})
	return r
}

// figures are the daemon's and each lot's numbers for /metrics.
type figures struct{ d *Daemon }

func desc(name, help string, labels ...string) *prometheus.Desc {
	return prometheus.NewDesc("conditiond_"+name, help, labels, nil)
}

// Describe leaves the collector unchecked: which lots there are changes.
func (figures) Describe(chan<- *prometheus.Desc) {}

// Collect says the figures of now.
func (f figures) Collect(out chan<- prometheus.Metric) {
	say := func(name, help string, value float64, labels ...string) {
		names := []string{}
		values := []string{}
		for i := 0; i+1 < len(labels); i += 2 {
			names, values = append(names, labels[i]), append(values, labels[i+1])
		}
		out <- prometheus.MustNewConstMetric(desc(name, help, names...), prometheus.GaugeValue, value, values...)
	}
	h := f.d.Health()
	say("broker_connected", "1 while the broker is connected.", truth(h.Broker.OK))
	say("journal_ok", "1 while the journal can be written.", truth(h.Journal.OK))
	for _, x := range h.Followers {
		say("follower_behind_entries", "Entries of the journal that a follower has not carried yet.", float64(x.Behind), "follower", x.Name)
	}
	v := f.d.View()
	for _, s := range v.Sensors {
		if s.At != nil {
			say("sensor_last_reading_seconds", "When the sensor's last good reading was taken, in seconds since 1970.", float64(s.At.Unix()), "sensor", s.Name)
		}
		say("sensor_readings", "Good readings of the sensor.", float64(s.Readings), "sensor", s.Name)
		say("sensor_rejected", "Payloads of the sensor that were refused.", float64(s.Rejected), "sensor", s.Name)
	}
	for _, l := range v.Lots {
		e := l.Estimate
		if l.ClosedAt != nil || e == nil {
			continue
		}
		id := l.Document.ID
		say("lot_alerts", "Open alerts of the lot.", float64(len(l.Alerts)), "lot", id)
		say("lot_over_pressure_probability", "Probability that an average bottle passes its rating.", e.OverPressure.Probability, "lot", id)
		if e.CO2Volumes != nil {
			say("lot_co2_volumes", "Volumes of CO2, median.", e.CO2Volumes.P50, "lot", id)
		}
		if e.Progress != nil {
			say("lot_progress", "Share of the lot's gas that has been made, median.", e.Progress.P50, "lot", id)
		}
		if e.GaugeBar != nil {
			say("lot_gauge_bar", "Gauge pressure.", *e.GaugeBar, "lot", id)
		}
	}
}

func truth(b bool) float64 {
	if b {
		return 1
	}
	return 0
}
