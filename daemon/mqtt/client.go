package mqtt

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"maps"
	"net"
	"net/url"
	"slices"
	"strings"
	"sync"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"

	"conditiond/daemon/intake"
)

// Client of another program's broker.
type Client struct {
	config Config
	log    *slog.Logger
	paho   paho.Client
	in     *inbox
	out    *outbox
	acks   *due[paho.Message]
	ctx    context.Context // ends with the client
	cancel context.CancelFunc
	work   sync.WaitGroup

	mu   sync.Mutex
	conn net.Conn // the newest
	link link
}

// Dial a broker. It returns at once and goes on trying for ever; State says how
// it stands. An error means that the configuration can't work.
func Dial(c Config, log *slog.Logger) (*Client, error) {
	u, err := url.Parse(c.Broker)
	if err != nil || u.Hostname() == "" || u.Scheme != "mqtt" && u.Scheme != "mqtts" {
		return nil, errors.New("the broker's address must be like mqtt://127.0.0.1:1883, or mqtts:// for TLS")
	}
	if c.ClientID == "" {
		return nil, errors.New("dialling the broker: no client id, and without one it keeps nothing for us")
	}
	secure := u.Scheme == "mqtts"
	if u.Port() == "" {
		u.Host = net.JoinHostPort(u.Hostname(), map[bool]string{false: "1883", true: "8883"}[secure])
	}
	if secure {
		if _, err := c.tls(); err != nil {
			return nil, fmt.Errorf("dialling the broker: %w", err)
		}
	}
	return dial(c, u, secure, log), nil
}

func dial(c Config, u *url.URL, secure bool, log *slog.Logger) *Client {
	cl := &Client{config: c, log: log, in: newInbox(c.Topics), out: newOutbox(), acks: newDue[paho.Message](),
		link: link{since: time.Now(), trouble: "not connected yet with the broker at " + u.Host}}
	cl.ctx, cl.cancel = context.WithCancel(context.Background())
	o := paho.NewClientOptions().AddBroker("tcp://" + u.Host).SetProtocolVersion(4)
	o.SetClientID(c.ClientID).SetUsername(c.Username).SetPassword(c.Password)
	// The broker keeps what comes while we are away, and we say when it may
	// forget it. What it kept comes before we subscribe.
	o.SetCleanSession(false).SetAutoAckDisabled(true).SetDefaultPublishHandler(cl.receive)
	o.SetStore(copies{paho.NewMemoryStore()})
	o.SetKeepAlive(cmp.Or(c.KeepAlive, 30*time.Second)).SetPingTimeout(pingTimeout(c)).SetWriteTimeout(connectWithin)
	o.SetConnectRetry(true).SetConnectRetryInterval(2 * time.Second)
	o.SetAutoReconnect(true).SetMaxReconnectInterval(5 * time.Second).SetConnectTimeout(connectWithin)
	o.SetWill(StatusTopic, "offline", 1, true)
	o.SetOnConnectHandler(func(paho.Client) { cl.connected() })
	o.SetConnectionNotificationHandler(func(_ paho.Client, n paho.ConnectionNotification) { cl.notice(u.Host, n) })
	o.SetCustomOpenConnectionFn(func(*url.URL, paho.ClientOptions) (net.Conn, error) { return cl.open(secure, u.Host) })
	cl.paho = paho.NewClient(o)
	cl.out.add(outgoing{StatusTopic, []byte("online"), true})
	cl.work.Go(cl.acknowledge)
	cl.work.Go(cl.speak)
	cl.paho.Connect()
	return cl
}

func pingTimeout(c Config) time.Duration {
	return min(10*time.Second, cmp.Or(c.KeepAlive, 30*time.Second))
}

// open a connection, and remember it so that it can be cut.
func (c *Client) open(secure bool, address string) (net.Conn, error) {
	conn, err := c.config.open(secure, address)
	if err != nil {
		return nil, err
	}
	c.mu.Lock()
	c.conn = conn
	c.mu.Unlock()
	return conn, nil
}

// newest connection.
func (c *Client) newest() net.Conn {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.conn
}

// cut a connection, to begin again. The library takes one that we close for
// its own doing, and stays without.
func cut(conn net.Conn) { conn.SetReadDeadline(time.Unix(1, 0)) }

// receive a message. The library reads nothing else meanwhile, not even the
// answers to its pings, so this blocks only where the consumer is a thousand
// messages behind; the broker then sends again what it sees unacknowledged.
func (c *Client) receive(_ paho.Client, m paho.Message) {
	if !c.in.wants(m.Topic()) {
		c.unwanted(m)
		return
	}
	d := Delivery{Done: func() {}, Message: intake.Message{
		Topic: m.Topic(), Payload: bounded(m.Payload()), Retained: m.Retained(), Redelivered: m.Duplicate(), ID: m.MessageID()}}
	if m.Qos() == 0 {
		c.in.offer(d)
		return
	}
	d.Done = func() { c.acks.add(m) }
	c.in.put(d)
}

// unwanted is a message of a topic that an earlier configuration subscribed.
func (c *Client) unwanted(m paho.Message) {
	c.acks.add(m)
	c.log.Info("unsubscribing from a topic that isn't configured", "topic", m.Topic())
	c.paho.Unsubscribe(m.Topic())
}

// acknowledge what is done, in that order, and at the end what is still due.
// For a connection that is gone it does nothing.
func (c *Client) acknowledge() { c.acks.give(c.ctx.Done(), paho.Message.Ack) }

// connected: subscribe, every time, for the broker may have forgotten.
func (c *Client) connected() {
	conn := c.newest()
	if len(c.config.Topics) == 0 {
		c.subscribed("")
		return
	}
	filters := map[string]byte{}
	for _, t := range c.config.Topics {
		filters[t] = 1
	}
	token := c.paho.SubscribeMultiple(filters, nil)
	if !token.WaitTimeout(connectWithin) || token.Error() != nil {
		c.log.Warn("subscribing failed; connecting again", "err", token.Error())
		cut(conn)
		return
	}
	c.subscribed(refused(token.(*paho.SubscribeToken).Result()))
}

// refused subscriptions in words: the broker's answer 128.
func refused(answer map[string]byte) string {
	maps.DeleteFunc(answer, func(_ string, code byte) bool { return code <= 2 })
	if len(answer) == 0 {
		return ""
	}
	topics := strings.Join(slices.Sorted(maps.Keys(answer)), ", ")
	return "the broker refuses to let us read " + topics + ": check its access list"
}

// Messages that came; never closed. What is still in it at the end is sent
// again next time.
func (c *Client) Messages() <-chan Delivery { return c.in.queue }

// Publish our own word, at QoS 1, without waiting. Of a retained topic only the
// last word is sent, and again on every new connection.
func (c *Client) Publish(topic string, payload []byte, retained bool) error {
	return c.out.add(outgoing{topic, payload, retained})
}

// speak one message after another, so that what waits is ours to bound. Not
// before the subscriptions stand, so that online means that we hear.
func (c *Client) speak() {
	for {
		select {
		case <-c.out.wake:
		case <-c.ctx.Done():
			return
		}
		for c.paho.IsConnectionOpen() && c.up() {
			m, ok := c.out.take()
			if !ok {
				break
			}
			token := c.paho.Publish(m.topic, 1, m.retained, m.payload)
			select {
			case <-token.Done(): // after a lost connection the library sends it again
			case <-c.ctx.Done():
				return
			}
		}
	}
}

// Close when the consumer is done: gives the acknowledgements that are due,
// says offline, and leaves. The broker goes on keeping messages for us.
func (c *Client) Close(ctx context.Context) error {
	c.in.end()
	c.cancel()
	done := make(chan struct{})
	go func() {
		defer close(done)
		c.work.Wait()
		if c.paho.IsConnectionOpen() { // else the last will has told
			c.paho.Publish(StatusTopic, 1, true, "offline").Wait()
		}
	}()
	defer c.paho.Disconnect(250)
	select {
	case <-done:
		return nil
	case <-ctx.Done():
		return fmt.Errorf("taking leave of the broker: %w", ctx.Err())
	}
}
