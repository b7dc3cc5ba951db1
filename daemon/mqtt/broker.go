package mqtt

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"crypto/subtle"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"strings"
	"sync"
	"time"

	mochi "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/listeners"
	"github.com/mochi-mqtt/server/v2/packets"

	"conditiond/daemon/intake"
)

// Broker is the built-in one: a front door for sensors where no other broker
// is. A message of a configured topic is acknowledged to its publisher when it
// is Done; everything else passes through as through any broker. What is
// retained lives in memory.
type Broker struct {
	server   *mochi.Server
	gate     *gate
	in       *inbox
	addr     string
	since    time.Time
	ending   sync.Once
	closeErr error
}

// Listen for publishers.
func Listen(c Config, log *slog.Logger) (*Broker, error) {
	ln, err := net.Listen("tcp", c.Listen)
	if err != nil {
		return nil, fmt.Errorf("listening for sensors: %w", err)
	}
	limits := mochi.NewDefaultServerCapabilities()
	limits.MaximumClients = 256
	limits.MaximumPacketSize = longest
	limits.MaximumMessageExpiryInterval = 0 // what is retained doesn't age
	limits.MaximumSessionExpiryInterval = 7 * 24 * 3600
	limits.MaximumClientWritesPending = room
	b := &Broker{in: newInbox(c.Topics), addr: ln.Addr().String(), since: time.Now()}
	b.server = mochi.New(&mochi.Options{Capabilities: limits, InlineClient: true, Logger: slog.New(slog.DiscardHandler), SysTopicResendInterval: 60})
	b.gate = &gate{config: c, in: b.in, server: b.server, log: log, within: cmp.Or(c.KeptWithin, time.Minute), acks: newDue[ack](), silent: make(chan struct{})}
	go b.gate.acknowledge()
	if err := errors.Join(b.server.AddHook(b.gate, nil), b.server.AddListener(listeners.NewNet("sensors", impatient{ln})), b.server.Serve()); err != nil {
		b.in.end()
		ln.Close()
		return nil, fmt.Errorf("starting the built-in broker: %w", err)
	}
	return b, b.Publish(StatusTopic, []byte("online"), true)
}

// Addr that it listens on.
func (b *Broker) Addr() string { return b.addr }

// Messages that came; never closed. What is still in it at the end was never
// acknowledged.
func (b *Broker) Messages() <-chan Delivery { return b.in.queue }

// Publish our own word to whoever subscribed.
func (b *Broker) Publish(topic string, payload []byte, retained bool) error {
	return b.server.Publish(topic, payload, retained, 1)
}

// State of the broker: there as long as it runs.
func (b *Broker) State() State {
	s := State{Connected: true, Since: b.since, Problem: b.gate.problem()}
	b.in.tell(&s)
	return s
}

// Close when the consumer is done: gives the acknowledgements that are due,
// says offline, and lets everybody go.
func (b *Broker) Close(context.Context) error {
	b.ending.Do(func() {
		b.in.end()
		<-b.gate.silent
		b.closeErr = errors.Join(b.Publish(StatusTopic, []byte("offline"), true), b.server.Close())
	})
	return b.closeErr
}

// gate decides who comes in, and takes what is for us.
type gate struct {
	mochi.HookBase
	config Config
	in     *inbox
	server *mochi.Server
	log    *slog.Logger
	within time.Duration
	acks   *due[ack]
	silent chan struct{} // closed: every acknowledgement is given

	mu      sync.Mutex
	refused time.Time // when somebody was last, and who
	who     string
}

// ack that is due to a publisher.
type ack struct {
	to *mochi.Client
	id uint16
}

func (g *gate) ID() string { return "gate" }

func (g *gate) Provides(b byte) bool {
	return bytes.IndexByte([]byte{mochi.OnConnectAuthenticate, mochi.OnACLCheck, mochi.OnPublish}, b) >= 0
}

func (g *gate) OnConnectAuthenticate(cl *mochi.Client, pk packets.Packet) bool {
	if g.config.Username == "" || same(string(pk.Connect.Username), g.config.Username)&same(string(pk.Connect.Password), g.config.Password) == 1 {
		return true
	}
	g.refuse(cl.ID)
	return false
}

// refuse a client; the log hears of it once a minute at most.
func (g *gate) refuse(who string) {
	g.mu.Lock()
	defer g.mu.Unlock()
	if time.Since(g.refused) > time.Minute {
		g.log.Warn("mqtt: a client was refused for its username or password", "client", who)
	}
	g.refused, g.who = time.Now(), who
}

// problem within the last minutes.
func (g *gate) problem() string {
	g.mu.Lock()
	defer g.mu.Unlock()
	if time.Since(g.refused) > 5*time.Minute {
		return ""
	}
	return fmt.Sprintf("client %q was refused: give it the broker's username and password", g.who)
}

// same compares in a time that tells nothing.
func same(a, b string) int {
	x, y := sha256.Sum256([]byte(a)), sha256.Sum256([]byte(b))
	return subtle.ConstantTimeCompare(x[:], y[:])
}

// OnACLCheck keeps our own words ours.
func (g *gate) OnACLCheck(_ *mochi.Client, topic string, write bool) bool {
	return !write || !strings.HasPrefix(topic, "conditiond/") && !strings.HasPrefix(topic, "$SYS/")
}

// OnPublish takes a message of a configured topic out of the broker's hands:
// subscribers have it at once, and the acknowledgement waits for Done without
// holding up what the publisher sends next. At QoS 2 the library has to
// acknowledge, so there the publisher is held up.
func (g *gate) OnPublish(cl *mochi.Client, pk packets.Packet) (packets.Packet, error) {
	if cl.Net.Inline || !g.in.wants(pk.TopicName) {
		return pk, nil
	}
	d := Delivery{Done: func() {}, Message: intake.Message{
		Topic: pk.TopicName, Payload: bounded(pk.Payload), Redelivered: pk.FixedHeader.Dup, ID: pk.PacketID}}
	switch pk.FixedHeader.Qos {
	case 0:
		g.in.offer(d)
		return pk, nil
	case 1:
		d.Done = g.acknowledgement(cl, pk.PacketID)
		g.in.put(d)
		if err := g.server.Publish(pk.TopicName, pk.Payload, pk.FixedHeader.Retain, 1); err != nil {
			g.log.Warn("mqtt: passing a message on failed", "topic", pk.TopicName, "err", err)
		}
		return pk, packets.ErrRejectPacket // we acknowledge it
	}
	return pk, g.wait(cl, d)
}

// acknowledgement of a message at QoS 1. A publisher that waits for it too long
// loses its connection, and will send again.
func (g *gate) acknowledgement(cl *mochi.Client, id uint16) func() {
	late := time.AfterFunc(g.within, func() { g.drop(cl) })
	return func() {
		if late.Stop() {
			g.acks.add(ack{cl, id})
		}
	}
}

// acknowledge in the order of the messages, as MQTT wants it; at the end what
// is still due.
func (g *gate) acknowledge() {
	defer close(g.silent)
	g.acks.give(g.in.ended, ack.give)
}

// give the acknowledgement. A publisher that is gone by then sends again.
func (a ack) give() {
	a.to.WritePacket(packets.Packet{FixedHeader: packets.FixedHeader{Type: packets.Puback}, PacketID: a.id})
}

// wait until a message is kept.
func (g *gate) wait(cl *mochi.Client, d Delivery) error {
	kept := make(chan struct{})
	d.Done = sync.OnceFunc(func() { close(kept) })
	g.in.put(d)
	select {
	case <-kept:
		return nil
	case <-g.in.ended:
	case <-time.After(g.within):
	}
	g.drop(cl)
	return packets.ErrRejectPacket
}

func (g *gate) drop(cl *mochi.Client) {
	if cl.Closed() {
		return
	}
	g.log.Warn("mqtt: a publisher's message couldn't be kept in time; it has to send it again", "client", cl.ID)
	cl.Stop(packets.ErrServerBusy)
}

// impatient connections give up on a client that reads nothing.
type impatient struct{ net.Listener }

func (l impatient) Accept() (net.Conn, error) {
	c, err := l.Listener.Accept()
	return impatientConn{c}, err
}

type impatientConn struct{ net.Conn }

func (c impatientConn) Write(p []byte) (int, error) {
	if err := c.SetWriteDeadline(time.Now().Add(connectWithin)); err != nil {
		return 0, err
	}
	return c.Conn.Write(p)
}
