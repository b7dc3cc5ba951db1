package daemon

import (
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"conditiond/alerts"
	"conditiond/daemon/engine"
	"conditiond/daemon/intake"
	"conditiond/daemon/mqtt"
	"conditiond/daemon/mqtt/mosquittotest"
	"conditiond/model"
	"conditiond/model/estimate"
)

// hubKeys are those that Home Assistant documents for MQTT entities of a
// device discovery, as far as we use them, by platform:
// home-assistant.io/integrations/mqtt, .../sensor.mqtt, .../binary_sensor.mqtt
// (read in other words, from memory).
var hubKeys = map[string][]string{
	"sensor": {"platform", "unique_id", "name", "device_class", "state_class", "unit_of_measurement", "suggested_display_precision",
		"state_topic", "value_template", "availability_topic", "expire_after"},
	"binary_sensor": {"platform", "unique_id", "name", "device_class", "state_topic", "value_template", "json_attributes_topic",
		"availability_topic", "expire_after"},
}

// hubUnits are the units that the hub takes for a device class
// (home-assistant.io/integrations/sensor, "Device class"; from memory).
var hubUnits = map[string][]string{
	"pressure": {"Pa", "hPa", "kPa", "bar", "cbar", "mbar", "mmHg", "inHg", "psi"}, "temperature": {"°C", "°F", "K"}, "timestamp": {""}, "problem": {""},
}

func TestHubDevice(t *testing.T) {
	var said struct {
		Device     map[string]any
		Origin     map[string]any
		Components map[string]map[string]any
	}
	if err := json.Unmarshal([]byte(text(deviceOf("spruce-tip-04", "Spruce \"tip\" + # / ale"))), &said); err != nil {
		t.Fatal(err)
	}
	if said.Device["name"] != "Spruce \"tip\" + # / ale" || said.Device["identifiers"].([]any)[0] != "conditiond_spruce-tip-04" || said.Origin["name"] == "" {
		t.Errorf("%+v", said)
	}
	ids := map[any]bool{}
	for key, c := range said.Components {
		for k := range c {
			if !slices.Contains(hubKeys[c["platform"].(string)], k) {
				t.Errorf("%s: %s isn't documented for a %s", key, k, c["platform"])
			}
		}
		unit, _ := c["unit_of_measurement"].(string)
		if class, ok := c["device_class"].(string); ok && !slices.Contains(hubUnits[class], unit) {
			t.Errorf("%s: %q is no unit of %s", key, unit, class)
		}
		if c["availability_topic"] != "conditiond/status" || c["expire_after"] != 10800.0 || !regexp.MustCompile(`^[a-zA-Z0-9_-]+$`).MatchString(c["unique_id"].(string)) {
			t.Errorf("%s: %v", key, c)
		}
		ids[c["unique_id"]] = true
	}
	if len(ids) != 6 || len(said.Components) != 6 {
		t.Errorf("%d entities with %d ids", len(said.Components), len(ids))
	}
}

// Every place that a template looks at is there in what we publish.
func TestHubTemplatesFindTheirValues(t *testing.T) {
	full := estimate.Estimate{CO2Volumes: &estimate.Interval{}, Progress: &estimate.Interval{}, ReadyAt: &estimate.When{}}
	published := map[string]string{"conditiond/lots/a/estimate": text(estimateLine{"estimate", full}), "conditiond/lots/a/problem": text(problemOf(engine.LotView{}))}
	for key, c := range deviceOf("a", "").Components {
		var said map[string]any
		if err := json.Unmarshal([]byte(published[c.State]), &said); err != nil {
			t.Fatalf("%s: nothing is published at %s", key, c.State)
		}
		places := regexp.MustCompile(`value_json\.([a-z0-9_.]+)`).FindAllStringSubmatch(c.Value, -1)
		if len(places) == 0 {
			t.Errorf("%s looks at nothing", key)
		}
		for _, m := range places {
			if !holds(said, strings.Split(m[1], ".")) {
				t.Errorf("%s: no %s in %s", key, m[1], published[c.State])
			}
		}
	}
}

func holds(v map[string]any, path []string) bool {
	x, ok := v[path[0]]
	if !ok || len(path) == 1 {
		return ok
	}
	inner, ok := x.(map[string]any)
	return ok && holds(inner, path[1:])
}

func TestHubProblem(t *testing.T) {
	l := engine.LotView{Alerts: []alerts.Alert{{Name: alerts.Ready, Severity: alerts.Notice}}}
	if p := problemOf(l); p.Problem != "OFF" || len(p.Alerts) != 0 {
		t.Errorf("a notice: %+v", p)
	}
	l.Alerts = []alerts.Alert{{Name: alerts.OverPressure, Severity: alerts.Danger, Advice: "Do not touch.\nWait."}, {Name: alerts.Leak, Severity: alerts.Warning}}
	if p := problemOf(l); p.Problem != "ON" || p.Severity != alerts.Danger || p.Todo != "Do not touch." || len(p.Alerts) != 2 {
		t.Errorf("a danger: %+v", p)
	}
}

// publications is a publisher that keeps what it got.
type publications map[string]string

func (p publications) Publish(topic string, payload []byte, _ bool) error {
	p[topic] = string(payload)
	return nil
}

// Lots of long ago are not taken back again at every start.
func TestHubLeavesOldLots(t *testing.T) {
	now := time.Now()
	recent, old := now.AddDate(0, 0, -2), now.AddDate(0, -3, 0)
	got := publications{}
	h := hub{to: got, log: quiet(), said: map[string]string{}}
	h.look(&engine.View{Time: now, Lots: []engine.LotView{
		{Document: model.Lot{ID: "recent"}, ClosedAt: &recent}, {Document: model.Lot{ID: "old"}, ClosedAt: &old}}})
	if text, ok := got["homeassistant/device/conditiond_recent/config"]; !ok || text != "" || len(got) != 2 {
		t.Errorf("%q", got)
	}
}

// eavesdropper is what passes a broker.
type eavesdropper struct {
	mu   sync.Mutex
	list []intake.Message
}

func (h *eavesdropper) take(m intake.Message) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.list = append(h.list, m)
}

// count the messages of a topic, empty or not, and forget them with reset.
func (h *eavesdropper) count(topic string, empty bool) (n int) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for _, m := range h.list {
		if m.Topic == topic && (len(m.Payload) == 0) == empty {
			n++
		}
	}
	return n
}

func (h *eavesdropper) reset() {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.list = nil
}

// overhear a broker until the test ends, or as long as its connection lasts.
func overhear(t *testing.T, broker, name string) *eavesdropper {
	t.Helper()
	h := &eavesdropper{}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- mqtt.Overhear(ctx, mqtt.Config{Broker: broker, ClientID: name}, h.take) }()
	t.Cleanup(func() { cancel(); <-done })
	return h
}

// TestHub runs the announcement against a real broker: at the start, when the
// hub comes back, when a broker comes back that has forgotten everything, and
// when the lot closes.
func TestHub(t *testing.T) {
	broker := mosquittotest.New(t)
	client, err := mqtt.Dial(mqtt.Config{Broker: broker.URL(), ClientID: "conditiond-test", Topics: []string{hubStatus}}, quiet())
	if err != nil {
		t.Fatal(err)
	}
	board := newBoard()
	view := &engine.View{Lots: []engine.LotView{{Document: model.Lot{ID: "invented-ale", Name: "Invented ale"}}}}
	board.show(view, nil)
	h := (&Daemon{link: client, board: board, log: quiet()}).newHub()
	ctx, cancel := context.WithCancel(context.Background())
	var work sync.WaitGroup
	work.Go(func() { h.run(ctx) })
	stamped := make(chan arrival, 1)
	work.Go(func() { source(ctx, client.Messages(), Pace{}, stamped, h) })
	t.Cleanup(func() { cancel(); work.Wait(); client.Close(context.Background()) })

	const topic = "homeassistant/device/conditiond_invented-ale/config"
	ear := overhear(t, broker.URL(), "ear-1")
	awaited(t, "subscribed", func() bool { return client.State().Connected })
	awaited(t, "announced", func() bool { return ear.count(topic, false) > 0 })

	ear.reset()
	speaker, err := mqtt.NewPublisher(ctx, mqtt.Config{Broker: broker.URL(), ClientID: "the-hub"})
	if err != nil {
		t.Fatal(err)
	}
	defer speaker.Close()
	if err := speaker.Publish(ctx, hubStatus, []byte("online")); err != nil {
		t.Fatal(err)
	}
	awaited(t, "announced again when the hub came back", func() bool { return ear.count(topic, false) > 0 })
	if len(stamped) > 0 {
		t.Error("the hub's word went to the engine")
	}

	broker.Kill()
	if err := os.Remove(filepath.Join(broker.Dir, "mosquitto.db")); err != nil && !os.IsNotExist(err) {
		t.Fatal(err)
	}
	broker.Start()
	ear = overhear(t, broker.URL(), "ear-2")
	awaited(t, "announced to a broker that forgot", func() bool { return ear.count(topic, false) > 0 })

	closed, end := *view, time.Now()
	closed.Lots = slices.Clone(view.Lots)
	closed.Lots[0].ClosedAt = &end
	board.show(&closed, nil)
	awaited(t, "taken back", func() bool { return ear.count(topic, true) > 0 })
	late := overhear(t, broker.URL(), "ear-3")
	awaited(t, "heard what is retained", func() bool { return late.count("conditiond/status", false) > 0 })
	if late.count(topic, false)+late.count(problemTopic("invented-ale"), false) > 0 {
		t.Error("it is still retained")
	}
}

// TestHubAtTheBuiltInBroker: the same where the hub is a client of ours.
func TestHubAtTheBuiltInBroker(t *testing.T) {
	broker, err := mqtt.Listen(mqtt.Config{Listen: "127.0.0.1:0", Topics: []string{hubStatus}}, quiet())
	if err != nil {
		t.Fatal(err)
	}
	board := newBoard()
	view := &engine.View{Lots: []engine.LotView{{Document: model.Lot{ID: "invented-ale"}}}}
	board.show(view, nil)
	h := (&Daemon{link: broker, board: board, log: quiet()}).newHub()
	ctx, cancel := context.WithCancel(context.Background())
	var work sync.WaitGroup
	work.Go(func() { h.run(ctx) })
	work.Go(func() { source(ctx, broker.Messages(), Pace{}, make(chan arrival), h) })
	t.Cleanup(func() { cancel(); work.Wait(); broker.Close(context.Background()) })

	const topic = "homeassistant/device/conditiond_invented-ale/config"
	url := "mqtt://" + broker.Addr()
	ear := overhear(t, url, "ear")
	awaited(t, "announced", func() bool { return ear.count(topic, false) > 0 })
	ear.reset()
	speaker, err := mqtt.NewPublisher(ctx, mqtt.Config{Broker: url, ClientID: "the-hub"})
	if err != nil {
		t.Fatal(err)
	}
	defer speaker.Close()
	if err := speaker.Publish(ctx, hubStatus, []byte("online")); err != nil { // returns when it is acknowledged
		t.Fatal(err)
	}
	awaited(t, "announced again", func() bool { return ear.count(topic, false) > 0 })
	end := time.Now()
	board.show(&engine.View{Time: end, Lots: []engine.LotView{{Document: model.Lot{ID: "invented-ale"}, ClosedAt: &end}}}, nil)
	awaited(t, "taken back", func() bool { return ear.count(topic, true) > 0 })
	late := overhear(t, url, "late")
	awaited(t, "heard what is retained", func() bool { return late.count(mqtt.StatusTopic, false) > 0 })
	if late.count(topic, false) > 0 {
		t.Error("it is still retained")
	}
}
