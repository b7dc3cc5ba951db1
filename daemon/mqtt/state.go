package mqtt

import (
	"slices"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"
)

// link is how the connection stands.
type link struct {
	up      bool // and subscribed
	since   time.Time
	opened  time.Time   // of the newest connection
	trouble string      // why it isn't up
	refusal string      // subscriptions that the broker refused
	losses  []time.Time // of connections that held only for moments
}

// Two programs with one client id throw each other out as fast as they come
// back: so many losses, each so soon, within such a span (judgement, no
// source).
const (
	thrownOut = 3
	soon      = 15 * time.Second
	lately    = time.Minute
)

const takenOver = "another program seems to use our client id: it and we throw each other out. Give each its own client_id"

// lost a connection.
func (l *link) lost(now time.Time) {
	if !l.opened.IsZero() && now.Sub(l.opened) < soon {
		l.losses = append(l.losses, now)
	}
	l.fade(now)
}

// fade forgets losses of long ago.
func (l *link) fade(now time.Time) {
	l.losses = slices.DeleteFunc(l.losses, func(at time.Time) bool { return now.Sub(at) > lately })
}

func (l *link) turn(up bool, now time.Time) {
	if l.up != up {
		l.up, l.since = up, now
	}
}

// problem that a person should know of.
func (l *link) problem(now time.Time) string {
	l.fade(now)
	switch {
	case len(l.losses) >= thrownOut:
		return takenOver
	case !l.up && l.trouble != "":
		return l.trouble
	}
	return l.refusal
}

// State of the connection.
func (c *Client) State() State {
	c.mu.Lock()
	s := State{Connected: c.link.up, Since: c.link.since, Problem: c.link.problem(time.Now())}
	c.mu.Unlock()
	c.in.tell(&s)
	return s
}

// notice how the library fares with the connection.
func (c *Client) notice(broker string, n paho.ConnectionNotification) {
	switch n := n.(type) {
	case paho.ConnectionNotificationConnected:
		c.change(func(l *link, now time.Time) { l.opened = now })
	case paho.ConnectionNotificationLost:
		c.change(func(l *link, now time.Time) {
			l.lost(now)
			l.turn(false, now)
			l.trouble = explain(broker, n.Reason)
		})
	case paho.ConnectionNotificationFailed:
		c.change(func(l *link, _ time.Time) { l.trouble = explain(broker, n.Reason) })
	}
}

func (c *Client) subscribed(refusal string) {
	c.change(func(l *link, now time.Time) {
		l.turn(true, now)
		l.trouble, l.refusal = "", refusal
	})
	c.out.again()
}

func (c *Client) up() bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.link.up
}

// change the link, and log where the problem changed.
func (c *Client) change(how func(*link, time.Time)) {
	c.mu.Lock()
	defer c.mu.Unlock()
	now := time.Now()
	up, before := c.link.up, c.link.problem(now)
	how(&c.link, now)
	switch after := c.link.problem(now); {
	case after != "" && after != before:
		c.log.Warn("mqtt", "problem", after)
	case c.link.up && !up && after == "": // else it only seems to be well again
		c.log.Info("mqtt: connected and subscribed")
	}
}
