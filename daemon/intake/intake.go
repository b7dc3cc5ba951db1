// Package intake turns a message into a value: payload shapes, units,
// calibration, and what can't be believed. It is pure.
//
// A Decoder reads one payload of one sensor and knows nothing of those before.
// A Check looks at one value beside the sensor's earlier ones. What either
// refuses is a Reason, in words that say what would be right.
package intake

// Message is what a broker delivered.
type Message struct {
	Topic       string
	Payload     []byte
	Retained    bool   // handed over on subscribing: last known, never new
	Redelivered bool   // the broker says it may have come before
	ID          uint16 // packet id of a QoS-1 delivery; 0 = none
}
