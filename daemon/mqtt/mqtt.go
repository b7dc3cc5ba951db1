// Package mqtt is how readings come in and how our own messages go out: Dial
// is a client of another program's broker, Listen is the built-in broker. Both
// hand messages over and have them acknowledged only when the consumer says
// that they are kept, so whoever sent one at QoS 1 still has it until then.
// It is the only package that imports an MQTT library.
//
// Delivery is at least once. After a lost connection, or a stop, what wasn't
// acknowledged comes again; the engine recognises it.
package mqtt

import (
	"time"

	"conditiond/daemon/intake"
)

// StatusTopic says whether we are there: retained, online or offline.
const StatusTopic = "conditiond/status"

// Config of either way in.
type Config struct {
	Broker   string // mqtt://host:port, or mqtts:// for TLS; for Dial
	Listen   string // host:port, port 0 for a free one; for Listen
	ClientID string // the same over restarts, and no other program's
	Username string
	Password string // never shown
	CAFile   string // who signed the broker's certificate; empty = the system's authorities
	CertFile string // our own certificate, where the broker wants one
	KeyFile  string
	Topics   []string // whose messages are handed over; no wildcards

	// Will is a topic that says online, retained, while a Publisher is connected,
	// and offline when it isn't; empty = none.
	Will string
	// KeepAlive is how long a link may be quiet before it is tested; 0 = 30 s.
	KeepAlive time.Duration
	// KeptWithin is how long the built-in broker lets a publisher wait for its
	// acknowledgement before it drops the connection; 0 = 60 s.
	KeptWithin time.Duration
}

// Delivery is a message and the way to acknowledge it. Done is called once,
// from any goroutine, when the message is kept; it doesn't block.
type Delivery struct {
	intake.Message
	Done func()
}

// State of the way in.
type State struct {
	Connected bool      // and subscribed
	Since     time.Time // when Connected last changed, by this machine's clock
	Problem   string    // what a person should know; empty = nothing
	Unheard   []string  // configured topics of which nothing has come since the start
	Lost      int64     // QoS-0 messages dropped because too much was waiting
}
