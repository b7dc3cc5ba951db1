package daemon

import (
	"context"
	"slices"

	"conditiond/alerts"
	"conditiond/daemon/engine"
)

// self is the watch's look at itself: what of it is out of order goes to the
// engine like anything else that happens, and people are told by what is left.
type self struct {
	d    *Daemon
	said []alerts.Part
}

// look, and say it when it changed.
func (s *self) look(ctx context.Context) {
	parts := s.d.impaired()
	if slices.Equal(parts, s.said) {
		return
	}
	if err := s.d.Do(ctx, engine.Input{Parts: &parts}); err != nil {
		return // asked again in a minute
	}
	s.said = parts
}

// impaired are the parts that are out of order.
func (d *Daemon) impaired() []alerts.Part {
	h := d.Health()
	out := []alerts.Part{}
	add := func(name, problem string) {
		if problem != "" {
			out = append(out, alerts.Part{Name: name, Problem: problem})
		}
	}
	if !h.Broker.OK {
		add("broker", h.Broker.Problem)
	}
	add("journal", h.Journal.Problem)
	if !h.Clock.OK {
		add("clock", h.Clock.Problem)
	}
	for _, f := range h.Followers {
		add(f.Name, f.Problem)
	}
	return out
}
