package intake

import "fmt"

// Kind sorts the ways in which a payload is no reading, for counting.
type Kind string

const (
	Cleared      Kind = "cleared"      // empty: a retained message was deleted
	Unavailable  Kind = "unavailable"  // a word about the device, or null
	NotANumber   Kind = "not-a-number" // text, or a number in a form that isn't accepted
	Malformed    Kind = "malformed"    // not JSON, though a pointer is configured
	NoValue      Kind = "no-value"     // nothing at the pointer
	Ambiguous    Kind = "ambiguous"    // the same key twice on the pointer's way
	TooBig       Kind = "too-big"      // above MaxPayload
	Binary       Kind = "binary"       // not text
	OutOfRange   Kind = "out-of-range" // no sensor of this quantity says so in truth
	Disconnected Kind = "disconnected" // the word of a probe that isn't there
	WrongUnit    Kind = "wrong-unit"   // looks like another unit than the configured one
	PowerOn      Kind = "power-on"     // the word of a probe that hasn't measured yet
	Held         Kind = "held"         // a jump that waits to be confirmed
)

// Reason says why a payload is no reading: what arrived and what would be
// right.
type Reason struct {
	Kind Kind
	Text string
}

func (r Reason) Error() string { return r.Text }

func because(k Kind, format string, args ...any) error {
	return Reason{k, fmt.Sprintf(format, args...)}
}

// shown is a payload's beginning, printable, for a Reason.
func shown(b []byte) string {
	const most = 40
	if len(b) > most {
		return fmt.Sprintf("%q…", b[:most])
	}
	return fmt.Sprintf("%q", b)
}
