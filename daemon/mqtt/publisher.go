package mqtt

import (
	"context"
	"fmt"
	"net"
	"net/url"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"
)

// Publisher speaks as a sensor does: for simulated readings, and for this
// machine's own sensors.
type Publisher struct {
	paho paho.Client
	will string
}

// NewPublisher connects to a broker (Broker, Username, Password and TLS files
// of the Config) under a client id of its own.
func NewPublisher(ctx context.Context, c Config) (*Publisher, error) {
	o, err := c.guest()
	if err != nil {
		return nil, err
	}
	if c.Will != "" {
		o.SetWill(c.Will, "offline", 1, true)
		o.SetOnConnectHandler(func(cl paho.Client) { cl.Publish(c.Will, 1, true, "online") })
	}
	p := &Publisher{paho.NewClient(o), c.Will}
	if err := wait(ctx, p.paho.Connect()); err != nil {
		return nil, fmt.Errorf("connect to %s: %w", o.Servers[0].Host, err)
	}
	return p, nil
}

// guest is a client for whom the broker keeps nothing.
func (c Config) guest() (*paho.ClientOptions, error) {
	u, err := url.Parse(c.Broker)
	if err != nil || u.Hostname() == "" {
		return nil, fmt.Errorf("the broker's address %q: mqtt://127.0.0.1:1883 would be right", c.Broker)
	}
	if u.Port() == "" {
		u.Host = net.JoinHostPort(u.Hostname(), map[bool]string{false: "1883", true: "8883"}[u.Scheme == "mqtts"])
	}
	o := paho.NewClientOptions().SetClientID(c.ClientID).SetUsername(c.Username).SetPassword(c.Password)
	o.SetCleanSession(true).SetConnectTimeout(connectWithin).SetAutoReconnect(true).SetMaxReconnectInterval(5 * time.Second)
	if u.Scheme != "mqtts" {
		return o.AddBroker("tcp://" + u.Host), nil
	}
	t, err := c.tls()
	if err != nil {
		return nil, err
	}
	return o.SetTLSConfig(t).AddBroker("ssl://" + u.Host), nil
}

// Publish at QoS 1, and wait until the broker has it.
func (p *Publisher) Publish(ctx context.Context, topic string, payload []byte) error {
	return wait(ctx, p.paho.Publish(topic, 1, false, payload))
}

// Connected tells whether a message would go out now. Without a connection
// Publish waits for one.
func (p *Publisher) Connected() bool { return p.paho.IsConnectionOpen() }

// Close the connection, and say offline before.
func (p *Publisher) Close() {
	if p.will != "" && p.Connected() {
		p.paho.Publish(p.will, 1, true, "offline").WaitTimeout(time.Second)
	}
	p.paho.Disconnect(100)
}

func wait(ctx context.Context, t paho.Token) error {
	select {
	case <-t.Done():
		return t.Error()
	case <-ctx.Done():
		return ctx.Err()
	}
}
