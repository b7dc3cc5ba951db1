package mqtt

import (
	"bytes"
	"fmt"
	"log/slog"
	"net"
	"strings"
	"testing"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"
	"github.com/eclipse/paho.mqtt.golang/packets"
	mochi "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/listeners"
	mochipackets "github.com/mochi-mqtt/server/v2/packets"

	"conditiond/daemon/mqtt/mosquittotest"
)

// plainBroker without our gate.
func plainBroker(t *testing.T, hook mochi.Hook) (*mochi.Server, string) {
	t.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	s := mochi.New(&mochi.Options{Logger: slog.New(slog.DiscardHandler)})
	s.AddHook(hook, nil)
	s.AddListener(listeners.NewNet("plain", ln))
	if err := s.Serve(); err != nil {
		t.Fatal(err)
	}
	return s, ln.Addr().String()
}

func (*deaf) OnConnectAuthenticate(*mochi.Client, mochipackets.Packet) bool { return true }

func listening(t *testing.T, c Config) *Broker {
	t.Helper()
	c.Listen, c.Topics = "127.0.0.1:0", []string{"closet/air", "closet/gauge"}
	b, err := Listen(c, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { closed(b) })
	return b
}

func TestAcknowledgedOnlyWhenDone(t *testing.T) {
	b := listening(t, Config{})
	p := stranger(t, b.Addr(), "sensor", nil)
	for _, qos := range []byte{1, 2} {
		payload := fmt.Sprint(qos)
		token := p.Publish("closet/air", qos, false, payload)
		d := gets(t, b, payload)
		if token.WaitTimeout(200 * time.Millisecond) {
			t.Fatalf("QoS %d: acknowledged before it was kept", qos)
		}
		d.Done()
		if !token.WaitTimeout(patience) || token.Error() != nil {
			t.Fatalf("QoS %d: not acknowledged: %v", qos, token.Error())
		}
	}
}

func TestPublisherNeedNotWaitToSendMore(t *testing.T) {
	b := listening(t, Config{})
	p := stranger(t, b.Addr(), "sensor", nil)
	var tokens []paho.Token
	for i := range 100 {
		tokens = append(tokens, p.Publish("closet/air", 1, false, fmt.Sprint(i)))
	}
	var held []Delivery
	for i := range 100 {
		held = append(held, gets(t, b, fmt.Sprint(i)))
	}
	for i, d := range held {
		d.Done()
		if !tokens[i].WaitTimeout(patience) {
			t.Fatalf("message %d isn't acknowledged", i)
		}
	}
}

func TestUnkeptMessageIsSentAgain(t *testing.T) {
	b := listening(t, Config{KeptWithin: 100 * time.Millisecond})
	c := raw(t, b.Addr())
	c.publish(7, false)
	if d := gets(t, b, "18.4"); d.Redelivered || d.ID != 7 {
		t.Errorf("came as %+v", d.Message)
	}
	c.SetReadDeadline(time.Now().Add(patience))
	if p, err := packets.ReadPacket(c); err == nil {
		t.Fatalf("got %v instead of a closed connection", p)
	}
	c = raw(t, b.Addr())
	c.publish(7, true)
	d := gets(t, b, "18.4")
	if !d.Redelivered || d.ID != 7 {
		t.Errorf("came again as %+v", d.Message)
	}
	d.Done()
	c.SetReadDeadline(time.Now().Add(patience))
	p, err := packets.ReadPacket(c)
	if ack, ok := p.(*packets.PubackPacket); err != nil || !ok || ack.MessageID != 7 {
		t.Fatalf("got %v, %v; want the acknowledgement of 7", p, err)
	}
}

// rawClient speaks packets.
type rawClient struct {
	net.Conn
	t *testing.T
}

func raw(t *testing.T, addr string) rawClient {
	t.Helper()
	conn, err := net.Dial("tcp", addr)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close() })
	hello := packets.NewControlPacket(packets.Connect).(*packets.ConnectPacket)
	hello.ProtocolName, hello.ProtocolVersion, hello.ClientIdentifier, hello.Keepalive = "MQTT", 4, "raw", 60
	if err := hello.Write(conn); err != nil {
		t.Fatal(err)
	}
	if p, err := packets.ReadPacket(conn); err != nil || p.(*packets.ConnackPacket).ReturnCode != packets.Accepted {
		t.Fatalf("not let in: %v %v", p, err)
	}
	return rawClient{conn, t}
}

func (c rawClient) publish(id uint16, again bool) {
	c.t.Helper()
	p := packets.NewControlPacket(packets.Publish).(*packets.PublishPacket)
	p.TopicName, p.Payload, p.Qos, p.MessageID, p.Dup = "closet/air", []byte("18.4"), 1, id, again
	if err := p.Write(c); err != nil {
		c.t.Fatal(err)
	}
}

func TestBrokerServesOthersToo(t *testing.T) {
	b := listening(t, Config{})
	heard := make(chan string, 20)
	r := stranger(t, b.Addr(), "reader", nil)
	r.Subscribe("#", 1, func(_ paho.Client, m paho.Message) {
		heard <- fmt.Sprintf("%s=%s retained=%v", m.Topic(), m.Payload(), m.Retained())
	}).Wait()
	expect := func(want string) {
		t.Helper()
		select {
		case h := <-heard:
			if h != want {
				t.Fatalf("heard %s, want %s", h, want)
			}
		case <-time.After(patience):
			t.Fatalf("didn't hear %s", want)
		}
	}
	expect("conditiond/status=online retained=true")
	p := stranger(t, b.Addr(), "sensor", nil)
	says(t, p, "kitchen/light", "on", 1, false)
	expect("kitchen/light=on retained=false")
	p.Publish("closet/air", 1, true, "18.4")
	expect("closet/air=18.4 retained=false")
	d := gets(t, b, "18.4")
	if d.Retained {
		t.Error("a live message came as retained")
	}
	d.Done()
	b.Publish("conditiond/alerts/x", []byte("{}"), false)
	expect("conditiond/alerts/x={} retained=false")
	late := stranger(t, b.Addr(), "late", nil)
	late.Subscribe("closet/air", 1, func(_ paho.Client, m paho.Message) { heard <- fmt.Sprintf("late %s %v", m.Payload(), m.Retained()) }).Wait()
	expect("late 18.4 true")
	nothing(t, b)
}

func TestOurWordsAreOurs(t *testing.T) {
	b := listening(t, Config{})
	heard := make(chan string, 20)
	r := stranger(t, b.Addr(), "reader", nil)
	r.Subscribe("conditiond/status", 1, func(_ paho.Client, m paho.Message) { heard <- string(m.Payload()) }).Wait()
	if h := <-heard; h != "online" {
		t.Fatalf("heard %q", h)
	}
	p := stranger(t, b.Addr(), "forger", nil)
	p.Publish("conditiond/status", 1, true, "offline")
	b.Publish("conditiond/status", []byte("really"), true)
	if h := <-heard; h != "really" {
		t.Errorf("heard %q of a stranger", h)
	}
}

func TestBrokerAsksForThePassword(t *testing.T) {
	b := listening(t, Config{Username: "conditiond", Password: "rye-and-oats"})
	with := func(user, password string) error {
		c := paho.NewClient(paho.NewClientOptions().AddBroker("tcp://" + b.Addr()).SetClientID("s").SetUsername(user).SetPassword(password).SetProtocolVersion(4))
		token := c.Connect()
		token.WaitTimeout(patience)
		defer c.Disconnect(10)
		return token.Error()
	}
	for _, wrong := range [][2]string{{"", ""}, {"conditiond", ""}, {"conditiond", "rye"}, {"other", "rye-and-oats"}} {
		if with(wrong[0], wrong[1]) == nil {
			t.Errorf("%q was let in", wrong)
		}
	}
	if p := b.State().Problem; !strings.Contains(p, `client "s" was refused`) || strings.Contains(p, "rye") {
		t.Errorf("problem %q", p)
	}
	if err := with("conditiond", "rye-and-oats"); err != nil {
		t.Errorf("the right one was refused: %v", err)
	}
}

func TestBrokerCutsGiants(t *testing.T) {
	b := listening(t, Config{})
	p := stranger(t, b.Addr(), "sensor", nil)
	if token := p.Publish("closet/air", 1, false, bytes.Repeat([]byte("7"), 1<<20)); token.WaitTimeout(patience) && token.Error() == nil {
		t.Error("a mebibyte was taken")
	}
	nothing(t, b)
}

func TestListenSaysWhatIsWrong(t *testing.T) {
	b := listening(t, Config{})
	if _, err := Listen(Config{Listen: b.Addr()}, slog.New(slog.DiscardHandler)); err == nil || !strings.Contains(err.Error(), "listening for sensors") {
		t.Errorf("the same address twice: %v", err)
	}
}

// How fast one publisher gets through both ways in when everything is done at
// once.
func BenchmarkBroker(b *testing.B) {
	br, err := Listen(Config{Listen: "127.0.0.1:0", Topics: []string{"closet/air"}}, slog.New(slog.DiscardHandler))
	if err != nil {
		b.Fatal(err)
	}
	defer closed(br)
	carry(b, br, br.Addr())
}

func BenchmarkClient(b *testing.B) {
	m := mosquittotest.New(b)
	c, err := Dial(Config{Broker: m.URL(), ClientID: "daemon-under-test", Topics: []string{"closet/air"}}, slog.New(slog.DiscardHandler))
	if err != nil {
		b.Fatal(err)
	}
	defer closed(c)
	for !c.State().Connected {
		time.Sleep(time.Millisecond)
	}
	carry(b, c, m.Addr)
}

func carry(b *testing.B, to interface{ Messages() <-chan Delivery }, addr string) {
	p := paho.NewClient(paho.NewClientOptions().AddBroker("tcp://" + addr).SetClientID("sensor"))
	p.Connect().Wait()
	defer p.Disconnect(50)
	go func() {
		for range b.N {
			p.Publish("closet/air", 1, false, "18.4")
		}
	}()
	for range b.N {
		(<-to.Messages()).Done()
	}
}
