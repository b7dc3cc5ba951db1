package synth

import (
	"encoding/json"
	"fmt"
	"time"
)

// Page is how a command-line subscriber writes messages down, a line of JSON
// each.
type Page struct {
	Stamp Stamp
	Raw   bool // payloads that are JSON stand as they are
	Cut   int  // lines that are cut short, as by a full disk
}

// Stamp is the form of a line's time: they differ between versions.
type Stamp int

// Forms of stamps.
const (
	UTCMicros Stamp = iota
	LocalMicros
	UTCSeconds
)

func (p Stamp) format(at time.Time, zone int) string {
	switch p {
	case LocalMicros:
		return at.In(time.FixedZone("", zone*3600)).Format("2006-01-02T15:04:05.000000-0700")
	case UTCSeconds:
		return at.UTC().Format("2006-01-02T15:04:05Z")
	}
	return at.UTC().Format("2006-01-02T15:04:05.000000Z+0000")
}

// Lines are the messages as written down.
func (r *Recording) Lines() [][]byte {
	s := r.scenario
	d := cast(s.Seed, s.Index, forPage+50)
	cut := map[int]bool{}
	for range s.Feed.Page.Cut {
		cut[d.IntN(max(1, len(r.Messages)))] = true
	}
	out := make([][]byte, 0, len(r.Messages))
	for i, m := range r.Messages {
		line := s.Feed.Page.line(m, s.Room.Zone)
		if cut[i] {
			line = line[:len(line)/2]
		}
		out = append(out, line)
	}
	return out
}

func (p Page) line(m Message, zone int) []byte {
	payload := quoted(m.Payload)
	if p.Raw && json.Valid([]byte(m.Payload)) {
		payload = m.Payload
	}
	retain, id := 0, ""
	if m.Retain {
		retain = 1
	}
	if m.QoS > 0 {
		id = fmt.Sprintf(`"mid":%d,`, 1+m.At.Unix()%65535)
	}
	return fmt.Appendf(nil, `{"tst":"%s","topic":%s,"qos":%d,"retain":%d,"payloadlen":%d,%s"payload":%s}`,
		p.Stamp.format(m.At, zone), quoted(m.Topic), m.QoS, retain, len(m.Payload), id, payload)
}

func quoted(s string) string {
	b, err := json.Marshal(s)
	if err != nil {
		panic(err) // a string always encodes
	}
	return string(b)
}
