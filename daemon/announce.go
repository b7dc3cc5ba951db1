package daemon

import (
	"context"
	"encoding/json"
	"fmt"
	"log/slog"

	"conditiond/daemon/journal"
)

// publisher is where our own messages go: the broker's client or the built-in
// broker.
type publisher interface {
	Publish(topic string, payload []byte, retained bool) error
}

// announcer carries estimates and alerts to MQTT.
type announcer struct {
	to  publisher
	log *slog.Logger
}

func (a announcer) deliver(_ context.Context, entries []journal.Entry) error {
	for _, en := range recallAll(entries, a.log) {
		for _, e := range en.Estimates {
			if err := a.say("conditiond/lots/"+e.Lot+"/estimate", estimateLine{"estimate", e}, true); err != nil {
				return err
			}
		}
		for _, x := range en.Alerts {
			if err := a.say("conditiond/alerts/"+x.ID, x, false); err != nil {
				return err
			}
		}
	}
	return nil
}

func (a announcer) say(topic string, what any, retained bool) error {
	payload, err := json.Marshal(what)
	if err != nil {
		return fmt.Errorf("say %s: %w", topic, err)
	}
	return a.to.Publish(topic, payload, retained)
}
