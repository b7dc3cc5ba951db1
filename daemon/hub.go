package daemon

import (
	"context"
	"encoding/json"
	"log/slog"
	"math/rand/v2"
	"time"

	"conditiond/alerts"
	"conditiond/daemon/engine"
	"conditiond/daemon/mqtt"
)

// hub makes every open lot a device of a home-automation hub, as Home Assistant
// documents its MQTT discovery (home-assistant.io/integrations/mqtt). What it
// says follows from the view alone, so it has no cursor: a lot that closed is
// taken back, and all is said again when the hub or the broker comes back.
type hub struct {
	to      publisher
	view    func() *engine.View
	changed func() <-chan struct{}
	log     *slog.Logger
	back    chan struct{}     // the hub has come back
	said    map[string]string // by topic
}

const (
	hubPrefix = "homeassistant"
	hubStatus = hubPrefix + "/status" // the hub's own word: online, offline
	// hubPause: not everything that the hub knows speaks at once.
	hubPause = 2 * time.Second
	// hubExpiry: estimates come hourly, so what is older is no longer so.
	hubExpiry = 3 * time.Hour
	// hubForgets: a lot that closed longer ago was taken back long since.
	hubForgets = 30 * 24 * time.Hour
)

func (d *Daemon) newHub() *hub {
	return &hub{to: d.link, view: d.View, changed: d.Changed, log: d.log, back: make(chan struct{}, 1), said: map[string]string{}}
}

// takes a message when it is the hub's own word. No hub takes none.
func (h *hub) takes(m mqtt.Delivery) bool {
	if h == nil || m.Topic != hubStatus {
		return false
	}
	if string(m.Payload) == "online" {
		select {
		case h.back <- struct{}{}:
		default:
		}
	}
	m.Done()
	return true
}

func (h *hub) run(ctx context.Context) error {
	for ctx.Err() == nil {
		changed := h.changed()
		h.look(h.view())
		select {
		case <-changed:
		case <-h.back:
			pause(ctx, rand.N(hubPause))
			clear(h.said)
		case <-ctx.Done():
		}
	}
	return nil
}

// look says what is new.
func (h *hub) look(v *engine.View) {
	for _, l := range v.Lots {
		if l.ClosedAt != nil && v.Time.Sub(*l.ClosedAt) > hubForgets {
			continue
		}
		config, problem := "", ""
		if l.ClosedAt == nil {
			config, problem = text(deviceOf(l.Document.ID, l.Document.Name)), text(problemOf(l))
		}
		h.say(hubPrefix+"/device/conditiond_"+l.Document.ID+"/config", config)
		h.say(problemTopic(l.Document.ID), problem)
	}
}

// say it, retained. Nothing takes back what was said before.
func (h *hub) say(topic, payload string) {
	if was, ok := h.said[topic]; ok && was == payload {
		return
	}
	if err := h.to.Publish(topic, []byte(payload), true); err != nil {
		h.log.Warn("the hub can't be told; it is tried again at the next change", "topic", topic, "err", err)
		return
	}
	h.said[topic] = payload
}

// text of a document of ours, which always has one.
func text(v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		panic(err) // a bug: nothing in it can fail
	}
	return string(b)
}

func problemTopic(lot string) string { return "conditiond/lots/" + lot + "/problem" }

// problem is whether a lot needs a person. Its time makes it new with each
// estimate, so that it expires when no more come.
type problem struct {
	Time     *time.Time      `json:"time"` // of the latest estimate; null before the first
	Problem  string          `json:"problem"`
	Severity alerts.Severity `json:"severity,omitempty"`
	Todo     string          `json:"todo,omitempty"` // first line of the gravest alert's advice
	Alerts   []alerts.Name   `json:"alerts"`
}

func problemOf(l engine.LotView) problem {
	p := problem{Problem: "OFF", Alerts: []alerts.Name{}}
	if l.Estimate != nil {
		p.Time = &l.Estimate.Time
	}
	for _, a := range l.Alerts { // gravest first
		if a.Severity.Rank() < alerts.Warning.Rank() {
			continue
		}
		if p.Problem == "OFF" {
			p.Problem, p.Severity = "ON", a.Severity
			p.Todo, _ = alerts.FirstStep(a.Advice)
		}
		p.Alerts = append(p.Alerts, a.Name)
	}
	return p
}
