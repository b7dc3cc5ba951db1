package daemon

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"

	"conditiond/daemon/mqtt"
	"conditiond/daemon/web"
)

// Health is how the daemon itself is.
func (d *Daemon) Health() web.Health {
	h := web.Health{Now: d.pace.Now(), Version: version(), Broker: d.brokerPart(), Watch: d.loop.part(), Journal: d.journalPart(), Clock: d.pace.part()}
	for _, f := range d.followers {
		s := f.State()
		w := web.Follower{Name: f.Name, Behind: s.Behind, Since: s.Since}
		if s.Err != nil {
			w.Problem = s.Err.Error()
		}
		if f.Aside != nil {
			w.Aside, w.Refusal = f.Aside()
		}
		h.Followers = append(h.Followers, w)
	}
	h.Ready = h.Broker.OK && h.Watch.OK && h.Journal.OK
	return h
}

func (d *Daemon) brokerPart() web.Part {
	if d.link == nil {
		return web.Part{Problem: "no daemon runs: these are the journal's own words"}
	}
	s := d.link.State()
	p := web.Part{OK: s.Connected, Since: s.Since, Problem: s.Problem}
	switch names := d.unheard(s); {
	case p.Problem != "":
	case s.Connected && len(names) > 0:
		p.Problem = "connected, but never heard of " + strings.Join(names, ", ") + " since the start: check topic, device, and the broker's access list"
	case s.Lost > 0:
		p.Problem = fmt.Sprintf("%d messages at QoS 0 were lost in a flood: publish at QoS 1", s.Lost)
	}
	return p
}

// unheard are sensors whose readings are overdue since the connection stands,
// with their topics, and of which nothing ever came.
func (d *Daemon) unheard(s mqtt.State) []string {
	var out []string
	for _, name := range slices.Sorted(maps.Keys(d.config.Sensors)) {
		x := d.config.Sensors[name]
		if slices.Contains(s.Unheard, x.Topic) && time.Since(s.Since) > 2*x.Interval {
			out = append(out, name+" ("+x.Topic+")")
		}
	}
	return out
}

func (d *Daemon) journalPart() web.Part {
	_, _, trouble := d.board.look()
	switch {
	case trouble != nil:
		return web.Part{Problem: trouble.Error()}
	case d.aside != "":
		return web.Part{OK: true, Problem: "the old journal couldn't be used and was set aside as " + d.aside + "; open the lots again, or restore a backup"}
	}
	return web.Part{OK: true}
}

func (l *loop) part() web.Part {
	if since := l.stuck(); !since.IsZero() {
		return web.Part{Since: since, Problem: "the loop that takes readings in stands still; if it doesn't go on, start the program anew"}
	}
	return web.Part{OK: true}
}

// part of a hand is always well.
func (p Pace) part() web.Part {
	if p.hand != nil {
		return web.Part{OK: true}
	}
	problem, since := p.clock.problem()
	return web.Part{OK: problem == "", Since: since, Problem: problem}
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
	say("watch_ok", "1 while readings are taken in.", truth(h.Watch.OK))
	say("clock_ok", "1 while the machine's clock is trusted.", truth(h.Clock.OK))
	for _, x := range h.Followers {
		say("follower_left_out", "What a follower left out since the start, being refused for good.", float64(x.Aside), "follower", x.Name)
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
