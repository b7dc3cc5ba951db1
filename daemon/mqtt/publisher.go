package mqtt

import (
	"context"
	"fmt"
	"net/url"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"
)

// Publisher speaks as a sensor does: for simulated readings.
type Publisher struct{ paho paho.Client }

// NewPublisher connects to a broker (Broker, Username, Password and TLS files
// of the Config) under a client id of its own.
func NewPublisher(ctx context.Context, c Config) (*Publisher, error) {
	u, err := url.Parse(c.Broker)
	if err != nil || u.Hostname() == "" {
		return nil, fmt.Errorf("the broker's address %q: mqtt://127.0.0.1:1883 would be right", c.Broker)
	}
	o := paho.NewClientOptions().SetClientID(c.ClientID).SetUsername(c.Username).SetPassword(c.Password)
	o.SetCleanSession(true).SetConnectTimeout(connectWithin).SetAutoReconnect(true).SetMaxReconnectInterval(5 * time.Second)
	if u.Scheme == "mqtts" {
		t, err := c.tls()
		if err != nil {
			return nil, err
		}
		o.SetTLSConfig(t).AddBroker("ssl://" + u.Host)
	} else {
		o.AddBroker("tcp://" + u.Host)
	}
	p := &Publisher{paho.NewClient(o)}
	if err := wait(ctx, p.paho.Connect()); err != nil {
		return nil, fmt.Errorf("connect to %s: %w", u.Host, err)
	}
	return p, nil
}

// Publish at QoS 1, and wait until the broker has it.
func (p *Publisher) Publish(ctx context.Context, topic string, payload []byte) error {
	return wait(ctx, p.paho.Publish(topic, 1, false, payload))
}

// Close the connection.
func (p *Publisher) Close() { p.paho.Disconnect(100) }

func wait(ctx context.Context, t paho.Token) error {
	select {
	case <-t.Done():
		return t.Error()
	case <-ctx.Done():
		return ctx.Err()
	}
}
