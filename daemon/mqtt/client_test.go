package mqtt

import (
	"context"
	"fmt"
	"log/slog"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"
	mochi "github.com/mochi-mqtt/server/v2"

	"conditiond/daemon/intake"
	"conditiond/daemon/mqtt/mosquittotest"
)

const patience = 15 * time.Second

// until something holds.
func until(t *testing.T, what string, holds func() bool) {
	t.Helper()
	for deadline := time.Now().Add(patience); time.Now().Before(deadline); time.Sleep(10 * time.Millisecond) {
		if holds() {
			return
		}
	}
	t.Fatalf("not within %v: %s", patience, what)
}

func dialed(t *testing.T, c Config) *Client {
	t.Helper()
	c.ClientID = "daemon-under-test"
	if c.Topics == nil {
		c.Topics = []string{"closet/air", "closet/gauge"}
	}
	cl, err := Dial(c, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { closed(cl) })
	return cl
}

func closed(c interface{ Close(context.Context) error }) error {
	ctx, cancel := context.WithTimeout(context.Background(), 3*time.Second)
	defer cancel()
	return c.Close(ctx)
}

func ready(t *testing.T, c *Client) {
	t.Helper()
	until(t, "connected: "+c.State().Problem, func() bool { return c.State().Connected })
}

// gets the next delivery.
func gets(t *testing.T, from interface{ Messages() <-chan Delivery }, payload string) Delivery {
	t.Helper()
	select {
	case d := <-from.Messages():
		if string(d.Payload) != payload {
			t.Fatalf("got %s %.40q, want %q", d.Topic, d.Payload, payload)
		}
		return d
	case <-time.After(patience):
		t.Fatalf("%q didn't come", payload)
	}
	return Delivery{}
}

// nothing more comes, as far as a later message can tell.
func nothing(t *testing.T, from interface{ Messages() <-chan Delivery }) {
	t.Helper()
	select {
	case d := <-from.Messages():
		t.Fatalf("got %s %.40q, want nothing", d.Topic, d.Payload)
	default:
	}
}

// stranger is a client of somebody else.
func stranger(t *testing.T, addr, id string, set func(*paho.ClientOptions)) paho.Client {
	t.Helper()
	o := paho.NewClientOptions().AddBroker("tcp://" + addr).SetClientID(id).SetAutoReconnect(false)
	if set != nil {
		set(o)
	}
	c := paho.NewClient(o)
	if token := c.Connect(); !token.WaitTimeout(patience) || token.Error() != nil {
		t.Fatalf("stranger %s: %v", id, token.Error())
	}
	t.Cleanup(func() { c.Disconnect(50) })
	return c
}

func says(t *testing.T, c paho.Client, topic, payload string, qos byte, retained bool) {
	t.Helper()
	if token := c.Publish(topic, qos, retained, payload); !token.WaitTimeout(patience) || token.Error() != nil {
		t.Fatalf("publishing %s: %v", topic, token.Error())
	}
}

func TestMessagesComeWithTheirMarks(t *testing.T) {
	m := mosquittotest.New(t)
	p := stranger(t, m.Addr, "sensor", nil)
	says(t, p, "closet/air", "18.4", 1, true)
	c := dialed(t, Config{Broker: m.URL()})
	ready(t, c)
	if d := gets(t, c, "18.4"); !d.Retained {
		t.Error("what the broker remembered isn't marked as retained")
	}
	says(t, p, "closet/air", "18.5", 1, true)
	d := gets(t, c, "18.5")
	if d.Retained || d.Redelivered || d.ID == 0 || d.Topic != "closet/air" {
		t.Errorf("a live message came as %+v", d.Message)
	}
	says(t, p, "closet/other", "1", 1, false)
	says(t, p, "closet/gauge", "1.2", 0, false)
	if d := gets(t, c, "1.2"); d.ID != 0 {
		t.Errorf("at QoS 0 an id %d", d.ID)
	}
	if s := c.State(); len(s.Unheard) != 0 || s.Problem != "" {
		t.Errorf("state %+v", s)
	}
}

// Three times the broker is killed and loses its store: what we want to hear is
// asked for again, and what we retained there is said again.
func TestSubscribesAgainWhenTheBrokerForgot(t *testing.T) {
	m := mosquittotest.New(t)
	c := dialed(t, Config{Broker: m.URL()})
	ready(t, c)
	if u := c.State().Unheard; !slices.Equal(u, []string{"closet/air", "closet/gauge"}) {
		t.Errorf("unheard %v", u)
	}
	if err := c.Publish("conditiond/lots/spruce/estimate", []byte("{}"), true); err != nil {
		t.Fatal(err)
	}
	for i := range 3 {
		m.Kill()
		until(t, "the loss is seen", func() bool { return !c.State().Connected && c.State().Problem != "" })
		m.Forget()
		m.Start()
		began := time.Now()
		ready(t, c)
		p := stranger(t, m.Addr, "sensor", nil)
		says(t, p, "closet/air", fmt.Sprint(i), 1, false)
		gets(t, c, fmt.Sprint(i)).Done()
		if took := time.Since(began); took > 10*time.Second {
			t.Errorf("took %v", took)
		}
		heard := make(chan string, 10)
		p.Subscribe("conditiond/#", 1, func(_ paho.Client, m paho.Message) { heard <- m.Topic() })
		for seen := map[string]bool{}; len(seen) < 2; {
			select {
			case topic := <-heard:
				seen[topic] = true
			case <-time.After(patience):
				t.Fatalf("of our own words only %v came again", seen)
			}
		}
		p.Disconnect(50)
	}
}

func TestWhatWasNotAcknowledgedComesAgain(t *testing.T) {
	m := mosquittotest.New(t)
	c := dialed(t, Config{Broker: m.URL()})
	ready(t, c)
	p := stranger(t, m.Addr, "sensor", nil)
	says(t, p, "closet/air", "1", 1, false)
	says(t, p, "closet/air", "2", 1, false)
	first := gets(t, c, "1")
	first.Done()
	gets(t, c, "2")
	if err := closed(c); err != nil {
		t.Fatal(err)
	}
	says(t, p, "closet/air", "3", 1, false) // kept while we are away

	again := dialed(t, Config{Broker: m.URL()})
	d := gets(t, again, "2")
	if !d.Redelivered {
		t.Error("the second time it isn't marked so")
	}
	d.Done()
	gets(t, again, "3").Done()
	ready(t, again)
	says(t, p, "closet/air", "4", 1, false)
	gets(t, again, "4").Done()
	first.Done() // of a connection that is gone: nothing happens
}

func TestTopicThatIsConfiguredNoMore(t *testing.T) {
	m := mosquittotest.New(t, "allow_anonymous true", "log_type unsubscribe")
	before := dialed(t, Config{Broker: m.URL()})
	ready(t, before)
	closed(before)
	p := stranger(t, m.Addr, "sensor", nil)
	says(t, p, "closet/gauge", "1.2", 1, false) // kept for us
	c := dialed(t, Config{Broker: m.URL(), Topics: []string{"closet/air"}})
	until(t, "the subscription is ended", func() bool { return strings.Contains(m.Output(), "daemon-under-test closet/gauge") })
	says(t, p, "closet/air", "18.4", 1, false)
	gets(t, c, "18.4").Done()
	nothing(t, c)
}

func TestDoneAfterReconnect(t *testing.T) {
	m := mosquittotest.New(t)
	c := dialed(t, Config{Broker: m.URL()})
	ready(t, c)
	p := stranger(t, m.Addr, "sensor", nil)
	var held []Delivery
	for _, v := range []string{"1", "2", "3"} {
		says(t, p, "closet/air", v, 1, false)
		held = append(held, gets(t, c, v))
	}
	cut(c.newest())
	for _, v := range []string{"1", "2", "3"} {
		if d := gets(t, c, v); !d.Redelivered {
			t.Errorf("%s isn't marked as redelivered", v)
		} else {
			d.Done()
		}
	}
	for _, d := range held {
		d.Done()
	}
	says(t, p, "closet/air", "4", 1, false)
	gets(t, c, "4").Done()
	nothing(t, c)
}

func TestBrokerComesLater(t *testing.T) {
	m := mosquittotest.New(t)
	m.Stop()
	c := dialed(t, Config{Broker: m.URL()})
	until(t, "says that no broker listens", func() bool { return strings.Contains(c.State().Problem, "no broker listens at "+m.Addr) })
	if err := c.Publish("conditiond/lots/spruce/estimate", []byte("old"), true); err != nil {
		t.Fatal(err)
	}
	c.Publish("conditiond/lots/spruce/estimate", []byte("new"), true)
	m.Start()
	ready(t, c)
	heard := make(chan string, 10)
	s := stranger(t, m.Addr, "reader", nil)
	s.Subscribe("conditiond/#", 1, func(_ paho.Client, m paho.Message) { heard <- m.Topic() + "=" + string(m.Payload()) })
	seen := map[string]bool{}
	until(t, "the last word and our presence", func() bool {
		select {
		case h := <-heard:
			seen[h] = true
		default:
		}
		return seen["conditiond/lots/spruce/estimate=new"] && seen["conditiond/status=online"]
	})
	if seen["conditiond/lots/spruce/estimate=old"] {
		t.Error("an outdated word was sent")
	}
}

func TestPresence(t *testing.T) {
	m := mosquittotest.New(t)
	heard := make(chan string, 10)
	s := stranger(t, m.Addr, "reader", nil)
	s.Subscribe(StatusTopic, 1, func(_ paho.Client, m paho.Message) { heard <- string(m.Payload()) }).Wait()
	last := ""
	is := func(want string) {
		t.Helper()
		for ended := time.After(patience); last != want; {
			select {
			case h := <-heard:
				if h != want && h != last { // the same again is no news: delivery is at least once
					t.Fatalf("status %q, want %q", h, want)
				}
				last = h
			case <-ended:
				t.Fatalf("no status; want %q", want)
			}
		}
	}
	c := dialed(t, Config{Broker: m.URL()})
	is("online")
	ready(t, c)
	cut(c.newest())
	is("offline") // the last will
	is("online")
	until(t, "in order again", func() bool { return c.State().Connected })
	if err := closed(c); err != nil {
		t.Fatal(err)
	}
	is("offline")
}

func TestGiantPayloadIsCutShort(t *testing.T) {
	m := mosquittotest.New(t)
	c := dialed(t, Config{Broker: m.URL()})
	ready(t, c)
	p := stranger(t, m.Addr, "sensor", nil)
	says(t, p, "closet/air", strings.Repeat("7", 50<<20), 1, false)
	says(t, p, "closet/air", "18.4", 1, false)
	select {
	case d := <-c.Messages():
		if len(d.Payload) != intake.MaxPayload+1 {
			t.Errorf("%d bytes", len(d.Payload))
		}
		d.Done()
	case <-time.After(patience):
		t.Fatal("it didn't come")
	}
	gets(t, c, "18.4").Done()
	if s := c.State(); !s.Connected {
		t.Errorf("state %+v", s)
	}
}

func TestSomebodyElseUsesOurID(t *testing.T) {
	m := mosquittotest.New(t)
	c := dialed(t, Config{Broker: m.URL()})
	ready(t, c)
	for range thrownOut {
		before := c.State().Since
		stranger(t, m.Addr, "daemon-under-test", nil)
		until(t, "thrown out and back again", func() bool { s := c.State(); return s.Connected && s.Since.After(before) })
	}
	until(t, "it is named", func() bool { return c.State().Problem == takenOver })
}

// Two daemons with one client id, as after copying a card: both say so, and the
// log doesn't fill with it.
func TestTwoWithOneID(t *testing.T) {
	m := mosquittotest.New(t)
	var logs [2]lines
	var both [2]*Client
	for i := range both {
		c, err := Dial(Config{Broker: m.URL(), ClientID: "copied", Topics: []string{"closet/air"}}, slog.New(slog.NewTextHandler(&logs[i], nil)))
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { closed(c) })
		both[i] = c
	}
	began := time.Now()
	for i, c := range both {
		until(t, "it is named", func() bool { return c.State().Problem == takenOver })
		t.Logf("named by %d after %v", i+1, time.Since(began).Round(time.Second))
	}
	for ended := time.Now().Add(5 * time.Second); time.Now().Before(ended); time.Sleep(100 * time.Millisecond) {
		for i := range logs {
			if n := logs[i].n.Load(); n > 12 {
				t.Fatalf("%d lines in %v", n, time.Since(began))
			}
		}
	}
}

// lines counts them.
type lines struct{ n atomic.Int64 }

func (l *lines) Write(b []byte) (int, error) {
	l.n.Add(1)
	return len(b), nil
}

// A stock Mosquitto grants every subscription and then sends nothing, so the
// broker that refuses is another one.
func TestRefusedSubscriptionIsNamed(t *testing.T) {
	b, addr := plainBroker(t, &deaf{})
	defer b.Close()
	c := dialed(t, Config{Broker: "mqtt://" + addr})
	ready(t, c)
	if p := c.State().Problem; !strings.Contains(p, "refuses to let us read closet/gauge:") {
		t.Errorf("problem %q", p)
	}
}

// deaf lets nobody read the gauge.
type deaf struct{ mochi.HookBase }

func (*deaf) ID() string           { return "deaf" }
func (*deaf) Provides(b byte) bool { return b == mochi.OnConnectAuthenticate || b == mochi.OnACLCheck }
func (*deaf) OnACLCheck(_ *mochi.Client, topic string, write bool) bool {
	return write || topic != "closet/gauge"
}

func TestWrongPasswordIsNamedAndNotShown(t *testing.T) {
	m := mosquittotest.New(t, "allow_anonymous false")
	c := dialed(t, Config{Broker: m.URL(), Username: "conditiond", Password: "rye-and-oats"})
	until(t, "the refusal", func() bool { return strings.Contains(c.State().Problem, "check username and password_file") })
	if strings.Contains(c.State().Problem, "rye") {
		t.Error("the password is shown")
	}
}

func TestDialRefusesWhatCannotWork(t *testing.T) {
	for _, c := range []Config{
		{Broker: "127.0.0.1:1883", ClientID: "x"},
		{Broker: "http://127.0.0.1", ClientID: "x"},
		{Broker: "mqtt://127.0.0.1"},
		{Broker: "mqtts://127.0.0.1", ClientID: "x", CAFile: "/nowhere/ca.pem"},
	} {
		if cl, err := Dial(c, slog.New(slog.DiscardHandler)); err == nil {
			closed(cl)
			t.Errorf("%+v was taken", c)
		}
	}
}
