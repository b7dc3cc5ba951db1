// Package intake turns a message into readings: payload shapes, units,
// calibration, and what can't be believed. It is pure.
package intake

// Message is what a broker delivered.
type Message struct {
	Topic       string
	Payload     []byte
	Retained    bool   // handed over on subscribing: last known, never new
	Redelivered bool   // the broker says it may have come before
	ID          uint16 // packet id of a QoS-1 delivery; 0 = none
}
