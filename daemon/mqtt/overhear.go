package mqtt

import (
	"bytes"
	"context"
	"errors"
	"fmt"

	paho "github.com/eclipse/paho.mqtt.golang"

	"conditiond/daemon/intake"
)

// Overhear everything that passes a broker, until the context ends, in the
// order in which it came. It takes nothing from anybody: whatever it hears,
// those who subscribed hear too.
func Overhear(ctx context.Context, c Config, take func(intake.Message)) error {
	o, err := c.guest()
	if err != nil {
		return err
	}
	o.SetDefaultPublishHandler(func(_ paho.Client, m paho.Message) {
		take(intake.Message{Topic: m.Topic(), Payload: bytes.Clone(m.Payload()), Retained: m.Retained()})
	})
	client := paho.NewClient(o)
	if err := wait(ctx, client.Connect()); err != nil {
		return errors.New(explain(c.Broker, err))
	}
	defer client.Disconnect(100)
	token := client.Subscribe("#", 0, nil)
	if err := wait(ctx, token); err != nil {
		return fmt.Errorf("listening to everything: %w", err)
	}
	if code := token.(*paho.SubscribeToken).Result()["#"]; code > 2 {
		return errors.New("the broker refuses to let us read everything: check its access list")
	}
	<-ctx.Done()
	return nil
}
