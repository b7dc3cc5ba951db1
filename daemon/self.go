package daemon

import (
	"context"
	"slices"
	"strings"
	"time"

	"conditiond/alerts"
	"conditiond/daemon/engine"
)

// self is the watch's look at itself: what of it is out of order goes to the
// engine like anything else that happens, and people are told by what is left.
type self struct {
	d       *Daemon
	said    []alerts.Part
	losses  map[string]loss // by part
	standby time.Time       // since when the loop stood still that people were told of
}

// loss is what a part has lost for good since the start.
type loss struct {
	n    int64
	last time.Time // when it was seen to grow
}

// lossHolds is how long a loss is told of after the last: so it is told once and
// not for each point, and again when it begins anew.
const lossHolds = 24 * time.Hour

// look, and say it when it changed.
func (s *self) look(ctx context.Context) {
	if since := s.d.loop.stuck(); !since.IsZero() {
		s.standstill(since)
		return
	}
	parts := s.d.impaired()
	parts = append(parts, s.lost()...)
	if slices.Equal(parts, s.said) {
		return
	}
	ctx, cancel := context.WithTimeout(ctx, time.Minute)
	defer cancel()
	if err := s.d.Do(ctx, engine.Input{Parts: &parts}); err != nil {
		return // asked again in a minute
	}
	s.said = parts
}

// standstill of the loop, which can't say it itself: everybody is told at once,
// once, without the journal.
func (s *self) standstill(since time.Time) {
	if since.Equal(s.standby) {
		return
	}
	s.standby = since
	f := alerts.Impaired([]alerts.Part{{Name: "watch", Problem: s.d.loop.part().Problem}})[0]
	var list []alerts.Message
	for _, n := range s.d.config.Notify {
		if f.Severity.Rank() >= n.Least.Rank() {
			list = append(list, alerts.Message{ID: "watch-impaired.watch." + since.UTC().Format("20060102T150405") + "." + n.Name, To: n.Name,
				Time: since, Sensor: f.Sensor, Alert: f.Name, Severity: f.Severity, State: alerts.Raised, Summary: f.Summary, Advice: f.Advice})
		}
	}
	s.d.bypass(list)
}

// lost are the parts that lost something for good in the last day. The words
// name no number: they would change each minute.
func (s *self) lost() []alerts.Part {
	var out []alerts.Part
	for _, f := range s.d.followers {
		if f.Aside == nil {
			continue
		}
		if n, why := f.Aside(); s.grows(f.Name, n) {
			out = append(out, alerts.Part{Name: "refused by " + f.Name, Spare: spare(f.Name),
				Problem: "something was left out, being refused for good, because: " + clipped(why)})
		}
	}
	if s.d.link != nil && s.grows("broker", s.d.link.State().Lost) {
		out = append(out, alerts.Part{Name: "lost in a flood", Problem: "messages at QoS 0 came faster than they could be kept: publish at QoS 1"})
	}
	return out
}

// clipped is a reason on one line, of a length that a notice can carry.
func clipped(why string) string {
	words := []rune(strings.Join(strings.Fields(why), " "))
	return string(words[:min(len(words), 140)])
}

// grows says whether a loss grew in the last day.
func (s *self) grows(name string, n int64) bool {
	if s.losses == nil {
		s.losses = map[string]loss{}
	}
	now, l := s.d.pace.Now(), s.losses[name]
	if n > l.n {
		l = loss{n, now}
		s.losses[name] = l
	}
	return n > 0 && now.Sub(l.last) < lossHolds
}

// spare parts are those without which the watch hears, keeps and tells.
func spare(follower string) bool { return follower == "influxdb" || follower == "mqtt" }

// impaired are the parts that are out of order.
func (d *Daemon) impaired() []alerts.Part {
	h := d.Health()
	out := []alerts.Part{}
	add := func(name, problem string, spare bool) {
		if problem != "" {
			out = append(out, alerts.Part{Name: name, Problem: problem, Spare: spare})
		}
	}
	if !h.Broker.OK {
		add("broker", h.Broker.Problem, false)
	}
	add("journal", h.Journal.Problem, false)
	if !h.Clock.OK {
		add("clock", h.Clock.Problem, false)
	}
	for _, f := range h.Followers {
		add(f.Name, f.Problem, spare(f.Name))
	}
	if d.page != nil {
		add("page", d.page.Trouble(), true)
	}
	return out
}
